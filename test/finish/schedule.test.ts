import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  USUAL_WEEK,
  agreedLines,
  dateWords,
  dayNumber,
  daysAfter,
  daysBetween,
  finishSchedule,
  isWorkingDay,
  nearestWorkingDay,
  scheduleChanges,
  workingDaysAfter,
} from '#lib/finish/index.ts';
import type { Pack, ScheduleItem, ScheduleRules, WorkCalendar } from '#lib/finish/index.ts';
import { arrival, delivery, firstOrderDay } from '#lib/finish/delivery.ts';

const can = (size: number, price: number | null): Pack => ({
  name: `can of ${size} l`,
  size,
  unit: 'l',
  price,
  discounts: [],
});
const fern = { maker: 'Ternhollow', code: 'T 214', name: 'Fern', sheen: 'satin' };
const item = (given: Partial<ScheduleItem>): ScheduleItem => ({
  id: 'a',
  room: 'Kitchen',
  surface: 'cabinets',
  role: 'finish coat',
  finish: fern,
  needs: [{ amount: 2.1, unit: 'l' }],
  packs: [can(1, 30), can(2.5, 60)],
  price: null,
  supplier: '',
  leadTimeDays: 5,
  neededOn: null,
  orderedOn: null,
  substitutes: [],
  ...given,
});
// 26 November 2026 is a Thursday, 18 December 2026 a Friday.
const schedule = (items: ScheduleItem[], given: Partial<ScheduleRules> = {}) =>
  finishSchedule({
    items,
    currency: 'EUR',
    tax: { name: 'VAT', rate: 19, included: false },
    budget: null,
    finishBy: '2026-12-18',
    system: 'metric',
    today: '2026-11-26',
    calendar: USUAL_WEEK,
    leadTimeIn: 'calendar days',
    ...given,
  });

describe('working days', () => {
  test('know the calendar (ISO 8601): weekdays, leap years, days that are none', () => {
    expect(dayNumber('1970-01-01')).toBe(0);
    expect(dateWords('2026-11-26')).toBe('Thu 26 Nov 2026');
    expect(dateWords('2000-02-29')).toBe('Tue 29 Feb 2000');
    for (const none of ['2026-02-29', '2026-13-01', '2026-00-10', '26-11-2026', '', '2026-1-1'])
      expect(dayNumber(none)).toBeNull();
    expect(daysBetween('2027-12-31', '2028-03-01')).toBe(61);
  });

  test('skip weekends and holidays both ways', () => {
    const calendar: WorkCalendar = { ...USUAL_WEEK, holidays: ['2026-12-25', '2026-12-28'] };
    expect(workingDaysAfter('2026-12-24', 1, calendar)).toBe('2026-12-29');
    expect(workingDaysAfter('2026-12-29', -1, calendar)).toBe('2026-12-24');
    expect(nearestWorkingDay('2026-12-26', -1, calendar)).toBe('2026-12-24');
    expect(nearestWorkingDay('2026-12-26', 1, calendar)).toBe('2026-12-29');
    expect(() => isWorkingDay('2026-12-26', { weekdays: [], holidays: [] })).toThrow(RangeError);
    expect(() => daysAfter('soon', 1)).toThrow(TypeError);
  });

  const date = fc.integer({ min: 20_000, max: 25_000 }).map((day) => daysAfter('1970-01-01', day));

  test('forward and back again is the same working day', () => {
    fc.assert(
      fc.property(date, fc.integer({ min: 0, max: 60 }), (start, days) => {
        const from = nearestWorkingDay(start, 1, USUAL_WEEK);
        const to = workingDaysAfter(from, days, USUAL_WEEK);
        expect(workingDaysAfter(to, -days, USUAL_WEEK)).toBe(from);
        expect(isWorkingDay(to, USUAL_WEEK)).toBe(true);
      }),
    );
  });

  test('the order-by date is the last on which the thing still comes in time', () => {
    fc.assert(
      fc.property(
        date,
        fc.integer({ min: 0, max: 60 }),
        fc.integer({ min: 0, max: 40 }),
        fc.constantFrom('calendar days' as const, 'working days' as const),
        (today, ahead, leadTime, leadTimeIn) => {
          const rules = { today, calendar: USUAL_WEEK, leadTimeIn };
          const neededOn = daysAfter(today, ahead);
          const due = delivery({ neededOn, leadTime, orderedOn: null }, rules);
          const inTime = (ordered: string) => daysBetween(arrival(ordered, leadTime, rules), neededOn) >= 0;
          expect(inTime(due.orderBy!)).toBe(true);
          expect(inTime(workingDaysAfter(due.orderBy!, 1, USUAL_WEEK))).toBe(false);
          expect(due.kind).toBe(inTime(firstOrderDay(rules)) ? 'in time' : 'late');
          expect(due.lateBy).toBe(Math.max(0, daysBetween(neededOn, due.arrives!)));
        },
      ),
    );
  });
});

describe('orders', () => {
  test('one product is bought once for all its surfaces, in the packs that cost least', () => {
    const island = item({ id: 'b', surface: 'island', needs: [{ amount: 1.2, unit: 'l' }] });
    const { orders, lines, total } = schedule([item({}), island]);
    // Apart: 2.5 l and 1 + 1 l, 120.00; together 3.3 l are 2.5 + 1 l, 90.00. 19 % of it 17.10.
    expect(orders).toHaveLength(1);
    expect(orders[0]).toMatchObject({ lineIds: ['a', 'b'], cost: { net: 9000, tax: 1710, gross: 10710 } });
    expect(orders[0].need?.amount).toBeCloseTo(3.3, 12);
    // 90.00 by 2.1 : 1.2 is 57.27 and 32.73, the tax 10.88 and 6.22.
    expect(lines.map(({ cost }) => cost)).toEqual([
      { net: 5727, tax: 1088, gross: 6815 },
      { net: 3273, tax: 622, gross: 3895 },
    ]);
    expect(total.gross).toBe(10710);
    expect(lines[0].words).toBe(
      'Kitchen, cabinets, finish coat: Ternhollow T 214 Fern, satin, 2.10 l (0.55 US gal), 68.15 EUR.',
    );
  });

  test('another sheen, role or supplier is another order', () => {
    const others = [
      item({ id: 'b', finish: { ...fern, sheen: 'matt' } }),
      item({ id: 'c', role: 'primer' }),
      item({ id: 'd', supplier: 'Ternhollow depot' }),
      item({ id: 'e', finish: { ...fern, name: ' fern ' } }),
    ];
    expect(schedule([item({}), ...others]).orders.map(({ lineIds }) => lineIds)).toEqual([
      ['a', 'e'],
      ['b'],
      ['c'],
      ['d'],
    ]);
  });

  test('a price of a unit is used for what is needed in it: litres, gallons, m² beside pieces, cans of a size', () => {
    const net = (given: Partial<ScheduleItem>) => schedule([item({ packs: [], ...given })]).total.net;
    const price = (amount: number, unit: string) => ({ amount, currency: 'EUR', unit });
    expect(net({ price: price(20, 'l') })).toBe(4200);
    // 2.1 l are 0.554761 US gal.
    expect(net({ price: price(100, 'gal') })).toBe(5548);
    expect(net({ price: price(45, '2.5 l') })).toBe(4500);
    const tiles = [
      { amount: 20, unit: 'piece' as const },
      { amount: 1.65, unit: 'm²' as const },
    ];
    expect(net({ needs: tiles, price: price(52, 'm²') })).toBe(8580);
    expect(net({ needs: tiles, price: price(4.25, 'piece') })).toBe(8500);
    expect(net({ packs: [can(1, null), can(2.5, null)], price: price(20, 'l') })).toBe(5000);
  });

  test('what cannot be priced is in no total, and every total says so', () => {
    const items = [
      item({}),
      item({ id: 'b', surface: 'walls', finish: { ...fern, code: 'T 215' }, packs: [] }),
      item({
        id: 'c',
        surface: 'counter',
        finish: { ...fern, code: 'S 1' },
        packs: [],
        price: { amount: 8, currency: 'USD', unit: 'l' },
      }),
      item({ id: 'd', surface: 'trim', finish: { ...fern, code: 'T 216' }, needs: [] }),
      item({ id: 'e', surface: 'handles', finish: null }),
      item({
        id: 'f',
        surface: 'floor',
        finish: { ...fern, code: 'T 217' },
        packs: [],
        price: { amount: 8, currency: '', unit: 'bag' },
      }),
    ];
    const { total, leftOut, words, lines } = schedule(items, { budget: 50 });
    expect(total).toEqual({ net: 6000, tax: 1140, gross: 7140 });
    expect(leftOut).toEqual([
      'Ternhollow T 215 Fern, satin for Kitchen, walls: no price',
      'Ternhollow S 1 Fern, satin for Kitchen, counter: its price is in USD, not EUR',
      'Kitchen, trim: how much Ternhollow T 216 Fern, satin is needed is not known',
      'Ternhollow T 217 Fern, satin for Kitchen, floor: a price per bag says nothing about l',
      'Kitchen, handles: no finish is chosen',
    ]);
    expect(words).toMatch(
      /^71\.40 EUR in all, of which 11\.40 EUR VAT\. That is 21\.40 EUR over the budget of 50\.00 EUR\. Not counted: /,
    );
    for (const said of leftOut) expect(words).toContain(said);
    expect(lines).toHaveLength(6);
    // Cans priced beside a price in another currency are in that currency too.
    const foreign = schedule([item({ price: { amount: 25, currency: 'USD', unit: 'l' } })]);
    expect(foreign).toMatchObject({
      total: { gross: 0 },
      orders: [{ cost: null, purchase: { bought: 2.5 } }],
    });
    expect(schedule([item({ packs: [can(0, 5)] })]).leftOut[0]).toContain('none of its packs can be used');
  });

  test('shares of lines add up to orders, orders to the total, against the budget', () => {
    const needs = fc.array(fc.integer({ min: 1, max: 400 }), { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(
        needs,
        fc.integer({ min: 1, max: 9999 }),
        fc.constantFrom(0, 7.7, 8.875, 19, 20),
        fc.boolean(),
        (tenths, cents, rate, included) => {
          const items = tenths.map((need, k) =>
            item({
              id: `i${k}`,
              finish: { ...fern, code: `T ${k % 2}` },
              needs: [{ amount: need / 10, unit: 'l' }],
              packs: [can(1, cents / 100), can(2.5, (2 * cents) / 100)],
            }),
          );
          const done = schedule(items, { tax: { name: 'VAT', rate, included }, budget: 100 });
          for (const part of ['net', 'tax', 'gross'] as const) {
            const lines = done.lines.reduce((sum, { cost }) => sum + cost![part], 0);
            const orders = done.orders.reduce((sum, { cost }) => sum + cost![part], 0);
            expect(lines).toBe(done.total[part]);
            expect(orders).toBe(done.total[part]);
          }
          expect(done.total.net + done.total.tax).toBe(done.total.gross);
          expect(done.budget).toEqual({ amount: 10000, left: 10000 - done.total.gross });
        },
      ),
      { numRuns: 60 },
    );
  });
});

describe('dates', () => {
  test('in time, on the last day, late, past, ordered, not known', () => {
    const due = (given: Partial<ScheduleItem>, rules: Partial<ScheduleRules> = {}) =>
      schedule([item(given)], rules).orders[0].delivery;
    // Five days before Friday 18 December is Sunday 13; Friday 11 is the working day before.
    expect(due({})).toMatchObject({
      kind: 'in time',
      orderBy: '2026-12-11',
      daysLeft: 15,
      words: 'Order by Fri 11 Dec 2026 (15 days left).',
    });
    expect(due({}, { today: '2026-12-11' }).words).toBe('Order by Fri 11 Dec 2026 (today).');
    expect(due({}, { leadTimeIn: 'working days' }).orderBy).toBe('2026-12-11');
    expect(due({ leadTimeDays: 30 })).toMatchObject({
      kind: 'late',
      orderBy: '2026-11-18',
      arrives: '2026-12-28',
      lateBy: 10,
    });
    expect(due({ neededOn: '2026-11-20' })).toMatchObject({ kind: 'in the past', arrives: '2026-12-01' });
    expect(due({ leadTimeDays: null }).kind).toBe('lead time unknown');
    expect(due({}, { finishBy: null }).kind).toBe('no date');
    expect(due({ orderedOn: '2026-11-20', leadTimeDays: 40 })).toMatchObject({
      kind: 'ordered',
      arrives: '2026-12-30',
      lateBy: 12,
    });
  });

  test('a late order is offered the first of the shortlist that comes in time', () => {
    const substitutes = [
      { id: 'slow', finish: { ...fern, name: 'Moss' }, leadTimeDays: 60 },
      { id: 'unknown', finish: { ...fern, name: 'Ivy' }, leadTimeDays: null },
      { id: 'quick', finish: { ...fern, name: 'Reed' }, leadTimeDays: 10 },
      { id: 'quickest', finish: { ...fern, name: 'Rush' }, leadTimeDays: 1 },
    ];
    const late = schedule([item({ leadTimeDays: 30, substitutes })]).orders[0];
    expect(late.substitute).toEqual({ id: 'quick', arrives: '2026-12-07' });
    expect(late.words).toContain(
      'Ternhollow T 214 Reed, satin would come Mon 7 Dec 2026, 11 days before it is needed.',
    );
    const none = schedule([item({ leadTimeDays: 30, substitutes: substitutes.slice(0, 2) })]).orders[0];
    expect(none.substitute).toBeNull();
    expect(none.words).toContain('Nothing on the shortlist comes in time.');
    expect(schedule([item({ substitutes })]).orders[0].substitute).toBeNull();
  });

  test('fields that cannot be are named and left out, and nothing is lost', () => {
    const faulty = item({
      needs: [{ amount: -2, unit: 'l' }],
      packs: [can(0, 30), can(2.5, 60)],
      price: { amount: -1, currency: 'EUR', unit: 'l' },
      leadTimeDays: -3,
      neededOn: '2026-02-30',
      orderedOn: '2027-01-04',
    });
    const done = schedule([faulty], {
      budget: -5,
      finishBy: 'soon',
      tax: { name: 'VAT', rate: 190, included: false },
    });
    expect(done.problems.map(({ path, severity }) => `${path} ${severity}`)).toEqual([
      'items[0].packs[0].size error',
      'items[0].needs[0] error',
      'items[0].price error',
      'items[0].leadTimeDays error',
      'items[0].neededOn error',
      'items[0].orderedOn warning',
      'tax.rate error',
      'budget error',
      'finishBy error',
    ]);
    expect(done.lines).toHaveLength(1);
    expect(done.total.gross).toBe(0);
    expect(done.budget).toBeNull();
    expect(schedule([item({ neededOn: '2026-11-20' })]).problems).toMatchObject([
      { path: 'items[0].neededOn', severity: 'warning', words: 'Fri 20 Nov 2026 is past.' },
    ]);
  });
});

describe('changes after the yes', () => {
  const options = { currency: 'EUR', system: 'metric' } as const;
  const before = agreedLines(
    schedule([item({}), item({ id: 'b', surface: 'walls', finish: { ...fern, code: 'T 9' } })]),
  );

  test('a schedule that did not change has none, also after a trip through JSON', () => {
    expect(scheduleChanges(before, before, { ...options, notes: {} })).toEqual([]);
    expect(scheduleChanges(JSON.parse(JSON.stringify(before)), before, { ...options, notes: {} })).toEqual(
      [],
    );
  });

  test('was, is, why and who said yes stand on each', () => {
    const now = agreedLines(
      schedule([
        item({
          finish: { ...fern, code: 'T 300', name: 'Moss' },
          needs: [{ amount: 3, unit: 'l' }],
          neededOn: '2026-12-16',
        }),
        item({ id: 'c', surface: 'island', finish: null }),
      ]),
    );
    const notes = { a: { why: 'Fern is sold out.', who: 'Ada Penrose', on: '2026-11-25' } };
    const changes = scheduleChanges(before, now, { ...options, notes });
    expect(changes.map(({ lineId, field, agreed }) => [lineId, field, agreed])).toEqual([
      ['a', 'finish', true],
      ['a', 'quantity', true],
      ['a', 'cost', true],
      ['a', 'date', true],
      ['c', 'line', false],
      ['b', 'line', false],
    ]);
    expect(changes[0].words).toBe(
      'Kitchen, cabinets, finish coat: finish was Ternhollow T 214 Fern, satin, is Ternhollow T 300 Moss, satin. Why: Fern is sold out. Yes from Ada Penrose, Wed 25 Nov 2026.',
    );
    // 2.1 l: one can of 2.5 l, 60.00 and 19 %; 3 l: three of 1 l or 2.5 + 1 l, 90.00 and 19 %.
    expect(changes[2]).toMatchObject({ was: '71.40 EUR', is: '107.10 EUR' });
    expect(changes[5].words).toContain('taken out; was Ternhollow T 9 Fern, satin');
    expect(changes[5].words).toContain('Nobody has said yes to it yet.');
  });
});
