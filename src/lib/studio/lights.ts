import {
  inOrder,
  keptHour,
  LONGEST_NOTE,
  MOST_NOTES,
  MOST_PARTS,
  type Job,
  type Light,
  type LightSource,
  type Room,
  type RoomDayRecord,
} from '#lib/job/index.ts';
import { ROOM_KINDS, sunTimes, type RoomKind } from '#lib/light/index.ts';

/** A light people can name, ready to put into a room. */
export interface LightPreset extends Pick<Light, 'kept'> {
  name: string;
  parts: Light['parts'];
  /** Illuminance on the surfaces, lx. Common practice, no published source. */
  illuminance: number;
}

export type WindowSource = Extract<LightSource, { kind: 'window' }>;

/** A window to start from: where it is and what it looks out on. */
export type KnownWindow = Omit<WindowSource, 'kind' | 'hour' | 'sky'>;

/** Room kinds as the menus say them. */
export const ROOM_KIND_WORDS: Record<RoomKind, string> = {
  kitchen: 'Kitchen',
  'living room': 'Living room',
  bedroom: 'Bedroom',
  bathroom: 'Bathroom',
  other: 'Another kind of room',
};

/** What kind of room it is: as said, or else as its name gives away. */
export function kindOfRoom(room: Pick<Room, 'kind' | 'name'>): RoomKind {
  const name = room.name.toLowerCase();
  return room.kind ?? ROOM_KINDS.find((kind) => kind !== 'other' && name.includes(kind)) ?? 'other';
}

/** What a room is called that is of no kind with a name. */
const NO_KIND = 'Room';

/** The name a room has when its kind is changed: one that only says the kind goes along, any other stays. */
export function nameForKind(name: string, kind: RoomKind): string {
  const saysKind = [...Object.values(ROOM_KIND_WORDS), NO_KIND].includes(name.trim());
  return saysKind ? (kind === 'other' ? NO_KIND : ROOM_KIND_WORDS[kind]) : name;
}

/** A lamp as its file has it, with what reading it could not be sure of, as far as the document keeps that. */
export function measuredLamp(file: {
  fileName: string;
  values: number[];
  notes: readonly string[];
}): Extract<LightSource, { kind: 'measured' }> {
  const { fileName, values } = file;
  const short = (note: string) => (note.length > LONGEST_NOTE ? `${note.slice(0, LONGEST_NOTE - 1)}…` : note);
  const notes = file.notes.slice(0, MOST_NOTES).map(short);
  return { kind: 'measured', fileName, values, ...(notes.length > 0 && { notes }) };
}

type Part = Light['parts'][number];

const lamp = (table: string): Part => ({ source: { kind: 'table', name: table }, share: 1 });
const glow = (kelvin: number): Part => ({ source: { kind: 'black body', kelvin }, share: 1 });

/** Lamps by the CIE tables that stand for them. */
const WARM_LED = 'LED-B1';
const WARM_WHITE_LED = 'LED-B2';
const NEUTRAL_LED = 'LED-B3';
const OLD_TUBE = 'FL2';
const TUBE = 'FL11';

type TimeOfDay = 'morning' | 'noon' | 'afternoon' | 'dusk';

/** The sky of a time of day, and the colour temperature that stands for it where the room's place is not known, K. */
const TIMES: Record<TimeOfDay, { sky: WindowSource['sky']; cct: number }> = {
  morning: { sky: 'clear', cct: 7500 },
  noon: { sky: 'overcast', cct: 6500 },
  afternoon: { sky: 'clear', cct: 5000 },
  dusk: { sky: 'clear', cct: 7500 },
};

/**
 * Clock hour of a time of day where a window is, to a quarter: on short days the morning starts later and the afternoon
 * ends earlier; dusk is half an hour before sunset. Common practice, no published source.
 */
function hourOf(time: TimeOfDay, { place, date }: KnownWindow): number {
  const { rise, set } = sunTimes(place, date);
  const quarter = (hour: number) => Math.min(24, Math.max(0, Math.round(4 * hour) / 4));
  switch (time) {
    case 'morning':
      return quarter(Math.max(9, (rise ?? 0) + 0.5));
    case 'noon':
      return 12;
    case 'afternoon':
      return quarter(Math.min(16, (set ?? 24) - 1.5));
    case 'dusk':
      return quarter((set ?? 16.5) - 0.5);
  }
}

type Lit = Omit<LightPreset, 'name'>;

/** What is known of the daylight of a room: a window to start from, and the room's whole day. */
export interface KnownDaylight {
  window: KnownWindow | null;
  day?: RoomDayRecord;
}

/**
 * Daylight in a room at a time of day: what all its windows give where its day is known, one window at the usual level
 * where only the place is, and daylight of the usual temperature where nobody has said yet where it is.
 */
function daytime({ window, day }: KnownDaylight, time: TimeOfDay, usual: number): Lit {
  const { sky, cct } = TIMES[time];
  if (!window) return { parts: [{ source: { kind: 'daylight', cct }, share: 1 }], illuminance: usual };
  const hour = hourOf(time, window);
  const kept = { hour, daylight: sky };
  const whole = day && keptHour({ day }, kept);
  if (whole) return { ...whole, kept };
  return { parts: [{ source: { kind: 'window', ...window, hour, sky }, share: 1 }], illuminance: usual };
}

/** Two lights at once: levels add up, and so do the shares of their sources; the largest, as many as a light has. */
function together(a: Lit, b: Lit): Lit {
  const illuminance = a.illuminance + b.illuminance;
  const parts = [a, b].flatMap((lit) =>
    lit.parts.map(({ source, share }) => ({ source, share: (share * lit.illuminance) / illuminance })),
  );
  return { parts: parts.toSorted((p, q) => q.share - p.share).slice(0, MOST_PARTS), illuminance };
}

/** Daylight's part of an ordinary light at dusk. Common practice, no published source. */
const DUSK_SHARE = 0.4;

/**
 * Lights worth judging a room's finishes under, by its kind; the first three are the usual ones.
 * Lamps, and levels where the room's day is not known: common practice, no published source.
 */
export function lightPresets(kind: RoomKind, known: KnownDaylight): LightPreset[] {
  const day = (name: string, time: TimeOfDay, usual: number): LightPreset => ({
    name,
    ...daytime(known, time, usual),
  });
  const lit = (name: string, table: string, illuminance: number): LightPreset => ({
    name,
    parts: [lamp(table)],
    illuminance,
  });
  const mixed = (name: string, table: string, usual: number): LightPreset => ({
    name,
    ...together(daytime(known, 'dusk', DUSK_SHARE * usual), {
      parts: [lamp(table)],
      illuminance: (1 - DUSK_SHARE) * usual,
    }),
  });
  switch (kind) {
    case 'kitchen':
      return [
        day('Morning at the window', 'morning', 500),
        mixed('Dusk, window and pendants', WARM_LED, 200),
        lit('Evening under the pendants', WARM_LED, 150),
        day('Overcast noon', 'noon', 400),
        day('Afternoon', 'afternoon', 1000),
        lit('Worktop lamps', WARM_WHITE_LED, 400),
        lit('Halogen or old bulbs', 'A', 120),
        lit('Old kitchen tube', OLD_TUBE, 300),
      ];
    case 'living room':
      return [
        day('Day at the window', 'noon', 400),
        mixed('Dusk, window and lamps', WARM_LED, 120),
        lit('Evening lamps', WARM_LED, 80),
        day('Bright morning', 'morning', 500),
        day('Afternoon', 'afternoon', 1000),
        lit('Reading lamp', WARM_LED, 300),
        { name: 'Dimmed bulbs or candles', parts: [glow(2200)], illuminance: 20 },
        lit('Halogen or old bulbs', 'A', 100),
      ];
    case 'bedroom':
      return [
        day('Morning at the window', 'morning', 400),
        day('Overcast day', 'noon', 250),
        lit('Bedside lamps', WARM_LED, 50),
        lit('Ceiling lamp', WARM_LED, 120),
        lit('Wardrobe lamps', WARM_WHITE_LED, 250),
        mixed('Dusk, window and lamps', WARM_LED, 100),
        lit('Halogen or old bulbs', 'A', 80),
      ];
    case 'bathroom':
      return [
        day('Day at the window', 'noon', 200),
        lit('Ceiling lamps', WARM_WHITE_LED, 200),
        lit('Mirror lamps', NEUTRAL_LED, 400),
        day('Bright morning', 'morning', 350),
        lit('Warm mirror lamps', WARM_LED, 300),
        lit('Night light', WARM_LED, 15),
        lit('Tube over the mirror', TUBE, 300),
      ];
    case 'other':
      return [
        day('Morning at the window', 'morning', 400),
        day('Overcast noon', 'noon', 300),
        lit('Warm lamps', WARM_LED, 150),
        day('Afternoon', 'afternoon', 1000),
        lit('Neutral panels', NEUTRAL_LED, 400),
        lit('Tubes', TUBE, 400),
        lit('Halogen or old bulbs', 'A', 120),
        mixed('Dusk, window and lamps', WARM_LED, 150),
      ];
  }
}

/** A name that none of the others has: itself, or else with a number behind it. */
export function freeName(name: string, taken: readonly string[]): string {
  for (let count = 1; ; count += 1) {
    const free = count === 1 ? name : `${name} (${count})`;
    if (!taken.includes(free)) return free;
  }
}

/** How many of `lightPresets` a room starts with. */
export const USUAL_LIGHTS = 3;

/**
 * A window to start from: the first of the room's day, else one of its lights, else its day without a window, looking
 * north; else the same from another room of the job. Null where nobody has said where the job is.
 */
export function knownWindow(job: Pick<Job, 'rooms' | 'lights'>, roomId: string): KnownWindow | null {
  const rooms = inOrder(job.rooms).sort((a, b) => Number(b.id === roomId) - Number(a.id === roomId));
  for (const { id, day } of rooms) {
    const [first] = day ? inOrder(day.windows) : [];
    if (day && first) return { place: day.place, date: day.date, facing: first.facing, glass: first.glass };
    for (const light of inOrder(job.lights).filter((entry) => entry.roomId === id)) {
      const part = light.parts.find(({ source }) => source.kind === 'window');
      if (part?.source.kind === 'window') {
        const { place, date, facing, glass } = part.source;
        return { place, date, facing, glass };
      }
    }
    if (day) return { place: day.place, date: day.date, facing: 0, glass: 'double glass' };
  }
  return null;
}

/**
 * The parts of a light with one more: the new one takes an even share and the others give way in proportion.
 * Shares come out in hundredths.
 */
export function withPart(parts: Light['parts'], source: LightSource): Light['parts'] {
  const total = parts.reduce((sum, { share }) => sum + share, 0);
  const even = 1 / (parts.length + 1);
  const hundredths = (share: number) => Math.max(0.01, Math.round(100 * share) / 100);
  const others = parts.map((part) => ({ ...part, share: hundredths((part.share / total) * (1 - even)) }));
  return [...others, { source, share: hundredths(even) }];
}
