import {
  lessened,
  maskDifference,
  maskUnion,
  select,
  type Mask,
  type Selection,
  type Selector,
  type Stroke,
} from '#lib/photo/index.ts';
import type { Marking } from './marking.ts';

/** What a marking is made on: the marks saved before and those of the other surfaces, all of the picture's size. */
interface Ground {
  readonly saved: Mask | null;
  readonly others: readonly Mask[];
}

/**
 * The mask that a marking means. Strokes on a fresh surface are one selection; strokes over saved marks add what they
 * select to them and take away as they do from a fresh one, what is saved standing for the strokes that are gone.
 */
export function markedMask(selector: Selector, marking: Marking, { saved, others }: Ground): Selection {
  const { width, height } = selector;
  const { strokes, elsewhere, kept } = marking;
  const beneath = kept ? saved : null;
  if (strokes.length === 0)
    return { mask: beneath ?? { width, height, data: new Uint8Array(width * height) }, notes: [] };
  if (!beneath) return select(selector, strokes, { elsewhere, others });
  const rest = lessened(selector, beneath, strokes);
  if (!strokes.some(({ mode }) => mode === 'add')) return { mask: rest, notes: [] };
  const { mask, notes } = select(selector, strokes, { elsewhere, others });
  return { mask: maskUnion(rest, mask), notes };
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
