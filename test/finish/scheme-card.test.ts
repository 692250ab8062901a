import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  choiceOf,
  compareSchemes,
  rankOn,
  schemeCard,
  schemeProblem,
  swapReport,
  USUAL_WASTE,
  costOf,
} from '#lib/finish/index.ts';
import type { SchemeCard, SchemeInput, SchemeStatement } from '#lib/finish/index.ts';
import { estimate, finish } from './kitchen.ts';
import {
  ALL_WEIGHTS,
  NO_ROOM_LIMITS,
  cache,
  everyChoice,
  fixed,
  meetingsOf,
  option,
  place,
  room,
} from './scheme-kitchen.ts';

function cardOf(input: SchemeInput, choices: Record<string, string>): SchemeCard {
  const asked = schemeProblem(input, { cache });
  return schemeCard(asked, choiceOf(asked, choices)!);
}

const CALM = { cabinets: 'moss', walls: 'chalk', backsplash: 'plain', counter: 'granite', floor: 'oak' };

/** Every statement anywhere inside a value. */
function statements(value: unknown): SchemeStatement[] {
  if (value === null || typeof value !== 'object' || ArrayBuffer.isView(value)) return [];
  const own = 'sentence' in value && 'about' in value ? [value as SchemeStatement] : [];
  return [...own, ...Object.values(value).flatMap(statements)];
}

describe('the card of a scheme', () => {
  const card = cardOf(room(), CALM);

  test('gives every surface its part of the room', () => {
    expect(card.choices).toEqual(CALM);
    expect(card.parts.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 12);
    const walls = card.parts.find(({ surfaceId }) => surfaceId === 'walls')!;
    // 25 of 14 + 25 + 5 + 6 + 14.
    expect(walls.share).toBeCloseTo(25 / 64, 12);
    expect(walls).toMatchObject({ optionName: 'chalk', state: 'open', held: false, kind: 'paint' });
    for (const part of card.parts)
      expect(part.colours.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9);
  });

  test('has the LRV of its colours', () => {
    // CIE 15: Y = 100 ((L* + 16) / 116)³; at L* 50 that is 18.42.
    const grey = place('walls', [option('grey', [50, 0, 0])]);
    const [part] = cardOf(room({ places: [grey] }), { walls: 'grey' }).parts;
    expect(part.lrv).toBeCloseTo(18.42, 1);
  });

  test('adds up the costs it knows and names the others', () => {
    // Moss 150, chalk 120, plain tile 260; what is fixed costs nothing any more.
    expect(card.cost).toMatchObject({ total: 530, notKnown: [] });
    expect(card.cost.statement).toMatchObject({
      sentence: 'All that is still to be bought costs about 530 EUR.',
      number: '530 EUR',
    });
    const base = room();
    const places = base.places.map((one) =>
      one.surfaceId === 'walls'
        ? { ...one, options: one.options.map((o) => ({ ...o, cost: null, leadTimeDays: null })) }
        : one,
    );
    const without = cardOf({ ...base, places }, CALM);
    expect(without.cost.total).toBe(410);
    expect(without.cost.notKnown.map(({ surfaceId }) => surfaceId)).toEqual(['walls']);
    expect(without.cost.statement.sentence).toBe(
      'All that is still to be bought costs about 410 EUR, without chalk for “Walls”.',
    );
    expect(without.ready.notKnown.map(({ optionName }) => optionName)).toEqual(['chalk']);
  });

  test('says which finish decides when all is here', () => {
    expect(card.ready).toMatchObject({ days: 9, surfaceId: 'backsplash', notKnown: [] });
    expect(card.ready.statement).toMatchObject({
      sentence: 'All of it is here in 9 days, the last being plain for “Backsplash”.',
      number: '9 days',
    });
    const there = room({ places: [fixed('floor', [option('oak', [48, 8, 20])])] });
    const done = cardOf(there, { floor: 'oak' });
    expect(done.ready.statement.sentence).toBe('All of it is here already.');
    expect(done.cost.statement.sentence).toBe('Nothing is left to buy.');
  });

  test('puts faults first and says what each is about', () => {
    const base = room();
    const walls = option('off', [92, 0, 4]);
    const places = base.places.map((one) => (one.surfaceId === 'walls' ? { ...one, options: [walls] } : one));
    const trim = fixed('trim', [option('white', [93, 0, 3])]);
    const { findings } = cardOf(
      {
        ...base,
        places: [...places, trim],
        meetings: [{ a: 'walls', b: 'trim', contact: 1, mustBeSeen: false }],
      },
      { ...CALM, walls: 'off', trim: 'white' },
    );
    const order = findings.map(({ severity }) => ['fault', 'note', 'good'].indexOf(severity));
    expect(order).toEqual(order.toSorted((a, b) => a - b));
    expect(findings[0].severity).toBe('fault');
    expect(findings[0].about).toMatchObject({ surfaces: ['walls', 'trim'], criterion: 'pairing' });
    expect(findings[0].number).toMatch(/^difference \d/);
  });

  test('says how many surfaces of a criterion lack the data', () => {
    const base = room();
    const places = base.places.map((one) =>
      one.surfaceId === 'backsplash'
        ? {
            ...one,
            options: one.options.map((o) => (o.id === 'plain' ? { ...o, leadTimeDays: null } : o)),
          }
        : one,
    );
    const line = (choices: Record<string, string>) =>
      cardOf({ ...base, places }, choices).criteria.find(({ criterion }) => criterion === 'time')!;
    expect(line(CALM).assumed).toBe(1);
    expect(line({ ...CALM, backsplash: 'ring' }).assumed).toBe(0);
  });

  test('names a change by its lights and a criterion by what costs it most', () => {
    const steadiness = card.criteria.find(({ criterion }) => criterion === 'steadiness')!;
    expect(steadiness.number).toMatch(/^change \d/);
    expect(steadiness.about.surfaces).toHaveLength(1);
    const nearness = card.criteria.find(({ criterion }) => criterion === 'nearness')!;
    expect(nearness.about.surfaces).toEqual(['cabinets']);
    expect(nearness.sentence).toMatch(/^Moss on “Cabinets”: .*darker.* than its target\.$/);
  });

  test('says of a price what the cheapest to buy and what is there make of it', () => {
    const walls = [
      option('old', [80, 0, 5], { cost: 500 }),
      option('cheap', [80, 0, 5], { cost: 100 }),
      option('dear', [80, 0, 5], { cost: 250 }),
    ];
    const line = (id: string, there: string | null) => {
      const { criteria } = cardOf(room({ places: [place('walls', walls, { there })] }), { walls: id });
      return criteria.find(({ criterion }) => criterion === 'price')!;
    };
    expect(line('dear', null)).toMatchObject({
      sentence: 'Dear on “Walls”: 2.5 times the cheapest to buy for that surface.',
      number: '250 EUR',
    });
    expect(line('cheap', null).sentence).toBe('Cheap on “Walls”: the cheapest, or close to it.');
    expect(line('cheap', 'old').sentence).toBe(
      'Cheap on “Walls”: to be bought, where what is there costs nothing.',
    );
    expect(line('dear', 'old').sentence).toBe(
      'Dear on “Walls”: to be bought, where what is there costs nothing; 2.5 times the cheapest to buy for that surface.',
    );
    expect(line('old', 'old')).toMatchObject({
      desirability: 1,
      sentence: 'Old on “Walls”: it costs nothing.',
      number: '0 EUR',
    });
  });

  test('says of pairs what is judged: that they match or stand clearly apart', () => {
    const greys = [30, 60, 90].map((L) => place(`s${L}`, [option(`o${L}`, [L, 0, 0])]));
    const pairing = (places: typeof greys) => {
      const meetings = meetingsOf(places);
      const choices = Object.fromEntries(places.map(({ surfaceId, options }) => [surfaceId, options[0].id]));
      const { criteria } = cardOf(room({ places, meetings }), choices);
      return criteria.find(({ criterion }) => criterion === 'pairing')!.sentence;
    };
    expect(pairing(greys)).toBe(
      'The colours of all 3 pairs of surfaces seen together match or stand clearly apart.',
    );
    expect(pairing(greys.slice(1))).toBe('The colours of “S60” and “S90” match or stand clearly apart.');
  });

  test('refuses a choice that is none', () => {
    const asked = schemeProblem(room(), { cache });
    expect(() => schemeCard(asked, [0, 0])).toThrow('Expected a choice for 5 places, got 2');
    expect(() => schemeCard(asked, [0, 9, 0, 0, 0])).toThrow('Expected an option of walls, got 9');
  });
});

describe('every sentence', () => {
  const check = (value: unknown) => {
    const all = statements(value);
    expect(all.length).toBeGreaterThan(0);
    for (const { sentence, number, about } of all) {
      for (const text of [sentence, number])
        expect(text).not.toMatch(/undefined|null|NaN|Infinity|\[object|  /);
      expect(sentence).toMatch(/^[\p{Lu}“\d].*[^.][.!?]$/u);
      expect(sentence).not.toMatch(/\.\.| ,| \./);
      expect(number).not.toBe('');
      expect(about.surfaces.every((id) => typeof id === 'string' && id !== '')).toBe(true);
    }
  };

  test('is whole, of every scheme of a room', () => {
    const asked = schemeProblem(
      room({ limits: { budget: 500, readyInDays: 8, metals: 0, darkShare: 0.05, strongShare: 0 } }),
      { cache },
    );
    for (const choice of everyChoice(asked.problem.options)) check(schemeCard(asked, choice));
  });

  test('is whole where next to nothing is known', () => {
    const odd = (id: string, lab: readonly [number, number, number]) =>
      option(id, lab, { price: null, cost: null, leadTimeDays: null, busyness: null, lrv: 3 });
    const places = [
      place('walls', [odd('One, and two', [90, 0, 2]), odd('b', [89, 0, 3])]),
      place('trim', [odd('c', [91, 0, 2])], { surfaceName: '' }),
    ];
    const meetings = [{ a: 'walls', b: 'trim', contact: 1, mustBeSeen: true }];
    const asked = schemeProblem(room({ places, meetings, lights: [], currency: '' }), { cache });
    for (const choice of everyChoice(asked.problem.options)) check(schemeCard(asked, choice));
  });

  test('is whole in swaps and rankings', () => {
    const base = room();
    const current: Record<string, string> = CALM;
    const input = {
      ...base,
      places: base.places.map((one) => ({ ...one, current: current[one.surfaceId] })),
    };
    check(swapReport(input, { surfaceId: 'counter', to: 'fleck' }, { cache }));
    check(swapReport(input, { surfaceId: 'cabinets', to: 'pine' }, { cache }));
    check(rankOn(input, 'cabinets', { cache }));
  });
});

describe('what sets a scheme apart from another', () => {
  const cards = (to: Record<string, string>, over: Partial<SchemeInput> = {}) =>
    [cardOf(room(over), CALM), cardOf(room(over), { ...CALM, ...to })] as const;

  test('is nothing for the same scheme', () => {
    expect(compareSchemes(...cards({}))).toEqual({ sentence: 'The same scheme.', parts: [] });
  });

  test('is said in looks, money and time', () => {
    const busier = compareSchemes(...cards({ backsplash: 'ring' }));
    expect(busier.sentence).toMatch(/^Busier and \p{Ll}+ backsplash; 140 EUR more; 12 days later\.$/u);
    const [first, second] = cards({ backsplash: 'ring' });
    const calmer = compareSchemes(second, first);
    expect(calmer.sentence).toMatch(/^Plainer and \p{Ll}+ backsplash; 140 EUR less; 12 days sooner\.$/u);
    expect(calmer.parts.map(({ about }) => about.criterion)).toEqual(['look', 'money', 'time']);
  });

  test('says lighter and darker the right way round', () => {
    fc.assert(
      fc.property(fc.integer({ min: 20, max: 90 }), fc.integer({ min: 20, max: 90 }), (before, after) => {
        fc.pre(Math.abs(before - after) > 3);
        const places = [place('walls', [option('a', [before, 0, 0]), option('b', [after, 0, 0])])];
        const input = room({ places });
        const { sentence } = compareSchemes(cardOf(input, { walls: 'a' }), cardOf(input, { walls: 'b' }));
        expect(sentence).toBe(after > before ? 'Lighter walls.' : 'Darker walls.');
      }),
      { numRuns: 25 },
    );
  });

  test('names another material, and counts days', () => {
    const places = [
      place('counter', [
        option('a', [70, 0, 5], { kind: 'stone', leadTimeDays: 21 }),
        option('b', [70, 0, 5], { kind: 'wood', leadTimeDays: 7 }),
      ]),
    ];
    const input = room({ places });
    const told = compareSchemes(cardOf(input, { counter: 'a' }), cardOf(input, { counter: 'b' }));
    expect(told.sentence).toBe('Counter of wood; 14 days sooner.');
  });

  test('says nothing of money or days it does not know', () => {
    const places = [
      place('walls', [
        option('a', [70, 0, 5], { cost: 900, leadTimeDays: 2 }),
        option('b', [30, 0, 5], { cost: null, leadTimeDays: null }),
      ]),
    ];
    const input = room({ places });
    const { sentence } = compareSchemes(cardOf(input, { walls: 'a' }), cardOf(input, { walls: 'b' }));
    expect(sentence).toBe('Darker walls.');
  });
});

describe('a rough cost', () => {
  const price = (amount: number, unit: string) => ({ amount, currency: 'EUR', unit });

  test('is by area with waste', () => {
    expect(costOf(price(50, 'm²'), 4)!.amount).toBeCloseTo(50 * 4 * (1 + USUAL_WASTE), 9);
    expect(costOf(price(50, 'm2'), 4)!.amount).toBeCloseTo(220, 9);
    // NIST SP 811: one square foot is 0.092 903 04 m².
    expect(costOf(price(5, 'sq ft'), 0.09290304)!.amount).toBeCloseTo(5.5, 9);
  });

  test('is by whole tins of paint for two coats', () => {
    // 20 m² twice at 350 sq ft per US gallon (8.59 m²/l) are 4.66 l: two tins of 2.5 l, five of 1 l, two gallons.
    expect(costOf(price(54, '2.5 l'), 20)!.amount).toBe(108);
    expect(costOf(price(54, '2,5 l'), 20)!.amount).toBe(108);
    expect(costOf(price(20, 'l'), 20)!.amount).toBe(100);
    expect(costOf(price(70, 'gal'), 20)!.amount).toBe(140);
    expect(costOf(price(54, '2.5 l'), 20)!.words).toBe('2 × 2.5 l for 2 coats');
    expect(costOf(price(54, '2.5 l'), 0.1)!.amount).toBe(54);
  });

  test('never falls as the area grows', () => {
    const area = fc.double({ min: 0.1, max: 200, noNaN: true });
    fc.assert(
      fc.property(area, area, fc.constantFrom('l', '2.5 l', 'gal', 'm²', 'sq ft'), (p, q, unit) => {
        const [less, more] = p < q ? [p, q] : [q, p];
        expect(costOf(price(9, unit), less)!.amount).toBeLessThanOrEqual(
          costOf(price(9, unit), more)!.amount,
        );
      }),
    );
  });

  test('is not known for things that do not follow from an area', () => {
    for (const unit of ['piece', 'each', 'pack', 'slab', 'tin', 'can', '', '5', 'm', 'kg'])
      expect(costOf(price(9, unit), 5)).toBeNull();
    expect(costOf(null, 5)).toBeNull();
    expect(costOf(price(9, 'm²'), null)).toBeNull();
    expect(() => costOf(price(9, 'm²'), 0)).toThrow('Expected an area above 0, got 0');
  });
});

test('a published LRV that contradicts the colour stands beside it', () => {
  const wall = { ...option('wall', [50, 0, 0]), ...finish('wall', [[50, 0, 0]]), lrv: 60 };
  const places = [place('walls', [wall], { target: estimate(50, 0, 0) })];
  const [part] = cardOf(room({ places, limits: NO_ROOM_LIMITS, weights: ALL_WEIGHTS }), {
    walls: 'wall',
  }).parts;
  expect(part.lrv).toBeCloseTo(18.4, 1);
  expect(part.disputedLrv).toBe(60);
});
