import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  DARK_LRV,
  LEAST_UNLIKE,
  SCHEME_CRITERIA,
  SchemeSearch,
  choiceOf,
  choicesOf,
  overallDesirability,
  rank,
  schemeCard,
  schemeProblem,
  schemeScore,
} from '#lib/finish/index.ts';
import type { SchemeInput, SchemeProblem } from '#lib/finish/index.ts';
import { COUNTER, FLOOR, estimate, finish, kitchen } from './kitchen.ts';
import {
  ALL_WEIGHTS,
  NO_LIMITS,
  NO_ROOM_LIMITS,
  NO_WEIGHTS,
  cache,
  everyChoice,
  fixed,
  meetingsOf,
  option,
  place,
  room,
} from './scheme-kitchen.ts';

const ask = (input: SchemeInput) => schemeProblem(input, { cache });

/** Score of a choice as a search adds it up; -Infinity where it is not allowed. */
function tableScore({ problem }: SchemeProblem, choice: readonly number[]): number {
  const alone = problem.alone.reduce((sum, row, i) => sum + row[choice[i]], 0);
  return problem.pairs.reduce(
    (sum, { a, b, table }) => sum + table[choice[a] * problem.options[b] + choice[b]],
    alone,
  );
}

function withinLimits({ problem }: SchemeProblem, choice: readonly number[]): boolean {
  return (
    problem.amounts.every(
      ({ each, most }) => each.reduce((sum, row, i) => sum + row[choice[i]], 0) <= most + 1e-9,
    ) &&
    problem.distinct.every(
      ({ classOf, most }) =>
        new Set(classOf.map((row, i) => row[choice[i]]).filter((value) => value >= 0)).size <= most,
    )
  );
}

const lab = fc.tuple(
  fc.integer({ min: 25, max: 92 }),
  fc.integer({ min: -18, max: 18 }),
  fc.integer({ min: -12, max: 28 }),
);
const options = (prefix: string, most: number) =>
  fc
    .array(
      fc.record({
        lab,
        cost: fc.integer({ min: 20, max: 900 }),
        days: fc.integer({ min: 0, max: 40 }),
        busyness: fc.integer({ min: 0, max: 25 }),
      }),
      { minLength: 2, maxLength: most },
    )
    .map((rows) =>
      rows.map(({ lab: colour, cost, days, busyness }, i) =>
        option(`${prefix}${i}`, colour, { cost, leadTimeDays: days, busyness }),
      ),
    );

describe('a scheme of one open surface', () => {
  test('orders the candidates as the shortlist does', () => {
    fc.assert(
      fc.property(
        options('c', 7),
        fc.record({
          nearness: fc.integer({ min: 0, max: 5 }),
          pairing: fc.integer({ min: 0, max: 5 }),
          steadiness: fc.integer({ min: 0, max: 5 }),
          price: fc.integer({ min: 0, max: 5 }),
          time: fc.integer({ min: 0, max: 5 }),
        }),
        (list, weights) => {
          const target = estimate(62, -9, 11);
          const candidates = list.map((one) => ({
            ...one,
            price: { amount: one.cost! / 3, currency: 'EUR', unit: 'l' },
          }));
          const ranking = rank(kitchen({ candidates, target, weights: { ...weights, lrv: 0 }, draws: 1 }), {
            cache,
          });
          const there = { kind: 'stone', price: null, leadTimeDays: 9, busyness: 3, cost: 700 } as const;
          const places = [
            place('cabinets', candidates, { target }),
            // What is settled may have targets, costs and more: it must not change the order.
            fixed('counter', [{ ...COUNTER, ...there }], { target: estimate(80, 0, 0), area: 40 }),
            fixed('floor', [{ ...FLOOR, ...there }]),
          ];
          const asked = ask({
            ...room({ places }),
            meetings: [
              { a: 'cabinets', b: 'counter', contact: 1, mustBeSeen: false },
              { a: 'floor', b: 'cabinets', contact: 0.8, mustBeSeen: false },
              { a: 'counter', b: 'floor', contact: 0.4, mustBeSeen: false },
            ],
            weights: { ...NO_WEIGHTS, ...weights },
          });
          const score = (id: string) => {
            const choices = { cabinets: id, counter: 'counter', floor: 'floor' };
            return tableScore(asked, choiceOf(asked, choices)!);
          };
          for (const p of ranking.shortlist)
            for (const q of ranking.shortlist)
              if (p.desirability > q.desirability + 1e-9) expect(score(p.id)).toBeGreaterThan(score(q.id));
        },
      ),
      { numRuns: 60 },
    );
  });
});

describe('the score of a scheme', () => {
  test('is the ln of the weighted geometric mean of all that counts', () => {
    fc.assert(
      fc.property(options('c', 4), options('w', 4), (cabinets, walls) => {
        const base = room();
        const places = base.places.map((one) =>
          one.surfaceId === 'cabinets'
            ? { ...one, options: cabinets }
            : one.surfaceId === 'walls'
              ? { ...one, options: walls }
              : one,
        );
        const asked = ask({ ...base, places });
        expect(asked.terms.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 9);
        for (const choice of everyChoice(asked.problem.options).slice(0, 12)) {
          const mean = overallDesirability(
            asked.terms.map(({ a, b, logs, weight }) => ({
              desirability: Math.exp(
                logs[b < 0 ? choice[a] : choice[a] * asked.problem.options[b] + choice[b]],
              ),
              weight,
            })),
          )!;
          expect(schemeCard(asked, choice).desirability).toBeCloseTo(mean, 9);
          expect(schemeScore(asked.terms, asked.places, choice)).toBeCloseTo(Math.log(mean), 9);
          const held = asked.places.some((one, i) => one.held >= 0 && one.held !== choice[i]);
          expect(tableScore(asked, choice)).toBeCloseTo(held ? -Infinity : Math.log(mean), 9);
        }
      }),
      { numRuns: 15 },
    );
  });

  test('does not depend on the order of places, options or meetings', () => {
    const base = room();
    const asked = ask(base);
    const turned = ask({
      ...base,
      places: base.places.toReversed().map((one) => ({ ...one, options: one.options.toReversed() })),
      meetings: base.meetings.toReversed().map(({ a, b, ...rest }) => ({ a: b, b: a, ...rest })),
    });
    for (const choice of everyChoice(asked.problem.options)) {
      const choices = choicesOf(asked, choice);
      const other = choiceOf(turned, choices)!;
      expect(schemeScore(turned.terms, turned.places, other)).toBeCloseTo(
        schemeScore(asked.terms, asked.places, choice),
        12,
      );
    }
  });

  test('does not change when an open surface is locked to what it has', () => {
    const base = room();
    const locked = ask({
      ...base,
      places: base.places.map((one) => (one.surfaceId === 'walls' ? { ...one, held: 'lime' } : one)),
    });
    const asked = ask(base);
    for (const choice of everyChoice(asked.problem.options).filter((c) => c[1] === 1))
      expect(schemeScore(locked.terms, locked.places, choice)).toBe(
        schemeScore(asked.terms, asked.places, choice),
      );
  });

  test('counts a freed surface like an open one', () => {
    const base = room();
    const with_ = (over: Partial<SchemeInput['places'][number]>) =>
      ask({
        ...base,
        places: base.places.map((one) => (one.surfaceId === 'walls' ? { ...one, ...over } : one)),
      }).terms.map(({ weight }) => weight);
    const open = with_({});
    expect(with_({ state: 'fixed', current: 'chalk' })).toEqual(open);
    expect(with_({ state: 'fixed', current: 'chalk', held: 'chalk' })).not.toEqual(open);
  });

  test('takes what is not known as usual, so that silence neither helps nor hurts', () => {
    const known = (leadTimeDays: number | null, cost: number | null, busyness: number | null) => {
      const colours = [
        [2, 100],
        [9, 130],
        [30, 160],
      ] as const;
      const walls = [
        ...colours.map(([days, money], i) =>
          option(`k${i}`, [80, 0, 5], { leadTimeDays: days, cost: money, busyness: 4 }),
        ),
        option('x', [80, 0, 5], { leadTimeDays, cost, busyness }),
      ];
      const asked = ask(room({ places: [place('walls', walls), room().places[3]] }));
      return schemeScore(asked.terms, asked.places, [3, 0]);
    };
    expect(known(null, null, null)).toBeCloseTo(known(9, 130, 4), 12);
    expect(known(null, null, null)).toBeLessThan(known(2, 100, 4));
    expect(known(null, null, null)).toBeGreaterThan(known(30, 160, 4));
  });

  test('puts what is there before all that is bought, and the cheapest of that before the dear', () => {
    const logs = (there: string | null, unknown = false) => {
      const counters = [
        option('old', [80, 0, 5], { cost: 500 }),
        option('cheap', [80, 0, 5], { cost: 100 }),
        option('dear', [80, 0, 5], { cost: unknown ? null : 200 }),
      ];
      const asked = ask(
        room({ places: [place('counter', counters, { there }), place('walls', [option('a', [90, 0, 2])])] }),
      );
      return [...asked.terms.find(({ criterion, a }) => criterion === 'price' && a === 0)!.logs].map(
        Math.exp,
      );
    };
    // By the rule: 1 there; else half of the cheapest to buy over the price.
    logs('old').forEach((value, i) => expect(value).toBeCloseTo([1, 0.5, 0.25][i], 12));
    logs(null).forEach((value, i) => expect(value).toBeCloseTo([0.2, 1, 0.5][i], 12));
    // A price that is not known stands in for one to buy.
    logs('old', true).forEach((value, i) => expect(value).toBeCloseTo([1, 0.5, 0.5][i], 12));
  });

  test('leaves out what cannot count, and says so', () => {
    const places = [place('walls', [option('a', [90, 0, 2]), option('b', [80, 0, 2])])];
    const bare = places.map((one) => ({
      ...one,
      options: one.options.map((o) => ({ ...o, price: null, cost: null, leadTimeDays: null })),
    }));
    const { terms, leftOut, counts } = ask({
      ...room({ places: bare }),
      lights: [],
      weights: { ...ALL_WEIGHTS, edges: 0 },
    });
    expect(terms).toEqual([]);
    expect(counts).toBe(false);
    expect(leftOut.map(({ criterion }) => criterion)).toEqual([...SCHEME_CRITERIA]);
    expect(leftOut.find(({ criterion }) => criterion === 'edges')!.reason).toBe('Its weight is 0.');
    for (const { reason } of leftOut) expect(reason).toMatch(/^[A-Z].*\.$/);
  });

  test('says that nothing counts where every weight is 0', () => {
    const asked = ask(room({ weights: NO_WEIGHTS }));
    expect(asked.counts).toBe(false);
    expect(asked.leftOut.map(({ criterion }) => criterion)).toEqual([...SCHEME_CRITERIA]);
    expect(new Set(asked.leftOut.map(({ reason }) => reason))).toEqual(new Set(['Its weight is 0.']));
    expect(schemeCard(asked, [0, 0, 0, 0, 0])).toMatchObject({ desirability: 1, criteria: [] });
    expect(ask(room({ weights: { ...NO_WEIGHTS, time: 0.1 } })).counts).toBe(true);
  });
});

describe('a search over a scheme', () => {
  test('finds the best of all within the limits', () => {
    const limits = fc.record({
      budget: fc.option(fc.integer({ min: 200, max: 900 })),
      readyInDays: fc.option(fc.integer({ min: 5, max: 30 })),
      metals: fc.option(fc.integer({ min: 0, max: 2 })),
      darkShare: fc.option(fc.double({ min: 0, max: 0.5, noNaN: true })),
      strongShare: fc.option(fc.double({ min: 0, max: 0.5, noNaN: true })),
    });
    fc.assert(
      fc.property(options('c', 4), options('w', 4), limits, (cabinets, walls, asked_) => {
        const base = room();
        const pulls = place('hardware', [
          option('brass', [71, 5, 31], { kind: 'metal', cost: 90 }),
          option('iron', [25, 0, 1], { kind: 'metal', cost: 70 }),
          option('knob', [40, 8, 20], { kind: 'wood', cost: 60 }),
        ]);
        const sink = fixed('sink', [option('steel', [70, 0, 0], { kind: 'metal' })]);
        const places = [place('cabinets', cabinets), place('walls', walls), pulls, sink, base.places[3]];
        const asked = ask({ ...base, places, meetings: meetingsOf(places), limits: asked_ });
        const all = everyChoice(asked.problem.options).filter(
          (choice) => tableScore(asked, choice) > -Infinity && withinLimits(asked, choice),
        );
        const search = new SchemeSearch(asked.problem, { best: 1, different: 0 });
        while (!search.step(100).done);
        const [found] = search.result().best;
        const best = Math.max(...all.map((choice) => tableScore(asked, choice)));
        if (all.length === 0) expect(found).toBeUndefined();
        else {
          expect(found.score).toBeCloseTo(best, 6);
          // What the search allows, the card finds no broken limit in.
          const card = schemeCard(asked, found.choice);
          expect(card.findings.filter(({ about }) => about.criterion === 'limits')).toEqual([]);
          expect(card.choices.counter).toBe('granite');
          expect(card.choices.sink).toBe('steel');
        }
      }),
      { numRuns: 40 },
    );
  });

  test('excludes an option beyond a limit of its surface and says why', () => {
    const base = room();
    const { excluded, problem } = ask({
      ...base,
      places: base.places.map((one) =>
        one.surfaceId === 'walls' ? { ...one, limits: { ...NO_LIMITS, minLrv: 75 } } : one,
      ),
    });
    expect(excluded).toHaveLength(1);
    expect(excluded[0]).toMatchObject({ surfaceId: 'walls', id: 'lime' });
    expect(excluded[0].reason).toMatch(/^Too dark: LRV 68 where at least 75 is asked/);
    expect(problem.alone[1][1]).toBe(-Infinity);
  });

  test('does not exclude what is held, but finds that it breaks a limit', () => {
    const base = room({ limits: { ...NO_ROOM_LIMITS, readyInDays: 10 } });
    const asked = ask({
      ...base,
      places: base.places.map((one) =>
        one.surfaceId === 'backsplash' ? { ...one, state: 'chosen', held: 'ring', current: 'ring' } : one,
      ),
    });
    expect(asked.problem.alone[2][0]).toBeGreaterThan(-Infinity);
    const card = schemeCard(asked, choiceOf(asked, { ...KITCHEN, backsplash: 'ring' })!);
    expect(card.findings[0].severity).toBe('fault');
    expect(
      card.findings.filter(({ about }) => about.criterion === 'limits').map(({ sentence }) => sentence),
    ).toEqual([
      'Ring on “Backsplash”: too late: 21 days to deliver where 10 days are left, 11 days too many.',
    ]);
  });

  test('gives different schemes that look different', () => {
    const asked = ask(room());
    const search = new SchemeSearch(asked.problem, { best: 20, different: 3 });
    while (!search.step(100).done);
    const { different } = search.result();
    expect(different.length).toBeGreaterThan(1);
    const { pairs, weights, least } = asked.problem.unlike!;
    expect(least).toBe(LEAST_UNLIKE);
    const apart = (p: readonly number[], q: readonly number[]) =>
      pairs.reduce((sum, square, i) => sum + weights[i] * square[p[i] * asked.problem.options[i] + q[i]], 0);
    different.forEach(({ choice }, i) =>
      different
        .slice(i + 1)
        .forEach((other) => expect(apart(choice, other.choice)).toBeGreaterThanOrEqual(least - 1e-9)),
    );
  });

  test('calls a colour dark by its LRV', () => {
    // CIE 15: L* = 116 (Y/100)^(1/3) − 16, so Y = 15 lies at L* 45.63.
    const share = (L: number) => {
      const places = [place('walls', [option('a', [L, 0, 0])])];
      return ask(room({ places, limits: { ...NO_ROOM_LIMITS, darkShare: 0.5 } })).problem.amounts[0]
        .each[0][0];
    };
    expect(DARK_LRV).toBe(15);
    expect([share(45.6), share(45.7)]).toEqual([1, 0]);
  });

  test('refuses what makes no question', () => {
    const base = room();
    const with_ = (over: object) => () =>
      ask({ ...base, places: [{ ...base.places[0], ...over }, ...base.places.slice(1)] });
    expect(with_({ options: [] })).toThrow('Expected at least one option for cabinets');
    expect(with_({ area: 0 })).toThrow('Expected an area above 0 for cabinets, got 0');
    expect(with_({ held: 'gone' })).toThrow('Expected an option of cabinets, got gone');
    expect(with_({ surfaceId: 'walls' })).toThrow('Expected every place once, got walls twice');
    expect(() => ask({ ...base, weights: { ...ALL_WEIGHTS, time: -1 } })).toThrow('weights.time');
    expect(() =>
      ask({ ...base, meetings: [{ a: 'walls', b: 'roof', contact: 1, mustBeSeen: false }] }),
    ).toThrow('Expected meetings of two different places');
  });
});

const KITCHEN = { cabinets: 'reed', walls: 'chalk', backsplash: 'plain', counter: 'granite', floor: 'oak' };

test('a finish with several colours keeps them by area', () => {
  const slab = {
    ...option('slab', [0, 0, 0]),
    ...finish('slab', [
      [80, 0, 2, 0.7],
      [30, 0, 0, 0.3],
    ]),
  };
  const asked = ask(
    room({ places: [place('counter', [slab])], limits: { ...NO_ROOM_LIMITS, darkShare: 1 } }),
  );
  expect(asked.problem.amounts[0].each[0][0]).toBeCloseTo(0.3, 9);
});
