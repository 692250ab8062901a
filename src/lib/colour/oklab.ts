import { invert, transform } from './matrix.ts';
import type { Matrix3 } from './matrix.ts';
import type { XYZ } from './tristimulus.ts';

/** Oklab: L 0 (black) to 1 (white of D65), a red to green, b yellow to blue, about -0.4 to 0.4. */
export interface Oklab {
  readonly L: number;
  readonly a: number;
  readonly b: number;
}

/** XYZ (D65, 2 degrees, white Y = 1) to cone-like responses. Source: Ottosson 2020, M1. */
const M1: Matrix3 = [
  0.8189330101, 0.3618667424, -0.1288597137, 0.0329845436, 0.9293118715, 0.0361456387, 0.0482003018,
  0.2643662691, 0.633851707,
];

/** Compressed responses to Oklab. Source: Ottosson 2020, M2. */
const M2: Matrix3 = [
  0.2104542553, 0.793617785, -0.0040720468, 1.9779984951, -2.428592205, 0.4505937099, 0.0259040371,
  0.7827717662, -0.808675766,
];

const M1_INVERSE = invert(M1);
const M2_INVERSE = invert(M2);

/**
 * Oklab of tristimulus values for D65, 2 degrees, Y = 100 for white. For screens: gamut mapping and even ramps, not
 * for judging surfaces.
 * With these published ten-digit matrices the white has a and b of about 1e-4, not 0.
 * Source: Ottosson 2020, A perceptual color space for image processing.
 */
export function xyzToOklab(xyz: XYZ): Oklab {
  const [l, m, s] = transform(M1, [xyz.X / 100, xyz.Y / 100, xyz.Z / 100]);
  const [L, a, b] = transform(M2, [Math.cbrt(l), Math.cbrt(m), Math.cbrt(s)]);
  return { L, a, b };
}

/** Tristimulus values (D65, 2 degrees, Y = 100 for white) of an Oklab colour; outside the visible they go below 0. */
export function oklabToXyz(oklab: Oklab): XYZ {
  const [l, m, s] = transform(M2_INVERSE, [oklab.L, oklab.a, oklab.b]);
  const [X, Y, Z] = transform(M1_INVERSE, [l ** 3, m ** 3, s ** 3]);
  return { X: 100 * X, Y: 100 * Y, Z: 100 * Z };
}
