import { describe, expect, test } from 'vitest';
import { straightened, type Mask } from '#lib/photo/index.ts';
import { normal, random } from './board-scene.ts';

const [W, H] = [400, 300];

/** Cover of the half-plane below a border y = f(x), one pixel soft. */
function below(border: (x: number) => number): Mask {
  const data = new Uint8Array(W * H);
  for (let y = 0; y < H; y++)
    for (let x = 0; x < W; x++) {
      const d = y + 0.5 - border(x + 0.5);
      data[y * W + x] = Math.round(255 * Math.max(0, Math.min(1, d + 0.5)));
    }
  return { width: W, height: H, data };
}

/** Height at which the cover of a column passes one half, from the sum of what is free above. */
function heightAt({ data }: Mask, x: number): number {
  let free = 0;
  for (let y = 0; y < H; y++) free += 1 - data[y * W + x] / 255;
  return free;
}

function roughness(mask: Mask, border: (x: number) => number): number {
  let sum = 0;
  for (let x = 20; x < W - 20; x++) sum += (heightAt(mask, x) - border(x + 0.5)) ** 2;
  return Math.sqrt(sum / (W - 40));
}

describe('long straight borders', () => {
  test.each([0, 0.03, -0.2, 0.5])('a ragged border of slope %d comes out straight and in place', (slope) => {
    const true_ = (x: number) => 120 + slope * (x - 200);
    const next = random(7);
    const jitter = Float64Array.from({ length: W }, () => 0.5 * normal(next));
    const ragged = below((x) => true_(x) + jitter[Math.floor(x)]);
    const { mask, edges } = straightened(ragged);
    expect(edges.length).toBeGreaterThan(0);
    expect(roughness(ragged, true_)).toBeGreaterThan(0.4);
    // A line through some 100 places or more with a deviation of half a pixel lies within 0.15 of the truth; where two
    // lines meet a few places stay as they were.
    expect(roughness(mask, true_)).toBeLessThan(0.2);
  });

  test('a handle or a leak of two pixels on the way does not tilt the line', () => {
    const level = (x: number) => 120 + 0.1 * (x - 200);
    const bumped = below((x) => level(x) + (x > 180 && x < 215 ? 1.5 : 0));
    const { mask } = straightened(bumped);
    for (const x of [40, 120, 300, 360])
      expect(Math.abs(heightAt(mask, x) - level(x + 0.5))).toBeLessThan(0.25);
  });

  test('a curve stays a curve', () => {
    const arc = (x: number) => 260 - Math.sqrt(200 ** 2 - (x - 200) ** 2 + 1e-9);
    const round = below(arc);
    const { mask } = straightened(round);
    let [most, sum] = [0, 0];
    for (let x = 60; x < 340; x++) {
      const off = Math.abs(heightAt(mask, x) - heightAt(round, x));
      most = Math.max(most, off);
      sum += off;
    }
    expect(most).toBeLessThan(1.8);
    expect(sum / 280).toBeLessThan(0.6);
  });

  test('a straight border that is clean already hardly changes, and the picture rim not at all', () => {
    const clean = below((x) => 100 + 0.25 * x);
    const { mask } = straightened(clean);
    const changed = mask.data.reduce((s, v, i) => s + Math.abs(v - clean.data[i]), 0) / 255;
    expect(changed).toBeLessThan(0.06 * W);
    const full = { width: W, height: H, data: new Uint8Array(W * H).fill(255) };
    expect(straightened(full)).toEqual({ mask: full, edges: [] });
  });

  test('an empty mask stays empty; the given mask is not written to', () => {
    const empty = { width: 5, height: 5, data: new Uint8Array(25) };
    expect(straightened(empty)).toEqual({ mask: empty, edges: [] });
    const mask = below((x) => 100 + Math.sin(x));
    const before = Uint8Array.from(mask.data);
    straightened(mask);
    expect(mask.data).toEqual(before);
  });

  test('soft borders stay as soft as they were', () => {
    const soft: Mask = { width: W, height: H, data: new Uint8Array(W * H) };
    for (let y = 0; y < H; y++)
      for (let x = 0; x < W; x++)
        soft.data[y * W + x] = Math.round(255 * Math.max(0, Math.min(1, (y + 0.5 - 150) / 3 + 0.5)));
    const { mask } = straightened(soft);
    const partly = (m: Mask) => m.data.filter((v) => v > 12 && v < 243).length / W;
    expect(Math.abs(partly(mask) - partly(soft))).toBeLessThanOrEqual(1);
  });
});
