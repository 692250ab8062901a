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
  return places.flatMap((from, i) =>
    places.slice(i + 1).map((to) => ({
      from,
      to,
      colours: finish.colours.map((colour) => {
        const p = from < 0 ? colour.daylightUcs : colour.ucs[from];
        const q = colour.ucs[to];
        const by = [q.J - p.J, q.a - p.a, q.b - p.b] as const;
        return { share: colour.share, by, doubt: doubtBetween(colour, from, to) };
      }),
    })),
  );
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

/** CAM16-UCS distance of a movement at the best estimates, colours by area, and its standard deviation (to first order). */
export function lengthOf({ colours }: Step): { shift: number; deviation: number } {
  let shift = 0;
  const slope = new Float64Array(UNKNOWNS);
  for (const { share, by, doubt } of colours) {
    const length = Math.hypot(...by);
    shift += share * length;
    if (!doubt) continue;
    for (let k = 0; k < UNKNOWNS; k++) {
      const along = by[0] * doubt[k] + by[1] * doubt[UNKNOWNS + k] + by[2] * doubt[2 * UNKNOWNS + k];
      // A colour that does not move at the best estimate may move in any direction: the longest counts.
      slope[k] += share * (length > 1e-6 ? along / length : columnLength(doubt, k));
    }
  }
  return { shift, deviation: Math.hypot(...slope) };
}

function columnLength(doubt: readonly number[], k: number): number {
  return Math.hypot(doubt[k], doubt[UNKNOWNS + k], doubt[2 * UNKNOWNS + k]);
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
