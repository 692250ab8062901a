import type { Mask } from './mask.ts';
import type { ShadingFeatures } from './shading-features.ts';
import type { Neighbourhood, Superpixels } from './superpixels.ts';

interface EdgeInput {
  readonly features: ShadingFeatures;
  readonly pieces: Superpixels;
  readonly graph: Neighbourhood;
  /** 1 for the pieces inside. */
  readonly inside: Uint8Array;
}

const TILE = 128; // pixels
const HALO = 8; // pixels around a tile that its edge is worked out with
const RINGS = 3; // of pieces around, which its edge depends on
const REACH = 0.45; // cells: how far the edge may lie from the border of the pieces
const MIXED = 0.1; // weight of pieces at the border itself: they may hold both sides
const LEAST = [2.5, 1.2, 1.2]; // least standard deviation of L, u, v on one side
const CLEAR = 3; // contrast in standard deviations from which a pixel's cover can be read from its colour
const TRUST = 0.03; // weight of a pixel's own colour at most, against 1 for each neighbour of the same tone
const CERTAIN = 3; // natural logarithm of odds at which a pixel's own colour has its full weight
const HABIT = 0.02; // weight of the side a pixel's piece is on
const GRAIN = 1.5; // feature units: a step between neighbours that halves their tie where there is no grain
const SPECKLE = 0.3; // of the spread inside the pieces near by: steps that grain explains
const SWEEPS = 8;
const HASTE = 1.4; // over-relaxation

/** What the edge of one selection came to, so that the next one draws anew only where it differs; it only saves time. */
export interface EdgeMemory {
  readonly tiles: readonly Tile[];
  readonly desk: Desk;
  last: { readonly inside: Uint8Array; readonly data: Uint8Array } | null;
}

/** A square of the picture, right and bottom not in it, and all pieces its edge depends on. */
interface Tile extends Window {
  readonly pieces: Int32Array;
  /** Which of `pieces` each place of the tile with its halo lies in, rows after rows: read one after the other it comes fast. */
  readonly piece: Uint16Array;
}

/** Room to work off one tile in, used again and again. */
interface Desk {
  /** 255 inside and 0 outside, by place in the tile with its halo, rows after rows. */
  readonly out: Uint8Array;
  /** Number of each place among those of the band, -1 for the others. */
  readonly place: Int32Array;
  /** Places of the band in reading order, and the picture's pixel at each. */
  readonly band: Int32Array;
  readonly pixel: Int32Array;
  /** Ties of a band's place to the right, below, left and above, and which place of the band lies there. */
  readonly ties: Float32Array;
  readonly next: Int32Array;
  readonly whole: Float32Array;
  readonly fixed: Float32Array;
  readonly value: Float32Array;
  /** Per piece: the last turn it was met in. */
  readonly met: Int32Array;
  turn: number;
  /** Per piece what is known of the colours on its two sides (see `Known`), and those colours, stride SIDES. */
  readonly known: Uint8Array;
  readonly sides: Float64Array;
  /** Per piece: squared step that grain explains; 0 where not asked for. */
  readonly grains: Float32Array;
}

interface Window {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** A memory for the edges of one picture. */
export function edgeMemory(pieces: Superpixels, graph: Neighbourhood): EdgeMemory {
  const { width, height, label, count } = pieces;
  const tiles: Tile[] = [];
  const seen = new Int32Array(count).fill(-1);
  const number = new Int32Array(count);
  for (let top = 0; top < height; top += TILE)
    for (let left = 0; left < width; left += TILE) {
      const tile = { left, top, right: Math.min(width, left + TILE), bottom: Math.min(height, top + TILE) };
      const around = widened(tile, pieces);
      const found: number[] = [];
      const meet = (i: number) => {
        if (seen[i] === tiles.length) return;
        seen[i] = tiles.length;
        number[i] = found.length;
        found.push(i);
      };
      const piece = new Uint16Array((around.right - around.left) * (around.bottom - around.top));
      for (let y = around.top, l = 0; y < around.bottom; y++)
        for (let p = y * width + around.left; p < y * width + around.right; p++, l++) {
          meet(label[p]);
          piece[l] = number[label[p]];
        }
      for (let ring = 0, head = 0; ring < RINGS; ring++)
        for (const end = found.length; head < end; head++)
          for (let e = graph.first[found[head]]; e < graph.first[found[head] + 1]; e++) meet(graph.other[e]);
      tiles.push({ ...tile, pieces: Int32Array.from(found), piece });
    }
  return { tiles, desk: deskFor(count), last: null };
}

function deskFor(count: number): Desk {
  const room = (TILE + 2 * HALO) ** 2;
  return {
    out: new Uint8Array(room),
    place: new Int32Array(room),
    band: new Int32Array(room),
    pixel: new Int32Array(room),
    ties: new Float32Array(4 * room),
    next: new Int32Array(4 * room),
    whole: new Float32Array(room),
    fixed: new Float32Array(room),
    value: new Float32Array(room + 1),
    met: new Int32Array(count),
    turn: 0,
    known: new Uint8Array(count),
    sides: new Float64Array(SIDES * count),
    grains: new Float32Array(count),
  };
}

function widened({ left, top, right, bottom }: Window, { width, height }: Superpixels): Window {
  return {
    left: Math.max(0, left - HALO),
    top: Math.max(0, top - HALO),
    right: Math.min(width, right + HALO),
    bottom: Math.min(height, bottom + HALO),
  };
}

/**
 * A mask with the edge drawn by the picture. Within a band along the border of the pieces, values of 1 (inside) and -1
 * spread from both rims from pixel to pixel, the less the larger the step of colour between them measured by the grain
 * near by; each pixel also leans to the side whose colours near by explain it better. The edge is where the value passes
 * 0, and a pixel it runs through is covered by the share its colour says: the place of its colour on the line between
 * the two sides, as in the matting equation I = aF + (1 - a)B. Worked off in squares that overlap, so that an edge depends on what
 * lies near it alone. The data stays in `memory`: it must not be written to, and the next call does.
 * Source: the random walker with priors of Grady 2005, CVPR, 763-770, eq. 8, by successive over-relaxation.
 */
export function softMask(input: EdgeInput, memory: EdgeMemory): Mask {
  const { pieces, graph, inside } = input;
  const { width, height } = pieces;
  const { last } = memory;
  const data = last?.data ?? new Uint8Array(width * height);
  const { desk } = memory;
  desk.known.fill(UNASKED);
  desk.grains.fill(0);
  const drawing = { data, mixed: borderPieces(graph, inside), desk };
  for (const tile of memory.tiles)
    if (!last || isChanged(tile.pieces, inside, last.inside)) drawTile(tile, input, drawing);
  memory.last = { inside, data };
  return { width, height, data };
}

function isChanged(pieces: Int32Array, inside: Uint8Array, before: Uint8Array): boolean {
  for (let k = 0; k < pieces.length; k++) if (inside[pieces[k]] !== before[pieces[k]]) return true;
  return false;
}

interface Drawing {
  /** Of the whole picture; the tile's part of it is drawn. */
  readonly data: Uint8Array;
  readonly mixed: Uint8Array;
  readonly desk: Desk;
}

function drawTile(tile: Tile, input: EdgeInput, drawing: Drawing): void {
  const { features, pieces, inside } = input;
  const { data, mixed, desk } = drawing;
  const { width } = pieces;
  let plain = true;
  for (let k = 0; k < tile.pieces.length && plain; k++) plain = !mixed[tile.pieces[k]];
  if (plain) {
    const own = inside[tile.pieces[0]] ? 255 : 0;
    for (let y = tile.top; y < tile.bottom; y++)
      data.fill(own, y * width + tile.left, y * width + tile.right);
    return;
  }
  const around = widened(tile, pieces);
  const strip = around.right - around.left;
  const { out, place, band, pixel, value, known, sides } = desk;
  const count = bandOf(tile, input, drawing);
  for (let k = 0; k < count; k++) {
    const own = tile.pieces[tile.piece[band[k]]];
    if (known[own] === UNASKED) lookAround(own, input, drawing);
  }
  relax(tile, count, input, drawing);
  const isInside = (l: number) => (place[l] >= 0 ? value[place[l]] > 0 : out[l] > 0);
  for (let y = tile.top; y < tile.bottom; y++) {
    const from = (y - around.top) * strip + tile.left - around.left;
    data.set(out.subarray(from, from + tile.right - tile.left), y * width + tile.left);
  }
  for (let k = 0; k < count; k++) {
    const l = band[k];
    const x = around.left + (l % strip);
    const y = around.top + Math.floor(l / strip);
    if (x < tile.left || x >= tile.right || y < tile.top || y >= tile.bottom) continue;
    const own = value[k] > 0;
    const edge =
      (x > around.left && isInside(l - 1) !== own) ||
      (x + 1 < around.right && isInside(l + 1) !== own) ||
      (y > around.top && isInside(l - strip) !== own) ||
      (y + 1 < around.bottom && isInside(l + strip) !== own);
    const p = pixel[k];
    if (!edge) {
      data[p] = own ? 255 : 0;
      continue;
    }
    const near = tile.pieces[tile.piece[l]];
    if (known[near] === BOTH && sides[SIDES * near + CONTRAST] >= CLEAR)
      data[p] = shareOf(features.data, 3 * p, sides, SIDES * near);
    else data[p] = Math.round(127.5 * (1 + Math.max(-1, Math.min(1, value[k]))));
  }
}

/** 1 for the pieces with a neighbour on the other side. */
function borderPieces(graph: Neighbourhood, inside: Uint8Array): Uint8Array {
  const { first, other } = graph;
  const mixed = new Uint8Array(inside.length);
  for (let i = 0; i < inside.length; i++)
    for (let e = first[i]; e < first[i + 1] && !mixed[i]; e++)
      if (inside[other[e]] !== inside[i]) mixed[i] = 1;
  return mixed;
}

/** Writes which places of a tile lie within REACH of the border onto the desk; their number. */
function bandOf(tile: Tile, { pieces, inside }: EdgeInput, { mixed, desk }: Drawing): number {
  const { width, cell } = pieces;
  const { piece } = tile;
  const { out, place, band, pixel } = desk;
  const around = widened(tile, pieces);
  const strip = around.right - around.left;
  const n = piece.length;
  // Inside or not, and whether the border may run through it.
  const codes = new Uint8Array(tile.pieces.length);
  for (let k = 0; k < codes.length; k++)
    codes[k] = (inside[tile.pieces[k]] ? 1 : 0) + (mixed[tile.pieces[k]] ? 2 : 0);
  // The band is a list of what was found until it is put in reading order.
  let found = 0;
  place.fill(-1, 0, n);
  const meet = (l: number) => {
    if (place[l] >= 0) return;
    place[l] = 0;
    band[found++] = l;
  };
  for (let l = 0, x = 0; l < n; l++, x++) {
    if (x === strip) x = 0;
    const code = codes[piece[l]];
    out[l] = code & 1 ? 255 : 0;
    if (code < 2) continue;
    if (x > 0 && out[l - 1] !== out[l]) {
      meet(l);
      meet(l - 1);
    }
    if (l >= strip && out[l - strip] !== out[l]) {
      meet(l);
      meet(l - strip);
    }
  }
  const reach = Math.max(2, Math.round(REACH * cell));
  for (let ring = 2, head = 0; ring <= reach; ring++)
    for (const end = found; head < end; head++) {
      const l = band[head];
      const x = l % strip;
      if (x > 0) meet(l - 1);
      if (x + 1 < strip) meet(l + 1);
      if (l >= strip) meet(l - strip);
      if (l + strip < n) meet(l + strip);
    }
  let k = 0;
  for (let y = around.top, l = 0; y < around.bottom; y++)
    for (let x = around.left, p = y * width + x; x < around.right; x++, p++, l++)
      if (place[l] >= 0) {
        band[k] = l;
        pixel[k] = p;
        place[l] = k++;
      }
  return k;
}

/** Works out the value of each place of the band, -1 to 1, on the desk. */
function relax(
  tile: Tile,
  count: number,
  { features, pieces, graph }: EdgeInput,
  { mixed, desk }: Drawing,
): void {
  const { width, spread } = pieces;
  const { data } = features;
  const around = widened(tile, pieces);
  const { out, place, band, pixel, ties, next, whole, fixed, value, known, sides, grains } = desk;
  const strip = around.right - around.left;
  const n = strip * (around.bottom - around.top);
  const grainOf = (i: number) => {
    let [sum, total] = [0, 0];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++)
      if (!mixed[graph.other[e]]) {
        sum += spread[graph.other[e]];
        total++;
      }
    return GRAIN ** 2 + (SPECKLE * (total ? sum / total : spread[i])) ** 2;
  };
  const tie = (p: number, q: number, grain: number) => {
    const [a, b] = [3 * p, 3 * q];
    const L = data[a] - data[b];
    const u = data[a + 1] - data[b + 1];
    const v = data[a + 2] - data[b + 2];
    const step = (L * L + 4 * (u * u + v * v)) / grain;
    return 1 / (1 + step * step);
  };
  // Where a neighbour lies outside the band its part is fixed; the tie then leads to a place past the end, of value 0.
  value[count] = 0;
  for (let k = 0; k < count; k++) value[k] = out[band[k]] ? 1 : -1;
  for (let k = 0; k < count; k++) {
    const l = band[k];
    const p = pixel[k];
    const x = l % strip;
    const own = tile.pieces[tile.piece[l]];
    const grain = (grains[own] ||= grainOf(own));
    let [sum, pull] = [HABIT, HABIT * value[k]];
    for (let s = 0; s < 4; s++) {
      const at = 4 * k + s;
      const j = s === 0 ? l + 1 : s === 1 ? l + strip : s === 2 ? l - 1 : l - strip;
      next[at] = count;
      ties[at] = 0;
      if (j < 0 || j >= n || (s === 0 && x + 1 >= strip) || (s === 2 && x === 0)) continue;
      const there = place[j];
      const strength =
        s >= 2 && there >= 0
          ? ties[4 * there + s - 2]
          : tie(p, s === 0 ? p + 1 : s === 1 ? p + width : s === 2 ? p - 1 : p - width, grain);
      sum += strength;
      if (there >= 0) {
        ties[at] = strength;
        next[at] = there;
      } else pull += strength * (out[j] ? 1 : -1);
    }
    if (known[own] === BOTH) {
      const lean = Math.max(-1, Math.min(1, oddsOf(data, 3 * p, sides, SIDES * own) / CERTAIN));
      sum += TRUST * Math.abs(lean);
      pull += TRUST * Math.abs(lean) * lean;
    }
    whole[k] = HASTE / sum;
    fixed[k] = pull;
  }
  for (let sweep = 0; sweep < SWEEPS; sweep++)
    for (let j = 0; j < count; j++) {
      const k = sweep % 2 ? count - 1 - j : j;
      const s = 4 * k;
      const sum =
        fixed[k] +
        ties[s] * value[next[s]] +
        ties[s + 1] * value[next[s + 1]] +
        ties[s + 2] * value[next[s + 2]] +
        ties[s + 3] * value[next[s + 3]];
      value[k] += whole[k] * sum - HASTE * value[k];
    }
}

/** What is known of the colours on the two sides of a piece: not asked yet, only one side is near, or both. */
const UNASKED = 0;
const ONE = 1;
const BOTH = 2;

/** Per piece: mean colour inside and outside, 1 / variance of each, then two numbers. */
const OUTSIDE = 3;
const INSIDE_PRECISION = 6;
const OUTSIDE_PRECISION = 9;
/** Natural logarithm of the odds where both differences are 0, twice. */
const CONSTANT = 12;
/** How far apart the sides are in standard deviations. */
const CONTRAST = 13;
const SIDES = 14;

/** Natural logarithm of the odds that a pixel's colour belongs inside. In: its place in `data`, that of the colours in `sides`. */
function oddsOf(data: Float32Array, at: number, sides: Float64Array, o: number): number {
  let odds = sides[o + CONSTANT];
  for (let k = 0; k < 3; k++)
    odds +=
      (data[at + k] - sides[o + OUTSIDE + k]) ** 2 * sides[o + OUTSIDE_PRECISION + k] -
      (data[at + k] - sides[o + k]) ** 2 * sides[o + INSIDE_PRECISION + k];
  return odds / 2;
}

/** Writes the colours on the two sides of a border near a piece onto the desk. */
function lookAround(piece: number, { pieces, graph, inside }: EdgeInput, { mixed, desk }: Drawing): void {
  const { start, mean, spread } = pieces;
  const { first, other } = graph;
  const { met, sides, known } = desk;
  const turn = ++desk.turn;
  const o = SIDES * piece;
  sides.fill(0, o, o + SIDES);
  let [within, without] = [0, 0];
  // Sums first, then sums of squares where the precisions will be.
  const meet = (j: number) => {
    met[j] = turn;
    const weight = (start[j + 1] - start[j]) * (mixed[j] ? MIXED : 1);
    if (inside[j]) within += weight;
    else without += weight;
    const side = inside[j] ? o : o + OUTSIDE;
    for (let k = 0; k < 3; k++) {
      const value = mean[3 * j + k];
      sides[side + k] += weight * value;
      sides[side + INSIDE_PRECISION + k] += weight * (value * value + (k === 0 ? spread[j] ** 2 : 0));
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
    const own = sides[o + k] / within;
    const others = sides[o + OUTSIDE + k] / without;
    const least = LEAST[k] ** 2;
    const ownSpread = Math.max(0, sides[o + INSIDE_PRECISION + k] / within - own ** 2) + least;
    const othersSpread = Math.max(0, sides[o + OUTSIDE_PRECISION + k] / without - others ** 2) + least;
    sides[o + k] = own;
    sides[o + OUTSIDE + k] = others;
    sides[o + INSIDE_PRECISION + k] = 1 / ownSpread;
    sides[o + OUTSIDE_PRECISION + k] = 1 / othersSpread;
    constant += Math.log(othersSpread / ownSpread);
    contrast += ((own - others) ** 2 * 2) / (ownSpread + othersSpread);
  }
  sides[o + CONSTANT] = constant;
  sides[o + CONTRAST] = Math.sqrt(contrast);
}

/** Part of a pixel that its colour gives to the inside, 0-255. */
function shareOf(data: Float32Array, at: number, sides: Float64Array, o: number): number {
  let [along, whole] = [0, 0];
  for (let k = 0; k < 3; k++) {
    const across = sides[o + k] - sides[o + OUTSIDE + k];
    along += (data[at + k] - sides[o + OUTSIDE + k]) * across;
    whole += across * across;
  }
  return Math.round(255 * Math.max(0, Math.min(1, along / whole)));
}
