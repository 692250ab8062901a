import { diffused } from './diffusion.ts';
import { AXES } from './mixture.ts';
import { barrier, type Regions } from './regions.ts';
import type { Neighbourhood, Superpixels } from './superpixels.ts';
import { conductances } from './surface-growth.ts';

interface RemovalInput {
  readonly pieces: Superpixels;
  readonly graph: Neighbourhood;
  /** L, u, v, texture of every piece, stride `AXES`. */
  readonly values: Float32Array;
  readonly regions: Regions;
}

const LEAK = 1e-3; // of a border lets through whatever the barrier
const LOSS = 1e-6;
const TOLERANCE = 1.5; // barriers are lowered by
const LEAN = 0.06; // per 100 pixels: pull of the kind of stroke a piece looks like
const SURE = 4; // squared standard deviations

interface TakingInput {
  /** Per piece: 1 under an adding stroke, -1 under a taking-away one, else 0; the later stroke's. */
  readonly says: Int8Array;
  /** Per region: 1 where an adding stroke names it. */
  readonly named: Uint8Array;
  /** Per region: 1 where tentatively selected. */
  readonly inside: Uint8Array;
  /** Per piece: squared standard deviations from what adding and taking-away strokes cover. */
  readonly like: Float32Array;
  readonly unlike: Float32Array;
}

/**
 * What taking-away strokes take of a tentative selection. Every place goes with the kind of stroke that reaches it more
 * freely, adding or taking away; regions a taking-away stroke touches are looked at piece by piece. What only such a
 * stroke reaches goes whole.
 * Out: per piece 1 where it is taken away.
 * Source: random walks to the seeds of two labels, Grady 2006, IEEE TPAMI 28(11), 1768-1783.
 */
export function takenAway(
  { pieces, graph, values, regions }: RemovalInput,
  { says, named, inside, like, unlike }: TakingInput,
): Uint8Array {
  const { of } = regions;
  const away = new Uint8Array(pieces.count);
  const apart = new Uint8Array(regions.count);
  for (let i = 0; i < pieces.count; i++) if (says[i] < 0) apart[of[i]] = 1;
  if (!apart.includes(1)) return away;
  const nodeOfRegion = new Int32Array(regions.count).fill(-1);
  const nodeOfPiece = new Int32Array(pieces.count).fill(-1);
  let count = 0;
  for (let r = 0; r < regions.count; r++) if (inside[r] && !apart[r]) nodeOfRegion[r] = count++;
  for (let i = 0; i < pieces.count; i++) nodeOfPiece[i] = apart[of[i]] ? count++ : nodeOfRegion[of[i]];
  const open = conductances(regions, TOLERANCE);
  const links: Links = { from: [], to: [], lets: [] };
  for (let r = 0; r < regions.count; r++) {
    if (nodeOfRegion[r] < 0) continue;
    for (let e = regions.graph.first[r]; e < regions.graph.first[r + 1]; e++) {
      const there = nodeOfRegion[regions.graph.other[e]];
      if (there >= 0) link(links, [nodeOfRegion[r], there], open[e]);
    }
  }
  const size = (i: number) => pieces.start[i + 1] - pieces.start[i];
  for (let i = 0; i < pieces.count; i++) {
    if (!apart[of[i]]) continue;
    for (let e = graph.first[i]; e < graph.first[i + 1]; e++) {
      const j = graph.other[e];
      if (nodeOfPiece[j] < 0) continue;
      const wall = barrier(
        graph.step[e],
        values[AXES * i + 3],
        values[AXES * j + 3],
        Math.min(size(i), size(j)),
      );
      const lets = (graph.border[e] / 10) * (Math.exp(-wall / TOLERANCE) + LEAK);
      link(links, [nodeOfPiece[i], nodeOfPiece[j]], lets);
      if (!apart[of[j]]) link(links, [nodeOfPiece[j], nodeOfPiece[i]], lets);
    }
  }
  const leaning = new Float64Array(count);
  for (let i = 0; i < pieces.count; i++)
    if (nodeOfPiece[i] >= 0)
      leaning[nodeOfPiece[i]] +=
        (size(i) / 100) * LEAN * Math.max(-1, Math.min(1, (unlike[i] - like[i]) / SURE));
  const [kept, gone] = [count, count + 1];
  for (let k = 0; k < count; k++)
    if (leaning[k] !== 0) {
      const to = leaning[k] > 0 ? kept : gone;
      link(links, [k, to], Math.abs(leaning[k]));
      link(links, [to, k], Math.abs(leaning[k]));
    }
  count += 2;
  const seeds = new Uint8Array(count);
  const closed = new Uint8Array(count);
  seeds[kept] = 1;
  closed[gone] = 1;
  for (let r = 0; r < regions.count; r++) if (named[r] && nodeOfRegion[r] >= 0) seeds[nodeOfRegion[r]] = 1;
  for (let i = 0; i < pieces.count; i++) {
    if (!apart[of[i]] || !says[i]) continue;
    if (says[i] > 0) seeds[nodeOfPiece[i]] = 1;
    else closed[nodeOfPiece[i]] = 1;
  }
  const medium = { count, ...linked(count, links), loss: new Float64Array(count).fill(LOSS) };
  const arriving = diffused(medium, seeds, closed);
  for (let i = 0; i < pieces.count; i++)
    if (nodeOfPiece[i] >= 0 && arriving[nodeOfPiece[i]] < 0.5) away[i] = 1;
  return away;
}

/** Links of a graph, each on both sides; one array each, since there are tens of thousands. */
interface Links {
  readonly from: number[];
  readonly to: number[];
  readonly lets: number[];
}

function link(links: Links, [from, to]: readonly [number, number], lets: number): void {
  links.from.push(from);
  links.to.push(to);
  links.lets.push(lets);
}

function linked(
  count: number,
  { from, to, lets }: Links,
): { graph: { first: Int32Array; other: Int32Array }; conductance: Float64Array } {
  const first = new Int32Array(count + 1);
  for (let k = 0; k < from.length; k++) first[from[k] + 1]++;
  for (let i = 0; i < count; i++) first[i + 1] += first[i];
  const at = first.slice(0, count);
  const other = new Int32Array(from.length);
  const conductance = new Float64Array(from.length);
  for (let k = 0; k < from.length; k++) {
    other[at[from[k]]] = to[k];
    conductance[at[from[k]]++] = lets[k];
  }
  return { graph: { first, other }, conductance };
}
