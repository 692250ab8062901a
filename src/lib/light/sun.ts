import { getPosition } from 'suncalc';
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

/** Raised by refraction at the horizon and below it, degrees, as the library does. */
export const HORIZON_REFRACTION = 0.484;

/** Apparent altitude of the centre at sunrise and sunset: geometric -0.833 degrees, the almanacs' 34' and 16'. */
const ON_HORIZON = -0.833 + HORIZON_REFRACTION;

/** The sun cannot both rise and set between two looks at it, ms; shorter days near the polar circle may be missed. */
const LOOK = 5 * 60_000;

/**
 * Where the sun stands over a place at a clock hour of a date.
 * In: hour in [0, 24]; the date is `YYYY-MM-DD`, 1900 to 2199. An hour that summer time leaves out is read as if the
 * clock had not been put forward.
 * @throws RangeError for a place, date or hour that does not exist.
 * Source: Meeus, Astronomical Algorithms, chapter 25 (from memory), through the library suncalc; within 0.01 degrees of the worked
 * example of Reda and Andreas 2004 (NREL).
 */
export function sunPosition(place: Place, date: string, hour: number): SunPosition {
  checkPlace(place);
  return positionAt(place, clockToInstant(place.timeZone, date, hour));
}

/**
 * When the sun rises and sets at a place on a calendar date, and how high it comes.
 * The upper limb on a free horizon, 34' of refraction (altitude of the centre -0.833 degrees). Both null when it stays up
 * or down all day. Near the polar circles it can rise or set twice on one date: the first time is given then.
 * Found on the course of `sunPosition` between the midnights of the date: the library's own times belong to one solar day,
 * and where the sun grazes the horizon it has been seen 13 degrees off it at such a time (76.5 degrees north, 19 August).
 * @throws RangeError as `sunPosition` does.
 */
export function sunTimes(place: Place, date: string): SunTimes {
  checkPlace(place);
  const { timeZone } = place;
  const end = clockToInstant(timeZone, date, 24);
  const above = (instant: number) => positionAt(place, instant).altitude - ON_HORIZON;
  let rise: number | null = null;
  let set: number | null = null;
  let last = clockToInstant(timeZone, date, 0);
  let before = above(last);
  let top = { instant: last, altitude: before };
  while (last < end) {
    const next = Math.min(end, last + LOOK);
    const now = above(next);
    if (before < 0 && now >= 0) rise ??= instantToClock(timeZone, date, crossing(above, last, next));
    if (before >= 0 && now < 0) set ??= instantToClock(timeZone, date, crossing(above, last, next));
    if (now > top.altitude) top = { instant: next, altitude: now };
    last = next;
    before = now;
  }
  return { rise, set, highest: top.altitude + ON_HORIZON };
}

/** Where a course changes its sign between two instants, to a millisecond. */
function crossing(course: (instant: number) => number, from: number, to: number): number {
  const rising = course(to) >= 0;
  while (to - from > 1) {
    const middle = (from + to) / 2;
    if (course(middle) >= 0 === rising) to = middle;
    else from = middle;
  }
  return to;
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
