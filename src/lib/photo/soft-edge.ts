import {
  contrastNear,
  edgeSides,
  findSides,
  forgetSides,
  oddsNear,
  shareNear,
  type EdgeSides,
} from './edge-sides.ts';
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
const CLEAR = 3; // contrast in standard deviations from which a pixel's cover can be read from its colour
const TRUST = 0.03; // weight of a pixel's own colour at most, against 1 for each neighbour of the same tone
const CERTAIN = 3; // natural logarithm of odds at which a pixel's own colour has its full weight
const HABIT = 0.02; // weight of the side a pixel's piece is on
const GRAIN = 1.5; // feature units: a step between neighbours that halves their tie where there is no grain
const SPECKLE = 0.3; // of the spread inside the pieces near by: steps that grain explains
const SWEEPS = 8; // to and fro
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
  /** Places that lie in another piece than the one to their left, and than the one above. */
  readonly seamsLeft: Uint16Array;
  readonly seamsAbove: Uint16Array;
}

/** Room to work off one tile in, used again and again. */
interface Desk {
  /** Number of each place of the tile with its halo among those of the band, -1 for the others and between two tiles. */
  readonly place: Int32Array;
  /** 1 for places of the band while it is gathered, else 0; the same four at a time. */
  readonly marked: Uint8Array;
  readonly markedFours: Uint32Array;
  /** Places of the band in reading order, and the picture's pixel at each. */
  readonly band: Int32Array;
  readonly pixel: Int32Array;
  /** Ties of a band's place to its neighbours in the band, and which number those below and above have there, counted from 1. */
  readonly right: Float64Array;
  readonly left: Float64Array;
  readonly below: Float64Array;
  readonly above: Float64Array;
  readonly under: Int32Array;
  readonly over: Int32Array;
  readonly whole: Float64Array;
  readonly fixed: Float64Array;
  /** Of the band's places from 1 on: 0 stands for none. */
  readonly value: Float64Array;
  readonly sides: EdgeSides;
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
      const strip = around.right - around.left;
      const piece = new Uint16Array(strip * (around.bottom - around.top));
      const [across, down]: number[][] = [[], []];
      for (let y = around.top, l = 0; y < around.bottom; y++)
        for (let p = y * width + around.left; p < y * width + around.right; p++, l++) {
          meet(label[p]);
          piece[l] = number[label[p]];
          if (p > y * width + around.left && piece[l] !== piece[l - 1]) across.push(l);
          if (y > around.top && piece[l] !== piece[l - strip]) down.push(l);
        }
      for (let ring = 0, head = 0; ring < RINGS; ring++)
        for (const end = found.length; head < end; head++)
          for (let e = graph.first[found[head]]; e < graph.first[found[head] + 1]; e++) meet(graph.other[e]);
      const [seamsLeft, seamsAbove] = [Uint16Array.from(across), Uint16Array.from(down)];
      tiles.push({ ...tile, pieces: Int32Array.from(found), piece, seamsLeft, seamsAbove });
    }
  return { tiles, desk: deskFor(count), last: null };
}

function deskFor(count: number): Desk {
  const room = (TILE + 2 * HALO) ** 2;
  const marked = new Uint8Array(room);
  return {
    place: new Int32Array(room).fill(-1),
    marked,
    markedFours: new Uint32Array(marked.buffer),
    band: new Int32Array(room),
    pixel: new Int32Array(room),
    right: new Float64Array(room),
    left: new Float64Array(room),
    below: new Float64Array(room),
    above: new Float64Array(room),
    under: new Int32Array(room),
    over: new Int32Array(room),
    whole: new Float64Array(room),
    fixed: new Float64Array(room),
    value: new Float64Array(room + 2),
    sides: edgeSides(count),
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
  forgetSides(desk.sides);
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
  const { place, band, pixel, value, sides } = desk;
  const { piece } = tile;
  const cover = new Uint8Array(tile.pieces.length);
  for (let k = 0; k < cover.length; k++) cover[k] = inside[tile.pieces[k]] ? 255 : 0;
  const count = bandOf(tile, cover, input, desk);
  const ground = { ...input, mixed };
  for (let k = 0, before = -1; k < count; k++) {
    const own = tile.pieces[piece[band[k]]];
    if (own !== before) findSides(own, ground, sides);
    before = own;
  }
  relax({ tile, cover, count }, input, drawing);
  for (let y = tile.top; y < tile.bottom; y++) {
    let l = (y - around.top) * strip + tile.left - around.left;
    for (let p = y * width + tile.left; p < y * width + tile.right; p++, l++) data[p] = cover[piece[l]];
  }
  const isInside = (l: number) => (place[l] >= 0 ? value[place[l] + 1] > 0 : cover[piece[l]] > 0);
  for (let k = 0; k < count; k++) {
    const l = band[k];
    const x = around.left + (l % strip);
    const y = around.top + Math.floor(l / strip);
    if (x < tile.left || x >= tile.right || y < tile.top || y >= tile.bottom) continue;
    const own = value[k + 1] > 0;
    const edge =
      (x > around.left && isInside(l - 1) !== own) ||
      (x + 1 < around.right && isInside(l + 1) !== own) ||
      (y > around.top && isInside(l - strip) !== own) ||
      (y + 1 < around.bottom && isInside(l + strip) !== own);
    const p = pixel[k];
    const near = tile.pieces[piece[l]];
    if (!edge) data[p] = own ? 255 : 0;
    else if (contrastNear(near, sides) >= CLEAR) data[p] = shareNear(near, sides, features.data, 3 * p);
    else data[p] = Math.round(127.5 * (1 + Math.max(-1, Math.min(1, value[k + 1]))));
  }
  for (let k = 0; k < count; k++) place[band[k]] = -1;
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

/** Writes which places of a tile lie within REACH of the border onto the desk; their number. In: 255 or 0 for each of its pieces. */
function bandOf(tile: Tile, cover: Uint8Array, { pieces }: EdgeInput, desk: Desk): number {
  const { place, band, pixel, marked, markedFours } = desk;
  const { width, cell } = pieces;
  const { piece, seamsLeft, seamsAbove } = tile;
  const around = widened(tile, pieces);
  const strip = around.right - around.left;
  const n = piece.length;
  // The band is a list of what was found until it is put in reading order.
  let found = 0;
  const meet = (l: number) => {
    if (marked[l]) return;
    marked[l] = 1;
    band[found++] = l;
  };
  for (const [seams, step] of [
    [seamsLeft, 1],
    [seamsAbove, strip],
  ] as const)
    for (let s = 0; s < seams.length; s++) {
      const l = seams[s];
      if (cover[piece[l]] === cover[piece[l - step]]) continue;
      meet(l);
      meet(l - step);
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
  // Most of a tile is no band: it is passed over four places at a time.
  let k = 0;
  for (let f = 0, row = 0, begin = around.top * width + around.left; 4 * f < n; f++) {
    if (markedFours[f] === 0) continue;
    for (let l = 4 * f; l < 4 * f + 4; l++) {
      if (!marked[l]) continue;
      for (; l >= row + strip; row += strip) begin += width;
      marked[l] = 0;
      band[k] = l;
      pixel[k] = begin + l - row;
      place[l] = k++;
    }
  }
  return k;
}

/** Works out the value of each place of the band, -1 to 1, on the desk. */
function relax(
  { tile, cover, count }: { tile: Tile; cover: Uint8Array; count: number },
  { features, pieces, graph }: EdgeInput,
  { mixed, desk }: Drawing,
): void {
  const { width, spread } = pieces;
  const { data } = features;
  const { piece } = tile;
  const around = widened(tile, pieces);
  const { place, band, pixel, right, left, below, above, under, over, whole, fixed, value, sides, grains } =
    desk;
  const strip = around.right - around.left;
  const n = piece.length;
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
  value[0] = value[count + 1] = 0;
  for (let k = 0; k < count; k++) {
    const l = band[k];
    const p = pixel[k];
    const x = l % strip;
    const own = tile.pieces[piece[l]];
    const grain = (grains[own] ||= grainOf(own));
    value[k + 1] = cover[piece[l]] ? 1 : -1;
    let sum = HABIT;
    let pull = HABIT * value[k + 1];
    right[k] = left[k] = below[k] = above[k] = 0;
    under[k] = over[k] = 0;
    // Where a neighbour lies outside the band its part is fixed.
    if (x + 1 < strip) {
      const strength = tie(p, p + 1, grain);
      sum += strength;
      if (place[l + 1] >= 0) right[k] = strength;
      else pull += cover[piece[l + 1]] ? strength : -strength;
    }
    if (l + strip < n) {
      const strength = tie(p, p + width, grain);
      const there = place[l + strip];
      sum += strength;
      if (there >= 0) {
        below[k] = strength;
        under[k] = there + 1;
      } else pull += cover[piece[l + strip]] ? strength : -strength;
    }
    if (x > 0) {
      const inBand = place[l - 1] >= 0;
      const strength = inBand ? right[k - 1] : tie(p, p - 1, grain);
      sum += strength;
      if (inBand) left[k] = strength;
      else pull += cover[piece[l - 1]] ? strength : -strength;
    }
    if (l >= strip) {
      const there = place[l - strip];
      const strength = there >= 0 ? below[there] : tie(p, p - width, grain);
      sum += strength;
      if (there >= 0) {
        above[k] = strength;
        over[k] = there + 1;
      } else pull += cover[piece[l - strip]] ? strength : -strength;
    }
    const lean = Math.max(-1, Math.min(1, oddsNear(own, sides, data, 3 * p) / CERTAIN));
    sum += TRUST * Math.abs(lean);
    pull += TRUST * Math.abs(lean) * lean;
    fixed[k] = pull;
    // Kept until all ties are known: those to the left and above are read from their neighbours.
    whole[k] = HASTE / sum;
  }
  for (let k = 0; k < count; k++) {
    right[k] *= whole[k];
    left[k] *= whole[k];
    below[k] *= whole[k];
    above[k] *= whole[k];
    fixed[k] *= whole[k];
  }
  // In a row neighbours follow each other: the one just worked out comes last in the sum and is not read back.
  const keep = 1 - HASTE;
  for (let sweep = 0; sweep < SWEEPS; sweep += 2) {
    for (let k = 0, before = 0; k < count; k++) {
      const rest = keep * value[k + 1] + fixed[k] + below[k] * value[under[k]] + above[k] * value[over[k]];
      before = value[k + 1] = rest + right[k] * value[k + 2] + left[k] * before;
    }
    for (let k = count - 1, after = 0; k >= 0; k--) {
      const rest = keep * value[k + 1] + fixed[k] + below[k] * value[under[k]] + above[k] * value[over[k]];
      after = value[k + 1] = rest + left[k] * value[k] + right[k] * after;
    }
  }
}
