import type { Appearance, PreparedFinish, PreparedLight } from './appearance.ts';
import { UNKNOWNS } from './look-doubt.ts';

/** Three numbers for each draw. */
export type Triple = readonly [Float64Array, Float64Array, Float64Array];

/** Two states of light between which a finish moves, and how its colours do. */
export interface Step {
  /** Indices into the lights; -1, which can only be the first, is daylight. */
  readonly from: number;
  readonly to: number;
  readonly colours: readonly ColourStep[];
}

/** Movement of one colour in CAM16-UCS. */
interface ColourStep {
  readonly share: number;
  /** At the best estimate. */
  readonly by: readonly [number, number, number];
  /** How it moves with the finish's unknown numbers, 3 × `UNKNOWNS`; null where the reflectance is measured. */
  readonly doubt: readonly number[] | null;
}

/** Every movement between two of the places. */
export function stepsOf(finish: PreparedFinish, places: readonly number[]): Step[] {
  return places.flatMap((from, i) => places.slice(i + 1).map((to) => stepBetween(finish, from, to)));
}

/** The movement from one place to another; only `from` can be daylight. */
export function stepBetween(finish: PreparedFinish, from: number, to: number): Step {
  const colours = finish.colours.map((colour) => {
    const p = from < 0 ? colour.daylightUcs : colour.ucs[from];
    const q = colour.ucs[to];
    const by = [q.J - p.J, q.a - p.a, q.b - p.b] as const;
    return { share: colour.share, by, doubt: doubtBetween(colour, from, to) };
  });
  return { from, to, colours };
}

/** The same unknown numbers act under both lights; by day they change nothing. */
function doubtBetween({ doubts }: Appearance, from: number, to: number): readonly number[] | null {
  if (!doubts) return null;
  if (from < 0) return doubts[to].ucs;
  const before = doubts[from].ucs;
  const after = doubts[to].ucs;
  const out = new Array<number>(3 * UNKNOWNS).fill(0);
  for (let i = 0; i < out.length; i++) out[i] = after[i] - before[i];
  return out;
}

/**
 * CAM16-UCS distance of a movement at the best estimates, colours by area, and its standard deviation.
 * Of each colour by the delta method on the squared length, |x|² of a normal x with mean m and covariance MMᵀ, whose mean
 * is |m|² + tr MMᵀ and whose variance is 2 tr (MMᵀ)² + 4 mᵀMMᵀm (Mathai and Provost 1992, Quadratic Forms in Random
 * Variables); to first order alone a movement that may go either way would come out far too doubtful. The colours' numbers
 * are the same, so their deviations add up.
 */
export function lengthOf({ colours }: Step): { shift: number; deviation: number } {
  let shift = 0;
  let deviation = 0;
  for (const { share, by, doubt } of colours) {
    shift += share * Math.hypot(...by);
    if (doubt) deviation += share * deviationOf(by, doubt);
  }
  return { shift, deviation };
}

/** Standard deviation of |by + doubt·y|, y standard normal. */
function deviationOf([x, y, z]: readonly [number, number, number], doubt: readonly number[]): number {
  const [a, b, c, d, e, f, g, h, i] = doubt;
  const spread = doubt.reduce((sum, value) => sum + value * value, 0);
  const meanSquare = x * x + y * y + z * z + spread;
  if (meanSquare === 0) return 0;
  // MᵀM, whose squared entries add up to tr (MMᵀ)².
  const kk = a * a + d * d + g * g;
  const ll = b * b + e * e + h * h;
  const mm = c * c + f * f + i * i;
  const kl = a * b + d * e + g * h;
  const km = a * c + d * f + g * i;
  const lm = b * c + e * f + h * i;
  const squares = kk * kk + ll * ll + mm * mm + 2 * (kl * kl + km * km + lm * lm);
  const along = Math.hypot(a * x + d * y + g * z, b * x + e * y + h * z, c * x + f * y + i * z);
  return Math.sqrt((2 * squares + 4 * along * along) / (4 * meanSquare));
}

/** Standard deviations beyond which a movement is not expected to be the largest. */
const REACH = 4;

/** Fills `room` with the movement between lights of each draw: the largest between any two, colours by area. */
export function drawMovement(
  finish: PreparedFinish,
  { unknown, lights, draws }: { unknown: Triple | null; lights: readonly PreparedLight[]; draws: number },
  room: Float64Array,
): void {
  const steps = stepsOf(finish, placesOf(lights));
  const bounds = steps.map(boundsOf);
  const surely = Math.max(...bounds.map(({ least }) => least));
  room.fill(0, 0, draws);
  const plain = finish.colours.length === 1;
  const apart = plain ? room : new Float64Array(draws);
  steps.forEach((step, i) => {
    if (bounds[i].most < surely) return;
    if (plain) return raiseSquares(room, step.colours[0], unknown, draws);
    apart.fill(0);
    for (const colour of step.colours) addDistances(apart, colour, unknown);
    for (let t = 0; t < draws; t++) if (apart[t] > room[t]) room[t] = apart[t];
  });
  if (plain) for (let t = 0; t < draws; t++) room[t] = Math.sqrt(room[t]);
}

/** What a movement is at least and at most, short of draws beyond `REACH` standard deviations. */
function boundsOf({ colours }: Step): { least: number; most: number } {
  let shift = 0;
  let spread = 0;
  for (const { share, by, doubt } of colours) {
    shift += share * Math.hypot(...by);
    if (doubt) spread += share * REACH * Math.hypot(...doubt);
  }
  return { least: shift - spread, most: shift + spread };
}

/** Raises each draw's squared movement to that of this pair of lights. */
function raiseSquares(
  room: Float64Array,
  { by: [x0, y0, z0], doubt }: ColourStep,
  unknown: Triple | null,
  draws: number,
): void {
  if (!doubt || !unknown) {
    const squared = x0 * x0 + y0 * y0 + z0 * z0;
    for (let t = 0; t < draws; t++) if (squared > room[t]) room[t] = squared;
    return;
  }
  const [d0, d1, d2, d3, d4, d5, d6, d7, d8] = doubt;
  const [p, q, r] = unknown;
  for (let t = 0; t < draws; t++) {
    const x = x0 + d0 * p[t] + d1 * q[t] + d2 * r[t];
    const y = y0 + d3 * p[t] + d4 * q[t] + d5 * r[t];
    const z = z0 + d6 * p[t] + d7 * q[t] + d8 * r[t];
    const squared = x * x + y * y + z * z;
    if (squared > room[t]) room[t] = squared;
  }
}

/** Adds share × movement of one colour between a pair of lights to each draw. */
function addDistances(
  apart: Float64Array,
  { share, by: [x0, y0, z0], doubt }: ColourStep,
  unknown: Triple | null,
): void {
  if (!doubt || !unknown) {
    const length = share * Math.hypot(x0, y0, z0);
    for (let t = 0; t < apart.length; t++) apart[t] += length;
    return;
  }
  const [d0, d1, d2, d3, d4, d5, d6, d7, d8] = doubt;
  const [p, q, r] = unknown;
  for (let t = 0; t < apart.length; t++) {
    const x = x0 + d0 * p[t] + d1 * q[t] + d2 * r[t];
    const y = y0 + d3 * p[t] + d4 * q[t] + d5 * r[t];
    const z = z0 + d6 * p[t] + d7 * q[t] + d8 * r[t];
    apart[t] += share * Math.sqrt(x * x + y * y + z * z);
  }
}

/** The states of light that movement is measured between: the room's lights, and daylight when there is only one. */
export function placesOf(lights: readonly PreparedLight[]): number[] {
  const places = lights.map((_, index) => index);
  return places.length === 1 ? [-1, ...places] : places;
}
