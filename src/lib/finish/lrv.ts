import { lrvFromLab } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';

/**
 * How far, in points, a printed LRV may lie from the LRV of the colour printed beside it before we say so: a fixed part
 * for rounding of both, and a share for batch and screen. Common practice, no published source; a difference of a tenth
 * is about 2.5 in L*, plain to see on two chips.
 */
export const LRV_TOLERANCE = { points: 2, share: 0.1 } as const;

/** A printed LRV and a colour that cannot both be right. */
export interface LrvContradiction {
  readonly published: number;
  readonly fromColour: number;
  /** Published less that of the colour, points. */
  readonly difference: number;
  readonly words: string;
}

/**
 * Whether a published light reflectance value and that of a colour contradict each other; null when they agree within
 * `LRV_TOLERANCE`. Both are kept and shown, never averaged: one of them is a misprint or belongs to something else.
 * @throws RangeError for a published LRV outside [0, 100] or a colour's that is not finite.
 */
export function lrvContradiction(published: number, colour: Lab | number): LrvContradiction | null {
  const fromColour = typeof colour === 'number' ? colour : lrvFromLab(colour);
  if (!(published >= 0 && published <= 100))
    throw new RangeError(`Expected a published LRV in [0, 100], got ${published}`);
  if (!Number.isFinite(fromColour))
    throw new RangeError(`Expected a finite LRV of the colour, got ${fromColour}`);
  const difference = published - fromColour;
  const tolerance = LRV_TOLERANCE.points + LRV_TOLERANCE.share * Math.max(published, fromColour);
  if (Math.abs(difference) <= tolerance) return null;
  return {
    published,
    fromColour,
    difference,
    words:
      `The published LRV of ${figure(published)} and the colour (LRV ${figure(fromColour)}) contradict each other: ` +
      `the colour is ${difference > 0 ? 'darker' : 'lighter'} than the number says. Look at a painted sample.`,
  };
}

/** What a candidate's LRV is judged by. */
export interface JudgedLrv {
  /** 0-100: the published value where it agrees with the colour, being an instrument's; else the colour's. */
  readonly value: number;
  /** The published value where it contradicts the colour: limits then look at both. Else null. */
  readonly disputed: number | null;
  /** Whether `value` is the published one, which is taken as exact. */
  readonly exact: boolean;
}

/** What to judge an LRV by, from the published one (or none) and that of the colour. */
export function judgedLrv(published: number | null, fromColour: number): JudgedLrv {
  if (published === null) return { value: fromColour, disputed: null, exact: false };
  return lrvContradiction(published, fromColour)
    ? { value: fromColour, disputed: published, exact: false }
    : { value: published, disputed: null, exact: true };
}

function figure(value: number): string {
  return value.toFixed(value < 10 ? 1 : 0);
}
