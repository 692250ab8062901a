import {
  FINISH_KINDS,
  SCHEME_CRITERIA,
  SHEEN_LEVELS,
  type EvidenceSource,
  type SchemeCriterion,
  type Sheen,
} from '#lib/finish/index.ts';
import { ROOM_KINDS, type RoomKind } from '#lib/light/index.ts';
import { z } from 'zod';
import { boardDraft } from './board.ts';
import { covariance, estimate, finite, id, lab, point, record, region, text, type Id } from './fields.ts';
import { light, roomDay } from './lighting.ts';
import { surfacePart, surfaceWork, swatchSupply, trade } from './trade.ts';

export const SURFACE_KINDS = [
  'cabinets',
  'island',
  'walls',
  'ceiling',
  'trim',
  'doors',
  'counter',
  'backsplash',
  'floor',
  'hardware',
  'wood accents',
  'textiles',
] as const;

export const PHOTO_ROLES = ['room', 'sample board', 'inspiration', 'slab', 'other'] as const;

/**
 * What a photo's role says about its light, in the photo area's words: only a board shows how its light changes, and the
 * places of a room are lit differently.
 */
export const PHOTO_SCENES: Record<(typeof PHOTO_ROLES)[number], 'sample board' | 'one plane' | 'room'> = {
  room: 'room',
  'sample board': 'sample board',
  inspiration: 'one plane',
  slab: 'one plane',
  other: 'one plane',
};

export const SHEENS = SHEEN_LEVELS.map(({ name }) => name);

/** Where a sample's colour came from; it decides how far the colour is trusted. */
const SAMPLE_SOURCES = [
  'photo',
  'instrument',
  'typed',
  'notation',
  'published',
  'published LRV',
] as const satisfies readonly EvidenceSource[];

const finishColour = z.strictObject({
  lab,
  covariance,
  /** Part of the area, 0-1; the colours of one sample add up to 1. */
  share: finite.min(0).max(1),
});

const sample = z.strictObject({
  id,
  order: finite,
  source: z.enum(SAMPLE_SOURCES),
  /** One colour, or the several colours of a stone, tile or textile by area. */
  colours: z.array(finishColour).min(1).max(24),
  /** Spectral reflectance 0-1 at 380-780 nm by 5, where an instrument gave one. */
  reflectance: z.array(finite.min(0).max(2)).length(81).nullable(),
  /** Where it was measured, so that moving the region or correcting the photo measures it again. */
  from: z.strictObject({ photoId: id, regionId: id }).nullable(),
  /** How busy its pattern looks, where the photo shows one. */
  pattern: z
    .strictObject({
      /** Real width across the measured region, mm. */
      width: finite.positive().max(100_000),
      /** Whether somebody gave that width; else it is the usual one for the kind. */
      measured: z.boolean(),
      /** Spread of the picture as the eye resolves it at `distance`, CIELAB units. */
      busyness: finite.min(0).max(1000),
      /** Viewing distance, mm. */
      distance: finite.positive().max(100_000),
    })
    .optional(),
  note: text(600),
});

const swatch = z.strictObject({
  id,
  order: finite,
  kind: z.enum(FINISH_KINDS),
  maker: text(120),
  code: text(60),
  name: text(120),
  sheen: z.enum(SHEENS as [Sheen, ...Sheen[]]).nullable(),
  price: z.strictObject({ amount: finite.min(0).max(1e9), currency: text(8), unit: text(24) }).nullable(),
  leadTimeDays: finite.min(0).max(3650).nullable(),
  /** The maker's printed light reflectance value, 0-100. Kept beside the colour, never averaged with it. */
  publishedLrv: finite.min(0).max(100).nullable(),
  samples: record(sample),
  note: text(2000),
  supply: swatchSupply.optional(),
});

const target = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('photo'),
    photoId: id,
    /** A marked region, or else the palette area that covers the pixel `at`. */
    regionId: id.nullable(),
    at: point.nullable(),
    estimate,
    words: text(200),
  }),
  z.strictObject({ kind: z.literal('colour'), estimate, words: text(200) }),
  z.strictObject({ kind: z.literal('finish'), swatchId: id }),
]);

const weight = finite.min(0).max(10);

const criteria = z.strictObject({
  weights: z.strictObject({
    nearness: weight,
    pairing: weight,
    steadiness: weight,
    lrv: weight,
    price: weight,
    time: weight,
  }),
  limits: z.strictObject({
    maxPrice: finite.min(0).nullable(),
    maxLeadTimeDays: finite.min(0).nullable(),
    minLrv: finite.min(0).max(100).nullable(),
    maxLrv: finite.min(0).max(100).nullable(),
  }),
});

const surface = z.strictObject({
  id,
  order: finite,
  roomId: id,
  name: text(80),
  kind: z.enum(SURFACE_KINDS),
  state: z.enum(['fixed', 'open', 'chosen']),
  /** What is on it: the fixed finish, or the chosen one. */
  swatchId: id.nullable(),
  /** What is on it now, where something else is to come or somebody said it; passed over where it is gone. */
  thereId: id.optional(),
  /** Swatches considered for it while it is open. */
  candidateIds: z.record(id, z.literal(true)),
  /** What it should look like; on a fixed surface, what stands for it in the inspiration. */
  target: target.nullable(),
  criteria,
  /** Visible area, m², where somebody gave it. */
  area: finite.positive().max(100_000).optional(),
  /** Sheen of what is on it as photographed, where it will be painted over. */
  sheenNow: z.enum(SHEENS as [Sheen, ...Sheen[]]).optional(),
  /** What it is made of, measured for the take-off. */
  parts: record(surfacePart).optional(),
  work: surfaceWork.optional(),
});

/** A whole scheme somebody kept: surfaces and what would be on them. Things that are gone since are passed over. */
const keptScheme = z.strictObject({
  id,
  order: finite,
  name: text(80),
  note: text(600),
  choices: z.record(id, id),
});

/** What is asked of all open surfaces of a room together. */
const roomScheme = z.strictObject({
  weights: z.strictObject(
    Object.fromEntries(SCHEME_CRITERIA.map((criterion) => [criterion, weight])) as Record<
      SchemeCriterion,
      typeof weight
    >,
  ),
  limits: z.strictObject({
    /** Money for all that is still to be bought, in the job's currency. */
    budget: finite.min(0).nullable(),
    readyInDays: finite.min(0).nullable(),
    /** Different metals in the room, at most. */
    metals: z.int().min(0).max(20).nullable(),
    /** Parts of the visible area, 0-1, that may be dark or strongly coloured. */
    darkShare: finite.min(0).max(1).nullable(),
    strongShare: finite.min(0).max(1).nullable(),
  }),
  /** Open surfaces that keep one candidate while schemes are searched: surface to swatch. */
  locks: z.record(id, id),
  /** Fixed and chosen surfaces that a search may change all the same. */
  free: z.record(id, z.literal(true)),
  kept: record(keptScheme),
});

const room = z.strictObject({
  id,
  order: finite,
  name: text(80),
  note: text(2000),
  kind: z.enum(ROOM_KINDS as [RoomKind, ...RoomKind[]]).optional(),
  day: roomDay.optional(),
  scheme: roomScheme.optional(),
});

const reference = z.strictObject({
  id,
  order: finite,
  kind: z.enum(['white paper', 'grey card', 'finish', 'target24']),
  /** For a 24-patch target: its four outer corners, clockwise from the dark skin patch, as a polygon. */
  region,
  /** The finish whose colour is known, for kind `finish`. */
  swatchId: id.nullable(),
});

const photoRegion = z.strictObject({
  id,
  order: finite,
  name: text(80),
  region,
  /** `one` averages to one colour; `several` keeps the colours of a pattern by area. */
  colours: z.enum(['one', 'several']),
});

/** Which pixels of a photo show a surface: coverage in the photo area's stored form. */
const surfaceMask = z.strictObject({
  /** The surface; the record is filed under it. */
  id,
  /** The picture it was drawn on: another picture in its place makes the mask useless, but does not lose it. */
  fileId: id,
  mask: z.strictObject({
    kind: z.literal('mask'),
    version: z.literal(1),
    width: z.int().positive(),
    height: z.int().positive(),
    sum: z.int().nonnegative(),
    code: text(400_000),
  }),
  /**
   * Where a rectangle of a flat surface lies, so that stone and tile come in the right perspective: its corners clockwise
   * from the top left as one stands before it, pixels, and how large it is, mm.
   */
  plane: z
    .strictObject({
      corners: z.tuple([point, point, point, point]),
      width: finite.positive().max(100_000),
      height: finite.positive().max(100_000),
    })
    .nullable(),
});

/** Pixels of the working image that somebody pointed at, and the picture they belong to. */
const lightPlaces = z.strictObject({
  fileId: id,
  window: z.array(point).max(12),
  lamps: z.array(point).max(12),
});

const photo = z.strictObject({
  id,
  order: finite,
  roomId: id.nullable(),
  name: text(160),
  role: z.enum(PHOTO_ROLES),
  fileId: id,
  /** Of the working image, pixels. */
  width: z.int().positive(),
  height: z.int().positive(),
  /** Primaries of the working image's device values. */
  space: z.enum(['srgb', 'display-p3', 'rec2020']),
  references: record(reference),
  regions: record(photoRegion),
  masks: record(surfaceMask).optional(),
  /** White or grey things that the window alone lights, or lamps alone, so that the two can be told apart. */
  lightPlaces: lightPlaces.optional(),
});

/** Schema of the job document; `z.strictObject` throughout, so that a misspelt field is an error and not lost data. */
const jobSchema = z.strictObject({
  format: z.literal(1),
  name: text(160),
  note: text(4000),
  currency: text(8),
  /** ISO date, or null when no date is set. */
  finishBy: z.iso.date().nullable(),
  rooms: record(room),
  surfaces: record(surface),
  lights: record(light),
  photos: record(photo),
  swatches: record(swatch),
  board: boardDraft.optional(),
  trade: trade.optional(),
});

export type Job = z.infer<typeof jobSchema>;
export type Room = z.infer<typeof room>;
export type Surface = z.infer<typeof surface>;
export type RoomScheme = z.infer<typeof roomScheme>;
export type KeptScheme = z.infer<typeof keptScheme>;
export type Criteria = z.infer<typeof criteria>;
export type Photo = z.infer<typeof photo>;
export type PhotoRegion = z.infer<typeof photoRegion>;
export type SurfaceMask = z.infer<typeof surfaceMask>;
export type PhotoReference = z.infer<typeof reference>;
export type Swatch = z.infer<typeof swatch>;
export type Sample = z.infer<typeof sample>;
export type FinishColour = z.infer<typeof finishColour>;
export type SurfaceKind = (typeof SURFACE_KINDS)[number];
export type PhotoRole = (typeof PHOTO_ROLES)[number];

/** Criteria a new surface starts with: nearness and pairing lead; no limits. */
export const DEFAULT_CRITERIA: Criteria = {
  weights: { nearness: 3, pairing: 3, steadiness: 2, lrv: 0, price: 1, time: 1 },
  limits: { maxPrice: null, maxLeadTimeDays: null, minLrv: null, maxLrv: null },
};

/** What a room's schemes are judged by from the start; at most two metals is common practice, no published source. */
export const DEFAULT_SCHEME: RoomScheme = {
  weights: {
    nearness: 3,
    relations: 2,
    pairing: 3,
    undertone: 1,
    pattern: 2,
    edges: 1,
    steadiness: 2,
    price: 1,
    time: 1,
  },
  limits: { budget: null, readyInDays: null, metals: 2, darkShare: null, strongShare: null },
  locks: {},
  free: {},
  kept: {},
};

/** A job with nothing in it. */
export function emptyJob(name: string, currency = 'EUR'): Job {
  return {
    format: 1,
    name,
    note: '',
    currency,
    finishBy: null,
    rooms: {},
    surfaces: {},
    lights: {},
    photos: {},
    swatches: {},
  };
}

/**
 * A job read from outside.
 * @throws TypeError naming the path and what was expected there: `swatches.k3.sheen: expected …`.
 */
export function parseJob(value: unknown): Job {
  const result = jobSchema.safeParse(value);
  if (!result.success) {
    const issue = result.error.issues[0];
    throw new TypeError(`${issue.path.join('.') || 'job'}: ${issue.message}`);
  }
  const job = result.data;
  const dangling = danglingReference(job);
  if (dangling) throw new TypeError(dangling);
  return job;
}

/** The first reference to a thing that is not in the job, in words, or null. */
function danglingReference(job: Job): string | null {
  const missing = (where: string, kind: string, key: string) =>
    `${where}: expected a ${kind} of this job, got ${key}`;
  const stray = (where: string, kind: string, key: string) =>
    `${where}: expected the id it is filed under, got ${key}`;
  for (const collection of ['rooms', 'surfaces', 'lights', 'photos', 'swatches'] as const) {
    for (const [key, thing] of Object.entries(job[collection])) {
      if (thing.id !== key) return stray(`${collection}.${key}.id`, collection, thing.id);
    }
  }
  for (const s of Object.values(job.surfaces)) {
    const at = `surfaces.${s.id}`;
    if (!job.rooms[s.roomId]) return missing(`${at}.roomId`, 'room', s.roomId);
    if (s.swatchId && !job.swatches[s.swatchId]) return missing(`${at}.swatchId`, 'swatch', s.swatchId);
    for (const key of Object.keys(s.candidateIds)) {
      if (!job.swatches[key]) return missing(`${at}.candidateIds`, 'swatch', key);
    }
    if (s.target?.kind === 'finish' && !job.swatches[s.target.swatchId]) {
      return missing(`${at}.target.swatchId`, 'swatch', s.target.swatchId);
    }
  }
  for (const l of Object.values(job.lights)) {
    if (!job.rooms[l.roomId]) return missing(`lights.${l.id}.roomId`, 'room', l.roomId);
  }
  for (const p of Object.values(job.photos)) {
    if (p.roomId && !job.rooms[p.roomId]) return missing(`photos.${p.id}.roomId`, 'room', p.roomId);
    for (const r of Object.values(p.references)) {
      if (r.swatchId && !job.swatches[r.swatchId]) {
        return missing(`photos.${p.id}.references.${r.id}.swatchId`, 'swatch', r.swatchId);
      }
    }
  }
  return null;
}

/** Things of a collection in the order the user sees them. */
export function inOrder<T extends { order: number; id: string }>(things: Record<Id, T>): T[] {
  return Object.values(things).sort((a, b) => a.order - b.order || (a.id < b.id ? -1 : 1));
}

/** The order value that puts a new thing last. */
export function nextOrder(things: Record<Id, { order: number }>): number {
  return Object.values(things).reduce((last, thing) => Math.max(last, thing.order), 0) + 1;
}
