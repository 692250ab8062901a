import type { Lab } from '#lib/colour/index.ts';
import { ILLUMINANT_NAMES, deltaE2000 } from '#lib/colour/index.ts';
import { estimateCorrection, fitCorrection } from '../../../src/lib/photo/correction.ts';
import type { Correction, ReferencePatch } from '../../../src/lib/photo/correction.ts';
import { correctedLab } from '../../../src/lib/photo/corrected-colour.ts';
import type { Priors, Situation } from '../../../src/lib/photo/prior.ts';
import { linearOfLab, plainLab } from '../../../src/lib/photo/scaled-colour.ts';
import { delivered, isClipped } from './photo-learning.ts';
import { CAMERAS, SURFACES, Simulation, TARGET, trueLab } from './photo-simulation.ts';
import { Random } from './random.ts';
import type { Development, World } from './photo-simulation.ts';

/**
 * Factors on the function and the noise part of a stated covariance, found by photo-prior.ts --judge: where the stated
 * regions cover about 95 % of what was held out. The learned spread spans odder photographs than most; a lone coloured
 * reference is trusted too much otherwise.
 */
export const CALIBRATION: Readonly<Record<Situation, { function: number; noise: number }>> = {
  neutral: { function: 0.75, noise: 1.2 },
  coloured: { function: 1, noise: 1.3 },
  picture: { function: 0.6, noise: 1 },
};

/** The calibration that applies to a method. */
export function calibrationOf(method: Method): { function: number; noise: number } {
  return CALIBRATION[method === 'nothing' ? 'picture' : method === 'paints' ? 'coloured' : 'neutral'];
}

/** How the judged cameras develop: narrower than what was learned from, and in two ways. */
export const JUDGED: Readonly<Record<'matrix for daylight' | 'matrix for any light', Development>> = {
  'matrix for daylight': {
    matrixLight: [1, 0, 0, 0],
    exposure: [0.65, 1],
    balance: [0.06, 0.02],
    tone: [0, 0.02],
    gamma: 0.02,
    saturation: 0.01,
  },
  'matrix for any light': {
    matrixLight: [0.4, 0.25, 0.05, 0.3],
    exposure: [0.65, 1],
    balance: [0.06, 0.02],
    tone: [0.02, 0.015],
    gamma: 0,
    saturation: 0,
  },
};

/** Surfaces, lamps and cameras set apart for judging; the rest may be learned from. */
export interface HoldOut {
  readonly learn: Pick<World, 'cameras' | 'lamps' | 'surfaces'>;
  readonly judge: Pick<World, 'cameras' | 'lamps' | 'surfaces'>;
}

/** The fold whose cameras the repository's test keeps apart. */
export const TEST_FOLD = 1;

/** Every second lamp of each family and 60 of the 190 surfaces, drawn once with a fixed seed; two cameras a fold. */
export function holdOut(fold: number): HoldOut {
  const random = new Random(77);
  const order = SURFACES.map((surface) => ({ surface, key: random.uniform() })).sort((a, b) => a.key - b.key);
  const rooms = ILLUMINANT_NAMES.filter((name) => !name.startsWith('HP'));
  const judged = [2 * fold, 2 * fold + 1];
  return {
    learn: {
      cameras: CAMERAS.map((_, i) => i).filter((i) => !judged.includes(i)),
      lamps: ILLUMINANT_NAMES.filter((name) => !rooms.includes(name) || rooms.indexOf(name) % 2 === 0),
      surfaces: order.slice(60).map(({ surface }) => surface),
    },
    judge: {
      cameras: judged,
      lamps: rooms.filter((name) => rooms.indexOf(name) % 2 === 1),
      surfaces: order.slice(0, 60).map(({ surface }) => surface),
    },
  };
}

/**
 * What is known in the judged photographs: nothing; white paper, by gains alone and by the correction; five paints
 * without paper; paper and five paints; the 24-patch target.
 */
export const METHODS = ['as delivered', 'nothing', 'gains', 'white', 'paints', 'five', 'target'] as const;
export type Method = (typeof METHODS)[number];

/** One measured colour against its truth. */
export interface Judged {
  readonly deltaE: number;
  /** Whether the nearest of the photo's surfaces, by CIEDE2000, is the right one. */
  readonly nearest: boolean;
  /** True chroma. */
  readonly chroma: number;
  /** Squared Mahalanobis parts: off, function covariance and noise covariance, to try calibrations on. */
  readonly off: readonly number[];
  readonly functionPart: readonly number[];
  readonly noisePart: readonly number[];
}

export type Results = Record<Method, Judged[]>;

/** Surfaces as rooms have them: measured ones and their mixtures, half of them well on the way to grey. */
function roomSurfaces(simulation: Simulation, count: number): Float64Array[] {
  const { random } = simulation;
  return Array.from({ length: count }, () => {
    const [first, second] = simulation.surfaces(2);
    const share = random.uniform() < 0.5 ? 0 : random.uniform();
    const pale = random.uniform() < 0.5 ? 0 : random.between(0, 0.7);
    const grey = Math.exp(random.between(Math.log(0.15), Math.log(0.85)));
    return first.map((value, i) => (1 - pale) * ((1 - share) * value + share * second[i]) + pale * grey);
  });
}

/** Judges every method on photographs of one world. Photographs whose paper is clipped are taken again. */
export function judge(world: World, options: { photos: number; surfaces: number; priors?: Priors }): Results {
  const simulation = new Simulation(world);
  const results = Object.fromEntries(METHODS.map((method) => [method, []])) as unknown as Results;
  const { priors } = options;
  const targetLabs = TARGET.map(trueLab);
  for (let p = 0; p < options.photos;) {
    const develop = simulation.photograph();
    const paper = simulation.neutral('paper');
    const paperRgb = delivered(develop, [paper]);
    const surfaces = roomSurfaces(simulation, options.surfaces + 5);
    if (isClipped(paperRgb, 0)) continue;
    p++;
    const rgb = delivered(develop, surfaces);
    const labs = surfaces.map(trueLab);
    const patch = (
      kind: ReferencePatch['kind'],
      from: ArrayLike<number>,
      lab: Lab,
      at: number,
    ): ReferencePatch => {
      const own: [number, number, number] = [from[at], from[at + 1], from[at + 2]];
      return { kind, rgb: own, clippedShare: isClipped(own, 0) ? 1 : 0, lab };
    };
    const white = patch('white-paper', paperRgb, trueLab(paper), 0);
    const known = [0, 1, 2, 3, 4].map((i) => patch('known', rgb, labs[i], 3 * i));
    const targetRgb = delivered(develop, TARGET);
    const target = TARGET.map((_, i) => ({
      ...patch('target24', targetRgb, targetLabs[i], 3 * i),
      index: i + 1,
    }));
    const corrections: Partial<Record<Method, Correction>> = {
      nothing: estimateCorrection(Float32Array.from(rgb), priors),
      white: fitCorrection([white], undefined, priors),
      paints: fitCorrection(known, undefined, priors),
      five: fitCorrection([white, ...known], undefined, priors),
      target: fitCorrection(target, undefined, priors),
    };
    const paperTruth = linearOfLab(white.lab);
    for (let s = 5; s < surfaces.length; s++) {
      const own: [number, number, number] = [rgb[3 * s], rgb[3 * s + 1], rgb[3 * s + 2]];
      results['as delivered'].push(plainly(s, labs, own));
      if (isClipped(own, 0)) continue;
      results.gains.push(
        plainly(
          s,
          labs,
          own.map((value, c) => (value / white.rgb[c]) * paperTruth[c]),
        ),
      );
      for (const method of METHODS) {
        const correction = corrections[method];
        if (correction) results[method].push(corrected(s, labs, correction, own));
      }
    }
  }
  return results;
}

const NOTHING = new Array<number>(9).fill(0);

/** Candidates are the photo's judged surfaces, without the five known paints. */
function isNearest(s: number, labs: readonly Lab[], measured: Lab): boolean {
  const own = deltaE2000(labs[s], measured);
  return labs.every((lab, i) => i < 5 || i === s || deltaE2000(lab, measured) >= own);
}

function plainly(s: number, labs: readonly Lab[], rgb: readonly number[]): Judged {
  const truth = labs[s];
  const lab = new Float64Array(3);
  plainLab(rgb[0], rgb[1], rgb[2], lab, 0);
  const measured = { L: lab[0], a: lab[1], b: lab[2] };
  const deltaE = deltaE2000(truth, measured);
  const nearest = isNearest(s, labs, measured);
  return {
    deltaE,
    nearest,
    chroma: Math.hypot(truth.a, truth.b),
    off: [],
    functionPart: NOTHING,
    noisePart: NOTHING,
  };
}

function corrected(
  s: number,
  labs: readonly Lab[],
  correction: Correction,
  rgb: readonly [number, number, number],
): Judged {
  const truth = labs[s];
  const { lab, covariance } = correctedLab(recalibrated(correction, 1), rgb);
  const noiseOnly = correctedLab(recalibrated(correction, 0), rgb).covariance;
  return {
    deltaE: deltaE2000(truth, lab),
    nearest: isNearest(s, labs, lab),
    chroma: Math.hypot(truth.a, truth.b),
    off: [truth.L - lab.L, truth.a - lab.a, truth.b - lab.b],
    functionPart: covariance.map((value, k) => value - noiseOnly[k]),
    noisePart: noiseOnly,
  };
}

const variants = new WeakMap<Correction, Correction[]>();

/** The correction with its function covariance whole (1) or left out (0), the noise whole. */
function recalibrated(correction: Correction, share: 0 | 1): Correction {
  let known = variants.get(correction);
  if (!known) {
    known = [0, 1].map((part) => ({ ...correction, calibration: { function: part, noise: 1 } }));
    variants.set(correction, known);
  }
  return known[share];
}

/** What a set of judged colours comes to. */
export interface Summary {
  readonly mean: number;
  readonly p95: number;
  /** Share of truths inside the stated 95 % region, and the mean stated deviation of one axis. */
  readonly coverage: number;
  readonly deviation: number;
  /** Share of colours whose nearest candidate is the right one. */
  readonly nearest: number;
}

/** 95 % of a chi-squared distribution with 3 degrees of freedom. */
const CHI_95 = 7.815;

export function summarise(judged: readonly Judged[], calibration = { function: 1, noise: 1 }): Summary {
  const errors = judged.map(({ deltaE }) => deltaE).sort((a, b) => a - b);
  let covered = 0;
  let deviation = 0;
  for (const { off, functionPart, noisePart } of judged) {
    const c = functionPart.map((value, k) => calibration.function * value + calibration.noise * noisePart[k]);
    deviation += (Math.sqrt(c[0]) + Math.sqrt(c[4]) + Math.sqrt(c[8])) / 3 / judged.length;
    if (off.length === 3 && mahalanobis(off, c) < CHI_95) covered++;
  }
  return {
    mean: errors.reduce((sum, value) => sum + value, 0) / errors.length,
    p95: errors[Math.floor(0.95 * (errors.length - 1))],
    coverage: covered / judged.length,
    deviation,
    nearest: judged.filter(({ nearest }) => nearest).length / judged.length,
  };
}

/** Squared distance `off' C^-1 off`. */
function mahalanobis(off: readonly number[], c: readonly number[]): number {
  const [a, b, d, , e, f, , , g] = c;
  const l00 = Math.sqrt(a);
  const l10 = b / l00;
  const l20 = d / l00;
  const l11 = Math.sqrt(e - l10 * l10);
  const l21 = (f - l10 * l20) / l11;
  const l22 = Math.sqrt(g - l20 * l20 - l21 * l21);
  const y0 = off[0] / l00;
  const y1 = (off[1] - l10 * y0) / l11;
  const y2 = (off[2] - l20 * y0 - l21 * y1) / l22;
  return y0 * y0 + y1 * y1 + y2 * y2;
}

export function summaryLine(name: string, summary: Summary): string {
  const { mean, p95, coverage, deviation } = summary;
  const doubt = deviation > 0 ? `, covered ${coverage.toFixed(3)}, sd ${deviation.toFixed(2)}` : '';
  return `${name.padEnd(13)} ${mean.toFixed(2)} / ${p95.toFixed(2)}, nearest right ${summary.nearest.toFixed(2)}${doubt}`;
}
