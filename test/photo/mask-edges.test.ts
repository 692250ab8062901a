import { describe, expect, test } from 'vitest';
import { adjacentSurfaces, type Mask } from '#lib/photo/index.ts';

const [W, H] = [300, 200];

function mask(covers: (x: number, y: number) => boolean): Mask {
  const data = new Uint8Array(W * H);
  for (let y = 0; y < H; y++) for (let x = 0; x < W; x++) if (covers(x + 0.5, y + 0.5)) data[y * W + x] = 255;
  return { width: W, height: H, data };
}

describe('surfaces that lie side by side', () => {
  test.each([0, 10, 22.5, 30, 45, 60, 90])(
    'a straight border at %d degrees has its own length',
    (degrees) => {
      const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
      // A strip of 120 pixels along the border through the middle of the picture.
      const along = (x: number, y: number) => Math.abs((x - 150) * c + (y - 100) * s) < 60;
      const side = (x: number, y: number) => (y - 100) * c - (x - 150) * s;
      const found = adjacentSurfaces(
        [mask((x, y) => along(x, y) && side(x, y) > 0), mask((x, y) => along(x, y) && side(x, y) <= 0)],
        { gap: 0 },
      );
      expect(found.length).toBe(1);
      // Four directions of lines: within 6 %, and a pixel at either end.
      expect(Math.abs(found[0].length - 120)).toBeLessThan(0.06 * 120 + 2);
    },
  );

  test('a joint is bridged up to the gap and no further', () => {
    const pair = [mask((x) => x < 100), mask((x) => x > 105)];
    expect(adjacentSurfaces(pair, { gap: 6 }).length).toBe(1);
    expect(adjacentSurfaces(pair, { gap: 2 })).toEqual([]);
  });

  test('each pair is named once, the longest border first, and those far apart not at all', () => {
    const found = adjacentSurfaces([
      mask((x, y) => x < 100 && y < 150),
      mask((x, y) => x >= 100 && x < 180),
      mask((x, y) => x < 100 && y >= 150),
      mask((x) => x > 250),
    ]);
    expect(found.map(({ a, b }) => [a, b])).toEqual([
      [0, 1],
      [0, 2],
      [1, 2],
    ]);
    expect(found[0].length / found[2].length).toBeCloseTo(150 / 50, 0);
  });

  test('the order of the masks does not change the lengths', () => {
    const masks = [mask((x, y) => x + y < 150), mask((x, y) => x + y >= 150 && x < 200)];
    const there = adjacentSurfaces(masks)[0].length;
    const back = adjacentSurfaces([masks[1], masks[0]])[0].length;
    expect(Math.abs(there - back)).toBeLessThan(0.02 * there);
  });

  test('a thing that lies between two surfaces keeps them apart', () => {
    const found = adjacentSurfaces([
      mask((x) => x < 100),
      mask((x) => x >= 100 && x < 104),
      mask((x) => x >= 104),
    ]);
    expect(found.map(({ a, b }) => [a, b])).toEqual([
      [0, 1],
      [1, 2],
    ]);
  });

  test('no mask, one mask and empty masks have no borders; two sizes are refused', () => {
    expect(adjacentSurfaces([])).toEqual([]);
    expect(adjacentSurfaces([mask(() => true)])).toEqual([]);
    expect(adjacentSurfaces([mask(() => false), mask(() => true)])).toEqual([]);
    const small = { width: 2, height: 2, data: new Uint8Array(4) };
    expect(() => adjacentSurfaces([mask(() => true), small])).toThrow('300x200 and 2x2');
    expect(() => adjacentSurfaces([small, small], { gap: -1 })).toThrow('gap');
  });
});
