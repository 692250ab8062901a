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
const RINGS = 5; // of nodes that it may spread over before it is looked how far it came
const NOTHING = 2e-5; // what arrives: where it is less it is not followed any farther

/** A node is not asked: seeds and closed ones, those that it has not spread to yet. */
const NEVER = -2;
const NOT_YET = -1;

/**
 * How much of what starts in the seeds arrives at each node, 0-1: the solution of the screened Laplace equation with
 * 1 held at the seeds and 0 at the closed nodes. Narrow leaks carry little, so that a gap in an
 * edge does not flood what lies behind it. `closed` nodes take everything away that reaches them. Where about NOTHING
 * or less would arrive it is 0: that is most of a picture, and it is not worked out.
 * Source: Grady 2006, IEEE TPAMI 28(11), 1768-1783, eq. 8; the loss is that of a screened Poisson equation.
 */
export function diffused(medium: Medium, seeds: Uint8Array, closed: Uint8Array): Float64Array {
  const { count, graph, conductance, loss } = medium;
  const { first, other } = graph;
  const value = new Float64Array(seeds);
  const place = new Int32Array(count);
  const from: number[] = [];
  for (let i = 0; i < count; i++) {
    place[i] = seeds[i] || closed[i] ? NEVER : NOT_YET;
    if (seeds[i]) from.push(i);
  }
  let enough = 0;
  while (from.length > 0) {
    // Rings of nodes, one after the other.
    let head = 0;
    for (let ring = 0; ring < RINGS; ring++)
      for (const end = from.length; head < end; head++) {
        const i = from[head];
        for (let e = first[i]; e < first[i + 1]; e++)
          if (place[other[e]] === NOT_YET) {
            place[other[e]] = 0;
            from.push(other[e]);
          }
      }
    const node: number[] = [];
    for (let i = 0; i < count; i++) if (place[i] >= 0) place[i] = node.push(i) - 1;
    const energy = settle(medium, { node, place, value, enough });
    if (enough === 0) enough = SETTLED * energy;
    // It goes on where something would come to nodes beyond the last ring.
    from.length = 0;
    for (const i of node)
      for (let e = first[i]; e < first[i + 1]; e++) {
        const j = other[e];
        if (place[j] !== NOT_YET) continue;
        let [whole, comes] = [loss[j], 0];
        for (let f = first[j]; f < first[j + 1]; f++) {
          whole += conductance[f];
          comes += conductance[f] * value[other[f]];
        }
        if (comes > NOTHING * whole) {
          place[j] = 0;
          from.push(j);
        }
      }
  }
  return value;
}

/**
 * Solves for the values of some nodes, those of all others held, in place, from what they are on. `place` is the number of
 * each of them, below 0 for the others. Goes on until the energy of what is left is `enough`, where that is 0 to SETTLED of what it was;
 * out: what it was.
 * Source: conjugate gradients with the diagonal of a modified incomplete factorization (Gustafsson 1978, BIT 18, 142-156), its two
 * triangles solved in place of a product with the matrix (Eisenstat 1981, SIAM J. Sci. Stat. Comput. 2(1), 1-4).
 */
function settle(
  { graph: { first, other }, conductance, loss }: Medium,
  {
    node,
    place,
    value,
    enough,
  }: {
    readonly node: readonly number[];
    readonly place: Int32Array;
    readonly value: Float64Array;
    readonly enough: number;
  },
): number {
  const n = node.length;
  let entries = 0;
  for (const i of node) entries += first[i + 1] - first[i];
  // What ties each node to those before it, and to those after it.
  const before = triangle(n, entries);
  const after = triangle(n, entries);
  const residual = new Float64Array(n);
  const diagonal = new Float64Array(n);
  const onward = new Float64Array(n);
  for (let k = 0, low = 0, high = 0; k < n; k++) {
    const i = node[k];
    let whole = loss[i];
    for (let e = first[i]; e < first[i + 1]; e++) {
      const j = other[e];
      whole += conductance[e];
      residual[k] += conductance[e] * value[j];
      if (place[j] > k) {
        after.other[high] = place[j];
        after.weight[high++] = conductance[e];
        onward[k] += conductance[e];
      } else if (place[j] >= 0) {
        before.other[low] = place[j];
        before.weight[low++] = conductance[e];
      }
    }
    residual[k] -= whole * value[i];
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
  const whole = energy;
  const step = new Float64Array(n);
  const image = new Float64Array(n);
  for (let round = 0; round < ROUNDS && energy > (enough || SETTLED * whole); round++) {
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
      value[node[k]] += pace * step[k];
      residual[k] -= pace * image[k];
      next += pivot[k] * residual[k] * residual[k];
    }
    const keep = next / energy;
    energy = next;
    for (let k = 0; k < n; k++) direction[k] = pivot[k] * residual[k] + keep * direction[k];
  }
  return whole;
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
