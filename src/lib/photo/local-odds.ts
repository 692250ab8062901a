import { unlikeness } from './mixture.ts';
import type { Regions } from './regions.ts';
import type { Superpixels } from './superpixels.ts';

/** Parts of regions that are small against the picture: where each lies, which region it belongs to, pixels. */
export interface Samples {
  readonly region: Int32Array;
  readonly x: Float32Array;
  readonly y: Float32Array;
  readonly size: Float32Array;
  /** Samples of region r: `first[r] .. first[r + 1] - 1`. */
  readonly first: Int32Array;
  /** Of the regions, stride AXES. */
  readonly values: Float32Array;
  /** Side of a tile of the grid in pixels, tiles in a row and in a column. */
  readonly tile: number;
  readonly columns: number;
  readonly rows: number;
  /** Samples that others are judged by: those of tile t are `member[start[t]] .. member[start[t + 1] - 1]`. */
  readonly start: Int32Array;
  readonly member: Int32Array;
  /** What was found near each region; it only saves time. */
  readonly remembered: (readonly Likeness[] | undefined)[];
}

const TILES = 24; // along the long side of the picture
const NEAR = 0.12; // of the long side: what lies farther off says little about a place
const ALIKE = [10, 1.6, 1.6, 0.5]; // L, u, v, texture: differences that are the same material
const PRECISION = ALIKE.map((deviation) => 0.5 / deviation ** 2);
const FARTHEST = 2; // squared distance over twice the squared reach beyond which nothing counts
const UNLIKE = 6; // the same with the differences of colour and texture
const LEAST = 0.02; // of a tile: smaller samples say nothing about others
const FLOOR = 0.002; // of a tile, everywhere and on both sides: no evidence, no odds

/** Cuts every region along a coarse grid. */
export function samplesOf(pieces: Superpixels, regions: Regions): Samples {
  const { width, height, count, start, pixels } = pieces;
  const tile = Math.max(width, height) / TILES;
  const columns = Math.ceil(width / tile);
  const sums = new Map<number, [number, number, number, number]>();
  const tiles = columns * Math.ceil(height / tile);
  for (let i = 0; i < count; i++) {
    const n = start[i + 1] - start[i];
    const p = pixels[start[i] + (n >> 1)];
    const [x, y] = [p % width, Math.floor(p / width)];
    const key = regions.of[i] * tiles + Math.floor(y / tile) * columns + Math.floor(x / tile);
    const sum = sums.get(key);
    if (sum) {
      sum[1] += n;
      sum[2] += n * x;
      sum[3] += n * y;
    } else sums.set(key, [regions.of[i], n, n * x, n * y]);
  }
  const all = [...sums.values()].sort((a, b) => a[0] - b[0]);
  const first = new Int32Array(regions.count + 1);
  for (const [r] of all) first[r + 1]++;
  for (let r = 0; r < regions.count; r++) first[r + 1] += first[r];
  const x = Float32Array.from(all, (s) => s[2] / s[1]);
  const y = Float32Array.from(all, (s) => s[3] / s[1]);
  const tileOf = (k: number) => Math.floor(y[k] / tile) * columns + Math.floor(x[k] / tile);
  const telling = Int32Array.from(all.keys()).filter((k) => all[k][1] > LEAST * tile * tile);
  const from = new Int32Array(tiles + 1);
  for (const k of telling) from[tileOf(k) + 1]++;
  for (let t = 0; t < tiles; t++) from[t + 1] += from[t];
  const next = from.slice();
  const member = new Int32Array(telling.length);
  for (const k of telling) member[next[tileOf(k)]++] = k;
  return {
    region: Int32Array.from(all, (s) => s[0]),
    size: Float32Array.from(all, (s) => s[1]),
    x,
    y,
    first,
    values: regions.values,
    tile,
    columns,
    rows: tiles / columns,
    start: from,
    member,
    remembered: [],
  };
}

/** Per sample of a region: which regions lie near and look like it, and how much of them. */
interface Likeness {
  readonly size: number;
  readonly region: Int32Array;
  readonly share: Float32Array;
}

/**
 * Natural logarithm of the odds that a region belongs inside, by what lies near it and looks like it: kernel densities
 * in place, colour and texture of the regions with a `weight` above 0 (inside) and below (outside), the region itself
 * left out; 0 where nothing near by looks like it.
 * Source: Parzen windows, Parzen 1962, Annals of Mathematical Statistics 33(3), 1065-1076.
 */
export function localOdds(region: number, samples: Samples, weight: Float32Array): number {
  let likenesses = samples.remembered[region];
  if (!likenesses) samples.remembered[region] = likenesses = likenessesOf(region, samples);
  const least = FLOOR * samples.tile ** 2;
  let [odds, whole] = [0, 0];
  for (const { size, region: near, share } of likenesses) {
    let [inside, outside] = [least, least];
    for (let k = 0; k < near.length; k++) {
      const part = share[k] * weight[near[k]];
      if (part > 0) inside += part;
      else outside -= part;
    }
    odds += size * Math.log(inside / outside);
    whole += size;
  }
  return odds / whole;
}

function likenessesOf(region: number, samples: Samples): Likeness[] {
  const { first, values, start, member, columns, rows, tile } = samples;
  const reach = NEAR * TILES * tile;
  const far = 1 / (2 * reach * reach);
  const span = Math.ceil((Math.sqrt(2 * FARTHEST) * reach) / tile);
  const out: Likeness[] = [];
  for (let a = first[region]; a < first[region + 1]; a++) {
    const x = samples.x[a];
    const y = samples.y[a];
    const column = Math.floor(x / tile);
    const row = Math.floor(y / tile);
    const near: number[] = [];
    const share: number[] = [];
    for (let r = Math.max(0, row - span); r <= Math.min(rows - 1, row + span); r++) {
      // The tiles of a row lie one after the other, and so do their samples.
      const from = start[r * columns + Math.max(0, column - span)];
      const to = start[r * columns + Math.min(columns - 1, column + span) + 1];
      for (let m = from; m < to; m++) {
        const b = member[m];
        const dx = samples.x[b] - x;
        const dy = samples.y[b] - y;
        let d = far * (dx * dx + dy * dy);
        const other = samples.region[b];
        if (d > FARTHEST || other === region) continue;
        d += unlikeness(values, region, other, PRECISION);
        if (d > UNLIKE) continue;
        near.push(other);
        share.push(samples.size[b] * Math.exp(-d));
      }
    }
    out.push({ size: samples.size[a], region: Int32Array.from(near), share: Float32Array.from(share) });
  }
  return out;
}
