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
  { pieces, values, middle }: Ground,
  { anywhere }: { anywhere: boolean },
): Beside {
  const out = new Float32Array(pieces.count);
  const ways = new Float32Array(pieces.count);
  // Distances come out in units of NEAR; what is burnt out stands behind the others.
  const unit = 1 / (NEAR * Math.max(pieces.width, pieces.height));
  const order = Int32Array.from({ length: count }, (_, k) => k).sort(
    (a, b) => Number(examples[AXES * a] > BURNT) - Number(examples[AXES * b] > BURNT) || a - b,
  );
  const usual = order.filter((k) => examples[AXES * k] <= BURNT).length;
  const ex = Float64Array.from(order, (k) => x[k] * unit);
  const ey = Float64Array.from(order, (k) => y[k] * unit);
  const look = new Float64Array(count * AXES);
  const sharp = new Float64Array(count * AXES);
  for (let j = 0; j < count; j++)
    for (let a = 0; a < AXES; a++) {
      look[AXES * j + a] = examples[AXES * order[j] + a];
      sharp[AXES * j + a] = precision[AXES * order[j] + a];
    }
  let hint = 0;
  for (let i = 0; i < pieces.count; i++) {
    const cx = middle[2 * i] * unit;
    const cy = middle[2 * i + 1] * unit;
    const q = AXES * i;
    let least = Infinity;
    let nearest = Infinity;
    let burnt = FARTHEST;
    for (let j = -1; j < count; j++) {
      // What explained the piece before goes first: then most others are too far off to matter.
      const k = j < 0 ? hint : j;
      const dx = ex[k] - cx;
      const dy = ey[k] - cy;
      const off = dx * dx + dy * dy;
      if (off < nearest) nearest = off;
      const way = k < usual ? off : BURNT_AWAY * off;
      if (way >= (k < usual ? least : burnt)) continue;
      const o = AXES * k;
      const L = values[q] - look[o];
      const u = values[q + 1] - look[o + 1];
      const v = values[q + 2] - look[o + 2];
      const t = values[q + 3] - look[o + 3];
      const d = way + sharp[o] * L * L + sharp[o + 1] * u * u + sharp[o + 2] * v * v + sharp[o + 3] * t * t;
      if (k >= usual) burnt = Math.min(burnt, d);
      else if (d < least) {
        least = d;
        hint = k;
      }
    }
    // What is burnt out looks like every other thing that is: it is an example only where it lies.
    out[i] = Math.min(burnt, anywhere ? least - nearest : least);
    ways[i] = nearest;
  }
  return { strange: out, way: ways };
}

/**
 * The same for several strokes: a place goes by the stroke near it before it goes by one farther off. In mixed light a
 * white wall in one place looks like a beige front in another; the front beside the wall knows better.
 */
export function strangeBesideAll(strokes: readonly Beside[]): Float32Array {
  return strokes[0].strange.map((_, i) => {
    let nearest = Infinity;
    for (const { way } of strokes) nearest = Math.min(nearest, way[i]);
    let least = Infinity;
    for (const { strange, way } of strokes) least = Math.min(least, strange[i] + AWAY * (way[i] - nearest));
    return least;
  });
}

/** The same per region: root of the mean over its pieces. */
export function strangeRegions(perPiece: Float32Array, { start }: Superpixels, { of, size, count }: Regions) {
  const sum = new Float64Array(count);
  for (let i = 0; i < perPiece.length; i++) sum[of[i]] += perPiece[i] * (start[i + 1] - start[i]);
  return sum.map((s, r) => Math.sqrt(s / size[r]));
}
