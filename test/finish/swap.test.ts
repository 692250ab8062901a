import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { WHOLE_TOLERANCE, rankOn, schemeCard, schemeProblem, swapReport } from '#lib/finish/index.ts';
import type { SchemeInput, SchemeOption, SwapReport } from '#lib/finish/index.ts';
import { stillToBuy } from '#lib/finish/swap.ts';
import { estimate } from './kitchen.ts';
import {
  NO_ROOM_LIMITS,
  NO_WEIGHTS,
  cache,
  everyChoice,
  fixed,
  option,
  place,
  room,
} from './scheme-kitchen.ts';

/** The room with something on every surface. */
function decided(current: Record<string, string>, over: Partial<SchemeInput> = {}): SchemeInput {
  const base = room(over);
  return {
    ...base,
    places: base.places.map((one) => ({ ...one, current: current[one.surfaceId] ?? one.current })),
  };
}

const NOW = { cabinets: 'reed', walls: 'chalk', backsplash: 'ring' };

describe('a swap', () => {
  test('of a finish by itself changes nothing', () => {
    for (const surfaceId of ['cabinets', 'walls', 'backsplash', 'counter', 'floor']) {
      const input = decided(NOW);
      const to = input.places.find((one) => one.surfaceId === surfaceId)!.current!;
      const report = swapReport(input, { surfaceId, to }, { cache });
      expect(report.broken).toEqual([]);
      expect(report.better).toEqual([]);
      expect(report.cost.change ?? 0).toBe(0);
      expect(report.days.change ?? 0).toBe(0);
      expect(report.repair).toMatchObject({ whole: true, changes: [], proven: true });
      expect(report.after).toEqual(report.before);
    }
  });

  test('to a busy slab beside a busy tile asks for the plain tile', () => {
    const report = swapReport(decided(NOW), { surfaceId: 'counter', to: 'fleck' }, { cache });
    const compete = report.broken.find(({ about }) => about.criterion === 'pattern')!;
    expect(compete.severity).toBe('fault');
    expect(compete.sentence).toMatch(/“Backsplash” and “Counter” are both busy and compete/);
    expect(compete.number).toBe('busyness 22.0 and 19.0');
    expect(compete.about.surfaces).toEqual(['backsplash', 'counter']);
    expect(report.repair.changes).toContainEqual({
      surfaceId: 'backsplash',
      surfaceName: 'Backsplash',
      from: 'ring',
      fromName: 'ring',
      to: 'plain',
      toName: 'plain',
    });
    expect(report.repair.newFaults.filter(({ about }) => about.criterion === 'pattern')).toEqual([]);
  });

  test('says by how much cost and date move', () => {
    const report = swapReport(decided(NOW), { surfaceId: 'counter', to: 'fleck' }, { cache });
    // 1900 and 40 days for the granite, 1500 and 10 days for the other; the tile then comes last, in 21 days.
    expect(report.cost).toMatchObject({ before: 1900, after: 1500, change: -400 });
    expect(report.cost.statement.sentence).toBe('400 EUR less.');
    expect(report.days).toMatchObject({ before: 40, after: 21, change: -19 });
    expect(report.days.statement.sentence).toBe('The last finish is here 19 days sooner.');
  });

  test('back to what is there takes off what was chosen, and leaves the budget as it is', () => {
    const base = decided(NOW, { limits: { ...NO_ROOM_LIMITS, budget: 4000 } });
    const input = {
      ...base,
      places: base.places.map((one) =>
        one.surfaceId === 'counter'
          ? { ...one, state: 'chosen' as const, held: 'fleck', current: 'fleck', there: 'granite' }
          : one,
      ),
    };
    const report = swapReport(input, { surfaceId: 'counter', to: 'granite' }, { cache });
    expect(report.cost).toMatchObject({ before: 1500, after: 0, change: -1500 });
    expect(stillToBuy(input, 'counter').limits.budget).toBe(4000);
    // What is there and gives way: the budget was for the rest.
    const fixedCounter = decided(NOW, { limits: { ...NO_ROOM_LIMITS, budget: 4000 } });
    expect(stillToBuy(fixedCounter, 'counter').limits.budget).toBe(5900);
  });

  test('does not guess a cost or a date it does not know', () => {
    const base = decided(NOW);
    const input = {
      ...base,
      places: base.places.map((one) =>
        one.surfaceId === 'floor'
          ? { ...one, options: [...one.options, option('ash', [70, 4, 18], { kind: 'wood' })] }
          : one,
      ),
    };
    const report = swapReport(input, { surfaceId: 'floor', to: 'ash' }, { cache });
    expect([report.cost.change, report.days.change]).toEqual([null, null]);
    expect(report.cost.statement.sentence).toMatch(/not known/);
    expect(report.days.statement.sentence).toMatch(/not known/);
  });

  test('refuses a room that is not decided, and a finish that is not there', () => {
    expect(() => swapReport(room(), { surfaceId: 'counter', to: 'fleck' }, { cache })).toThrow(
      'Expected a current option for cabinets, got none',
    );
    expect(() => swapReport(decided(NOW), { surfaceId: 'counter', to: 'gone' }, { cache })).toThrow(
      'Expected an option of counter, got gone',
    );
    expect(() => swapReport(decided(NOW), { surfaceId: 'roof', to: 'gone' }, { cache })).toThrow(
      'Expected a surface of the scheme, got roof',
    );
  });
});

const lab = fc.tuple(
  fc.integer({ min: 30, max: 92 }),
  fc.integer({ min: -10, max: 10 }),
  fc.integer({ min: -6, max: 20 }),
);

/** A small room whose finishes are close enough to each other for faults to be common. */
const rooms = fc
  .record({
    labs: fc.array(lab, { minLength: 14, maxLength: 14 }),
    busyness: fc.array(fc.integer({ min: 0, max: 24 }), { minLength: 14, maxLength: 14 }),
    costs: fc.array(fc.integer({ min: 50, max: 900 }), { minLength: 14, maxLength: 14 }),
    budget: fc.option(fc.integer({ min: 600, max: 3500 })),
    chosen: fc.boolean(),
  })
  .map(({ labs, busyness, costs, budget, chosen }) => {
    let next = 0;
    const some = (prefix: string, count: number): SchemeOption[] =>
      Array.from({ length: count }, (_, i) => {
        const at = next++;
        return option(`${prefix}${i}`, labs[at], {
          kind: 'tile',
          busyness: busyness[at],
          cost: costs[at],
          leadTimeDays: (costs[at] % 30) + 1,
        });
      });
    const places = [
      place('cabinets', some('c', 4), { current: 'c0', area: 10 }),
      place(
        'walls',
        some('w', 3),
        chosen ? { state: 'chosen', current: 'w1', held: 'w1' } : { current: 'w1' },
      ),
      place('backsplash', some('b', 3), { current: 'b0' }),
      fixed('counter', some('s', 2)),
      fixed('floor', some('f', 2)),
    ];
    return room({ places, limits: { ...NO_ROOM_LIMITS, budget } });
  });

const faultKeys = (report: { findings: SwapReport['before']['findings'] }) =>
  report.findings.filter(({ severity }) => severity === 'fault').map(({ key }) => key);

test('the least set of changes is really the least, and the best of its size', () => {
  fc.assert(
    fc.property(rooms, (input) => {
      const report = swapReport(input, { surfaceId: 'counter', to: 's1' }, { cache });
      // Every choice that leaves alone what is fixed, looked at one by one.
      const { budget } = input.limits;
      const swapped = {
        ...input,
        places: input.places.map((one) => (one.surfaceId === 'counter' ? { ...one, there: null } : one)),
        // The budget was for the rest: what is there comes on top of it.
        limits: {
          ...input.limits,
          budget: budget === null ? null : budget + input.places[3].options[0].cost!,
        },
      };
      const asked = schemeProblem(swapped, { cache });
      const before = schemeCard(asked, [0, 1, 0, 0, 0]);
      const old = new Set(faultKeys(before));
      const all = everyChoice(asked.problem.options)
        .filter((choice) => choice[3] === 1 && choice[4] === 0)
        .map((choice) => {
          const card = schemeCard(asked, choice);
          const changes = [choice[0] !== 0, choice[1] !== 1, choice[2] !== 0].filter(Boolean).length;
          const limit = Math.max(swapped.limits.budget ?? Infinity, before.cost.total);
          return {
            choice,
            card,
            changes,
            within: card.cost.total <= limit + 1e-6,
            faults: faultKeys(card).filter((key) => !old.has(key)),
          };
        })
        .filter(({ within }) => within);
      const whole = all.filter(
        ({ card, faults }) =>
          faults.length === 0 && card.desirability >= before.desirability * (1 - WHOLE_TOLERANCE) - 1e-9,
      );
      const { repair, freely } = report;
      expect(repair.proven && freely.proven).toBe(true);
      expect(repair.whole).toBe(whole.length > 0);
      expect(repair.card.choices.floor).toBe('f0');
      expect(repair.card.choices.counter).toBe('s1');
      if (whole.length > 0) {
        const least = Math.min(...whole.map(({ changes }) => changes));
        const best = (list: typeof whole) => Math.max(...list.map(({ card }) => card.desirability));
        expect(repair.changes).toHaveLength(least);
        expect(repair.card.desirability).toBeCloseTo(
          best(whole.filter(({ changes }) => changes === least)),
          6,
        );
        expect(freely.card.desirability).toBeCloseTo(best(whole), 6);
      } else {
        // Not whole: as few new faults as can be, as good as before if any of these is; of these only what does not leave
        // the room less good than the swap alone, by more than the tolerance; the least of them, and the best of its size.
        const alone = report.after.desirability * (1 - WHOLE_TOLERANCE) - 1e-9;
        const asBefore = before.desirability * (1 - WHOLE_TOLERANCE) - 1e-9;
        const fewest = Math.min(...all.map(({ faults }) => faults.length));
        const few = all.filter(({ faults }) => faults.length === fewest);
        const asGood = few.filter(({ card }) => card.desirability >= asBefore);
        const worth = (asGood.length > 0 ? asGood : few).filter(({ card }) => card.desirability >= alone);
        const least = Math.min(...worth.map(({ changes }) => changes));
        const ofLeast = worth.filter(({ changes }) => changes === least);
        expect(repair.changes).toHaveLength(worth.length > 0 ? least : 0);
        expect(repair.card.desirability).toBeCloseTo(
          worth.length > 0
            ? Math.max(...ofLeast.map(({ card }) => card.desirability))
            : report.after.desirability,
          6,
        );
        expect(repair.missing).not.toBe('');
      }
    }),
    { numRuns: 15 },
  );
});

test('what becomes a fault is said to break, and a fault that goes to get better', () => {
  fc.assert(
    fc.property(rooms, (input) => {
      const report = swapReport(input, { surfaceId: 'counter', to: 's1' }, { cache });
      const [before, after] = [new Set(faultKeys(report.before)), new Set(faultKeys(report.after))];
      const keys = (changes: SwapReport['broken']) => changes.map(({ now, was }) => (now ?? was)!.key);
      for (const key of after) if (!before.has(key)) expect(keys(report.broken)).toContain(key);
      for (const key of before) if (!after.has(key)) expect(keys(report.better)).toContain(key);
    }),
    { numRuns: 25 },
  );
});

describe('where nothing makes a room whole', () => {
  // The new counter nearly matches the floor, which stays, and the cabinets, which may change to something far from wanted.
  const asked = (nearness: number) => {
    const places = [
      place('cabinets', [option('c0', [62, -6, 10]), option('c1', [25, 2, -8])], {
        current: 'c0',
        target: estimate(62, -6, 10),
      }),
      fixed('counter', [option('s0', [85, 0, 3]), option('s1', [60, -6, 10])]),
      fixed('floor', [option('f0', [58, -6, 10])]),
    ];
    const input = room({ places, weights: { ...NO_WEIGHTS, nearness, pairing: 1 } });
    return swapReport(input, { surfaceId: 'counter', to: 's1' }, { cache });
  };

  test('other changes that leave it better are asked for', () => {
    const { repair, after } = asked(0.1);
    expect(repair).toMatchObject({ whole: false, proven: true });
    expect(repair.changes.map(({ to }) => to)).toEqual(['c1']);
    expect(repair.card.desirability).toBeGreaterThan(after.desirability * (1 - WHOLE_TOLERANCE));
  });

  test('those that leave it less good than the swap alone are not', () => {
    const { repair, freely, after, headline } = asked(9);
    expect(freely.newFaults.length).toBeLessThan(repair.newFaults.length);
    expect(freely.card.desirability).toBeLessThan(after.desirability * (1 - WHOLE_TOLERANCE));
    expect(repair).toMatchObject({ whole: false, changes: [], proven: true });
    expect(repair.card).toEqual(after);
    expect(repair.missing).toContain('nearly match');
    expect(headline.sentence).toBe('Nothing that may change makes it whole again.');
  });
});

describe('the options of a surface against all that is decided', () => {
  const ranked = rankOn(decided(NOW), 'counter', { cache });

  test('come with the best first, and as good as a scheme with them is', () => {
    expect(ranked.map(({ place: at }) => at)).toEqual([1, 2]);
    expect(ranked[0].desirability).toBeGreaterThanOrEqual(ranked[1].desirability);
    for (const { optionId, desirability } of ranked) {
      const report = swapReport(decided(NOW), { surfaceId: 'counter', to: optionId }, { cache });
      expect(desirability).toBeCloseTo(report.after.desirability, 12);
    }
  });

  test('say what they cost against what is there', () => {
    const fleck = ranked.find(({ optionId }) => optionId === 'fleck')!;
    const granite = ranked.find(({ current }) => current)!;
    expect(fleck.cost.change).toBe(-400);
    expect(granite).toMatchObject({ optionId: 'granite', broken: [], better: [] });
    expect(granite.cost.change).toBe(0);
    expect(fleck.faults.length).toBeGreaterThan(0);
    for (const { reasons } of ranked) expect(reasons.length).toBeGreaterThan(3);
  });

  test('come last where a limit excludes them', () => {
    const base = decided(NOW);
    const input = {
      ...base,
      places: base.places.map((one) =>
        one.surfaceId === 'counter' ? { ...one, limits: { ...one.limits, maxLeadTimeDays: 30 } } : one,
      ),
    };
    const last = rankOn(input, 'counter', { cache }).at(-1)!;
    expect(last).toMatchObject({ optionId: 'granite', place: null });
    expect(last.excluded).toMatch(/^Too late: 40 days/);
  });
});
