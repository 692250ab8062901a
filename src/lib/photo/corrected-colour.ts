import type { Covariance, Lab } from '#lib/colour/index.ts';
import type { Correction } from './correction.ts';
import { FEATURE_COUNT, LEARNED_RANGE, features, noiseCovariance } from './features.ts';
import { unpackSymmetric } from './packing.ts';
import { UNKNOWN_COUNT } from './posterior.ts';
import { CLIPPED_AT, GAIN_COUNT, carried, gainEffect, plainLab } from './scaled-colour.ts';

/**
 * Applying a correction: one colour with its doubt, or a whole picture.
 */

/** A corrected colour: CIELAB D65/10 and its covariance. */
export interface CorrectedColour {
  readonly lab: Lab;
  readonly covariance: Covariance;
}

/** How far above (or below) the file's range a clipped channel may lie: deviation, linear, as a share of the range. */
const CLIPPED_DEVIATION = 0.12;
/** A channel this low is empty: its true value is anything from here down. */
const EMPTY_AT = 2e-4;
const EMPTY_DEVIATION = 0.004;

/** What the arithmetic needs, unpacked once per correction. */
interface Opened {
  readonly gains: readonly [number, number, number];
  /** The gains with the shift the other references brought. */
  readonly moved: readonly [number, number, number];
  readonly coefficients: Float64Array;
  readonly covariance: Float64Array;
  /** What the coefficients add to the plain Lab, on a grid, once a whole picture has asked for it. */
  grid: Float32Array | null;
}

const opened = new WeakMap<Correction, Opened>();

function open(correction: Correction): Opened {
  const known = opened.get(correction);
  if (known) return known;
  if (correction.format !== 1)
    throw new RangeError(`Expected a correction of format 1, got ${correction.format}`);
  const { gains, gainShift } = correction;
  const fresh: Opened = {
    gains,
    moved: [
      gains[0] * Math.exp(gainShift[0]),
      gains[1] * Math.exp(gainShift[1]),
      gains[2] * Math.exp(gainShift[2]),
    ],
    coefficients: Float64Array.from(correction.coefficients),
    covariance: unpackSymmetric(correction.covariance, UNKNOWN_COUNT),
    grid: null,
  };
  opened.set(correction, fresh);
  return fresh;
}

const TERMS = new Float64Array(FEATURE_COUNT);

/** Corrected Lab of delivered linear rgb into `out[at .. at+2]`. */
function correctInto(
  state: Opened,
  r: number,
  g: number,
  b: number,
  out: Float32Array | Float64Array,
  at: number,
): void {
  const { moved } = state;
  plainLab(r * moved[0], g * moved[1], b * moved[2], out, at);
  addCorrection(state, r, g, b, out, at);
}

/** Adds what the coefficients say at one delivered colour. */
function addCorrection(
  state: Opened,
  r: number,
  g: number,
  b: number,
  out: Float32Array | Float64Array,
  at: number,
): void {
  const { gains, coefficients } = state;
  features(r * gains[0], g * gains[1], b * gains[2], TERMS, 0);
  for (let k = 0; k < 3; k++) {
    let sum = 0;
    for (let f = 0; f < FEATURE_COUNT; f++) sum += coefficients[k * FEATURE_COUNT + f] * TERMS[f];
    out[at + k] += sum;
  }
}

/**
 * Corrected colour of one delivered colour, with the doubt of correction, noise and clipping together.
 * In: linear rgb as delivered (sRGB primaries, may be below 0); its covariance (3x3 row-major, linear units squared)
 * from the spread inside the region. Out: CIELAB D65/10. A clipped channel is unknown beyond its end: the doubt grows
 * accordingly. Throws RangeError for values that are not finite.
 */
export function correctedLab(
  correction: Correction,
  rgb: readonly [number, number, number],
  rgbCovariance?: Covariance,
): CorrectedColour {
  if (!rgb.every(Number.isFinite)) throw new RangeError(`Expected finite rgb, got ${rgb.join(', ')}`);
  const state = open(correction);
  const { gains } = state;
  const [r, g, b] = rgb;
  const lab = new Float64Array(3);
  correctInto(state, r, g, b, lab, 0);
  const terms = TERMS.slice();
  const scaled = [r * gains[0], g * gains[1], b * gains[2]] as const;
  const total = functionCovariance(state, terms, gainEffect(...scaled));
  for (let k = 0; k < 9; k++) total[k] *= correction.calibration.function;

  const plain = new Float64Array(3);
  plainLab(scaled[0], scaled[1], scaled[2], plain, 0);
  const noise = noiseCovariance(scaled, plain, correction);
  for (let k = 0; k < 9; k++) total[k] += noise[k] * correction.calibration.noise;

  for (let k = 0; k < 9; k++) total[k] *= correction.doubtScale;

  const spread = Float64Array.from(rgbCovariance ?? new Float64Array(9));
  rgb.forEach((value, c) => {
    if (value >= CLIPPED_AT) spread[4 * c] += CLIPPED_DEVIATION ** 2;
    else if (value <= EMPTY_AT) spread[4 * c] += EMPTY_DEVIATION ** 2;
    // Brighter than anything learned: the nearest learned correction stands in for it.
    const beyond = scaled[c] - LEARNED_RANGE.high;
    if (beyond > 0) spread[4 * c] += ((0.2 * beyond) / gains[c]) ** 2;
  });
  if (spread.some((value) => value !== 0)) {
    const slope = numericSlope(state, rgb, lab);
    carried(slope, spread).forEach((value, k) => (total[k] += value));
  }
  return { lab: { L: lab[0], a: lab[1], b: lab[2] }, covariance: symmetric(total) };
}

/** Covariance that coefficients and gain shift leave in the Lab at one colour. */
function functionCovariance(state: Opened, terms: Float64Array, effect: Float64Array): Float64Array {
  const { covariance } = state;
  const coefficients = 3 * FEATURE_COUNT;
  const row = new Float64Array(3 * UNKNOWN_COUNT);
  for (let k = 0; k < 3; k++) {
    for (let f = 0; f < FEATURE_COUNT; f++) {
      const at = (k * FEATURE_COUNT + f) * UNKNOWN_COUNT;
      for (let d = 0; d < UNKNOWN_COUNT; d++) row[k * UNKNOWN_COUNT + d] += terms[f] * covariance[at + d];
    }
    for (let c = 0; c < GAIN_COUNT; c++) {
      const at = (coefficients + c) * UNKNOWN_COUNT;
      for (let d = 0; d < UNKNOWN_COUNT; d++)
        row[k * UNKNOWN_COUNT + d] += effect[3 * k + c] * covariance[at + d];
    }
  }
  const out = new Float64Array(9);
  for (let i = 0; i < 3; i++) {
    for (let j = 0; j < 3; j++) {
      const at = i * UNKNOWN_COUNT;
      let sum = 0;
      for (let f = 0; f < FEATURE_COUNT; f++) sum += row[at + j * FEATURE_COUNT + f] * terms[f];
      for (let c = 0; c < GAIN_COUNT; c++) sum += row[at + coefficients + c] * effect[3 * j + c];
      out[3 * i + j] = sum;
    }
  }
  return out;
}

/** d Lab / d rgb of the whole correction, forward differences. */
function numericSlope(
  state: Opened,
  rgb: readonly [number, number, number],
  lab: Float64Array,
): Float64Array {
  const slope = new Float64Array(9);
  const moved = new Float64Array(3);
  for (let c = 0; c < 3; c++) {
    const step = 1e-3 * Math.max(Math.abs(rgb[c]), 0.02);
    const [r, g, b] = rgb.map((value, i) => (i === c ? value - step : value));
    correctInto(state, r, g, b, moved, 0);
    for (let k = 0; k < 3; k++) slope[3 * k + c] = (lab[k] - moved[k]) / step;
  }
  return slope;
}

function symmetric(matrix: Float64Array): Covariance {
  const [c0, c1, c2, , c4, c5, , , c8] = matrix;
  // Rounding must not leave a variance at or below 0.
  const floor = (value: number) => Math.max(value, 1e-6);
  const [m1, m2, m5] = [(c1 + matrix[3]) / 2, (c2 + matrix[6]) / 2, (c5 + matrix[7]) / 2];
  return [floor(c0), m1, m2, m1, floor(c4), m5, m2, m5, floor(c8)];
}

/**
 * Corrected Lab of many delivered colours: linear rgb in (sRGB primaries, stride 3), CIELAB D65/10 out (stride 3, may
 * be the same array). The loop allocates nothing. From some thousand colours on, the smooth part of the correction is
 * read from a grid over the square roots of the channels, within 0.05 CIELAB units of `correctedLab`; colours outside
 * [0, 1] are computed.
 * Throws RangeError when the two arrays differ in length.
 */
export function correctMany(correction: Correction, rgb: Float32Array, out: Float32Array): Float32Array {
  if (rgb.length !== out.length || rgb.length % 3 !== 0) {
    throw new RangeError(
      `Expected two arrays of the same multiple of 3, got ${rgb.length} and ${out.length}`,
    );
  }
  const state = open(correction);
  if (rgb.length < 3 * GRID_FROM) {
    for (let i = 0; i < rgb.length; i += 3) correctInto(state, rgb[i], rgb[i + 1], rgb[i + 2], out, i);
    return out;
  }
  const grid = (state.grid ??= correctionGrid(state));
  const { moved } = state;
  for (let i = 0; i < rgb.length; i += 3) {
    const r = rgb[i];
    const g = rgb[i + 1];
    const b = rgb[i + 2];
    plainLab(r * moved[0], g * moved[1], b * moved[2], out, i);
    if (!(r >= 0 && r <= 1 && g >= 0 && g <= 1 && b >= 0 && b <= 1)) {
      addCorrection(state, r, g, b, out, i);
      continue;
    }
    const x = Math.sqrt(r) * GRID_STEPS;
    const y = Math.sqrt(g) * GRID_STEPS;
    const z = Math.sqrt(b) * GRID_STEPS;
    const cellX = x < GRID_STEPS ? Math.floor(x) : GRID_STEPS - 1;
    const cellY = y < GRID_STEPS ? Math.floor(y) : GRID_STEPS - 1;
    const cellZ = z < GRID_STEPS ? Math.floor(z) : GRID_STEPS - 1;
    const u = x - cellX;
    const v = y - cellY;
    const w = z - cellZ;
    const at = 3 * ((cellX * GRID_SIDE + cellY) * GRID_SIDE + cellZ);
    const w000 = (1 - u) * (1 - v) * (1 - w);
    const w001 = (1 - u) * (1 - v) * w;
    const w010 = (1 - u) * v * (1 - w);
    const w011 = (1 - u) * v * w;
    const w100 = u * (1 - v) * (1 - w);
    const w101 = u * (1 - v) * w;
    const w110 = u * v * (1 - w);
    const w111 = u * v * w;
    for (let k = 0; k < 3; k++) {
      const p = at + k;
      out[i + k] +=
        w000 * grid[p] +
        w001 * grid[p + 3] +
        w010 * grid[p + STEP_Y] +
        w011 * grid[p + STEP_Y + 3] +
        w100 * grid[p + STEP_X] +
        w101 * grid[p + STEP_X + 3] +
        w110 * grid[p + STEP_X + STEP_Y] +
        w111 * grid[p + STEP_X + STEP_Y + 3];
    }
  }
  return out;
}

/** Colours from which on building the grid pays. */
const GRID_FROM = 20_000;
const GRID_STEPS = 32;
const GRID_SIDE = GRID_STEPS + 1;
const STEP_Y = 3 * GRID_SIDE;
const STEP_X = STEP_Y * GRID_SIDE;

function correctionGrid(state: Opened): Float32Array {
  const grid = new Float32Array(3 * GRID_SIDE ** 3);
  const level = (i: number) => (i / GRID_STEPS) ** 2;
  let at = 0;
  for (let x = 0; x < GRID_SIDE; x++) {
    for (let y = 0; y < GRID_SIDE; y++) {
      for (let z = 0; z < GRID_SIDE; z++, at += 3)
        addCorrection(state, level(x), level(y), level(z), grid, at);
    }
  }
  return grid;
}
