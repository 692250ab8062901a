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
  /** Between which values of x, y, L, u, v, texture its pieces lie: the middle and half the span of each; stride 2 (2 + AXES). */
  readonly spans: Float64Array;
}

const BLOCKS = 40; // along the long side
const ASPECTS = 2 + AXES; // place and look

export function blocksOf(
  { width, height, count }: Superpixels,
  { values, middle }: Pick<Ground, 'values' | 'middle'>,
): Blocks {
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
  const spans = new Float64Array(2 * ASPECTS * blocks);
  for (let o = 0; o < spans.length; o += 2) spans.set([Infinity, -Infinity], o);
  for (let i = 0; i < count; i++) {
    member[next[of[i]]++] = i;
    for (let a = 0, o = 2 * ASPECTS * of[i]; a < ASPECTS; a++, o += 2) {
      const value = a < 2 ? middle[2 * i + a] : values[AXES * i + a - 2];
      spans[o] = Math.min(spans[o], value);
      spans[o + 1] = Math.max(spans[o + 1], value);
    }
  }
  for (let o = 0; o < spans.length; o += 2) {
    const [least, most] = [spans[o], spans[o + 1]];
    spans[o] = (least + most) / 2;
    spans[o + 1] = (most - least) / 2;
  }
  return { start, member, spans };
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
  const scale = unit * unit;
  const { start, member, spans } = blocks;
  // Place and look of each example and the weights of squared differences.
  const example = new Float64Array(ASPECTS * count);
  const weight = new Float64Array(ASPECTS * count);
  for (let k = 0; k < count; k++) {
    example.set([x[k], y[k], ...examples.subarray(AXES * k, AXES * k + AXES)], ASPECTS * k);
    weight.set([scale, scale, ...precision.subarray(AXES * k, AXES * k + AXES)], ASPECTS * k);
  }
  // How near each example lies to a block at least, and how strange the block is beside it at least.
  const floor = new Float64Array(count);
  const bound = new Float64Array(count);
  const close = new Int32Array(count);
  const usual = new Int32Array(count);
  const clipped = new Int32Array(count);
  for (let b = 0; b + 1 < start.length; b++) {
    if (start[b] === start[b + 1]) continue;
    // The most that the way to the nearest example comes to in this block, and the least that a piece is strange at most.
    let longest = Infinity;
    let strangest = Infinity;
    for (let k = 0, o = 0; k < count; k++) {
      const isBurnt = examples[AXES * k] > BURNT;
      let low = 0;
      let high = 0;
      for (let a = 0, s = 2 * ASPECTS * b; a < ASPECTS; a++, o++, s += 2) {
        const off = Math.abs(example[o] - spans[s]);
        const most = off + spans[s + 1];
        const least = Math.max(0, off - spans[s + 1]);
        high += weight[o] * most * most;
        low += weight[o] * least * least;
        if (a !== 1) continue;
        floor[k] = low;
        if (high < longest) longest = high;
        if (isBurnt) low *= BURNT_AWAY;
      }
      bound[k] = low;
      if (!isBurnt && high < strangest) strangest = high;
    }
    // Few examples matter to a block: what lies farther off or is stranger than another at its worst changes nothing.
    let [closes, usuals, clippeds] = [0, 0, 0];
    for (let k = 0; k < count; k++) {
      if (floor[k] <= longest) close[closes++] = ASPECTS * k;
      if (examples[AXES * k] > BURNT) {
        if (bound[k] < FARTHEST) clipped[clippeds++] = k;
      } else if (bound[k] <= strangest && bound[k] < FARTHEST + longest) {
        let at = usuals++;
        for (; at > 0 && bound[usual[at - 1]] > bound[k]; at--) usual[at] = usual[at - 1];
        usual[at] = k;
      }
    }
    for (let m = start[b]; m < start[b + 1]; m++) {
      const i = member[m];
      const cx = middle[2 * i];
      const cy = middle[2 * i + 1];
      const L0 = values[AXES * i];
      const u0 = values[AXES * i + 1];
      const v0 = values[AXES * i + 2];
      const t0 = values[AXES * i + 3];
      let nearest = Infinity;
      for (let c = 0; c < closes; c++) {
        const dx = example[close[c]] - cx;
        const dy = example[close[c] + 1] - cy;
        const off = dx * dx + dy * dy;
        if (off < nearest) nearest = off;
      }
      nearest *= scale;
      // Stranger than strange makes no difference; most of a picture is, beside what all examples have in common.
      let least = anywhere ? FARTHEST + nearest : FARTHEST;
      for (let c = 0; c < usuals && bound[usual[c]] < least; c++) {
        const o = ASPECTS * usual[c];
        const dx = example[o] - cx;
        const dy = example[o + 1] - cy;
        const u = u0 - example[o + 3];
        const v = v0 - example[o + 4];
        // Colour first: it rules out most.
        let d = scale * (dx * dx + dy * dy) + weight[o + 3] * u * u + weight[o + 4] * v * v;
        if (d >= least) continue;
        const L = L0 - example[o + 2];
        const t = t0 - example[o + 5];
        d += weight[o + 2] * L * L + weight[o + 5] * t * t;
        if (d < least) least = d;
      }
      let burnt = FARTHEST;
      for (let c = 0; c < clippeds; c++) {
        const o = ASPECTS * clipped[c];
        const dx = example[o] - cx;
        const dy = example[o + 1] - cy;
        const L = L0 - example[o + 2];
        const u = u0 - example[o + 3];
        const v = v0 - example[o + 4];
        const t = t0 - example[o + 5];
        const look =
          weight[o + 2] * L * L + weight[o + 3] * u * u + weight[o + 4] * v * v + weight[o + 5] * t * t;
        burnt = Math.min(burnt, BURNT_AWAY * scale * (dx * dx + dy * dy) + look);
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
