/** What is begun on a photo and not finished: outlines put aside, corners of a plane, marks being shifted. */
import { homographyToPlane, type Mask, type PlaneCorners, type Point } from '#lib/photo/index.ts';
import { describe, expect, test } from 'vitest';
import { shiftedCorners, shiftedMask, shiftWords } from '../../src/lib/studio/mark-shift.ts';
import { NO_WORK, readOpenWork, writeOpenWork } from '../../src/lib/studio/open-work.ts';
import { canTakeUp, NO_OUTLINE, putAside, takenUp } from '../../src/lib/studio/outline-draft.ts';
import {
  cornerAt,
  cornersProblem,
  guessedPlane,
  nextCorner,
  placedCorner,
  placedWords,
  stillToPlace,
} from '../../src/lib/studio/plane-corners.ts';

const corners = (...places: Point[]) => places as unknown as PlaneCorners;
const SQUARE = corners([100, 100], [300, 100], [300, 250], [100, 250]);

describe('an outline that is put aside', () => {
  const draft: Point[] = [
    [1, 2],
    [3, 4],
  ];

  test('comes back as it was', () => {
    const aside = putAside({ draft, aside: [] });
    expect(aside).toEqual({ draft: [], aside: draft });
    expect(canTakeUp(aside)).toBe(true);
    expect(takenUp(aside)).toEqual({ draft, aside: [] });
  });

  test('is not lost by putting nothing aside, and does not replace one that is under way', () => {
    const aside = putAside({ draft, aside: [] });
    expect(putAside(aside)).toEqual(aside);
    const busy = { draft: [[7, 8]] as Point[], aside: draft };
    expect(canTakeUp(busy)).toBe(false);
    expect(takenUp(busy)).toBe(busy);
    expect(canTakeUp(NO_OUTLINE)).toBe(false);
  });
});

describe('four corners of a plane', () => {
  const photo = { width: 800, height: 600 };

  test('a guess lies inside what is marked, and none of it counts as placed', () => {
    const outline = {
      places: Float32Array.from([200, 100, 600, 100, 600, 500, 200, 500]),
      ends: Uint32Array.from([4]),
    };
    const guess = guessedPlane(outline, photo, [1800, 620]);
    expect(guess.placed).toEqual([false, false, false, false]);
    expect(nextCorner(guess)).toBe(0);
    for (const [x, y] of guess.corners) {
      expect(x).toBeGreaterThan(200);
      expect(x).toBeLessThan(600);
      expect(y).toBeGreaterThan(100);
      expect(y).toBeLessThan(500);
    }
    expect(cornersProblem(guess.corners)).toBeNull();
    expect(cornersProblem(guessedPlane(null, photo, [1, 1]).corners)).toBeNull();
  });

  test('corners are placed one by one, in any order', () => {
    let plane = guessedPlane(null, photo, [1800, 620]);
    expect(placedWords(plane)).toBe('No corner placed. Next: top left.');
    expect(stillToPlace(plane)).toMatch(/^Place at least two corners yourself/);
    expect(stillToPlace(placedCorner(plane, 2, [5, 5]))).toMatch(/^Place at least one more corner yourself/);
    plane = placedCorner(plane, 2, [700, 500]);
    plane = placedCorner(plane, 0, [50, 60]);
    expect(plane.corners[2]).toEqual([700, 500]);
    expect(placedWords(plane)).toBe('2 of 4 corners placed. Next: top right.');
    expect(stillToPlace(plane)).toBeNull();
    plane = placedCorner(placedCorner(plane, 1, [700, 60]), 3, [50, 500]);
    expect(nextCorner(plane)).toBeNull();
    expect(placedWords(plane)).toBe('All four corners are placed.');
  });

  test('the next corner may lie near one that is placed, not on it', () => {
    const plane = placedCorner(guessedPlane(null, photo, [1800, 620]), 0, [50, 60]);
    expect(cornerAt(plane, [50, 60])).toBe(0);
    expect(cornerAt(plane, [54, 63])).toBe(0);
    expect(cornerAt(plane, [62, 60])).toBeNull();
    // Where they lie apart enough to be placed they are apart enough to be right.
    const near = placedCorner(plane, 1, [62, 60]);
    expect(cornersProblem(near.corners) ?? '').not.toMatch(/lie on each other/);
    // A guess takes no place.
    expect(cornerAt(plane, plane.corners[2])).toBeNull();
  });

  test('what no rectangle can look like is refused with the corner that is off', () => {
    const [a, b, c, d] = SQUARE;
    expect(cornersProblem(SQUARE)).toBeNull();
    expect(cornersProblem(corners(a, c, b, d))).toMatch(/^Two sides cross/);
    expect(cornersProblem(corners(b, a, c, d))).toMatch(/^Two sides cross/);
    expect(cornersProblem(corners(b, a, d, c))).toMatch(/the wrong way/);
    expect(cornersProblem(corners(a, b, [150, 130], d))).toMatch(/^The bottom right corner lies inside/);
    expect(cornersProblem(corners([280, 240], b, c, d))).toMatch(/^The top left corner lies inside/);
    expect(cornersProblem(corners(a, b, c, [200, 175]))).toMatch(/^The bottom left corner lies in line/);
    expect(cornersProblem(corners(a, [103, 102], c, d))).toBe(
      'The top left and the top right corner lie on each other. Draw them apart.',
    );
    // The other way round and one of them inside.
    expect(cornersProblem(corners(b, a, d, [200, 150]))).not.toBeNull();
  });

  test('what is taken has a perspective, and every rectangle turned or seen aslant is taken', () => {
    // Whole numbers scattered by a linear congruence (Knuth's MMIX constants would do as well; any spread serves).
    let seed = 1;
    const next = (most: number) => {
      seed = (seed * 48271) % 2147483647;
      return seed % most;
    };
    let taken = 0;
    for (let i = 0; i < 4000; i++) {
      const four = corners(
        [next(900), next(700)],
        [next(900), next(700)],
        [next(900), next(700)],
        [next(900), next(700)],
      );
      if (cornersProblem(four) !== null) continue;
      taken++;
      const h = homographyToPlane({ corners: four, width: 1000, height: 500 });
      expect(h.every(Number.isFinite)).toBe(true);
    }
    expect(taken).toBeGreaterThan(100);
    for (let turn = 0; turn < 360; turn += 15) {
      const [cos, sin] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
      const seen = [
        [-300, -100],
        [300, -100],
        [300, 100],
        [-300, 100],
      ].map(([x, y]): Point => {
        // A plane that leans away: farther points are drawn together.
        const far = 1 + y / 400;
        return [500 + (x * cos - y * sin) * far, 400 + (x * sin + y * cos) * far];
      });
      expect(cornersProblem(corners(...seen))).toBeNull();
    }
  });
});

describe('open work over a reload', () => {
  const work = {
    outlines: { s1: { draft: [[1.25, 2]] as Point[], aside: [] }, s2: NO_OUTLINE },
    planes: { s3: placedCorner({ ...guessedPlane(null, { width: 90, height: 60 }, [10, 20]) }, 1, [70, 9]) },
  };

  test('comes back for each surface, for the same picture only', () => {
    const text = writeOpenWork('f1', work);
    expect(readOpenWork(text, 'f1')).toEqual({ outlines: { s1: work.outlines.s1 }, planes: work.planes });
    expect(readOpenWork(text, 'f2')).toEqual(NO_WORK);
  });

  test('nothing begun is nothing kept, and what cannot be read is left out', () => {
    expect(writeOpenWork('f1', { outlines: { s1: NO_OUTLINE }, planes: {} })).toBeNull();
    expect(readOpenWork(null, 'f1')).toEqual(NO_WORK);
    expect(readOpenWork('{"fileId":"f1"', 'f1')).toEqual(NO_WORK);
    const odd = {
      fileId: 'f1',
      outlines: { a: { draft: [[1, null]], aside: [] }, b: 3 },
      planes: { c: { corners: [] } },
    };
    expect(readOpenWork(JSON.stringify(odd), 'f1')).toEqual(NO_WORK);
  });
});

describe('marks that are shifted', () => {
  const mask = (cover: (x: number, y: number) => number): Mask => ({
    width: 12,
    height: 9,
    data: Uint8Array.from({ length: 108 }, (_, p) => cover(p % 12, Math.floor(p / 12))),
  });

  test('keep their soft cover, there and back', () => {
    const box = mask((x, y) => (x > 3 && x < 8 && y > 2 && y < 6 ? 40 * x - 30 * y : 0));
    const there = shiftedMask(box, [2, -1]);
    expect(there.data[4 * 12 + 8]).toBe(box.data[5 * 12 + 6]);
    expect(shiftedMask(there, [-2, 1]).data).toEqual(box.data);
    expect(shiftedMask(box, [0, 0]).data).toEqual(box.data);
  });

  test('what runs to the rim goes on to it, and what passes it is gone', () => {
    const left = mask((x) => (x < 4 ? 255 : 0));
    expect(shiftedMask(left, [3, 0]).data).toEqual(mask((x) => (x < 7 ? 255 : 0)).data);
    expect(shiftedMask(left, [-4, 0]).data.every((cover) => cover === 0)).toBe(true);
    expect(() => shiftedMask(left, [0.5, 0])).toThrow(RangeError);
  });

  test('their corners go along, and how far is said', () => {
    expect(shiftedCorners(SQUARE, [-5, 2])[2]).toEqual([295, 252]);
    expect(shiftWords([12, -3])).toBe('12 px right, 3 px up');
    expect(shiftWords([0, 0.4])).toBe('where they were');
  });
});
