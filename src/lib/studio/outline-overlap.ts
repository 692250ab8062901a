import type { MaskOutline } from './mask-outline.ts';

/** Of the picture: less is the fringe of an edge. The same part of a picture from which marks are taken from a surface. */
const LEAST_CLAIM = 1e-4;

/** Two borders along one edge lie over each other by less than this many pixels; only what is wider counts. */
const FRINGE = 2;

/**
 * Area in pixels that lies inside both outlines, and its core: without strips thinner than two pixels. Two surfaces side
 * by side have such strips in common without either claiming the other's.
 */
export function overlap(a: MaskOutline, b: MaskOutline): { area: number; core: number } {
  const [rowsA, rowsB] = [spansByRow(a), spansByRow(b)];
  let [area, core] = [0, 0];
  const known: Float64Array[] = [];
  for (const [row, spans] of rowsA) {
    const other = rowsB.get(row);
    const both = other ? shared(spans, other) : NONE;
    known[row] = both;
    for (const length of lengths(both)) area += length;
    for (const length of lengths(shared(both, known[row - FRINGE] ?? NONE)))
      if (length > FRINGE) core += length;
  }
  return { area, core };
}

const NONE = new Float64Array();

/** Where the middle of each row of pixels runs inside an outline: begin and end of each stretch; holes left out. */
function spansByRow({ places, ends }: MaskOutline): Map<number, Float64Array> {
  const crossings = new Map<number, number[]>();
  let start = 0;
  for (const end of ends) {
    for (let i = start; i < end; i++) {
      const j = i + 1 < end ? i + 1 : start;
      const [x0, y0, x1, y1] = [places[2 * i], places[2 * i + 1], places[2 * j], places[2 * j + 1]];
      const [low, high] = [Math.min(y0, y1), Math.max(y0, y1)];
      for (let row = Math.ceil(low - 0.5); row + 0.5 < high; row++) {
        const x = x0 + ((row + 0.5 - y0) / (y1 - y0)) * (x1 - x0);
        const known = crossings.get(row);
        if (known) known.push(x);
        else crossings.set(row, [x]);
      }
    }
    start = end;
  }
  const rows = [...crossings].sort(([a], [b]) => a - b);
  return new Map(rows.map(([row, xs]) => [row, Float64Array.from(xs).sort()]));
}

/** Stretches that lie in both lists of stretches. */
function shared(a: Float64Array, b: Float64Array): Float64Array {
  const found: number[] = [];
  for (let i = 0, j = 0; i + 1 < a.length && j + 1 < b.length;) {
    const [from, to] = [Math.max(a[i], b[j]), Math.min(a[i + 1], b[j + 1])];
    if (from < to) found.push(from, to);
    if (a[i + 1] < b[j + 1]) i += 2;
    else j += 2;
  }
  return Float64Array.from(found);
}

function* lengths(spans: Float64Array): Generator<number> {
  for (let i = 0; i + 1 < spans.length; i += 2) yield spans[i + 1] - spans[i];
}

/** A surface as it is marked: its outline and the part of the picture that it takes, 0-1. */
interface MarkedSurface {
  readonly id: string;
  readonly name: string;
  readonly outline: MaskOutline;
  readonly share: number;
}

/** What marks take of another surface's, 0-1 of what is marked there. */
export interface Claim {
  readonly id: string;
  readonly name: string;
  readonly part: number;
}

/** What marks that are not saved yet will take of the other surfaces when they are; those of which it is nothing left out. */
export function claims(
  own: MaskOutline,
  others: readonly MarkedSurface[],
  { width, height }: { width: number; height: number },
): Claim[] {
  const pixels = width * height;
  return others.flatMap(({ id, name, outline, share }) => {
    const { area, core } = overlap(own, outline);
    return core > LEAST_CLAIM * pixels ? [{ id, name, part: Math.min(1, area / (share * pixels)) }] : [];
  });
}

/** What is claimed as a sentence; null where nothing is. */
export function claimWords(claimed: readonly Claim[]): string | null {
  if (claimed.length === 0) return null;
  const parts = claimed.map(({ name, part }) => {
    const percent = Math.round(part * 100);
    // What is left of a surface but for its fringe is nothing to speak of.
    if (part > 0.99) return `all of ${name}`;
    return percent < 1 ? `a little of ${name}` : `${percent} % of ${name}`;
  });
  const last = parts.pop() as string;
  return `Takes ${parts.length > 0 ? `${parts.join(', ')} and ${last}` : last}.`;
}
