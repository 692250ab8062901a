import { arrival, daysSaid, firstOrderDay } from './delivery.ts';
import type { DeliveryRules } from './delivery.ts';
import { midnight } from './work-clock.ts';
import { dateWords, workingDaysAfter } from './working-days.ts';
import type { IsoDate, WorkCalendar } from './working-days.ts';

/** The delivery on which the end of a plan hangs most, and how late that may be. */
export interface HangsOn {
  /** Finishes of the plan that come with it. */
  readonly finishIds: readonly string[];
  readonly name: string;
  /** When it comes; ordered now where it is not ordered yet. */
  readonly arrives: IsoDate;
  /** Working days it may come later before the end moves; 0 where one day is too many. */
  readonly slack: number;
  /** The last day on which it may come. */
  readonly latest: IsoDate;
  readonly words: string;
}

/** What comes at once, and the tasks that wait for it. */
export interface Coming {
  readonly finishIds: readonly string[];
  readonly name: string;
  readonly arrives: IsoDate;
  readonly ordered: boolean;
  /** Tasks by index. */
  readonly tasks: readonly number[];
  /** Beginning of the first of them, quarter hours (`WorkClock`). */
  readonly firstStart: number;
}

interface Ordered {
  readonly leadTimeDays: number | null;
  readonly orderedOn: IsoDate | null;
}

/** The working day a finish comes; null where it is not known. */
export function arrivalOf(finish: Ordered | undefined, rules: DeliveryRules): IsoDate | null {
  if (!finish || finish.leadTimeDays === null) return null;
  return arrival(finish.orderedOn ?? firstOrderDay(rules), finish.leadTimeDays, rules);
}

/**
 * What is still to come, by what is ordered together: one product with one lead time for several surfaces is one delivery. What
 * comes before `today` is there.
 * In: `starts`, the beginnings of the steps, quarter hours (`WorkClock`).
 */
export function comingOf(
  steps: readonly { readonly finishId: string | null }[],
  {
    finishes,
    starts,
    rules,
  }: {
    finishes: ReadonlyMap<string, Ordered & { readonly name: string }>;
    starts: readonly number[];
    rules: DeliveryRules;
  },
): Coming[] {
  const coming = new Map<string, Coming & { finishIds: string[]; tasks: number[]; firstStart: number }>();
  steps.forEach(({ finishId }, index) => {
    const finish = finishId === null ? undefined : finishes.get(finishId);
    const on = arrivalOf(finish, rules);
    if (finishId === null || !finish || on === null || on < rules.today) return;
    const { name, orderedOn } = finish;
    const key = JSON.stringify([name, on, orderedOn]);
    const found = coming.get(key);
    if (!found) {
      const first = { finishIds: [finishId], name, arrives: on, ordered: orderedOn !== null };
      coming.set(key, { ...first, tasks: [index], firstStart: starts[index] });
      return;
    }
    if (!found.finishIds.includes(finishId)) found.finishIds.push(finishId);
    found.tasks.push(index);
    found.firstStart = Math.min(found.firstStart, starts[index]);
  });
  return [...coming.values()];
}

/** Delays beyond six working weeks are no delays any more. Common practice, no published source. */
const MOST = 30;

/**
 * The delivery with the least slack, each late by itself while all others come as planned: the plan is reckoned anew from the
 * same start with the delivery one working day later, then two, until it ends on a later day. Null where none moves the end
 * within 30 working days. Slack as in the critical path method, common practice.
 * In: `finish`, the day on which the plan ends, and `endWith`, that day with tasks held until a time.
 */
export function leastSlack(
  coming: readonly Coming[],
  {
    finish,
    calendar,
    endWith,
  }: {
    finish: IsoDate;
    calendar: WorkCalendar;
    endWith: (tasks: readonly number[], release: number) => IsoDate;
  },
): HangsOn | null {
  let least: { delivery: Coming; slack: number } | null = null;
  // What is needed soonest after it comes most likely has least: the others are then looked at no further.
  const untilNeeded = ({ arrives, firstStart }: Coming) => firstStart - midnight(arrives);
  for (const delivery of coming.toSorted((a, b) => untilNeeded(a) - untilNeeded(b))) {
    const most: number = least?.slack ?? MOST;
    for (let late = 1; late <= most; late++) {
      const release = midnight(workingDaysAfter(delivery.arrives, late, calendar));
      // Before the first step that waits for it nothing changes.
      if (release <= delivery.firstStart || endWith(delivery.tasks, release) <= finish) continue;
      least = { delivery, slack: late - 1 };
      break;
    }
  }
  if (!least) return null;
  const { delivery, slack } = least;
  const { finishIds, name, arrives, ordered } = delivery;
  const latest = workingDaysAfter(arrives, slack, calendar);
  const when = `${dateWords(arrives)}${ordered ? '' : ' if ordered now'}`;
  const may =
    slack === 0
      ? 'A working day later and the end moves.'
      : `It may come up to ${daysSaid(slack).replace('day', 'working day')} late, until ${dateWords(latest)}; after that the end moves.`;
  const words = `The end hangs most on one delivery: ${name}, which comes ${when}. ${may}`;
  return { finishIds, name, arrives, slack, latest, words };
}
