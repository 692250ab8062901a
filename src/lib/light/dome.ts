import { GRID } from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import { addSkyLight, skyBlue, sunSpectrum } from './daylight-colour.ts';
import { skyGradation, skyIlluminance, skyIndicatrix, sunDistanceFactor, sunIlluminance } from './sky.ts';
import type { Sky } from './sky.ts';
import { sunPosition } from './sun.ts';
import type { Place, SunPosition } from './sun.ts';

/** The sky in elements of 4.5 by 7.5 degrees. Ten times as many move no window's illuminance by more than 0.2 %. */
const BANDS = 20;
const SECTORS = 48;
const COUNT = BANDS * SECTORS;

/** Reflectance of the ground outside: the usual assumption of daylight calculation, grass and paving alike. */
const GROUND_REFLECTANCE = 0.2;

const RADIAN = Math.PI / 180;

/** Elements of the sky: their directions (unit vectors north, east, up) and solid angles, sr. */
const elements = buildElements();

function buildElements() {
  const [north, east, up, solidAngle] = Array.from({ length: 4 }, () => new Float64Array(COUNT));
  for (let band = 0; band < BANDS; band++) {
    const low = Math.sin(((band / BANDS) * Math.PI) / 2);
    const high = Math.sin((((band + 1) / BANDS) * Math.PI) / 2);
    // The mean sine of the band makes a level plane exact for a uniform sky.
    const sine = (low + high) / 2;
    const cosine = Math.sqrt(1 - sine * sine);
    for (let sector = 0; sector < SECTORS; sector++) {
      const azimuth = ((sector + 0.5) / SECTORS) * 2 * Math.PI;
      const i = band * SECTORS + sector;
      north[i] = cosine * Math.cos(azimuth);
      east[i] = cosine * Math.sin(azimuth);
      up[i] = sine;
      solidAngle[i] = ((high - low) * 2 * Math.PI) / SECTORS;
    }
  }
  return { north, east, up, solidAngle };
}

/** Sun, sky and ground of a moment at a place. */
export interface OpenAir {
  readonly sky: Sky;
  readonly sun: SunPosition;
  /** Illuminance of the sun on a plane that faces it, lx. */
  readonly sunNormal: number;
  /** Light of the whole sky and the sun on level ground: S times the 2° luminosity sums to lx. */
  readonly level: Spectrum;
  /** Luminance of each element, cd/m2, and its place among the blues of the sky. */
  readonly luminance: Float64Array;
  readonly blue: Float64Array;
}

/**
 * The light outside at a clock hour of a date; null when it is dark: the sun more than 12 degrees below the horizon.
 * @throws RangeError for a place, date or hour that does not exist.
 */
export function openAir(place: Place, date: string, at: { hour: number; sky: Sky }): OpenAir | null {
  const { hour, sky } = at;
  const sun = sunPosition(place, date, hour);
  const state = { altitude: sun.altitude, distanceFactor: sunDistanceFactor(date) };
  const horizontal = skyIlluminance(sky, state);
  if (!(horizontal > 0)) return null;

  const { up, solidAngle } = elements;
  const luminance = relativeLuminances(sky, sun);
  let sum = 0;
  for (let i = 0; i < COUNT; i++) sum += luminance[i] * up[i] * solidAngle[i];
  const blue = new Float64Array(COUNT);
  for (let i = 0; i < COUNT; i++) {
    luminance[i] *= horizontal / sum;
    blue[i] = skyBlue(luminance[i]);
  }
  const sunNormal = sunIlluminance(sky, state);
  const air = { sky, sun, sunNormal, luminance, blue, level: new Float64Array(GRID.count) };
  addSky(air.level, air, up);
  addSun(air.level, air, sunNormal * Math.sin(sun.altitude * RADIAN));
  return air;
}

/** With the sun below the horizon, the sky stays brightest where it went down. */
function relativeLuminances(sky: Sky, sun: SunPosition): Float64Array {
  const { north, east, up } = elements;
  const altitude = Math.max(0, sun.altitude) * RADIAN;
  const sunNorth = Math.cos(altitude) * Math.cos(sun.azimuth * RADIAN);
  const sunEast = Math.cos(altitude) * Math.sin(sun.azimuth * RADIAN);
  const sunUp = Math.sin(altitude);
  const luminance = new Float64Array(COUNT);
  for (let band = 0; band < BANDS; band++) {
    const gradation = skyGradation(sky, up[band * SECTORS]);
    for (let i = band * SECTORS; i < (band + 1) * SECTORS; i++) {
      const cosine = north[i] * sunNorth + east[i] * sunEast + up[i] * sunUp;
      luminance[i] = gradation * skyIndicatrix(sky, Math.acos(Math.min(1, Math.max(-1, cosine))));
    }
  }
  return luminance;
}

/** What passes an opening, over what falls on it, for light that meets it at an angle of this cosine, (0, 1]. */
export type AngularTransmittance = (cosine: number) => number;

/**
 * Light that passes an upright opening, by where it comes from: S times the 2° luminosity sums to lx.
 * In: azimuth the opening looks to, degrees clockwise from north.
 * Open horizon; level ground of reflectance 0.2 that lies in the light of sun and sky.
 */
export function throughOpening(
  air: OpenAir,
  facing: number,
  angular: AngularTransmittance,
): { sun: Spectrum; skyAndGround: Spectrum } {
  const north = Math.cos(facing * RADIAN);
  const east = Math.sin(facing * RADIAN);
  const cosineOf = (n: number, e: number) => n * north + e * east;
  const skyAndGround = new Float64Array(GRID.count);
  const projection = elements.north.map((n, i) => {
    const cosine = cosineOf(n, elements.east[i]);
    return cosine > 0 ? cosine * angular(cosine) : 0;
  });
  addSky(skyAndGround, air, projection);
  // Half of what an upright plane sees is ground.
  const ground = (GROUND_REFLECTANCE / 2) * diffuseTransmittance(angular);
  for (let k = 0; k < GRID.count; k++) skyAndGround[k] += ground * air.level[k];

  const sun = new Float64Array(GRID.count);
  const level = Math.cos(air.sun.altitude * RADIAN);
  const cosine = level * cosineOf(Math.cos(air.sun.azimuth * RADIAN), Math.sin(air.sun.azimuth * RADIAN));
  if (cosine > 0) addSun(sun, air, air.sunNormal * cosine * angular(cosine));
  return { sun, skyAndGround };
}

/** Transmittance for light from everywhere alike: the mean over the hemisphere, weighted by the cosine. */
export function diffuseTransmittance(angular: AngularTransmittance): number {
  const steps = 50;
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    const cosine = (i + 0.5) / steps;
    sum += (2 * cosine * angular(cosine)) / steps;
  }
  return sum;
}

/** Adds the light of the sky on a plane; `projection` is the cosine of each element to it, and what passes. */
function addSky(light: Spectrum, air: OpenAir, projection: Float64Array): void {
  const { solidAngle } = elements;
  const illuminance = projection.map((projected, i) => projected * air.luminance[i] * solidAngle[i]);
  addSkyLight(light, { sky: air.sky, illuminance, blue: air.blue });
}

function addSun(light: Spectrum, air: OpenAir, illuminance: number): void {
  if (!(illuminance > 0)) return;
  const spectrum = sunSpectrum(air.sun.altitude);
  for (let j = 0; j < GRID.count; j++) light[j] += illuminance * spectrum[j];
}
