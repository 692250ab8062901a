import {
  WHITE_D65_2,
  decodeRgb,
  diagonal,
  multiply,
  rgbToXyzMatrix,
  xyzToRgbMatrix,
  type Matrix3,
  type RgbSpace,
} from '#lib/colour/index.ts';

/**
 * A picture as delivered: device values 0-255, row by row from the top, `space` says whose primaries.
 * With 4 channels the fourth (opacity) is carried along and never read.
 */
export interface Image8 {
  readonly width: number;
  readonly height: number;
  readonly channels: 3 | 4;
  readonly data: Uint8ClampedArray | Uint8Array;
  readonly space: RgbSpace;
  /** How much the light may differ from place to place beyond what is known; not at all where absent. */
  readonly lightDeviation?: LightDeviation;
}

/** Relative standard deviation of the light on a place: beside a reference, more per long side of distance, at most. */
export interface LightDeviation {
  readonly near: number;
  readonly perLength: number;
  readonly most: number;
}

/** A picture in linear light, sRGB primaries, unclamped (a wide-gamut colour has negative parts); stride 3. */
export interface LinearImage {
  readonly width: number;
  readonly height: number;
  readonly data: Float32Array;
  readonly space: 'srgb';
}

/** Throws RangeError where sizes and data of a picture do not fit together. */
export function checkImage(image: Image8): void {
  const { width, height, channels, data } = image;
  if (!Number.isInteger(width) || !Number.isInteger(height) || width < 1 || height < 1)
    throw new RangeError(`Expected a picture of whole pixels, got ${width}x${height}`);
  if (channels !== 3 && channels !== 4) throw new RangeError(`Expected 3 or 4 channels, got ${channels}`);
  if (data.length !== width * height * channels)
    throw new RangeError(
      `Expected ${width * height * channels} values for ${width}x${height}x${channels}, got ${data.length}`,
    );
}

const tables = new Map<RgbSpace, Float64Array>();

/** Linear light 0-1 for each of the 256 device values of a space. */
export function linearTable(space: RgbSpace): Float64Array {
  let table = tables.get(space);
  if (!table) {
    table = Float64Array.from({ length: 256 }, (_, v) => decodeRgb(v / 255, space));
    tables.set(space, table);
  }
  return table;
}

/** Row-major 3x3 from linear RGB of `space` to linear sRGB; null where they are the same. */
export function toSrgbMatrix(space: RgbSpace): Matrix3 | null {
  return space === 'srgb' ? null : multiply(xyzToRgbMatrix('srgb'), rgbToXyzMatrix(space));
}

/** Row-major 3x3 from linear sRGB to X/Xn, Y/Yn, Z/Zn (D65, 2 degrees): a white becomes 1, 1, 1. */
export const SRGB_TO_RELATIVE: Matrix3 = multiply(
  diagonal(1 / WHITE_D65_2.X, 1 / WHITE_D65_2.Y, 1 / WHITE_D65_2.Z),
  rgbToXyzMatrix('srgb'),
);

/** The whole picture in linear light. */
export function linearise(image: Image8): LinearImage {
  checkImage(image);
  return average(image, image.width, image.height);
}

/**
 * The picture made smaller so that its long side is at most `longSide` pixels: each new pixel is the mean of
 * the light that falls on it, fractions of pixels counted. Never enlarges. Same input, same bits.
 */
export function shrink(image: Image8, longSide: number): LinearImage {
  checkImage(image);
  if (!(longSide >= 1)) throw new RangeError(`Expected a long side of at least 1 pixel, got ${longSide}`);
  const scale = Math.min(1, longSide / Math.max(image.width, image.height));
  const width = Math.max(1, Math.round(image.width * scale));
  const height = Math.max(1, Math.round(image.height * scale));
  return average(image, width, height);
}

interface Shares {
  first: Int32Array;
  last: Int32Array;
  weight: Float64Array; // of every source pixel, two per source: share in its first and second target
}

/** Which target pixel each source pixel falls into, and with what share the rest goes to the next one. */
function shares(from: number, to: number): Shares {
  const first = new Int32Array(from);
  const last = new Int32Array(from);
  const weight = new Float64Array(from);
  const scale = to / from;
  for (let i = 0; i < from; i++) {
    const start = i * scale;
    const end = (i + 1) * scale;
    const cell = Math.min(to - 1, Math.floor(start + 1e-9));
    first[i] = cell;
    last[i] = Math.min(to - 1, Math.floor(end - 1e-9));
    weight[i] = last[i] > cell ? (cell + 1 - start) / scale : 1;
  }
  return { first, last, weight };
}

function average(image: Image8, width: number, height: number): LinearImage {
  const { channels, data: source } = image;
  const table = linearTable(image.space);
  const matrix = toSrgbMatrix(image.space);
  const out = new Float32Array(width * height * 3);
  if (width === image.width && height === image.height) {
    for (let i = 0, o = 0; o < out.length; i += channels, o += 3) {
      out[o] = table[source[i]];
      out[o + 1] = table[source[i + 1]];
      out[o + 2] = table[source[i + 2]];
    }
  } else {
    const across = shares(image.width, width);
    const down = shares(image.height, height);
    const row = new Float64Array(width * 3);
    const sums = new Float64Array(width * height * 3);
    for (let y = 0; y < image.height; y++) {
      row.fill(0);
      let i = y * image.width * channels;
      for (let x = 0; x < image.width; x++, i += channels) {
        const w = across.weight[x];
        const o = across.first[x] * 3;
        const r = table[source[i]];
        const g = table[source[i + 1]];
        const b = table[source[i + 2]];
        row[o] += w * r;
        row[o + 1] += w * g;
        row[o + 2] += w * b;
        if (w < 1) {
          row[o + 3] += (1 - w) * r;
          row[o + 4] += (1 - w) * g;
          row[o + 5] += (1 - w) * b;
        }
      }
      const w = down.weight[y];
      const top = down.first[y] * width * 3;
      for (let k = 0; k < row.length; k++) sums[top + k] += w * row[k];
      if (w < 1) {
        const next = down.last[y] * width * 3;
        for (let k = 0; k < row.length; k++) sums[next + k] += (1 - w) * row[k];
      }
    }
    const area = (width / image.width) * (height / image.height);
    for (let k = 0; k < out.length; k++) out[k] = sums[k] * area;
  }
  if (matrix) transformInPlace(out, matrix);
  return { width, height, data: out, space: 'srgb' };
}

/** Applies a row-major 3x3 to every colour of a stride-3 array. */
export function transformInPlace(colours: Float32Array, m: Matrix3): void {
  for (let i = 0; i < colours.length; i += 3) {
    const r = colours[i];
    const g = colours[i + 1];
    const b = colours[i + 2];
    colours[i] = m[0] * r + m[1] * g + m[2] * b;
    colours[i + 1] = m[3] * r + m[4] * g + m[5] * b;
    colours[i + 2] = m[6] * r + m[7] * g + m[8] * b;
  }
}

const EPSILON = 216 / 24389;
const KAPPA = 24389 / 27;

/** CIELAB's own compressing function, CIE 15:2018 eq. 8.6-8.11; continues as a line below zero. */
function f(t: number): number {
  return t > EPSILON ? Math.cbrt(t) : (KAPPA * t + 16) / 116;
}

/**
 * CIELAB as delivered (the file's numbers believed: D65 white, no correction) of linear sRGB colours, stride 3.
 * Parts below zero (outside sRGB) are taken along CIELAB's linear part.
 */
export function linearToLab(colours: Float32Array, out = new Float32Array(colours.length)): Float32Array {
  const m = SRGB_TO_RELATIVE;
  for (let i = 0; i < colours.length; i += 3) {
    const r = colours[i];
    const g = colours[i + 1];
    const b = colours[i + 2];
    const fx = f(m[0] * r + m[1] * g + m[2] * b);
    const fy = f(m[3] * r + m[4] * g + m[5] * b);
    const fz = f(m[6] * r + m[7] * g + m[8] * b);
    out[i] = 116 * fy - 16;
    out[i + 1] = 500 * (fx - fy);
    out[i + 2] = 200 * (fy - fz);
  }
  return out;
}
