/** What is said at once beside the tools: places taken from others. */
import type { Mask } from '#lib/photo/index.ts';
import { describe, expect, test } from 'vitest';
import { maskOutline } from '../../src/lib/studio/mask-outline.ts';
import { claims, claimWords, overlap } from '../../src/lib/studio/outline-overlap.ts';
import {
  arrowStep,
  firstView,
  pinched,
  toPicture,
  wholeView,
  zoomed,
} from '../../src/lib/studio/picture-view.ts';

const SIZE = { width: 200, height: 120 };
const outlineOf = (cover: (x: number, y: number) => boolean) => {
  const data = Uint8Array.from({ length: 24000 }, (_, p) => (cover(p % 200, Math.floor(p / 200)) ? 255 : 0));
  return maskOutline({ ...SIZE, data } satisfies Mask);
};
const box = (left: number, top: number, right: number, bottom: number) =>
  outlineOf((x, y) => x >= left && x < right && y >= top && y < bottom);

describe('the area in two outlines', () => {
  test('is that of the box they share, its core two pixels less either way', () => {
    const { area, core } = overlap(box(10, 10, 100, 80), box(60, 40, 180, 110));
    // Corners of an outline are cut by half a pixel.
    expect(Math.abs(area - 40 * 40)).toBeLessThan(4);
    expect(core).toBeLessThanOrEqual(area - 2 * 38);
    expect(core).toBeGreaterThan(37 * 37);
  });

  test('leaves holes out, on either side', () => {
    const ring = outlineOf((x, y) => Math.hypot(x - 100, y - 60) < 50 && Math.hypot(x - 100, y - 60) > 30);
    expect(overlap(ring, box(85, 45, 115, 75)).area).toBe(0);
    expect(overlap(box(85, 45, 115, 75), ring).area).toBe(0);
    const exact = Math.PI * (50 ** 2 - 30 ** 2);
    // Of hard pixels on a circle.
    expect(Math.abs(overlap(ring, box(0, 0, 200, 120)).area - exact)).toBeLessThan(0.02 * exact);
  });

  test('has no core for surfaces side by side, touching or with edges a pixel over each other', () => {
    expect(overlap(box(10, 10, 100, 110), box(100, 10, 190, 110)).area).toBe(0);
    expect(overlap(box(10, 10, 101, 110), box(100, 10, 190, 110)).core).toBe(0);
    expect(overlap(box(10, 10, 190, 61), box(10, 60, 190, 110)).core).toBe(0);
    const slanted = outlineOf((x, y) => y < 41 + x / 7);
    expect(
      overlap(
        slanted,
        outlineOf((x, y) => y >= 40 + x / 7),
      ).core,
    ).toBe(0);
  });
});

describe('what marks take of others', () => {
  const wall = { id: 'w', name: 'Walls', outline: box(0, 0, 200, 60), share: 0.5 };
  const floor = { id: 'f', name: 'Floor', outline: box(0, 60, 200, 120), share: 0.5 };

  test('is told in parts of theirs', () => {
    const [claim, ...rest] = claims(box(0, 0, 50, 60), [wall, floor], SIZE);
    expect(rest).toEqual([]);
    expect(claim.id).toBe('w');
    expect(claim.part).toBeCloseTo(0.25, 2);
    expect(claims(box(0, 0, 50, 60), [floor], SIZE)).toEqual([]);
  });

  test('is a sentence', () => {
    const of = (name: string, part: number) => ({ id: name, name, part });
    expect(claimWords([])).toBeNull();
    expect(claimWords([of('Walls', 0.12)])).toBe('Takes 12 % of Walls.');
    expect(claimWords([of('Walls', 0.12), of('Floor', 0.001), of('Door', 0.999)])).toBe(
      'Takes 12 % of Walls, a little of Floor and all of Door.',
    );
  });
});

describe('a picture first seen', () => {
  const frame = { width: 400, height: 500 };

  test('is whole where that is no strip', () => {
    for (const picture of [
      { width: 1600, height: 1066 },
      { width: 900, height: 1600 },
    ])
      expect(firstView(picture, frame)).toEqual(wholeView(picture, frame));
  });

  test('lies across the frame with its middle in sight where the whole would be a strip', () => {
    const picture = { width: 900, height: 3600 };
    const view = firstView(picture, frame);
    expect(view.scale * picture.width).toBeCloseTo(frame.width, 9);
    const middle = toPicture(view, [200, 250]);
    expect(middle[0]).toBeCloseTo(450, 6);
    expect(middle[1]).toBeCloseTo(1800, 6);
  });
});

describe('two fingers', () => {
  const [picture, frame] = [
    { width: 1600, height: 1066 },
    { width: 390, height: 260 },
  ];

  test('that part size the picture about their middle, and that go together move it', () => {
    const whole = wholeView(picture, frame);
    const seen = toPicture(whole, [200, 130]);
    const first = pinched(whole, { before: [180, 130], at: [160, 130], other: [220, 130], picture, frame });
    const view = pinched(first, { before: [220, 130], at: [240, 130], other: [160, 130], picture, frame });
    expect(view.scale / whole.scale).toBeCloseTo(2, 9);
    const now = toPicture(view, [200, 130]);
    expect(now[0]).toBeCloseTo(seen[0], -1.5);
    const near = zoomed(whole, { factor: 3, about: [195, 130], picture, frame });
    const half = pinched(near, { before: [100, 100], at: [110, 100], other: [100, 160], picture, frame });
    expect(half.x).not.toBe(near.x);
  });

  test('arrow keys step, other keys do not', () => {
    expect(arrowStep('ArrowUp', 10)).toEqual([0, -10]);
    expect(arrowStep('a', 10)).toBeNull();
  });
});
