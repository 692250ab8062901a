/**
 * Pixels of intake: reduction in linear light, change of primaries, and back to 8 bits without moving any mean.
 */
import { CURVES, type Curve, type Space } from './profile.ts';

/** Device values as decoded: grey (1), grey and alpha (2), RGB (3) or RGB and alpha (4 channels), 8 or 16 bit. */
export interface Raster {
  width: number;
  height: number;
  channels: 1 | 2 | 3 | 4;
  data: Uint8Array | Uint16Array;
}

/** Linear light, three numbers a pixel, in the source's own primaries until `changePrimaries`. */
export interface Light {
  width: number;
  height: number;
  data: Float32Array;
}

/** Linear light for every device value of 8 or 16 bits. */
export function curveTable(curve: Curve, bits: 8 | 16): Float32Array {
  const last = 2 ** bits - 1;
  return Float32Array.from({ length: last + 1 }, (_, code) => curve(code / last));
}

/**
 * Linear light of a raster at a smaller or equal size: each pixel is the mean, by area, of what it covers. A mean in linear
 * light is what a colour meter, or an eye far enough away, makes of the same area. What is transparent lies on white.
 */
export function linearReduced(raster: Raster, tables: Float32Array[], width: number, height: number): Light {
  const { channels, data } = raster;
  if (width > raster.width || height > raster.height)
    throw new RangeError('Expected a size no larger than the source');
  const colours = channels >= 3 ? 3 : 1;
  const opaque = channels === 2 || channels === 4 ? 1 / (tables[0].length - 1) : 0;
  const [r, g, b] = colours === 3 ? tables : [tables[0], tables[0], tables[0]];
  const [second, third] = colours === 3 ? [1, 2] : [0, 0];

  // Per output column: first source column, how many, and the parts of the first and last that belong to it.
  const columns = spans(raster.width, width);
  const rows = spans(raster.height, height);
  const light = new Float32Array(width * height * 3);
  const line = new Float64Array(width * 3);
  for (let y = 0; y < height; y += 1) {
    line.fill(0);
    const { first, last, head, tail, size } = rows.at(y);
    for (let sy = first; sy <= last; sy += 1) {
      const weight = (sy === first ? head : sy === last ? tail : 1) / size;
      addRow(sy, weight);
    }
    light.set(line, y * width * 3);
  }
  return { width, height, data: light };

  function addRow(sy: number, rowWeight: number): void {
    const base = sy * raster.width * channels;
    for (let x = 0; x < width; x += 1) {
      const { first, last, head, tail, size } = columns.at(x);
      let sumR = 0;
      let sumG = 0;
      let sumB = 0;
      for (let sx = first; sx <= last; sx += 1) {
        const weight = sx === first ? head : sx === last ? tail : 1;
        const at = base + sx * channels;
        let lr = r[data[at]];
        let lg = g[data[at + second]];
        let lb = b[data[at + third]];
        if (opaque !== 0) {
          const alpha = data[at + channels - 1] * opaque;
          lr = 1 + (lr - 1) * alpha;
          lg = 1 + (lg - 1) * alpha;
          lb = 1 + (lb - 1) * alpha;
        }
        sumR += lr * weight;
        sumG += lg * weight;
        sumB += lb * weight;
      }
      const share = rowWeight / size;
      line[3 * x] += sumR * share;
      line[3 * x + 1] += sumG * share;
      line[3 * x + 2] += sumB * share;
    }
  }
}

/** Which source pixels each output pixel covers along one axis; `head` and `tail` are the covered parts of the outer ones. */
function spans(source: number, target: number) {
  const size = source / target;
  const list = Array.from({ length: target }, (_, i) => {
    const start = i * size;
    const end = i === target - 1 ? source : (i + 1) * size;
    const first = Math.floor(start);
    const last = Math.max(first, Math.ceil(end - 1e-9) - 1);
    const head = Math.min(first + 1, end) - start;
    return { first, last, head, tail: last === first ? head : end - last, size: end - start };
  });
  return { at: (i: number) => list[i] };
}

/** Changes the primaries in place by a row-major matrix. */
export function changePrimaries(light: Light, matrix: readonly number[]): void {
  const { data } = light;
  const [a, b, c, d, e, f, g, h, i] = matrix;
  for (let p = 0; p < data.length; p += 3) {
    const red = data[p];
    const green = data[p + 1];
    const blue = data[p + 2];
    data[p] = a * red + b * green + c * blue;
    data[p + 1] = d * red + e * green + f * blue;
    data[p + 2] = g * red + h * green + i * blue;
  }
}

/** Share of pixels that lie outside 0-1 by more than a tenth of an 8-bit code in some channel. */
export function shareOutside(light: Light): number {
  const { data } = light;
  const most = 1 + 0.1 / 255;
  const least = -0.1 / 255 / 12.92;
  let outside = 0;
  for (let p = 0; p < data.length; p += 3) {
    const high = Math.max(data[p], data[p + 1], data[p + 2]);
    const low = Math.min(data[p], data[p + 1], data[p + 2]);
    if (high > most || low < least) outside += 1;
  }
  return outside / (data.length / 3);
}

const ENCODE_STEPS = 1 << 16;

/**
 * Device values of 8 bits by the curve of a space. A value between two codes becomes the one or the other by chance, in
 * proportion, so that the mean of an area keeps the precision that single pixels lose; the chance is the same every time.
 * What lies outside 0-1 is cut off: `shareOutside` says how much that is.
 */
export function encoded(light: Light, space: Space): Uint8Array {
  const { fromLinear } = CURVES[space];
  const table = Float32Array.from({ length: ENCODE_STEPS + 2 }, (_, i) => 255 * fromLinear(i / ENCODE_STEPS));
  const { data } = light;
  const out = new Uint8Array(data.length);
  let state = 0x9e3779b9;
  for (let i = 0; i < data.length; i += 1) {
    const value = data[i];
    if (value >= 1) {
      out[i] = 255;
    } else if (value > 0) {
      const position = value * ENCODE_STEPS;
      const index = position | 0;
      const code = table[index] + (table[index + 1] - table[index]) * (position - index);
      const whole = Math.round(code);
      if (Math.abs(code - whole) < 1e-3) {
        out[i] = whole;
      } else {
        // xorshift32 (Marsaglia 2003): plenty for a dither.
        state ^= state << 13;
        state ^= state >>> 17;
        state ^= state << 5;
        out[i] = Math.min(255, (code + (state >>> 0) / 4294967296) | 0);
      }
    }
  }
  return out;
}

/** The size that fits into a square of `longest`, same shape, at least one pixel; never larger than the source. */
export function fitted(width: number, height: number, longest: number): { width: number; height: number } {
  const scale = Math.min(1, longest / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}
