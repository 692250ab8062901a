import { cam16ToXyz, viewingConditions, xyzToCam16 } from './cam16.ts';
import type { Cam16, ViewingConditions } from './cam16.ts';
import { illuminant } from './illuminant.ts';
import { xyzToLab } from './lab.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10 } from './observer.ts';
import { reflectancesFromLab } from './recovery.ts';
import { GRID, checkSpectrum } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';
import { WHITE_D65_10, tristimulusWeights, whitePoint } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

/** The light that falls on the surfaces of a room. */
export interface RoomLight {
  /** Relative spectral power on the grid. */
  readonly spectrum: Spectrum;
  /** Illuminance on the surfaces, lx. */
  readonly illuminance: number;
}

/** A room's light made ready: what CAM16 and the sums over the spectrum need, built once. */
export interface RoomView {
  readonly light: RoomLight;
  readonly conditions: ViewingConditions;
  /** The screen's, for an eye as far adapted to it as it is to the room's light. */
  readonly screen: ViewingConditions;
  /** Reflectance to XYZ under the light, 10 degrees: three rows of 81. */
  readonly weights: Float64Array;
  /** What the room's level leaves of colourfulness and brightness, (0, 1]: 1 from the reference illuminance upwards. */
  readonly level: number;
}

/**
 * Reflectance of the world the eye adapts to, and luminance factor (percent) of what surrounds a colour: mid grey.
 * Source: CIE 248:2022 takes Y_b = 20 for an ordinary scene; IEC 61966-2-1 gives a screen's surround 20 %.
 */
const GREY_WORLD = 0.2;

/**
 * Luminance of the screen's white, cd/m2. ISO 3664 asks for at least 80, which IEC 61966-2-1 also takes for sRGB, and
 * for at least 160 where a screen is compared with prints at 500 lx: our case, as a chip lies beside the screen.
 */
const SCREEN_WHITE = 160;

/**
 * Illuminance at which a room and the screen are equally light: a perfect diffuser then has the screen's white, 503 lx.
 * D65 of this level is the plain daylight of every other Lab.
 */
export const REFERENCE_ILLUMINANCE = Math.PI * SCREEN_WHITE;

/**
 * What room and screen have in common. Average surround for both: the screen stands in a lit room, and only the light
 * should make a difference.
 */
const GREY_SURROUND = { Y_b: 100 * GREY_WORLD, surround: 'average' } as const;

const DAYLIGHT_WEIGHTS = tristimulusWeights({ illuminant: illuminant('D65'), observer: OBSERVER_10 });

/**
 * A room's viewing conditions: white of its light (10 degrees), adapting luminance E / (5 pi) from a grey world of 20 %
 * reflectance, average surround, degree of adaptation computed and so incomplete.
 * Throws RangeError for an illuminance that is not above 0 lx or a spectrum off the grid, negative or dark.
 * Good for photopic levels: below about 10 lx colours fade in ways the model does not know.
 * Source: CIE 248:2022.
 */
export function roomView(light: RoomLight): RoomView {
  const { spectrum, illuminance } = light;
  if (!(illuminance > 0) || illuminance === Infinity) {
    throw new RangeError(`Expected an illuminance above 0 lx, got ${illuminance}`);
  }
  const conditions = viewingConditions({
    white: whitePoint(spectrum, OBSERVER_10),
    L_A: (GREY_WORLD * illuminance) / Math.PI,
    ...GREY_SURROUND,
  });
  // What incomplete adaptation leaves of a cast counts from equal energy in CAM16, and D65 has one. With the same degree
  // on both sides D65 is white at every level; with the screen's own, white paper at 5,000 lx came out at b* 3.
  const screen = viewingConditions({
    white: WHITE_D65_10,
    L_A: GREY_WORLD * SCREEN_WHITE,
    ...GREY_SURROUND,
    degree: conditions.D,
  });
  return {
    light,
    conditions,
    screen,
    weights: tristimulusWeights({ illuminant: spectrum, observer: OBSERVER_10 }),
    level: Math.min(1, (conditions.F_L / screen.F_L) ** 0.25),
  };
}

/**
 * How a surface looks in a room: its CAM16 correlates there, and the CIELAB (D65/10, for `labToScreen`) a screen must
 * show so that it looks like that.
 *
 * Hue and colourfulness M agree between room and screen, as in CAM16-UCS: a colour pales as the light goes down (Hunt
 * 1952). Lightness J is relative to the room's white: alone it would make a grey wall at 50 lx as light as at 1,000, for
 * the eye adapts, and brightness Q alone would show white paper by lamplight as a dark grey. Between Hunt's
 * corresponding (J) and equivalent (Q) reproduction, J falls here with the factor F_L^0.25 that CAM16 has in M and in Q
 * alike: light and colour go down together, saturation stays. At 50 lx a white comes to L* 75.
 * Above `REFERENCE_ILLUMINANCE` J and C agree and the factor stays 1, for nothing on a screen outshines its white.
 * Throws RangeError for a reflectance off the grid or outside [0, 1].
 * Source: Li and others 2017, doi:10.1002/col.22131; CIE 248:2022; Hunt, The Reproduction of Colour, for the kinds of
 * reproduction (from memory). That J follows F_L^0.5 (Q goes with the root of J) is our own rule.
 */
export function appearanceInRoom(
  reflectance: ArrayLike<number>,
  view: RoomView,
): { readonly cam16: Cam16; readonly lab: Lab } {
  checkSpectrum(reflectance, 'reflectance');
  return appearanceOfXyz(weigh(view.weights, reflectance, 0), view);
}

/** `appearanceInRoom` of tristimulus values under the room's light (10 degrees, Y = 100 for its white). */
export function appearanceOfXyz(xyz: XYZ, view: RoomView): { readonly cam16: Cam16; readonly lab: Lab } {
  const { conditions, screen, level } = view;
  const cam16 = xyzToCam16(xyz, conditions);
  const shown = { J: cam16.J * level ** 2, C: cam16.C * level, h: cam16.h };
  return { cam16, lab: xyzToLab(cam16ToXyz(shown, screen), WHITE_D65_10) };
}

/** Many colours as the surfaces that most plausibly have them: what `surfaceAppearances` needs, for any number of lights. */
export interface PlausibleSurfaces {
  /** 81 values for each colour. */
  readonly reflectances: Float32Array;
  /** CIELAB (D65/10, stride 3) that the colours have beyond their surfaces: 0 but for colours no surface can have. */
  readonly beyond: Float32Array;
}

/**
 * The most plausible surfaces of many colours, CIELAB (D65/10), stride 3.
 * Throws RangeError for a length that is no multiple of 3 or values that are not finite.
 */
export function plausibleSurfaces(labs: Float32Array): PlausibleSurfaces {
  const reflectances = reflectancesFromLab(labs);
  const beyond = new Float32Array(labs.length);
  for (let i = 0, at = 0; i < labs.length; i += 3, at += GRID.count) {
    const surface = xyzToLab(weigh(DAYLIGHT_WEIGHTS, reflectances, at), WHITE_D65_10);
    beyond[i] = labs[i] - surface.L;
    beyond[i + 1] = labs[i + 1] - surface.a;
    beyond[i + 2] = labs[i + 2] - surface.b;
  }
  return { reflectances, beyond };
}

/**
 * `appearanceInRoom` of many surfaces: CIELAB for the screen, stride 3. What a colour has beyond its surface (a screen's
 * green) it keeps, dimmed, so that D65 at the reference illuminance changes no colour at all.
 */
export function surfaceAppearances(surfaces: PlausibleSurfaces, view: RoomView): Float32Array {
  const { reflectances, beyond } = surfaces;
  const out = new Float32Array(beyond.length);
  for (let i = 0, at = 0; i < out.length; i += 3, at += GRID.count) {
    const { lab } = appearanceOfXyz(weigh(view.weights, reflectances, at), view);
    out[i] = lab.L + view.level * beyond[i];
    out[i + 1] = lab.a + view.level * beyond[i + 1];
    out[i + 2] = lab.b + view.level * beyond[i + 2];
  }
  return out;
}

/** `surfaceAppearances` of the `plausibleSurfaces` of colours: CIELAB (D65/10) in and out, stride 3. Throws as these. */
export function appearancesInRoom(labs: Float32Array, view: RoomView): Float32Array {
  return surfaceAppearances(plausibleSurfaces(labs), view);
}

/** Tristimulus values of the reflectance that begins at `at`. */
function weigh(weights: Float64Array, reflectance: ArrayLike<number>, at: number): XYZ {
  const { count } = GRID;
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < count; i++) {
    const value = reflectance[at + i];
    X += weights[i] * value;
    Y += weights[count + i] * value;
    Z += weights[2 * count + i] * value;
  }
  return { X, Y, Z };
}
