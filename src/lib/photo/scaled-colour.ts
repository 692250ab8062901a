import { WHITE_RGB, invert, labToXyz, rgbToXyzMatrix, xyzToLinearRgb } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';

/**
 * Linear rgb with sRGB primaries read at face value, and what a change of gain does to it.
 * The screen's D65, 2 degrees, stands in for the surface's D65, 10 degrees; the learned correction knows the difference.
 */

/** A linear value from here on counts as clipped: the last half step of 8 bits below white. */
export const CLIPPED_AT = 0.9955;

/** Gains: red, green, blue. */
export const GAIN_COUNT = 3;

const WHITE = WHITE_RGB;

/** Linear sRGB to XYZ over those of white: 3x3 row-major. */
export const TO_RELATIVE_XYZ: readonly number[] = rgbToXyzMatrix('srgb').map(
  (value, i) => value / [WHITE.X, WHITE.Y, WHITE.Z][Math.floor(i / 3)],
);
const [M0, M1, M2, M3, M4, M5, M6, M7, M8] = TO_RELATIVE_XYZ;

/** CIELAB's two constants. Source: ISO/CIE 11664-4. */
const EPSILON = 216 / 24389;
const KAPPA = 24389 / 27;

function compress(t: number): number {
  return t > EPSILON ? Math.cbrt(t) : (KAPPA * t + 16) / 116;
}

/** CIELAB of linear rgb (1 = white), into `out[at .. at+2]`. */
export function plainLab(
  r: number,
  g: number,
  b: number,
  out: Float32Array | Float64Array,
  at: number,
): void {
  const fx = compress(M0 * r + M1 * g + M2 * b);
  const fy = compress(M3 * r + M4 * g + M5 * b);
  const fz = compress(M6 * r + M7 * g + M8 * b);
  out[at] = 116 * fy - 16;
  out[at + 1] = 500 * (fx - fy);
  out[at + 2] = 200 * (fy - fz);
}

/** The linear rgb whose `plainLab` is the given Lab; not clamped. */
export function linearOfLab(lab: Lab): [number, number, number] {
  const { r, g, b } = xyzToLinearRgb(labToXyz(lab, WHITE), 'srgb');
  return [r, g, b];
}

/** d Lab / d ln gain at a scaled rgb: 3x3 row-major, rows L, a, b, columns red, green, blue; CIELAB units. */
export function gainEffect(r: number, g: number, b: number): Float64Array {
  const rgb = [r, g, b];
  const out = new Float64Array(9);
  const slopes = [0, 1, 2].map((k) => {
    const row = 3 * k;
    const t = TO_RELATIVE_XYZ[row] * r + TO_RELATIVE_XYZ[row + 1] * g + TO_RELATIVE_XYZ[row + 2] * b;
    return t > EPSILON ? Math.cbrt(t) / (3 * t) : KAPPA / 116;
  });
  for (let c = 0; c < 3; c++) {
    const [x, y, z] = slopes.map((slope, k) => slope * TO_RELATIVE_XYZ[3 * k + c] * rgb[c]);
    out[c] = 116 * y;
    out[3 + c] = 500 * (x - y);
    out[6 + c] = 200 * (y - z);
  }
  return out;
}

/** Covariance `slope covariance slope'`, all 3x3 row-major. */
export function carried(slope: ArrayLike<number>, covariance: ArrayLike<number>): Float64Array {
  const out = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      for (let p = 0; p < 3; p++) {
        for (let q = 0; q < 3; q++)
          out[3 * i + j] += slope[3 * i + p] * covariance[3 * p + q] * slope[3 * j + q];
      }
    }
  }
  return out;
}

/** Covariance of the ln gains, when gains were set on a colour whose Lab has this covariance. */
export function gainDoubt(
  scaled: readonly [number, number, number],
  covariance: ArrayLike<number>,
): Float64Array {
  return carried(invert(Array.from(gainEffect(...scaled))), covariance);
}
