import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { largerIsBetter, overallDesirability, smallerIsBetter, targetIsBest } from '#lib/finish/index.ts';

describe('the tire tread compound of Derringer and Suich 1980', () => {
  // Limits and targets: read in a vendor's account of the paper's example. Responses at the optimum, the single
  // desirabilities .189, 1, .656, .932 and D = .583: from memory.
  const parts = [
    largerIsBetter(129.5, { none: 120, full: 170 }),
    largerIsBetter(1300, { none: 1000, full: 1300 }),
    targetIsBest(465.7, { low: 400, target: 500, high: 600 }),
    targetIsBest(68, { low: 60, target: 67.5, high: 75 }),
  ];

  test('gives the desirabilities of its four responses', () => {
    // The responses are printed to 0.1, so the desirabilities can differ by 0.05 / range.
    expect(parts[0]).toBeCloseTo(0.189, 2);
    expect(parts[1]).toBe(1);
    expect(parts[2]).toBeCloseTo(0.656, 2);
    expect(parts[3]).toBeCloseTo(0.932, 2);
  });

  test('gives the overall desirability of its optimum', () => {
    const overall = overallDesirability(parts.map((desirability) => ({ desirability, weight: 1 })));
    // Printed .583; the rounding of the responses (0.05 in 9.5) moves D by up to 0.001.
    expect(Math.abs(overall! - 0.583)).toBeLessThan(0.0015);
  });
});

describe('one desirability', () => {
  const shape = fc.record({
    low: fc.double({ min: -100, max: 100, noNaN: true }),
    width: fc.double({ min: 0.01, max: 100, noNaN: true }),
    r: fc.double({ min: 0.1, max: 10, noNaN: true }),
    y: fc.double({ min: -300, max: 300, noNaN: true }),
    step: fc.double({ min: 0, max: 50, noNaN: true }),
  });

  test('lies between 0 and 1 and never falls as a larger-is-better value grows', () => {
    fc.assert(
      fc.property(shape, ({ low, width, r, y, step }) => {
        const limits = { none: low, full: low + width, r };
        const before = largerIsBetter(y, limits);
        const after = largerIsBetter(y + step, limits);
        expect(before).toBeGreaterThanOrEqual(0);
        expect(after).toBeLessThanOrEqual(1);
        expect(after).toBeGreaterThanOrEqual(before);
      }),
    );
  });

  test('smaller is better mirrors larger is better', () => {
    fc.assert(
      fc.property(shape, ({ low, width, r, y }) => {
        const down = smallerIsBetter(-y, { full: -(low + width), none: -low, r });
        expect(down).toBeCloseTo(largerIsBetter(y, { none: low, full: low + width, r }), 9);
      }),
    );
  });

  test('a target is best on the target and worth nothing at the ends', () => {
    const limits = { low: 10, target: 25, high: 30, s: 2, t: 0.5 };
    expect(targetIsBest(25, limits)).toBe(1);
    expect(targetIsBest(10, limits)).toBe(0);
    expect(targetIsBest(30, limits)).toBe(0);
    expect(targetIsBest(17.5, limits)).toBeCloseTo(0.25, 12);
    expect(targetIsBest(27.5, limits)).toBeCloseTo(Math.SQRT1_2, 12);
  });

  test('refuses limits that do not ascend', () => {
    expect(() => largerIsBetter(1, { none: 2, full: 2 })).toThrow('Expected none < full, got 2 and 2');
    expect(() => smallerIsBetter(1, { full: 3, none: 2 })).toThrow(RangeError);
    expect(() => targetIsBest(1, { low: 1, target: 1, high: 2 })).toThrow(RangeError);
  });
});

describe('overall desirability', () => {
  const part = fc.record({
    desirability: fc.double({ min: 0.001, max: 1, noNaN: true }),
    weight: fc.double({ min: 0.01, max: 10, noNaN: true }),
  });

  test('lies between the worst and the best of its parts', () => {
    fc.assert(
      fc.property(fc.array(part, { minLength: 1, maxLength: 6 }), (parts) => {
        const overall = overallDesirability(parts)!;
        const values = parts.map(({ desirability }) => desirability);
        expect(overall).toBeGreaterThanOrEqual(Math.min(...values) - 1e-12);
        expect(overall).toBeLessThanOrEqual(Math.max(...values) + 1e-12);
      }),
    );
  });

  test('does not change when all weights are scaled', () => {
    fc.assert(
      fc.property(fc.array(part, { minLength: 1, maxLength: 6 }), (parts) => {
        const scaled = parts.map(({ desirability, weight }) => ({ desirability, weight: weight * 7 }));
        expect(overallDesirability(scaled)).toBeCloseTo(overallDesirability(parts)!, 12);
      }),
    );
  });

  test('is 0 when one part with weight is 0, and ignores parts without weight', () => {
    expect(
      overallDesirability([
        { desirability: 0, weight: 1 },
        { desirability: 1, weight: 9 },
      ]),
    ).toBe(0);
    expect(
      overallDesirability([
        { desirability: 0, weight: 0 },
        { desirability: 0.4, weight: 2 },
      ]),
    ).toBeCloseTo(0.4, 12);
  });

  test('has no answer without any weight', () => {
    expect(overallDesirability([])).toBeNull();
    expect(overallDesirability([{ desirability: 1, weight: 0 }])).toBeNull();
  });

  test('refuses what is no desirability or weight', () => {
    expect(() => overallDesirability([{ desirability: 1.1, weight: 1 }])).toThrow(
      'Expected desirability in [0, 1], got 1.1',
    );
    expect(() => overallDesirability([{ desirability: 0.5, weight: -1 }])).toThrow(RangeError);
  });
});
