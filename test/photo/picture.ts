import { encodeRgb } from '#lib/colour/index.ts';
import type { Image8 } from '#lib/photo/index.ts';
import { normal, random, type LabTriple, labToLinear } from './board-scene.ts';

export interface PictureOptions {
  seed?: number;
  /** Sensor noise, sd in device values. */
  noise?: number;
  /** Factors on linear red, green, blue: the light's cast and the exposure. */
  light?: readonly [number, number, number];
}

/** A picture whose true colour at each place is given as CIELAB, developed to 8 bits with noise. */
export function picture(
  width: number,
  height: number,
  colour: (x: number, y: number) => LabTriple | readonly [number, number, number, 'linear'],
  { seed = 1, noise = 2, light = [1, 1, 1] }: PictureOptions = {},
): Image8 {
  const next = random(seed);
  const data = new Uint8Array(width * height * 3);
  const cache = new Map<string, readonly number[]>();
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const c = colour(x + 0.5, y + 0.5);
      let rgb: readonly number[];
      if (c.length === 4) rgb = [c[0], c[1], c[2]];
      else {
        const key = c.join();
        rgb = cache.get(key) ?? labToLinear(c);
        cache.set(key, rgb);
      }
      for (let k = 0; k < 3; k++) {
        const code =
          255 * encodeRgb(Math.min(1, Math.max(0, rgb[k] * light[k])), 'srgb') + noise * normal(next);
        data[(y * width + x) * 3 + k] = Math.min(255, Math.max(0, Math.round(code)));
      }
    }
  return { width, height, channels: 3, data, space: 'srgb' };
}

/** Squared distance of `truth` from `lab` in units of the covariance (3 degrees of freedom). */
export function mahalanobis(
  lab: { L: number; a: number; b: number },
  truth: LabTriple,
  covariance: ArrayLike<number>,
): number {
  const d = [truth[0] - lab.L, truth[1] - lab.a, truth[2] - lab.b];
  const m = Array.from(covariance);
  // Cholesky by hand: a test's own arithmetic.
  const l00 = Math.sqrt(m[0]);
  const [l10, l20] = [m[3] / l00, m[6] / l00];
  const l11 = Math.sqrt(m[4] - l10 * l10);
  const l21 = (m[7] - l20 * l10) / l11;
  const l22 = Math.sqrt(m[8] - l20 * l20 - l21 * l21);
  const z0 = d[0] / l00;
  const z1 = (d[1] - l10 * z0) / l11;
  const z2 = (d[2] - l20 * z0 - l21 * z1) / l22;
  return z0 * z0 + z1 * z1 + z2 * z2;
}

/** 95 % of a chi-square distribution of 3 degrees of freedom; NIST/SEMATECH e-Handbook, table 1.3.6.7.4. */
export const CHI2_95 = 7.815;
