import { deltaE2000, deltaE2000Many } from './difference.ts';
import { xyzToLab } from './lab.ts';
import type { Lab } from './lab.ts';
import type { Matrix3 } from './matrix.ts';
import { columnsOf, moments, weighCurves } from './reflectance-prior.ts';
import type { ReflectancePrior } from './reflectance-prior.ts';
import { GRID } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';
import { spectrumToXyz, tristimulusWeights, whitePoint } from './tristimulus.ts';
import type { Sight, XYZ } from './tristimulus.ts';

const N = GRID.count;

/** A recovered reflectance gives the asked colour to this CIEDE2000. */
export const EXACT = 0.01;

/** Known curves count by their colour difference from the asked colour: a Gaussian of this CIEDE2000. */
const LOCAL_WIDTH = 8;

/** Share of the weight that goes to near curves; the rest goes to all alike. */
const LOCAL_SHARE = 0.5;

/** Perfect black and white need an infinite logit; this close to them (in Y / Y_white) is closer than `EXACT`. */
export const NEAR_BLACK = 1e-6;
export const NEAR_WHITE = 1 - 5e-5;

/** Reflectance that gives a colour, and how far it is from doing so. */
export interface Recovered {
  readonly reflectance: Spectrum;
  /** CIEDE2000 between the asked colour and that of the reflectance; below 0.01 inside the object-colour solid. */
  readonly deltaE: number;
}

/** Finds reflectances under one illuminant for one observer. */
export interface ReflectanceSolver {
  /** See `nearestReflectance` in recovery.ts. `leftOut`: a known curve that shall not count, by its number. */
  readonly nearest: (xyz: XYZ, leftOut?: number) => Recovered;
  readonly prior: ReflectancePrior;
  readonly sight: Sight;
  /** CIELAB of every curve the prior knows, against the white of the sight, stride 3. */
  readonly known: Float32Array;
  /** CIEDE2000 of every known curve from the colour last asked for. */
  readonly distances: Float32Array;
}

/**
 * A solver with a prior of one's own; `reflectanceFromXyz` uses the prior of real surfaces.
 *
 * Logit reflectance x is Gaussian. The tristimulus values are three equations on it, solved exactly for the most
 * probable x by Gauss-Newton in the dual form, one 3 x 3 solve a step:
 * x = m + C J'(J C J')^-1 (h(t) - h(x) + J(x - m)). The equations are put as h = logit(T / T_white), in which a grey is
 * linear in x; in plain tristimulus values the steps near black and white are far too long. Mean m and covariance C
 * are those of the known curves, weighted towards the asked colour, blended with a smooth kernel.
 */
export function reflectanceSolver(prior: ReflectancePrior, sight: Sight): ReflectanceSolver {
  const { rank, count, components, kernel, learned } = prior;
  const columns = columnsOf(prior.scores, rank);
  const white = whitePoint(sight.illuminant, sight.observer);
  const whites = [white.X, white.Y, white.Z];
  const weights = tristimulusWeights(sight).map((w, i) => w / whites[Math.floor(i / N)]);
  const planes = supportingPlanes(weights);
  const known = knownLabs(prior, sight, white);

  const curveWeights = new Float64Array(count);
  const distances = new Float32Array(count);
  const asked = new Float32Array(3);
  const centre = new Float64Array(rank);
  const scatter = new Float64Array(rank * rank);
  const m = new Float64Array(N);
  const x = new Float64Array(N);
  const r = new Float64Array(N);
  const J = new Float64Array(3 * N);
  const CJ = new Float64Array(3 * N);
  const onComponents = new Float64Array(rank);
  const target = [0, 0, 0];
  const reached = [0, 0, 0];

  /** Mean and covariance of the known curves, but for one left out, as seen from a colour. */
  function localise(lab: Lab, leftOut: number): void {
    asked[0] = lab.L;
    asked[1] = lab.a;
    asked[2] = lab.b;
    m.set(prior.mean);
    if (count === 0) return;
    deltaE2000Many(asked, known, distances);
    weighCurves(distances, curveWeights, { width: LOCAL_WIDTH, share: LOCAL_SHARE, leftOut });
    for (let k = 0; k < rank; k++) {
      centre[k] = 0;
      for (let i = 0; i < count; i++) centre[k] += curveWeights[i] * columns[k * count + i];
    }
    moments(columns, curveWeights, scatter);
    for (let k = 0; k < rank; k++) {
      for (let l = 0; l <= k; l++) scatter[k * rank + l] -= centre[k] * centre[l];
    }
    for (let k = 0; k < rank; k++) {
      for (let l = 0; l < k; l++) scatter[l * rank + k] = scatter[k * rank + l];
      for (let j = 0; j < N; j++) m[j] += centre[k] * components[k * N + j];
    }
  }

  /** out = C rows', for three rows of 81. */
  function covariances(rows: Float64Array, out: Float64Array): void {
    for (let j = 0, at = 0; j < N; j++) {
      let sum0 = 0;
      let sum1 = 0;
      let sum2 = 0;
      for (let k = 0; k < N; k++, at++) {
        const c = kernel[at];
        sum0 += c * rows[k];
        sum1 += c * rows[N + k];
        sum2 += c * rows[2 * N + k];
      }
      out[j] = sum0;
      out[N + j] = sum1;
      out[2 * N + j] = sum2;
    }
    for (let i = 0; i < 3; i++) {
      const at = i * N;
      for (let k = 0; k < rank; k++) {
        let sum = 0;
        for (let j = 0; j < N; j++) sum += components[k * N + j] * rows[at + j];
        onComponents[k] = sum;
      }
      for (let k = 0; k < rank; k++) {
        let sum = 0;
        for (let l = 0; l < rank; l++) sum += scatter[k * rank + l] * onComponents[l];
        sum *= learned;
        for (let j = 0; j < N; j++) out[at + j] += sum * components[k * N + j];
      }
    }
  }

  /** Reflectance r and the tristimulus values reached (over white) at x. */
  function evaluate(): void {
    let sum0 = 0;
    let sum1 = 0;
    let sum2 = 0;
    for (let j = 0; j < N; j++) {
      const v = 1 / (1 + Math.exp(-x[j]));
      r[j] = v;
      sum0 += weights[j] * v;
      sum1 += weights[N + j] * v;
      sum2 += weights[2 * N + j] * v;
    }
    reached[0] = sum0;
    reached[1] = sum1;
    reached[2] = sum2;
  }

  /** Slopes of h at x, after `evaluate`. */
  function slopes(): void {
    for (let i = 0; i < 3; i++) {
      const scale = 1 / (reached[i] * (1 - reached[i]));
      for (let j = 0; j < N; j++) J[i * N + j] = scale * weights[i * N + j] * r[j] * (1 - r[j]);
    }
  }

  function miss(): number {
    return Math.max(
      Math.abs(reached[0] - target[0]),
      Math.abs(reached[1] - target[1]),
      Math.abs(reached[2] - target[2]),
    );
  }

  /** Gauss-Newton from the present x; true when it settled on a reflectance that meets the target. */
  function climb(longest: number): boolean {
    let moved = Infinity;
    for (let step = 0; step < 40; step++) {
      evaluate();
      // A logit within 0.001 of the most probable one is as good; the colour is held far tighter.
      if (moved < 1e-3 && miss() < 1e-7) return true;
      if (!reached.every((v) => v > 0 && v < 1)) return false;
      slopes();
      covariances(J, CJ);
      const residual = [0, 0, 0];
      for (let i = 0; i < 3; i++) {
        residual[i] = logit(target[i]) - logit(reached[i]);
        for (let j = 0; j < N; j++) residual[i] += J[i * N + j] * (x[j] - m[j]);
      }
      const lambda = solve3(products(J, CJ), residual);
      if (lambda === null) return false;
      let largest = 0;
      for (let j = 0; j < N; j++) {
        const next = m[j] + lambda[0] * CJ[j] + lambda[1] * CJ[N + j] + lambda[2] * CJ[2 * N + j];
        largest = Math.max(largest, Math.abs(next - x[j]));
        r[j] = next - x[j];
      }
      if (!Number.isFinite(largest)) return false;
      const scale = Math.min(1, longest / largest);
      for (let j = 0; j < N; j++) x[j] += scale * r[j];
      moved = scale * largest;
    }
    evaluate();
    return miss() < 1e-7;
  }

  /** Whether some plane has the target on one side and every reflectance in [0, 1] on the other; if so it has none. */
  function beyond(): boolean {
    for (let p = 0; p < planes.length; p += 4) {
      const along = planes[p] * target[0] + planes[p + 1] * target[1] + planes[p + 2] * target[2];
      if (along > planes[p + 3]) return true;
    }
    return false;
  }

  /**
   * Some x that meets the target, or false if there is none. A convex problem in three unknowns (maximum entropy of the
   * reflectance), so it ends, one way or the other, for every target; used where Gauss-Newton from the mean does not.
   */
  function feasible(): boolean {
    // Not needed for the answer, but proves most misses at once.
    if (beyond()) return false;
    const lambda = [0, 0, 0];
    const q = weights;
    const band = (j: number): number => q[j] + q[N + j] + q[2 * N + j];
    const place = (l: readonly number[]): void => {
      for (let j = 0; j < N; j++) {
        const c = band(j);
        x[j] = c > 0 ? (l[0] * q[j] + l[1] * q[N + j] + l[2] * q[2 * N + j]) / c : 0;
      }
    };
    const height = (l: readonly number[]): number => {
      let sum = -(l[0] * target[0] + l[1] * target[1] + l[2] * target[2]);
      for (let j = 0; j < N; j++)
        sum += band(j) * (Math.max(x[j], 0) + Math.log1p(Math.exp(-Math.abs(x[j]))));
      return sum;
    };
    place(lambda);
    let now = height(lambda);
    for (let step = 0; step < 200; step++) {
      evaluate();
      const miss3 = target.map((t, i) => t - reached[i]);
      if (miss() < 1e-8) return true;
      let [h00, h01, h02, h11, h12, h22] = [0, 0, 0, 0, 0, 0];
      for (let j = 0; j < N; j++) {
        const c = band(j);
        if (!(c > 0)) continue;
        const s = (r[j] * (1 - r[j])) / c;
        const s0 = s * q[j];
        const s1 = s * q[N + j];
        const s2 = s * q[2 * N + j];
        h00 += s0 * q[j];
        h01 += s0 * q[N + j];
        h02 += s0 * q[2 * N + j];
        h11 += s1 * q[N + j];
        h12 += s1 * q[2 * N + j];
        h22 += s2 * q[2 * N + j];
      }
      const H = [h00, h01, h02, h01, h11, h12, h02, h12, h22];
      for (let a = 0; a < 9; a += 4) H[a] += 1e-13 + 1e-10 * H[a];
      const move = solve3(H, miss3);
      if (move === null) return false;
      const slope = move[0] * miss3[0] + move[1] * miss3[1] + move[2] * miss3[2];
      let length = 1;
      for (; length > 1e-10; length /= 2) {
        const next = lambda.map((v, i) => v + length * move[i]);
        place(next);
        const then = height(next);
        if (then <= now - 1e-4 * length * slope + 1e-15) {
          lambda.splice(0, 3, ...next);
          now = then;
          break;
        }
      }
      // Outside the solid the unknowns run away: reflectances of exactly 0 and 1 are not enough.
      if (!(length > 1e-10) || !lambda.every((v) => Math.abs(v) < 1e5)) return false;
    }
    return false;
  }

  /** Leaves in r a reflectance for the target; false if the target lies outside the object-colour solid. */
  function meet(): boolean {
    if (beyond()) return false;
    x.set(m);
    return climb(4) || meetAtEdge();
  }

  /** The same for a target at the edge of the solid, where a climb from the mean goes astray. */
  function meetAtEdge(): boolean {
    if (!feasible()) return false;
    const spare = x.slice();
    if (!climb(1)) {
      x.set(spare);
      evaluate();
    }
    return true;
  }

  function nearest(xyz: XYZ, leftOut = -1): Recovered {
    const wanted = [xyz.X / white.X, xyz.Y / white.Y, xyz.Z / white.Z];
    if (!wanted.every((v) => Number.isFinite(v))) {
      throw new RangeError(`Expected finite tristimulus values, got X ${xyz.X}, Y ${xyz.Y}, Z ${xyz.Z}`);
    }
    const asLab = xyzToLab(xyz, white);
    localise(asLab, leftOut);
    const inRange = (v: number): number => Math.min(Math.max(v, NEAR_BLACK), NEAR_WHITE);
    const grey = inRange(wanted[1]);
    const aim = (share: number): void => {
      for (let i = 0; i < 3; i++) target[i] = inRange(grey + share * (wanted[i] - grey));
    };
    aim(1);
    if (!meet()) {
      let inside = 0;
      let outside = 1;
      for (let halving = 0; halving < 14; halving++) {
        const middle = (inside + outside) / 2;
        aim(middle);
        if (feasible()) inside = middle;
        else outside = middle;
      }
      aim(inside);
      if (!meetAtEdge()) throw new Error(`No reflectance found for a grey of Y ${grey * 100}`);
    }
    const reflectance = r.slice();
    const found = { X: reached[0] * white.X, Y: reached[1] * white.Y, Z: reached[2] * white.Z };
    return { reflectance, deltaE: deltaE2000(asLab, xyzToLab(found, white)) };
  }

  return { nearest, prior, sight, known, distances };
}

/** CIELAB of every curve the prior knows, stride 3. */
function knownLabs(prior: ReflectancePrior, sight: Sight, white: XYZ): Float32Array {
  const labs = new Float32Array(prior.count * 3);
  const reflectance = new Float64Array(N);
  for (let i = 0; i < prior.count; i++) {
    for (let j = 0; j < N; j++) {
      let value = prior.mean[j];
      for (let k = 0; k < prior.rank; k++) {
        value += prior.scores[i * prior.rank + k] * prior.components[k * N + j];
      }
      reflectance[j] = 1 / (1 + Math.exp(-value));
    }
    const lab = xyzToLab(spectrumToXyz(reflectance, sight), white);
    labs.set([lab.L, lab.a, lab.b], i * 3);
  }
  return labs;
}

/** Planes that touch the object-colour solid from outside: normal and height, four numbers each, evenly turned. */
function supportingPlanes(weights: Float64Array): Float64Array {
  const count = 600;
  const planes = new Float64Array(4 * count);
  for (let p = 0; p < count; p++) {
    const c = 1 - (2 * p + 1) / count;
    const s = Math.sqrt(1 - c * c);
    const turn = p * Math.PI * (3 - Math.sqrt(5));
    const normal = [s * Math.cos(turn), s * Math.sin(turn), c];
    let height = 1e-9;
    for (let j = 0; j < N; j++) {
      height += Math.max(
        0,
        normal[0] * weights[j] + normal[1] * weights[N + j] + normal[2] * weights[2 * N + j],
      );
    }
    planes.set([...normal, height], 4 * p);
  }
  return planes;
}

/** The 3 x 3 products of rows of 81. */
function products(a: Float64Array, b: Float64Array): Matrix3 {
  const out = new Array<number>(9).fill(0);
  for (let i = 0; i < 3; i++) {
    for (let k = 0; k < 3; k++) {
      let sum = 0;
      for (let j = 0; j < N; j++) sum += a[i * N + j] * b[k * N + j];
      out[i * 3 + k] = sum;
    }
  }
  return out;
}

function solve3(matrix: Matrix3, v: readonly number[]): [number, number, number] | null {
  const [a, b, c, d, e, f, g, h, i] = matrix;
  const A = e * i - f * h;
  const B = f * g - d * i;
  const C = d * h - e * g;
  const det = a * A + b * B + c * C;
  if (!(Math.abs(det) > 1e-300) || !Number.isFinite(det)) return null;
  return [
    (A * v[0] + (c * h - b * i) * v[1] + (b * f - c * e) * v[2]) / det,
    (B * v[0] + (a * i - c * g) * v[1] + (c * d - a * f) * v[2]) / det,
    (C * v[0] + (b * g - a * h) * v[1] + (a * e - b * d) * v[2]) / det,
  ];
}

function logit(v: number): number {
  return Math.log(v / (1 - v));
}
