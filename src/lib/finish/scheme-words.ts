import { deltaE2000, describeDifference, differenceWays } from '#lib/colour/index.ts';
import { busynessBand } from './busyness.ts';
import { PAIRING_BANDS, the } from './pairing.ts';
import { upperFirst } from './reasons.ts';
import type { SchemeCard, SchemePart } from './scheme-card.ts';
import { money } from './scheme-limits.ts';
import type { SchemeStatement } from './scheme-question.ts';

/** What sets one scheme apart from another. */
export interface SchemeComparison {
  /** 'Lighter walls, plainer tile; 120 EUR less; 7 days sooner.' */
  readonly sentence: string;
  /** The same, one thing at a time: surfaces that change most of the room first, then money, then days. */
  readonly parts: readonly SchemeStatement[];
}

/** Surfaces named in the sentence; the parts name all. */
const MOST_NAMED = 3;

/** Share of the whole cost below which a difference in money is not worth a word. Common practice, no published source. */
const SAME_MONEY = 0.01;

/** What sets a scheme (`sample`) apart from another of the same room (`reference`). */
export function compareSchemes(reference: SchemeCard, sample: SchemeCard): SchemeComparison {
  const surfaces = sample.parts
    .flatMap((part, i) => {
      const from = reference.parts[i];
      if (!from || from.surfaceId !== part.surfaceId)
        throw new RangeError(`Expected two schemes of one room, got ${part.surfaceId} in one of them only`);
      if (from.optionId === part.optionId) return [];
      const difference = deltaE2000(from.mean, part.mean);
      const weight =
        part.share *
        (from.kind === part.kind ? Math.min(difference, PAIRING_BANDS.related) : PAIRING_BANDS.related);
      return [{ words: surfaceWords(from, part, difference), difference, weight, part }];
    })
    .sort((a, b) => b.weight - a.weight);
  const parts: SchemeStatement[] = surfaces.map(({ words, difference, part }) => ({
    sentence: `${upperFirst(words)}.`,
    number: `difference ${difference.toFixed(1)}`,
    about: { surfaces: [part.surfaceId], light: null, criterion: 'look' },
  }));
  const more = surfaces.length - MOST_NAMED;
  const named = surfaces.slice(0, MOST_NAMED).map(({ words }) => words);
  if (more > 0) named.push(more === 1 ? 'one more change' : `${more} more changes`);
  const looks = named.length === 0 ? [] : [named.join(', ')];
  const rest = [moneyChange(reference, sample), daysChange(reference, sample)].filter(
    (part) => part !== null,
  );
  const phrases = [...looks, ...rest.map(({ phrase }) => phrase)];
  return {
    sentence: phrases.length === 0 ? 'The same scheme.' : `${upperFirst(phrases.join('; '))}.`,
    parts: [...parts, ...rest.map(({ statement }) => statement)],
  };
}

/** 'lighter walls', 'plainer and greener backsplash of stone'. */
function surfaceWords(from: SchemePart, to: SchemePart, difference: number): string {
  const surface = plainName(to.surfaceName);
  const kind = from.kind === to.kind ? '' : ` of ${to.kind}`;
  const words: string[] = [];
  if (from.busyness !== null && to.busyness !== null) {
    const step = busynessBand(to.busyness) - busynessBand(from.busyness);
    if (step !== 0) words.push(step < 0 ? 'plainer' : 'busier');
  }
  // The first part is what people name first.
  if (difference >= PAIRING_BANDS.match)
    words.push(...differenceWays(describeDifference(from.mean, to.mean)).slice(0, words.length > 0 ? 1 : 2));
  if (words.length === 0)
    return kind ? `${surface}${kind}` : `another finish of the same colour for ${surface}`;
  return `${words.join(' and ')} ${surface}${kind}`;
}

/** A surface's name inside a phrase: 'walls' for 'Walls'; any other name as it was written. */
function plainName(name: string): string {
  return /^\p{Lu}\p{Ll}+( \p{Ll}+)*$/u.test(name.trim()) ? name.trim().toLowerCase() : the(name);
}

interface Change {
  readonly phrase: string;
  readonly statement: SchemeStatement;
}

/** What a scheme costs more or less, where the cost of all that changes is known. */
export function costChange(reference: SchemeCard, sample: SchemeCard): number | null {
  let change = 0;
  for (let i = 0; i < sample.parts.length; i++) {
    const [from, to] = [reference.parts[i], sample.parts[i]];
    if (from.optionId === to.optionId) continue;
    if (from.cost === null || to.cost === null) return null;
    change += to.cost - from.cost;
  }
  return change;
}

/** Days by which the last finish comes later, negative for sooner; null where a lead time that changes is not known. */
export function readyChange(reference: SchemeCard, sample: SchemeCard): number | null {
  const open = sample.parts.some((to, i) => {
    const from = reference.parts[i];
    return from.optionId !== to.optionId && (from.days === null || to.days === null);
  });
  return open ? null : (sample.ready.days ?? 0) - (reference.ready.days ?? 0);
}

function moneyChange(reference: SchemeCard, sample: SchemeCard): Change | null {
  const change = costChange(reference, sample);
  const floor = SAME_MONEY * Math.max(reference.cost.total, sample.cost.total);
  if (change === null || Math.abs(change) < 0.5 || Math.abs(change) < floor) return null;
  const phrase = inMoney(change, sample.cost.currency);
  return {
    phrase,
    statement: {
      sentence: `${upperFirst(phrase)}.`,
      number: money(Math.abs(change), sample.cost.currency),
      about: { surfaces: changed(reference, sample), light: null, criterion: 'money' },
    },
  };
}

function daysChange(reference: SchemeCard, sample: SchemeCard): Change | null {
  const change = readyChange(reference, sample);
  if (change === null || Math.round(change) === 0) return null;
  const phrase = inDays(change);
  const decides = sample.ready.surfaceId ?? reference.ready.surfaceId;
  return {
    phrase,
    statement: {
      sentence: `${upperFirst(phrase)}.`,
      number: sample.ready.statement.number,
      about: { surfaces: decides ? [decides] : [], light: null, criterion: 'time' },
    },
  };
}

function changed(reference: SchemeCard, sample: SchemeCard): string[] {
  return sample.parts.flatMap(({ surfaceId, optionId }, i) =>
    reference.parts[i].optionId === optionId ? [] : [surfaceId],
  );
}

/** '120 EUR less', '35 more', 'the same money'. */
export function inMoney(change: number, currency: string): string {
  const amount = Math.round(Math.abs(change));
  if (amount === 0) return 'the same money';
  return `${money(amount, currency)} ${change < 0 ? 'less' : 'more'}`;
}

/** 'a day sooner', '21 days later', 'at the same time': days as in limits and lead times, so that they can be held together. */
export function inDays(change: number): string {
  const days = Math.round(Math.abs(change));
  if (days === 0) return 'at the same time';
  return `${days === 1 ? 'a day' : `${days} days`} ${change < 0 ? 'sooner' : 'later'}`;
}
