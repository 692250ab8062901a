import {
  dateWords,
  dayNumber,
  momentWords,
  workingDaysAfter,
  type IsoDate,
  type Plan,
  type PlanDelivery,
  type PlanStep,
  type WorkCalendar,
} from '#lib/finish/index.ts';
import { DEFAULT_TRADE, type Job, type Trade } from '#lib/job/index.ts';
import { capital } from './light-words.ts';

/** What sets places of a job's trade, which is put there first where nobody has touched it: for `studio.set`. */
export function tradeValues(
  job: Pick<Job, 'trade'>,
  values: readonly (readonly [string[], unknown])[],
): (readonly [string[], unknown])[] {
  const inTrade = values.map(([path, value]): readonly [string[], unknown] => [['trade', ...path], value]);
  return job.trade ? inTrade : [[['trade'], DEFAULT_TRADE], ...inTrade];
}

/** The day a step goes to when it is moved by a working day, from the day it was moved to or else begins on. */
export function nextDay(
  { movedTo, start }: Pick<PlanStep, 'movedTo' | 'start'>,
  step: 1 | -1,
  calendar: WorkCalendar,
): IsoDate {
  return workingDaysAfter(movedTo ?? start.date, step, calendar);
}

const days = (count: number) => (count === 1 ? '1 working day' : `${count} working days`);

/** 'Done and dry Thu 21 Jan 2027, 2 working days late.' */
export function doneWords({ finish, spare }: Plan): string {
  if (finish === null) return 'Nothing is planned.';
  const against =
    spare === null
      ? ''
      : spare < 0
        ? `, ${days(-spare)} late`
        : spare === 0
          ? ', just in time'
          : `, ${days(spare)} to spare`;
  return `Done and dry ${dateWords(finish)}${against}.`;
}

/** What fixes the end, a sentence each. */
export function chainWords(plan: Plan): string[] {
  const chain = chainSteps(plan);
  const [root] = chain;
  if (!root) return [];
  const begins = {
    delivery: `It begins with a delivery: ${root.because.words}.`,
    moved: `It begins with a step that was moved: “${root.summary}”.`,
  };
  const count = (kind: PlanStep['because']['kind']) =>
    chain.filter(({ because }) => because.kind === kind).length;
  const times = (n: number) => (n === 1 ? 'once' : n === 2 ? 'twice' : `${n} times`);
  const waits = chain.filter((step, k) => step.waits > 0 && chain[k + 1]?.because.kind !== 'hands');
  const dry = waits.reduce((sum, { waits: hours }) => sum + hours, 0) / 24;
  const [hands, space] = [count('hands'), count('space')];
  return [
    root.because.kind === 'delivery' || root.because.kind === 'moved' ? begins[root.because.kind] : '',
    chain.length === 1
      ? root.because.kind === 'moved'
        ? 'Nothing before it holds it up.'
        : `“${root.summary}” alone.`
      : `${chain.length} steps, each held up by the one before, from “${root.summary}” to “${chain.at(-1)!.summary}”.`,
    dry >= 1
      ? `Drying and waiting take ${Math.round(dry)} ${Math.round(dry) === 1 ? 'day' : 'days'} of it.`
      : '',
    space > 0 ? `${capital(times(space))} the drying space is full: ${plan.space} lie there at once.` : '',
    hands > 0 ? `${capital(times(hands))} a step waits for hands.` : '',
  ].filter(Boolean);
}

/** The steps that fix the end, in order. */
export function chainSteps({ chain, steps }: Plan): PlanStep[] {
  const byId = new Map(steps.map((step) => [step.id, step]));
  return chain.flatMap((id) => byId.get(id) ?? []);
}

/** Whether it could be sooner. */
export function atLeastWords({ finish, atLeast }: Plan): string {
  if (finish === null || atLeast === null) return '';
  return finish === atLeast
    ? 'No other order of the steps is done on an earlier day.'
    : `With these people and this space no order of the steps is done before ${dateWords(atLeast)}; whether one is done sooner than this was not proven.`;
}

/** 'Thu 21 Jan': a day whose year goes without saying. */
export const dayWords = (date: IsoDate) => dateWords(date).replace(/ \d{4}$/, '');

/** '08:00', of a moment. */
export const hourWords = (moment: PlanStep['start']) => momentWords(moment).split(', ')[1];

/** When a step is done and what dries then. */
export function stepTimes({ start, end, dry, waits, task }: PlanStep): string {
  const said = (moment: PlanStep['start']) =>
    moment.date === start.date ? hourWords(moment) : `${dayWords(moment.date)}, ${hourWords(moment)}`;
  const waiting = waits > 0 ? `, ${task === 'template' ? 'made' : 'dry'} ${said(dry)}` : '';
  return `${hourWords(start)} to ${said(end)}${waiting}`;
}

/** A step where nothing else says where it is: by its words, with the place where another step has the same. */
export function stepName(step: PlanStep, { steps }: Pick<Plan, 'steps'>): string {
  return steps.some(({ id, words }) => id !== step.id && words === step.words) ? step.summary : step.words;
}

/** What must have come: by its name, with where it is needed where the same must have come for other steps too. */
export function deliveryName(
  { finishId, stepId, name }: PlanDelivery,
  { deliveries, steps }: Pick<Plan, 'deliveries' | 'steps'>,
): string {
  const again = deliveries.some((other) => other.finishId !== finishId && other.name === name);
  const step = again && steps.find(({ id }) => id === stepId);
  return capital(step ? `${name}, for ${[step.room.name, step.surface].filter(Boolean).join(', ')}` : name);
}

/** A step for who cannot see its bar. */
export function stepLabel(step: PlanStep, cautions: readonly string[]): string {
  return [
    step.summary,
    `${dateWords(step.start.date)}, ${stepTimes(step)}`,
    step.critical ? 'fixes the end' : '',
    step.movedTo === null
      ? ''
      : step.kept
        ? 'moved by hand'
        : `moved to ${dateWords(step.movedTo)}, which cannot be kept`,
    cautions.length > 0 ? `caution: ${cautions.join(', ')}` : '',
  ]
    .filter(Boolean)
    .join('; ');
}

/** What moving a step has led to. */
export function movedWords(step: PlanStep | undefined, plan: Plan): string {
  if (!step) return doneWords(plan);
  const what = step.movedTo === null ? 'finds its own day' : `is on ${dateWords(step.start.date)}`;
  const asked =
    step.movedTo !== null && !step.kept ? `, not on ${dateWords(step.movedTo)}: ${step.because.words}` : '';
  return `“${step.summary}” ${what}${asked}. ${doneWords(plan)}`;
}

/** Working days by their usual short names, from Monday. */
const WEEK = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'] as const;

/** What the plan is reckoned with, in a line. */
export function settingsWords(
  { startOn, hands, hoursPerDay, yearBuilt, weekdays, holidays }: Trade,
  { space, finishBy }: { readonly space: number; readonly finishBy: IsoDate | null },
): string {
  const begins =
    startOn !== null
      ? `begins ${dayNumber(startOn) === null ? `“${startOn}”` : dateWords(startOn)}`
      : finishBy === null
        ? 'begins today'
        : 'begins as late as the finish-by date allows';
  const off =
    holidays.length === 0 ? '' : `, ${holidays.length === 1 ? '1 day' : `${holidays.length} days`} off`;
  return [
    begins,
    `${hands === 1 ? '1 person' : `${hands} people`}, ${hoursPerDay} hours a day, ${WEEK.filter((_, k) => weekdays.includes(k + 1)).join(' ')}${off}`,
    `${space} fronts drying at once`,
    yearBuilt === null ? 'house of unknown age' : `house built ${yearBuilt}`,
  ].join('; ');
}
