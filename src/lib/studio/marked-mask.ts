import {
  drawnByHand,
  lessened,
  maskDifference,
  maskUnion,
  select,
  type HandStroke,
  type Mask,
  type Selection,
  type Selector,
  type Stroke,
} from '#lib/photo/index.ts';
import { isByHand, type AnyStroke, type Marking } from './marking.ts';

/** What a marking is made on: the marks saved before and those of the other surfaces, all of the picture's size. */
interface Ground {
  readonly saved: Mask | null;
  readonly others: readonly Mask[];
}

/**
 * The mask that a marking means. Strokes are worked off in runs of one kind: hand work counts as it was drawn; strokes
 * whose edges the picture finds are one selection on a fresh surface, and over marks that are there (saved ones, or what
 * the runs before made) they add what they select and take away as from a fresh one, the marks standing for the strokes
 * that are gone. So none of them changes hand work of its own kind. What hand work has taken away is to them like another
 * surface: left out, unless a good part of an adding stroke lies there.
 * Notes are those of the last run.
 */
export function markedMask(selector: Selector, marking: Marking, ground: Ground): Selection {
  const { strokes, elsewhere, kept } = marking;
  const known = remembered(selector, ground);
  const key = (end: number) => JSON.stringify([kept, elsewhere, strokes.slice(0, end)]);
  const keep = (end: number, selection: Selection) => {
    if (known.size >= REMEMBERED) known.delete(known.keys().next().value as string);
    known.set(key(end), selection);
    return selection;
  };

  let at = strokes.length;
  for (; at > 0; at--) if (isWhole(strokes, at) && known.has(key(at))) break;
  const beneath = kept ? ground.saved : null;
  let selection: Selection | null =
    at > 0 ? (known.get(key(at)) as Selection) : beneath && { mask: beneath, notes: [] };
  while (at < strokes.length) {
    const run = runFrom(strokes, at);
    const { mask = null } = selection ?? {};
    if (run.every(isByHand)) selection = { mask: drawnByHand(mask ?? emptyMask(selector), run), notes: [] };
    else {
      const held = takenByHand(selector, strokes.slice(0, at).filter(isByHand));
      const others = held ? [...ground.others, held] : ground.others;
      selection = pictureMask(selector, run as Stroke[], { beneath: mask, others, elsewhere });
    }
    at += run.length;
    selection = keep(at, selection);
  }
  return selection ?? { mask: emptyMask(selector), notes: [] };
}

function pictureMask(
  selector: Selector,
  strokes: readonly Stroke[],
  { beneath, others, elsewhere }: { beneath: Mask | null; others: readonly Mask[]; elsewhere: boolean },
): Selection {
  if (!beneath) return select(selector, strokes, { elsewhere, others });
  const rest = lessened(selector, beneath, strokes);
  if (!strokes.some(({ mode }) => mode === 'add')) return { mask: rest, notes: [] };
  const { mask, notes } = select(selector, strokes, { elsewhere, others });
  return { mask: maskUnion(rest, mask), notes };
}

function emptyMask({ width, height }: Selector): Mask {
  return { width, height, data: new Uint8Array(width * height) };
}

/** The strokes of one kind, by hand or of the picture, from a place in the list on. */
function runFrom(strokes: readonly AnyStroke[], from: number): AnyStroke[] {
  const kind = isByHand(strokes[from]);
  const end = strokes.findIndex((stroke, i) => i > from && isByHand(stroke) !== kind);
  return strokes.slice(from, end < 0 ? strokes.length : end);
}

/** Whether a list's beginning is worked off without what follows: hand strokes one by one, others as runs. */
function isWhole(strokes: readonly AnyStroke[], end: number): boolean {
  return end === strokes.length || isByHand(strokes[end - 1]) || isByHand(strokes[end]);
}

/** Where hand work has the last word and took away; null where it took nothing. */
function takenByHand(selector: Selector, strokes: readonly HandStroke[]): Mask | null {
  if (!strokes.some(({ mode }) => mode === 'remove')) return null;
  const turned = strokes.map((stroke): HandStroke => ({
    ...stroke,
    mode: stroke.mode === 'add' ? 'remove' : 'add',
  }));
  return drawnByHand(emptyMask(selector), turned);
}

/** How many beginnings of markings are remembered, a mask each: a stroke more, or one taken back, is then one stroke's work. */
const REMEMBERED = 8;

const memories = new WeakMap<Selector, { ground: Ground; known: Map<string, Selection> }>();

/** What was made of the same ground lately; it only saves time. */
function remembered(selector: Selector, ground: Ground): Map<string, Selection> {
  const memory = memories.get(selector);
  const [was, is] = [memory?.ground, ground].map((g) => (g ? [g.saved, ...g.others] : []));
  if (memory && was.length === is.length && was.every((mask, i) => mask === is[i])) return memory.known;
  const known = new Map<string, Selection>();
  memories.set(selector, { ground, known });
  return known;
}

/** Sums of two soft edges that meet go a little over the whole; more is a claim. */
const OVER = 32;
/** Of the picture: less is the fringe of an edge. */
const LEAST_CLAIM = 1e-4;

/** Another surface's mask without what `mask` claims of it; null where it claims nothing. A place is one surface. */
export function givenWay(other: Mask, mask: Mask): Mask | null {
  let claimed = 0;
  for (let p = 0; p < mask.data.length; p++) if (mask.data[p] + other.data[p] > 255 + OVER) claimed++;
  return claimed > LEAST_CLAIM * mask.data.length ? maskDifference(other, mask) : null;
}
