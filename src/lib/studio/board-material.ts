import type { Ranking } from '#lib/finish/index.ts';
import {
  finishInput,
  lightInputs,
  schemeInput,
  shortlistInput,
  type BoardDraft,
  type BoardPicture,
  type Id,
  type Job,
  type Swatch,
} from '#lib/job/index.ts';
import { analysis } from './analysis.ts';
import { leadersOf, type BoardMaterial, type DrawnPage } from './board-content.ts';
import {
  boardLights,
  boardPlaces,
  boardRoom,
  draftPages,
  pagePhoto,
  type BoardPlace,
} from './board-draft.ts';
import {
  BoardRoom,
  coveredAreas,
  drawnMark,
  pictureOf,
  type PutOn,
  type SentPicture,
} from './board-pictures.ts';
import { pairGist, pairQuestion, tableFinishes, tablePairs, type JudgedPair } from './pair-table.ts';
import { orderWords } from './see.ts';

/** All that a board needs, and its pictures by their names. */
export interface GatheredBoard {
  readonly material: BoardMaterial;
  readonly pictures: ReadonlyMap<string, SentPicture>;
  /** What the pictures could not show, in sentences. */
  readonly notes: readonly string[];
}

/** How far the gathering is: what is being done, and the part that is done, 0-1. */
export type Heard = (words: string, share: number) => void;

/**
 * Ranks, judges pairs and draws what a board shows, of the job and the draft as they are.
 * @throws Error in words where a picture cannot be brought or drawn.
 */
export async function gatherBoard(
  job: Job,
  draft: BoardDraft,
  { last, made, heard }: Pick<BoardMaterial, 'last' | 'made'> & { heard: Heard },
): Promise<GatheredBoard> {
  heard('Comparing finishes', 0);
  const rankings = await rankingsOf(job, draft);
  const places = boardPlaces(job, draft, leadersOf(rankings));
  const pairs = await pairsOf(job, draft, places);
  const drawing = await drawnBoard(job, draft, { places, heard });
  const areas = areasOf(job, draft, drawing.covered);
  const { drawn, options, plain, mark } = drawing;
  return {
    material: { rankings, pairs, areas, drawn, options, plain, mark, last, made },
    pictures: drawing.pictures,
    notes: drawing.notes,
  };
}

async function rankingsOf(job: Job, draft: BoardDraft): Promise<Record<Id, Ranking>> {
  const rankings: Record<Id, Ranking> = {};
  for (const { surface } of boardPlaces(job, draft, {})) {
    if (surface.state === 'fixed') continue;
    const { input } = shortlistInput(job, surface.id);
    if (input.candidates.length > 0) rankings[surface.id] = await analysis().rank(input);
  }
  return rankings;
}

/** Judged under the lights of the board: those are the ones that the client is told of. */
async function pairsOf(job: Job, draft: BoardDraft, places: readonly BoardPlace[]): Promise<JudgedPair[]> {
  const room = boardRoom(job, draft);
  if (!room) return [];
  const { input } = schemeInput(job, room.id);
  const decided = places.filter(({ state, swatch }) => state !== 'open' && swatch && finishInput(swatch));
  const ids = new Set(decided.map(({ surface }) => surface.id));
  const proposed = new Set(
    decided.flatMap(({ surface, state }) => (state === 'proposed' ? [surface.id] : [])),
  );
  const finishes = tableFinishes(job, input, { roomId: room.id, choices: {} }).filter(({ surfaceId }) =>
    ids.has(surfaceId),
  );
  const pairs = tablePairs(finishes, input.meetings).filter(
    ({ row, column, meets }) => meets && (proposed.has(row.surfaceId) || proposed.has(column.surfaceId)),
  );
  if (pairs.length === 0) return [];
  const wanted = new Set(boardLights(job, draft).map(({ id }) => id));
  const lights = lightInputs(job, room.id).filter(({ id }) => wanted.has(id));
  const reports = await analysis().pairReports(pairQuestion(pairs, lights));
  return pairs.map((pair, i) => ({ pair, report: reports[i], gist: pairGist(reports[i]) }));
}

/** As given; else from the first photo; else the usual ones, on one scale. */
function areasOf(job: Job, draft: BoardDraft, covered: Record<Id, number> | null): Record<Id, number> {
  const room = boardRoom(job, draft);
  if (!room) return {};
  const edges = covered && { areas: covered, borders: [] };
  const { input } = schemeInput(job, room.id, { edges });
  return Object.fromEntries(input.places.map(({ surfaceId, area }) => [surfaceId, area]));
}

interface Drawing {
  drawn: Record<Id, DrawnPage | null>;
  options: Record<Id, readonly [BoardPicture, BoardPicture]>;
  plain: Record<Id, string>;
  mark: BoardPicture | null;
  pictures: Map<string, SentPicture>;
  notes: string[];
  covered: Record<Id, number> | null;
}

async function drawnBoard(
  job: Job,
  draft: BoardDraft,
  { places, heard }: { places: readonly BoardPlace[]; heard: Heard },
): Promise<Drawing> {
  const drawing: Drawing = {
    drawn: {},
    options: {},
    plain: {},
    mark: null,
    pictures: new Map(),
    notes: [],
    covered: null,
  };
  const keep = (picture: SentPicture) => drawing.pictures.set(picture.id, picture);
  const lights = boardLights(job, draft);
  // What stays is in the photo already; an open surface shows what leads only where the client chooses it.
  const on = places.flatMap(({ surface, swatch, state, choice }): PutOn[] =>
    swatch && (state === 'proposed' || choice) ? [{ surface, swatch }] : [],
  );
  const pages = draftPages(draft).filter(({ shown }) => shown);
  const pictured = pages.filter(({ kind }) => kind === 'pictures');
  const choices = places.filter(({ choice }) => choice !== null);
  const whole = pictured.length * (2 + 2 * lights.length) + choices.length * 2;
  let count = 0;
  const told = () => heard('Drawing pictures', whole > 0 ? ++count / whole : 1);
  heard('Drawing pictures', 0);

  for (const page of pictured) {
    const photo = pagePhoto(job, page);
    const room = photo && new BoardRoom(job, photo);
    drawing.drawn[page.id] = null;
    if (!room || room.scene.surfaces.length === 0) continue;
    try {
      const { page: drawn, sent, notes } = await room.page(on, { lights, drawn: told });
      drawing.drawn[page.id] = drawn;
      sent.forEach(keep);
      drawing.notes.push(...notes);
      drawing.covered ??= coveredAreas(room.scene);
    } finally {
      room.dispose();
    }
  }
  for (const { surface, choice } of choices) {
    const photo = pagePhoto(job, pictured[0] ?? { photoId: null });
    const room = photo && new BoardRoom(job, photo);
    if (!choice?.choice || !room?.scene.surfaces.some(({ id }) => id === surface.id)) continue;
    try {
      const both: BoardPicture[] = [];
      for (const id of choice.choice.swatchIds) {
        const swatch: Swatch = job.swatches[id];
        const others = on.filter((put) => put.surface.id !== surface.id);
        const picture = await room.picture([...others, { surface, swatch }], null);
        told();
        keep(picture);
        const plain = room.plainWords([{ surface, swatch }]);
        const words = `${surface.name} in ${orderWords(swatch)}, by plain daylight.`;
        both.push(pictureOf(picture, [words, plain].filter(Boolean).join(' ')));
      }
      drawing.options[choice.id] = [both[0], both[1]];
      const two = choice.choice.swatchIds.map((id) => ({ surface, swatch: job.swatches[id] }));
      drawing.plain[choice.id] = room.plainWords(two);
    } finally {
      room.dispose();
    }
  }
  const { markFileId, name } = draft.designer;
  if (markFileId) {
    const { mark, sent } = await drawnMark(markFileId, name);
    drawing.mark = mark;
    keep(sent);
  }
  drawing.notes = [...new Set(drawing.notes)];
  return drawing;
}
