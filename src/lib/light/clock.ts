/** How far a clock is ahead of UTC at an instant, in ms. */
type Offset = (instant: number) => number;

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const offsets = new Map<string, Offset>();

/**
 * The rule of a time zone: an IANA name such as `Europe/Vienna`, or a fixed offset such as `+01:00`.
 * The zone's history and summer time come from the ECMAScript internationalisation API, the same in browser and server.
 * @throws RangeError for anything else.
 */
function offsetOf(timeZone: string): Offset {
  const known = offsets.get(timeZone);
  if (known) return known;
  const fixed = /^([+-])([01]\d|2[0-3]):([0-5]\d)$/.exec(timeZone);
  let offset: Offset;
  if (fixed) {
    const ahead = (fixed[1] === '-' ? -1 : 1) * (Number(fixed[2]) * HOUR + Number(fixed[3]) * 60_000);
    offset = () => ahead;
  } else {
    const format = formatOf(timeZone);
    offset = (instant) => {
      const field: Record<string, number> = {};
      for (const { type, value } of format.formatToParts(instant)) field[type] = Number(value);
      const { year, month, day, hour, minute, second } = field;
      return Date.UTC(year, month - 1, day, hour, minute, second) - Math.floor(instant / 1000) * 1000;
    };
  }
  offsets.set(timeZone, offset);
  return offset;
}

function formatOf(timeZone: string): Intl.DateTimeFormat {
  try {
    return new Intl.DateTimeFormat('en-u-ca-gregory-nu-latn', {
      timeZone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
  } catch {
    throw new RangeError(`Expected an IANA time zone or an offset such as +01:00, got ${timeZone}`);
  }
}

/** Whether a text names a time zone: an IANA name or a fixed offset such as `+01:00`. */
export function isTimeZone(name: string): boolean {
  try {
    offsetOf(name);
    return true;
  } catch {
    return false;
  }
}

/**
 * Midnight UTC of a calendar date, in ms.
 * @throws RangeError for anything but an existing date written `YYYY-MM-DD`, from 1900 to 2199.
 */
function utcMidnight(date: string): number {
  const [year, month, day] = /^(?:19|2[01])\d\d-\d\d-\d\d$/.test(date) ? date.split('-').map(Number) : [];
  const midnight = Date.UTC(year, month - 1, day);
  if (!(new Date(midnight).getUTCDate() === day && new Date(midnight).getUTCMonth() === month - 1)) {
    throw new RangeError(`Expected a date YYYY-MM-DD between 1900 and 2199, got ${date}`);
  }
  return midnight;
}

/**
 * The instant at which the clocks of a zone show an hour, in ms since 1970 UTC.
 * In: hour in [0, 24], with fractions. An hour that summer time leaves out is read by the clock that was not yet put
 * forward; one that happens twice is the first.
 * @throws RangeError for a date, an hour or a zone that does not exist.
 */
export function clockToInstant(timeZone: string, date: string, hour: number): number {
  if (!(hour >= 0 && hour <= 24)) throw new RangeError(`Expected an hour in [0, 24], got ${hour}`);
  const offset = offsetOf(timeZone);
  const local = utcMidnight(date) + hour * HOUR;
  // A change of the clocks lies between a day before and a day after, or nowhere near.
  const before = offset(local - DAY);
  const after = offset(local + DAY);
  const early = local - Math.max(before, after);
  if (before === after || offset(early) === local - early) return early;
  const late = local - Math.min(before, after);
  return offset(late) === local - late ? late : local - before;
}

/**
 * The hour the clocks of a zone show at an instant, counted from the midnight that begins the date; null where the
 * instant does not fall on that date.
 * @throws RangeError as `clockToInstant` does.
 */
export function instantToClock(timeZone: string, date: string, instant: number): number | null {
  const hour = (instant + offsetOf(timeZone)(instant) - utcMidnight(date)) / HOUR;
  return hour >= 0 && hour < 24 ? hour : null;
}
