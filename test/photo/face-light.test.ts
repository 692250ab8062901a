import { describe, expect, test } from 'vitest';
import { evenedAlong, gapDepths, stepsAlong } from '../../src/lib/photo/face-light.ts';
import { normal, random } from './board-scene.ts';

const size = { width: 120, height: 80 };
const n = size.width * size.height;
const everywhere = new Float32Array(n).fill(1);
const plane = (of: (x: number, y: number) => number) =>
  Float32Array.from({ length: n }, (_, i) => of(i % size.width, Math.floor(i / size.width)));

describe('gaps between faces', () => {
  const next = random(4);
  const grain = plane(() => 2 * normal(next));
  const options = { size, radius: 4, grain: 2, least: 30 };
  const doors = (x: number, y: number) => (x < 60 ? 60 : 52) + grain[y * size.width + x];

  test('a dark line two pixels wide is found along its whole length, as deep as it is', () => {
    const depths = gapDepths(
      plane((x, y) => (x === 60 || x === 61 ? 20 : doors(x, y))),
      everywhere,
      options,
    );
    for (let y = 0; y < size.height; y++) {
      expect(depths[y * size.width + 60]).toBeGreaterThan(25);
      expect(depths[y * size.width + 60]).toBeLessThan(45);
    }
    // What grain hangs on to it is little and shallow.
    const beside = depths.filter((depth, i) => depth > 0 && Math.abs((i % size.width) - 60.5) > 2);
    expect(beside.length).toBeLessThan(0.05 * n);
    expect(Math.max(0, ...beside)).toBeLessThan(10);
  });

  test('grain, a step from face to face, a short speck and a wide shadow are none', () => {
    const depths = gapDepths(
      plane((x, y) => {
        const speck = x === 20 && y > 30 && y < 45;
        const shadow = x > 90 && x < 110;
        return speck || shadow ? 20 : doors(x, y);
      }),
      everywhere,
      options,
    );
    expect(depths.every((depth) => depth === 0)).toBe(true);
  });
});

describe('planes evened out along faces', () => {
  const next = random(9);
  const rough = plane((x) => (x < 60 ? 0.4 : 0.7) + 0.05 * normal(next));
  const inside = new Uint8Array(n).fill(255);
  const options = (guide: Float32Array, gaps: Float32Array | null = null) => ({
    size,
    reach: 40,
    ...stepsAlong(guide, gaps, { size, inside, step: 10 }),
  });
  const face = (values: Float32Array, from: number, to: number) =>
    values.filter((_, i) => i % size.width >= from && i % size.width < to);
  const mean = (values: Float32Array) => values.reduce((sum, v) => sum + v, 0) / values.length;
  const spread = (values: Float32Array) => {
    const m = mean(values);
    return Math.sqrt(values.reduce((sum, v) => sum + (v - m) ** 2, 0) / values.length);
  };

  test('what varies on a face goes, the step between faces stays', () => {
    const out = rough.slice();
    evenedAlong([out], everywhere, options(plane((x) => (x < 60 ? 0 : 80))));
    for (const [from, to] of [
      [0, 60],
      [60, 120],
    ]) {
      expect(spread(face(out, from, to))).toBeLessThan(0.1 * spread(face(rough, from, to)));
      expect(mean(face(out, from, to))).toBeCloseTo(mean(face(rough, from, to)), 2);
    }
  });

  test('a gap stops it where both faces look the same to the guide', () => {
    const gaps = plane((x) => (x === 60 || x === 61 ? 60 : 0));
    const out = rough.slice();
    evenedAlong([out], everywhere, options(new Float32Array(n), gaps));
    expect(mean(face(out, 62, 120)) - mean(face(out, 0, 60))).toBeGreaterThan(0.28);
    const open = rough.slice();
    evenedAlong([open], everywhere, options(new Float32Array(n)));
    expect(open[60 + 40 * size.width] - open[59 + 40 * size.width]).toBeLessThan(0.02);
  });

  test('one value stays what it is, and what has no weight is not read but gets an answer', () => {
    const out = plane((x, y) => (x < 100 && y > 10 ? 0.5 : 9));
    const weight = plane((x, y) => (x < 100 && y > 10 ? 1 : 0));
    evenedAlong([out], weight, options(new Float32Array(n)));
    for (const v of out) expect(v).toBeCloseTo(0.5, 5);
  });
});
