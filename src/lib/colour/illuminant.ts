import { DAYLIGHT_COMPONENTS } from './data/daylight-components.ts';
import { DISCHARGE_ILLUMINANTS } from './data/illuminants-discharge.ts';
import { FLUORESCENT_ILLUMINANTS } from './data/illuminants-fluorescent.ts';
import { INDOOR_DAYLIGHT_ILLUMINANTS } from './data/illuminants-indoor-daylight.ts';
import { LED_ILLUMINANTS } from './data/illuminants-led.ts';
import { STANDARD_ILLUMINANTS } from './data/illuminants-standard.ts';
import type { Observer } from './observer.ts';
import { GRID, WAVELENGTHS, checkSpectrum } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';

const TABLES = {
  ...STANDARD_ILLUMINANTS,
  ...INDOOR_DAYLIGHT_ILLUMINANTS,
  ...LED_ILLUMINANTS,
  ...FLUORESCENT_ILLUMINANTS,
  ...DISCHARGE_ILLUMINANTS,
};

/** A CIE illuminant by its published name, e.g. `A`, `D65`, `ID65`, `FL11`, `FL3.15`, `LED-B3`, `HP1`. */
export type IlluminantName = keyof typeof TABLES;

/** Every name `illuminant` knows: A, C, D50-D75, ID50, ID65, the LED, FL and HP series. */
export const ILLUMINANT_NAMES = Object.keys(TABLES) as readonly IlluminantName[];

/** Second radiation constant in nm K, as CIE 15 rounds it (1.4388e-2 m K). */
export const C2 = 1.4388e7;

/**
 * Relative spectral power of a CIE illuminant, at the table's own scale.
 * A fresh array at each call: keep it where it is used often.
 * Throws RangeError for an unknown name.
 * Source: ISO/CIE 11664-2; CIE 15:2018; ID50 and ID65 also CIE 184:2009.
 */
export function illuminant(name: IlluminantName): Spectrum {
  if (!Object.hasOwn(TABLES, name)) {
    throw new RangeError(`Expected the name of a CIE illuminant such as D65 or LED-B3, got ${String(name)}`);
  }
  return Float64Array.from(TABLES[name]);
}

/**
 * Chromaticity of daylight of a correlated colour temperature, 2 degrees.
 * In: kelvin in [4000, 25000]; throws RangeError outside, where CIE daylight is not defined.
 * Source: CIE 15:2018, daylight locus.
 */
export function daylightXy(cct: number): { x: number; y: number } {
  if (!(cct >= 4000 && cct <= 25000)) {
    throw new RangeError(`Expected a daylight colour temperature in [4000, 25000] K, got ${cct}`);
  }
  const m = 1e3 / cct;
  const x =
    cct <= 7000
      ? 0.244063 + m * (0.09911 + m * (2.9678 - m * 4.607))
      : 0.23704 + m * (0.24748 + m * (1.9018 - m * 2.0064));
  return { x, y: -3 * x * x + 2.87 * x - 0.275 };
}

/**
 * Relative spectral power of daylight of a correlated colour temperature, 100 at 560 nm.
 * In: kelvin in [4000, 25000]; throws RangeError outside. D65 is daylight(6504): the CCT of the D series moved by
 * 1.4388/1.4380 when the radiation constant c2 was revised.
 * The factors M1 and M2 are rounded to three decimals, as CIE 15 prescribes, so the spectrum moves in small steps.
 * Source: CIE 15:2018, components S0, S1, S2.
 */
export function daylight(cct: number): Spectrum {
  const { x, y } = daylightXy(cct);
  const M = 0.0241 + 0.2562 * x - 0.7341 * y;
  const M1 = Math.round((1000 * (-1.3515 - 1.7703 * x + 5.9114 * y)) / M) / 1000;
  const M2 = Math.round((1000 * (0.03 - 31.4424 * x + 30.0717 * y)) / M) / 1000;
  const { S0, S1, S2 } = DAYLIGHT_COMPONENTS;
  return Float64Array.from({ length: GRID.count }, (_, i) => S0[i] + M1 * S1[i] + M2 * S2[i]);
}

/**
 * Relative spectral power of a black body, 100 at 560 nm.
 * In: kelvin in [500, 1000000]; throws RangeError outside.
 * Source: Planck's law in air taken as vacuum, c2 = 1.4388e-2 m K (CIE 15:2018).
 */
export function blackBody(kelvin: number): Spectrum {
  if (!(kelvin >= 500 && kelvin <= 1e6)) {
    throw new RangeError(`Expected a temperature in [500, 1000000] K, got ${kelvin}`);
  }
  return Float64Array.from(WAVELENGTHS, (wavelength) => 100 * planckRatio(wavelength, kelvin));
}

/** Spectral exitance of a black body at a wavelength (nm) over that at 560 nm. */
function planckRatio(wavelength: number, kelvin: number): number {
  return (560 / wavelength) ** 5 * (Math.expm1(C2 / (560 * kelvin)) / Math.expm1(C2 / (wavelength * kelvin)));
}

/** One light in a mixture: its spectrum at any scale, and its share of the illuminance. */
export interface MixturePart {
  readonly spectrum: Spectrum;
  readonly share: number;
}

/**
 * Light made of several, mixed by their shares of the illuminance (not of the power).
 * Shares need not sum to 1. The result is scaled so that the sum of S·ȳ over the grid is 100, whatever goes in.
 * Illuminance follows the 2° observer's ȳ in photometry: give OBSERVER_2 where shares were read from a lux meter.
 * Throws RangeError for no parts, a negative share, shares that sum to zero, or a spectrum that emits no light.
 */
export function mixture(parts: readonly MixturePart[], observer: Observer): Spectrum {
  let total = 0;
  for (const { share } of parts) {
    if (!(share >= 0) || share === Infinity) {
      throw new RangeError(`Expected a share of illuminance of at least 0, got ${share}`);
    }
    total += share;
  }
  if (!(total > 0)) throw new RangeError(`Expected shares of illuminance above 0, got ${parts.length} parts`);
  const mixed = new Float64Array(GRID.count);
  for (const { spectrum, share } of parts) {
    checkSpectrum(spectrum, 'spectral power');
    let luminous = 0;
    for (let i = 0; i < GRID.count; i++) luminous += spectrum[i] * observer.yBar[i];
    if (!(luminous > 0)) throw new RangeError('Expected a light that emits between 380 and 780 nm, got none');
    const factor = (100 * share) / (total * luminous);
    for (let i = 0; i < GRID.count; i++) mixed[i] += factor * spectrum[i];
  }
  return mixed;
}
