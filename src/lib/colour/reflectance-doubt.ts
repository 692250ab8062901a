import { adaptCat16 } from './adaptation.ts';
import { illuminant } from './illuminant.ts';
import { labToXyz, xyzToLab } from './lab.ts';
import type { Covariance, Lab } from './lab.ts';
import { transpose } from './matrix.ts';
import type { Matrix3 } from './matrix.ts';
import { SHAPES, bandImportance, columnsOf, moments, weighCurves } from './reflectance-prior.ts';
import type { Recovered, ReflectanceSolver } from './reflectance-solver.ts';
import { GRID } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';
import { spectrumToXyz, tristimulusWeights, whitePoint } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

const N = GRID.count;

/** Whose errors count for a colour: those of curves within about this CIEDE2000, and how much of the weight is theirs. */
const NEAR_WIDTH = 8;
const NEAR_SHARE = 0.8;

/** Part of the prior's smooth kernel added to the errors seen, for what the known curves do not show. */
const UNSEEN = 0.02;

/**
 * Variance of the doubt over that of the errors seen: a factor, how it grows with chroma (for each 30) and falls with
 * lightness (for each 20), and the part that neutrals have less. Fitted in cross-validation so that the 95 % region covers
 * 95 % in every class of colour: strong and dark colours have few relatives among the known curves, whose errors are then
 * too kind; neutrals are flatter than what lies near them. A tighter `neutral` covers the known greys still, which are of
 * one kind, but not other people's.
 */
const SCALE: DoubtScale = { factor: 1.3, chroma: 0.5, lightness: -0.3, neutral: 0.5 };

/** See `SCALE`. */
export interface DoubtScale {
  readonly factor: number;
  readonly chroma: number;
  readonly lightness: number;
  readonly neutral: number;
}

/** Chroma at which a colour has stopped being neutral by 1 - 1/e. */
const NEUTRAL_WIDTH = 12;

/** No colour is treated as more chromatic than this. */
const MOST_CHROMA = 90;

/** Variance added to each axis of a look's spread: the rounding of any colour that is written down. */
const ROUNDING = 0.01;

/** A recovered reflectance with what is not known about it. */
export interface PlausibleReflectance extends Recovered {
  /**
   * Reflectance plus the sum of z times direction, z independent standard normal numbers, are the plausible reflectances.
   * 12 spectra of 81; each has tristimulus values of 0.
   */
  readonly directions: readonly Spectrum[];
}

/** What a surface is expected to look like under another light, and how sure that is. */
export interface RecoveredLook {
  /** CIELAB after complete adaptation (CAT16) from the other light to D65, same observer. */
  readonly lab: Lab;
  /** Spread over the plausible reflectances; the 95 % ellipsoid covers about 95 % of held-out surfaces. */
  readonly covariance: Covariance;
}

/** What a solver does not know. */
export interface ReflectanceDoubt {
  /** See `plausibleReflectance` in recovery.ts. */
  readonly plausible: (xyz: XYZ) => PlausibleReflectance;
  /** See `recoveredLook` in recovery.ts. */
  readonly look: (xyz: XYZ, under: Spectrum) => RecoveredLook;
}

/**
 * The doubt of a solver, learned from its own errors: every curve it knows is recovered from its colour without that
 * curve, and what was wrong, as a logit reflectance, is what may be wrong with colours near it. The errors are read off on
 * a few shapes, weighted by nearness, widened by a little of the smooth kernel, and conditioned on the tristimulus values.
 * (The posterior covariance of the prior is no measure: scaled to cover 95 % of all, it is two to three times too wide for
 * greys and short for strong colours.) Building one recovers every known curve: a tenth of a second.
 */
export function reflectanceDoubt(solver: ReflectanceSolver, scaling = SCALE): ReflectanceDoubt {
  const { prior, sight, distances } = solver;
  const { count } = prior;
  const importance = bandImportance();
  const shapes = prior.shapes.map((v, at) => v / Math.sqrt(importance[at % N]));
  const readers = prior.shapes.map((v, at) => v * Math.sqrt(importance[at % N]));
  const white = whitePoint(sight.illuminant, sight.observer);
  const weights = tristimulusWeights(sight);
  const errors = columnsOf(errorsSeen(solver, readers), SHAPES);
  const unseen = kernelOn(readers, prior.kernel);

  const curveWeights = new Float64Array(count);
  const root = new Float64Array(SHAPES * SHAPES);
  const slopes = new Float64Array(3 * SHAPES);

  /** Lower triangular root of the covariance of the error on the shapes, for the colour last solved. */
  function errorRoot(lab: Lab): void {
    weighCurves(distances, curveWeights, { width: NEAR_WIDTH, share: NEAR_SHARE, leftOut: -1 });
    root.fill(0);
    moments(errors, curveWeights, root);
    const scale = doubtScale(scaling, lab);
    for (let a = 0; a < root.length; a++) root[a] = scale * (root[a] + UNSEEN * unseen[a]);
    factorise(root, SHAPES);
  }

  /** Takes out of the root what would change the tristimulus values: its first three columns are then to be left out. */
  function condition(reflectance: Spectrum): void {
    slopes.fill(0);
    for (let i = 0; i < 3; i++) {
      for (let k = 0; k < SHAPES; k++) {
        let sum = 0;
        for (let j = 0; j < N; j++) {
          const r = reflectance[j];
          sum += weights[i * N + j] * r * (1 - r) * shapes[k * N + j];
        }
        for (let l = 0; l <= k; l++) slopes[i * SHAPES + l] += sum * root[k * SHAPES + l];
      }
    }
    // Householder reflections that bring the slopes to three columns; the other columns of the root leave the colour alone.
    const v = new Float64Array(SHAPES);
    for (let i = 0; i < 3; i++) {
      let length = 0;
      for (let k = i; k < SHAPES; k++) length += slopes[i * SHAPES + k] ** 2;
      v.fill(0);
      for (let k = i; k < SHAPES; k++) v[k] = slopes[i * SHAPES + k];
      v[i] += (v[i] < 0 ? -1 : 1) * Math.sqrt(length);
      let size = 0;
      for (let k = i; k < SHAPES; k++) size += v[k] ** 2;
      if (!(size > 0)) continue;
      reflect(slopes, v, size);
      reflect(root, v, size);
    }
  }

  function plausible(xyz: XYZ): PlausibleReflectance {
    const { reflectance, deltaE } = solver.nearest(xyz);
    errorRoot(xyzToLab(xyz, white));
    condition(reflectance);
    const directions = Array.from({ length: SHAPES - 3 }, () => new Float64Array(N));
    for (let c = 0; c < directions.length; c++) {
      const direction = directions[c];
      for (let k = 0; k < SHAPES; k++) {
        const share = root[k * SHAPES + c + 3];
        for (let j = 0; j < N; j++) direction[j] += share * shapes[k * N + j];
      }
      for (let j = 0; j < N; j++) direction[j] *= reflectance[j] * (1 - reflectance[j]);
    }
    return { reflectance, deltaE, directions };
  }

  function look(xyz: XYZ, under: Spectrum): RecoveredLook {
    const { reflectance, directions } = plausible(xyz);
    const other = { illuminant: under, observer: sight.observer };
    const from = whitePoint(under, sight.observer);
    const to = whitePoint(illuminant('D65'), sight.observer);
    const seen = spectrumToXyz(reflectance, other);
    const toLab = (v: XYZ): Lab => xyzToLab(adaptCat16(v, { from, to, degree: 1 }), to);
    const G = labSlopes(seen, toLab);
    const otherWeights = tristimulusWeights(other);
    const covariance = [ROUNDING, 0, 0, 0, ROUNDING, 0, 0, 0, ROUNDING];
    for (const direction of directions) {
      const moved = [0, 0, 0];
      for (let i = 0; i < 3; i++) {
        for (let j = 0; j < N; j++) moved[i] += otherWeights[i * N + j] * direction[j];
      }
      const d = [0, 3, 6].map((row) => G[row] * moved[0] + G[row + 1] * moved[1] + G[row + 2] * moved[2]);
      for (let a = 0; a < 9; a++) covariance[a] += d[Math.floor(a / 3)] * d[a % 3];
    }
    return { lab: toLab(seen), covariance };
  }

  return { plausible, look };
}

function doubtScale({ factor, chroma, lightness, neutral }: DoubtScale, lab: Lab): number {
  const C = Math.min(Math.hypot(lab.a, lab.b), MOST_CHROMA);
  return (
    factor *
    (1 - neutral * Math.exp(-((C / NEUTRAL_WIDTH) ** 2))) *
    Math.exp((chroma * (C - 30)) / 30 + (lightness * (lab.L - 55)) / 20)
  );
}

/** Error of every known curve recovered without itself, as read off on the shapes: `count` rows. */
function errorsSeen(solver: ReflectanceSolver, readers: Float64Array): Float64Array {
  const { prior, sight, known } = solver;
  const { components, scores, rank, count, mean } = prior;
  const white = whitePoint(sight.illuminant, sight.observer);
  const errors = new Float64Array(count * SHAPES);
  const error = new Float64Array(N);
  for (let i = 0; i < count; i++) {
    const lab = { L: known[i * 3], a: known[i * 3 + 1], b: known[i * 3 + 2] };
    const { reflectance } = solver.nearest(labToXyz(lab, white), i);
    for (let j = 0; j < N; j++) {
      error[j] = mean[j] - Math.log(reflectance[j]) + Math.log1p(-reflectance[j]);
      for (let k = 0; k < rank; k++) error[j] += scores[i * rank + k] * components[k * N + j];
    }
    for (let k = 0; k < SHAPES; k++) {
      for (let j = 0; j < N; j++) errors[i * SHAPES + k] += readers[k * N + j] * error[j];
    }
  }
  return errors;
}

/** The kernel as read off on the shapes; lower triangle. */
function kernelOn(readers: Float64Array, kernel: Float64Array): Float64Array {
  const out = new Float64Array(SHAPES * SHAPES);
  const row = new Float64Array(N);
  for (let k = 0; k < SHAPES; k++) {
    for (let j = 0; j < N; j++) {
      row[j] = 0;
      for (let i = 0; i < N; i++) row[j] += readers[k * N + i] * kernel[i * N + j];
    }
    for (let l = 0; l <= k; l++) {
      for (let j = 0; j < N; j++) out[k * SHAPES + l] += row[j] * readers[l * N + j];
    }
  }
  return out;
}

/** Cholesky factor of a positive definite matrix given by its lower triangle, in place. */
function factorise(a: Float64Array, n: number): void {
  for (let k = 0; k < n; k++) {
    for (let l = 0; l <= k; l++) {
      let sum = a[k * n + l];
      for (let i = 0; i < l; i++) sum -= a[k * n + i] * a[l * n + i];
      a[k * n + l] = k === l ? Math.sqrt(sum) : sum / a[l * n + l];
    }
  }
}

/** Rows of `a` reflected at the plane across v, in place; `size` is the square of its length. */
function reflect(a: Float64Array, v: Float64Array, size: number): void {
  const n = v.length;
  for (let row = 0; row < a.length; row += n) {
    let along = 0;
    for (let k = 0; k < n; k++) along += a[row + k] * v[k];
    along *= 2 / size;
    for (let k = 0; k < n; k++) a[row + k] -= along * v[k];
  }
}

/** Derivatives of Lab by X, Y and Z, row by row, by central differences. */
function labSlopes(at: XYZ, toLab: (xyz: XYZ) => Lab): Matrix3 {
  const step = 1e-4;
  const column = (dX: number, dY: number, dZ: number): number[] => {
    const up = toLab({ X: at.X + dX, Y: at.Y + dY, Z: at.Z + dZ });
    const down = toLab({ X: at.X - dX, Y: at.Y - dY, Z: at.Z - dZ });
    return [up.L - down.L, up.a - down.a, up.b - down.b].map((v) => v / (2 * step));
  };
  return transpose([...column(step, 0, 0), ...column(0, step, 0), ...column(0, 0, step)]);
}
