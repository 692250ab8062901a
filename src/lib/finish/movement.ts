import type { PreparedFinish, PreparedLight } from './appearance.ts';

/** Three numbers for each draw. */
export type Triple = readonly [Float64Array, Float64Array, Float64Array];

/** Fills `room` with the movement between lights of each draw: the largest between any two, colours by area. */
export function drawMovement(
  finish: PreparedFinish,
  spectrum: Triple | null,
  lights: readonly PreparedLight[],
  room: Float64Array,
  draws: number,
): void {
  const places = placesOf(lights);
  const plain = finish.colours.length === 1;
  const apart = plain ? room : new Float64Array(draws);
  room.fill(0, 0, draws);
  for (let i = 0; i < places.length; i++) {
    for (let j = i + 1; j < places.length; j++) {
      if (!plain) apart.fill(0);
      for (const colour of finish.colours) {
        const p = places[i] < 0 ? colour.daylightUcs : colour.ucs[places[i]];
        const q = places[j] < 0 ? colour.daylightUcs : colour.ucs[places[j]];
        const unknown = spectrum ? colour.unknown * doubtBetween(lights, places[i], places[j]) : 0;
        const step = [q.J - p.J, q.a - p.a, q.b - p.b] as const;
        if (plain) raiseSquares(room, step, unknown, spectrum ?? EMPTY, draws);
        else addDistances(apart, colour.share, step, unknown, spectrum ?? EMPTY);
      }
      if (!plain) for (let t = 0; t < draws; t++) if (apart[t] > room[t]) room[t] = apart[t];
    }
  }
  if (plain) for (let t = 0; t < draws; t++) room[t] = Math.sqrt(room[t]);
}

const EMPTY: Triple = [new Float64Array(0), new Float64Array(0), new Float64Array(0)];

/** Raises each draw's squared movement to that of this pair of lights. */
function raiseSquares(
  room: Float64Array,
  [x0, y0, z0]: readonly [number, number, number],
  unknown: number,
  [dx, dy, dz]: Triple,
  draws: number,
): void {
  if (unknown === 0) {
    const squared = x0 * x0 + y0 * y0 + z0 * z0;
    for (let t = 0; t < draws; t++) if (squared > room[t]) room[t] = squared;
    return;
  }
  for (let t = 0; t < draws; t++) {
    const x = x0 + unknown * dx[t];
    const y = y0 + unknown * dy[t];
    const z = z0 + unknown * dz[t];
    const squared = x * x + y * y + z * z;
    if (squared > room[t]) room[t] = squared;
  }
}

/** Adds share × movement of one colour between a pair of lights to each draw. */
function addDistances(
  apart: Float64Array,
  share: number,
  [x0, y0, z0]: readonly [number, number, number],
  unknown: number,
  [dx, dy, dz]: Triple,
): void {
  for (let t = 0; t < apart.length; t++) {
    const x = unknown === 0 ? x0 : x0 + unknown * dx[t];
    const y = unknown === 0 ? y0 : y0 + unknown * dy[t];
    const z = unknown === 0 ? z0 : z0 + unknown * dz[t];
    apart[t] += share * Math.sqrt(x * x + y * y + z * z);
  }
}

/** The states of light that movement is measured between: the room's lights, and daylight when there is only one. */
export function placesOf(lights: readonly PreparedLight[]): number[] {
  const places = lights.map((_, index) => index);
  return places.length === 1 ? [-1, ...places] : places;
}

/** Doubt per axis about the movement from one light to another: the same unknown spectrum acts in both. */
function doubtBetween(lights: readonly PreparedLight[], from: number, to: number): number {
  const of = (index: number) => (index < 0 ? 0 : lights[index].unknown);
  return Math.abs(of(to) - of(from));
}
