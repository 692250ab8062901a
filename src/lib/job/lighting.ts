import { ILLUMINANT_NAMES } from '#lib/colour/index.ts';
import {
  GLASSES,
  LAMP_TECHNOLOGIES,
  SKIES,
  describedLamp,
  isTimeZone,
  type Glass,
  type Sky,
} from '#lib/light/index.ts';
import { z } from 'zod';
import { finite, id, record, text } from './fields.ts';

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

/** Sentences about the file of a measured lamp that are kept, and the longest of them, characters. */
export const MOST_NOTES = 12;
export const LONGEST_NOTE = 300;

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
  z.strictObject({
    kind: z.literal('measured'),
    fileName: text(160),
    values: spectralPower,
    /** What reading the file could not be sure of, in sentences. */
    notes: z.array(text(LONGEST_NOTE)).max(MOST_NOTES).optional(),
  }),
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

/** What the light of a room comes from on one day, so that it can be worked out for every hour. */
export const roomDay = z.strictObject({
  place,
  date: z.iso.date(),
  sky,
  windows: record(
    z.strictObject({
      id,
      order: finite,
      /** Empty for a window that is called after the way it looks. */
      name: text(80),
      facing,
      area: finite.min(0.05).max(200),
      glass,
    }),
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

/** Sources a light may have. */
export const MOST_PARTS = 8;

export const light = z.strictObject({
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
  /** The hour of its room's day that it was kept from, until it is changed by hand; `daylight`: its windows alone, under that sky. */
  kept: z.strictObject({ hour, daylight: sky.optional() }).optional(),
});

export type RoomDayRecord = z.infer<typeof roomDay>;
export type RoomWindow = RoomDayRecord['windows'][string];
export type RoomLamp = RoomDayRecord['lamps'][string];
export type Light = z.infer<typeof light>;
export type LampSource = z.infer<typeof lampSource>;
export type LightSource = z.infer<typeof lightSource>;
