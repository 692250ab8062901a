/**
 * The light of a room through its day: numbers in, numbers out. No I/O, clock, randomness, DOM or Node.
 *
 * Conventions
 * - Angles in degrees: altitude above the horizon, azimuth clockwise from north, latitude north, longitude east.
 * - Hours are clock time of the place, 0-24, by its IANA time zone or a fixed offset; a date is `YYYY-MM-DD` there.
 * - Illuminance in lx, luminance in cd/m2, areas in m2. Spectra are relative, on the grid of the colour area.
 * - No light is spectrum `null` with illuminance 0, never a spectrum of zeros.
 * - A caller's mistake throws RangeError or TypeError; a fair question without an answer gives null; never NaN.
 *
 * Deliberate simplifications
 * - A free horizon, level ground of reflectance 0.2, and air of one kind for each sky. Levels are means: at one moment
 *   there may be half or twice as much.
 * - A clear sky takes its colour from its luminance, clouds are D65; no red glow opposite or round a setting sun.
 * - A room is one mean illuminance (Sumpner), the same on all its surfaces; a patch of sun is spread over them.
 * - What lamps do not say of themselves is chosen and said to be a guess.
 *
 * Out of scope: obstructions and other buildings, blinds, moonlight, glare, the lux of a point on a table.
 */
export { LAMP_CCT, LAMP_DUV, describedLamp } from './lamp.ts';
export type { DescribedLamp } from './lamp.ts';
export { LAMP_TECHNOLOGIES } from './lamp-candidates.ts';
export { LAMP_TABLE } from './lamp-table.ts';
export { isTimeZone } from './clock.ts';
export { sunPosition, sunTimes } from './sun.ts';
export type { Place, SunTimes } from './sun.ts';
export {
  SKIES,
  opticalAirMass,
  skyIlluminance,
  skyLuminanceRatio,
  sunDistanceFactor,
  sunIlluminance,
} from './sky.ts';
export type { Sky } from './sky.ts';
export { sunSpectrum } from './daylight-colour.ts';
export { GLASSES, glassTransmittance, windowLight } from './window-light.ts';
export type { Glass, WindowLight, WindowMoment } from './window-light.ts';
export { DARK, lightAt, throughDay, windowNames } from './day.ts';
export type { DayLamp, DayWindow, Moment, RoomDay } from './day.ts';
export { ROOM_KINDS, defaultDay } from './room-defaults.ts';
export type { RoomKind } from './room-defaults.ts';
