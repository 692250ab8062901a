import type { Neighbourhood } from './superpixels.ts';

/** How freely something spreads from node to node, and how fast it is lost on the way. */
export interface Medium {
  readonly count: number;
  readonly graph: Pick<Neighbourhood, 'first' | 'other'>;
  /** Per entry of the graph, the same on both sides, above 0. */
  readonly conductance: Float64Array;
  /** Per node, above 0. */
  readonly loss: Float64Array;
}

const ROUNDS = 400;
const SETTLED = 1e-8;
const FILL = 0.95; // of what the incomplete factors leave out is added to their diagonal

/**
 * How much of what starts in the seeds arrives at each node, 0-1: the solution of the screened Laplace equation with
 * 1 held at the seeds and 0 at the closed nodes. Narrow leaks carry little, so that a gap in an
 * edge does not flood what lies behind it. `closed` nodes take everything away that reaches them.
 * Source: Grady 2006, IEEE TPAMI 28(11), 1768-1783, eq. 8; the loss is that of a screened Poisson equation. Conjugate
 * gradients with the diagonal of a modified incomplete factorization (Gustafsson 1978, BIT 18, 142-156), its two
 * triangles solved in place of a product with the matrix (Eisenstat 1981, SIAM J. Sci. Stat. Comput. 2(1), 1-4).
 */
export function diffused(medium: Medium, seeds: Uint8Array, closed: Uint8Array): Float64Array {
  const { count, graph, conductance, loss } = medium;
  // Only nodes that are neither seeds nor closed are asked; the seeds are what flows in.
  const place = new Int32Array(count).fill(-1);
  const node = new Int32Array(count);
  let n = 0;
  for (let i = 0; i < count; i++)
    if (!seeds[i] && !closed[i]) {
      place[i] = n;
      node[n++] = i;
    }
  // What ties each node to those before it, and to those after it.
  const before = triangle(n, graph.other.length);
  const after = triangle(n, graph.other.length);
  const residual = new Float64Array(n);
  const diagonal = new Float64Array(n);
  const onward = new Float64Array(n);
  for (let k = 0, low = 0, high = 0; k < n; k++) {
    const i = node[k];
    let whole = loss[i];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const j = graph.other[e];
      whole += conductance[e];
      if (place[j] > k) {
        after.other[high] = place[j];
        after.weight[high++] = conductance[e];
        onward[k] += conductance[e];
      } else if (place[j] >= 0) {
        before.other[low] = place[j];
        before.weight[low++] = conductance[e];
      } else if (seeds[j]) residual[k] += conductance[e];
    }
    before.first[k + 1] = low;
    after.first[k + 1] = high;
    diagonal[k] = whole;
  }
  const pivot = new Float64Array(n);
  const inverse = new Float64Array(n);
  for (let k = 0, e = 0; k < n; k++) {
    let left = diagonal[k];
    for (const end = before.first[k + 1]; e < end; e++) {
      const tie = before.weight[e];
      const j = before.other[e];
      left -= tie * inverse[j] * (FILL * onward[j] + (1 - FILL) * tie);
    }
    pivot[k] = left;
    inverse[k] = 1 / left;
  }
  /** Solves for what the lower triangle makes of a vector, in place. */
  const forward = (v: Float64Array) => {
    for (let k = 0, e = 0; k < n; k++) {
      let sum = v[k];
      for (const end = before.first[k + 1]; e < end; e++) sum += before.weight[e] * v[before.other[e]];
      v[k] = sum * inverse[k];
    }
  };
  forward(residual);
  const direction = new Float64Array(n);
  let energy = 0;
  for (let k = 0; k < n; k++) {
    direction[k] = pivot[k] * residual[k];
    energy += residual[k] * direction[k];
  }
  const value = new Float64Array(n);
  const step = new Float64Array(n);
  const image = new Float64Array(n);
  const enough = energy * SETTLED;
  for (let round = 0; round < ROUNDS && energy > enough; round++) {
    for (let k = n - 1, e = after.first[n] - 1; k >= 0; k--) {
      let sum = direction[k];
      for (const end = after.first[k]; e >= end; e--) sum += after.weight[e] * step[after.other[e]];
      step[k] = sum * inverse[k];
      image[k] = direction[k] + (diagonal[k] - 2 * pivot[k]) * step[k];
    }
    forward(image);
    let bend = 0;
    for (let k = 0; k < n; k++) {
      image[k] += step[k];
      bend += direction[k] * image[k];
    }
    const pace = energy / bend;
    let next = 0;
    for (let k = 0; k < n; k++) {
      value[k] += pace * step[k];
      residual[k] -= pace * image[k];
      next += pivot[k] * residual[k] * residual[k];
    }
    const keep = next / energy;
    energy = next;
    for (let k = 0; k < n; k++) direction[k] = pivot[k] * residual[k] + keep * direction[k];
  }
  const out = Float64Array.from(seeds);
  for (let k = 0; k < n; k++) out[node[k]] = value[k];
  return out;
}

/** One triangle of a sparse matrix, row after row: entries of row k are `first[k] .. first[k + 1] - 1`. */
interface Triangle {
  readonly first: Int32Array;
  readonly other: Int32Array;
  readonly weight: Float64Array;
}

function triangle(rows: number, entries: number): Triangle {
  return {
    first: new Int32Array(rows + 1),
    other: new Int32Array(entries),
    weight: new Float64Array(entries),
  };
}

interface SweepOptions {
  readonly medium: Medium & { readonly graph: Pick<Neighbourhood, 'border'> };
  /** Size of each node in pixels. */
  readonly size: Float32Array;
  /** Least size of what is inside. */
  readonly least: number;
  /** Depths looked at, in steps of e. */
  readonly from: number;
  readonly to: number;
}

/**
 * How far beyond the border that parts inside from outside each node lies, in steps of e of depth (-ln of what arrives),
 * below 0 inside; at most MOST_BEYOND either way. A level set is the better a border the less it lets through per pixel of its length,
 * deeper ones at a small price. Often several are nearly as good, and which one is best hangs on trifles: the answer is the mean
 * over all of them, each with the weight of a power of its goodness.
 * Source: the sweep over level sets of Andersen, Chung, Lang 2006, FOCS, 475-486, section 2.2, per length of border
 * instead of per volume; the mean over them is ours.
 */
export function depthBeyond(
  depth: Float64Array,
  { medium, size, least, from, to }: SweepOptions,
): Float64Array {
  const { graph, conductance } = medium;
  const found: number[] = [];
  for (let i = 0; i < depth.length; i++) if (depth[i] <= to) found.push(i);
  const order = Int32Array.from(found).sort((a, b) => depth[a] - depth[b] || a - b);
  const inside = new Uint8Array(depth.length);
  let [through, length, area] = [0, 0, 0];
  const lowest = new Float64Array(LEVELS).fill(Infinity);
  for (const i of order) {
    inside[i] = 1;
    area += size[i];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const sign = inside[graph.other[e]] ? -1 : 1;
      through += sign * conductance[e];
      length += sign * graph.border[e];
    }
    if (depth[i] < from || area < least || length <= 0) continue;
    const score = ((through + LEAST_THROUGH) / length) * Math.exp(DEPTH_PRICE * depth[i]);
    const level = Math.min(LEVELS - 1, Math.floor(((depth[i] - from) / (to - from)) * LEVELS));
    if (score < lowest[level]) lowest[level] = score;
  }
  const best = Math.min(...lowest);
  // Where no level is a border everything that was reached is inside, as far as it was looked.
  const weight = lowest.map((score) => (best < Infinity ? (best / score) ** DECISIVE : 0));
  if (best === Infinity) weight[0] = 1;
  const whole = weight.reduce((sum, w) => sum + w, 0);
  const part = weight.map((w) => w / whole);
  const at = weight.map((_, k) => from + ((k + 0.5) / LEVELS) * (to - from));
  const beyond = (d: number) => {
    let sum = 0;
    for (let k = 0; k < LEVELS; k++)
      if (part[k] > 0) sum += part[k] * Math.max(-MOST_BEYOND, Math.min(MOST_BEYOND, d - at[k]));
    return sum;
  };
  // Most of a picture lies beyond all levels.
  const last = at[LEVELS - 1] + MOST_BEYOND;
  const most = beyond(last);
  const out = new Float64Array(depth.length);
  for (let i = 0; i < out.length; i++) out[i] = depth[i] >= last ? most : beyond(depth[i]);
  return out;
}

const LEAST_THROUGH = 0.5; // a border of a few pixels is no proof
const DEPTH_PRICE = 0.2;
const LEVELS = 60;
const DECISIVE = 6; // power of the goodness
const MOST_BEYOND = 3;
