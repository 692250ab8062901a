import { describe, expect, test } from 'vitest';
import { daysBetween, isWorkingDay } from '#lib/finish/index.ts';
import { DEFAULT_TRADE, planOf, shortageWords, type Job } from '#lib/job/index.ts';
import { TODAY, chosenKitchen, sampleKitchen } from './sample-kitchen.ts';

const trade = (job: Job, fields: Partial<typeof DEFAULT_TRADE>) => {
  job.trade = { ...job.trade!, ...fields };
  return job;
};

describe('what the plan is asked', () => {
  test('boxes, fronts and parts with coats of their own stand apart', () => {
    const { rules, surfaceOf } = planOf(chosenKitchen(), { today: TODAY });
    const [boxes, island] = rules.surfaces;
    // Worked by hand in the schedule's test: face frame 2.295652 m², sides 1.758 m²; island 2.952 m².
    expect(boxes.area).toBeCloseTo(2.295652 + 1.758, 9);
    // 6 + 5 + 4 doors painted on both sides, 5 + 3 drawer fronts on one.
    expect(boxes.doors).toEqual({ count: 15, sides: 2 });
    expect(boxes.drawers).toEqual({ count: 8, sides: 1 });
    expect(boxes).toMatchObject({ coats: 2, primer: true, newHoles: true, application: 'HVLP' });
    expect(island).toMatchObject({ name: 'Cabinets, Island', coats: 3, doors: { count: 0 } });
    expect(island.area).toBeCloseTo(2.952, 9);
    expect(surfaceOf[boxes.id]).toBe('cabinets');
    expect(surfaceOf[island.id]).toBe('cabinets');
  });

  test('only what is not fixed is worked on', () => {
    const { rules } = planOf(chosenKitchen(), { today: TODAY });
    const kinds = rules.surfaces.map(({ kind }) => kind);
    expect(kinds).toEqual(['paint cabinets', 'paint cabinets', 'fit counter', 'paint walls', 'fit hardware']);
  });

  test('what nobody has chosen is planned from its candidates, and the plan says what it does not know', () => {
    const { rules, plan, schedule } = planOf(sampleKitchen(), { today: TODAY });
    expect(rules.surfaces.map(({ kind }) => kind)).toContain('paint cabinets');
    expect(plan.guessed.join(' ')).toContain('the finish of Kitchen, Cabinets comes is not known');
    expect(schedule.lines.every(({ neededOn }) => neededOn !== null)).toBe(true);
  });

  test('a finish that has no work in the plan is named', () => {
    const job = chosenKitchen();
    Object.assign(job.surfaces.floor, { state: 'chosen', swatchId: 'th-19' });
    const { unplanned } = planOf(job, { today: TODAY });
    expect(unplanned).toEqual(['Kitchen, Floor: the plan has no steps for paint there.']);
  });

  test('what is said of products counts, the worse of primer and paint', () => {
    const job = chosenKitchen();
    job.swatches['th-p1'].supply!.solventBased = true;
    job.swatches['th-p1'].supply!.twoPart = false;
    job.swatches['th-19'].supply!.solventBased = false;
    job.swatches['th-19'].supply!.twoPart = false;
    const [boxes] = planOf(job, { today: TODAY }).rules.surfaces;
    expect(boxes).toMatchObject({ solventBased: true, twoPart: false });
    const walls = planOf(job, { today: TODAY }).rules.surfaces.find(({ id }) => id === 'walls');
    expect(walls).toMatchObject({ solventBased: null, twoPart: null });
  });
});

describe('schedule and plan', () => {
  test('each line is needed on the day of the first step that uses it, and ordered before', () => {
    const { plan, schedule, rules } = planOf(chosenKitchen(), { today: TODAY });
    expect(schedule.lines).toHaveLength(5);
    for (const { item, neededOn, orderId } of schedule.lines) {
      const using = plan.steps.filter(({ finishId }) => finishId === item.id);
      expect(using.length, item.id).toBeGreaterThan(0);
      expect(neededOn, item.id).toBe(using.map(({ start }) => start.date).sort()[0]);
      const { delivery } = schedule.orders.find(({ id }) => id === orderId)!;
      expect(delivery.kind, item.id).toBe('in time');
      expect(daysBetween(delivery.orderBy!, neededOn!)).toBeGreaterThanOrEqual(item.leadTimeDays!);
      expect(isWorkingDay(delivery.orderBy!, rules.calendar)).toBe(true);
    }
  });

  test('what comes too late is late, and a candidate that would come in time is offered', () => {
    const job = chosenKitchen();
    job.swatches['th-19'].leadTimeDays = 90;
    const { plan, schedule } = planOf(job, { today: TODAY, ranked: { cabinets: ['th-19', 'th-12'] } });
    expect(plan.spare).toBeLessThan(0);
    const order = schedule.orders.find(({ id }) => id === 'cabinets finish')!;
    expect(order.delivery.kind).toBe('late');
    expect(order.substitute?.id).toBe('th-12');
    // Nothing else is late because of it.
    expect(schedule.orders.filter(({ delivery }) => delivery.kind === 'late')).toHaveLength(1);
  });

  test('the plan waits for a delivery', () => {
    const job = trade(chosenKitchen(), { startOn: TODAY, ordered: { 'cabinets primer': '2026-12-10' } });
    const { plan } = planOf(job, { today: TODAY });
    // Ordered on Thursday 10 December, three calendar days on the way: Sunday, so the Monday.
    const primed = plan.steps.filter(({ finishId }) => finishId === 'cabinets primer');
    expect(primed.map(({ start }) => start.date).sort()[0] >= '2026-12-14').toBe(true);
  });
});

describe('whatever a document holds', () => {
  test('days that are none or lie years away are named and not counted with', () => {
    const job = trade(chosenKitchen(), {
      startOn: '9999-12-31',
      ordered: { 'cabinets primer': '9999-12-30', 'walls finish': 'soon' },
      moved: { 'cabinets/clean': '0001-01-01', 'walls/clean': '9000-01-01' },
      holidays: ['never'],
      weekdays: [],
    });
    job.finishBy = '9999-12-31';
    const started = performance.now();
    const { plan, schedule, problems } = planOf(job, { today: TODAY });
    expect(performance.now() - started).toBeLessThan(5000);
    expect(problems.map(({ path }) => path)).toEqual([
      'finishBy',
      'trade.startOn',
      'trade.ordered.cabinets primer',
      'trade.moved.walls/clean',
    ]);
    expect(plan.problems.map(({ words }) => words).join(' ')).toContain('0001-01-01');
    expect(schedule.problems.map(({ words }) => words).join(' ')).toContain('soon');
    expect(plan.steps.length).toBeGreaterThan(0);
  });

  test('sizes, counts, hands and prices that cannot be never throw', () => {
    const job = trade(chosenKitchen(), {
      hands: -3,
      hoursPerDay: 1e9,
      doorSpace: 0.5,
      yearBuilt: -1,
      tax: { name: 'VAT', rate: -5, included: false },
      budget: -1,
      hours: { 'cabinets/clean': -1 },
    });
    const [part] = Object.values(job.surfaces.cabinets.parts!);
    if (part.kind === 'cabinets') {
      job.surfaces.cabinets.parts = {
        [part.id]: { ...part, doors: [{ width: -450, height: 1e9, count: 1.5 }], thickness: -1, profile: 9 },
      };
    }
    job.surfaces.walls.work = {
      primerId: null,
      primerCoats: -1,
      coats: 0,
      application: 'airless',
      landed: 7,
    };
    job.swatches['th-19'].supply!.packs.c1.size = -1;
    job.swatches['th-19'].supply!.packs.c5.price = -104;
    job.swatches['th-19'].supply!.recoatHours = -16;
    const { plan, schedule } = planOf(job, { today: TODAY });
    expect(plan.problems.length).toBeGreaterThan(4);
    expect(schedule.problems.length).toBeGreaterThan(2);
    expect(Number.isSafeInteger(schedule.total.gross)).toBe(true);
    for (const { need } of schedule.lines) expect(need === null || need.amount > 0).toBe(true);
  });

  test('an empty job has an empty plan', () => {
    const job = chosenKitchen();
    job.surfaces = {};
    const { plan, schedule } = planOf(job, { today: TODAY });
    expect(plan.steps).toEqual([]);
    expect(schedule.lines).toEqual([]);
    expect(schedule.total.gross).toBe(0);
  });

  test('today has to be a day', () => {
    expect(() => planOf(chosenKitchen(), { today: '2026-02-30' })).toThrow(TypeError);
  });
});

test('paint that may not be enough is told, with by how much', () => {
  // Primer, by hand: 19.839657 m² ÷ 7.362716 m²/l ÷ 0.5 that lands at least = 5.389 l, and 5 l are bought. Of the finish coat
  // (16.887657 × 2 + 2.952 × 3) ÷ 8.589835 ÷ 0.5 = 9.926 l of 10 l: enough.
  const told = shortageWords(planOf(chosenKitchen(), { today: TODAY }));
  expect(told).toHaveLength(1);
  expect(told[0]).toMatch(
    /Grip primer.*, primer: .* 0\.39 l \(0\.10 US gal\) more may be needed than is bought\.$/,
  );
});
