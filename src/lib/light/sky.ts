import { HORIZON_REFRACTION } from './sun.ts';

/** What is overhead. */
export type Sky = 'clear' | 'partly cloudy' | 'overcast';

export const SKIES: readonly Sky[] = ['clear', 'partly cloudy', 'overcast'];

/**
 * The standard sky that stands for each word.
 * - clear: type 12, CIE standard clear sky, low turbidity.
 * - partly cloudy: type 10, brighter round the sun.
 * - overcast: the traditional CIE standard overcast sky, which the standard keeps as a formula of its own (type 16).
 * a, b (gradation), c, d, e (indicatrix): CIE S 011/E:2003 = ISO 15469:2004.
 * Tv, the luminous turbidity typical of the type, and A1-E of the zenith luminance: Darula and Kittler 2002, CIE general
 * sky standard defining luminance distributions, eSim, table 2. Both tables read through two independent programs.
 */
const TYPES = {
  clear: {
    ...{ a: -1, b: -0.32, c: 10, d: -3, e: 0.45 },
    ...{ Tv: 2.5, A1: 1.036, A2: 0.71, B: 23, C: 4.43, D: 0.74, E: 18.52 },
  },
  'partly cloudy': { a: -1, b: -0.55, c: 5, d: -2.5, e: 0.3, Tv: 10 },
} as const;

/** Illuminance of the sun outside the atmosphere at the mean distance, on a plane facing it, lx. Darula and Kittler 2002. */
const SUN_OUTSIDE_LX = 133_800;

/** Share of the extraterrestrial illuminance that reaches the ground from a sky of type 10. Darula and Kittler 2002. */
const PARTLY_CLOUDY_SHARE = 0.36;

/**
 * Zenith luminance of an overcast sky, cd/m2: 123 + 8600 sin(altitude of the sun). Krochmann and Seidl 1974, read
 * through Radiance, gensky.c. A plane below the traditional overcast sky gets 7 pi / 9 times its zenith luminance.
 */
const OVERCAST_ZENITH = { least: 123, more: 8600 } as const;
const OVERCAST_SHARE = (7 * Math.PI) / 9;

/**
 * Illuminance under a clear sky with the sun's centre below the horizon (geometric altitude, degrees; lx). The middle
 * (geometric) of the ranges 585-410 and 3.5-2 lx, and 0.008 lx.
 * Source: American Meteorological Society, Glossary of Meteorology, civil and astronomical twilight.
 */
const TWILIGHT = [
  { altitude: -0.833, illuminance: 490 },
  { altitude: -6, illuminance: 2.65 },
  { altitude: -12, illuminance: 0.008 },
] as const;

const RADIAN = Math.PI / 180;
const sine = (degrees: number) => Math.sin(degrees * RADIAN);

/** A direction of the sky seen from a place whose sun is somewhere, degrees. */
export interface SkyElement {
  /** Of the element above the horizon, [0, 90]. */
  readonly altitude: number;
  /** Between the element and the sun, [0, 180]. */
  readonly fromSun: number;
  /** Of the sun, [0, 90]. */
  readonly sunAltitude: number;
}

/**
 * Luminance of an element of a standard sky over that of the zenith.
 * Source: CIE S 011/E:2003; overcast: (1 + 2 sin(altitude)) / 3, Moon and Spencer 1942 (from memory).
 */
export function skyLuminanceRatio(sky: Sky, element: SkyElement): number {
  const here = skyGradation(sky, sine(element.altitude)) * skyIndicatrix(sky, element.fromSun * RADIAN);
  return here / (skyGradation(sky, 1) * skyIndicatrix(sky, (90 - element.sunAltitude) * RADIAN));
}

/** Gradation function of the sine of an element's altitude, before it is set against the zenith. */
export function skyGradation(sky: Sky, sineAltitude: number): number {
  if (sky === 'overcast') return (1 + 2 * sineAltitude) / 3;
  const { a, b } = TYPES[sky];
  // At the horizon the exponent runs to minus infinity and the function to 1.
  return sineAltitude > 0 ? 1 + a * Math.exp(b / sineAltitude) : 1;
}

/** Scattering indicatrix of the angle from the sun (radians), before it is set against the zenith. */
export function skyIndicatrix(sky: Sky, fromSun: number): number {
  if (sky === 'overcast') return 1;
  const { c, d, e } = TYPES[sky];
  return 1 + c * (Math.exp(d * fromSun) - Math.exp((d * Math.PI) / 2)) + e * Math.cos(fromSun) ** 2;
}

/**
 * Relative optical air mass on the way to the sun: 1 at the zenith, about 38 at the horizon.
 * In: altitude in degrees, from 0.
 * Source: Kasten and Young 1989, Applied Optics 28, 4735-4738, equation 3.
 */
export function opticalAirMass(altitude: number): number {
  return 1 / (sine(altitude) + 0.50572 * (altitude + 6.07995) ** -1.6364);
}

/**
 * How much brighter the sun is on a date than at its mean distance: about 1.034 early in January, 0.967 in July.
 * Source: 1 + 0.034 cos(360 (day - 2) / 365), Darula and Kittler 2002 (from memory).
 */
export function sunDistanceFactor(date: string): number {
  const [year, month, day] = date.split('-').map(Number);
  const dayOfYear = (Date.UTC(year, month - 1, day) - Date.UTC(year, 0, 0)) / 86_400_000;
  return 1 + 0.034 * Math.cos((2 * Math.PI * (dayOfYear - 2)) / 365);
}

/** The sun of a moment. */
export interface SunState {
  /** Apparent altitude, degrees. */
  readonly altitude: number;
  /** `sunDistanceFactor` of the date. */
  readonly distanceFactor: number;
}

/**
 * Illuminance of the sun itself on a plane that faces it, lx; 0 under an overcast sky and below the horizon.
 * Under a partly cloudy sky it is the mean of sun and cloud.
 * Source: Darula and Kittler 2002, equations 15-17: exp(-a_v m Tv) with a_v = 1 / (9.9 + 0.043 m).
 */
export function sunIlluminance(sky: Sky, { altitude, distanceFactor }: SunState): number {
  if (sky === 'overcast' || !(altitude > 0)) return 0;
  const m = opticalAirMass(altitude);
  return SUN_OUTSIDE_LX * distanceFactor * Math.exp((-TYPES[sky].Tv * m) / (9.9 + 0.043 * m));
}

/**
 * Illuminance of the sky without the sun on level ground, lx; 0 with the sun more than 12 degrees below the horizon.
 * Mean values: at one moment there may be twice or half as much.
 * Source: clear by day, Darula and Kittler 2002, equations 11-13; partly cloudy, their typical ratio above the light of
 * sunset; overcast, Krochmann and Seidl 1974; twilight, Glossary of Meteorology, dimmed by clouds as the sunset is.
 */
export function skyIlluminance(sky: Sky, { altitude, distanceFactor }: SunState): number {
  if (altitude < 0) return skyIlluminance(sky, { altitude: 0, distanceFactor }) * twilight(altitude);
  const s = sine(altitude);
  const outside = SUN_OUTSIDE_LX * distanceFactor * s;
  const overcast = OVERCAST_SHARE * (OVERCAST_ZENITH.least + OVERCAST_ZENITH.more * s);
  if (sky === 'overcast') return overcast;
  if (sky === 'partly cloudy') {
    return OVERCAST_SHARE * OVERCAST_ZENITH.least + PARTLY_CLOUDY_SHARE * outside;
  }
  const { Tv, A1, A2, B, C, D, E } = TYPES.clear;
  // Equation 13 for the zenith luminance (kcd/m2) over equation 12 for its ratio to the illuminance. Both are multiplied
  // by cos^D, which lets the sun stand in the zenith, and divided by sin, which lets it stand on the horizon.
  const cosine = Math.cos(altitude * RADIAN) ** D;
  const zenith = ((A1 * Tv + A2) * s + 0.04 * Tv) * cosine + 0.7 * (Tv + 1) * s ** C;
  return (SUN_OUTSIDE_LX * distanceFactor * zenith) / (E * cosine + B * s ** (C - 1));
}

/** Share of the light at an apparent altitude of 0 that is left below it, 1 to 0, falling evenly in its logarithm. */
function twilight(altitude: number): number {
  const geometric = altitude - HORIZON_REFRACTION;
  const start = {
    altitude: -HORIZON_REFRACTION,
    illuminance: skyIlluminance('clear', { altitude: 0, distanceFactor: 1 }),
  };
  let upper: { altitude: number; illuminance: number } = start;
  for (const lower of TWILIGHT) {
    if (geometric >= lower.altitude) {
      const t = (upper.altitude - geometric) / (upper.altitude - lower.altitude);
      return (upper.illuminance / start.illuminance) * (lower.illuminance / upper.illuminance) ** t;
    }
    upper = lower;
  }
  return 0;
}
