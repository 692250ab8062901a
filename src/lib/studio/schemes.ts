import { compareSchemes } from '#lib/finish/index.ts';
import type { SchemeCard, SchemeCriterion, SchemeFinding, SchemeInput } from '#lib/finish/index.ts';
import {
  DEFAULT_SCHEME,
  inOrder,
  swatchTitle,
  type Id,
  type Job,
  type KeptScheme,
  type Photo,
  type Room,
  type RoomScheme,
  type RoomSchemeInput,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import { capital } from './light-words.ts';
import { percent } from './see.ts';

/*
 * What the page of a room's schemes says and does: what is on each surface and what may change, how a scheme does, and what
 * becomes of it. What a search found and how sure that is: `scheme-search-words.ts`.
 */

/** The criteria of a scheme as a designer says them, in the order they are shown. */
export const SCHEME_CRITERION_WORDS: Readonly<Record<SchemeCriterion, { name: string; more: string }>> = {
  nearness: {
    name: 'Near the aim',
    more: 'Every surface that has an aim is compared with it, as two chips held side by side.',
  },
  relations: {
    name: 'Repeats the steps of the inspiration',
    more: 'Lighter than, greyer than, warmer than: from surface to surface as in the picture, whatever its light.',
  },
  pairing: {
    name: 'Finishes sit together',
    more: 'Every two surfaces under every light: a match or a clear step is good, a near miss is not.',
  },
  undertone: { name: 'Undertones agree', more: 'Near-neutrals whose tints bring each other out do not.' },
  pattern: { name: 'Busy beside calm', more: 'One busy surface asks for calm ones around it.' },
  edges: {
    name: 'Edges that must be seen',
    more: 'Handles on their doors, the counter over the floor: light against dark, for low vision.',
  },
  steadiness: {
    name: 'Holds its colour',
    more: 'How little each finish changes between the lights of the room.',
  },
  price: { name: 'Price', more: 'Each finish against the cheapest for its surface.' },
  time: { name: 'Time', more: 'Shorter lead times are better.' },
};

/** What a weight, 0-10, does, in words. */
export function weightWords(weight: number): string {
  if (weight === 0) return 'does not count';
  if (weight < 1.5) return 'counts a little';
  if (weight < 3.5) return 'counts';
  return weight < 6.5 ? 'counts much' : 'decides';
}

/** Why schemes have no figure where no point has any weight, in a sentence; null where one has. */
export function nothingCounts({ weights }: Pick<SchemeInput, 'weights'>): string | null {
  return Object.values(weights).some((weight) => weight > 0)
    ? null
    : 'Nothing counts: give at least one point of “What matters” some weight.';
}

/**
 * Grades of an overall desirability, 0-1. Source: the scale of Harrington 1965, Industrial Quality Control 21(10), 494-498,
 * from memory; the words are ours.
 */
const GRADES: readonly (readonly [from: number, word: string])[] = [
  [0.8, 'Excellent'],
  [0.63, 'Good'],
  [0.37, 'Fair'],
  [0.2, 'Weak'],
  [0, 'Poor'],
];

/** 'Fair' for a desirability of 0.44. */
export function gradeWord(desirability: number): string {
  return GRADES.find(([from]) => desirability >= from)?.[1] ?? 'Poor';
}

/** A desirability, 0-1, as a screen says it, of 100: '44', and with a digit '44.4'. */
export function ofHundred(desirability: number, digits = 0): string {
  return (100 * desirability).toFixed(digits);
}

/**
 * Part by which overall scores differ before it is a figure at all, worth a word, and plain. Common practice, no published
 * source.
 */
const BEHIND = { nothing: 0.0005, hardly: 0.01, little: 0.05 } as const;

/** How a scheme stands to the first of the list: 'a little behind the first, 3.1 %'. */
export function standing(first: SchemeCard, card: SchemeCard): string {
  const part = 1 - card.desirability / first.desirability;
  if (part < -BEHIND.nothing) return 'above the first, but outside its limits';
  if (part < BEHIND.nothing) return 'as good as the first';
  const number = `${(100 * part).toFixed(1)} %`;
  if (part < BEHIND.hardly) return `as good as the first, ${number} less`;
  return part < BEHIND.little ? `a little behind the first, ${number}` : `behind the first, ${number}`;
}

/** What sets a scheme apart from the first of the list, in a sentence; a cost that cannot be compared is said as well. */
export function apartWords(first: SchemeCard, card: SchemeCard): string {
  const { sentence } = compareSchemes(first, card);
  const unknown = card.parts.some((part, i) => {
    const other = first.parts[i];
    return part.optionId !== other.optionId && (part.cost === null || other.cost === null);
  });
  return unknown ? `${sentence.replace(/\.$/, '')}; cost not known.` : sentence;
}

/** The limits that are set, in a line: 'At most 1500 EUR, here within 21 days, 2 metals'. */
export function settingsGist({ limits }: Pick<RoomScheme, 'limits'>, currency: string): string {
  const { budget, readyInDays, metals, darkShare, strongShare } = limits;
  const words = [
    budget !== null ? `${budget}${currency && ` ${currency}`}` : '',
    readyInDays !== null ? `${readyInDays} days` : '',
    metals !== null ? `${metals} ${metals === 1 ? 'metal' : 'metals'}` : '',
    darkShare !== null ? `${percent(darkShare)} dark` : '',
    strongShare !== null ? `${percent(strongShare)} strong colour` : '',
  ].filter(Boolean);
  return words.length > 0 ? `At most ${words.join(', ')}` : 'No limits';
}

/** What tells two schemes of a room apart: what is on every surface. */
export function schemeKey(choices: Readonly<Record<Id, Id>>): string {
  return Object.keys(choices)
    .sort()
    .map((surfaceId) => `${surfaceId}=${choices[surfaceId]}`)
    .join(' ');
}

/** A surface of the room, as the list of what may change shows it. */
export interface SurfaceRow {
  readonly surface: Surface;
  /** What the scheme looked at has there, else what is decided; null where there is nothing. */
  readonly on: Swatch | null;
  /** What is on it, in words. */
  readonly line: string;
  /** What a search may do with it; `none`: nothing that has a colour could be on it. */
  readonly may: 'stays' | 'change' | 'only' | 'none';
  /** Finishes that could be on it, with a colour. */
  readonly options: readonly { readonly id: Id; readonly name: string }[];
  /** Where to go to mend what is missing; null where nothing is. */
  readonly mend: { readonly href: string; readonly words: string } | null;
}

/** The surfaces of a room in their order. `card` is the scheme looked at, where there is one. */
export function surfaceRows(
  job: Job,
  { roomId, jobId, asked, card }: { roomId: Id; jobId: Id; asked: RoomSchemeInput; card: SchemeCard | null },
): SurfaceRow[] {
  const places = new Map(asked.input.places.map((place) => [place.surfaceId, place]));
  return inOrder(job.surfaces)
    .filter((surface) => surface.roomId === roomId)
    .map((surface): SurfaceRow => {
      const place = places.get(surface.id);
      if (!place) return bareRow(job, surface, jobId);
      const decided = surface.state !== 'open' && surface.swatchId ? job.swatches[surface.swatchId] : null;
      const found = card?.parts.find(({ surfaceId }) => surfaceId === surface.id);
      const on = (found && job.swatches[found.optionId]) ?? (place.held ? job.swatches[place.held] : decided);
      const options = place.options.map(({ id, name }) => ({ id, name }));
      const may = place.held === null ? 'change' : place.state === 'open' ? 'only' : 'stays';
      return {
        surface,
        on: on ?? null,
        line: onWords({ on: on ?? null, decided, state: surface.state }),
        may,
        options,
        mend:
          options.length > 1
            ? null
            : { href: `/jobs/${jobId}/shortlist/${surface.id}`, words: 'Consider others for it' },
      };
    });
}

function bareRow(job: Job, surface: Surface, jobId: Id): SurfaceRow {
  const candidates = Object.keys(surface.candidateIds).length;
  const bare = { surface, on: null, may: 'none', options: [] } as const;
  if (surface.state !== 'open' && surface.swatchId && job.swatches[surface.swatchId])
    return {
      ...bare,
      line: `${swatchTitle(job.swatches[surface.swatchId])} has no colour yet`,
      mend: { href: `/jobs/${jobId}/swatches#${surface.swatchId}`, words: 'Measure it' },
    };
  if (candidates > 0)
    return {
      ...bare,
      line:
        candidates === 1
          ? 'Its candidate has no colour yet'
          : `None of its ${candidates} candidates has a colour yet`,
      mend: { href: `/jobs/${jobId}/swatches`, words: 'Measure them' },
    };
  return surface.state === 'open'
    ? {
        ...bare,
        line: 'Nothing is considered for it yet',
        mend: { href: `/jobs/${jobId}/shortlist/${surface.id}`, words: 'Choose candidates' },
      }
    : { ...bare, line: 'What is on it is not said yet', mend: { href: `/jobs/${jobId}`, words: 'Say it' } };
}

function onWords({
  on,
  decided,
  state,
}: {
  on: Swatch | null;
  decided: Swatch | null;
  state: Surface['state'];
}): string {
  if (!on) return 'still to choose';
  const there = state === 'fixed' ? 'there now' : 'chosen';
  if (!decided) return swatchTitle(on);
  return on.id === decided.id
    ? `${swatchTitle(on)}, ${there}`
    : `${swatchTitle(on)} in place of ${swatchTitle(decided)}, ${there}`;
}

/** Swatches of a room that take no part for want of a colour, by name. */
export function colourless(job: Job, { withoutSample }: RoomSchemeInput): Swatch[] {
  return withoutSample.flatMap((id) => (job.swatches[id] ? [job.swatches[id]] : []));
}

/** Faults that no choice can mend, for they are between surfaces that stay: the same in every scheme. */
export function faultsOfAll(cards: readonly SchemeCard[]): SchemeFinding[] {
  const [first] = cards;
  if (!first) return [];
  const held = new Set(first.parts.filter((part) => part.held).map(({ surfaceId }) => surfaceId));
  return first.findings.filter(
    ({ severity, about }) =>
      severity === 'fault' && about.surfaces.length > 0 && about.surfaces.every((id) => held.has(id)),
  );
}

/** Edits are made of these: places of the document with their new values. */
export type Values = [string[], unknown][];

/** New values of a room's scheme, whether it has one already or not: `[['limits', 'budget'], 1500]`. */
export function schemeValues(
  { id, scheme }: Room,
  changes: readonly (readonly [string[], unknown])[],
): Values {
  if (scheme) return changes.map(([path, value]) => [['rooms', id, 'scheme', ...path], value]);
  const fresh = structuredClone(DEFAULT_SCHEME) as unknown as Record<string, Record<string, unknown>>;
  for (const [[part, name], value] of changes) {
    if (value === undefined) delete fresh[part][name];
    else fresh[part][name] = value;
  }
  return [[['rooms', id, 'scheme'], fresh]];
}

/** What is on each surface by now: surface to swatch; null while anything is still to choose. */
export function decidedChoices(
  job: Job,
  { places }: Pick<SchemeInput, 'places'>,
): Readonly<Record<Id, Id>> | null {
  const choices: Record<Id, Id> = {};
  for (const { surfaceId } of places) {
    const surface = job.surfaces[surfaceId];
    if (surface.state === 'open' || surface.swatchId === null) return null;
    choices[surfaceId] = surface.swatchId;
  }
  return choices;
}

/** What choosing a scheme does, and what it takes away that is there now. */
export interface Choosing {
  readonly values: Values;
  /** Surfaces whose finish is there now, or was chosen, and gives way to another: in sentences. */
  readonly replaces: readonly string[];
}

/**
 * What to set so that a swatch is on a surface. What is there now stays known while something else is to come; where that
 * comes back, the surface is as it is. What gives way stays among what is considered.
 */
export function puttingOn(surface: Surface, swatchId: Id): Values {
  const { state, thereId, candidateIds } = surface;
  const at = ['surfaces', surface.id];
  const there = state === 'fixed' ? surface.swatchId : (thereId ?? null);
  const back = there === swatchId;
  const values: Values = [
    [[...at, 'swatchId'], swatchId],
    [[...at, 'state'], back ? 'fixed' : 'chosen'],
  ];
  const kept = back ? undefined : (there ?? undefined);
  if (kept !== thereId) values.push([[...at, 'thereId'], kept]);
  const was = state === 'open' ? null : surface.swatchId;
  if (was && was !== swatchId && !candidateIds[was]) values.push([[...at, 'candidateIds', was], true]);
  return values;
}

/** What to set so that a scheme is chosen; no values where it is already. Surfaces that stay are left alone. */
export function choosing(job: Job, card: Pick<SchemeCard, 'parts'>): Choosing {
  const values: Values = [];
  const replaces: string[] = [];
  for (const { surfaceId, optionId, optionName } of card.parts) {
    const surface = job.surfaces[surfaceId];
    if (!surface || !job.swatches[optionId]) continue;
    const decided = surface.state !== 'open' && surface.swatchId !== null;
    if (decided && surface.swatchId === optionId) continue;
    values.push(...puttingOn(surface, optionId));
    if (!surface.swatchId || !decided) continue;
    const was = swatchTitle(job.swatches[surface.swatchId]);
    replaces.push(
      `${optionName} takes the place of ${was} on “${surface.name}”, which is ${surface.state === 'fixed' ? 'there now' : 'chosen'}.`,
    );
  }
  return { values, replaces };
}

/** A scheme as it is kept, named after what it puts on the largest surfaces that may change. */
export function keptScheme(card: SchemeCard, { id, order }: Pick<KeptScheme, 'id' | 'order'>): KeptScheme {
  const loose = card.parts.filter(({ held }) => !held);
  const leading = (loose.length > 0 ? loose : card.parts).toSorted((a, b) => b.share - a.share).slice(0, 2);
  const name = leading
    .map(({ optionName }) => optionName)
    .join(' and ')
    .slice(0, 80);
  return { id, order, name, note: '', choices: { ...card.choices } };
}

/** What the room's picture is to show of a scheme, over what is tried there already: what is there now is in the photo. */
export function triedWith(
  job: Job,
  card: Pick<SchemeCard, 'parts'>,
  tried: Readonly<Record<Id, Id | null>>,
): Record<Id, Id | null> {
  const next = { ...tried };
  for (const { surfaceId, optionId } of card.parts) {
    const surface = job.surfaces[surfaceId];
    if (surface?.state === 'fixed' && surface.swatchId === optionId) delete next[surfaceId];
    else if (surface?.thereId === optionId) next[surfaceId] = null;
    else next[surfaceId] = optionId;
  }
  return next;
}

/** Photo of a room whose marks say how large its surfaces look: the first with any; null without one. */
export function markedPhoto(job: Job, roomId: Id): Photo | null {
  const rooms = Object.keys(job.rooms).length;
  return (
    inOrder(job.photos).find(
      ({ role, masks, roomId: own }) =>
        role === 'room' &&
        (own === roomId || (own === null && rooms === 1)) &&
        Object.keys(masks ?? {}).length > 0,
    ) ?? null
  );
}

/** Parts of the height of a strip that shows a scheme by area, sum 1: no surface is so thin that it cannot be seen. */
export function drawnShares(shares: readonly number[], least = 0.02): number[] {
  const drawn = shares.map((share) => Math.max(least, share));
  const sum = drawn.reduce((total, share) => total + share, 0);
  return drawn.map((share) => share / sum);
}

/** Where the surfaces' areas come from, in a sentence; null where all were given. */
export function areaWords({ areaSources }: RoomSchemeInput, job: Job): string | null {
  const by = (source: string) =>
    Object.entries(areaSources).flatMap(([id, own]) =>
      own === source && job.surfaces[id] ? [`“${job.surfaces[id].name}”`] : [],
    );
  const list = new Intl.ListFormat('en-GB');
  const [photo, usual] = [by('photo'), by('usual')];
  const words = [
    photo.length > 0 ? `the size of ${list.format(photo)} is read off the marked photo` : '',
    usual.length > 0 ? `that of ${list.format(usual)} is what is usual` : '',
  ].filter(Boolean);
  if (words.length === 0) return null;
  const sentence = words.join(', ').replace(/^that of/, 'the size of');
  return `${capital(sentence)}; without square metres nothing can be said of their cost.`;
}
