import { Branching } from './scheme-branching.ts';
import { SchemeList } from './scheme-list.ts';
import type { Amount, Distinct, SchemeTables } from './scheme-tables.ts';

/** Why no scheme is possible. */
export interface Infeasible {
  /** Name of the limit, or of several joined by ' and '; 'options' for a place without any, 'pairs' for forbidden pairs. */
  readonly name: string;
  /** The limits that cannot be kept together, each by its name. */
  readonly limits: readonly string[];
  /** The place that has no allowed option, where that is the reason. */
  readonly place: number | null;
  readonly words: string;
}

/** A limit that may be left out to see whether the others can be kept. */
type Reason =
  | { readonly kind: 'amount'; readonly limit: Amount }
  | { readonly kind: 'distinct'; readonly limit: Distinct }
  | { readonly kind: 'pairs' };

/**
 * Which limits make a problem impossible that has been proven to have no scheme: a place without options, one limit alone,
 * or a least set of limits that cannot be kept together (without any one of the set there is a scheme).
 */
export function* whyNone(tables: SchemeTables): Generator<void, Infeasible> {
  const bare = tables.alone.findIndex((row) => row.every((score) => score === -Infinity));
  if (bare >= 0) {
    const words = `Place ${bare + 1} has no option that is allowed`;
    return { name: 'options', limits: ['options'], place: bare, words };
  }
  let needed: Reason[] = [
    ...tables.amounts.map((limit) => ({ kind: 'amount', limit }) as const),
    ...tables.distinct.map((limit) => ({ kind: 'distinct', limit }) as const),
    { kind: 'pairs' },
  ];
  // A limit that is impossible by itself comes first: it is the plainest thing to say.
  for (const reason of needed) {
    if (yield* possible(only(tables, [reason]))) continue;
    return { ...named([reason]), place: null, words: yield* wordsAlone(tables, reason) };
  }
  for (const reason of needed) {
    const others = needed.filter((other) => other !== reason);
    if (!(yield* possible(only(tables, others)))) needed = others;
  }
  const { name, limits } = named(needed);
  const quoted = needed.map(inWords);
  const words = `No scheme keeps ${quoted.slice(0, -1).join(', ')} and ${quoted.at(-1)} together; without any one of them there is one`;
  return { name, limits, place: null, words };
}

function* wordsAlone(tables: SchemeTables, reason: Reason): Generator<void, string> {
  if (reason.kind === 'pairs') return 'Some places have no options that are allowed together';
  const { name, most } = reason.limit;
  if (reason.kind === 'amount') {
    const least = reason.limit.each.reduce(
      (sum, row, place) => sum + leastAllowed(row, tables.alone[place]),
      0,
    );
    return `“${name}” comes to ${figure(least)} at least, ${figure(least - most)} over its most of ${figure(most)}`;
  }
  let least = most + 1;
  while (!(yield* possible(only(tables, [{ kind: 'distinct', limit: { ...reason.limit, most: least } }]))))
    least++;
  return `“${name}” needs at least ${least} different ones, ${least - most} over its most of ${most}`;
}

function leastAllowed(amounts: Float64Array, scores: Float64Array): number {
  return amounts.reduce(
    (least, value, option) => (scores[option] === -Infinity ? least : Math.min(least, value)),
    Infinity,
  );
}

/** Two decimals at most. */
function figure(value: number): string {
  return String(Math.round(value * 100) / 100);
}

function inWords(reason: Reason): string {
  return reason.kind === 'pairs' ? 'what is allowed together' : `“${reason.limit.name}”`;
}

function named(reasons: readonly Reason[]): { name: string; limits: string[] } {
  const limits = reasons.map((reason) => (reason.kind === 'pairs' ? 'pairs' : reason.limit.name));
  return { name: limits.join(' and '), limits };
}

/** The problem with nothing but what is allowed, and the given limits. */
function only(tables: SchemeTables, reasons: readonly Reason[]): SchemeTables {
  const paired = reasons.some(({ kind }) => kind === 'pairs');
  return {
    ...tables,
    alone: tables.alone.map(allowed),
    pairs: tables.pairs.map((table) => (paired && table?.includes(-Infinity) ? allowed(table) : null)),
    amounts: reasons.flatMap((reason) => (reason.kind === 'amount' ? [reason.limit] : [])),
    distinct: reasons.flatMap((reason) => (reason.kind === 'distinct' ? [reason.limit] : [])),
  };
}

function allowed(scores: Float64Array): Float64Array {
  return scores.map((score) => (score === -Infinity ? score : 0));
}

/** Whether there is any scheme. */
function* possible(tables: SchemeTables): Generator<void, boolean> {
  const list = new SchemeList(1);
  const search = new Branching(tables, list);
  while (!search.done && list.schemes.length === 0) {
    search.step();
    yield;
  }
  return list.schemes.length > 0;
}
