import type { Caution } from './cautions.ts';
import { daysSaid } from './delivery.ts';
import type { Moment } from './work-clock.ts';
import type { WorkStep } from './work-step.ts';
import { dateWords, daysAfter, isWorkingDay } from './working-days.ts';
import type { IsoDate, WorkCalendar } from './working-days.ts';

/** 'Mon 30 Nov 2026, 09:15'. */
export function momentWords({ date, hour }: Moment): string {
  const minutes = Math.round((hour % 1) * 60);
  return `${dateWords(date)}, ${String(Math.floor(hour)).padStart(2, '0')}:${String(minutes).padStart(2, '0')}`;
}

/**
 * Working days left between a finish and the date it is wanted by; negative where it is late, by the working days after
 * that date up to the finish, one at least.
 */
export function spareDays(finish: IsoDate, finishBy: IsoDate, calendar: WorkCalendar): number {
  const late = finish > finishBy;
  const [from, to] = late ? [finishBy, finish] : [finish, finishBy];
  let days = 0;
  for (let day = daysAfter(from, 1); day <= to; day = daysAfter(day, 1))
    if (isWorkingDay(day, calendar)) days++;
  return late ? -Math.max(1, days) : days;
}

type Kind = 'start' | 'delivery' | 'moved' | 'after' | 'hands' | 'space';

/** What fixed the beginning of a step. */
export function becauseWords(
  kind: Kind,
  {
    before,
    ready,
    finish,
    arrives,
  }: { before: WorkStep | null; ready: Moment; finish: string; arrives: IsoDate | null },
): string {
  const named = before ? `“${summaryWords(before)}”` : '';
  switch (kind) {
    case 'start':
      return 'the plan begins then';
    case 'delivery':
      return `${finish} comes ${arrives === null ? 'then' : dateWords(arrives)}`;
    case 'moved':
      return 'it was moved there';
    case 'after':
      return `${named} is ${before!.waits > 0 ? 'ready' : 'done'} ${momentWords(ready)}`;
    case 'hands':
      return `hands are busy with ${named}`;
    case 'space':
      return `the drying space is full until ${named} is dry, ${momentWords(ready)}`;
  }
}

/** 'Kitchen, cabinets: prime the boxes'. */
export function summaryWords({ room, surface, words }: WorkStep): string {
  const place = [room.name, surface].filter(Boolean).join(', ');
  return place ? `${place}: ${words[0].toLowerCase()}${words.slice(1)}` : words;
}

export function descriptionWords(
  step: WorkStep & {
    readonly start: Moment;
    readonly end: Moment;
    readonly dry: Moment;
    readonly because: { readonly words: string };
    readonly cautions: readonly Caution[];
  },
): string {
  const { words, start, end, dry, hours, hoursFrom, waits, waitsFrom, trade, because, cautions } = step;
  const reckoned = {
    usual: 'usual for its size',
    guess: 'guessed, its size is not known',
    yours: 'as you set it',
  };
  const lines = [
    `${words}.`,
    `${momentWords(start)} to ${momentWords(end)}: ${hoursSaid(hours)} of work, ${reckoned[hoursFrom]}${trade ? `; done by the ${trade}` : ''}.`,
    waits > 0
      ? `Then ${hoursSaid(waits)} of ${step.task === 'template' ? 'waiting' : 'drying'}, ${waitsFrom === 'given' ? 'as given' : 'common practice; the data sheet counts first'}: until ${momentWords(dry)}.`
      : '',
    `Not sooner: ${because.words}.`,
    ...cautions.map((caution) => `Caution: ${caution.words} (${caution.source})`),
  ];
  return lines.filter(Boolean).join('\n');
}

function hoursSaid(hours: number): string {
  const rounded = Math.ceil(hours * 4 - 1e-9) / 4;
  if (rounded >= 48 && rounded % 24 === 0) return daysSaid(rounded / 24);
  return rounded === 1 ? '1 hour' : `${rounded} hours`;
}

/** What is to be said of a step that was moved: no work on that day, or why it begins later; '' where all is well. */
export function moveWords(
  step: WorkStep & {
    readonly start: Moment;
    readonly movedTo: IsoDate | null;
    readonly kept: boolean;
    readonly because: { readonly words: string };
  },
  calendar: WorkCalendar,
): string {
  const wanted = step.movedTo;
  if (wanted === null) return '';
  const off = isWorkingDay(wanted, calendar) ? '' : 'no work is done that day';
  const late = step.kept ? '' : step.because.words;
  if (!off && !late) return '';
  const why = [off, late].filter(Boolean).join(', and ');
  return `“${summaryWords(step)}” was moved to ${dateWords(wanted)}, but ${why}. It begins ${momentWords(step.start)}; the day you chose is kept.`;
}

/** The plan in a few sentences. */
export function planWords({
  start,
  finish,
  atLeast,
  spare,
  finishBy,
  chain,
  space,
  guessed,
  hangsOn,
}: {
  readonly start: IsoDate;
  readonly finish: IsoDate;
  readonly atLeast: IsoDate;
  readonly spare: number | null;
  readonly finishBy: IsoDate | null;
  readonly chain: readonly (WorkStep & {
    readonly because: { readonly kind: Kind; readonly words: string };
  })[];
  readonly space: number;
  readonly guessed: readonly string[];
  readonly hangsOn: { readonly words: string } | null;
}): string {
  const [root] = chain;
  const when = `From ${dateWords(start)}, done and dry ${dateWords(finish)}.`;
  const working = (days: number) => daysSaid(days).replace('day', 'working day');
  const why =
    root.because.kind === 'delivery'
      ? root.because.words
      : root.because.kind === 'moved'
        ? `“${summaryWords(root)}” was moved`
        : `the work and drying from “${summaryWords(root)}” to “${summaryWords(chain.at(-1)!)}” take that long`;
  const against =
    spare === null
      ? ''
      : spare < 0
        ? ` ${working(-spare)} late for ${dateWords(finishBy!)}, because ${why}.`
        : spare === 0
          ? ` Just in time for ${dateWords(finishBy!)}.`
          : ` ${working(spare)} to spare before ${dateWords(finishBy!)}.`;
  const held = (kind: Kind) => chain.some(({ because }) => because.kind === kind);
  const forSpace = held('space') ? ` It waits for drying space: ${space} at once.` : '';
  const forHands = held('hands') ? ' It waits for hands.' : '';
  const bound =
    finish === atLeast
      ? ' No other order of the steps is done on an earlier day.'
      : ` Another order may be done sooner, but not before ${dateWords(atLeast)}.`;
  const open = guessed.length > 0 ? ` Guessed or not known: ${guessed.length}.` : '';
  const hangs = hangsOn ? ` ${hangsOn.words}` : '';
  return `${when}${against}${forSpace}${forHands}${bound}${hangs}${open}`;
}
