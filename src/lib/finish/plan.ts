import { cautionsFor, knownYear } from './cautions.ts';
import type { Caution } from './cautions.ts';
import { delivery } from './delivery.ts';
import type { Delivery, DeliveryRules } from './delivery.ts';
import { earliestEnd, isKept, listSchedule } from './list-schedule.ts';
import type { ListLimits, Scheduled, Task } from './list-schedule.ts';
import type { FieldProblem } from './parts.ts';
import { planSteps } from './plan-steps.ts';
import type { StepList } from './plan-steps.ts';
import { arrivalOf, comingOf, leastSlack } from './plan-slack.ts';
import type { HangsOn } from './plan-slack.ts';
import {
  becauseWords,
  descriptionWords,
  moveWords,
  planWords,
  spareDays,
  summaryWords,
} from './plan-words.ts';
import type { SurfaceWork } from './surface-work.ts';
import { QUARTERS, WorkClock, midnight } from './work-clock.ts';
import type { Moment } from './work-clock.ts';
import type { WorkStep } from './work-step.ts';
import { dateWords, dayNumber, isWorkingDay, nearestWorkingDay, workingDaysAfter } from './working-days.ts';
import type { IsoDate } from './working-days.ts';

/** One person, eight hours a day. */
export const USUAL_CREW = { people: 1, hoursPerDay: 8 } as const;

/** A finish that steps wait for. */
export interface PlanFinish {
  readonly id: string;
  readonly name: string;
  /** Null where it is not known: then nothing waits for it, and the plan says so. */
  readonly leadTimeDays: number | null;
  readonly orderedOn: IsoDate | null;
}

export interface PlanRules extends DeliveryRules {
  readonly surfaces: readonly SurfaceWork[];
  readonly finishes: readonly PlanFinish[];
  /** Null: as late as the finish-by date allows or, without one, today. */
  readonly start: IsoDate | null;
  readonly finishBy: IsoDate | null;
  /** Pairs of hands, 1-50. */
  readonly people: number;
  /** 1-16, from 8 o'clock on. */
  readonly hoursPerDay: number;
  /** Doors and drawer fronts that can lie drying at once; null: half of them. */
  readonly space: number | null;
  /** Working hours of steps by id, where the user knows better. */
  readonly hours: Readonly<Record<string, number>>;
  /** Days that steps were moved to, by id. */
  readonly moved: Readonly<Record<string, IsoDate>>;
  readonly yearBuilt: number | null;
}

/** What fixed when a step begins. */
export interface StepBecause {
  readonly kind: 'start' | 'delivery' | 'moved' | 'after' | 'hands' | 'space';
  /** The step that had to be done first. */
  readonly stepId: string | null;
  readonly words: string;
}

export interface PlanStep extends WorkStep {
  readonly start: Moment;
  /** Of the work. */
  readonly end: Moment;
  /** When what follows may begin; the end where nothing dries. */
  readonly dry: Moment;
  /** Ends of its bars in days from the plan's first day; working hours fill a day. Work, then drying. */
  readonly bar: { readonly from: number; readonly to: number; readonly dry: number };
  /** Which pair of hands, from 1; null for a trade. */
  readonly person: number | null;
  readonly because: StepBecause;
  /** Whether it is one of the steps that fix the end. */
  readonly critical: boolean;
  readonly movedTo: IsoDate | null;
  /** False where it was moved to a day on which, or after which if it is a day off, it cannot begin. */
  readonly kept: boolean;
  readonly cautions: readonly Caution[];
  /** 'Kitchen, cabinets: prime the boxes'. */
  readonly summary: string;
  /** When, what dries, what it waits for and every caution, a line each. */
  readonly description: string;
}

/** A row of the chart: a surface, or what is for the whole room. */
export interface PlanGroup {
  readonly id: string;
  readonly room: string;
  readonly surface: string;
  readonly stepIds: readonly string[];
}

export interface PlanDelivery {
  readonly finishId: string;
  readonly name: string;
  /** The first step that needs it. */
  readonly stepId: string;
  readonly neededOn: IsoDate;
  readonly delivery: Delivery;
}

export interface Plan {
  /** By beginning. */
  readonly steps: readonly PlanStep[];
  readonly groups: readonly PlanGroup[];
  /** Null where there is nothing to do. */
  readonly start: IsoDate | null;
  /** The day on which all is done and dry. */
  readonly finish: IsoDate | null;
  /** The day before which no order of the steps can be done from that start, with these hands and this space. */
  readonly atLeast: IsoDate | null;
  /** Working days between the finish and the finish-by date, negative where it is late; null without such a date. */
  readonly spare: number | null;
  /** Ids of the steps that fix the end, in order, each held up by the one before. */
  readonly chain: readonly string[];
  readonly deliveries: readonly PlanDelivery[];
  /** The delivery whose delay moves the end first; null where none does. */
  readonly hangsOn: HangsOn | null;
  readonly space: number;
  readonly problems: readonly FieldProblem[];
  /** What is guessed or not known, a sentence each. */
  readonly guessed: readonly string[];
  readonly words: string;
}

/**
 * The plan of the work with dates: every step with its beginning, end, drying and cautions. Each step begins once what it
 * follows is dry, its finish is there and hands and drying space are free; nights and days off count for drying only.
 * Without a start it is as late as the finish-by date allows: a working day later would be too late. What is moved stays on
 * its day where that can be, and else begins as soon after as it can, with a problem that says why; its day is kept.
 * Not proven shortest: compare `finish` with `atLeast`. Faulty fields are named and replaced by the usual; nothing throws
 * but for `today` (TypeError) and a week without working days (RangeError).
 */
export function workPlan(rules: PlanRules): Plan {
  midnight(rules.today);
  const problems: FieldProblem[] = [];
  const sound = soundRules(rules, problems);
  const list = planSteps(sound.surfaces, sound);
  problems.push(...list.problems);
  for (const id of Object.keys(sound.moved))
    if (!list.steps.some((step) => step.id === id))
      problems.push({
        path: `moved.${id}`,
        severity: 'warning',
        words: 'The step that was moved there is no longer in the plan; the day you chose is kept.',
      });
  const finishes = new Map(sound.finishes.map((finish) => [finish.id, finish]));
  // One product for several surfaces is asked for once.
  const guessed = [...new Set([...list.guessed, ...unknownFinishes(list, finishes)])];
  const clock = new WorkClock(sound.calendar, sound.hoursPerDay);
  const tasks = tasksOf(list, { rules: sound, finishes });
  if (tasks.length === 0) return emptyPlan({ space: list.space, problems, guessed });
  const limits = (start: IsoDate): ListLimits => ({
    clock,
    start: clock.openAt(midnight(start)),
    people: sound.people,
    space: list.space,
  });
  const start = sound.start ?? latestStart(tasks, { rules: sound, limits });
  const done = listSchedule(tasks, limits(start));
  const finish = clock.moment(endOf(done)).date;
  const atLeast = clock.moment(earliestEnd(tasks, limits(start))).date;
  const chain = chainOf(done);
  const starts = done.map((one) => one.start);
  const first = clock.moment(Math.min(...starts)).date;
  const steps = list.steps.map((step, index) =>
    planStep(step, {
      index,
      done,
      task: tasks[index],
      list,
      clock,
      finishes,
      rules: sound,
      first,
      critical: chain.includes(index),
    }),
  );
  for (const step of steps) {
    const words = moveWords(step, sound.calendar);
    if (words) problems.push({ path: `moved.${step.id}`, severity: 'warning', words });
  }
  const coming = comingOf(list.steps, { finishes, starts, rules: sound });
  const hangsOn = leastSlack(coming, {
    finish,
    calendar: sound.calendar,
    endWith: (held, release) => {
      const late = tasks.map((task, k) => (held.includes(k) ? { ...task, release } : task));
      return clock.moment(endOf(listSchedule(late, limits(start)))).date;
    },
  });
  const spare = sound.finishBy === null ? null : spareDays(finish, sound.finishBy, sound.calendar);
  const ids = chain.map((index) => list.steps[index].id);
  return {
    steps: steps
      .map((step, index) => ({ step, at: done[index].start, index }))
      .sort((a, b) => a.at - b.at || a.index - b.index)
      .map(({ step }) => step),
    groups: groupsOf(list.steps),
    start: first,
    finish,
    atLeast,
    spare,
    chain: ids,
    deliveries: deliveriesOf(steps, { finishes, rules: sound }),
    hangsOn,
    space: list.space,
    problems,
    guessed,
    words: planWords({
      start: first,
      finish,
      atLeast,
      spare,
      finishBy: sound.finishBy,
      chain: ids.map((id) => steps.find((step) => step.id === id)!),
      space: list.space,
      guessed,
      hangsOn,
    }),
  };
}

function emptyPlan(given: Pick<Plan, 'space' | 'problems' | 'guessed'>): Plan {
  const none = { start: null, finish: null, atLeast: null, spare: null };
  return {
    steps: [],
    groups: [],
    chain: [],
    deliveries: [],
    hangsOn: null,
    ...none,
    ...given,
    words: 'Nothing is planned.',
  };
}

function soundRules(rules: PlanRules, problems: FieldProblem[]): PlanRules {
  const { start, finishBy, people, hoursPerDay, today, calendar, yearBuilt } = rules;
  const say = (path: string, severity: FieldProblem['severity'], words: string) =>
    problems.push({ path, severity, words });
  const date = (field: 'start' | 'finishBy') => {
    const value = rules[field];
    if (value === null || dayNumber(value) !== null) return value;
    say(field, 'error', `“${value}” is no day of the calendar; it is not counted with.`);
    return null;
  };
  const within = (field: 'people' | 'hoursPerDay', [least, most]: [number, number], what: string) => {
    const value = rules[field];
    if (value >= least && value <= most && (field !== 'people' || Number.isInteger(value))) return value;
    say(field, 'error', `${what}, not ${value}; ${USUAL_CREW[field]} is counted with.`);
    return USUAL_CREW[field];
  };
  const days = { start: date('start'), finishBy: date('finishBy') };
  if (days.start !== null && days.start < today)
    say('start', 'warning', `${dateWords(days.start)} is past; the plan begins there all the same.`);
  if (days.start !== null && !isWorkingDay(days.start, calendar))
    say(
      'start',
      'warning',
      `No work is done on ${dateWords(days.start)}; it begins on the next working day.`,
    );
  if (days.finishBy !== null && days.finishBy < today)
    say('finishBy', 'warning', `${dateWords(days.finishBy)} is past.`);
  if (yearBuilt !== null && knownYear(yearBuilt) === null)
    say('yearBuilt', 'error', `${yearBuilt} is no year a house was built in; the house counts as old.`);
  const finishes = rules.finishes.map((finish, index) => {
    const { leadTimeDays: lead, orderedOn } = finish;
    const path = `finishes[${index}]`;
    const known = lead === null || (lead >= 0 && lead <= 3650);
    if (!known) say(`${path}.leadTimeDays`, 'error', `A lead time lies from 0 to 3650 days, not ${lead}.`);
    const day = orderedOn === null || dayNumber(orderedOn) !== null;
    if (!day) say(`${path}.orderedOn`, 'error', `“${orderedOn}” is no day of the calendar.`);
    return { ...finish, leadTimeDays: known ? lead : null, orderedOn: day ? orderedOn : null };
  });
  const moved = Object.entries(rules.moved).filter(([id, day]) => {
    if (dayNumber(day) !== null) return true;
    say(`moved.${id}`, 'error', `“${day}” is no day of the calendar; the step is not moved.`);
    return false;
  });
  return {
    ...rules,
    ...days,
    people: within('people', [1, 50], 'A whole number of people from 1 to 50 works'),
    hoursPerDay: within('hoursPerDay', [1, 16], 'A day has from 1 to 16 working hours'),
    finishes,
    moved: Object.fromEntries(moved),
  };
}

function unknownFinishes({ steps }: StepList, finishes: ReadonlyMap<string, PlanFinish>): string[] {
  const ids = new Set(steps.flatMap(({ finishId }) => (finishId === null ? [] : [finishId])));
  return [...ids].flatMap((id) => {
    const finish = finishes.get(id);
    if (finish && finish.leadTimeDays !== null) return [];
    return [
      `When ${finish?.name ?? `the finish ${id}`} comes is not known: the plan counts it as there. Ask.`,
    ];
  });
}

function tasksOf(
  { steps }: StepList,
  { rules, finishes }: { rules: PlanRules; finishes: ReadonlyMap<string, PlanFinish> },
): Task[] {
  const index = new Map(steps.map(({ id }, k) => [id, k]));
  const stays = new Map<string, { pieces: number; tasks: number[] }>();
  steps.forEach(({ batch }, k) => {
    if (!batch) return;
    const stay = stays.get(batch.id) ?? { pieces: batch.pieces, tasks: [] };
    stay.tasks.push(k);
    stays.set(batch.id, stay);
  });
  return steps.map(({ id, hours, waits, after, trade, finishId, batch }) => {
    const arrives = finishId === null ? null : arrivalOf(finishes.get(finishId), rules);
    return {
      work: Math.max(1, Math.ceil(hours * QUARTERS - 1e-9)),
      dry: Math.max(0, Math.ceil(waits * QUARTERS - 1e-9)),
      after: after.map((before) => index.get(before)!),
      hands: trade === null,
      release: arrives === null ? -Infinity : midnight(arrives),
      moved: Object.hasOwn(rules.moved, id) ? midnight(rules.moved[id]) : null,
      stay: batch && stays.get(batch.id)!,
    };
  });
}

const endOf = (done: readonly Scheduled[]) => done.reduce((most, { dry }) => Math.max(most, dry), -Infinity);

/**
 * The last working day from today on from which a plan is done by the finish-by date and keeps as many moved steps as one
 * from today does; today where none is.
 */
function latestStart(
  tasks: readonly Task[],
  { rules, limits }: { rules: PlanRules; limits: (start: IsoDate) => ListLimits },
): IsoDate {
  const { finishBy, calendar } = rules;
  const today = nearestWorkingDay(rules.today, 1, calendar);
  if (finishBy === null || finishBy < today) return today;
  const tried = (start: IsoDate) => {
    const { clock } = limits(start);
    const done = listSchedule(tasks, limits(start));
    const kept = done.filter((one, k) => isKept(tasks[k], one, clock)).length;
    return { inTime: clock.moment(endOf(done)).date <= finishBy, kept };
  };
  const soonest = tried(today);
  if (!soonest.inTime) return today;
  let late = 1;
  while (workingDaysAfter(today, late, calendar) <= finishBy) late *= 2;
  let good = 0;
  while (late - good > 1) {
    const middle = Math.floor((good + late) / 2);
    const start = workingDaysAfter(today, middle, calendar);
    const { inTime, kept } = start > finishBy ? { inTime: false, kept: 0 } : tried(start);
    if (inTime && kept >= soonest.kept) good = middle;
    else late = middle;
  }
  return workingDaysAfter(today, good, calendar);
}

/** From the task that ends last back to the one that nothing held up, by index, in order of time. */
function chainOf(done: readonly Scheduled[]): number[] {
  let at = done.reduce((last, one, k) => (one.dry > done[last].dry ? k : last), 0);
  const chain = [at];
  for (;;) {
    const { because } = done[at];
    if (!('task' in because)) return chain.reverse();
    at = because.task;
    chain.push(at);
  }
}

interface StepContext {
  readonly index: number;
  readonly done: readonly Scheduled[];
  readonly task: Task;
  readonly list: StepList;
  readonly clock: WorkClock;
  readonly finishes: ReadonlyMap<string, PlanFinish>;
  readonly rules: PlanRules;
  readonly first: IsoDate;
  readonly critical: boolean;
}

function planStep(step: WorkStep, context: StepContext): PlanStep {
  const { index, done, task, list, clock, finishes, rules, first, critical } = context;
  const { start, end, dry, person, because } = done[index];
  const before = 'task' in because ? list.steps[because.task] : null;
  const finish = step.finishId === null ? undefined : finishes.get(step.finishId);
  const movedTo = Object.hasOwn(rules.moved, step.id) ? rules.moved[step.id] : null;
  const moments = { start: clock.moment(start), end: clock.moment(end), dry: clock.moment(dry) };
  const why: StepBecause = {
    kind: because.kind,
    stepId: before?.id ?? null,
    words: becauseWords(because.kind, {
      before,
      ready: 'task' in because ? clock.moment(done[because.task].dry) : moments.start,
      finish: finish?.name ?? '',
      arrives: arrivalOf(finish, rules),
    }),
  };
  const day = dayNumber(first)!;
  const known = {
    ...step,
    ...moments,
    bar: {
      from: clock.column(start) - day,
      to: clock.column(end) - day,
      dry: clock.column(dry) - day,
    },
    person: person === null ? null : person + 1,
    because: why,
    critical,
    movedTo,
    kept: isKept(task, done[index], clock),
    cautions: cautionsFor(step, rules),
  };
  return { ...known, summary: summaryWords(step), description: descriptionWords(known) };
}

function groupsOf(steps: readonly WorkStep[]): PlanGroup[] {
  const groups = new Map<string, PlanGroup & { stepIds: string[] }>();
  for (const { id, surfaceId, room, surface } of steps) {
    const key = surfaceId ?? `room:${room.id}`;
    const group = groups.get(key) ?? { id: key, room: room.name, surface, stepIds: [] };
    group.stepIds.push(id);
    groups.set(key, group);
  }
  return [...groups.values()];
}

function deliveriesOf(
  steps: readonly PlanStep[],
  { finishes, rules }: { finishes: ReadonlyMap<string, PlanFinish>; rules: PlanRules },
): PlanDelivery[] {
  return [...finishes.values()].flatMap(({ id, name, leadTimeDays, orderedOn }) => {
    const needing = steps.filter(({ finishId }) => finishId === id);
    if (needing.length === 0) return [];
    const first = needing.reduce((a, b) => (b.start.date < a.start.date ? b : a));
    const neededOn = first.start.date;
    const due = delivery({ neededOn, leadTime: leadTimeDays, orderedOn }, rules);
    return [{ finishId: id, name, stepId: first.id, neededOn, delivery: due }];
  });
}
