import type { XYZ } from './tristimulus.ts';

/** CIELAB: L* 0 (black) to 100 (white); a* red (+) to green (-); b* yellow (+) to blue (-). */
export interface Lab {
  readonly L: number;
  readonly a: number;
  readonly b: number;
}

/** CIELAB in cylinder coordinates: lightness, chroma C*, hue angle in degrees [0, 360). */
export interface LCh {
  readonly L: number;
  readonly C: number;
  readonly h: number;
}

/** Covariance of a Lab: nine numbers, row-major, in the order L, a, b; CIELAB units squared. */
export type Covariance = readonly number[];

/** Knee of the lightness function: delta = 6/29, with epsilon = delta^3 and kappa = (29/3)^3. */
const DELTA = 6 / 29;
const EPSILON = DELTA ** 3;
const KAPPA = (29 / 3) ** 3;

/** Below this chroma the hue is rounding noise (neutrals leave about 1e-13) and is given as 0. */
const NEUTRAL_CHROMA = 1e-10;

/**
 * CIELAB of tristimulus values against a reference white (Y = 100 for white).
 * Values below black give L* below 0, along the straight part of the function.
 * Throws RangeError for a white that is not above 0 in all three values.
 * Source: ISO/CIE 11664-4, equations 1 to 8.
 */
export function xyzToLab(xyz: XYZ, white: XYZ): Lab {
  checkWhite(white);
  const fx = compress(xyz.X / white.X);
  const fy = compress(xyz.Y / white.Y);
  const fz = compress(xyz.Z / white.Z);
  return { L: 116 * fy - 16, a: 500 * (fx - fy), b: 200 * (fy - fz) };
}

/**
 * Tristimulus values of a CIELAB colour against a reference white.
 * A colour no surface can have may come out below 0; nothing is clamped.
 * Throws RangeError for a white that is not above 0 in all three values.
 * Source: ISO/CIE 11664-4, annex.
 */
export function labToXyz(lab: Lab, white: XYZ): XYZ {
  checkWhite(white);
  const fy = (lab.L + 16) / 116;
  return {
    X: white.X * expand(fy + lab.a / 500),
    Y: white.Y * expand(fy),
    Z: white.Z * expand(fy - lab.b / 200),
  };
}

/** Cylinder coordinates of a CIELAB colour; the hue of a neutral (chroma below 1e-10) is 0. */
export function labToLch(lab: Lab): LCh {
  const C = Math.hypot(lab.a, lab.b);
  return { L: lab.L, C, h: C < NEUTRAL_CHROMA ? 0 : hueDegrees(lab.b, lab.a) };
}

/** CIELAB of cylinder coordinates; any hue angle is accepted. */
export function lchToLab(lch: LCh): Lab {
  const h = (lch.h * Math.PI) / 180;
  return { L: lch.L, a: lch.C * Math.cos(h), b: lch.C * Math.sin(h) };
}

/** Angle of a point in degrees, [0, 360). */
export function hueDegrees(y: number, x: number): number {
  const degrees = (Math.atan2(y, x) * 180) / Math.PI;
  // A tiny negative angle plus 360 rounds to 360 itself.
  return degrees < 0 ? (degrees + 360) % 360 : degrees + 0;
}

function compress(ratio: number): number {
  return ratio > EPSILON ? Math.cbrt(ratio) : (KAPPA * ratio + 16) / 116;
}

function expand(f: number): number {
  return f > DELTA ? f * f * f : (116 * f - 16) / KAPPA;
}

function checkWhite(white: XYZ): void {
  if (!(white.X > 0 && white.Y > 0 && white.Z > 0)) {
    throw new RangeError(`Expected a reference white above 0, got X ${white.X}, Y ${white.Y}, Z ${white.Z}`);
  }
}
