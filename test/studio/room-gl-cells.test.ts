import { describe, expect, it } from 'vitest';
import type { SurfaceLayers } from '#lib/photo/index.ts';
import { CELL, RECT, cellPlan, coveredCells, seenRects } from '../../src/lib/studio/room-gl-cells.ts';
import { random } from '../photo/board-scene.ts';

// Properties of what is drawn, found by filling in the rectangles pixel by pixel.

const PICTURE = { width: 151, height: 90 };
const next = random(5);

/** A disc with a soft rim in its box, which lies anywhere, and with holes. */
function disc(x: number, y: number, across: number): SurfaceLayers {
  const box = { x, y, width: across, height: across };
  const middle = (across - 1) / 2;
  const coverage = Uint8Array.from({ length: across * across }, (_, o) => {
    const far = Math.hypot((o % across) - middle, Math.floor(o / across) - middle);
    return next() < 0.001 ? 0 : Math.max(0, Math.min(255, 80 * (middle - far)));
  });
  const [light, glow, rest] = [new Uint16Array(0), new Uint16Array(0), new Uint8Array(0)];
  return {
    ...{ box, coverage, light, glow, rest, picture: { ...PICTURE, space: 'srgb' }, notes: [] },
    ...{ old: [0.5, 0.5, 0.5], face: 0.03, oldSheen: null, meanLight: [1, 1, 1], share: 0.2 },
  };
}

const SURFACES = [disc(3, 5, 61), disc(50, 20, 66), disc(90, 1, 60), disc(40, 40, 50)];
const PLAN = cellPlan(PICTURE, SURFACES.map(coveredCells));

function pixelsOf(rect: ArrayLike<number>, width: number): number[] {
  const [x, y, wide, tall] = Array.from(rect);
  return Array.from({ length: wide * tall }, (_, n) => (y + Math.floor(n / wide)) * width + x + (n % wide));
}

const rectsOf = ({ first, count }: { first: number; count: number }) =>
  Array.from({ length: count }, (_, k) => PLAN.rects.subarray(RECT * (first + k), RECT * (first + k + 1)));

/** Coverage 0-255 of a surface at a pixel of the picture. */
function coverageAt({ box, coverage }: SurfaceLayers, pixel: number): number {
  const [x, y] = [(pixel % PICTURE.width) - box.x, Math.floor(pixel / PICTURE.width) - box.y];
  return x < 0 || y < 0 || x >= box.width || y >= box.height ? 0 : coverage[y * box.width + x];
}

describe('cells that are painted', () => {
  it('adds each surface once wherever it covers anything, and paints last and once', () => {
    const count = PICTURE.width * PICTURE.height;
    const added = SURFACES.map(() => new Uint8Array(count));
    const painted = new Uint8Array(count);
    const rounds = new Int8Array(count).fill(-1);
    for (const draw of PLAN.draws)
      for (const rect of rectsOf(draw))
        for (const pixel of pixelsOf(rect, PICTURE.width)) {
          added[draw.surface][pixel]++;
          expect(painted[pixel]).toBe(0);
          // One round after the other, in the order in which they are drawn.
          expect(draw.round).toBe(rounds[pixel] + 1);
          rounds[pixel] = draw.round;
          if (draw.last) painted[pixel]++;
        }
    let covered = 0;
    for (let pixel = 0; pixel < count; pixel++) {
      SURFACES.forEach((surface, k) => {
        expect(added[k][pixel]).toBeLessThanOrEqual(1);
        if (coverageAt(surface, pixel) > 0) expect(added[k][pixel]).toBe(1);
      });
      expect(painted[pixel]).toBe(rounds[pixel] >= 0 ? 1 : 0);
      if (SURFACES.some((surface) => coverageAt(surface, pixel) > 0)) covered++;
    }
    expect(covered).toBeGreaterThan(5000);
    expect(PLAN.draws.some(({ round }) => round > 1)).toBe(true);
  });

  it('calls a cell whole only where one surface covers all of it wholly', () => {
    const whole = PLAN.draws.filter((draw) => draw.whole);
    expect(whole.length).toBeGreaterThan(0);
    for (const draw of whole)
      for (const rect of rectsOf(draw))
        for (const pixel of pixelsOf(rect, PICTURE.width))
          expect(SURFACES.map((surface) => coverageAt(surface, pixel) > 0)).toEqual(
            SURFACES.map((_, k) => k === draw.surface),
          );
    for (const draw of whole)
      for (const rect of rectsOf(draw))
        for (const pixel of pixelsOf(rect, PICTURE.width))
          expect(coverageAt(SURFACES[draw.surface], pixel)).toBe(255);
  });

  it('gives each shared cell a slot of its own that lies in the texture', () => {
    const slots = new Map<string, string>();
    for (const draw of PLAN.draws)
      for (const [x, y, width, height, right, down] of rectsOf(draw)) {
        if (draw.last && draw.round === 0) continue;
        const [left, top] = [x + right, y + down];
        expect(Math.min(left, top)).toBeGreaterThanOrEqual(0);
        expect(left + width).toBeLessThanOrEqual(PLAN.slots.width);
        expect(top + height).toBeLessThanOrEqual(PLAN.slots.height);
        expect([left % CELL, top % CELL]).toEqual([0, 0]);
        const slot = `${left} ${top}`;
        expect(slots.get(slot) ?? `${x} ${y}`).toBe(`${x} ${y}`);
        slots.set(slot, `${x} ${y}`);
      }
    expect(slots.size).toBeGreaterThan(3);
    expect(new Set(slots.values()).size).toBe(slots.size);
  });

  it('has nothing to draw without surfaces', () => {
    expect(cellPlan(PICTURE, [])).toEqual({
      draws: [],
      rects: new Int16Array(0),
      slots: { width: 0, height: 0 },
    });
  });
});

describe('what a canvas shows of cells', () => {
  const cells = SURFACES.map((surface) => coveredCells(surface).cells);

  it('is all that shows anything of a covered pixel, once, and nothing before a column', () => {
    for (const [scale, x, y, from] of [
      [0.37, 3.2, -4.1, 0],
      [0.8, -20.5, 7, 31],
      [1, 0, 0, 0],
      [1.6, -30.3, -11.9, 5],
      [3.7, -200, -90.25, 0],
    ]) {
      const [width, height] = [130, 77];
      const drawn = new Uint8Array(width * height);
      const rects = seenRects({ picture: PICTURE, cells }, { width, height, view: { scale, x, y }, from });
      for (let k = 0; k < rects.length; k += RECT)
        for (const pixel of pixelsOf(rects.subarray(k, k + RECT), width)) drawn[pixel]++;
      let seen = 0;
      // From half a pixel of the picture beyond what a canvas pixel covers, as far as interpolation reads.
      const near = (at: number, shift: number) => [
        Math.floor((at - shift) / scale - 0.5),
        Math.ceil((at + 1 - shift) / scale + 0.5),
      ];
      for (let row = 0; row < height; row++)
        for (let column = 0; column < width; column++) {
          const at = (height - 1 - row) * width + column;
          expect(drawn[at]).toBeLessThanOrEqual(column < from ? 0 : 1);
          if (column < from) continue;
          const [left, right] = near(column, x);
          const [top, bottom] = near(row, y);
          let any = false;
          for (let v = Math.max(0, top); v < Math.min(PICTURE.height, bottom); v++)
            for (let u = Math.max(0, left); u < Math.min(PICTURE.width, right); u++)
              any ||= SURFACES.some((surface) => coverageAt(surface, v * PICTURE.width + u) > 0);
          if (!any) continue;
          seen++;
          expect(drawn[at]).toBe(1);
        }
      expect(seen).toBeGreaterThan(500);
    }
  });
});
