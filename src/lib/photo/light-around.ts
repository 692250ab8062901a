import { WARM, luminance, type Tint } from './highlight.ts';
import { linearTable, type Image8 } from './image.ts';
import type { LightShares } from './light-shares.ts';
import { tintsOf } from './light-tints.ts';
import type { Mask } from './mask.ts';

/** Linear red, green, blue of the picture's own space. */
export type LinearRgb = readonly [number, number, number];

/** Light in a room as the rest of the picture shows it, where the light on the white paper is 1. */
export interface LightAround {
  readonly tint: Tint;
  /**
   * The same, drawn towards neutral across the line of lights where what is seen disagrees: for surfaces whose own colours
   * cannot tell better, beside pink tiles and red wood in neutral light as well.
   */
  readonly agreed: Tint;
  readonly light: LinearRgb;
  /** Colour of what else the picture shows: mean reflectance in each channel over that of luminance. */
  readonly others: LinearRgb;
}

const WHITE: LinearRgb = [1, 1, 1];

/** Light of a pixel and its colour along and across the line of lights. */
interface Coloured {
  readonly light: number;
  readonly along: number;
  readonly across: number;
}

/** Fewer pixels than this outside the surface say nothing. */
const LEAST_PIXELS = 500;
/** As far as this along the line a warm look of pale things may be their own, beige or light wood; what goes beyond is the light. */
const MOST_OF_BEIGE = 0.25;
/** The light may lie this far across the line: bounced off floors, or left by a correction. In our renderings 0.08 to 0.3. */
const MOST_ACROSS = 0.14;
/** Between its quartiles what stands in a room differs across the line by as much as this anyway. A guess. */
const USUALLY_APART = 0.1;
/** How far the light of a corrected picture lies across the line of lights, as sd; 0.05 to 0.29 in our renderings. A guess. */
const LIGHT_ACROSS = 0.12;
/** Of what agrees with itself this much is left open, as sd of its mean across the line. A guess. */
const LEFT_OPEN = 0.05;
/** Reflectance of ceilings, walls and trim: 0.7 to 0.8, common practice in lighting design, no published source. */
const PALE = 0.75;

/**
 * What the picture outside a surface says about the light: every so many of its pixels that are not burnt out.
 * Level: its brightest quarter is taken for ceiling, walls and trim; 0.35 to 1. Tint: across the line from daylight to
 * lamp light rooms are neutral on the average (white, wood, stone), so medians stand for the light: of all and of the
 * brightest quarter, each as far as its pixels agree. Along it wood is no evidence of warm light, so only the brightest
 * quarter is asked, which is warm as whites and beiges are or as the light is: half is believed, until it is more than
 * paint can do. Without enough pixels the light is that on the paper. With `shares` the colour of the light is known, and all is as
 * white light would show it.
 */
export function lightAround(image: Image8, mask: Mask, shares: LightShares | null = null): LightAround {
  const table = linearTable(image.space);
  const { channels, data } = image;
  const tintAt = shares && tintsOf(shares);
  const step = Math.max(1, Math.floor(mask.data.length / 20_000));
  const bright: number[] = [];
  const coloured: Coloured[] = [];
  const sums = [0, 0, 0];
  for (let i = step >> 1; i < mask.data.length; i += step) {
    if (mask.data[i] > 2) continue;
    const o = i * channels;
    const [r, g, b] = [data[o], data[o + 1], data[o + 2]];
    if (Math.max(r, g, b) >= 243) continue;
    const tint = tintAt ? tintAt(i % mask.width, Math.floor(i / mask.width)) : WHITE;
    const shown = [table[r] / tint[0], table[g] / tint[1], table[b] / tint[2]] as const;
    const light = luminance(...shown);
    bright.push(light);
    for (let c = 0; c < 3; c++) sums[c] += shown[c];
    if (Math.min(r, g, b) < 26) continue;
    const red = Math.log(shown[0] / shown[1]);
    const blue = Math.log(shown[2] / shown[1]);
    coloured.push({
      light,
      along: red * WARM[0] + blue * WARM[1],
      across: red * WARM[1] - blue * WARM[0],
    });
  }
  const level = bright.length < LEAST_PIXELS ? 1 : Math.max(0.35, Math.min(1, quantile(bright, 0.75) / PALE));
  if (coloured.length < LEAST_PIXELS)
    return { tint: [0, 0], agreed: [0, 0], light: [level, level, level], others: [1, 1, 1] };
  const pale = coloured.sort((p, q) => q.light - p.light).slice(0, coloured.length >> 2);
  const sets = [coloured, pale].map((set) => set.map(({ across }) => across));
  const c = shares ? 0 : bounded(meanAcross(sets, USUALLY_APART), MOST_ACROSS);
  const sure = shares ? 0 : bounded(meanAcross(sets, LEFT_OPEN, LIGHT_ACROSS), MOST_ACROSS);
  const along = pale.map((pixel) => pixel.along);
  const seen = quantile(along, 0.5);
  const a = shares ? 0 : seen - bounded(seen / 2, MOST_OF_BEIGE);
  const tintOf = (across: number): Tint => [a * WARM[0] + across * WARM[1], a * WARM[1] - across * WARM[0]];
  const tint = tintOf(c);
  const [red, blue] = [Math.exp(tint[0]), Math.exp(tint[1])];
  const green = level / luminance(red, 1, blue);
  const own: LinearRgb = [sums[0] / red, sums[1], sums[2] / blue];
  const whole = luminance(...own);
  return {
    tint,
    agreed: tintOf(sure),
    light: [green * red, green, green * blue],
    others: [own[0] / whole, own[1] / whole, own[2] / whole],
  };
}

/**
 * Mean of the medians of several sets, each weighed by how close its quartiles and what is `usually` apart lie; drawn to
 * neutral as far as lights lie about it with the sd `spread`.
 */
function meanAcross(sets: readonly number[][], usually: number, spread = Infinity): number {
  let [sum, total] = [0, 1 / spread ** 2];
  for (const values of sets) {
    const apart = quantile(values, 0.75) - quantile(values, 0.25);
    const weight = 1 / (apart ** 2 + usually ** 2);
    sum += weight * quantile(values, 0.5);
    total += weight;
  }
  return sum / total;
}

function quantile(values: number[], part: number): number {
  return values.sort((p, q) => p - q)[Math.floor(part * values.length)];
}

function bounded(value: number, limit: number): number {
  return Math.max(-limit, Math.min(limit, value));
}
