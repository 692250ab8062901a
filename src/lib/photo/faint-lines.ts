import type { ShadingFeatures } from './shading-features.ts';

/** Where something faint and nearly straight runs between pixels: bit 1 between a pixel and the one to the right, 2 below. */
export type Cracks = Uint8Array;

const REACH = 12; // half-size pixels along the line on either side
const SLOPES = 6; // per unit of slope
const CALM = [0.6, 0.4]; // least deviation of the differences of lightness and chromaticity
const AROUND = 5; // half-size pixels: neighbourhood that tells how much differences vary
const SURE = 40; // squared standard deviations: a line begins
const LIKELY = 20; // it goes on
const SHORTEST = 14; // half-size pixels

/**
 * Edges too faint for single pixels but long: differences across a line, in units of their spread near by, summed along
 * it in 24 directions at half the picture's size, thinned and followed with two thresholds. A skirting board in nearly
 * the wall's colour or the back of a grainy worktop comes out so. A picture smaller than the reach has none.
 * Source: the thinning and the two thresholds of Canny 1986, IEEE TPAMI 8(6), 679-698; long oriented sums as its
 * directional operators, section VII.
 */
export function faintLines(features: ShadingFeatures): Cracks {
  const { width, height } = features;
  const cracks = new Uint8Array(width * height);
  const [w, h] = [width >> 1, height >> 1];
  if (Math.min(w, h) < 2 * REACH) return cracks;
  const planes = halved(features, w, h);
  // Lines nearer to level first, then the upright ones on the picture turned over its diagonal.
  for (const upright of [false, true]) {
    const turned = upright ? planes.map((plane) => transposed(plane, w, h)) : planes;
    const [columns, rows] = upright ? [h, w] : [w, h];
    const ridge = ridges(
      scored(
        turned.map((plane, i) => differences(plane, columns, rows, CALM[i])),
        columns,
        rows,
      ),
      columns,
      rows,
    );
    for (let y = 0, k = 0; y < rows; y++)
      for (let x = 0; x < columns; x++, k++) {
        if (!ridge[k]) continue;
        mark(cracks, { width, height, upright }, [2 * x, 2 * y + 1]);
        mark(cracks, { width, height, upright }, [2 * x + 1, 2 * y + 1]);
        // The steps between neighbouring columns.
        for (const dy of [-1, 1]) {
          const there = y + dy;
          if (
            x + 1 < columns &&
            there >= 0 &&
            there < rows &&
            !ridge[k + 1] &&
            ridge[there * columns + x + 1]
          )
            for (const s of [1, 2])
              step(cracks, { width, height, upright }, [2 * x + 1, 2 * Math.min(y, there) + 1 + s]);
        }
      }
  }
  return cracks;
}

interface Frame {
  readonly width: number;
  readonly height: number;
  readonly upright: boolean;
}

/** A crack below a pixel of the (turned) picture. */
function mark(cracks: Cracks, { width, height, upright }: Frame, [x, y]: [number, number]): void {
  const [px, py] = upright ? [y, x] : [x, y];
  if (px < width && py < height) cracks[py * width + px] |= upright ? 1 : 2;
}

/** A crack to the right of a pixel of the (turned) picture. */
function step(cracks: Cracks, { width, height, upright }: Frame, [x, y]: [number, number]): void {
  const [px, py] = upright ? [y, x] : [x, y];
  if (px < width && py < height) cracks[py * width + px] |= upright ? 2 : 1;
}

/** Lightness and chromaticity at half the size. */
function halved({ width, data }: ShadingFeatures, w: number, h: number): Float32Array[] {
  const light = new Float32Array(w * h);
  const chroma = new Float32Array(w * h);
  const row = 3 * width;
  for (let y = 0, k = 0; y < h; y++)
    for (let x = 0, i = 2 * y * row; x < w; x++, k++, i += 6) {
      light[k] = 0.25 * (data[i] + data[i + 3] + data[i + row] + data[i + row + 3]);
      const u = data[i + 1] + data[i + 4] + data[i + row + 1] + data[i + row + 4];
      const v = data[i + 2] + data[i + 5] + data[i + row + 2] + data[i + row + 5];
      chroma[k] = 0.25 * (v + 0.7 * u);
    }
  return [light, chroma];
}

function transposed(plane: Float32Array, w: number, h: number): Float32Array {
  const out = new Float32Array(plane.length);
  for (let y = 0, k = 0; y < h; y++) for (let x = 0; x < w; x++, k++) out[x * h + y] = plane[k];
  return out;
}

/** Difference of the two rows below and the two above each crack between y and y + 1, in units of its spread near by. */
function differences(plane: Float32Array, w: number, h: number, calm = CALM[0]): Float32Array {
  const out = new Float32Array(w * h);
  for (let y = 1; y + 2 < h; y++)
    for (let x = 0, k = y * w; x < w; x++, k++)
      out[k] = 0.5 * (plane[k + w] + plane[k + 2 * w] - plane[k] - plane[k - w]);
  const spread = boxed(
    out.map((d) => d * d),
    w,
    h,
  );
  for (let k = 0; k < out.length; k++) out[k] /= Math.sqrt(spread[k] + calm * calm);
  return out;
}

/** The best score of each crack over all slopes. */
function scored(signals: readonly Float32Array[], w: number, h: number): Float32Array {
  const best = new Float32Array(w * h);
  const n = 2 * REACH + 1;
  const [a, b] = signals;
  for (let s = -SLOPES; s <= SLOPES; s++) {
    const slope = s / SLOPES;
    // Row of a line at column x, seen from its row at the middle of the window.
    const rise = Int32Array.from({ length: w + 1 }, (_, x) => Math.round(slope * x));
    const [low, high] = [Math.min(0, rise[w - 1]), Math.max(0, rise[w - 1])];
    for (let line = 1 - high; line < h - 2 - low; line++) {
      let [sumA, sumB] = [0, 0];
      for (let x = 0; x < w; x++) {
        const y = line + rise[x];
        if (y >= 1 && y < h - 2) {
          sumA += a[y * w + x];
          sumB += b[y * w + x];
        }
        if (x >= n) {
          const old = line + rise[x - n];
          if (old >= 1 && old < h - 2) {
            sumA -= a[old * w + x - n];
            sumB -= b[old * w + x - n];
          }
        }
        const middle = x - REACH;
        if (middle < 0) continue;
        const at = line + rise[middle];
        if (at < 1 || at >= h - 2) continue;
        const score = (sumA * sumA + sumB * sumB) / n;
        const k = at * w + middle;
        if (score > best[k]) best[k] = score;
      }
    }
  }
  return best;
}

/** 1 on the crest of the scores, followed from where it is sure to where it is likely; short ones left out. */
function ridges(score: Float32Array, w: number, h: number): Uint8Array {
  const crest = new Uint8Array(w * h);
  for (let y = 2; y + 2 < h; y++)
    for (let x = 0, k = y * w; x < w; x++, k++) {
      const own = score[k];
      if (
        own > LIKELY &&
        own >= score[k - w] &&
        own > score[k + w] &&
        own >= score[k - 2 * w] &&
        own > score[k + 2 * w]
      )
        crest[k] = 1;
    }
  const out = new Uint8Array(w * h);
  for (let start = 0; start < crest.length; start++) {
    if (crest[start] !== 1 || score[start] < SURE) continue;
    const chain = [start];
    crest[start] = 2;
    let [left, right] = [w, 0];
    for (let head = 0; head < chain.length; head++) {
      const k = chain[head];
      const x = k % w;
      left = Math.min(left, x);
      right = Math.max(right, x);
      for (const dx of [-1, 1])
        for (const dy of [-1, 0, 1]) {
          const q = k + dy * w + dx;
          if (x + dx < 0 || x + dx >= w || q < 0 || q >= crest.length || crest[q] !== 1) continue;
          crest[q] = 2;
          chain.push(q);
        }
    }
    if (right - left + 1 >= SHORTEST) for (const k of chain) out[k] = 1;
  }
  return out;
}

/** Means over squares of 2 AROUND + 1, borders repeated. */
function boxed(plane: Float32Array, width: number, height: number): Float32Array {
  const across = new Float32Array(plane.length);
  const out = new Float32Array(plane.length);
  const n = 2 * AROUND + 1;
  for (let y = 0; y < height; y++) {
    const at = y * width;
    let sum = 0;
    for (let d = -AROUND; d <= AROUND; d++) sum += plane[at + Math.max(0, Math.min(width - 1, d))];
    for (let x = 0; x < width; x++) {
      across[at + x] = sum / n;
      sum += plane[at + Math.min(width - 1, x + AROUND + 1)] - plane[at + Math.max(0, x - AROUND)];
    }
  }
  const sums = new Float32Array(width);
  for (let d = -AROUND; d <= AROUND; d++) {
    const at = Math.max(0, Math.min(height - 1, d)) * width;
    for (let x = 0; x < width; x++) sums[x] += across[at + x];
  }
  for (let y = 0; y < height; y++) {
    const enters = Math.min(height - 1, y + AROUND + 1) * width;
    const leaves = Math.max(0, y - AROUND) * width;
    for (let x = 0, k = y * width; x < width; x++, k++) {
      out[k] = sums[x] / n;
      sums[x] += across[enters + x] - across[leaves + x];
    }
  }
  return out;
}
