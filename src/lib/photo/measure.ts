import { transformCovariance, type Covariance, type Lab } from '#lib/colour/index.ts';
import { correctMany, correctedLab } from './corrected-colour.ts';
import type { Correction } from './correction.ts';
import {
  checkImage,
  linearTable,
  linearToLab,
  toSrgbMatrix,
  transformInPlace,
  type Image8,
} from './image.ts';
import { planarFit } from './robust-plane.ts';
import { centreOf, coverage, extentOf, type Point, type Region } from './region.ts';

/** The colour of a region of a photo, and everything that makes it doubtful. */
export interface Measurement {
  /** CIELAB D65/10; with no correction the delivered numbers taken as such. */
  readonly lab: Lab;
  /** Doubt of `lab`: the correction's own, spread over the number of independent pixels, uneven light, clipping. */
  readonly covariance: Covariance;
  /** Standard deviation of the pixels' L, a, b inside, specks and clipped pixels left out. */
  readonly spread: Lab;
  /** Share of the region at the top end of a channel, 0-1. */
  readonly clippedShare: number;
  /** Area inside the picture, pixels. */
  readonly pixels: number;
  /** How much L changes from one end of the region to the other along its trend, as delivered. */
  readonly shading: number;
  /** Sentences for the user; empty where there is nothing to say. */
  readonly warnings: readonly string[];
}

/** What a region holds in linear light as delivered: what a correction is fitted to and applied to. */
export interface RegionLight {
  /** Robust mean, linear sRGB primaries. */
  readonly rgb: readonly [number, number, number];
  /** Covariance of that mean: spread, uneven light and clipping, not the correction's. */
  readonly rgbCovariance: Covariance;
  readonly clippedShare: number;
  readonly emptyShare: number;
  /** Share of the unclipped region that differs from the rest and was left out. */
  readonly strangeShare: number;
  readonly pixels: number;
  readonly outside: number;
  readonly shading: number;
  /** The pixels that count, at most some thousands: linear colours (stride 3) and their weights. */
  readonly colours: Float32Array;
  readonly weights: Float64Array;
}

const TOP = 254; // of 255: JPEG leaves clipped areas one step down
const MOST_SAMPLES = 4000; // neighbours tell nothing new: see PIXELS_PER_SAMPLE
const SMALL = 400; // pixels; below it partly covered edge pixels count with their share
// Neighbouring pixels share their errors: demosaicing, noise reduction and the 8x8 blocks of a JPEG.
// Common practice, no published source: one independent sample per block.
const PIXELS_PER_SAMPLE = 64;

/** Reads a region's light. RangeError where nothing of it lies inside the picture. */
export function regionLight(image: Image8, region: Region): RegionLight {
  checkImage(image);
  const { left, top, right, bottom } = extentOf(region);
  const small = (right - left) * (bottom - top) < SMALL;
  let covered;
  try {
    covered = coverage(region, image, small ? 'smooth' : 'centre');
  } catch (error) {
    if (small) throw error;
    covered = coverage(region, image, 'smooth'); // a sliver between pixel centres
  }
  const { pixels, share, area, outside } = covered;
  const stride = Math.max(1, Math.ceil(Math.sqrt(pixels.length / MOST_SAMPLES)));
  const table = linearTable(image.space);
  const at: number[] = [];
  const clipped: boolean[] = [];
  const weight: number[] = [];
  const light: number[] = [];
  let [topWeight, emptyWeight, total] = [0, 0, 0];
  for (let i = 0; i < pixels.length; i++) {
    const p = pixels[i];
    const x = p % image.width;
    const y = (p - x) / image.width;
    if (stride > 1 && (x % stride !== 0 || y % stride !== 0)) continue;
    const [r, g, b] = [0, 1, 2].map((c) => image.data[p * image.channels + c]);
    const isClipped = Math.max(r, g, b) >= TOP;
    at.push(p);
    clipped.push(isClipped);
    weight.push(share[i]);
    light.push(table[r], table[g], table[b]);
    total += share[i];
    if (isClipped) topWeight += share[i];
    if (Math.min(r, g, b) === 0) emptyWeight += share[i];
  }
  const clippedShare = topWeight / total;
  // Clipped pixels are unknown and left out; where they are most of it, they are all there is.
  const keep = clippedShare > 0.5 ? at.map(() => true) : clipped.map((c) => !c);
  const kept = at.map((_, i) => i).filter((i) => keep[i]);
  const colours = Float32Array.from(kept.flatMap((i) => light.slice(3 * i, 3 * i + 3)));
  const matrix = toSrgbMatrix(image.space);
  if (matrix) transformInPlace(colours, matrix);
  const cover = Float64Array.from(kept, (i) => weight[i]);
  const labs = linearToLab(colours);
  const xs = Float64Array.from(kept, (i) => (at[i] % image.width) + 0.5);
  const ys = Float64Array.from(kept, (i) => Math.floor(at[i] / image.width) + 0.5);
  const fit = planarFit(labs, cover, xs, ys);
  const { weights, shade, shading } = fit;
  const rgb = weightedMean(colours, weights);
  const spread = detrended(colours, weights, shade, rgb);
  const independent = Math.max(1, area / PIXELS_PER_SAMPLE);
  const covariance = scaled(spread, 1 / independent);
  const patchy = blockCovariance(colours, weights, shade, rgb, xs, ys);
  const mean = patchy && trace(patchy) > trace(covariance) ? patchy : covariance;
  // Leaving out the clipped end of a spread pulls the mean down by up to 0.8 of its deviation (half clipped).
  const pulled = clippedShare > 0.5 ? 1 : 1.44 * clippedShare ** 1.2;
  // Light that changes by this much inside has changed as much on the way from the reference: a quarter as deviation.
  const lightness = linearToLab(Float32Array.from(rgb))[0];
  const uneven = ((3 * (shading / 4)) / (lightness + 16)) ** 2;
  const lost = clippedShare > 0.5 ? 0.01 : 0;
  const rgbCovariance = mean.map((v, k) => {
    const [i, j] = [Math.floor(k / 3), k % 3];
    return v + pulled * spread[k] + (uneven + lost) * rgb[i] * rgb[j] + (i === j ? 1e-8 : 0);
  });
  const used = weights.reduce((s, w) => s + w, 0);
  const offered = cover.reduce((s, w) => s + w, 0);
  return {
    rgb,
    rgbCovariance,
    clippedShare,
    emptyShare: emptyWeight / total,
    strangeShare: fit.strange(cover) / offered,
    pixels: area,
    outside,
    shading,
    colours,
    weights: used > 0 ? weights : cover,
  };
}

function weightedMean(colours: Float32Array, weights: Float64Array): [number, number, number] {
  const sum = [0, 0, 0];
  let total = 0;
  for (let i = 0; i < weights.length; i++) {
    total += weights[i];
    for (let c = 0; c < 3; c++) sum[c] += weights[i] * colours[3 * i + c];
  }
  return [sum[0] / total, sum[1] / total, sum[2] / total];
}

/** Weighted covariance of the colours once each is brought to the middle of the shading. */
function detrended(
  colours: Float32Array,
  weights: Float64Array,
  shade: Float64Array,
  mean: readonly number[],
): number[] {
  const out = new Array<number>(9).fill(0);
  let total = 0;
  for (let i = 0; i < weights.length; i++) {
    const w = weights[i];
    if (w === 0) continue;
    total += w;
    const d = mean.map((m, c) => colours[3 * i + c] / shade[i] - m);
    for (let k = 0; k < 9; k++) out[k] += w * d[Math.floor(k / 3)] * d[k % 3];
  }
  return out.map((v) => v / total);
}

/** Covariance of the mean seen from a 4x4 grid of blocks: larger than the pixels' where the surface has a texture. */
function blockCovariance(
  colours: Float32Array,
  weights: Float64Array,
  shade: Float64Array,
  mean: readonly number[],
  xs: Float64Array,
  ys: Float64Array,
): number[] | null {
  const [x0, x1, y0, y1] = [minimum(xs), -minimum(xs, -1), minimum(ys), -minimum(ys, -1)];
  const sums = new Float64Array(16 * 3);
  const total = new Float64Array(16);
  for (let i = 0; i < weights.length; i++) {
    const column = Math.min(3, Math.floor((4 * (xs[i] - x0)) / (x1 - x0 + 1e-9)));
    const row = Math.min(3, Math.floor((4 * (ys[i] - y0)) / (y1 - y0 + 1e-9)));
    const k = row * 4 + column;
    total[k] += weights[i];
    for (let c = 0; c < 3; c++) sums[3 * k + c] += (weights[i] * colours[3 * i + c]) / shade[i];
  }
  const enough = total.reduce((s, t) => s + t, 0) / 64;
  const out = new Array<number>(9).fill(0);
  let n = 0;
  for (let k = 0; k < 16; k++) {
    if (total[k] <= enough || total[k] < 4) continue;
    n++;
    const d = mean.map((m, c) => sums[3 * k + c] / total[k] - m);
    for (let e = 0; e < 9; e++) out[e] += d[Math.floor(e / 3)] * d[e % 3];
  }
  return n < 4 ? null : out.map((v) => v / (n * (n - 1)));
}

function minimum(values: Float64Array, sign = 1): number {
  let least = Infinity;
  for (const v of values) if (sign * v < least) least = sign * v;
  return least;
}

function scaled(m: readonly number[], k: number): number[] {
  return m.map((v) => v * k);
}

function trace(m: readonly number[]): number {
  return m[0] + m[4] + m[8];
}

/**
 * Doubt of a delivered colour nobody corrected: cameras under room light are off by 6.75 (CIEDE2000) on average and
 * 13.3 at the 95th percentile (simulation from measured cameras and lamps, DEVELOPERS.md). As deviations: 5 in
 * lightness, 4.2 in chroma and hue difference, stretched with chroma as CIEDE2000's S_C and S_H are.
 */
export function deliveredDoubt(lab: Lab): Covariance {
  const chroma = Math.hypot(lab.a, lab.b);
  const [cos, sin] = chroma > 1e-6 ? [lab.a / chroma, lab.b / chroma] : [1, 0];
  const [c, h] = [(4.2 * (1 + 0.045 * chroma)) ** 2, (4.2 * (1 + 0.015 * chroma)) ** 2];
  const cross = (c - h) * cos * sin;
  return [25, 0, 0, 0, c * cos * cos + h * sin * sin, cross, 0, cross, c * sin * sin + h * cos * cos];
}

/** CIELAB as delivered of one linear colour, with its covariance carried along. */
export function deliveredLab(
  rgb: readonly [number, number, number],
  rgbCovariance: Covariance,
): { lab: Lab; covariance: Covariance } {
  const step = 1e-3;
  const samples = new Float32Array(12);
  for (let k = 0; k < 4; k++)
    for (let c = 0; c < 3; c++) samples[3 * k + c] = rgb[c] + (k === c + 1 ? step : 0);
  const labs = linearToLab(samples);
  const slope = Array.from(
    { length: 9 },
    (_, k) => (labs[3 * ((k % 3) + 1) + Math.floor(k / 3)] - labs[Math.floor(k / 3)]) / step,
  );
  const lab = { L: labs[0], a: labs[1], b: labs[2] };
  const carried = transformCovariance(slope, rgbCovariance);
  return { lab, covariance: deliveredDoubt(lab).map((v, k) => v + carried[k]) };
}

/**
 * Measures a region. The mean is robust (Tukey's biweight round a plane of light) in linear light; clipped
 * pixels are unknown and left out. `correction` null believes the file and says how little that is worth.
 * RangeError where nothing of the region lies inside the picture.
 */
export function measureRegion(image: Image8, region: Region, correction: Correction | null): Measurement {
  const light = regionLight(image, region);
  const { rgb } = light;
  const deviation = lightDeviationAt(image, correction, centreOf(region));
  const rgbCovariance = inItsLight(light.rgbCovariance, rgb, deviation);
  const { lab, covariance, limited } = possible(
    correction ? correctedLab(correction, rgb, rgbCovariance) : deliveredLab(rgb, rgbCovariance),
  );
  const labs = correction
    ? correctMany(correction, light.colours, new Float32Array(light.colours.length))
    : linearToLab(light.colours);
  const [L, a, b] = deviations(labs, light.weights);
  const warnings = warningsOf(light, Math.hypot(L, a, b));
  if (limited)
    warnings.push(
      'This came out brighter or stronger than any surface is. Is a reference marked in the wrong place?',
    );
  if (deviation > DOUBTFUL_LIGHT && correction?.places?.length)
    warnings.push(
      'This place may stand in other light than the reference: how light the colour is stays doubtful. Lay white paper on it or beside it, and photograph it again.',
    );
  if (!correction)
    warnings.push(
      'The photo is not corrected: this is the colour as the camera gave it, off by about 7 as a rule.',
    );
  return {
    lab,
    covariance,
    spread: { L, a, b },
    clippedShare: light.clippedShare,
    pixels: light.pixels,
    shading: light.shading,
    warnings,
  };
}

/** Lightness and chroma that no surface goes beyond, with room for fluorescence. */
const MOST_LIGHTNESS = 108;
const MOST_CHROMA = 140;

/**
 * A colour that a surface can have: one beyond is brought to the limit, its doubt widened by the way it came. Only a
 * reference in the wrong place gives such colours, and whoever measures says so.
 */
export function possible({ lab, covariance }: { lab: Lab; covariance: Covariance }): {
  lab: Lab;
  covariance: Covariance;
  limited: boolean;
} {
  const L = Math.min(MOST_LIGHTNESS, Math.max(0, lab.L));
  const chroma = Math.hypot(lab.a, lab.b);
  const keep = chroma > MOST_CHROMA ? MOST_CHROMA / chroma : 1;
  if (L === lab.L && keep === 1) return { lab, covariance, limited: false };
  const way = [lab.L - L, lab.a * (1 - keep), lab.b * (1 - keep)];
  return {
    lab: { L, a: lab.a * keep, b: lab.b * keep },
    covariance: covariance.map((v, k) => v + (k % 4 === 0 ? Math.min(1e4, way[k / 4] ** 2) : 0)),
    limited: true,
  };
}

/**
 * Veiling glare of camera and gloss of the surface, as a part of white: it lies on every colour and shows on dark ones.
 * Common practice, no published source.
 */
const VEIL = 0.008;

/** Part of a difference in light that is a difference in its colour: window, lamp and what walls send back. */
const COLOUR_OF_LIGHT = 0.25;

/** Relative deviation of light from which the user is told: a mid grey's L* then has a standard deviation of 8. */
const DOUBTFUL_LIGHT = 0.36;

/** Relative deviation of the light on a place from that on the nearest reference. */
export function lightDeviationAt(image: Image8, correction: Correction | null, [x, y]: Point): number {
  const { lightDeviation } = image;
  if (!lightDeviation) return 0;
  const distances = (correction?.places ?? []).map((place) => Math.hypot(place[0] - x, place[1] - y));
  if (distances.length === 0) return lightDeviation.near;
  const distance = Math.min(...distances) / Math.max(image.width, image.height);
  return Math.min(lightDeviation.most, lightDeviation.near + lightDeviation.perLength * distance);
}

/** The covariance of a colour whose light may differ from the reference's by `deviation`, and on which a veil may lie. */
export function inItsLight(
  covariance: Covariance,
  rgb: readonly [number, number, number],
  deviation: number,
): Covariance {
  return covariance.map((v, k) => {
    const [i, j] = [Math.floor(k / 3), k % 3];
    const share = i === j ? 1 + COLOUR_OF_LIGHT * COLOUR_OF_LIGHT : 1;
    return v + share * deviation * deviation * rgb[i] * rgb[j] + VEIL * VEIL;
  });
}

function deviations(labs: Float32Array, weights: Float64Array): [number, number, number] {
  const mean = weightedMean(labs, weights);
  const squares = [0, 0, 0];
  let total = 0;
  for (let i = 0; i < weights.length; i++) {
    total += weights[i];
    for (let c = 0; c < 3; c++) squares[c] += weights[i] * (labs[3 * i + c] - mean[c]) ** 2;
  }
  const [L, a, b] = squares.map((s) => Math.sqrt(s / total));
  return [L, a, b];
}

function warningsOf(light: RegionLight, spread: number): string[] {
  const percent = (share: number) => `${Math.max(1, Math.round(100 * share))} %`;
  const warnings: string[] = [];
  if (light.outside > 0.005)
    warnings.push(`${percent(light.outside)} of the region lies outside the picture and was left out.`);
  if (light.pixels < 50)
    warnings.push(`The region is small (${Math.round(light.pixels)} pixels): a larger one is steadier.`);
  if (light.clippedShare > 0.5)
    warnings.push(
      'Most of the region is overexposed: its true colour may be lighter and stronger than measured.',
    );
  else if (light.clippedShare > 0.01)
    warnings.push(`${percent(light.clippedShare)} of the region is overexposed and was left out.`);
  if (light.emptyShare > 0.2)
    warnings.push(
      'A channel of the region is at its lowest: the true colour may be darker or stronger than measured.',
    );
  if (light.strangeShare > 0.12)
    warnings.push(
      `${percent(light.strangeShare)} of the region differs from the rest (glare, a handle, another colour) and was left out.`,
    );
  if (light.shading > 8)
    warnings.push(
      `The light changes by ${light.shading.toFixed(0)} units of lightness across the region: a smaller one is surer.`,
    );
  if (spread > 8)
    warnings.push('The region holds several colours or a pattern: the mean may be none of them.');
  return warnings;
}
