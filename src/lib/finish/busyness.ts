import { quoted } from './pairing.ts';
import type { FinishKind } from './swatch.ts';

/**
 * How busy a finish looks, in words, and what it asks of its neighbours. Busyness is the spread of its picture as the eye
 * resolves it, CIELAB units (`measurePattern` of the photo area).
 */

/**
 * Upper borders of calm and of lively; busy lies above. Common practice, no published source, set by eye on the sample job's
 * pictures at `VIEWING_DISTANCE`: painted strips 0.4-0.9, soft marble 1.7, fine grey stone 2.6; oak planks 6; coarse
 * granite 19, a two-coloured ring tile 22.
 */
export const BUSYNESS_BANDS = { calm: 3, lively: 10 } as const;

export type BusynessName = 'calm' | 'lively' | 'busy';
const NAMES: readonly BusynessName[] = ['calm', 'lively', 'busy'];

/**
 * From how far patterns are looked at, mm: one distance for everything in a room, so that its finishes compare. Across a
 * kitchen's floor; a counter is seen from 0.6 to 1 m too, where fine grain is busier. Common practice, no published source.
 */
export const VIEWING_DISTANCE = 1500;

/**
 * What a photo shows from side to side, mm, where nobody said how large a thing is: a phone's usual camera sees about 1.3
 * times its distance, which is 3 m in a room and arm's length (0.6 m) above a slab or a tile; a board fills the picture.
 * Common practice, no published source.
 */
export const USUAL_PICTURE_WIDTHS = {
  room: 4000,
  inspiration: 4000,
  'sample board': 500,
  slab: 800,
  other: 800,
} as const;

/** Real width of a part of such a photo where nobody said it, whole mm; `share` of the picture's width, above 0. */
export function usualWidth(share: number, role: keyof typeof USUAL_PICTURE_WIDTHS): number {
  if (!(share > 0 && Number.isFinite(share))) throw new RangeError(`Expected a share above 0, got ${share}`);
  return Math.max(1, Math.round(share * USUAL_PICTURE_WIDTHS[role]));
}

/** 0 calm, 1 lively, 2 busy. RangeError for a busyness that is negative or not finite. */
export function busynessBand(busyness: number): 0 | 1 | 2 {
  if (!(busyness >= 0 && busyness < Infinity))
    throw new RangeError(`Expected a busyness of 0 or more, got ${busyness}`);
  if (busyness < BUSYNESS_BANDS.calm) return 0;
  return busyness < BUSYNESS_BANDS.lively ? 1 : 2;
}

/** 'calm', 'lively' or 'busy'. */
export function busynessWords(busyness: number): BusynessName {
  return NAMES[busynessBand(busyness)];
}

/** Busyness of a finish without a measured pattern: paint is plain; of anything else nothing is known. */
export function unmeasuredBusyness(kind: FinishKind): number | null {
  return kind === 'paint' ? 0 : null;
}

/**
 * How good two neighbours are by their busyness, 0-1. Common practice, no published source: one busy, one calm is best, two
 * calm ones are fine, two busy ones compete.
 */
export const CALM_CURVE = { twoCalm: 0.9, twoBusy: 0.1 } as const;

/** How good it is that two finishes meet, by their busyness: `CALM_CURVE.twoBusy` to 1; smooth, and the same either way round. */
export function calmDesirability(first: number, second: number): number {
  const p = busyShare(first);
  const q = busyShare(second);
  return 1 - (1 - CALM_CURVE.twoBusy) * (p * q) - (1 - CALM_CURVE.twoCalm) * ((1 - p) * (1 - q));
}

/** 0 where a finish is calm, 1 where it is busy, smooth between the two borders. */
function busyShare(busyness: number): number {
  const { calm, lively } = BUSYNESS_BANDS;
  if (!(busyness >= 0)) throw new RangeError(`Expected a busyness of 0 or more, got ${busyness}`);
  const t = Math.min(1, Math.max(0, (busyness - calm) / (lively - calm)));
  return t * t * (3 - 2 * t);
}

/** A finish where it lies. */
export interface BusySurface {
  readonly surfaceName: string;
  readonly busyness: number;
}

/** What two neighbours' busyness means, for a client: '“Counter” is busy; the calm “Backsplash” lets it speak.' */
export function calmWords(first: BusySurface, second: BusySurface): string {
  const [less, more] = first.busyness <= second.busyness ? [first, second] : [second, first];
  const [calmer, busier] = [busynessBand(less.busyness), busynessBand(more.busyness)];
  const names = `${quoted(first.surfaceName)} and ${quoted(second.surfaceName)}`;
  if (busier === 0) return `${names} are both calm.`;
  if (calmer === 2)
    return `${names} are both busy and compete; a plain one beside the other would let it speak.`;
  if (calmer === 0 && busier === 2)
    return `${quoted(more.surfaceName)} is busy; the calm ${quoted(less.surfaceName)} lets it speak.`;
  if (calmer === 0)
    return `${quoted(more.surfaceName)} is lively; the calm ${quoted(less.surfaceName)} carries it.`;
  if (busier === 2)
    return `${quoted(more.surfaceName)} is busy and ${quoted(less.surfaceName)} is lively: a calmer one would let it speak.`;
  return `${names} are both lively: one of them plainer would be easier on the eye.`;
}

/** What a finish asks of those around it, in a sentence for a client; null where it asks for nothing. */
export function neighbourWish({ surfaceName, busyness }: BusySurface): string | null {
  const band = busynessBand(busyness);
  if (band === 0) return null;
  return band === 2
    ? `${quoted(surfaceName)} is busy; plain neighbours let it speak.`
    : `${quoted(surfaceName)} is lively; mostly calm neighbours suit it.`;
}
