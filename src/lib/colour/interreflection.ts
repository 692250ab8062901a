import { appearanceOfXyz, roomView } from './appearance.ts';
import type { RoomLight } from './appearance.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10, OBSERVER_2 } from './observer.ts';
import type { Observer } from './observer.ts';
import { GRID, checkSpectrum } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';
import type { XYZ } from './tristimulus.ts';

/** One kind of surface in a room. */
export interface RoomSurface {
  /** Its part of everything that closes the room in (walls, ceiling, floor, large furniture), 0-1. */
  readonly share: number;
  /** 81 values in [0, 1]. */
  readonly reflectance: ArrayLike<number>;
  /** Direct illuminance on it relative to the direct light's own; 1 where left out, 0 where no lamp or sky shines. */
  readonly direct?: number;
}

/** A surface of a room that colours its own light. */
export interface SurfaceInRoom {
  /** All the light on it, direct and from the room. */
  readonly light: RoomLight;
  /** Look of a chip of it where only the direct light reaches it, at the level the surface has in the room. */
  readonly chip: Lab;
  /** Look of the surface itself, for an eye that takes lamp or sky for white: the light's new colour is seen on it. */
  readonly wall: Lab;
  /** The same for an eye that takes the room's whole light for white. What people see lies between this and `wall`. */
  readonly settled: Lab;
}

/** What `closedRoom` gives. */
export interface ClosedRoom {
  /** The mean light on the surfaces: spectrum on the scale of the direct light's, lx. */
  readonly light: RoomLight;
  /** Illuminance over that of the direct light, both averaged over the surfaces. */
  readonly gain: number;
  /** In the order given. */
  readonly surfaces: readonly SurfaceInRoom[];
}

/**
 * Light and look of a painted room whose surfaces light each other, at every wavelength:
 * E_i = E0_i + (sum of share rho E0) / (1 - sum of share rho), all bounces together.
 * Shares that do not sum to 1 leave openings (windows, doorways), from which nothing comes back.
 *
 * Exact for matt surfaces in a sphere, where every patch sees every other by its area alone. A room is not one: corners
 * gain more and the middle of a wall less, furniture and gloss take away, and light from one side is not even. An
 * estimate of the average, not of a place. Observers take part of such light for the light's own and part for the
 * paint's (Doerschner, Boyaci and Maloney 2004, J. Vision 4(2):3), hence two looks. Fluorescence is left out.
 *
 * Throws RangeError for no surface, a share or direct factor below 0, shares above 1 together, reflectances outside
 * [0, 1], a room that swallows no light at all, or one that no direct light reaches.
 * Source: integrating-sphere theory, E = E0 / (1 - rho) and with areas of several reflectances (Jacquez and Kuppenheim
 * 1955, J. Opt. Soc. Am. 45(6), 460-470; Goebel 1967, Appl. Opt. 6(1), 125-128); for rooms of one reflectance and any
 * shape Langer 1999, J. Opt. Soc. Am. A 16(1), and Ruppertsberg and Bloj 2007, J. Vision 7(13):12 (both from memory).
 */
export function closedRoom(surfaces: readonly RoomSurface[], direct: RoomLight): ClosedRoom {
  checkSurfaces(surfaces);
  checkSpectrum(direct.spectrum, 'spectral power');
  const total = surfaces.reduce((sum, { share }) => sum + share, 0);
  const reached = surfaces.reduce((sum, { share, direct: part = 1 }) => sum + share * part, 0);
  if (!(reached > 0)) throw new RangeError('Expected direct light on a surface of the room, got none');
  // Per unit of the direct light: what all surfaces get back from each other.
  const returned = new Float64Array(GRID.count);
  for (let i = 0; i < GRID.count; i++) {
    let back = 0;
    let first = 0;
    for (const { share, reflectance, direct: part = 1 } of surfaces) {
      back += share * reflectance[i];
      first += share * reflectance[i] * part;
    }
    if (!(back < 1)) throw new RangeError('Expected a room that swallows some light, got reflectances of 1');
    returned[i] = first / (1 - back);
  }
  const lightOf = (part: number): RoomLight => {
    const spectrum = direct.spectrum.map((power, i) => power * (part + returned[i]));
    const ratio = luminous(spectrum, OBSERVER_2) / luminous(direct.spectrum, OBSERVER_2);
    return { spectrum, illuminance: direct.illuminance * ratio };
  };
  const light = lightOf(reached / total);
  return {
    light,
    gain: (light.illuminance * total) / (direct.illuminance * reached),
    surfaces: surfaces.map(({ reflectance, direct: part = 1 }) => {
      const own = lightOf(part);
      const lamp = roomView({ spectrum: direct.spectrum, illuminance: own.illuminance });
      return {
        light: own,
        chip: appearanceOfXyz(reflected(reflectance, direct.spectrum), lamp).lab,
        wall: appearanceOfXyz(reflected(reflectance, own.spectrum), lamp).lab,
        settled: appearanceOfXyz(reflected(reflectance, own.spectrum), roomView(own)).lab,
      };
    }),
  };
}

function checkSurfaces(surfaces: readonly RoomSurface[]): void {
  if (surfaces.length === 0) throw new RangeError('Expected at least one surface, got none');
  let total = 0;
  for (const { share, reflectance, direct = 1 } of surfaces) {
    if (!(share >= 0)) throw new RangeError(`Expected a share of at least 0, got ${share}`);
    if (!(direct >= 0) || direct === Infinity)
      throw new RangeError(`Expected direct light of at least 0, got ${direct}`);
    checkSpectrum(reflectance, 'reflectance');
    total += share;
  }
  if (!(total > 0 && total <= 1 + 1e-9))
    throw new RangeError(`Expected shares that sum to a number in (0, 1], got ${total}`);
}

/** Tristimulus values of a reflectance in a light whose white has Y = 100, 10 degrees. */
function reflected(reflectance: ArrayLike<number>, spectrum: Spectrum): XYZ {
  const { xBar, yBar, zBar } = OBSERVER_10;
  const k = 100 / luminous(spectrum, OBSERVER_10);
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < GRID.count; i++) {
    const power = k * spectrum[i] * reflectance[i];
    X += power * xBar[i];
    Y += power * yBar[i];
    Z += power * zBar[i];
  }
  return { X, Y, Z };
}

function luminous(spectrum: Spectrum, observer: Observer): number {
  let sum = 0;
  for (let i = 0; i < GRID.count; i++) sum += spectrum[i] * observer.yBar[i];
  return sum;
}
