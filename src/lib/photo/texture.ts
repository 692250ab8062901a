import type { ShadingFeatures } from './shading-features.ts';
import type { Superpixels } from './superpixels.ts';

const FLOOR = 0.5; // units of L: below this a change is grain of the camera
const ENOUGH = 8; // pixels whose neighbours all lie in the same piece

/**
 * Texture of each piece: binary logarithm of the mean change of L* across a pixel (both directions summed) plus FLOOR,
 * from -1 for one flat tone. Changes at the border of the piece do not count: they belong to the edge.
 */
export function textures(pieces: Superpixels, { width, height, data }: ShadingFeatures): Float32Array {
  const { count, label, start, pixels } = pieces;
  const n = width * height;
  const out = new Float32Array(count);
  for (let i = 0; i < count; i++) {
    let [inner, innerCount, all] = [0, 0, 0];
    for (let j = start[i]; j < start[i + 1]; j++) {
      const p = pixels[j];
      const x = p % width;
      const left = x > 0 ? p - 1 : p;
      const right = x + 1 < width ? p + 1 : p;
      const up = p >= width ? p - width : p;
      const down = p + width < n ? p + width : p;
      const change = Math.abs(data[3 * right] - data[3 * left]) + Math.abs(data[3 * down] - data[3 * up]);
      all += change;
      if (label[left] === i && label[right] === i && label[up] === i && label[down] === i) {
        inner += change;
        innerCount++;
      }
    }
    const mean = innerCount >= ENOUGH ? inner / innerCount : all / (start[i + 1] - start[i]);
    out[i] = Math.log2(FLOOR + mean);
  }
  return out;
}
