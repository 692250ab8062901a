import { deltaE2000, type Lab } from '#lib/colour/index.ts';

/** One of the colours the pixels gather round, in the stretched space of `stretched`. */
interface Cluster {
  weight: number;
  centre: [number, number, number];
}

const LIGHTNESS = 0.65; // how much lightness counts against chroma and hue: a surface shades more than it tints
const BIN = 3; // side of a histogram cell
const SEEDS = 24;
const REACH = 7; // a seed silences others within it
const TOO_NEAR = 9; // unions up to this distance are always made
const AUTOMATIC_MOST = 8;
const SMALL = 0.03; // an area below this share stays only where it is vivid
const VIVID_SMALL = 0.01;

/**
 * Lab with chroma compressed as CIEDE2000's S_C does it, so that straight distances are near to perceived ones for
 * strong colours too, and with lightness weighted down.
 */
function stretched(L: number, a: number, b: number, out: Float64Array, at: number): void {
  const chroma = Math.hypot(a, b);
  const k = chroma > 1e-6 ? Math.log1p(0.045 * chroma) / (0.045 * chroma) : 1;
  out[at] = LIGHTNESS * L;
  out[at + 1] = k * a;
  out[at + 2] = k * b;
}

function relaxed([L, a, b]: readonly number[]): Lab {
  const compressed = Math.hypot(a, b);
  const k = compressed > 1e-6 ? Math.expm1(0.045 * compressed) / (0.045 * compressed) : 1;
  return { L: L / LIGHTNESS, a: k * a, b: k * b };
}

/**
 * Which colour area each pixel belongs to; -1 outside. Histogram, smoothed; its peaks as seeds; weighted k-means;
 * then unions, nearest (and smallest) first, until what is left is different enough or `count` are left.
 */
export function clusters(
  labs: Float32Array,
  weight: Float32Array,
  inside: Uint8Array,
  count: number | undefined,
): Int16Array {
  const n = inside.length;
  const points = new Float64Array(n * 3);
  for (let p = 0; p < n; p++) stretched(labs[3 * p], labs[3 * p + 1], labs[3 * p + 2], points, 3 * p);
  const cells = histogram(points, weight, inside);
  const most = count === undefined ? SEEDS : Math.max(SEEDS, 2 * count);
  let found = settle(cells, seeds(cells, most));
  found = united(found, count);
  found = settle(cells, found, 4);
  if (count === undefined) {
    // Means that moved may have come too near.
    found = united(found, count);
  }
  const label = new Int16Array(n).fill(-1);
  for (let p = 0; p < n; p++) if (inside[p]) label[p] = nearest(found, points, 3 * p);
  return label;
}

interface Cells {
  readonly size: number;
  readonly centre: Float64Array;
  readonly weight: Float64Array;
}

function histogram(points: Float64Array, weight: Float32Array, inside: Uint8Array): Cells {
  const index = new Map<number, number>();
  const sums: number[] = [];
  const weights: number[] = [];
  for (let p = 0; p < inside.length; p++) {
    if (inside[p] === 0) continue;
    const key =
      (Math.floor(points[3 * p] / BIN) + 512) * 1048576 +
      (Math.floor(points[3 * p + 1] / BIN) + 512) * 1024 +
      Math.floor(points[3 * p + 2] / BIN) +
      512;
    let cell = index.get(key);
    if (cell === undefined) {
      cell = weights.length;
      index.set(key, cell);
      weights.push(0);
      sums.push(0, 0, 0);
    }
    const w = weight[p] + 1e-3;
    weights[cell] += w;
    for (let c = 0; c < 3; c++) sums[3 * cell + c] += w * points[3 * p + c];
  }
  const centre = Float64Array.from(sums, (s, i) => s / weights[Math.floor(i / 3)]);
  return { size: weights.length, centre, weight: Float64Array.from(weights) };
}

/** Peaks of the smoothed histogram, the strongest first, each silencing what lies within reach. */
function seeds(cells: Cells, most: number): Cluster[] {
  const { size, centre, weight } = cells;
  const density = new Float64Array(size);
  const width = 2 * 4 * 4;
  for (let i = 0; i < size; i++)
    for (let j = 0; j < size; j++) {
      const d =
        (centre[3 * i] - centre[3 * j]) ** 2 +
        (centre[3 * i + 1] - centre[3 * j + 1]) ** 2 +
        (centre[3 * i + 2] - centre[3 * j + 2]) ** 2;
      if (d < 144) density[i] += weight[j] * Math.exp(-d / width);
    }
  // Vivid colours are noticed before their share says so.
  for (let i = 0; i < size; i++) density[i] *= 1 + Math.hypot(centre[3 * i + 1], centre[3 * i + 2]) / 20;
  const order = Array.from({ length: size }, (_, i) => i).sort((i, j) => density[j] - density[i] || i - j);
  const found: Cluster[] = [];
  for (const i of order) {
    if (found.length >= most) break;
    const at: [number, number, number] = [centre[3 * i], centre[3 * i + 1], centre[3 * i + 2]];
    if (found.every((f) => apart(f.centre, at) > REACH)) found.push({ weight: 0, centre: at });
  }
  return found;
}

function apart(p: ArrayLike<number>, q: ArrayLike<number>): number {
  return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

function nearest(found: readonly Cluster[], points: Float64Array, at: number): number {
  let [best, least] = [0, Infinity];
  for (let k = 0; k < found.length; k++) {
    const { centre } = found[k];
    const d =
      (centre[0] - points[at]) ** 2 + (centre[1] - points[at + 1]) ** 2 + (centre[2] - points[at + 2]) ** 2;
    if (d < least) [best, least] = [k, d];
  }
  return best;
}

/** Weighted k-means on the histogram from given centres; clusters that come out empty are dropped. */
function settle(cells: Cells, from: readonly Cluster[], passes = 12): Cluster[] {
  let found = from.map((f) => ({ ...f }));
  for (let pass = 0; pass < passes; pass++) {
    const sums = found.map(() => [0, 0, 0, 0]);
    for (let i = 0; i < cells.size; i++) {
      const s = sums[nearest(found, cells.centre, 3 * i)];
      const w = cells.weight[i];
      s[3] += w;
      for (let c = 0; c < 3; c++) s[c] += w * cells.centre[3 * i + c];
    }
    found = sums
      .filter((s) => s[3] > 0)
      .map(([x, y, z, w]) => ({ weight: w, centre: [x / w, y / w, z / w] }));
  }
  return found;
}

/** Makes unions, cheapest first, until the rest is different enough and few enough. */
function united(from: readonly Cluster[], count: number | undefined): Cluster[] {
  const found = from.map((f) => ({ ...f }));
  const total = found.reduce((s, f) => s + f.weight, 0);
  // What a union costs: the distance, the less the smaller of the two matters.
  const cost = (a: Cluster, b: Cluster) => {
    const share = Math.min(a.weight, b.weight) / total;
    return apart(a.centre, b.centre) * Math.sqrt(Math.min(1, share / 0.05 + 0.1));
  };
  const chroma = (f: Cluster) => Math.hypot(f.centre[1], f.centre[2]);
  const dispensable = (f: Cluster, near: Cluster) => {
    const share = f.weight / total;
    if (share >= SMALL) return false;
    const vivid =
      chroma(f) > 12 && Math.hypot(f.centre[1] - near.centre[1], f.centre[2] - near.centre[2]) > 10;
    return !(vivid && share >= VIVID_SMALL * 0.8);
  };
  for (;;) {
    if (found.length < 2) return found;
    let best = { price: Infinity, i: 0, j: 1, must: false };
    for (let i = 0; i < found.length; i++)
      for (let j = i + 1; j < found.length; j++) {
        const [a, b] = [found[i], found[j]];
        const small = a.weight < b.weight ? a : b;
        const large = small === a ? b : a;
        const distance = apart(a.centre, b.centre);
        const near = count === undefined ? distance < TOO_NEAR : different(a, b) < 2;
        const must = near || (count === undefined && dispensable(small, large));
        const price = cost(a, b);
        if (must === best.must ? price < best.price : must) best = { price, i, j, must };
      }
    const enough = count === undefined ? found.length <= AUTOMATIC_MOST : found.length <= count;
    if (!best.must && enough) return found;
    const [a, b] = [found[best.i], found[best.j]];
    const weight = a.weight + b.weight;
    found[best.i] = {
      weight,
      centre: [0, 1, 2].map(
        (c) => (a.centre[c] * a.weight + b.centre[c] * b.weight) / weight,
      ) as Cluster['centre'],
    };
    found.splice(best.j, 1);
  }
}

function different(a: Cluster, b: Cluster): number {
  return deltaE2000(relaxed(a.centre), relaxed(b.centre));
}
