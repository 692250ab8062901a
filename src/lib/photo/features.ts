import { TO_RELATIVE_XYZ as M } from './scaled-colour.ts';

/**
 * What the correction is linear in: functions of one pixel's colour after the plain gains.
 *
 * Colours here are linear RGB with sRGB primaries, scaled by one gain a channel so that the reference has its true
 * colour ("scaled rgb"). Reading them as sRGB gives the plain Lab; the error that remains is a smooth function of the
 * colour, made of a few dozen terms. Cube roots are shifted a little so that black has no infinite slope.
 */

/** Number of terms the correction is linear in. */
export const FEATURE_COUNT = 32;

/** Number of terms the logarithm of the noise variance of each of L, a and b is linear in. */
export const NOISE_FEATURE_COUNT = 12;

/** Further terms of the noise that are the same for a whole photo; see `photoNoise` in prior.ts. */
export const PHOTO_NOISE_COUNT = 2;

/** Range of scaled rgb within which the terms were learned; outside, the nearest colour's correction is used. */
export const LEARNED_RANGE = { low: 0, high: 1.3 } as const;

function bounded(value: number, low: number, high: number): number {
  return value < low ? low : value > high ? high : value;
}

function within(value: number): number {
  return value < LEARNED_RANGE.low
    ? LEARNED_RANGE.low
    : value > LEARNED_RANGE.high
      ? LEARNED_RANGE.high
      : value;
}

const SHIFT = 0.005;
const SHIFT_ROOT = Math.cbrt(SHIFT);
/** Keeps the ratio terms finite near black. */
const DARK = 0.01;

/**
 * The terms at one scaled rgb, into `out[at .. at+FEATURE_COUNT-1]`.
 * Polynomials of degree 3 in lightness and two opponent axes of the cube roots; soft absolute values of the opponent
 * axes (saturated reds, greens and blues go wrong in their own ways); and what an error in the camera's 3x3 matrix does
 * to the cube roots of X, Y and Z (a channel over the two-thirds power), the same idea as the root-polynomial terms of
 * Finlayson, Mackiewicz and Hurlbert 2015, IEEE Trans. Image Process. 24(5).
 */
export function features(r: number, g: number, b: number, out: Float64Array, at: number): void {
  const red = within(r);
  const green = within(g);
  const blue = within(b);
  const qr = Math.cbrt(red + SHIFT) - SHIFT_ROOT;
  const qg = Math.cbrt(green + SHIFT) - SHIFT_ROOT;
  const qb = Math.cbrt(blue + SHIFT) - SHIFT_ROOT;
  const l = (qr + 2 * qg + qb) / 4 - 0.5;
  const u = qr - qg;
  const v = qb - qg;
  const w = u - v;
  out[at] = 1;
  out[at + 1] = l;
  out[at + 2] = u;
  out[at + 3] = v;
  out[at + 4] = l * l;
  out[at + 5] = u * u;
  out[at + 6] = v * v;
  out[at + 7] = l * u;
  out[at + 8] = l * v;
  out[at + 9] = u * v;
  out[at + 10] = l * l * l;
  out[at + 11] = u * u * u;
  out[at + 12] = v * v * v;
  out[at + 13] = l * l * u;
  out[at + 14] = l * l * v;
  out[at + 15] = u * u * l;
  out[at + 16] = v * v * l;
  out[at + 17] = u * u * v;
  out[at + 18] = v * v * u;
  out[at + 19] = l * u * v;
  out[at + 20] = Math.sqrt(u * u + 0.01) - 0.1;
  out[at + 21] = Math.sqrt(v * v + 0.01) - 0.1;
  out[at + 22] = Math.sqrt(w * w + 0.01) - 0.1;
  out[at + 23] = Math.sqrt(u * u + 0.003) * l;
  out[at + 24] = Math.sqrt(v * v + 0.003) * l;
  out[at + 25] = Math.sqrt(w * w + 0.003) * l;
  for (let k = 0; k < 3; k++) {
    const t = Math.max(M[k * 3] * red + M[k * 3 + 1] * green + M[k * 3 + 2] * blue, 0) + DARK;
    const root = Math.cbrt(t);
    const scale = 1 / (root * root);
    out[at + 26 + 2 * k] = (red - green) * scale;
    out[at + 27 + 2 * k] = (blue - green) * scale;
  }
}

/**
 * The terms the logarithm of the noise variance is linear in, at one scaled rgb with its plain Lab, into
 * `out[at .. at+NOISE_FEATURE_COUNT-1]`: what a smooth function of the colour cannot know (metamerism of camera and
 * lamp) grows with chroma and where a channel is empty.
 */
export function noiseFeatures(
  scaled: readonly [number, number, number],
  plain: ArrayLike<number>,
  out: Float64Array,
  at: number,
): void {
  const lightness = bounded(plain[0] / 100, 0, 1.1);
  const a = bounded(plain[1] / 50, -2, 2);
  const b = bounded(plain[2] / 50, -2, 2);
  const chroma = Math.sqrt(a * a + b * b + 0.01);
  const lowest = Math.max(Math.min(scaled[0], scaled[1], scaled[2]), 0);
  out[at] = 1;
  out[at + 1] = lightness;
  out[at + 2] = lightness * lightness;
  out[at + 3] = chroma;
  out[at + 4] = a;
  out[at + 5] = b;
  out[at + 6] = a * a;
  out[at + 7] = b * b;
  out[at + 8] = a * b;
  out[at + 9] = lightness * chroma;
  out[at + 10] = Math.exp(-lowest / 0.02);
  out[at + 11] = Math.exp(-lowest / 0.004);
}

/**
 * Covariance of the noise in Lab at one scaled rgb with its plain Lab: 3x3 row-major, CIELAB units squared.
 * `noise` holds the coefficients of the ln variance of L, then of a, then of b; `correlation` is 3x3.
 */
export function noiseCovariance(
  scaled: readonly [number, number, number],
  plain: ArrayLike<number>,
  model: { readonly noise: ArrayLike<number>; readonly correlation: ArrayLike<number> },
): Float64Array {
  const terms = new Float64Array(NOISE_FEATURE_COUNT);
  noiseFeatures(scaled, plain, terms, 0);
  const deviations = [0, 1, 2].map((k) => {
    let logarithm = 0;
    for (let i = 0; i < NOISE_FEATURE_COUNT; i++) {
      logarithm += terms[i] * model.noise[k * NOISE_FEATURE_COUNT + i];
    }
    return Math.exp(bounded(logarithm, -8, 8) / 2);
  });
  return Float64Array.from({ length: 9 }, (_, i) => {
    return model.correlation[i] * deviations[Math.floor(i / 3)] * deviations[i % 3];
  });
}
