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

const REACH = 0.45; // cells: how far the edge may lie from the border of the pieces
const MIXED = 0.1; // weight of pieces at the border itself: they may hold both sides
const LEAST = [2.5, 1.2, 1.2]; // least standard deviation of L, u, v on one side
const CLEAR = 3; // contrast in standard deviations from which a pixel's cover can be read from its colour
const TRUST = 0.03; // weight of a pixel's own colour at most, against 1 for each neighbour of the same tone
const CERTAIN = 3; // natural logarithm of odds at which a pixel's own colour has its full weight
const HABIT = 0.02; // weight of the side a pixel's piece is on
const GRAIN = 1.5; // feature units: a step between neighbours that halves their tie where there is no grain
const SPECKLE = 0.3; // of the spread inside the pieces near by: steps that grain explains
const SWEEPS = 12;
const HASTE = 1.4; // over-relaxation

/**
 * A mask with the edge drawn by the picture. Within a band along the border of the pieces, values of 1 (inside) and -1
 * spread from both rims from pixel to pixel, the less the larger the step of colour between them measured by the grain
 * near by; each pixel also leans to the side whose colours near by explain it better. The edge is where the value passes
 * 0, and a pixel it runs through is covered by the share its colour says: the place of its colour on the line between
 * the two sides, as in the matting equation I = aF + (1 - a)B.
 * Source: the random walker with priors of Grady 2005, CVPR, 763-770, eq. 8, by successive over-relaxation.
 */
export function softMask(input: EdgeInput): Mask {
  const { features, pieces, graph, inside } = input;
  const { width, height, label } = pieces;
  const { data } = features;
  const n = width * height;
  const out = new Uint8Array(n);
  for (let p = 0; p < n; p++) out[p] = inside[label[p]] ? 255 : 0;
  const mixed = borderPieces(graph, inside);
  const { band, place } = bandOf(pieces, out, mixed);
  if (band.length === 0) return { width, height, data: out };
  const sides: (Sides | null | undefined)[] = new Array(pieces.count);
  for (const p of band)
    if (sides[label[p]] === undefined)
      sides[label[p]] = sidesAround(label[p], { pieces, graph, inside, mixed });
  const value = relaxed(input, { band, place, out, sides, mixed });
  const cover = out.slice();
  const isInside = (p: number) => (place[p] >= 0 ? value[place[p]] > 0 : out[p] > 0);
  for (let k = 0; k < band.length; k++) {
    const p = band[k];
    const own = value[k] > 0;
    const x = p % width;
    const edge =
      (x > 0 && isInside(p - 1) !== own) ||
      (x + 1 < width && isInside(p + 1) !== own) ||
      (p >= width && isInside(p - width) !== own) ||
      (p + width < n && isInside(p + width) !== own);
    const near = sides[label[p]];
    if (!edge) cover[p] = own ? 255 : 0;
    else if (near && near.contrast >= CLEAR) cover[p] = shareOf(data, 3 * p, near);
    else cover[p] = Math.round(127.5 * (1 + Math.max(-1, Math.min(1, value[k]))));
  }
  return { width, height, data: cover };
}

/** 1 for the pieces with a neighbour on the other side. */
function borderPieces(graph: Neighbourhood, inside: Uint8Array): Uint8Array {
  return inside.map((own, i) => {
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) if (inside[graph.other[e]] !== own) return 1;
    return 0;
  });
}

/** Pixels within REACH of the border in reading order, and the place of each pixel among them, -1 for the others. */
function bandOf(
  { width, height, start, pixels, count, cell }: Superpixels,
  out: Uint8Array,
  mixed: Uint8Array,
): { band: Int32Array; place: Int32Array } {
  const n = width * height;
  const place = new Int32Array(n).fill(-1);
  const found: number[] = [];
  for (let i = 0; i < count; i++) {
    if (!mixed[i]) continue;
    for (let j = start[i]; j < start[i + 1]; j++) {
      const p = pixels[j];
      const x = p % width;
      if (
        (x > 0 && out[p - 1] !== out[p]) ||
        (x + 1 < width && out[p + 1] !== out[p]) ||
        (p >= width && out[p - width] !== out[p]) ||
        (p + width < n && out[p + width] !== out[p])
      ) {
        place[p] = 0;
        found.push(p);
      }
    }
  }
  const reach = Math.max(2, Math.round(REACH * cell));
  const meet = (q: number) => {
    if (place[q] >= 0) return;
    place[q] = 0;
    found.push(q);
  };
  for (let ring = 2, head = 0; ring <= reach; ring++)
    for (const end = found.length; head < end; head++) {
      const p = found[head];
      const x = p % width;
      if (x > 0) meet(p - 1);
      if (x + 1 < width) meet(p + 1);
      if (p >= width) meet(p - width);
      if (p + width < n) meet(p + width);
    }
  const band = new Int32Array(found.length);
  for (let p = 0, k = 0; k < band.length; p++)
    if (place[p] >= 0) {
      band[k] = p;
      place[p] = k++;
    }
  return { band, place };
}

interface Band {
  readonly band: Int32Array;
  readonly place: Int32Array;
  readonly out: Uint8Array;
  /** Per piece of the band; null where only one side is near. */
  readonly sides: readonly (Sides | null | undefined)[];
  readonly mixed: Uint8Array;
}

/** The value of each pixel of the band, -1 to 1. */
function relaxed(
  { features, pieces, graph }: EdgeInput,
  { band, place, out, sides, mixed }: Band,
): Float32Array {
  const { width, height, label, spread } = pieces;
  const { data } = features;
  const n = width * height;
  const m = band.length;
  const value = Float32Array.from(band, (p) => (out[p] ? 1 : -1));
  const grain = new Float32Array(pieces.count);
  for (let i = 0; i < pieces.count; i++) {
    if (sides[i] === undefined) continue;
    let [sum, total] = [0, 0];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++)
      if (!mixed[graph.other[e]]) {
        sum += spread[graph.other[e]];
        total++;
      }
    grain[i] = GRAIN ** 2 + (SPECKLE * (total ? sum / total : spread[i])) ** 2;
  }
  const tie = (p: number, q: number) => {
    const [a, b] = [3 * p, 3 * q];
    const step =
      (data[a] - data[b]) ** 2 + 4 * ((data[a + 1] - data[b + 1]) ** 2 + (data[a + 2] - data[b + 2]) ** 2);
    return 1 / (1 + (step / grain[label[p]]) ** 2);
  };
  // Per pixel: ties to the right, below, left, above, and the value there where it lies outside the band.
  const ties = new Float32Array(4 * m);
  const whole = new Float32Array(m);
  const fixed = new Float32Array(m);
  const next = new Int32Array(4 * m).fill(-1);
  for (let k = 0; k < m; k++) {
    const p = band[k];
    const x = p % width;
    for (let s = 0; s < 4; s++) {
      const q = s === 0 ? p + 1 : s === 1 ? p + width : s === 2 ? p - 1 : p - width;
      if (q < 0 || q >= n || (s === 0 && x + 1 >= width) || (s === 2 && x === 0)) continue;
      const there = place[q];
      const strength = s >= 2 && there >= 0 ? ties[4 * there + s - 2] : tie(p, q);
      whole[k] += strength;
      if (there >= 0) {
        ties[4 * k + s] = strength;
        next[4 * k + s] = there;
      } else fixed[k] += strength * (out[q] ? 1 : -1);
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
