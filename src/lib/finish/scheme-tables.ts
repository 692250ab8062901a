import type { SchemeLimits, SearchProblem } from './scheme-search.ts';

/*
 * What the search works on: the problem checked, its scores on a lattice, each pair table in both orientations so that
 * every inner loop reads memory in order, and forbidden or ruled-out options left away.
 */

/**
 * Scores are rounded to multiples of this (a billionth). Sums of them are then exact in double precision, so that equal
 * schemes tie exactly, whichever way their score was added up, and a bound prunes what cannot win and nothing else.
 */
export const LATTICE = 2 ** -30;

/** What rounding in a computed bound can at most amount to. */
export const DOUBT = LATTICE / 4;

/** Highest score there can be below a computed bound: scores are on the lattice. */
export function reachable(bound: number): number {
  return Math.floor((bound + DOUBT) / LATTICE) * LATTICE;
}

/** Most negative log score that is still a score; sums stay exact down to here (16 places, 120 pairs). */
const LEAST_SCORE = -20_000;

/** Part of a limit by which rounding may overstep it. */
const ROUNDING = 1e-9;

export const MOST_PLACES = 16;
export const MOST_OPTIONS = 200;

/** An additive limit: the amounts of the chosen options must not sum above `most` (give or take rounding, `slack`). */
export interface Amount {
  readonly name: string;
  readonly each: readonly Float64Array[];
  readonly most: number;
  readonly slack: number;
}

/** A limit on distinct classes, which are numbered from 0 here; -1: the option has none. */
export interface Distinct {
  readonly name: string;
  readonly classOf: readonly Int32Array[];
  readonly classes: number;
  /** Class numbers in use before anything is chosen. */
  readonly already: readonly number[];
  readonly most: number;
}

export interface SchemeTables {
  readonly places: number;
  /** Options left at each place. */
  readonly counts: Int32Array;
  /** Most options at one place. */
  readonly width: number;
  /** The problem's own number of each option, ascending. */
  readonly names: readonly Int32Array[];
  readonly alone: readonly Float64Array[];
  /** At a × places + b: row-major, options of a × options of b; null where the two places have no table. */
  readonly pairs: readonly (Float64Array | null)[];
  readonly amounts: readonly Amount[];
  readonly distinct: readonly Distinct[];
}

/**
 * Checks a problem and lays it out.
 * @throws RangeError saying which number of which table is wrong.
 */
export function schemeTables(problem: SearchProblem): SchemeTables {
  const { options } = problem;
  const places = options.length;
  if (places < 1 || places > MOST_PLACES)
    throw new RangeError(`Expected 1 to ${MOST_PLACES} places, got ${places}`);
  options.forEach((count, place) => {
    if (!Number.isInteger(count) || count < 1 || count > MOST_OPTIONS)
      throw new RangeError(`Expected 1 to ${MOST_OPTIONS} options at place ${place}, got ${count}`);
  });
  checkRows(problem.alone, options, 'alone');
  const alone = problem.alone.map((row, place) => scores(row, `alone[${place}]`));
  const pairs: (Float64Array | null)[] = Array.from({ length: places * places }, () => null);
  problem.pairs.forEach(({ a, b, table }, index) => {
    const where = `pairs[${index}]`;
    for (const place of [a, b]) {
      if (!Number.isInteger(place) || place < 0 || place >= places)
        throw new RangeError(`Expected a place from 0 to ${places - 1} in ${where}, got ${place}`);
    }
    if (a === b) throw new RangeError(`Expected two different places in ${where}, got ${a} twice`);
    if (table.length !== options[a] * options[b])
      throw new RangeError(`Expected ${options[a]} × ${options[b]} scores in ${where}, got ${table.length}`);
    const rounded = scores(table, where);
    // Several tables between the same two places add up.
    pairs[a * places + b] = sum(pairs[a * places + b], rounded);
    pairs[b * places + a] = sum(pairs[b * places + a], transposed(rounded, options[a], options[b]));
  });
  return {
    places,
    counts: Int32Array.from(options),
    width: Math.max(...options),
    names: options.map((count) => Int32Array.from({ length: count }, (_, option) => option)),
    alone,
    pairs,
    ...checkedLimits(problem, options),
  };
}

function checkedLimits(
  { amounts, distinct }: SchemeLimits,
  options: readonly number[],
): { amounts: Amount[]; distinct: Distinct[] } {
  return {
    amounts: amounts.map(({ name, each, most }) => {
      checkRows(each, options, `“${name}”`);
      each.forEach((row, place) =>
        row.forEach((value, option) => {
          if (!Number.isFinite(value))
            throw new RangeError(
              `Expected finite amounts of “${name}”, got ${value} at place ${place}, option ${option}`,
            );
        }),
      );
      if (!Number.isFinite(most)) throw new RangeError(`Expected a finite limit of “${name}”, got ${most}`);
      return amount(name, each, most);
    }),
    distinct: distinct.map(({ name, classOf, already, most }) => {
      checkRows(classOf, options, `“${name}”`);
      if (!Number.isInteger(most) || most < 0)
        throw new RangeError(`Expected a whole number of 0 or more as the limit of “${name}”, got ${most}`);
      for (const value of already) {
        if (!Number.isInteger(value))
          throw new RangeError(`Expected whole numbers as classes in use of “${name}”, got ${value}`);
      }
      const numbers = new Map<number, number>();
      const number = (value: number) => {
        if (value < 0) return -1;
        if (!numbers.has(value)) numbers.set(value, numbers.size);
        return numbers.get(value)!;
      };
      const used = [...new Set(already.map(number))].filter((value) => value >= 0);
      const numbered = classOf.map((row) => row.map(number));
      return { name, classOf: numbered, classes: numbers.size, already: used, most };
    }),
  };
}

export function amount(name: string, each: readonly Float64Array[], most: number): Amount {
  return { name, each, most, slack: ROUNDING * Math.max(1, Math.abs(most)) };
}

function checkRows(
  rows: readonly { readonly length: number }[],
  options: readonly number[],
  where: string,
): void {
  if (rows.length !== options.length)
    throw new RangeError(`Expected ${options.length} places in ${where}, got ${rows.length}`);
  rows.forEach((row, place) => {
    if (row.length !== options[place])
      throw new RangeError(
        `Expected ${options[place]} options in ${where} at place ${place}, got ${row.length}`,
      );
  });
}

/** Scores on the lattice; -Infinity stays. */
function scores(values: Float64Array, where: string): Float64Array {
  return values.map((value, index) => {
    if (value === -Infinity) return value;
    if (!(value <= 0 && value >= LEAST_SCORE))
      throw new RangeError(
        `Expected log scores from ${LEAST_SCORE} to 0, or -Infinity, in ${where}, got ${value} at ${index}`,
      );
    return Math.round(value / LATTICE) * LATTICE;
  });
}

function sum(first: Float64Array | null, second: Float64Array): Float64Array {
  return first ? first.map((value, index) => value + second[index]) : second;
}

function transposed(table: Float64Array, rows: number, columns: number): Float64Array {
  const out = new Float64Array(table.length);
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) out[c * rows + r] = table[r * columns + c];
  }
  return out;
}

/** The same tables with only the options of `kept` (ascending), at least one at each place. */
export function narrowed(tables: SchemeTables, kept: readonly Int32Array[]): SchemeTables {
  const { places } = tables;
  const rows = (each: readonly Float64Array[]) =>
    each.map((row, place) => Float64Array.from(kept[place], (option) => row[option]));
  return {
    ...tables,
    counts: Int32Array.from(kept, ({ length }) => length),
    width: Math.max(...kept.map(({ length }) => length)),
    names: tables.names.map((row, place) => kept[place].map((option) => row[option])),
    alone: rows(tables.alone),
    pairs: tables.pairs.map((table, index) => {
      if (!table) return null;
      const columns = kept[index % places];
      const out = new Float64Array(kept[Math.floor(index / places)].length * columns.length);
      let next = 0;
      for (const r of kept[Math.floor(index / places)]) {
        for (const c of columns) out[next++] = table[r * tables.counts[index % places] + c];
      }
      return out;
    }),
    amounts: tables.amounts.map((limit) => ({ ...limit, each: rows(limit.each) })),
    distinct: tables.distinct.map((limit) => ({
      ...limit,
      classOf: limit.classOf.map((row, place) => kept[place].map((option) => row[option])),
    })),
  };
}

/** Log score of a scheme, exact on the lattice; -Infinity where something in it is forbidden. */
export function scoreOf({ places, counts, alone, pairs }: SchemeTables, choice: ArrayLike<number>): number {
  let score = 0;
  for (let i = 0; i < places; i++) {
    score += alone[i][choice[i]];
    for (let j = i + 1; j < places; j++) {
      const table = pairs[i * places + j];
      if (table) score += table[choice[i] * counts[j] + choice[j]];
    }
  }
  return score;
}

/** By how much a scheme oversteps its limits, each in parts of itself; 0 where it keeps them all. */
export function overstep({ places, amounts, distinct }: SchemeTables, choice: ArrayLike<number>): number {
  let over = 0;
  for (const { each, most, slack } of amounts) {
    let total = 0;
    for (let i = 0; i < places; i++) total += each[i][choice[i]];
    if (total > most + slack) over += (total - most) / (1 + Math.abs(most));
  }
  for (const { classOf, already, most } of distinct) {
    let used = already.length;
    for (let i = 0; i < places; i++) {
      const own = classOf[i][choice[i]];
      if (own < 0 || already.includes(own)) continue;
      let first = true;
      for (let j = 0; j < i && first; j++) first = classOf[j][choice[j]] !== own;
      if (first) used++;
    }
    if (used > most) over += used - most;
  }
  return over;
}
