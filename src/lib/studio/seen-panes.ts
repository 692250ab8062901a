import type { AppliedFinish } from '#lib/photo/index.ts';
import type { Id } from '#lib/job/index.ts';
import type { Comparing } from './CompareBar.svelte';
import type { Viewing } from './look.ts';
import type { Pane } from './RoomStage.svelte';
import type { Place } from './see.ts';

/** A candidate on the sheet. */
export interface SheetEntry {
  readonly id: Id;
  readonly title: string;
  /** Null while it is being made ready and where it cannot be shown. */
  readonly applied: AppliedFinish | null;
}

/** What the page compares. */
export interface Compared {
  readonly comparing: Comparing;
  /** Part of the width at which the wipe stands, 0-1. */
  readonly split: number;
  /** Whether the room before is wanted in every pane. */
  readonly held: boolean;
  /** What is under the picture before, under the one after, and under both where a wipe lies between them. */
  readonly titles: { readonly before: string; readonly after: string; readonly wipe: string };
  /** Candidates of one surface; null where there is none to lay out. */
  readonly sheet: { readonly surfaceId: Id; readonly entries: readonly SheetEntry[] } | null;
}

/** The pictures that lie on the page, each with what is under it. */
export function seenPanes({ comparing, split, held, titles, sheet }: Compared): Pane[] {
  const before: Pane = { key: 'before', title: titles.before, options: { before: true } };
  const after: Pane = { key: 'after', title: titles.after, options: { before: held } };
  const now = (pane: Pane): Pane => (held ? { ...pane, title: titles.before } : pane);
  if (comparing === 'beside') return [before, now(after)];
  if (comparing === 'wipe') return [now({ ...after, title: titles.wipe, options: { before: held, split } })];
  // Without anything to put on the sheet the room itself stays in sight.
  if (comparing !== 'sheet' || !sheet || sheet.entries.length === 0) return [now(after)];
  return sheet.entries.map(({ id, title, applied }) =>
    now({
      key: id,
      title: applied ? title : `${title}: it cannot be shown, so this is the room as it was`,
      options: { before: held, finishes: { [sheet.surfaceId]: applied } },
    }),
  );
}

/** What is said of pictures that are drawn. */
export interface Said {
  /** By the key of a pane. */
  readonly titles: Readonly<Record<string, string>>;
  readonly status: string;
  readonly places: readonly Place[];
  readonly light: Viewing | null;
  /** Which state of the room they show. */
  readonly version: number;
  readonly photoId: string | undefined;
}
