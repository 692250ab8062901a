import {
  QUANTITY_UNITS,
  dateWords,
  dayNumber,
  moneyWords,
  quantityWords,
  type AgreedLine,
  type FieldProblem,
  type FinishSchedule,
  type IsoDate,
  type Order,
  type PriceListReport,
  type PricedFinish,
  type ScheduleChange,
  type ScheduleLine,
  type UnitSystem,
} from '#lib/finish/index.ts';
import {
  DEFAULT_SUPPLY,
  DEFAULT_WORK,
  inOrder,
  nextOrder,
  swatchTitle,
  type Id,
  type Job,
  type JobPlan,
  type Photo,
  type Surface,
  type SurfaceMask,
  type SurfacePart,
  type Swatch,
  type SwatchSupply,
  type Trade,
} from '#lib/job/index.ts';

/** Places of the document and what they become, for `studio.set`. */
type Values = (readonly [string[], unknown])[];

/** What sets fields of how a surface is worked on; they are put there first where nobody touched them. */
export function workValues(surface: Surface, values: Values): Values {
  const at = ['surfaces', surface.id, 'work'];
  const there: Values = surface.work ? [] : [[at, DEFAULT_WORK]];
  return [...there, ...values.map(([path, value]): Values[number] => [[...at, ...path], value])];
}

/** What sets fields of what a supplier sells of a swatch. */
export function supplyValues(swatch: Swatch, values: Values): Values {
  const at = ['swatches', swatch.id, 'supply'];
  const there: Values = swatch.supply ? [] : [[at, DEFAULT_SUPPLY]];
  return [...there, ...values.map(([path, value]): Values[number] => [[...at, ...path], value])];
}

/** What puts a part on a surface, or takes it away. */
export function partValues(surface: Surface, part: SurfacePart, keep = true): Values {
  const at = ['surfaces', surface.id, 'parts'];
  if (!surface.parts) return [[at, { [part.id]: part }]];
  return [[[...at, part.id], keep ? part : undefined]];
}

/** Problems of one field. */
export function problemsAt(problems: readonly FieldProblem[], path: string): FieldProblem[] {
  return problems.filter((problem) => problem.path === path);
}

/** Problems of a line of the schedule, by field of the line: 'packs[0].price'. */
export function lineProblems(schedule: FinishSchedule, lineId: string): FieldProblem[] {
  const index = schedule.lines.findIndex(({ item }) => item.id === lineId);
  const start = `items[${index}].`;
  return schedule.problems.flatMap((problem) =>
    problem.path.startsWith(start) ? [{ ...problem, path: problem.path.slice(start.length) }] : [],
  );
}

/** What is to be ordered next: what is late or past first, then by the last day on which to order. */
export function nextOrders(orders: readonly Order[]): Order[] {
  const rank = ({ delivery }: Order) => (delivery.kind === 'late' || delivery.kind === 'in the past' ? 0 : 1);
  return orders
    .filter(({ delivery: { kind, orderBy } }) => kind === 'in the past' || (kind !== 'ordered' && orderBy))
    .toSorted(
      (a, b) => rank(a) - rank(b) || (a.delivery.orderBy ?? '').localeCompare(b.delivery.orderBy ?? '', 'en'),
    );
}

/** 'Ternhollow paint counter by Fri 1 Jan 2027: Reed Hollow, Grip primer.' One for each supplier and day. */
export interface OrderDay {
  readonly by: IsoDate | null;
  readonly late: boolean;
  readonly supplier: string;
  readonly names: readonly string[];
  readonly words: string;
}

/** The next days of ordering, those that are late first. */
export function orderDays(orders: readonly Order[]): OrderDay[] {
  const days = new Map<string, Order[]>();
  for (const order of nextOrders(orders)) {
    const { kind, orderBy } = order.delivery;
    const late = kind === 'late' || kind === 'in the past';
    const key = JSON.stringify([late, orderBy, order.supplier]);
    days.set(key, [...(days.get(key) ?? []), order]);
  }
  return [...days.values()].map((group) => {
    const [{ delivery, supplier }] = group;
    const late = delivery.kind === 'late' || delivery.kind === 'in the past';
    const names = group.map(({ finish }) => finish.name);
    const what = new Intl.ListFormat('en-GB').format(names);
    const from = supplier ? ` from ${supplier}` : '';
    const left = delivery.daysLeft === null ? '' : `, ${daysLeftWords(delivery.daysLeft)}`;
    const words =
      delivery.orderBy === null
        ? `${what}${from}: the day it is needed on is past.`
        : late
          ? `${what}${from}: had to be ordered by ${dateWords(delivery.orderBy)}; it comes ${lateWords(delivery.lateBy)}.`
          : `${what}${from}: order by ${dateWords(delivery.orderBy)}${left}.`;
    return { by: delivery.orderBy, late, supplier, names, words };
  });
}

function daysLeftWords(days: number): string {
  return days === 0 ? 'which is today' : days === 1 ? 'tomorrow' : `in ${days} days`;
}

/** '3 days late', 'just in time'. */
function lateWords(days: number | null): string {
  return !days ? 'just in time' : `${days} ${days === 1 ? 'day' : 'days'} late`;
}

/** What is left of the budget, or what it is over by; null without one. */
export function budgetWords({ budget }: FinishSchedule, currency: string): string | null {
  if (!budget) return null;
  const of = `the budget of ${moneyWords(budget.amount, currency)}`;
  if (budget.left === 0) return `That is ${of} to the last coin.`;
  return budget.left > 0
    ? `${moneyWords(budget.left, currency)} of ${of} ${budget.left === 1 ? 'is' : 'are'} left.`
    : `That is ${moneyWords(-budget.left, currency)} over ${of}.`;
}

/** 'Incl. 78.47 EUR VAT'; '' without a tax. */
export function taxWords(
  { tax }: { readonly tax: number },
  { name, currency }: { readonly name: string; readonly currency: string },
): string {
  return tax > 0 ? `with ${moneyWords(tax, currency)} ${name || 'tax'} in it` : '';
}

/** What is bought for a line: its packs, or with what else it is bought. */
export function boughtWords(
  { item }: ScheduleLine,
  { order, lines, system }: { order: Order; lines: readonly ScheduleLine[]; system: UnitSystem },
): string {
  const { purchase, need } = order;
  if (!purchase || !need) return '';
  const bought = quantityWords(purchase.bought, need.unit, system);
  const others = lines.filter((line) => line.item.id !== item.id && order.lineIds.includes(line.item.id));
  if (others.length === 0) return `${bought} bought`;
  // Rooms are named where there are several, as everywhere.
  const several = others.some((line) => line.item.room !== item.room);
  const with_ = new Intl.ListFormat('en-GB').format(
    others.map((line) => [line.item.surface, several && line.item.room].filter(Boolean).join(', ')),
  );
  return `${bought} bought, for ${with_} too`;
}

/** The finishes of a job as a price list is held against them. */
export function pricedFinishes(job: Job): PricedFinish[] {
  return inOrder(job.swatches).map(({ id, maker, code, name, price, leadTimeDays, supply }) => ({
    ...{ id, maker, code, name, price, leadTimeDays },
    packs: inOrder(supply?.packs ?? {}),
  }));
}

/** What the changes of a price list do to the job, and those that cannot be taken, a sentence each. */
export function priceListValues(
  job: Job,
  { changes }: PriceListReport,
  newId: () => Id,
): { values: Values; refused: string[] } {
  const values: Values = [];
  const refused: string[] = [];
  const supplies = new Map<Id, SwatchSupply>();
  for (const { finishId, line, pack, price, leadTimeDays } of changes) {
    const swatch = job.swatches[finishId];
    if (leadTimeDays) values.push([['swatches', finishId, 'leadTimeDays'], leadTimeDays.is]);
    if (!price) continue;
    const { is } = price;
    if (is.amount > 1e9) {
      refused.push(
        `Line ${line}: a price of ${is.amount} for ${swatchTitle(swatch)} is no price we can keep.`,
      );
      continue;
    }
    const supply = supplies.get(finishId) ?? swatch.supply;
    const packs = inOrder(supply?.packs ?? {});
    if (!pack || !supply || packs.length === 0) {
      values.push([['swatches', finishId, 'price'], { ...is, unit: is.unit.slice(0, 24) }]);
      continue;
    }
    if (is.currency && is.currency !== job.currency) {
      refused.push(
        `Line ${line}: cans and boxes have their prices in ${job.currency}; that of ${swatchTitle(swatch)} is in ${is.currency}.`,
      );
      continue;
    }
    const known = packs.find(
      ({ size, unit }) => unit === pack.unit && Math.abs(size - pack.amount) < 1e-6 * pack.amount,
    );
    const id = known?.id ?? newId();
    const added = {
      ...{ id, order: nextOrder(supply.packs), name: `${pack.amount} ${pack.unit}` },
      ...{ size: pack.amount, unit: pack.unit, discounts: [] },
    };
    const packed = { ...(known ?? added), price: is.amount };
    supplies.set(finishId, { ...supply, packs: { ...supply.packs, [id]: packed } });
  }
  for (const [id, supply] of supplies) values.push([['swatches', id, 'supply'], supply]);
  return { values, refused };
}

/** Photos in which a surface is marked, on the picture that is there now. */
export function markedPhotos(job: Job, surfaceId: Id): { photo: Photo; mask: SurfaceMask }[] {
  return inOrder(job.photos).flatMap((photo) => {
    const mask = photo.masks?.[surfaceId];
    return mask && mask.fileId === photo.fileId ? [{ photo, mask }] : [];
  });
}

/** What a day in a field is wrong with; null where it is well. `past` says what a past day means there. */
export function dayProblem(day: string | null, today: IsoDate, past: string): string | null {
  if (day === null) return null;
  if (dayNumber(day) === null) return `“${day}” is no day of the calendar.`;
  return day < today ? past : null;
}

/** Days off in their order, each once, with one more. */
export function withHoliday(holidays: readonly IsoDate[], day: IsoDate): IsoDate[] {
  return [...new Set([...holidays, day])].toSorted();
}

/** What the plan says of the work on a surface, by field of the work: 'drying.recoat'. */
export function workProblems({ plan, rules, surfaceOf }: JobPlan, surfaceId: Id): FieldProblem[] {
  const found = plan.problems.flatMap((problem) => {
    const [, index, field] = /^surfaces\[(\d+)\]\.(.+)$/.exec(problem.path) ?? [];
    const work = index === undefined ? undefined : rules.surfaces[Number(index)];
    return work && surfaceOf[work.id] === surfaceId ? [{ ...problem, path: field }] : [];
  });
  // Parts that need other coats are works of their own: what is wrong with all of them is said once.
  return found.filter((problem, i) => found.findIndex(({ path }) => path === problem.path) === i);
}

/** Orders of one supplier, and what they cost together; null where none of them has a price. */
export interface SupplierOrders {
  readonly supplier: string;
  readonly orders: readonly Order[];
  readonly gross: number | null;
}

/** Orders by supplier in the order of the schedule. */
export function ordersBySupplier(orders: readonly Order[]): SupplierOrders[] {
  return [...Map.groupBy(orders, ({ supplier }) => supplier)].map(([supplier, own]) => {
    const priced = own.flatMap(({ cost }) => (cost ? [cost.gross] : []));
    const gross = priced.length === 0 ? null : priced.reduce((sum, value) => sum + value, 0);
    return { supplier, orders: own, gross };
  });
}

/** The agreed lines as they are compared; a quantity in a unit nobody knows is no quantity. */
export function keptLines({ lines }: NonNullable<Trade['agreed']>): AgreedLine[] {
  return lines.map((line) => {
    const unit = QUANTITY_UNITS.find((one) => one === line.need?.unit);
    return { ...line, need: line.need && unit ? { amount: line.need.amount, unit } : null };
  });
}

/** All that changed of one line since it was agreed. */
export interface ChangedLine {
  readonly lineId: string;
  readonly place: string;
  readonly fields: readonly ScheduleChange[];
  readonly agreed: boolean;
}

/** Changes line by line, in their order. */
export function changesByLine(changes: readonly ScheduleChange[]): ChangedLine[] {
  return [...Map.groupBy(changes, ({ lineId }) => lineId)].map(([lineId, fields]) => {
    const [{ room, surface, role, agreed }] = fields;
    const place = [room, surface, role === 'other' ? '' : role].filter(Boolean).join(', ');
    return { lineId, place, fields, agreed };
  });
}

/** The number of the latest round among a job's boards as the server lists them; null where there is none. */
export function latestRound(listed: unknown): number | null {
  const rounds = (Array.isArray(listed) ? listed : []).flatMap((board: unknown) => {
    const round = (board as { round?: unknown } | null)?.round;
    return typeof round === 'number' ? [round] : [];
  });
  return rounds.length === 0 ? null : Math.max(...rounds);
}

/** Surfaces whose finish comes late and that have other candidates. */
export function lateSurfaces({ scheduled, schedule }: JobPlan): Id[] {
  const late = new Set(
    schedule.orders.filter(({ delivery }) => delivery.kind === 'late').flatMap(({ lineIds }) => lineIds),
  );
  return scheduled.surfaces
    .filter(
      ({ surface, itemIds }) =>
        itemIds.some((id) => late.has(id)) && Object.keys(surface.candidateIds).length > 1,
    )
    .map(({ surface }) => surface.id);
}
