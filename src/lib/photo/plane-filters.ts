/**
 * Filters over planes of numbers of which only a part counts: every pixel carries a weight, and pixels of weight 0 are
 * neither read nor trusted. All run in a time that does not grow with the radius.
 */

/** Size of a plane; values lie row by row. */
export interface PlaneSize {
  readonly width: number;
  readonly height: number;
}

/** Sums over a window of 2 radius + 1 squared pixels, cut at the border; `out` may be `plane`. */
function boxSums(plane: Float32Array, { width, height }: PlaneSize, radius: number, out: Float32Array): void {
  const line = new Float64Array(Math.max(width, height) + 1);
  for (let y = 0; y < height; y++) {
    const row = y * width;
    for (let x = 0; x < width; x++) line[x + 1] = line[x] + plane[row + x];
    for (let x = 0; x < width; x++)
      out[row + x] = line[Math.min(width, x + radius + 1)] - line[Math.max(0, x - radius)];
  }
  // Down the columns with running sums, row after row, so that memory is read in order.
  const sums = new Float64Array(width);
  const ring = new Float32Array(width * (radius + 1));
  for (let y = 0; y < Math.min(radius, height); y++)
    for (let x = 0; x < width; x++) sums[x] += out[y * width + x];
  for (let y = 0; y < height; y++) {
    const enter = y + radius;
    if (enter < height) for (let x = 0, i = enter * width; x < width; x++, i++) sums[x] += out[i];
    const leave = y - radius - 1;
    const slot = (y % (radius + 1)) * width;
    if (leave >= 0) for (let x = 0; x < width; x++) sums[x] -= ring[slot + x];
    for (let x = 0, i = y * width; x < width; x++, i++) {
      ring[slot + x] = out[i];
      out[i] = sums[x];
    }
  }
}

/**
 * Weighted means over a window, twice (a tent of sd about 0.8 times the radius): `planes` are replaced by the mean of
 * their trusted neighbours, and the weight that was found is given back; where it is 0 the planes hold 0.
 */
export function blur(
  planes: readonly Float32Array[],
  weight: Float32Array,
  size: PlaneSize,
  radius: number,
): Float32Array {
  const count = weight.slice();
  boxSums(count, size, radius, count);
  boxSums(count, size, radius, count);
  for (const plane of planes) {
    for (let i = 0; i < plane.length; i++) plane[i] *= weight[i];
    boxSums(plane, size, radius, plane);
    boxSums(plane, size, radius, plane);
    // Running sums leave dust where nothing was: less than a thousandth of one pixel counts as nothing.
    for (let i = 0; i < plane.length; i++) plane[i] = count[i] > 1e-3 ? plane[i] / count[i] : 0;
  }
  for (let i = 0; i < count.length; i++) if (count[i] <= 1e-3) count[i] = 0;
  return count;
}

/**
 * Edge-preserving smoothing of a plane by itself: variation well below sqrt(`variance`) inside the window is taken for
 * noise or texture and goes, variation well above it is an edge and stays.
 * Source: He, Sun and Tang 2013, Guided image filtering, IEEE TPAMI 35(6), 1397-1409, eq. 5-8, self-guided, with weights.
 */
export function guidedSmooth(
  plane: Float32Array,
  weight: Float32Array,
  options: { readonly size: PlaneSize; readonly radius: number; readonly variance: number },
): Float32Array {
  const { size, radius, variance } = options;
  const n = plane.length;
  const count = weight.slice();
  boxSums(count, size, radius, count);
  const mean = new Float32Array(n);
  const square = new Float32Array(n);
  for (let i = 0; i < n; i++) {
    mean[i] = weight[i] * plane[i];
    square[i] = mean[i] * plane[i];
  }
  boxSums(mean, size, radius, mean);
  boxSums(square, size, radius, square);
  for (let i = 0; i < n; i++) {
    const total = count[i];
    if (total <= 1e-3) {
      mean[i] = square[i] = 0;
      continue;
    }
    const m = mean[i] / total;
    const spread = Math.max(0, square[i] / total - m * m);
    const slope = spread / (spread + variance);
    square[i] = weight[i] * slope;
    mean[i] = weight[i] * m * (1 - slope);
  }
  boxSums(mean, size, radius, mean);
  boxSums(square, size, radius, square);
  const out = new Float32Array(n);
  for (let i = 0; i < n; i++)
    out[i] = count[i] > 1e-3 ? (square[i] * plane[i] + mean[i]) / count[i] : plane[i];
  return out;
}

/**
 * Fills the pixels of weight 0 from their surroundings, near ones first, far ones where nothing is near: averages of
 * trusted pixels go up a pyramid, and come down where there is a hole. Trusted pixels stay as they are, and so do those
 * that are not `wanted`. Without any trusted pixel all planes stay as they are and the answer is false.
 * Source: the pull-push idea of Gortler and others 1996, The lumigraph, section 3.5 (own weights: 1 or 0 when pushed).
 */
export function fillHoles(
  planes: readonly Float32Array[],
  weight: Float32Array,
  { width, height, wanted }: PlaneSize & { readonly wanted?: Uint8Array },
): boolean {
  const n = weight.length;
  let trusted = 0;
  let holes = 0;
  for (let i = 0; i < n; i++) {
    if (weight[i] !== 0) trusted++;
    else if (!wanted || wanted[i] !== 0) holes++;
  }
  if (holes === 0) return true;
  if (trusted === 0) return false;
  const w = (width + 1) >> 1;
  const h = (height + 1) >> 1;
  const count = new Float32Array(w * h);
  const coarse = planes.map(() => new Float32Array(w * h));
  for (let y = 0; y < height; y++)
    for (let x = 0, i = y * width; x < width; x++, i++) if (weight[i] !== 0) count[(y >> 1) * w + (x >> 1)]++;
  for (let k = 0; k < planes.length; k++) {
    const fine = planes[k];
    const mean = coarse[k];
    for (let y = 0; y < height; y++) {
      const row = (y >> 1) * w;
      for (let x = 0, i = y * width; x < width; x++, i++)
        if (weight[i] !== 0) mean[row + (x >> 1)] += fine[i];
    }
    for (let o = 0; o < mean.length; o++) if (count[o] > 0) mean[o] /= count[o];
  }
  for (let o = 0; o < count.length; o++) if (count[o] > 0) count[o] = 1;
  fillHoles(coarse, count, { width: w, height: h });
  for (let y = 0; y < height; y++) {
    const v = Math.max(0, Math.min(h - 1, (y - 0.5) / 2));
    const top = Math.floor(v) * w;
    const below = Math.min(h - 1, Math.floor(v) + 1) * w;
    const fy = v - Math.floor(v);
    for (let x = 0, i = y * width; x < width; x++, i++) {
      if (weight[i] !== 0 || (wanted && wanted[i] === 0)) continue;
      const u = Math.max(0, Math.min(w - 1, (x - 0.5) / 2));
      const left = Math.floor(u);
      const right = Math.min(w - 1, left + 1);
      const fx = u - left;
      for (let k = 0; k < planes.length; k++) {
        const c = coarse[k];
        planes[k][i] =
          (c[top + left] * (1 - fx) + c[top + right] * fx) * (1 - fy) +
          (c[below + left] * (1 - fx) + c[below + right] * fx) * fy;
      }
    }
  }
  return true;
}
