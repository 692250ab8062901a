import { decodeRgb, labToXyz, WHITE_D65_2, xyzToLinearRgb, type Lab } from '#lib/colour/index.ts';
import type { Id, Surface } from '#lib/job/index.ts';
import { FACE_SHARE, type Image8, type LinearRgb, type Mask } from '#lib/photo/index.ts';

/*
 * Whether a photo shows the finish that the job says is on a surface. A job may name what is to come, or the photo may be
 * older than the finish; its colour would then be taken out of a surface that never had it.
 */

/** Pixels of a surface that are read at most: enough for a median. */
const MOST_READ = 20_000;
/** Coverage from which a pixel is the surface's alone, of 255. */
const WHOLE = 230;

/** Median of a surface in a corrected sRGB picture, linear, channel by channel; null for a mask that covers nothing. */
export function medianColour({ data, channels }: Image8, mask: Mask): LinearRgb | null {
  const covered: number[] = [];
  for (let p = 0; p < mask.data.length; p += 1) if (mask.data[p] > WHOLE) covered.push(p);
  if (covered.length === 0) return null;
  const step = Math.max(1, Math.floor(covered.length / MOST_READ));
  const read = covered.filter((_, i) => i % step === 0);
  const median = (c: number) => {
    const values = Uint8Array.from(read, (p) => data[channels * p + c]).sort();
    return decodeRgb(values[values.length >> 1] / 255, 'srgb');
  };
  return [median(0), median(1), median(2)];
}

/**
 * How far what a photo shows may lie from a finish that is there, as natural logarithms of channel ratios: how much light falls
 * on it (LEVEL), how warm that is (WARMTH, red against blue), and how green (GREEN). Over the marked surfaces of the sample
 * kitchen by day, by lamp and at dusk, with and without white paper, they are -1.5 to 0, 0.1 to 1.0 and 0 to 0.3: the bounds are
 * twice as wide and a guess. What is darker than LEVEL may stand in a dark corner, and is believed.
 */
const LEVEL = 0.6;
const WARMTH = [-0.7, 1.8] as const;
const GREEN = [-0.45, 0.75] as const;
/** Light that the shadows of an 8-bit picture hold at least; below ten times that no colour can be told. */
const DARKEST = 0.002;

/**
 * How a surface differs from a finish that is said to be on it, beyond what light and camera can do: 'lighter', or of 'another
 * colour'; null where it may be that finish. `seen` is a median of linear sRGB from the corrected photo.
 */
export function unlike(old: Lab, seen: LinearRgb): 'lighter' | 'another colour' | null {
  const { r, g, b } = xyzToLinearRgb(labToXyz(old, WHITE_D65_2), 'srgb');
  const ln = (value: number, albedo: number) =>
    Math.log(Math.max(0, value) + DARKEST) - Math.log(Math.max(0, albedo) + FACE_SHARE);
  const [red, green, blue] = [ln(seen[0], r), ln(seen[1], g), ln(seen[2], b)];
  if (green > LEVEL) return 'lighter';
  const [warmth, cast] = [red - blue, red + blue - 2 * green];
  if (seen[1] < 10 * DARKEST) return null;
  const within = (value: number, [least, most]: readonly [number, number]) => value >= least && value <= most;
  return within(warmth, WARMTH) && within(cast, GREEN) ? null : 'another colour';
}

/** The swatch that is on a surface in its photos, as far as somebody said it. */
export const thereNow = ({
  state,
  swatchId,
  thereId,
}: Pick<Surface, 'state' | 'swatchId' | 'thereId'>): Id | null =>
  (state === 'fixed' ? swatchId : thereId) ?? null;

/** What to set so that a swatch counts as what is on a surface now, whatever is to come; null where nobody knows. */
export function sayingThere(
  { id, state }: Pick<Surface, 'id' | 'state'>,
  swatchId: Id | null,
): readonly (readonly [string[], unknown])[] {
  const at = ['surfaces', id];
  return state === 'fixed'
    ? [[[...at, 'swatchId'], swatchId]]
    : [[[...at, 'thereId'], swatchId ?? undefined]];
}
