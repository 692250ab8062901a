import { REFLECTANCE_PRIOR } from './data/reflectance-prior.ts';
import { GRID, WAVELENGTHS } from './spectrum.ts';

/**
 * What reflectances of real surfaces look like, as a Gaussian over logit reflectance on the grid: a set of known curves
 * (mean plus components times scores) and a smooth kernel for what they do not show.
 */
export interface ReflectancePrior {
  /** Mean of the logit reflectance, 81 values. */
  readonly mean: Float64Array;
  /** Orthonormal principal components of the logit reflectance, `rank` rows of 81. */
  readonly components: Float64Array;
  readonly rank: number;
  /** Where each known curve lies on the components, `count` rows of `rank`. */
  readonly scores: Float64Array;
  readonly count: number;
  /** Share of the covariance taken from the known curves; the kernel holds the rest. */
  readonly learned: number;
  /** Smooth covariance, 81 x 81, already scaled by its share. */
  readonly kernel: Float64Array;
}

/** The form in which `data/reflectance-prior.ts` holds a prior: whole numbers with their scales. */
export interface PackedPrior {
  readonly mean: readonly number[];
  readonly components: readonly number[];
  readonly scores: readonly number[];
  readonly rank: number;
  /** Variance of the logit reflectance, averaged over the bands. */
  readonly variance: number;
}

/** Scales of the whole numbers in a packed prior. */
export const PACKED_SCALE = { mean: 1e3, components: 1e4, scores: 1e2 } as const;

/** Share of the covariance given to the smooth kernel; 10-30 % hardly differ in cross-validation. */
const KERNEL_SHARE = 0.2;

/** Lengths of the two halves of the kernel, nm: broad slopes and narrower absorption edges. */
const KERNEL_LENGTHS = [40, 12] as const;

/**
 * Squared-exponential covariance over the grid, 81 x 81: the mean of one kernel for each length, times `variance`.
 */
function smoothKernel(variance: number, lengths: readonly number[]): Float64Array {
  const n = GRID.count;
  const kernel = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      const distance = WAVELENGTHS[i] - WAVELENGTHS[j];
      let sum = 0;
      for (const length of lengths) sum += Math.exp(-0.5 * (distance / length) ** 2);
      kernel[i * n + j] = (variance * sum) / lengths.length;
    }
  }
  return kernel;
}

/** Unpacks the whole numbers of a stored prior. */
export function unpackPrior(packed: PackedPrior): ReflectancePrior {
  const { rank } = packed;
  return {
    mean: Float64Array.from(packed.mean, (v) => v / PACKED_SCALE.mean),
    components: Float64Array.from(packed.components, (v) => v / PACKED_SCALE.components),
    rank,
    scores: Float64Array.from(packed.scores, (v) => v / PACKED_SCALE.scores),
    count: packed.scores.length / rank,
    learned: 1 - KERNEL_SHARE,
    kernel: smoothKernel(KERNEL_SHARE * packed.variance, KERNEL_LENGTHS),
  };
}

/**
 * How much each known curve counts for a colour, written to `weights`, which then add up to 1: `share` goes to the near ones,
 * a Gaussian of their colour difference (CIEDE2000) with `width`, the rest to all alike. The curve `leftOut` gets none.
 */
export function weighCurves(
  distances: Float32Array,
  weights: Float64Array,
  { width, share, leftOut }: { width: number; share: number; leftOut: number },
): void {
  const count = weights.length;
  let near = 0;
  for (let i = 0; i < count; i++) {
    weights[i] = i === leftOut ? 0 : Math.exp(-0.5 * (distances[i] / width) ** 2);
    near += weights[i];
  }
  // With no curve near (sum about 0) all count alike, with no jump in between.
  const scale = share / (near + 1e-3);
  const rest = (1 - scale * near) / (leftOut < 0 ? count : count - 1);
  for (let i = 0; i < count; i++) weights[i] = i === leftOut ? 0 : weights[i] * scale + rest;
}

/** Rows of scores (`count` of `rank`) as columns, one after another: the form `moments` reads. */
export function columnsOf(rows: Float64Array, rank: number): Float64Array {
  const count = rows.length / rank;
  return Float64Array.from(
    { length: rows.length },
    (_, at) => rows[(at % count) * rank + Math.floor(at / count)],
  );
}

/**
 * Weighted second moments of some columns, written to the lower triangle of `out`, `rank` x `rank`. Column by column, which
 * is twice as fast as curve by curve.
 */
export function moments(columns: Float64Array, weights: Float64Array, out: Float64Array): void {
  const count = weights.length;
  const rank = columns.length / count;
  const weighted = new Float64Array(count);
  for (let k = 0; k < rank; k++) {
    const row = k * count;
    for (let i = 0; i < count; i++) weighted[i] = weights[i] * columns[row + i];
    for (let l = 0; l <= k; l++) {
      const other = l * count;
      let sum = 0;
      for (let i = 0; i < count; i++) sum += weighted[i] * columns[other + i];
      out[k * rank + l] = sum;
    }
  }
}

let unpacked: ReflectancePrior | null = null;

/** The prior that `test/authoring/train/recovery.ts` derived from the named reflectances; unpacked at first use. */
export function realSurfaces(): ReflectancePrior {
  unpacked ??= unpackPrior(REFLECTANCE_PRIOR);
  return unpacked;
}
