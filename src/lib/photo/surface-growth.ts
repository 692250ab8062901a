import { depthBeyond, diffused } from './diffusion.ts';
import { AXES, fitMixture, logLikelihood, type Mixture } from './mixture.ts';
import type { Regions } from './regions.ts';
import { examplesOf, strangeBeside, strangeRegions, type Beside, type Ground } from './strangeness.ts';
import type { Trace } from './stroke.ts';

/** What a stroke reaches among the regions of a picture. */
export interface Growth {
  /** 1 for the regions the stroke itself names. */
  readonly seeds: Uint8Array;
  /** Pieces that the stroke means, since enough of it looks like them, and how many of their pixels lie under it. */
  readonly members: ReadonlyMap<number, number>;
  /** Pixels under the stroke from which on it names a region. */
  readonly enough: number;
  /** Per region: how far beyond the best border it lies (see `depthBeyond`); 0 and below is inside. */
  readonly beyond: Float64Array;
  /** Per region: standard deviations from the nearest colour and texture under the stroke. */
  readonly strange: Float64Array;
  /** The same per part, and 1 for the parts the stroke names. */
  readonly strangeParts: Float64Array;
  readonly namedParts: Uint8Array;
  /** Per piece: how unlike what the stroke covers near by, and how far from it. */
  readonly beside: Beside;
  /** How much of a barrier the stroke crossed on its way, 1 for an unbroken surface. */
  readonly tolerance: number;
}

/** Least standard deviations of L, u, v and texture within one surface: shade changes L, hardly the rest. */
const SHADED = [10, 1.6, 1.6, 0.4];

const SUPPORT = 0.05; // of a stroke's pixels must look alike to count: a handle it crosses does not
const NAMED = 0.04; // of a stroke's pixels in a region make it a seed
const SHORTEST = 2.2; // cells: a stroke that runs so far on something means it, however long it is
const MOST_TOLERANCE = 2;
const DEPTHS = [0, 3] as const; // in steps of e
const LEAK = 1e-4; // of a border lets through whatever the barrier, so that the equations stay well behaved
const LOSS = 0.0005; // per 100 pixels: reach of some hundred pixels on one tone
const STRANGE_LOSS = 0.014;
const USUAL = 1.2; // standard deviations that cost nothing on the way
const STRANGE_DEPTH = 0.8;
const ALIKE = 1.5; // standard deviations that cost nothing in the end

/** How much each border of the regions lets through, with barriers lowered by `tolerance`. */
export function conductances({ graph, barriers }: Regions, tolerance: number): Float64Array {
  const out = new Float64Array(graph.other.length);
  for (let e = 0; e < out.length; e++)
    out[e] = (graph.border[e] / 10) * (Math.exp(-barriers[e] / tolerance) + LEAK);
  return out;
}

/** Distance of each region's colour and texture from the nearest of a mixture, in standard deviations. */
export function strangeness(mixture: Mixture, { count, values }: Regions): Float64Array {
  const plain = { ...mixture, height: new Float64Array(mixture.count) };
  const out = new Float64Array(count);
  for (let i = 0; i < count; i++) out[i] = Math.sqrt(Math.max(0, -2 * logLikelihood(plain, values, i)));
  return out;
}

/** What one stroke reaches. `closed` regions belong to others; `values` are those of the pieces, stride AXES. */
export function grown(
  trace: Trace,
  regions: Regions,
  ground: Ground & { readonly closed: Uint8Array; readonly parts: Regions },
): Growth {
  const { values, closed, parts } = ground;
  const alike = (i: number, j: number) => {
    let d = 0;
    for (let a = 0; a < AXES && d < 4; a++) {
      const off = (values[AXES * i + a] - values[AXES * j + a]) / SHADED[a];
      d += off * off;
    }
    return d < 4;
  };
  const meant = SHORTEST * ground.pieces.cell * trace.breadth;
  const needed = Math.min(meant, SUPPORT * trace.total);
  const under = [...trace.pieces];
  let met = [...trace.pieces.keys()].filter((i, at) => {
    // What a stroke met just before and after is most alike, and then no more need be asked.
    let support = 0;
    for (let k = 0; k < under.length && support <= needed; k++) {
      const [j, pixels] = under[(at + k) % under.length];
      if (alike(i, j)) support += pixels;
    }
    return support > needed;
  });
  if (met.length === 0) met = [...trace.pieces.keys()];
  const tapped = trace.tapped === null ? null : ground.pieces.label[trace.tapped];
  if (tapped !== null && trace.pieces.has(tapped) && !met.includes(tapped)) met.push(tapped);
  const members = new Map(met.map((piece) => [piece, trace.pieces.get(piece) ?? 0]));
  const enough = Math.min(meant, NAMED * trace.total);
  const seeds = namedIn({ members, enough }, regions);
  if (tapped !== null && members.has(tapped)) seeds[regions.of[tapped]] = 1;
  const beside = strangeBeside(examplesOf(met, ground), ground, { anywhere: true });
  const strange = strangeRegions(beside.strange, ground.pieces, regions);
  return {
    ...reached(regions, { seeds, strange, closed, tolerance: crossed(seeds, regions), depths: DEPTHS }),
    beside,
    strangeParts: strangeRegions(beside.strange, ground.pieces, parts),
    namedParts: namedIn({ members, enough }, parts),
    members,
    enough,
  };
}

/** 1 for the regions that a stroke names; at least one. */
function namedIn(
  { members, enough }: Pick<Growth, 'members' | 'enough'>,
  { count, of, size }: Pick<Regions, 'count' | 'of' | 'size'>,
): Uint8Array {
  const under = new Float64Array(count);
  for (const [piece, pixels] of members) under[of[piece]] += pixels;
  const named = new Uint8Array(count);
  for (let r = 0; r < count; r++) named[r] = under[r] > enough || under[r] > 0.3 * size[r] ? 1 : 0;
  if (!named.includes(1)) {
    let most = 0;
    for (let r = 1; r < count; r++) if (under[r] > under[most]) most = r;
    named[most] = 1;
  }
  return named;
}

/** The growth from given seeds: what looks like the mixture and is not parted from them by edges. */
export function reached(
  regions: Regions,
  input: {
    seeds: Uint8Array;
    strange: Float64Array;
    closed: Uint8Array;
    tolerance: number;
    /** Between which its border is looked for. */
    depths: readonly [number, number];
  },
): Pick<Growth, 'seeds' | 'beyond' | 'strange' | 'tolerance'> {
  const { count, size, graph } = regions;
  const { seeds, strange, tolerance, depths } = input;
  const closed = input.closed.slice();
  for (let i = 0; i < count; i++) if (seeds[i]) closed[i] = 0;
  const loss = new Float64Array(count);
  let least = 0;
  for (let i = 0; i < count; i++) {
    loss[i] = (size[i] / 100) * (LOSS + STRANGE_LOSS * Math.max(0, strange[i] - USUAL) ** 2);
    if (seeds[i]) least += size[i];
  }
  const medium = { count, graph, conductance: conductances(regions, tolerance), loss };
  const arriving = diffused(medium, seeds, closed);
  const depth = new Float64Array(count);
  for (let i = 0; i < count; i++)
    if (!seeds[i])
      depth[i] =
        -Math.log(Math.max(1e-9, arriving[i])) + STRANGE_DEPTH * Math.max(0, strange[i] - ALIKE) ** 2;
  const beyond = depthBeyond(depth, { medium, size, least, from: depths[0], to: depths[1] });
  return { seeds, beyond, strange, tolerance };
}

/**
 * The barriers a stroke went over from one of its regions to the next: whoever draws across the gaps of doors means
 * them all. The barrier not exceeded by four fifths of the links that join the seeds (a shortest spanning tree).
 */
function crossed(seeds: Uint8Array, regions: Regions): number {
  const { count, graph } = regions;
  const links: [number, number, number][] = [];
  for (let i = 0; i < count; i++)
    if (seeds[i])
      for (let e = graph.first[i]; e < graph.first[i + 1]; e++)
        if (seeds[graph.other[e]] && graph.other[e] > i) links.push([regions.barriers[e], i, graph.other[e]]);
  links.sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2]);
  const parent = new Map<number, number>();
  const find = (i: number): number => {
    const up = parent.get(i);
    return up === undefined ? i : find(up);
  };
  const joining: number[] = [];
  for (const [height, i, j] of links) {
    const [a, b] = [find(i), find(j)];
    if (a === b) continue;
    parent.set(a, b);
    joining.push(height);
  }
  const typical = joining[Math.floor((joining.length - 1) * 0.5)] ?? 1;
  return Math.max(1, Math.min(MOST_TOLERANCE, typical));
}

/** The mixture of all regions inside. */
export function mixtureInside(regions: Regions, inside: Uint8Array): Mixture {
  const members: number[] = [];
  for (let i = 0; i < regions.count; i++) if (inside[i]) members.push(i);
  return fitMixture(regions.values, { most: 10, least: SHADED, members, weight: (i) => regions.size[i] });
}
