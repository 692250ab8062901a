import type { Cracks } from './faint-lines.ts';
import type { ShadingFeatures } from './shading-features.ts';

/** A picture cut into small pieces of one colour, and which pieces touch. */
export interface Superpixels {
  readonly width: number;
  readonly height: number;
  /** Wanted side of a piece in pixels. */
  readonly cell: number;
  readonly count: number;
  /** Piece of each pixel. */
  readonly label: Int32Array;
  /** Pixels (y * width + x) of piece i: `pixels[start[i]] .. pixels[start[i + 1] - 1]`. */
  readonly start: Int32Array;
  readonly pixels: Int32Array;
  /** Mean L, u, v of each piece (stride 3) and the standard deviation of L inside it. */
  readonly mean: Float32Array;
  readonly spread: Float32Array;
}

const ROUNDS = 4;
const COMPACTNESS = 2.5; // feature units a piece may differ inside before it stretches beyond its cell
const FRAGMENT = 1 / 8; // of a cell: smaller islands join the neighbour most like them

/**
 * Simple linear iterative clustering: k-means in colour and place, each centre reaching over two cells.
 * `cell` is the wanted side of a piece in pixels; no piece lies on both sides of a crack. Thin things (a handle, a gap) become pieces of their own.
 * Source: Achanta, Shaji, Smith, Lucchi, Fua, Süsstrunk 2012, IEEE TPAMI 34(11), 2274-2282, algorithm 1.
 */
export function superpixels(features: ShadingFeatures, cell: number, cracks: Cracks): Superpixels {
  if (!(cell >= 2)) throw new RangeError(`Expected a cell of at least 2 pixels, got ${cell}`);
  const label = clusters(features, cell);
  const islands = connected(features, label, { cell, cracks });
  return { ...described(features, islands), cell };
}

function clusters({ width, height, data }: ShadingFeatures, cell: number): Int32Array {
  const columns = Math.max(1, Math.round(width / cell));
  const rows = Math.max(1, Math.round(height / cell));
  const count = columns * rows;
  const centre = new Float64Array(count * 5);
  for (let r = 0; r < rows; r++)
    for (let c = 0; c < columns; c++) {
      const x = Math.min(width - 1, Math.floor(((c + 0.5) * width) / columns));
      const y = Math.min(height - 1, Math.floor(((r + 0.5) * height) / rows));
      const at = 3 * (y * width + x);
      centre.set([data[at], data[at + 1], data[at + 2], x, y], 5 * (r * columns + c));
    }
  const label = new Int32Array(width * height);
  const nearest = new Float32Array(width * height);
  const pull = (COMPACTNESS / cell) ** 2;
  const reach = Math.ceil(cell * 1.25);
  const sums = new Float64Array(count * 6);
  for (let round = 0; round < ROUNDS; round++) {
    nearest.fill(Infinity);
    for (let k = 0; k < count; k++) {
      const o = 5 * k;
      const L = centre[o];
      const u = centre[o + 1];
      const v = centre[o + 2];
      const cx = centre[o + 3];
      const cy = centre[o + 4];
      const left = Math.max(0, Math.round(cx) - reach);
      const right = Math.min(width - 1, Math.round(cx) + reach);
      const top = Math.max(0, Math.round(cy) - reach);
      const bottom = Math.min(height - 1, Math.round(cy) + reach);
      for (let y = top; y <= bottom; y++) {
        const down = pull * (y - cy) * (y - cy);
        const end = y * width + right;
        for (let p = y * width + left, x = left; p <= end; p++, x++) {
          const i = 3 * p;
          const dL = data[i] - L;
          const du = data[i + 1] - u;
          const dv = data[i + 2] - v;
          const d = dL * dL + 4 * (du * du + dv * dv) + down + pull * (x - cx) * (x - cx);
          if (d < nearest[p]) {
            nearest[p] = d;
            label[p] = k;
          }
        }
      }
    }
    if (round === ROUNDS - 1) break;
    sums.fill(0);
    for (let y = 0, p = 0; y < height; y++)
      for (let x = 0; x < width; x++, p++) {
        const o = 6 * label[p];
        sums[o] += data[3 * p];
        sums[o + 1] += data[3 * p + 1];
        sums[o + 2] += data[3 * p + 2];
        sums[o + 3] += x;
        sums[o + 4] += y;
        sums[o + 5]++;
      }
    for (let k = 0; k < count; k++)
      if (sums[6 * k + 5] > 0)
        for (let c = 0; c < 5; c++) centre[5 * k + c] = sums[6 * k + c] / sums[6 * k + 5];
  }
  return label;
}

/** Every piece made one connected island; fragments join the neighbouring island of the nearest mean colour. */
function connected(
  features: ShadingFeatures,
  label: Int32Array,
  { cell, cracks }: { cell: number; cracks: Cracks },
): Int32Array {
  const { width, height, data } = features;
  const n = width * height;
  /** Whether a crack lies between a pixel and its neighbour left, right, above or below. */
  const parted = (p: number, q: number, side: number) =>
    side === 0 ? cracks[q] & 1 : side === 1 ? cracks[p] & 1 : side === 2 ? cracks[q] & 2 : cracks[p] & 2;
  const island = new Int32Array(n).fill(-1);
  const order = new Int32Array(n);
  const starts: number[] = [];
  let filled = 0;
  for (let seed = 0; seed < n; seed++) {
    if (island[seed] >= 0) continue;
    const id = starts.length;
    const own = label[seed];
    starts.push(filled);
    island[seed] = id;
    order[filled++] = seed;
    for (let head = filled - 1; head < filled; head++) {
      const p = order[head];
      const x = p % width;
      for (let side = 0; side < 4; side++) {
        if (side === 0 ? x === 0 : side === 1 ? x === width - 1 : side === 2 ? p < width : p >= n - width)
          continue;
        const q = side === 0 ? p - 1 : side === 1 ? p + 1 : side === 2 ? p - width : p + width;
        if (island[q] < 0 && label[q] === own && !parted(p, q, side)) {
          island[q] = id;
          order[filled++] = q;
        }
      }
    }
  }
  starts.push(n);
  const count = starts.length - 1;
  const parent = Int32Array.from({ length: count }, (_, i) => i);
  const find = (i: number) => {
    while (parent[i] !== i) i = parent[i] = parent[parent[i]];
    return i;
  };
  const size = new Float64Array(count);
  const mean = new Float64Array(count * 3);
  for (let i = 0; i < count; i++) {
    for (let j = starts[i]; j < starts[i + 1]; j++)
      for (let k = 0; k < 3; k++) mean[3 * i + k] += data[3 * order[j] + k];
    size[i] = starts[i + 1] - starts[i];
    for (let k = 0; k < 3; k++) mean[3 * i + k] /= size[i];
  }
  const least = Math.max(2, cell * cell * FRAGMENT);
  for (let i = 0; i < count; i++) {
    if (size[i] >= least || parent[i] !== i) continue;
    let [best, closest] = [-1, Infinity];
    for (let j = starts[i]; j < starts[i + 1]; j++) {
      const p = order[j];
      const x = p % width;
      for (let side = 0; side < 4; side++) {
        if (side === 0 ? x === 0 : side === 1 ? x === width - 1 : side === 2 ? p < width : p >= n - width)
          continue;
        const q = side === 0 ? p - 1 : side === 1 ? p + 1 : side === 2 ? p - width : p + width;
        if (parted(p, q, side)) continue;
        const other = find(island[q]);
        if (other === i) continue;
        let d = 0;
        for (let k = 0; k < 3; k++) d += (mean[3 * other + k] - mean[3 * i + k]) ** 2;
        if (d < closest) [best, closest] = [other, d];
      }
    }
    if (best < 0) continue;
    const total = size[best] + size[i];
    for (let k = 0; k < 3; k++)
      mean[3 * best + k] = (mean[3 * best + k] * size[best] + mean[3 * i + k] * size[i]) / total;
    size[best] = total;
    parent[i] = best;
  }
  const fresh = new Int32Array(count).fill(-1);
  let next = 0;
  for (let p = 0; p < n; p++) {
    const root = find(island[p]);
    if (fresh[root] < 0) fresh[root] = next++;
    island[p] = fresh[root];
  }
  return island;
}

function described({ width, height, data }: ShadingFeatures, label: Int32Array): Omit<Superpixels, 'cell'> {
  let count = 0;
  for (const k of label) if (k >= count) count = k + 1;
  const start = new Int32Array(count + 1);
  for (let p = 0; p < label.length; p++) start[label[p] + 1]++;
  for (let i = 0; i < count; i++) start[i + 1] += start[i];
  const pixels = new Int32Array(label.length);
  const next = start.slice(0, count);
  for (let p = 0; p < label.length; p++) pixels[next[label[p]]++] = p;
  const mean = new Float32Array(count * 3);
  const spread = new Float32Array(count);
  for (let i = 0; i < count; i++) {
    let [L, u, v, squares] = [0, 0, 0, 0];
    for (let j = start[i]; j < start[i + 1]; j++) {
      const at = 3 * pixels[j];
      L += data[at];
      squares += data[at] * data[at];
      u += data[at + 1];
      v += data[at + 2];
    }
    const size = start[i + 1] - start[i];
    mean[3 * i] = L / size;
    mean[3 * i + 1] = u / size;
    mean[3 * i + 2] = v / size;
    spread[i] = Math.sqrt(Math.max(0, squares / size - (L / size) ** 2));
  }
  return { width, height, count, label, start, pixels, mean, spread };
}

/** Which pieces touch, each pair twice (once from either side): those of piece i are `first[i] .. first[i + 1] - 1`. */
export interface Neighbourhood {
  readonly first: Int32Array;
  readonly other: Int32Array;
  /** The same pair seen from the other side. */
  readonly twin: Int32Array;
  /** Length of the common border in pixels. */
  readonly border: Float32Array;
  /** Step of L, u, v across the border, its mean along the border so that grain averages out: size, 0 or more. */
  readonly step: Float32Array;
  /** Per entry: the sums along the border the step is made of, seen from its own side; stride 6. */
  readonly sums: Float32Array;
}

/**
 * How far on either side of a border its step is read, in cells: beyond the blur of a sharp edge, and beyond a thin
 * thing. The smaller of the two counts most, so that a gap between doors does not part the paint on both its sides.
 */
const NEAR = 0.2;
const BEYOND = 0.6;

/** Finds the neighbours of every piece and measures the step of colour across each border. */
export function neighbourhood(pieces: Superpixels, features: ShadingFeatures): Neighbourhood {
  const { width, height, label, count, cell } = pieces;
  const { data } = features;
  const close = Math.max(2, Math.round(NEAR * cell));
  const far = Math.max(3, Math.round(BEYOND * cell));
  const head = new Int32Array(count).fill(-1);
  let room = count * 8;
  let next = new Int32Array(room);
  let to = new Int32Array(room);
  let sums = new Float64Array(room * 7);
  let used = 0;
  const add = (from: number, onto: number, stride: number, before: number, after: number) => {
    const a = label[from];
    const b = label[onto];
    // The pair is kept with the smaller number first; the step then points from it to the larger.
    const low = a < b ? a : b;
    const high = a < b ? b : a;
    let e = head[low];
    while (e >= 0 && to[e] !== high) e = next[e];
    if (e < 0) {
      if (used === room) {
        room *= 2;
        next = enlarged(next, new Int32Array(room));
        to = enlarged(to, new Int32Array(room));
        sums = enlarged(sums, new Float64Array(room * 7));
      }
      e = used++;
      to[e] = high;
      next[e] = head[low];
      head[low] = e;
    }
    const sign = a < b ? 1 : -1;
    const o = 7 * e;
    sums[o]++;
    let [p, q] = [
      3 * (from - stride * Math.min(before, close)),
      3 * (onto + stride * Math.min(after, close)),
    ];
    for (let k = 0; k < 3; k++) sums[o + 1 + k] += sign * (data[q + k] - data[p + k]);
    [p, q] = [3 * (from - stride * Math.min(before, far)), 3 * (onto + stride * Math.min(after, far))];
    for (let k = 0; k < 3; k++) sums[o + 4 + k] += sign * (data[q + k] - data[p + k]);
  };
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      const a = label[p];
      if (x + 1 < width && label[p + 1] !== a) add(p, p + 1, 1, x, width - 2 - x);
      if (y + 1 < height && label[p + width] !== a) add(p, p + width, width, y, height - 2 - y);
    }
  const first = new Int32Array(count + 1);
  for (let low = 0; low < count; low++)
    for (let e = head[low]; e >= 0; e = next[e]) {
      first[low + 1]++;
      first[to[e] + 1]++;
    }
  for (let i = 0; i < count; i++) first[i + 1] += first[i];
  const at = first.slice(0, count);
  const other = new Int32Array(2 * used);
  const twin = new Int32Array(2 * used);
  const border = new Float32Array(2 * used);
  const step = new Float32Array(2 * used);
  const all = new Float32Array(12 * used);
  for (let low = 0; low < count; low++)
    for (let e = head[low]; e >= 0; e = next[e]) {
      const [i, j] = [at[low]++, at[to[e]]++];
      other[i] = to[e];
      other[j] = low;
      twin[i] = j;
      twin[j] = i;
      const o = 7 * e;
      const near = sums[o + 1] ** 2 + 4 * (sums[o + 2] ** 2 + sums[o + 3] ** 2);
      const beyond = sums[o + 4] ** 2 + 4 * (sums[o + 5] ** 2 + sums[o + 6] ** 2);
      border[i] = border[j] = sums[o];
      for (let k = 0; k < 6; k++) {
        all[6 * i + k] = sums[o + 1 + k];
        all[6 * j + k] = -sums[o + 1 + k];
      }
      step[i] = step[j] = Math.sqrt(Math.min(near, beyond)) / sums[o];
    }
  return { first, other, twin, border, step, sums: all };
}

function enlarged<T extends Int32Array | Float64Array>(from: T, into: T): T {
  into.set(from);
  return into;
}
