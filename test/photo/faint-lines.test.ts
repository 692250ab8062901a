import { expect, test } from 'vitest';
import { faintLines } from '#lib/photo/faint-lines.ts';
import { shadingFeatures } from '#lib/photo/shading-features.ts';
import { picture } from './picture.ts';

const [W, H] = [240, 160];

/** Share of the columns in which a crack lies within two pixels of where the line is. */
function found(cracks: Uint8Array, row: (x: number) => number, from = 20, to = W - 20): number {
  let hits = 0;
  for (let x = from; x < to; x++) {
    const y = Math.round(row(x));
    for (let d = -3; d <= 2; d++)
      if (cracks[(y + d) * W + x]) {
        hits++;
        break;
      }
  }
  return hits / (to - from);
}

test('a long straight step is found that single pixels hardly show, level and slanted', () => {
  for (const slope of [0, 0.15, -0.6]) {
    const row = (x: number) => 80 + slope * (x - W / 2);
    // Noise of 3 device values a channel, about 0.9 in L together; the step is 1.5.
    const image = picture(W, H, (x, y) => [y < row(x) ? 60 : 61.5, 2, 6], { noise: 3 });
    const [from, to] = slope < -0.5 ? [60, W - 60] : [20, W - 20];
    expect(found(faintLines(shadingFeatures(image)), row, from, to)).toBeGreaterThan(0.8);
  }
});

test('a step of chromaticity alone is found', () => {
  const image = picture(W, H, (_, y) => [60, 2, y < 80 ? 4 : 7], { noise: 2 });
  expect(found(faintLines(shadingFeatures(image)), () => 80)).toBeGreaterThan(0.8);
});

test('noise and a smooth change of light have hardly any', () => {
  const image = picture(W, H, (x) => [50 + (20 * x) / W, 2, 6], { noise: 3 });
  const cracks = faintLines(shadingFeatures(image));
  expect(cracks.filter((c) => c > 0).length / cracks.length).toBeLessThan(0.01);
});

test('a picture smaller than the reach has none', () => {
  const image = picture(30, 400, (_, y) => [y < 200 ? 20 : 80, 0, 0]);
  expect(faintLines(shadingFeatures(image)).includes(1)).toBe(false);
});
