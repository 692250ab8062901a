import { cholesky } from '#lib/colour/index.ts';
import type { Covariance, Lab } from '#lib/colour/index.ts';

/**
 * A colour with its doubt: CIELAB D65/10° and the 3×3 covariance of that value, row-major, CIELAB units squared.
 * A zero covariance says the value is taken as exact.
 */
export interface Estimate {
  readonly lab: Lab;
  readonly covariance: Covariance;
}

/** Where a colour came from; it decides how far the colour is trusted. */
export type EvidenceSource = 'photo' | 'instrument' | 'typed' | 'notation' | 'published' | 'published LRV';

/**
 * Mean colour difference from the truth that a source typically has, ΔE. Common practice, no published source, but each
 * with its reason. Photos are missing here: their doubt is measured per photo.
 */
export const TYPICAL_DIFFERENCE = {
  /** Repeatability and agreement of hand-held spectrophotometers on matt samples. */
  instrument: 0.3,
  /** Lab or LCh copied from a data sheet: instrument, but batch, illuminant and rounding unknown. */
  'typed Lab': 1,
  /** A maker's hex or RGB: rounded to 8 bits, made for a screen, and a can differs from its chip. */
  'published RGB': 2,
  /** Notation in whole steps of hue and value: half a step is about this. */
  notation: 2,
  /** A CSS colour nobody measured: as good as the screen it was chosen on. */
  'typed CSS': 3,
} as const;

/** Doubt of a colour known by LRV and a rough hue alone: L* by the printed rounding of the LRV, a* and b* hardly at all. */
export const LRV_ONLY = { lightness: 1, chromaWhenStated: 4, chromaWhenGuessed: 12 } as const;

/** Mean length of a three-dimensional normal vector of unit standard deviation per axis: √(8/π). */
const MEAN_OF_THREE_AXES = Math.sqrt(8 / Math.PI);

/** Covariance that is equal along L*, a* and b*, for a source that is off by `meanDifference` ΔE on average. */
export function isotropicCovariance(meanDifference: number): Covariance {
  if (!(meanDifference >= 0) || !Number.isFinite(meanDifference)) {
    throw new RangeError(`Expected a mean difference of 0 or more, got ${meanDifference}`);
  }
  const variance = (meanDifference / MEAN_OF_THREE_AXES) ** 2;
  return [variance, 0, 0, 0, variance, 0, 0, 0, variance];
}

/** Covariance with its own standard deviation along L*, a* and b*, CIELAB units. */
export function axisCovariance(L: number, a: number, b: number): Covariance {
  return [L * L, 0, 0, 0, a * a, 0, 0, 0, b * b];
}

/**
 * Lower triangular root of a covariance, row-major 3×3: root · rootᵀ = covariance. An exact axis gives a zero column.
 * @throws RangeError naming `where`, for a matrix that is not symmetric or has a negative variance.
 */
export function covarianceRoot(covariance: Covariance, where = 'covariance'): readonly number[] {
  const shown = () => `[${covariance.join(', ')}]`;
  if (covariance.length !== 9 || !covariance.every(Number.isFinite)) {
    throw new RangeError(`Expected ${where} to be nine finite numbers, got ${shown()}`);
  }
  const tolerance =
    1e-6 * Math.max(Math.abs(covariance[0]), Math.abs(covariance[4]), Math.abs(covariance[8]), 1e-12);
  for (const [i, j] of [
    [1, 3],
    [2, 6],
    [5, 7],
  ]) {
    if (Math.abs(covariance[i] - covariance[j]) > tolerance) {
      throw new RangeError(`Expected ${where} to be symmetric, got ${shown()}`);
    }
  }
  try {
    return cholesky(covariance);
  } catch {
    throw new RangeError(`Expected ${where} without negative variance, got ${shown()}`);
  }
}

/** Standard deviation of a colour's position, CIELAB units: root of the covariance's trace over three. */
export function doubtPerAxis(covariance: Covariance): number {
  return Math.sqrt((covariance[0] + covariance[4] + covariance[8]) / 3);
}

/** What a doubt per axis means, in words; bands are common practice, no published source. */
export function doubtInWords(covariance: Covariance): string {
  const doubt = doubtPerAxis(covariance);
  if (doubt < 0.4) return 'measured';
  if (doubt < 1) return 'well known';
  if (doubt < 2) return 'known to a shade';
  if (doubt < 4) return 'roughly known';
  return 'hardly known';
}
