import { REFLECTANCE_PRIOR } from './data/reflectance-prior.ts';
import { illuminant } from './illuminant.ts';
import { OBSERVER_10 } from './observer.ts';
import { GRID, WAVELENGTHS } from './spectrum.ts';
import { WHITE_D65_10, tristimulusWeights } from './tristimulus.ts';

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
  /**
   * Shapes in which a recovered curve may be wrong, `SHAPES` rows of 81: principal components of the known curves where
   * bands count by `bandImportance`, times the root of that, so orthonormal.
   */
  readonly shapes: Float64Array;
}

/**
 * Number of shapes. Three of them are taken by the colour, which is known; 12 directions are left. They express 98 % of
 * the variance of what is wrong with looks; plain principal components, which spend themselves on the ends of the
 * spectrum, 88 %.
 */
export const SHAPES = 15;

/** Importance given to a band that is not seen, where the seen ones add up to 3. */
const UNSEEN_BAND = 0.003;

/** How much each band counts for the eye in daylight (X, Y and Z of D65, 10 degrees, over white), 81 values. */
export function bandImportance(): Float64Array {
  const w = tristimulusWeights({ illuminant: illuminant('D65'), observer: OBSERVER_10 });
  const { X, Y, Z } = WHITE_D65_10;
  const n = GRID.count;
  return Float64Array.from({ length: n }, (_, j) => w[j] / X + w[n + j] / Y + w[2 * n + j] / Z + UNSEEN_BAND);
}

/** The form in which `data/reflectance-prior.ts` holds a prior: whole numbers with their scales. */
export interface PackedPrior {
  readonly mean: readonly number[];
  readonly components: readonly number[];
  readonly scores: readonly number[];
  readonly shapes: readonly number[];
  readonly rank: number;
  /** Variance of the logit reflectance, averaged over the bands. */
  readonly variance: number;
}

/** Scales of the whole numbers in a packed prior. */
export const PACKED_SCALE = { mean: 1e3, components: 1e4, scores: 1e2, shapes: 1e4 } as const;

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
    shapes: Float64Array.from(packed.shapes, (v) => v / PACKED_SCALE.shapes),
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
