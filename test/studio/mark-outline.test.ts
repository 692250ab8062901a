import type { Point } from '#lib/photo/index.ts';
import { describe, expect, test } from 'vitest';
import {
  canClose,
  closedOutline,
  closesAt,
  cornerMoved,
  cornersSet,
  withCorner,
} from '../../src/lib/studio/outline-draft.ts';

const three: Point[] = [
  [10, 10],
  [60, 10],
  [60, 40],
];

describe('an outline under way', () => {
  test('grows by a corner, but not by the same one twice', () => {
    expect(withCorner([], [1, 2])).toEqual([[1, 2]]);
    expect(withCorner(three, [9, 40])).toEqual([...three, [9, 40]]);
    expect(withCorner(three, [60, 40])).toBe(three);
  });

  test('closes near its first corner or on its last one again, from three corners on', () => {
    expect(closesAt(three, [13, 14], 5)).toBe(true);
    expect(closesAt(three, [13, 15], 5)).toBe(false);
    expect(closesAt(three, [60, 40], 5)).toBe(true);
    // Near the last one is a corner of its own: an edge may turn within a few pixels.
    expect(closesAt(three, [60, 42], 5)).toBe(false);
    expect(closesAt(three.slice(0, 2), [10, 10], 5)).toBe(false);
    expect(closesAt([], [10, 10], 5)).toBe(false);
  });

  test('moves one corner and leaves the others', () => {
    const moved = cornerMoved(three, 1, [70, 0]);
    expect(moved).toEqual([three[0], [70, 0], three[2]]);
    expect(three[1]).toEqual([60, 10]);
  });

  test('becomes a stroke once there is an inside', () => {
    expect(canClose(three.slice(1))).toBe(false);
    expect(closedOutline(three.slice(1), 'add')).toBeNull();
    expect(closedOutline(three, 'remove')).toEqual({ mode: 'remove', by: 'outline', points: three });
  });

  test('says how far it is', () => {
    expect([[], three.slice(2), three].map(cornersSet)).toEqual([
      'no corner set yet',
      '1 corner set',
      '3 corners set',
    ]);
  });
});
