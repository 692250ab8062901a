import { multiply } from '#lib/colour/index.ts';
import { SRGB_TO_RELATIVE, checkImage, linearTable, toSrgbMatrix, type Image8 } from './image.ts';

/** CIELAB lightness and chromaticity of every pixel, in a form that shading changes as little as possible. */
export interface ShadingFeatures {
  readonly width: number;
  readonly height: number;
  /**
   * Stride 3: L* as delivered, then u = 66 a* / (L* + 16) and v = 66 b* / (L* + 16). Where CIELAB follows the cube root
   * (L* above 8), less light on the same surface scales a*, b* and L* + 16 by one factor, so that u and v stay.
   */
  readonly data: Float32Array;
}

const STEPS = 16384;
const MOST = 1.25; // a colour outside sRGB can lie a little above white in X or Z
const EPSILON = 216 / 24389;
const KAPPA = 24389 / 27;

/** CIELAB's compressing function (CIE 15:2018 eq. 8.6-8.11) read from a table: to 0.06 in L* in the deepest shade. */
const COMPRESSED = Float32Array.from({ length: STEPS + 1 }, (_, i) => {
  const t = (i / STEPS) * MOST;
  return t > EPSILON ? Math.cbrt(t) : (KAPPA * t + 16) / 116;
});

function compressed(t: number): number {
  const at = t * (STEPS / MOST);
  return COMPRESSED[at <= 0 ? 0 : at >= STEPS ? STEPS : (at + 0.5) | 0];
}

/** The features of a whole picture, not smoothed. */
export function shadingFeatures(image: Image8): ShadingFeatures {
  checkImage(image);
  const { width, height, channels, data: source } = image;
  const table = linearTable(image.space);
  const toSrgb = toSrgbMatrix(image.space);
  const m = toSrgb ? multiply(SRGB_TO_RELATIVE, toSrgb) : SRGB_TO_RELATIVE;
  const data = new Float32Array(width * height * 3);
  for (let i = 0, o = 0; o < data.length; i += channels, o += 3) {
    const r = table[source[i]];
    const g = table[source[i + 1]];
    const b = table[source[i + 2]];
    const fx = compressed(m[0] * r + m[1] * g + m[2] * b);
    const fy = compressed(m[3] * r + m[4] * g + m[5] * b);
    const fz = compressed(m[6] * r + m[7] * g + m[8] * b);
    // a / (L + 16) = 500 (fx - fy) / (116 fy)
    const scale = 66 / (116 * fy);
    data[o] = 116 * fy - 16;
    data[o + 1] = 500 * (fx - fy) * scale;
    data[o + 2] = 200 * (fy - fz) * scale;
  }
  return { width, height, data };
}

/** Smoothed by 1-2-1 in both directions, borders repeated: takes out grain and blocks of compression. */
export function smoothed({ width, height, data }: ShadingFeatures): ShadingFeatures {
  const across = new Float32Array(data.length);
  const row = width * 3;
  for (let y = 0; y < height; y++) {
    const top = y * row;
    for (let k = 0; k < 3; k++) {
      let before = data[top + k];
      let here = before;
      for (let i = top + k; i < top + row; i += 3) {
        const after = i + 3 < top + row ? data[i + 3] : here;
        across[i] = 0.25 * (before + after) + 0.5 * here;
        before = here;
        here = after;
      }
    }
  }
  const out = new Float32Array(data.length);
  for (let y = 0; y < height; y++) {
    const at = y * row;
    const above = y > 0 ? at - row : at;
    const below = y + 1 < height ? at + row : at;
    for (let i = 0; i < row; i++)
      out[at + i] = 0.25 * (across[above + i] + across[below + i]) + 0.5 * across[at + i];
  }
  return { width, height, data: out };
}
