import { TEST_COLOUR_SAMPLES } from './data/test-colour-samples.ts';
import { blackBody, daylight } from './illuminant.ts';
import { OBSERVER_2 } from './observer.ts';
import type { Spectrum } from './spectrum.ts';
import { cctOhno2014 } from './temperature.ts';
import { spectrumToXyz, whitePoint } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

/** Colour rendering of a lamp. */
export interface ColourRendering {
  /** General colour rendering index: the mean of the first eight; 100 at best, may fall below 0. */
  readonly Ra: number;
  /** Special indices R1 to R14, first R1; `R[8]` is R9, strong red. */
  readonly R: readonly number[];
  /** Correlated colour temperature of the lamp, K, and its Duv: above |0.0054| CIE 13.3 warns the index means little. */
  readonly cct: number;
  readonly duv: number;
}

const SAMPLES: readonly Spectrum[] = Object.values(TEST_COLOUR_SAMPLES).map((values) =>
  Float64Array.from(values),
);

interface Uv {
  readonly u: number;
  readonly v: number;
}

/** CIE 1960 u, v, the space of CIE 13.3. */
function uv1960(xyz: XYZ): Uv {
  const sum = xyz.X + 15 * xyz.Y + 3 * xyz.Z;
  return { u: (4 * xyz.X) / sum, v: (6 * xyz.Y) / sum };
}

/** The coefficients c and d of the von Kries shift, CIE 13.3 equation 5.7. */
function cd({ u, v }: Uv): { c: number; d: number } {
  return { c: (4 - u - 10 * v) / v, d: (1.708 * v + 0.404 - 1.481 * u) / v };
}

/**
 * CIE general and special colour rendering indices of a lamp.
 * In: relative spectral power on the grid. The reference is a black body below 5000 K, daylight from there on.
 * `null` where the lamp has no colour temperature (see `cctOhno2014`) or one above 25000 K, where daylight ends.
 * Throws RangeError for a spectrum off the grid, negative or dark.
 * Source: CIE 13.3-1995 (2 degrees, CIE 1964 W*U*V*, von Kries shift in u, v); grid 380-780 nm by 5.
 */
export function colourRenderingIndex(spectrum: Spectrum): ColourRendering | null {
  const lampWhite = whitePoint(spectrum, OBSERVER_2);
  const temperature = cctOhno2014(lampWhite);
  if (!temperature || temperature.cct > 25000) return null;
  const reference = temperature.cct < 5000 ? blackBody(temperature.cct) : daylight(temperature.cct);

  const lamp = uv1960(lampWhite);
  const target = uv1960(whitePoint(reference, OBSERVER_2));
  const lampCd = cd(lamp);
  const targetCd = cd(target);
  const shift = (sample: Uv): Uv => {
    const { c, d } = cd(sample);
    const cRatio = (targetCd.c / lampCd.c) * c;
    const dRatio = (targetCd.d / lampCd.d) * d;
    const base = 16.518 + 1.481 * cRatio - dRatio;
    return { u: (10.872 + 0.404 * cRatio - 4 * dRatio) / base, v: 5.52 / base };
  };

  const R = SAMPLES.map((reflectance) => {
    const underReference = spectrumToXyz(reflectance, { illuminant: reference, observer: OBSERVER_2 });
    const underLamp = spectrumToXyz(reflectance, { illuminant: spectrum, observer: OBSERVER_2 });
    const r = wuv(underReference.Y, uv1960(underReference), target);
    const k = wuv(underLamp.Y, shift(uv1960(underLamp)), target);
    return 100 - 4.6 * Math.hypot(r.W - k.W, r.U - k.U, r.V - k.V);
  });
  const Ra = R.slice(0, 8).reduce((sum, index) => sum + index, 0) / 8;
  return { Ra, R, cct: temperature.cct, duv: temperature.duv };
}

/** CIE 1964 W*U*V*. */
function wuv(Y: number, { u, v }: Uv, white: Uv): { W: number; U: number; V: number } {
  const W = 25 * Math.cbrt(Y) - 17;
  return { W, U: 13 * W * (u - white.u), V: 13 * W * (v - white.v) };
}
