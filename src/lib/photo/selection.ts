import { borderCut } from './border-cut.ts';
import { cutOut } from './cut-out.ts';
import type { Mask } from './mask.ts';
import { covers, leaveToOthers } from './other-surfaces.ts';
import type { Regions } from './regions.ts';
import { takenAway } from './removal.ts';
import type { Selector } from './selector.ts';
import { softMask, type EdgeMemory } from './soft-edge.ts';
import { straightened } from './straight-edges.ts';
import { countsUnder, traced, type Stroke, type Trace } from './stroke.ts';
import { examplesOf, strangeBeside } from './strangeness.ts';
import type { Neighbourhood, Superpixels } from './superpixels.ts';
import { grown, type Growth } from './surface-growth.ts';

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

const REMEMBERED = 24;
const MOSTLY = 0.6; // of a region
const CLAIM = 0.4; // of a stroke on other surfaces: then it means them
const LONG = 8; // sides of a piece that a stroke runs on another surface: less is a slip of the hand
const ROUND = 4; // small pieces round what a stroke claims or takes where the edge may move

/**
 * The surface that strokes name: regions that look like what an adding stroke covers and are not parted from it by
 * edges, cut out at the cheapest border; the border looked at again on small pieces, with a soft edge from the picture. A
 * taking-away stroke takes what it reaches more freely than the adding ones do, and what looks like it near by; where
 * strokes cross, the later one wins. What another surface covers stays its own, unless a good part of a stroke lies there.
 * Throws TypeError or RangeError for strokes that are none or lie outside the picture, and for masks of another size.
 */
export function select(
  selector: Selector,
  strokes: readonly Stroke[],
  { elsewhere, others = [] }: SelectionOptions,
): Selection {
  const { width, height, pieces, regions, parts, small, pieceOf, remembered } = selector;
  const notes: string[] = [];
  const traces = tracesOf(selector, strokes);
  if (traces.some(({ cut }) => cut))
    notes.push('A part of a stroke lies outside the picture and was left out.');
  if (!strokes.some(({ mode }) => mode === 'add')) {
    notes.push('Nothing is selected: draw on the surface first.');
    return { mask: { width, height, data: new Uint8Array(width * height) }, notes };
  }
  const smallCover = covers(selector, others);
  const cover = smallCover && gathered(smallCover, pieceOf, pieces.count);
  const taken = mostlyCovered(regions, cover);
  const closed = { regions: taken, key: taken.join('') };
  const adding: Adding[] = [];
  for (const [i, trace] of traces.entries()) {
    if (strokes[i].mode !== 'add') continue;
    const claim = claimOf(trace, cover, pieces);
    const growth = growthOf(selector, ownPart(trace, claim, { cover, pieces }), closed);
    adding.push({ stroke: i, claim, growth });
  }
  const growths = adding.map(({ growth }) => growth);
  const away = takenAway(selector, {
    says: saidOf(pieces, strokes, traces),
    named: anyOf(growths.map(({ seeds }) => seeds)),
    inside: reachedBy(growths, regions),
    like: leastOf(growths.map(({ beside }) => beside.strange)),
    unlike: unlikeTaking(selector, strokes, traces),
  });
  const gone = new Float32Array(pieces.count);
  for (let i = 0; i < gone.length; i++) if (away[i]) gone[i] = sizeOf(i, pieces);
  const removed = mostlyCovered(parts, gone);
  const chosen = cutOut(selector, growths, {
    closedRegions: anyOf([taken, mostlyCovered(regions, gone)]),
    closed: anyOf([mostlyCovered(parts, cover), removed]),
    removed,
    elsewhere,
  });
  const { held, claimed } = heldBy(selector, { strokes, traces, adding, removed, cover: smallCover });
  const rough = new Uint8Array(small.pieces.count);
  for (let i = 0; i < rough.length; i++)
    rough[i] = held[i] ? (held[i] > 0 ? 1 : 0) : away[pieceOf[i]] ? 0 : chosen[parts.of[pieceOf[i]]];
  const inside = borderCut(small, rough, held);
  if (!inside.includes(0)) {
    notes.push(
      regions.count === 1
        ? 'The picture shows no edge, so the whole of it is selected.'
        : 'The whole picture is selected. Choose “Take away” and draw where the surface ends.',
    );
  } else if (!inside.includes(1)) notes.push('Nothing is left selected: every part was removed again.');
  const mask = drawnMask(selector, inside, remembered.edges);
  if (smallCover) leaveToOthers(mask, selector, { others, cover: smallCover, inside, claimed });
  return { mask, notes };
}

/** An adding stroke, its number among all, and what it came to. */
interface Adding {
  readonly stroke: number;
  readonly claim: Claim;
  readonly growth: Growth;
}

/**
 * Small pieces that strokes or other surfaces settle: 1 inside, -1 outside, 0 open; and which of those of other surfaces
 * are open because a stroke claims them.
 */
function heldBy(
  { pieces, regions, parts, small, pieceOf }: Selector,
  {
    strokes,
    traces,
    adding,
    removed,
    cover,
  }: {
    strokes: readonly Stroke[];
    traces: readonly Trace[];
    adding: readonly Adding[];
    /** 1 for the parts that were taken away. */
    removed: Uint8Array;
    cover: Float32Array | null;
  },
): { held: Int8Array; claimed: Uint8Array } {
  const { count } = small.pieces;
  const held = new Int8Array(count);
  const claimed = new Uint8Array(count);
  const under = traces.map((trace) => smallUnder(small.pieces, trace));
  const meant = new Map(adding.map(({ stroke, growth }) => [stroke, growth.members]));
  const ofOthers = new Uint8Array(count);
  if (cover) {
    for (let i = 0; i < count; i++) if (isCovered(i, cover, small.pieces)) ofOthers[i] = 1;
    const named = new Uint8Array(regions.count);
    for (const { claim, growth } of adding)
      if (claim.whole) for (let r = 0; r < named.length; r++) if (growth.seeds[r]) named[r] = 1;
    for (let i = 0; i < count; i++) claimed[i] = named[regions.of[pieceOf[i]]];
    const from = adding.flatMap(({ stroke, claim }) =>
      under[stroke].filter((k) => claim.pieces.has(pieceOf[k])),
    );
    for (const i of ringed(small.graph, from, { rings: ROUND, within: ofOthers })) claimed[i] = 1;
    for (let i = 0; i < count; i++) if (ofOthers[i] && !claimed[i]) held[i] = -1;
  }
  // A tap means the whole part it points at, however much of the same look lies around.
  for (const { stroke } of adding) {
    const { tapped } = traces[stroke];
    const part = tapped === null ? -1 : parts.of[pieces.label[tapped]];
    if (part >= 0 && !removed[part])
      for (let i = 0; i < count; i++) if (parts.of[pieceOf[i]] === part && held[i] === 0) held[i] = 1;
  }
  strokes.forEach((_, i) => {
    const members = meant.get(i);
    for (const k of under[i])
      if (!members) held[k] = -1;
      else if (members.has(pieceOf[k]) && (claimed[k] || !ofOthers[k])) held[k] = 1;
  });
  return { held, claimed };
}

/**
 * Marks saved before, whose strokes are gone, without what taking-away strokes take of them: as in `select`, where what
 * the marks cover stands for adding strokes. A later adding stroke among `strokes` holds what it covers.
 * Throws as `select` does.
 */
export function lessened(selector: Selector, saved: Mask, strokes: readonly Stroke[]): Mask {
  const { pieces, regions, small, pieceOf, remembered } = selector;
  const traces = tracesOf(selector, strokes);
  if (!strokes.some(({ mode }) => mode === 'remove')) return saved;
  const smallCover = covers(selector, [saved]) as Float32Array;
  const cover = gathered(smallCover, pieceOf, pieces.count);
  const says = saidOf(pieces, strokes, traces);
  const kept: number[] = [];
  for (let i = 0; i < pieces.count; i++) if (isCovered(i, cover, pieces) && says[i] >= 0) kept.push(i);
  if (kept.length === 0) return { ...saved, data: new Uint8Array(saved.data.length) };
  const away = takenAway(selector, {
    says,
    named: new Uint8Array(regions.count),
    inside: mostlyCovered(regions, cover),
    like: strangeBeside(examplesOf(kept, selector), selector, { anywhere: true }).strange,
    unlike: unlikeTaking(selector, strokes, traces),
  });
  const held = new Int8Array(small.pieces.count);
  for (let i = 0; i < held.length; i++) if (!isCovered(i, smallCover, small.pieces)) held[i] = -1;
  strokes.forEach(({ mode }, i) => {
    for (const k of smallUnder(small.pieces, traces[i]))
      if (mode === 'remove') held[k] = -1;
      else if (isCovered(k, smallCover, small.pieces)) held[k] = 1;
  });
  const rough = new Uint8Array(small.pieces.count);
  const gone: number[] = [];
  for (let i = 0; i < rough.length; i++) {
    rough[i] = held[i] ? (held[i] > 0 ? 1 : 0) : away[pieceOf[i]] ? 0 : 1;
    if (!rough[i] && isCovered(i, smallCover, small.pieces)) gone.push(i);
  }
  // Where nothing was taken the marks stay as they are.
  const fresh = new Uint8Array(small.pieces.count);
  for (const i of ringed(small.graph, gone, { rings: ROUND, within: null })) fresh[i] = 1;
  for (let i = 0; i < held.length; i++) if (!fresh[i] && !held[i]) held[i] = rough[i] ? 1 : -1;
  const inside = borderCut(small, rough, held);
  const { data } = drawnMask(selector, inside, remembered.lessenedEdges);
  const { label } = small.pieces;
  const less = saved.data.slice();
  for (let p = 0; p < less.length; p++) if (fresh[label[p]] && data[p] < less[p]) less[p] = data[p];
  return { ...saved, data: less };
}

const AIMED = 0.4; // sides of a piece: no brush is taken for narrower

function drawnMask({ features, small, remembered }: Selector, inside: Uint8Array, memory: EdgeMemory): Mask {
  const soft = softMask({ features, pieces: small.pieces, graph: small.graph, inside }, memory);
  return straightened(soft, remembered.lines).mask;
}

function sizeOf(i: number, { start }: Superpixels): number {
  return start[i + 1] - start[i];
}

function tracesOf({ pieces, remembered }: Selector, strokes: readonly Stroke[]): Trace[] {
  return strokes.map((stroke, i) =>
    recalled(remembered.traces, `${stroke.mode} ${stroke.radius} ${stroke.points.join(' ')}`, () =>
      traced({ ...stroke, radius: aimed(stroke.radius, pieces) }, pieces, `stroke ${i + 1}`),
    ),
  );
}

/** Radius of the part of a brush that a hand aims with: the rim of a wide one grazes what is not meant. */
function aimed(radius: number, { cell }: Superpixels): number {
  return Math.min(radius, Math.max(radius / 2, AIMED * cell));
}

/** Small pieces more than half of which lie under a stroke, and the one a tap points at. */
function smallUnder(pieces: Superpixels, { pixels, tapped }: Trace): number[] {
  const counts = countsUnder(pixels, pieces.label);
  const whole = [...counts].filter(([i, count]) => count > 0.5 * sizeOf(i, pieces)).map(([i]) => i);
  return tapped === null || whole.includes(pieces.label[tapped]) ? whole : [...whole, pieces.label[tapped]];
}

/** Sums over small pieces as sums over what they lie in. */
function gathered(sums: Float32Array, of: Int32Array, count: number): Float32Array {
  const out = new Float32Array(count);
  for (let i = 0; i < of.length; i++) out[of[i]] += sums[i];
  return out;
}

/** Regions of whose pixels most are covered. In: covered pixels of each piece; null for none. */
function mostlyCovered({ count, of, size }: Regions, cover: Float32Array | null): Uint8Array {
  const mostly = new Uint8Array(count);
  if (!cover) return mostly;
  const sums = new Float64Array(count);
  for (let i = 0; i < cover.length; i++) sums[of[i]] += cover[i];
  for (let r = 0; r < count; r++) mostly[r] = sums[r] > MOSTLY * size[r] ? 1 : 0;
  return mostly;
}

interface Claim {
  /** Pieces of other surfaces that a stroke means all the same. */
  readonly pieces: ReadonlySet<number>;
  /** Whether it means what it covers of them as a whole, and not a place among them. */
  readonly whole: boolean;
}

/**
 * What of other surfaces a stroke means: all it touches where a good part of it lies there, else what it runs along for
 * long. The rest is a slip of the hand.
 */
function claimOf(trace: Trace, cover: Float32Array | null, pieces: Superpixels): Claim {
  const runs: { pieces: number[]; pixels: number }[] = [];
  let before = false;
  for (const [piece, pixels] of trace.pieces) {
    const taken = isCovered(piece, cover, pieces);
    if (taken) {
      if (!before) runs.push({ pieces: [], pixels: 0 });
      runs[runs.length - 1].pieces.push(piece);
      runs[runs.length - 1].pixels += pixels;
    }
    before = taken;
  }
  const whole = runs.reduce((sum, run) => sum + run.pixels, 0) > CLAIM * trace.total;
  const long = whole ? runs : runs.filter(({ pixels }) => pixels > LONG * pieces.cell * trace.breadth);
  return { pieces: new Set(long.flatMap((run) => run.pieces)), whole };
}

function isCovered(piece: number, cover: Float32Array | null, pieces: Superpixels): boolean {
  return cover !== null && cover[piece] > 0.5 * sizeOf(piece, pieces);
}

/** The pieces of a stroke that are free or claimed. */
function ownPart(
  trace: Trace,
  claim: Claim,
  { cover, pieces }: { cover: Float32Array | null; pieces: Superpixels },
): Trace {
  const own = new Map(
    [...trace.pieces].filter(([piece]) => claim.pieces.has(piece) || !isCovered(piece, cover, pieces)),
  );
  let total = 0;
  for (const pixels of own.values()) total += pixels;
  return { ...trace, pieces: own, total };
}

/** Pieces and those within `rings` steps of them, where not all count those of `within` only. */
function ringed(
  { first, other }: Neighbourhood,
  from: readonly number[],
  { rings, within }: { rings: number; within: Uint8Array | null },
): Set<number> {
  const met = new Set(from);
  let rim = [...met];
  for (let ring = 0; ring < rings; ring++) {
    const next: number[] = [];
    for (const i of rim)
      for (let e = first[i]; e < first[i + 1]; e++)
        if (!met.has(other[e]) && (!within || within[other[e]])) {
          met.add(other[e]);
          next.push(other[e]);
        }
    rim = next;
  }
  return met;
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
  const out = values[0].slice();
  for (const value of values) for (let i = 0; i < out.length; i++) if (value[i] < out[i]) out[i] = value[i];
  return out;
}

/** 1 for the regions that one of the strokes reaches. */
function reachedBy(growths: readonly Growth[], { count }: Regions): Uint8Array {
  const out = new Uint8Array(count);
  for (const { beyond } of growths) for (let r = 0; r < count; r++) if (beyond[r] <= 0) out[r] = 1;
  return out;
}

function anyOf(flags: readonly ArrayLike<number>[]): Uint8Array {
  const out = new Uint8Array(flags[0].length);
  for (const flag of flags) for (let i = 0; i < out.length; i++) if (flag[i]) out[i] = 1;
  return out;
}

function growthOf(
  selector: Selector,
  trace: Trace,
  closed: { readonly regions: Uint8Array; readonly key: string },
): Growth {
  const key = `${[...trace.pieces].join(' ')}|${closed.key}`;
  const ground = { ...selector, closed: closed.regions };
  return recalled(selector.remembered.growths, key, () => grown(trace, selector.regions, ground));
}

/** Per piece: squared standard deviations from what taking-away strokes cover, the way to it included. */
function unlikeTaking(
  selector: Selector,
  strokes: readonly Stroke[],
  traces: readonly Trace[],
): Float32Array {
  const taking = traces.filter((_, i) => strokes[i].mode === 'remove');
  return leastOf(
    taking.map(({ pieces }) => {
      const members = [...pieces.keys()];
      return recalled(
        selector.remembered.unlikeness,
        members.join(' '),
        () => strangeBeside(examplesOf(members, selector), selector, { anywhere: false }).strange,
      );
    }),
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
