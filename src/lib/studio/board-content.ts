import { colourName } from '#lib/colour/index.ts';
import { figureWords, type Ranking } from '#lib/finish/index.ts';
import {
  leadingSample,
  LONGEST,
  meanColour,
  photoNames,
  roundDifferences,
  swatchTitle,
  type BoardContent,
  type BoardDraft,
  type BoardDraftPage,
  type BoardFinish,
  type BoardPage,
  type BoardPicture,
  type Id,
  type Job,
  type Light,
  type Swatch,
} from '#lib/job/index.ts';
import {
  boardLights,
  boardPlaces,
  boardRoom,
  draftPages,
  pagePhoto,
  PAGE_KINDS,
  type BoardPlace,
} from './board-draft.ts';
import { boardCautions, boardReasons, choiceDifferences, openItems } from './board-reasons.ts';
import { lookOf, paintsOf } from './day.ts';
import { capital } from './light-words.ts';
import { viewing } from './look.ts';
import { looksOf, type Look } from './looks.ts';
import type { JudgedPair } from './pair-table.ts';
import { ownWords, TOO_LITTLE_KNOWN } from './readings.ts';
import { hexColour } from './scheme-plot.ts';
import { roomPhotos, swatchLrv } from './see.ts';

/** What a page with pictures shows, drawn. */
export type DrawnPage = Pick<Extract<BoardPage, { kind: 'pictures' }>, 'before' | 'after' | 'places'>;

/** What has to be found out before a board can be made: everything that is not in the job as such. */
export interface BoardMaterial {
  /** Of the surfaces that are not fixed. */
  readonly rankings: Readonly<Record<Id, Ranking>>;
  /** Pairs of finishes that meet and of which at least one is proposed. */
  readonly pairs: readonly JudgedPair[];
  /** Visible areas by surface, on one scale. */
  readonly areas: Readonly<Record<Id, number>>;
  /** By page; null where its photo shows nothing that is marked. */
  readonly drawn: Readonly<Record<Id, DrawnPage | null>>;
  /** Pictures of the two finishes of a choice, by page. */
  readonly options: Readonly<Record<Id, readonly [BoardPicture, BoardPicture]>>;
  /** Which of the two are drawn without their pattern, in a sentence, by page; empty where none is. */
  readonly plain: Readonly<Record<Id, string>>;
  readonly mark: BoardPicture | null;
  readonly last: { readonly round: number; readonly content: BoardContent } | null;
  /** ISO date. */
  readonly made: string;
}

/** A board ready to be frozen, and what is not on it, in sentences. */
export interface MadeBoard {
  readonly content: BoardContent;
  readonly notes: readonly string[];
}

/** The candidate that leads each open surface, by the rankings. */
export function leadersOf(rankings: Readonly<Record<Id, Ranking>>): Record<Id, Id> {
  return Object.fromEntries(
    Object.entries(rankings).flatMap(([id, { shortlist }]) => (shortlist[0] ? [[id, shortlist[0].id]] : [])),
  );
}

/**
 * What a client is to see, from the draft and the job as they are. Pages with nothing to say are left out and named in `notes`.
 * The cautions always stand, shown or not.
 */
export function boardContent(job: Job, draft: BoardDraft, material: BoardMaterial): MadeBoard {
  const notes: string[] = [];
  const ground: Ground = {
    job,
    draft,
    material,
    lights: boardLights(job, draft),
    places: boardPlaces(job, draft, leadersOf(material.rankings)),
  };
  const pages: BoardPage[] = [];
  for (const page of draftPages(draft)) {
    if (!page.shown && page.kind !== 'cautions') continue;
    // What changed is known once all pages are.
    const made = page.kind === 'changes' ? changesHead(page, material) : pageOf(page, ground);
    if (typeof made === 'string') notes.push(`“${titleOf(page)}” is left out: ${made}`);
    else pages.push(made);
  }
  for (const page of pages)
    if (page.kind === 'changes' && material.last)
      page.changes = roundDifferences(material.last.content, { pages })
        .slice(0, 60)
        .map(({ surface, was, is }) => ({
          surface: cut(surface, 100),
          was: cut(was, 300),
          is: cut(is, 300),
        }));
  const { designer } = draft;
  const content: BoardContent = {
    format: 1,
    title: draft.title.trim() || PAGE_KINDS.pictures.title,
    client: draft.client,
    room: boardRoom(job, draft)?.name ?? '',
    designer: { name: designer.name, line: designer.line, mark: material.mark },
    made: material.made,
    pages,
  };
  return { content, notes };
}

interface Ground {
  readonly job: Job;
  readonly draft: BoardDraft;
  readonly material: BoardMaterial;
  readonly lights: readonly Light[];
  readonly places: readonly BoardPlace[];
}

const titleOf = ({ title, kind }: BoardDraftPage) => title.trim() || PAGE_KINDS[kind].title;
const headOf = (page: BoardDraftPage) => ({ title: titleOf(page), words: cut(page.words, LONGEST.words) });

/** Text no longer than a place takes; what is cut shows. */
function cut(words: string, most: number): string {
  return words.length <= most ? words : `${words.slice(0, most - 1)}…`;
}

/** A page, or why it has nothing to say. */
function pageOf(page: BoardDraftPage, ground: Ground): BoardPage | string {
  const { job, material, places } = ground;
  const head = headOf(page);
  switch (page.kind) {
    case 'pictures': {
      const drawn = material.drawn[page.id];
      if (!drawn) return 'no photo of the room has marked surfaces yet.';
      return { kind: 'pictures', ...head, ...photoOf(job, page), ...drawn };
    }
    case 'finishes': {
      const finishes = boardFinishes(ground);
      return finishes.length > 0
        ? { kind: 'finishes', ...head, finishes }
        : 'no finish of this room has a colour yet.';
    }
    case 'reasons': {
      const reasons = reasonsOf(ground);
      return reasons.length > 0
        ? { kind: 'reasons', ...head, reasons }
        : 'nothing is chosen that was compared with something.';
    }
    case 'choice':
      return choicePage(page, ground);
    case 'open': {
      const items = openItems(places, material).map((item) => cut(item, 400));
      return items.length > 0
        ? { kind: 'open', ...head, items: items.slice(0, 60) }
        : 'nothing is open or in doubt.';
    }
    case 'words':
      return head.words.trim() ? { kind: 'words', ...head } : 'it has no words yet.';
    default: {
      const photos = draftPages(ground.draft)
        .filter(({ id, kind, shown }) => kind === 'pictures' && shown && material.drawn[id])
        .map((pictured) => pagePhoto(job, pictured));
      const estimated = photos.some((photo) => photo && Object.keys(photo.references).length === 0);
      const items = boardCautions(job, places, { pictured: photos.length > 0, estimated });
      return { kind: 'cautions', ...head, items: items.map((item) => cut(item, 600)).slice(0, 20) };
    }
  }
}

/** Which photo a page shows, where there are several: what is frozen must say so by itself. */
function photoOf(job: Job, page: BoardDraftPage): { photo?: string } {
  const photos = roomPhotos(job);
  const photo = pagePhoto(job, page);
  return photo && photos.length > 1 ? { photo: cut(photoNames(photos)[photo.id], 180) } : {};
}

function changesHead(page: BoardDraftPage, { last }: BoardMaterial): BoardPage | string {
  if (!last) return 'this is the first round.';
  return { kind: 'changes', ...headOf(page), since: last.round, changes: [] };
}

function boardFinishes(ground: Ground): BoardFinish[] {
  const { places, material } = ground;
  const shown = places.filter(({ swatch }) => swatch !== null);
  const whole = shown.reduce((sum, { surface }) => sum + (material.areas[surface.id] ?? 0), 0);
  return shown.map(({ surface, swatch, state, choice }) => {
    const area = whole > 0 ? (material.areas[surface.id] ?? 0) / whole : null;
    const note = choice
      ? 'One of two to choose from.'
      : state === 'open'
        ? 'Not decided: it leads among what is being considered.'
        : '';
    return finishOn(ground, swatch!, { surface, state, area, note });
  });
}

/** A finish as a board shows it. @throws TypeError for a swatch without a colour. */
function finishOn(
  { lights }: Pick<Ground, 'lights'>,
  swatch: Swatch,
  {
    surface,
    state,
    area,
    note,
  }: Pick<BoardPlace, 'surface' | 'state'> & { area: number | null; note: string },
): BoardFinish {
  const sample = leadingSample(swatch);
  if (!sample) throw new TypeError(`Expected a swatch with a colour, got ${swatch.id}`);
  const whole = sample.colours.reduce((sum, { share }) => sum + share, 0) || 1;
  const colours = sample.colours.map(({ lab, share }) => ({ screen: hexColour(lab), share: share / whole }));
  const main = sample.colours.reduce((most, colour) => (colour.share > most.share ? colour : most));
  const paint = paintsOf(sample)[sample.colours.indexOf(main)];
  const looks = looksOf(swatch, lights);
  const under = lights.map((light) => {
    const look = looks.find(({ lightId }) => lightId === light.id);
    return {
      light: cut(light.name, 120),
      screen: hexColour(lookOf(paint, viewing(light).view)),
      words: cut(look ? underWords(look) : '', 300),
    };
  });
  const { maker, code, name, sheen, kind } = swatch;
  return {
    surfaceId: surface.id,
    surface: surface.name,
    swatchId: swatch.id,
    kind,
    maker,
    code,
    name,
    sheen: sheen ?? '',
    state,
    colours,
    under,
    lrv: swatchLrv(swatch) ?? 0,
    area,
    words: [`${capital(colourName(meanColour(sample)))}.`, note].filter(Boolean).join(' '),
  };
}

/**
 * What a light makes of a finish, for a client: 'dark greyish green; it holds its colour (0.2)'. The number is CIEDE2000 from
 * daylight, once the eye has settled on the light.
 */
function underWords({ words, own }: Look): string {
  if (!own) return `${words}; ${TOO_LITTLE_KNOWN}`;
  const change = ownWords(own);
  const said = /^it (?:probably )?holds$/.test(change)
    ? `${change} its colour`
    : `beyond what the light does to everything it turns ${change}`;
  return `${words}; ${said} (${figureWords(own.deltaE)})`;
}

function reasonsOf({ places, material }: Ground) {
  return boardReasons(places, material)
    .slice(0, 60)
    .map(({ sentence, number }) => ({ sentence: cut(sentence, 600), number: cut(number, 120) }));
}

function choicePage(page: BoardDraftPage, ground: Ground): BoardPage | string {
  const { job, places, material } = ground;
  const place = places.find(({ choice }) => choice?.id === page.id);
  if (!place || !page.choice) return 'say for which surface, and between which two finishes with a colour.';
  const { surface } = place;
  const [first, second] = page.choice.swatchIds.map((id) => job.swatches[id]);
  const pictures = material.options[page.id];
  const option = (swatch: Swatch, i: number) => ({
    finish: finishOn(ground, swatch, { surface, state: 'proposed', area: null, note: '' }),
    picture: pictures?.[i] ?? null,
  });
  return {
    kind: 'choice',
    ...headOf(page),
    surfaceId: surface.id,
    surface: surface.name,
    options: [option(first, 0), option(second, 1)],
    differences: [
      ...choiceDifferences([first, second], material.rankings[surface.id]),
      ...(material.plain[page.id] ? [`In the pictures: ${material.plain[page.id]}`] : []),
    ]
      .map((words) => cut(words, 400))
      .slice(0, 20),
  };
}

/** What a picture of the proposal shows, for people who do not see it: 'The room with Cabinets in “Deep Lock”, under “Dusk”.' */
export function pictureWords(
  on: readonly { surface: string; swatch: Swatch }[],
  light: string | null,
): string {
  const what = on.map(({ surface, swatch }) => `${surface} in “${swatchTitle(swatch)}”`).join(', ');
  const where = light === null ? 'by plain daylight' : `under “${light}”`;
  return cut(what ? `The room with ${what}, ${where}.` : `The room as it is, ${where}.`, 600);
}
