import {
  NOISE_FEATURE_COUNT,
  FEATURE_COUNT,
  features,
  noiseFeatures,
} from '../../../src/lib/photo/features.ts';
import { factor, inverseFromFactor, solveFactored } from '../../../src/lib/photo/gaussian.ts';
import { packFloats, packSymmetric } from '../../../src/lib/photo/packing.ts';
import {
  COEFFICIENT_COUNT,
  CONTEXT_COUNT,
  pictureContext,
  pictureGains,
  referenceContext,
} from '../../../src/lib/photo/prior.ts';
import type { PackedPrior, PackedPriors, Situation } from '../../../src/lib/photo/prior.ts';
import { CLIPPED_AT, linearOfLab, plainLab } from '../../../src/lib/photo/scaled-colour.ts';
import type { Lab } from '#lib/colour/index.ts';
import { decodeRgb } from '#lib/colour/index.ts';
import { Simulation, trueLab } from './photo-simulation.ts';
import type { Develop, World } from './photo-simulation.ts';

/**
 * Learning the priors of the correction by expectation-maximisation from simulated photographs: a random-effects
 * regression (Laird and Ware 1982, Biometrics 38(4)) with the photo as the group, its coefficients as the effects.
 */

/** Surfaces seen in each simulated photograph. */
const SURFACES_SEEN = 60;
/** The leading reference fits by construction: deviation of its equation, as in correction.ts. */
const LEADING_DEVIATION = 0.05;

/** Simulated photographs, as equations for the coefficients. */
interface Sheet {
  readonly photos: number;
  readonly rows: number;
  readonly contexts: Float64Array;
  readonly contextCount: number;
  readonly terms: Float64Array;
  readonly noise: Float64Array;
  /** What the gains leave, stride 3. */
  readonly rest: Float64Array;
  /** 1 counts, 0 does not (clipped); the last row of a photo is its leading reference. */
  readonly weight: Float64Array;
  readonly leading: boolean;
}

/** Delivered colours in linear rgb, as the photo area sees them. */
export function delivered(develop: Develop, surfaces: readonly Float64Array[]): Float64Array {
  return develop(surfaces).map((value) => decodeRgb(value, 'srgb'));
}

export function isClipped(rgb: ArrayLike<number>, at: number): boolean {
  return Math.max(rgb[at], rgb[at + 1], rgb[at + 2]) >= CLIPPED_AT;
}

/** A scene's pixels: some of the surfaces, each over a random share of the picture, now and then something white. */
function scene(simulation: Simulation, develop: Develop, surfaces: readonly Float64Array[]): Float32Array {
  const { random } = simulation;
  const count = 4 + random.below(37);
  const seen = surfaces.slice(0, count);
  if (random.uniform() < 0.4) seen.push(simulation.neutral('paper'));
  const rgb = delivered(develop, seen);
  const even = random.uniform() < 0.5;
  const shares = seen.map(() => (even ? 1 : random.normal() ** 2 + 0.02));
  const total = shares.reduce((sum, share) => sum + share, 0);
  const pixels: number[] = [];
  shares.forEach((share, s) => {
    const times = Math.max(Math.round((share / total) * 200), 1);
    for (let i = 0; i < times; i++) pixels.push(rgb[3 * s], rgb[3 * s + 1], rgb[3 * s + 2]);
  });
  return Float32Array.from(pixels);
}

interface Lead {
  readonly rgb: ArrayLike<number>;
  readonly lab: Lab;
}

function drawLead(situation: 'neutral' | 'coloured', simulation: Simulation, develop: Develop): Lead | null {
  const { random } = simulation;
  if (situation === 'neutral') {
    const surface = simulation.neutral(random.uniform() < 0.7 ? 'paper' : 'grey');
    const rgb = delivered(develop, [surface]);
    return isClipped(rgb, 0) ? null : { rgb, lab: trueLab(surface) };
  }
  const candidates = simulation.surfaces(1 + random.below(4));
  let best: (Lead & { score: number }) | null = null;
  const rgb = delivered(develop, candidates);
  candidates.forEach((surface, i) => {
    const own = rgb.subarray(3 * i, 3 * i + 3);
    const lab = trueLab(surface);
    const score = lab.L - 1.5 * Math.hypot(lab.a, lab.b);
    if (isClipped(own, 0) || Math.min(...own) < 1e-3 || Math.min(...linearOfLab(lab)) < 1e-3) return;
    if (Math.hypot(lab.a, lab.b) < 10) return;
    if (best === null || score > best.score) best = { rgb: own, lab, score };
  });
  return best;
}

/** Regression of the true ln gains on the picture's statistics, ridge, over its own simulated photographs. */
function learnPictureGains(world: World, photos: number): Float64Array {
  const simulation = new Simulation(world);
  const K = CONTEXT_COUNT.picture;
  const left = new Float64Array(K * K);
  const right = [new Float64Array(K), new Float64Array(K), new Float64Array(K)];
  const grey = new Float64Array(81).fill(0.4);
  for (let p = 0; p < photos; p++) {
    const develop = simulation.photograph();
    const context = pictureContext(scene(simulation, develop, simulation.surfaces(40)));
    if (context === null) continue;
    const rgb = delivered(develop, [grey]);
    for (let i = 0; i < K; i++) {
      for (let j = 0; j < K; j++) left[i * K + j] += context[i] * context[j];
      for (let c = 0; c < 3; c++) right[c][i] += context[i] * Math.log(0.4 / rgb[c]);
    }
  }
  for (let i = 0; i < K; i++) left[i * K + i] += 1;
  const lower = factor(left, K);
  const out = new Float64Array(3 * K);
  right.forEach((side, c) => out.set(solveFactored(lower, K, side), c * K));
  return out;
}

function simulate(situation: Situation, world: World, photos: number, regression: Float64Array): Sheet {
  const simulation = new Simulation(world);
  const leading = situation !== 'picture';
  const rows = SURFACES_SEEN + (leading ? 1 : 0);
  const contextCount = CONTEXT_COUNT[situation];
  const sheet: Sheet = {
    photos,
    rows,
    contextCount,
    contexts: new Float64Array(photos * contextCount),
    terms: new Float64Array(photos * rows * FEATURE_COUNT),
    noise: new Float64Array(photos * rows * NOISE_FEATURE_COUNT),
    rest: new Float64Array(photos * rows * 3),
    weight: new Float64Array(photos * rows),
    leading,
  };
  const plain = new Float64Array(3);
  for (let p = 0; p < photos;) {
    const develop = simulation.photograph();
    const surfaces = simulation.surfaces(SURFACES_SEEN);
    const rgb = delivered(develop, surfaces);
    let context: Float64Array;
    let gains: readonly number[];
    let lead: Lead | null = null;
    if (situation === 'picture') {
      const seen = pictureContext(scene(simulation, develop, surfaces));
      if (seen === null) continue;
      context = seen;
      gains = pictureGains(context, regression);
    } else {
      lead = drawLead(situation, simulation, develop);
      if (lead === null) continue;
      const truth = linearOfLab(lead.lab);
      gains = truth.map((value, c) => value / lead!.rgb[c]);
      context = referenceContext(situation, gains, lead.lab);
    }
    sheet.contexts.set(context, p * contextCount);
    for (let s = 0; s < rows; s++) {
      const row = p * rows + s;
      const isLead = s === SURFACES_SEEN;
      const source = isLead ? lead!.rgb : rgb.subarray(3 * s, 3 * s + 3);
      const lab = isLead ? lead!.lab : trueLab(surfaces[s]);
      const scaled = [source[0] * gains[0], source[1] * gains[1], source[2] * gains[2]] as const;
      plainLab(...scaled, plain, 0);
      features(...scaled, sheet.terms, row * FEATURE_COUNT);
      noiseFeatures(scaled, plain, sheet.noise, row * NOISE_FEATURE_COUNT);
      sheet.rest.set([lab.L - plain[0], lab.a - plain[1], lab.b - plain[2]], row * 3);
      sheet.weight[row] = isLead || !isClipped(source, 0) ? 1 : 0;
    }
    p++;
  }
  return sheet;
}

function identity(size: number, scale: number): Float64Array {
  const out = new Float64Array(size * size);
  for (let i = 0; i < size; i++) out[i * size + i] = scale;
  return out;
}

function inverse(matrix: Float64Array, size: number): Float64Array {
  return inverseFromFactor(factor(matrix, size), size);
}

/** Inverse of a lower triangular 3x3. */
function lowerInverse(t: Float64Array): Float64Array {
  const [a, , , d, e, , g, h, i] = t;
  return Float64Array.of(
    1 / a,
    0,
    0,
    -d / (a * e),
    1 / e,
    0,
    (d * h - e * g) / (a * e * i),
    -h / (e * i),
    1 / i,
  );
}

function product3(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) for (let k = 0; k < 3; k++) out[3 * i + j] += a[3 * i + k] * b[3 * k + j];
  }
  return out;
}

const D = COEFFICIENT_COUNT;
const F = FEATURE_COUNT;
const H = NOISE_FEATURE_COUNT;

/** Coefficient vectors (rows) turned by a 3x3 on the outputs. */
function turnRows(rows: Float64Array, turn: Float64Array): Float64Array {
  const out = new Float64Array(rows.length);
  for (let at = 0; at < rows.length; at += D) {
    for (let i = 0; i < 3; i++) {
      for (let k = 0; k < 3; k++) {
        const value = turn[3 * i + k];
        if (value !== 0) for (let f = 0; f < F; f++) out[at + i * F + f] += value * rows[at + k * F + f];
      }
    }
  }
  return out;
}

function turnCovariance(matrix: Float64Array, turn: Float64Array): Float64Array {
  const half = turnRows(matrix, turn);
  const flipped = new Float64Array(D * D);
  for (let i = 0; i < D; i++) for (let j = 0; j < D; j++) flipped[j * D + i] = half[i * D + j];
  return turnRows(flipped, turn);
}

/** What expectation-maximisation finds, in Lab coordinates. */
function learn(sheet: Sheet, rounds: number, report: (line: string) => void): PackedPrior {
  const { photos, rows, contextCount: K, contexts, terms, noise, rest, weight } = sheet;
  // Outputs are turned by `turn` so that the noise of the three has the same size and no correlation.
  let turn = identity(3, 1);
  let mean: Float64Array = new Float64Array(K * D);
  let covariance = identity(D, 9);
  const gamma = new Float64Array(H);
  gamma[0] = Math.log(4);
  const variance = new Float64Array(photos * rows);
  const squares = new Float64Array(photos * rows);
  const contextLower = (() => {
    const left = identity(K, 1e-3);
    for (let p = 0; p < photos; p++) {
      for (let i = 0; i < K; i++) {
        for (let j = 0; j < K; j++) left[i * K + j] += contexts[p * K + i] * contexts[p * K + j];
      }
    }
    return factor(left, K);
  })();
  const effects = new Float64Array(photos * D);
  const updateVariance = () => {
    for (let row = 0; row < variance.length; row++) {
      let sum = 0;
      for (let k = 0; k < H; k++) sum += noise[row * H + k] * gamma[k];
      variance[row] = Math.exp(Math.min(Math.max(sum, -8), 8));
      if (sheet.leading && row % rows === rows - 1) variance[row] = LEADING_DEVIATION ** 2;
    }
  };
  updateVariance();
  for (let round = 0; round < rounds; round++) {
    const precision = inverse(covariance, D);
    const spread = new Float64Array(D * D);
    const shape = new Float64Array(9);
    let counted = 0;
    for (let p = 0; p < photos; p++) {
      const prior = new Float64Array(D);
      for (let c = 0; c < K; c++) {
        const value = contexts[p * K + c];
        for (let d = 0; d < D; d++) prior[d] += value * mean[c * D + d];
      }
      const right = new Float64Array(D);
      for (let i = 0; i < D; i++) for (let j = 0; j < D; j++) right[i] += precision[i * D + j] * prior[j];
      const gram = new Float64Array(F * F);
      for (let s = 0; s < rows; s++) {
        const row = p * rows + s;
        const w = weight[row] / variance[row];
        if (w === 0) continue;
        const y = [0, 1, 2].map(
          (k) =>
            turn[3 * k] * rest[3 * row] +
            turn[3 * k + 1] * rest[3 * row + 1] +
            turn[3 * k + 2] * rest[3 * row + 2],
        );
        for (let f = 0; f < F; f++) {
          const t = w * terms[row * F + f];
          for (let g = 0; g <= f; g++) gram[f * F + g] += t * terms[row * F + g];
          for (let k = 0; k < 3; k++) right[k * F + f] += t * y[k];
        }
      }
      const own = precision.slice();
      for (let k = 0; k < 3; k++) {
        for (let f = 0; f < F; f++) {
          for (let g = 0; g <= f; g++) {
            own[(k * F + f) * D + k * F + g] += gram[f * F + g];
            if (g < f) own[(k * F + g) * D + k * F + f] += gram[f * F + g];
          }
        }
      }
      const lower = factor(own, D);
      const effect = solveFactored(lower, D, right);
      const doubt = inverseFromFactor(lower, D);
      effects.set(effect, p * D);
      for (let i = 0; i < D * D; i++) spread[i] += doubt[i];
      const back = lowerInverse(turn);
      for (let s = 0; s < rows; s++) {
        const row = p * rows + s;
        const off = new Float64Array(3);
        const left = new Float64Array(3);
        for (let k = 0; k < 3; k++) {
          let value =
            turn[3 * k] * rest[3 * row] +
            turn[3 * k + 1] * rest[3 * row + 1] +
            turn[3 * k + 2] * rest[3 * row + 2];
          let own2 = 0;
          for (let f = 0; f < F; f++) {
            const t = terms[row * F + f];
            value -= t * effect[k * F + f];
            let inner = 0;
            for (let g = 0; g < f; g++) inner += doubt[(k * F + f) * D + k * F + g] * terms[row * F + g];
            own2 += t * (2 * inner + doubt[(k * F + f) * D + k * F + f] * t);
          }
          off[k] = value;
          left[k] = own2;
        }
        squares[row] = (off[0] ** 2 + off[1] ** 2 + off[2] ** 2 + left[0] + left[1] + left[2]) / 3;
        if (weight[row] === 0 || (sheet.leading && s === rows - 1)) continue;
        // Noise in Lab coordinates, relative to its size.
        for (let i = 0; i < 3; i++) {
          for (let j = 0; j < 3; j++) {
            let value = 0;
            for (let a = 0; a < 3; a++) {
              for (let b = 0; b < 3; b++) {
                value += back[3 * i + a] * back[3 * j + b] * (off[a] * off[b] + (a === b ? left[a] : 0));
              }
            }
            shape[3 * i + j] += value / variance[row];
          }
        }
        counted++;
      }
    }
    // Mean: regression of the effects on the context; covariance: what it leaves, with the doubt of the effects.
    const sides = new Float64Array(K * D);
    for (let p = 0; p < photos; p++) {
      for (let c = 0; c < K; c++) {
        const value = contexts[p * K + c];
        for (let d = 0; d < D; d++) sides[c * D + d] += value * effects[p * D + d];
      }
    }
    mean = new Float64Array(K * D);
    for (let d = 0; d < D; d++) {
      const solution = solveFactored(
        contextLower,
        K,
        Float64Array.from({ length: K }, (_, c) => sides[c * D + d]),
      );
      for (let c = 0; c < K; c++) mean[c * D + d] = solution[c];
    }
    const next = spread;
    const left = new Float64Array(D);
    for (let p = 0; p < photos; p++) {
      for (let d = 0; d < D; d++) left[d] = effects[p * D + d];
      for (let c = 0; c < K; c++) {
        const value = contexts[p * K + c];
        for (let d = 0; d < D; d++) left[d] -= value * mean[c * D + d];
      }
      for (let i = 0; i < D; i++) for (let j = 0; j < D; j++) next[i * D + j] += left[i] * left[j];
    }
    for (let i = 0; i < D * D; i++) next[i] /= photos;
    for (let i = 0; i < D; i++) next[i * D + i] += 1e-6;
    covariance = next;
    learnNoise(sheet, squares, gamma);
    // The shape of the noise, and the turn that makes it round.
    const trace = (shape[0] + shape[4] + shape[8]) / 3;
    const lower = factor(
      shape.map((value) => value / trace),
      3,
    );
    const nextTurn = lowerInverse(lower);
    const change = product3(nextTurn, lowerInverse(turn));
    mean = turnRows(mean, change);
    covariance = turnCovariance(covariance, change);
    turn = nextTurn;
    updateVariance();
    report(
      `  round ${round + 1}: noise shape trace ${(trace / counted).toFixed(3)}, ln variance ${gamma[0].toFixed(2)}`,
    );
  }
  const back = lowerInverse(turn);
  const noiseShape = product3(
    back,
    Float64Array.from([0, 3, 6, 1, 4, 7, 2, 5, 8], (i) => back[i]),
  );
  const short = (value: number) => Number(value.toPrecision(6));
  return {
    mean: packFloats(turnRows(mean, back)),
    covariance: packSymmetric(turnCovariance(covariance, back), D),
    noise: Array.from(gamma, short),
    noiseShape: Array.from(noiseShape, short),
    calibration: { function: 1, noise: 1 },
  };
}

/** Gamma regression with logarithmic link of the squared noise on the noise features, a few Newton steps. */
function learnNoise(sheet: Sheet, squares: Float64Array, gamma: Float64Array): void {
  const { noise, weight, rows, leading } = sheet;
  for (let step = 0; step < 6; step++) {
    const gradient = new Float64Array(H);
    const hessian = identity(H, 1);
    for (let row = 0; row < squares.length; row++) {
      if (weight[row] === 0 || (leading && row % rows === rows - 1)) continue;
      let sum = 0;
      for (let k = 0; k < H; k++) sum += noise[row * H + k] * gamma[k];
      const off = squares[row] / Math.exp(sum) - 1;
      for (let i = 0; i < H; i++) {
        gradient[i] += noise[row * H + i] * off;
        for (let j = 0; j < H; j++) hessian[i * H + j] += noise[row * H + i] * noise[row * H + j];
      }
    }
    const change = solveFactored(factor(hessian, H), H, gradient);
    for (let k = 0; k < H; k++) gamma[k] += Math.min(Math.max(change[k], -1), 1);
  }
}

/** Learns the priors of all situations from one world's photographs. Calibration is left at 1. */
export function learnPriors(
  world: World,
  options: { photos: number; rounds: number; report: (line: string) => void },
): PackedPriors {
  const regression = learnPictureGains({ ...world, seed: world.seed + 7 }, options.photos);
  const one = (situation: Situation, seed: number): PackedPrior => {
    options.report(`${situation}: ${options.photos} photographs`);
    const sheet = simulate(situation, { ...world, seed }, options.photos, regression);
    return learn(sheet, options.rounds, options.report);
  };
  return {
    neutral: one('neutral', world.seed + 1),
    coloured: one('coloured', world.seed + 2),
    picture: one('picture', world.seed + 3),
    pictureGains: Array.from(regression, (value) => Number(value.toPrecision(7))),
  };
}
