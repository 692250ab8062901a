import { describe, expect, test } from 'vitest';
import { NOBODY } from '../../src/lib/photo/light-grid.ts';
import { shining } from '../../src/lib/photo/light-sources.ts';
import { picture } from './picture.ts';

const WIDTH = 640;
const HEIGHT = 400;
/** Linear light of the wall around. */
const WALL = 0.2;
const SEEDS = [{ x: 260, y: 60 }];

/** A burnt-out pane in a grey wall, drawn over by `paint` (linear light, null: nothing). */
function pane(paint: (x: number, y: number) => number | null) {
  const image = picture(
    WIDTH,
    HEIGHT,
    (x, y) => {
      const inside = x >= 240 && x < 400 && y >= 40 && y < 160;
      const v = paint(Math.floor(x), Math.floor(y)) ?? (inside ? 1 : WALL);
      return [v, v, v, 'linear'];
    },
    { noise: 0 },
  );
  const found = shining(image, {
    pixelOwner: new Uint8Array(WIDTH * HEIGHT).fill(NOBODY),
    seeds: SEEDS,
    lights: null,
    from: 250,
    glass: true,
  });
  if (!found) throw new Error('Expected a pane');
  return (x: number, y: number) => found[y * WIDTH + x] / 255;
}

describe('glass that was pointed at', () => {
  test('is found whole, with what it encloses, and no further', () => {
    const part = pane((x, y) => (x >= 300 && x < 308 && y >= 100 && y < 106 ? 0.6 : null));
    for (const [x, y] of [
      [241, 41],
      [398, 158],
      [304, 103],
    ])
      expect(part(x, y)).toBe(1);
    for (const [x, y] of [
      [230, 100],
      [410, 100],
      [320, 30],
      [320, 170],
    ])
      expect(part(x, y)).toBe(0);
  });

  test('of a pixel on its edge, that part of the light which comes through it', () => {
    // A pixel that the edge cuts shows a + (1 - a) of the wall's light: a of it is the window's.
    for (const a of [0.2, 0.5, 0.8]) {
      const linear = a + (1 - a) * WALL;
      const part = pane((x, y) => (x === 400 && y >= 40 && y < 160 ? linear : null));
      expect(Math.abs(part(400, 100) - a / linear)).toBeLessThan(0.03);
    }
  });

  test('is no bar before it, and no sunlit edge beside it', () => {
    const bar = (y: number) => y >= 96 && y < 102;
    const edge = (x: number, y: number) => x >= 228 && x < 231 && y >= 40 && y < 160;
    const part = pane((x, y) => (edge(x, y) ? 1 : bar(y) && x >= 240 && x < 400 ? 0.1 : null));
    expect(part(300, 99)).toBe(0);
    expect(part(229, 100)).toBe(0);
    expect(part(300, 80)).toBe(1);
    expect(part(300, 130)).toBe(1);
  });
});
