import { ILLUMINANT_NAMES } from '#lib/colour/index.ts';
import { FINISH_KINDS, SHEEN_LEVELS, type EvidenceSource, type Sheen } from '#lib/finish/index.ts';
import {
  GLASSES,
  LAMP_TECHNOLOGIES,
  ROOM_KINDS,
  SKIES,
  describedLamp,
  isTimeZone,
  type Glass,
  type RoomKind,
  type Sky,
} from '#lib/light/index.ts';
import { z } from 'zod';

/** Identifier of a thing in the job: 1-40 letters, digits, `-` or `_`. Callers make them; this area has no randomness. */
export type Id = string;

const id = z
  .string()
  .regex(/^[A-Za-z0-9_-]{1,40}$/, 'expected an identifier of 1-40 letters, digits, - or _');
const text = (longest: number) => z.string().max(longest);
const finite = z.number();
const record = <T extends z.ZodType>(value: T) => z.record(id, value);

/** CIELAB, illuminant D65, 10° observer, unless a field says otherwise. */
const lab = z.strictObject({
  L: finite.min(-5).max(130),
  a: finite.min(-250).max(250),
  b: finite.min(-250).max(250),
});

/** Row-major 3×3 covariance in CIELAB units squared. */
const covariance = z.array(finite).length(9);

const estimate = z.strictObject({ lab, covariance });

const point = z.tuple([finite, finite]);

/** A part of a photo, in pixels of its working image (x to the right, y down, from the top left corner). */
const region = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('box'),
    x: finite,
    y: finite,
    width: finite.positive(),
    height: finite.positive(),
  }),
  z.strictObject({ kind: z.literal('point'), x: finite, y: finite, radius: finite.positive() }),
  z.strictObject({ kind: z.literal('polygon'), points: z.array(point).min(3).max(200) }),
]);

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
});

/** Clock time of a day, hours. */
const hour = finite.min(0).max(24);

/** Where a room stands: degrees north and east, and the zone its clocks keep (IANA name, or an offset such as +01:00). */
const place = z.strictObject({
  latitude: finite.min(-90).max(90),
  longitude: finite.min(-180).max(180),
  timeZone: text(64).refine(isTimeZone, 'expected a time zone such as +01:00 or an IANA name'),
});

/** Degrees clockwise from north that somebody who looks out of the window looks to. */
const facing = finite.min(0).max(360);
const sky = z.enum(SKIES as [Sky, ...Sky[]]);
const glass = z.enum(GLASSES as [Glass, ...Glass[]]);

/** Relative spectral power at 380-780 nm by 5, as a file gave it. */
const spectralPower = z
  .array(finite.min(0))
  .length(81)
  .refine((values) => values.some((value) => value > 0), 'expected some light, got none');

const lampSource = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('table'),
    name: z.enum(ILLUMINANT_NAMES as unknown as [string, ...string[]]),
  }),
  z.strictObject({ kind: z.literal('daylight'), cct: finite.min(4000).max(25000) }),
  z.strictObject({ kind: z.literal('black body'), kelvin: finite.min(1000).max(20000) }),
  /** A lamp of which only the words on its box are known. */
  z
    .strictObject({
      kind: z.literal('described lamp'),
      technology: z.enum(LAMP_TECHNOLOGIES),
      cct: finite,
      duv: finite,
      ra: finite,
    })
    .superRefine((lamp, context) => {
      try {
        describedLamp(lamp);
      } catch (error) {
        context.addIssue({ code: 'custom', message: (error as Error).message });
      }
    }),
  z.strictObject({ kind: z.literal('measured'), fileName: text(160), values: spectralPower }),
]);

/** A source of light. A window's is complete in itself: it stays what it was when the room's day is changed. */
const lightSource = z.discriminatedUnion('kind', [
  ...lampSource.options,
  z.strictObject({
    kind: z.literal('window'),
    place,
    date: z.iso.date(),
    hour,
    facing,
    sky,
    glass,
  }),
]);

/** Sources a light may have. */
export const MOST_PARTS = 8;

const light = z.strictObject({
  id,
  order: finite,
  roomId: id,
  name: text(80),
  /** Shares of the illuminance; they need not add up to 1. */
  parts: z
    .array(z.strictObject({ source: lightSource, share: finite.min(0).max(1) }))
    .min(1)
    .max(MOST_PARTS),
  /** Illuminance on the surfaces, lx. */
  illuminance: finite.min(1).max(100_000),
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
  /** Swatches considered for it while it is open. */
  candidateIds: z.record(id, z.literal(true)),
  target: target.nullable(),
  criteria,
});

/** What the light of a room comes from on one day, so that it can be worked out for every hour. */
const roomDay = z.strictObject({
  place,
  date: z.iso.date(),
  sky,
  windows: record(
    z.strictObject({ id, order: finite, name: text(80), facing, area: finite.min(0.05).max(200), glass }),
  ),
  lamps: record(
    z.strictObject({
      id,
      order: finite,
      name: text(80),
      source: lampSource,
      /** What the lamp gives on the surfaces when it is on, lx. */
      illuminance: finite.min(1).max(20_000),
      /** Clock hours, over midnight where `from` is the later; or whenever the windows give too little. */
      on: z.union([z.literal('when dark'), z.strictObject({ from: hour, until: hour })]),
    }),
  ),
  /** Floor, m², and height, m. */
  floorArea: finite.min(1).max(1000),
  height: finite.min(1.8).max(12),
  /** Mean reflectance of what bounds the room, 0-1. */
  reflectance: finite.min(0.05).max(0.9),
});

const room = z.strictObject({
  id,
  order: finite,
  name: text(80),
  note: text(2000),
  kind: z.enum(ROOM_KINDS as [RoomKind, ...RoomKind[]]).optional(),
  day: roomDay.optional(),
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
});

export type Job = z.infer<typeof jobSchema>;
export type Room = z.infer<typeof room>;
export type Surface = z.infer<typeof surface>;
export type Criteria = z.infer<typeof criteria>;
export type RoomDayRecord = z.infer<typeof roomDay>;
export type RoomWindow = RoomDayRecord['windows'][string];
export type RoomLamp = RoomDayRecord['lamps'][string];
export type Light = z.infer<typeof light>;
export type LampSource = z.infer<typeof lampSource>;
export type LightSource = z.infer<typeof lightSource>;
export type Photo = z.infer<typeof photo>;
export type PhotoRegion = z.infer<typeof photoRegion>;
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
