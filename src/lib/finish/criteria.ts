import { deltaE2000, deltaE2000Components, describeDifference } from '#lib/colour/index.ts';
import type { PreparedFinish, PreparedLight } from './appearance.ts';
import { largerIsBetter, smallerIsBetter } from './desirability.ts';
import type { Estimate } from './evidence.ts';
import { lengthOf, placesOf, stepBetween, stepsOf } from './movement.ts';
import { DAYLIGHT_NAME } from './pairing.ts';

/** What a candidate is judged by. */
export const CRITERIA = ['nearness', 'pairing', 'steadiness', 'lrv', 'price', 'time'] as const;
export type CriterionName = (typeof CRITERIA)[number];

/**
 * Least desirability of a wish. A wish that is missed altogether weighs heavily but does not erase everything else; what
 * must not be is a limit, and limits exclude. (Derringer and Suich's 0 would make all such candidates equal.)
 */
export const LEAST = 0.01;

/**
 * Nearness to the target, ΔE00, smaller is better. Common practice, no published source: below 1 nobody sees it; the bend
 * makes 9 half as good as 0 and 20 a fifth, and keeps ever farther candidates in order.
 */
export const NEARNESS = { full: 1, none: 100, r: 8 } as const;

/** Movement between the room's lights, CAM16-UCS, smaller is better: below 1 nobody sees it; half as good at about 6. */
export const STEADINESS = { full: 1, none: 50, r: 6 } as const;

/**
 * Upper borders of a movement between lights, CAM16-UCS: below the first a finish is steady, from the second on it turns.
 * Common practice, no published source.
 */
export const MOVEMENT_BANDS = { steady: 2.5, 'moves a little': 5 } as const;

/** Points of LRV inside a limit from which the limit no longer worries; on the limit itself the wish counts as missed. */
export const LRV_MARGIN = 5;

/** Lead time that halves a candidate's desirability against one in stock, days. */
export const LEAD_TIME_HALF = 14;

export function nearnessDesirability(deltaE: number): number {
  return Math.max(LEAST, smallerIsBetter(deltaE, NEARNESS));
}

export function steadinessDesirability(shift: number): number {
  return Math.max(LEAST, smallerIsBetter(shift, STEADINESS));
}

/** How safely an LRV lies inside its limits; 1 where there are none. */
export function lrvDesirability(
  lrv: number,
  { min, max }: { min: number | null; max: number | null },
): number {
  const above = min === null ? 1 : largerIsBetter(lrv, { none: min, full: min + LRV_MARGIN });
  const below = max === null ? 1 : smallerIsBetter(lrv, { full: max - LRV_MARGIN, none: max });
  return Math.max(LEAST, Math.min(above, below));
}

/**
 * Price against the wish, or against the cheapest where none is named: full up to it, then in inverse proportion (twice
 * the price, half as good). A ratio, so that another candidate on the list does not change who is ahead of whom.
 */
export function priceDesirability(amount: number, wish: number): number {
  return amount <= wish ? 1 : Math.max(LEAST, wish / amount);
}

/** Lead time against the wish (0 where none is named), days: full up to it, half as good `LEAD_TIME_HALF` days later. */
export function timeDesirability(days: number, wish: number): number {
  return days <= wish ? 1 : Math.max(LEAST, LEAD_TIME_HALF / (LEAD_TIME_HALF + days - wish));
}

/** How near a finish is to the target: ΔE00 of its colours by area. */
export interface Nearness {
  readonly deltaE: number;
  /** Signed CIEDE2000 parts of the area's largest colour: positive is lighter, more chromatic, hue turned counter-clockwise. */
  readonly components: { readonly dL: number; readonly dC: number; readonly dH: number };
  /** 'a shade greyer'. */
  readonly words: string;
}

export function nearness(target: Estimate, finish: PreparedFinish): Nearness {
  const main = finish.colours.reduce((best, colour) => (colour.share > best.share ? colour : best));
  const { dL, dC, dH } = deltaE2000Components(target.lab, main.lab);
  return {
    deltaE: finish.colours.reduce(
      (sum, colour) => sum + colour.share * deltaE2000(target.lab, colour.lab),
      0,
    ),
    components: { dL, dC, dH },
    words: describeDifference(target.lab, main.lab),
  };
}

/** What one light does to a finish. */
export interface Movement {
  readonly lightId: string;
  readonly lightName: string;
  /** CAM16-UCS distance from its look in daylight (D65), after adaptation, colours by area. */
  readonly ucsShift: number;
  /** Two standard deviations of it, from what is not known about the reflectances. */
  readonly giveOrTake: number;
  readonly words: string;
}

export function movements(finish: PreparedFinish, lights: readonly PreparedLight[]): Movement[] {
  return lights.map((light, index) => {
    const { shift, deviation } = lengthOf(stepBetween(finish, -1, index));
    return {
      lightId: light.id,
      lightName: light.name,
      ucsShift: shift,
      giveOrTake: 2 * deviation,
      words: movementWords(shift),
    };
  });
}

/** What a finish does of its own that moves so far in CAM16-UCS: 'hardly changes'. Common practice, no published source. */
export function movementWords(shift: number): string {
  if (shift < 1) return 'does not change to the eye';
  if (shift < MOVEMENT_BANDS.steady) return 'hardly changes';
  if (shift < MOVEMENT_BANDS['moves a little']) return 'changes a little';
  if (shift < 8) return 'changes plainly';
  return 'turns into another colour';
}

/** The movement of a finish between the two states of light between which it moves most. */
export interface LargestMovement {
  readonly from: string;
  readonly to: string;
  /** CAM16-UCS. */
  readonly shift: number;
  /** Two standard deviations of `shift`, from what is not known about the reflectances; 0 where they are measured. */
  readonly giveOrTake: number;
}

/** The two states of light between which a finish moves most, and by how much; null without lights. */
export function largestMovement(
  finish: PreparedFinish,
  lights: readonly PreparedLight[],
): LargestMovement | null {
  const name = (place: number) => (place < 0 ? DAYLIGHT_NAME : lights[place].name);
  let largest: LargestMovement | null = null;
  for (const step of stepsOf(finish, placesOf(lights))) {
    const { shift, deviation } = lengthOf(step);
    if (!largest || shift > largest.shift)
      largest = { from: name(step.from), to: name(step.to), shift, giveOrTake: 2 * deviation };
  }
  return largest;
}
