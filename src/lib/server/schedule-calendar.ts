import { dateWords, daysAfter, finishWords, type IsoDate } from '#lib/finish/index.ts';
import ical, { ICalCalendarMethod } from 'ical-generator';
import { boughtWords, costWords, stateWords, type ScheduleContents } from './schedule-contents.ts';

/*
 * Order-by days and steps as iCalendar (RFC 5545). All events are whole days, so that no time zone moves them; ids stay the
 * same as long as line and step do, so that a calendar that is read again changes what it has and adds nothing twice.
 */

interface DayEvent {
  readonly id: string;
  readonly from: IsoDate;
  /** The last day of it. */
  readonly to: IsoDate;
  readonly summary: string;
  readonly description: string;
  readonly place: string;
}

/** The calendar of a job's orders and work. */
export function scheduleCalendar(contents: ScheduleContents): string {
  const { job, jobId, made } = contents;
  const { events, without } = eventsOf(contents);
  const left = without.length === 0 ? '' : ` Not in it, as no day is known: ${without.join('; ')}.`;
  const calendar = ical({
    name: plain(`${job.name}: orders and work`),
    description: plain(`As of ${dateWords(contents.today)}. Local codes and licensed trades decide.${left}`),
    prodId: { company: 'Brushout', product: 'Finish schedule', language: 'EN' },
    method: ICalCalendarMethod.PUBLISH,
  });
  for (const { id, from, to, summary, description, place } of events)
    calendar.createEvent({
      id: `${encodeURIComponent(id)}@${encodeURIComponent(jobId)}.brushout`,
      start: midnight(from),
      // The end of a whole-day event is the day after it (RFC 5545, 3.6.1).
      end: midnight(daysAfter(to, 1)),
      allDay: true,
      stamp: made,
      summary: plain(summary),
      description: plain(description),
      ...(place && { location: plain(place) }),
    });
  return calendar.toString();
}

const midnight = (date: IsoDate) => new Date(`${date}T00:00:00Z`);

/** Text that a calendar can hold: no control characters but line breaks, no half characters. */
function plain(words: string): string {
  return words
    .toWellFormed()
    .replace(/\r\n?/g, '\n')
    .replace(/[\u0000-\u0009\u000b-\u001f\u007f]/g, ' ');
}

function eventsOf(contents: ScheduleContents): { events: DayEvent[]; without: string[] } {
  const { schedule, plan, scheduled, trade, job, today } = contents;
  const without: string[] = [];
  const items = new Map(schedule.lines.map(({ item }) => [item.id, item]));
  const orders = schedule.orders.flatMap((order): DayEvent[] => {
    const named = finishWords(order.finish);
    const { kind, orderBy, arrives } = order.delivery;
    const places = order.lineIds.map((id) => `${items.get(id)!.room}, ${items.get(id)!.surface}`).join('; ');
    const overdue = kind === 'late' || kind === 'in the past';
    const on = kind === 'ordered' ? arrives : overdue ? today : orderBy;
    if (on === null) {
      without.push(`${named} (${stateWords(order)})`);
      return [];
    }
    const what = kind === 'ordered' ? 'Comes' : overdue ? 'Order now, too late' : 'Last day to order';
    return [
      {
        id: `order ${order.id}`,
        from: on,
        to: on,
        summary: `${what}: ${named}`,
        description: [
          `${boughtWords(order, trade)}, ${costWords(order.cost, job)}.`,
          `For ${places}.`,
          order.supplier ? `From ${order.supplier}.` : '',
          overdue ? order.words : '',
        ]
          .filter(Boolean)
          .join('\n'),
        place: '',
      },
    ];
  });
  for (const { item } of schedule.lines)
    if (!item.finish) without.push(`${item.room}, ${item.surface} (no finish chosen)`);
  const steps = plan.steps.map(({ id, start, end, summary, description, room }): DayEvent => ({
    id: `step ${id}`,
    from: start.date,
    to: end.date,
    summary,
    description,
    place: room.name,
  }));
  const { finishBy } = scheduled.rules;
  const finish: DayEvent[] =
    finishBy === null
      ? []
      : [
          {
            id: 'finish by',
            from: finishBy,
            to: finishBy,
            summary: `${job.name}: to be finished`,
            description: plan.words,
            place: '',
          },
        ];
  return { events: [...orders, ...steps, ...finish], without };
}
