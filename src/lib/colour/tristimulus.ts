import { illuminant } from './illuminant.ts';
import { OBSERVER_10, OBSERVER_2 } from './observer.ts';
import type { Observer } from './observer.ts';
import { GRID, checkSpectrum } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';

/** Tristimulus values; Y = 100 for the perfect reflecting diffuser. Observer and illuminant are the caller's to know. */
export interface XYZ {
  readonly X: number;
  readonly Y: number;
  readonly Z: number;
}

/** CIE 1931 or 1964 chromaticity coordinates. */
export interface Chromaticity {
  readonly x: number;
  readonly y: number;
}

/** What a reflectance is seen under and by. */
export interface Sight {
  readonly illuminant: Spectrum;
  readonly observer: Observer;
}

/**
 * Weights that turn a reflectance on the grid into tristimulus values: three rows of 81 (X, then Y, then Z).
 * XYZ is the sum of weight times reflectance; Y of the perfect reflecting diffuser is 100.
 * A plain sum at 5 nm, no ASTM E308 weighting tables: these differ in the third or fourth figure.
 * Source: CIE 15:2018, section 7.1.
 */
export function tristimulusWeights(sight: Sight): Float64Array {
  const { illuminant: light, observer } = sight;
  checkSpectrum(light, 'spectral power');
  let sum = 0;
  for (let i = 0; i < GRID.count; i++) sum += light[i] * observer.yBar[i];
  if (!(sum > 0)) throw new RangeError('Expected an illuminant that emits between 380 and 780 nm, got none');
  const k = 100 / sum;
  const weights = new Float64Array(3 * GRID.count);
  for (let i = 0; i < GRID.count; i++) {
    weights[i] = k * light[i] * observer.xBar[i];
    weights[GRID.count + i] = k * light[i] * observer.yBar[i];
    weights[2 * GRID.count + i] = k * light[i] * observer.zBar[i];
  }
  return weights;
}

/**
 * Tristimulus values of a reflectance under an illuminant, for an observer. Y in [0, 100].
 * Throws RangeError for a reflectance outside [0, 1] or off the grid.
 * Source: CIE 15:2018, section 7.1; plain sum over 380-780 nm by 5.
 */
export function spectrumToXyz(reflectance: ArrayLike<number>, sight: Sight): XYZ {
  checkSpectrum(reflectance, 'reflectance');
  const { illuminant: light, observer } = sight;
  checkSpectrum(light, 'spectral power');
  const { xBar, yBar, zBar } = observer;
  let sum = 0;
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < GRID.count; i++) {
    const power = light[i];
    const reflected = power * reflectance[i];
    sum += power * yBar[i];
    X += reflected * xBar[i];
    Y += reflected * yBar[i];
    Z += reflected * zBar[i];
  }
  if (!(sum > 0)) throw new RangeError('Expected an illuminant that emits between 380 and 780 nm, got none');
  const k = 100 / sum;
  return { X: k * X, Y: k * Y, Z: k * Z };
}

const PERFECT_DIFFUSER = new Float64Array(GRID.count).fill(1);

/** Tristimulus values of the perfect reflecting diffuser under an illuminant: Y = 100. */
export function whitePoint(light: Spectrum, observer: Observer): XYZ {
  return spectrumToXyz(PERFECT_DIFFUSER, { illuminant: light, observer });
}

/** White of D65 for the 10 degree observer, from the tables: 94.81, 100, 107.32. The project's reference white. */
export const WHITE_D65_10: XYZ = whitePoint(illuminant('D65'), OBSERVER_10);

/** White of D65 for the 2 degree observer, from the tables: 95.04, 100, 108.88. (Not the white of RGB spaces.) */
export const WHITE_D65_2: XYZ = whitePoint(illuminant('D65'), OBSERVER_2);

/** Chromaticity of tristimulus values; `null` for black, which has none. */
export function xyzToXy(xyz: XYZ): Chromaticity | null {
  const sum = xyz.X + xyz.Y + xyz.Z;
  return sum > 0 ? { x: xyz.X / sum, y: xyz.Y / sum } : null;
}

/**
 * Tristimulus values of a chromaticity with a luminance factor Y (100 for a white).
 * Throws RangeError where y is not above 0.
 */
export function xyToXyz(xy: Chromaticity, Y: number): XYZ {
  if (!(xy.y > 0)) throw new RangeError(`Expected chromaticity y above 0, got ${xy.y}`);
  return { X: (xy.x * Y) / xy.y, Y, Z: ((1 - xy.x - xy.y) * Y) / xy.y };
}

/**
 * CIE 1976 u', v' of tristimulus values; `null` for black, which has none.
 * (The 1960 v used for colour temperature is two thirds of v'.)
 * Source: ISO/CIE 11664-5.
 */
export function xyzToUv(xyz: XYZ): { u: number; v: number } | null {
  const sum = xyz.X + 15 * xyz.Y + 3 * xyz.Z;
  return sum > 0 ? { u: (4 * xyz.X) / sum, v: (9 * xyz.Y) / sum } : null;
}
