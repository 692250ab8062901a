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
const HALO = 16; // pixels around a tile that its edge is worked out with
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
  last: { readonly inside: Uint8Array; readonly data: Uint8Array } | null;
}

/** A square of the picture, right and bottom not in it, and all pieces its edge depends on. */
interface Tile extends Window {
  readonly pieces: Int32Array;
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
  for (let top = 0; top < height; top += TILE)
    for (let left = 0; left < width; left += TILE) {
      const tile = { left, top, right: Math.min(width, left + TILE), bottom: Math.min(height, top + TILE) };
      const around = widened(tile, pieces);
      const found: number[] = [];
      const meet = (i: number) => {
        if (seen[i] === tiles.length) return;
        seen[i] = tiles.length;
        found.push(i);
      };
      for (let y = around.top; y < around.bottom; y++)
        for (let p = y * width + around.left; p < y * width + around.right; p++) meet(label[p]);
      for (let ring = 0, head = 0; ring < RINGS; ring++)
        for (const end = found.length; head < end; head++)
          for (let e = graph.first[found[head]]; e < graph.first[found[head] + 1]; e++) meet(graph.other[e]);
      tiles.push({ ...tile, pieces: Int32Array.from(found) });
    }
  return { tiles, last: null };
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
 * lies near it alone. The data stays in `memory` and must not be written to.
 * Source: the random walker with priors of Grady 2005, CVPR, 763-770, eq. 8, by successive over-relaxation.
 */
export function softMask(input: EdgeInput, memory: EdgeMemory): Mask {
  const { pieces, graph, inside } = input;
  const { width, height } = pieces;
  const { last } = memory;
  const data = last ? last.data.slice() : new Uint8Array(width * height);
  const mixed = borderPieces(graph, inside);
  const sides: (Sides | null | undefined)[] = new Array(pieces.count);
  for (const tile of memory.tiles)
    if (!last || tile.pieces.some((i) => inside[i] !== last.inside[i]))
      drawTile(tile, input, { data, mixed, sides });
  memory.last = { inside, data };
  return { width, height, data };
}

interface Drawing {
  /** Of the whole picture; the tile's part of it is drawn. */
  readonly data: Uint8Array;
  readonly mixed: Uint8Array;
  /** Per piece, as far as asked for; null where only one side is near. */
  readonly sides: (Sides | null | undefined)[];
}

function drawTile(tile: Tile, input: EdgeInput, { data, mixed, sides }: Drawing): void {
  const { features, pieces, graph, inside } = input;
  const { width, label } = pieces;
  const around = widened(tile, pieces);
  const strip = around.right - around.left;
  const out = new Uint8Array(strip * (around.bottom - around.top));
  for (let y = around.top, l = 0; y < around.bottom; y++)
    for (let x = around.left, p = y * width + x; x < around.right; x++, p++, l++)
      out[l] = inside[label[p]] ? 255 : 0;
  const field = { around, strip, out };
  const { band, place } = bandOf(pieces, field, mixed);
  const pixel = Int32Array.from(
    band,
    (l) => (around.top + Math.floor(l / strip)) * width + around.left + (l % strip),
  );
  for (const p of pixel)
    if (sides[label[p]] === undefined)
      sides[label[p]] = sidesAround(label[p], { pieces, graph, inside, mixed });
  const value = relaxed(input, { ...field, band, pixel, place, sides, mixed });
  const isInside = (l: number) => (place[l] >= 0 ? value[place[l]] > 0 : out[l] > 0);
  for (let y = tile.top; y < tile.bottom; y++) {
    const from = (y - around.top) * strip + tile.left - around.left;
    data.set(out.subarray(from, from + tile.right - tile.left), y * width + tile.left);
  }
  for (let k = 0; k < band.length; k++) {
    const l = band[k];
    const [x, y] = [around.left + (l % strip), around.top + Math.floor(l / strip)];
    if (x < tile.left || x >= tile.right || y < tile.top || y >= tile.bottom) continue;
    const own = value[k] > 0;
    const edge =
      (x > around.left && isInside(l - 1) !== own) ||
      (x + 1 < around.right && isInside(l + 1) !== own) ||
      (y > around.top && isInside(l - strip) !== own) ||
      (y + 1 < around.bottom && isInside(l + strip) !== own);
    const p = pixel[k];
    const near = sides[label[p]];
    if (!edge) data[p] = own ? 255 : 0;
    else if (near && near.contrast >= CLEAR) data[p] = shareOf(features.data, 3 * p, near);
    else data[p] = Math.round(127.5 * (1 + Math.max(-1, Math.min(1, value[k]))));
  }
}

/** 1 for the pieces with a neighbour on the other side. */
function borderPieces(graph: Neighbourhood, inside: Uint8Array): Uint8Array {
  return inside.map((own, i) => {
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) if (inside[graph.other[e]] !== own) return 1;
    return 0;
  });
}

/** Part of a picture: its rows are `strip` pixels long, `out` is 255 inside and 0 outside. */
interface Field {
  readonly around: Window;
  readonly strip: number;
  readonly out: Uint8Array;
}

/** Places in the field within REACH of the border in reading order, and the number of each among them, -1 for the others. */
function bandOf(
  { width, label, cell }: Superpixels,
  { around, strip, out }: Field,
  mixed: Uint8Array,
): { band: Int32Array; place: Int32Array } {
  const n = out.length;
  const place = new Int32Array(n).fill(-1);
  const found: number[] = [];
  for (let y = around.top, l = 0; y < around.bottom; y++)
    for (let x = around.left, p = y * width + x; x < around.right; x++, p++, l++)
      if (
        mixed[label[p]] &&
        ((x > around.left && out[l - 1] !== out[l]) ||
          (x + 1 < around.right && out[l + 1] !== out[l]) ||
          (l >= strip && out[l - strip] !== out[l]) ||
          (l + strip < n && out[l + strip] !== out[l]))
      ) {
        place[l] = 0;
        found.push(l);
      }
  const reach = Math.max(2, Math.round(REACH * cell));
  const meet = (l: number) => {
    if (place[l] >= 0) return;
    place[l] = 0;
    found.push(l);
  };
  for (let ring = 2, head = 0; ring <= reach; ring++)
    for (const end = found.length; head < end; head++) {
      const l = found[head];
      const x = l % strip;
      if (x > 0) meet(l - 1);
      if (x + 1 < strip) meet(l + 1);
      if (l >= strip) meet(l - strip);
      if (l + strip < n) meet(l + strip);
    }
  const band = new Int32Array(found.length);
  for (let l = 0, k = 0; k < band.length; l++)
    if (place[l] >= 0) {
      band[k] = l;
      place[l] = k++;
    }
  return { band, place };
}

interface Band extends Field, Omit<Drawing, 'data'> {
  readonly band: Int32Array;
  /** The picture's pixel at each place of the band. */
  readonly pixel: Int32Array;
  readonly place: Int32Array;
}

/** The value of each pixel of the band, -1 to 1. */
function relaxed(
  { features, pieces, graph }: EdgeInput,
  { strip, out, band, pixel, place, sides, mixed }: Band,
): Float32Array {
  const { width, label, spread } = pieces;
  const { data } = features;
  const n = out.length;
  const m = band.length;
  const value = Float32Array.from(band, (l) => (out[l] ? 1 : -1));
  const grains = new Map<number, number>();
  const grainOf = (i: number) => {
    const known = grains.get(i);
    if (known !== undefined) return known;
    let [sum, total] = [0, 0];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++)
      if (!mixed[graph.other[e]]) {
        sum += spread[graph.other[e]];
        total++;
      }
    const grain = GRAIN ** 2 + (SPECKLE * (total ? sum / total : spread[i])) ** 2;
    grains.set(i, grain);
    return grain;
  };
  const tie = (p: number, q: number, grain: number) => {
    const [a, b] = [3 * p, 3 * q];
    const step =
      (data[a] - data[b]) ** 2 + 4 * ((data[a + 1] - data[b + 1]) ** 2 + (data[a + 2] - data[b + 2]) ** 2);
    return 1 / (1 + (step / grain) ** 2);
  };
  // Per pixel: ties to the right, below, left, above, and the value there where it lies outside the band.
  const ties = new Float32Array(4 * m);
  const whole = new Float32Array(m);
  const fixed = new Float32Array(m);
  const next = new Int32Array(4 * m).fill(-1);
  for (let k = 0; k < m; k++) {
    const [l, p] = [band[k], pixel[k]];
    const x = l % strip;
    const grain = grainOf(label[p]);
    for (let s = 0; s < 4; s++) {
      const j = s === 0 ? l + 1 : s === 1 ? l + strip : s === 2 ? l - 1 : l - strip;
      if (j < 0 || j >= n || (s === 0 && x + 1 >= strip) || (s === 2 && x === 0)) continue;
      const there = place[j];
      const strength =
        s >= 2 && there >= 0
          ? ties[4 * there + s - 2]
          : tie(p, s === 0 ? p + 1 : s === 1 ? p + width : s === 2 ? p - 1 : p - width, grain);
      whole[k] += strength;
      if (there >= 0) {
        ties[4 * k + s] = strength;
        next[4 * k + s] = there;
      } else fixed[k] += strength * (out[j] ? 1 : -1);
    }
    whole[k] += HABIT;
    fixed[k] += HABIT * value[k];
    const near = sides[label[p]];
    if (!near) continue;
    const lean = Math.max(-1, Math.min(1, oddsOf(data, 3 * p, near) / CERTAIN));
    whole[k] += TRUST * Math.abs(lean);
    fixed[k] += TRUST * Math.abs(lean) * lean;
  }
  for (let sweep = 0; sweep < SWEEPS; sweep++)
    for (let j = 0; j < m; j++) {
      const k = sweep % 2 ? m - 1 - j : j;
      const s = 4 * k;
      let sum = fixed[k];
      if (next[s] >= 0) sum += ties[s] * value[next[s]];
      if (next[s + 1] >= 0) sum += ties[s + 1] * value[next[s + 1]];
      if (next[s + 2] >= 0) sum += ties[s + 2] * value[next[s + 2]];
      if (next[s + 3] >= 0) sum += ties[s + 3] * value[next[s + 3]];
      value[k] += HASTE * (sum / whole[k] - value[k]);
    }
  return value;
}

/** Natural logarithm of the odds that a pixel's colour belongs inside. */
function oddsOf(data: Float32Array, at: number, near: Sides): number {
  let odds = near.constant;
  for (let k = 0; k < 3; k++)
    odds +=
      (data[at + k] - near.outside[k]) ** 2 * near.outsidePrecision[k] -
      (data[at + k] - near.inside[k]) ** 2 * near.insidePrecision[k];
  return odds / 2;
}

/** Colours on the two sides of a border piece: means, 1 / variance, and how far apart in standard deviations. */
interface Sides {
  readonly inside: Float64Array;
  readonly outside: Float64Array;
  readonly insidePrecision: Float64Array;
  readonly outsidePrecision: Float64Array;
  readonly constant: number;
  readonly contrast: number;
}

function sidesAround(
  piece: number,
  input: Pick<EdgeInput, 'pieces' | 'graph' | 'inside'> & { mixed: Uint8Array },
): Sides | null {
  const { pieces, graph, inside, mixed } = input;
  const { start, mean, spread } = pieces;
  const ring = new Set<number>([piece]);
  for (let e = graph.first[piece]; e < graph.first[piece + 1]; e++) {
    const j = graph.other[e];
    ring.add(j);
    for (let f = graph.first[j]; f < graph.first[j + 1]; f++) ring.add(graph.other[f]);
  }
  const total = [0, 0];
  const sum = [new Float64Array(3), new Float64Array(3)];
  const squares = [new Float64Array(3), new Float64Array(3)];
  for (const j of ring) {
    const which = inside[j] ? 0 : 1;
    const weight = (start[j + 1] - start[j]) * (mixed[j] ? MIXED : 1);
    total[which] += weight;
    for (let k = 0; k < 3; k++) {
      const value = mean[3 * j + k];
      sum[which][k] += weight * value;
      squares[which][k] += weight * (value * value + (k === 0 ? spread[j] ** 2 : 0));
    }
  }
  if (total[0] === 0 || total[1] === 0) return null;
  const precision = [new Float64Array(3), new Float64Array(3)];
  let constant = 0;
  for (const which of [0, 1])
    for (let k = 0; k < 3; k++) {
      sum[which][k] /= total[which];
      const variance = Math.max(0, squares[which][k] / total[which] - sum[which][k] ** 2) + LEAST[k] ** 2;
      precision[which][k] = 1 / variance;
      constant += (which === 0 ? -1 : 1) * Math.log(variance);
    }
  let contrast = 0;
  for (let k = 0; k < 3; k++)
    contrast += ((sum[0][k] - sum[1][k]) ** 2 * 2) / (1 / precision[0][k] + 1 / precision[1][k]);
  return {
    inside: sum[0],
    outside: sum[1],
    insidePrecision: precision[0],
    outsidePrecision: precision[1],
    constant,
    contrast: Math.sqrt(contrast),
  };
}

function shareOf(data: Float32Array, at: number, { inside, outside }: Sides): number {
  let [along, whole] = [0, 0];
  for (let k = 0; k < 3; k++) {
    const across = inside[k] - outside[k];
    along += (data[at + k] - outside[k]) * across;
    whole += across * across;
  }
  return Math.round(255 * Math.max(0, Math.min(1, along / whole)));
}
