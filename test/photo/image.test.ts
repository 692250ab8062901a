import { describe, expect, test } from 'vitest';
import { WHITE_D65_2, linearRgbToXyz, xyzToLab } from '#lib/colour/index.ts';
import { linearise, shrink, type Image8 } from '#lib/photo/index.ts';
import { linearToLab } from '../../src/lib/photo/image.ts';
import { random } from './board-scene.ts';

function noise(width: number, height: number, seed: number, channels: 3 | 4 = 3): Image8 {
  const next = random(seed);
  const data = Uint8Array.from({ length: width * height * channels }, () => Math.floor(256 * next()));
  return { width, height, channels, data, space: 'srgb' };
}

function mean(data: Float32Array): number {
  return data.reduce((s, v) => s + v, 0) / data.length;
}

describe('linear light', () => {
  test('black is 0, white is 1, in every space', () => {
    for (const space of ['srgb', 'display-p3', 'rec2020'] as const) {
      const { data } = linearise({
        width: 2,
        height: 1,
        channels: 3,
        data: new Uint8Array([0, 0, 0, 255, 255, 255]),
        space,
      });
      for (let c = 0; c < 3; c++) {
        expect(data[c]).toBeCloseTo(0, 6);
        expect(data[3 + c]).toBeCloseTo(1, 6);
      }
    }
  });

  test('greys of a wide space stay neutral, its green lies outside sRGB below zero', () => {
    const data = new Uint8Array([120, 120, 120, 0, 255, 0]);
    const { data: linear } = linearise({ width: 2, height: 1, channels: 3, data, space: 'display-p3' });
    expect(linear[0]).toBeCloseTo(linear[1], 6);
    expect(linear[1]).toBeCloseTo(linear[2], 6);
    expect(linear[3]).toBeLessThan(-0.1);
    expect(linear[5]).toBeLessThan(-0.01);
    expect(linear[4]).toBeGreaterThan(1);
  });

  test('opacity is not read', () => {
    const image = noise(9, 7, 3, 4);
    const opaque = { ...image, data: image.data.map((v, i) => (i % 4 === 3 ? 255 : v)) as Uint8Array };
    expect(linearise(image).data).toEqual(linearise(opaque).data);
  });

  test('CIELAB of many is CIELAB of one', () => {
    const { data } = linearise(noise(20, 20, 5));
    const labs = linearToLab(data);
    for (let i = 0; i < data.length; i += 3) {
      const one = xyzToLab(
        linearRgbToXyz({ r: data[i], g: data[i + 1], b: data[i + 2] }, 'srgb'),
        WHITE_D65_2,
      );
      expect(labs[i]).toBeCloseTo(one.L, 3);
      expect(labs[i + 1]).toBeCloseTo(one.a, 3);
      expect(labs[i + 2]).toBeCloseTo(one.b, 3);
    }
  });

  test('data that does not fit the size is refused in words', () => {
    const image = { ...noise(4, 4, 1), width: 5 };
    expect(() => linearise(image)).toThrow(new RangeError('Expected 60 values for 5x4x3, got 48'));
    expect(() => shrink(noise(4, 4, 1), 0)).toThrow(RangeError);
  });
});

describe('making smaller', () => {
  test('stripes of black and white become half the light, not half the code', () => {
    const data = Uint8Array.from({ length: 64 * 64 * 3 }, (_, i) => (Math.floor(i / 3) % 2 === 0 ? 255 : 0));
    const small = shrink({ width: 64, height: 64, channels: 3, data, space: 'srgb' }, 16);
    for (const v of small.data) expect(v).toBeCloseTo(0.5, 6);
  });

  test('keeps the mean light at any size', () => {
    for (const [width, height, longSide] of [
      [97, 61, 40],
      [100, 300, 77],
      [51, 50, 50],
      [640, 3, 100],
    ]) {
      const image = noise(width, height, width);
      expect(mean(shrink(image, longSide).data)).toBeCloseTo(mean(linearise(image).data), 5);
    }
  });

  test('keeps the proportions and never enlarges', () => {
    const { width, height } = shrink(noise(200, 100, 1), 50);
    expect([width, height]).toEqual([50, 25]);
    expect(shrink(noise(20, 10, 1), 50).width).toBe(20);
  });

  test('gives the same bits for the same picture', () => {
    expect(shrink(noise(300, 200, 9), 111).data).toEqual(shrink(noise(300, 200, 9), 111).data);
  });
});
