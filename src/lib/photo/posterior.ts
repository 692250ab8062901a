import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { FEATURE_COUNT } from './features.ts';
import { factor, inverseFromFactor, solveFactored } from './gaussian.ts';
import { COEFFICIENT_COUNT } from './prior.ts';
import type { Prior } from './prior.ts';
import { GAIN_COUNT } from './scaled-colour.ts';

/**
 * The Gaussian posterior of a correction's coefficients, in the form that inverts only what the references span
 * (Rasmussen and Williams 2006, chapter 2), and what each reference says about the others.
 */

/** The reference as an equation: its terms, what the gains leave, how sure it is. */
export interface Equation {
  readonly reference: number;
  readonly leading: boolean;
  readonly terms: Float64Array;
  /** 3x3 effect of the gain shift on its Lab; zero for the leading reference. */
  readonly gainEffect: Float64Array;
  readonly rest: Float64Array;
  readonly covariance: Float64Array;
  readonly plain: Lab;
}

/** What the references leave of the prior. */
export interface Posterior {
  readonly coefficients: number[];
  readonly gainShift: [number, number, number];
  readonly covariance: Float64Array;
  readonly disagreements: (number | null)[];
  /** Squared Mahalanobis distance of each equation from what the others say. */
  readonly distances: (number | null)[];
  /** How much larger than stated the variance of everything looks from how the references fit; at least 1. */
  readonly doubtScale: number;
}

/** Everything unknown: the coefficients, then the gain shift. */
export const UNKNOWN_COUNT = COEFFICIENT_COUNT + GAIN_COUNT;

const SIZE = UNKNOWN_COUNT;

/** Squared Mahalanobis distance (3 degrees of freedom) beyond which a reference contradicts the rest: 99.9 %. */
export const CONTRADICTION = 16.27;

/** Gaussian posterior of coefficients and gain shift, with equations that contradict the rest trusted less. */
export function solve(
  prior: Prior,
  context: Float64Array,
  gainPrior: Float64Array,
  equations: readonly Equation[],
): Posterior {
  const mean = new Float64Array(SIZE);
  for (let c = 0; c < context.length; c++) {
    for (let k = 0; k < COEFFICIENT_COUNT; k++) mean[k] += context[c] * prior.mean[c * COEFFICIENT_COUNT + k];
  }
  const covariance = new Float64Array(SIZE * SIZE);
  for (let i = 0; i < COEFFICIENT_COUNT; i++) {
    for (let j = 0; j < COEFFICIENT_COUNT; j++)
      covariance[i * SIZE + j] = prior.covariance[i * COEFFICIENT_COUNT + j];
  }
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++)
      covariance[(COEFFICIENT_COUNT + i) * SIZE + COEFFICIENT_COUNT + j] = gainPrior[3 * i + j];
  }
  const n = 3 * equations.length;
  let doubtScale = 1;
  const distances = equations.map((): number | null => null);
  const disagreements = equations.map((): number | null => null);
  if (n > 0) {
    // Rows of H S, then H S H'.
    const cross = new Float64Array(n * SIZE);
    const outer = new Float64Array(n * n);
    const rest = new Float64Array(n);
    equations.forEach((equation, e) => {
      for (let k = 0; k < 3; k++) {
        const row = cross.subarray((3 * e + k) * SIZE, (3 * e + k + 1) * SIZE);
        for (let f = 0; f < FEATURE_COUNT; f++) {
          const at = (k * FEATURE_COUNT + f) * SIZE;
          for (let d = 0; d < SIZE; d++) row[d] += equation.terms[f] * covariance[at + d];
        }
        for (let g = 0; g < GAIN_COUNT; g++) {
          const at = (COEFFICIENT_COUNT + g) * SIZE;
          for (let d = 0; d < SIZE; d++) row[d] += equation.gainEffect[3 * k + g] * covariance[at + d];
        }
      }
    });
    equations.forEach((equation, e) => {
      for (let k = 0; k < 3; k++) {
        const column = 3 * e + k;
        for (let row = 0; row < n; row++) outer[row * n + column] = applied(equation, k, cross, row * SIZE);
        rest[column] = equation.rest[k] - applied(equation, k, mean, 0);
      }
    });
    const trust = equations.map(() => 1);
    let inverse: Float64Array = new Float64Array(0);
    for (let round = 0; ; round++) {
      const total = outer.slice();
      equations.forEach((equation, e) => {
        for (let i = 0; i < 3; i++) {
          for (let j = 0; j < 3; j++)
            total[(3 * e + i) * n + 3 * e + j] += equation.covariance[3 * i + j] / trust[e];
        }
      });
      inverse = inverseFromFactor(factor(total, n), n);
      if (round === 0 && equations.length > 1)
        leaveOneOut(equations, inverse, rest, distances, disagreements);
      if (round === 2 || equations.length < 3) break;
      const fresh = equations.map((): number | null => null);
      leaveOneOut(equations, inverse, rest, fresh, []);
      let changed = false;
      fresh.forEach((distance, e) => {
        if (!equations[e].leading && distance !== null && distance > CONTRADICTION) {
          trust[e] = Math.min(trust[e], CONTRADICTION / distance / 4);
          changed = true;
        }
      });
      if (!changed) break;
    }
    const weighted = new Float64Array(n);
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) weighted[i] += inverse[i * n + j] * rest[j];
    doubtScale = scaleOf(equations, rest, weighted);
    for (let d = 0; d < SIZE; d++) for (let i = 0; i < n; i++) mean[d] += cross[i * SIZE + d] * weighted[i];
    const reduction = new Float64Array(n * SIZE);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) {
        const value = inverse[i * n + j];
        for (let d = 0; d < SIZE; d++) reduction[i * SIZE + d] += value * cross[j * SIZE + d];
      }
    }
    for (let i = 0; i < n; i++) {
      for (let a = 0; a < SIZE; a++) {
        const value = cross[i * SIZE + a];
        if (value === 0) continue;
        for (let b = 0; b < SIZE; b++) covariance[a * SIZE + b] -= value * reduction[i * SIZE + b];
      }
    }
  }
  return {
    coefficients: Array.from(mean.subarray(0, COEFFICIENT_COUNT)),
    gainShift: [mean[COEFFICIENT_COUNT], mean[COEFFICIENT_COUNT + 1], mean[COEFFICIENT_COUNT + 2]],
    covariance,
    disagreements,
    distances,
    doubtScale,
  };
}

/** How many equations the learned scale of the doubt is worth. */
const SCALE_WEIGHT = 15;

/**
 * Cameras and lamps differ in how far they are from any smooth correction. Where the references fit worse than the
 * prior expects, everything is scaled: the mean of an inverse-gamma posterior (a Student process; Shah, Wilson and
 * Ghahramani 2014, AISTATS). Never below 1: a target that fits well says little about other surfaces, and regions
 * shrunk to its fit are too small.
 */
function scaleOf(equations: readonly Equation[], rest: Float64Array, weighted: Float64Array): number {
  let misfit = 0;
  let count = 0;
  equations.forEach((equation, e) => {
    if (equation.leading) return;
    for (let k = 0; k < 3; k++) misfit += rest[3 * e + k] * weighted[3 * e + k];
    count += 3;
  });
  return Math.max((SCALE_WEIGHT + misfit) / (SCALE_WEIGHT + count), 1);
}

/** Output k of an equation applied to a vector of coefficients and gain shift that starts at `at`. */
function applied(equation: Equation, k: number, vector: Float64Array, at: number): number {
  let sum = 0;
  for (let f = 0; f < FEATURE_COUNT; f++) sum += equation.terms[f] * vector[at + k * FEATURE_COUNT + f];
  for (let g = 0; g < GAIN_COUNT; g++)
    sum += equation.gainEffect[3 * k + g] * vector[at + COEFFICIENT_COUNT + g];
  return sum;
}

/**
 * How far each equation lies from what all others predict for it, from the inverse of the joint covariance
 * (Rasmussen and Williams 2006, equation 5.12, in blocks of three).
 */
function leaveOneOut(
  equations: readonly Equation[],
  inverse: Float64Array,
  rest: Float64Array,
  distances: (number | null)[],
  disagreements: (number | null)[],
): void {
  const n = 3 * equations.length;
  equations.forEach((equation, e) => {
    const block = new Float64Array(9);
    const weighted = new Float64Array(3);
    for (let i = 0; i < 3; i++) {
      for (let j = 0; j < 3; j++) block[3 * i + j] = inverse[(3 * e + i) * n + 3 * e + j];
      for (let j = 0; j < n; j++) weighted[i] += inverse[(3 * e + i) * n + j] * rest[j];
    }
    const off = solveFactored(factor(block, 3), 3, weighted);
    distances[e] = off[0] * weighted[0] + off[1] * weighted[1] + off[2] * weighted[2];
    const { L, a, b } = equation.plain;
    const truth = { L: L + equation.rest[0], a: a + equation.rest[1], b: b + equation.rest[2] };
    const predicted = { L: truth.L - off[0], a: truth.a - off[1], b: truth.b - off[2] };
    disagreements[e] = deltaE2000(truth, predicted);
  });
}
