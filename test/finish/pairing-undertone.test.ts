import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish } from '#lib/finish/appearance.ts';
import { PAIRING_RULE, PAIRING_RULES, UNDERTONE_PAIRING, undertoneScore } from '#lib/finish/index.ts';
import { leaningOf, leaningWords, undertoneRelation } from '#lib/finish/undertone-pairing.ts';
import { finish } from './kitchen.ts';

const { hue, soft, lightness, worst, spoken } = UNDERTONE_PAIRING;

type Colours = readonly (readonly [number, number, number, number?])[];
const score = (first: Colours, second: Colours) =>
  undertoneScore(prepareFinish(finish('a', first), []), prepareFinish(finish('b', second), []));
const relation = (first: Lab, second: Lab) => undertoneRelation(leaningOf(first), leaningOf(second));

/** A near-neutral of this hue, a* stretched as the rule counts it, with C* of 7 or so. */
function leaningTo(degrees: number, { L = 78, C = 9 } = {}): [number, number, number] {
  const angle = (degrees * Math.PI) / 180;
  return [L, (C * Math.cos(angle)) / 1.5, C * Math.sin(angle)];
}

describe('undertones', () => {
  test('agree up to one named border and clash from the other on', () => {
    for (const from of [0, 45, 100, 200, 350]) {
      for (const sign of [1, -1]) {
        const at = (apart: number) => score([leaningTo(from)], [leaningTo(from + sign * apart)]);
        expect(at(0)).toBe(1);
        expect(at(hue.agree - 0.1)).toBe(1);
        expect(at(hue.agree + 0.1)).toBeLessThan(1);
        expect(at(hue.clash - 0.1)).toBeGreaterThan(worst);
        expect(at(hue.clash + 0.1)).toBeCloseTo(worst, 12);
        expect(at(180)).toBeCloseTo(worst, 12);
      }
    }
  });

  test('are spoken of as a clash from half way, as the rule says', () => {
    const said = (hue.agree + hue.clash) / 2;
    const between = (apart: number) => {
      const [first, second] = [leaningTo(20), leaningTo(20 + apart)].map(([L, a, b]) => ({ L, a, b }));
      return relation(first, second);
    };
    expect([hue.agree, said, hue.clash]).toEqual([40, 60, 80]);
    expect([between(said - 0.1), between(said + 0.1)]).toEqual(['agree', 'clash']);
    const { band } = PAIRING_RULES.find(({ rule }) => rule === PAIRING_RULE.undertone)!;
    expect(band).toContain(
      'up to 40 degrees of hue apart cost nothing; they are spoken of as a clash from 60 degrees (half way), and count as one in full from 80',
    );
  });

  test('of a pinkish beige and a yellow-green one clash; of two yellow beiges they agree', () => {
    const pinkish: Lab = { L: 80, a: 7, b: 5 };
    const greenish: Lab = { L: 79, a: -2.5, b: 9.5 };
    expect(relation(pinkish, greenish)).toBe('clash');
    expect([leaningWords(pinkish), leaningWords(greenish)]).toEqual(['pink', 'yellow-green']);
    expect(relation({ L: 80, a: 1, b: 10 }, { L: 72, a: 2, b: 11 })).toBe('agree');
  });

  test('of true neutrals are none to speak of, whatever their hue', () => {
    expect(score([[80, 0.3, 0.2]], [[78, -4, 8]])).toBe(1);
    expect(relation({ L: 80, a: 0.3, b: 0.2 }, { L: 78, a: -4, b: 8 })).toBe('near neutral');
    expect(score([[80, 0, 0]], [[80, 0, 0]])).toBe(1);
  });

  test('do not make strong colours clash', () => {
    const red: Lab = { L: 45, a: soft.none + 1, b: 10 };
    expect(score([[red.L, red.a, red.b]], [[50, -6, 9]])).toBe(1);
    expect(relation(red, { L: 50, a: -6, b: 9 })).toBe('strong');
    // In between it fades, and never turns round.
    const at = (C: number) => score([[60, C * 0.8, C * 0.6]], [[60, -5, 8]]);
    expect(at(soft.full)).toBeCloseTo(worst, 12);
    for (let C = soft.full; C < soft.none; C++) expect(at(C + 1)).toBeGreaterThan(at(C));
  });

  test('are compared where lightness is alike, and no longer where one is far darker', () => {
    const at = (apart: number) => score([leaningTo(20, { L: 90 })], [leaningTo(110, { L: 90 - apart })]);
    expect(at(lightness.compared)).toBeCloseTo(worst, 12);
    expect(at((lightness.compared + lightness.apart) / 2)).toBeCloseTo(1 - (1 - worst) / 2, 9);
    expect(at(lightness.apart)).toBe(1);
  });

  test('of several colours count by area', () => {
    const clashing = leaningTo(110);
    const agreeing = leaningTo(20);
    const at = (share: number) =>
      score(
        [leaningTo(20)],
        [
          [...clashing, share],
          [...agreeing, 1 - share],
        ],
      );
    expect(at(0.25)).toBeCloseTo(worst ** 0.25, 12);
    expect(at(1)).toBeCloseTo(worst, 12);
  });

  test('score the same either way round, between the worst and 1', () => {
    const colour = fc.tuple(
      fc.double({ min: 10, max: 97, noNaN: true }),
      fc.double({ min: -25, max: 25, noNaN: true }),
      fc.double({ min: -25, max: 25, noNaN: true }),
    );
    fc.assert(
      fc.property(colour, colour, (p, q) => {
        const there = score([p], [q]);
        expect(there).toBeGreaterThanOrEqual(worst - 1e-12);
        expect(there).toBeLessThanOrEqual(1);
        expect(score([q], [p])).toBeCloseTo(there, 12);
      }),
      { numRuns: 60 },
    );
  });

  test('are spoken of by CIEDE2000 from grey, which the short form gives within 4 % for near-neutrals', () => {
    const width = spoken.full - spoken.none;
    for (const [a, b] of [
      [2, 0],
      [0, 2],
      [-1.5, 1.5],
      [1, -2],
      [0.8, 2.2],
    ]) {
      const exact = deltaE2000({ L: 70, a: 0, b: 0 }, { L: 70, a, b });
      expect(leaningOf({ L: 70, a, b }).spoken * width + spoken.none).toBeCloseTo(
        exact,
        0.04 * exact > 0.05 ? 1 : 2,
      );
    }
  });
});

describe('the word for an undertone', () => {
  test('is the same for a soft colour as for a near-neutral of its hue', () => {
    for (let h = 0; h < 360; h += 15) {
      const at = (C: number): Lab => ({
        L: 75,
        a: C * Math.cos((h * Math.PI) / 180),
        b: C * Math.sin((h * Math.PI) / 180),
      });
      expect(leaningWords(at(20))).toBe(leaningWords(at(8)));
    }
  });
});
