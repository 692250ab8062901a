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

/** Pieces up to which every way of cutting is looked at: 3^11 splits of sets are a fifth of a second. */
const EXACT = 11;

/**
 * How many slabs a few rectangles are cut from, every cut running straight from edge to edge (as a bridge saw cuts), the
 * blade taking `kerf` mm between two pieces. Up to eleven pieces exactly: for each set of pieces all smallest boxes it can
 * be cut from are found from those of its halves, then the fewest sets that fit a slab. More pieces are laid largest first,
 * each on the first slab that still takes it; `proven` then only where a bound by area says the same.
 * `mayTurn` false where the veins must run one way. Null where a piece fits no slab.
 */
export function slabFit(
  pieces: readonly CutPiece[],
  { slab, kerf, mayTurn }: { readonly slab: CutPiece; readonly kerf: number; readonly mayTurn: boolean },
): SlabFit | null {
  const cutting = { slab, kerf, mayTurn };
  if (pieces.some((piece) => boxesOf(piece, cutting).length === 0)) return null;
  if (pieces.length === 0) return { slabs: 0, least: 0, proven: true, cuts: [] };
  // A kerf is lost beside each piece but the last: enlarged by it, pieces may not cover more than the slab so enlarged.
  const area = pieces.reduce((sum, { width, height }) => sum + (width + kerf) * (height + kerf), 0);
  const least = Math.max(1, Math.ceil(area / ((slab.width + kerf) * (slab.height + kerf)) - 1e-9));
  const cuts = pieces.length <= EXACT ? fewestSlabs(pieces, cutting) : firstThatTakes(pieces, cutting);
  return {
    slabs: cuts.length,
    least,
    proven: pieces.length <= EXACT || cuts.length === least,
    cuts,
  };
}

type Cutting = Parameters<typeof slabFit>[1];
/** Width and height of a box, in turn; only boxes that no other one of the set beats both ways. */
type Boxes = readonly (readonly [number, number])[];

function boxesOf({ width, height }: CutPiece, { slab, mayTurn }: Cutting): Boxes {
  const ways: [number, number][] = [[width, height]];
  if (mayTurn && width !== height) ways.push([height, width]);
  return ways.filter(([w, h]) => w <= slab.width && h <= slab.height);
}

/** Smallest boxes of every set of pieces (bits of its index) that fit one slab; an empty list where none does. */
function smallestBoxes(pieces: readonly CutPiece[], cutting: Cutting): Boxes[] {
  const { slab, kerf } = cutting;
  const all: Boxes[] = [[]];
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

function fewestSlabs(pieces: readonly CutPiece[], cutting: Cutting): number[][] {
  const boxes = smallestBoxes(pieces, cutting);
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

function firstThatTakes(pieces: readonly CutPiece[], cutting: Cutting): number[][] {
  const order = pieces
    .map((_, index) => index)
    .sort((a, b) => pieces[b].width * pieces[b].height - pieces[a].width * pieces[a].height || a - b);
  const cuts: number[][] = [];
  for (const index of order) {
    const takes = cuts.find(
      (cut) =>
        cut.length < EXACT - 1 &&
        (smallestBoxes(
          [...cut, index].map((one) => pieces[one]),
          cutting,
        ).at(-1)?.length ?? 0) > 0,
    );
    if (takes) takes.push(index);
    else cuts.push([index]);
  }
  return cuts;
}
