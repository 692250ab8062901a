import {
  inOrder,
  leadingSample,
  type BoardContent,
  type BoardDraft,
  type BoardDraftPage,
  type BoardPageKind,
  type Id,
  type Job,
  type Light,
  type Photo,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { photoToSee } from './see.ts';

/* The draft of a board: what the designer plans before it is frozen, and how it changes. */

/** What each kind of page is called on a board from the start, and what it shows. */
export const PAGE_KINDS: Readonly<Record<BoardPageKind, { title: string; shows: string }>> = {
  pictures: {
    title: 'The room, before and after',
    shows: 'The photo as it is and with what is chosen, under each light of the board.',
  },
  finishes: {
    title: 'The finishes',
    shows: 'Everything that stays, is proposed or is still open, at its size in the room.',
  },
  choice: { title: 'Which of these two?', shows: 'Two finishes for one surface, side by side.' },
  reasons: { title: 'Why these', shows: 'What was compared, and why these came out.' },
  changes: {
    title: 'What changed',
    shows:
      'From round 2 on: what is another finish than in the round before. The head of the board says it in short.',
  },
  open: { title: 'Still open', shows: 'What is not decided, and what is in doubt.' },
  words: { title: 'A word from me', shows: 'Your own words and nothing else.' },
  cautions: {
    title: 'Before anything is ordered',
    shows: 'What a screen cannot show, and what work can harm.',
  },
};

/** Most lights a page of pictures has besides plain daylight. */
export const MOST_LIGHTS = 7;

/** Pages a new board has, in their order; their ids are their kinds, so that a draft nobody saved is the same each time. */
const FIRST_PAGES: readonly BoardPageKind[] = [
  'pictures',
  'changes',
  'finishes',
  'reasons',
  'open',
  'cautions',
];

export interface Designer {
  readonly name: string;
  readonly line: string;
}

/** The draft that a job has, or starts with. */
export function draftOf(job: Job, designer: Designer = { name: '', line: '' }): BoardDraft {
  return job.board ?? firstDraft(job, designer);
}

function firstDraft(job: Job, { name, line }: Designer): BoardDraft {
  const pages = FIRST_PAGES.map((kind, i) => newPage(kind, { id: kind, order: i + 1 }));
  const draft: BoardDraft = {
    title: '',
    client: '',
    designer: { name, line, markFileId: null },
    lightIds: {},
    pages: Object.fromEntries(pages.map((page) => [page.id, page])),
  };
  const room = boardRoom(job, draft);
  draft.title = room ? `${room.name}: a proposal` : `${job.name}: a proposal`;
  for (const { id } of roomLights(job, draft).slice(0, MOST_LIGHTS)) draft.lightIds[id] = true;
  return draft;
}

/** A page of a kind, shown, with its usual title and no words. */
export function newPage(kind: BoardPageKind, { id, order }: { id: Id; order: number }): BoardDraftPage {
  const { title } = PAGE_KINDS[kind];
  return { id, order, kind, shown: true, title, words: '', photoId: null, choice: null };
}

/** Pages in their order. */
export function draftPages({ pages }: Pick<BoardDraft, 'pages'>): BoardDraftPage[] {
  return inOrder(pages);
}

/** Whether a page can be hidden or taken off: what is said for safety always stands. */
export function isOptional({ kind }: Pick<BoardDraftPage, 'kind'>): boolean {
  return kind !== 'cautions';
}

/** Orders that put a page one place up (-1) or down (1), as `page id, order`; none at the end of the list. */
export function movedPage(draft: BoardDraft, pageId: Id, by: -1 | 1): [Id, number][] {
  const pages = draftPages(draft);
  const at = pages.findIndex(({ id }) => id === pageId);
  const other = pages[at + by];
  if (at < 0 || !other) return [];
  const order = pages.map(({ id }) => id);
  [order[at], order[at + by]] = [other.id, pageId];
  return order.flatMap((id, i): [Id, number][] => (draft.pages[id].order === i + 1 ? [] : [[id, i + 1]]));
}

/** The photo of a page with pictures; null where the job has none of a room. */
export function pagePhoto(job: Job, { photoId }: Pick<BoardDraftPage, 'photoId'>): Photo | null {
  return photoToSee(job, photoId);
}

/** The room a board is about: that of its first picture, else the first that has surfaces; null without rooms. */
export function boardRoom(job: Job, draft: Pick<BoardDraft, 'pages'>) {
  const pictured = draftPages(draft).find(({ kind, shown }) => kind === 'pictures' && shown);
  const photo = pagePhoto(job, pictured ?? { photoId: null });
  const rooms = inOrder(job.rooms);
  const surfaced = rooms.find(({ id }) => Object.values(job.surfaces).some(({ roomId }) => roomId === id));
  return (photo?.roomId ? job.rooms[photo.roomId] : undefined) ?? surfaced ?? rooms[0] ?? null;
}

/** Named lights of the board's room, in their order. */
export function roomLights(job: Job, draft: Pick<BoardDraft, 'pages'>): Light[] {
  const room = boardRoom(job, draft);
  return inOrder(job.lights).filter(({ roomId }) => roomId === room?.id);
}

/** The lights that the pictures of a board are shown under besides plain daylight. */
export function boardLights(job: Job, draft: Pick<BoardDraft, 'pages' | 'lightIds'>): Light[] {
  return roomLights(job, draft)
    .filter(({ id }) => draft.lightIds[id])
    .slice(0, MOST_LIGHTS);
}

/** A surface of the board's room and the finish it has there. */
export interface BoardPlace {
  readonly surface: Surface;
  /** Null where nothing is on it, or what is has no colour yet. */
  readonly swatch: Swatch | null;
  readonly state: 'stays' | 'proposed' | 'open';
  /** The page on which the client chooses between two finishes for it, where there is one. */
  readonly choice: BoardDraftPage | null;
}

/**
 * The surfaces of the board's room in their order. An open surface shows the first of a choice, else the candidate that leads:
 * `leaders` by surface, else none.
 */
export function boardPlaces(job: Job, draft: BoardDraft, leaders: Readonly<Record<Id, Id>>): BoardPlace[] {
  const room = boardRoom(job, draft);
  return inOrder(job.surfaces)
    .filter(({ roomId }) => roomId === room?.id)
    .map((surface): BoardPlace => {
      const choice = draftPages(draft).find((page) => page.shown && isWhole(job, page, surface.id)) ?? null;
      const { state, swatchId } = surface;
      const on = choice?.choice?.swatchIds[0] ?? (state === 'open' ? leaders[surface.id] : swatchId);
      const swatch = on ? job.swatches[on] : undefined;
      const decided = state === 'fixed' ? 'stays' : 'proposed';
      return {
        surface,
        swatch: swatch && leadingSample(swatch) ? swatch : null,
        state: choice || state === 'open' || !swatchId ? 'open' : decided,
        choice,
      };
    });
}

/** Whether a page offers two finishes for a surface that the job still has, with colours. */
function isWhole(job: Job, { choice }: BoardDraftPage, surfaceId: Id): boolean {
  if (choice?.surfaceId !== surfaceId || choice.swatchIds[0] === choice.swatchIds[1]) return false;
  return choice.swatchIds.every((id) => job.swatches[id] && leadingSample(job.swatches[id]));
}

/** What may stand on a page for a choice: candidates and what is chosen, with a colour. */
export function choosable(job: Job, surface: Surface): Swatch[] {
  return inOrder(job.swatches).filter(
    (swatch) =>
      (surface.candidateIds[swatch.id] || surface.swatchId === swatch.id) && leadingSample(swatch) !== null,
  );
}

/**
 * A draft that says what a frozen round said: its pages, titles and words. Finishes and numbers are those of the job as it is
 * now; `newId` names pages that need a name of their own.
 */
export function draftFromRound(job: Job, content: BoardContent, newId: () => Id): BoardDraft {
  const now = draftOf(job);
  const taken = new Set<string>();
  const pages = content.pages.map(({ kind, title, words, ...page }, i): BoardDraftPage => {
    const id = taken.has(kind) || kind === 'choice' || kind === 'words' ? newId() : kind;
    taken.add(id);
    const choice =
      'options' in page
        ? {
            surfaceId: page.surfaceId,
            swatchIds: page.options.map(({ finish }) => finish.swatchId) as [Id, Id],
          }
        : null;
    return {
      ...newPage(kind, { id, order: i + 1 }),
      title,
      words,
      choice,
      photoId: now.pages[id]?.photoId ?? null,
    };
  });
  // What had nothing to say in that round may have something to say in the next.
  for (const kind of FIRST_PAGES)
    if (!pages.some((page) => page.kind === kind)) {
      const shown = kind === 'changes' || kind === 'cautions' || kind === 'open';
      pages.push({ ...newPage(kind, { id: kind, order: pages.length + 1 }), shown });
    }
  const names = new Set(
    content.pages.flatMap((page) => (page.kind === 'pictures' ? page.after.map(({ light }) => light) : [])),
  );
  const draft: BoardDraft = {
    title: content.title,
    client: content.client,
    designer: { ...now.designer, name: content.designer.name, line: content.designer.line },
    lightIds: now.lightIds,
    pages: Object.fromEntries(pages.map((page) => [page.id, page])),
  };
  const lights = roomLights(job, draft).filter(({ name }) => names.has(name));
  if (names.size > 0) draft.lightIds = Object.fromEntries(lights.map(({ id }) => [id, true as const]));
  return draft;
}

/** What to set in a draft: places in it and their values; undefined takes a place away. */
export type DraftValues = readonly (readonly [path: readonly string[], value: unknown])[];

/** A draft with places of it set, the draft itself left alone. */
export function changedDraft(draft: BoardDraft, values: DraftValues): BoardDraft {
  const changed = structuredClone(draft);
  for (const [path, value] of values) {
    let place = changed as unknown as Record<string, unknown>;
    for (const step of path.slice(0, -1)) place = place[step] as Record<string, unknown>;
    const last = path[path.length - 1];
    if (value === undefined) delete place[last];
    else place[last] = value;
  }
  return changed;
}
