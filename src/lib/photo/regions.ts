import { AXES } from './mixture.ts';
import type { Neighbourhood } from './superpixels.ts';

/** Pieces joined where nothing parts them, and which of the regions touch. */
export interface Regions {
  readonly count: number;
  /** Region of each piece. */
  readonly of: Int32Array;
  /** Pixels in each region. */
  readonly size: Float32Array;
  /** Mean L, u, v and texture; stride `AXES`. */
  readonly values: Float32Array;
  readonly graph: Neighbourhood;
  /** How little each border lets through, per entry of the graph. */
  readonly barriers: Float64Array;
}

const SMOOTH = 0.9; // a step of L this small parts nothing even where there is no texture
const TEXTURE_SHARE = 1.1; // of the mean change from pixel to pixel: steps between the pieces of a grainy surface
const MOST_LENGTH = 2; // times: what a long border's step weighs more than a short one's
const THIN_SHARE = 0.12; // of the step that a thin thing makes remains
const TEXTURE_STEP = 0.8; // binary orders of texture that part as much as SMOOTH does

/** How little a border lets through: squared step against what the texture on its smoother side explains. */
export function barrier(step: number, textureA: number, textureB: number, least = 1e9): number {
  const sure = Math.min(1, least / 400) ** 2;
  const explained = TEXTURE_SHARE * (2 ** Math.min(textureA, textureB) - 0.5);
  return step ** 2 / (SMOOTH ** 2 + explained ** 2) + sure * ((textureA - textureB) / TEXTURE_STEP) ** 2;
}

/** The step of a border from its squared sums near by and beyond: where it vanishes beyond, a thin thing made it. */
function joint(near: number, beyond: number): number {
  const [a, b] = [Math.sqrt(near), Math.sqrt(beyond)];
  return b < a ? b + THIN_SHARE * (a - b) : a;
}

/**
 * Joins neighbouring pieces in the order of the barrier between them, measured along their whole common border: grain
 * and shading average out there, a crease does not. Stops at `most`. `sizes` in pixels, `values` stride AXES.
 */
export function mergedRegions(
  input: { sizes: ArrayLike<number>; values: Float32Array; graph: Neighbourhood },
  most: number,
): Regions {
  const { sizes, graph } = input;
  const n = sizes.length;
  const size = Float64Array.from({ length: n }, (_, i) => sizes[i]);
  const sum = Float64Array.from(input.values, (v, i) => v * sizes[Math.floor(i / AXES)]);
  const parent = Int32Array.from({ length: n }, (_, i) => i);
  const find = (i: number) => {
    while (parent[i] !== i) i = parent[i] = parent[parent[i]];
    return i;
  };
  const links: Map<number, number>[] = Array.from({ length: n }, () => new Map());
  const edges = graph.other.length / 2;
  const ends = new Int32Array(2 * edges);
  const length = new Float64Array(edges);
  const steps = new Float64Array(6 * edges); // from ends[2e] to ends[2e + 1]
  const version = new Int32Array(edges);
  const alive = new Uint8Array(edges).fill(1);
  const heap = new KeyHeap();
  const price = (e: number) => {
    const o = 6 * e;
    const near = steps[o] ** 2 + 4 * (steps[o + 1] ** 2 + steps[o + 2] ** 2);
    const beyond = steps[o + 3] ** 2 + 4 * (steps[o + 4] ** 2 + steps[o + 5] ** 2);
    const [a, b] = [ends[2 * e], ends[2 * e + 1]];
    const step = joint(near, beyond) / length[e];
    const textures = [sum[AXES * a + 3] / size[a], sum[AXES * b + 3] / size[b]];
    return (
      barrier(step, textures[0], textures[1], Math.min(size[a], size[b])) *
      Math.min(MOST_LENGTH, Math.sqrt(length[e] / 10))
    );
  };
  let e = 0;
  for (let i = 0; i < n; i++)
    for (let k = graph.first[i]; k < graph.first[i + 1]; k++) {
      const j = graph.other[k];
      if (j < i) continue;
      ends[2 * e] = i;
      ends[2 * e + 1] = j;
      length[e] = graph.border[k];
      for (let c = 0; c < 6; c++) steps[6 * e + c] = graph.sums[6 * k + c];
      links[i].set(j, e);
      links[j].set(i, e);
      e++;
    }
  for (e = 0; e < edges; e++) {
    const key = price(e);
    if (key < most) heap.push(key, e, 0);
  }
  for (let top = heap.pop(); top !== null; top = heap.pop()) {
    e = top.item;
    if (!alive[e] || version[e] !== top.version) continue;
    let [a, b] = [ends[2 * e], ends[2 * e + 1]];
    if (links[a].size < links[b].size) [a, b] = [b, a];
    // b joins a.
    parent[b] = a;
    size[a] += size[b];
    for (let k = 0; k < AXES; k++) sum[AXES * a + k] += sum[AXES * b + k];
    alive[e] = 0;
    links[a].delete(b);
    links[b].delete(a);
    for (const [c, f] of links[b]) {
      const g = links[a].get(c);
      links[c].delete(b);
      const outward = ends[2 * f] === b;
      if (g === undefined) {
        ends[2 * f + (outward ? 0 : 1)] = a;
        links[a].set(c, f);
        links[c].set(a, f);
      } else {
        const same = (ends[2 * g] === a) === outward;
        for (let k = 0; k < 6; k++) steps[6 * g + k] += (same ? 1 : -1) * steps[6 * f + k];
        length[g] += length[f];
        alive[f] = 0;
      }
    }
    links[b].clear();
    for (const f of links[a].values()) {
      const key = price(f);
      version[f]++;
      if (key < most) heap.push(key, f, version[f]);
    }
  }
  const of = new Int32Array(n).fill(-1);
  let count = 0;
  const number = new Int32Array(n).fill(-1);
  const roots: number[] = [];
  for (let i = 0; i < n; i++) {
    const r = find(i);
    if (number[r] < 0) {
      number[r] = count++;
      roots.push(r);
    }
    of[i] = number[r];
  }
  const values = new Float32Array(count * AXES);
  for (let r = 0; r < count; r++)
    for (let k = 0; k < AXES; k++) values[AXES * r + k] = sum[AXES * roots[r] + k] / size[roots[r]];
  const first = new Int32Array(count + 1);
  for (let r = 0; r < count; r++) first[r + 1] = first[r] + links[roots[r]].size;
  const entries = first[count];
  const other = new Int32Array(entries);
  const twin = new Int32Array(entries);
  const border = new Float32Array(entries);
  const step = new Float32Array(entries);
  const sums = new Float32Array(6 * entries);
  const seen = new Int32Array(edges).fill(-1);
  for (let r = 0, at = 0; r < count; r++)
    for (const [c, f] of links[roots[r]]) {
      other[at] = number[c];
      if (seen[f] >= 0) {
        twin[at] = seen[f];
        twin[seen[f]] = at;
      } else seen[f] = at;
      border[at] = length[f];
      const sign = ends[2 * f] === roots[r] ? 1 : -1;
      for (let k = 0; k < 6; k++) sums[6 * at + k] = sign * steps[6 * f + k];
      const o = 6 * f;
      const near = steps[o] ** 2 + 4 * (steps[o + 1] ** 2 + steps[o + 2] ** 2);
      const beyond = steps[o + 3] ** 2 + 4 * (steps[o + 4] ** 2 + steps[o + 5] ** 2);
      step[at] = joint(near, beyond) / length[f];
      at++;
    }
  const graphOut = { first, other, twin, border, step, sums };
  const areas = Float32Array.from(roots, (r) => size[r]);
  const barriers = new Float64Array(entries);
  for (let r = 0; r < count; r++)
    for (let k = first[r]; k < first[r + 1]; k++) {
      const c = other[k];
      barriers[k] = barrier(
        step[k],
        values[AXES * r + 3],
        values[AXES * c + 3],
        Math.min(areas[r], areas[c]),
      );
    }
  return { count, of, size: areas, values, graph: graphOut, barriers };
}

/** A heap of items by ascending key; ties in the order of the item, so that the same input gives the same order. */
class KeyHeap {
  private keys: number[] = [];
  private items: number[] = [];
  private versions: number[] = [];

  push(key: number, item: number, version: number): void {
    let at = this.keys.length;
    this.keys.push(key);
    this.items.push(item);
    this.versions.push(version);
    while (at > 0) {
      const up = (at - 1) >> 1;
      if (this.before(up, at)) break;
      this.swap(up, at);
      at = up;
    }
  }

  pop(): { key: number; item: number; version: number } | null {
    const n = this.keys.length;
    if (n === 0) return null;
    this.swap(0, n - 1);
    const [key, item, version] = [this.keys.pop()!, this.items.pop()!, this.versions.pop()!];
    for (let at = 0; ;) {
      let down = 2 * at + 1;
      if (down >= n - 1) break;
      if (down + 1 < n - 1 && this.before(down + 1, down)) down++;
      if (this.before(at, down)) break;
      this.swap(at, down);
      at = down;
    }
    return { key, item, version };
  }

  private before(i: number, j: number): boolean {
    return this.keys[i] < this.keys[j] || (this.keys[i] === this.keys[j] && this.items[i] <= this.items[j]);
  }

  private swap(i: number, j: number): void {
    [this.keys[i], this.keys[j]] = [this.keys[j], this.keys[i]];
    [this.items[i], this.items[j]] = [this.items[j], this.items[i]];
    [this.versions[i], this.versions[j]] = [this.versions[j], this.versions[i]];
  }
}
