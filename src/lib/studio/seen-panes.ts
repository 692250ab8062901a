import type { AppliedFinish } from '#lib/photo/index.ts';
import type { Id, Swatch } from '#lib/job/index.ts';
import type { Comparing } from './CompareBar.svelte';
import type { Viewing } from './look.ts';
import type { DrawOptions } from './room-picture.ts';
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
  readonly sheet: Compared['sheet'];
  readonly light: Viewing | null;
  /** Which state of the room they show. */
  readonly version: number;
  readonly photoId: string | undefined;
}

/** What is drawn in one of the pictures. */
export interface SaidHere extends Pick<Said, 'places' | 'light' | 'version'> {
  /** How it is drawn. */
  readonly options: DrawOptions;
}

/** What is drawn where somebody tapped: in a candidate's picture that candidate, elsewhere what is on. */
export function saidAt(
  { places, light, version, sheet }: Said,
  pane: string | null,
  swatches: Readonly<Record<Id, Swatch>>,
): SaidHere {
  const entry = sheet?.entries.find(({ id }) => id === pane);
  if (!sheet || !entry) return { places, light, version, options: {} };
  const { surfaceId } = sheet;
  const on = (entry.applied && swatches[entry.id]) ?? null;
  return {
    places: places.map((place) => (place.surface.id === surfaceId ? { ...place, on } : place)),
    light,
    version,
    options: { finishes: { [surfaceId]: entry.applied } },
  };
}
