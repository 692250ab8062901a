import { overstep, scoreOf } from './scheme-tables.ts';
import type { SchemeTables } from './scheme-tables.ts';
import type { SchemeList } from './scheme-list.ts';

/*
 * Good schemes before the search proves anything: exchanges of one or two options until none helps (2-opt). What is found
 * decides how much the search can leave out, never what its answer is.
 */

/** Stands for -Infinity while a way out of something forbidden is looked for. */
const FORBIDDEN = -1e6;

/** By how much less a limit must be overstepped to count as less: more than rounding, so that exchanges come to an end. */
const SURELY = 1e-9;

/** Scores of the second place where there is only one. */
const NOTHING = new Float64Array(1);

/**
 * Exchanges the options of one place, while a limit is overstepped, then of two places at a time, the best exchange each,
 * until nothing gets better: first what oversteps less, then what scores more. Every scheme met that keeps the limits and
 * beats the list enters it. Yields after each exchange.
 */
export function* exchanges(
  tables: SchemeTables,
  start: ArrayLike<number>,
  list: SchemeList,
): Generator<void, void> {
  const choice = Int32Array.from(start);
  const { places } = tables;
  const conditional = Array.from({ length: places }, (_, i) => new Float64Array(tables.counts[i]));
  keep(tables, choice, list);
  const alone = Array.from({ length: places }, (_, i) => [i, i]);
  const together = alone.flatMap(([i]) => alone.slice(i + 1).map(([j]) => [i, j]));
  for (const [exchanged, enough] of [
    [alone, () => places > 1 && overstep(tables, choice) === 0],
    [together, () => false],
  ] as const) {
    // Counts the exchanges since the last that made anything better.
    for (let n = 0, still = 0; still < exchanged.length && !enough(); n++) {
      const [i, j] = exchanged[n % exchanged.length];
      still = exchange(tables, choice, { i, j, conditional, list }) ? 0 : still + 1;
      yield;
    }
  }
}

interface Exchange {
  readonly i: number;
  /** Equal to i where there is one place only. */
  readonly j: number;
  /** Room for the scores of each place's options beside the others. */
  readonly conditional: readonly Float64Array[];
  readonly list: SchemeList;
}

/** The best exchange at places i and j; whether there was any. */
function exchange(tables: SchemeTables, choice: Int32Array, { i, j, conditional, list }: Exchange): boolean {
  const { places, counts } = tables;
  const both = i !== j;
  const first = given(tables, choice, { place: i, but: j, into: conditional[i] });
  const second = both ? given(tables, choice, { place: j, but: i, into: conditional[j] }) : NOTHING;
  const table = tables.pairs[i * places + j];
  const rest = restOf(tables, choice, { i, j });
  const overBy = oversteps(tables, choice, { i, j });
  const columns = both ? counts[j] : 1;
  const was = [choice[i], both ? choice[j] : 0];
  const limited = tables.amounts.length > 0 || tables.distinct.length > 0;
  let over = overBy(was[0], was[1]);
  let score = rest + first[was[0]] + second[was[1]];
  if (table) score += Math.max(FORBIDDEN, table[was[0] * columns + was[1]]);
  let best = was;
  for (let a = 0; a < counts[i]; a++) {
    for (let b = 0; b < columns; b++) {
      let value = rest + first[a] + second[b];
      if (table) value += Math.max(FORBIDDEN, table[a * columns + b]);
      if (value <= score && over === 0 && value <= list.least) continue;
      const overstepped = limited ? overBy(a, b) : 0;
      if (overstepped === 0 && value > list.least) {
        choice[i] = a;
        if (both) choice[j] = b;
        keep(tables, choice, list);
      }
      if (overstepped < over - SURELY || (overstepped <= over && value > score)) {
        over = overstepped;
        score = value;
        best = [a, b];
      }
    }
  }
  choice[i] = best[0];
  if (both) choice[j] = best[1];
  return best !== was;
}

/** `overstep` by the options of places i and j, everything else as chosen. */
function oversteps(
  { places, amounts, distinct }: SchemeTables,
  choice: Int32Array,
  { i, j }: { i: number; j: number },
): (a: number, b: number) => number {
  const both = i !== j;
  const sums = amounts.map(({ each }) => {
    let sum = 0;
    for (let k = 0; k < places; k++) if (k !== i && k !== j) sum += each[k][choice[k]];
    return sum;
  });
  const used = distinct.map(({ classes, already, classOf }) => {
    const flags = new Uint8Array(classes);
    for (const own of already) flags[own] = 1;
    for (let k = 0; k < places; k++) {
      if (k !== i && k !== j && classOf[k][choice[k]] >= 0) flags[classOf[k][choice[k]]] = 1;
    }
    return flags;
  });
  const counts = used.map((flags) => flags.reduce((sum, flag) => sum + flag, 0));
  return (a, b) => {
    let over = 0;
    for (let n = 0; n < amounts.length; n++) {
      const { each, most, slack } = amounts[n];
      const total = both ? sums[n] + each[i][a] + each[j][b] : sums[n] + each[i][a];
      if (total > most + slack) over += (total - most) / (1 + Math.abs(most));
    }
    for (let n = 0; n < distinct.length; n++) {
      const { classOf, most } = distinct[n];
      const first = classOf[i][a];
      const second = both ? classOf[j][b] : -1;
      let total = counts[n];
      if (first >= 0 && used[n][first] === 0) total++;
      if (second >= 0 && second !== first && used[n][second] === 0) total++;
      if (total > most) over += total - most;
    }
    return over;
  };
}

function keep(tables: SchemeTables, choice: Int32Array, list: SchemeList): void {
  const score = scoreOf(tables, choice);
  if (score < list.least || score === -Infinity || overstep(tables, choice) > 0) return;
  list.add({ choice: Array.from(choice, (option, place) => tables.names[place][option]), score });
}

/** Score of each option of a place beside what is chosen everywhere but at `but`. */
function given(
  { places, counts, alone, pairs }: SchemeTables,
  choice: Int32Array,
  { place, but, into }: { place: number; but: number; into: Float64Array },
): Float64Array {
  for (let a = 0; a < counts[place]; a++) into[a] = Math.max(FORBIDDEN, alone[place][a]);
  for (let k = 0; k < places; k++) {
    const table = k === place || k === but ? null : pairs[k * places + place];
    if (!table) continue;
    const row = choice[k] * counts[place];
    for (let a = 0; a < counts[place]; a++) into[a] += Math.max(FORBIDDEN, table[row + a]);
  }
  return into;
}

/** Score of what is chosen apart from places i and j. */
function restOf(
  { places, counts, alone, pairs }: SchemeTables,
  choice: Int32Array,
  { i, j }: { i: number; j: number },
): number {
  let score = 0;
  for (let k = 0; k < places; k++) {
    if (k === i || k === j) continue;
    score += Math.max(FORBIDDEN, alone[k][choice[k]]);
    for (let l = k + 1; l < places; l++) {
      const table = l === i || l === j ? null : pairs[k * places + l];
      if (table) score += Math.max(FORBIDDEN, table[choice[k] * counts[l] + choice[l]]);
    }
  }
  return score;
}
