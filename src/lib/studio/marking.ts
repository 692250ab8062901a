import type { Point, Stroke } from '#lib/photo/index.ts';

/** What the hand has said about a surface since its marks were last saved. */
export interface Marking {
  /** Whether the marks saved earlier stay beneath the strokes; false after “Clear”. */
  readonly kept: boolean;
  readonly strokes: readonly Stroke[];
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

export function withStroke(steps: MarkingSteps, stroke: Stroke): MarkingSteps {
  return stepped(steps, { ...steps.now, strokes: [...steps.now.strokes, stroke] });
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

/** What a step changed, to be announced: `from` is the marking it led away from. */
export function stepWords(from: Marking, to: Marking): string {
  if (from.elsewhere !== to.elsewhere)
    return to.elsewhere ? 'also elsewhere in the picture' : 'only where the strokes are';
  if (from.kept !== to.kept) return to.kept ? 'the marks are back' : 'the marks are cleared';
  const [before, after] = [from.strokes.length, to.strokes.length];
  if (after < before) return `stroke ${before} taken back, ${after} left`;
  if (after > before) return `stroke ${after} is back`;
  return 'nothing changed';
}

/** Steps of a marking that was kept over a reload: every stroke can be taken back. */
export function stepsTo(now: Marking): MarkingSteps {
  const past = now.strokes.map((_, i) => ({ ...now, strokes: now.strokes.slice(0, i) }));
  return { past: now.kept ? past : [UNTOUCHED, ...past], now, future: [] };
}

const isPoint = (value: unknown): value is Point =>
  Array.isArray(value) && value.length === 2 && value.every((v) => Number.isFinite(v));

function isStroke(value: unknown): value is Stroke {
  const { mode, points, radius } = (value ?? {}) as Partial<Stroke>;
  return (
    (mode === 'add' || mode === 'remove') &&
    Array.isArray(points) &&
    points.length > 0 &&
    points.every(isPoint) &&
    typeof radius === 'number' &&
    radius > 0
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

/** Markings as text for `readMarkings`; null where nothing is unsaved. Places are kept to a tenth of a pixel. */
export function writeMarkings(fileId: string, markings: Readonly<Record<string, Marking>>): string | null {
  const changed = Object.entries(markings).filter(([, marking]) => isChanged(marking));
  if (changed.length === 0) return null;
  return JSON.stringify({ fileId, markings: Object.fromEntries(changed) }, (_, value: unknown) =>
    typeof value === 'number' ? Math.round(value * 10) / 10 : value,
  );
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
