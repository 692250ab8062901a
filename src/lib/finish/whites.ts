import type { Lab } from '#lib/colour/index.ts';

/**
 * What the trade calls a white: CIELAB lightness (D65, 10 degrees) from `full` on counts wholly, below `none` not at all,
 * likewise chroma C*. The middles, L* 85.5 and C* 10, are about where the whites of the ISCC-NBS names end: Munsell value
 * 8.5, chroma 1.2 to 2 (Kelly and Judd 1976, NBS Special Publication 440). Between the ends a colour counts in part, so
 * that no tenth of a unit decides; these widths are common practice, no published source.
 *
 * Of a finish of several colours only one that covers `plainShare` of it is a white in this sense: it is the plain ground
 * of the thing. The white of a busier pattern is one colour among others; nobody takes it for a failed match.
 */
export const WHITES = {
  lightness: { none: 83.5, full: 87.5 },
  chroma: { full: 8, none: 12 },
  plainShare: 0.8,
} as const;

/** A colour of a finish as far as it is a white or not. */
interface Ground {
  /** CIELAB by day. */
  readonly lab: Lab;
  /** Part of the finish's area, 0-1. */
  readonly share: number;
}

/** How far a colour counts as a white, 0-1, by its look in daylight. */
export function whiteness({ L, a, b }: Lab): number {
  const { lightness, chroma } = WHITES;
  if (!(L > lightness.none)) return 0;
  const C = Math.sqrt(a * a + b * b);
  if (!(C < chroma.none)) return 0;
  const light = L >= lightness.full ? 1 : (L - lightness.none) / (lightness.full - lightness.none);
  const pale = C <= chroma.full ? 1 : (chroma.none - C) / (chroma.none - chroma.full);
  return Math.min(light, pale);
}

/** How far two colours that meet are two plain whites, 0-1: as far as the one that is less of a white. */
export function twoWhites(first: Ground, second: Ground): number {
  // Most pairs are settled here.
  if (!(first.lab.L > WHITES.lightness.none && second.lab.L > WHITES.lightness.none)) return 0;
  if (first.share < WHITES.plainShare || second.share < WHITES.plainShare) return 0;
  return Math.min(whiteness(first.lab), whiteness(second.lab));
}

/** From this degree on sentences speak of two whites. */
export const SPOKEN_OF_AS_WHITES = 0.5;
