import { expect, test } from 'vitest';
import { prepareFinish, prepareLight } from '#lib/finish/appearance.ts';
import { unit } from '#lib/finish/draws.ts';
import { drawMovement, lengthOf, placesOf, stepsOf } from '#lib/finish/movement.ts';
import { COUNTER, finish, light } from './kitchen.ts';

const DRAWS = 4000;
const PAINTS = [
  finish('green', [[44, -6, 17]]),
  finish('navy', [[28, 2, -22]]),
  finish('clay', [[50, 22, 26]]),
  COUNTER,
];

const deviation = (values: Float64Array) => {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length);
};

test('the stated deviation of a movement is that of the draws', () => {
  for (const name of ['A', 'LED-B1', 'FL11'] as const) {
    const lights = [prepareLight(light(name, name))];
    for (const paint of PAINTS) {
      const prepared = prepareFinish(paint, lights);
      const [step] = stepsOf(prepared, placesOf(lights));
      const room = new Float64Array(DRAWS);
      drawMovement(prepared, { unknown: unit(3, 'x', DRAWS), lights, draws: DRAWS }, room);
      const stated = lengthOf(step).deviation;
      // Where the spread exceeds the movement the delta method overstates it: 17 % for one direction and no movement
      // (√½ σ against √(1 − 2/π) σ), somewhat more for two.
      expect(Math.abs(stated - deviation(room))).toBeLessThan(0.3 * deviation(room));
    }
  }
});

test('of all pairs of lights the largest movement counts in every draw, measured or not', () => {
  const lights = (['ID65', 'D50', 'A', 'FL11'] as const).map((name) => prepareLight(light(name, name)));
  const prepared = prepareFinish(PAINTS[0], lights);
  const unknown = unit(5, 'y', DRAWS);
  const room = new Float64Array(DRAWS);
  drawMovement(prepared, { unknown, lights, draws: DRAWS }, room);
  const places = prepared.colours[0].ucs.map((ucs, l) => ({
    ucs,
    doubt: prepared.colours[0].doubts![l].ucs,
  }));
  for (let t = 0; t < 50; t++) {
    const seen = places.map(({ ucs, doubt }) =>
      [ucs.J, ucs.a, ucs.b].map(
        (value, i) =>
          value +
          doubt[3 * i] * unknown[0][t] +
          doubt[3 * i + 1] * unknown[1][t] +
          doubt[3 * i + 2] * unknown[2][t],
      ),
    );
    const distances = seen.flatMap((p, i) =>
      seen.slice(i + 1).map((q) => Math.hypot(q[0] - p[0], q[1] - p[1], q[2] - p[2])),
    );
    expect(room[t]).toBeCloseTo(Math.max(...distances), 9);
  }
  const measured = {
    ...prepared,
    colours: prepared.colours.map((colour) => ({ ...colour, doubts: null })),
  };
  drawMovement(measured, { unknown: null, lights, draws: DRAWS }, room);
  expect(new Set(room).size).toBe(1);
});
