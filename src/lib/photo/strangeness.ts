import { AXES } from './mixture.ts';
import type { Regions } from './regions.ts';
import type { Superpixels } from './superpixels.ts';

/** Places along a stroke and how the surface looks there. */
export interface Examples {
  readonly count: number;
  readonly x: Float32Array;
  readonly y: Float32Array;
  /** L, u, v, texture; stride `AXES`. */
  readonly values: Float32Array;
  /** 1 / variance along each axis near by; stride `AXES`. */
  readonly precision: Float32Array;
}

/** Least standard deviations of L, u, v and texture within one surface near one place: shade changes L, hardly the rest. */
const SHADED = [10, 1.2, 1.2, 0.4];
const MOST = 48; // examples along a stroke
const AROUND = 6; // pieces of the stroke on either side that tell how much the surface varies near one of them
const MOST_VARIED = 1.5; // times the least standard deviation
const NEAR = 0.08; // of the long side: distance that counts as one standard deviation
const BURNT = 96; // L*
const FARTHEST = 25; // squared standard deviations: stranger than strange
const BURNT_AWAY = 16; // times the squared distance that what is burnt out lies farther off
const EXAMPLE = 2 + 2 * AXES;
const AWAY = 2; // times the squared distance that a stroke lies farther off than the nearest one

/** A picture in pieces, as examples are compared on. */
export interface Ground {
  readonly pieces: Superpixels;
  /** L, u, v, texture of every piece, stride `AXES`. */
  readonly values: Float32Array;
  /** Middle of every piece in pixels, stride 2. */
  readonly middle: Float32Array;
  readonly blocks: Blocks;
}

/** Pieces that lie close together: those of block b are `member[start[b]] .. member[start[b + 1] - 1]`. */
export interface Blocks {
  readonly start: Int32Array;
  readonly member: Int32Array;
  /** Left, top, right and bottom of the pieces' middles; stride 4. */
  readonly box: Float32Array;
}

const BLOCKS = 40; // along the long side

export function blocksOf({ width, height, count }: Superpixels, middle: Float32Array): Blocks {
  const side = Math.max(width, height) / BLOCKS;
  const columns = Math.ceil(width / side);
  const blocks = columns * Math.ceil(height / side);
  const of = new Int32Array(count);
  const start = new Int32Array(blocks + 1);
  for (let i = 0; i < count; i++) {
    of[i] = Math.floor(middle[2 * i + 1] / side) * columns + Math.floor(middle[2 * i] / side);
    start[of[i] + 1]++;
  }
  for (let b = 0; b < blocks; b++) start[b + 1] += start[b];
  const next = start.slice();
  const member = new Int32Array(count);
  const box = new Float32Array(4 * blocks);
  for (let b = 0; b < blocks; b++) box.set([Infinity, Infinity, -Infinity, -Infinity], 4 * b);
  for (let i = 0; i < count; i++) {
    const o = 4 * of[i];
    member[next[of[i]]++] = i;
    box[o] = Math.min(box[o], middle[2 * i]);
    box[o + 1] = Math.min(box[o + 1], middle[2 * i + 1]);
    box[o + 2] = Math.max(box[o + 2], middle[2 * i]);
    box[o + 3] = Math.max(box[o + 3], middle[2 * i + 1]);
  }
  return { start, member, box };
}

/** Per piece, in squared standard deviations: how unlike a stroke's examples it is, and how far from the nearest. */
export interface Beside {
  readonly strange: Float32Array;
  readonly way: Float32Array;
}

/** Examples of a surface from the pieces of a stroke, in the order the stroke met them. */
export function examplesOf(members: readonly number[], { values, middle }: Ground): Examples {
  const count = Math.min(MOST, members.length);
  const x = new Float32Array(count);
  const y = new Float32Array(count);
  const own = new Float32Array(count * AXES);
  const precision = new Float32Array(count * AXES);
  for (let k = 0; k < count; k++) {
    const at = Math.floor(((k + 0.5) * members.length) / count);
    const [from, to] = [Math.max(0, at - AROUND), Math.min(members.length - 1, at + AROUND)];
    x[k] = middle[2 * members[at]];
    y[k] = middle[2 * members[at] + 1];
    for (let a = 0; a < AXES; a++) {
      const here = values[AXES * members[at] + a];
      const offs = members.slice(from, to + 1).map((j) => Math.abs(values[AXES * j + a] - here));
      // The median: a stroke that goes from light into shade says nothing about what it meets in either.
      const typical = offs.sort((p, q) => p - q)[offs.length >> 1];
      own[AXES * k + a] = here;
      precision[AXES * k + a] = 1 / (SHADED[a] ** 2 + Math.min(typical, MOST_VARIED * SHADED[a]) ** 2);
    }
  }
  return { count, x, y, values: own, precision };
}

/**
 * How strange each piece is beside a stroke: standard deviations, squared, from the example that explains it best,
 * where an example farther off than the nearest costs its distance. `anywhere` leaves out the price of the way to the
 * nearest one, so that only what is near by and alike comes out low where it is false.
 */
export function strangeBeside(
  { count, x, y, values: examples, precision }: Examples,
  { pieces, values, middle, blocks }: Ground,
  { anywhere }: { anywhere: boolean },
): Beside {
  const out = new Float32Array(pieces.count);
  const ways = new Float32Array(pieces.count);
  // Distances come out in units of NEAR.
  const unit = 1 / (NEAR * Math.max(pieces.width, pieces.height));
  const { start, member, box } = blocks;
  const floor = new Float64Array(count);
  const order = new Int32Array(count);
  // The examples in the order in which they may matter to a block: squared distance of its nearest place, what is burnt
  // out farther off; then place, look and precision of each.
  const bound = new Float64Array(count);
  const near = new Float64Array(EXAMPLE * count);
  for (let b = 0; b + 1 < start.length; b++) {
    if (start[b] === start[b + 1]) continue;
    for (let k = 0; k < count; k++) {
      const dx = unit * Math.max(0, box[4 * b] - x[k], x[k] - box[4 * b + 2]);
      const dy = unit * Math.max(0, box[4 * b + 1] - y[k], y[k] - box[4 * b + 3]);
      floor[k] = dx * dx + dy * dy;
      let at = k;
      for (; at > 0 && floor[order[at - 1]] > floor[k]; at--) order[at] = order[at - 1];
      order[at] = k;
    }
    for (let j = 0; j < count; j++) {
      const k = order[j];
      bound[j] = floor[k];
      near[EXAMPLE * j] = x[k] * unit;
      near[EXAMPLE * j + 1] = y[k] * unit;
      for (let a = 0; a < AXES; a++) {
        near[EXAMPLE * j + 2 + a] = examples[AXES * k + a];
        near[EXAMPLE * j + 2 + AXES + a] = precision[AXES * k + a];
      }
    }
    for (let m = start[b]; m < start[b + 1]; m++) {
      const i = member[m];
      const cx = middle[2 * i] * unit;
      const cy = middle[2 * i + 1] * unit;
      const q = AXES * i;
      let least = Infinity;
      let nearest = Infinity;
      let burnt = FARTHEST;
      for (let j = 0, o = 0; j < count; j++, o += EXAMPLE) {
        // Whatever lies farther off than this changes nothing.
        if (bound[j] >= least || bound[j] >= FARTHEST + nearest) break;
        const dx = near[o] - cx;
        const dy = near[o + 1] - cy;
        const off = dx * dx + dy * dy;
        if (off < nearest) nearest = off;
        const L = values[q] - near[o + 2];
        const usual = near[o + 2] <= BURNT;
        const way = usual ? off : BURNT_AWAY * off;
        if (way >= (usual ? least : burnt)) continue;
        const u = values[q + 1] - near[o + 3];
        const v = values[q + 2] - near[o + 4];
        const t = values[q + 3] - near[o + 5];
        const d = way + near[o + 6] * L * L + near[o + 7] * u * u + near[o + 8] * v * v + near[o + 9] * t * t;
        if (!usual) burnt = Math.min(burnt, d);
        else if (d < least) least = d;
      }
      // What is burnt out looks like every other thing that is: it is an example only where it lies.
      out[i] = Math.min(burnt, anywhere ? least - nearest : least);
      ways[i] = nearest;
    }
  }
  return { strange: out, way: ways };
}

/**
 * The same for several strokes: a place goes by the stroke near it before it goes by one farther off. In mixed light a
 * white wall in one place looks like a beige front in another; the front beside the wall knows better.
 */
export function strangeBesideAll(strokes: readonly Beside[]): Float32Array {
  const nearest = strokes[0].way.slice();
  for (const { way } of strokes)
    for (let i = 0; i < nearest.length; i++) if (way[i] < nearest[i]) nearest[i] = way[i];
  const least = new Float32Array(nearest.length).fill(Infinity);
  for (const { strange, way } of strokes)
    for (let i = 0; i < least.length; i++)
      least[i] = Math.min(least[i], strange[i] + AWAY * (way[i] - nearest[i]));
  return least;
}

/** The same per region: root of the mean over its pieces. */
export function strangeRegions(perPiece: Float32Array, { start }: Superpixels, { of, size, count }: Regions) {
  const sum = new Float64Array(count);
  for (let i = 0; i < perPiece.length; i++) sum[of[i]] += perPiece[i] * (start[i + 1] - start[i]);
  for (let r = 0; r < count; r++) sum[r] = Math.sqrt(sum[r] / size[r]);
  return sum;
}
