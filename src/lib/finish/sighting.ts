import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import type { Appearance, PreparedFinish } from './appearance.ts';
import { TARGET_STREAM, colourStream, spectrumStream, unit, wander } from './draws.ts';
import { TYPICAL_DIFFERENCE, covarianceRoot } from './evidence.ts';
import type { Estimate } from './evidence.ts';
import { localForm, offset } from './local-difference.ts';
import { UNKNOWNS } from './look-doubt.ts';
import type { Triple } from './movement.ts';
import { pairingDesirability, seen } from './pairing.ts';
import { twoWhites } from './whites.ts';

/*
 * What somebody would see or read in each draw of the simulation, with the noise of the eye, the camera or the instrument.
 * The truths are those behind the ranking, from the same seeded streams; the noises have streams of their own.
 */

/**
 * What the eye can tell of two samples side by side, ΔE: `least` of small differences, a `share` of large ones. Common
 * practice, no published source: 1 is what the difference formulas are scaled to.
 */
export const BY_EYE = { least: 1, share: 0.1 } as const;

/** Mean length of a three-dimensional normal vector of unit standard deviation per axis: √(8/π). */
const MEAN_OF_THREE_AXES = Math.sqrt(8 / Math.PI);

/**
 * Standard deviation per axis, CIELAB units, of a colour read anew. From a photo with white paper in it: measured on
 * simulated photographs, for room colours of chroma below 25.
 */
export const READING = {
  photo: 1.8,
  instrument: TYPICAL_DIFFERENCE.instrument / MEAN_OF_THREE_AXES,
} as const;

/** A colour as it is read or seen: the numbers a regression looks at, one array over the draws for each. */
export type Columns = readonly Float64Array[];

/** The draws of one ranking, as far as eyes and instruments reach. */
export class Sighting {
  readonly #seed: number;
  readonly #draws: number;
  readonly #done = new Map<string, Triple>();

  constructor({ seed, draws }: { seed: number; draws: number }) {
    this.#seed = seed;
    this.#draws = draws;
  }

  /** A finish's main colour read anew, standard deviation per axis; to second order. */
  finish(finish: PreparedFinish, deviation: number): Columns {
    const moves = this.#moves(finish, largest(finish));
    return secondOrder(this.#read(moves, colourStream(finish.id), deviation));
  }

  /** The target's colour read anew; to second order. */
  target({ covariance }: Estimate, deviation: number): Columns {
    const root = covarianceRoot(covariance, 'the covariance of the target');
    return secondOrder(this.#read(wander(root, this.#unit(TARGET_STREAM)), TARGET_STREAM, deviation));
  }

  /**
   * What is seen of a finish against another under a light (`light` counts from 0; -1 is daylight): the difference of their
   * main colours, to second order, and how well the two look together.
   */
  pair(tried: PreparedFinish, there: PreparedFinish, light: number): Columns {
    const noise = this.#unit(`seen by eye, ${tried.id}`);
    const score = new Float64Array(this.#draws);
    const [p, q] = [largest(tried), largest(there)];
    let main: Columns = [];
    tried.colours.forEach((colour, i) => {
      const at = this.#under(tried, i, light);
      there.colours.forEach((other, j) => {
        const [reference, sample] = [seen(other, light), seen(colour, light)];
        const deltaE = deltaE2000(reference, sample);
        const blur = Math.max(BY_EYE.least, BY_EYE.share * deltaE) / MEAN_OF_THREE_AXES;
        const difference = apart(at, this.#under(there, j, light), { noise, blur });
        if (i === p && j === q) main = secondOrder(difference);
        addPairing(score, difference, {
          reference,
          sample,
          whites: twoWhites(other, colour),
          share: colour.share * other.share,
        });
      });
    });
    return [...main, score];
  }

  /** Displacements of a colour under a light. */
  #under(finish: PreparedFinish, colour: number, light: number): Triple {
    const moves = this.#moves(finish, colour);
    const doubt = light < 0 ? null : finish.colours[colour].doubts?.[light];
    return doubt ? this.#looked(finish, { colour, light, moves, lab: doubt.lab }) : moves;
  }

  #looked(
    finish: PreparedFinish,
    { colour, light, moves, lab }: { colour: number; light: number; moves: Triple; lab: readonly number[] },
  ): Triple {
    return this.#once(`look ${colour} ${light} ${finish.id}`, () => {
      const z = this.#unit(spectrumStream(finish.id));
      return mapped((k, t) => {
        let sum = moves[k][t];
        for (let u = 0; u < UNKNOWNS; u++) sum += lab[k * UNKNOWNS + u] * z[u][t];
        return sum;
      }, this.#draws);
    });
  }

  #moves(finish: PreparedFinish, colour: number): Triple {
    return this.#once(`move ${colour} ${finish.id}`, () =>
      wander(finish.colours[colour].root, this.#unit(colourStream(finish.id))),
    );
  }

  #read(moves: Triple, stream: string, deviation: number): Triple {
    const noise = this.#unit(`read again, ${stream}`);
    return mapped((k, t) => moves[k][t] + deviation * noise[k][t], this.#draws);
  }

  #unit(stream: string): Triple {
    return this.#once(`stream ${stream}`, () => unit(this.#seed, stream, this.#draws));
  }

  #once(key: string, work: () => Triple): Triple {
    const found = this.#done.get(key) ?? work();
    this.#done.set(key, found);
    return found;
  }
}

/** The place of a finish's largest colour. */
function largest({ colours }: PreparedFinish): number {
  return colours.reduce((best, { share }, i) => (share > colours[best].share ? i : best), 0);
}

function mapped(of: (axis: number, draw: number) => number, draws: number): Triple {
  const out: Triple = [new Float64Array(draws), new Float64Array(draws), new Float64Array(draws)];
  for (let k = 0; k < 3; k++) for (let t = 0; t < draws; t++) out[k][t] = of(k, t);
  return out;
}

/** Difference of two displacements as it is seen. */
function apart(sample: Triple, reference: Triple, { noise, blur }: { noise: Triple; blur: number }): Triple {
  return mapped((k, t) => sample[k][t] - reference[k][t] + blur * noise[k][t], noise[0].length);
}

/** Adds share × ln desirability of the pairing as it is seen in each draw. */
function addPairing(
  score: Float64Array,
  [dL, da, db]: Triple,
  { reference, sample, whites, share }: { reference: Lab; sample: Lab; whites: number; share: number },
): void {
  const form = localForm(reference, sample);
  const best = new Float64Array(3);
  offset(best, 0, { form, reference, sample });
  const [f0, f1, f2, , f4, f5, , , f8] = form;
  const [u0, u1, u2] = best;
  for (let t = 0; t < score.length; t++) {
    const x = u0 + f0 * dL[t] + f1 * da[t] + f2 * db[t];
    const y = u1 + f4 * da[t] + f5 * db[t];
    const z = u2 + f8 * db[t];
    score[t] += share * Math.log(pairingDesirability(Math.sqrt(x * x + y * y + z * z), whites));
  }
}

/** Three numbers, their squares and products. */
function secondOrder(y: Triple): Float64Array[] {
  const out: Float64Array[] = [...y];
  for (let i = 0; i < 3; i++) for (let j = i; j < 3; j++) out.push(y[i].map((value, t) => value * y[j][t]));
  return out;
}

/** Whether anything about a finish's colours by day is open. */
export function isDoubtful({ colours }: { colours: readonly Appearance[] }): boolean {
  return colours.some(({ root }) => root.some((value) => value !== 0));
}
