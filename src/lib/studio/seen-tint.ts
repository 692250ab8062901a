import {
  colourName,
  deltaE2000,
  describeDifference,
  labToXyz,
  linearRgbToXyz,
  WHITE_D65_2,
  xyzToLab,
  xyzToLinearRgb,
  type Lab,
  type XYZ,
} from '#lib/colour/index.ts';
import type { LinearRgb } from '#lib/photo/index.ts';

/*
 * Why a finish in a picture has another colour than its own: the light of the photo has one, or what was on the surface was not
 * wholly told from the light on it; and other surfaces throw light back on it.
 */

/**
 * A finish this far from its own colour, CIEDE2000 at one lightness, is said to be tinted: different at a glance. Common
 * practice, no published source. By day and evenly corrected our kitchen has 4 to 5, by lamp 5 to 7, at dusk 8 to 10.
 */
export const TINTED = 6;
/** Below this L* eight bits hold no colour that could be told. */
const DARKEST = 12;
/** Parts of a mirrored white that are tried, of a place's light. */
const VEILS = Array.from({ length: 20 }, (_, i) => i / 20);

/** What a place has beyond light and shade: how far it is from the finish itself, CIEDE2000, and in words. */
export interface Tint {
  readonly difference: number;
  /** As `describeDifference` has it, from the finish itself. */
  readonly words: string;
}

/**
 * How a place differs from the finish that is on it, whatever the amount of light there; null where that is less than
 * `TINTED`, and where it is too dark to tell. `mirrored`: white light that its face may mirror counts as light, not as tint.
 */
export function tintOf(own: Lab, seen: Lab, { mirrored }: { readonly mirrored: boolean }): Tint | null {
  if (seen.L < DARKEST || own.L < DARKEST) return null;
  const paint = labToXyz(own, WHITE_D65_2);
  const { Y } = labToXyz(seen, WHITE_D65_2);
  const lit = (mirrored ? VEILS : [0]).map((veil) => {
    const lab = xyzToLab(scaled(veiled(paint, veil), Y), WHITE_D65_2);
    return { lab, difference: deltaE2000(lab, seen) };
  });
  const nearest = lit.reduce((a, b) => (b.difference < a.difference ? b : a));
  if (nearest.difference < TINTED) return null;
  return { difference: nearest.difference, words: describeDifference(nearest.lab, seen) };
}

const scaled = ({ X, Y, Z }: XYZ, to: number): XYZ => ({ X: (X * to) / Y, Y: to, Z: (Z * to) / Y });

/** A paint that sends back part of its light as the white that its face mirrors. */
function veiled(paint: XYZ, veil: number): XYZ {
  const mix = (axis: keyof XYZ) => (1 - veil) * paint[axis] + (veil * paint.Y * WHITE_D65_2[axis]) / 100;
  return { X: mix('X'), Y: mix('Y'), Z: mix('Z') };
}

/** What tints a finish, inside a sentence. Where nobody said what is there, it may be left over from that. */
export const tinter = (known: boolean) =>
  known ? 'the light of the photo' : 'the light of the photo, or what is there now,';

/**
 * That a finish comes out of a photo in another colour than its own, as a sentence; null where it does not. `light` is the mean
 * light on the surface, linear sRGB, as `surfaceLayers` reads it.
 */
export function tintNote(
  own: Lab,
  light: LinearRgb,
  { name, known }: { readonly name: string; readonly known: boolean },
): string | null {
  const { r, g, b } = xyzToLinearRgb(labToXyz(own, WHITE_D65_2), 'srgb');
  const [red, green, blue] = [r * light[0], g * light[1], b * light[2]];
  const seen = xyzToLab(linearRgbToXyz({ r: red, g: green, b: blue }, 'srgb'), WHITE_D65_2);
  const tint = tintOf(own, seen, { mirrored: false });
  return (
    tint &&
    `${name}: ${tinter(known)} tints it. It comes out ${tint.words} than the finish itself, which is ${colourName(own)} (difference ${tint.difference.toFixed(0)}, CIEDE2000, light and shade not counted).`
  );
}

/** That surfaces with a finish on change the light on each other, as a sentence; null where fewer than two, `count`, have one. */
export function bounceGuess(count: number): string | null {
  if (count < 2) return null;
  return 'Surfaces throw light at each other: a finish on one makes the others that have a finish on a little lighter or darker and tints them. How much is reckoned from their colours and their parts of the picture, evenly for each surface. What is as photographed keeps the light it had.';
}
