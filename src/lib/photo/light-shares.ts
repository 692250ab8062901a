import type { Lab } from '#lib/colour/index.ts';
import { WARM } from './highlight.ts';
import { checkImage, linearTable, type Image8 } from './image.ts';
import type { LinearRgb } from './light-around.ts';
import type { Mask } from './mask.ts';
import { fillHoles, guidedSmooth } from './plane-filters.ts';
import type { Point } from './region.ts';
import { albedoOf } from './shading.ts';

/** A marked surface as far as its colour is known. */
export interface LitSurface {
  readonly mask: Mask;
  /** What is on it, where that is known. */
  readonly old: Lab | null;
}

/** Places of white or grey things that one kind of light alone falls on, or nearly so; pixels. */
export interface LightPlaces {
  readonly window: readonly Point[];
  readonly lamps: readonly Point[];
}

/** How much of the light on each place of a picture comes through the window, the rest coming from lamps. */
export interface LightShares {
  readonly picture: { readonly width: number; readonly height: number };
  /** Of the grid; each of its cells stands for `cell` x `cell` pixels. */
  readonly width: number;
  readonly height: number;
  readonly cell: number;
  /** The window's share of the green light, 0-255 for 0-1. To be read with linear interpolation. */
  readonly share: Uint8Array;
  /** Colour of either light, linear, green 1. */
  readonly window: LinearRgb;
  readonly lamps: LinearRgb;
  /** The window's share of all the light in the picture, 0-1. */
  readonly mean: number;
}

/** Cells along the long side of the grid; finer, grain and veins are taken for light. */
const CELLS = 400;
/** Half the side of what is read at a place, part of the long side. */
const READ = 1 / 330;
/**
 * The window's share at places said to be lit by the window or by lamps alone: surfaces throw the other light there as
 * well. Read off one rendered kitchen, a guess elsewhere.
 */
const AT_WINDOW = 0.9;
const AT_LAMPS = 0.2;
/** Two lights whose ln channel ratios differ by less cannot be told apart from two paints. */
const LEAST_APART = 0.15;
/** How warm surfaces of rooms are in the mean (ln ratios along WARM) and how they vary: beige, wood and brass. A guess. */
const WARMTH = { mean: 0.15, spread: 0.3, weight: 2.8 } as const;
/** Surfaces meet across so many cells. */
const GAP = 3;
/** Differences of shares across a border count up to this; beyond it a corner of the room lies between. */
const MOST_STEP = 0.3;
const SHARES_TRIED = 41;
const ROUNDS = 8;
/** From this share on the lamps' light is read from around a place: what is left for it there is noise. */
const OVERPOWERED = 0.85;
const NOBODY = 255;

/**
 * Tells the light of a window from that of lamps in a corrected picture: the share of either on every place. On one
 * surface the colour moves only with the light, on a line between surface x window and surface x lamps (two lights of
 * known colour, as in Hsu and others 2008, Light mixture estimation for spatially varying white balance, ACM TOG 27(3),
 * section 3; there materials come from a vote, here from the marks of surfaces). Surfaces of unknown colour get the one
 * that makes the share run on across their borders; what is not marked takes the share of what surrounds it.
 * `old` of a surface is used where known; a surface on which a place was pointed at is otherwise white or grey there.
 * Null where nothing can be told, with `note` saying why; a note of what is doubtful else, or null.
 * Throws RangeError where masks and picture differ in size.
 */
export function lightShares(
  image: Image8,
  surfaces: readonly LitSurface[],
  places: LightPlaces,
): { shares: LightShares | null; note: string | null } {
  checkImage(image);
  for (const { mask } of surfaces)
    if (mask.width !== image.width || mask.height !== image.height)
      throw new RangeError(
        `Expected masks of ${image.width}x${image.height} like the picture, got ${mask.width}x${mask.height}`,
      );
  const none = (note: string) => ({ shares: null, note });
  const grid = cellsOf(image, surfaces);
  if (grid.owner.every((j) => j === NOBODY))
    return none(
      'Mark surfaces in this photo first: the two lights are told apart by how they change on a surface.',
    );
  const seen = { window: seenAt(image, places.window), lamps: seenAt(image, places.lamps) };
  for (const kind of ['window', 'lamps'] as const)
    if (seen[kind].length === 0)
      return none(
        `Point at something white or grey that only ${kind === 'window' ? 'the window lights' : 'lamps light'}, neither burnt out nor black.`,
      );

  const pointed = new Set<number>();
  const colour = (kind: 'window' | 'lamps') => {
    const logs = [0, 0];
    for (const { ratios, x, y } of seen[kind]) {
      const j = surfaces.findIndex(({ mask }) => mask.data[y * mask.width + x] >= 128);
      if (j >= 0) pointed.add(j);
      const old = j >= 0 ? ratiosOf(surfaces[j].old, image) : null;
      for (let c = 0; c < 2; c++) logs[c] += Math.log(ratios[c] / (old?.[c] ?? 1)) / seen[kind].length;
    }
    return [Math.exp(logs[0]), Math.exp(logs[1])] as const;
  };
  const [day, lamp] = [colour('window'), colour('lamps')];
  if (Math.hypot(Math.log(day[0] / lamp[0]), Math.log(day[1] / lamp[1])) < LEAST_APART)
    return none('The light at both kinds of places has nearly the same colour, so it cannot be told apart.');
  // Along the line of their mixtures to where either would be alone.
  const lights: Lights = { day: [0, 0], lamps: [0, 0] };
  for (let c = 0; c < 2; c++) {
    const whole = (day[c] - lamp[c]) / (AT_WINDOW - AT_LAMPS);
    lights.lamps[c] = Math.max(0.02, lamp[c] - AT_LAMPS * whole);
    lights.day[c] = Math.max(0.02, lamp[c] + (1 - AT_LAMPS) * whole);
  }

  const known = surfaces.map(
    ({ old }, j) => ratiosOf(old, image) ?? (pointed.has(j) ? ([1, 1] as const) : null),
  );
  const share = sharesOn(grid, materials(grid, known, lights), lights);
  const [window, lamps] = [lights.day, lights.lamps].map(([r, b]): LinearRgb => [r, 1, b]);
  const { width, height, cell } = grid;
  return {
    shares: {
      picture: { width: image.width, height: image.height },
      width,
      height,
      cell,
      share: Uint8Array.from(share, (v) => Math.round(255 * Math.max(0, Math.min(1, v)))),
      window,
      lamps,
      mean: meanShare(grid, share),
    },
    note: known.some((ratios) => ratios !== null)
      ? null
      : 'No surface of known colour was pointed at, so how much light is whose is a guess.',
  };
}

/** Ratios of red and blue to green. */
type Ratios = readonly [number, number];
interface Lights {
  readonly day: [number, number];
  readonly lamps: [number, number];
}

function ratiosOf(old: Lab | null, image: Image8): Ratios | null {
  if (!old) return null;
  const [r, g, b] = albedoOf(old, image.space);
  return g > 0.002 ? [Math.max(0.05, r / g), Math.max(0.05, b / g)] : null;
}

/** The picture at the size of the grid. */
interface Grid {
  readonly width: number;
  readonly height: number;
  readonly cell: number;
  /** Mean linear light of the pixels that are not burnt out, stride 3. */
  readonly light: Float32Array;
  /** Whether most of a cell's pixels are burnt out. */
  readonly burnt: Uint8Array;
  /** The surface that covers a cell wholly, or NOBODY. */
  readonly owner: Uint8Array;
}

const BURNT = 250;

function cellsOf(image: Image8, surfaces: readonly LitSurface[]): Grid {
  const { channels, data } = image;
  const table = linearTable(image.space);
  const cell = Math.max(1, Math.ceil(Math.max(image.width, image.height) / CELLS));
  const [width, height] = [Math.ceil(image.width / cell), Math.ceil(image.height / cell)];
  const light = new Float32Array(3 * width * height);
  const good = new Uint32Array(width * height);
  const all = new Uint32Array(width * height);
  for (let y = 0, i = 0; y < image.height; y++)
    for (let x = 0; x < image.width; x++, i += channels) {
      const at = Math.floor(y / cell) * width + Math.floor(x / cell);
      all[at]++;
      if (Math.max(data[i], data[i + 1], data[i + 2]) >= BURNT) continue;
      good[at]++;
      for (let c = 0; c < 3; c++) light[3 * at + c] += table[data[i + c]];
    }
  const burnt = new Uint8Array(width * height);
  for (let at = 0; at < good.length; at++) {
    burnt[at] = 2 * good[at] < all[at] ? 1 : 0;
    for (let c = 0; c < 3; c++) light[3 * at + c] = good[at] > 0 ? light[3 * at + c] / good[at] : 1;
  }
  const owner = new Uint8Array(width * height).fill(NOBODY);
  surfaces.forEach(({ mask }, j) => {
    const inside = (x: number, y: number) =>
      mask.data[Math.min(mask.height - 1, y) * mask.width + Math.min(mask.width - 1, x)] >= 250;
    for (let y = 0, at = 0; y < height; y++)
      for (let x = 0; x < width; x++, at++) {
        const [left, top] = [x * cell, y * cell];
        const [right, bottom] = [left + cell - 1, top + cell - 1];
        if (inside(left, top) && inside(right, top) && inside(left, bottom) && inside(right, bottom))
          owner[at] = j;
      }
  });
  for (let at = 0; at < owner.length; at++) if (light[3 * at + 1] < 0.003) owner[at] = NOBODY;
  return { width, height, cell, light, burnt, owner };
}

/** Ratios of the light seen at places, where they can be read. */
function seenAt(image: Image8, places: readonly Point[]): { ratios: Ratios; x: number; y: number }[] {
  const { width, height, channels, data } = image;
  const table = linearTable(image.space);
  const radius = Math.max(1, Math.round(READ * Math.max(width, height)));
  return places.flatMap(([px, py]) => {
    const x = Math.min(width - 1, Math.max(0, Math.floor(px)));
    const y = Math.min(height - 1, Math.max(0, Math.floor(py)));
    const sum = [0, 0, 0];
    let [count, bad] = [0, 0];
    for (let v = Math.max(0, y - radius); v <= Math.min(height - 1, y + radius); v++)
      for (let u = Math.max(0, x - radius); u <= Math.min(width - 1, x + radius); u++) {
        const i = (v * width + u) * channels;
        count++;
        if (Math.max(data[i], data[i + 1], data[i + 2]) >= BURNT) bad++;
        for (let c = 0; c < 3; c++) sum[c] += table[data[i + c]];
      }
    if (2 * bad > count || Math.min(...sum) < 0.004 * count) return [];
    return [{ ratios: [sum[0] / sum[1], sum[2] / sum[1]] as const, x, y }];
  });
}

const mixed = ({ day, lamps }: Lights, share: number, c: number) => share * day[c] + (1 - share) * lamps[c];

/** The window's share of a light of those ratios, unbounded: the nearest point on the line of mixtures. */
function shareOf(red: number, blue: number, { day, lamps }: Lights): number {
  const [dr, db] = [day[0] - lamps[0], day[1] - lamps[1]];
  return ((red - lamps[0]) * dr + (blue - lamps[1]) * db) / (dr * dr + db * db);
}

function cellShare({ light }: Grid, at: number, [material, lights]: readonly [Ratios, Lights]): number {
  const g = light[3 * at + 1];
  return shareOf(light[3 * at] / g / material[0], light[3 * at + 2] / g / material[1], lights);
}

/**
 * The colour of every surface. An unknown one has one unknown number: the share in which its middle colour stands. It is
 * sought surface by surface until the shares run on best across all borders, warm colours being likelier than cold ones.
 */
function materials(grid: Grid, known: readonly (Ratios | null)[], lights: Lights): (Ratios | null)[] {
  const middles = known.map((_, j) => middleOf(grid, j));
  const borders = bordersOf(grid);
  const at = (j: number, share: number): Ratios | null => {
    const middle = middles[j];
    return middle && [middle[0] / mixed(lights, share, 0), middle[1] / mixed(lights, share, 1)];
  };
  const found = known.map((ratios, j) => ratios ?? at(j, 0.5));
  const cost = (j: number, material: Ratios) => {
    let sum = 0;
    for (const { a, b, pairs } of borders) {
      if (a !== j && b !== j) continue;
      const one = a === j ? material : found[a];
      const other = b === j ? material : found[b];
      if (!one || !other) continue;
      let steps = 0;
      for (const [p, q] of pairs) {
        const step = Math.abs(cellShare(grid, p, [one, lights]) - cellShare(grid, q, [other, lights]));
        steps += Math.min(1, step / MOST_STEP);
      }
      sum += steps / Math.sqrt(pairs.length);
    }
    const warmth = Math.log(material[0]) * WARM[0] + Math.log(material[1]) * WARM[1];
    // Heavy-tailed: a blue paint is rare and no impossibility.
    return sum + WARMTH.weight * Math.log1p(((warmth - WARMTH.mean) / WARMTH.spread) ** 2);
  };
  for (let round = 0; round < ROUNDS; round++)
    for (let j = 0; j < known.length; j++) {
      if (known[j] || !middles[j]) continue;
      let least = Infinity;
      for (let k = 0; k < SHARES_TRIED; k++) {
        const material = at(j, k / (SHARES_TRIED - 1)) as Ratios;
        const value = cost(j, material);
        if (value >= least) continue;
        least = value;
        found[j] = material;
      }
    }
  return found;
}

/** Medians of a surface's ratios; null for one of hardly a cell. */
function middleOf({ light, owner, burnt }: Grid, j: number): Ratios | null {
  const [red, blue]: [number[], number[]] = [[], []];
  for (let at = 0; at < owner.length; at++)
    if (owner[at] === j && !burnt[at]) {
      red.push(light[3 * at] / light[3 * at + 1]);
      blue.push(light[3 * at + 2] / light[3 * at + 1]);
    }
  if (red.length < 12) return null;
  const middle = (values: number[]) => values.sort((p, q) => p - q)[values.length >> 1];
  return [Math.max(1e-3, middle(red)), Math.max(1e-3, middle(blue))];
}

interface CellBorder {
  readonly a: number;
  readonly b: number;
  /** Cells on either side: first that of `a`. */
  readonly pairs: (readonly [number, number])[];
}

const PAIRS_READ = 200;

function bordersOf({ width, height, owner, burnt }: Grid): CellBorder[] {
  const borders = new Map<number, CellBorder>();
  const meet = (p: number, q: number) => {
    const [i, j] = [owner[p], owner[q]];
    if (i === j || i === NOBODY || j === NOBODY || burnt[p] || burnt[q]) return;
    const [a, b] = i < j ? [i, j] : [j, i];
    const border = borders.get(256 * a + b) ?? { a, b, pairs: [] };
    border.pairs.push(i < j ? [p, q] : [q, p]);
    borders.set(256 * a + b, border);
  };
  for (let y = 0, at = 0; y < height; y++)
    for (let x = 0; x < width; x++, at++) {
      if (x + GAP < width) meet(at, at + GAP);
      if (y + GAP < height) meet(at, at + GAP * width);
    }
  return [...borders.values()].map(({ a, b, pairs }) => {
    const step = Math.ceil(pairs.length / PAIRS_READ);
    return { a, b, pairs: pairs.filter((_, k) => k % step === 0) };
  });
}

/** Shares on all cells: read on surfaces, smoothed of grain, taken from around elsewhere. */
function sharesOn(grid: Grid, found: readonly (Ratios | null)[], lights: Lights): Float32Array {
  const { width, height, owner, burnt, light } = grid;
  const size = { width, height };
  const share = new Float32Array(owner.length);
  const weight = new Float32Array(owner.length);
  for (let at = 0; at < owner.length; at++) {
    const material = owner[at] === NOBODY ? null : found[owner[at]];
    if (!material || burnt[at]) continue;
    weight[at] = 1;
    share[at] = Math.max(0, Math.min(1, cellShare(grid, at, [material, lights])));
  }
  const smooth = guidedSmooth(share, weight, { size, radius: 3, variance: 0.1 ** 2 });
  for (let at = 0; at < smooth.length; at++) if (weight[at] === 0) smooth[at] = 0;
  fillHoles([smooth], weight, size);
  // Where the sun leaves hardly anything for the lamps, their light is taken to run on from around; so it is where the
  // picture is burnt out by the sun, and at the borders of either, where a cell holds both.
  const sunny = smooth.map((v, at) => (v > OVERPOWERED || (burnt[at] && v > 0.5) ? 1 : 0));
  const lamps = smooth.map((v, at) => (1 - v) * light[3 * at + 1]);
  const trusted = new Float32Array(smooth.length);
  for (let y = 0, at = 0; y < height; y++)
    for (let x = 0; x < width; x++, at++) trusted[at] = anyNear(sunny, { x, y, size }) ? 0 : 1;
  if (fillHoles([lamps], trusted, size))
    for (let at = 0; at < smooth.length; at++)
      if (trusted[at] === 0) smooth[at] = 1 - Math.min(0.6, lamps[at] / Math.max(1e-3, light[3 * at + 1]));
  return smooth;
}

const BORDER = 2;

function anyNear(
  plane: Float32Array,
  { x, y, size }: { x: number; y: number; size: { width: number; height: number } },
): boolean {
  for (let v = Math.max(0, y - BORDER); v <= Math.min(size.height - 1, y + BORDER); v++)
    for (let u = Math.max(0, x - BORDER); u <= Math.min(size.width - 1, x + BORDER); u++)
      if (plane[v * size.width + u] > 0) return true;
  return false;
}

/** Of the light on what is marked; of all cells alike, whatever they reflect. */
function meanShare({ owner, light }: Grid, share: Float32Array): number {
  let [part, whole] = [0, 0];
  for (let at = 0; at < owner.length; at++) {
    if (owner[at] === NOBODY) continue;
    part += share[at] * light[3 * at + 1];
    whole += light[3 * at + 1];
  }
  return Math.max(0.05, Math.min(0.95, part / whole));
}
