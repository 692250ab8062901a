import { arrival, daysSaid, delivery, firstOrderDay } from './delivery.ts';
import type { Delivery, DeliveryRules } from './delivery.ts';
import { minorUnits, moneyWords, pricedLine, sharedOut, taxed } from './money.ts';
import type { Tax, Taxed } from './money.ts';
import type { FieldProblem } from './parts.ts';
import type { Price } from './price.ts';
import { packProblems, purchase, quantityWords } from './purchase.ts';
import type { Pack, Purchase, Quantity } from './purchase.ts';
import { termsOf } from './purchase-terms.ts';
import type { UnitSystem } from './units.ts';
import { dateWords, dayNumber, daysBetween } from './working-days.ts';
import type { IsoDate } from './working-days.ts';

export const SCHEDULE_ROLES = ['primer', 'finish coat', 'tile', 'slab', 'hardware', 'other'] as const;
export type ScheduleRole = (typeof SCHEDULE_ROLES)[number];

/** A finish by what tells it from others. */
export interface NamedFinish {
  readonly maker: string;
  readonly code: string;
  readonly name: string;
  /** In words; '' where it has none. */
  readonly sheen: string;
}

/** A candidate that could come instead, in order of rank. */
export interface Substitute {
  readonly id: string;
  readonly finish: NamedFinish;
  readonly leadTimeDays: number | null;
}

/** One thing that goes on one surface. */
export interface ScheduleItem {
  readonly id: string;
  readonly room: string;
  readonly surface: string;
  readonly role: ScheduleRole;
  /** Null where nothing is chosen yet. */
  readonly finish: NamedFinish | null;
  /** The same need in every unit it is known in: 20 piece, 2 box, 1.65 m². Empty where it is not known. */
  readonly needs: readonly Quantity[];
  /** What is sold; where empty, the price is of a unit. */
  readonly packs: readonly Pack[];
  readonly price: Price | null;
  readonly supplier: string;
  readonly leadTimeDays: number | null;
  /** Null: when the job is to be finished. */
  readonly neededOn: IsoDate | null;
  readonly orderedOn: IsoDate | null;
  readonly substitutes: readonly Substitute[];
}

export interface ScheduleRules extends DeliveryRules {
  readonly items: readonly ScheduleItem[];
  /** ISO 4217 code; prices in others are left out of the totals. */
  readonly currency: string;
  readonly tax: Tax | null;
  /** Money for all of it, tax included; null where none is set. */
  readonly budget: number | null;
  readonly finishBy: IsoDate | null;
  readonly system: UnitSystem;
}

/** What is bought in one go: one product, for all surfaces it goes on. */
export interface Order {
  /** Id of the first line it serves. */
  readonly id: string;
  readonly lineIds: readonly string[];
  readonly role: ScheduleRole;
  readonly finish: NamedFinish;
  readonly supplier: string;
  /** In the unit it is bought in; null where no surface's need is known. */
  readonly need: Quantity | null;
  /** The packs; null where the product is priced by measure or its need is not known. */
  readonly purchase: Purchase | null;
  /** Smallest units of the currency; null where it cannot be said. */
  readonly cost: Taxed | null;
  /** For the surface that needs it first. */
  readonly delivery: Delivery;
  /** The first substitute that comes in time, where the thing itself does not. */
  readonly substitute: { readonly id: string; readonly arrives: IsoDate } | null;
  readonly words: string;
}

export interface ScheduleLine {
  readonly item: ScheduleItem;
  readonly orderId: string | null;
  /** In the unit it is bought in. */
  readonly need: Quantity | null;
  /** Its share of the order by quantity; shares add up to the order. */
  readonly cost: Taxed | null;
  readonly neededOn: IsoDate | null;
  readonly words: string;
}

export interface FinishSchedule {
  readonly lines: readonly ScheduleLine[];
  readonly orders: readonly Order[];
  /** Smallest units of the currency. */
  readonly total: Taxed;
  /** Smallest units; `left` negative where the total is over it. */
  readonly budget: { readonly amount: number; readonly left: number } | null;
  /** What the total does not count, a sentence each. */
  readonly leftOut: readonly string[];
  /** By field of the items, as 'items[2].leadTimeDays'. */
  readonly problems: readonly FieldProblem[];
  readonly words: string;
}

/**
 * The finish schedule: what goes where, how much of it is bought, what it costs and by when it must be ordered. What is the
 * same product is bought together, since cans opened for one surface serve the next. Each order is rounded to smallest units
 * of money once, and its tax once; totals are sums of those. Faulty fields are named and left out; nothing throws but for
 * `today` (TypeError) and a week without working days (RangeError).
 */
export function finishSchedule(rules: ScheduleRules): FinishSchedule {
  const problems = rules.items.flatMap((item, index) => itemProblems(item, `items[${index}]`, rules));
  if (rules.tax && !(rules.tax.rate >= 0 && rules.tax.rate <= 100))
    problems.push({
      path: 'tax.rate',
      severity: 'error',
      words: `A tax lies from 0 to 100 %, not ${rules.tax.rate}; none is counted.`,
    });
  if (rules.budget !== null && !(rules.budget >= 0 && rules.budget < 1e12))
    problems.push({
      path: 'budget',
      severity: 'error',
      words: `A budget must be 0 or more, not ${rules.budget}; it is not looked at.`,
    });
  if (rules.finishBy !== null && dayNumber(rules.finishBy) === null)
    problems.push({
      path: 'finishBy',
      severity: 'error',
      words: `“${rules.finishBy}” is no day of the calendar; no date is counted with.`,
    });
  const faulty = (path: string) =>
    problems.some((problem) => problem.severity === 'error' && problem.path === path);
  const sound: ScheduleRules = {
    ...rules,
    tax: faulty('tax.rate') ? null : rules.tax,
    budget: faulty('budget') ? null : rules.budget,
    finishBy: faulty('finishBy') ? null : rules.finishBy,
    items: rules.items.map((item, index) => soundItem(item, `items[${index}]`, faulty)),
  };
  const groups = new Map<string, ScheduleItem[]>();
  for (const item of sound.items) {
    if (!item.finish) continue;
    const key = productKey(item, item.finish);
    groups.set(key, [...(groups.get(key) ?? []), item]);
  }
  const leftOut: string[] = [];
  const done = [...groups.values()].map((items) => order(items, sound, leftOut));
  const orders = done.map((one) => one.order);
  const lines = sound.items.map((item) => line(item, { rules: sound, done, leftOut }));
  const total = orders.reduce<Taxed>(
    (sum, { cost }) =>
      cost ? { net: sum.net + cost.net, tax: sum.tax + cost.tax, gross: sum.gross + cost.gross } : sum,
    { net: 0, tax: 0, gross: 0 },
  );
  const amount = sound.budget === null ? null : minorUnits(sound.budget, sound.currency);
  const budget = amount === null ? null : { amount, left: amount - total.gross };
  return {
    lines,
    orders,
    total,
    budget,
    leftOut,
    problems,
    words: totalWords({ total, budget, leftOut, rules: sound }),
  };
}

function totalWords({
  total,
  budget,
  leftOut,
  rules: { currency, tax },
}: Pick<FinishSchedule, 'total' | 'budget' | 'leftOut'> & { rules: ScheduleRules }): string {
  const of = tax && total.tax > 0 ? `, of which ${moneyWords(total.tax, currency)} ${tax.name || 'tax'}` : '';
  const against =
    budget === null
      ? ''
      : budget.left >= 0
        ? ` ${moneyWords(budget.left, currency)} of the budget of ${moneyWords(budget.amount, currency)} is left.`
        : ` That is ${moneyWords(-budget.left, currency)} over the budget of ${moneyWords(budget.amount, currency)}.`;
  const missing = leftOut.length === 0 ? '' : ` Not counted: ${leftOut.join('; ')}.`;
  return `${moneyWords(total.gross, currency)} in all${of}.${against}${missing}`;
}

/** Same product for the same use, from the same supplier on the same day: bought together. */
function productKey(
  { role, supplier, orderedOn }: ScheduleItem,
  { maker, code, name, sheen }: NamedFinish,
): string {
  return JSON.stringify(
    [role, supplier, orderedOn ?? '', maker, code, name, sheen].map((text) => text.trim().toLowerCase()),
  );
}

function itemProblems(item: ScheduleItem, path: string, { today }: ScheduleRules): FieldProblem[] {
  const problems: FieldProblem[] = packProblems(item.packs, `${path}.packs`);
  const error = (field: string, words: string) =>
    problems.push({ path: `${path}.${field}`, severity: 'error', words });
  item.needs.forEach(({ amount }, k) => {
    if (!(amount > 0 && amount < 1e6)) error(`needs[${k}]`, `A quantity must be more than 0, not ${amount}.`);
  });
  if (item.price && !(item.price.amount >= 0 && item.price.amount < 1e9))
    error('price', `A price must be 0 or more, not ${item.price.amount}.`);
  if (item.leadTimeDays !== null && !(item.leadTimeDays >= 0 && item.leadTimeDays <= 3650))
    error('leadTimeDays', `A lead time lies from 0 to 3650 days, not ${item.leadTimeDays}.`);
  for (const field of ['neededOn', 'orderedOn'] as const) {
    const date = item[field];
    if (date !== null && dayNumber(date) === null) error(field, `“${date}” is no day of the calendar.`);
  }
  const { neededOn, orderedOn } = item;
  if (neededOn !== null && dayNumber(neededOn) !== null && daysBetween(today, neededOn) < 0)
    problems.push({
      path: `${path}.neededOn`,
      severity: 'warning',
      words: `${dateWords(neededOn)} is past.`,
    });
  if (orderedOn !== null && dayNumber(orderedOn) !== null && daysBetween(today, orderedOn) > 0)
    problems.push({
      path: `${path}.orderedOn`,
      severity: 'warning',
      words: `${dateWords(orderedOn)} is still to come.`,
    });
  return problems;
}

/** The item without the fields that cannot be; packs are looked at where they are bought. */
function soundItem(item: ScheduleItem, path: string, faulty: (path: string) => boolean): ScheduleItem {
  return {
    ...item,
    needs: item.needs.filter((_, k) => !faulty(`${path}.needs[${k}]`)),
    price: faulty(`${path}.price`) ? null : item.price,
    leadTimeDays: faulty(`${path}.leadTimeDays`) ? null : item.leadTimeDays,
    neededOn: faulty(`${path}.neededOn`) ? null : item.neededOn,
    orderedOn: faulty(`${path}.orderedOn`) ? null : item.orderedOn,
  };
}

const neededOn = (item: ScheduleItem, rules: ScheduleRules) => item.neededOn ?? rules.finishBy;

interface Done {
  readonly items: readonly ScheduleItem[];
  readonly order: Order;
  readonly needs: readonly (Quantity | null)[];
  readonly shares: readonly (Taxed | null)[];
}

function order(items: readonly ScheduleItem[], rules: ScheduleRules, leftOut: string[]): Done {
  const [first] = items;
  const terms = termsOf(first, rules.currency);
  const unit = terms.unit ?? first.needs[0]?.unit ?? null;
  const needs = items.map(({ needs }) => needs.find((need) => need.unit === unit) ?? null);
  const amount = needs.reduce((sum, need) => sum + (need?.amount ?? 0), 0);
  const named = finishWords(first.finish!);
  items.forEach((item, k) => {
    if (needs[k] === null)
      leftOut.push(
        `${placeWords(item)}: how much ${named} is needed${unit && item.needs.length > 0 ? ` in ${unit}` : ''} is not known`,
      );
  });
  const bought =
    amount > 0 && terms.packs.length > 0
      ? purchase({
          need: amount,
          packs: terms.packs,
          currency: rules.currency,
          system: rules.system,
          path: 'packs',
        })
      : null;
  const minor =
    amount === 0
      ? null
      : bought
        ? bought.cost
        : terms.each !== null
          ? pricedLine({ price: terms.each, count: amount, discount: 0 }, rules.currency)
          : null;
  if (minor === null && amount > 0)
    leftOut.push(
      `${named} for ${items.map(placeWords).join('; ')}: ${terms.fault ?? (terms.packs.length > 0 && !bought ? 'none of its packs can be used' : 'no price')}`,
    );
  const cost = minor === null ? null : taxed(minor, rules.tax);
  const dates = items.map((item) => neededOn(item, rules)).filter((date) => date !== null);
  const earliest = dates.length === 0 ? null : dates.reduce((a, b) => (a < b ? a : b));
  const when = { neededOn: earliest, leadTime: first.leadTimeDays, orderedOn: first.orderedOn };
  const due = delivery(when, rules);
  const instead = due.kind === 'late' ? substituteInTime(first.substitutes, earliest!, rules) : null;
  const how = bought
    ? bought.words
    : amount > 0 && unit
      ? `${quantityWords(amount, unit, rules.system)}${minor === null ? ', no price' : `, ${moneyWords(minor, rules.currency)} by the ${unit}; packs not given`}.`
      : 'How much is not known.';
  const withTax =
    cost && cost.tax > 0 && !rules.tax?.included
      ? ` With ${rules.tax?.name || 'tax'} ${moneyWords(cost.gross, rules.currency)}.`
      : '';
  return {
    items,
    needs,
    order: {
      id: first.id,
      lineIds: items.map(({ id }) => id),
      role: first.role,
      finish: first.finish!,
      supplier: first.supplier,
      need: amount > 0 && unit ? { amount, unit } : null,
      purchase: bought,
      cost,
      delivery: due,
      substitute: instead && { id: instead.id, arrives: instead.arrives },
      words: `${named}, ${first.role}: ${how}${withTax} ${due.words}${due.kind === 'late' ? ` ${instead?.words ?? 'Nothing on the shortlist comes in time.'}` : ''}`,
    },
    shares: shared(
      cost,
      needs.map((need) => need?.amount ?? 0),
    ),
  };
}

function shared(cost: Taxed | null, amounts: readonly number[]): (Taxed | null)[] {
  if (!cost) return amounts.map(() => null);
  const [net, tax] = [sharedOut(cost.net, amounts), sharedOut(cost.tax, amounts)];
  return amounts.map((amount, k) =>
    amount > 0 ? { net: net[k], tax: tax[k], gross: net[k] + tax[k] } : null,
  );
}

function line(
  item: ScheduleItem,
  { rules, done, leftOut }: { rules: ScheduleRules; done: readonly Done[]; leftOut: string[] },
): ScheduleLine {
  const found = done.find(({ items }) => items.includes(item));
  if (!found) {
    leftOut.push(`${placeWords(item)}: no finish is chosen`);
    const words = `${placeWords(item)}, ${item.role}: no finish is chosen.`;
    return { item, orderId: null, need: null, cost: null, neededOn: neededOn(item, rules), words };
  }
  const k = found.items.indexOf(item);
  const need = found.needs[k];
  const cost = found.shares[k];
  const amount = need ? quantityWords(need.amount, need.unit, rules.system) : 'quantity not known';
  const money = cost ? moneyWords(cost.gross, rules.currency) : 'no price';
  return {
    item,
    orderId: found.order.id,
    need,
    cost,
    neededOn: neededOn(item, rules),
    words: `${placeWords(item)}, ${item.role}: ${finishWords(item.finish!)}, ${amount}, ${money}.`,
  };
}

function substituteInTime(
  substitutes: readonly Substitute[],
  needed: IsoDate,
  rules: ScheduleRules,
): { id: string; arrives: IsoDate; words: string } | null {
  for (const { id, finish, leadTimeDays } of substitutes) {
    if (leadTimeDays === null || !(leadTimeDays >= 0 && leadTimeDays <= 3650)) continue;
    const arrives = arrival(firstOrderDay(rules), leadTimeDays, rules);
    const early = daysBetween(arrives, needed);
    if (early < 0) continue;
    const spare = early === 0 ? 'on the day' : `${daysSaid(early)} before it is needed`;
    return { id, arrives, words: `${finishWords(finish)} would come ${dateWords(arrives)}, ${spare}.` };
  }
  return null;
}

function placeWords({ room, surface }: ScheduleItem): string {
  return [room, surface].filter(Boolean).join(', ') || 'a surface without a name';
}

/** 'Harbour Coatings 214 Sea Glass, satin'. */
export function finishWords({ maker, code, name, sheen }: NamedFinish): string {
  const named =
    [maker, code, name]
      .map((text) => text.trim())
      .filter(Boolean)
      .join(' ') || 'a finish without a name';
  return sheen ? `${named}, ${sheen}` : named;
}
