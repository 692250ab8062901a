import { AXES } from './mixture.ts';
import { makeRoom, nearBy, type NearBy } from './near-by.ts';
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
  /** Samples that others are judged by, tile by tile: those of tile t are `start[t] .. start[t + 1] - 1` of `judges`. */
  readonly start: Int32Array;
  /** Per judge: its region; x, y, L, u, v, texture, size (stride JUDGE). */
  readonly judgeRegion: Int32Array;
  readonly judges: Float32Array;
  /** Which regions lie near each sample and look like it, and how much of them; it only saves time. */
  readonly likenesses: NearBy;
}

const TILES = 24; // along the long side of the picture
const NEAR = 0.12; // of the long side: what lies farther off says little about a place
const ALIKE = [10, 1.6, 1.6, 0.5]; // L, u, v, texture: differences that are the same material
const PRECISION = ALIKE.map((deviation) => 0.5 / deviation ** 2);
const FARTHEST = 2; // squared distance over twice the squared reach beyond which nothing counts
const UNLIKE = 6; // the same with the differences of colour and texture
const LEAST = 0.02; // of a tile: smaller samples say nothing about others
const JUDGE = 7;
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
  const judgeRegion = new Int32Array(telling.length);
  const judges = new Float32Array(JUDGE * telling.length);
  for (const k of telling) {
    const at = next[tileOf(k)]++;
    const [region, size] = all[k];
    judgeRegion[at] = region;
    judges.set(
      [x[k], y[k], ...regions.values.subarray(AXES * region, AXES * region + AXES), size],
      JUDGE * at,
    );
  }
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
    judgeRegion,
    judges,
    likenesses: nearBy(all.length),
  };
}

/**
 * Natural logarithm of the odds that a region belongs inside, by what lies near it and looks like it: kernel densities
 * in place, colour and texture of the regions with a `weight` above 0 (inside) and below (outside), the region itself
 * left out; 0 where nothing near by looks like it.
 * Source: Parzen windows, Parzen 1962, Annals of Mathematical Statistics 33(3), 1065-1076.
 */
export function localOdds(region: number, samples: Samples, weight: Float32Array): number {
  findLikenesses(region, samples);
  const { first, size, likenesses } = samples;
  const { from, to, other, share } = likenesses;
  const least = FLOOR * samples.tile ** 2;
  let [odds, whole] = [0, 0];
  for (let a = first[region]; a < first[region + 1]; a++) {
    // Both sides from their sum and their difference: a branch on what lies about at random would be slow.
    let [both, more] = [0, 0];
    for (let k = from[a]; k < to[a]; k++) {
      const part = share[k] * weight[other[k]];
      both += Math.abs(part);
      more += part;
    }
    odds += size[a] * Math.log((least + (both + more) / 2) / (least + (both - more) / 2));
    whole += size[a];
  }
  return odds / whole;
}

/** Finds what lies near the samples of a region and looks like it. */
export function findLikenesses(region: number, samples: Samples): void {
  const { first, values, start, judges, judgeRegion, columns, rows, tile, likenesses } = samples;
  if (likenesses.from[first[region]] >= 0) return;
  const reach = NEAR * TILES * tile;
  const far = 1 / (2 * reach * reach);
  const span = Math.ceil((Math.sqrt(2 * FARTHEST) * reach) / tile);
  const q = AXES * region;
  const [L, u, v, texture] = [values[q], values[q + 1], values[q + 2], values[q + 3]];
  const [ofL, ofU, ofV, ofTexture] = PRECISION;
  for (let a = first[region]; a < first[region + 1]; a++) {
    const x = samples.x[a];
    const y = samples.y[a];
    const column = Math.floor(x / tile);
    const row = Math.floor(y / tile);
    likenesses.from[a] = likenesses.used;
    for (let r = Math.max(0, row - span); r <= Math.min(rows - 1, row + span); r++) {
      // The tiles of a row lie one after the other, and so do their samples.
      const from = start[r * columns + Math.max(0, column - span)];
      const to = start[r * columns + Math.min(columns - 1, column + span) + 1];
      makeRoom(likenesses, to - from);
      const { other, share } = likenesses;
      let { used } = likenesses;
      for (let b = from, o = JUDGE * from; b < to; b++, o += JUDGE) {
        // Colour first: it rules out most.
        const dv = judges[o + 4] - v;
        const du = judges[o + 3] - u;
        let d = ofV * dv * dv + ofU * du * du;
        if (d > UNLIKE) continue;
        const dx = judges[o] - x;
        const dy = judges[o + 1] - y;
        const way = far * (dx * dx + dy * dy);
        if (way > FARTHEST) continue;
        const dL = judges[o + 2] - L;
        const dt = judges[o + 5] - texture;
        d += way + ofL * dL * dL + ofTexture * dt * dt;
        if (d > UNLIKE || judgeRegion[b] === region) continue;
        other[used] = judgeRegion[b];
        share[used++] = judges[o + 6] * Math.exp(-d);
      }
      likenesses.used = used;
    }
    likenesses.to[a] = likenesses.used;
  }
}
