import type { HandStroke, Point, Stroke } from '#lib/photo/index.ts';

/** The ways a hand marks: the picture finds the edge, a brush covers exactly what it passes, straight sides go round. */
export type MarkingWay = 'picture' | HandStroke['by'];

export type AnyStroke = Stroke | HandStroke;

/** What the hand has said about a surface since its marks were last saved. */
export interface Marking {
  /** Whether the marks saved earlier stay beneath the strokes; false after “Clear”. */
  readonly kept: boolean;
  readonly strokes: readonly AnyStroke[];
  /** Also take what looks the same elsewhere in the picture. */
  readonly elsewhere: boolean;
}

/** One surface's marking with its steps back and forth. */
export interface MarkingSteps {
  readonly past: readonly Marking[];
  readonly now: Marking;
  readonly future: readonly Marking[];
}

export const UNTOUCHED: Marking = { kept: true, strokes: [], elsewhere: false };
export const NO_STEPS: MarkingSteps = { past: [], now: UNTOUCHED, future: [] };

/** Whether there is something that is not saved yet. Ticking a box alone changes no marks. */
export function isChanged({ kept, strokes }: Marking): boolean {
  return !kept || strokes.length > 0;
}

export function stepped(steps: MarkingSteps, now: Marking): MarkingSteps {
  return { past: [...steps.past, steps.now], now, future: [] };
}

export function wayOf(stroke: AnyStroke): MarkingWay {
  return 'by' in stroke ? stroke.by : 'picture';
}

export function isByHand(stroke: AnyStroke): stroke is HandStroke {
  return wayOf(stroke) !== 'picture';
}

/** Places and brush to a hundredth of a pixel, as they are kept over a reload: what is drawn again is then the same. */
function rounded<T extends AnyStroke>(stroke: T): T {
  const hundredth = (value: number) => Math.round(value * 100) / 100;
  const points = stroke.points.map(([x, y]): Point => [hundredth(x), hundredth(y)]);
  return {
    ...stroke,
    points,
    ...('radius' in stroke && { radius: Math.max(0.01, hundredth(stroke.radius)) }),
  };
}

export function withStroke(steps: MarkingSteps, stroke: AnyStroke): MarkingSteps {
  return stepped(steps, { ...steps.now, strokes: [...steps.now.strokes, rounded(stroke)] });
}

/** Nothing marked: neither strokes nor what was saved. */
export function cleared(steps: MarkingSteps): MarkingSteps {
  return stepped(steps, { ...steps.now, kept: false, strokes: [] });
}

/** One step back; the same steps where there is none. */
export function stepBack({ past, now, future }: MarkingSteps): MarkingSteps {
  const before = past.at(-1);
  return before ? { past: past.slice(0, -1), now: before, future: [now, ...future] } : { past, now, future };
}

/** One step forth again; the same steps where there is none. */
export function stepForth({ past, now, future }: MarkingSteps): MarkingSteps {
  const [next, ...rest] = future;
  return next ? { past: [...past, now], now: next, future: rest } : { past, now, future };
}

/** Whether the steps stand at a marking or went on from it. */
export function holds({ past, now }: MarkingSteps, marking: Marking): boolean {
  return now === marking || past.includes(marking);
}

/** What remains of steps once `saved`, which they hold, is in the job: what was done after it, over the marks saved. */
export function stepsSince({ past, now, future }: MarkingSteps, saved: Marking): MarkingSteps {
  const at = past.indexOf(saved);
  if (at < 0) return NO_STEPS;
  const after = (marking: Marking): Marking => {
    const { kept, strokes, elsewhere } = marking;
    const goesOn = kept === saved.kept && saved.strokes.every((stroke, i) => strokes[i] === stroke);
    return goesOn ? { kept: true, strokes: strokes.slice(saved.strokes.length), elsewhere } : marking;
  };
  return { past: past.slice(at).map(after), now: after(now), future: future.map(after) };
}

/** What a step changed, to be announced: `from` is the marking it led away from. */
export function stepWords(from: Marking, to: Marking): string {
  if (from.elsewhere !== to.elsewhere)
    return to.elsewhere ? 'also elsewhere in the picture' : 'only where the strokes are';
  if (from.kept !== to.kept) return to.kept ? 'the marks are back' : 'the marks are cleared';
  const [before, after] = [from.strokes.length, to.strokes.length];
  if (after < before) return `${NOUNS[wayOf(from.strokes[before - 1])]} ${before} taken back, ${after} left`;
  if (after > before) return `${NOUNS[wayOf(to.strokes[after - 1])]} ${after} is back`;
  return 'nothing changed';
}

/** What a step did, by the markings before and after it, as what undo takes back: `stroke 3`, `the clearing`. */
export function stepName(before: Marking, after: Marking): string {
  if (before.elsewhere !== after.elsewhere) return '“Also take what looks like it elsewhere in the picture”';
  const { length } = after.strokes;
  return length > before.strokes.length ? `${NOUNS[wayOf(after.strokes[length - 1])]} ${length}` : '“Clear”';
}

const NOUNS: Readonly<Record<MarkingWay, string>> = {
  picture: 'stroke',
  hand: 'hand stroke',
  outline: 'outline',
};

/** Steps of a marking that was kept over a reload: every stroke can be taken back. */
export function stepsTo(now: Marking): MarkingSteps {
  const past = now.strokes.map((_, i) => ({ ...now, strokes: now.strokes.slice(0, i) }));
  return { past: now.kept ? past : [UNTOUCHED, ...past], now, future: [] };
}

/** Whether a value read from a store is a place. */
export const isPoint = (value: unknown): value is Point =>
  Array.isArray(value) && value.length === 2 && value.every((v) => Number.isFinite(v));

/** One without `by` is of the picture, as all were once. */
function isStroke(value: unknown): value is AnyStroke {
  const { mode, points, radius, by } = (value ?? {}) as Partial<
    Record<'mode' | 'points' | 'radius' | 'by', unknown>
  >;
  return (
    (mode === 'add' || mode === 'remove') &&
    Array.isArray(points) &&
    points.length > 0 &&
    points.every(isPoint) &&
    (by === 'outline' || ((by === undefined || by === 'hand') && typeof radius === 'number' && radius > 0))
  );
}

/**
 * Markings by surface as an earlier page kept them, of the picture `fileId` only: strokes drawn on another picture mean
 * nothing here. What cannot be read is left out.
 */
export function readMarkings(text: string | null, fileId: string): Record<string, Marking> {
  const found: Record<string, Marking> = {};
  try {
    const kept = JSON.parse(text ?? 'null') as {
      fileId?: unknown;
      markings?: Record<string, Marking>;
    } | null;
    if (kept?.fileId !== fileId) return found;
    for (const [id, marking] of Object.entries(kept.markings ?? {})) {
      const { kept: beneath, strokes, elsewhere } = marking;
      if (typeof beneath !== 'boolean' || typeof elsewhere !== 'boolean' || !Array.isArray(strokes)) continue;
      if (strokes.every(isStroke)) found[id] = { kept: beneath, strokes, elsewhere };
    }
  } catch {
    // Not ours, or cut off: then there is nothing to go on with.
  }
  return found;
}

/** Markings as text for `readMarkings`; null where nothing is unsaved. */
export function writeMarkings(fileId: string, markings: Readonly<Record<string, Marking>>): string | null {
  const changed = Object.entries(markings).filter(([, marking]) => isChanged(marking));
  return changed.length > 0 ? JSON.stringify({ fileId, markings: Object.fromEntries(changed) }) : null;
}

/** A line without the points that a pointer sends in excess: the next one is at least `apart` pixels away; the last stays. */
export function thinned(points: readonly Point[], apart: number): Point[] {
  const kept: Point[] = [];
  points.forEach((point, i) => {
    const last = kept.at(-1);
    if (!last || Math.hypot(point[0] - last[0], point[1] - last[1]) >= apart) kept.push(point);
    else if (i === points.length - 1 && kept.length > 1) kept[kept.length - 1] = point;
  });
  return kept;
}

/** A part of the whole in words: `24 %`, `less than 1 %`, `nothing`. In: 0-1. */
export function shareWords(share: number): string {
  if (share === 0) return 'nothing';
  const percent = Math.round(share * 100);
  return percent === 0 ? 'less than 1 %' : `${percent} %`;
}

/** A photo whose shorter side has fewer pixels shows its edges coarsely; from experience, no published source. */
const LEAST_SIDE = 400;
/** The longer side to which pictures are brought as they come in, at most. */
const LONGEST_SIDE = 2048;

/** What a picture's size means for marking it, whole pixels; null where it is large enough. */
export function sizeWords(width: number, height: number): string | null {
  const [short, long] = [Math.min(width, height), Math.max(width, height)];
  if (short >= LEAST_SIDE) return null;
  // Of such a shape a larger picture leaves no more.
  const narrow = (short / long) * LONGEST_SIDE < LEAST_SIDE;
  return narrow
    ? `This picture is long and narrow. A picture’s long side comes to ${LONGEST_SIDE.toLocaleString('en')} pixels at most; here the short one has ${short}, so that edges come out coarse. Crop it to the part with the surface, or take it in two photos.`
    : `This photo is small, ${width} by ${height} pixels: edges come out coarse. A larger one of the same view does better.`;
}

/** What keys do on the picture, by what the hand is at. */
export function keysTold(doing: MarkingWay | 'placing' | 'shifting'): string {
  if (doing === 'shifting') return 'Arrow keys shift the marks, with Shift ten times as far.';
  const cross = 'Arrow keys move the cross, with Shift ten times as far.';
  if (doing === 'placing') return `${cross} Enter places the next of the four corners there.`;
  if (doing === 'outline')
    return `${cross} Enter sets a corner there, twice closes the outline. Backspace takes the last corner back, Escape puts the outline aside.`;
  return `${cross} Enter marks there, Delete takes away there.`;
}
