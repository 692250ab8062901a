import { REFLECTANCE_NODES } from './data/reflectance-nodes.ts';
import { GRID } from './spectrum.ts';
import { WHITE_D65_10, tristimulusWeights } from './tristimulus.ts';
import type { Sight, XYZ } from './tristimulus.ts';

const N = GRID.count;

/**
 * One axis of the table: node i lies at scale sinh(step (first + i)), dense at 0 and ever wider outwards.
 */
interface Axis {
  readonly scale: number;
  readonly step: number;
  readonly first: number;
  readonly count: number;
}

/**
 * The axes: logit(Y / Y_white), and how far the logits of X and Z lie from it. A grey is 0 on the last two whatever its
 * lightness, near black and white too, and the logit reflectance is nearly linear between the nodes.
 */
export const TABLE_AXES: readonly [Axis, Axis, Axis] = [
  { scale: 2, step: 0.2, first: -12, count: 23 },
  { scale: 0.3, step: 0.3, first: -10, count: 21 },
  { scale: 0.8, step: 0.3, first: -11, count: 21 },
];

const [LIGHT, REDNESS, BLUENESS] = TABLE_AXES;
const ROW = BLUENESS.count;
const SLICE = REDNESS.count * ROW;
const NODES = LIGHT.count * SLICE;

/** Tristimulus values of a node, D65, 10 degrees. Nodes are counted along the last axis first. */
export function nodeXyz(node: number): XYZ {
  const light = position(LIGHT, Math.floor(node / SLICE));
  const red = position(REDNESS, Math.floor(node / ROW) % REDNESS.count);
  const blue = position(BLUENESS, node % ROW);
  const unit = (h: number): number => 1 / (1 + Math.exp(-h));
  return {
    X: WHITE_D65_10.X * unit(light + red),
    Y: WHITE_D65_10.Y * unit(light),
    Z: WHITE_D65_10.Z * unit(light + blue),
  };
}

/** Number of nodes of the table, and the logit of Y of one. */
export const NODE_COUNT = NODES;
export function nodeLight(node: number): number {
  return position(LIGHT, Math.floor(node / SLICE));
}

function position(axis: Axis, i: number): number {
  return axis.scale * Math.sinh(axis.step * (axis.first + i));
}

/** The form in which `data/reflectance-nodes.ts` holds the nodes that a surface can have. */
export interface PackedNodes {
  readonly rank: number;
  /** Logit reflectance less that of Y, in the mean: 81 whole numbers at `NODE_SCALE.mean`. */
  readonly mean: readonly number[];
  /** `rank` rows of 81 at `NODE_SCALE.components`. */
  readonly components: readonly number[];
  /** Size of one unit of the scores, for each component. */
  readonly units: readonly number[];
  /** Which nodes are there: a bit for each, six to a digit, lowest first. */
  readonly present: string;
  /** Scores of these nodes on the components: two digits each, the higher first, 2048 for 0. */
  readonly scores: string;
}

/** The 64 digits of a packed table (those of base64). */
export const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Scales of the whole numbers in a packed table. */
export const NODE_SCALE = { mean: 1e3, components: 1e4 } as const;

/** Rounds of giving nodes no surface can have the mean of their neighbours, so that every cell of the solid has corners. */
const LAYERS = 2;

interface Nodes {
  /** Logit reflectance of every node, rows of 81. */
  readonly curves: Float32Array;
  /** Whether the node has one. */
  readonly present: Uint8Array;
}

function unpackNodes(packed: PackedNodes): Nodes {
  const digit = new Uint8Array(128);
  for (let i = 0; i < 64; i++) digit[DIGITS.charCodeAt(i)] = i;
  const at = (text: string, i: number): number => digit[text.charCodeAt(i)];
  const { rank, present: bits, scores } = packed;
  const components = Float64Array.from(packed.components, (v) => v / NODE_SCALE.components);
  const mean = Float64Array.from(packed.mean, (v) => v / NODE_SCALE.mean);
  const curves = new Float32Array(NODES * N);
  const present = new Uint8Array(NODES);
  const row = new Float64Array(N);
  let read = 0;
  for (let node = 0; node < NODES; node++) {
    if (((at(bits, Math.floor(node / 6)) >> (node % 6)) & 1) === 0) continue;
    present[node] = 1;
    const light = nodeLight(node);
    for (let j = 0; j < N; j++) row[j] = mean[j] + light;
    for (let k = 0; k < rank; k++, read += 2) {
      const score = (at(scores, read) * 64 + at(scores, read + 1) - 2048) * packed.units[k];
      for (let j = 0; j < N; j++) row[j] += score * components[k * N + j];
    }
    curves.set(row, node * N);
  }
  for (let layer = 0; layer < LAYERS; layer++) extend(curves, present);
  return { curves, present };
}

/** Gives absent nodes beside present ones the mean of these, near ones counting most. */
function extend(curves: Float32Array, present: Uint8Array): void {
  const before = present.slice();
  const sum = new Float64Array(N);
  for (let node = 0; node < NODES; node++) {
    if (before[node]) continue;
    const i = Math.floor(node / SLICE);
    const j = Math.floor(node / ROW) % REDNESS.count;
    const k = node % ROW;
    let total = 0;
    sum.fill(0);
    for (let a = Math.max(i - 1, 0); a <= Math.min(i + 1, LIGHT.count - 1); a++) {
      for (let b = Math.max(j - 1, 0); b <= Math.min(j + 1, REDNESS.count - 1); b++) {
        for (let c = Math.max(k - 1, 0); c <= Math.min(k + 1, BLUENESS.count - 1); c++) {
          const other = a * SLICE + b * ROW + c;
          if (!before[other]) continue;
          const weight = 1 / (Math.abs(a - i) + Math.abs(b - j) + Math.abs(c - k)) ** 3;
          total += weight;
          for (let l = 0; l < N; l++) sum[l] += weight * curves[other * N + l];
        }
      }
    }
    if (total === 0) continue;
    present[node] = 1;
    for (let l = 0; l < N; l++) curves[node * N + l] = sum[l] / total;
  }
}

/** Writes to `out`, from `at`, the reflectance of a colour given by X, Y, Z over white in (0, 1); false where it cannot. */
export type TableLookup = (target: ArrayLike<number>, out: Float32Array, at: number) => boolean;

/** Corrections shorter than this (logit) leave less than CIEDE2000 0.002. */
const SETTLED = 4e-3;

/** No correction is longer than this (logit), or those at the edge of the solid do not end. */
const LONGEST = 2;

/** Two corrections settle nearly all colours; at the edge of the solid it may take more than ten. */
const MOST_STEPS = 30;

/**
 * Looks reflectances up: the logit reflectance interpolated between eight nodes, then corrected by Newton steps along three
 * smooth curves until it has the colour. The nodes are made by the solver (test/authoring/train/reflectance-table.ts).
 *
 * Why nodes that are stored and not solved at first use: those inside the solid take a second, unpacking takes 30-70 ms. Why
 * these steps: with 0.3, 0.4, 0.4 muted colours differ twice as much from the solver under lamps, with 0.15, 0.2, 0.2 half as
 * much, in more than twice the space. Why corners outside the solid are means of their neighbours: carried on straight, or
 * taken from the nearest surface, they differ more. What is left differs most at the very edge of the solid, where no
 * pigment lies: a curve found there has the colour and is less smooth than the solver's.
 */
export function reflectanceTable(sight: Sight): TableLookup {
  const { curves, present } = unpackNodes(REFLECTANCE_NODES);
  const whites = [WHITE_D65_10.X, WHITE_D65_10.Y, WHITE_D65_10.Z];
  const weights = tristimulusWeights(sight).map((w, i) => w / whites[Math.floor(i / N)]);
  const paths = smoothed(weights);
  const x = new Float64Array(N);
  const r = new Float64Array(N);
  const d = new Float64Array(N);
  const h = new Float64Array(3);
  const reached = new Float64Array(3);
  const M = new Float64Array(9);
  const move = new Float64Array(3);
  const cell = new Int32Array(3);
  const part = new Float64Array(3);

  /** Finds the cell of a value on an axis; false outside. Beyond the ends of the lightness axis it goes on straight. */
  function locate(axis: number, value: number): boolean {
    const { scale, step, first, count } = TABLE_AXES[axis];
    let i = Math.floor(Math.asinh(value / scale) / step) - first;
    if (axis === 0) i = Math.min(Math.max(i, 0), count - 2);
    else if (!(i >= 0 && i < count - 1)) return false;
    const low = scale * Math.sinh(step * (first + i));
    const high = scale * Math.sinh(step * (first + i + 1));
    cell[axis] = i;
    part[axis] = (value - low) / (high - low);
    return true;
  }

  /** The interpolated logit reflectance in x; false where a corner is missing. */
  function interpolate(): boolean {
    const corner = cell[0] * SLICE + cell[1] * ROW + cell[2];
    x.fill(0);
    for (let c = 0; c < 8; c++) {
      const node = corner + (c & 1 ? SLICE : 0) + (c & 2 ? ROW : 0) + (c & 4 ? 1 : 0);
      if (!present[node]) return false;
      const weight =
        (c & 1 ? part[0] : 1 - part[0]) * (c & 2 ? part[1] : 1 - part[1]) * (c & 4 ? part[2] : 1 - part[2]);
      for (let j = 0, from = node * N; j < N; j++) x[j] += weight * curves[from + j];
    }
    return true;
  }

  /** Reflectance r at x, the values it reaches, and their slopes along the three paths. */
  function evaluate(): void {
    let R0 = 0;
    let R1 = 0;
    let R2 = 0;
    let m0 = 0;
    let m1 = 0;
    let m2 = 0;
    let m3 = 0;
    let m4 = 0;
    let m5 = 0;
    let m6 = 0;
    let m7 = 0;
    let m8 = 0;
    for (let j = 0; j < N; j++) {
      const v = 1 / (1 + Math.exp(-x[j]));
      const slope = v * (1 - v);
      r[j] = v;
      const w0 = weights[j];
      const w1 = weights[N + j];
      const w2 = weights[2 * N + j];
      R0 += w0 * v;
      R1 += w1 * v;
      R2 += w2 * v;
      const p0 = slope * paths[j];
      const p1 = slope * paths[N + j];
      const p2 = slope * paths[2 * N + j];
      m0 += w0 * p0;
      m1 += w0 * p1;
      m2 += w0 * p2;
      m3 += w1 * p0;
      m4 += w1 * p1;
      m5 += w1 * p2;
      m6 += w2 * p0;
      m7 += w2 * p1;
      m8 += w2 * p2;
    }
    reached[0] = R0;
    reached[1] = R1;
    reached[2] = R2;
    const s0 = 1 / (R0 * (1 - R0));
    const s1 = 1 / (R1 * (1 - R1));
    const s2 = 1 / (R2 * (1 - R2));
    M[0] = m0 * s0;
    M[1] = m1 * s0;
    M[2] = m2 * s0;
    M[3] = m3 * s1;
    M[4] = m4 * s1;
    M[5] = m5 * s1;
    M[6] = m6 * s2;
    M[7] = m7 * s2;
    M[8] = m8 * s2;
  }

  /** Solves M move = e; false where that has no answer. */
  function solve(e0: number, e1: number, e2: number): boolean {
    const A = M[4] * M[8] - M[5] * M[7];
    const B = M[5] * M[6] - M[3] * M[8];
    const C = M[3] * M[7] - M[4] * M[6];
    const det = M[0] * A + M[1] * B + M[2] * C;
    move[0] = (A * e0 + (M[2] * M[7] - M[1] * M[8]) * e1 + (M[1] * M[5] - M[2] * M[4]) * e2) / det;
    move[1] = (B * e0 + (M[0] * M[8] - M[2] * M[6]) * e1 + (M[2] * M[3] - M[0] * M[5]) * e2) / det;
    move[2] = (C * e0 + (M[1] * M[6] - M[0] * M[7]) * e1 + (M[0] * M[4] - M[1] * M[3]) * e2) / det;
    return Number.isFinite(move[0] + move[1] + move[2]);
  }

  return (target, out, at) => {
    for (let i = 0; i < 3; i++) h[i] = Math.log(target[i] / (1 - target[i]));
    if (!locate(0, h[1]) || !locate(1, h[0] - h[1]) || !locate(2, h[2] - h[1])) return false;
    if (!interpolate()) return false;
    for (let step = 0; step < MOST_STEPS; step++) {
      evaluate();
      const e0 = h[0] - Math.log(reached[0] / (1 - reached[0]));
      const e1 = h[1] - Math.log(reached[1] / (1 - reached[1]));
      const e2 = h[2] - Math.log(reached[2] / (1 - reached[2]));
      if (!solve(e0, e1, e2)) return false;
      let longest = 0;
      for (let j = 0; j < N; j++) {
        d[j] = move[0] * paths[j] + move[1] * paths[N + j] + move[2] * paths[2 * N + j];
        longest = Math.max(longest, Math.abs(d[j]));
      }
      if (longest < SETTLED) {
        // The last step is so short that a series is exact and saves 81 exponentials.
        for (let j = 0; j < N; j++) out[at + j] = r[j] + r[j] * (1 - r[j]) * d[j] * (1 + (0.5 - r[j]) * d[j]);
        return true;
      }
      const length = Math.min(1, LONGEST / longest);
      for (let j = 0; j < N; j++) x[j] += length * d[j];
    }
    return false;
  };
}

/** The three weights, widened by a Gaussian of 40 nm: along these a curve changes its colour and stays smooth. */
function smoothed(weights: Float64Array): Float64Array {
  const out = new Float64Array(3 * N);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < N; j++) {
      for (let k = 0; k < N; k++) {
        out[i * N + j] += Math.exp(-0.5 * (((j - k) * GRID.step) / 40) ** 2) * weights[i * N + k];
      }
    }
  }
  return out;
}
