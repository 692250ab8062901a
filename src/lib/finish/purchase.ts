import type { FieldProblem } from './parts.ts';
import { moneyWords, pricedLine } from './money.ts';
import { LITRES, areaWords, lengthWords, volumeWords } from './units.ts';
import type { UnitSystem } from './units.ts';
import { counted } from './work-sheet.ts';

/** What quantities are said in. */
export const QUANTITY_UNITS = ['l', 'm²', 'm', 'piece', 'box', 'slab'] as const;
export type QuantityUnit = (typeof QUANTITY_UNITS)[number];

export interface Quantity {
  readonly amount: number;
  readonly unit: QuantityUnit;
}

/** A can, box or piece as it is sold. */
export interface Pack {
  /** 'can of 2.5 l' */
  readonly name: string;
  /** How much is in it, of `unit`. */
  readonly size: number;
  readonly unit: QuantityUnit;
  /** Of one pack, in the currency of the question; null where it is not known. */
  readonly price: number | null;
  /** Percent off all packs of this kind from a number of them on. */
  readonly discounts: readonly { readonly from: number; readonly percent: number }[];
}

/** Can sizes, litres, where the product does not say which are sold. Common practice, no published source. */
export const USUAL_CANS: Readonly<Record<UnitSystem, readonly number[]>> = {
  metric: [0.75, 1, 2.5, 5, 10],
  us: [LITRES.quart, LITRES.gal, 5 * LITRES.gal],
};

export interface BoughtPack {
  readonly pack: Pack;
  readonly count: number;
  /** Percent that came off. */
  readonly discount: number;
  /** Smallest units of the currency; null where the pack has no price. */
  readonly cost: number | null;
}

export interface Purchase {
  /** Kinds of pack that are bought, largest first. */
  readonly packs: readonly BoughtPack[];
  readonly bought: number;
  /** What is left over, of the unit. */
  readonly left: number;
  /** Smallest units of the currency; null where nothing has a price. */
  readonly cost: number | null;
  /** Packs that were not looked at, in words: without a price beside others with one, or with a size that cannot be. */
  readonly leftOut: readonly string[];
  readonly problems: readonly FieldProblem[];
  readonly words: string;
}

export interface PurchaseQuestion {
  /** How much is needed at least, of the packs' unit, 0 or more. */
  readonly need: number;
  readonly packs: readonly Pack[];
  readonly currency: string;
  readonly system: UnitSystem;
  /** Path of the packs, for problems. */
  readonly path: string;
}

/** Most packs of one kind. */
const MOST_PACKS = 20_000;
/** What sums of sizes may be off by. */
const HAIR = 1e-9;

/**
 * The packs that cover a need for the least money, discounts and the rounding of each line counted; of equal cost the one
 * that leaves least over, then the fewest packs. Exact: kinds of pack are added one after another, and of the amounts
 * reached so far only those are dropped that another reaches or passes for less money. Where no pack has a price, least is
 * left over, in the fewest packs.
 * Null where no pack can be used (`packProblems` says why), or the need would take more than twenty thousand. Throws RangeError for a negative need and for packs of several units.
 */
export function purchase({ need, packs, currency, system, path }: PurchaseQuestion): Purchase | null {
  if (!(need >= 0 && need < Infinity)) throw new RangeError(`Expected a need of 0 or more, got ${need}`);
  const units = new Set(packs.map(({ unit }) => unit));
  if (units.size > 1) throw new RangeError(`Expected packs of one unit, got ${[...units].join(', ')}`);
  const problems = packProblems(packs, path);
  const sound = packs.filter((_, index) => !hasError(problems, `${path}[${index}]`));
  const priced = sound.filter(({ price }) => price !== null);
  const used = (priced.length > 0 ? priced : sound).toSorted((a, b) => b.size - a.size);
  if (used.length === 0 || need / used[used.length - 1].size > MOST_PACKS) return null;
  const counts = leastCost(need, { packs: used, currency });
  const lines = used
    .map((pack, k) => {
      const discount = discountFrom(pack, counts[k]);
      const cost = pack.price === null ? null : lineCost(pack, counts[k], currency);
      return { pack, count: counts[k], discount, cost };
    })
    .filter(({ count }) => count > 0);
  const bought = lines.reduce((sum, { pack, count }) => sum + pack.size * count, 0);
  const cost = priced.length === 0 ? null : lines.reduce((sum, line) => sum + line.cost!, 0);
  const leftOut = packs
    .filter((pack) => !used.includes(pack))
    .map((pack) => packWords(pack, packs.indexOf(pack)));
  const { unit } = used[0];
  const said = lines.map(
    ({ count, pack, discount }) => `${count} × ${pack.name}${discount > 0 ? `, ${discount} % off` : ''}`,
  );
  const sum = `${quantityWords(bought, unit, system)} for the ${quantityWords(need, unit, system)} needed`;
  return {
    packs: lines,
    bought,
    left: Math.max(0, bought - need),
    cost,
    leftOut,
    problems,
    words:
      lines.length === 0
        ? 'Nothing to buy.'
        : `${said.join(' and ')}: ${sum}${cost === null ? '; no price' : `, ${moneyWords(cost, currency)}`}.`,
  };
}

/** What is wrong with packs, by field. */
export function packProblems(packs: readonly Pack[], path: string): FieldProblem[] {
  const problems: FieldProblem[] = [];
  const error = (at: string, words: string) => problems.push({ path: at, severity: 'error', words });
  packs.forEach((pack, index) => {
    const at = `${path}[${index}]`;
    if (!(pack.size > 0 && pack.size < 1e6))
      error(`${at}.size`, `A pack must hold more than nothing; this one holds ${pack.size}.`);
    if (pack.price !== null && !(pack.price >= 0 && pack.price < 1e9))
      error(`${at}.price`, `A price must be 0 or more, not ${pack.price}.`);
    pack.discounts.forEach(({ from, percent }, k) => {
      if (!(Number.isInteger(from) && from >= 1))
        error(
          `${at}.discounts[${k}].from`,
          `A discount begins at a whole number of packs from 1, not ${from}.`,
        );
      if (!(percent >= 0 && percent <= 100))
        error(`${at}.discounts[${k}].percent`, `A discount lies from 0 to 100 %, not ${percent}.`);
    });
  });
  return problems;
}

function hasError(problems: readonly FieldProblem[], at: string): boolean {
  return problems.some(({ path }) => path.startsWith(`${at}.`));
}

function packWords({ name, price }: Pack, index: number): string {
  return `${name || `pack ${index + 1}`}${price === null ? ' has no price' : ' cannot be used'}`;
}

/** The discount of so many packs: the one that begins last among those reached. */
function discountFrom({ discounts }: Pack, count: number): number {
  const reached = discounts.filter(({ from }) => from <= count);
  return reached.reduce((best, one) => (one.from >= best.from ? one : best), { from: 0, percent: 0 }).percent;
}

function lineCost(pack: Pack, count: number, currency: string): number {
  return pricedLine({ price: pack.price ?? 0, count, discount: discountFrom(pack, count) }, currency);
}

/** An amount reached with the first kinds of pack. */
interface Reached {
  readonly covered: number;
  readonly cost: number;
  readonly packs: number;
  readonly count: number;
  readonly before: Reached | null;
}

/** Number of each pack, in their order (largest first). */
function leastCost(
  need: number,
  { packs, currency }: { packs: readonly Pack[]; currency: string },
): number[] {
  const tables = packs.map((pack) => costTable(pack, currency));
  // No unit of what is still to be covered costs less than this with the packs from the k-th on.
  const floor = packs.map(
    (pack) =>
      ((pack.price ?? 0) * (100 - Math.max(0, ...pack.discounts.map(({ percent }) => percent)))) /
      100 /
      pack.size,
  );
  const minor = pricedLine({ price: 1, count: 1, discount: 0 }, currency);
  const cheapest = floor.map((_, k) => Math.min(...floor.slice(k)) * minor);
  let best: Reached | null = null;
  let open: Reached[] = [{ covered: 0, cost: 0, packs: 0, count: 0, before: null }];
  for (const [k, pack] of packs.entries()) {
    const last = k === packs.length - 1;
    const next: Reached[] = [];
    for (const from of open) {
      const rest = need - from.covered;
      const enough = rest <= HAIR ? 0 : Math.ceil(rest / pack.size - HAIR);
      // More than enough pays only where a discount begins.
      const more = pack.discounts.map((discount) => discount.from).filter((n) => n > enough);
      const counts = [...(last ? [] : Array(enough).keys()), enough, ...more];
      for (const n of counts) {
        const to: Reached = {
          covered: from.covered + n * pack.size,
          cost: from.cost + tables[k](n),
          packs: from.packs + n,
          count: n,
          before: from,
        };
        if (n >= enough) {
          if (best === null || isBetter(to, best)) best = withNone(to, packs.length - 1 - k);
        } else if (couldWin(to, { need, best, unit: cheapest[k + 1], left: packs.length - k })) next.push(to);
      }
    }
    open = undominated(next);
  }
  const counts: number[] = [];
  for (let at: Reached | null = best; at?.before; at = at.before) counts.unshift(at.count);
  return counts;
}

/** Adds the kinds that were not looked at, none of each. */
function withNone(reached: Reached, kinds: number): Reached {
  let at = reached;
  for (let k = 0; k < kinds; k++) at = { ...reached, count: 0, before: at };
  return at;
}

function isBetter(a: Reached, b: Reached): boolean {
  if (a.cost !== b.cost) return a.cost < b.cost;
  if (Math.abs(a.covered - b.covered) > HAIR) return a.covered < b.covered;
  return a.packs < b.packs;
}

/** Whether covering the rest at the cheapest unit could still be as cheap as the best; each line may round by a half. */
function couldWin(
  { covered, cost }: Reached,
  { need, best, unit, left }: { need: number; best: Reached | null; unit: number; left: number },
): boolean {
  return best === null || cost + (need - covered) * unit - left <= best.cost;
}

function undominated(reached: Reached[]): Reached[] {
  reached.sort((a, b) => a.cost - b.cost || a.covered - b.covered || a.packs - b.packs);
  const kept: Reached[] = [];
  let most = -Infinity;
  for (let i = 0; i < reached.length;) {
    const { cost } = reached[i];
    let mostHere = most;
    let before = -Infinity;
    for (; i < reached.length && reached[i].cost === cost; i++) {
      const { covered } = reached[i];
      if (covered > most + HAIR && covered > before + HAIR) kept.push(reached[i]);
      before = covered;
      mostHere = Math.max(mostHere, covered);
    }
    most = mostHere;
  }
  return kept;
}

function costTable(pack: Pack, currency: string): (count: number) => number {
  if (pack.price === null) return () => 0;
  const known = new Map<number, number>();
  return (count) => {
    const cost = known.get(count) ?? lineCost(pack, count, currency);
    known.set(count, cost);
    return cost;
  };
}

/** '5.30 l (1.40 US gal)', '20 pieces', '2 slabs'. */
export function quantityWords(amount: number, unit: QuantityUnit, system: UnitSystem): string {
  if (unit === 'l') return volumeWords(amount, system);
  if (unit === 'm²') return areaWords(amount, system);
  if (unit === 'm') return lengthWords(amount * 1000, system);
  return counted(Number(amount.toFixed(2)), unit);
}
