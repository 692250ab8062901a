import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish } from './appearance.ts';
import type { FinishInput, PreparedFinish, PreparedLight, ReflectanceCache } from './appearance.ts';
import { colourStream, spectrumStream, unit, wander } from './draws.ts';
import { UNKNOWNS } from './look-doubt.ts';
import type { Triple } from './movement.ts';
import { seen } from './pairing.ts';
import { partWords } from './pairing-words.ts';
import type { Called } from './pairing-words.ts';
import { lrvDeviation, lrvSlope } from './visible-edge.ts';

// Two finishes that meet, with draws over what is not known of their colours and of their reflectances.

/** Draws over what is not known: a chance to 2.5 points. */
export const DRAWS = 400;
const SEED = 20261126;

/** One of two finishes that meet. */
export interface Side {
  readonly finish: PreparedFinish;
  readonly name: string;
  /** Displacement in Lab of each colour by day, in every draw. */
  readonly moves: readonly Triple[];
  /** The numbers that stand for what is not known of its reflectances. */
  readonly unknown: Triple;
}
/** Both of them. */
export type Sides = readonly [Side, Side];

/** A finish made ready to meet another. Throws as `prepareFinish`. */
export function sideOf(
  input: FinishInput,
  name: string,
  { lights, cache }: { lights: readonly PreparedLight[]; cache: ReflectanceCache },
): Side {
  const finish = prepareFinish(input, lights, cache);
  const still = unit(SEED, colourStream(finish.id), DRAWS);
  return {
    finish,
    name,
    moves: finish.colours.map(({ root }) => wander(root, still)),
    unknown: unit(SEED, spectrumStream(finish.id), DRAWS),
  };
}

/** A colour of a side in every draw under a light (-1: by day), CIELAB, stride 3. */
export function drawnLabs({ finish, moves, unknown }: Side, colour: number, light: number): Float32Array {
  const known = finish.colours[colour];
  const { L, a, b } = seen(known, light);
  const best = [L, a, b];
  const doubt = light < 0 ? null : (known.doubts?.[light]?.lab ?? null);
  const out = new Float32Array(3 * DRAWS);
  for (let axis = 0; axis < 3; axis++) {
    for (let t = 0; t < DRAWS; t++) {
      let value = best[axis] + moves[colour][axis][t];
      if (doubt) for (let k = 0; k < UNKNOWNS; k++) value += doubt[axis * UNKNOWNS + k] * unknown[k][t];
      out[3 * t + axis] = value;
    }
  }
  return out;
}

/** How a colour of a side is called. */
export function called({ finish, name }: Side, at: number): Called {
  const colour = finish.colours[at];
  const main = finish.colours.every(({ share }) => share <= colour.share);
  return { name, part: partWords(name, { share: colour.share, main, plain: finish.colours.length === 1 }) };
}

/** Two colours that meet, under a light (-1: by day). */
export function labsOf(
  [there, tried]: Sides,
  { first, second }: { first: number; second: number },
  light: number,
): readonly [Lab, Lab] {
  return [seen(there.finish.colours[first], light), seen(tried.finish.colours[second], light)];
}

/** The difference of two LRVs, and that of every draw. */
export interface LrvStep {
  /** LRV of the second less that of the first, points. */
  readonly difference: number;
  /** Two standard deviations, points. */
  readonly giveOrTake: number;
  readonly drawn: Float64Array;
}

/** How far two finishes lie apart in LRV. */
export function lrvOf([there, tried]: Sides): LrvStep {
  const difference = tried.finish.lrv - there.finish.lrv;
  const drawn = new Float64Array(DRAWS).fill(difference);
  for (const [{ finish, moves }, sign] of [
    [there, -1],
    [tried, 1],
  ] as const)
    finish.colours.forEach((colour, i) => {
      const slope = sign * lrvSlope(colour);
      for (let t = 0; t < DRAWS; t++) drawn[t] += slope * moves[i][0][t];
    });
  // One finish twice has one error.
  const same = there.finish.id === tried.finish.id;
  const deviation = same ? 0 : Math.hypot(lrvDeviation(there.finish), lrvDeviation(tried.finish));
  return { difference, giveOrTake: 2 * deviation, drawn };
}
