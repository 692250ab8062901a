import { overstep, scoreOf } from './scheme-tables.ts';
import type { SchemeTables } from './scheme-tables.ts';
import type { SchemeList } from './scheme-list.ts';

/*
 * Good schemes before the search proves anything: exchanges of one or two options until none helps (2-opt). What is found
 * decides how much the search can leave out, never what its answer is.
 */

/** Stands for -Infinity while a way out of something forbidden is looked for. */
const FORBIDDEN = -1e6;

/**
 * Exchanges the options of two places at a time, the best pair each, until nothing gets better: first what oversteps a
 * limit less, then what scores more. Every scheme met that keeps the limits and beats the list enters it.
 */
export function exchanged(tables: SchemeTables, start: ArrayLike<number>, list: SchemeList): Int32Array {
  const choice = Int32Array.from(start);
  const { places } = tables;
  const conditional = Array.from({ length: places }, (_, i) => new Float64Array(tables.counts[i]));
  const state = { over: overstep(tables, choice), score: -Infinity };
  keep(tables, choice, list);
  for (let still = 0; still < Math.max(1, (places * (places - 1)) / 2); ) {
    for (let i = 0; i < places; i++) {
      for (let j = places === 1 ? i : i + 1; j < places; j++) {
        const better = exchange(tables, choice, { i, j, conditional, state, list });
        still = better ? 0 : still + 1;
      }
    }
  }
  return choice;
}

interface Exchange {
  readonly i: number;
  /** Equal to i where there is one place only. */
  readonly j: number;
  readonly conditional: readonly Float64Array[];
  /** Of `choice`; the score counts what is forbidden as FORBIDDEN. */
  readonly state: { over: number; score: number };
  readonly list: SchemeList;
}

function exchange(tables: SchemeTables, choice: Int32Array, { i, j, conditional, state, list }: Exchange): boolean {
  const { places, counts } = tables;
  const first = given(tables, choice, { place: i, but: j, into: conditional[i] });
  const second = i === j ? null : given(tables, choice, { place: j, but: i, into: conditional[j] });
  const table = tables.pairs[i * places + j];
  const rest = restOf(tables, choice, { i, j });
  const limited = tables.amounts.length > 0 || tables.distinct.length > 0;
  const was = [choice[i], choice[j]];
  const score = (a: number, b: number) =>
    rest + first[a] + (second ? second[b] : 0) + (table ? Math.max(FORBIDDEN, table[a * counts[j] + b]) : 0);
  state.score = score(choice[i], choice[j]);
  let found = false;
  let [bestA, bestB] = was;
  const columns = second ? counts[j] : 1;
  for (let a = 0; a < counts[i]; a++) {
    const above = rest + first[a];
    for (let b = 0; b < columns; b++) {
      let value = above;
      if (second) value += second[b];
      if (table) value += Math.max(FORBIDDEN, table[a * columns + b]);
      const better = value > state.score;
      if (!better && state.over === 0 && value <= list.least) continue;
      if (!better && a === was[0] && (!second || b === was[1])) continue;
      choice[i] = a;
      if (second) choice[j] = b;
      const over = limited ? overstep(tables, choice) : 0;
      if (over === 0 && value > list.least) keep(tables, choice, list);
      if (over < state.over || (over === state.over && better)) {
        state.over = over;
        state.score = value;
        [bestA, bestB] = [a, b];
        found = true;
      }
    }
  }
  choice[i] = bestA;
  if (second) choice[j] = bestB;
  return found;
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
