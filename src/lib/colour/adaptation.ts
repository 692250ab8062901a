import { diagonal, invert, multiply, transform } from './matrix.ts';
import type { Matrix3 } from './matrix.ts';
import type { XYZ } from './tristimulus.ts';

/**
 * Tristimulus values to the sharpened cone responses of CAT16.
 * Source: Li, Li, Wang and others 2017, Color Res. Appl. 42(6), 703-718, doi:10.1002/col.22131; CIE 248:2022.
 */
export const M_CAT16: Matrix3 = [
  0.401288, 0.650173, -0.051461, -0.250268, 1.204414, 0.045854, -0.002079, 0.048952, 0.953127,
];

/** Sharpened cone responses of CAT16 back to tristimulus values. */
export const M_CAT16_INVERSE: Matrix3 = invert(M_CAT16);

/** The two whites and how far the eye has adapted. */
export interface Adaptation {
  /** White under the light in which the stimulus is seen. */
  readonly from: XYZ;
  /** White of the light for which the corresponding colour is wanted. */
  readonly to: XYZ;
  /** Degree of adaptation, 0 (none) to 1 (complete). */
  readonly degree: number;
}

/**
 * Tristimulus values that look the same under another white (corresponding colour).
 * With degree 1, going back with the whites exchanged returns the input; with less it does not.
 * Luminances of the whites enter as their ratio, so give both with Y = 100 for relative colorimetry.
 * Throws RangeError for a degree outside [0, 1], or whites without cone responses above 0.
 * Source: CAT16, Li and others 2017, one-step form.
 */
export function adaptCat16(xyz: XYZ, adaptation: Adaptation): XYZ {
  const [X, Y, Z] = transform(cat16Matrix(adaptation), [xyz.X, xyz.Y, xyz.Z]);
  return { X, Y, Z };
}

/**
 * The linear map behind `adaptCat16`, on X, Y, Z: for many colours, or to carry a covariance along.
 * Throws as `adaptCat16`.
 */
export function cat16Matrix(adaptation: Adaptation): Matrix3 {
  const { from, to, degree } = adaptation;
  if (!(degree >= 0 && degree <= 1)) {
    throw new RangeError(`Expected a degree of adaptation in [0, 1], got ${degree}`);
  }
  const source = coneResponses(from);
  const target = coneResponses(to);
  const ratio = from.Y / to.Y;
  const gain = (i: 0 | 1 | 2) => (degree * ratio * target[i]) / source[i] + 1 - degree;
  return multiply(M_CAT16_INVERSE, multiply(diagonal(gain(0), gain(1), gain(2)), M_CAT16));
}

function coneResponses(white: XYZ): [number, number, number] {
  const rgb = transform(M_CAT16, [white.X, white.Y, white.Z]);
  if (!(white.Y > 0 && rgb[0] > 0 && rgb[1] > 0 && rgb[2] > 0)) {
    throw new RangeError(
      `Expected a white with cone responses above 0, got X ${white.X}, Y ${white.Y}, Z ${white.Z}`,
    );
  }
  return rgb;
}
