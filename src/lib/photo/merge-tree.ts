import type { Features } from './segment.ts';

/**
 * How a picture falls apart into regions at every scale: leaves are small uniform spots, each further node is
 * the union of two neighbours. Nodes are numbered so that a parent comes after its children; the last is the root.
 */
export interface MergeTree {
  readonly leaves: number;
  readonly nodes: number;
  /** Parent of each node, -1 for the root. */
  readonly parent: Int32Array;
  /** Two children of node k at 2(k - leaves), for k >= leaves. */
  readonly children: Int32Array;
  /**
   * Price of the union a node came from and of the one it ends in; unions with a sliver (less than a tenth of the
   * larger side: a mixed edge, a speck) count for neither, so that a node of a run of them knows the whole run's.
   */
  readonly birth: Float64Array;
  readonly death: Float64Array;
  /** Number of pixels. */
  readonly area: Int32Array;
  /** Pixels (y * width + x) ordered so that each node's own lie together, from `start[node]`. */
  readonly pixels: Int32Array;
  readonly start: Int32Array;
}

const SLIVER = 0.1;
const LEAF_LIMIT = 100; // pixels: a leak across a faint edge stays small
const LEAVES_WANTED = 6000;

/**
 * Small uniform spots: neighbouring pixels joined in the order of their likeness as long as the step between
 * two spots is small against the steps inside them (Felzenszwalb and Huttenlocher 2004, IJCV 59(2), predicate
 * of section 3), with a limit on size.
 */
function spots(features: Features): { label: Int32Array; count: number } {
  const { width, height, data } = features;
  const n = width * height;
  const edges = (width - 1) * height + width * (height - 1);
  const from = new Int32Array(edges);
  const to = new Int32Array(edges);
  const step = new Float32Array(edges);
  let e = 0;
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const p = y * width + x;
      for (let k = 0; k < 2; k++) {
        if (k === 0 ? x + 1 >= width : y + 1 >= height) continue;
        const q = k === 0 ? p + 1 : p + width;
        const d0 = data[3 * p] - data[3 * q];
        const d1 = data[3 * p + 1] - data[3 * q + 1];
        const d2 = data[3 * p + 2] - data[3 * q + 2];
        from[e] = p;
        to[e] = q;
        step[e++] = Math.sqrt(d0 * d0 + d1 * d1 + d2 * d2);
      }
    }
  // Counting sort: steps in hundredths, the last bin open.
  const bins = 3000;
  const bin = (s: number) => Math.min(bins - 1, Math.floor(s * 100));
  const starts = new Int32Array(bins + 1);
  for (let i = 0; i < edges; i++) starts[bin(step[i]) + 1]++;
  for (let b = 0; b < bins; b++) starts[b + 1] += starts[b];
  const order = new Int32Array(edges);
  for (let i = 0; i < edges; i++) order[starts[bin(step[i])]++] = i;

  const root = new Int32Array(n);
  const size = new Int32Array(n);
  const inside = new Float32Array(n);
  const find = (p: number) => {
    while (root[p] !== p) {
      root[p] = root[root[p]];
      p = root[p];
    }
    return p;
  };
  let count = n;
  for (let looseness = 4; ; looseness *= 2) {
    for (let p = 0; p < n; p++) root[p] = p;
    size.fill(1);
    inside.fill(0);
    count = n;
    for (let i = 0; i < edges; i++) {
      const edge = order[i];
      const a = find(from[edge]);
      const b = find(to[edge]);
      if (a === b || size[a] + size[b] > LEAF_LIMIT) continue;
      if (step[edge] > Math.min(inside[a] + looseness / size[a], inside[b] + looseness / size[b])) continue;
      root[b] = a;
      size[a] += size[b];
      inside[a] = Math.max(step[edge], inside[a], inside[b]);
      count--;
    }
    if (count <= LEAVES_WANTED || looseness > 1000) break;
  }
  const number = new Int32Array(n).fill(-1);
  const label = new Int32Array(n);
  let next = 0;
  for (let p = 0; p < n; p++) {
    const r = find(p);
    if (number[r] < 0) number[r] = next++;
    label[p] = number[r];
  }
  return { label, count: next };
}

/** A binary heap of candidate unions, cheapest first; equal prices in order of entry. */
class Queue {
  private readonly price: number[] = [];
  private readonly a: number[] = [];
  private readonly b: number[] = [];

  get size(): number {
    return this.price.length;
  }

  push(price: number, a: number, b: number): void {
    let i = this.price.length;
    this.price.push(price);
    this.a.push(a);
    this.b.push(b);
    while (i > 0) {
      const up = (i - 1) >> 1;
      if (this.price[up] <= this.price[i]) break;
      this.swap(i, up);
      i = up;
    }
  }

  pop(): [number, number, number] {
    const top: [number, number, number] = [this.price[0], this.a[0], this.b[0]];
    this.swap(0, this.price.length - 1);
    this.price.pop();
    this.a.pop();
    this.b.pop();
    for (let i = 0; ;) {
      let down = 2 * i + 1;
      if (down >= this.price.length) break;
      if (down + 1 < this.price.length && this.price[down + 1] < this.price[down]) down++;
      if (this.price[i] <= this.price[down]) break;
      this.swap(i, down);
      i = down;
    }
    return top;
  }

  private swap(i: number, j: number): void {
    [this.price[i], this.price[j]] = [this.price[j], this.price[i]];
    [this.a[i], this.a[j]] = [this.a[j], this.a[i]];
    [this.b[i], this.b[j]] = [this.b[j], this.b[i]];
  }
}

const ACROSS = Math.PI / 8; // Cauchy-Crofton weights of 8-neighbour steps: a boundary's length whatever its slope
const DIAGONAL = Math.PI / (8 * Math.SQRT2);

/**
 * Joins spots pairwise, always the pair whose union costs least squared error per length of boundary removed
 * (piecewise constant Mumford-Shah by full lambda schedule: Koepfler, Lopez and Morel 1994, SIAM J. Numer.
 * Anal. 31(1), 282-299). Price = difference squared x (harmonic mean area / 2) / boundary: thin grain is cheap,
 * a broad patch dear, however faint.
 */
export function mergeTree(features: Features): MergeTree {
  const { width, height, data } = features;
  const { label, count: leaves } = spots(features);
  const nodes = 2 * leaves - 1;
  const area = new Int32Array(nodes);
  const sums = new Float64Array(nodes * 3);
  const near: (Map<number, number> | null)[] = Array.from({ length: leaves }, () => new Map());
  for (let p = 0; p < label.length; p++) {
    const l = label[p];
    area[l]++;
    for (let c = 0; c < 3; c++) sums[3 * l + c] += data[3 * p + c];
  }
  const touch = (p: number, q: number, length: number) => {
    const [a, b] = [label[p], label[q]];
    if (a === b) return;
    near[a]!.set(b, (near[a]!.get(b) ?? 0) + length);
    near[b]!.set(a, (near[b]!.get(a) ?? 0) + length);
  };
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const p = y * width + x;
      if (x + 1 < width) touch(p, p + 1, ACROSS);
      if (y + 1 < height) {
        touch(p, p + width, ACROSS);
        if (x + 1 < width) touch(p, p + width + 1, DIAGONAL);
        if (x > 0) touch(p, p + width - 1, DIAGONAL);
      }
    }
  const price = (a: number, b: number, length: number) => {
    let squared = 0;
    for (let c = 0; c < 3; c++) {
      const d = sums[3 * a + c] / area[a] - sums[3 * b + c] / area[b];
      squared += d * d;
    }
    return (squared * area[a] * area[b]) / (area[a] + area[b]) / length;
  };
  const queue = new Queue();
  for (let a = 0; a < leaves; a++)
    for (const [b, length] of near[a]!) if (a < b) queue.push(price(a, b, length), a, b);
  const parent = new Int32Array(nodes).fill(-1);
  const children = new Int32Array(2 * (nodes - leaves));
  const cost = new Float64Array(nodes);
  let next = leaves;
  while (queue.size > 0 && next < nodes) {
    const [paid, a, b] = queue.pop();
    if (near[a] === undefined || near[a] === null || near[b] === null || near[b] === undefined) continue;
    const id = next++;
    children[2 * (id - leaves)] = a;
    children[2 * (id - leaves) + 1] = b;
    parent[a] = parent[b] = id;
    area[id] = area[a] + area[b];
    for (let c = 0; c < 3; c++) sums[3 * id + c] = sums[3 * a + c] + sums[3 * b + c];
    cost[id] = Math.max(paid, cost[a], cost[b]);
    const [large, small] = near[a]!.size >= near[b]!.size ? [near[a]!, near[b]!] : [near[b]!, near[a]!];
    for (const [other, length] of small) large.set(other, (large.get(other) ?? 0) + length);
    large.delete(a);
    large.delete(b);
    near[a] = near[b] = null;
    near[id] = large;
    for (const [other, length] of large) {
      const theirs = near[other]!;
      theirs.delete(a);
      theirs.delete(b);
      theirs.set(id, length);
      queue.push(price(id, other, length), id, other);
    }
  }
  const birth = new Float64Array(nodes);
  const death = new Float64Array(nodes).fill(Infinity);
  for (let k = leaves; k < nodes; k++) {
    const [a, b] = [children[2 * (k - leaves)], children[2 * (k - leaves) + 1]];
    const [large, small] = area[a] >= area[b] ? [a, b] : [b, a];
    birth[k] = area[small] < SLIVER * area[large] ? birth[large] : cost[k];
  }
  for (let k = nodes - 1; k >= leaves; k--) {
    const [a, b] = [children[2 * (k - leaves)], children[2 * (k - leaves) + 1]];
    death[a] = area[b] < SLIVER * area[a] ? death[k] : cost[k];
    death[b] = area[a] < SLIVER * area[b] ? death[k] : cost[k];
  }
  const start = new Int32Array(nodes);
  for (let k = nodes - 1; k >= leaves; k--) {
    const [a, b] = [children[2 * (k - leaves)], children[2 * (k - leaves) + 1]];
    start[a] = start[k];
    start[b] = start[k] + area[a];
  }
  const at = start.slice(0, leaves);
  const pixels = new Int32Array(label.length);
  for (let p = 0; p < label.length; p++) pixels[at[label[p]]++] = p;
  return { leaves, nodes, parent, children, birth, death, area, pixels, start };
}
