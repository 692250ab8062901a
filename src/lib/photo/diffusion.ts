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
const SETTLED = 1e-9;

/**
 * How much of what starts in the seeds arrives at each node, 0-1: the solution of the screened Laplace equation with
 * 1 held at the seeds and 0 at the closed nodes, by conjugate gradients. Narrow leaks carry little, so that a gap in an
 * edge does not flood what lies behind it. `closed` nodes take everything away that reaches them.
 * Source: Grady 2006, IEEE TPAMI 28(11), 1768-1783, eq. 8; the loss is that of a screened Poisson equation.
 */
export function diffused(medium: Medium, seeds: Uint8Array, closed: Uint8Array): Float64Array {
  const { count, graph, conductance, loss } = medium;
  const { first, other } = graph;
  const held = Uint8Array.from(seeds, (s, i) => (s || closed[i] ? 1 : 0));
  const diagonal = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    diagonal[i] = loss[i];
    for (let e = first[i]; e < first[i + 1]; e++) diagonal[i] += conductance[e];
  }
  const apply = (x: Float64Array, out: Float64Array) => {
    for (let i = 0; i < count; i++) {
      if (held[i]) continue;
      let sum = diagonal[i] * x[i];
      for (let e = first[i]; e < first[i + 1]; e++) sum -= conductance[e] * x[other[e]];
      out[i] = sum;
    }
  };
  const value = Float64Array.from(seeds);
  const image = new Float64Array(count);
  const residual = new Float64Array(count);
  const direction = new Float64Array(count);
  apply(value, image);
  let energy = 0;
  for (let i = 0; i < count; i++) {
    if (held[i]) continue;
    residual[i] = -image[i];
    direction[i] = residual[i] / diagonal[i];
    energy += residual[i] * direction[i];
  }
  const enough = energy * SETTLED;
  for (let round = 0; round < ROUNDS && energy > enough; round++) {
    apply(direction, image);
    let bend = 0;
    for (let i = 0; i < count; i++) bend += direction[i] * image[i];
    const pace = energy / bend;
    let next = 0;
    for (let i = 0; i < count; i++) {
      if (held[i]) continue;
      value[i] += pace * direction[i];
      residual[i] -= pace * image[i];
      next += (residual[i] * residual[i]) / diagonal[i];
    }
    const keep = next / energy;
    energy = next;
    for (let i = 0; i < count; i++)
      if (!held[i]) direction[i] = residual[i] / diagonal[i] + keep * direction[i];
  }
  return value;
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
  const order: number[] = [];
  for (let i = 0; i < depth.length; i++) if (depth[i] <= to) order.push(i);
  order.sort((a, b) => depth[a] - depth[b] || a - b);
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
  return depth.map((d) => {
    let sum = 0;
    for (let k = 0; k < LEVELS; k++)
      if (weight[k] > 0) {
        const at = from + ((k + 0.5) / LEVELS) * (to - from);
        sum += weight[k] * Math.max(-MOST_BEYOND, Math.min(MOST_BEYOND, d - at));
      }
    return sum / whole;
  });
}

const LEAST_THROUGH = 0.5; // a border of a few pixels is no proof
const DEPTH_PRICE = 0.2;
const LEVELS = 60;
const DECISIVE = 6; // power of the goodness
const MOST_BEYOND = 3;
