import { encodeRgb } from '#lib/colour/index.ts';
import { findBoardPatches, type BoardPatches } from './board.ts';
import { linearTable, shrink, type Image8, type LightDeviation, type LinearImage } from './image.ts';
import { coverage, type Point, type Region } from './region.ts';

/**
 * How the light changes across a photo of a board, seen on the bare material between the painted patches: logarithm of
 * linear red, green and blue as a quadratic of place. Plain JSON.
 */
interface LightField {
  readonly width: number;
  readonly height: number;
  /** Per channel: 1, x, y, x², xy, y² with x, y from -1 to 1 across the picture's long side. */
  readonly coefficients: readonly (readonly number[])[];
  /** Part of the picture the field is known for; beyond it the value at its edge stands, pixels. */
  readonly known: {
    readonly left: number;
    readonly top: number;
    readonly right: number;
    readonly bottom: number;
  };
  /** Relative deviation that is left, of broad patches of the material from the field. */
  readonly deviation: number;
  /** Most and least light on the patches, as a ratio. */
  readonly ratio: number;
}

const CLIPPED = 254; // of 255: JPEG leaves clipped areas one step down
const WORKING = 320; // long side, pixels: grain averages out, the gaps between patches still show
const MOST_PIXELS = 6000;
const TERMS = 6;
/** A pixel further from the field than this (in logarithm) is a label, a brush, a shadow or the table. */
const STRANGE = 0.22;
/** Least share of the pixels around the patches that must be of one material for the field to be believed. */
const LEAST_SHARE = 0.45;
/** Field beside the patches: this part of the long side around them is looked at. */
const MARGIN = 0.04;

/**
 * The light across a board from the material that shows between and around its patches, taken to be the same everywhere.
 * Null where there is not enough of it or it is not of one material (less than `LEAST_SHARE` follows a smooth change).
 * Robust fit by iteratively reweighted least squares with Tukey's biweight (Beaton and Tukey 1974, Technometrics 16).
 */
function lightFieldOf(image: Image8, patches: readonly { readonly region: Region }[]): LightField | null {
  if (patches.length < 2) return null;
  const linear = shrink(image, WORKING);
  const scale = linear.width / image.width;
  const painted = paintedPixels(linear, patches, scale);
  const known = extentAround(linear, painted.corners);
  const sites = bareSites(linear, painted.inside, known);
  if (sites.length < 60) return null;
  const rows = Float64Array.from(
    sites.flatMap((i) => terms(linear, (i % linear.width) + 0.5, Math.floor(i / linear.width) + 0.5)),
  );
  const logs = Float64Array.from(
    sites.flatMap((i) => [0, 1, 2].map((c) => Math.log(Math.max(1e-4, linear.data[3 * i + c])))),
  );
  const fitted = fit(rows, logs);
  if (!fitted) return null;
  const up = 1 / scale;
  const field: LightField = {
    width: image.width,
    height: image.height,
    coefficients: fitted.coefficients,
    known: { left: known.left * up, top: known.top * up, right: known.right * up, bottom: known.bottom * up },
    deviation: broadDeviation(linear, sites, fitted),
    ratio: 1,
  };
  const levels = painted.centres.map(([x, y]) => Math.exp(logLight(field, x * up, y * up)[1]));
  return { ...field, ratio: Math.max(...levels) / Math.min(...levels) };
}

/** What lies in front of the camera, as far as its light is concerned. */
export type Scene = 'sample board' | 'one plane' | 'room';

/**
 * How much the light on one place may differ from that beside a reference where the picture does not show it: things side
 * by side in one plane; walls, fronts and floor of a room, which face window and lamps differently. Common practice, no
 * published source; set beside the rendered pictures of the sample job, whose light is known. There the logarithm of the
 * light is off by 0.7 rms at a fifth of a room's length from the paper and by 0.9 and more beyond; on a slab under one lamp
 * at arm's length by 0.1 at an eighth and 0.4 at the far end, which is an unusually near lamp.
 */
export const LIGHT_DEVIATION: Record<'one plane' | 'room', LightDeviation> = {
  'one plane': { near: 0.02, perLength: 0.25, most: 0.2 },
  room: { near: 0.06, perLength: 3, most: 0.9 },
};

/** Ratio of light across a board below which evening it out would only add noise. */
const EVEN_ENOUGH = 1.06;

/** A picture in even light, what is to be said of it, and the patches found on it where it is a board. */
export interface Evened {
  readonly image: Image8;
  readonly notes: readonly string[];
  readonly board: BoardPatches | null;
}

/**
 * The picture with its light made as even as the scene allows, and with what stays uneven stated in `lightDeviation`. On a
 * sample board the bare material between the patches shows the light, and every place is brought to the same. The channels
 * of clipped pixels stay at the top, so that they are still known as clipped.
 */
export function evened(image: Image8, scene: Scene): Evened {
  if (scene !== 'sample board') {
    return { image: { ...image, lightDeviation: LIGHT_DEVIATION[scene] }, notes: [], board: null };
  }
  const board = findBoardPatches(image);
  const field = lightFieldOf(image, board.patches);
  if (!field) return { image: { ...image, lightDeviation: LIGHT_DEVIATION['one plane'] }, notes: [], board };
  const left = Math.max(0.01, field.deviation);
  const lightDeviation = { near: left, perLength: 0, most: left };
  if (field.ratio < EVEN_ENOUGH) return { image: { ...image, lightDeviation }, notes: [], board };
  const notes = [
    `The light on this board differs ${field.ratio.toFixed(1)} times from patch to patch. It was evened out from the board ` +
      'between the patches, taken to be of one material.',
  ];
  return { image: { ...inEvenLight(image, field), lightDeviation }, notes, board };
}

/** Every pixel in the light of the dimmest known place: factors are 1 or less, so nothing new is clipped. */
function inEvenLight(image: Image8, field: LightField): Image8 {
  const { width, height, channels, data, space } = image;
  const linear = linearTable(space);
  const STEP = 16;
  const columns = Math.ceil(width / STEP) + 1;
  const rows = Math.ceil(height / STEP) + 1;
  // The field is smooth: straight lines between the points of a lattice are good to a part in a thousand.
  const lattice = new Float64Array(3 * columns * rows);
  const least = [Infinity, Infinity, Infinity];
  for (let j = 0; j < rows; j += 1) {
    for (let i = 0; i < columns; i += 1) {
      const logs = logLight(field, i * STEP, j * STEP);
      for (let c = 0; c < 3; c += 1) {
        lattice[3 * (j * columns + i) + c] = Math.exp(-logs[c]);
        least[c] = Math.min(least[c], Math.exp(logs[c]));
      }
    }
  }
  const encode = encodeTable(space);
  const out = new Uint8ClampedArray(data);
  for (let y = 0; y < height; y += 1) {
    const [j, v] = [Math.floor(y / STEP), (y % STEP) / STEP];
    for (let x = 0; x < width; x += 1) {
      const [i, u] = [Math.floor(x / STEP), (x % STEP) / STEP];
      const corner = 3 * (j * columns + i);
      const at = (y * width + x) * channels;
      if (Math.max(data[at], data[at + 1], data[at + 2]) >= CLIPPED) continue;
      for (let c = 0; c < 3; c += 1) {
        const k = corner + c;
        const up = lattice[k] + u * (lattice[k + 3] - lattice[k]);
        const below = k + 3 * columns;
        const down = lattice[below] + u * (lattice[below + 3] - lattice[below]);
        const factor = least[c] * (up + v * (down - up));
        out[at + c] = encode[Math.round(Math.min(1, linear[data[at + c]] * factor) * (encode.length - 1))];
      }
    }
  }
  return { width, height, channels, data: out, space };
}

function encodeTable(space: Image8['space']): Float32Array {
  const SIZE = 8192;
  return Float32Array.from({ length: SIZE }, (_, i) => 255 * encodeRgb(i / (SIZE - 1), space));
}

function logLight(field: LightField, x: number, y: number): [number, number, number] {
  const { left, top, right, bottom } = field.known;
  const row = terms(field, Math.min(right, Math.max(left, x)), Math.min(bottom, Math.max(top, y)));
  const value = (c: number) => field.coefficients[c].reduce((sum, k, i) => sum + k * row[i], 0);
  return [value(0), value(1), value(2)];
}

function terms(size: { readonly width: number; readonly height: number }, px: number, py: number): number[] {
  const half = Math.max(size.width, size.height) / 2;
  const [x, y] = [(px - size.width / 2) / half, (py - size.height / 2) / half];
  return [1, x, y, x * x, x * y, y * y];
}

function paintedPixels(linear: LinearImage, patches: readonly { readonly region: Region }[], scale: number) {
  const inside = new Uint8Array(linear.width * linear.height);
  const corners: Point[] = [];
  const centres: Point[] = [];
  for (const { region } of patches) {
    const small = scaledRegion(region, scale);
    const { pixels } = coverage(small, linear, 'smooth');
    let [sx, sy] = [0, 0];
    for (const i of pixels) {
      inside[i] = 1;
      const [x, y] = [i % linear.width, Math.floor(i / linear.width)];
      sx += x;
      sy += y;
      corners.push([x, y]);
    }
    centres.push([sx / pixels.length, sy / pixels.length]);
  }
  return { inside: grown(grown(inside, linear), linear), corners, centres };
}

function scaledRegion(region: Region, k: number): Region {
  if (region.kind === 'polygon')
    return { kind: 'polygon', points: region.points.map(([x, y]) => [x * k, y * k] as const) };
  if (region.kind === 'point')
    return { kind: 'point', x: region.x * k, y: region.y * k, radius: region.radius * k };
  return {
    kind: 'box',
    x: region.x * k,
    y: region.y * k,
    width: region.width * k,
    height: region.height * k,
  };
}

/** One pixel more all round: a patch's region lies a little inside its edge. */
function grown(mask: Uint8Array, { width, height }: LinearImage): Uint8Array {
  const out = Uint8Array.from(mask);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      if (mask[y * width + x] === 0) continue;
      for (let dy = -1; dy <= 1; dy += 1) {
        for (let dx = -1; dx <= 1; dx += 1) {
          const [nx, ny] = [x + dx, y + dy];
          if (nx >= 0 && ny >= 0 && nx < width && ny < height) out[ny * width + nx] = 1;
        }
      }
    }
  }
  return out;
}

function extentAround({ width, height }: LinearImage, corners: readonly Point[]): LightField['known'] {
  const margin = MARGIN * Math.max(width, height);
  const bounds = { left: width, top: height, right: 0, bottom: 0 };
  for (const [x, y] of corners) {
    bounds.left = Math.min(bounds.left, x - margin);
    bounds.top = Math.min(bounds.top, y - margin);
    bounds.right = Math.max(bounds.right, x + margin);
    bounds.bottom = Math.max(bounds.bottom, y + margin);
  }
  return {
    left: Math.max(0, bounds.left),
    top: Math.max(0, bounds.top),
    right: Math.min(width, bounds.right),
    bottom: Math.min(height, bounds.bottom),
  };
}

function bareSites({ width }: LinearImage, painted: Uint8Array, known: LightField['known']): number[] {
  const sites: number[] = [];
  for (let y = Math.ceil(known.top); y < Math.floor(known.bottom); y += 1) {
    for (let x = Math.ceil(known.left); x < Math.floor(known.right); x += 1) {
      if (painted[y * width + x] === 0) sites.push(y * width + x);
    }
  }
  const stride = Math.max(1, Math.ceil(sites.length / MOST_PIXELS));
  return sites.filter((_, i) => i % stride === 0);
}

interface Fitted {
  coefficients: number[][];
  weights: Float64Array;
  residuals: Float64Array;
}

function fit(rows: Float64Array, logs: Float64Array): Fitted | null {
  const count = logs.length / 3;
  const weights = new Float64Array(count).fill(1);
  const residuals = new Float64Array(3 * count);
  let coefficients: number[][] = [];
  // Wide at first, so that the commonest material wins whatever lies on it; then as strict as the material allows.
  for (const reach of [3, 1.5, 0.9, 0.6, 0.45, 0.35, STRANGE * 1.2, STRANGE, STRANGE, STRANGE]) {
    coefficients = [];
    for (let c = 0; c < 3; c += 1) {
      const solved = solve(rows, logs, weights, c);
      if (!solved) return null;
      coefficients.push(solved);
    }
    for (let i = 0; i < count; i += 1) {
      let farthest = 0;
      for (let c = 0; c < 3; c += 1) {
        let value = logs[3 * i + c];
        for (let k = 0; k < TERMS; k += 1) value -= coefficients[c][k] * rows[TERMS * i + k];
        residuals[3 * i + c] = value;
        farthest = Math.max(farthest, Math.abs(value));
      }
      const u = farthest / reach;
      weights[i] = u < 1 ? (1 - u * u) ** 2 : 0;
    }
  }
  const following = weights.reduce((sum, w) => sum + (w > 0 ? 1 : 0), 0) / count;
  return following < LEAST_SHARE ? null : { coefficients, weights, residuals };
}

/** Weighted least squares of one channel by Gaussian elimination; a small ridge keeps a poorly spread board flat. */
function solve(
  rows: Float64Array,
  logs: Float64Array,
  weights: Float64Array,
  channel: number,
): number[] | null {
  const m = Array.from({ length: TERMS }, () => new Array<number>(TERMS + 1).fill(0));
  let total = 0;
  for (let i = 0; i < weights.length; i += 1) {
    const w = weights[i];
    if (w === 0) continue;
    total += w;
    for (let p = 0; p < TERMS; p += 1) {
      const wp = w * rows[TERMS * i + p];
      for (let q = 0; q < TERMS; q += 1) m[p][q] += wp * rows[TERMS * i + q];
      m[p][TERMS] += wp * logs[3 * i + channel];
    }
  }
  if (total < TERMS * 4) return null;
  for (let p = 1; p < TERMS; p += 1) m[p][p] += 1e-4 * total;
  for (let p = 0; p < TERMS; p += 1) {
    for (let r = 0; r < TERMS; r += 1) {
      if (r === p) continue;
      const factor = m[r][p] / m[p][p];
      for (let q = p; q <= TERMS; q += 1) m[r][q] -= factor * m[p][q];
    }
  }
  return m.map((row, p) => row[TERMS] / row[p]);
}

/** Deviation of the means of broad blocks of the material from the field: what is left is not only grain. */
function broadDeviation(
  linear: LinearImage,
  sites: readonly number[],
  { weights, residuals }: Fitted,
): number {
  const BLOCK = 20;
  const blocks = new Map<number, { sum: number[]; weight: number }>();
  sites.forEach((site, i) => {
    const key = Math.floor((site % linear.width) / BLOCK) + 1000 * Math.floor(site / linear.width / BLOCK);
    const block = blocks.get(key) ?? { sum: [0, 0, 0], weight: 0 };
    for (let c = 0; c < 3; c += 1) block.sum[c] += weights[i] * residuals[3 * i + c];
    block.weight += weights[i];
    blocks.set(key, block);
  });
  let [squares, count] = [0, 0];
  for (const { sum, weight } of blocks.values()) {
    if (weight < 8) continue;
    squares += sum.reduce((s, v) => s + (v / weight) ** 2, 0) / 3;
    count += 1;
  }
  return count > 1 ? Math.sqrt(squares / count) : STRANGE / 2;
}
