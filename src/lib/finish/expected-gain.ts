/*
 * What an observation is worth before it is made: the expected worth of what would then be chosen, less that of what is
 * chosen now. Over the draws of a simulation the worth of an alternative, given what would be seen, is a regression of its
 * worth on what would be seen in each draw. Sources, both from memory: Strong, Oakley and Brennan 2014, Medical Decision
 * Making 34(3), 311-326 (a part known perfectly); Strong, Oakley, Brennan and Breeze 2015, the same 35(5), 570-583 (a part
 * seen with noise).
 *
 * The regression is least squares, so the mean of a fit is the mean of the worth and no gain is below 0. What least squares
 * would fit to chance alone is taken off again: a fit is drawn towards its mean by the share of its variance that as many
 * columns of noise would explain.
 */

/** The worths of several alternatives over the same draws. */
export interface Worths {
  /** A row per alternative, as long as there are draws. */
  readonly rows: readonly Float64Array[];
  readonly means: readonly number[];
  /** The alternative of the highest mean, which is what is chosen without another look; the first of equals. */
  readonly chosen: number;
  /** The highest worth of each draw. */
  readonly highest: Float64Array;
}

export interface Gain {
  /** Expected worth of what is then chosen less that of what is chosen now, 0 or more, in the unit of the worths. */
  readonly gain: number;
  /** Chance that another alternative is then chosen, 0-1. */
  readonly change: number;
  /** Chance that what is then chosen is the best of all, 0-1. */
  readonly right: number;
}

/** @throws RangeError for no alternatives, or rows of different lengths. */
export function worthsOf(rows: readonly Float64Array[]): Worths {
  if (rows.length === 0 || rows[0].length === 0 || rows.some(({ length }) => length !== rows[0].length))
    throw new RangeError('Expected rows of equal length, one for each alternative, got none or unequal ones');
  const means = rows.map(meanOf);
  const highest = rows[0].slice();
  for (const row of rows) for (let t = 0; t < row.length; t++) if (row[t] > highest[t]) highest[t] = row[t];
  return { rows, means, chosen: means.indexOf(Math.max(...means)), highest };
}

/** Expected gain from knowing everything: no observation is worth more. */
export function perfectGain({ highest, means, chosen }: Worths): number {
  return Math.max(0, meanOf(highest) - means[chosen]);
}

/**
 * Expected worth of alternatives given what would be seen, in each draw: each row's regression on the columns.
 * Columns without variance, and those that others make up, take no part.
 */
export function expectedWorths(
  rows: readonly Float64Array[],
  columns: readonly Float64Array[],
): Float64Array[] {
  const draws = columns[0]?.length ?? 0;
  const centred = columns.map(centre);
  const factor = factorOf(centred);
  return rows.map((row) => {
    const mean = meanOf(row);
    const products = Float64Array.from(centred, (column) => dot(column, row));
    const weights = solved(factor, products);
    const fit = new Float64Array(draws);
    weights.forEach((weight, k) => {
      if (weight === 0) return;
      const column = centred[k];
      for (let t = 0; t < draws; t++) fit[t] += weight * column[t];
    });
    const kept = keptShare(row, mean, { fit, columns: factor.rank });
    for (let t = 0; t < draws; t++) fit[t] = mean + kept * fit[t];
    return fit;
  });
}

/** Share of a fit that is not what as many columns of noise would reach: (R² − p (1 − R²) / (n − p − 1)) / R², 0 or more. */
function keptShare(
  row: Float64Array,
  mean: number,
  { fit, columns }: { fit: Float64Array; columns: number },
): number {
  let all = 0;
  for (let t = 0; t < row.length; t++) all += (row[t] - mean) ** 2;
  const explained = dot(fit, fit);
  const free = row.length - columns - 1;
  if (!(explained > 0) || free <= 0) return 0;
  return Math.max(0, 1 - (columns * Math.max(0, all - explained)) / (free * explained));
}

/** Chance that what is chosen without another look is the best of all, 0-1. */
export function rightNow(worths: Worths): number {
  return gainOf(worths, new Map()).right;
}

/**
 * What an observation is worth, from the expected worths it gives to the alternatives it speaks of (index to row); the
 * others keep their means.
 */
export function gainOf(worths: Worths, expected: ReadonlyMap<number, Float64Array>): Gain {
  const { rows, means, chosen, highest } = worths;
  const draws = rows[0].length;
  const still = rows.flatMap((_, i) => (expected.has(i) ? [] : [i]));
  const bestStill = still.reduce((best, i) => (best < 0 || means[i] > means[best] ? i : best), -1);
  const moving = [...expected];
  let sum = 0;
  let changed = 0;
  let right = 0;
  for (let t = 0; t < draws; t++) {
    let best = bestStill;
    let most = best < 0 ? -Infinity : means[best];
    for (const [i, fit] of moving) {
      if (fit[t] > most || (fit[t] === most && i === chosen)) {
        most = fit[t];
        best = i;
      }
    }
    sum += most;
    if (best !== chosen) changed++;
    if (rows[best][t] === highest[t]) right++;
  }
  // A fit may run a little beyond what there is to gain; no observation can.
  const gain = Math.min(Math.max(0, sum / draws - means[chosen]), perfectGain(worths));
  return { gain, change: changed / draws, right: right / draws };
}

interface Factor {
  readonly size: number;
  /** Lower triangular, row-major; a column that adds nothing is 0. */
  readonly lower: Float64Array;
  readonly rank: number;
}

/** Share of a column's variance below which nothing is left of it beside the others. */
const NOTHING_LEFT = 1e-9;

/** Cholesky factor of the columns' products. */
function factorOf(columns: readonly Float64Array[]): Factor {
  const size = columns.length;
  const lower = new Float64Array(size * size);
  let rank = 0;
  const own = columns.map((column) => dot(column, column));
  for (let j = 0; j < size; j++) {
    let pivot = own[j];
    for (let k = 0; k < j; k++) pivot -= lower[j * size + k] ** 2;
    if (!(pivot > NOTHING_LEFT * own[j])) continue;
    rank++;
    const root = Math.sqrt(pivot);
    lower[j * size + j] = root;
    for (let i = j + 1; i < size; i++) {
      let sum = dot(columns[i], columns[j]);
      for (let k = 0; k < j; k++) sum -= lower[i * size + k] * lower[j * size + k];
      lower[i * size + j] = sum / root;
    }
  }
  return { size, lower, rank };
}

function solved({ size, lower }: Factor, products: Float64Array): Float64Array {
  const out = products.slice();
  for (let i = 0; i < size; i++) {
    const pivot = lower[i * size + i];
    for (let k = 0; k < i; k++) out[i] -= lower[i * size + k] * out[k];
    out[i] = pivot > 0 ? out[i] / pivot : 0;
  }
  for (let i = size - 1; i >= 0; i--) {
    const pivot = lower[i * size + i];
    for (let k = i + 1; k < size; k++) out[i] -= lower[k * size + i] * out[k];
    out[i] = pivot > 0 ? out[i] / pivot : 0;
  }
  return out;
}

function meanOf(values: Float64Array): number {
  let sum = 0;
  for (let t = 0; t < values.length; t++) sum += values[t];
  return sum / values.length;
}

function centre(values: Float64Array): Float64Array {
  const mean = meanOf(values);
  return values.map((value) => value - mean);
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let t = 0; t < a.length; t++) sum += a[t] * b[t];
  return sum;
}
