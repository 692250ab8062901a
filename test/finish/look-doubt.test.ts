import { describe, expect, test } from 'vitest';
import type { IlluminantName } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from '#lib/finish/appearance.ts';
import { apply, toUcs } from '#lib/finish/look.ts';
import { COUNTER, FLOOR, finish, light } from './kitchen.ts';

const PAINTS = [
  finish('sage', [[64, -8, 9]]),
  finish('white', [[92, -1, 4]]),
  finish('navy', [[28, 2, -22]]),
  finish('brick', [[45, 28, 24]]),
  COUNTER,
  FLOOR,
];
const names: IlluminantName[] = ['ID65', 'D50', 'LED-B1', 'FL11'];
const lights = names.map((name) => prepareLight(light(name, name)));

/** Standard deviation, CAM16-UCS, of a colour of a finish under a light by its three numbers. */
const spread = (doubt: { ucs: readonly number[] }) => Math.hypot(...doubt.ucs);

describe('what is not known about looks under lamps', () => {
  test('lies nearly all in three numbers', () => {
    for (const paint of PAINTS) {
      const { colours, axes } = prepareFinish(paint, lights);
      expect(axes).toHaveLength(3);
      let kept = 0;
      let all = 0;
      for (const { reflectance, directions, doubts, share } of colours) {
        lights.forEach(({ weights }, l) => {
          const steps = directions.map((direction) => {
            const moved = (sign: number) =>
              toUcs(
                apply(
                  weights,
                  Array.from(reflectance, (r, j) => r + sign * 0.01 * direction[j]),
                ),
              );
            const [up, down] = [moved(1), moved(-1)];
            return [up.J - down.J, up.a - down.a, up.b - down.b].map((v) => v / 0.02);
          });
          all += share * steps.flat().reduce((sum, v) => sum + v * v, 0);
          kept += share * spread(doubts![l]) ** 2;
        });
      }
      expect(kept / all).toBeGreaterThan(0.95);
      expect(kept / all).toBeLessThan(1.0001);
    }
  });

  test('is next to nothing under daylight and grows with the distance of the lamp', () => {
    const under = (name: IlluminantName) =>
      spread(prepareFinish(PAINTS[0], [prepareLight(light(name, name))]).colours[0].doubts![0]);
    expect(under('D65')).toBeLessThan(0.1);
    expect(under('D50')).toBeLessThan(under('A'));
    expect(under('FL11')).toBeGreaterThan(under('D50'));
  });

  test('is nothing for a measured reflectance', () => {
    const colours = [{ ...PAINTS[0].colours[0], reflectance: Array<number>(81).fill(0.4) }];
    const prepared = prepareFinish({ ...PAINTS[0], colours }, lights);
    expect(prepared.axes).toEqual([]);
    expect(prepared.colours[0].doubts).toBeNull();
  });

  test('does not hang on the number of colours: a second of no area changes nothing', () => {
    const twice = finish('sage', [
      [64, -8, 9, 1],
      [30, 5, 5, 0],
    ]);
    expect(prepareFinish(twice, lights).colours[0].doubts).toEqual(
      prepareFinish(PAINTS[0], lights).colours[0].doubts,
    );
  });
});
