import { GRID, OBSERVER_2, WAVELENGTHS, blackBody, daylight, resample } from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import { OZONE, SUN_OUTSIDE } from './data/solar-spectrum.ts';
import { opticalAirMass } from './sky.ts';
import type { Sky } from './sky.ts';

/** Haze, as Ångström's turbidity (optical depth at 1000 nm) and exponent; the exponent is Preetham and others'. */
const HAZE = { beta: 0.06, alpha: 1.3 } as const;

/** Ozone overhead, cm at normal pressure and temperature. Preetham and others 1999. */
const OZONE_CM = 0.35;

/** Colour temperature of the light of clouds, K: D65. Common practice; measured overcast skies lie at 6,000-7,000 K. */
const CLOUD_KELVIN = 6504;

/** Share of a sky's light that comes from clouds; for partly cloudy the middle of 30-70 % cover, common practice. */
const CLOUDS: Record<Sky, number> = { clear: 0, 'partly cloudy': 0.5, overcast: 1 };

/**
 * Range of the blue sky's colour, mired: 15,400 K to 6,250 K, in steps. The bluest is common practice: below a low sun the
 * sky darkens without turning bluer, which the formula of `skyBlue` does not know.
 */
const BLUE = { least: 65, most: 160, step: 5 } as const;

/** A sky is mixed from the steps of its blue and, last, its clouds. */
const CLOUD_INDEX = (BLUE.most - BLUE.least) / BLUE.step + 1;

let spectra: readonly Spectrum[] | null = null;
let air: { outside: Spectrum; depth: Spectrum } | null = null;

/** A spectrum scaled so that the sum of S times the 2° luminosity is 1: its illuminance in lx is then its factor. */
export function perLux(spectrum: Spectrum): Spectrum {
  const scale = 1 / luminous(spectrum);
  return spectrum.map((value) => value * scale);
}

/** Sum of S times the luminosity function of the 2° observer. */
export function luminous(spectrum: Spectrum): number {
  let sum = 0;
  for (let i = 0; i < GRID.count; i++) sum += spectrum[i] * OBSERVER_2.yBar[i];
  return sum;
}

/**
 * Relative spectral power of direct sunlight, scaled by `perLux`; yellow, then red towards the horizon.
 * In: apparent altitude in degrees, from 0.
 * The sun outside the atmosphere, weakened by air (0.008735 λ^-4.08, λ in micrometres), haze (β λ^-α) and ozone along
 * the optical air mass; water vapour and oxygen are left out, they act beyond 680 nm.
 * Source: Preetham, Shirley and Smits 1999, appendix; Iqbal 1983; air mass of Kasten and Young 1989.
 */
export function sunSpectrum(altitude: number): Spectrum {
  const { outside, depth } = (air ??= sunThroughAir());
  const m = opticalAirMass(altitude);
  return perLux(outside.map((power, i) => power * Math.exp(-m * depth[i])));
}

function sunThroughAir(): { outside: Spectrum; depth: Spectrum } {
  const last = 380 + 10 * (SUN_OUTSIDE.length - 1);
  const outside = resample({
    wavelengths: SUN_OUTSIDE.map((_, i) => 380 + 10 * i),
    values: SUN_OUTSIDE,
  }).spectrum;
  // Beyond the table the sun goes on as a black body of 5800 K.
  const body = blackBody(5800);
  const join = WAVELENGTHS.indexOf(last);
  for (let i = join + 1; i < GRID.count; i++) outside[i] = (outside[join] * body[i]) / body[join];
  const ozone = resample({ wavelengths: OZONE.wavelengths, values: OZONE.absorption }).spectrum;
  const depth = ozone.map((absorption, i) => {
    const micrometres = WAVELENGTHS[i] / 1000;
    return 0.008735 * micrometres ** -4.08 + HAZE.beta * micrometres ** -HAZE.alpha + OZONE_CM * absorption;
  });
  return { outside, depth };
}

/** CIE daylight of the steps of blue, and of clouds, each scaled by `perLux`. */
function skySpectra(): readonly Spectrum[] {
  spectra ??= Array.from({ length: CLOUD_INDEX + 1 }, (_, k) =>
    perLux(daylight(k === CLOUD_INDEX ? CLOUD_KELVIN : 1e6 / (BLUE.least + k * BLUE.step))),
  );
  return spectra;
}

/**
 * Where the blue of an element of the sky lies between the steps of `BLUE`. A dark blue
 * sky is bluer than a bright one: 10^6 / CCT = -132.1 + 59.77 log10 L, within `BLUE`.
 * In: luminance in cd/m2.
 * Source: Chain, Dumortier and Fontoynont 1999, Solar Energy 65, 285-295, read through two independent programs.
 */
export function skyBlue(luminance: number): number {
  const mired = -132.1 + 59.77 * Math.log10(luminance);
  return Math.min(CLOUD_INDEX - 1, Math.max(0, (mired - BLUE.least) / BLUE.step));
}

/** Light from elements of the sky on a plane, element by element. */
export interface SkyLight {
  readonly sky: Sky;
  /** What each gives on the plane, lx, and its `skyBlue`. */
  readonly illuminance: Float64Array;
  readonly blue: Float64Array;
}

/** Adds the light of a sky to a spectrum in which S times the 2° luminosity sums to lx. */
export function addSkyLight(light: Spectrum, { sky, illuminance, blue }: SkyLight): void {
  const amounts = new Float64Array(CLOUD_INDEX + 1);
  let total = 0;
  for (let i = 0; i < illuminance.length; i++) {
    const k = Math.min(CLOUD_INDEX - 2, Math.floor(blue[i]));
    const t = blue[i] - k;
    amounts[k] += illuminance[i] * (1 - t);
    amounts[k + 1] += illuminance[i] * t;
    total += illuminance[i];
  }
  const clouds = CLOUDS[sky];
  for (let k = 0; k < CLOUD_INDEX; k++) amounts[k] *= 1 - clouds;
  amounts[CLOUD_INDEX] = clouds * total;
  skySpectra().forEach((spectrum, k) => {
    if (amounts[k] > 0) for (let j = 0; j < GRID.count; j++) light[j] += amounts[k] * spectrum[j];
  });
}
