import type { Neighbourhood, Superpixels } from './superpixels.ts';

/** Colours on the two sides of a border near each piece, as far as asked; room used again and again. */
export interface EdgeSides {
  /** Per piece: not asked yet, only one side is near, or both. */
  readonly known: Uint8Array;
  /** Per piece: mean colour inside and outside, 1 / variance of each, two numbers; stride SIDES. */
  readonly colours: Float64Array;
  /** Per piece: the last turn it was met in. */
  readonly met: Int32Array;
  turn: number;
}

const MIXED = 0.1; // weight of pieces at the border itself: they may hold both sides
const LEAST = [2.5, 1.2, 1.2]; // least standard deviation of L, u, v on one side

const UNASKED = 0;
const ONE = 1;
const BOTH = 2;

const OUTSIDE = 3;
const INSIDE_PRECISION = 6;
const OUTSIDE_PRECISION = 9;
/** Twice the natural logarithm of the odds where both differences are 0. */
const CONSTANT = 12;
/** How far apart the sides are in standard deviations. */
const CONTRAST = 13;
const SIDES = 14;

/** Room for so many pieces, none of them asked yet. */
export function edgeSides(count: number): EdgeSides {
  return {
    known: new Uint8Array(count),
    colours: new Float64Array(SIDES * count),
    met: new Int32Array(count),
    turn: 0,
  };
}

/** Makes the room ready for another border. */
export function forgetSides({ known }: EdgeSides): void {
  known.fill(UNASKED);
}

/** Finds the colours on the two sides near a piece. In: 1 for the pieces inside, 1 for those with a neighbour on the other side. */
export function findSides(
  piece: number,
  ground: {
    readonly pieces: Superpixels;
    readonly graph: Neighbourhood;
    readonly inside: Uint8Array;
    readonly mixed: Uint8Array;
  },
  room: EdgeSides,
): void {
  if (room.known[piece] !== UNASKED) return;
  const { pieces, graph, inside, mixed } = ground;
  const { start, mean, spread } = pieces;
  const { first, other } = graph;
  const { met, colours, known } = room;
  const turn = ++room.turn;
  const o = SIDES * piece;
  colours.fill(0, o, o + SIDES);
  let [within, without] = [0, 0];
  // Sums first, and sums of squares where the precisions will be.
  const meet = (j: number) => {
    met[j] = turn;
    const weight = (start[j + 1] - start[j]) * (mixed[j] ? MIXED : 1);
    if (inside[j]) within += weight;
    else without += weight;
    const side = inside[j] ? o : o + OUTSIDE;
    for (let k = 0; k < 3; k++) {
      const value = mean[3 * j + k];
      colours[side + k] += weight * value;
      colours[side + INSIDE_PRECISION + k] += weight * (value * value + (k === 0 ? spread[j] ** 2 : 0));
    }
  };
  meet(piece);
  for (let e = first[piece]; e < first[piece + 1]; e++) {
    const j = other[e];
    if (met[j] !== turn) meet(j);
    for (let f = first[j]; f < first[j + 1]; f++) if (met[other[f]] !== turn) meet(other[f]);
  }
  known[piece] = within === 0 || without === 0 ? ONE : BOTH;
  if (known[piece] === ONE) return;
  let [constant, contrast] = [0, 0];
  for (let k = 0; k < 3; k++) {
    const own = colours[o + k] / within;
    const others = colours[o + OUTSIDE + k] / without;
    const least = LEAST[k] ** 2;
    const ownSpread = Math.max(0, colours[o + INSIDE_PRECISION + k] / within - own ** 2) + least;
    const othersSpread = Math.max(0, colours[o + OUTSIDE_PRECISION + k] / without - others ** 2) + least;
    colours[o + k] = own;
    colours[o + OUTSIDE + k] = others;
    colours[o + INSIDE_PRECISION + k] = 1 / ownSpread;
    colours[o + OUTSIDE_PRECISION + k] = 1 / othersSpread;
    constant += Math.log(othersSpread / ownSpread);
    contrast += ((own - others) ** 2 * 2) / (ownSpread + othersSpread);
  }
  colours[o + CONSTANT] = constant;
  colours[o + CONTRAST] = Math.sqrt(contrast);
}

/** How far apart the two sides near a piece are, in standard deviations; 0 where only one side is near. */
export function contrastNear(piece: number, { known, colours }: EdgeSides): number {
  return known[piece] === BOTH ? colours[SIDES * piece + CONTRAST] : 0;
}

/** Natural logarithm of the odds that the colour at a place of `data` is of the inside; 0 where only one side is near. */
export function oddsNear(
  piece: number,
  { known, colours }: EdgeSides,
  data: Float32Array,
  at: number,
): number {
  if (known[piece] !== BOTH) return 0;
  const o = SIDES * piece;
  let odds = colours[o + CONSTANT];
  for (let k = 0; k < 3; k++)
    odds +=
      (data[at + k] - colours[o + OUTSIDE + k]) ** 2 * colours[o + OUTSIDE_PRECISION + k] -
      (data[at + k] - colours[o + k]) ** 2 * colours[o + INSIDE_PRECISION + k];
  return odds / 2;
}

/** Part of a pixel that its colour gives to the inside, 0-255; both sides must be near. */
export function shareNear(piece: number, { colours }: EdgeSides, data: Float32Array, at: number): number {
  const o = SIDES * piece;
  let [along, whole] = [0, 0];
  for (let k = 0; k < 3; k++) {
    const across = colours[o + k] - colours[o + OUTSIDE + k];
    along += (data[at + k] - colours[o + OUTSIDE + k]) * across;
    whole += across * across;
  }
  return Math.round(255 * Math.max(0, Math.min(1, along / whole)));
}
