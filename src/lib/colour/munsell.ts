import { MUNSELL_RENOTATION } from './data/munsell-renotation.ts';
import { deltaE2000 } from './difference.ts';
import { illuminant } from './illuminant.ts';
import { labToXyz, xyzToLab } from './lab.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10, OBSERVER_2 } from './observer.ts';
import { nearestReflectance } from './recovery.ts';
import { WHITE_D65_10, spectrumToXyz, whitePoint, xyToXyz } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

/** A point of Munsell space. Hue 0-100 in the order R, YR, Y, GY, G, BG, B, PB, P, RP, ten each: 5R is 5, 10RP is 0. */
export interface MunsellPoint {
  readonly hue: number;
  /** 0 (black) to 10 (white). */
  readonly value: number;
  /** 0 for a neutral. */
  readonly chroma: number;
}

export const HUE_FAMILIES = ['R', 'YR', 'Y', 'GY', 'G', 'BG', 'B', 'PB', 'P', 'RP'] as const;

/** Hues of the renotation: 40, each 2.5 apart. */
const HUES = 40;
const HUE_STEP = 2.5;
const CHROMA_STEP = 2;
const LOWEST_VALUE = 1;
const HIGHEST_VALUE = 9;

const SIGHT_C = { illuminant: illuminant('C'), observer: OBSERVER_2 };
const SIGHT_D65 = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
const WHITE_C = whitePoint(SIGHT_C.illuminant, OBSERVER_2);

/** A colour this far (CIEDE2000) from any that a surface can have is not given a notation. */
const SURFACE_LIMIT = 0.5;

/** Chroma allowed beyond the tables, so that one decimal does not lose the colours on their edge. */
const REACH_MARGIN = 0.25;

/** Chroma below this prints as 0, so the colour is a neutral. */
const NEUTRAL_CHROMA = 0.05;

/**
 * Luminance factor Y (0-100, perfect reflecting diffuser 100) of a Munsell value in [0, 10].
 * Source: ASTM D1535, the fifth-degree polynomial of Newhall, Nickerson and Judd 1943 times 0.975 (their Y is relative to
 * magnesium oxide).
 */
export function munsellValueToY(value: number): number {
  return value * (1.1914 + value * (-0.22533 + value * (0.23352 + value * (-0.020484 + value * 0.00081939))));
}

/** Munsell value of a luminance factor Y in [0, 100]; `null` outside. Inverse of `munsellValueToY`, to 1e-9. */
export function yToMunsellValue(Y: number): number | null {
  // Rounding of a perfect white must not lose it.
  if (!(Y >= -1e-9 && Y <= 100 + 1e-6)) return null;
  let value = 10 * Math.sqrt(Math.max(Y, 0) / 100);
  for (let step = 0; step < 50; step++) {
    const slope = 1.1914 + value * (-0.45066 + value * (0.70056 + value * (-0.081936 + value * 0.00409695)));
    const move = (munsellValueToY(value) - Y) / slope;
    value -= move;
    if (Math.abs(move) < 1e-12) break;
  }
  return Math.min(Math.max(value, 0), 10);
}

/** The renotation as C*ab and hue angle for illuminant C at chroma 2, 4, 6 ... of one hue and value. */
interface Spoke {
  readonly radius: readonly number[];
  /** Degrees, unwrapped along the spoke. */
  readonly angle: readonly number[];
}

let spokes: Spoke[] | null = null;

function renotation(): readonly Spoke[] {
  spokes ??= MUNSELL_RENOTATION.trim()
    .split('\n')
    .map((line) => {
      const [, value, ...xy] = line.split(' ').map(Number);
      const Y = munsellValueToY(value);
      const radius: number[] = [];
      const angle: number[] = [];
      for (let i = 0; i < xy.length; i += 2) {
        const lab = xyzToLab(xyToXyz({ x: xy[i] / 1e4, y: xy[i + 1] / 1e4 }, Y), WHITE_C);
        radius.push(Math.hypot(lab.a, lab.b));
        const degrees = (Math.atan2(lab.b, lab.a) * 180) / Math.PI;
        angle.push(i === 0 ? degrees : nearTo(degrees, angle[i / 2 - 1]));
      }
      return { radius, angle };
    });
  return spokes;
}

/** Hue index 0 is 2.5R; value 1-9. */
function spoke(hueIndex: number, value: number): Spoke {
  const hue = ((hueIndex % HUES) + HUES) % HUES;
  return renotation()[hue * (HIGHEST_VALUE - LOWEST_VALUE + 1) + value - LOWEST_VALUE];
}

/** The angle, give or take full turns, that is nearest to another. */
function nearTo(angle: number, other: number): number {
  return angle - 360 * Math.round((angle - other) / 360);
}

/** Weighted neighbours on the hue circle and the value scale; the tabled values 1 and 9 stand for all beyond. */
function corners(point: MunsellPoint): { spoke: Spoke; weight: number }[] {
  const hue = point.hue / HUE_STEP - 1;
  const value = Math.min(Math.max(point.value, LOWEST_VALUE), HIGHEST_VALUE);
  const h0 = Math.floor(hue);
  const v0 = Math.min(Math.floor(value), HIGHEST_VALUE - 1);
  const hueShare = hue - h0;
  const valueShare = value - v0;
  return [
    { spoke: spoke(h0, v0), weight: (1 - hueShare) * (1 - valueShare) },
    { spoke: spoke(h0 + 1, v0), weight: hueShare * (1 - valueShare) },
    { spoke: spoke(h0, v0 + 1), weight: (1 - hueShare) * valueShare },
    { spoke: spoke(h0 + 1, v0 + 1), weight: hueShare * valueShare },
  ].filter((corner) => corner.weight > 0);
}

/** Position along a spoke; below chroma 2 straight to the neutral, beyond the last chroma straight on. */
function alongSpoke({ radius, angle }: Spoke, chroma: number): { radius: number; angle: number } {
  const position = chroma / CHROMA_STEP - 1;
  if (position <= 0) return { radius: (radius[0] * chroma) / CHROMA_STEP, angle: angle[0] };
  const last = radius.length - 1;
  const at = Math.min(Math.floor(position), Math.max(last - 1, 0));
  if (last === 0) return { radius: (radius[0] * chroma) / CHROMA_STEP, angle: angle[0] };
  const share = position - at;
  // The hue of the last tabled chroma is kept beyond it: curvature there is not known.
  const turn = Math.min(share, last - at);
  return {
    radius: radius[at] + share * (radius[at + 1] - radius[at]),
    angle: angle[at] + turn * (angle[at + 1] - angle[at]),
  };
}

/** C*ab and hue angle (illuminant C, 2 degrees) of a point, interpolated in the cylinder coordinates of CIELAB. */
function place(point: MunsellPoint): { radius: number; angle: number } {
  let radius = 0;
  let angle = 0;
  let first: number | null = null;
  for (const corner of corners(point)) {
    const here = alongSpoke(corner.spoke, point.chroma);
    first ??= here.angle;
    radius += corner.weight * here.radius;
    angle += corner.weight * nearTo(here.angle, first);
  }
  return { radius, angle };
}

/** The largest chroma that the renotation holds at a hue and value, interpolated between its neighbours. */
function reach(point: MunsellPoint): number {
  let tabled = 0;
  for (const corner of corners(point)) tabled += corner.weight * corner.spoke.radius.length;
  return CHROMA_STEP * tabled + REACH_MARGIN;
}

/**
 * Point of Munsell space of tristimulus values for illuminant C, 2 degrees; `null` for Y outside 0-100.
 * Beyond the renotation it goes straight on: `isRenotated` tells.
 */
function xyzToPoint(xyz: XYZ): MunsellPoint | null {
  const value = yToMunsellValue(xyz.Y);
  if (value === null) return null;
  const lab = xyzToLab(xyz, WHITE_C);
  const radius = Math.hypot(lab.a, lab.b);
  if (radius < 1e-6) return { hue: 0, value, chroma: 0 };
  const angle = (Math.atan2(lab.b, lab.a) * 180) / Math.PI;
  // The hues are nearly evenly spread over the hue angle; 5R lies near 20 degrees.
  let hue = (((angle - 20) / 3.6 + 5) % 100) + 100;
  let chroma = radius / 5.5;
  for (let step = 0; step < 200; step++) {
    const here = place({ hue: hue % 100, value, chroma });
    const ahead = place({ hue: (hue + 0.5) % 100, value, chroma });
    const slope = Math.max(nearTo(ahead.angle, here.angle) - here.angle, 0.3) / 0.5;
    const turn = nearTo(angle, here.angle) - here.angle;
    // Steps shrink in the course of the search, for the corners of the table where slopes jump.
    const calm = step < 40 ? 1 : 0.5;
    const hueMove = calm * Math.min(Math.max(turn / slope, -10), 10);
    const grown = chroma * Math.min(Math.max(radius / here.radius, 0.5), 2);
    const chromaMove = calm * (grown - chroma);
    hue = (hue + hueMove + 100) % 100;
    chroma += chromaMove;
    if (Math.abs(hueMove) < 1e-9 && Math.abs(chromaMove) < 1e-9) break;
  }
  return { hue, value, chroma };
}

/** Whether the published renotation holds a point (neutrals of every value; colours of value 1-9, and on to 10). */
function isRenotated(point: MunsellPoint): boolean {
  if (point.chroma < NEUTRAL_CHROMA) return true;
  return point.value >= LOWEST_VALUE && point.chroma <= reach(point);
}

/**
 * Point of Munsell space of a CIELAB (D65, 10 degrees), through the most plausible reflectance to illuminant C,
 * 2 degrees. Goes straight on beyond the renotation. `null` for colours no surface can have.
 */
export function labToMunsellPoint(lab: Lab): MunsellPoint | null {
  const { reflectance, deltaE } = nearestReflectance(labToXyz(lab, WHITE_D65_10), SIGHT_D65);
  if (deltaE > SURFACE_LIMIT) return null;
  // The way back recovers from other tristimulus values and may pick another reflectance; a few corrections make this
  // function its inverse.
  const xyz = spectrumToXyz(reflectance, SIGHT_C);
  const target = labToXyz(lab, WHITE_D65_10);
  let { X, Y, Z } = xyz;
  for (let step = 0; step < 8; step++) {
    const back = toD65({ X, Y, Z });
    if (back === null) return xyzToPoint(xyz);
    if (deltaE2000(lab, xyzToLab(back, WHITE_D65_10)) < 0.01) break;
    X *= corrected(target.X, back.X);
    Y *= corrected(target.Y, back.Y);
    Z *= corrected(target.Z, back.Z);
  }
  return xyzToPoint({ X, Y, Z });
}

/** Factor for the next try; near black, where a ratio means nothing, and for wild ratios, none. */
function corrected(target: number, reached: number): number {
  const factor = target / reached;
  return factor > 0.8 && factor < 1.25 ? factor : 1;
}

/** From illuminant C, 2 degrees, to D65, 10 degrees, through the most plausible reflectance; `null` if there is none. */
function toD65(xyz: XYZ): XYZ | null {
  const { reflectance, deltaE } = nearestReflectance(xyz, SIGHT_C);
  return deltaE > SURFACE_LIMIT ? null : spectrumToXyz(reflectance, SIGHT_D65);
}

/**
 * Munsell notation of a CIELAB colour (D65, 10 degrees), to one decimal: `7.5GY 6.2/3.1`, `N 8.5`.
 * `null` where the renotation does not reach: value below 1, chroma beyond the tables, colours no surface can have.
 * Between value 9, the last in the tables, and 10, a* and b* of value 9 are kept, since off-whites are everyday colours.
 * The colour goes from D65 and 10 degrees to illuminant C and 2 degrees through its most plausible reflectance: a
 * chromatic adaptation would not change the observer.
 * Source: Newhall, Nickerson and Judd 1943; ASTM D1535 for value; interpolated in C*ab and hue angle, where
 * ASTM D1535 interpolates in x and y.
 */
export function labToMunsell(lab: Lab): string | null {
  const point = labToMunsellPoint(lab);
  return point !== null && isRenotated(point) ? formatMunsell(point) : null;
}

/** Writes a point as a notation, to one decimal. */
function formatMunsell(point: MunsellPoint): string {
  const tenths = (v: number): number => Math.round(v * 10) / 10;
  const value = tenths(point.value);
  const chroma = tenths(point.chroma);
  if (chroma === 0) return `N ${value}`;
  // The circle ends with 10RP, not with 0R.
  const hue = tenths(point.hue) % 100 || 100;
  const family = Math.ceil(hue / 10) - 1;
  return `${tenths(hue - 10 * family)}${HUE_FAMILIES[family]} ${value}/${chroma}`;
}

const NOTATION = /^(\d+(?:\.\d+)?)\s*(R|YR|Y|GY|G|BG|B|PB|P|RP)\s*(\d+(?:\.\d+)?)\s*\/\s*(\d+(?:\.\d+)?)$/;
const NEUTRAL_NOTATION = /^N\s*(\d+(?:\.\d+)?)\s*(?:\/\s*0?)?$/;

/**
 * Reads a Munsell notation: `7.5GY 6.2/3.1`, `N 8.5`, `N8.5/`; case and spaces do not matter.
 * Throws RangeError, saying what is wrong, for anything else.
 */
export function parseMunsell(text: string): MunsellPoint {
  const upper = text.trim().toUpperCase();
  const neutral = NEUTRAL_NOTATION.exec(upper);
  const full = NOTATION.exec(upper);
  if (!neutral && !full) {
    throw new RangeError(`Expected a Munsell notation such as 7.5GY 6/3 or N 8.5, got "${text}"`);
  }
  const value = Number(neutral ? neutral[1] : full![3]);
  if (value > 10) throw new RangeError(`Expected Munsell value in [0, 10], got ${value} in "${text}"`);
  if (neutral) return { hue: 0, value, chroma: 0 };
  const number = Number(full![1]);
  if (number > 10) throw new RangeError(`Expected Munsell hue number in [0, 10], got ${number} in "${text}"`);
  const family = HUE_FAMILIES.indexOf(full![2] as (typeof HUE_FAMILIES)[number]);
  return { hue: (10 * family + number) % 100, value, chroma: Number(full![4]) };
}

/** Tristimulus values (illuminant C, 2 degrees) of a point of Munsell space. */
export function munsellPointToXyz(point: MunsellPoint): XYZ {
  const Y = munsellValueToY(point.value);
  const { L } = xyzToLab({ X: 0, Y, Z: 0 }, WHITE_C);
  if (point.chroma === 0) return labToXyz({ L, a: 0, b: 0 }, WHITE_C);
  const { radius, angle } = place(point);
  const h = (angle * Math.PI) / 180;
  return labToXyz({ L, a: radius * Math.cos(h), b: radius * Math.sin(h) }, WHITE_C);
}

/**
 * CIELAB (D65, 10 degrees) of a Munsell notation, through the most plausible reflectance of its colour for
 * illuminant C, 2 degrees. `null` where the renotation does not reach, as in `labToMunsell`.
 * Throws RangeError for a malformed notation.
 * Source: as `labToMunsell`.
 */
export function munsellToLab(text: string): Lab | null {
  const point = parseMunsell(text);
  if (!isRenotated(point)) return null;
  const xyz = toD65(munsellPointToXyz(point));
  return xyz && xyzToLab(xyz, WHITE_D65_10);
}
