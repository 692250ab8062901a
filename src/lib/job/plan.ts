import {
  USUAL_COATS,
  dayNumber,
  daysBetween,
  finishSchedule,
  finishWords,
  takeOff,
  volumeWords,
  workPlan,
  type FieldProblem,
  type FinishSchedule,
  type FinishKind,
  type IsoDate,
  type PlanFinish,
  type PlanRules,
  type Plan,
  type SurfaceWork as PlannedWork,
  type UnitSystem,
  type WorkKind,
} from '#lib/finish/index.ts';
import { inOrder, type Job, type Surface, type SurfaceKind, type Swatch } from './document.ts';
import type { Id } from './fields.ts';
import {
  jobSchedule,
  lineId,
  namedFinish,
  tradeOf,
  type JobSchedule,
  type ScheduledSurface,
} from './schedule.ts';
import { DEFAULT_WORK, type SurfacePart, type Trade } from './trade.ts';

/** Days beyond this many years before or after today are a slip of the pen; nothing is counted with them. */
const MOST_YEARS = 15;

/** The finish schedule of a job and the plan of its work, which need each other. */
export interface JobPlan {
  /** What the plan was asked; its finishes are the lines of the schedule. */
  readonly rules: PlanRules;
  readonly plan: Plan;
  readonly scheduled: JobSchedule;
  /** With the days on which the plan needs each line. */
  readonly schedule: FinishSchedule;
  /** The surface of the job each work of the plan is on: parts that need more coats are works of their own. */
  readonly surfaceOf: Readonly<Record<string, Id>>;
  /** Surfaces without steps, a sentence each. */
  readonly unplanned: readonly string[];
  /** Dates of the trade's side that cannot be meant, by field of the job. */
  readonly problems: readonly FieldProblem[];
}

/**
 * The schedule and the plan of a job as they stand on a day. The plan takes deliveries from lead times and days of order and
 * says when each line is needed; from that day the schedule reckons until when it must be ordered. Where the plan is too late
 * for the finish-by date, lines are needed when the work would begin with them if nothing came late. `ranked` as in
 * `jobSchedule`. Nothing of the document makes it throw.
 * @throws TypeError where `today` is no day of the calendar.
 */
export function planOf(
  job: Job,
  { today, ranked = {} }: { readonly today: IsoDate; readonly ranked?: Readonly<Record<Id, readonly Id[]>> },
): JobPlan {
  const problems: FieldProblem[] = [];
  const sound = soundDates(job, { today, problems });
  const trade = tradeOf(sound);
  const first = jobSchedule(sound, { ranked });
  const lines = new Map(first.rules.items.map((item) => [item.id, item]));
  const unplanned: string[] = [];
  const surfaceOf: Record<string, Id> = {};
  const surfaces = first.surfaces.flatMap((scheduled) => {
    if (scheduled.surface.state === 'fixed') return [];
    const works = worksOf(sound, scheduled, trade.units);
    for (const { id } of works) surfaceOf[id] = scheduled.surface.id;
    if (works.length === 0) {
      const { surface, roomName, swatch } = scheduled;
      unplanned.push(
        `${roomName}, ${surface.name}: the plan has no steps for ${swatch?.kind ?? surface.kind} there.`,
      );
    }
    return works;
  });
  const finishes = [...lines.values()].map(
    ({ id, room, surface, finish, leadTimeDays, orderedOn }): PlanFinish => ({
      id,
      name: finish ? finishWords(finish) : `the finish of ${room}, ${surface}`,
      leadTimeDays,
      orderedOn,
    }),
  );
  const { calendar, leadTimeIn, finishBy } = first.rules;
  const rules: PlanRules = {
    today,
    calendar,
    leadTimeIn,
    finishBy,
    surfaces,
    finishes,
    start: trade.startOn,
    people: trade.hands,
    hoursPerDay: trade.hoursPerDay,
    space: trade.doorSpace,
    hours: trade.hours,
    moved: trade.moved,
    yearBuilt: trade.yearBuilt,
  };
  const plan = workPlan(rules);
  // Too late, it has waited for what comes late: that is wanted when a plan that need not wait would use it.
  const late = plan.spare !== null && plan.spare < 0;
  const unheld = { ...rules, finishes: finishes.map((finish) => ({ ...finish, leadTimeDays: null })) };
  const { deliveries } = late ? workPlan(unheld) : plan;
  const neededOn = Object.fromEntries(deliveries.map((one) => [one.finishId, one.neededOn]));
  const scheduled = jobSchedule(sound, { ranked, neededOn });
  const schedule = finishSchedule({ ...scheduled.rules, today });
  return { rules, plan, scheduled, schedule, surfaceOf, unplanned, problems };
}

/** The job without days that lie years away, which no calendar can be reckoned through. */
function soundDates(job: Job, { today, problems }: { today: IsoDate; problems: FieldProblem[] }): Job {
  const near = (path: string, day: string): boolean => {
    // What is no day at all is named by the plan and the schedule.
    if (dayNumber(day) === null || Math.abs(daysBetween(today, day)) <= MOST_YEARS * 366) return true;
    const words = `${day} lies more than ${MOST_YEARS} years from today; it is not counted with.`;
    problems.push({ path, severity: 'error', words });
    return false;
  };
  const days = (path: string, record: Readonly<Record<string, string>>) =>
    Object.fromEntries(Object.entries(record).filter(([key, day]) => near(`${path}.${key}`, day)));
  const finishBy = job.finishBy !== null && near('finishBy', job.finishBy) ? job.finishBy : null;
  if (!job.trade) return { ...job, finishBy };
  const { startOn, ordered, moved } = job.trade;
  const trade: Trade = {
    ...job.trade,
    startOn: startOn !== null && near('trade.startOn', startOn) ? startOn : null,
    ordered: days('trade.ordered', ordered),
    moved: days('trade.moved', moved),
  };
  return { ...job, finishBy, trade };
}

/** What a surface is usually made of, where nothing is chosen and its candidates do not agree. */
const USUAL_KIND: Readonly<Record<SurfaceKind, FinishKind>> = {
  cabinets: 'paint',
  island: 'paint',
  walls: 'paint',
  ceiling: 'paint',
  trim: 'paint',
  doors: 'paint',
  counter: 'stone',
  backsplash: 'tile',
  floor: 'wood',
  hardware: 'metal',
  'wood accents': 'wood',
  textiles: 'textile',
};

const PAINTING: Readonly<Partial<Record<SurfaceKind, WorkKind>>> = {
  cabinets: 'paint cabinets',
  island: 'paint cabinets',
  walls: 'paint walls',
  backsplash: 'paint walls',
  ceiling: 'paint ceiling',
  trim: 'paint trim',
  'wood accents': 'paint trim',
  doors: 'paint doors',
};

/** The work a finish asks for on a surface; null where the plan knows none. */
function workKind(surface: SurfaceKind, finish: FinishKind): WorkKind | null {
  if (finish === 'paint') return PAINTING[surface] ?? null;
  if (surface === 'floor') return finish === 'metal' ? null : 'lay floor';
  if (surface === 'hardware') return 'fit hardware';
  if (surface === 'counter' && (finish === 'stone' || finish === 'wood')) return 'fit counter';
  return finish === 'tile' || finish === 'stone' ? 'tile' : null;
}

function finishKind(job: Job, { surface, swatch }: ScheduledSurface): FinishKind {
  if (swatch) return swatch.kind;
  const kinds = new Set(Object.keys(surface.candidateIds).flatMap((id) => job.swatches[id]?.kind ?? []));
  const [only] = kinds;
  return kinds.size === 1 && workKind(surface.kind, only) ? only : USUAL_KIND[surface.kind];
}

/** What the finish of a kind of work is called in the plan. */
const FINISH_OF: Readonly<Record<WorkKind, keyof PlannedWork['finishes']>> = {
  'paint ceiling': 'finish coat',
  'paint walls': 'finish coat',
  'paint cabinets': 'finish coat',
  'paint doors': 'finish coat',
  'paint trim': 'finish coat',
  'fit counter': 'slab',
  tile: 'tile',
  'lay floor': 'other',
  'fit hardware': 'hardware',
};

/** The works on a surface: one, and one more for each number of coats that some of its parts need instead. */
function worksOf(job: Job, scheduled: ScheduledSurface, system: UnitSystem): PlannedWork[] {
  const { surface, roomName, swatch, itemIds } = scheduled;
  const finish = finishKind(job, scheduled);
  const kind = workKind(surface.kind, finish);
  if (!kind) return [];
  const work = surface.work ?? DEFAULT_WORK;
  const usual = work.coats ?? USUAL_COATS['finish coat'];
  const painted = finish === 'paint';
  const primer = painted && work.primerId ? (job.swatches[work.primerId] ?? null) : null;
  const [primerLine, finishLine] = [lineId(surface.id, 'primer'), lineId(surface.id, 'finish')];
  const one = (parts: readonly SurfacePart[], coats: number): PlannedWork => ({
    id: coats === usual ? surface.id : `${surface.id}, ${coats} coats`,
    room: { id: surface.roomId, name: roomName },
    name:
      coats === usual
        ? surface.name
        : [surface.name, ...parts.map(({ name }) => name)].filter(Boolean).join(', '),
    kind,
    ...sizesOf(surface, parts, system),
    // Handles that are chosen anew sit in other holes, unless somebody says otherwise.
    newHoles:
      work.newHoles ??
      Object.values(job.surfaces).some(
        (other) => other.kind === 'hardware' && other.roomId === surface.roomId && other.state !== 'fixed',
      ),
    coats,
    primer: primer !== null,
    application: work.application,
    twoPart: worstOf([swatch, primer], 'twoPart'),
    solventBased: worstOf([swatch, primer], 'solventBased'),
    fabricationDays: work.fabricationDays ?? null,
    drying: {
      primer: primer?.supply?.recoatHours ?? null,
      recoat: swatch?.supply?.recoatHours ?? null,
      handle: swatch?.supply?.turnHours ?? null,
    },
    finishes: {
      ...(itemIds.includes(primerLine) && { primer: primerLine }),
      [FINISH_OF[kind]]: finishLine,
    },
  });
  const parts = inOrder(surface.parts ?? {});
  if (!painted || parts.length === 0) return [one(parts, usual)];
  const byCoats = Map.groupBy(parts, ({ coats }) => coats ?? usual);
  return [...byCoats].map(([coats, own]) => one(own, coats));
}

/** True where it is so of one product, false where it is so of none, null where nobody said of one. */
function worstOf(of: readonly (Swatch | null)[], field: 'twoPart' | 'solventBased'): boolean | null {
  const said = of.filter((swatch) => swatch !== null).map(({ supply }) => supply?.[field] ?? null);
  if (said.includes(true)) return true;
  return said.length === 0 || said.includes(null) ? null : false;
}

type Sizes = Pick<PlannedWork, 'area' | 'doors' | 'drawers' | 'pieces'>;

/** Sizes as the plan wants them: boxes and fronts of cabinets apart. */
function sizesOf(surface: Surface, parts: readonly SurfacePart[], system: UnitSystem): Sizes {
  const none = { count: 0, sides: 2 as const };
  if (parts.length === 0) return { area: surface.area ?? null, doors: none, drawers: none, pieces: null };
  const all = takeOff(parts, { system });
  const fronts = takeOff(
    parts.flatMap((part) => (part.kind === 'cabinets' ? [{ ...part, faces: [], sides: [] }] : [])),
    { system },
  );
  const count = (list: readonly { width: number; height: number; count: number }[]) =>
    list
      .filter(({ width, height, count }) => width > 0 && height > 0 && Number.isInteger(count) && count > 0)
      .reduce((sum, line) => sum + line.count, 0);
  const fitted = parts.filter((part) => part.kind === 'cabinets');
  const leaves = parts.filter((part) => part.kind === 'doors');
  const both = (sides: readonly (1 | 2)[]) => (sides.every((one) => one === 1) && sides.length > 0 ? 1 : 2);
  return {
    area: all.area === null ? null : Math.max(0, all.area - (fronts.area ?? 0)),
    doors: {
      count: count([...fitted.flatMap(({ doors }) => doors), ...leaves.flatMap((part) => part.leaves)]),
      sides: both([...fitted.map(({ doorSides }) => doorSides), ...leaves.map(({ sides }) => sides)]),
    },
    drawers: {
      count: count(fitted.flatMap(({ drawers }) => drawers)),
      sides: both(fitted.map(({ drawerSides }) => drawerSides)),
    },
    pieces: all.pieces,
  };
}

/**
 * What the totals do not count, a sentence each: what the schedule leaves out, and of surfaces that are bought for the sizes
 * and parts that could not be reckoned.
 */
export function leftOutWords({ schedule, scheduled }: JobPlan): string[] {
  const partly = scheduled.surfaces.flatMap(({ surface, roomName, itemIds, takeOff, paint, primed }) => {
    // Where nothing of it is known the schedule says so itself.
    const bought = schedule.lines.some(({ item, need }) => need && itemIds.includes(item.id));
    if (!bought) return [];
    const unpainted = [
      ...(paint?.leftOut ?? []).map((part) => `the finish coats of ${part}`),
      ...(primed?.leftOut ?? []).map((part) => `the primer of ${part}`),
    ];
    return [...(takeOff?.leftOut ?? []), ...unpainted].map((what) => `${roomName}, ${surface.name}: ${what}`);
  });
  return [...new Set([...schedule.leftOut, ...partly])];
}

/**
 * Paint that is reckoned to be enough and may not be: where least lands and the spread is poorest the need is more than is
 * bought. A sentence each, with by how much.
 */
export function shortageWords({ schedule, scheduled }: JobPlan): string[] {
  const sentences = schedule.orders.flatMap((order) => {
    const { purchase, need, lineIds, finish } = order;
    if (!purchase || need?.unit !== 'l') return [];
    const most = scheduled.surfaces
      .flatMap(({ surface, paint, primed }) => [
        { id: lineId(surface.id, 'finish'), range: paint?.range },
        { id: lineId(surface.id, 'primer'), range: primed?.range },
      ])
      .filter(({ id }) => lineIds.includes(id))
      .reduce((sum, { range }) => sum + (range?.[1] ?? 0), 0);
    const short = most - purchase.bought;
    if (short < SHORT_BY) return [];
    const said = volumeWords(short, scheduled.rules.system);
    return [
      `${finishWords(finish)}, ${order.role}: if much is lost and it spreads poorly, ${said} more may be needed than is bought.`,
    ];
  });
  return [...new Set(sentences)];
}

/** Litres that are not worth a word. */
const SHORT_BY = 0.05;
