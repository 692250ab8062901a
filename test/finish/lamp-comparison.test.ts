import { describe, expect, test } from 'vitest';
import { daylight } from '#lib/colour/index.ts';
import { compareLamps } from '#lib/finish/index.ts';
import type { LampComparisonInput, LightInput } from '#lib/finish/index.ts';
import { light } from './kitchen.ts';
import { PATCHES, known, measured, metamericPair } from './lit-surfaces.ts';

const TARGET = PATCHES.map((patch, i) => measured(`p${i}`, patch));
const compare = (lamps: readonly LightInput[], over: Partial<LampComparisonInput> = {}) =>
  compareLamps({ finishes: TARGET, pairs: [], lamps, ...over });
const order = (lamps: readonly LightInput[], over: Partial<LampComparisonInput> = {}) =>
  compare(lamps, over).lamps.map(({ id }) => id);

describe('lamps for a scheme', () => {
  test('that are daylight move nothing and come first', () => {
    const { lamps } = compare([light('bulb', 'A'), light('noon', 'D65')]);
    expect(lamps[0]).toMatchObject({ id: 'noon', place: 1, mean: { value: 0, giveOrTake: 0 } });
    expect(lamps[1].mean.value).toBeGreaterThan(1);
    expect(lamps[1].sentence).toMatch(
      /^“bulb” \(Ra 100, R9 100\) moves the scheme a little away from daylight: movement \d/,
    );
  });

  test('stand by how they treat measured surfaces: a full spectrum before a poor one of about its colour', () => {
    // Published Ra (CIE 15:2018): A 100, LED-RGB1 57, high-pressure sodium HP1 8; 5000 K daylight 100, tube FL2 64.
    expect(order([light('rgb', 'LED-RGB1'), light('sodium', 'HP1'), light('bulb', 'A')])).toEqual([
      'bulb',
      'rgb',
      'sodium',
    ]);
    const day = { id: 'd50', name: 'd50', spectrum: Array.from(daylight(5003)), illuminance: 300 };
    expect(order([light('tube', 'FL2'), day])).toEqual(['d50', 'tube']);
  });

  test('of one spectrum are too close to call', () => {
    const { groups, sentence, ahead } = compare([light('one', 'LED-B3'), light('two', 'LED-B3')]);
    expect(ahead).toBe(0.5);
    expect(groups).toEqual([['one', 'two']]);
    expect(sentence).toBe(
      '“one” and “two” keep the scheme about equally close to daylight: which is better is too close to call.',
    );
  });

  test('that differ are told apart for measured surfaces, with no doubt', () => {
    const { groups, sentence, lamps, ahead } = compare([light('bulb', 'A'), light('sodium', 'HP1')]);
    expect(ahead).toBe(1);
    expect(groups).toEqual([['bulb'], ['sodium']]);
    for (const { mean } of lamps) expect(mean.giveOrTake).toBeLessThan(1e-5);
    expect(sentence).toMatch(
      /^“bulb” keeps the scheme closest to daylight \(movement \d\.\d on average\), before “sodium” \(\d+\.\d\)\.$/,
    );
  });

  test('are told apart less surely where only colours by day are known', () => {
    const lamps = [light('bulb', 'A'), light('led', 'LED-BH1')];
    const { lamps: compared } = compare(lamps, { finishes: [known('only', PATCHES[0])] });
    for (const { mean, sentence } of compared) {
      expect(mean.giveOrTake).toBeGreaterThan(0.2);
      expect(sentence).toMatch(/give or take/);
    }
  });

  test('are judged by area: what has none does not count', () => {
    const grey = { ...measured('grey', Array<number>(81).fill(0.4)), area: 1 };
    const red = (area: number) => ({ ...measured('red', PATCHES[14]), area });
    const mean = (area: number) =>
      compare([light('led', 'LED-B1')], { finishes: [grey, red(area)] }).lamps[0].mean.value;
    const alone = compare([light('led', 'LED-B1')], { finishes: [red(1)] }).lamps[0].mean.value;
    expect(mean(0)).toBeLessThan(1e-6);
    expect(mean(3)).toBeCloseTo(0.75 * alone, 6);
    expect(() => mean(-1)).toThrow('Expected an area of 0 or more for finish red, got -1');
  });

  test('name the finish that moves most', () => {
    const { lamps } = compare([light('led', 'LED-B1')], {
      finishes: [measured('Flat', Array<number>(81).fill(0.4)), measured('Brick', PATCHES[14])],
    });
    expect(lamps[0].worst).toMatchObject({ finishId: 'Brick', name: 'Brick' });
    expect(lamps[0].sentence).toMatch(/most for Brick \(\d/);
  });

  test('are listed with the pairs they part, by name', () => {
    const [plain, other] = metamericPair(PATCHES[20], 0.12);
    const { lamps } = compare([light('tube', 'FL11'), light('noon', 'D65')], {
      finishes: [measured('Shelf', plain), measured('Panel', other)],
      pairs: [['Shelf', 'Panel']],
    });
    const [noon, tube] = lamps;
    expect(noon.changes).toEqual([]);
    expect(tube.changes).toHaveLength(1);
    expect(tube.changes[0]).toMatchObject({
      first: 'Shelf',
      second: 'Panel',
      change: 'parts',
      from: 'match',
    });
    expect(tube.changes[0].sentence).toMatch(/^Shelf and Panel match by day .* part under “tube”/);
    expect(tube.sentence).toMatch(/It changes one pair\.$/);
  });

  test('can be compared with another light than daylight', () => {
    const bulb = light('bulb', 'A');
    const { lamps, sentence } = compare([light('noon', 'D65'), { ...bulb, id: 'same' }], { reference: bulb });
    expect(lamps[0]).toMatchObject({ id: 'same', mean: { value: 0 } });
    expect(sentence).toMatch(/closest to “bulb”/);
  });

  test('without a colour temperature have no index, and are compared all the same', () => {
    const green = Array.from({ length: 81 }, (_, j) => Math.exp(-(((380 + 5 * j - 530) / 20) ** 2)) + 1e-3);
    const { lamps } = compare([{ id: 'green', name: 'Green', spectrum: green, illuminance: 50 }]);
    expect(lamps[0]).toMatchObject({ Ra: null, R9: null, cct: null, duv: null });
    expect(lamps[0].mean.value).toBeGreaterThan(1);
    expect(lamps[0].sentence).toMatch(/^“Green” \(no colour rendering index\)/);
  });

  test('and pairs that make no sense are refused or said', () => {
    expect(() => compare([])).toThrow('Expected at least one lamp to compare, got none');
    expect(() => compare([light('a', 'A')], { pairs: [['p0', 'nobody']] })).toThrow(
      'Expected pairs of the finishes given, got nobody',
    );
    expect(compare([light('a', 'A'), light('b', 'FL2')], { finishes: [] }).sentence).toBe(
      'There is no finish to compare the lamps by.',
    );
  });
});
