import { minimumCut } from './cut.ts';
import type { Image8 } from './image.ts';
import { localOdds, samplesOf, type Samples } from './local-odds.ts';
import { checkMask, type Mask } from './mask.ts';
import { AXES } from './mixture.ts';
import { mergedRegions, type Regions } from './regions.ts';
import { shadingFeatures, smoothed, type ShadingFeatures } from './shading-features.ts';
import { softMask } from './soft-edge.ts';
import { straightened } from './straight-edges.ts';
import { traced, type Stroke, type Trace } from './stroke.ts';
import { neighbourhood, superpixels, type Neighbourhood, type Superpixels } from './superpixels.ts';
import { conductances, grown, mixtureInside, reached, strangeness, type Growth } from './surface-growth.ts';
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
  readonly regions: Regions;
  /** Parts of the regions, to ask what lies near a place. */
  readonly samples: Samples;
  /** Growth of strokes seen lately. */
  readonly remembered: Map<string, Growth>;
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

/** Makes a picture ready for selecting (about half a second for 2048 x 1365). RangeError where it is no picture. */
export function prepareSelection(image: Image8): Selector {
  const raw = shadingFeatures(image);
  const features = smoothed(raw);
  const { width, height } = image;
  // A small picture is cut into smaller pieces, so that it has enough of them.
  const cell = Math.max(4, Math.min(CELL, Math.round(Math.sqrt((width * height) / 5000))));
  const pieces = superpixels(features, cell);
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
    regions,
    samples: samplesOf(pieces, regions),
  };
  return { ...selector, remembered: new Map(), covered: new WeakMap() };
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
 * edges, cut out at the cheapest border, with a soft edge from the picture. Later strokes win over earlier ones.
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
  const adding = traces.filter((_, i) => strokes[i].mode === 'add');
  if (adding.length === 0) {
    notes.push('Nothing is selected: draw on the surface first.');
    return { mask: { width, height, data: new Uint8Array(width * height) }, notes };
  }
  const taken = takenRegions(selector, others);
  const removed = new Uint8Array(regions.count);
  traces.forEach((trace, i) => {
    if (strokes[i].mode === 'remove') for (const r of touchedRegions(trace, regions)) removed[r] = 1;
  });
  const closed = taken.map((t, i) => (t || removed[i] ? 1 : 0));
  const growths = adding.map((trace) => remember(selector, trace, closed));
  const chosen = cutOut(selector, growths, { closed, removed, elsewhere });
  const inside = Uint8Array.from(regions.of, (r) => chosen[r]);
  settleStrokes(selector, { inside, strokes, traces });
  if (inside.every((v) => v === 1)) {
    notes.push(
      regions.count === 1
        ? 'The picture shows no edge, so the whole of it is selected.'
        : 'The whole picture is selected. Draw with “remove” where the surface ends.',
    );
  } else if (!inside.includes(1)) notes.push('Nothing is left selected: every part was removed again.');
  const { mask } = straightened(softMask({ ...selector, inside }));
  if (others.length) leaveToOthers(mask, others, { named: unlessNamed(growths, regions), pieces });
  return { mask, notes };
}

/** Regions mostly covered by masks of other surfaces. */
function takenRegions(selector: Selector, others: readonly Mask[]): Uint8Array {
  const { width, height, pieces, regions, covered } = selector;
  const sums = new Float64Array(regions.count);
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
    for (let i = 0; i < pieces.count; i++) sums[regions.of[i]] += cover[i];
  }
  return Uint8Array.from(sums, (sum, r) => (sum > 0.6 * regions.size[r] ? 1 : 0));
}

function touchedRegions(trace: Trace, regions: Regions): number[] {
  const touched = new Map<number, number>();
  for (const [piece, pixels] of trace.pieces)
    touched.set(regions.of[piece], (touched.get(regions.of[piece]) ?? 0) + pixels);
  return [...touched].filter(([r, n]) => n > 0.04 * trace.total || n > 0.3 * regions.size[r]).map(([r]) => r);
}

/** The growth of a stroke, from memory where the same was asked lately. */
function remember(selector: Selector, trace: Trace, closed: Uint8Array): Growth {
  const { regions, values, remembered } = selector;
  const key = `${[...trace.pieces].join(' ')}|${closed.join('')}`;
  const known = remembered.get(key);
  if (known) return known;
  const growth = grown(trace, regions, { values, closed });
  if (remembered.size >= REMEMBERED) remembered.delete(remembered.keys().next().value as string);
  remembered.set(key, growth);
  return growth;
}

const UNIT = 3; // pixels of area that a pixel of open border outweighs
const PLAIN_BORDER = 0.06; // price of a border even along a strong edge
const FAINT_BORDER = 1; // price of a border along a faint edge: no frayed outlines, yet handles stay out
const FAINT = 20; // barrier that is no longer faint
const LOOKS = 3; // times the neighbourhood of the border is looked at again
const ODDS = 1; // steps of depth that a unit of the logarithm of odds outweighs
const MOST_ODDS = 4;
const MOST_DEPTH = 1.5;
const SAID = 3; // weight of what a stroke covers itself
const STRANGE = 3; // standard deviations from every stroke: such a region is no good example
const BURNT = 98; // L: what is burnt out says nothing about its surface

/**
 * Which regions are inside: the cheapest cut through the growths of all strokes, looked at again near its border. There
 * a region also goes by what lies near it on either side and looks like it, so that a white jar on a stone counter goes
 * with the white things outside although the sun burns the same stone out elsewhere.
 */
function cutOut(
  selector: Selector,
  growths: readonly Growth[],
  input: { closed: Uint8Array; removed: Uint8Array; elsewhere: boolean },
): Uint8Array {
  const { regions, samples } = selector;
  const { closed, removed } = input;
  const { count, size, values, graph } = regions;
  const { first, other, twin } = graph;
  const { seeds, beyond, strange } = together(regions, growths, input);
  const open = conductances(regions, 1);
  const faint = conductances(regions, FAINT);
  const capacity = graph.border.map(
    (border, e) => UNIT * (10 * open[e] + 10 * FAINT_BORDER * faint[e] + PLAIN_BORDER * border),
  );
  const pull = new Float32Array(count);
  let chosen: Uint8Array = Uint8Array.from(beyond, (b, i) => (b <= 0 || seeds[i] ? 1 : 0));
  for (let look = 0; look < LOOKS; look++) {
    const weight = Float32Array.from(chosen, (c, i) =>
      seeds[i] ? SAID : removed[i] ? -SAID : !c ? -1 : strange[i] > STRANGE ? 0.3 : 1,
    );
    const asked = nearBorder(regions, chosen);
    for (let i = 0; i < count; i++) {
      const told = asked[i] ? Math.max(0, Math.min(1, (BURNT - values[AXES * i]) / 6)) : 0;
      const odds = told > 0 ? told * localOdds(i, samples, weight) : 0;
      const depth = Math.max(-MOST_DEPTH, Math.min(MOST_DEPTH, -beyond[i]));
      const vote = depth + ODDS * Math.max(-MOST_ODDS, Math.min(MOST_ODDS, odds));
      pull[i] = seeds[i] ? 1e7 : closed[i] ? -1e7 : size[i] * Math.max(-1, Math.min(1, vote)) * 0.6;
    }
    chosen = minimumCut({ count, first, other, twin, capacity, pull });
  }
  fillHoles(regions, chosen, closed);
  return chosen;
}

/** The growths of all strokes in one: what one of them reaches is reached. */
function together(
  regions: Regions,
  growths: readonly Growth[],
  { closed, elsewhere }: { closed: Uint8Array; elsewhere: boolean },
): Omit<Growth, 'tolerance'> {
  const { count } = regions;
  const seeds = new Uint8Array(count);
  const beyond = new Float64Array(count).fill(Infinity);
  const strange = new Float64Array(count).fill(Infinity);
  for (const growth of growths)
    for (let i = 0; i < count; i++) {
      if (growth.seeds[i]) seeds[i] = 1;
      beyond[i] = Math.min(beyond[i], growth.beyond[i]);
      strange[i] = Math.min(strange[i], growth.strange[i]);
    }
  if (elsewhere) {
    const inside = Uint8Array.from(beyond, (b) => (b <= 0 ? 1 : 0));
    const tolerance = Math.max(...growths.map((growth) => growth.tolerance));
    const more = likewise(regions, { inside, closed, tolerance });
    for (let i = 0; i < count; i++) beyond[i] = Math.min(beyond[i], more[i]);
  }
  return { seeds, beyond, strange };
}

/** 1 for regions at the border of what is chosen and their neighbours. */
function nearBorder({ count, graph }: Regions, chosen: Uint8Array): Uint8Array {
  const { first, other } = graph;
  const near = new Uint8Array(count);
  for (let i = 0; i < count; i++)
    for (let e = first[i]; e < first[i + 1]; e++)
      if (chosen[other[e]] !== chosen[i]) {
        near[i] = 1;
        for (let f = first[i]; f < first[i + 1]; f++) near[other[f]] = 1;
        break;
      }
  return near;
}

/** Takes in what lies wholly within and looks much like it; handles and gaps look different and stay out. */
function fillHoles(regions: Regions, chosen: Uint8Array, closed: Uint8Array): void {
  const { count, size, graph } = regions;
  if (!chosen.includes(1)) return;
  const strange = strangeness(mixtureInside(regions, chosen), regions);
  const seen = Uint8Array.from(chosen);
  const whole = size.reduce((sum, s) => sum + s, 0);
  for (let i = 0; i < count; i++) {
    if (seen[i]) continue;
    const hole = [i];
    seen[i] = 1;
    let [area, oddity, shut] = [0, 0, false];
    for (let head = 0; head < hole.length; head++) {
      const k = hole[head];
      area += size[k];
      oddity += size[k] * strange[k];
      if (closed[k]) shut = true;
      for (let e = graph.first[k]; e < graph.first[k + 1]; e++)
        if (!seen[graph.other[e]]) {
          seen[graph.other[e]] = 1;
          hole.push(graph.other[e]);
        }
    }
    if (!shut && area < whole * LARGEST_HOLE && oddity < area * HOLE_STRANGE)
      for (const k of hole) chosen[k] = 1;
  }
}

const LARGEST_HOLE = 0.0008; // of the picture
const HOLE_STRANGE = 2.5; // standard deviations, mean over the hole

const LEAST_PART = 1 / 1500; // of the picture: a part elsewhere smaller than this is a coincidence
const SAME = 1.5; // standard deviations
const CLIPPED = 92; // L: what is burnt out says nothing about its surface

/** Depths of the regions reached from parts of the picture that look like what is inside already. */
function likewise(
  regions: Regions,
  { inside, closed, tolerance }: { inside: Uint8Array; closed: Uint8Array; tolerance: number },
): Float64Array {
  const { count, size, values, graph } = regions;
  const mixture = mixtureInside(regions, inside);
  const strange = strangeness(mixture, regions);
  const whole = size.reduce((sum, s) => sum + s, 0);
  const seeds = new Uint8Array(count);
  for (let i = 0; i < count; i++) {
    if (inside[i]) seeds[i] = 1;
    else if (!closed[i] && strange[i] < SAME && size[i] > whole * LEAST_PART && values[AXES * i] < CLIPPED) {
      let around = 1;
      for (let e = graph.first[i]; e < graph.first[i + 1]; e++) around += graph.border[e];
      if ((2 * size[i]) / around > 10) seeds[i] = 1;
    }
  }
  return reached(regions, { seeds, mixture, closed, tolerance }).beyond;
}

/** Where strokes of both kinds meet in one region, each piece goes with the stroke it is nearest to in steps of colour. */
function settleStrokes(
  { pieces, graph, regions }: Selector,
  input: { inside: Uint8Array; strokes: readonly Stroke[]; traces: readonly Trace[] },
): void {
  const { inside, strokes, traces } = input;
  if (!strokes.some(({ mode }) => mode === 'remove')) return;
  const sign = new Int8Array(pieces.count);
  const cost = new Float64Array(pieces.count).fill(Infinity);
  const says = new Uint8Array(regions.count);
  traces.forEach((trace, i) => {
    for (const piece of trace.pieces.keys()) {
      sign[piece] = strokes[i].mode === 'add' ? 1 : -1;
      cost[piece] = 0;
    }
  });
  for (let i = 0; i < pieces.count; i++) if (sign[i]) says[regions.of[i]] |= sign[i] > 0 ? 1 : 2;
  // Rounds of relaxation within a region: few regions hold both kinds, and they are small.
  const queue: number[] = [];
  for (let i = 0; i < pieces.count; i++) if (sign[i] && says[regions.of[i]] === 3) queue.push(i);
  for (let head = 0; head < queue.length; head++) {
    const i = queue[head];
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const j = graph.other[e];
      if (regions.of[j] !== regions.of[i]) continue;
      const next = cost[i] + 1 + graph.step[e] ** 2;
      if (next < cost[j]) {
        cost[j] = next;
        sign[j] = sign[i];
        queue.push(j);
      }
    }
  }
  for (let i = 0; i < pieces.count; i++) if (sign[i]) inside[i] = sign[i] > 0 ? 1 : 0;
}

/** Takes out what masks of other surfaces cover, except where a stroke says otherwise. */
function leaveToOthers(
  mask: Mask,
  others: readonly Mask[],
  { named, pieces }: { named: Uint8Array; pieces: Superpixels },
): void {
  for (const { data } of others)
    for (let p = 0; p < data.length; p++)
      if (data[p] > 0 && mask.data[p] > 255 - data[p] && !named[pieces.label[p]])
        mask.data[p] = 255 - data[p];
}

/** Regions that a stroke names itself: masks of other surfaces do not hold there. */
function unlessNamed(growths: readonly Growth[], regions: Regions): Uint8Array {
  const named = new Uint8Array(regions.count);
  for (const { seeds } of growths) for (let i = 0; i < seeds.length; i++) if (seeds[i]) named[i] = 1;
  return Uint8Array.from(regions.of, (r) => named[r]);
}
