import type { PlaneSize } from './plane-filters.ts';

/**
 * Light on flat faces whose old material has grain. What grain leaves after a first smoothing is as wide as light is, but
 * light on a flat face changes slowly, and only at the face's edges fast: planes are evened out far along a face and not
 * across its edges. Gaps between doors are narrower than any smoothing and are taken out first.
 */

/** How many times the grain's usual depth a gap has at least; grain of real wood reaches three times. */
const SURE = 3.5;

/**
 * How dark narrow gaps are, 1 where there is none: what a morphological closing fills (darker than both sides, narrower
 * than twice `radius` and a pixel), less what grain may do. `value` in device values, where noise is even; pixels of weight
 * 0 do not count.
 */
export function gapDepths(
  value: Float32Array,
  weight: Float32Array,
  options: {
    readonly size: PlaneSize;
    readonly radius: number;
    readonly grain: number;
    readonly least: number;
  },
): Float32Array {
  const { size, radius, grain, least } = options;
  const closed = Float32Array.from(value, (v, i) => (weight[i] ? v : -Infinity));
  extremes(closed, size, { radius, sign: 1 });
  for (let i = 0; i < closed.length; i++) if (closed[i] === -Infinity) closed[i] = Infinity;
  extremes(closed, size, { radius, sign: -1 });
  const deep = closed.map((v, i) => (weight[i] && v < Infinity ? v - value[i] : 0));
  const depths = deep.map((v) => (v > SURE * grain ? v : 0));
  dropShort(depths, size, least);
  // Soft sides of a gap go with it.
  return depths.map((_, i) => {
    const x = i % size.width;
    for (const row of [i - size.width, i, i + size.width])
      if (depths[row] > 0 || (x > 0 && depths[row - 1] > 0) || (x + 1 < size.width && depths[row + 1] > 0))
        return Math.max(0, deep[i] - grain);
    return 0;
  });
}

/** Sets to 0 what hangs together over less than `least` pixels, corner to corner of its box. */
function dropShort(depths: Float32Array, { width, height }: PlaneSize, least: number): void {
  const seen = new Uint8Array(depths.length);
  const stack: number[] = [];
  for (let start = 0; start < depths.length; start++) {
    if (seen[start] || depths[start] === 0) continue;
    const members = [start];
    let [left, right, top, bottom] = [width, 0, height, 0];
    seen[start] = 1;
    stack.push(start);
    while (stack.length > 0) {
      const at = stack.pop()!;
      const [x, y] = [at % width, Math.floor(at / width)];
      left = Math.min(left, x);
      right = Math.max(right, x);
      top = Math.min(top, y);
      bottom = Math.max(bottom, y);
      for (let v = Math.max(0, y - 1); v <= Math.min(height - 1, y + 1); v++)
        for (let u = Math.max(0, x - 1); u <= Math.min(width - 1, x + 1); u++) {
          const next = v * width + u;
          if (seen[next] || depths[next] === 0) continue;
          seen[next] = 1;
          members.push(next);
          stack.push(next);
        }
    }
    if (Math.hypot(right - left, bottom - top) < least) for (const at of members) depths[at] = 0;
  }
}

/** Largest (`sign` 1) or least (-1) value of a window of 2 radius + 1, in place. */
function extremes(
  plane: Float32Array,
  { width, height }: PlaneSize,
  { radius, sign }: { readonly radius: number; readonly sign: 1 | -1 },
): void {
  const line = new Float32Array(Math.max(width, height));
  const run = (start: number, step: number, length: number) => {
    for (let k = 0; k < length; k++) line[k] = sign * plane[start + k * step];
    for (let k = 0; k < length; k++) {
      let most = -Infinity;
      const to = Math.min(length - 1, k + radius);
      for (let j = Math.max(0, k - radius); j <= to; j++) if (line[j] > most) most = line[j];
      plane[start + k * step] = sign * most;
    }
  };
  for (let y = 0; y < height; y++) run(y * width, 1, width);
  for (let x = 0; x < width; x++) run(x, width, height);
}

/** Stops any smoothing. */
const WALL = 1e3;

/**
 * How much changes from a pixel to the one on its right and the one below, in units of `step`: of the `guide`, by gaps, and
 * at the border of what is `inside`.
 */
export function stepsAlong(
  guide: Float32Array,
  gaps: Float32Array | null,
  options: { readonly size: PlaneSize; readonly inside: Uint8Array; readonly step: number },
): { across: Float32Array; down: Float32Array } {
  const { size, inside, step } = options;
  const n = guide.length;
  const between = (i: number, j: number) => {
    if (!inside[i] || !inside[j]) return WALL;
    const gap = gaps ? gaps[i] + gaps[j] : 0;
    return gap > 0 ? gap / step : Math.abs(guide[i] - guide[j]) / step;
  };
  const across = new Float32Array(n);
  const down = new Float32Array(n);
  for (let i = 0; i + 1 < n; i++) across[i] = (i + 1) % size.width ? between(i, i + 1) : WALL;
  for (let i = 0; i + size.width < n; i++) down[i] = between(i, i + size.width);
  return { across, down };
}

/** Less weight than this is dust of running filters. */
const REACHED = 1e-6;

/** Passes of the filter over rows and columns, each half as wide as the one before. */
const ROUNDS = 3;

/**
 * Evens planes out along faces, in place: pixels count as far apart as they lie plus how much changes on the way. Pixels
 * of weight 0 are not read; all get an answer where a trusted one is in reach, 0 elsewhere.
 * Source: Gastal and Oliveira 2011, Domain transform for edge-aware image and video processing, ACM TOG 30(4), eq. 11,
 * 14 and 21 (recursive filter), with weights.
 */
export function evenedAlong(
  planes: readonly Float32Array[],
  weight: Float32Array,
  options: {
    readonly size: PlaneSize;
    /** Change from a pixel to the one on its right and to the one below; 1 is as far as `reach`. */
    readonly across: Float32Array;
    readonly down: Float32Array;
    /** Standard deviation of the smoothing where nothing changes, pixels. */
    readonly reach: number;
  },
): void {
  const { size, across, down, reach } = options;
  const { width } = size;
  const n = weight.length;
  const count = weight.slice();
  for (const plane of planes) for (let i = 0; i < n; i++) plane[i] *= weight[i];
  const keep = new Float32Array(n);
  for (let round = 0; round < ROUNDS; round++) {
    const sigma = (reach * Math.sqrt(3) * 2 ** (ROUNDS - round - 1)) / Math.sqrt(4 ** ROUNDS - 1);
    for (const [change, step] of [
      [across, 1],
      [down, width],
    ] as const) {
      for (let i = 0; i < n; i++) keep[i] = Math.exp((-Math.SQRT2 / sigma) * (1 + reach * change[i]));
      for (const plane of [...planes, count]) {
        for (let i = step; i < n; i++) plane[i] += keep[i - step] * (plane[i - step] - plane[i]);
        for (let i = n - step - 1; i >= 0; i--) plane[i] += keep[i] * (plane[i + step] - plane[i]);
      }
    }
  }
  for (const plane of planes)
    for (let i = 0; i < n; i++) plane[i] = count[i] > REACHED ? plane[i] / count[i] : 0;
}
