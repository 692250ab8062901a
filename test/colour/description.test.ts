import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  deltaE2000,
  deltaE2000Components,
  describeDifference,
  differenceInWords,
  differenceWays,
  lchToLab,
} from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { RUNS } from './published.ts';

const lch = (L: number, C: number, h: number): Lab => lchToLab({ L, C, h });

const anyLab = fc.record({
  L: fc.double({ min: 5, max: 95, noNaN: true }),
  a: fc.double({ min: -60, max: 60, noNaN: true }),
  b: fc.double({ min: -60, max: 60, noNaN: true }),
});

describe('a difference in words', () => {
  test('says which way the lightness goes, and how far', () => {
    expect(describeDifference(lch(50, 20, 120), lch(51, 20, 120))).toBe('a touch lighter');
    expect(describeDifference(lch(50, 20, 120), lch(48, 20, 120))).toBe('a shade darker');
    expect(describeDifference(lch(50, 20, 120), lch(55, 20, 120))).toBe('clearly lighter');
    expect(describeDifference(lch(50, 20, 120), lch(30, 20, 120))).toBe('much darker');
  });

  test('says greyer for less chroma and more colourful for more', () => {
    expect(describeDifference(lch(50, 30, 120), lch(50, 24, 120))).toBe('a shade greyer');
    expect(describeDifference(lch(50, 24, 120), lch(50, 30, 120))).toBe('a shade more colourful');
  });

  test('names the hue towards which the sample leans, never its own', () => {
    // Order of the unique hues round the circle: red, yellow, green, blue (CIE 248:2022).
    expect(describeDifference(lch(60, 40, 55), lch(60, 40, 65))).toMatch(/yellower$/);
    expect(describeDifference(lch(60, 40, 65), lch(60, 40, 55))).toMatch(/redder$/);
    expect(describeDifference(lch(60, 40, 88), lch(60, 40, 96))).toMatch(/greener$/);
    expect(describeDifference(lch(60, 40, 96), lch(60, 40, 88))).toMatch(/redder$/);
    expect(describeDifference(lch(60, 40, 160), lch(60, 40, 170))).toMatch(/bluer$/);
    expect(describeDifference(lch(60, 40, 170), lch(60, 40, 160))).toMatch(/yellower$/);
    expect(describeDifference(lch(60, 40, 300), lch(60, 40, 310))).toMatch(/redder$/);
    expect(describeDifference(lch(60, 40, 310), lch(60, 40, 300))).toMatch(/bluer$/);
    // Across 0 degrees.
    expect(describeDifference(lch(60, 40, 355), lch(60, 40, 5))).toMatch(/redder$/);
    expect(describeDifference(lch(60, 40, 5), lch(60, 40, 355))).toMatch(/bluer$/);
  });

  test('names a direction instead of chroma and hue for near-neutrals', () => {
    expect(describeDifference({ L: 80, a: 0, b: 0 }, { L: 80, a: 0, b: 3 })).toBe('a shade yellower');
    expect(describeDifference({ L: 80, a: 0, b: 0 }, { L: 80, a: -2, b: 0.5 })).toBe('a shade greener');
    expect(describeDifference({ L: 80, a: 0.5, b: 4 }, { L: 80, a: 0.1, b: 1 })).toBe('a shade greyer');
    expect(describeDifference({ L: 80, a: 2, b: 0 }, { L: 80, a: -1, b: 0 })).toMatch(/greener$/);
  });

  test('begins with the largest part', () => {
    expect(describeDifference(lch(50, 20, 120), lch(52, 18, 120))).toBe('a shade lighter, a touch greyer');
    expect(describeDifference(lch(50, 20, 120), lch(51.5, 12, 120))).toBe('clearly greyer, a touch lighter');
  });

  test('is none for a colour and itself', () => {
    fc.assert(
      fc.property(anyLab, (one) => {
        expect(describeDifference(one, one)).toBe('no visible difference');
      }),
      RUNS,
    );
  });

  test('turns lighter into darker when the two change places', () => {
    fc.assert(
      fc.property(anyLab, anyLab, (one, other) => {
        const there = describeDifference(one, other);
        const back = describeDifference(other, one);
        expect(there.includes('lighter')).toBe(back.includes('darker'));
        expect(there.includes('darker')).toBe(back.includes('lighter'));
      }),
      RUNS,
    );
  });

  test('comes apart into its ways without their sizes', () => {
    expect(differenceWays('a shade more colourful, a touch lighter, much redder')).toEqual([
      'more colourful',
      'lighter',
      'redder',
    ]);
    expect(differenceWays('no visible difference')).toEqual(['no visible difference']);
    fc.assert(
      fc.property(anyLab, anyLab, (one, other) => {
        fc.pre(deltaE2000(one, other) > 1);
        for (const way of differenceWays(describeDifference(one, other)))
          expect(way).toMatch(/^(lighter|darker|greyer|more colourful|redder|yellower|greener|bluer)$/);
      }),
      RUNS,
    );
  });

  test('says something whenever the difference is above 1', () => {
    fc.assert(
      fc.property(anyLab, anyLab, (one, other) => {
        fc.pre(deltaE2000(one, other) > 1);
        const words = describeDifference(one, other);
        expect(words).toMatch(
          /^(a touch|a shade|clearly|much) (lighter|darker|greyer|more colourful|redder|yellower|greener|bluer)(, |$)/,
        );
        const { dL } = deltaE2000Components(one, other);
        if (words.includes('lighter')) expect(dL).toBeGreaterThan(0);
      }),
      RUNS,
    );
  });

  test('is refused for numbers that are not finite', () => {
    expect(() => describeDifference({ L: NaN, a: 0, b: 0 }, { L: 1, a: 0, b: 0 })).toThrow(RangeError);
  });
});

describe('what a difference means', () => {
  test('changes at the bands and never runs out of words', () => {
    // Bands: common practice, no published source.
    expect(differenceInWords(0)).toMatch(/^the same to the eye/);
    expect(differenceInWords(0.99)).toMatch(/^the same to most people/);
    expect(differenceInWords(1)).toMatch(/^just visible/);
    expect(differenceInWords(2.3)).toMatch(/^visible side by side/);
    expect(differenceInWords(Infinity)).toMatch(/little in common/);
    const words = [0.2, 0.7, 1.5, 3, 5, 10, 20, 50].map(differenceInWords);
    expect(new Set(words).size).toBe(8);
  });

  test('is refused for what is not a difference', () => {
    expect(() => differenceInWords(-0.1)).toThrow('Expected a colour difference of at least 0, got -0.1');
    expect(() => differenceInWords(NaN)).toThrow(RangeError);
  });
});
