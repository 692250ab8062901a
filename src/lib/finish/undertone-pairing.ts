import { NEAR_NEUTRAL_CHROMA, UNDERTONE_LIMITS, labToLch, undertone } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import type { Appearance, PreparedFinish } from './appearance.ts';
import { largerIsBetter, smallerIsBetter } from './desirability.ts';

/**
 * When two undertones clash. Common practice, no published source.
 *
 * `spoken`: ΔE00 from the grey of the same lightness; up to `none` a colour has no undertone to speak of, from `full` on it
 * shows beside most whites and greys (`UNDERTONE_LIMITS`).
 * `soft`: C*; up to `full` a near-neutral, from `none` on a colour with a hue of its own, which is chosen, not leant to.
 * `hue`: degrees between the two hues; up to `agree` they are of one kind (yellow beside orange) and cost nothing, from `clash`
 * on they pull apart (pink beside green) and cost in full; half way, `HUE_SAID`, is where words turn. Counted with a*
 * stretched by 1.5, as CIEDE2000 does near the grey axis: pink beige and green beige lie closer in plain CIELAB than they look.
 * `lightness`: difference in L*; up to `compared` the eye holds the two against each other, from `apart` on it no longer does.
 * `worst`: what a full clash leaves, the same as the trough of a near miss.
 */
export const UNDERTONE_PAIRING = {
  spoken: { none: UNDERTONE_LIMITS.none, full: UNDERTONE_LIMITS.slight },
  soft: { full: NEAR_NEUTRAL_CHROMA, none: 2 * NEAR_NEUTRAL_CHROMA },
  hue: { agree: 40, clash: 80 },
  lightness: { compared: 15, apart: 35 },
  worst: 0.1,
} as const;

/** CIEDE2000's stretch of a* near the grey axis (ISO/CIE 11664-6: a' = 1.5 a* where C* is small). */
const STRETCH = 1.5;

const HUE = { full: UNDERTONE_PAIRING.hue.clash, none: UNDERTONE_PAIRING.hue.agree };
const LIGHTNESS = { full: UNDERTONE_PAIRING.lightness.compared, none: UNDERTONE_PAIRING.lightness.apart };

/** What a colour leans to. */
export interface Leaning {
  readonly L: number;
  /** Hue with a* stretched, degrees [0, 360); means nothing where `spoken` is 0. */
  readonly angle: number;
  /** How far it has an undertone to speak of, and how far it is a near-neutral or soft colour, 0-1. */
  readonly spoken: number;
  readonly soft: number;
}

/** What a colour leans to, by day. */
export function leaningOf({ L, a, b }: Lab): Leaning {
  const { C: stretched, h: angle } = labToLch({ L, a: STRETCH * a, b });
  // CIEDE2000 from the grey of the same lightness: chroma alone, S_C by the mean of the two chromas.
  const fromGrey = stretched / (1 + (0.045 * stretched) / 2);
  return {
    L,
    angle,
    spoken: largerIsBetter(fromGrey, UNDERTONE_PAIRING.spoken),
    soft: smallerIsBetter(Math.sqrt(a * a + b * b), UNDERTONE_PAIRING.soft),
  };
}

/** Degrees between the hues of two leanings, 0-180. */
export function huesApart(first: Leaning, second: Leaning): number {
  const apart = Math.abs(first.angle - second.angle);
  return apart > 180 ? 360 - apart : apart;
}

/** How far two undertones clash, 0-1. */
export function clashOf(first: Leaning, second: Leaning): number {
  const presence = Math.min(first.spoken, first.soft, second.spoken, second.soft);
  if (presence === 0) return 0;
  return (
    presence *
    largerIsBetter(huesApart(first, second), HUE) *
    smallerIsBetter(Math.abs(first.L - second.L), LIGHTNESS)
  );
}

/** How two undertones stand to each other; `differ` where they do, but too faintly or too far apart in lightness to clash. */
export type UndertoneRelation = 'agree' | 'clash' | 'differ' | 'near neutral' | 'strong';

/** From this degree on a thing is said: of an undertone that it is there, of a clash that it is one. */
const SAID = 0.5;

/** Degrees of hue from which a clash is spoken of, where nothing else makes it fainter. */
export const HUE_SAID = HUE.none + SAID * (HUE.full - HUE.none);

/** The relation of two undertones in a word. */
export function undertoneRelation(first: Leaning, second: Leaning): UndertoneRelation {
  if (Math.min(first.soft, second.soft) < SAID) return 'strong';
  if (Math.min(first.spoken, second.spoken) < SAID) return 'near neutral';
  if (clashOf(first, second) >= SAID) return 'clash';
  return largerIsBetter(huesApart(first, second), HUE) < SAID ? 'agree' : 'differ';
}

/** Whether a leaning is none, 'neutral', a hue of its own, 'strong', or an undertone. */
export function isLeaning({ spoken, soft }: Leaning): 'neutral' | 'strong' | 'leaning' {
  if (soft < SAID) return 'strong';
  return spoken < SAID ? 'neutral' : 'leaning';
}

/** Yellow-greens, CIELAB hue angle: an undertone for which the bands of `undertone` say yellow or green. */
const YELLOW_GREEN = { from: 100, to: 130 };

/** The hue a near-neutral or soft colour leans to, as people say it: 'pink', 'yellow-green'. */
export function leaningWords(lab: Lab): string {
  const { L, a, b } = lab;
  const { C, h } = labToLch(lab);
  if (h >= YELLOW_GREEN.from && h < YELLOW_GREEN.to) return 'yellow-green';
  // A soft colour's hue has the name of the same hue nearer the grey axis, where undertones are named.
  const scale = C > NEAR_NEUTRAL_CHROMA ? NEAR_NEUTRAL_CHROMA / 2 / C : 1;
  return undertone({ L, a: a * scale, b: b * scale })!.hue;
}

const known = new WeakMap<Appearance, Leaning>();

/** `leaningOf` a prepared colour, worked out once. */
function leaning(colour: Appearance): Leaning {
  let found = known.get(colour);
  if (!found) known.set(colour, (found = leaningOf(colour.lab)));
  return found;
}

/**
 * How well the undertones of two finishes agree by day, `UNDERTONE_PAIRING.worst` (they clash) to 1 (they agree, or have none
 * to speak of: true neutrals and strong colours do not clash by undertone). Every colour of one meets every colour of the
 * other, weighted by both areas, as in `judge`. The same either way round. Allocates nothing but once a colour.
 */
export function undertoneScore(first: PreparedFinish, second: PreparedFinish): number {
  const cost = 1 - UNDERTONE_PAIRING.worst;
  if (first.colours.length === 1 && second.colours.length === 1)
    return 1 - cost * clashOf(leaning(first.colours[0]), leaning(second.colours[0]));
  let logs = 0;
  for (const p of first.colours) {
    for (const q of second.colours) {
      const clash = clashOf(leaning(p), leaning(q));
      if (clash > 0) logs += p.share * q.share * Math.log(1 - cost * clash);
    }
  }
  return Math.exp(logs);
}
