import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CRITERIA, rank } from '#lib/finish/index.ts';
import type { CandidateInput, ReflectanceCache } from '#lib/finish/index.ts';
import { candidate, kitchen } from './kitchen.ts';

// One cache for the file: what it holds depends on nothing but the colour.
const cache: ReflectanceCache = new Map();

const lab = fc.record({
  L: fc.integer({ min: 20, max: 92 }),
  a: fc.integer({ min: -20, max: 20 }),
  b: fc.integer({ min: -15, max: 30 }),
});

const candidates: fc.Arbitrary<CandidateInput[]> = fc
  .array(fc.record({ lab, amount: fc.integer({ min: 5, max: 90 }), days: fc.integer({ min: 0, max: 40 }) }), {
    minLength: 2,
    maxLength: 7,
  })
  .map((rows) =>
    rows.map(({ lab: place, amount, days }, i) =>
      candidate(`c${i}`, place, {
        price: { amount, currency: 'EUR', unit: 'l' },
        leadTimeDays: days,
        doubt: 2,
      }),
    ),
  );

const weights = fc.record(
  Object.fromEntries(CRITERIA.map((criterion) => [criterion, fc.integer({ min: 0, max: 5 })])) as Record<
    (typeof CRITERIA)[number],
    fc.Arbitrary<number>
  >,
);

const RUNS = { numRuns: 40 };
const ranked = (over: Parameters<typeof kitchen>[0]) => rank(kitchen({ draws: 60, ...over }), { cache });

describe('ranking', () => {
  test('gives the same answer byte for byte, with or without a cache', () => {
    fc.assert(
      fc.property(candidates, weights, (list, w) => {
        const first = JSON.stringify(ranked({ candidates: list, weights: w }));
        expect(JSON.stringify(ranked({ candidates: list, weights: w }))).toBe(first);
        expect(JSON.stringify(rank(kitchen({ draws: 60, candidates: list, weights: w })))).toBe(first);
      }),
      { numRuns: 15 },
    );
  });

  test('does not depend on the order of the candidates', () => {
    fc.assert(
      fc.property(
        candidates.chain((list) =>
          fc.tuple(fc.constant(list), fc.shuffledSubarray(list, { minLength: list.length })),
        ),
        weights,
        ([list, shuffled], w) => {
          expect(ranked({ candidates: shuffled, weights: w })).toEqual(
            ranked({ candidates: list, weights: w }),
          );
        },
      ),
      RUNS,
    );
  });

  test('keeps the others in order when a candidate joins that is last and never first', () => {
    fc.assert(
      fc.property(candidates, weights, (list, w) => {
        const hopeless = candidate(
          'zz',
          { L: 8, a: 30, b: -20 },
          { price: { amount: 9000, currency: 'EUR', unit: 'l' }, leadTimeDays: 999 },
        );
        const before = ranked({ candidates: list, weights: w });
        const after = ranked({ candidates: [...list, hopeless], weights: w });
        const last = after.shortlist.at(-1)!;
        fc.pre(last.id === 'zz' && last.firstShare === 0);
        expect(after.shortlist.map(({ id }) => id).filter((id) => id !== 'zz')).toEqual(
          before.shortlist.map(({ id }) => id),
        );
        for (const { id, desirability } of before.shortlist) {
          expect(after.shortlist.find((c) => c.id === id)!.desirability).toBe(desirability);
        }
      }),
      RUNS,
    );
  });

  test('never hurts the best in a criterion when its weight is raised', () => {
    fc.assert(
      fc.property(
        candidates,
        weights,
        fc.constantFrom(...CRITERIA.filter((c) => c !== 'lrv')),
        (list, w, criterion) => {
          const start = { ...w, [criterion]: Math.max(1, w[criterion]) };
          const before = ranked({ candidates: list, weights: start });
          const best = before.shortlist.reduce((a, b) =>
            b.criteria[criterion].desirability > a.criteria[criterion].desirability ? b : a,
          );
          const after = ranked({
            candidates: list,
            weights: { ...start, [criterion]: start[criterion] + 4 },
          });
          // Places inside a group go by the draws, so the promise is about desirability.
          const ahead = ({ shortlist }: typeof before) => {
            const own = shortlist.find(({ id }) => id === best.id)!.desirability;
            return shortlist.filter(({ desirability }) => desirability > own).length;
          };
          expect(ahead(after)).toBeLessThanOrEqual(ahead(before));
        },
      ),
      RUNS,
    );
  });

  test('shares out all first places, numbers the places and groups everyone once', () => {
    fc.assert(
      fc.property(candidates, weights, (list, w) => {
        const { shortlist, groups } = ranked({ candidates: list, weights: w });
        expect(shortlist.reduce((sum, { firstShare }) => sum + firstShare, 0)).toBeCloseTo(1, 9);
        expect(shortlist.map(({ place }) => place)).toEqual(list.map((_, i) => i + 1));
        expect(groups.flat()).toEqual(shortlist.map(({ id }) => id));
        shortlist.forEach(({ id, group }) => expect(groups[group]).toContain(id));
      }),
      RUNS,
    );
  });

  test('orders each group by the share of first places, ties by desirability', () => {
    fc.assert(
      fc.property(candidates, weights, (list, w) => {
        const { shortlist } = ranked({ candidates: list, weights: w });
        shortlist.slice(1).forEach((after, i) => {
          const before = shortlist[i];
          expect(after.group - before.group === 0 || after.group - before.group === 1).toBe(true);
          if (after.group !== before.group) return;
          expect(before.firstShare).toBeGreaterThanOrEqual(after.firstShare);
          if (before.firstShare === after.firstShare)
            expect(before.desirability).toBeGreaterThanOrEqual(after.desirability);
        });
      }),
      RUNS,
    );
  });

  test('keeps every number finite and every desirability in [0, 1]', () => {
    fc.assert(
      fc.property(candidates, weights, (list, w) => {
        for (const c of ranked({ candidates: list, weights: w }).shortlist) {
          expect(c.desirability).toBeGreaterThan(0);
          expect(c.desirability).toBeLessThanOrEqual(1);
          for (const { deltaE, lrvDifference, desirability } of c.pairings) {
            expect(Number.isFinite(deltaE) && Number.isFinite(lrvDifference)).toBe(true);
            expect(desirability).toBeGreaterThan(0);
            expect(desirability).toBeLessThanOrEqual(1);
          }
          for (const { ucsShift } of c.steadiness) expect(ucsShift).toBeGreaterThanOrEqual(0);
        }
      }),
      RUNS,
    );
  });
});
