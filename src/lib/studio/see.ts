import { lrvFromLab } from '#lib/colour/index.ts';
import {
  inOrder,
  leadingSample,
  surfaceNames,
  swatchEstimate,
  swatchTitle,
  type Id,
  type Job,
  type Photo,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { lightFacts, type Viewing } from './look.ts';
import type { LightShares } from '#lib/photo/index.ts';
import { toPicture, wholeView, zoomed, type PictureView, type Size } from './picture-view.ts';
import { finishSource, type FinishSource, type RoomScene } from './room-scene.ts';

/** What is tried on surfaces in this tab: a swatch, or null for as photographed. A surface left out shows what is decided. */
export type Tried = Readonly<Record<Id, Id | null>>;

/** What an earlier page of this tab left; nothing where it cannot be read. */
export function readTried(text: string | null): Tried {
  try {
    const kept: unknown = JSON.parse(text ?? '{}');
    if (typeof kept !== 'object' || kept === null || Array.isArray(kept)) return {};
    return Object.fromEntries(
      Object.entries(kept).filter(([, id]) => id === null || typeof id === 'string') as [Id, Id | null][],
    );
  } catch {
    return {};
  }
}

/** Photos that show a room, in their order. */
export function roomPhotos(job: Job): Photo[] {
  return inOrder(job.photos).filter(({ role }) => role === 'room');
}

/** The photo to look at: the one asked for, else the first with marked surfaces, else the first; null without any. */
export function photoToSee(job: Job, asked: Id | null): Photo | null {
  const photos = roomPhotos(job);
  return (
    photos.find(({ id }) => id === asked) ??
    photos.find((photo) => Object.keys(photo.masks ?? {}).length > 0) ??
    photos[0] ??
    null
  );
}

/** A surface of the photo's room and what may stand on it. */
export interface Place {
  readonly surface: Surface;
  /** What it is called beside the others: see `surfaceNames`. */
  readonly name: string;
  /** Whether the photo has a mark for it that fits the picture. */
  readonly marked: boolean;
  /** Whether it has one that was drawn on an earlier picture of the photo, which is kept and not used. */
  readonly markedEarlier: boolean;
  /** Finishes that can be put on, in the order they are shown. */
  readonly choices: readonly Swatch[];
  /** Candidates that have no colour yet. */
  readonly without: readonly Swatch[];
  /** What is on it on this page; null: as photographed. */
  readonly on: Swatch | null;
}

/**
 * The surfaces of a photo's room, marked ones first. `ranked` holds candidates of surfaces, best first: those it does not name
 * follow in the order of the job.
 */
export function placesIn(
  job: Job,
  photo: Photo,
  { tried, ranked }: { tried: Tried; ranked: Readonly<Record<Id, readonly Id[]>> },
): Place[] {
  const rooms = Object.keys(job.rooms);
  const roomId = photo.roomId ?? (rooms.length === 1 ? rooms[0] : null);
  const names = surfaceNames(job, { roomId });
  const places = inOrder(job.surfaces)
    .filter((surface) => roomId === null || surface.roomId === roomId)
    .map((surface): Place => {
      const on = finishOn(job, surface, tried);
      const listed = inOrder(job.swatches).filter(
        ({ id }) => surface.candidateIds[id] || surface.swatchId === id || on?.id === id,
      );
      const order = ranked[surface.id] ?? [];
      const rankOf = ({ id }: Swatch) => (order.includes(id) ? order.indexOf(id) : order.length);
      const all = listed.toSorted((a, b) => rankOf(a) - rankOf(b));
      const coloured = (swatch: Swatch) => leadingSample(swatch) !== null;
      const marked = isMarked(photo, surface.id);
      return {
        surface,
        name: names[surface.id],
        marked,
        markedEarlier: !marked && photo.masks?.[surface.id] !== undefined,
        choices: all.filter(coloured),
        without: all.filter((swatch) => !coloured(swatch)),
        on,
      };
    });
  return [...places.filter(({ marked }) => marked), ...places.filter(({ marked }) => !marked)];
}

/** A mark that was drawn on another picture does not count: see `roomScene`, which says so. */
function isMarked({ masks, fileId, width, height }: Photo, surfaceId: Id): boolean {
  const found = masks?.[surfaceId];
  return found?.fileId === fileId && found.mask.width === width && found.mask.height === height;
}

/** What is tried on a surface, else what is chosen for it: what is fixed is in the photo already. */
function finishOn(job: Job, surface: Surface, tried: Tried): Swatch | null {
  const asked = tried[surface.id];
  const decided = surface.state === 'chosen' && surface.swatchId ? job.swatches[surface.swatchId] : null;
  if (asked === null) return null;
  const swatch = asked === undefined ? decided : (job.swatches[asked] ?? decided);
  return swatch && leadingSample(swatch) ? swatch : null;
}

/** What the finishes on marked surfaces of a scene put there, by surface; `on` null leaves one as photographed. */
export function finishesOn(
  job: Job,
  scene: RoomScene | null,
  places: readonly { readonly surface: Pick<Surface, 'id'>; readonly on: Swatch | null }[],
): Record<Id, FinishSource> {
  const finishes: Record<Id, FinishSource> = {};
  for (const { surface, on } of places) {
    const there = scene?.surfaces.find(({ id }) => id === surface.id);
    const source = there && on ? finishSource(job, { swatch: on, surface: there }) : null;
    if (source) finishes[surface.id] = source;
  }
  return finishes;
}

/** What is put on in a picture of the places: 'Cabinets in Sage, satin'; empty where nothing is. */
export function putOn(places: readonly Place[]): string {
  return places
    .flatMap(({ name, marked, on }) => (marked && on ? [`${name} in ${orderWords(on)}`] : []))
    .join('; ');
}

/** What stands under the picture before, the one after, and both with a wipe between them: all are shown in one light. */
export function pictureTitles(
  places: readonly Place[],
  light: Pick<Viewing, 'name'> | null,
): { before: string; after: string; wipe: string } {
  const on = putOn(places);
  const simulated = `simulated, ${on}`;
  if (!light)
    return {
      before: 'Before: as photographed',
      after: `After: ${on ? simulated : 'as photographed, nothing is put on'}`,
      wipe: `Left: before. Right: ${on ? simulated : 'as photographed, nothing is put on'}`,
    };
  const under = `under “${light.name}”`;
  return {
    before: `Before, ${under}`,
    after: `After, ${under}: ${on ? simulated : 'nothing is put on'}`,
    wipe: `Both ${under}. Left: before. Right: ${on ? simulated : 'nothing is put on'}`,
  };
}

/** The finish a surface has on this page: what is put on, else what the photo shows where that is known. */
export function finishOf(job: Job, { surface, on }: Pick<Place, 'surface' | 'on'>): Swatch | null {
  if (on) return on;
  const id = surface.state === 'fixed' ? surface.swatchId : surface.thereId;
  const there = id ? job.swatches[id] : undefined;
  return there && leadingSample(there) ? there : null;
}

/** A kind of light that was pointed at in a photo: what is said while somebody points, and the letter of its places. */
export const LIGHT_KINDS = {
  window: {
    words: 'Lit by the window',
    hint: 'something white or grey that only the window lights, or its bright panes',
    letter: 'W',
  },
  lamps: {
    words: 'Lit by lamps',
    hint: 'something white or grey that only lamps light, or a lamp that is on',
    letter: 'L',
  },
} as const;
export type LightKind = keyof typeof LIGHT_KINDS;

/** What is told of a photo's own light: see `LightShares`. */
export type LightTold = Pick<LightShares, 'told' | 'mean' | 'seen'>;

/** What was found at the places that were pointed at, in a sentence or two. */
export function lightToldWords({ told, mean, seen }: LightTold): string {
  const panes =
    seen > 0
      ? `The window’s panes cover ${percent(seen)} of the picture and go dark when it gives no light.`
      : 'Point at the bright panes as well, and they go dark when the window gives no light.';
  return told === 'apart'
    ? `About ${percent(mean)} of the light in this photo comes through the window. ${panes}`
    : `${panes} Everything else is shown in one light.`;
}

/** How the light of a picture was made, to stand behind what it is shown in. */
export function lightWay(light: LightTold | null): string {
  if (!light) return '';
  return light.told === 'apart'
    ? ', window and lamps apart'
    : ', the panes of the window in their own part of it';
}

/**
 * What is assumed about the light of a photo that is shown in another, in sentences. `light` is null where all of it goes
 * through one table, as by plain daylight too; `known` is what is told of the photo's own light also where it is not used.
 */
export function lightGuesses(light: LightTold | null, known: LightTold | null = light): string[] {
  if (!light && known)
    return [
      `Here all light in this photo is corrected as one. Under a light of the room ${
        known.told === 'apart' ? 'window and lamps get their own parts' : 'the window gets its own part'
      } of it${known.seen > 0 ? ', and the panes go dark where the window has none' : ''}.`,
    ];
  if (!light)
    return [
      'All light in this photo is changed as one: sun, shadows and what shines stay where they were.',
      'A window that was bright stays bright in the evening, one that was dark stays dark by day, and lamps stay on or off as they were.',
    ];
  const { told, seen } = light;
  return [
    ...(told === 'apart'
      ? [
          'Window and lamps are told apart by the colour of their light. Where one of them burnt the picture out, the other’s light is taken to run on from around.',
          'Lamps that were off stay dark in their own light too, and lamps that were on and not pointed at stay bright by day.',
        ]
      : [
          'All light in this photo is taken to be the window’s. Other light falls where that did, shadows too; only sun with a hard edge on marked floors and counters goes with the window. Lamps that were off stay dark in their own light as well.',
        ]),
    ...(seen > 0
      ? [
          'The view through the window is as bright as the window’s light makes it. Without it the glass is dark: it mirrors 8 % of the room’s light, evenly, the usual share of window glass.',
          'What the sun burnt out beside the glass, such as the reveal, cannot be told from it and may go dark with it in places.',
        ]
      : [
          'The glass of the window stays as it was: bright panes that are not pointed at stay bright in the evening, dark ones stay dark by day.',
        ]),
  ];
}

/** Places of a photo lit by one kind of light, to be shown on it. */
export function lightSpots({ lightPlaces, fileId }: Photo): { x: number; y: number; letter: string }[] {
  if (lightPlaces?.fileId !== fileId) return [];
  return (['window', 'lamps'] as const).flatMap((kind) =>
    lightPlaces[kind].map(([x, y]) => ({ x, y, letter: LIGHT_KINDS[kind].letter })),
  );
}

/** A share 0-1 as people say it: `46 %`, `less than 1 %`. */
export function percent(share: number): string {
  return share > 0 && share < 0.01 ? 'less than 1 %' : `${Math.round(100 * share)} %`;
}

/** The light reflectance value of a swatch's colour, 0-100; null without a colour. */
export function swatchLrv(swatch: Swatch): number | null {
  const estimate = swatchEstimate(swatch);
  return estimate && lrvFromLab(estimate.lab);
}

/** A swatch as one orders it: maker, code, name and sheen. */
export function orderWords({ maker, code, name, kind, sheen }: Swatch): string {
  const title = [maker, code, name].filter(Boolean).join(' ') || `unnamed ${kind}`;
  return sheen ? `${title}, ${sheen}` : title;
}

/**
 * What a picture of a room is shown in: `“Evening”, 2,700 K, 150 lx`. Without a light it is the photo's own, of which the
 * correction leaves lamps beside daylight as they are to each other.
 */
export function lightLine(light: Viewing | null): string {
  return light
    ? `“${light.name}”, ${lightFacts(light)}`
    : 'the photo’s own light, corrected towards plain daylight (6,500 K)';
}

/**
 * What is looked at, whatever the size of the frame: `zoom` 1 shows the whole photo; `x`, `y` is the pixel of the photo that
 * lies in the middle.
 */
export interface LookAt {
  readonly zoom: number;
  readonly x: number;
  readonly y: number;
}

/** How a photo lies on a frame for a look, within the photo's edges. */
export function viewOf({ zoom, x, y }: LookAt, picture: Size, frame: Size): PictureView {
  const scale = wholeView(picture, frame).scale * zoom;
  const [middleX, middleY] = [frame.width / 2, frame.height / 2];
  const view = { scale, x: middleX - scale * x, y: middleY - scale * y };
  return zoomed(view, { factor: 1, about: [middleX, middleY], picture, frame });
}

/** The look of a view: the same place in the middle, whatever the frame. */
export function lookOf(view: PictureView, picture: Size, frame: Size): LookAt {
  const [x, y] = toPicture(view, [frame.width / 2, frame.height / 2]);
  return { zoom: view.scale / wholeView(picture, frame).scale, x, y };
}

/** A swatch's name with its code, as short as one can tell it apart. */
export function shortWords(swatch: Swatch): string {
  const title = swatchTitle(swatch);
  return swatch.code && title !== swatch.code ? `${title} ${swatch.code}` : title;
}
