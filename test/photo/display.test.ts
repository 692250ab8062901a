import { describe, expect, test } from 'vitest';
import { WHITE_D65_2, encodeRgb, labToXyz, xyzToLinearRgb } from '#lib/colour/index.ts';
import {
  correctImage,
  correctMany,
  correctionFromReferences,
  correctionWithoutReference,
  linearise,
  type Image8,
} from '#lib/photo/index.ts';
import { random } from './board-scene.ts';
import { picture } from './picture.ts';

// White paper in warm light beside two paints.
const scene = picture(120, 40, (x) => (x < 40 ? [94, 0.8, -2.5] : x < 80 ? [58, 18, 24] : [40, -10, -12]), {
  light: [0.75, 0.62, 0.45],
  noise: 1,
});
const correction = correctionFromReferences(scene, [
  { kind: 'white-paper', region: { kind: 'box', x: 4, y: 4, width: 32, height: 32 } },
]);

describe('a corrected picture', () => {
  test('shows the paper near neutral and light', () => {
    const { data } = correctImage(scene, correction, { space: 'srgb' });
    const at = (20 * 120 + 20) * 3;
    const [r, g, b] = [data[at], data[at + 1], data[at + 2]];
    expect(Math.max(r, g, b) - Math.min(r, g, b)).toBeLessThan(16);
    expect(Math.min(r, g, b)).toBeGreaterThan(220);
  });

  test('is what the correction says of each colour, within a step or two of 8 bits', () => {
    const next = random(3);
    const data = Uint8Array.from({ length: 3 * 2000 }, () => 20 + Math.floor(170 * next()));
    const image: Image8 = { width: 2000, height: 1, channels: 3, data, space: 'srgb' };
    const labs = correctMany(correction, linearise(image).data, new Float32Array(data.length));
    const shown = correctImage(image, correction, { space: 'srgb' });
    let compared = 0;
    const off: number[] = [];
    for (let i = 0; i < data.length; i += 3) {
      const { r, g, b } = xyzToLinearRgb(
        labToXyz({ L: labs[i], a: labs[i + 1], b: labs[i + 2] }, WHITE_D65_2),
        'srgb',
      );
      if (Math.min(r, g, b) < 0.005 || Math.max(r, g, b) > 1) continue;
      compared++;
      [r, g, b].forEach((v, c) => off.push(Math.abs(255 * encodeRgb(v, 'srgb') - shown.data[i + c])));
    }
    off.sort((p, q) => p - q);
    expect(compared).toBeGreaterThan(500);
    expect(off[Math.floor(0.95 * off.length)]).toBeLessThan(2);
  });

  test('keeps size and opacity, and says its space', () => {
    const data = Uint8Array.from({ length: 4 * 6 }, (_, i) => (i % 4 === 3 ? 10 * i : 90));
    const out = correctImage({ width: 3, height: 2, channels: 4, data, space: 'display-p3' }, correction, {
      space: 'display-p3',
    });
    expect([out.width, out.height, out.channels, out.space]).toEqual([3, 2, 4, 'display-p3']);
    for (let i = 3; i < data.length; i += 4) expect(out.data[i]).toBe(data[i]);
  });

  test('a colour too strong for the screen keeps its hue and loses chroma', () => {
    const p3 = {
      width: 1,
      height: 1,
      channels: 3,
      data: new Uint8Array([30, 250, 30]),
      space: 'display-p3',
    } as const;
    const { data } = correctImage(p3, correctionWithoutReference(p3), { space: 'srgb' });
    expect(data[1]).toBeGreaterThan(data[0] + 60);
    expect(data[1]).toBeGreaterThan(data[2] + 60);
  });
});
