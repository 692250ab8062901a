import { borderPrices, cutOut } from './cut-out.ts';
import { faintLines } from './faint-lines.ts';
import type { Image8 } from './image.ts';
import { samplesOf, type Samples } from './local-odds.ts';
import { checkMask, type Mask } from './mask.ts';
import { AXES } from './mixture.ts';
import { mergedRegions, type Regions } from './regions.ts';
import { shadingFeatures, smoothed, type ShadingFeatures } from './shading-features.ts';
import { takenAway } from './removal.ts';
import { softMask } from './soft-edge.ts';
import { straightened } from './straight-edges.ts';
import { traced, type Stroke, type Trace } from './stroke.ts';
import { neighbourhood, superpixels, type Neighbourhood, type Superpixels } from './superpixels.ts';
import { examplesOf, strangeBeside } from './strangeness.ts';
import { grown, type Growth } from './surface-growth.ts';
import { textures } from './texture.ts';

/** A picture made ready for selecting; made once, used for every stroke. What it remembers only saves time. */
export interface Selector {
  readonly width: number;
  readonly height: number;
  readonly features: ShadingFeatures;
  readonly pieces: Superpixels;
  readonly graph: Neighbourhood;
  /** L, u, v, texture of every piece, stride `AXES`. */
  readonly values: Float32Array;
  /** Middle of every piece in pixels, stride 2. */
  readonly middle: Float32Array;
  readonly regions: Regions;
  /** Parts of the regions, to ask what lies near a place. */
  readonly samples: Samples;
  /** Price of each border between regions. */
  readonly prices: Float32Array;
  /** Growth of strokes seen lately. */
  readonly remembered: Map<string, Growth>;
  /** How unlike each piece is what a taking-away stroke seen lately covers. */
  readonly unlikeness: Map<string, Float32Array>;
  /** Share of each piece that a mask of another surface covers. */
  readonly covered: WeakMap<Uint8Array, Float32Array>;
}

export interface SelectionOptions {
  /** Also take what looks the same elsewhere in the picture, not touching what the strokes reach. */
  readonly elsewhere: boolean;
  /** Surfaces already marked, of the picture's size; what they cover is left out unless a stroke says otherwise. */
  readonly others?: readonly Mask[];
}

export interface Selection {
  readonly mask: Mask;
  /** What the user should know, in words; none where all went as usual. */
  readonly notes: readonly string[];
}

const CELL = 10; // pixels: side of a piece at the usual working size
const MOST_BARRIER = 2;
const REMEMBERED = 24;
const MOSTLY = 0.6; // of a region
const CLAIM = 0.4; // of a stroke on other surfaces: less is a slip of the hand

/** Makes a picture ready for selecting (about two seconds for 2048 x 1365). RangeError where it is no picture. */
export function prepareSelection(image: Image8): Selector {
  const raw = shadingFeatures(image);
  const features = smoothed(raw);
  const { width, height } = image;
  // A small picture is cut into smaller pieces, so that it has enough of them.
  const cell = Math.max(4, Math.min(CELL, Math.round(Math.sqrt((width * height) / 5000))));
  const pieces = superpixels(features, cell, faintLines(raw));
  const graph = neighbourhood(pieces, features);
  const values = pieceValues(pieces, textures(pieces, raw));
  const sizes = Int32Array.from({ length: pieces.count }, (_, i) => pieces.start[i + 1] - pieces.start[i]);
  const regions = mergedRegions({ sizes, values, graph }, MOST_BARRIER);
  const selector = {
    width,
    height,
    features,
    pieces,
    graph,
    values,
    middle: middles(pieces),
    regions,
    samples: samplesOf(pieces, regions),
    prices: borderPrices(regions),
  };
  return { ...selector, remembered: new Map(), unlikeness: new Map(), covered: new WeakMap() };
}

function middles({ count, start, pixels, width }: Superpixels): Float32Array {
  const out = new Float32Array(2 * count);
  for (let i = 0; i < count; i++) {
    let [x, y] = [0, 0];
    for (let j = start[i]; j < start[i + 1]; j++) {
      x += pixels[j] % width;
      y += Math.floor(pixels[j] / width);
    }
    out[2 * i] = x / (start[i + 1] - start[i]);
    out[2 * i + 1] = y / (start[i + 1] - start[i]);
  }
  return out;
}

function pieceValues({ count, mean }: Superpixels, texture: Float32Array): Float32Array {
  const values = new Float32Array(count * AXES);
  for (let i = 0; i < count; i++) {
    // In the dark the chromaticity is mostly noise.
    const sure = Math.max(0, Math.min(1, (mean[3 * i] + 5) / 40));
    values[AXES * i] = mean[3 * i];
    values[AXES * i + 1] = mean[3 * i + 1] * sure;
    values[AXES * i + 2] = mean[3 * i + 2] * sure;
    values[AXES * i + 3] = texture[i];
  }
  return values;
}

/**
 * The surface that strokes name: regions that look like what an adding stroke covers and are not parted from it by
 * edges, cut out at the cheapest border, with a soft edge from the picture. A taking-away stroke takes what it reaches more
 * freely than the adding ones do, and what looks like it near by; where strokes cross, the later one wins. What another
 * surface covers stays its own, unless a good part of a stroke lies there.
 * Throws TypeError or RangeError for strokes that are none or lie outside the picture, and for masks of another size.
 */
export function select(
  selector: Selector,
  strokes: readonly Stroke[],
  { elsewhere, others = [] }: SelectionOptions,
): Selection {
  const { width, height, pieces, regions } = selector;
  const notes: string[] = [];
  const traces = strokes.map((stroke, i) => traced(stroke, pieces, `stroke ${i + 1}`));
  if (traces.some(({ cut }) => cut))
    notes.push('A part of a stroke lies outside the picture and was left out.');
  if (!strokes.some(({ mode }) => mode === 'add')) {
    notes.push('Nothing is selected: draw on the surface first.');
    return { mask: { width, height, data: new Uint8Array(width * height) }, notes };
  }
  const covered = covers(selector, others);
  const taken = takenRegions(selector, covered);
  const drawn = traces.filter((_, i) => strokes[i].mode === 'add');
  const adding = drawn.map((trace) => ownPart(trace, covered, pieces));
  const growths = adding.map((trace) => remember(selector, trace, taken));
  const away = takenAway(selector, {
    says: saidOf(pieces, strokes, traces),
    named: anyOf(growths.map(({ seeds }) => seeds)),
    inside: anyOf(growths.map(({ beyond }) => beyond.map((b) => (b <= 0 ? 1 : 0)))),
    like: leastOf(growths.map(({ beside }) => beside.strange)),
    unlike: leastOf(
      traces.flatMap((t, i) => (strokes[i].mode === 'remove' ? [unlikeness(selector, t)] : [])),
    ),
  });
  const removed = mostly(selector, away);
  const closed = taken.map((t, i) => (t || removed[i] ? 1 : 0));
  const chosen = cutOut(selector, growths, { closed, removed, elsewhere });
  const inside = Uint8Array.from(regions.of, (r, i) => (away[i] ? 0 : chosen[r]));
  if (inside.every((v) => v === 1)) {
    notes.push(
      regions.count === 1
        ? 'The picture shows no edge, so the whole of it is selected.'
        : 'The whole picture is selected. Draw with “remove” where the surface ends.',
    );
  } else if (!inside.includes(1)) notes.push('Nothing is left selected: every part was removed again.');
  const { mask } = straightened(softMask({ ...selector, inside }));
  if (covered) {
    const claims = growths.filter((_, i) => isClaim(drawn[i], covered, pieces));
    leaveToOthers(mask, others, { claimed: claimedPieces(claims, regions), pieces });
  }
  return { mask, notes };
}

/**
 * Marks saved before, whose strokes are gone, without what taking-away strokes take of them: as in `select`, where what
 * the marks cover stands for adding strokes. A later adding stroke among `strokes` holds what it covers.
 * Throws as `select` does.
 */
export function lessened(selector: Selector, saved: Mask, strokes: readonly Stroke[]): Mask {
  const { pieces, regions, graph } = selector;
  const traces = strokes.map((stroke, i) => traced(stroke, pieces, `stroke ${i + 1}`));
  if (!strokes.some(({ mode }) => mode === 'remove')) return saved;
  const covered = covers(selector, [saved]) as Float32Array;
  const says = saidOf(pieces, strokes, traces);
  const held = Array.from(covered.keys()).filter((i) => isCovered(i, covered, pieces) && says[i] >= 0);
  if (held.length === 0) return { ...saved, data: new Uint8Array(saved.data.length) };
  const away = takenAway(selector, {
    says,
    named: new Uint8Array(regions.count),
    inside: takenRegions(selector, covered),
    like: strangeBeside(examplesOf(held, selector), selector, { anywhere: true }).strange,
    unlike: leastOf(
      traces.flatMap((t, i) => (strokes[i].mode === 'remove' ? [unlikeness(selector, t)] : [])),
    ),
  });
  const inside = away.map((gone, i) => (!gone && isCovered(i, covered, pieces) ? 1 : 0));
  const { data } = straightened(softMask({ ...selector, inside })).mask;
  // Only where something went is the edge a new one.
  const fresh = away.map((gone, i) => {
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) if (away[graph.other[e]]) return 1;
    return gone;
  });
  return {
    ...saved,
    data: saved.data.map((v, p) => (fresh[pieces.label[p]] ? Math.min(v, data[p]) : v)),
  };
}

/** Pixels of each piece that masks of other surfaces cover; null where there are none. */
function covers({ width, height, pieces, covered }: Selector, others: readonly Mask[]): Float32Array | null {
  if (others.length === 0) return null;
  const sums = new Float32Array(pieces.count);
  for (const mask of others) {
    checkMask(mask);
    if (mask.width !== width || mask.height !== height)
      throw new RangeError(
        `Expected masks of the picture's ${width}x${height}, got one of ${mask.width}x${mask.height}`,
      );
    let cover = covered.get(mask.data);
    if (!cover) {
      cover = new Float32Array(pieces.count);
      for (let p = 0; p < mask.data.length; p++) cover[pieces.label[p]] += mask.data[p] / 255;
      covered.set(mask.data, cover);
    }
    for (let i = 0; i < pieces.count; i++) sums[i] += cover[i];
  }
  return sums;
}

/** Regions mostly covered by masks of other surfaces. */
function takenRegions({ regions }: Selector, covered: Float32Array | null): Uint8Array {
  const sums = new Float64Array(regions.count);
  covered?.forEach((sum, i) => (sums[regions.of[i]] += sum));
  return Uint8Array.from(sums, (sum, r) => (sum > MOSTLY * regions.size[r] ? 1 : 0));
}

/** Whether a good part of a stroke lies on other surfaces: then it means them, else its hand slipped. */
function isClaim(trace: Trace, covered: Float32Array, pieces: Superpixels): boolean {
  let taken = 0;
  for (const [piece, pixels] of trace.pieces) if (isCovered(piece, covered, pieces)) taken += pixels;
  return taken > CLAIM * trace.total;
}

function isCovered(piece: number, covered: Float32Array, { start }: Superpixels): boolean {
  return covered[piece] > 0.5 * (start[piece + 1] - start[piece]);
}

/** The pieces of a stroke that are free; all of them where it claims those that are not. */
function ownPart(trace: Trace, covered: Float32Array | null, pieces: Superpixels): Trace {
  if (!covered || isClaim(trace, covered, pieces)) return trace;
  const free = new Map([...trace.pieces].filter(([piece]) => !isCovered(piece, covered, pieces)));
  let total = 0;
  for (const pixels of free.values()) total += pixels;
  return { ...trace, pieces: free, total };
}

/** Per piece what the last stroke over it says: 1 add, -1 take away, 0 nothing. */
function saidOf({ count }: Superpixels, strokes: readonly Stroke[], traces: readonly Trace[]): Int8Array {
  const says = new Int8Array(count);
  traces.forEach((trace, i) => {
    for (const piece of trace.pieces.keys()) says[piece] = strokes[i].mode === 'add' ? 1 : -1;
  });
  return says;
}

function leastOf(values: readonly Float32Array[]): Float32Array {
  if (values.length < 2) return values[0] ?? new Float32Array(0);
  return values[0].map((_, i) => Math.min(...values.map((v) => v[i])));
}

function anyOf(flags: readonly ArrayLike<number>[]): Uint8Array {
  return Uint8Array.from(flags[0], (_, i) => (flags.some((flag) => flag[i]) ? 1 : 0));
}

/** Regions most of whose pixels are taken away. */
function mostly({ pieces, regions }: Selector, away: Uint8Array): Uint8Array {
  const sums = new Float64Array(regions.count);
  for (let i = 0; i < pieces.count; i++)
    if (away[i]) sums[regions.of[i]] += pieces.start[i + 1] - pieces.start[i];
  return Uint8Array.from(sums, (sum, r) => (sum > MOSTLY * regions.size[r] ? 1 : 0));
}

/** The growth of a stroke, from memory where the same was asked lately. */
function remember(selector: Selector, trace: Trace, closed: Uint8Array): Growth {
  const key = `${[...trace.pieces].join(' ')}|${closed.join('')}`;
  return recalled(selector.remembered, key, () => grown(trace, selector.regions, { ...selector, closed }));
}

/** Per piece: squared standard deviations from what a taking-away stroke covers, the way to it included. */
function unlikeness(selector: Selector, { pieces }: Trace): Float32Array {
  const members = [...pieces.keys()];
  return recalled(
    selector.unlikeness,
    members.join(' '),
    () => strangeBeside(examplesOf(members, selector), selector, { anywhere: false }).strange,
  );
}

function recalled<T>(memory: Map<string, T>, key: string, found: () => T): T {
  const known = memory.get(key);
  if (known !== undefined) return known;
  const value = found();
  if (memory.size >= REMEMBERED) memory.delete(memory.keys().next().value as string);
  memory.set(key, value);
  return value;
}

/** Takes out what masks of other surfaces cover, except where a stroke claims it. */
function leaveToOthers(
  mask: Mask,
  others: readonly Mask[],
  { claimed, pieces }: { claimed: Uint8Array; pieces: Superpixels },
): void {
  const { data } = mask;
  for (let p = 0; p < data.length; p++) {
    if (data[p] === 0 || claimed[pieces.label[p]]) continue;
    for (let k = 0; k < others.length; k++) {
      const free = 255 - others[k].data[p];
      if (data[p] > free) data[p] = free;
    }
  }
}

/** Pieces that a stroke claims although they belong to another surface. */
function claimedPieces(claims: readonly Growth[], regions: Regions): Uint8Array {
  const named = new Uint8Array(regions.count);
  for (const { seeds } of claims) for (let i = 0; i < seeds.length; i++) if (seeds[i]) named[i] = 1;
  return Uint8Array.from(regions.of, (r) => named[r]);
}
