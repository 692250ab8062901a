import {
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
 * select to them and take away the regions they touch, because the strokes that made the saved marks are gone.
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

/** Saved marks without the regions that taking-away strokes touch. */
function lessened(selector: Selector, saved: Mask, strokes: readonly Stroke[]): Mask {
  const { pieces, regions } = selector;
  const gone = new Uint8Array(regions.count);
  for (const stroke of strokes) {
    if (stroke.mode !== 'remove') continue;
    const pixels = new Map<number, number>();
    let total = 0;
    for (const p of under(stroke, selector)) {
      const region = regions.of[pieces.label[p]];
      pixels.set(region, (pixels.get(region) ?? 0) + 1);
      total++;
    }
    // As in a fresh selection: a brush that only grazes a region does not mean it.
    for (const [region, count] of pixels)
      if (count > 0.04 * total || count > 0.3 * regions.size[region]) gone[region] = 1;
  }
  if (!gone.includes(1)) return saved;
  return { ...saved, data: saved.data.map((v, p) => (gone[regions.of[pieces.label[p]]] ? 0 : v)) };
}

/** Pixels under a stroke's brush. */
function under({ points, radius }: Stroke, { width, height }: Selector): Set<number> {
  const found = new Set<number>();
  const reach = Math.max(radius, 0.71); // a hair-thin brush still meets the pixel it lies on
  points.forEach(([x1, y1], i) => {
    const [x0, y0] = points[Math.max(0, i - 1)];
    const stops = Math.max(1, Math.ceil(Math.hypot(x1 - x0, y1 - y0) / Math.max(1, radius / 2)));
    for (let k = 0; k <= stops; k++) {
      const [cx, cy] = [x0 + ((x1 - x0) * k) / stops, y0 + ((y1 - y0) * k) / stops];
      for (let y = Math.max(0, Math.floor(cy - reach)); y <= Math.min(height - 1, cy + reach); y++)
        for (let x = Math.max(0, Math.floor(cx - reach)); x <= Math.min(width - 1, cx + reach); x++)
          if ((x + 0.5 - cx) ** 2 + (y + 0.5 - cy) ** 2 <= reach * reach) found.add(y * width + x);
    }
  });
  return found;
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
