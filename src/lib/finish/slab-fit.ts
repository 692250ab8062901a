/** A rectangle to be cut, mm, with the number it is said by. */
export interface CutPiece {
  readonly width: number;
  readonly height: number;
}

export interface SlabFit {
  /** Slabs needed for the cuts found. */
  readonly slabs: number;
  /** No cutting of any kind needs fewer. */
  readonly least: number;
  /** Whether `slabs` is the fewest that straight cuts from edge to edge allow. */
  readonly proven: boolean;
  /** Index of each piece, slab by slab. */
  readonly cuts: readonly (readonly number[])[];
}

/** Pieces up to which every way of cutting is looked at, and the pairs of boxes that are put together at most meanwhile. */
const EXACT = 10;
const MOST_PAIRS = 8_000_000;

/**
 * How many slabs a few rectangles are cut from, every cut running straight from edge to edge (as a bridge saw cuts), the
 * blade taking `kerf` mm between two pieces. First pieces are laid one after another in several orders, each where it fits
 * most tightly. Where that takes more slabs than a bound by area, and there are no more than ten pieces, all ways of cutting
 * are looked at: for each set of pieces the smallest boxes it can be cut from are found from those of its halves, then the
 * fewest sets that fit a slab.
 * `mayTurn` false where the veins must run one way. Null where a piece fits no slab.
 */
export function slabFit(
  pieces: readonly CutPiece[],
  { slab, kerf, mayTurn }: { readonly slab: CutPiece; readonly kerf: number; readonly mayTurn: boolean },
): SlabFit | null {
  const cutting = { slab, kerf, mayTurn };
  if (pieces.some((piece) => boxesOf(piece, cutting).length === 0)) return null;
  // A kerf is lost beside each piece but the last: enlarged by it, pieces may not cover more than the slab so enlarged.
  const area = pieces.reduce((sum, { width, height }) => sum + (width + kerf) * (height + kerf), 0);
  const least = Math.ceil(area / ((slab.width + kerf) * (slab.height + kerf)) - 1e-9);
  const laid = laidTightly(pieces, cutting);
  const looked = laid.length > least && pieces.length <= EXACT ? fewestSlabs(pieces, cutting) : null;
  const cuts = looked ?? laid;
  return { slabs: cuts.length, least, proven: looked !== null || laid.length === least, cuts };
}

type Cutting = Parameters<typeof slabFit>[1];
/** Width and height of a box, in turn; only boxes that no other one of the set beats both ways. */
type Boxes = readonly (readonly [number, number])[];

function boxesOf({ width, height }: CutPiece, { slab, mayTurn }: Cutting): Boxes {
  const ways: [number, number][] = [[width, height]];
  if (mayTurn && width !== height) ways.push([height, width]);
  return ways.filter(([w, h]) => w <= slab.width && h <= slab.height);
}

/**
 * Smallest boxes of every set of pieces (bits of its index) that fit one slab; an empty list where none does. Null where
 * that is more work than is done.
 */
function smallestBoxes(pieces: readonly CutPiece[], cutting: Cutting): Boxes[] | null {
  const { slab, kerf } = cutting;
  const all: Boxes[] = [[]];
  let pairs = 0;
  for (let set = 1; set < 1 << pieces.length; set++) {
    const lowest = set & -set;
    if (set === lowest) {
      all.push(boxesOf(pieces[31 - Math.clz32(set)], cutting));
      continue;
    }
    const found: (readonly [number, number])[] = [];
    // Each split once: the half with the lowest piece is `part`.
    for (let part = (set - 1) & set; part > 0; part = (part - 1) & set) {
      if (!(part & lowest)) continue;
      pairs += all[part].length * all[set ^ part].length;
      if (pairs > MOST_PAIRS) return null;
      for (const [w, h] of all[part]) {
        for (const [v, k] of all[set ^ part]) {
          if (w + kerf + v <= slab.width) found.push([w + kerf + v, Math.max(h, k)]);
          if (h + kerf + k <= slab.height) found.push([Math.max(w, v), h + kerf + k]);
        }
      }
    }
    found.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    let lowestHeight = Infinity;
    all.push(found.filter(([, h]) => h < lowestHeight && ((lowestHeight = h), true)));
  }
  return all;
}

function fewestSlabs(pieces: readonly CutPiece[], cutting: Cutting): number[][] | null {
  const boxes = smallestBoxes(pieces, cutting);
  if (!boxes) return null;
  const fewest = new Float64Array(boxes.length).fill(Infinity);
  const last = new Int32Array(boxes.length);
  fewest[0] = 0;
  for (let set = 1; set < boxes.length; set++) {
    const lowest = set & -set;
    for (let part = set; part > 0; part = (part - 1) & set) {
      if (!(part & lowest) || boxes[part].length === 0 || fewest[set ^ part] + 1 >= fewest[set]) continue;
      fewest[set] = fewest[set ^ part] + 1;
      last[set] = part;
    }
  }
  const cuts: number[][] = [];
  for (let set = boxes.length - 1; set > 0; set ^= last[set])
    cuts.push(pieces.flatMap((_, index) => (last[set] & (1 << index) ? [index] : [])));
  return cuts;
}

/** Orders in which pieces are laid: the hardest to place first. */
const HARDEST: readonly ((piece: CutPiece) => number)[] = [
  ({ width, height }) => width * height,
  ({ width, height }) => Math.max(width, height),
  ({ width, height }) => Math.min(width, height),
  ({ height }) => height,
  ({ width }) => width,
];

/** A rectangle of a slab from which nothing is cut yet. */
interface Free extends CutPiece {
  readonly on: number;
}

/** The best of several ways of laying pieces one after another, each into the free rectangle it fills most. */
function laidTightly(pieces: readonly CutPiece[], cutting: Cutting): number[][] {
  let best: number[][] | null = null;
  for (const hardness of HARDEST) {
    const order = [...pieces.keys()].sort((a, b) => hardness(pieces[b]) - hardness(pieces[a]) || a - b);
    for (const firstCut of ['along', 'across', 'larger rest'] as const) {
      const cuts = laidInOrder(pieces, cutting, { order, firstCut });
      if (!best || cuts.length < best.length) best = cuts;
    }
  }
  return best ?? [];
}

function laidInOrder(
  pieces: readonly CutPiece[],
  cutting: Cutting,
  { order, firstCut }: { order: readonly number[]; firstCut: 'along' | 'across' | 'larger rest' },
): number[][] {
  const { slab, kerf } = cutting;
  const cuts: number[][] = [];
  const free: Free[] = [];
  for (const index of order) {
    const boxes = boxesOf(pieces[index], cutting);
    let place: { at: number; w: number; h: number; waste: number } | null = null;
    for (const [at, { width, height }] of free.entries()) {
      for (const [w, h] of boxes) {
        const waste = width * height - w * h;
        if (w <= width && h <= height && (!place || waste < place.waste)) place = { at, w, h, waste };
      }
    }
    if (!place) {
      free.push({ ...slab, on: cuts.length });
      cuts.push([]);
      const [w, h] = boxes[0];
      place = { at: free.length - 1, w, h, waste: 0 };
    }
    const [{ width, height, on }] = free.splice(place.at, 1);
    cuts[on].push(index);
    const [right, below] = [width - place.w - kerf, height - place.h - kerf];
    const along = firstCut === 'along' || (firstCut === 'larger rest' && right * height < below * width);
    const rests = along
      ? [
          { width: right, height: place.h },
          { width, height: below },
        ]
      : [
          { width: right, height },
          { width: place.w, height: below },
        ];
    for (const rest of rests) if (rest.width > 0 && rest.height > 0) free.push({ ...rest, on });
  }
  return cuts;
}
