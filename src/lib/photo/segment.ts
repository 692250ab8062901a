import { SRGB_TO_RELATIVE, type LinearImage } from './image.ts';

/**
 * Logarithmic opponent features: stride 3, lightness, red-green, yellow-blue. The unit is about one CIELAB unit
 * at mid grey. Light that falls unevenly, or changes from cool to warm across the picture, adds a smooth field
 * to them instead of multiplying, so it can be taken off (`withoutShading`).
 */
export interface Features {
  readonly width: number;
  readonly height: number;
  readonly data: Float32Array;
}

// Light added before the logarithm: flare and sensor noise make darker differences meaningless.
const FLOOR = 0.015;
const MID_GREY = Math.cbrt(0.2); // f(Y/Yn) where the features are scaled like CIELAB

/** Row-major 3x3 from log RGB to the features: the differential of CIELAB at mid grey. */
const TO_FEATURES: Float64Array = (() => {
  const m = new Float64Array(9);
  for (let c = 0; c < 3; c++) {
    const x = SRGB_TO_RELATIVE[c];
    const y = SRGB_TO_RELATIVE[3 + c];
    const z = SRGB_TO_RELATIVE[6 + c];
    m[c] = (116 / 3) * MID_GREY * y;
    m[3 + c] = (500 / 3) * MID_GREY * (x - y);
    m[6 + c] = (200 / 3) * MID_GREY * (y - z);
  }
  return m;
})();

/** Features of every pixel. */
export function featuresOf(image: LinearImage): Features {
  const { width, height, data } = image;
  const out = new Float32Array(data.length);
  const m = TO_FEATURES;
  for (let i = 0; i < data.length; i += 3) {
    const r = Math.log(Math.max(0, data[i]) + FLOOR);
    const g = Math.log(Math.max(0, data[i + 1]) + FLOOR);
    const b = Math.log(Math.max(0, data[i + 2]) + FLOOR);
    out[i] = m[0] * r + m[1] * g + m[2] * b;
    out[i + 1] = m[3] * r + m[4] * g + m[5] * b;
    out[i + 2] = m[6] * r + m[7] * g + m[8] * b;
  }
  return { width, height, data: out };
}

const CELL = 4; // pixels; gradients are taken between means of cells, two cells apart
const TERMS = 9; // u, v, u2, uv, v2, u3, u2v, uv2, v3: a cubic field, its constant left out

function basis(u: number, v: number, out: Float64Array): void {
  out[0] = u;
  out[1] = v;
  out[2] = u * u;
  out[3] = u * v;
  out[4] = v * v;
  out[5] = u * u * u;
  out[6] = u * u * v;
  out[7] = u * v * v;
  out[8] = v * v * v;
}

/**
 * Takes the light's smooth change across the picture off the features. The field is a cubic in x and y for each
 * feature, fitted to gradients by iterated reweighting (Cauchy weights): the edges between things are outliers,
 * grain averages out, what remains common to all surfaces is the light. Its mean over the picture stays.
 */
export function withoutShading(features: Features): Features {
  const { width, height, data } = features;
  const columns = Math.floor(width / CELL);
  const rows = Math.floor(height / CELL);
  if (columns < 6 || rows < 6) return features;
  const cells = new Float32Array(columns * rows * 3);
  for (let y = 0; y < rows * CELL; y++)
    for (let x = 0; x < columns * CELL; x++) {
      const o = (Math.floor(y / CELL) * columns + Math.floor(x / CELL)) * 3;
      const i = (y * width + x) * 3;
      for (let c = 0; c < 3; c++) cells[o + c] += data[i + c] / (CELL * CELL);
    }
  const count = 2 * Math.ceil(columns / 2) * Math.ceil(rows / 2);
  const design = new Float64Array(count * TERMS);
  const change = new Float64Array(count * 3);
  const [before, after] = [new Float64Array(TERMS), new Float64Array(TERMS)];
  const u = (x: number) => ((x + 0.5) / columns) * 2 - 1;
  const v = (y: number) => ((y + 0.5) / rows) * 2 - 1;
  let n = 0;
  const add = (x0: number, y0: number, x1: number, y1: number) => {
    basis(u(x0), v(y0), before);
    basis(u(x1), v(y1), after);
    for (let k = 0; k < TERMS; k++) design[n * TERMS + k] = after[k] - before[k];
    for (let c = 0; c < 3; c++)
      change[n * 3 + c] = cells[(y1 * columns + x1) * 3 + c] - cells[(y0 * columns + x0) * 3 + c];
    n++;
  };
  for (let y = 0; y < rows; y += 2)
    for (let x = 0; x < columns; x += 2) {
      if (x + 2 < columns) add(x, y, x + 2, y);
      if (y + 2 < rows) add(x, y, x, y + 2);
    }
  const field = [0, 1, 2].map((c) => robustFit(design, change, c, n));
  const out = new Float32Array(data.length);
  const sums = [0, 0, 0];
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      basis(((x + 0.5) / width) * 2 - 1, ((y + 0.5) / height) * 2 - 1, before);
      const i = (y * width + x) * 3;
      for (let c = 0; c < 3; c++) {
        let light = 0;
        for (let k = 0; k < TERMS; k++) light += field[c][k] * before[k];
        out[i + c] = data[i + c] - light;
        sums[c] += light;
      }
    }
  for (let c = 0; c < 3; c++) {
    const mean = sums[c] / (width * height);
    for (let i = c; i < out.length; i += 3) out[i] += mean;
  }
  return { width, height, data: out };
}

function robustFit(design: Float64Array, change: Float64Array, channel: number, n: number): Float64Array {
  const field = new Float64Array(TERMS);
  const size = new Float64Array(n);
  const normal = new Float64Array(TERMS * TERMS);
  const right = new Float64Array(TERMS);
  for (let pass = 0; pass < 12; pass++) {
    for (let i = 0; i < n; i++) {
      let expected = 0;
      for (let k = 0; k < TERMS; k++) expected += field[k] * design[i * TERMS + k];
      size[i] = Math.abs(change[i * 3 + channel] - expected);
    }
    const scale = 1.48 * Float64Array.from(size).sort()[n >> 1] + 0.05;
    normal.fill(0);
    right.fill(0);
    for (let i = 0; i < n; i++) {
      const w = 1 / (1 + (size[i] / (1.5 * scale)) ** 2) ** 2;
      for (let k = 0; k < TERMS; k++) {
        const d = w * design[i * TERMS + k];
        right[k] += d * change[i * 3 + channel];
        for (let l = 0; l <= k; l++) normal[k * TERMS + l] += d * design[i * TERMS + l];
      }
    }
    for (let k = 0; k < TERMS; k++) normal[k * TERMS + k] += 1e-3 * n * 1e-3;
    field.set(solve(normal, right, TERMS));
  }
  return field;
}

/** Solves a symmetric positive definite system given its lower triangle (Cholesky, in a copy). */
export function solve(lower: Float64Array, right: Float64Array, n: number): Float64Array {
  const l = Float64Array.from(lower);
  const x = Float64Array.from(right);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let s = l[i * n + j];
      for (let k = 0; k < j; k++) s -= l[i * n + k] * l[j * n + k];
      l[i * n + j] = i === j ? Math.sqrt(Math.max(s, 1e-12)) : s / l[j * n + j];
    }
    for (let k = 0; k < i; k++) x[i] -= l[i * n + k] * x[k];
    x[i] /= l[i * n + i];
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i] -= l[k * n + i] * x[k];
    x[i] /= l[i * n + i];
  }
  return x;
}

/**
 * Edge-preserving smoothing: `passes` times the mean over 5x5 pixels, weighted by likeness (width `tolerance`
 * in feature units). Calms grain, noise and block artefacts; keeps the edges of paint.
 */
export function calm(features: Features, tolerance: number, passes: number): Features {
  const { width, height } = features;
  let from = features.data;
  const scale = 1 / (tolerance * tolerance);
  for (let pass = 0; pass < passes; pass++) {
    const to = new Float32Array(from.length);
    for (let y = 0; y < height; y++) {
      const [top, bottom] = [Math.max(0, y - 2), Math.min(height - 1, y + 2)];
      for (let x = 0; x < width; x++) {
        const [left, right] = [Math.max(0, x - 2), Math.min(width - 1, x + 2)];
        const i = (y * width + x) * 3;
        const [p, q, r] = [from[i], from[i + 1], from[i + 2]];
        let [sum, sp, sq, sr] = [0, 0, 0, 0];
        for (let yy = top; yy <= bottom; yy++)
          for (let xx = left, j = (yy * width + left) * 3; xx <= right; xx++, j += 3) {
            const [dp, dq, dr] = [from[j] - p, from[j + 1] - q, from[j + 2] - r];
            const near = 1 + (dp * dp + dq * dq + dr * dr) * scale;
            const w = 1 / (near * near);
            sum += w;
            sp += w * dp;
            sq += w * dq;
            sr += w * dr;
          }
        to[i] = p + sp / sum;
        to[i + 1] = q + sq / sum;
        to[i + 2] = r + sr / sum;
      }
    }
    from = to;
  }
  return { width, height, data: from };
}
