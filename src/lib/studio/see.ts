import { lrvFromLab } from '#lib/colour/index.ts';
import { pairings, VISIBLE_EDGE_LRV, type LightInput, type Pairing } from '#lib/finish/index.ts';
import {
  finishInput,
  inOrder,
  leadingSample,
  swatchEstimate,
  swatchTitle,
  type Id,
  type Job,
  type Photo,
  type Sample,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from '#lib/job/index.ts';
import { lightFacts, type Viewing } from './look.ts';
import type { LightShares } from '#lib/photo/index.ts';
import { toPicture, wholeView, zoomed, type PictureView, type Size } from './picture-view.ts';

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
  /** Whether the photo has a mark for it that fits the picture. */
  readonly marked: boolean;
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
      return {
        surface,
        marked: isMarked(photo, surface.id),
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

/** What a picture of the places shows, for its caption: 'simulated, Cabinets in Sage, satin'. */
export function shownOn(places: readonly Place[]): string {
  const changed = places.flatMap(({ surface, marked, on }) =>
    marked && on ? [`${surface.name} in ${orderWords(on)}`] : [],
  );
  return changed.length > 0 ? `simulated, ${changed.join('; ')}` : 'as photographed, nothing is put on';
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
 * through one table, as by plain daylight too.
 */
export function lightGuesses(light: LightTold | null): string[] {
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
          'All light in this photo is taken to be the window’s. Other light falls where that did, sun and shadows too, and lamps that were off stay dark in their own light as well.',
        ]),
    ...(seen > 0
      ? [
          'The view through the window is as bright as the window’s light makes it. Without it the glass is black: what it would mirror of the room is left out.',
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

/** A border between two marked surfaces: `length` in pixels of the photo. */
export interface Border {
  readonly a: Id;
  readonly b: Id;
  readonly length: number;
}

/** Which surface each pixel of a photo shows. */
export interface Owners {
  readonly width: number;
  readonly height: number;
  /** Ids of the surfaces that could be read. */
  readonly ids: readonly Id[];
  /** For each pixel, row by row, 1 more than the place of its surface in `ids`; 0 where nothing is marked. */
  readonly owner: Uint8Array;
}

/** The surface at a place of the photo, pixels; null where nothing is marked and beyond the photo. */
export function surfaceAt(
  { width, height, ids, owner }: Owners,
  { x, y }: { x: number; y: number },
): Id | null {
  if (!(x >= 0 && y >= 0 && x < width && y < height)) return null;
  return ids[owner[Math.floor(y) * width + Math.floor(x)] - 1] ?? null;
}

/** A surface that another one touches in the photo, and how their finishes sit together. */
export interface Neighbour {
  readonly place: Place;
  /** Part of all the borders of the surface in question, 0-1. */
  readonly share: number;
  /** Null where one of the two finishes has no known colour. */
  readonly pairing: Pairing | null;
  /** Whether people must see this edge and the two differ by less than guidance asks for. */
  readonly faintEdge: boolean;
}

/** Surfaces whose edges people find their way by. Common practice, no published source. */
const EDGES_TO_SEE: readonly SurfaceKind[] = ['counter', 'floor', 'doors', 'hardware'];

/**
 * What a surface touches, longest border first, under the light given or under plain daylight. Places of other photos and
 * surfaces that are not marked touch nothing.
 */
export function neighboursOf(
  job: Job,
  id: Id,
  { places, borders, light }: { places: readonly Place[]; borders: readonly Border[]; light: Viewing | null },
): Neighbour[] {
  const here = places.find(({ surface }) => surface.id === id);
  if (!here) return [];
  const touching = borders
    .filter(({ a, b }) => a === id || b === id)
    .flatMap(({ a, b, length }) => {
      const place = places.find(({ surface }) => surface.id === (a === id ? b : a));
      return place ? [{ place, length }] : [];
    })
    .sort((p, q) => q.length - p.length);
  const whole = touching.reduce((sum, { length }) => sum + length, 0);
  const finish = finishOf(job, here);
  return touching.map(({ place, length }): Neighbour => {
    const pairing = pairingBetween(finish, finishOf(job, place), { name: place.surface.name, light });
    const seen = [here, place].some(({ surface }) => EDGES_TO_SEE.includes(surface.kind));
    const faintEdge = seen && pairing !== null && Math.abs(pairing.lrvDifference) < VISIBLE_EDGE_LRV;
    return { place, share: length / whole, pairing, faintEdge };
  });
}

function pairingBetween(
  finish: Swatch | null,
  there: Swatch | null,
  { name, light }: { name: string; light: Viewing | null },
): Pairing | null {
  const [tried, standing] = [finish && finishInput(finish), there && finishInput(there)];
  if (!tried || !standing) return null;
  const [pairing] = pairings({ finish: standing, surfaceName: name }, tried, { lights: lightInput(light) });
  return pairing;
}

function lightInput(light: Viewing | null): LightInput[] {
  if (!light) return [];
  const { name, spectrum, illuminance } = light;
  return [{ id: 'shown', name, spectrum: Array.from(spectrum), illuminance }];
}

/** How a surface sits with all it touches, by length of border, in a sentence; null where nothing can be compared. */
export function bordersInWords(neighbours: readonly Neighbour[]): string | null {
  const known = neighbours.filter(({ pairing }) => pairing !== null);
  const whole = known.reduce((sum, { share }) => sum + share, 0);
  if (whole === 0) return null;
  const missed = known.filter(({ pairing }) => pairing?.kind === 'near miss');
  const part = missed.reduce((sum, { share }) => sum + share, 0) / whole;
  if (part === 0) return 'No near miss along any of its edges.';
  const names = missed.map(({ place }) => `“${place.surface.name}”`).join(' and ');
  return `A near miss along ${percent(part)} of its edges: with ${names}.`;
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

/** Where the colour of a swatch comes from, to stand after “colour”. */
export function sampleWords(job: Job, { source, from }: Pick<Sample, 'source' | 'from'>): string {
  const photo = from ? job.photos[from.photoId] : undefined;
  const words: Record<Sample['source'], string> = {
    photo: photo ? `measured in the photo “${photo.name}”` : 'measured in a photo',
    instrument: 'read from a sample with an instrument',
    typed: 'typed in',
    notation: 'from its notation',
    published: 'as published by its maker',
    'published LRV': 'guessed from its published LRV',
  };
  return words[source];
}

/** What the page is shown under: `“Evening”, 2,700 K, 150 lx`, or plain daylight. */
export function lightLine(light: Viewing | null): string {
  return light ? `“${light.name}”, ${lightFacts(light)}` : 'plain daylight, 6,500 K';
}

/** Every finish that differs from the photo, as caption lines. */
export function finishLines(job: Job, places: readonly Place[]): string[] {
  return places.flatMap(({ surface, marked, on }) => {
    const sample = on && leadingSample(on);
    return marked && on && sample
      ? [`${surface.name}: ${orderWords(on)}; colour ${sampleWords(job, sample)}.`]
      : [];
  });
}

/** How the light of an exported picture was worked out, in a sentence. `told` is null where all light went through one table. */
function lightMade(light: Viewing | null, told: LightTold | null): string {
  if (!light)
    return 'Light and shadows are those of the photo, corrected to plain daylight as one: a dark window stays dark, lamps stay on or off.';
  if (!told)
    return 'All light in the photo is brought to this light as one: sun and shadows stay where they were, windows bright or dark and lamps on or off as they were.';
  return told.told === 'apart'
    ? `The light of the window and that of the lamps are worked out apart, each for its own part of this light; about ${percent(told.mean)} of the light in the photo is taken to be the window’s.`
    : 'All light in the photo is brought to this light as one, sun and shadows where they were; the panes of the window alone are worked out apart, as bright as the window’s part of it.';
}

/**
 * What stands under an exported pair of pictures. `date` as people write it; `told` is what the picture made of the photo's
 * own light, null where it went through one light.
 */
export function captionLines(
  job: Job,
  {
    photo,
    places,
    light,
    told,
    date,
  }: {
    photo: Photo;
    places: readonly Place[];
    light: Viewing | null;
    told: LightTold | null;
    date: string;
  },
): string[] {
  const finishes = finishLines(job, places);
  const known = Object.keys(photo.references).length > 0;
  return [
    `${job.name}, ${date}. A simulation made from the photo “${photo.name}”, shown in ${lightLine(light)}.`,
    lightMade(light, told),
    ...(finishes.length > 0 ? finishes : ['No finish is put on: both pictures show the room as it is.']),
    ...(known ? [] : ['Nothing of known colour is marked in the photo, so its colours are only estimated.']),
    'Screens and prints differ: see the painted sample in the room before deciding.',
  ];
}

/**
 * A text in lines no wider than `width` by what `measure` says. Breaks between words; a word wider than a line is broken
 * where it has to be. Nothing is left out.
 */
export function wrapped(text: string, width: number, measure: (text: string) => number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(/\s+/).filter(Boolean)) {
    const longer = line ? `${line} ${word}` : word;
    if (measure(longer) <= width) {
      line = longer;
      continue;
    }
    if (line) lines.push(line);
    line = '';
    for (const sign of word) {
      if (line && measure(line + sign) > width) {
        lines.push(line);
        line = '';
      }
      line += sign;
    }
  }
  return line ? [...lines, line] : lines;
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
