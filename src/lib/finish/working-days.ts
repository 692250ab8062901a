/** A day as 'YYYY-MM-DD' (ISO 8601). */
export type IsoDate = string;

/** On which days work is done and goods are sent and taken in. */
export interface WorkCalendar {
  /** 1 Monday to 7 Sunday (ISO 8601). */
  readonly weekdays: readonly number[];
  /** Days off besides. */
  readonly holidays: readonly IsoDate[];
}

/** Monday to Friday, no holidays. */
export const USUAL_WEEK: WorkCalendar = { weekdays: [1, 2, 3, 4, 5], holidays: [] };

const DAY = 86_400_000;

/** Days since 1970-01-01, or null where the text is no day of the calendar ('2026-02-30'). */
export function dayNumber(date: IsoDate): number | null {
  const [, year, month, day] = /^(\d{4})-(\d{2})-(\d{2})$/.exec(date) ?? [];
  if (year === undefined) return null;
  const number = Date.UTC(Number(year), Number(month) - 1, Number(day)) / DAY;
  return Number.isFinite(number) && dateOf(number) === date ? number : null;
}

/** The day so many days after 1970-01-01. */
export function dateOf(day: number): IsoDate {
  return new Date(day * DAY).toISOString().slice(0, 10);
}

/** 'Mon 30 Nov 2026'. Throws TypeError where the date is no day of the calendar. */
export function dateWords(date: IsoDate): string {
  const day = given(date);
  const months = 'Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec'.split(' ');
  const [year, month, inMonth] = date.split('-').map(Number);
  return `${'Mon Tue Wed Thu Fri Sat Sun'.split(' ')[weekday(day) - 1]} ${inMonth} ${months[month - 1]} ${year}`;
}

/** A day later (or earlier) by calendar days. Throws TypeError where the date is no day of the calendar. */
export function daysAfter(date: IsoDate, days: number): IsoDate {
  return dateOf(given(date) + days);
}

/** Calendar days from one date to another, negative backwards. Throws TypeError where one is no day of the calendar. */
export function daysBetween(from: IsoDate, to: IsoDate): number {
  return given(to) - given(from);
}

/**
 * Whether work is done on a date. Throws TypeError where the date is no day of the calendar, RangeError for a week without
 * working days.
 */
export function isWorkingDay(date: IsoDate, calendar: WorkCalendar): boolean {
  if (!calendar.weekdays.some((day) => Number.isInteger(day) && day >= 1 && day <= 7))
    throw new RangeError(
      `Expected a week with a working day from 1 to 7, got [${calendar.weekdays.join(', ')}]`,
    );
  return calendar.weekdays.includes(weekday(given(date))) && !calendar.holidays.includes(date);
}

/** The date itself where work is done on it, else the next working day (`step` 1) or the one before (-1). */
export function nearestWorkingDay(date: IsoDate, step: 1 | -1, calendar: WorkCalendar): IsoDate {
  let at = date;
  while (!isWorkingDay(at, calendar)) at = daysAfter(at, step);
  return at;
}

/**
 * The working day `days` working days after a date, or before it where negative; weekends and holidays do not count. A date
 * that is no working day counts as the working day before it (going forward) or after it (going back).
 */
export function workingDaysAfter(date: IsoDate, days: number, calendar: WorkCalendar): IsoDate {
  if (!Number.isInteger(days)) throw new RangeError(`Expected whole working days, got ${days}`);
  const step = days < 0 ? -1 : 1;
  let at = nearestWorkingDay(date, days < 0 ? 1 : -1, calendar);
  for (let left = Math.abs(days); left > 0; left--)
    at = nearestWorkingDay(daysAfter(at, step), step, calendar);
  return at;
}

function given(date: IsoDate): number {
  const day = dayNumber(date);
  if (day === null) throw new TypeError(`Expected a day as YYYY-MM-DD, got ${date}`);
  return day;
}

/** 1 Monday to 7 Sunday; 1970-01-01 was a Thursday. */
function weekday(day: number): number {
  return ((((day + 3) % 7) + 7) % 7) + 1;
}
