/**
 * Derives src/lib/colour/data/reflectance-prior.ts, and prints how well reflectances are recovered on rows held out.
 *
 *   node test/authoring/train/recovery.ts            measure
 *   node test/authoring/train/recovery.ts --write    derive the table and write it
 *
 * Curves: reflectance_training190.csv and target24_reflectance.csv (sources in their first lines), CIE 13.3 samples 1-14.
 * Nothing is random but the folds of the cross-validation, which come from a seeded generator.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { TEST_COLOUR_SAMPLES } from '../../../src/lib/colour/data/test-colour-samples.ts';
import { illuminant } from '../../../src/lib/colour/illuminant.ts';
import type { Lab } from '../../../src/lib/colour/lab.ts';
import { labToXyz } from '../../../src/lib/colour/lab.ts';
import { reflectanceDoubt } from '../../../src/lib/colour/reflectance-doubt.ts';
import type { ReflectanceDoubt } from '../../../src/lib/colour/reflectance-doubt.ts';
import {
  PACKED_SCALE,
  SHAPES,
  bandImportance,
  realSurfaces,
  unpackPrior,
} from '../../../src/lib/colour/reflectance-prior.ts';
import type { PackedPrior, ReflectancePrior } from '../../../src/lib/colour/reflectance-prior.ts';
import { reflectanceSolver } from '../../../src/lib/colour/reflectance-solver.ts';
import type { ReflectanceSolver } from '../../../src/lib/colour/reflectance-solver.ts';
import { WHITE_D65_10, spectrumToXyz } from '../../../src/lib/colour/tristimulus.ts';
import { KIND_NAMES, coloursOf } from './recovery-colours.ts';
import {
  CLASSES,
  LAMPS,
  SIGHT,
  coverage,
  errors,
  folds,
  judge,
  lookErrors,
  summary,
  wideningFor,
} from './recovery-judging.ts';
import type { Judged } from './recovery-judging.ts';
import { compareTable } from './table-judging.ts';

const PUBLISHED = new URL('../../fixtures/published/', import.meta.url);
const N = 81;

/** Components kept; more change nothing in cross-validation, fewer than 10 lose accuracy. */
const RANK = 16;

/** Reflectances are kept this far from 0 and 1 before the logit; instruments print 0 and, with fluorescence, above 1. */
const EDGE = 0.005;

/** Columns of a published reflectance table, 81 values each; lines that begin with # are its source. */
export function readCurves(file: string): Float64Array[] {
  const rows = readFileSync(new URL(file, PUBLISHED), 'utf8')
    .trim()
    .split(/\r?\n/)
    .filter((line) => !line.startsWith('#'))
    .slice(1)
    .map((line) => line.split(',').map(Number));
  if (rows.length !== N) throw new Error(`Expected ${N} rows in ${file}, got ${rows.length}`);
  return rows[0].slice(1).map((_, column) => Float64Array.from(rows, (row) => row[column + 1]));
}

/** Curves that a surface without fluorescence can have. */
export function allCurves(): { training: Float64Array[]; target: Float64Array[]; rendering: Float64Array[] } {
  return {
    training: readCurves('reflectance_training190.csv'),
    target: readCurves('target24_reflectance.csv'),
    rendering: Object.values(TEST_COLOUR_SAMPLES).map((curve) => Float64Array.from(curve)),
  };
}

function logit(v: number): number {
  return Math.log(v / (1 - v));
}

/** Mean, components and scores of the logit of some curves, as whole numbers. */
export function derivePrior(curves: readonly Float64Array[], rank = RANK): PackedPrior {
  const logits = curves.map((curve) => curve.map((v) => logit(Math.min(Math.max(v, EDGE), 1 - EDGE))));
  const mean = new Float64Array(N);
  for (const row of logits) row.forEach((v, j) => (mean[j] += v / logits.length));
  const covariance = Array.from({ length: N }, () => new Float64Array(N));
  for (const row of logits) {
    for (let i = 0; i < N; i++) {
      for (let j = 0; j < N; j++) {
        covariance[i][j] += ((row[i] - mean[i]) * (row[j] - mean[j])) / logits.length;
      }
    }
  }
  let variance = 0;
  for (let i = 0; i < N; i++) variance += covariance[i][i] / N;
  const components = principal(covariance, rank);
  const scores = logits.map((row) =>
    components.map((component) => component.reduce((sum, c, j) => sum + c * (row[j] - mean[j]), 0)),
  );
  const whole = (values: Iterable<number>, scale: number): number[] =>
    Array.from(values, (v) => Math.round(v * scale) + 0);
  return {
    mean: whole(mean, PACKED_SCALE.mean),
    components: whole(
      components.flatMap((c) => [...c]),
      PACKED_SCALE.components,
    ),
    scores: whole(scores.flat(), PACKED_SCALE.scores),
    shapes: whole(
      shapesOf(covariance).flatMap((c) => [...c]),
      PACKED_SCALE.shapes,
    ),
    rank,
    variance: Math.round(variance * 1e4) / 1e4,
  };
}

/** Components of the covariance where bands count by what the eye sees of them. */
function shapesOf(covariance: readonly Float64Array[]): Float64Array[] {
  const root = bandImportance().map(Math.sqrt);
  return principal(
    covariance.map((row, i) => row.map((v, j) => v * root[i] * root[j])),
    SHAPES,
  );
}

/** Leading eigenvectors of a symmetric matrix by cyclic Jacobi rotations, each with its largest entry positive. */
export function principal(matrix: readonly Float64Array[], rank: number): Float64Array[] {
  const a = matrix.map((row) => row.slice());
  const v = a.map((_, i) => Float64Array.from(a, (_, j) => (i === j ? 1 : 0)));
  for (let sweep = 0; sweep < 30; sweep++) {
    let off = 0;
    for (let p = 0; p < N; p++) for (let q = 0; q < p; q++) off += a[p][q] ** 2;
    if (off < 1e-22) break;
    for (let p = 0; p < N; p++) {
      for (let q = p + 1; q < N; q++) {
        if (a[p][q] === 0) continue;
        const theta = (a[q][q] - a[p][p]) / (2 * a[p][q]);
        const t = (theta < 0 ? -1 : 1) / (Math.abs(theta) + Math.hypot(theta, 1));
        const c = 1 / Math.hypot(t, 1);
        const s = t * c;
        for (let k = 0; k < N; k++) {
          [a[k][p], a[k][q]] = [c * a[k][p] - s * a[k][q], s * a[k][p] + c * a[k][q]];
          [v[k][p], v[k][q]] = [c * v[k][p] - s * v[k][q], s * v[k][p] + c * v[k][q]];
        }
        for (let k = 0; k < N; k++) {
          [a[p][k], a[q][k]] = [c * a[p][k] - s * a[q][k], s * a[p][k] + c * a[q][k]];
        }
      }
    }
  }
  const order = Array.from({ length: N }, (_, i) => i).sort((i, j) => a[j][j] - a[i][i]);
  return order.slice(0, rank).map((column) => {
    const vector = Float64Array.from(v, (row) => row[column]);
    const largest = vector.reduce((best, value) => (Math.abs(value) > Math.abs(best) ? value : best), 0);
    return largest < 0 ? vector.map((value) => -value) : vector;
  });
}

/**
 * Least slope of the hyperbolic tangent (Burns 2020): the same solver with no curves, whose covariance is the inverse of
 * the squared first differences of the logit.
 */
function leastSlope(): ReflectancePrior {
  const d = Array.from({ length: N }, (_, i) =>
    Float64Array.from({ length: 2 * N }, (_, j) => {
      if (j === i + N) return 1;
      if (j === i) return (i === 0 || i === N - 1 ? 1 : 2) + 1e-7;
      return Math.abs(i - j) === 1 && j < N ? -1 : 0;
    }),
  );
  for (let p = 0; p < N; p++) {
    const pivot = d[p][p];
    for (let j = 0; j < 2 * N; j++) d[p][j] /= pivot;
    for (let i = 0; i < N; i++) {
      if (i === p || d[i][p] === 0) continue;
      const factor = d[i][p];
      for (let j = 0; j < 2 * N; j++) d[i][j] -= factor * d[p][j];
    }
  }
  const none = new Float64Array(0);
  const kernel = Float64Array.from({ length: N * N }, (_, i) => d[Math.floor(i / N)][N + (i % N)]);
  return {
    mean: new Float64Array(N),
    components: none,
    rank: 0,
    scores: none,
    shapes: none,
    count: 0,
    learned: 0,
    kernel,
  };
}

/** A curve without fluorescence, so that a reflectance can be recovered at all. */
export function isReflectance(curve: Float64Array): boolean {
  return curve.every((v) => v >= 0 && v <= 1);
}

/** A solver for D65 and 10 degrees that knows these curves only. */
export function solverFrom(curves: readonly Float64Array[]): ReflectanceSolver {
  return reflectanceSolver(unpackPrior(derivePrior(curves)), SIGHT);
}

/** The doubt of `solverFrom`. */
export function doubtFrom(curves: readonly Float64Array[]): ReflectanceDoubt {
  return reflectanceDoubt(solverFrom(curves));
}

function printCoverage(name: string, judged: readonly Judged[]): void {
  const parts = CLASSES.flatMap((kind) => {
    const of = judged.filter((one) => kind.holds(one.lab));
    return of.length > 0 ? [`${kind.name} ${coverage(of).toFixed(3)} (${of.length})`] : [];
  });
  console.log(`${name}\n  ${parts.join(', ')}`);
}

/** Finishes whose spread is printed. */
const TYPICAL: Record<string, Lab> = {
  'mid grey': { L: 55, a: 0, b: 1 },
  'deep green': { L: 32, a: -14, b: 7 },
  'off-white': { L: 93, a: -1, b: 5 },
  clay: { L: 52, a: 17, b: 22 },
};

function printSpread(doubt: ReflectanceDoubt): void {
  for (const [name, lab] of Object.entries(TYPICAL)) {
    const sds = (['LED-B1', 'FL11'] as const).map((lamp) => {
      const { covariance } = doubt.look(labToXyz(lab, WHITE_D65_10), illuminant(lamp));
      return `${lamp} ${[0, 4, 8].map((i) => Math.sqrt(covariance[i]).toFixed(2)).join(' / ')}`;
    });
    console.log(`sd of L*, a*, b*, ${name}: ${sds.join(', ')}`);
  }
}

/**
 * How much of what is wrong with the looks of curves held out the shapes behind the 12 directions can express: their
 * variance in Lab under the lamps, before and after the error's part on the shapes is put right.
 */
function printShare(curves: readonly Float64Array[], known: readonly Float64Array[]): void {
  const solver = solverFrom(known);
  const root = bandImportance().map(Math.sqrt);
  const square = (values: readonly number[]): number => values.reduce((sum, v) => sum + v * v, 0);
  let all = 0;
  let left = 0;
  for (const curve of curves) {
    const { reflectance } = solver.nearest(spectrumToXyz(curve, SIGHT));
    const x = reflectance.map(logit);
    const error = curve.map((v, j) => logit(Math.min(Math.max(v, EDGE), 1 - EDGE)) - x[j]);
    for (let k = 0; k < SHAPES; k++) {
      const row = solver.prior.shapes.subarray(k * N, k * N + N);
      const along = row.reduce((sum, v, j) => sum + v * root[j] * error[j], 0);
      row.forEach((v, j) => (x[j] += (along * v) / root[j]));
    }
    all += square(lookErrors(curve, reflectance));
    left += square(
      lookErrors(
        curve,
        x.map((v) => 1 / (1 + Math.exp(-v))),
      ),
    );
  }
  console.log(`12 directions express ${((1 - left / all) * 100).toFixed(1)} % of the variance of the looks`);
}

function printTable(): void {
  console.log(
    'table against solver: furthest from the asked colour; looks under the lamps, mean / p95 / most',
  );
  for (const kind of KIND_NAMES) {
    const { misses, looks } = compareTable(coloursOf(kind, 1000));
    const { mean, p95, most } = summary(looks);
    const parts = [mean.toFixed(3), p95.toFixed(2), most.toFixed(2)].join(' / ');
    console.log(`  ${kind.padEnd(24)} ${summary(misses).most.toFixed(5)}   ${parts}`);
  }
}

function measure(): void {
  const { training, target, rendering } = allCurves();
  const kept = [...training, ...target, ...rendering].filter(isReflectance);
  const parts = folds(kept, 5, 20240601);
  const rest = (f: number): Float64Array[] => parts.flatMap((part, i) => (i === f ? [] : part));
  const small = [...target, ...rendering];
  const burns = reflectanceSolver(leastSlope(), SIGHT);
  const print = (name: string, values: readonly number[]): void => {
    const { mean, p95 } = summary(values);
    console.log(`${name.padEnd(58)} ${mean.toFixed(3)} / ${p95.toFixed(2)}`);
  };
  console.log(`${kept.length} curves, lamps ${LAMPS.join(', ')}: mean / p95 CIEDE2000`);
  print('no change, all', errors(kept, null));
  print('least hyperbolic tangent slope, all', errors(kept, burns));
  print(
    'prior, five folds',
    parts.flatMap((part, f) => errors(part, solverFrom(rest(f)))),
  );
  print('no change, target and rendering samples', errors(small, null));
  print('least hyperbolic tangent slope, target and rendering samples', errors(small, burns));
  print('prior from the 190 alone, target and rendering samples', errors(small, solverFrom(training)));
  const judged = parts.map((part, f) => judge(part, doubtFrom(rest(f))));
  printCoverage('95 % ellipsoid covers, five folds:', judged.flat());
  const refitted = judged.map((fold, f) => {
    const widened = wideningFor(
      judged.flatMap((other, i) => (i === f ? [] : other)),
      0.95,
    );
    return { widened, share: coverage(fold, widened) };
  });
  console.log(
    `scale found on four folds so that they are covered to .950, fifth covered: ` +
      refitted.map(({ widened, share }) => `${share.toFixed(3)} (x ${widened.toFixed(2)})`).join(', '),
  );
  printCoverage('target and rendering samples, from the 190 alone:', judge(small, doubtFrom(training)));
  printSpread(reflectanceDoubt(reflectanceSolver(realSurfaces(), SIGHT)));
  printShare(small, training);
  printTable();
}

function write(): void {
  const { training, target, rendering } = allCurves();
  const prior = derivePrior([...training, ...target, ...rendering]);
  const list = (values: readonly number[]): string =>
    values.reduce((text, v) => {
      const last = text.length - text.lastIndexOf('\n');
      return `${text}${last + String(v).length > 108 ? '\n' : ''}${v},`;
    }, '');
  const text = `// What reflectances of real surfaces look like: mean, principal components and scores of logit reflectance,
// and the shapes of its errors.
// Derived by test/authoring/train/recovery.ts --write from 190 measured patches (Academy, RAWtoACES training set,
// rawtoaces-data e9b8503, Apache-2.0), the 24-patch target (Ohta 1997) and the samples TCS01-TCS14 of CIE 13.3-1995.
// 380-780 nm by 5; whole numbers at the scales of PACKED_SCALE in reflectance-prior.ts.
import type { PackedPrior } from '../reflectance-prior.ts';

/** The prior in whole numbers; \`realSurfaces\` unpacks it. */
export const REFLECTANCE_PRIOR: PackedPrior = {
  rank: ${prior.rank},
  variance: ${prior.variance},
  mean: [
${list(prior.mean)}
  ],
  components: [
${list(prior.components)}
  ],
  scores: [
${list(prior.scores)}
  ],
  shapes: [
${list(prior.shapes)}
  ],
};
`;
  const file = new URL('../../../src/lib/colour/data/reflectance-prior.ts', import.meta.url);
  writeFileSync(file, text);
  console.log(`${text.length} bytes, ${prior.scores.length / prior.rank} curves`);
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  if (process.argv.includes('--write')) write();
  else measure();
}
