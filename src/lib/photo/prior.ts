import type { Lab } from '#lib/colour/index.ts';
import { CORRECTION_PRIOR } from './data/correction-prior.ts';
import { FEATURE_COUNT, NOISE_FEATURE_COUNT, PHOTO_NOISE_COUNT } from './features.ts';
import { unpackFloats, unpackSymmetric } from './packing.ts';

/**
 * What cameras are like before the first reference is seen: the learned Gaussian over the coefficients of the
 * correction, given what the gains alone tell. Learned by test/authoring/train/photo-prior.ts.
 *
 * Three situations, three priors: the gains come from a neutral reference (paper, grey), from a coloured reference, or
 * only from the picture's own statistics.
 */

export type Situation = 'neutral' | 'coloured' | 'picture';

/** Coefficients of the correction: FEATURE_COUNT for L, then as many for a, then for b. */
export const COEFFICIENT_COUNT = 3 * FEATURE_COUNT;

/** A Gaussian over the coefficients, its mean linear in the context, with the noise that no coefficient explains. */
export interface Prior {
  /** Row by row: for each context term the COEFFICIENT_COUNT coefficients it adds. */
  readonly mean: Float64Array;
  /** COEFFICIENT_COUNT squared, row-major. */
  readonly covariance: Float64Array;
  /** ln variance of the noise in L, a and b, linear in the noise features, then the photo's; CIELAB units squared. */
  readonly noise: Float64Array;
  /** 3x3 correlation of that noise. */
  readonly correlation: Float64Array;
  /** Factors on the two parts of a stated covariance, from photographs with cameras held out. */
  readonly calibration: { readonly function: number; readonly noise: number };
}

/** Terms of the context in each situation. */
export const CONTEXT_COUNT: Readonly<Record<Situation, number>> = { neutral: 14, coloured: 18, picture: 12 };

function bounded(value: number, limit: number): number {
  return value < -limit ? -limit : value > limit ? limit : value;
}

/**
 * Context terms from the gains and the reference they come from: how far the delivered picture leans (what the
 * camera's own balance left), how bright it was exposed, and what the reference is. Leans beyond what was learned
 * (about a factor of 1.8 between channels) count as that much.
 */
export function referenceContext(
  situation: 'neutral' | 'coloured',
  gains: readonly number[],
  reference: Lab,
): Float64Array {
  const lean = bounded(Math.log(gains[1] / gains[0]) / 0.2, 3);
  const blue = bounded(Math.log(gains[1] / gains[2]) / 0.2, 3);
  const level = bounded(Math.log(1 / gains[1] / 0.7) / 0.3, 3);
  const L = (reference.L - 90) / 20;
  const scale = situation === 'neutral' ? 3 : 20;
  const a = bounded(reference.a / scale, 3);
  const b = bounded(reference.b / scale, 3);
  const terms = [1, lean, blue, level, L, a, b, lean * lean, blue * blue, level * level, lean * blue];
  terms.push(lean * level, blue * level, level * L);
  if (situation === 'coloured') terms.push(a * a, b * b, a * b, L * L);
  return Float64Array.from(terms);
}

/**
 * Terms of the noise that a whole photo shares: how far its balance was off, and how far it is underexposed. 0 where
 * only the picture is known.
 */
export function photoNoise(situation: Situation, context: Float64Array): [number, number] {
  if (situation === 'picture') return [0, 0];
  const [, lean, blue, level] = context;
  return [bounded(lean * lean + blue * blue, 6) / 2, Math.max(-level, 0)];
}

/** Noise coefficients of one photo: the shared terms go into the constant. For `noiseCovariance`. */
export function noiseOfPhoto(prior: Prior, situation: Situation, context: Float64Array): Float64Array {
  const shared = photoNoise(situation, context);
  const stride = NOISE_FEATURE_COUNT + PHOTO_NOISE_COUNT;
  const out = new Float64Array(3 * NOISE_FEATURE_COUNT);
  for (let k = 0; k < 3; k++) {
    for (let i = 0; i < NOISE_FEATURE_COUNT; i++)
      out[k * NOISE_FEATURE_COUNT + i] = prior.noise[k * stride + i];
    for (let i = 0; i < PHOTO_NOISE_COUNT; i++) {
      out[k * NOISE_FEATURE_COUNT] += shared[i] * prior.noise[k * stride + NOISE_FEATURE_COUNT + i];
    }
  }
  return out;
}

/**
 * What a picture alone tells about light and exposure: logarithms of its Minkowski means (grey world, p = 1, and shades
 * of grey, p = 6; Finlayson and Trezzi 2004, CIC 12), of its bright end and of its middle.
 * In: linear rgb, stride 3, at least one pixel. Out: CONTEXT_COUNT.picture terms, or `null` for a picture all black.
 */
export function pictureContext(pixels: Float32Array): Float64Array | null {
  const count = Math.floor(pixels.length / 3);
  const mean = [0, 0, 0];
  const sixth = [0, 0, 0];
  let middle = 0;
  let clipped = 0;
  const greens = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    for (let c = 0; c < 3; c++) {
      const value = Math.max(pixels[3 * i + c], 0);
      mean[c] += value / count;
      sixth[c] += value ** 6 / count;
    }
    greens[i] = Math.max(pixels[3 * i + 1], 0);
    middle += Math.log(greens[i] + 0.003) / count;
    if (Math.max(pixels[3 * i], pixels[3 * i + 1], pixels[3 * i + 2]) > 0.995) clipped += 1 / count;
  }
  if (!(Math.min(...mean) > 1e-5)) return null;
  greens.sort();
  const bright = greens[Math.floor(0.97 * (count - 1))];
  const grey = [Math.log(mean[0] / mean[1]) / 0.3, Math.log(mean[2] / mean[1]) / 0.3];
  const shades = [Math.log(sixth[0] / sixth[1]) / 1.8, Math.log(sixth[2] / sixth[1]) / 1.8];
  const terms = [
    1,
    bounded(grey[0], 3),
    bounded(grey[1], 3),
    bounded(shades[0], 3),
    bounded(shades[1], 3),
    bounded(Math.log(sixth[1] / 0.02) / 6, 3),
    bounded(Math.log((bright + 0.003) / 0.5), 3),
    bounded(Math.log(mean[1] / 0.25), 3),
    bounded(middle - Math.log(0.2), 3),
    clipped,
  ];
  terms.push(terms[6] * terms[6], terms[8] * terms[8]);
  return Float64Array.from(terms);
}

/**
 * ln of the gains that a picture's own statistics suggest, from the learned regression: three rows of
 * CONTEXT_COUNT.picture.
 */
export function pictureGains(context: Float64Array, regression: Float64Array): [number, number, number] {
  const row = (k: number) => {
    let sum = 0;
    for (let i = 0; i < context.length; i++) sum += context[i] * regression[k * context.length + i];
    return Math.exp(sum);
  };
  return [row(0), row(1), row(2)];
}

/** One situation of the committed table, packed as base64 of little-endian 32-bit floats. */
export interface PackedPrior {
  readonly mean: string;
  readonly covariance: string;
  readonly noise: readonly number[];
  readonly correlation: readonly number[];
  readonly calibration: { readonly function: number; readonly noise: number };
}

/** The whole committed table. */
export interface PackedPriors {
  readonly neutral: PackedPrior;
  readonly coloured: PackedPrior;
  readonly picture: PackedPrior;
  /** ln gains from the picture's statistics: 3 x CONTEXT_COUNT.picture. */
  readonly pictureGains: readonly number[];
}

/** The priors of every situation, ready to use. */
export interface Priors {
  readonly neutral: Prior;
  readonly coloured: Prior;
  readonly picture: Prior;
  readonly pictureGains: Float64Array;
}

/** Unpacks a table of priors. Throws RangeError when its sizes are not those of this code. */
export function unpackPriors(table: PackedPriors): Priors {
  const open = (situation: Situation): Prior => {
    const packed = table[situation];
    const mean = unpackFloats(packed.mean);
    if (
      mean.length !== CONTEXT_COUNT[situation] * COEFFICIENT_COUNT ||
      packed.noise.length !== 3 * (NOISE_FEATURE_COUNT + PHOTO_NOISE_COUNT)
    ) {
      throw new RangeError(`Expected a prior of ${COEFFICIENT_COUNT} coefficients, got another table`);
    }
    return {
      mean,
      covariance: unpackSymmetric(packed.covariance, COEFFICIENT_COUNT),
      noise: Float64Array.from(packed.noise),
      correlation: Float64Array.from(packed.correlation),
      calibration: packed.calibration,
    };
  };
  return {
    neutral: open('neutral'),
    coloured: open('coloured'),
    picture: open('picture'),
    pictureGains: Float64Array.from(table.pictureGains),
  };
}

let committed: Priors | null = null;

/** The committed priors, unpacked at first use. */
export function committedPriors(): Priors {
  committed ??= unpackPriors(CORRECTION_PRIOR);
  return committed;
}
