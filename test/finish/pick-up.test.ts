import { describe, expect, test } from 'vitest';
import { colourName, deltaE2000 } from '#lib/colour/index.ts';
import { pickUpOf, pickUpWords } from '#lib/finish/index.ts';
import { prepareFinish, prepareLight } from '../../src/lib/finish/appearance.ts';
import { pickUp, pickUpScore } from '../../src/lib/finish/pick-up.ts';
import { LAMPS, WINDOW, finish } from './kitchen.ts';

// What counts as picked up is common practice without a published source: properties, and numbers from CIEDE2000 itself.

/** A granite: pale ground, brown grains, some dark green, a trace of red. */
const granite = (doubt = 0.3) =>
  finish(
    'granite',
    [
      [78, 2, 6, 0.55],
      [58, 5, 14, 0.3],
      [35, -12, 8, 0.13],
      [40, 35, 20, 0.02],
    ],
    doubt,
  );
const paint = (L: number, a: number, b: number, doubt = 0.3) => finish('paint', [[L, a, b]], doubt);
const lights = [WINDOW, LAMPS];

describe('picking up a colour', () => {
  test('a green like the stone’s green grains picks them up, with their share and its distance', () => {
    const found = pickUpOf(paint(36, -11, 8), granite(), { lights: [] });
    expect(found?.colour).toBe(2);
    expect(found?.share).toBeCloseTo(0.13, 9);
    expect(found?.deltaE).toBeCloseTo(deltaE2000({ L: 36, a: -11, b: 8 }, { L: 35, a: -12, b: 8 }), 9);
    expect(found?.light).toBeNull();
    expect(found?.score).toBeGreaterThan(0.9);
  });

  test('the main colour, a trace, a colour that is not there and a plain neighbour are not picked up', () => {
    expect(pickUpOf(paint(78, 2, 6), granite(), { lights })).toBeNull();
    expect(pickUpOf(paint(40, 35, 20), granite(), { lights })).toBeNull();
    expect(pickUpOf(paint(45, -5, -35), granite(), { lights })).toBeNull();
    expect(pickUpOf(paint(36, -11, 8), finish('plain', [[35, -12, 8]]), { lights })).toBeNull();
  });

  test('the light in which the two are furthest apart decides', () => {
    const prepared = lights.map(prepareLight);
    const [candidate, stone] = [paint(37, -10, 9), granite()].map((entry) => prepareFinish(entry, prepared));
    const found = pickUp(candidate, stone, prepared);
    const each = lights.map((_, i) => deltaE2000(candidate.colours[0].labs[i], stone.colours[2].labs[i]));
    expect(found?.deltaE).toBeCloseTo(Math.max(...each), 9);
    expect(found?.light?.id).toBe(lights[each.indexOf(Math.max(...each))].id);
    expect(pickUpScore(candidate, stone)).toBe(found?.score);
    expect(pickUpScore(prepareFinish(paint(45, -5, -35), prepared), stone)).toBe(0);
  });

  test('nearer is better, and doubt on either side takes from the score and adds to the give or take', () => {
    const scoreAt = (a: number) => pickUpOf(paint(35, a, 8), granite(), { lights })?.score ?? 0;
    const scores = [-12, -10, -8, -6, -4, -2].map(scoreAt);
    for (let i = 1; i < scores.length; i++) expect(scores[i]).toBeLessThanOrEqual(scores[i - 1]);
    expect(scores[0]).toBeGreaterThan(scores.at(-1) ?? 1);
    const sure = pickUpOf(paint(36, -10, 8), granite(), { lights });
    for (const doubtful of [
      pickUpOf(paint(36, -10, 8, 3), granite(), { lights }),
      pickUpOf(paint(36, -10, 8), granite(3), { lights }),
    ]) {
      expect(doubtful?.deltaE).toBeCloseTo(sure?.deltaE ?? 0, 9);
      expect(doubtful?.score).toBeLessThan(sure?.score ?? 0);
      expect(doubtful?.giveOrTake).toBeGreaterThan(sure?.giveOrTake ?? Infinity);
    }
  });

  test('give or take agrees with drawing both colours', () => {
    const [doubt, count] = [1.5, 4000];
    const found = pickUpOf(paint(40, -8, 12, doubt), granite(doubt), { lights: [] });
    // Mean of a length of three normal axes: sqrt(8 / pi) deviations.
    const deviation = doubt / Math.sqrt(8 / Math.PI);
    let state = 12345;
    const uniform = () => (state = (state * 48271) % 2147483647) / 2147483647;
    const normal = () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const draws = Array.from({ length: count }, () =>
      deltaE2000(
        { L: 40 + deviation * normal(), a: -8 + deviation * normal(), b: 12 + deviation * normal() },
        { L: 35 + deviation * normal(), a: -12 + deviation * normal(), b: 8 + deviation * normal() },
      ),
    );
    const mean = draws.reduce((sum, v) => sum + v, 0) / count;
    const spread = 2 * Math.sqrt(draws.reduce((sum, v) => sum + (v - mean) ** 2, 0) / count);
    // To first order: within a tenth at distances of several deviations.
    expect(Math.abs((found?.giveOrTake ?? 0) / spread - 1)).toBeLessThan(0.1);
  });

  test('the sentence names the colour, the place and the share, and says when it only may be', () => {
    const stone = prepareFinish(granite(), []);
    const sure = pickUpOf(paint(36, -11, 8), granite(), { lights: [] });
    const words = sure && pickUpWords(sure, { neighbour: stone, surfaceName: 'Counter' });
    expect(words?.sentence).toBe(
      `Picks up the ${colourName({ L: 35, a: -12, b: 8 })} in “Counter” (13 % of it)`,
    );
    expect(words?.number).toMatch(/^ΔE00 \d\.\d give or take \d\.\d under daylight$/);
    const may = pickUpOf(paint(39, -6, 10, 2), granite(2), { lights });
    expect(may && pickUpWords(may, { neighbour: stone, surfaceName: '' }).sentence).toMatch(
      /^May pick up the .* in its neighbour/,
    );
  });
});
