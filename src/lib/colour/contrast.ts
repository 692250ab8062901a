import { illuminant } from './illuminant.ts';
import { labToXyz } from './lab.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10 } from './observer.ts';
import { decodeRgb } from './rgb.ts';
import type { Rgb } from './rgb.ts';
import { GRID, checkSpectrum } from './spectrum.ts';
import { WHITE_D65_10, tristimulusWeights } from './tristimulus.ts';

const LUMINOUS = tristimulusWeights({ illuminant: illuminant('D65'), observer: OBSERVER_10 }).subarray(
  GRID.count,
  2 * GRID.count,
);

/**
 * Light reflectance value of a reflectance: Y for D65 and 10 degrees, 0 (black) to 100 (perfect diffuser).
 * Throws RangeError for a reflectance outside [0, 1] or off the grid.
 * Source: BS 8493:2008 (from memory): the LRV is the CIE tristimulus Y, D65.
 */
export function lightReflectanceValue(reflectance: ArrayLike<number>): number {
  checkSpectrum(reflectance, 'reflectance');
  let Y = 0;
  for (let i = 0; i < GRID.count; i++) Y += LUMINOUS[i] * reflectance[i];
  return Y;
}

/**
 * Light reflectance value of a CIELAB colour (D65, 10 degrees), 0 to 100 for surfaces; only L* matters.
 * Throws RangeError for an L* that is not finite.
 */
export function lrvFromLab(lab: Lab): number {
  if (!Number.isFinite(lab.L)) throw new RangeError(`Expected a finite L*, got ${lab.L}`);
  return labToXyz({ L: lab.L, a: 0, b: 0 }, WHITE_D65_10).Y;
}

/**
 * Difference of two light reflectance values in points, never below 0. Symmetric.
 * 30 points is the usual guidance for edges that must be seen (BS 8300-2:2018, measured per BS 8493); local codes
 * may say otherwise.
 * Throws RangeError for a value outside [0, 100].
 */
export function lrvDifference(reference: number, sample: number): number {
  checkLrv(reference);
  checkLrv(sample);
  return Math.abs(sample - reference);
}

/**
 * Michelson contrast of two luminances or LRVs, 0 to 1. Symmetric. `null` when both are 0.
 * Throws RangeError for a value below 0.
 * Source: Michelson 1927, Studies in Optics: (max - min) / (max + min).
 */
export function michelsonContrast(reference: number, sample: number): number | null {
  checkLuminance(reference);
  checkLuminance(sample);
  const sum = reference + sample;
  return sum > 0 ? Math.abs(sample - reference) / sum : null;
}

/**
 * Weber contrast of a sample against its background, -1 (black on it) upward. Not symmetric.
 * `null` on a background without light.
 * Throws RangeError for a value below 0.
 * Source: (L - L_background) / L_background, common definition in photometry.
 */
export function weberContrast(background: number, sample: number): number | null {
  checkLuminance(background);
  checkLuminance(sample);
  return background > 0 ? (sample - background) / background : null;
}

/**
 * WCAG 2 contrast ratio of two encoded sRGB colours, 1 to 21. Symmetric. For screens only, never for surfaces.
 * Throws RangeError for a channel outside [0, 1].
 * Source: W3C, WCAG 2.2, definitions of contrast ratio and relative luminance (threshold 0.04045 as in IEC 61966-2-1;
 * no 8-bit value lies between it and the 0.03928 of older text).
 */
export function wcagContrastRatio(first: Rgb, second: Rgb): number {
  const a = relativeLuminance(first);
  const b = relativeLuminance(second);
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
}

function relativeLuminance(rgb: Rgb): number {
  for (const value of [rgb.r, rgb.g, rgb.b]) {
    if (!(value >= 0 && value <= 1)) {
      throw new RangeError(`Expected encoded sRGB in [0, 1], got ${value}`);
    }
  }
  return (
    0.2126 * decodeRgb(rgb.r, 'srgb') + 0.7152 * decodeRgb(rgb.g, 'srgb') + 0.0722 * decodeRgb(rgb.b, 'srgb')
  );
}

function checkLrv(value: number): void {
  if (!(value >= 0 && value <= 100)) {
    throw new RangeError(`Expected a light reflectance value in [0, 100], got ${value}`);
  }
}

function checkLuminance(value: number): void {
  if (!(value >= 0) || value === Infinity) {
    throw new RangeError(`Expected a luminance or reflectance of at least 0, got ${value}`);
  }
}
