import { inOrder, type Job, type LightSource, type Room, type RoomDayRecord } from '#lib/job/index.ts';
import { defaultDay, type Glass, type Place, type RoomKind, type Sky } from '#lib/light/index.ts';

/** Where nobody has said yet where a home is: latitude, degrees north. Says itself to be a guess on the screen. */
export const GUESSED_LATITUDE = 50;

/** A usual day of a kind of room as the document keeps it; `newId` gives an identifier at each call. */
export function usualDay(
  kind: RoomKind,
  { place, date, newId }: { place: Place; date: string; newId: () => string },
): RoomDayRecord {
  const { sky, floorArea, height, reflectance, windows, lamps } = defaultDay(kind);
  const record: RoomDayRecord = {
    place: { ...place },
    date,
    sky,
    windows: {},
    lamps: {},
    floorArea,
    height,
    reflectance,
  };
  for (const [i, { facing, area, glass }] of windows.entries()) {
    const id = newId();
    record.windows[id] = { id, order: i + 1, name: '', facing, area, glass };
  }
  for (const [i, { name, source, illuminance, on }] of lamps.entries()) {
    const id = newId();
    record.lamps[id] = {
      id,
      order: i + 1,
      name: `${name.charAt(0).toUpperCase()}${name.slice(1)}`,
      source,
      illuminance,
      on,
    };
  }
  return record;
}

/**
 * Where to begin: where another room or light of the job is, else the guessed latitude on the meridian of this computer's
 * standard time. In: that time's zone and how far it is ahead of UTC, hours.
 */
export function startingPlace(
  { rooms, lights }: Pick<Job, 'rooms' | 'lights'>,
  here: { timeZone: string; standardOffset: number },
): { place: Place; guessed: boolean } {
  const sources: LightSource[] = inOrder(lights).flatMap(({ parts }) => parts.map(({ source }) => source));
  const known =
    inOrder(rooms).find(({ day }) => day)?.day?.place ??
    sources.find((source) => source.kind === 'window')?.place;
  if (known) return { place: { ...known }, guessed: false };
  const longitude = Math.min(180, Math.max(-180, 15 * here.standardOffset));
  return { place: { latitude: GUESSED_LATITUDE, longitude, timeZone: here.timeZone }, guessed: true };
}

/**
 * Days of a year that bound what its light does, by the hemisphere. Solstices and equinoxes fall on these dates or the day
 * before or after.
 */
export function notableDates(year: string, latitude: number): { words: string; date: string }[] {
  const [june, december] = [`${year}-06-21`, `${year}-12-21`];
  const south = latitude < 0;
  return [
    { words: 'Shortest day', date: south ? june : december },
    { words: 'Equinox', date: `${year}-03-20` },
    { words: 'Longest day', date: south ? december : june },
  ];
}

/** A sky in a sentence. */
export const SKY_SENTENCES: Record<Sky, { name: string; sentence: string }> = {
  clear: {
    name: 'Clear',
    sentence: 'Sun and blue sky: north windows turn blue, south windows catch the sun.',
  },
  'partly cloudy': { name: 'Sun and cloud', sentence: 'The usual mix: less contrast between the windows.' },
  overcast: { name: 'Overcast', sentence: 'Grey all over: every window gives the same even, neutral light.' },
};

export const GLASS_NAMES: Record<Glass, string> = {
  'open window': 'open',
  'single glass': 'single glass',
  'double glass': 'double glass',
  'coated double glass': 'double glass with a heat-saving coat',
};

/** How light a room's surfaces are together, as a mean reflectance. Common practice, no published source. */
export const SURFACE_LIGHTNESS: readonly { words: string; reflectance: number }[] = [
  { words: 'Very light: white walls, pale floor', reflectance: 0.65 },
  { words: 'Light: pale walls, wood floor', reflectance: 0.5 },
  { words: 'Medium: coloured walls or dark floor', reflectance: 0.4 },
  { words: 'Dark: deep walls and floor', reflectance: 0.25 },
];

/** The choice nearest to a reflectance. */
export function lightnessChoice(reflectance: number): number {
  const apart = SURFACE_LIGHTNESS.map((choice) => Math.abs(choice.reflectance - reflectance));
  return apart.indexOf(Math.min(...apart));
}

/** Square metres as square feet, in words; 1 foot is 0.3048 m (international yard and pound agreement of 1959). */
export function squareFeet(area: number): string {
  const value = area / 0.3048 ** 2;
  return `${(value < 10 ? Math.round(10 * value) / 10 : Math.round(value)).toLocaleString('en')} sq ft`;
}

/** Metres as feet and inches, in words. */
export function feetAndInches(metres: number): string {
  const inches = Math.round(metres / 0.0254);
  return `${Math.floor(inches / 12)} ft ${inches % 12} in`;
}

/** Clock time for a time field, `07:30`; midnight at the day's end is `23:59`. */
export function timeField(hour: number): string {
  const minutes = Math.min(24 * 60 - 1, Math.round(hour * 60));
  return [Math.floor(minutes / 60), minutes % 60].map((part) => String(part).padStart(2, '0')).join(':');
}

/** The hour of a time field; null while it is incomplete. The day's last minute means midnight. */
export function hourOfField(text: string): number | null {
  const [hours, minutes] = text.split(':').map(Number);
  if (!Number.isFinite(hours) || !Number.isFinite(minutes)) return null;
  return hours === 23 && minutes === 59 ? 24 : hours + minutes / 60;
}

/** What the hours of a lamp come to, in words where they are not plain; empty where they are. */
export function hoursWords({ from, until }: { from: number; until: number }): string {
  if (from === until) {
    return 'From and until are the same: it stays off. For a lamp that always burns, choose “all day and night”.';
  }
  if (from === 0 && until === 24) return 'That is all day and night.';
  return from > until && until > 0 ? 'It burns over midnight.' : '';
}

/** A calendar date as the document keeps it, by this computer's clock. */
export function isoDate(now: Date): string {
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()]
    .map((part) => String(part).padStart(2, '0'))
    .join('-');
}

/** A date in words: `10 February 2027`. */
export function dateWords(date: string): string {
  return new Date(`${date}T12:00:00Z`).toLocaleDateString('en-GB', {
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    timeZone: 'UTC',
  });
}

/** A place in words: `50° north, 10° east`. */
export function placeWords({ latitude, longitude }: Place): string {
  const degrees = (value: number, positive: string, negative: string) =>
    `${Math.abs(value).toLocaleString('en', { maximumFractionDigits: 2 })}° ${value < 0 ? negative : positive}`;
  return `${degrees(latitude, 'north', 'south')}, ${degrees(longitude, 'east', 'west')}`;
}

/** What a room's day is made of, in a line. */
export function sizeWords({ floorArea, height }: NonNullable<Room['day']>): string {
  return `${floorArea.toLocaleString('en')} m² (${squareFeet(floorArea)}) floor, ${height.toLocaleString('en')} m (${feetAndInches(height)}) high`;
}
