import { describe, expect, test } from 'vitest';
import { orderKept, rankedOf } from '#lib/studio/ranked-order.ts';

describe('candidates as the shortlist has them', () => {
  const late = 'Too late: 35 days to deliver where 21 days are left, 14 days too many.';
  const found = rankedOf({
    shortlist: [{ id: 'sage' }, { id: 'clay' }],
    excluded: [{ id: 'far', name: 'Far', reason: late }],
  });

  test('come best first, what limits exclude last, with the reason as it was given', () => {
    expect(found.order).toEqual(['sage', 'clay', 'far']);
    expect(found.excluded).toEqual({ far: late });
  });

  test('are led by one that no limit excludes', () => {
    expect(found.leading).toBe('sage');
    expect(
      rankedOf({ shortlist: [], excluded: [{ id: 'far', name: 'Far', reason: late }] }).leading,
    ).toBeNull();
  });

  test('keep an order they share with another; what only one of them has does not count', () => {
    expect(orderKept(['a', 'b', 'c'], ['a', 'b', 'c'])).toBe(true);
    expect(orderKept(['a', 'b'], ['a', 'new', 'b'])).toBe(true);
    expect(orderKept(['a', 'gone', 'b'], ['a', 'b'])).toBe(true);
    expect(orderKept(['a', 'b'], ['b', 'a'])).toBe(false);
  });
});
