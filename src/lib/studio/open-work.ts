import type { Point } from '#lib/photo/index.ts';
import { isPoint } from './marking.ts';
import { NO_OUTLINE, type OutlineWork } from './outline-draft.ts';
import type { PlaneDraft } from './plane-corners.ts';

/** What is begun on the surfaces of a picture and neither marks nor part of the job: outlines not closed, corners not confirmed. */
export interface OpenWork {
  readonly outlines: Readonly<Record<string, OutlineWork>>;
  readonly planes: Readonly<Record<string, PlaneDraft>>;
}

export const NO_WORK: OpenWork = { outlines: {}, planes: {} };

/** Open work as text for `readOpenWork`; null where there is none. Places to a hundredth of a pixel. */
export function writeOpenWork(fileId: string, { outlines, planes }: OpenWork): string | null {
  const begun = Object.entries(outlines).filter(([, work]) => work.draft.length + work.aside.length > 0);
  if (begun.length === 0 && Object.keys(planes).length === 0) return null;
  const hundredths = (_: string, value: unknown) =>
    typeof value === 'number' ? Math.round(value * 100) / 100 : value;
  return JSON.stringify({ fileId, outlines: Object.fromEntries(begun), planes }, hundredths);
}

/** Open work as an earlier visit left it, of the picture `fileId` only. What cannot be read is left out. */
export function readOpenWork(text: string | null, fileId: string): OpenWork {
  try {
    const kept = JSON.parse(text ?? 'null') as ({ fileId?: unknown } & Partial<OpenWork>) | null;
    if (kept?.fileId !== fileId) return NO_WORK;
    return { outlines: known(kept.outlines, outlineFrom), planes: known(kept.planes, planeFrom) };
  } catch {
    // Not ours, or cut off: then there is nothing to go on with.
    return NO_WORK;
  }
}

function known<T>(kept: unknown, read: (value: unknown) => T | null): Record<string, T> {
  const entries = Object.entries((kept ?? {}) as Record<string, unknown>).flatMap(([id, value]) => {
    const found = read(value);
    return found ? [[id, found] as const] : [];
  });
  return Object.fromEntries(entries);
}

function outlineFrom(value: unknown): OutlineWork | null {
  const { draft, aside } = (value ?? NO_OUTLINE) as Partial<OutlineWork>;
  const readable = [draft, aside].every((corners) => Array.isArray(corners) && corners.every(isPoint));
  return readable ? { draft: draft as Point[], aside: aside as Point[] } : null;
}

function planeFrom(value: unknown): PlaneDraft | null {
  const { corners, placed, width, height } = (value ?? {}) as Partial<PlaneDraft>;
  const readable =
    Array.isArray(corners) &&
    corners.length === 4 &&
    corners.every(isPoint) &&
    Array.isArray(placed) &&
    placed.length === 4 &&
    placed.every((each) => typeof each === 'boolean') &&
    [width, height].every((side) => typeof side === 'number' && side > 0);
  return readable ? ({ corners, placed, width, height } as PlaneDraft) : null;
}
