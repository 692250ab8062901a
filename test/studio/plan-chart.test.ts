import {
  daysAfter,
  daysBetween,
  isWorkingDay,
  workPlan,
  type Plan,
  type PlanRules,
  type SurfaceWork,
} from '#lib/finish/index.ts';
import { applyEdit, DEFAULT_TRADE, inverse, setting, type Job } from '#lib/job/index.ts';
import { describe, expect, test } from 'vitest';
import {
  barWords,
  cautionsOf,
  chartGroups,
  DAY_WIDTHS,
  groupsAs,
  LOCAL_RULES,
  planDays,
  planScale,
  shiftedBar,
  wordedBars,
} from '../../src/lib/studio/plan-chart.ts';
import {
  chainWords,
  dayWords,
  deliveryName,
  doneWords,
  movedWords,
  nextDay,
  settingsWords,
  stepLabel,
  stepName,
  tradeValues,
} from '../../src/lib/studio/plan-words.ts';
import { kitchen } from '../job/kitchen.ts';

const none = { count: 0, sides: 2 } as const;

function surface(given: Partial<SurfaceWork> & Pick<SurfaceWork, 'id' | 'name' | 'kind'>): SurfaceWork {
  return {
    room: { id: 'k', name: 'Kitchen' },
    area: 4,
    doors: none,
    drawers: none,
    pieces: null,
    newHoles: false,
    coats: 2,
    primer: true,
    application: 'HVLP',
    twoPart: null,
    solventBased: null,
    fabricationDays: null,
    drying: { primer: null, recoat: null, handle: null },
    finishes: {},
    ...given,
  };
}

const CABINETS = surface({
  id: 'cabinets',
  name: 'Cabinets',
  kind: 'paint cabinets',
  doors: { count: 16, sides: 2 },
  newHoles: true,
  finishes: { 'finish coat': 'sage' },
});
const SURFACES = [
  CABINETS,
  surface({ id: 'walls', name: 'Walls', kind: 'paint walls', area: 30, primer: false }),
  surface({ id: 'counter', name: 'Counter', kind: 'fit counter' }),
  surface({ id: 'tile', name: 'Backsplash', kind: 'tile' }),
  surface({ id: 'handles', name: 'Handles', kind: 'fit hardware', pieces: 16 }),
];

function rulesOf(given: Partial<PlanRules> = {}): PlanRules {
  return {
    today: '2026-11-26',
    calendar: { weekdays: [1, 2, 3, 4, 5], holidays: ['2027-01-01'] },
    leadTimeIn: 'calendar days',
    surfaces: SURFACES,
    finishes: [{ id: 'sage', name: 'Sage', leadTimeDays: 3, orderedOn: null }],
    start: '2026-12-28',
    finishBy: '2027-03-01',
    people: 1,
    hoursPerDay: 8,
    space: 8,
    hours: {},
    moved: {},
    yearBuilt: 1964,
    ...given,
  };
}

const rules = rulesOf();
const plan = workPlan(rules);
const scaleOf = (given: Partial<Parameters<typeof planScale>[1]> = {}) =>
  planScale(plan, { ...rules, room: 0, ...given })!;

describe('lines', () => {
  test('hold every step once, those of one stretch of work in order', () => {
    const rows = chartGroups(plan).flatMap((group) => group.rows);
    const ids = rows.flatMap(({ steps }) => steps.map(({ id }) => id));
    expect(ids.toSorted()).toEqual(plan.steps.map(({ id }) => id).toSorted());
    for (const { steps } of rows)
      for (let k = 1; k < steps.length; k++)
        expect(steps[k].bar.from).toBeGreaterThanOrEqual(steps[k - 1].bar.to - 1e-9);
  });

  test('are called as a painter would read them off', () => {
    const [room, cabinets] = chartGroups(plan);
    expect(room.title).toBe('Kitchen');
    expect(cabinets.title).toBe('Kitchen, Cabinets');
    const names = cabinets.rows.map(({ name }) => name);
    expect(names).toContain('Make ready doors 1-16');
    expect(names).toContain('First side, doors 1-8');
    expect(names).toContain('Turn and second side, doors 9-16');
    expect(names).toContain('Paint the boxes');
    expect(names).toContain('Hang doors 1-16');
    expect(new Set(names).size).toBe(names.length);
    const others = chartGroups(plan).flatMap(({ rows }) => rows.map(({ name }) => name));
    expect(others).toContain('Measure, make and fit the counter');
    expect(others).toContain('Lay and grout the tiles');
    expect(others).toContain('Paint the walls');
  });

  test('say under each bar which coat it is', () => {
    const row = chartGroups(plan)[1].rows.find(({ name }) => name === 'First side, doors 1-8')!;
    expect(row.steps.map(barWords)).toEqual(['prime', 'coat 1', 'coat 2']);
    const once = workPlan(rulesOf({ surfaces: [{ ...CABINETS, coats: 1, primer: false }] }));
    const boxes = chartGroups(once)[1].rows.find(({ name }) => name === 'Paint the boxes')!;
    expect(boxes.steps.map(barWords)).toEqual(['coat']);
  });

  test('keep their place while a bar is moved', () => {
    const moved = workPlan(rulesOf({ moved: { 'walls/coat-1': '2027-02-10' } }));
    const lines = chartGroups(plan);
    const shown = groupsAs(lines, moved);
    expect(shown.map(({ rows }) => rows.map(({ id }) => id))).toEqual(
      lines.map(({ rows }) => rows.map(({ id }) => id)),
    );
    const walls = shown.flatMap(({ rows }) => rows).flatMap(({ steps }) => steps);
    expect(walls.find(({ id }) => id === 'walls/coat-1')!.start.date).toBe('2027-02-10');
  });

  test('words under bars never run into each other', () => {
    for (const room of [0, 200]) {
      const scale = scaleOf({ room });
      const x = (step: Plan['steps'][number]) => scale.x(step.bar.from);
      for (const { rows } of chartGroups(plan))
        for (const row of rows) {
          const kept = wordedBars(row, x, scale.width);
          const own = row.steps.filter(({ id }) => kept.has(id));
          for (let k = 1; k < own.length; k++)
            expect(x(own[k]) - x(own[k - 1])).toBeGreaterThan(0.4 * barWords(own[k - 1]).length);
        }
    }
  });
});

describe('time from left to right', () => {
  test('goes on without gaps from today to the finish-by date', () => {
    const { days, width } = scaleOf();
    expect(days[0].date).toBe('2026-11-26');
    expect(days.at(-1)!.date).toBe('2027-03-01');
    days.forEach((day, k) => {
      if (k === 0) return;
      expect(day.date).toBe(daysAfter(days[k - 1].date, 1));
      expect(day.x).toBeCloseTo(days[k - 1].x + days[k - 1].width, 9);
    });
    expect(width).toBeCloseTo(days.at(-1)!.x + days.at(-1)!.width, 9);
  });

  test('weekends and days off are narrower, long stretches without work narrower still', () => {
    const { days } = scaleOf();
    for (const { date, kind, width } of days) {
      expect(width).toBe(DAY_WIDTHS[kind]);
      if (kind !== 'idle') expect(kind === 'working').toBe(isWorkingDay(date, rules.calendar));
    }
    const of = (date: string) => days.find((day) => day.date === date)!.kind;
    expect(of('2027-01-01')).toBe('off');
    // From today to the first step there is nothing for weeks.
    expect(of('2026-12-10')).toBe('idle');
    for (const { bar } of plan.steps)
      expect(of(daysAfter(plan.start!, Math.floor(bar.from)))).not.toBe('idle');
  });

  test('a day is found again where it is drawn', () => {
    const scale = scaleOf({ room: 90 });
    for (const { date, x, width } of scale.days) {
      expect(scale.dayAt(x + width / 2)).toBe(date);
      expect(scale.x(daysBetween(scale.origin, date))).toBeCloseTo(x, 9);
    }
    expect(scale.dayAt(-5)).toBe(scale.days[0].date);
    expect(scale.x(1000)).toBeGreaterThan(scale.width);
  });

  test('fills the room there is, and never shrinks below what can be read', () => {
    expect(scaleOf({ room: 1 }).width).toBe(scaleOf().width);
    const least = scaleOf().width;
    expect(scaleOf({ room: least * 1.2 }).width).toBeCloseTo(least * 1.2, 6);
    expect(scaleOf({ room: least * 100 }).width).toBeLessThan(least * 2);
  });

  test('bars of another plan lie on the same days', () => {
    const later = workPlan(rulesOf({ start: '2027-01-04' }));
    const step = later.steps[0];
    expect(shiftedBar(step, later, plan.start!).from).toBe(daysBetween(plan.start!, step.start.date));
  });

  test('a plan of nothing has none', () => {
    const empty = workPlan(rulesOf({ surfaces: [] }));
    expect(planScale(empty, { ...rules, room: 0 })).toBeNull();
    expect(chartGroups(empty)).toEqual([]);
    expect(doneWords(empty)).toBe('Nothing is planned.');
  });
});

describe('cautions', () => {
  test('stand once each, lead before all, with the steps they belong to', () => {
    const found = cautionsOf(plan.steps);
    expect(found[0].caution.id).toBe('lead');
    expect(new Set(found.map(({ caution }) => caution.words)).size).toBe(found.length);
    expect(found.some(({ caution }) => caution.id === LOCAL_RULES)).toBe(false);
    for (const { caution, steps } of found)
      expect(steps.length).toBe(
        plan.steps.filter(({ cautions }) => cautions.some(({ words }) => words === caution.words)).length,
      );
  });

  test('none of a step is left out of its day, and lead is said in full every day it comes up', () => {
    const days = planDays(plan);
    expect(days.flatMap(({ steps }) => steps.map(({ step }) => step.id)).toSorted()).toEqual(
      plan.steps.map(({ id }) => id).toSorted(),
    );
    for (const { steps } of days) {
      for (const { step, gravest, others } of steps) {
        const known = step.cautions.filter(({ id }) => id !== LOCAL_RULES);
        expect(others.length + (gravest ? 1 : 0)).toBe(known.length);
      }
      const lead = steps.filter(({ gravest }) => gravest?.id === 'lead');
      if (lead.length > 0) expect(lead[0].saidBefore).toBe(false);
    }
    const said = days.flatMap(({ steps }) => steps.filter(({ saidBefore }) => !saidBefore));
    const inFull = new Set(said.flatMap(({ gravest }) => gravest?.words ?? []));
    for (const { steps } of days)
      for (const { gravest } of steps) if (gravest) expect(inFull).toContain(gravest.words);
  });
});

describe('words', () => {
  test('say how the end stands to the date', () => {
    const on = (finishBy: string | null) => doneWords(workPlan(rulesOf({ finishBy })));
    const { finish } = plan;
    expect(on(finish)).toContain('just in time');
    expect(on(null)).toMatch(/^Done and dry \w{3} \d+ \w{3} \d{4}\.$/);
    expect(on(daysAfter(finish!, 400))).toMatch(/working days to spare/);
    expect(on('2026-12-28')).toMatch(/working days late/);
  });

  test('name what fixes the end', () => {
    const late = workPlan(
      rulesOf({ finishes: [{ id: 'sage', name: 'Sage', leadTimeDays: 90, orderedOn: null }] }),
    );
    expect(chainWords(late)[0]).toMatch(/^It begins with a delivery: Sage comes /);
    expect(chainWords(plan).join(' ')).toMatch(/steps, each held up by the one before/);
  });

  test('a step for who cannot see it has its day, its move and its cautions', () => {
    const moved = workPlan(rulesOf({ moved: { 'walls/coat-1': '2026-12-28' } }));
    const step = moved.steps.find(({ id }) => id === 'walls/coat-1')!;
    const label = stepLabel(step, ['ladder']);
    expect(label).toContain('Kitchen, Walls: ');
    expect(label).toContain('moved to Mon 28 Dec 2026, which cannot be kept');
    expect(label).toContain('caution: ladder');
    expect(movedWords(step, moved)).toContain('not on Mon 28 Dec 2026: ');
    expect(dayWords('2026-12-28')).toBe('Mon 28 Dec');
  });

  test('a step that another is called like says where it is, others do not', () => {
    const second = { ...SURFACES[1], id: 'second', name: 'Walls 2' };
    const two = workPlan(rulesOf({ surfaces: [...SURFACES, second] }));
    const names = two.steps.map((step) => stepName(step, two));
    expect(new Set(names).size).toBe(names.length);
    const sanding = two.steps.filter(({ surface, task }) => surface.startsWith('Walls') && task === 'sand');
    expect(sanding.map((step) => stepName(step, two))).toEqual(sanding.map(({ summary }) => summary));
    const alone = plan.steps.find(({ words }) => words === 'Fit the counter')!;
    expect(stepName(alone, plan)).toBe(alone.words);
  });

  test('one product for two surfaces is told apart by them', () => {
    expect(plan.deliveries.map((one) => deliveryName(one, plan))).toEqual(['Sage']);
    const second = { ...CABINETS, id: 'second', name: 'Cabinets 2', finishes: { 'finish coat': 'sage 2' } };
    const { finishes } = rules;
    const two = workPlan(
      rulesOf({ surfaces: [CABINETS, second], finishes: [...finishes, { ...finishes[0], id: 'sage 2' }] }),
    );
    expect(two.deliveries.map((one) => deliveryName(one, two))).toEqual([
      'Sage, for Kitchen, Cabinets',
      'Sage, for Kitchen, Cabinets 2',
    ]);
  });

  test('a day on is the next working day, from where it was moved', () => {
    const step = (date: string, movedTo: string | null = null) => ({ start: { date, hour: 8 }, movedTo });
    // 31 December 2026 is a Thursday, the next day a holiday here.
    expect(nextDay(step('2026-12-31'), 1, rules.calendar)).toBe('2027-01-04');
    expect(nextDay(step('2027-01-04'), -1, rules.calendar)).toBe('2026-12-31');
    expect(nextDay(step('2027-01-11', '2027-01-05'), 1, rules.calendar)).toBe('2027-01-06');
  });

  test('settings are told in a line', () => {
    const words = settingsWords(
      { ...DEFAULT_TRADE, hands: 2, yearBuilt: null },
      { space: 8, finishBy: '2027-01-21' },
    );
    expect(words).toContain('as late as the finish-by date allows');
    expect(words).toContain('2 people, 8 hours a day, Mon Tue Wed Thu Fri');
    expect(words).toContain('house of unknown age');
  });
});

test('a move is one edit, also where nobody has touched the trade, and is taken back', () => {
  const job: Job = kitchen();
  expect(job.trade).toBeUndefined();
  const edit = setting(job, 'move', tradeValues(job, [[['moved', 'walls/coat-1'], '2027-01-05']]));
  const after = applyEdit(job, edit);
  expect(after.trade).toEqual({ ...DEFAULT_TRADE, moved: { 'walls/coat-1': '2027-01-05' } });
  expect(applyEdit(after, inverse(edit))).toEqual(job);
  const freed = applyEdit(
    after,
    setting(after, 'let go', tradeValues(after, [[['moved', 'walls/coat-1'], undefined]])),
  );
  expect(freed.trade!.moved).toEqual({});
});
