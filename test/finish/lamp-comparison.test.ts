import { describe, expect, test } from 'vitest';
import { blackBody, daylight } from '#lib/colour/index.ts';
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
  test('that are their own reference change nothing, filament and daylight alike, each in its warmth', () => {
    const { lamps, warmths } = compare([light('noon', 'D65'), light('bulb', 'A')]);
    expect(warmths.map(({ warmth, groups }) => [warmth, groups])).toEqual([
      ['warm', [['bulb']]],
      ['cool', [['noon']]],
    ]);
    expect(lamps.map(({ id }) => id)).toEqual(['bulb', 'noon']);
    // Illuminant A is the black body of 2,856 K, D65 the daylight of 6,504 K (CIE 15:2018); both are tabulated.
    for (const { mean, place } of lamps) {
      expect(mean.value).toBeLessThan(0.05);
      expect(place).toBe(1);
    }
    expect(lamps[0].sentence).toMatch(
      /^“bulb” shows the finishes true for its warmth: difference 0\.0 on average\.$/,
    );
  });

  test('stand by how they treat measured surfaces: a full spectrum before a poor one of its warmth', () => {
    // Published Ra (CIE 15:2018): A 100, LED-RGB1 57, high-pressure sodium HP1 8.
    expect(order([light('rgb', 'LED-RGB1'), light('sodium', 'HP1'), light('bulb', 'A')])).toEqual([
      'bulb',
      'rgb',
      'sodium',
    ]);
  });

  test('of Ra 51 and 64 stand behind a glowing body of their warmth, and their reds are named', () => {
    // Published Ra (CIE 15:2018): FL4 51 at 2,940 K, FL2 64 at 4,230 K. R9 of FL2: -84 (CIE 13.3 method, from memory).
    const glow = { id: 'glow', name: 'glow', spectrum: Array.from(blackBody(4230)), illuminance: 300 };
    const { lamps, warmths } = compare([
      light('tube 51', 'FL4'),
      light('tube 64', 'FL2'),
      glow,
      light('halogen', 'A'),
    ]);
    expect(warmths.map(({ warmth, groups }) => [warmth, groups])).toEqual([
      ['warm', [['halogen'], ['tube 51']]],
      ['neutral', [['glow'], ['tube 64']]],
    ]);
    const tube = lamps.find(({ id }) => id === 'tube 64')!;
    expect(Math.round(tube.Ra!)).toBe(64);
    expect(tube.sentence).toContain('Strong reds go dull under it (R9 −84).');
    expect(tube.sentence).not.toContain('-');
    expect(lamps.find(({ id }) => id === 'halogen')!.sentence).not.toContain('reds');
  });

  test('of one spectrum are too close to call', () => {
    const { warmths, sentence } = compare([light('one', 'LED-B3'), light('two', 'LED-B3')]);
    expect(warmths).toMatchObject([{ ahead: 0.5, groups: [['one', 'two']] }]);
    expect(sentence).toBe(
      'Of the neutral lamps “one” and “two” show the finishes about equally true: which is better is too close to call.',
    );
  });

  test('that differ are told apart for measured surfaces, with no doubt', () => {
    const { warmths, sentence, lamps } = compare([light('bulb', 'A'), light('sodium', 'HP1')]);
    expect(warmths).toMatchObject([{ ahead: 1, groups: [['bulb'], ['sodium']] }]);
    for (const { mean } of lamps) expect(mean.giveOrTake).toBeLessThan(1e-5);
    expect(sentence).toMatch(
      /^Of the warm lamps “bulb” shows the finishes truest \(difference \d\.\d on average\), before “sodium” \(\d+\.\d\)\.$/,
    );
  });

  test('are told apart less surely where only colours by day are known', () => {
    const lamps = [light('tube', 'FL4'), light('led', 'LED-BH1')];
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

  test('name the finish that differs most', () => {
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
    const [noon, tube] = ['noon', 'tube'].map((id) => lamps.find((lamp) => lamp.id === id)!);
    expect(noon.changes).toEqual([]);
    expect(tube.changes).toHaveLength(1);
    expect(tube.changes[0]).toMatchObject({
      first: 'Shelf',
      second: 'Panel',
      change: 'parts',
      from: 'match',
    });
    expect(tube.changes[0].sentence).toMatch(/^Shelf and Panel match by day .* part under “tube”/);
    expect(tube.sentence).toMatch(/Beside daylight it changes one pair\.$/);
  });

  test('without a colour temperature have no index, and are compared all the same', () => {
    const green = Array.from({ length: 81 }, (_, j) => Math.exp(-(((380 + 5 * j - 530) / 20) ** 2)) + 1e-3);
    const { lamps } = compare([{ id: 'green', name: 'Green', spectrum: green, illuminance: 50 }]);
    expect(lamps[0]).toMatchObject({ Ra: null, R9: null, cct: null, duv: null });
    expect(lamps[0].mean.value).toBeGreaterThan(1);
    expect(lamps[0].warmth).toBe('coloured');
    expect(lamps[0].sentence).toMatch(/^“Green” is no white light/);
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
