import { labToScreen } from '#lib/colour/index.ts';
import {
  agreedLines,
  dateWords,
  dayNumber,
  moneyWords,
  quantityWords,
  scheduleChanges,
  type AgreedLine,
  type ChangeNote,
  type FieldProblem,
  type IsoDate,
  type Order,
  type Quantity,
  type ScheduleChange,
  type ScheduleLine,
} from '#lib/finish/index.ts';
import {
  namedApart,
  planOf,
  swatchEstimate,
  swatchTitle,
  tradeOf,
  type Job,
  type JobPlan,
  type Swatch,
  type Trade,
} from '#lib/job/index.ts';
import type { Rgb } from './paper.ts';

/** Everything the documents of a finish schedule say, worked out once for all of them. */
export interface ScheduleContents extends JobPlan {
  /** Under the names that tell surfaces and rooms apart. */
  readonly job: Job;
  readonly jobId: string;
  readonly trade: Trade;
  /** The day the documents speak of. */
  readonly today: IsoDate;
  /** When they were made. */
  readonly made: Date;
  /** Null where nothing was agreed. */
  readonly changes: readonly ScheduleChange[] | null;
  /** What a reader might believe to be in it and is not, and what is guessed, a sentence each. */
  readonly missing: readonly string[];
}

/**
 * The contents of a job's documents as of a day. Nothing in the document of a job makes it throw.
 * @throws TypeError where `today` is no day of the calendar.
 */
export function scheduleContents(
  job: Job,
  { jobId, today, made }: { jobId: string; today: IsoDate; made: Date },
): ScheduleContents {
  const planned = planOf(job, { today });
  const trade = tradeOf(job);
  return {
    ...planned,
    job: namedApart(job),
    jobId,
    trade,
    today,
    made,
    changes: changesOf(job, trade, planned),
    missing: missingFrom(job, planned),
  };
}

function changesOf({ currency }: Job, { agreed, notes, units }: Trade, { schedule }: JobPlan) {
  if (!agreed) return null;
  // What was agreed is kept as it was read: a day that is none cannot be said in words.
  const day = (date: string | null) => (date !== null && dayNumber(date) !== null ? date : null);
  const then = agreed.lines.map((line): AgreedLine => ({
    ...line,
    need: line.need && isQuantity(line.need) ? line.need : null,
    gross: line.gross !== null && Number.isSafeInteger(line.gross) ? line.gross : null,
    neededOn: day(line.neededOn),
  }));
  const said = Object.fromEntries(
    Object.entries(notes).map(([id, note]): [string, ChangeNote] => [id, { ...note, on: day(note.on) }]),
  );
  return scheduleChanges(then, agreedLines(schedule), { notes: said, currency, system: units });
}

function isQuantity(need: { amount: number; unit: string }): need is Quantity {
  return ['l', 'm²', 'm', 'piece', 'box', 'slab'].includes(need.unit);
}

function missingFrom(job: Job, { schedule, plan, scheduled, rules, unplanned, problems }: JobPlan): string[] {
  const place = ({ room, surface }: { room: string; surface: string }) => `${room}, ${surface}`;
  const at = (path: string): string => {
    const [, list, index] = /^(items|surfaces|finishes)\[(\d+)\]/.exec(path) ?? [];
    if (list === 'items') return `${place(scheduled.rules.items[Number(index)])}: `;
    if (list === 'surfaces') {
      const { room, name } = rules.surfaces[Number(index)];
      return `${room.name}, ${name}: `;
    }
    if (list === 'finishes') return `${rules.finishes[Number(index)].name}: `;
    const [, field, key] = /^(?:trade\.)?(moved|hours|ordered)\.(.*)$/.exec(path) ?? [];
    const step = field && plan.steps.find(({ id }) => id === key);
    if (step) return `${step.summary}: `;
    const item = scheduled.rules.items.find(({ id }) => id === key);
    if (item) return `${place(item)}, day of order: `;
    const fields: Record<string, string> = {
      finishBy: 'Finish-by date',
      'trade.startOn': 'Day of beginning',
    };
    return Object.hasOwn(fields, path) ? `${fields[path]}: ` : '';
  };
  const told = (list: readonly FieldProblem[]) => list.map(({ path, words }) => `${at(path)}${words}`);
  const measured = scheduled.surfaces.flatMap(
    ({ surface, roomName, swatch, primer, takeOff, paint, primed }) => {
      const of = `${roomName}, ${surface.name}: `;
      const left = takeOff?.leftOut.map((line) => `${of}not in the take-off: ${line}.`) ?? [];
      const needs = [takeOff, paint, primed].flatMap((need) => need?.problems ?? []);
      const spread = [paint && swatch, primed && primer].flatMap((paintOf) =>
        paintOf && (paintOf.supply?.spreadRate ?? null) === null
          ? [`${of}how far ${swatchTitle(paintOf)} goes is taken as usual; its data sheet says better.`]
          : [],
      );
      const none = takeOff || surface.state === 'fixed' ? [] : [`${of}nothing of it was measured.`];
      return [...none, ...left, ...spread, ...needs.map(({ words }) => of + words)];
    },
  );
  const packs = schedule.orders.flatMap(
    ({ finish, purchase }) => purchase?.leftOut.map((pack) => `${finish.name}: ${pack}.`) ?? [],
  );
  return [
    ...new Set([
      ...schedule.leftOut.map((line) => `Not in the total: ${line}.`),
      ...measured,
      ...packs,
      ...told(schedule.problems),
      ...told(problems),
      ...told(plan.problems),
      ...unplanned,
      ...plan.guessed,
      ...(job.finishBy === null ? ['No day is set by which the job is to be finished.'] : []),
    ]),
  ];
}

/** Colour of a swatch for print, sRGB of its look in D65; of several colours their mean. Null where it has none. */
export function patchOf(swatch: Swatch | null): Rgb | null {
  const estimate = swatch && swatchEstimate(swatch);
  if (!estimate) return null;
  const { r, g, b } = labToScreen(estimate.lab, 'srgb').rgb;
  return [Math.round(r * 255), Math.round(g * 255), Math.round(b * 255)];
}

/** The swatch a line of the schedule is made of; null while nothing is chosen. */
export function swatchOf({ scheduled }: ScheduleContents, lineId: string): Swatch | null {
  const found = scheduled.surfaces.find(({ itemIds }) => itemIds.includes(lineId));
  if (!found) return null;
  return lineId.endsWith(' primer') ? found.primer : found.swatch;
}

/** '2 × can of 5 l'; '' where packs are not known. */
export function packsWords({ purchase }: Order): string {
  return purchase?.packs.map(({ count, pack }) => `${count} × ${pack.name}`).join(' and ') ?? '';
}

/** What is bought, in packs and in both units; a dash where that cannot be said. */
export function boughtWords(order: Order, { units }: Trade): string {
  const { purchase, need } = order;
  if (purchase && purchase.packs.length > 0) {
    const [{ pack }] = purchase.packs;
    const counted = pack.unit === 'piece' || pack.unit === 'box' || pack.unit === 'slab';
    if (counted && pack.size === 1) return quantityWords(purchase.bought, pack.unit, units);
    return `${packsWords(order)}: ${quantityWords(purchase.bought, pack.unit, units)}`;
  }
  return need ? `${quantityWords(need.amount, need.unit, units)}, packs not given` : '–';
}

/** Quantity of a line in both units, what it is bought in first: '4.83 m² (52.0 sq ft), 2 slabs'. */
export function neededWords({ need, item }: ScheduleLine, { units }: Trade): string {
  const others = item.needs.filter(({ amount, unit }) => amount > 0 && amount < 1e6 && unit !== need?.unit);
  const known = need ? [need, ...others] : others;
  return known.map(({ amount, unit }) => quantityWords(amount, unit, units)).join(', ') || 'not known';
}

/** Until when a thing has to be ordered, or what stands against saying so. */
export function orderByWords({ delivery }: Order): string {
  if (delivery.orderBy) return dateWords(delivery.orderBy);
  return {
    ordered: 'ordered',
    'lead time unknown': 'ask',
    'no date': 'no date',
    late: 'now',
    'in time': '–',
    'in the past': 'now',
  }[delivery.kind];
}

/** How an order stands, in few words. */
export function stateWords({ delivery, substitute }: Order): string {
  const { kind, arrives, lateBy, daysLeft } = delivery;
  const comes = arrives ? `, comes ${dateWords(arrives)}` : '';
  const late = lateBy ? `, ${lateBy} ${lateBy === 1 ? 'day' : 'days'} late` : '';
  switch (kind) {
    case 'ordered':
      return `ordered${comes}${late}`;
    case 'in time':
      return daysLeft === 0 ? 'order today' : 'to order';
    case 'late':
      return `too late: ordered now${comes}${late}${substitute ? '; another would be in time' : ''}`;
    case 'in the past':
      return `was needed in the past${comes && `; ordered now${comes}`}`;
    case 'lead time unknown':
      return 'time to come not known: ask';
    case 'no date':
      return `no date set${comes && `; ordered now${comes}`}`;
  }
}

/** Money of the job's currency, or that there is no price. */
export function costWords(cost: { gross: number } | null, { currency }: Job): string {
  return cost ? moneyWords(cost.gross, currency) : 'no price';
}

/** Orders by supplier, those without one last; first to order first. */
export function bySupplier(orders: readonly Order[]): { supplier: string; orders: Order[] }[] {
  const due = ({ delivery }: Order) => delivery.orderBy ?? '9999';
  const groups = Map.groupBy(orders, ({ supplier }) => supplier.trim());
  return [...groups]
    .map(([supplier, own]) => ({
      supplier,
      orders: own.toSorted((a, b) => (due(a) < due(b) ? -1 : due(a) > due(b) ? 1 : 0)),
    }))
    .sort(
      (a, b) =>
        Number(a.supplier === '') - Number(b.supplier === '') || a.supplier.localeCompare(b.supplier, 'en'),
    );
}

/** What prices hold of tax: 'with 19 % VAT'. */
export function taxWords({ tax }: Trade): string {
  if (!tax || !(tax.rate >= 0 && tax.rate <= 100)) return 'no tax counted';
  return `with ${tax.rate} % ${tax.name || 'tax'}`;
}

/** 'finish coat' and the like for people: what a line is for. */
export const ROLE_WORDS = {
  primer: 'primer',
  'finish coat': 'paint',
  tile: 'tile',
  slab: 'stone',
  hardware: 'hardware',
  other: 'other',
} as const;
