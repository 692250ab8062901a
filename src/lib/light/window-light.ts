import { GRID, OBSERVER_2, WAVELENGTHS, cctOhno2014, illuminant, whitePoint } from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import { luminous } from './daylight-colour.ts';
import { openAir, throughOpening } from './dome.ts';
import type { AngularTransmittance, OpenAir } from './dome.ts';
import { SKIES } from './sky.ts';
import type { Sky } from './sky.ts';
import type { Place } from './sun.ts';

/** What the light of a window passes. Coated: double glass with the thin metal film that keeps heat in. */
export type Glass = 'open window' | 'single glass' | 'double glass' | 'coated double glass';

export const GLASSES: readonly Glass[] = [
  'open window',
  'single glass',
  'double glass',
  'coated double glass',
];

/**
 * Panes, and luminous transmittance for light that meets the glass squarely. Single: the polynomial below; double about
 * 0.8 as trade handbooks give it; coated about 0.7, common practice, no published source.
 */
const PANES: Record<Glass, { count: number; transmittance: number }> = {
  'open window': { count: 0, transmittance: 1 },
  'single glass': { count: 1, transmittance: 0.8788 },
  'double glass': { count: 2, transmittance: 0.8 },
  'coated double glass': { count: 2, transmittance: 0.7 },
};

/** What a metal film takes at the red end of the visible beyond the glass itself. Common practice, no published source. */
const FILM_LOSS_AT_780 = 0.2;

/** A window and the moment at which its light is asked. */
export interface WindowMoment {
  readonly place: Place;
  /** `YYYY-MM-DD`. */
  readonly date: string;
  /** Clock hour, [0, 24]. */
  readonly hour: number;
  /** Azimuth the window looks to, degrees clockwise from north. */
  readonly facing: number;
  readonly sky: Sky;
  readonly glass: Glass;
}

/** Daylight just inside a window. */
export interface WindowLight {
  /** Relative spectral power; null when it is dark. */
  readonly spectrum: Spectrum | null;
  /** On the plane of the glass, lx. */
  readonly illuminance: number;
  /** Correlated colour temperature, K; null in the dark or too far from white to have one. */
  readonly cct: number | null;
  /** Share of the illuminance that comes from the sun itself, 0-1. */
  readonly directShare: number;
}

/**
 * Daylight just inside the glass of an upright window with a free view, at a clock hour.
 * A mean of the kind of sky, not of a certain day; obstructions, curtains and dirt only make it less.
 * Dark is spectrum null and illuminance 0: the sun more than 12 degrees below the horizon.
 * @throws RangeError for a place, date, hour, facing, sky or glass that does not exist.
 */
export function windowLight(moment: WindowMoment): WindowLight {
  const { place, date, hour, facing, sky, glass } = moment;
  checkSky(sky);
  checkWindow({ facing, glass });
  const air = openAir(place, date, { hour, sky });
  if (!air) return { spectrum: null, illuminance: 0, cct: null, directShare: 0 };
  const { light, illuminance, direct } = insideGlass(air, facing, glass);
  return {
    spectrum: light.map((value) => (100 * value) / illuminance),
    illuminance,
    cct: cctOhno2014(whitePoint(light, OBSERVER_2))?.cct ?? null,
    directShare: direct / illuminance,
  };
}

/** Light just inside the glass: S times the 2° luminosity sums to its illuminance, lx; of which `direct` from the sun. */
export function insideGlass(
  air: OpenAir,
  facing: number,
  glass: Glass,
): { light: Spectrum; illuminance: number; direct: number } {
  const { sun, skyAndGround } = throughOpening(air, facing, angularFactor(glass));
  const transmittance = glassTransmittance(glass);
  const direct = sun.map((value, i) => value * transmittance[i]);
  const light = direct.map((value, i) => value + skyAndGround[i] * transmittance[i]);
  return { light, illuminance: luminous(light), direct: luminous(direct) };
}

/**
 * Spectral transmittance of a window's glass for light that meets it squarely, 0-1.
 * The tint of one pane is that of the CIE indoor daylight illuminants, ID65 over D65 (a trace of green); two panes have
 * it twice. The level is that of the kind of glass, weighted by D65 and the 2° luminosity.
 * Source: CIE 184:2009; levels as `PANES` says.
 */
export function glassTransmittance(glass: Glass): Spectrum {
  const { count, transmittance } = PANES[glass];
  const daylight = illuminant('D65');
  const indoors = illuminant('ID65');
  const tint = daylight.map((power, i) => {
    const film = glass === 'coated double glass' ? filmTransmittance(WAVELENGTHS[i]) : 1;
    return (indoors[i] / power) ** count * film;
  });
  const level = luminous(tint.map((value, i) => value * daylight[i])) / luminous(daylight);
  return tint.map((value) => (value * transmittance) / level);
}

/** Flat in the green, falling towards red as silver films do. */
function filmTransmittance(wavelength: number): number {
  return 1 - FILM_LOSS_AT_780 * (Math.max(0, wavelength - 550) / (GRID.end - 550)) ** 2;
}

/**
 * What is left of the square-on transmittance at an angle: near 1 up to 50 degrees, 0 at a grazing one.
 * Source: clear glass, Tregenza and Sharples, Daylight algorithms (ETSU 1993), algorithm 2.34 (numbers read in a
 * post that quotes it), once for each pane.
 */
function angularFactor(glass: Glass): AngularTransmittance {
  const { count } = PANES[glass];
  if (count === 0) return () => 1;
  const pane = (c: number) =>
    -0.028378 + c * (3.156075 + c * (-3.058376 + c * (-1.428919 + c * (4.014235 - c * 1.775827))));
  const square = pane(1);
  return (cosine) => (Math.max(0, pane(cosine)) / square) ** count;
}

/** @throws RangeError for a sky that has no name here. */
export function checkSky(sky: Sky): void {
  if (!SKIES.includes(sky)) throw new RangeError(`Expected a sky (${SKIES.join(', ')}), got ${String(sky)}`);
}

/** @throws RangeError for a direction or a glass that does not exist. */
export function checkWindow({ facing, glass }: { facing: number; glass: Glass }): void {
  if (!Number.isFinite(facing)) throw new RangeError(`Expected an azimuth in degrees, got ${facing}`);
  if (!GLASSES.includes(glass)) {
    throw new RangeError(`Expected a glass (${GLASSES.join(', ')}), got ${String(glass)}`);
  }
}
