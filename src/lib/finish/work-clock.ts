import { dateOf, dayNumber, isWorkingDay } from './working-days.ts';
import type { IsoDate, WorkCalendar } from './working-days.ts';

/** A quarter of an hour, the step in which plans are reckoned. */
export const QUARTERS = 4;
const DAY = 24 * QUARTERS;
/** The hour at which work begins. Common practice, no published source. */
const OPENS = 8;

/** A moment of a plan: the day and the hour of its clock, 0-24 in quarters. */
export interface Moment {
  readonly date: IsoDate;
  readonly hour: number;
}

/**
 * Working time on a clock without time zone: quarter hours since 1970-01-01, every day 24 hours long, so that no change to
 * summer time moves a plan. Work is done from 8 o'clock for so many hours on working days; drying goes on all the time.
 * Throws RangeError for a week without working days or hours outside [1, 16].
 */
export class WorkClock {
  readonly quartersPerDay: number;
  readonly #calendar: WorkCalendar;
  readonly #known = new Map<number, boolean>();

  constructor(calendar: WorkCalendar, hoursPerDay: number) {
    if (!(hoursPerDay >= 1 && hoursPerDay <= 16))
      throw new RangeError(`Expected 1 to 16 working hours a day, got ${hoursPerDay}`);
    this.#calendar = calendar;
    this.quartersPerDay = Math.round(hoursPerDay * QUARTERS);
    this.#works(0);
  }

  /** The first working moment of a day or, where none is worked on it, of the next; the day by its number. */
  openingOn(day: number): number {
    let at = day;
    while (!this.#works(at)) at++;
    return at * DAY + OPENS * QUARTERS;
  }

  /** The first moment from `at` on that lies in working time. */
  openAt(at: number): number {
    const day = Math.floor(at / DAY);
    if (!this.#works(day) || at >= this.#closing(day)) return this.openingOn(day + 1);
    return Math.max(at, this.openingOn(day));
  }

  /** When work begins on the working day after the day of a moment. */
  nextOpening(at: number): number {
    return this.openingOn(Math.floor(at / DAY) + 1);
  }

  /**
   * The first moment from `at` on where work of so many quarters may begin. What fits into one day is not left half done
   * overnight: a coat is finished wet.
   */
  beginning(at: number, work: number): number {
    const open = this.openAt(at);
    const day = Math.floor(open / DAY);
    const left = this.#closing(day) - open;
    return work <= left || work > this.quartersPerDay ? open : this.openingOn(day + 1);
  }

  /** When work begun in working time is done; nights and days off stand between. */
  end(begun: number, work: number): number {
    let left = work;
    let at = this.openAt(begun);
    for (;;) {
      const closing = this.#closing(Math.floor(at / DAY));
      if (left <= closing - at) return at + left;
      left -= closing - at;
      at = this.openAt(closing);
    }
  }

  moment(at: number): Moment {
    const day = Math.floor(at / DAY);
    return { date: dateOf(day), hour: (at - day * DAY) / QUARTERS };
  }

  /** Days since 1970-01-01 as a column of a chart is wide: working hours fill the day, what lies outside them its edges. */
  column(at: number): number {
    const day = Math.floor(at / DAY);
    const within = (at - day * DAY - OPENS * QUARTERS) / this.quartersPerDay;
    return day + Math.min(1, Math.max(0, within));
  }

  #closing(day: number): number {
    return day * DAY + OPENS * QUARTERS + this.quartersPerDay;
  }

  #works(day: number): boolean {
    const known = this.#known.get(day);
    if (known !== undefined) return known;
    const works = isWorkingDay(dateOf(day), this.#calendar);
    this.#known.set(day, works);
    return works;
  }
}

/** Midnight at the start of a day, in quarter hours. Throws TypeError where the date is no day of the calendar. */
export function midnight(date: IsoDate): number {
  const day = dayNumber(date);
  if (day === null) throw new TypeError(`Expected a day as YYYY-MM-DD, got ${date}`);
  return day * DAY;
}
