import { inverse, type Edit } from './edits.ts';

/** Edits that can be undone (latest last) and redone (next last). */
export interface History {
  readonly done: readonly Edit[];
  readonly undone: readonly Edit[];
}

/** Steps kept for undo; older ones stay in the store but cannot be undone one by one. */
const DEPTH = 200;

export const EMPTY_HISTORY: History = { done: [], undone: [] };

/** History after a new edit: what had been undone can no longer be redone. */
export function recorded(history: History, edit: Edit): History {
  return { done: [...history.done, edit].slice(-DEPTH), undone: [] };
}

/** The edit to apply for an undo and the history after it, or null when there is nothing to undo. */
export function undone(history: History): { edit: Edit; history: History } | null {
  const last = history.done.at(-1);
  if (!last) return null;
  return {
    edit: inverse(last),
    history: { done: history.done.slice(0, -1), undone: [...history.undone, last] },
  };
}

/** The edit to apply for a redo and the history after it, or null when there is nothing to redo. */
export function redone(history: History): { edit: Edit; history: History } | null {
  const next = history.undone.at(-1);
  if (!next) return null;
  return { edit: next, history: { done: [...history.done, next], undone: history.undone.slice(0, -1) } };
}
