import type { Covariance, Lab } from '#lib/colour/index.ts';
import { deltaE2000 } from '#lib/colour/index.ts';
import { correctMany, correctedLab } from './corrected-colour.ts';
import type { Correction } from './correction.ts';
import { clusters } from './clusters.ts';
import { linearToLab, shrink, type Image8, type LinearImage } from './image.ts';
import { deliveredLab, inItsLight, lightDeviationAt, possible } from './measure.ts';
import { depthOf } from './outline.ts';
import { centreOf, coverage, type Point, type Region } from './region.ts';

/** One of the colours a picture is made of. */
export interface PaletteArea {
  readonly lab: Lab;
  /** Doubt of `lab`: the correction's own, and that an area is a range of colours of which this is the middle. */
  readonly covariance: Covariance;
  /** Share of the picture (or region) whose colours are nearest to this one, 0-1. All shares sum to 1. */
  readonly share: number;
  /** A pixel well inside a large patch of this colour, in the picture's pixels. */
  readonly at: Point;
}

export interface Palette {
  /** Largest first. */
  readonly areas: readonly PaletteArea[];
  readonly notes: readonly string[];
}

export interface PaletteOptions {
  readonly correction: Correction | null;
  /** How many areas at most; without it the picture decides (as a rule 4 to 8). */
  readonly count?: number;
  readonly region?: Region;
}

const WORKING = 224; // long side, pixels: the same for every size of the picture, so that its size hardly matters

/**
 * The colours a picture is made of, with their shares. Clusters of CIELAB with lightness weighted down (a wall in
 * uneven light is one colour), the fewest that keep different colours apart; small areas stay where they are vivid.
 * Deterministic; the same picture at another size gives the same areas within about 2 CIEDE2000 and 3 % of share.
 * RangeError for a count that is not a whole number of at least 1, or a region outside the picture.
 */
export function palette(image: Image8, options: PaletteOptions): Palette {
  const { correction, count, region } = options;
  if (count !== undefined && !(Number.isInteger(count) && count >= 1))
    throw new RangeError(`Expected a count of at least 1, got ${count}`);
  const working = region ? shrink(cut(image, region), WORKING) : shrink(image, WORKING);
  const frame = region
    ? frameOf(image, region)
    : { left: 0, top: 0, width: image.width, height: image.height };
  const [sx, sy] = [frame.width / working.width, frame.height / working.height];
  const inside = insideOf(working, region, frame, sx, sy);
  const labs = correction
    ? correctMany(correction, working.data, new Float32Array(working.data.length))
    : linearToLab(working.data);
  const weight = flatness(labs, working.width, working.height, inside);
  // The areas of a whole picture lie all over it: as a rule a quarter of its length from the reference.
  const place = region ? centreOf(region) : null;
  const deviation = lightDeviationAt(image, correction, place ?? quarterAway(image, correction));
  const label = clusters(labs, weight, inside, count);
  const areas = describe(working, labs, weight, label, { correction, deviation }).map((area): PaletteArea => {
    const [x, y] = area.at;
    return { ...area, at: [frame.left + (x + 0.5) * sx, frame.top + (y + 0.5) * sy] };
  });
  const notes: string[] = [];
  if (count !== undefined && areas.length < count)
    notes.push(
      areas.length === 1
        ? 'There is only one colour in it.'
        : `There are only ${areas.length} different colours in it.`,
    );
  return { areas, notes };
}

function quarterAway({ width, height }: Image8, correction: Correction | null): Point {
  const [x, y] = correction?.places?.[0] ?? [0, 0];
  return [x + Math.max(width, height) / 4, y];
}

interface Frame {
  left: number;
  top: number;
  width: number;
  height: number;
}

function frameOf(image: Image8, region: Region): Frame {
  const { pixels } = coverage(region, image, 'smooth');
  let [left, top, right, bottom] = [Infinity, Infinity, -1, -1];
  for (const p of pixels) {
    const x = p % image.width;
    const y = (p - x) / image.width;
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  return { left, top, width: right - left + 1, height: bottom - top + 1 };
}

function cut(image: Image8, region: Region): Image8 {
  const { left, top, width, height } = frameOf(image, region);
  const { channels } = image;
  const data = new Uint8Array(width * height * channels);
  for (let y = 0; y < height; y++) {
    const from = ((top + y) * image.width + left) * channels;
    data.set(image.data.subarray(from, from + width * channels), y * width * channels);
  }
  return { ...image, width, height, data };
}

function insideOf(
  working: LinearImage,
  region: Region | undefined,
  frame: Frame,
  sx: number,
  sy: number,
): Uint8Array {
  const inside = new Uint8Array(working.width * working.height);
  if (!region || region.kind === 'box') return inside.fill(1);
  const points =
    region.kind === 'polygon'
      ? region.points
      : Array.from({ length: 48 }, (_, i): Point => {
          const t = (2 * Math.PI * i) / 48;
          return [region.x + region.radius * Math.cos(t), region.y + region.radius * Math.sin(t)];
        });
  const moved: Region = {
    kind: 'polygon',
    points: points.map(([x, y]): Point => [(x - frame.left) / sx, (y - frame.top) / sy]),
  };
  const { pixels, share } = coverage(moved, working, 'smooth');
  let most = 0;
  pixels.forEach((p, i) => {
    if (share[i] >= 0.5) inside[p] = 1;
    most = Math.max(most, share[i]);
  });
  if (most < 0.5) pixels.forEach((p) => (inside[p] = 1));
  return inside;
}

/** 1 in flat surroundings, less where neighbours differ: edges are mixtures, no colours of their own. */
function flatness(labs: Float32Array, width: number, height: number, inside: Uint8Array): Float32Array {
  const out = new Float32Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const p = y * width + x;
      if (inside[p] === 0) continue;
      let step = 0;
      const look = (q: number) => {
        const d =
          (labs[3 * p] - labs[3 * q]) ** 2 +
          (labs[3 * p + 1] - labs[3 * q + 1]) ** 2 +
          (labs[3 * p + 2] - labs[3 * q + 2]) ** 2;
        if (d > step) step = d;
      };
      if (x > 0) look(p - 1);
      if (x + 1 < width) look(p + 1);
      if (y > 0) look(p - width);
      if (y + 1 < height) look(p + width);
      out[p] = 1 / (1 + step / 36);
    }
  return out;
}

function describe(
  working: LinearImage,
  labs: Float32Array,
  weight: Float32Array,
  label: Int16Array,
  { correction, deviation }: { correction: Correction | null; deviation: number },
): PaletteArea[] {
  const { width, height, data } = working;
  let [areas, total] = [0, 0];
  for (const l of label) {
    areas = Math.max(areas, l + 1);
    if (l >= 0) total++;
  }
  const out: PaletteArea[] = [];
  for (let k = 0; k < areas; k++) {
    const light = [0, 0, 0];
    const mean = [0, 0, 0];
    const squares = new Array<number>(9).fill(0);
    let [n, sum] = [0, 0];
    for (let p = 0; p < label.length; p++) {
      if (label[p] !== k) continue;
      n++;
      sum += weight[p];
      for (let c = 0; c < 3; c++) {
        light[c] += weight[p] * data[3 * p + c];
        mean[c] += weight[p] * labs[3 * p + c];
      }
    }
    if (n === 0) continue;
    for (let c = 0; c < 3; c++) mean[c] /= sum;
    for (let p = 0; p < label.length; p++)
      if (label[p] === k)
        for (let e = 0; e < 9; e++) {
          const [i, j] = [Math.floor(e / 3), e % 3];
          squares[e] += weight[p] * (labs[3 * p + i] - mean[i]) * (labs[3 * p + j] - mean[j]);
        }
    const rgb: [number, number, number] = [light[0] / sum, light[1] / sum, light[2] / sum];
    const seen = inItsLight(new Array<number>(9).fill(0), rgb, deviation);
    const colour = possible(correction ? correctedLab(correction, rgb, seen) : deliveredLab(rgb, seen));
    // Where exactly an area's middle lies is a choice: a quarter of its own spread counts as doubt.
    const covariance = colour.covariance.map((v, e) => v + squares[e] / sum / 16);
    out.push({
      lab: colour.lab,
      covariance,
      share: n / total,
      at: pointIn(label, k, width, height, labs, colour.lab),
    });
  }
  return out.sort((p, q) => q.share - p.share);
}

/** A pixel deep inside a blob of area k and near its colour: depth counts up to 10 pixels, colour against it. */
function pointIn(
  label: Int16Array,
  k: number,
  width: number,
  height: number,
  labs: Float32Array,
  lab: Lab,
): Point {
  const data = Uint8Array.from(label, (l) => (l === k ? 1 : 0));
  const depth = depthOf({ width, height, data });
  let [best, at] = [-Infinity, 0];
  for (let p = 0; p < data.length; p++) {
    if (data[p] === 0) continue;
    const x = p % width;
    const y = (p - x) / width;
    const border = Math.min(x, y, width - 1 - x, height - 1 - y) + 1;
    const deep = Math.min(depth[p], border, 10);
    const off = deltaE2000(lab, { L: labs[3 * p], a: labs[3 * p + 1], b: labs[3 * p + 2] });
    const score = 2 * Math.sqrt(deep) - 0.5 * off;
    if (score > best) [best, at] = [score, p];
  }
  return [at % width, Math.floor(at / width)];
}
