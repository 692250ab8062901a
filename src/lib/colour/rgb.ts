import { converter, parse, toGamut } from 'culori';
import { labToXyz, xyzToLab } from './lab.ts';
import type { Lab } from './lab.ts';
import { diagonal, invert, multiply, transform } from './matrix.ts';
import type { Matrix3 } from './matrix.ts';
import { xyToXyz } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

/** Red, green, blue of an RGB space: linear or encoded as the function says; 0-1 in gamut, not clamped. */
export interface Rgb {
  readonly r: number;
  readonly g: number;
  readonly b: number;
}

/** RGB spaces: sRGB (IEC 61966-2-1), Display P3, Rec. 2020 (ITU-R BT.2020). All have a D65 white. */
export type RgbSpace = 'srgb' | 'display-p3' | 'rec2020';

/** White of the three RGB spaces, (0.3127, 0.3290) with Y = 100. In the fourth figure it differs from WHITE_D65_2. */
export const WHITE_RGB: XYZ = xyToXyz({ x: 0.3127, y: 0.329 }, 100);

/** Chromaticities of red, green and blue. Sources: IEC 61966-2-1; SMPTE EG 432-1; ITU-R BT.2020-2, table 3. */
const PRIMARIES: Readonly<Record<RgbSpace, readonly (readonly [number, number])[]>> = {
  srgb: [
    [0.64, 0.33],
    [0.3, 0.6],
    [0.15, 0.06],
  ],
  'display-p3': [
    [0.68, 0.32],
    [0.265, 0.69],
    [0.15, 0.06],
  ],
  rec2020: [
    [0.708, 0.292],
    [0.17, 0.797],
    [0.131, 0.046],
  ],
};

/** Linear RGB to XYZ, in full precision from primaries and white (SMPTE RP 177), so that equal channels are neutral. */
function rgbMatrix(space: RgbSpace): Matrix3 {
  const [r, g, b] = PRIMARIES[space].map(([x, y]) => xyToXyz({ x, y }, 1));
  const primaries: Matrix3 = [r.X, g.X, b.X, r.Y, g.Y, b.Y, r.Z, g.Z, b.Z];
  const amounts = transform(invert(primaries), [WHITE_RGB.X, WHITE_RGB.Y, WHITE_RGB.Z]);
  return multiply(primaries, diagonal(amounts[0], amounts[1], amounts[2]));
}

const TO_XYZ: Readonly<Record<RgbSpace, Matrix3>> = {
  srgb: rgbMatrix('srgb'),
  'display-p3': rgbMatrix('display-p3'),
  rec2020: rgbMatrix('rec2020'),
};

const FROM_XYZ: Readonly<Record<RgbSpace, Matrix3>> = {
  srgb: invert(TO_XYZ.srgb),
  'display-p3': invert(TO_XYZ['display-p3']),
  rec2020: invert(TO_XYZ.rec2020),
};

/** Matrix from linear RGB (0-1) to XYZ (Y = 100 for white; D65, 2 degrees), for kernels over pixels. */
export function rgbToXyzMatrix(space: RgbSpace): Matrix3 {
  checkSpace(space);
  return TO_XYZ[space];
}

/** Matrix from XYZ (Y = 100 for white; D65, 2 degrees) to linear RGB (0-1), for kernels over pixels. */
export function xyzToRgbMatrix(space: RgbSpace): Matrix3 {
  checkSpace(space);
  return FROM_XYZ[space];
}

/**
 * Linear RGB of tristimulus values (D65, 2 degrees, Y = 100 for white). Not clamped: outside the gamut a channel is
 * below 0 or above 1.
 */
export function xyzToLinearRgb(xyz: XYZ, space: RgbSpace): Rgb {
  checkSpace(space);
  const [r, g, b] = transform(FROM_XYZ[space], [xyz.X, xyz.Y, xyz.Z]);
  return { r, g, b };
}

/** Tristimulus values (D65, 2 degrees, Y = 100 for white) of linear RGB. */
export function linearRgbToXyz(rgb: Rgb, space: RgbSpace): XYZ {
  checkSpace(space);
  const [X, Y, Z] = transform(TO_XYZ[space], [rgb.r, rgb.g, rgb.b]);
  return { X, Y, Z };
}

/** Constants of Rec. 2020 that make its two pieces meet. Source: ITU-R BT.2020-2, table 4, in full precision. */
const ALPHA_2020 = 1.09929682680944;
const BETA_2020 = 0.018053968510807;

/**
 * Encoded value of one linear channel. Values below 0 are mirrored (CSS Color 4), above 1 carried on; nothing is clamped.
 * Rec. 2020 uses the camera curve of BT.2020.
 * Source: IEC 61966-2-1 (sRGB; also the curve of Display P3); ITU-R BT.2020-2.
 */
export function encodeRgb(value: number, space: RgbSpace): number {
  const size = Math.abs(value);
  let encoded: number;
  if (space === 'rec2020') {
    encoded = size < BETA_2020 ? 4.5 * size : ALPHA_2020 * size ** 0.45 - (ALPHA_2020 - 1);
  } else {
    checkSpace(space);
    encoded = size <= 0.0031308 ? 12.92 * size : 1.055 * size ** (1 / 2.4) - 0.055;
  }
  return value < 0 ? -encoded : encoded;
}

/**
 * Linear value of one encoded channel; mirrored below 0, not clamped.
 * The two pieces of sRGB miss each other by 3e-8 at the seam (0.04045), as the standard's rounded constants have it.
 * Source: IEC 61966-2-1; ITU-R BT.2020-2.
 */
export function decodeRgb(value: number, space: RgbSpace): number {
  const size = Math.abs(value);
  let linear: number;
  if (space === 'rec2020') {
    linear = size < 4.5 * BETA_2020 ? size / 4.5 : ((size + ALPHA_2020 - 1) / ALPHA_2020) ** (1 / 0.45);
  } else {
    checkSpace(space);
    linear = size <= 0.04045 ? size / 12.92 : ((size + 0.055) / 1.055) ** 2.4;
  }
  return value < 0 ? -linear : linear;
}

/** How far outside 0-1 still counts as rounding: far below one step of 16 bits. */
const GAMUT_SLACK = 1e-6;

/** Whether RGB, linear or encoded, lies in its space's gamut: every channel in [0, 1], give or take 1e-6. */
export function isInGamut(rgb: Rgb): boolean {
  const inside = (value: number) => value >= -GAMUT_SLACK && value <= 1 + GAMUT_SLACK;
  return inside(rgb.r) && inside(rgb.g) && inside(rgb.b);
}

/** A colour as a screen can show it. */
export interface ScreenColour {
  /** Encoded, every channel in [0, 1]. */
  readonly rgb: Rgb;
  /** For style sheets: `color(srgb 0.51234 0.4 0.3)`. */
  readonly css: string;
  /** Whether the screen shows the colour itself; otherwise the nearest one with the same lightness and hue. */
  readonly exact: boolean;
}

const GAMUT_MAPS = {
  srgb: toGamut('rgb', 'oklch'),
  'display-p3': toGamut('p3', 'oklch'),
  rec2020: toGamut('rec2020', 'oklch'),
};

/**
 * CIELAB (D65; a 10 degree colour is taken as it stands) as an encoded screen colour of a space.
 * Colours outside the gamut lose chroma at constant Oklch lightness and hue until what is left can be clipped unseen;
 * `exact` is then false. L* of 100 and more gives white, 0 and less black.
 * Throws RangeError for a Lab that is not finite.
 * Source: CSS Color Module Level 4, section 13.2 (gamut mapping by chroma reduction), through culori.
 */
export function labToScreen(lab: Lab, space: RgbSpace): ScreenColour {
  checkSpace(space);
  if (!(Number.isFinite(lab.L) && Number.isFinite(lab.a) && Number.isFinite(lab.b))) {
    throw new RangeError(`Expected a finite Lab, got L ${lab.L}, a ${lab.a}, b ${lab.b}`);
  }
  const xyz = labToXyz(lab, WHITE_RGB);
  const linear = xyzToLinearRgb(xyz, space);
  const exact = isInGamut(linear);
  const encode = (value: number) => toUnit(encodeRgb(value, space));
  let rgb: Rgb;
  if (exact) {
    rgb = { r: encode(linear.r), g: encode(linear.g), b: encode(linear.b) };
  } else {
    const mapped = GAMUT_MAPS[space]({ mode: 'xyz65', x: xyz.X / 100, y: xyz.Y / 100, z: xyz.Z / 100 });
    rgb = { r: toUnit(mapped.r), g: toUnit(mapped.g), b: toUnit(mapped.b) };
  }
  const text = [rgb.r, rgb.g, rgb.b].map((value) => String(Math.round(value * 1e5) / 1e5)).join(' ');
  return { rgb, css: `color(${space} ${text})`, exact };
}

/** A colour read from CSS text. */
export interface ParsedColour {
  /** CIELAB numbers under D65, against the RGB spaces' white: #ffffff is exactly L* 100, a* 0, b* 0. */
  readonly lab: Lab;
  /** Tristimulus values, D65, 2 degrees, Y = 100 for white. */
  readonly xyz: XYZ;
  /** How the text was understood, in a few words. */
  readonly note: string;
}

const toXyz65 = converter('xyz65');
const toRgb = converter('rgb');

/** culori's parser, which throws TypeError for some texts that begin like a number or a function. */
function parsed(text: string): ReturnType<typeof parse> {
  try {
    return parse(text);
  } catch (error) {
    if (error instanceof TypeError) return undefined;
    throw error;
  }
}

/**
 * Colour of a piece of CSS text: hex (also six digits without #), names, rgb(), hsl(), hwb(), lab(), lch(), oklab(),
 * oklch(), color(). A missing component (`none`) counts as 0; values outside a range are kept as written.
 * `null` for text that is no CSS colour, or a fully transparent one.
 * Source: CSS Color Module Level 4; syntax and conversions (CSS lab() is for D50, adapted by Bradford) by culori.
 */
export function parseCssColour(text: string): ParsedColour | null {
  const trimmed = text.trim();
  const hexWithoutMark = /^[0-9a-f]{6}$/i.test(trimmed);
  // culori also takes 3, 4 and 8 digits without a mark, which are more likely a catalogue number.
  if (/^[0-9a-f]+$/i.test(trimmed) && !hexWithoutMark && /\d/.test(trimmed)) return null;
  const colour = parsed(hexWithoutMark ? `#${trimmed}` : trimmed);
  if (!colour || colour.alpha === 0) return null;

  let xyz: XYZ;
  let note: string;
  if (colour.mode === 'p3' || colour.mode === 'rec2020') {
    const space = colour.mode === 'p3' ? 'display-p3' : 'rec2020';
    xyz = encodedToXyz(colour, space);
    note = `${space === 'rec2020' ? 'Rec. 2020' : 'Display P3'}, taken as seen under D65`;
  } else if (colour.mode === 'rgb' || colour.mode === 'hsl' || colour.mode === 'hwb') {
    xyz = encodedToXyz(toRgb(colour), 'srgb');
    note = 'sRGB, taken as seen under D65';
  } else {
    const { x = 0, y = 0, z = 0 } = toXyz65(colour);
    xyz = { X: 100 * x, Y: 100 * y, Z: 100 * z };
    note =
      colour.mode === 'lab' || colour.mode === 'lch'
        ? 'CSS Lab is for D50; adapted to D65'
        : 'CSS colour, taken as seen under D65';
  }
  if (!(Number.isFinite(xyz.X) && Number.isFinite(xyz.Y) && Number.isFinite(xyz.Z))) return null;
  if (hexWithoutMark) note = `read as a hexadecimal colour: ${note}`;
  if (colour.alpha !== undefined && colour.alpha < 1) note += '; transparency ignored';
  return { lab: xyzToLab(xyz, WHITE_RGB), xyz, note };
}

function encodedToXyz(colour: { r?: number; g?: number; b?: number }, space: RgbSpace): XYZ {
  const { r = 0, g = 0, b = 0 } = colour;
  return linearRgbToXyz({ r: decodeRgb(r, space), g: decodeRgb(g, space), b: decodeRgb(b, space) }, space);
}

/** The gamut step's last move: what is left beyond 0 or 1 is rounding. */
function toUnit(value: number): number {
  return Math.min(1, Math.max(0, value));
}

function checkSpace(space: RgbSpace): void {
  if (!Object.hasOwn(PRIMARIES, space)) {
    throw new RangeError(`Expected an RGB space (srgb, display-p3, rec2020), got ${String(space)}`);
  }
}
