import { brightnessMirrored, faceShares, luminance, WARM, type Tint, type TintNoise } from './highlight.ts';
import type { LinearRgb } from './light-around.ts';
import { guidedSmooth, type PlaneSize } from './plane-filters.ts';
import type { SurfacePixels } from './surface-pixels.ts';

/** Noise of the mirrored share that compression leaves on a dark paint, as sd. */
const MIRROR_NOISE = 0.015;

export interface MirroredOptions {
  readonly size: PlaneSize;
  /** Of the whole picture. */
  readonly longSide: number;
  readonly old: LinearRgb;
  readonly face: number;
  readonly tint: Tint;
  readonly texture: 'none' | 'hide' | 'keep';
}

/**
 * How much more of the light than `face` is mirrored, where a pixel is trusted: from the colour of the smoothed planes and
 * from brightness, without their noise; 0 elsewhere.
 */
export function mirroredShares(
  [red, green, blue]: readonly Float32Array[],
  cut: SurfacePixels,
  { size, old, face, tint, texture, longSide }: MirroredOptions,
): Float32Array {
  const { weight } = cut;
  const out = new Float32Array(weight.length);
  const share = faceShares(old, face, tint, colourNoise(cut));
  for (let i = 0; i < out.length; i++)
    if (weight[i]) {
      const g = green[i] + 1e-5;
      out[i] = share(Math.log((red[i] + 1e-5) / g), Math.log((blue[i] + 1e-5) / g)) - face;
    }
  if (texture !== 'keep') markBright(out, [red, green, blue], { weight, old, face });
  // Grain changes colour as highlights do: only what is wider than it can be told from it.
  const radius = Math.max(2, Math.round(longSide / (texture === 'none' ? 130 : 60)));
  return guidedSmooth(out, weight, { size, radius, variance: MIRROR_NOISE ** 2 });
}

/** Counts part of what is brighter than the mean of its surface as mirrored: see `brightnessMirrored`. */
function markBright(
  mirrored: Float32Array,
  [red, green, blue]: readonly Float32Array[],
  { weight, old, face }: { readonly weight: Float32Array; readonly old: LinearRgb; readonly face: number },
): void {
  const body = luminance(old[0], old[1], old[2]) + face;
  const light = new Float32Array(mirrored.length);
  let [sum, count] = [0, 0];
  for (let i = 0; i < light.length; i++) {
    if (!weight[i]) continue;
    light[i] = Math.log((luminance(red[i], green[i], blue[i]) + 1e-5) / (body + mirrored[i]));
    sum += light[i];
    count++;
  }
  const gain = brightnessMirrored(old, face);
  for (let i = 0; i < light.length; i++) {
    if (!weight[i]) continue;
    const more = Math.max(-1, Math.min(1, gain * (light[i] - sum / count)));
    mirrored[i] = (face + mirrored[i]) * Math.exp(more) - face;
  }
}

/** Noise and steps of colour that smoothing leaves of a JPEG's, sd in device values. */
const STEP_LEFT = 0.5;

/**
 * What a JPEG leaves of a surface's colour at its median, as sd of log channel ratios along and across the line of lights.
 */
export function colourNoise({ counts, trusted, table }: SurfacePixels): TintNoise {
  const of = (c: number) => {
    let value = 0;
    for (let sum = 0; value < 254 && (sum += counts[c][value]) <= trusted / 2;) value++;
    const v = Math.max(1, value);
    return (STEP_LEFT * (table[v + 1] - table[v - 1])) / 2 / table[v];
  };
  const [r, g, b] = [of(0), of(1), of(2)];
  return {
    along: Math.hypot(WARM[0] * r, WARM[1] * b, (WARM[0] + WARM[1]) * g),
    across: Math.hypot(WARM[1] * r, WARM[0] * b, (WARM[1] - WARM[0]) * g),
  };
}
