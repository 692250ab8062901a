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

const SURE = 4; // evidence (natural logarithm of odds) beyond which a pixel is settled
const HABIT = 0.8; // evidence of the piece a pixel belongs to
const MIXED = 0.1; // weight of pieces at the border itself: they may hold both sides
const LEAST = [2.5, 1.2, 1.2]; // least standard deviation of L, u, v on one side
const CLEAR = 3; // contrast in standard deviations from which a pixel's cover can be read from its colour

/**
 * A mask with the edge drawn by the picture: along the border of the pieces each pixel goes to the side whose colours
 * near by explain it better, and a pixel the edge runs through is covered by the share its colour says: the place of
 * its colour on the line between the two sides, as in the matting equation I = aF + (1 - a)B.
 */
export function softMask({ features, pieces, graph, inside }: EdgeInput): Mask {
  const { width, height, label, start, pixels, count } = pieces;
  const { data } = features;
  const out = new Uint8Array(width * height);
  for (let p = 0; p < out.length; p++) out[p] = inside[label[p]] ? 255 : 0;
  const mixed = new Uint8Array(count);
  const band: number[] = [];
  for (let i = 0; i < count; i++)
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++)
      if (inside[graph.other[e]] !== inside[i]) {
        mixed[i] = 1;
        band.push(i);
        break;
      }
  if (band.length === 0) return { width, height, data: out };
  const sides = new Map<number, Sides>();
  const evidence = new Float32Array(width * height);
  for (const i of band) {
    const near = sidesAround(i, { pieces, graph, inside, mixed });
    if (!near) continue;
    sides.set(i, near);
    for (let j = start[i]; j < start[i + 1]; j++) {
      const at = 3 * pixels[j];
      let odds = near.constant;
      for (let k = 0; k < 3; k++) {
        const value = data[at + k];
        odds +=
          (value - near.outside[k]) ** 2 * near.outsidePrecision[k] -
          (value - near.inside[k]) ** 2 * near.insidePrecision[k];
      }
      evidence[pixels[j]] = Math.max(-SURE, Math.min(SURE, odds / 2)) + (inside[i] ? HABIT : -HABIT);
    }
  }
  // Smoothed over the neighbours: a lone pixel of the other side is grain.
  const at = (p: number) => (evidence[p] !== 0 ? evidence[p] : out[p] ? SURE : -SURE);
  const settled = new Float32Array(width * height);
  for (const i of sides.keys())
    for (let j = start[i]; j < start[i + 1]; j++) {
      const p = pixels[j];
      const x = p % width;
      const left = x > 0 ? 1 : 0;
      const right = x + 1 < width ? 1 : 0;
      const up = p >= width ? width : 0;
      const down = p + width < out.length ? width : 0;
      settled[p] =
        (4 * at(p) +
          2 * (at(p - left) + at(p + right) + at(p - up) + at(p + down)) +
          at(p - left - up) +
          at(p + right - up) +
          at(p - left + down) +
          at(p + right + down)) /
          16 || 1e-6;
    }
  const side = (p: number) => (settled[p] !== 0 ? settled[p] > 0 : out[p] > 0);
  const cover = out.slice();
  for (const [i, near] of sides)
    for (let j = start[i]; j < start[i + 1]; j++) {
      const p = pixels[j];
      const own = side(p);
      const x = p % width;
      const edge =
        (x > 0 && side(p - 1) !== own) ||
        (x + 1 < width && side(p + 1) !== own) ||
        (p >= width && side(p - width) !== own) ||
        (p + width < out.length && side(p + width) !== own);
      if (!edge) cover[p] = own ? 255 : 0;
      else if (near.contrast >= CLEAR) cover[p] = shareOf(data, 3 * p, near);
      else cover[p] = Math.round(255 / (1 + Math.exp(-settled[p])));
    }
  return { width, height, data: cover };
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
