import { deltaE2000 } from './difference.ts';
import { labToLch } from './lab.ts';
import type { Lab } from './lab.ts';

/** The hues a near-neutral is said to lean to. */
export type UndertoneHue = 'pink' | 'red' | 'orange' | 'yellow' | 'green' | 'blue-green' | 'blue' | 'violet';

/** How strongly. */
export type UndertoneStrength = 'none' | 'slight' | 'clear' | 'strong';

/** The undertone of a near-neutral. */
export interface Undertone {
  /** The hue it leans to; with strength `none` too faint to matter. */
  readonly hue: UndertoneHue;
  readonly strength: UndertoneStrength;
  /** CIELAB chroma C*. */
  readonly chroma: number;
  /** For people, one sentence with its full stop. */
  readonly sentence: string;
}

/**
 * Up to this C* people speak of a white, grey, greige or taupe with an undertone; above, of a colour. About Munsell
 * chroma 2 to 2.5. Common practice, no published source.
 */
export const NEAR_NEUTRAL_CHROMA = 12;

/**
 * Strength by CIEDE2000 from the grey of the same lightness, upper limits. Not by C*, since a little red or green is
 * seen sooner than as much yellow. Common practice, no published source.
 */
export const UNDERTONE_LIMITS = { none: 1, slight: 3.5, clear: 8 } as const;

/**
 * Hue of the undertone by CIELAB hue angle in degrees, upper limits; the circle closes with pink. Common practice, no
 * published source: the limits lie about halfway between the hues that the words name first.
 */
const UNDERTONE_HUES: readonly { readonly to: number; readonly hue: UndertoneHue }[] = [
  { to: 8, hue: 'pink' },
  { to: 42, hue: 'red' },
  { to: 74, hue: 'orange' },
  { to: 108, hue: 'yellow' },
  { to: 176, hue: 'green' },
  { to: 224, hue: 'blue-green' },
  { to: 285, hue: 'blue' },
  { to: 330, hue: 'violet' },
  { to: 360, hue: 'pink' },
];

/** A red at least this light is called pink. Common practice, no published source. */
const PINK_LIGHTNESS = 65;

/**
 * Undertone of a near-neutral (CIELAB, D65, 10 degrees): which hue it leans to and how strongly.
 * `null` for a colour whose C* is above `NEAR_NEUTRAL_CHROMA`: it has a hue, not an undertone.
 * Throws RangeError for numbers that are not finite.
 * Source: common practice, no published source; the difference is CIEDE2000.
 */
export function undertone(lab: Lab): Undertone | null {
  const { C, h } = labToLch(lab);
  const leaning = deltaE2000({ L: lab.L, a: 0, b: 0 }, lab);
  if (C > NEAR_NEUTRAL_CHROMA) return null;
  const byAngle = UNDERTONE_HUES.find((band) => h < band.to)!.hue;
  const hue = byAngle === 'red' && lab.L >= PINK_LIGHTNESS ? 'pink' : byAngle;
  const strength = strengthOf(leaning);
  return { hue, strength, chroma: C, sentence: sentence(hue, strength) };
}

function strengthOf(leaning: number): UndertoneStrength {
  if (leaning < UNDERTONE_LIMITS.none) return 'none';
  if (leaning < UNDERTONE_LIMITS.slight) return 'slight';
  return leaning < UNDERTONE_LIMITS.clear ? 'clear' : 'strong';
}

function sentence(hue: UndertoneHue, strength: UndertoneStrength): string {
  switch (strength) {
    case 'none':
      return 'Reads as a true neutral, without an undertone.';
    case 'slight':
      return `Leans slightly to ${hue}: it shows beside a true grey, hardly on its own.`;
    case 'clear':
      return `Leans clearly to ${hue}: it shows beside most whites and greys.`;
    case 'strong':
      return `Leans strongly to ${hue}: it reads as ${hue} even on its own.`;
  }
}
