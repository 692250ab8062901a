import { describe, expect, test } from 'vitest';
import { areaOf, centreOf, coverage, type Point, type Region } from '#lib/photo/index.ts';
import { random } from './board-scene.ts';

const size = { width: 40, height: 30 };
const triangle: Region = {
  kind: 'polygon',
  points: [
    [3.2, 4.1],
    [31.7, 8.8],
    [12.4, 25.3],
  ],
};
const disc: Region = { kind: 'point', x: 18.3, y: 14.9, radius: 7.4 };
const box: Region = { kind: 'box', x: 2.3, y: 5.6, width: 11.9, height: 7.7 };

describe('coverage', () => {
  test('adds up to the area of a box, a disc and a polygon', () => {
    for (const region of [triangle, disc, box])
      // Eight scan lines a pixel: a level edge is off by up to a sixteenth of a pixel along its length.
      expect(Math.abs(coverage(region, size).area / areaOf(region) - 1)).toBeLessThan(0.012);
  });

  test('a shape moved by fractions of a pixel covers the same area', () => {
    const next = random(4);
    for (let i = 0; i < 20; i++) {
      const moved: Region = { ...disc, x: 15 + next(), y: 14 + next() };
      expect(coverage(moved, size).area).toBeCloseTo(areaOf(disc), 0);
    }
  });

  test('by centres takes whole pixels, those whose centre is inside', () => {
    const { pixels, share } = coverage({ kind: 'box', x: 2.6, y: 3, width: 3, height: 2 }, size, 'centre');
    expect([...pixels]).toEqual([3, 4, 5].map((x) => 3 * 40 + x).concat([3, 4, 5].map((x) => 4 * 40 + x)));
    expect(new Set(share)).toEqual(new Set([1]));
  });

  test('of a polygon and of the same box drawn as a polygon agree', () => {
    const { x, y, width, height } = { x: 4.3, y: 6.2, width: 9.1, height: 5.4 };
    const points: Point[] = [
      [x, y],
      [x + width, y],
      [x + width, y + height],
      [x, y + height],
    ];
    const drawn = coverage({ kind: 'polygon', points }, size);
    const plain = coverage({ kind: 'box', x, y, width, height }, size);
    expect(drawn.pixels).toEqual(plain.pixels);
    expect(drawn.area).toBeCloseTo(plain.area, 6);
  });

  test('a polygon that crosses itself leaves out what it goes round twice', () => {
    const star: Point[] = [0, 2, 4, 1, 3].map((k) => [
      20 + 12 * Math.sin((2 * Math.PI * k) / 5),
      15 - 12 * Math.cos((2 * Math.PI * k) / 5),
    ]);
    const { pixels } = coverage({ kind: 'polygon', points: star }, size, 'centre');
    expect(pixels).not.toContain(15 * 40 + 20);
    expect(pixels).toContain(6 * 40 + 20);
  });
});

describe('regions at the edge', () => {
  test('what lies outside the picture is cut off and said', () => {
    const half = coverage({ kind: 'box', x: -10, y: 5, width: 20, height: 10 }, size);
    expect(half.outside).toBeCloseTo(0.5, 6);
    expect(half.area).toBeCloseTo(100, 6);
    expect(coverage(box, size).outside).toBe(0);
  });

  test('a region outside altogether, without area or not finite is refused in words', () => {
    expect(() => coverage({ kind: 'point', x: 100, y: 5, radius: 3 }, size)).toThrow(
      /inside the 40x30 picture/,
    );
    expect(() => coverage({ kind: 'box', x: 1, y: 1, width: 0, height: 4 }, size)).toThrow(/with an area/);
    expect(() => coverage({ kind: 'point', x: NaN, y: 5, radius: 3 }, size)).toThrow(/finite/);
    expect(() =>
      coverage(
        {
          kind: 'polygon',
          points: [
            [1, 1],
            [2, 2],
          ],
        },
        size,
      ),
    ).toThrow(/at least 3 points/);
  });

  test('the centre of a shape is inside it', () => {
    const [x, y] = centreOf(triangle);
    expect(x).toBeCloseTo((3.2 + 31.7 + 12.4) / 3, 6);
    expect(y).toBeCloseTo((4.1 + 8.8 + 25.3) / 3, 6);
  });
});
