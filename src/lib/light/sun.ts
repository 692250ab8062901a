import { getPosition, getTimes } from 'suncalc';
import { clockToInstant, instantToClock } from './clock.ts';

/** Where a room is. */
export interface Place {
  /** Degrees north, [-90, 90]. */
  readonly latitude: number;
  /** Degrees east, [-180, 180]. */
  readonly longitude: number;
  /** IANA time zone, or a fixed offset such as `+01:00`. */
  readonly timeZone: string;
}

/** Direction of the sun's centre, degrees. */
export interface SunPosition {
  /** Above the horizon, raised by refraction as the eye sees it; below the horizon by that of the horizon, 0.48. */
  readonly altitude: number;
  /** Clockwise from north, [0, 360). */
  readonly azimuth: number;
}

/** Sunrise and sunset as clock hours of a date. */
export interface SunTimes {
  /** null where the sun does not rise on that date; likewise `set`. */
  readonly rise: number | null;
  readonly set: number | null;
  /** Greatest altitude of the date, degrees; below 0 in polar night. */
  readonly highest: number;
}

const DAY = 86_400_000;

/**
 * Where the sun stands over a place at a clock hour of a date.
 * In: hour in [0, 24]; the date is `YYYY-MM-DD`, 1900 to 2199. An hour that summer time leaves out is read as if the
 * clock had not been put forward.
 * @throws RangeError for a place, date or hour that does not exist.
 * Source: Meeus, Astronomical Algorithms, chapter 25, through the library suncalc; within 0.01 degrees of the worked
 * example of Reda and Andreas 2004 (NREL).
 */
export function sunPosition(place: Place, date: string, hour: number): SunPosition {
  checkPlace(place);
  return positionAt(place, clockToInstant(place.timeZone, date, hour));
}

/**
 * When the sun rises and sets at a place on a calendar date, and how high it comes.
 * The upper limb on a free horizon, 34' of refraction (altitude of the centre -0.833 degrees).
 * Both null when it stays up or down all day. Near the polar circles the sun can set twice on one date: the first
 * sunset is given then.
 * @throws RangeError as `sunPosition` does.
 * Source: Meeus, Astronomical Algorithms, chapter 15, through the library suncalc.
 */
export function sunTimes(place: Place, date: string): SunTimes {
  checkPlace(place);
  const noon = clockToInstant(place.timeZone, date, 12);
  const hourOf = (event: Date | null) => event && instantToClock(place.timeZone, date, event.getTime());
  let rise: number | null = null;
  let set: number | null = null;
  let highest = Math.max(
    positionAt(place, noon - DAY / 2).altitude,
    positionAt(place, noon + DAY / 2).altitude,
  );
  // The library counts days by the sun; three of them cover a calendar date of any zone.
  for (const day of [-1, 0, 1]) {
    const events = getTimes(new Date(noon + day * DAY), place.latitude, place.longitude);
    rise ??= hourOf(events.sunrise);
    set ??= hourOf(events.sunset);
    if (hourOf(events.solarNoon) !== null) {
      highest = Math.max(highest, positionAt(place, events.solarNoon.getTime()).altitude);
    }
  }
  return { rise, set, highest };
}

function positionAt(place: Place, instant: number): SunPosition {
  const { altitude, azimuth } = getPosition(new Date(instant), place.latitude, place.longitude);
  return { altitude, azimuth: azimuth % 360 };
}

/** @throws RangeError for a latitude or longitude that no place has. */
function checkPlace({ latitude, longitude }: Place): void {
  if (!(Math.abs(latitude) <= 90)) throw new RangeError(`Expected a latitude in [-90, 90], got ${latitude}`);
  if (!(Math.abs(longitude) <= 180)) {
    throw new RangeError(`Expected a longitude in [-180, 180], got ${longitude}`);
  }
}
