import { describe, expect, test } from 'vitest';
import { CRITERIA, pairingBrief, pairingWords, rank } from '#lib/finish/index.ts';
import type { RankInput, Ranking } from '#lib/finish/index.ts';
import { COUNTER, LAMPS, WINDOW, candidate, estimate, kitchen } from './kitchen.ts';

const one = (ranking: Ranking, id: string) => ranking.shortlist.find((c) => c.id === id)!;
const NOTHING = Object.fromEntries(CRITERIA.map((criterion) => [criterion, 0])) as RankInput['weights'];
const only = (criterion: keyof RankInput['weights']): RankInput['weights'] => ({
  ...NOTHING,
  [criterion]: 1,
});
const { limits } = kitchen();

describe('a published LRV that contradicts the colour', () => {
  // L* 44.5 is LRV 14.2 (100 ((44.5 + 16) / 116)³).
  const dark = candidate('dark', { L: 44.5, a: -9, b: 11 }, { lrv: 31 });
  const asked = (minLrv: number | null, maxLrv: number | null = null) =>
    rank(
      kitchen({
        candidates: [dark],
        limits: { ...limits, minLrv, maxLrv },
        weights: { ...kitchen().weights, lrv: 1 },
      }),
    );

  test('is named beside the LRV of the colour, which is the one that is shown', () => {
    const ranking = asked(10);
    expect(one(ranking, 'dark').lrv).toBeCloseTo(14.2, 1);
    expect(one(ranking, 'dark').disputedLrv).toBe(31);
    expect(one(ranking, 'dark').criteria.lrv.words).toBe(
      'Reflects 14 of 100 parts of the light by its colour (published: 31), asked for 10 or more',
    );
    expect(one(ranking, 'dark').doubts).toEqual([
      expect.stringMatching(/^The published LRV of 31 and the colour \(LRV 14\) contradict each other/),
    ]);
  });

  test('keeps a candidate in that meets a limit by one of the two, with a doubt', () => {
    for (const [ranking, doubt] of [
      [
        asked(30),
        'Whether it is light enough is open: LRV 14 by its colour and 31 as published, where at least 30 is asked.',
      ],
      [
        asked(null, 20),
        'Whether it is dark enough is open: LRV 14 by its colour and 31 as published, where at most 20 is asked.',
      ],
    ] as const) {
      expect(ranking.excluded).toEqual([]);
      expect(one(ranking, 'dark').doubts).toContain(doubt);
    }
  });

  test('does not save one that misses a limit by both', () => {
    expect(asked(40).excluded[0].reason).toBe(
      'Too dark: LRV 14 by its colour and 31 as published where at least 40 is asked.',
    );
    expect(asked(null, 10).excluded[0].reason).toMatch(
      /^Too light: LRV 14 by its colour and 31 as published where at most 10 is asked\./,
    );
  });

  test('is not taken as certain in the draws', () => {
    // By its colour one lies near the limit, as far as its doubt lets us say; its published LRV alone would always win.
    const open = candidate('open', { L: 61, a: 0, b: 0 }, { lrv: 60, doubt: 3 });
    const sure = candidate('sure', { L: 61, a: 0, b: 0 }, { lrv: 31, doubt: 3 });
    const { shortlist } = rank(
      kitchen({
        candidates: [open, sure],
        weights: only('lrv'),
        limits: { ...limits, minLrv: 28 },
        draws: 1000,
      }),
    );
    for (const { firstShare } of shortlist) expect(firstShare).toBeGreaterThan(0.05);
  });
});

describe('names', () => {
  test('of lights and surfaces stand as they were written', () => {
    const name = 'Warm LED lamps, 2,700 K';
    const ranking = rank(
      kitchen({
        candidates: [candidate('x', { L: 81, a: 1, b: 5 })],
        fixed: [{ finish: COUNTER, surfaceName: 'Counter, left', contact: 1 }],
        lights: [WINDOW, { ...LAMPS, name }],
      }),
    );
    const { reasons, pairings, criteria } = one(ranking, 'x');
    expect(criteria.steadiness.words).toMatch(/between “window” and “Warm LED lamps, 2,700 K” \(change \d/);
    expect(pairingWords(pairings[1])).toContain(`“Counter, left” under “${name}”`);
    for (const sentence of reasons) expect(sentence).not.toMatch(/warm LED|counter, left/);
  });

  test('of candidates are quoted where they would not read as one', () => {
    const twins = ['Clay, fired', 'Salt and Ash', 'Reed'].map((name, i) => ({
      ...candidate(`t${i}`, { L: 61, a: -9, b: 12 }),
      name,
    }));
    const ranking = rank(kitchen({ candidates: twins }));
    expect(one(ranking, 't2').doubts[0]).toMatch(
      /^Too close to call with “(Clay, fired|Salt and Ash)” and “(Clay, fired|Salt and Ash)”\.$/,
    );
    expect(one(ranking, 't0').doubts[0]).toMatch(/“Salt and Ash”/);
    expect(one(ranking, 't0').doubts[0]).toMatch(/Reed/);
  });

  test('of the target are what the caller calls it', () => {
    const words = one(rank(kitchen({ targetName: 'Deep Green, the one' })), 'mist').criteria.nearness.words;
    expect(words).toMatch(/ than Deep Green, the one \(difference \d/);
  });
});

describe('sentences', () => {
  test('carry a word with every difference and change', () => {
    for (const { reasons, criteria } of rank(kitchen()).shortlist) {
      for (const sentence of [...reasons, ...Object.values(criteria).map(({ words }) => words)])
        expect(sentence).not.toMatch(/( - |: )\d/);
    }
  });

  test('call a step small only where it costs something', () => {
    const related = rank(kitchen()).shortlist.flatMap(({ pairings }) =>
      pairings.filter(({ kind }) => kind === 'related'),
    );
    expect(related.length).toBeGreaterThan(0);
    for (const pairing of related) {
      expect(pairingBrief({ ...pairing, desirability: 1 })).toMatch(/^A clear step from /);
      expect(pairingBrief({ ...pairing, desirability: 0.5 })).toMatch(/^Only a small step from /);
    }
  });

  test('say when a price has no currency, and round every percentage alike', () => {
    const price = (amount: number) => ({ amount, currency: '', unit: '2,5 l' });
    const ranking = rank(
      kitchen({
        candidates: [50, 54, 61, 50.1].map((amount, i) =>
          candidate(`c${i}`, { L: 60, a: -9, b: 11 }, { price: price(amount) }),
        ),
        limits: { ...limits, maxPrice: 50 },
      }),
    );
    expect(one(ranking, 'c0').criteria.price.words).toBe(
      'Costs 50 per 2,5 l (no currency given), the cheapest',
    );
    const reasons = ranking.excluded.map(({ reason }) => reason);
    expect(reasons.map((reason) => /most, (.*) over\./.exec(reason)?.[1])).toEqual([
      '8 %',
      '22 %',
      'less than 1 %',
    ]);
  });
});

describe('advice', () => {
  const pair = (second: { L: number; a: number; b: number }) =>
    rank(
      kitchen({
        candidates: [candidate('one', { L: 62, a: -9, b: 11 }), candidate('two', second)],
        weights: only('nearness'),
        draws: 1000,
      }),
    );

  test('says in how many tries the first is ahead of the next, where the two can be told apart', () => {
    const { advice, shortlist, groups } = pair({ L: 55, a: -9, b: 11 });
    expect(groups).toEqual([['one'], ['two']]);
    // With two candidates the share of first places is the share of draws ahead.
    const ahead = (100 * shortlist[0].firstShare).toFixed(0);
    expect(advice).toEqual([`one is ahead of two in ${ahead} of 100 tries.`]);
  });

  test('is silent where the first are too close to call: the observations then say what to do', () => {
    const { advice, groups } = pair({ L: 62, a: -9, b: 11.2 });
    expect(groups).toHaveLength(1);
    expect(advice).toEqual([]);
  });
});

describe('when every weight is 0', () => {
  const ranking = rank(kitchen({ weights: NOTHING }));

  test('nothing counts, and that is said', () => {
    expect(ranking.ordered).toBe(false);
    expect(rank(kitchen()).ordered).toBe(true);
    expect(ranking.advice).toEqual([
      'Nothing counts, so the candidates have no order: raise the weight of something that is known about them.',
    ]);
  });

  test('nobody is ahead of anybody', () => {
    expect(ranking.groups).toHaveLength(1);
    for (const { firstShare, doubts } of ranking.shortlist) {
      expect(firstShare).toBeCloseTo(1 / 5, 12);
      expect(doubts.join(' ')).not.toMatch(/Too close to call/);
    }
  });

  test('the candidates stand in an order of their own, whatever the input’s', () => {
    const { candidates } = kitchen();
    const turned = rank(kitchen({ weights: NOTHING, candidates: [...candidates].reverse() }));
    expect(turned).toEqual(ranking);
    expect(ranking.shortlist.map(({ id }) => id)).toEqual(candidates.map(({ id }) => id).toSorted());
  });
});

test('candidates that tie in a draw share its first place', () => {
  const twin = (id: string) => candidate(id, { L: 61, a: -9, b: 12 });
  const { shortlist } = rank(kitchen({ candidates: ['a', 'b', 'c', 'd'].map(twin), weights: only('price') }));
  for (const { firstShare } of shortlist) expect(firstShare).toBeCloseTo(0.25, 12);
});

test('the first of a group is the one most often first, even where another is better at the best estimates', () => {
  // A sure colour a little off the target and a doubtful one on it: beyond a difference of 1 the doubtful one loses most draws.
  const sure = candidate('sure', { L: 62, a: -9, b: 13.2 }, { doubt: 0 });
  const doubtful = candidate('doubtful', { L: 62, a: -9, b: 12.6 }, { doubt: 6 });
  const { shortlist, groups } = rank(
    kitchen({
      candidates: [doubtful, sure],
      target: estimate(62, -9, 11, 0),
      weights: only('nearness'),
      draws: 1000,
    }),
  );
  expect(groups).toEqual([['sure', 'doubtful']]);
  expect(shortlist[0].firstShare).toBeGreaterThan(shortlist[1].firstShare);
  expect(shortlist[0].desirability).toBeLessThan(shortlist[1].desirability);
});
