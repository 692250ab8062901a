import { ENCODE_STEPS, encodingTable } from './encoding.ts';
import { luminance } from './highlight.ts';
import { shareAt } from './light-apart.ts';
import type { LinearRgb } from './light-around.ts';
import type { LightShares } from './light-shares.ts';
import type { MaskBox } from './mask.ts';
import type { SurfacePixels } from './surface-pixels.ts';

/**
 * A picture whose window and lamps are told apart is painted under the very light by which it is taken apart later: as if it
 * were lit by white light, with the colour of each place's light put back at the end. A finish under a light of its own
 * would come out of `relightApart` in what the two lights differ by.
 */

/** Linear red, green and blue, one plane each. */
export type ColourPlanes = readonly [Float32Array, Float32Array, Float32Array];

/** Colour of the light at the pixels of a picture told apart, of luminance 1. */
export function tintsOf(shares: LightShares): (x: number, y: number) => LinearRgb {
  const { window: day, lamps } = shares;
  const tints = Array.from({ length: 256 }, (_, step): LinearRgb => {
    const [r, g, b] = [0, 1, 2].map((c) => (step / 255) * day[c] + (1 - step / 255) * lamps[c]);
    const whole = luminance(r, g, b);
    return [r / whole, g / whole, b / whole];
  });
  return (x, y) => tints[Math.round(255 * shareAt(shares, x, y))];
}

/** The same over a box of the picture. */
export function tintsOver(shares: LightShares, box: MaskBox): ColourPlanes {
  const tintAt = tintsOf(shares);
  const planes = [0, 1, 2].map(() => new Float32Array(box.width * box.height));
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      const tint = tintAt(x + box.x, y + box.y);
      for (let c = 0; c < 3; c++) planes[c][o] = tint[c];
    }
  return [planes[0], planes[1], planes[2]];
}

/** A surface's pixels as white light would show them. What can be believed stays what it was. */
export function inWhiteLight(cut: SurfacePixels, tints: ColourPlanes): SurfacePixels {
  const encode = encodingTable(cut.table);
  const counts = cut.counts.map(() => new Uint32Array(256));
  const plain = (c: number) => {
    const plane = cut.rgb[c].map((v, o) => v / tints[c][o]);
    for (let o = 0; o < plane.length; o++)
      if (cut.weight[o]) {
        const v = Math.min(1, plane[o]);
        counts[c][Math.round(encode[Math.floor(Math.sqrt(v) * ENCODE_STEPS)])]++;
      }
    return plane;
  };
  return { ...cut, rgb: [plain(0), plain(1), plain(2)], counts };
}
