import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { NEAR_NEUTRAL_CHROMA, lchToLab, undertone } from '#lib/colour/index.ts';
import { RUNS } from './published.ts';

const at = (L: number, C: number, h: number) => undertone(lchToLab({ L, C, h }));

describe('undertone', () => {
  test('of a true grey is none', () => {
    for (const L of [0, 20, 50, 80, 100]) {
      const found = undertone({ L, a: 0, b: 0 })!;
      expect(found.strength).toBe('none');
      expect(found.sentence).toBe('Reads as a true neutral, without an undertone.');
    }
  });

  test('names the hue by its plain word', () => {
    // Hue angles of CIELAB for the unique hues lie near 25, 90, 160 and 250 (common practice, no published source).
    const expected = {
      25: 'red',
      60: 'orange',
      90: 'yellow',
      150: 'green',
      200: 'blue-green',
      255: 'blue',
      310: 'violet',
      350: 'pink',
    };
    for (const [h, hue] of Object.entries(expected)) expect(at(50, 6, Number(h))!.hue).toBe(hue);
  });

  test('calls a light red pink', () => {
    expect(at(40, 6, 25)!.hue).toBe('red');
    expect(at(85, 6, 25)!.hue).toBe('pink');
  });

  test('of a colour is null: it has a hue, not an undertone', () => {
    expect(at(50, NEAR_NEUTRAL_CHROMA, 100)).not.toBeNull();
    expect(at(50, NEAR_NEUTRAL_CHROMA + 0.01, 100)).toBeNull();
    expect(undertone({ L: 45, a: -30, b: 20 })).toBeNull();
  });

  test('grows with chroma, and every hue has a word', () => {
    const order = ['none', 'slight', 'clear', 'strong'];
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 360, noNaN: true, maxExcluded: true }),
        fc.double({ min: 0, max: 11, noNaN: true }),
        (L, h, C) => {
          const paler = at(L, C, h)!;
          const stronger = at(L, C + 1, h)!;
          expect(order.indexOf(stronger.strength)).toBeGreaterThanOrEqual(order.indexOf(paler.strength));
          expect(stronger.sentence).toMatch(/^[A-Z].*\.$/);
          if (stronger.strength !== 'none') expect(stronger.sentence).toContain(stronger.hue);
          expect(stronger.chroma).toBeCloseTo(C + 1, 9);
        },
      ),
      RUNS,
    );
  });

  test('shows sooner for a little red or green than for as much yellow', () => {
    // CIEDE2000 stretches a* of near-neutrals by up to a half (Sharma, Wu and Dalal 2005, equations 4 and 5).
    expect(at(70, 2.6, 0)!.strength).toBe('clear');
    expect(at(70, 2.6, 90)!.strength).toBe('slight');
  });

  test('is refused for numbers that are not finite', () => {
    expect(() => undertone({ L: 50, a: NaN, b: 0 })).toThrow(RangeError);
    expect(() => undertone({ L: 50, a: Infinity, b: 0 })).toThrow(RangeError);
  });
});
