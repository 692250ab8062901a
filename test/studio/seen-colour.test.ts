import { describe, expect, test } from 'vitest';
import type { Image8 } from '#lib/photo/index.ts';
import { discAt, discColour, seenChange } from '#lib/studio/seen-colour.ts';

function picture(width: number, height: number, at: (x: number, y: number) => readonly number[]): Image8 {
  const data = new Uint8ClampedArray(4 * width * height).fill(255);
  for (let y = 0; y < height; y += 1)
    for (let x = 0; x < width; x += 1) data.set(at(x, y), 4 * (y * width + x));
  return { width, height, channels: 4, data, space: 'srgb' };
}

describe('the colour of a disc of the picture', () => {
  test('is the mean of its light, not of its device values: half black and half white is L* 76', () => {
    const halves = picture(20, 20, (x) => Array(3).fill(x < 10 ? 0 : 255));
    const { L, a, b } = discColour(halves, { x: 10, y: 10, radius: 6 });
    // ISO/CIE 11664-4: 116 (0.5)^(1/3) - 16 = 76.069; the mean of 0 and 255 would be L* 53.6.
    expect(L).toBeCloseTo(76.069, 2);
    expect(Math.hypot(a, b)).toBeLessThan(0.05);
  });

  test('counts pixels by how much of them it covers and takes nothing from beside it', () => {
    const dot = picture(21, 21, (x, y) => (Math.hypot(x - 10, y - 10) < 5 ? [200, 60, 40] : [0, 0, 255]));
    const inside = discColour(dot, { x: 10.5, y: 10.5, radius: 3 });
    const all = discColour(
      picture(21, 21, () => [200, 60, 40]),
      { x: 10.5, y: 10.5, radius: 3 },
    );
    for (const axis of ['L', 'a', 'b'] as const) expect(inside[axis]).toBeCloseTo(all[axis], 6);
    expect(discColour(dot, { x: 10.5, y: 10.5, radius: 9 }).b).toBeLessThan(inside.b - 10);
  });

  test('at an edge of the picture is that of what lies in it', () => {
    const grey = picture(12, 12, () => [119, 119, 119]);
    for (const [x, y] of [
      [0, 0],
      [11.9, 0.1],
      [6, 12],
    ])
      expect(discColour(grey, { x, y, radius: 4 }).L).toBeCloseTo(
        discColour(grey, { x: 6, y: 6, radius: 4 }).L,
        6,
      );
    expect(() => discColour(grey, { x: -9, y: 6, radius: 4 })).toThrow(RangeError);
  });

  test('is read from some pixels also in a small picture, and grows with the picture', () => {
    const radius = (width: number, height: number) => discAt({ x: 1, y: 1 }, { width, height }).radius;
    expect(radius(320, 213)).toBeGreaterThanOrEqual(2);
    expect(radius(394, 2048)).toBeCloseTo(radius(2048, 394), 9);
    expect(radius(2048, 1365)).toBeGreaterThan(radius(1024, 683));
  });

  test('what is only rounding is no change', () => {
    const grey = { L: 50, a: 0, b: 0 };
    expect(seenChange(grey, grey)).toBeNull();
    expect(seenChange(grey, { L: 50.1, a: 0, b: 0.1 })).toBeNull();
    expect(seenChange(grey, { L: 60, a: 0, b: 0 })).toBeGreaterThan(5);
  });
});
