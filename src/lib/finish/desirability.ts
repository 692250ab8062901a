/**
 * Desirability functions: how good a value is, 0-1, and how several of them make one.
 *
 * Source: Derringer and Suich 1980, 'Simultaneous optimization of several response variables', J. Quality Technology
 * 12(4), 214-219, doi:10.1080/00224065.1980.11980968: the one-sided and two-sided transformations and the geometric mean.
 * Weights as exponents came later (Derringer 1994, Quality Progress 27(6), 51-58).
 */

/** Larger is better: 0 up to `none`, 1 from `full` on, between them ((y − none) / (full − none))^r. */
export function largerIsBetter(
  y: number,
  { none, full, r = 1 }: { none: number; full: number; r?: number },
): number {
  if (!(none < full)) throw new RangeError(`Expected none < full, got ${none} and ${full}`);
  if (y <= none) return 0;
  if (y >= full) return 1;
  return ((y - none) / (full - none)) ** r;
}

/** Smaller is better: 1 up to `full`, 0 from `none` on, between them ((none − y) / (none − full))^r. */
export function smallerIsBetter(
  y: number,
  { full, none, r = 1 }: { full: number; none: number; r?: number },
): number {
  if (!(full < none)) throw new RangeError(`Expected full < none, got ${full} and ${none}`);
  if (y <= full) return 1;
  if (y >= none) return 0;
  return ((none - y) / (none - full)) ** r;
}

/** A target is best: 1 at `target`, 0 at and beyond `low` and `high`, with exponents s below and t above it. */
export function targetIsBest(
  y: number,
  { low, target, high, s = 1, t = 1 }: { low: number; target: number; high: number; s?: number; t?: number },
): number {
  if (!(low < target && target < high))
    throw new RangeError(`Expected low < target < high, got ${low}, ${target}, ${high}`);
  if (y <= low || y >= high) return 0;
  return y <= target ? ((y - low) / (target - low)) ** s : ((high - y) / (high - target)) ** t;
}

/**
 * Weighted geometric mean of desirabilities, 0-1: ∏ dᵢ^(wᵢ / Σw). With equal weights it is Derringer and Suich's D; one
 * desirability of 0 with any weight makes the whole 0. Entries of weight 0 do not count; `null` when none is left.
 */
export function overallDesirability(
  parts: readonly { desirability: number; weight: number }[],
): number | null {
  let sum = 0;
  let weights = 0;
  for (const { desirability, weight } of parts) {
    if (!(weight >= 0)) throw new RangeError(`Expected a weight of 0 or more, got ${weight}`);
    if (!(desirability >= 0 && desirability <= 1))
      throw new RangeError(`Expected desirability in [0, 1], got ${desirability}`);
    if (weight === 0) continue;
    if (desirability === 0) return 0;
    sum += weight * Math.log(desirability);
    weights += weight;
  }
  return weights === 0 ? null : Math.exp(sum / weights);
}
