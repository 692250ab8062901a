import { luminance } from './highlight.ts';
import { blur, type PlaneSize } from './plane-filters.ts';
import type { SurfacePixels } from './surface-pixels.ts';

/** Grain of wood and veins of stone: whether a surface has any, how wide it is and how strong. */

/** Noise and steps of a JPEG, sd in device values: variation of this size is smoothed out of the light. */
export const NOISE = 1.6;
/** Relative change of light for one of device values, where they follow the power of IEC 61966-2-1. */
const POWER = 2.4;

export interface MaterialGrain {
  /** Pixels within which it shows. */
  readonly radius: number;
  /** How far its device values usually lie from those around, and what that is of the light. */
  readonly deviation: number;
  readonly relative: number;
}

interface Looked {
  readonly size: PlaneSize;
  /** Of the whole picture. */
  readonly longSide: number;
}

/** The grain of a surface by its device values (see `deviceValues`). */
export function grainOf(
  value: Float32Array,
  weight: Float32Array,
  { size, longSide }: Looked,
): MaterialGrain {
  const radius = Math.max(3, Math.round(longSide / 110));
  const deviation = Math.max(NOISE, deviationWithin(radius, { value, weight, size }));
  return { radius, deviation, relative: (POWER * deviation) / meanValue(value, weight) };
}

/** Mean of what counts, at least 1. */
function meanValue(value: Float32Array, weight: Float32Array): number {
  let [sum, count] = [0, 0];
  for (let i = 0; i < value.length; i++)
    if (weight[i]) {
      sum += value[i];
      count++;
    }
  return count > 0 ? Math.max(1, sum / count) : 1;
}

/** Luminance as a device value, where noise is about even from dark to light. */
export function deviceValues({ rgb, weight }: SurfacePixels): Float32Array {
  const value = new Float32Array(weight.length);
  for (let i = 0; i < value.length; i++)
    if (weight[i]) value[i] = encoded(luminance(rgb[0][i], rgb[1][i], rgb[2][i]));
  return value;
}

/** How far device values usually lie from those around them: a median, so that gaps and edges do not count, as sd. */
function deviationWithin(
  radius: number,
  { value, weight, size }: { value: Float32Array; weight: Float32Array; size: PlaneSize },
): number {
  const mean = value.slice();
  blur([mean], weight, size, radius);
  const sizes = new Uint32Array(256);
  let total = 0;
  for (let i = 0; i < value.length; i += 3)
    if (weight[i]) {
      sizes[Math.min(255, Math.floor(4 * Math.abs(value[i] - mean[i])))]++;
      total++;
    }
  let seen = 0;
  let middle = 0;
  while (middle < 255 && (seen += sizes[middle]) < total / 2) middle++;
  return 1.48 * ((middle + 0.5) / 4);
}

/**
 * From this deviation on within a few pixels, relative to the surface's own device values, a surface has grain: plain
 * paint in our renderings has 0.006 (beige) to 0.015 (dark green), wood 0.04 to 0.06, dark wood in a real photo 0.042. A
 * dark paint in a noisy photo may pass it too, and is smoothed, which does it no harm.
 */
const GRAIN = 0.025;

/** Whether a surface has grain to speak of. */
export function hasGrain(cut: SurfacePixels, { size, longSide }: Looked): boolean {
  const { weight, trusted } = cut;
  if (trusted === 0) return false;
  const value = deviceValues(cut);
  const mean = value.reduce((sum, v) => sum + v, 0) / trusted;
  const radius = Math.max(2, Math.round(longSide / 300));
  return deviationWithin(radius, { value, weight, size }) > GRAIN * mean;
}

/** Device value 0-255 on the sRGB curve, unclamped above; IEC 61966-2-1. Here a scale with even noise, not a colour. */
export function encoded(v: number): number {
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
}

/** Linear light of a device value. */
export function decoded(value: number): number {
  const v = value / 255;
  return v <= 0.04045 ? Math.max(0, v) / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
}
