import { minimumCut } from './cut.ts';
import { AXES } from './mixture.ts';
import { makeRoom, nearBy, type NearBy } from './near-by.ts';
import type { Neighbourhood, Superpixels } from './superpixels.ts';

/** A picture in its smallest pieces, made ready for a close look at borders. */
export interface BorderGround {
  readonly pieces: Superpixels;
  readonly graph: Neighbourhood;
  /** L, u, v, texture of every piece, stride `AXES`. */
  readonly values: Float32Array;
  /** Middle of every piece in pixels, stride 2. */
  readonly middle: Float32Array;
  /** Price of each border between pieces. */
  readonly price: Float32Array;
  /** A grid of tiles as wide as the reach: tiles in a row and in a column, tile of each piece. */
  readonly columns: number;
  readonly rows: number;
  readonly tile: Int32Array;
  /** Pieces by tile: those of tile t are `member[start[t]] .. member[start[t + 1] - 1]`. */
  readonly start: Int32Array;
  readonly member: Int32Array;
  /** Per member: x, y, L, u, v, texture of the piece and its size in usual ones; stride JUDGE. */
  readonly judges: Float32Array;
  /**
   * What lies near a piece and looks like it, each with its size against a usual piece times how much it is alike and
   * near, 0-1; it only saves time.
   */
  readonly likenesses: NearBy;
  /** Odds of the last look at a border; they only save time. */
  readonly odds: OddsMemory;
}

interface OddsMemory {
  /** How each piece counted: above 0 inside, below outside. */
  counts: Float32Array;
  /** Of each piece; NaN where it was not asked, or where something near it has changed since. */
  readonly known: Float32Array;
}

// Areas are counted in usual pieces (cell x cell), lengths in sides of one, so that the size of the picture changes nothing.
const HOPS = 3; // pieces on either side of a border that are asked again
const REACH = 6.5; // sides of a piece: what lies farther off says nothing about a place
const ALIKE = [6, 1.6, 1.6, 0.6]; // L, u, v, texture: deviations within one material near one place
const OTHER = 0.25; // usual pieces of any look that are thought to lie outside: what looks like nothing inside stays out
const OWN = 0.015;
const MOST_ODDS = 4; // natural logarithm
const HABIT = 1.5; // odds at the rim of what is asked for the side a piece was on
const PULL = 0.6; // price of a piece against a unit of odds
const PLAIN_BORDER = 0.05; // price of a border along the strongest edge, against 1 where there is none
const SMOOTH = 2; // feature units: a step this large is an edge where there is no texture
const TEXTURE_SHARE = 0.5; // of the mean change from pixel to pixel: steps between the pieces of a grainy surface
const BURNT = 97; // L: what is burnt out looks like all that is
const UNLIKE = 5; // squared standard deviations over two, place and look, beyond which nothing counts
const JUDGE = 7;

/** Makes pieces ready; all of one picture. */
export function borderGround(
  ground: Pick<BorderGround, 'pieces' | 'graph' | 'values' | 'middle'>,
): BorderGround {
  const { pieces, graph, values } = ground;
  const side = REACH * pieces.cell;
  const columns = Math.ceil(pieces.width / side);
  const rows = Math.ceil(pieces.height / side);
  const tile = new Int32Array(pieces.count);
  const start = new Int32Array(columns * rows + 1);
  for (let i = 0; i < pieces.count; i++) {
    tile[i] = Math.floor(ground.middle[2 * i + 1] / side) * columns + Math.floor(ground.middle[2 * i] / side);
    start[tile[i] + 1]++;
  }
  for (let t = 0; t < columns * rows; t++) start[t + 1] += start[t];
  const next = start.slice();
  const member = new Int32Array(pieces.count);
  const judges = new Float32Array(JUDGE * pieces.count);
  for (let i = 0; i < pieces.count; i++) {
    const m = next[tile[i]]++;
    member[m] = i;
    judges[JUDGE * m] = ground.middle[2 * i];
    judges[JUDGE * m + 1] = ground.middle[2 * i + 1];
    for (let a = 0; a < AXES; a++) judges[JUDGE * m + 2 + a] = values[AXES * i + a];
    judges[JUDGE * m + 6] = sizeOf(i, pieces);
  }
  const price = new Float32Array(graph.other.length);
  for (let i = 0; i < pieces.count; i++)
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const texture = Math.min(values[AXES * i + 3], values[AXES * graph.other[e] + 3]);
      const explained = SMOOTH ** 2 + (TEXTURE_SHARE * (2 ** texture - 0.5)) ** 2;
      const open = Math.exp(-(graph.step[e] ** 2) / (2 * explained));
      price[e] = (graph.border[e] / pieces.cell) * (PLAIN_BORDER + open);
    }
  const odds = { counts: new Float32Array(pieces.count), known: new Float32Array(pieces.count).fill(NaN) };
  return {
    ...ground,
    price,
    columns,
    rows,
    tile,
    start,
    member,
    judges,
    likenesses: nearBy(pieces.count),
    odds,
  };
}

/**
 * A rough selection with its border looked at closely: the pieces within a few of it are parted anew, each by what lies near it
 * on either side and looks like it, along the cheapest border. A jar whose foot mirrors the worktop goes with the rest of the
 * jar, a strip of worktop in shade with the worktop.
 * In: `inside` 1 or 0 a piece; `held` 1 for pieces that are inside whatever they look like, -1 outside, 0 asked. Out: 1 or 0 a piece.
 * Source: a banded graph cut (Lombaert, Sun, Grady, Xu 2005, ICCV, 259-265, section 3) with colour models of the neighbourhood
 * as Parzen windows (Parzen 1962, Annals of Mathematical Statistics 33(3), 1065-1076).
 */
export function borderCut(ground: BorderGround, inside: Uint8Array, held: Int8Array): Uint8Array {
  const { graph, pieces, price, values } = ground;
  const { hops, band } = nearBorder(graph, inside);
  const n = band.length;
  const place = new Int32Array(pieces.count).fill(-1);
  let room = 0;
  for (let k = 0; k < n; k++) {
    place[band[k]] = k;
    room += graph.first[band[k] + 1] - graph.first[band[k]];
  }
  const first = new Int32Array(n + 1);
  const entry = new Int32Array(graph.other.length);
  const other = new Int32Array(room);
  const twin = new Int32Array(room);
  const capacity = new Float32Array(room);
  const pull = new Float32Array(n);
  // What is asked itself counts less, the more so at the border.
  const counts = new Float32Array(pieces.count);
  for (let i = 0; i < counts.length; i++) counts[i] = (inside[i] ? 1 : -1) * (hops[i] ? hops[i] / HOPS : 1);
  const known = knownOdds(counts, ground);
  let count = 0;
  for (let k = 0; k < n; k++) {
    const i = band[k];
    if (held[i]) pull[k] = 1e7 * held[i];
    else {
      const told = Math.max(0, Math.min(1, (BURNT - values[AXES * i]) / 4));
      if (told > 0 && Number.isNaN(known[i])) known[i] = oddsOf(i, ground, counts);
      const odds = told > 0 ? told * known[i] : 0;
      const habit = HABIT * ((hops[i] - 1) / (HOPS - 1)) ** 2;
      pull[k] = PULL * sizeOf(i, pieces) * (odds + (inside[i] ? habit : -habit));
    }
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const j = graph.other[e];
      if (place[j] >= 0) {
        entry[e] = count;
        other[count] = place[j];
        capacity[count] = price[e];
        // Of the two sides the later one knows both entries.
        if (place[j] < k) {
          twin[count] = entry[graph.twin[e]];
          twin[twin[count]] = count;
        }
        count++;
      } else if (!held[i]) pull[k] += (inside[j] ? 1 : -1) * price[e];
    }
    first[k + 1] = count;
  }
  const cut = minimumCut({
    count: n,
    first,
    other: other.subarray(0, count),
    twin: twin.subarray(0, count),
    capacity: capacity.subarray(0, count),
    pull,
  });
  const out = inside.slice();
  for (let k = 0; k < n; k++) out[band[k]] = cut[k];
  return out;
}

/** Usual pieces that one is worth. */
function sizeOf(i: number, { start, cell }: Superpixels): number {
  return (start[i + 1] - start[i]) / (cell * cell);
}

/** Pieces near the border of what is inside, and how many there are from each to it, itself counted; 0 for the others. */
function nearBorder(
  { first, other }: Neighbourhood,
  inside: Uint8Array,
): { hops: Uint8Array; band: number[] } {
  const hops = new Uint8Array(inside.length);
  const band: number[] = [];
  for (let i = 0; i < inside.length; i++)
    for (let e = first[i]; e < first[i + 1]; e++)
      if (inside[other[e]] !== inside[i]) {
        hops[i] = 1;
        band.push(i);
        break;
      }
  for (let head = 0; head < band.length; head++) {
    const i = band[head];
    if (hops[i] === HOPS) continue;
    for (let e = first[i]; e < first[i + 1]; e++) {
      const j = other[e];
      if (hops[j]) continue;
      hops[j] = hops[i] + 1;
      band.push(j);
    }
  }
  return { hops, band };
}

/** Odds that still hold: those of the pieces near which all count as they did when last asked. */
function knownOdds(counts: Float32Array, { tile, columns, rows, odds }: BorderGround): Float32Array {
  const stale = new Uint8Array(columns * rows);
  for (let i = 0; i < counts.length; i++) {
    const t = tile[i];
    if (counts[i] === odds.counts[i] || stale[t] === 2) continue;
    const column = t % columns;
    const row = (t - column) / columns;
    for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1); r++)
      for (let c = Math.max(0, column - 1); c <= Math.min(columns - 1, column + 1); c++)
        stale[r * columns + c] ||= 1;
    stale[t] = 2; // and so are all around it
  }
  for (let i = 0; i < counts.length; i++) if (stale[tile[i]]) odds.known[i] = NaN;
  odds.counts = counts;
  return odds.known;
}

/** Natural logarithm of the odds that a piece belongs inside; `counts` is above 0 for pieces inside and below for the others. */
function oddsOf(i: number, ground: BorderGround, counts: Float32Array): number {
  findLikeness(i, ground);
  const { from, to, other, share } = ground.likenesses;
  // Both sides from their sum and their difference: a branch on what lies about at random would be slow.
  let [both, more] = [0, 0];
  for (let m = from[i]; m < to[i]; m++) {
    const part = share[m] * counts[other[m]];
    both += Math.abs(part);
    more += part;
  }
  const odds = Math.log((OWN + (both + more) / 2) / (OTHER + (both - more) / 2));
  return Math.max(-MOST_ODDS, Math.min(MOST_ODDS, odds));
}

const PRECISION = ALIKE.map((deviation) => 0.5 / deviation ** 2);

/** Finds what lies near a piece and looks like it. */
export function findLikeness(i: number, ground: BorderGround): void {
  const { pieces, values, columns, rows, tile, start, member, judges, likenesses } = ground;
  if (likenesses.from[i] >= 0) return;
  const far = 2 / (REACH * pieces.cell) ** 2; // a standard deviation is half the reach
  const x = ground.middle[2 * i];
  const y = ground.middle[2 * i + 1];
  const q = AXES * i;
  const [L, u, v, texture] = [values[q], values[q + 1], values[q + 2], values[q + 3]];
  const [ofL, ofU, ofV, ofTexture] = PRECISION;
  const column = tile[i] % columns;
  const row = (tile[i] - column) / columns;
  likenesses.from[i] = likenesses.used;
  for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1); r++) {
    // The tiles of a row lie one after the other, and so do their pieces.
    const from = start[r * columns + Math.max(0, column - 1)];
    const to = start[r * columns + Math.min(columns - 1, column + 1) + 1];
    makeRoom(likenesses, to - from);
    const { other, share } = likenesses;
    let { used } = likenesses;
    // Every other one is enough to know how a neighbourhood looks.
    for (let m = from, o = JUDGE * from; m < to; m += 2, o += 2 * JUDGE) {
      const dx = judges[o] - x;
      const dy = judges[o + 1] - y;
      let d = far * (dx * dx + dy * dy);
      if (d > UNLIKE) continue;
      const dL = judges[o + 2] - L;
      const du = judges[o + 3] - u;
      const dv = judges[o + 4] - v;
      const dt = judges[o + 5] - texture;
      d += ofL * dL * dL + ofU * du * du + ofV * dv * dv + ofTexture * dt * dt;
      if (d > UNLIKE || member[m] === i) continue;
      other[used] = member[m];
      share[used++] = judges[o + 6] * Math.exp(-d);
    }
    likenesses.used = used;
  }
  likenesses.to[i] = likenesses.used;
}
