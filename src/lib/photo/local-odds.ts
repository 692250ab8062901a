import { AXES } from './mixture.ts';
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
  /** Side of a tile of the grid in pixels, tiles in a row, samples by tile. */
  readonly tile: number;
  readonly columns: number;
  readonly inTile: readonly number[][];
  /** What was found near each region; it only saves time. */
  readonly remembered: (readonly Likeness[] | undefined)[];
}

const TILES = 24; // along the long side of the picture
const NEAR = 0.12; // of the long side: what lies farther off says little about a place
const ALIKE = [10, 1.6, 1.6, 0.5]; // L, u, v, texture: differences that are the same material
const PRECISION = ALIKE.map((deviation) => 0.5 / deviation ** 2);
const FARTHEST = 4; // squared distance over twice the squared reach beyond which nothing counts
const UNLIKE = 8; // the same with the differences of colour and texture
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
  const inTile = Array.from({ length: tiles }, (): number[] => []);
  for (let k = 0; k < all.length; k++)
    inTile[Math.floor(y[k] / tile) * columns + Math.floor(x[k] / tile)].push(k);
  return {
    region: Int32Array.from(all, (s) => s[0]),
    size: Float32Array.from(all, (s) => s[1]),
    x,
    y,
    first,
    values: regions.values,
    tile,
    columns,
    inTile,
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
  const { first, values, inTile, columns, tile } = samples;
  const rows = inTile.length / columns;
  const reach = NEAR * TILES * tile;
  const far = 1 / (2 * reach * reach);
  const span = Math.ceil((Math.sqrt(2 * FARTHEST) * reach) / tile);
  const o = AXES * region;
  const [L, u, v, t] = [values[o], values[o + 1], values[o + 2], values[o + 3]];
  const out: Likeness[] = [];
  for (let a = first[region]; a < first[region + 1]; a++) {
    const [x, y] = [samples.x[a], samples.y[a]];
    const [column, row] = [Math.floor(x / tile), Math.floor(y / tile)];
    const near: number[] = [];
    const share: number[] = [];
    for (let r = Math.max(0, row - span); r <= Math.min(rows - 1, row + span); r++)
      for (let c = Math.max(0, column - span); c <= Math.min(columns - 1, column + span); c++)
        for (const b of inTile[r * columns + c]) {
          const other = samples.region[b];
          if (other === region) continue;
          let d = ((samples.x[b] - x) ** 2 + (samples.y[b] - y) ** 2) * far;
          if (d > FARTHEST) continue;
          const q = AXES * other;
          d +=
            PRECISION[0] * (L - values[q]) ** 2 +
            PRECISION[1] * (u - values[q + 1]) ** 2 +
            PRECISION[2] * (v - values[q + 2]) ** 2 +
            PRECISION[3] * (t - values[q + 3]) ** 2;
          if (d > UNLIKE) continue;
          near.push(other);
          share.push(samples.size[b] * Math.exp(-d));
        }
    out.push({ size: samples.size[a], region: Int32Array.from(near), share: Float32Array.from(share) });
  }
  return out;
}
