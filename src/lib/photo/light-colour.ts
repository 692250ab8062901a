import {
  drawnTint,
  luminance,
  tintBelieved,
  WARM,
  type Tint,
  type TintNoise,
  type TintRange,
} from './highlight.ts';
import type { LinearRgb } from './light-around.ts';
import { blur, type PlaneSize } from './plane-filters.ts';
import type { SurfacePixels } from './surface-pixels.ts';

/**
 * Colour of the light from place to place of one surface. On a plain paint what colour deviates is the light's doing. Of
 * wood or stone boards, blocks and grain differ in hue, and a photo shows that as it would coloured light: there the light
 * is read over wide neighbourhoods only, since it changes slowly where materials change at once (the premise of retinex:
 * Land and McCann 1971, J. Opt. Soc. Am. 61(1), 1-11).
 */

/** How far the light of a plain paint may lie from that of the room, within reason. */
const OF_PLAIN: TintRange = { along: 1, across: 1, mostAlong: 0.4, mostAcross: 0.12 };
/** Of a wide neighbourhood's colour on wood or stone the share that light may well have; across it is the material's. */
const OF_VARIED = 0.1;
/** Longer side of the picture over the radius of a wide neighbourhood: about a door's width. */
const WIDE = 8;

/**
 * From this deviation of ln channel ratios along the line of lights on, within a hundredth of the picture and as sd, a
 * surface's own colour varies: plain paint in our renderings has 0.002 to 0.021, wood and stone 0.016 to 0.077, cherry-red
 * doors in a real photo 0.03 to 0.05, its laminate counter 0.029.
 */
const VARIED = 0.025;
/** Longer side of the picture over the radius within which that is judged. */
const NEAR = 110;

interface Read {
  readonly size: PlaneSize;
  /** Of the whole picture. */
  readonly longSide: number;
}

/** Along the line of lights, ln channel ratios of linear light. */
function warmth(r: number, g: number, b: number): number {
  return Math.log((r + 1e-5) / (g + 1e-5)) * WARM[0] + Math.log((b + 1e-5) / (g + 1e-5)) * WARM[1];
}

/** Whether a surface's own colour varies from place to place (wood, stone, tiles), by its `smooth` planes without their noise. */
export function colourVaries(
  [red, green, blue]: readonly Float32Array[],
  weight: Float32Array,
  { size, longSide }: Read,
): boolean {
  const here = red.map((r, i) => (weight[i] ? warmth(r, green[i], blue[i]) : 0));
  const mean = here.slice();
  blur([mean], weight, size, Math.max(3, Math.round(longSide / NEAR)));
  const away: number[] = [];
  for (let i = 0; i < here.length; i += 3) if (weight[i]) away.push(Math.abs(here[i] - mean[i]));
  if (away.length === 0) return false;
  // 1.48 times the median: an sd that edges and handles do not count in.
  const middle = Float32Array.from(away).sort()[away.length >> 1];
  return 1.48 * middle > VARIED;
}

export interface LightColourOptions extends Read {
  readonly old: LinearRgb;
  readonly face: number;
  readonly tint: Tint;
  /** What a JPEG leaves of the surface's colour. */
  readonly noise: TintNoise;
  /** Whether the surface's own colour varies: see `colourVaries`. */
  readonly varied: boolean;
  /** Whether the light is white wherever it falls. */
  readonly white: boolean;
}

/**
 * Red and blue of the light where green is 1, at the trusted pixels of the `smooth` planes, 0 elsewhere; `mirrored` is the share
 * beyond `face` there.
 */
export function lightColours(
  [red, green, blue]: readonly Float32Array[],
  mirrored: Float32Array,
  { weight }: Pick<SurfacePixels, 'weight'>,
  options: LightColourOptions,
): { red: Float32Array; blue: Float32Array } {
  const { old, face, tint, noise, varied, white } = options;
  const out = { red: new Float32Array(weight.length), blue: new Float32Array(weight.length) };
  const body = luminance(old[0], old[1], old[2]);
  const wide = varied && !white ? wideWarmth([red, green, blue], mirrored, { weight }, options) : null;
  const drawn = new Float64Array(2);
  for (let i = 0; i < weight.length; i++) {
    if (!weight[i]) continue;
    if (white || wide) {
      const away = wide ? wide[i] : 0;
      drawn[0] = tint[0] + away * WARM[0];
      drawn[1] = tint[1] + away * WARM[1];
    } else {
      const k = face + mirrored[i];
      const g = green[i] / (old[1] + k) + 1e-5;
      drawnTint(
        drawn,
        {
          red: Math.log((red[i] / (old[0] + k) + 1e-5) / g),
          blue: Math.log((blue[i] / (old[2] + k) + 1e-5) / g),
        },
        { tint, range: OF_PLAIN, believed: tintBelieved(k / (body + k), noise) },
      );
    }
    out.red[i] = Math.exp(drawn[0]);
    out.blue[i] = Math.exp(drawn[1]);
  }
  return out;
}

/**
 * How far along the line of lights the light lies from `tint`, over wide neighbourhoods: a mean of what pixels show, each
 * weighed by how little of it mirrored colour and the steps of dark channels may be.
 */
function wideWarmth(
  [red, green, blue]: readonly Float32Array[],
  mirrored: Float32Array,
  { weight }: Pick<SurfacePixels, 'weight'>,
  { size, longSide, old, face, tint, noise }: LightColourOptions,
): Float32Array {
  const body = luminance(old[0], old[1], old[2]);
  const base = tint[0] * WARM[0] + tint[1] * WARM[1];
  const away = new Float32Array(weight.length);
  const telling = new Float32Array(weight.length);
  for (let i = 0; i < weight.length; i++) {
    if (!weight[i]) continue;
    const k = face + mirrored[i];
    telling[i] = tintBelieved(k / (body + k), noise).along;
    away[i] = warmth(red[i] / (old[0] + k), green[i] / (old[1] + k), blue[i] / (old[2] + k)) - base;
  }
  blur([away, telling], telling.slice(), size, Math.max(3, Math.round(longSide / WIDE)));
  return away.map((v, i) => OF_VARIED * telling[i] * v);
}
