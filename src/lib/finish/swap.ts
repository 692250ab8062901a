import type { ReflectanceCache } from './appearance.ts';
import { named, upperFirst } from './reasons.ts';
import { the } from './pairing.ts';
import { schemeCard } from './scheme-card.ts';
import type { SchemeCard } from './scheme-card.ts';
import { SchemeRepair } from './scheme-repair.ts';
import type { Repair } from './scheme-repair.ts';
import { schemeProblem } from './scheme.ts';
import type { SchemeProblem } from './scheme.ts';
import type { SchemeFinding, SchemeInput, SchemeStatement } from './scheme-question.ts';
import { cellOf } from './scheme-terms.ts';
import { costChange, inDays, inMoney, readyChange } from './scheme-words.ts';
import { money } from './scheme-limits.ts';
import { days as dayWords } from './limits.ts';

/**
 * Part by which the desirability of something must fall or rise to be worse or better, not the same. Common practice, no
 * published source.
 */
export const WORSE_BY = 0.1;

/** Something that a swap makes worse or better. */
export interface SwapChange extends SchemeStatement {
  readonly severity: SchemeFinding['severity'];
  /** How it was found before and after; null where it was or is not there. */
  readonly was: SchemeFinding | null;
  readonly now: SchemeFinding | null;
}

/** By how much a sum moves; null where something that changes is not known. */
export interface Moved {
  readonly before: number | null;
  readonly after: number | null;
  readonly change: number | null;
  readonly statement: SchemeStatement;
}

export interface SwapReport {
  readonly surfaceId: string;
  readonly from: string;
  readonly to: string;
  readonly before: SchemeCard;
  /** With this one finish changed. */
  readonly after: SchemeCard;
  /** Faults first. */
  readonly broken: readonly SwapChange[];
  readonly better: readonly SwapChange[];
  readonly cost: Moved;
  readonly days: Moved;
  /** The least set of other changes that makes it whole again; none where it is whole as it is. */
  readonly repair: Repair;
  /** The best if everything that may change changed. */
  readonly freely: Repair;
  /** 'Two other changes make it whole again: …'. */
  readonly headline: SchemeStatement;
}

/**
 * What changing one finish does to a room that is decided, and what else must change.
 *
 * Every place needs a `current` option. What is open and not locked, chosen, or freed (`held` null) may change with it;
 * what is fixed stays, but for the place that is swapped. A finish that is swapped out while it is there counts as still to be
 * bought before and after. Whole again is a scheme without a fault that was not there before, with an overall desirability of at least the
 * one before less `WHOLE_TOLERANCE`, and within the limits (one that was broken before may stay as broken). The set of
 * changes is the least there is, and the best of its size. Where none makes it whole, changes that only make the room less
 * good are not asked for.
 * @throws RangeError for a place without a current option, or an option that is not there.
 */
export function swapReport(
  input: SchemeInput,
  { surfaceId, to }: { surfaceId: string; to: string },
  { cache }: { cache?: ReflectanceCache } = {},
): SwapReport {
  const asked = schemeProblem(stillToBuy(input, surfaceId), { cache });
  const { place, current } = decided(asked, surfaceId);
  const swapped = asked.places[place].options.findIndex(({ option }) => option.id === to);
  if (swapped < 0) throw new RangeError(`Expected an option of ${surfaceId}, got ${to}`);
  const after = current.with(place, swapped);
  const repairs = new SchemeRepair(asked, { current, after, place });
  const freely = repairs.freely();
  const repair = repairs.least(freely);
  const cards = { before: schemeCard(asked, current), after: schemeCard(asked, after) };
  const changes = changesBetween(asked, current, after);
  return {
    surfaceId,
    from: asked.places[place].options[current[place]].option.id,
    to,
    ...cards,
    ...changes,
    cost: costMoved(cards.before, cards.after, surfaceId),
    days: daysMoved(cards.before, cards.after, surfaceId),
    repair,
    freely,
    headline: headline(repair, surfaceId),
  };
}

/**
 * The input with one place counted as still to be bought, if what it has at present is there. The budget was for the rest:
 * it grows by what is there, so that only what a swap costs beyond that comes out of it. Where something else is chosen to
 * come, that is in the budget already, and to go back to what is there costs nothing.
 */
export function stillToBuy(input: SchemeInput, surfaceId: string): SchemeInput {
  const place = input.places.find((one) => one.surfaceId === surfaceId);
  if (!place || place.there === null || place.there !== place.current) return input;
  const cost = place.options.find(({ id }) => id === place.there)?.cost ?? 0;
  const { budget } = input.limits;
  return {
    ...input,
    places: input.places.map((one) => (one === place ? { ...one, there: null } : one)),
    limits: { ...input.limits, budget: budget === null ? null : budget + cost },
  };
}

/** Index of a surface's place, and what is on every place at present. */
export function decided(asked: SchemeProblem, surfaceId: string): { place: number; current: number[] } {
  const place = asked.places.findIndex((prepared) => prepared.place.surfaceId === surfaceId);
  if (place < 0) throw new RangeError(`Expected a surface of the scheme, got ${surfaceId}`);
  const current = asked.places.map((prepared) => {
    if (prepared.current < 0)
      throw new RangeError(`Expected a current option for ${prepared.place.surfaceId}, got none`);
    return prepared.current;
  });
  return { place, current };
}

/** What gets worse and what gets better from one choice to another. */
export function changesBetween(
  asked: SchemeProblem,
  before: readonly number[],
  after: readonly number[],
): { broken: SwapChange[]; better: SwapChange[] } {
  const was = new Map(asked.findings.of(before).map((finding) => [finding.key, finding]));
  const now = new Map(asked.findings.of(after).map((finding) => [finding.key, finding]));
  const broken: SwapChange[] = [];
  const better: SwapChange[] = [];
  const bad = (finding: SchemeFinding | undefined) => finding !== undefined && finding.severity !== 'good';
  for (const key of new Set([...now.keys(), ...was.keys()])) {
    const [old, fresh] = [was.get(key), now.get(key)];
    if (!bad(old) && bad(fresh)) broken.push(change(old, fresh!));
    else if (bad(old) && !bad(fresh)) better.push(fresh ? change(old, fresh) : gone(old!));
    else if (old && fresh && bad(fresh)) {
      const moved = movedBy(asked, fresh, before, after) + (rank(fresh) - rank(old));
      if (moved < Math.log(1 - WORSE_BY)) broken.push(change(old, fresh));
      else if (moved > -Math.log(1 - WORSE_BY)) better.push(change(old, fresh));
    }
  }
  const order = (a: SwapChange, b: SwapChange) => rank(a) - rank(b);
  return { broken: broken.sort(order), better: better.sort(order) };
}

function rank({ severity }: { severity: SchemeFinding['severity'] }): number {
  return severity === 'fault' ? 0 : severity === 'note' ? 1 : 2;
}

function change(was: SchemeFinding | undefined, now: SchemeFinding): SwapChange {
  const { severity, sentence, number, about } = now;
  return { severity, sentence, number, about, was: was ?? null, now };
}

function gone(was: SchemeFinding): SwapChange {
  const { severity, sentence, number, about } = was;
  return { severity, sentence: `No longer so: ${sentence}`, number, about, was, now: null };
}

/** Change of the ln desirability of what a finding is about; 0 where no term carries it. */
function movedBy(
  { terms, places }: SchemeProblem,
  { about }: SchemeFinding,
  before: readonly number[],
  after: readonly number[],
): number {
  const term = terms.find(({ criterion, a, b }) => {
    const ids = [a, b].filter((i) => i >= 0).map((i) => places[i].place.surfaceId);
    return (
      criterion === about.criterion &&
      ids.length === about.surfaces.length &&
      ids.every((id) => about.surfaces.includes(id))
    );
  });
  return term ? term.logs[cellOf(term, places, after)] - term.logs[cellOf(term, places, before)] : 0;
}

/** What a change of one surface does to the cost. */
export function costMoved(before: SchemeCard, after: SchemeCard, surfaceId: string): Moved {
  const change = costChange(before, after);
  const { currency } = after.cost;
  const part = (card: SchemeCard) => card.parts.find((one) => one.surfaceId === surfaceId)!.cost;
  const sentence =
    change === null
      ? 'What it does to the cost is not known: a price or an area is missing.'
      : `${upperFirst(inMoney(change, currency))}.`;
  return {
    before: part(before),
    after: part(after),
    change,
    statement: {
      sentence,
      number: change === null ? 'not known' : money(Math.abs(change), currency),
      about: { surfaces: [surfaceId], light: null, criterion: 'money' },
    },
  };
}

/** What a change of one surface does to the date. */
export function daysMoved(before: SchemeCard, after: SchemeCard, surfaceId: string): Moved {
  const change = readyChange(before, after);
  const last = after.ready.days;
  const sentence =
    change === null
      ? 'What it does to the date is not known: a lead time is missing.'
      : `The last finish is here ${inDays(change)}.`;
  return {
    before: before.ready.days,
    after: last,
    change,
    statement: {
      sentence,
      number: last === null || change === null ? 'not known' : dayWords(last),
      about: {
        surfaces: after.ready.surfaceId ? [after.ready.surfaceId] : [],
        light: null,
        criterion: 'time',
      },
    },
  };
}

function headline({ whole, changes, newFaults }: Repair, surfaceId: string): SchemeStatement {
  const left = newFaults.length;
  const list = changes.map(({ surfaceName, toName }) => `${named(toName)} on ${the(surfaceName)}`).join(', ');
  const count = changes.length;
  const others = count === 1 ? 'One other change' : `${count} other changes`;
  const sentence = whole
    ? count === 0
      ? 'Nothing else has to change.'
      : `${others} ${count === 1 ? 'makes' : 'make'} it whole again: ${list}.`
    : `Nothing that may change makes it whole again${
        count === 0 ? '' : `; ${others.toLowerCase()} ${count === 1 ? 'comes' : 'come'} nearest: ${list}`
      }.`;
  return {
    sentence,
    number: whole
      ? `${count} ${count === 1 ? 'change' : 'changes'}`
      : `${left} new ${left === 1 ? 'fault' : 'faults'}`,
    about: { surfaces: [surfaceId, ...changes.map((one) => one.surfaceId)], light: null, criterion: 'look' },
  };
}
