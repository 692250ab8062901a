import { dateWords, daysAfter, daysBetween, nearestWorkingDay, workingDaysAfter } from './working-days.ts';
import type { IsoDate, WorkCalendar } from './working-days.ts';

/** How lead times and dates are reckoned. */
export interface DeliveryRules {
  /** The day it is, passed in. */
  readonly today: IsoDate;
  readonly calendar: WorkCalendar;
  /** What lead times count. */
  readonly leadTimeIn: 'calendar days' | 'working days';
}

export type DeliveryKind = 'ordered' | 'in time' | 'late' | 'in the past' | 'lead time unknown' | 'no date';

/** When a thing must be ordered to be there. */
export interface Delivery {
  readonly kind: DeliveryKind;
  /** Last working day on which to order; null where lead time or date are not known. */
  readonly orderBy: IsoDate | null;
  /** When it comes if ordered on the day that counts: the day it was ordered, else the first working day from today on. */
  readonly arrives: IsoDate | null;
  /** Days after the date it is needed on, 0 where it is not late; null where that cannot be said. */
  readonly lateBy: number | null;
  /** Calendar days left to order in time; 0 on the last day; null where it cannot be said. */
  readonly daysLeft: number | null;
  readonly words: string;
}

/** The working day something comes that is ordered on a working day. */
export function arrival(
  ordered: IsoDate,
  leadTime: number,
  { calendar, leadTimeIn }: DeliveryRules,
): IsoDate {
  return leadTimeIn === 'working days'
    ? workingDaysAfter(ordered, Math.ceil(leadTime), calendar)
    : nearestWorkingDay(daysAfter(ordered, Math.ceil(leadTime)), 1, calendar);
}

/** The first day on which an order can go out. */
export function firstOrderDay({ today, calendar }: DeliveryRules): IsoDate {
  return nearestWorkingDay(today, 1, calendar);
}

/**
 * When a thing must be ordered to be there on a day, and whether that can still be done. Orders go out and goods come in on
 * working days: what is needed on a Sunday must come on the Friday.
 */
export function delivery(
  {
    neededOn,
    leadTime,
    orderedOn,
  }: {
    readonly neededOn: IsoDate | null;
    readonly leadTime: number | null;
    readonly orderedOn: IsoDate | null;
  },
  rules: DeliveryRules,
): Delivery {
  const { today, calendar, leadTimeIn } = rules;
  const ordered = orderedOn ?? firstOrderDay(rules);
  const arrives = leadTime === null ? null : arrival(ordered, leadTime, rules);
  const lateBy = arrives === null || neededOn === null ? null : Math.max(0, daysBetween(neededOn, arrives));
  const said = (kind: DeliveryKind, words: string, known: Partial<Delivery> = {}): Delivery => ({
    kind,
    orderBy: null,
    arrives,
    lateBy,
    daysLeft: null,
    words,
    ...known,
  });
  if (orderedOn !== null) {
    const comes = arrives === null ? 'when it comes is not known' : `comes ${dateWords(arrives)}`;
    const late = lateBy ? `, ${daysSaid(lateBy)} late` : '';
    return said('ordered', `Ordered ${dateWords(orderedOn)}, ${comes}${late}.`);
  }
  if (neededOn === null) {
    const soonest = arrives === null ? '' : ` Ordered now it comes ${dateWords(arrives)}.`;
    return said('no date', `No date is set for it.${soonest}`);
  }
  if (daysBetween(today, neededOn) < 0)
    return said(
      'in the past',
      `It was needed on ${dateWords(neededOn)}, which is past.${arrives ? ` Ordered now it comes ${dateWords(arrives)}.` : ''}`,
    );
  if (leadTime === null)
    return said(
      'lead time unknown',
      `Needed on ${dateWords(neededOn)}; how long it takes to come is not known: ask.`,
    );
  const dueIn = nearestWorkingDay(neededOn, -1, calendar);
  const orderBy =
    leadTimeIn === 'working days'
      ? workingDaysAfter(dueIn, -Math.ceil(leadTime), calendar)
      : nearestWorkingDay(daysAfter(dueIn, -Math.ceil(leadTime)), -1, calendar);
  const daysLeft = daysBetween(today, orderBy);
  if (lateBy === 0 && daysLeft >= 0)
    return said(
      'in time',
      `Order by ${dateWords(orderBy)} (${daysLeft === 0 ? 'today' : `${daysSaid(daysLeft)} left`}).`,
      { orderBy, daysLeft },
    );
  return said(
    'late',
    `It had to be ordered by ${dateWords(orderBy)}. Ordered now it comes ${dateWords(arrives!)}, ${daysSaid(lateBy ?? 0)} late.`,
    { orderBy, daysLeft: Math.min(0, daysLeft) },
  );
}

/** '1 day', '5 days'. */
export function daysSaid(days: number): string {
  return `${days} ${days === 1 ? 'day' : 'days'}`;
}
