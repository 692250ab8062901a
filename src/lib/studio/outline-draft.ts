import type { HandStroke, Point } from '#lib/photo/index.ts';

/** Corners of an outline that is not closed yet, in pixels of the picture. */
export type OutlineDraft = readonly Point[];

/** With fewer there is no inside. */
const LEAST_CORNERS = 3;

export function canClose(corners: OutlineDraft): boolean {
  return corners.length >= LEAST_CORNERS;
}

/** Whether a corner set at a place closes the outline: it lies within `near` pixels of the first one, or on the last again. */
export function closesAt(corners: OutlineDraft, place: Point, near: number): boolean {
  return canClose(corners) && (apart(corners[0], place) <= near || isLast(corners, place));
}

/** With one corner more; the same where it is the last one again. */
export function withCorner(corners: OutlineDraft, place: Point): OutlineDraft {
  return isLast(corners, place) ? corners : [...corners, place];
}

function apart([x0, y0]: Point, [x1, y1]: Point): number {
  return Math.hypot(x1 - x0, y1 - y0);
}

function isLast(corners: OutlineDraft, place: Point): boolean {
  const last = corners.at(-1);
  return last !== undefined && apart(last, place) === 0;
}

export function cornerMoved(corners: OutlineDraft, corner: number, to: Point): OutlineDraft {
  return corners.map((place, i) => (i === corner ? to : place));
}

/** The stroke that an outline is once it is closed; null where it has too few corners. */
export function closedOutline(corners: OutlineDraft, mode: HandStroke['mode']): HandStroke | null {
  return canClose(corners) ? { mode, by: 'outline', points: corners } : null;
}

/** How far an outline is, to be announced and shown. */
export function cornersSet(corners: OutlineDraft): string {
  if (corners.length === 0) return 'no corner set yet';
  return corners.length === 1 ? '1 corner set' : `${corners.length} corners set`;
}

/** The outlines of a surface that are not closed: the one under the hand, and one that was put aside and can be taken up. */
export interface OutlineWork {
  readonly draft: OutlineDraft;
  readonly aside: OutlineDraft;
}

export const NO_OUTLINE: OutlineWork = { draft: [], aside: [] };

/** The outline out of the way. With no corner set, what was put aside before stays what can be taken up. */
export function putAside({ draft, aside }: OutlineWork): OutlineWork {
  return { draft: [], aside: draft.length > 0 ? draft : aside };
}

/** What was put aside under the hand again; the same where another outline is under way. */
export function takenUp(work: OutlineWork): OutlineWork {
  return canTakeUp(work) ? { draft: work.aside, aside: [] } : work;
}

export function canTakeUp({ draft, aside }: OutlineWork): boolean {
  return draft.length === 0 && aside.length > 0;
}
