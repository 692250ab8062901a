import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from '#lib/finish/appearance.ts';
import {
  PAIRING_BANDS,
  PAIRING_CURVE,
  WHITES,
  WHITE_BANDS,
  WHITE_CURVE,
  lightReport,
  pairScore,
  pairingDesirability,
  pairingKind,
  pairingWords,
  pairings,
  passesForMatch,
  rank,
  twoWhites,
  whiteness,
} from '#lib/finish/index.ts';
import { judge } from '#lib/finish/pairing.ts';
import { COUNTER, FLOOR, LAMPS, WINDOW, candidate, finish, kitchen, light, metamers } from './kitchen.ts';

const plain = (id: string, { L, a, b }: Lab) => prepareFinish(finish(id, [[L, a, b]]), []);

/** The colour that lies this far from another, CIEDE2000, towards a direction of CIELAB. */
function away(from: Lab, to: readonly [number, number, number], deltaE: number): Lab {
  const at = (s: number): Lab => ({ L: from.L + s * to[0], a: from.a + s * to[1], b: from.b + s * to[2] });
  let [low, high] = [0, 40];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (deltaE2000(from, at(middle)) < deltaE) low = middle;
    else high = middle;
  }
  return at(low);
}

describe('what counts as a white', () => {
  // Centroids of the ISCC-NBS names, as in src/lib/colour/data/iscc-nbs.ts (Kelly 1958, RP 2911).
  test.each([
    ['White', 92.613, -0.015, 0.378],
    ['Yellowish white', 92.121, -0.812, 8.82],
    ['Pinkish white', 92.124, 2.452, 1.845],
    ['Greenish white', 92.127, -4.502, 1.401],
    ['Bluish white', 91.155, -1.789, -2.519],
    ['Purplish white', 91.153, 2.075, -1.056],
  ])('%s of ISCC-NBS does', (_, L, a, b) => {
    expect(whiteness({ L, a, b })).toBeGreaterThan(0.75);
  });

  test.each([
    ['Light gray', 75.705, -0.006, 0.451],
    ['Pinkish gray', 75.702, 3.381, 2.333],
    ['Yellowish gray', 75.7, -0.659, 9.934],
    ['Pale yellow', 89.198, -2.074, 27.574],
  ])('%s of ISCC-NBS does not', (_, L, a, b) => {
    expect(whiteness({ L, a, b })).toBe(0);
  });

  test('begins and ends at its named borders', () => {
    const { lightness, chroma } = WHITES;
    expect(whiteness({ L: lightness.none, a: 0, b: 0 })).toBe(0);
    expect(whiteness({ L: lightness.full, a: 0, b: 0 })).toBe(1);
    expect(whiteness({ L: 95, a: chroma.full, b: 0 })).toBe(1);
    expect(whiteness({ L: 95, a: 0, b: -chroma.none })).toBe(0);
    expect(whiteness({ L: (lightness.none + lightness.full) / 2, a: 0, b: 0 })).toBeCloseTo(0.5, 12);
  });

  test('is a plain colour: of a finish of several only its ground', () => {
    const wall = { lab: { L: 92, a: 0, b: 4 }, share: 1 };
    const ground = (share: number) => ({ lab: { L: 94, a: 0, b: 2 }, share });
    expect(twoWhites(wall, ground(WHITES.plainShare))).toBe(1);
    expect(twoWhites(wall, ground(WHITES.plainShare - 0.01))).toBe(0);
    expect(twoWhites(wall, { lab: { L: 60, a: 0, b: 2 }, share: 1 })).toBe(0);
  });
});

describe('two whites', () => {
  test('change their kind at borders of their own', () => {
    expect(pairingKind(WHITE_BANDS.match - 0.01, 1)).toBe('match');
    expect(pairingKind(WHITE_BANDS.match, 1)).toBe('near miss');
    expect(pairingKind(WHITE_BANDS['near miss'] - 0.01, 1)).toBe('near miss');
    expect(pairingKind(WHITE_BANDS['near miss'], 1)).toBe('related');
    expect(pairingKind(WHITE_BANDS.related, 1)).toBe('separate');
    expect(pairingKind(PAIRING_BANDS.match - 0.01, 0)).toBe('match');
  });

  test('must match or be plainly apart: between, nothing is worse', () => {
    const at = (deltaE: number) => pairingDesirability(deltaE, 1);
    expect(at(0)).toBe(1);
    expect(at(WHITE_BANDS.match)).toBe(1);
    expect(at(passesForMatch(1))).toBe(WHITE_CURVE.worst);
    expect(at(WHITE_CURVE.apartNone)).toBe(WHITE_CURVE.worst);
    expect(at(WHITE_CURVE.apartFull)).toBe(1);
    expect(WHITE_CURVE.worst).toBeLessThan(PAIRING_CURVE.worst);
  });

  test('are never better than other colours up to the bottom of the trough', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: PAIRING_CURVE.apartNone, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (deltaE, whites) => {
          expect(pairingDesirability(deltaE, whites)).toBeLessThanOrEqual(
            pairingDesirability(deltaE) + 1e-12,
          );
        },
      ),
    );
  });

  // The eye is adapted to white: what is 2.5 apart among greens is seen as two greens, among whites as one white and dirt.
  test.each([
    ['lighter', [1, 0, 0]],
    ['yellower', [0, 0, 1]],
    ['pinker', [0, 1, 0.3]],
  ] as const)('2.5 apart, one %s, are worse than two greens 2.5 apart', (_, direction) => {
    const pair = (from: Lab) => [plain('one', from), plain('other', away(from, direction, 2.5))] as const;
    const whites = judge(...pair({ L: 90, a: 0, b: 3 }), -1);
    const greens = judge(...pair({ L: 60, a: -10, b: 12 }), -1);
    expect([whites.deltaE, greens.deltaE]).toEqual([expect.closeTo(2.5, 6), expect.closeTo(2.5, 6)]);
    expect([whites.kind, greens.kind]).toEqual(['near miss', 'near miss']);
    expect(whites.desirability).toBeLessThan(0.6 * greens.desirability);
  });

  test('ten units of lightness apart, or clean white beside cream, are plainly meant', () => {
    const apart = (first: Lab, second: Lab) => judge(plain('a', first), plain('b', second), -1);
    expect(apart({ L: 88, a: 0, b: 2 }, { L: 98, a: 0, b: 2 })).toMatchObject({
      kind: 'related',
      desirability: 1,
    });
    expect(apart({ L: 96, a: 0, b: 1 }, { L: 90, a: 0, b: 8 }).desirability).toBe(1);
  });

  test('become whites without a jump: a tenth of a unit never moves a desirability by more than 0.12', () => {
    const near = fc.record({
      L: fc.double({ min: 82, max: 90, noNaN: true }),
      a: fc.double({ min: -12, max: 12, noNaN: true }),
      b: fc.double({ min: -12, max: 12, noNaN: true }),
    });
    fc.assert(
      fc.property(near, near, fc.constantFrom('L', 'a', 'b'), (first, second, axis) => {
        const score = (lab: Lab) =>
          pairingDesirability(deltaE2000(first, lab), twoWhites({ lab: first, share: 1 }, { lab, share: 1 }));
        expect(Math.abs(score({ ...second, [axis]: second[axis] + 0.1 }) - score(second))).toBeLessThan(0.12);
      }),
    );
  });

  test('that nearly match are told in a sentence of their own', () => {
    const [there] = pairings(
      { finish: finish('wall', [[92, 0, 4]]), surfaceName: 'Walls' },
      finish('trim', [[94, 0, 2]]),
      {
        lights: [WINDOW],
      },
    );
    expect(there).toMatchObject({ kind: 'near miss', whites: true });
    expect(pairingWords(there)).toBe(
      'Nearly the white of “Walls” under “window”: beside the whiter one the other looks dirty or yellowed, as if by mistake',
    );
  });
});

describe('the rule is one', () => {
  const lights = [WINDOW, LAMPS];
  const wall = finish('wall', [[92, 0, 4]]);
  // 1.7 from the wall: among other colours that passes for a match.
  const near = away({ L: 92, a: 0, b: 4 }, [0, 0, 1], 1.7);
  const trim = candidate('trim', near);

  test('for the shortlist, which values a pairing as the score of the pair does', () => {
    const prepared = lights.map(prepareLight);
    const candidates = [
      trim,
      candidate('reed', { L: 61, a: -9.5, b: 12 }),
      candidate('milk', { L: 86, a: 0, b: 3 }),
    ];
    for (const fixed of [wall, COUNTER, FLOOR]) {
      const { shortlist } = rank(
        kitchen({ candidates, lights, fixed: [{ finish: fixed, surfaceName: 'there', contact: 1 }] }),
      );
      for (const { id, criteria } of shortlist) {
        const tried = candidates.find((one) => one.id === id)!;
        const score = pairScore(prepareFinish(fixed, prepared), prepareFinish(tried, prepared));
        expect(criteria.pairing.value).toBeCloseTo(score, 12);
      }
    }
  });

  test('for the report on lights, which does not call such whites matching', () => {
    const [pair] = lightReport({
      finishes: [
        { ...wall, surfaceName: 'walls', role: 'fixed' },
        { ...trim, surfaceName: 'trim', role: 'fixed' },
      ],
      lights,
    }).pairs;
    expect(pair.whites).toBe(1);
    expect(pair.day.kind).toBe('near miss');
    expect(pair.sentence).toMatch(/near miss/);
    const greens = lightReport({
      finishes: [
        { ...finish('reed', [[61, -9.5, 12]]), role: 'fixed' },
        {
          ...finish('rush', [
            Object.values(away({ L: 61, a: -9.5, b: 12 }, [0, 0, 1], 1.7)) as [number, number, number],
          ]),
          role: 'fixed',
        },
      ],
      lights,
    }).pairs[0];
    expect(greens.whites).toBe(0);
    expect(greens.sentence).toMatch(/nearly match/);
  });
});

describe('the score of a pair', () => {
  const lights = [light('day', 'D65'), light('tubes', 'FL11')].map(prepareLight);

  test('is that of its worst light', () => {
    const { bumpy, smooth } = metamers();
    const [first, second] = [prepareFinish(bumpy, lights), prepareFinish(smooth, lights)];
    const each = lights.map((_, l) => judge(first, second, l).desirability);
    expect(each[1]).toBeLessThan(each[0] - 0.2);
    expect(pairScore(first, second)).toBeCloseTo(each[1], 12);
  });

  test('is what judging gives, and the same either way round', () => {
    const colour = fc.tuple(
      fc.double({ min: 20, max: 97, noNaN: true }),
      fc.double({ min: -20, max: 20, noNaN: true }),
      fc.double({ min: -20, max: 30, noNaN: true }),
      fc.double({ min: 0.05, max: 1, noNaN: true }),
    );
    const some = fc.array(colour, { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(some, some, (p, q) => {
        const first = prepareFinish(finish('p', p), lights);
        const second = prepareFinish(finish('q', q), lights);
        const score = pairScore(first, second);
        const judged = Math.min(...lights.map((_, l) => judge(first, second, l).desirability));
        expect(score).toBeCloseTo(judged, 9);
        expect(pairScore(second, first)).toBeCloseTo(score, 9);
        expect(score).toBeGreaterThanOrEqual(WHITE_CURVE.worst);
        expect(score).toBeLessThanOrEqual(1);
      }),
      { numRuns: 60 },
    );
  });

  test('is judged by day where there are no lights', () => {
    const [first, second] = [plain('a', { L: 60, a: 0, b: 0 }), plain('b', { L: 63, a: 0, b: 0 })];
    expect(pairScore(first, second)).toBeCloseTo(judge(first, second, -1).desirability, 12);
    expect(pairScore(first, second)).toBeLessThan(0.2);
  });
});
