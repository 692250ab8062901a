import {
  blackBody,
  daylight,
  illuminant,
  mixture,
  OBSERVER_2,
  type IlluminantName,
  type Spectrum,
} from '#lib/colour/index.ts';
import { describedLamp, lightAt, windowLight, type RoomDay } from '#lib/light/index.ts';
import { inOrder, type Room } from './document.ts';
import { same, type Json } from './edits.ts';
import { MOST_PARTS, type Light, type LightSource } from './lighting.ts';

/** Relative spectral power of one source; null for a window at night. */
export function sourceSpectrum(source: LightSource): Spectrum | null {
  switch (source.kind) {
    case 'table':
      return illuminant(source.name as IlluminantName);
    case 'daylight':
      return daylight(source.cct);
    case 'black body':
      return blackBody(source.kelvin);
    case 'described lamp':
      return describedLamp(source).spectrum;
    case 'measured':
      return Float64Array.from(source.values);
    case 'window':
      return windowLight(source).spectrum;
  }
}

// A light is drawn again and again while its document stays the same object; the sky behind a window takes its time.
const spectra = new WeakMap<Light['parts'], Spectrum>();

/**
 * Relative spectral power distribution of a light, its parts mixed by their shares of the illuminance (which counts light
 * by V(λ), the 2° observer). A window at night
 * gives nothing; a light of nothing else stands for the faint light of a clear night sky. Do not write to what is given.
 * @throws RangeError for a light whose shares are all 0.
 */
export function lightSpectrum(light: Pick<Light, 'parts'>): Spectrum {
  const known = spectra.get(light.parts);
  if (known) return known;
  const lit = light.parts.filter((part) => part.share > 0);
  if (lit.length === 0) throw new RangeError('Expected a light with at least one share above 0, got none');
  const parts = lit.flatMap(({ source, share }) => {
    const spectrum = sourceSpectrum(source);
    return spectrum ? [{ spectrum, share }] : [];
  });
  const spectrum = parts.length > 0 ? mixture(parts, OBSERVER_2) : daylight(NIGHT_SKY);
  spectra.set(light.parts, spectrum);
  return spectrum;
}

/** Colour temperature that stands for a window at night, K. Common practice, no published source. */
const NIGHT_SKY = 12_000;

/** A room's day as the light area works it out, or null for a room of which it is not known. */
export function roomDay({ day }: Pick<Room, 'day'>): RoomDay | null {
  if (!day) return null;
  return {
    place: day.place,
    date: day.date,
    sky: day.sky,
    floorArea: day.floorArea,
    height: day.height,
    reflectance: day.reflectance,
    windows: inOrder(day.windows),
    lamps: inOrder(day.lamps).map(({ name, source, illuminance, on }) => ({
      name,
      spectrum: sourceSpectrum(source) as Spectrum,
      illuminance,
      on,
    })),
  };
}

/** What a light is, apart from its name and its room. */
export type Lit = Pick<Light, 'parts' | 'illuminance'>;

/** Parts that give less than this share of a moment's light are left out of it. */
const LEAST_SHARE = 0.005;

/**
 * An hour of a room's day as the parts and level of a named light, complete in itself: it stays what it was when the day is
 * changed. Null while it is dark (below 1 lx) or the room's day is not known.
 */
export function momentAsLight(room: Pick<Room, 'day'>, hour: number): Lit | null {
  const day = roomDay(room);
  if (!day || !room.day) return null;
  const byDay = { ...day, lamps: [] };
  const { illuminance } = lightAt(day, hour);
  if (illuminance < 1) return null;
  const given: { source: LightSource; lux: number }[] = [];
  for (const [i, { facing, glass }] of inOrder(room.day.windows).entries()) {
    const { place, date, sky } = room.day;
    const lux = lightAt({ ...byDay, windows: [day.windows[i]] }, hour).illuminance;
    given.push({ source: { kind: 'window', place, date, hour, facing, sky, glass }, lux });
  }
  const daylight = lightAt(byDay, hour).illuminance;
  for (const [i, { source }] of inOrder(room.day.lamps).entries()) {
    // Whether a lamp burns can depend on the windows, so that it is asked together with them.
    const lux = lightAt({ ...day, lamps: [day.lamps[i]] }, hour).illuminance - daylight;
    given.push({ source, lux });
  }
  const parts = given
    .map(({ source, lux }) => ({ source, share: Math.min(1, Number((lux / illuminance).toFixed(3))) }))
    .filter(({ share }) => share >= LEAST_SHARE)
    .toSorted((a, b) => b.share - a.share)
    .slice(0, MOST_PARTS);
  // The sky is not known to a thousandth.
  return { parts, illuminance: Number(illuminance.toPrecision(3)) };
}

/** Whether two lights are the same light, whatever they are called: the same sources in the same shares, and the same level. */
export function sameLight(a: Lit, b: Lit): boolean {
  return a.illuminance === b.illuminance && same(a.parts as unknown as Json, b.parts as unknown as Json);
}

/** The hour of a room's day that a light was kept from, as the day gives it now; null where it is dark by now. */
export function keptHour(
  { day }: Pick<Room, 'day'>,
  { hour, daylight }: NonNullable<Light['kept']>,
): Lit | null {
  return momentAsLight({ day: day && daylight ? { ...day, sky: daylight, lamps: {} } : day }, hour);
}

/**
 * What the hour that a light was kept from gives now, where the room's day has been changed since; `dark` where it gives
 * nothing any more. Null for a light that is still what its hour is, was not kept from a day, or whose room has none.
 */
export function changedSinceKept(
  room: Pick<Room, 'day'>,
  light: Lit & Pick<Light, 'kept'>,
): Lit | 'dark' | null {
  if (!room.day || !light.kept) return null;
  const now = keptHour(room, light.kept);
  if (!now) return 'dark';
  return sameLight(now, light) ? null : now;
}
