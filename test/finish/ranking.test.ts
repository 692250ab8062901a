import { describe, expect, test } from 'vitest';
import { CRITERIA, TOLD_APART, pairingWords, rank } from '#lib/finish/index.ts';
import type { RankInput, Ranking } from '#lib/finish/index.ts';
import {
  COUNTER,
  FLOOR,
  LAMPS,
  WINDOW,
  candidate,
  estimate,
  finish,
  kitchen,
  light,
  metamers,
} from './kitchen.ts';

const one = (ranking: Ranking, id: string) => ranking.shortlist.find((c) => c.id === id)!;
const only = (criterion: keyof RankInput['weights']): RankInput['weights'] => ({
  ...{ nearness: 0, pairing: 0, steadiness: 0, lrv: 0, price: 0, time: 0 },
  [criterion]: 1,
});

describe('the order', () => {
  test('puts the candidate next to the inspiration first when nearness counts alone', () => {
    const ranking = rank(kitchen({ weights: only('nearness') }));
    expect(ranking.shortlist[0].id).toBe('reed');
    expect(ranking.shortlist.map(({ place }) => place)).toEqual([1, 2, 3, 4, 5]);
    const deltas = ranking.shortlist.map(({ nearness }) => nearness!.deltaE);
    expect(deltas).toEqual(deltas.toSorted((a, b) => a - b));
  });

  test('puts a near miss with the counter behind what stands apart from it', () => {
    const ranking = rank(
      kitchen({
        weights: only('pairing'),
        candidates: [candidate('almost', { L: 81, a: 1, b: 5 }), candidate('apart', { L: 62, a: -9, b: 11 })],
        fixed: [{ finish: finish('counter', [[83, 0, 3]]), surfaceName: 'counter', contact: 1 }],
      }),
    );
    expect(ranking.shortlist.map(({ id }) => id)).toEqual(['apart', 'almost']);
    expect(one(ranking, 'almost').pairings[0].kind).toBe('near miss');
    expect(one(ranking, 'almost').reasons[0]).toMatch(
      /^Near miss with “counter” under “(window|lamps)” \(difference \d\.\d\)$/,
    );
  });

  test('prefers the steadier of two colours', () => {
    // A flat grey keeps its look under every light once the eye has adapted; three narrow bumps do not.
    const flat = Array(81).fill(0.3);
    const bumpy = Array.from({ length: 81 }, (_, i) => {
      const nm = 380 + 5 * i;
      return 0.08 + [450, 540, 610].reduce((sum, c) => sum + 0.5 * Math.exp(-(((nm - c) / 22) ** 2)), 0);
    });
    const spectral = (id: string, reflectance: number[]) => {
      const base = candidate(id, { L: 61, a: 0, b: 0 });
      return { ...base, colours: [{ ...base.colours[0], reflectance }] };
    };
    const ranking = rank(
      kitchen({
        weights: only('steadiness'),
        candidates: [spectral('bumpy', bumpy), spectral('flat', flat)],
      }),
    );
    expect(ranking.shortlist.map(({ id }) => id)).toEqual(['flat', 'bumpy']);
    expect(one(ranking, 'flat').criteria.steadiness.value!).toBeLessThan(0.5);
    expect(one(ranking, 'flat').firstShare).toBe(1);
  });

  test('prefers the cheaper and the sooner when these count alone', () => {
    const candidates = [
      candidate(
        'dear',
        { L: 60, a: -9, b: 11 },
        { price: { amount: 80, currency: 'EUR', unit: 'l' }, leadTimeDays: 1 },
      ),
      candidate(
        'cheap',
        { L: 60, a: -9, b: 11 },
        { price: { amount: 20, currency: 'EUR', unit: 'l' }, leadTimeDays: 30 },
      ),
    ];
    const byPrice = rank(kitchen({ candidates, weights: only('price') }));
    expect(byPrice.shortlist.map(({ id }) => id)).toEqual(['cheap', 'dear']);
    expect(one(byPrice, 'dear').criteria.price).toMatchObject({ value: 80, desirability: 0.25 });
    const byTime = rank(kitchen({ candidates, weights: only('time') }));
    expect(byTime.shortlist.map(({ id }) => id)).toEqual(['dear', 'cheap']);
  });

  test('keeps all candidates within a price wish equally good', () => {
    const candidates = ['a', 'b'].map((id, i) =>
      candidate(id, { L: 60, a: -9, b: 11 }, { price: { amount: 20 + 10 * i, currency: 'EUR', unit: 'l' } }),
    );
    const { limits } = kitchen();
    const ranking = rank(
      kitchen({ candidates, weights: only('price'), limits: { ...limits, priceWish: 30 } }),
    );
    expect(ranking.shortlist.map(({ desirability }) => desirability)).toEqual([1, 1]);
  });

  test('takes a pairing for as good as its worst light', () => {
    const { bumpy, smooth } = metamers();
    const ranking = rank(
      kitchen({
        weights: only('pairing'),
        candidates: [{ ...candidate('smooth', { L: 50, a: 0, b: 0 }), ...smooth }],
        fixed: [{ finish: bumpy, surfaceName: 'shelf', contact: 1 }],
        lights: [light('day', 'D65'), light('tubes', 'FL11'), light('bulb', 'A')],
      }),
    );
    const [best] = ranking.shortlist;
    const perLight = best.pairings.map(({ desirability }) => desirability);
    expect(perLight[0]).toBe(1);
    expect(best.desirability).toBeCloseTo(Math.min(...perLight), 12);
    expect(best.desirability).toBeLessThan(0.7);
  });

  test('puts the nearer of two equally good candidates first', () => {
    const list = [candidate('a', { L: 30, a: 0, b: 0 }), candidate('b', { L: 62, a: -9, b: 10 })];
    expect(rank(kitchen({ candidates: list, weights: only('price') })).shortlist.map(({ id }) => id)).toEqual(
      ['b', 'a'],
    );
  });

  test('judges a stone by its colours and their areas', () => {
    const fixed = (share: number) => [
      {
        finish: finish('slab', [
          [80, 0, 3, 1 - share],
          [62, -8, 9, share],
        ]),
        surfaceName: 'slab',
        contact: 1,
      },
    ];
    // Near the slab's second colour, apart from its first: the more there is of it, the worse.
    const good = (share: number) =>
      rank(
        kitchen({
          weights: only('pairing'),
          fixed: fixed(share),
          candidates: [candidate('x', { L: 60, a: -9, b: 11 })],
        }),
      ).shortlist[0];
    expect(good(0.05).desirability).toBeGreaterThan(good(0.3).desirability);
    expect(pairingWords(good(0.3).pairings[0])).toMatch(/a colour of “slab”/);
  });

  test('counts a fixed finish by its contact, and one without contact not at all', () => {
    const candidates = [candidate('almost', { L: 81, a: 1, b: 5 })];
    const counter = finish('counter', [[83, 0, 3]]);
    const fixed = (contact: number) => [
      { finish: counter, surfaceName: 'counter', contact },
      { finish: FLOOR, surfaceName: 'floor', contact: 1 },
    ];
    const D = (contact: number) =>
      rank(kitchen({ candidates, weights: only('pairing'), fixed: fixed(contact) })).shortlist[0]
        .desirability;
    expect(D(1)).toBeLessThan(D(0.2));
    expect(D(0)).toBe(1);
  });
});

describe('limits', () => {
  const { limits } = kitchen();
  const candidates = [
    candidate('fine', { L: 61, a: -9, b: 12 }),
    candidate('dear', { L: 62, a: -9, b: 11 }, { price: { amount: 58, currency: 'EUR', unit: 'l' } }),
    candidate('late', { L: 62, a: -9, b: 11 }, { leadTimeDays: 20 }),
    candidate('dark', { L: 30, a: -9, b: 11 }),
    candidate('unknown', { L: 61, a: -8, b: 11 }, { price: null, leadTimeDays: null }),
  ];
  const ranking = rank(
    kitchen({ candidates, limits: { ...limits, maxPrice: 50, maxLeadTimeDays: 14, minLrv: 20 } }),
  );

  test('exclude with the reason and its numbers, and stay visible', () => {
    expect(Object.fromEntries(ranking.excluded.map(({ id, reason }) => [id, reason]))).toEqual({
      dear: 'Over budget: 58 EUR/l where 50 EUR/l is the most, 16 % over.',
      late: 'Too late: 20 days to deliver where 14 days are left, 6 days too many.',
      dark: 'Too dark: LRV 6 where at least 20 is asked.',
    });
  });

  test('do not exclude what is not known, and say so', () => {
    expect(ranking.shortlist.map(({ id }) => id)).toContain('unknown');
    expect(one(ranking, 'unknown').doubts).toEqual(
      expect.arrayContaining([
        'No price given: price is not counted for it.',
        'No lead time given: lead time is not counted for it.',
      ]),
    );
    expect(one(ranking, 'unknown').criteria.price).toMatchObject({
      counted: false,
      value: null,
      desirability: 1,
    });
  });

  test('on LRV use the published value where it agrees with the colour', () => {
    // L* 62 is LRV 30.4; a published 31 agrees with it.
    const published = candidate('p', { L: 62, a: -9, b: 11 }, { lrv: 31 });
    const out = rank(kitchen({ candidates: [published], limits: { ...limits, maxLrv: 30 } }));
    expect(out.excluded[0].reason).toBe('Too light: LRV 31 where at most 30 is asked.');
    const kept = rank(kitchen({ candidates: [published] }));
    expect(kept.shortlist[0]).toMatchObject({ lrv: 31, disputedLrv: null, doubts: [] });
  });

  test('on LRV say when the miss is within the doubt', () => {
    const close = candidate('close', { L: 50, a: 0, b: 5 }, { doubt: 3 });
    const out = rank(kitchen({ candidates: [close], limits: { ...limits, minLrv: 20 } }));
    expect(out.excluded[0].reason).toMatch(/within its doubt: measure it before ruling it out/);
  });

  test('on price are not applied across units', () => {
    const mixed = [
      ...candidates.slice(0, 2),
      candidate('slab', { L: 80, a: 0, b: 2 }, { price: { amount: 300, currency: 'EUR', unit: 'm²' } }),
    ];
    const out = rank(kitchen({ candidates: mixed, limits: { ...limits, maxPrice: 50 } }));
    expect(out.excluded).toEqual([]);
    expect(out.leftOut.find(({ criterion }) => criterion === 'price')!.reason).toMatch(/cannot be compared/);
    expect(out.advice.at(-1)).toMatch(/limit on the price was not applied/);
  });

  test('that nobody meets leave an empty list with advice', () => {
    const out = rank(
      kitchen({ candidates, limits: { ...limits, maxLeadTimeDays: 0, maxPrice: 1, minLrv: 90 } }),
    );
    expect(out.shortlist).toEqual([]);
    expect(out.groups).toEqual([]);
    expect(out.advice).toEqual(['Every candidate is beyond a limit: loosen one, or add candidates.']);
  });
});

describe('criteria', () => {
  test('without data or weight are left out with the reason', () => {
    const bare = rank(
      kitchen({
        target: null,
        fixed: [],
        lights: [],
        candidates: [candidate('a', { L: 60, a: 0, b: 0 }, { price: null, leadTimeDays: null })],
      }),
    );
    expect(bare.leftOut).toEqual([
      { criterion: 'nearness', reason: 'No aim is set.' },
      { criterion: 'pairing', reason: 'No fixed finish is near this surface.' },
      { criterion: 'steadiness', reason: 'The room has no lights yet.' },
      { criterion: 'lrv', reason: 'Its weight is 0.' },
      { criterion: 'price', reason: 'No candidate has a price.' },
      { criterion: 'time', reason: 'No candidate has a lead time.' },
    ]);
    expect(bare.shortlist[0]).toMatchObject({
      desirability: 1,
      firstShare: 1,
      nearness: null,
      steadiness: [],
    });
  });

  test('all have words', () => {
    const { shortlist } = rank(kitchen({ targetName: 'the inspiration' }));
    for (const { criteria, reasons } of shortlist) {
      for (const criterion of CRITERIA) expect(criteria[criterion].words.length).toBeGreaterThan(3);
      expect(reasons.length).toBeGreaterThan(0);
    }
    expect(one(rank(kitchen()), 'reed').criteria.nearness.words).toMatch(
      /the inspiration \(difference \d\.\d\)$/,
    );
    expect(one(rank(kitchen()), 'mist').criteria.nearness.words).toMatch(
      /^Much lighter.* than the inspiration \(difference \d/,
    );
  });

  test('on LRV reward a margin inside the limits', () => {
    const { limits } = kitchen();
    const candidates = [
      candidate('edge', { L: 70, a: 0, b: 0 }, { lrv: 41 }),
      candidate('inside', { L: 76, a: 0, b: 0 }, { lrv: 50 }),
    ];
    const ranking = rank(
      kitchen({ candidates, weights: only('lrv'), limits: { ...limits, minLrv: 40, maxLrv: 60 } }),
    );
    expect(ranking.shortlist.map(({ id }) => id)).toEqual(['inside', 'edge']);
    expect(one(ranking, 'edge').criteria.lrv.desirability).toBeCloseTo(0.2, 12);
    expect(one(ranking, 'inside').criteria.lrv.words).toBe(
      'Reflects 50 of 100 parts of the light, asked for 40 to 60',
    );
  });

  test('give pairings in daylight when the room has no lights', () => {
    const { shortlist } = rank(kitchen({ lights: [] }));
    expect(shortlist[0].pairings.map(({ lightId }) => lightId)).toEqual(['D65', 'D65']);
  });
});

describe('too close to call', () => {
  test('puts twins into one group, and a hopeless third into another', () => {
    const ranking = rank(
      kitchen({
        candidates: [
          candidate('one', { L: 61, a: -9.5, b: 12 }, { doubt: 2 }),
          candidate('two', { L: 61.3, a: -9.3, b: 12.2 }, { doubt: 2 }),
          candidate('third', { L: 30, a: 30, b: -30 }, { doubt: 2 }),
        ],
        draws: 1000,
      }),
    );
    expect(ranking.groups[0].toSorted()).toEqual(['one', 'two']);
    expect(ranking.groups[1]).toEqual(['third']);
    expect(one(ranking, 'third')).toMatchObject({ group: 1, firstShare: 0 });
    expect(one(ranking, 'one').doubts[0]).toBe('Too close to call with two.');
    expect(ranking.shortlist.reduce((sum, { firstShare }) => sum + firstShare, 0)).toBeCloseTo(1, 12);
  });

  test('does not chain: everyone in a group is too close to its first', () => {
    const candidates = Array.from({ length: 30 }, (_, i) =>
      candidate(`c${i}`, { L: 62 - i, a: -9, b: 11 }, { doubt: 2 }),
    );
    const ranking = rank(kitchen({ candidates, weights: only('nearness'), draws: 1000 }));
    expect(ranking.groups.length).toBeGreaterThan(2);
    expect(ranking.groups.flat()).toEqual(ranking.shortlist.map(({ id }) => id));
    expect(TOLD_APART).toBe(0.8);
  });

  test('between sure colours is a matter of order alone', () => {
    const candidates = [
      candidate('one', { L: 61, a: -9, b: 12 }, { doubt: 0 }),
      candidate('two', { L: 58, a: -9, b: 12 }, { doubt: 0 }),
    ];
    const ranking = rank(kitchen({ candidates, target: estimate(62, -9, 11, 0), weights: only('nearness') }));
    expect(ranking.groups).toEqual([['one'], ['two']]);
    expect(ranking.shortlist.map(({ firstShare }) => firstShare)).toEqual([1, 0]);
    expect(ranking.advice).toEqual(['one is ahead of two in 100 of 100 tries.']);
  });
});

describe('a caller’s mistake', () => {
  const bad = (over: Partial<RankInput>) => () => rank(kitchen(over));

  test('is refused in words that name it', () => {
    expect(bad({ draws: 0 })).toThrow('Expected draws in [1, 100000], got 0');
    expect(bad({ weights: { ...kitchen().weights, price: -1 } })).toThrow(
      'Expected weights.price of 0 or more, got -1',
    );
    const reed = candidate('reed', { L: 61, a: -9, b: 12 });
    expect(bad({ candidates: [reed, reed] })).toThrow('Expected every candidate once, got reed twice');
    expect(bad({ lights: [WINDOW, { ...LAMPS, spectrum: [1, 2] }] })).toThrow(RangeError);
    expect(bad({ candidates: [{ ...reed, colours: [] }] })).toThrow(
      'Expected at least one colour with a share in finish reed',
    );
    const skewed = [1, 5, 0, 0, 1, 0, 0, 0, 1];
    expect(bad({ target: { lab: { L: 50, a: 0, b: 0 }, covariance: skewed } })).toThrow(
      'Expected the covariance of the target to be symmetric',
    );
    const negative = [1, 0, 0, 0, -1, 0, 0, 0, 1];
    expect(bad({ target: { lab: { L: 50, a: 0, b: 0 }, covariance: negative } })).toThrow(
      'without negative variance',
    );
    expect(bad({ candidates: [{ ...reed, lrv: 140 }] })).toThrow(
      'Expected an LRV in [0, 100] for reed, got 140',
    );
    expect(bad({ fixed: [{ finish: COUNTER, surfaceName: 'counter', contact: -1 }] })).toThrow(
      'Expected contact of 0 or more with counter, got -1',
    );
  });
});

test('a colour no surface can have is ranked by the nearest one that can', () => {
  const wild = candidate('wild', { L: 95, a: -60, b: 80 }, { doubt: 8 });
  const ranking = rank(kitchen({ candidates: [wild, candidate('reed', { L: 61, a: -9.5, b: 12 })] }));
  expect(ranking.shortlist.map(({ id }) => id)).toEqual(['reed', 'wild']);
  // 8 ΔE off on average is 8 / √(8/π) = 5.01 per axis; 'give or take' is twice that, as everywhere.
  expect(one(ranking, 'wild').doubts).toContain('Its colour is hardly known, give or take 10.0.');
});

test('a finish beside itself matches under every light', () => {
  const same = candidate('reed', { L: 61, a: -9.5, b: 12 });
  const ranking = rank(
    kitchen({
      weights: only('pairing'),
      candidates: [same],
      fixed: [{ finish: same, surfaceName: 'island', contact: 1 }],
      lights: [WINDOW, LAMPS, light('tubes', 'FL11')],
    }),
  );
  expect(ranking.shortlist[0].pairings.map(({ kind, deltaE }) => [kind, deltaE])).toEqual(
    Array(3).fill(['match', 0]),
  );
  expect(ranking.shortlist[0].desirability).toBe(1);
});
