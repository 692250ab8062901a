import { invert, transform, type Vector3 } from '#lib/colour/index.ts';

/** A plane of light through a region's colours, and which pixels belong to it. */
export interface PlanarFit {
  /** Weight of each pixel: its cover, less the more it differs from the plane, 0 beyond reach. */
  readonly weights: Float64Array;
  /** Light at each pixel relative to the middle of the region (linear, 1 in the middle). */
  readonly shade: Float64Array;
  /** Change of L from one end of the region to the other along the plane's slope. */
  readonly shading: number;
  /** Cover of the pixels that are beyond reach. */
  strange(cover: Float64Array): number;
}

const PASSES = 8;
const REACH = 4.2; // in joint deviations of three channels: 99.9 % of a normal spread stays within
const LEAST_DEVIATION = 0.4; // CIELAB units: half a step of 8 bits at mid grey

/**
 * Fits a plane in x, y to L, a and b of a region, from the median outwards, by iterated reweighting with Tukey's
 * biweight (Beaton and Tukey 1974, Technometrics 16(2), 147-185): up to nearly half of the pixels may be handles,
 * specks or glare. `labs` stride 3; `cover` the pixels' own weights; centres xs, ys.
 */
export function planarFit(
  labs: Float32Array,
  cover: Float64Array,
  xs: Float64Array,
  ys: Float64Array,
): PlanarFit {
  const n = cover.length;
  const middle = [weightedMean(xs, cover), weightedMean(ys, cover)];
  const reachX = Math.max(1, ...span(xs, middle[0]));
  const reachY = Math.max(1, ...span(ys, middle[1]));
  const u = Float64Array.from(xs, (x) => (x - middle[0]) / reachX);
  const v = Float64Array.from(ys, (y) => (y - middle[1]) / reachY);
  const planes = [0, 1, 2].map((c): [number, number, number] => [
    weightedMedian(
      Float64Array.from({ length: n }, (_, i) => labs[3 * i + c]),
      cover,
    ),
    0,
    0,
  ]);
  const weights = Float64Array.from(cover);
  const distance = new Float64Array(n);
  for (let pass = 0; pass < PASSES; pass++) {
    distance.fill(0);
    for (let c = 0; c < 3; c++) {
      const [p, q, r] = planes[c];
      const off = Float64Array.from({ length: n }, (_, i) =>
        Math.abs(labs[3 * i + c] - p - q * u[i] - r * v[i]),
      );
      const deviation = Math.max(LEAST_DEVIATION, 1.4826 * weightedMedian(off, cover));
      for (let i = 0; i < n; i++) distance[i] += (off[i] / deviation) ** 2;
    }
    for (let i = 0; i < n; i++) {
      const t = 1 - distance[i] / (REACH * REACH);
      weights[i] = t > 0 ? cover[i] * t * t : 0;
    }
    // Sums of the normal equations, written out: this loop is where measuring spends its time.
    let [total, wu, wv, uu, uv, vv] = [1e-9, 0, 0, 1e-9, 0, 1e-9];
    const right: [number, number, number][] = [
      [0, 0, 0],
      [0, 0, 0],
      [0, 0, 0],
    ];
    for (let i = 0; i < n; i++) {
      const w = weights[i];
      if (w === 0) continue;
      const [across, down] = [w * u[i], w * v[i]];
      total += w;
      wu += across;
      wv += down;
      uu += across * u[i];
      uv += across * v[i];
      vv += down * v[i];
      for (let c = 0; c < 3; c++) {
        const value = labs[3 * i + c];
        const sums = right[c];
        sums[0] += w * value;
        sums[1] += across * value;
        sums[2] += down * value;
      }
    }
    // A slope needs support in both directions: a line of pixels, or very few, keep a level plane.
    const sloped = n >= 24 && uu > 0.01 * total && vv > 0.01 * total;
    const inverse = sloped ? invert([total, wu, wv, wu, uu, uv, wv, uv, vv]) : null;
    for (let c = 0; c < 3; c++)
      planes[c] = inverse ? transform(inverse, right[c] as Vector3) : [right[c][0] / total, 0, 0];
  }
  const [level, across, down] = planes[0];
  const slope = (i: number) => across * u[i] + down * v[i];
  const shade = Float64Array.from({ length: n }, (_, i) => {
    const relative = (level + slope(i) + 16) / (level + 16);
    return Math.min(8, Math.max(0.125, relative)) ** 3;
  });
  let [least, most] = [Infinity, -Infinity];
  for (let i = 0; i < n; i++) {
    least = Math.min(least, slope(i));
    most = Math.max(most, slope(i));
  }
  return {
    weights,
    shade,
    shading: most - least,
    strange: (own) => own.reduce((s, w, i) => s + (weights[i] === 0 ? w : 0), 0),
  };
}

function span(values: Float64Array, middle: number): [number, number] {
  let [least, most] = [0, 0];
  for (const value of values) {
    least = Math.min(least, value - middle);
    most = Math.max(most, value - middle);
  }
  return [-least, most];
}

function weightedMean(values: Float64Array, weights: Float64Array): number {
  let [sum, total] = [0, 0];
  for (let i = 0; i < values.length; i++) {
    sum += weights[i] * values[i];
    total += weights[i];
  }
  return sum / total;
}

function weightedMedian(values: Float64Array, weights: Float64Array): number {
  if (weights.every((w) => w === 1)) return Float64Array.from(values).sort()[values.length >> 1];
  const order = Array.from(values.keys()).sort((i, j) => values[i] - values[j]);
  const half = weights.reduce((s, w) => s + w, 0) / 2;
  let sum = 0;
  for (const i of order) {
    sum += weights[i];
    if (sum >= half) return values[i];
  }
  return values[order[order.length - 1]];
}
