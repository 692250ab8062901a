import { mayLead } from '../../../src/lib/photo/correction.ts';
import {
  NOISE_FEATURE_COUNT,
  PHOTO_NOISE_COUNT,
  FEATURE_COUNT,
  features,
  noiseFeatures,
} from '../../../src/lib/photo/features.ts';
import { factor, inverseFromFactor, solveFactored } from '../../../src/lib/photo/gaussian.ts';
import { packFloats, packSymmetric } from '../../../src/lib/photo/packing.ts';
import {
  COEFFICIENT_COUNT,
  CONTEXT_COUNT,
  photoNoise,
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

/** Whether a delivered colour has a channel at its end. */
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

/** A pale surface: a quarter of some colour, the rest grey. */
function tinted(simulation: Simulation): Float64Array {
  const [surface] = simulation.surfaces(1);
  const grey = simulation.random.between(0.3, 0.85);
  return surface.map((value) => 0.25 * value + 0.75 * grey);
}

function drawLead(situation: 'neutral' | 'coloured', simulation: Simulation, develop: Develop): Lead | null {
  const { random } = simulation;
  if (situation === 'neutral') {
    // Mostly paper and grey; some nearly neutral walls whose colour is known.
    const u = random.uniform();
    const surface =
      u < 0.65 ? simulation.neutral('paper') : u < 0.85 ? simulation.neutral('grey') : tinted(simulation);
    const rgb = delivered(develop, [surface]);
    const lab = trueLab(surface);
    const far = Math.hypot(lab.a, lab.b) > 12;
    return far || isClipped(rgb, 0) || !mayLead(rgb, lab) ? null : { rgb, lab };
  }
  const candidates = simulation.surfaces(1 + random.below(4));
  let best: (Lead & { score: number }) | null = null;
  const rgb = delivered(develop, candidates);
  candidates.forEach((surface, i) => {
    const own = rgb.subarray(3 * i, 3 * i + 3);
    const lab = trueLab(surface);
    const score = lab.L - 1.5 * Math.hypot(lab.a, lab.b);
    if (isClipped(own, 0) || !mayLead(own, lab)) return;
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
    if (Math.min(...rgb) < 1e-3) continue;
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
    noise: new Float64Array(photos * rows * H),
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
    const shared = photoNoise(situation, context);
    for (let s = 0; s < rows; s++) {
      const row = p * rows + s;
      const isLead = s === SURFACES_SEEN;
      const source = isLead ? lead!.rgb : rgb.subarray(3 * s, 3 * s + 3);
      const lab = isLead ? lead!.lab : trueLab(surfaces[s]);
      const scaled = [source[0] * gains[0], source[1] * gains[1], source[2] * gains[2]] as const;
      plainLab(...scaled, plain, 0);
      features(...scaled, sheet.terms, row * FEATURE_COUNT);
      noiseFeatures(scaled, plain, sheet.noise, row * H);
      sheet.noise.set(shared, row * H + NOISE_FEATURE_COUNT);
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

const D = COEFFICIENT_COUNT;
const F = FEATURE_COUNT;
const H = NOISE_FEATURE_COUNT + PHOTO_NOISE_COUNT;

/** What expectation-maximisation finds. */
function learn(sheet: Sheet, rounds: number, report: (line: string) => void): PackedPrior {
  const { photos, rows, contextCount: K, contexts, terms, rest, weight } = sheet;
  let mean: Float64Array = new Float64Array(K * D);
  let covariance: Float64Array = identity(D, 9);
  const gamma = new Float64Array(3 * H);
  for (let k = 0; k < 3; k++) gamma[k * H] = Math.log(4);
  const variance = new Float64Array(photos * rows * 3);
  const squares = new Float64Array(photos * rows * 3);
  const contextLower = contextFactor(sheet);
  const effects = new Float64Array(photos * D);
  const correlation = new Float64Array(9);
  const scales = new Float64Array(photos).fill(1);
  noiseVariance(sheet, gamma, scales, variance);
  for (let round = 0; round < rounds; round++) {
    const precision = inverseFromFactor(factor(covariance, D), D);
    const next = new Float64Array(D * D);
    correlation.fill(0);
    for (let p = 0; p < photos; p++) {
      const right = new Float64Array(D);
      const prior = expected(sheet, p, mean);
      for (let i = 0; i < D; i++) for (let j = 0; j < D; j++) right[i] += precision[i * D + j] * prior[j];
      const own = precision.slice();
      for (let s = 0; s < rows; s++) {
        const row = p * rows + s;
        if (weight[row] === 0) continue;
        for (let k = 0; k < 3; k++) {
          const w = weight[row] / variance[3 * row + k];
          for (let f = 0; f < F; f++) {
            const t = w * terms[row * F + f];
            const at = (k * F + f) * D + k * F;
            for (let g = 0; g <= f; g++) own[at + g] += t * terms[row * F + g];
            right[k * F + f] += t * rest[3 * row + k];
          }
        }
      }
      // `factor` reads the lower triangle only, and only that was added to.
      const lower = factor(own, D);
      const effect = solveFactored(lower, D, right);
      const doubt = inverseFromFactor(lower, D);
      effects.set(effect, p * D);
      for (let i = 0; i < D * D; i++) next[i] += doubt[i];
      for (let s = 0; s < rows; s++) {
        const row = p * rows + s;
        const off = [0, 0, 0];
        for (let k = 0; k < 3; k++) {
          let value = rest[3 * row + k];
          let left = 0;
          for (let f = 0; f < F; f++) {
            const t = terms[row * F + f];
            value -= t * effect[k * F + f];
            const at = (k * F + f) * D + k * F;
            let inner = 0;
            for (let g = 0; g < f; g++) inner += doubt[at + g] * terms[row * F + g];
            left += t * (2 * inner + doubt[at + f] * t);
          }
          off[k] = value / Math.sqrt(variance[3 * row + k]);
          squares[3 * row + k] = value * value + left;
        }
        if (weight[row] === 0 || (sheet.leading && s === rows - 1)) continue;
        for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) correlation[3 * i + j] += off[i] * off[j];
      }
    }
    mean = regressed(sheet, contextLower, effects);
    const left = new Float64Array(D);
    for (let p = 0; p < photos; p++) {
      const prior = expected(sheet, p, mean);
      for (let d = 0; d < D; d++) left[d] = effects[p * D + d] - prior[d];
      for (let i = 0; i < D; i++) for (let j = 0; j < D; j++) next[i * D + j] += left[i] * left[j];
    }
    for (let i = 0; i < D * D; i++) next[i] /= photos;
    for (let i = 0; i < D; i++) next[i * D + i] += 1e-6;
    covariance = next;
    for (let k = 0; k < 3; k++)
      learnNoise(sheet, squares, { scales, axis: k }, gamma.subarray(k * H, (k + 1) * H));
    photoScales(sheet, squares, variance, scales);
    noiseVariance(sheet, gamma, scales, variance);
    report(
      `  round ${round + 1}: ln noise variance at zero ${[0, 1, 2].map((k) => gamma[k * H].toFixed(2)).join(' ')}`,
    );
  }
  const short = (value: number) => Number(value.toPrecision(6));
  return {
    mean: packFloats(mean),
    covariance: packSymmetric(covariance, D),
    noise: Array.from(gamma, short),
    correlation: Array.from(correlation, (value, i) => {
      const [row, column] = [Math.floor(i / 3), i % 3];
      return short(value / Math.sqrt(correlation[4 * row] * correlation[4 * column]));
    }),
    calibration: { function: 1, noise: 1 },
  };
}

/** Cholesky factor of the regression on the contexts. */
function contextFactor(sheet: Sheet): Float64Array {
  const { photos, contexts, contextCount: K } = sheet;
  const left = identity(K, 1e-3);
  for (let p = 0; p < photos; p++) {
    for (let i = 0; i < K; i++) {
      for (let j = 0; j < K; j++) left[i * K + j] += contexts[p * K + i] * contexts[p * K + j];
    }
  }
  return factor(left, K);
}

/** Coefficients the context of a photo leads to expect. */
function expected(sheet: Sheet, photo: number, mean: Float64Array): Float64Array {
  const K = sheet.contextCount;
  const out = new Float64Array(D);
  for (let c = 0; c < K; c++) {
    const value = sheet.contexts[photo * K + c];
    for (let d = 0; d < D; d++) out[d] += value * mean[c * D + d];
  }
  return out;
}

/** Least squares of the photos' coefficients on their contexts. */
function regressed(sheet: Sheet, contextLower: Float64Array, effects: Float64Array): Float64Array {
  const { photos, contexts, contextCount: K } = sheet;
  const sides = new Float64Array(K * D);
  for (let p = 0; p < photos; p++) {
    for (let c = 0; c < K; c++) {
      const value = contexts[p * K + c];
      for (let d = 0; d < D; d++) sides[c * D + d] += value * effects[p * D + d];
    }
  }
  const mean = new Float64Array(K * D);
  for (let d = 0; d < D; d++) {
    const side = Float64Array.from({ length: K }, (_, c) => sides[c * D + d]);
    solveFactored(contextLower, K, side).forEach((value, c) => (mean[c * D + d] = value));
  }
  return mean;
}

/** How many equations the learned noise weighs in the scale of one photo's noise. */
const SCALE_WEIGHT = 15;

/**
 * How much larger the noise of each photo is than learned: the mean of an inverse-gamma posterior. Some lamps and
 * cameras are far from any smooth correction; without a scale of their own a few of them would set the noise of all.
 */
function photoScales(
  sheet: Sheet,
  squares: Float64Array,
  variance: Float64Array,
  scales: Float64Array,
): void {
  const { photos, rows, weight } = sheet;
  for (let p = 0; p < photos; p++) {
    let misfit = 0;
    let count = 0;
    for (let s = 0; s < SURFACES_SEEN; s++) {
      const row = p * rows + s;
      if (weight[row] === 0) continue;
      for (let k = 0; k < 3; k++) misfit += (squares[3 * row + k] / variance[3 * row + k]) * scales[p];
      count += 3;
    }
    scales[p] = (SCALE_WEIGHT + misfit) / (SCALE_WEIGHT + count);
  }
}

function noiseVariance(
  sheet: Sheet,
  gamma: Float64Array,
  scales: Float64Array,
  variance: Float64Array,
): void {
  const { noise, rows, leading } = sheet;
  for (let row = 0; row < variance.length / 3; row++) {
    for (let k = 0; k < 3; k++) {
      let sum = 0;
      for (let i = 0; i < H; i++) sum += noise[row * H + i] * gamma[k * H + i];
      const lead = leading && row % rows === rows - 1;
      const own = Math.exp(Math.min(Math.max(sum, -8), 8)) * scales[Math.floor(row / rows)];
      variance[3 * row + k] = lead ? LEADING_DEVIATION ** 2 : own;
    }
  }
}

/** Squared noise over its variance beyond which a surface counts no further. */
const FAR_OFF = 16;

/** Gamma regression with logarithmic link of the squared noise of one axis on the noise features, a few Newton steps. */
function learnNoise(
  sheet: Sheet,
  squares: Float64Array,
  own: { scales: Float64Array; axis: number },
  gamma: Float64Array,
): void {
  const { noise, weight, rows, leading } = sheet;
  for (let step = 0; step < 6; step++) {
    const gradient = new Float64Array(H);
    const hessian = identity(H, 1);
    for (let row = 0; row < weight.length; row++) {
      if (weight[row] === 0 || (leading && row % rows === rows - 1)) continue;
      let sum = 0;
      for (let k = 0; k < H; k++) sum += noise[row * H + k] * gamma[k];
      // Single surfaces far off count as this far: a robust mean.
      const scale = own.scales[Math.floor(row / rows)];
      const off = Math.min(squares[3 * row + own.axis] / scale / Math.exp(sum), FAR_OFF) - 1;
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
