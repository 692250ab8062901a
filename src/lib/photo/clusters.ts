import { deltaE2000, type Lab } from '#lib/colour/index.ts';

/** One of the colours the pixels gather round, in the stretched space of `stretched`. */
interface Cluster {
  weight: number;
  centre: [number, number, number];
}

const LIGHTNESS = 0.45; // how much lightness counts against chroma and hue: a surface shades more than it tints
const BIN = 3; // side of a histogram cell
const BOX = 8; // side of the boxes whose means are the first clusters
const DIFFERENT = 6.2; // price of a union from which two areas stay apart
// One reading changed its areas between 2048 and 512 pixels in 3 of 8 pictures, the typical one of 45 in none at this
// limit and in 1 or 2 of 8 at limits a few tenths away: some pictures have no one answer.
const READINGS = 45;
const AUTOMATIC_MOST = 8;
const LEAST_SHARE = 0.007; // smaller areas stay only where the count asks for them

/**
 * Lab with chroma compressed as CIEDE2000's S_C does it, so that straight distances are near to perceived ones for
 * strong colours too, and with lightness weighted down. Near black, where a camera's chroma is noise, it counts less.
 */
function stretched(L: number, a: number, b: number, out: Float64Array, at: number): void {
  const chroma = Math.hypot(a, b);
  const dark = Math.min(1, Math.max(0, L) / 20);
  const k = dark * (chroma > 1e-6 ? Math.log1p(0.045 * chroma) / (0.045 * chroma) : 1);
  out[at] = LIGHTNESS * L;
  out[at + 1] = k * a;
  out[at + 2] = k * b;
}

function relaxed([L, a, b]: readonly number[]): Lab {
  const dark = Math.min(1, Math.max(0.05, L / LIGHTNESS / 20));
  const compressed = Math.hypot(a, b) / dark;
  const k = (compressed > 1e-6 ? Math.expm1(0.045 * compressed) / (0.045 * compressed) : 1) / dark;
  return { L: L / LIGHTNESS, a: k * a, b: k * b };
}

/**
 * Which colour area each pixel belongs to; -1 outside. A histogram stands for the pixels; its clusters begin as the
 * means of a fixed lattice, settle by weighted k-means and are united, cheapest first, until what is left is
 * different enough or `count` are left.
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
  const readings = Array.from({ length: READINGS }, (_, k) => {
    const shift = [k / READINGS, ((4 * k) % READINGS) / READINGS, ((7 * k) % READINGS) / READINGS];
    const strictness = 0.9 + (0.2 * ((2 * k) % READINGS)) / (READINGS - 1);
    const first = settle(cells, lattice(cells, shift), 2);
    return settle(cells, united(cells, first, count, strictness), 10);
  });
  const found = mostTypical(cells, readings);
  const label = new Int16Array(n).fill(-1);
  for (let p = 0; p < n; p++) if (inside[p]) label[p] = nearest(found, points, 3 * p);
  return label;
}

/**
 * Of several readings the typical one: as many areas as the middle one of them has, and of those the reading that
 * leaves the pixels nearest to their areas. Where a picture could be read in two ways, which of them comes out hangs on
 * trifles; shifting the lattice and the limits a little, far more than noise or another size of the picture would,
 * makes the answer the same far more often.
 */
function mostTypical(cells: Cells, readings: readonly Cluster[][]): Cluster[] {
  const counts = readings.map((r) => r.length).sort((p, q) => p - q);
  const usual = counts[counts.length >> 1];
  const left = (reading: readonly Cluster[]) => {
    let sum = 0;
    for (let i = 0; i < cells.size; i++) {
      const { centre } = reading[nearest(reading, cells.centre, 3 * i)];
      sum += cells.weight[i] * apart(centre, cells.centre.subarray(3 * i, 3 * i + 3)) ** 2;
    }
    return sum;
  };
  const usualOnes = readings.filter((r) => r.length === usual);
  const sums = usualOnes.map(left);
  return usualOnes[sums.indexOf(Math.min(...sums))];
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

/**
 * First clusters: the means of a lattice of boxes, shifted by shares of a box. They move
 * smoothly with the picture, as peaks picked in order of height do not: a little noise would reorder those.
 */
function lattice(cells: Cells, shift: readonly number[]): Cluster[] {
  const boxes = new Map<string, Cluster>();
  let total = 0;
  for (let i = 0; i < cells.size; i++) {
    const w = cells.weight[i];
    total += w;
    const at = [0, 1, 2].map((c) => cells.centre[3 * i + c]);
    const key = at.map((v, c) => Math.floor(v / BOX + shift[c])).join();
    const box = boxes.get(key) ?? { weight: 0, centre: [0, 0, 0] };
    for (let c = 0; c < 3; c++) box.centre[c] += w * at[c];
    box.weight += w;
    boxes.set(key, box);
  }
  return [...boxes.values()]
    .filter((box) => box.weight > 0.001 * total)
    .map(({ weight, centre: [x, y, z] }) => ({ weight, centre: [x / weight, y / weight, z / weight] }));
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

/**
 * Makes unions, cheapest first, and lets the rest settle after each, until the cheapest is dear and few are left.
 * All prices change smoothly with the picture, so that a little noise seldom changes what is united.
 */
function united(
  cells: Cells,
  from: readonly Cluster[],
  count: number | undefined,
  strictness: number,
): Cluster[] {
  let found = from.map((f) => ({ ...f }));
  const total = found.reduce((s, f) => s + f.weight, 0);
  const price = (a: Cluster, b: Cluster) => {
    const tint = Math.hypot(a.centre[1] - b.centre[1], a.centre[2] - b.centre[2]);
    // A small area counts for less, unless it differs in hue or chroma: those are seen even when small.
    const share = (Math.min(a.weight, b.weight) / total) * (1 + (tint / 7) ** 2);
    return apart(a.centre, b.centre) * Math.sqrt(share / (share + 0.04));
  };
  for (;;) {
    if (found.length < 2) return found;
    let [least, i, j] = [Infinity, 0, 1];
    for (let p = 0; p < found.length; p++)
      for (let q = p + 1; q < found.length; q++) {
        const tiny = Math.min(found[p].weight, found[q].weight) < LEAST_SHARE * total;
        const cost = count === undefined && tiny ? price(found[p], found[q]) / 10 : price(found[p], found[q]);
        if (cost < least) [least, i, j] = [cost, p, q];
      }
    const enough = found.length <= (count ?? AUTOMATIC_MOST);
    const differ = count === undefined ? least > strictness * DIFFERENT : different(found[i], found[j]) >= 2;
    if (enough && differ) return found;
    const [a, b] = [found[i], found[j]];
    const weight = a.weight + b.weight;
    const centre = a.centre.map((v, c) => (v * a.weight + b.centre[c] * b.weight) / weight);
    found[i] = { weight, centre: centre as Cluster['centre'] };
    found.splice(j, 1);
    if (found.length < 20) found = settle(cells, found, 4);
  }
}

function different(a: Cluster, b: Cluster): number {
  return deltaE2000(relaxed(a.centre), relaxed(b.centre));
}
