import { colourName, deltaE2000 } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from './appearance.ts';
import type { Appearance, FinishInput, LightInput, PreparedFinish, ReflectanceCache } from './appearance.ts';
import { smallerIsBetter } from './desirability.ts';
import { doubtWords } from './figure.ts';
import { localForm } from './local-difference.ts';
import { DAYLIGHT_NAME, seen, the, under } from './pairing.ts';

/**
 * A plain finish picks up a colour of a patterned neighbour: it repeats one that is there, but not the main one. What a
 * stager does with a stone: the cabinets in the green of its flecks.
 */

/** Shares of a neighbour that make a minor colour, 0-1: seen at all, and not what the finish is called by. Common practice, no published source. */
export const MINOR_SHARE = { least: 0.03, most: 0.35 } as const;

/**
 * How near a candidate must come, ΔE00 in the least good light: full up to the first, nothing from the second on. A repeated
 * colour lies apart from its model, so that less than a touching match is enough. Common practice, no published source.
 */
export const PICK_UP_CURVE = { full: 2, none: 8 } as const;

/** Below this ΔE00 a colour is called picked up without a 'may'. Common practice, no published source. */
export const PICKED_UP_WITHIN = 5;
/** Standard deviations that make four chances in five (`LIKELY`): the normal distribution's 80 % point. */
const LIKELY_DEVIATIONS = 0.84;

/** A minor colour of a neighbour that a candidate repeats. */
export interface PickUp {
  /** Which of the neighbour's colours, counted from 0 in its order; colours without a share are not counted. */
  readonly colour: number;
  /** Its part of the neighbour's area, 0-1. */
  readonly share: number;
  /** ΔE00 in the light where the two are furthest apart. */
  readonly deltaE: number;
  /** Two standard deviations of it. */
  readonly giveOrTake: number;
  /** Where that is: a light's id and name; null is plain daylight. */
  readonly light: { readonly id: string; readonly name: string } | null;
  /** 0-1, what the doubt leaves of it counted: a small plus for a candidate. */
  readonly score: number;
}

interface Distance {
  readonly deltaE: number;
  /** Variance of ΔE00 along the line between the two. */
  readonly variance: number;
  /** Expected square of ΔE00. */
  readonly square: number;
}

/** ΔE00 of two colours in a light (-1: daylight), with what their doubt makes of it (to first order, CIEDE2000 taken as a form). */
function distanceOf(first: Appearance, second: Appearance, light: number): Distance {
  const [p, q] = [seen(first, light), seen(second, light)];
  const deltaE = deltaE2000(p, q);
  const form = localForm(p, q);
  const along = times(form, [q.L - p.L, q.a - p.a, q.b - p.b]);
  const length = Math.hypot(...along);
  let spread = 0;
  let variance = 0;
  for (const { root } of [first, second])
    for (let column = 0; column < 3; column++) {
      const step = times(form, [root[column], root[3 + column], root[6 + column]]);
      spread += step[0] ** 2 + step[1] ** 2 + step[2] ** 2;
      if (length > 0)
        variance += ((step[0] * along[0] + step[1] * along[1] + step[2] * along[2]) / length) ** 2;
    }
  // Where the two coincide every direction is as good: a third of the whole.
  return { deltaE, variance: length > 0 ? variance : spread / 3, square: deltaE ** 2 + spread };
}

function times(m: readonly number[], [x, y, z]: readonly [number, number, number]) {
  return [
    m[0] * x + m[1] * y + m[2] * z,
    m[3] * x + m[4] * y + m[5] * z,
    m[6] * x + m[7] * y + m[8] * z,
  ] as const;
}

const mainOf = (colours: readonly Appearance[]) =>
  colours.reduce((best, colour, i) => (colour.share > colours[best].share ? i : best), 0);

/**
 * Whether a candidate's main colour repeats a minor colour of a patterned neighbour, in every light (daylight where there
 * are none). `null` where it does not: the neighbour has one colour, none of its minor ones is near, or its main colour is
 * nearer. Both finishes prepared under the same lights.
 */
export function pickUp(
  candidate: PreparedFinish,
  neighbour: PreparedFinish,
  lights: readonly { readonly id: string; readonly name: string }[] = [],
): PickUp | null {
  const { colours } = neighbour;
  if (colours.length < 2) return null;
  const own = candidate.colours[mainOf(candidate.colours)];
  const main = mainOf(colours);
  const states = own.labs.length > 0 ? own.labs.map((_, light) => light) : [-1];
  let best: PickUp | null = null;
  for (const [colour, other] of colours.entries()) {
    if (colour === main || other.share < MINOR_SHARE.least || other.share > MINOR_SHARE.most) continue;
    if (deltaE2000(own.lab, colours[main].lab) < deltaE2000(own.lab, other.lab)) continue;
    let [worst, at] = [distanceOf(own, other, states[0]), states[0]];
    for (const light of states.slice(1)) {
      const distance = distanceOf(own, other, light);
      if (distance.deltaE > worst.deltaE) [worst, at] = [distance, light];
    }
    if (worst.deltaE >= PICK_UP_CURVE.none) continue;
    const score = smallerIsBetter(Math.sqrt(worst.square), PICK_UP_CURVE);
    if (score === 0 || (best && score <= best.score)) continue;
    const light = at < 0 ? null : (lights[at] ?? null);
    best = {
      colour,
      share: other.share,
      deltaE: worst.deltaE,
      giveOrTake: 2 * Math.sqrt(worst.variance),
      light,
      score,
    };
  }
  return best;
}

/** `pickUp` as a number for a search, 0-1; 0 where nothing is picked up. */
export function pickUpScore(candidate: PreparedFinish, neighbour: PreparedFinish): number {
  return pickUp(candidate, neighbour)?.score ?? 0;
}

/** `pickUp` of finishes that are not prepared yet. */
export function pickUpOf(
  candidate: FinishInput,
  neighbour: FinishInput,
  { lights, cache }: { lights: readonly LightInput[]; cache?: ReflectanceCache },
): PickUp | null {
  const prepared = lights.map(prepareLight);
  return pickUp(
    prepareFinish(candidate, prepared, cache),
    prepareFinish(neighbour, prepared, cache),
    prepared,
  );
}

/**
 * A pick-up as a sentence for a client and its number: 'Picks up the dark olive green in “Counter” (12 % of it)', 'ΔE00 2.1
 * give or take 0.8 under “Evening lamps”'. The doubtful ones say 'May pick up'.
 */
export function pickUpWords(
  found: PickUp,
  {
    neighbour,
    surfaceName,
  }: {
    readonly neighbour: { readonly colours: readonly Pick<Appearance, 'lab'>[] };
    readonly surfaceName: string;
  },
): { readonly sentence: string; readonly number: string } {
  const { colour, share, deltaE, giveOrTake, light } = found;
  const likely = deltaE + (LIKELY_DEVIATIONS * giveOrTake) / 2 <= PICKED_UP_WITHIN;
  const name = colourName(neighbour.colours[colour].lab);
  return {
    sentence: `${likely ? 'Picks' : 'May pick'} up the ${name} in ${the(surfaceName)} (${Math.round(100 * share)} % of it)`,
    number: `ΔE00 ${deltaE.toFixed(1)}${doubtWords(giveOrTake)} ${under(light?.name ?? DAYLIGHT_NAME)}`,
  };
}
