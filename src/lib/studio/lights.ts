import { inOrder, type Job, type Light, type LightSource, type Room } from '#lib/job/index.ts';
import { ROOM_KINDS, sunTimes, type RoomKind } from '#lib/light/index.ts';

/** A light people can name, ready to put into a room. */
export interface LightPreset {
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

type Part = Light['parts'][number];

const lamp = (table: string, share = 1): Part => ({ source: { kind: 'table', name: table }, share });
const glow = (kelvin: number, share = 1): Part => ({ source: { kind: 'black body', kelvin }, share });

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
  dusk: { sky: 'overcast', cct: 7500 },
};

/**
 * Clock hour of a time of day where a window is, to a quarter: on short days the morning starts later and the afternoon
 * ends earlier; dusk is a quarter of an hour before sunset. Common practice, no published source.
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
      return quarter((set ?? 16.25) - 0.25);
  }
}

/** A window at a time of day, or daylight of its usual temperature where nobody has said yet where the room is. */
function daytime(window: KnownWindow | null, time: TimeOfDay, share = 1): Part {
  const { sky: over, cct } = TIMES[time];
  if (!window) return { source: { kind: 'daylight', cct }, share };
  return { source: { kind: 'window', ...window, hour: hourOf(time, window), sky: over }, share };
}

/**
 * Lights worth judging a room's finishes under, by its kind; the first three are the usual ones.
 * In: the room's window where its place is known. Levels and lamps: common practice, no published source.
 */
export function lightPresets(kind: RoomKind, window: KnownWindow | null): LightPreset[] {
  const day = (name: string, time: TimeOfDay, illuminance: number): LightPreset => ({
    name,
    parts: [daytime(window, time)],
    illuminance,
  });
  const lit = (name: string, table: string, illuminance: number): LightPreset => ({
    name,
    parts: [lamp(table)],
    illuminance,
  });
  const mixed = (name: string, table: string, illuminance: number): LightPreset => ({
    name,
    parts: [daytime(window, 'dusk', 0.4), lamp(table, 0.6)],
    illuminance,
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
