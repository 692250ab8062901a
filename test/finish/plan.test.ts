import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  USUAL_WEEK,
  WORK_KINDS,
  dateWords,
  dayNumber,
  daysAfter,
  isWorkingDay,
  nearestWorkingDay,
  planSteps,
  workingDaysAfter,
} from '#lib/finish/index.ts';
import type { Plan, PlanRules, PlanStep, SurfaceWork, WorkCalendar } from '#lib/finish/index.ts';
import { arrival, firstOrderDay } from '#lib/finish/delivery.ts';
import { spareDays } from '#lib/finish/plan-words.ts';
import { everything, kitchen, plan, quarters, surface } from './plan-work.ts';

const lines = ({ steps }: Plan) =>
  steps.map(({ id, start, end, dry }) => {
    const at = ({ date, hour }: typeof start) => `${dateWords(date).slice(0, 6).trim()} ${hour}`;
    return `${id}: ${at(start)} to ${at(end)}${dry.date === end.date && dry.hour === end.hour ? '' : `, dry ${at(dry)}`}`;
  });
const step = ({ steps }: Plan, id: string): PlanStep => {
  const found = steps.find((one) => one.id === id);
  if (!found) throw new Error(`Expected a step ${id}, got ${steps.map((one) => one.id).join(', ')}`);
  return found;
};

describe('worked by hand from the rates, day by day', () => {
  test('two doors that lie drying together', () => {
    // 2 × 0.125 h off, 2 × 0.125 clean and 1 h wet, 2 × 0.25 sand, 2 × 0.0625 dust (a quarter begun counts), a side:
    // 2 × 0.125 prime and 4 h, 2 × 0.1875 sand lightly and coat and 16 h, the same and 24 h; 2 × 0.03125 more to turn; 2 × 0.25 hang.
    expect(lines(plan([surface({ doors: { count: 2, sides: 2 } })], { space: 2 }))).toEqual([
      'room:k/cover: Mon 30 8 to Mon 30 9',
      'cab/take-off: Mon 30 9 to Mon 30 9.25',
      'cab/clean-fronts: Mon 30 9.25 to Mon 30 9.5, dry Mon 30 10.5',
      'cab/sand-fronts: Mon 30 10.5 to Mon 30 11',
      'cab/dust-off-fronts: Mon 30 11 to Mon 30 11.25',
      'cab/prime/side-1/batch-1: Mon 30 11.25 to Mon 30 11.5, dry Mon 30 15.5',
      'cab/coat-1/side-1/batch-1: Mon 30 15.5 to Mon 30 16, dry Tue 1 8',
      'cab/coat-2/side-1/batch-1: Tue 1 8 to Tue 1 8.5, dry Wed 2 8.5',
      'cab/prime/side-2/batch-1: Wed 2 8.5 to Wed 2 9, dry Wed 2 13',
      'cab/coat-1/side-2/batch-1: Wed 2 13 to Wed 2 13.5, dry Thu 3 5.5',
      'cab/coat-2/side-2/batch-1: Thu 3 8 to Thu 3 8.5, dry Fri 4 8.5',
      'cab/hang: Fri 4 8.5 to Fri 4 9',
    ]);
  });

  test('sixteen doors where eight can lie: two batches take turns, nothing that fits a day is left overnight', () => {
    const made = plan([surface({ doors: { count: 16, sides: 2 } })], { space: 8 });
    expect(lines(made)).toEqual([
      'room:k/cover: Mon 30 8 to Mon 30 9',
      'cab/take-off: Mon 30 9 to Mon 30 11',
      'cab/clean-fronts: Mon 30 11 to Mon 30 13, dry Mon 30 14',
      // Four hours, and two are left of Monday.
      'cab/sand-fronts: Tue 1 8 to Tue 1 12',
      'cab/dust-off-fronts: Tue 1 12 to Tue 1 13',
      'cab/prime/side-1/batch-1: Tue 1 13 to Tue 1 14, dry Tue 1 18',
      'cab/coat-1/side-1/batch-1: Wed 2 8 to Wed 2 9.5, dry Thu 3 1.5',
      'cab/coat-2/side-1/batch-1: Thu 3 8 to Thu 3 9.5, dry Fri 4 9.5',
      // The space is free again.
      'cab/prime/side-1/batch-2: Fri 4 9.5 to Fri 4 10.5, dry Fri 4 14.5',
      'cab/coat-1/side-1/batch-2: Fri 4 14.5 to Fri 4 16, dry Sat 5 8',
      // It dries on over the weekend.
      'cab/coat-2/side-1/batch-2: Mon 7 8 to Mon 7 9.5, dry Tue 8 9.5',
      'cab/prime/side-2/batch-1: Tue 8 9.5 to Tue 8 10.75, dry Tue 8 14.75',
      // An hour and a half, and one and a quarter are left of Tuesday.
      'cab/coat-1/side-2/batch-1: Wed 9 8 to Wed 9 9.5, dry Thu 10 1.5',
      'cab/coat-2/side-2/batch-1: Thu 10 8 to Thu 10 9.5, dry Fri 11 9.5',
      'cab/prime/side-2/batch-2: Fri 11 9.5 to Fri 11 10.75, dry Fri 11 14.75',
      'cab/coat-1/side-2/batch-2: Mon 14 8 to Mon 14 9.5, dry Tue 15 1.5',
      'cab/coat-2/side-2/batch-2: Tue 15 8 to Tue 15 9.5, dry Wed 16 9.5',
      'cab/hang: Wed 16 9.5 to Wed 16 13.5',
    ]);
    expect(made.finish).toBe('2026-12-16');
    expect(made.words).toContain('It waits for drying space: 8 at once.');
  });

  test('half of the doors lie drying where nobody said, and batches are even', () => {
    const pieces = (count: number, space: number | null) => {
      const list = planSteps([surface({ doors: { count, sides: 1 }, coats: 1, primer: false })], {
        space,
        hours: {},
      });
      return list.steps.flatMap(({ batch }) => (batch ? [batch.pieces] : []));
    };
    expect(pieces(16, null)).toEqual([8, 8]);
    expect(pieces(1, null)).toEqual([1]);
    expect(pieces(16, 7)).toEqual([6, 5, 5]);
    expect(pieces(3, 20)).toEqual([3]);
  });

  test('drawer fronts painted on one side are not turned', () => {
    const { steps } = planSteps(
      [surface({ doors: { count: 3, sides: 2 }, drawers: { count: 3, sides: 1 }, primer: false, coats: 1 })],
      { space: 4, hours: {} },
    );
    expect(steps.filter(({ task }) => task === 'coat').map(({ words }) => words)).toEqual([
      'Paint the first side of doors 1-3',
      'Turn, then paint the second side of doors 1-3',
      'Paint the first side of drawer fronts 1-3',
    ]);
  });
});

describe('the order of the work', () => {
  const made = plan(everything);
  const before = (first: string, second: string) => {
    const [a, b] = [step(made, first), step(made, second)];
    expect(quarters(b.start), `${first} before ${second}`).toBeGreaterThanOrEqual(quarters(a.dry));
  };
  test('runs from the covered floor to the handles', () => {
    expect(made.steps[0].id).toBe('room:k/cover');
    before('c/coat-2', 'w/coat-1');
    before('w/coat-2', 'cab/prime');
    before('cab/holes-fronts', 'cab/prime/side-1/batch-1');
    before('cab/coat-2', 'co/fit');
    before('room:k/cover', 'co/template');
    before('co/fit', 'ti/lay');
    before('ti/grout', 'f/lay');
    before('f/lay', 't/prime');
    before('co/fit', 'cab/hang');
    for (const { id } of made.steps) if (id !== 'h/fit') before(id, 'h/fit');
    for (const dusty of ['c', 'w', 'cab', 't', 'd'])
      for (const wet of ['c/coat-1', 'w/coat-1', 'cab/prime', 't/prime', 'd/prime'])
        before(`${dusty}/dust-off`, wet);
  });

  test('a room that lacks kinds of work keeps the order of the rest', () => {
    const few = plan(everything.filter(({ id }) => ['c', 'cab', 'ti'].includes(id)));
    expect(quarters(step(few, 'cab/prime').start)).toBeGreaterThanOrEqual(
      quarters(step(few, 'c/coat-2').dry),
    );
    expect(few.steps.map(({ id }) => id)).not.toContain('w/coat-1');
  });

  test('two rooms do not wait for each other', () => {
    const bath = { id: 'b', name: 'Bath' };
    const both = plan(
      [
        surface({ id: 'w1', kind: 'paint walls', area: 10 }),
        surface({ id: 'w2', room: bath, kind: 'paint ceiling', area: 10 }),
      ],
      { people: 2 },
    );
    expect(step(both, 'w1/clean').start).toEqual(step(both, 'w2/clean').start);
  });

  test('the data of the product replace common practice', () => {
    const cab = surface({ area: 2, drying: { primer: 2, recoat: null, handle: 72 } });
    const made = plan([cab]);
    const wait = (id: string) => quarters(step(made, id).dry) - quarters(step(made, id).end);
    expect([wait('cab/prime'), wait('cab/coat-1'), wait('cab/coat-2')]).toEqual([2 * 4, 16 * 4, 72 * 4]);
    expect(step(made, 'cab/coat-1').description).toContain('common practice; the data sheet counts first');
    expect(step(made, 'cab/prime').description).toContain('2 hours of drying, as given');
  });
});

describe('deliveries', () => {
  const counter = surface({ id: 'co', name: 'counter', kind: 'fit counter', finishes: { slab: 'slab' } });
  const slab = { id: 'slab', name: 'Grey slab', leadTimeDays: 21, orderedOn: null };

  test('a step waits for its finish, and a late plan says which', () => {
    // Ordered on Monday 30 November, 21 days: Monday 21 December.
    const made = plan([counter], { finishes: [slab], finishBy: '2026-12-17' });
    expect(step(made, 'co/fit').start).toEqual({ date: '2026-12-21', hour: 8 });
    expect(made.spare).toBe(-2);
    expect(made.words).toContain(
      '2 working days late for Thu 17 Dec 2026, because Grey slab comes Mon 21 Dec 2026.',
    );
    expect(made.chain).toEqual(['co/fit']);
  });

  test('what is ordered comes when it comes; what nobody knows is asked for', () => {
    const ordered = plan([counter], { finishes: [{ ...slab, orderedOn: '2026-11-16' }] });
    expect(step(ordered, 'co/fit').start.date).toBe('2026-12-07');
    const unknown = plan([counter], { finishes: [{ ...slab, leadTimeDays: null }] });
    expect(unknown.guessed).toEqual(['When Grey slab comes is not known: the plan counts it as there. Ask.']);
    expect(unknown.deliveries[0].delivery.kind).toBe('lead time unknown');
    // The same product for another surface is another line and the same question.
    const two = [counter, { ...counter, id: 'co2', finishes: { slab: 'slab2' } }];
    const again = [slab, { ...slab, id: 'slab2' }].map((one) => ({ ...one, leadTimeDays: null }));
    const twice = plan(two, { finishes: again });
    expect(twice.guessed.filter((words) => words.includes('Grey slab'))).toEqual(unknown.guessed);
    expect(twice.deliveries).toHaveLength(2);
  });

  test('a plan made backwards begins as late as it may, and orders are due for its steps', () => {
    // Two doors take from Monday morning to Friday morning (above): for a Friday they begin on its Monday.
    const made = plan([surface({ doors: { count: 2, sides: 2 }, finishes: { 'finish coat': 'fern' } })], {
      space: 2,
      finishBy: '2026-12-18',
      finishes: [{ id: 'fern', name: 'Fern', leadTimeDays: 5, orderedOn: null }],
    });
    expect(made.start).toBe('2026-12-14');
    expect(made.finish).toBe('2026-12-18');
    expect(made.spare).toBe(0);
    expect(made.words).toContain('Just in time for Fri 18 Dec 2026.');
    // First coat on Monday 14 December; five days before is Wednesday 9.
    expect(made.deliveries).toMatchObject([
      { finishId: 'fern', stepId: 'cab/coat-1/side-1/batch-1', neededOn: '2026-12-14' },
    ]);
    expect(made.deliveries[0].delivery.orderBy).toBe('2026-12-09');
  });

  test('with a start of its own a plan says what is to spare', () => {
    const made = plan([surface({ doors: { count: 2, sides: 2 } })], {
      space: 2,
      start: '2026-11-30',
      finishBy: '2026-12-09',
    });
    // Friday 4 December; Monday, Tuesday and Wednesday are left.
    expect(made.spare).toBe(3);
    expect(made.words).toContain('3 working days to spare before Wed 9 Dec 2026.');
  });
});

test('spare and late days are working days; late over a weekend is a day late', () => {
  // Friday 4 December 2026 and the days around it.
  const spare = (finish: string, by: string) => spareDays(finish, by, USUAL_WEEK);
  expect(spare('2026-12-04', '2026-12-04')).toBe(0);
  expect(spare('2026-12-04', '2026-12-07')).toBe(1);
  expect(spare('2026-12-04', '2026-12-06')).toBe(0);
  expect(spare('2026-12-05', '2026-12-04')).toBe(-1);
  expect(spare('2026-12-08', '2026-12-04')).toBe(-2);
});

describe('moved by hand', () => {
  const doors = [surface({ doors: { count: 2, sides: 2 } })];
  test('a step stays on its day, and what follows comes after it', () => {
    const made = plan(doors, { space: 2, moved: { 'cab/coat-2/side-1/batch-1': '2026-12-04' } });
    expect(step(made, 'cab/coat-2/side-1/batch-1')).toMatchObject({
      start: { date: '2026-12-04', hour: 8 },
      movedTo: '2026-12-04',
      kept: true,
    });
    expect(step(made, 'cab/prime/side-2/batch-1').start).toEqual({ date: '2026-12-07', hour: 8 });
    expect(made.problems).toEqual([]);
  });

  test('a day before the paint is dry is said, and kept', () => {
    const made = plan(doors, { space: 2, moved: { 'cab/prime/side-2/batch-1': '2026-12-01' } });
    expect(step(made, 'cab/prime/side-2/batch-1')).toMatchObject({
      start: { date: '2026-12-02', hour: 8.5 },
      movedTo: '2026-12-01',
      kept: false,
    });
    expect(made.problems).toMatchObject([{ path: 'moved.cab/prime/side-2/batch-1', severity: 'warning' }]);
    expect(made.problems[0].words).toContain('is ready Wed 2 Dec 2026, 08:30');
  });

  test('hands are kept free for it', () => {
    // The walls would take both days; the template of the moved step is on Tuesday.
    const two = [
      surface({ id: 'w', kind: 'paint walls', area: 150, primer: false, coats: 1 }),
      surface({ id: 'x', room: { id: 'b', name: 'Bath' }, name: 'hooks', kind: 'fit hardware', pieces: 16 }),
    ];
    const made = plan(two, { moved: { 'x/fit': '2026-12-01' } });
    expect(step(made, 'x/fit')).toMatchObject({ start: { date: '2026-12-01', hour: 8 }, kept: true });
  });

  test('what it follows is done first where its day is near', () => {
    // The longer chain is the floor's, 36 hours from Monday on; the doors are cleaned and primed before it all the same.
    const bath = surface({ id: 'f', room: { id: 'b', name: 'Bath' }, kind: 'lay floor', area: 60 });
    const id = 'cab/coat-1/side-1/batch-1';
    const made = plan([...doors, bath], { space: 2, moved: { [id]: '2026-12-01' } });
    expect(step(made, id)).toMatchObject({ start: { date: '2026-12-01', hour: 8 }, kept: true });
  });

  test('a plan made backwards begins early enough for it', () => {
    // Coat 1 on Thursday is dry on Friday at 8; the steps before it fit into Thursday.
    const moved = { 'cab/coat-2/side-1/batch-1': '2026-12-04' };
    const made = plan(doors, { space: 2, finishBy: '2026-12-31', moved });
    expect(made.start).toBe('2026-12-03');
    expect(step(made, 'cab/coat-2/side-1/batch-1').kept).toBe(true);
  });

  test('days off, days that are none and steps that are gone are said', () => {
    const made = plan(doors, {
      space: 2,
      moved: { 'cab/hang': '2026-12-05', 'cab/sand-fronts': '2026-02-30', 'gone/coat-1': '2026-12-05' },
    });
    expect(step(made, 'cab/hang')).toMatchObject({ start: { date: '2026-12-07', hour: 8 }, kept: true });
    expect(made.problems.map(({ path }) => path).sort()).toEqual([
      'moved.cab/hang',
      'moved.cab/sand-fronts',
      'moved.gone/coat-1',
    ]);
  });
});

describe('bad input', () => {
  test('is said at its field, and the usual is counted with', () => {
    const made = plan(
      [
        surface({
          area: -3,
          coats: 0,
          doors: { count: 2.5, sides: 2 },
          drying: { primer: -1, recoat: null, handle: null },
        }),
      ],
      {
        people: 0,
        hoursPerDay: 30,
        space: 0,
        start: '2026-11-23',
        finishBy: '2026-13-01',
        yearBuilt: 3000,
        hours: { 'cab/clean': -1, 'gone/clean': 2 },
        finishes: [{ id: 'x', name: 'X', leadTimeDays: -2, orderedOn: null }],
      },
    );
    expect(made.problems.map(({ path }) => path).sort()).toEqual(
      [
        'finishBy',
        'finishes[0].leadTimeDays',
        'hours.cab/clean',
        'hours.gone/clean',
        'hoursPerDay',
        'people',
        'space',
        'start',
        'surfaces[0].area',
        'surfaces[0].coats',
        'surfaces[0].doors.count',
        'surfaces[0].drying.primer',
        'yearBuilt',
      ].sort(),
    );
    expect(made.steps.filter(({ task }) => task === 'coat')).toHaveLength(2);
    expect(made.guessed[0]).toContain('its size is not known; 4 m² are counted with');
  });

  test('nothing to do is no plan', () => {
    expect(plan([])).toMatchObject({ steps: [], start: null, finish: null, words: 'Nothing is planned.' });
    const none = plan([surface({})]);
    expect(none.guessed).toEqual(['Kitchen, cabinets: nothing is planned, as there is nothing of it.']);
  });

  test('today must be a day, and a week must have work', () => {
    expect(() => plan([], { today: 'soon' })).toThrow(TypeError);
    expect(() => plan(everything, { calendar: { weekdays: [], holidays: [] } })).toThrow(RangeError);
  });
});

const surfaces = fc
  .uniqueArray(fc.integer({ min: 0, max: 30 }), { minLength: 1, maxLength: 7 })
  .chain((seeds) =>
    fc
      .tuple(
        ...seeds.map((seed) =>
          fc.record({
            kind: fc.constantFrom(...WORK_KINDS),
            area: fc.option(fc.double({ min: 0, max: 60, noNaN: true }), { freq: 5 }),
            doors: fc.record({ count: fc.integer({ min: 0, max: 12 }), sides: fc.constantFrom(1, 2) }),
            drawers: fc.record({ count: fc.integer({ min: 0, max: 5 }), sides: fc.constantFrom(1, 2) }),
            pieces: fc.option(fc.integer({ min: 1, max: 60 })),
            newHoles: fc.boolean(),
            coats: fc.integer({ min: 1, max: 3 }),
            primer: fc.boolean(),
            room: fc.constantFrom(kitchen, { id: 'b', name: 'Bath' }),
            drying: fc.record({
              primer: fc.option(fc.double({ min: 0, max: 30, noNaN: true })),
              recoat: fc.option(fc.double({ min: 0, max: 30, noNaN: true })),
              handle: fc.option(fc.double({ min: 0, max: 90, noNaN: true })),
            }),
            finishes: fc.constantFrom({}, { 'finish coat': 'a', tile: 'b' }, { slab: 'a', primer: 'b' }),
          }),
        ),
      )
      .map((given) => given.map((one, k) => surface({ ...one, id: `s${k}` } as Partial<SurfaceWork>))),
  );
const calendar: fc.Arbitrary<WorkCalendar> = fc.record({
  weekdays: fc.constantFrom([1, 2, 3, 4, 5], [1, 2, 3, 4, 5, 6], [2, 4]),
  holidays: fc.constantFrom([], ['2026-12-02', '2026-12-03'], ['2026-12-25']),
});
const situation = fc.record({
  people: fc.integer({ min: 1, max: 3 }),
  hoursPerDay: fc.constantFrom(4, 7.5, 8, 10),
  space: fc.option(fc.integer({ min: 1, max: 9 })),
  calendar,
  start: fc.option(fc.constantFrom('2026-11-30', '2026-12-05', '2026-12-24')),
  finishBy: fc.option(fc.constantFrom('2026-12-11', '2027-01-20', '2027-03-01')),
  finishes: fc
    .tuple(fc.option(fc.integer({ min: 0, max: 40 })), fc.integer({ min: 0, max: 9 }))
    .map(([a, b]) => [
      { id: 'a', name: 'A', leadTimeDays: a, orderedOn: null },
      { id: 'b', name: 'B', leadTimeDays: b, orderedOn: '2026-11-27' },
    ]),
  leadTimeIn: fc.constantFrom('calendar days', 'working days'),
}) as fc.Arbitrary<Partial<PlanRules>>;
/** A plan, and the same with some steps moved. */
const plans = fc
  .tuple(
    surfaces,
    situation,
    fc.array(fc.tuple(fc.nat(), fc.integer({ min: -5, max: 40 })), { maxLength: 3 }),
  )
  .map(([work, rules, moves]) => {
    const unmoved = plan(work, rules);
    const { steps } = unmoved;
    const moved = Object.fromEntries(
      moves.flatMap(([k, days]) =>
        steps.length ? [[steps[k % steps.length].id, daysAfter('2026-11-30', days)]] : [],
      ),
    );
    const given = { ...rules, moved };
    return { work, given, made: plan(work, given), unmoved };
  });
const rulesOf = (given: Partial<PlanRules>) => ({
  calendar: given.calendar!,
  leadTimeIn: given.leadTimeIn!,
  today: '2026-11-30',
});
const runs = { numRuns: 80 };

describe('whatever is planned', () => {
  test('nothing begins before what it follows is dry, nor before its finish is there', () => {
    fc.assert(
      fc.property(plans, ({ made, given }) => {
        for (const one of made.steps) {
          for (const id of one.after)
            expect(quarters(one.start)).toBeGreaterThanOrEqual(quarters(step(made, id).dry));
          expect(quarters(one.dry) - quarters(one.end)).toBe(Math.max(0, Math.ceil(one.waits * 4 - 1e-9)));
          const finish = given.finishes!.find(({ id }) => id === one.finishId);
          if (!finish || finish.leadTimeDays === null) continue;
          const rules = rulesOf(given);
          const comes = arrival(finish.orderedOn ?? firstOrderDay(rules), finish.leadTimeDays, rules);
          expect(one.start.date >= comes).toBe(true);
        }
      }),
      runs,
    );
  });

  test('work is done on working days in working hours, as long as it takes, and not left overnight', () => {
    fc.assert(
      fc.property(plans, ({ made, given }) => {
        const day = given.hoursPerDay!;
        for (const { start, end, hours } of made.steps) {
          let worked = 0;
          for (let date = start.date; date <= end.date; date = daysAfter(date, 1)) {
            if (!isWorkingDay(date, given.calendar!)) continue;
            const from = date === start.date ? start.hour : 8;
            const to = date === end.date ? end.hour : 8 + day;
            worked += to - from;
          }
          expect(isWorkingDay(start.date, given.calendar!)).toBe(true);
          expect(isWorkingDay(end.date, given.calendar!)).toBe(true);
          expect(start.hour).toBeGreaterThanOrEqual(8);
          expect(start.hour).toBeLessThan(8 + day);
          expect(end.hour).toBeLessThanOrEqual(8 + day);
          expect(worked).toBe(Math.max(0.25, Math.ceil(hours * 4 - 1e-9) / 4));
          if (worked <= day) expect(end.date).toBe(start.date);
        }
      }),
      runs,
    );
  });

  test('never more people work than there are, and each does one thing at a time', () => {
    fc.assert(
      fc.property(plans, ({ made, given }) => {
        const ours = made.steps.filter(({ trade }) => trade === null);
        for (const one of ours) {
          const at = quarters(one.start);
          const busy = ours.filter(({ start, end }) => quarters(start) <= at && quarters(end) > at);
          expect(busy.length).toBeLessThanOrEqual(given.people!);
          expect(new Set(busy.map(({ person }) => person)).size).toBe(busy.length);
        }
        for (const { trade, person } of made.steps) expect(person === null).toBe(trade !== null);
      }),
      runs,
    );
  });

  test('never more doors lie drying than there is room', () => {
    fc.assert(
      fc.property(plans, ({ made, given }) => {
        const stays = new Map<string, { pieces: number; from: number; to: number }>();
        for (const { batch, start, dry } of made.steps) {
          if (!batch) continue;
          const stay = stays.get(batch.id) ?? { pieces: batch.pieces, from: Infinity, to: -Infinity };
          stay.from = Math.min(stay.from, quarters(start));
          stay.to = Math.max(stay.to, quarters(dry));
          stays.set(batch.id, stay);
        }
        const all = [...stays.values()];
        for (const { from } of all) {
          const lying = all.filter((one) => one.from <= from && one.to > from);
          const pieces = lying.reduce((sum, one) => sum + one.pieces, 0);
          expect(pieces).toBeLessThanOrEqual(given.space ?? made.space);
        }
      }),
      runs,
    );
  });

  test('moving loses no step: each begins on its day or after it, and what is not kept is said', () => {
    fc.assert(
      fc.property(plans, ({ made, unmoved, given }) => {
        const ids = ({ steps }: Plan) => steps.map(({ id }) => id).sort();
        expect(ids(made)).toEqual(ids(unmoved));
        expect(new Set(ids(made)).size).toBe(made.steps.length);
        for (const [id, date] of Object.entries(given.moved!)) {
          const one = step(made, id);
          const on = nearestWorkingDay(date, 1, given.calendar!);
          expect(one.movedTo).toBe(date);
          expect(one.start.date >= on).toBe(true);
          expect(one.kept).toBe(one.start.date === on);
          const said = made.problems.some(({ path }) => path === `moved.${id}`);
          expect(said).toBe(!one.kept || on !== date);
        }
      }),
      runs,
    );
  });

  test('the end is never before the bound, and the chain that fixes it runs forward to it', () => {
    fc.assert(
      fc.property(plans, ({ made }) => {
        if (made.steps.length === 0) return;
        expect(made.finish! >= made.atLeast!).toBe(true);
        const chain = made.chain.map((id) => step(made, id));
        const last = Math.max(...made.steps.map(({ dry }) => quarters(dry)));
        expect(quarters(chain.at(-1)!.dry)).toBe(last);
        expect(made.finish).toBe(chain.at(-1)!.dry.date);
        chain.slice(1).forEach((one, k) => {
          expect(one.because.stepId).toBe(chain[k].id);
          expect(quarters(chain[k].start)).toBeLessThan(quarters(one.start));
        });
      }),
      runs,
    );
  });

  test('backwards: in time, and a working day later it would be too late or a moved step not kept', () => {
    fc.assert(
      fc.property(plans, ({ made, work, given }) => {
        if (given.start !== null || given.finishBy === null || made.steps.length === 0) return;
        const kept = ({ steps }: Plan) => steps.filter((one) => one.kept).length;
        if (made.spare! < 0) {
          expect(made.start! >= '2026-11-30').toBe(true);
          return;
        }
        expect(made.finish! <= given.finishBy!).toBe(true);
        // From the start that was found: the first step may wait for its finish.
        let start = nearestWorkingDay('2026-11-30', 1, given.calendar!);
        const from = (date: string) => plan(work, { ...given, start: date });
        while (JSON.stringify(from(start).steps) !== JSON.stringify(made.steps))
          start = workingDaysAfter(start, 1, given.calendar!);
        while (JSON.stringify(from(start).steps) === JSON.stringify(made.steps) && start <= given.finishBy!)
          start = workingDaysAfter(start, 1, given.calendar!);
        const later = from(start);
        expect(later.finish! > given.finishBy! || kept(later) < kept(made)).toBe(true);
      }),
      { numRuns: 40 },
    );
  });

  test('it is the same every time, and a week later a week later, summer time or not', () => {
    // On 28 March 2027 clocks go forward in the European Union (Directive 2000/84/EC: last Sunday of March).
    const rules = { calendar: USUAL_WEEK, space: 5, people: 2 };
    const at = (start: string) => plan(everything, { ...rules, start });
    expect(at('2027-03-22')).toEqual(at('2027-03-22'));
    const moments = (made: Plan) => made.steps.map(({ start, end, dry }) => [start, end, dry].map(quarters));
    const later = moments(at('2027-03-22')).map((of) => of.map((one) => one - 7 * 96));
    expect(later).toEqual(moments(at('2027-03-15')));
  });

  test('bars, rows and texts say what the steps say', () => {
    const made = plan(everything, { yearBuilt: 1931 });
    const rows = made.groups.flatMap(({ stepIds }) => stepIds);
    expect([...rows].sort()).toEqual(made.steps.map(({ id }) => id).sort());
    expect(made.groups[0]).toMatchObject({ id: 'room:k', surface: '' });
    for (const { bar, start, end, cautions, description, summary } of made.steps) {
      expect(bar.from).toBe(dayNumber(start.date)! - dayNumber(made.start!)! + (start.hour - 8) / 8);
      expect(bar.to).toBeGreaterThan(bar.from);
      expect(bar.to).toBe(dayNumber(end.date)! - dayNumber(made.start!)! + (end.hour - 8) / 8);
      expect(bar.dry).toBeGreaterThanOrEqual(bar.to);
      expect(summary.startsWith('Kitchen')).toBe(true);
      for (const { words } of cautions) expect(description).toContain(words);
    }
  });
});
