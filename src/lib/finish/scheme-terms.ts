import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import type { PreparedFinish } from './appearance.ts';
import { calmDesirability } from './busyness.ts';
import {
  LEAST,
  largestMovement,
  nearnessDesirability,
  priceDesirability,
  steadinessDesirability,
  timeDesirability,
} from './criteria.ts';
import { pairScore } from './pairing.ts';
import { relationTable } from './relations.ts';
import { costIn, daysIn, isThere } from './scheme-limits.ts';
import { SCHEME_CRITERIA } from './scheme-criteria.ts';
import type { SchemeCriterion } from './scheme-criteria.ts';
import type {
  PreparedOption,
  PreparedPlace,
  SchemeGround,
  SchemeMeeting,
  SchemeTerm,
} from './scheme-question.ts';
import { undertoneScore } from './undertone-pairing.ts';
import { edgeScore } from './visible-edge.ts';

/** A term on its way: `size` says how much of its criterion it carries, in any unit. */
interface Item {
  readonly criterion: SchemeCriterion;
  readonly a: number;
  readonly b: number;
  readonly size: number;
  readonly logs: Float64Array;
  readonly assumed: Uint8Array | null;
  readonly meeting: SchemeMeeting | null;
}

/** Terms of a scheme, and which criteria took no part and why. */
export interface SchemeTerms {
  readonly terms: readonly SchemeTerm[];
  readonly leftOut: readonly { readonly criterion: SchemeCriterion; readonly reason: string }[];
}

/**
 * Most a finish to buy can reach in price where something is there already, which costs nothing and reaches 1: else what is
 * there and the cheapest to buy would be equally dear. Common practice, no published source.
 */
const BOUGHT_ANEW = 0.5;

const NOTHING: Readonly<Record<SchemeCriterion, string>> = {
  nearness: 'No surface has a target.',
  relations: 'Fewer than two surfaces have their place in the same inspiration picture.',
  pairing: 'No two surfaces are seen together.',
  undertone: 'No two surfaces are seen together.',
  pattern: 'How busy the patterns are is not known.',
  edges: 'No edge here must be seen.',
  steadiness: 'The room has no lights yet.',
  price: 'No price can be compared.',
  time: 'No finish has a lead time.',
};

/**
 * Everything that counts, as desirabilities of single options and of pairs.
 *
 * A criterion's weight is split over the places by area (price by the money at stake where all of it is known, lead time
 * evenly) and over the meetings by contact. What is settled on both sides (fixed, chosen) is the same in every scheme and
 * would only thin out what is in question, so each criterion counts twice: once over what touches an open or freed surface, once,
 * with as much weight in all, over what does not. With one open surface the order is then that of the shortlist.
 * Where an option lacks a price, a lead time or a pattern, the median of the others stands in: silence neither helps nor
 * hurts. Price is against the cheapest to buy; what is there already costs nothing and comes before all that is bought.
 */
export function schemeTerms(ground: SchemeGround): SchemeTerms {
  const { input, places } = ground;
  const items = [...unaryItems(ground), ...relationItems(ground), ...meetingItems(ground)];
  const leftOut: SchemeTerms['leftOut'][number][] = [];
  const weighted: { item: Item; weight: number }[] = [];
  for (const criterion of SCHEME_CRITERIA) {
    const own = items.filter((item) => item.criterion === criterion);
    const reason =
      input.weights[criterion] === 0 ? 'Its weight is 0.' : own.length === 0 ? NOTHING[criterion] : null;
    if (reason !== null) {
      leftOut.push({ criterion, reason });
      continue;
    }
    const open = (item: Item) => [item.a, item.b].some((i) => i >= 0 && isInQuestion(places[i]));
    for (const group of [own.filter(open), own.filter((item) => !open(item))]) {
      const sum = group.reduce((total, { size }) => total + size, 0);
      for (const item of group) weighted.push({ item, weight: (input.weights[criterion] * item.size) / sum });
    }
  }
  const total = weighted.reduce((sum, { weight }) => sum + weight, 0);
  const terms = weighted.map(({ item: { size: _, ...item }, weight }) => ({
    ...item,
    weight: weight / total,
  }));
  return { terms, leftOut };
}

/** ln overall desirability of a scheme, 0 or less, without its limits; 0 where nothing counts. */
export function schemeScore(
  terms: readonly SchemeTerm[],
  places: readonly PreparedPlace[],
  choice: readonly number[],
): number {
  return terms.reduce((sum, term) => sum + term.weight * term.logs[cellOf(term, places, choice)], 0);
}

/** Where a scheme's entry stands in the table of a term. */
export function cellOf(
  term: SchemeTerm,
  places: readonly PreparedPlace[],
  choice: readonly number[],
): number {
  return term.b < 0 ? choice[term.a] : choice[term.a] * places[term.b].options.length + choice[term.b];
}

/** Whether the decision is about this place: it is open, be it locked or not, or freed. */
export function isInQuestion({ place, held }: PreparedPlace): boolean {
  return place.state === 'open' || held < 0;
}

function unaryItems({ places, lights }: SchemeGround): Item[] {
  const items: Item[] = [];
  const byMoney = places.every((prepared) => spent(prepared) !== null);
  places.forEach((prepared, a) => {
    const { place, options, share } = prepared;
    const add = (
      criterion: SchemeCriterion,
      size: number,
      desirability: (option: PreparedOption) => number | null,
      standing?: Standing,
    ) => {
      const table = filled(options.length, (i) => desirability(options[i]), standing);
      if (table) items.push({ criterion, a, b: -1, size, meeting: null, ...table });
    };
    if (place.target) {
      const { lab } = place.target;
      add('nearness', share, ({ finish }) => nearnessDesirability(differenceByArea(lab, finish)));
    }
    if (lights.length > 0) {
      add('steadiness', share, ({ finish }) => {
        const movement = largestMovement(finish, lights);
        return movement && steadinessDesirability(movement.shift);
      });
    }
    const amount = amounts(prepared);
    if (amount) {
      const cheapest = cheapestToBuy(prepared, amount);
      const most = hasSomethingThere(prepared) ? BOUGHT_ANEW : 1;
      const isBought = (i: number) => !isThere(place, options[i].option);
      const size = byMoney ? spent(prepared)! : share;
      if (size > 0)
        add(
          'price',
          size,
          (option) => {
            const money = amount(option);
            if (isThere(place, option.option)) return 1;
            return money === null ? null : most * priceDesirability(money, cheapest);
          },
          { among: isBought, otherwise: most },
        );
    }
    add('time', 1, ({ option }) => {
      const days = daysIn(prepared, option);
      return days === null ? null : timeDesirability(days, 0);
    });
  });
  return items;
}

/** What options of a place are compared by: their cost, else their prices while these have one unit; null for neither. */
function amounts(place: PreparedPlace): ((option: PreparedOption) => number | null) | null {
  const { options } = place;
  if (options.some(({ option }) => option.cost !== null)) return ({ option }) => costIn(place, option);
  const units = options.flatMap(({ option: { price } }) =>
    price ? [`${price.currency} per ${price.unit}`] : [],
  );
  if (new Set(units).size !== 1) return null;
  return ({ option }) => (isThere(place.place, option) ? 0 : (option.price?.amount ?? null));
}

/** Money of an option, how often the cheapest to buy goes into it (1 where it is not known), and what there is against it. */
export function dearness(
  place: PreparedPlace,
  option: PreparedOption,
): { amount: number | null; times: number; words: string } {
  const its = amounts(place);
  const amount = its?.(option) ?? null;
  const times = its && amount !== null ? Math.max(1, amount / cheapestToBuy(place, its)) : 1;
  const words = [
    ...(hasSomethingThere(place) ? ['to be bought, where what is there costs nothing'] : []),
    ...(times < 1.05 ? [] : [`${times.toFixed(1)} times the cheapest to buy for that surface`]),
  ];
  return { amount, times, words: words.join('; ') };
}

/** Whether one of a place's options is on it already. */
function hasSomethingThere({ place, options }: PreparedPlace): boolean {
  return options.some(({ option }) => isThere(place, option));
}

/** Least of an amount over the options that are in and cost something; Number.MAX_VALUE where there is none. */
function cheapestToBuy(
  { options }: PreparedPlace,
  amount: (option: PreparedOption) => number | null,
): number {
  const all = options.flatMap((option) => {
    const money = option.excluded === null ? amount(option) : null;
    return money !== null && money > 0 ? [money] : [];
  });
  return Math.min(...all, Number.MAX_VALUE);
}

/** Money at stake on a place: the least any of its options costs; null where no cost is known. */
function spent(place: PreparedPlace): number | null {
  const found = cheapestToBuy(place, ({ option }) => option.cost);
  return found === Number.MAX_VALUE ? null : found;
}

function relationItems({ places }: SchemeGround): Item[] {
  const items: Item[] = [];
  places.forEach((first, a) => {
    places.slice(a + 1).forEach((second, offset) => {
      const [p, q] = [first.place.inspiration, second.place.inspiration];
      if (!p || !q || p.pictureId !== q.pictureId) return;
      const means = [first, second].map(({ options }) => options.map(({ mean }) => mean));
      const logs = relationTable(means[0], means[1], { a: p.lab, b: q.lab });
      const size = Math.sqrt(first.share * second.share);
      items.push({ criterion: 'relations', a, b: a + 1 + offset, size, logs, assumed: null, meeting: null });
    });
  });
  return items;
}

function meetingItems({ input, places }: SchemeGround): Item[] {
  const items: Item[] = [];
  const at = new Map(places.map(({ place }, index) => [place.surfaceId, index]));
  for (const meeting of input.meetings) {
    if (meeting.contact === 0 && !meeting.mustBeSeen) continue;
    const [a, b] = [at.get(meeting.a)!, at.get(meeting.b)!];
    const [first, second] = [places[a], places[b]];
    const base = { a, b, size: meeting.contact, assumed: null, meeting };
    const scored = (score: (first: PreparedFinish, second: PreparedFinish) => number) =>
      pairTable(first, second, (p, q) => Math.log(Math.max(LEAST, score(p.finish, q.finish))));
    if (meeting.contact > 0) {
      items.push({ ...base, criterion: 'pairing', logs: scored(pairScore) });
      items.push({ ...base, criterion: 'undertone', logs: scored(undertoneScore) });
      const calm = patternTable(first, second);
      if (calm) items.push({ ...base, criterion: 'pattern', ...calm });
    }
    // An edge that must be seen counts whole, however long it is.
    if (meeting.mustBeSeen) items.push({ ...base, size: 1, criterion: 'edges', logs: scored(edgeScore) });
  }
  return items;
}

/** How calm options of two places are together, by their busyness; null where one place's is not known at all. */
function patternTable(first: PreparedPlace, second: PreparedPlace): Pick<Item, 'logs' | 'assumed'> | null {
  const [p, q] = [first, second].map(({ options }) => {
    const known = options.flatMap(({ option: { busyness } }) => (busyness === null ? [] : [busyness]));
    return known.length === 0 ? null : { options, usual: median(known) };
  });
  if (!p || !q) return null;
  const logs = pairTable(first, second, ({ option: a }, { option: b }) =>
    Math.log(calmDesirability(a.busyness ?? p.usual, b.busyness ?? q.usual)),
  );
  const assumed = Uint8Array.from(logs, (_, cell) => {
    const [a, b] = [p.options[Math.floor(cell / q.options.length)], q.options[cell % q.options.length]];
    return Number(a.option.busyness === null || b.option.busyness === null);
  });
  return { logs, assumed: assumed.includes(1) ? assumed : null };
}

/** The middle one, the upper of two; of a list that is not empty. */
function median(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[values.length >> 1];
}

function pairTable(
  first: PreparedPlace,
  second: PreparedPlace,
  log: (first: PreparedOption, second: PreparedOption) => number,
): Float64Array {
  const columns = second.options.length;
  const logs = new Float64Array(first.options.length * columns);
  for (let i = 0; i < first.options.length; i++)
    for (let j = 0; j < columns; j++)
      logs[i * columns + j] = Math.min(0, log(first.options[i], second.options[j]));
  return logs;
}

/** What stands in for what is not known: the median `among` these cells; a desirability where none of them is known. */
interface Standing {
  readonly among: (cell: number) => boolean;
  readonly otherwise: number;
}

/** ln desirabilities of a table, the median of those known in place of those that are not; null where none is known. */
function filled(
  count: number,
  desirability: (cell: number) => number | null,
  { among, otherwise }: Standing = { among: () => true, otherwise: 1 },
): { logs: Float64Array; assumed: Uint8Array | null } | null {
  const logs = new Float64Array(count);
  const assumed = new Uint8Array(count);
  const alike: number[] = [];
  for (let cell = 0; cell < count; cell++) {
    const value = desirability(cell);
    if (value === null) assumed[cell] = 1;
    else {
      logs[cell] = Math.log(Math.max(LEAST, value));
      if (among(cell)) alike.push(logs[cell]);
    }
  }
  if (!assumed.includes(0)) return null;
  if (!assumed.includes(1)) return { logs, assumed: null };
  const usual = alike.length > 0 ? median(alike) : Math.log(otherwise);
  for (let cell = 0; cell < count; cell++) if (assumed[cell]) logs[cell] = usual;
  return { logs, assumed };
}

/** ΔE00 of a finish from a colour, its colours by area. */
export function differenceByArea(target: Lab, { colours }: PreparedFinish): number {
  return colours.reduce((sum, { share, lab }) => sum + share * deltaE2000(target, lab), 0);
}
