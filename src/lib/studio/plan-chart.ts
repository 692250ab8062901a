import {
  daysAfter,
  dateWords,
  daysBetween,
  isWorkingDay,
  type Caution,
  type IsoDate,
  type Plan,
  type PlanGroup,
  type PlanStep,
  type WorkCalendar,
} from '#lib/finish/index.ts';

/** Least widths of a day on the chart, in the page's text unit (rem), so that bars grow with the words under them. */
export const DAY_WIDTHS = { working: 2.5, off: 1.125, idle: 0.125 } as const;
/** Where there is room, days are so many times as wide at most. */
const MOST_STRETCH = 1.8;
/** So many days on end without a bar are drawn narrow. */
const LONG_IDLE = 8;
/** Today is drawn where it lies at most so many days before the work. */
const FAR = 400;

export interface ChartDay {
  readonly date: IsoDate;
  readonly x: number;
  readonly width: number;
  readonly kind: keyof typeof DAY_WIDTHS;
}

/** The chart's time, from left to right. Lengths in rem. */
export interface PlanScale {
  /** The day that offsets count from. */
  readonly origin: IsoDate;
  readonly days: readonly ChartDay[];
  readonly months: readonly { readonly words: string; readonly x: number; readonly width: number }[];
  readonly width: number;
  /** Where a moment lies, by its offset in days; moments outside go on in working days. */
  x(offset: number): number;
  /** The day at a place; outside the chart the first or last one. */
  dayAt(x: number): IsoDate;
}

/** The days of a plan, of today and of the finish-by date; long stretches without work in between drawn narrow. */
export function planScale(
  plan: Plan,
  {
    today,
    finishBy,
    calendar,
    room,
  }: {
    readonly today: IsoDate;
    readonly finishBy: IsoDate | null;
    readonly calendar: WorkCalendar;
    /** Width that there is for the days, rem. */
    readonly room: number;
  },
): PlanScale | null {
  const { start, finish, steps } = plan;
  if (start === null || finish === null) return null;
  const offsets = [0, daysBetween(start, finish)];
  const marked = [today, finishBy ?? start]
    .map((date) => daysBetween(start, date))
    .filter((offset) => Math.abs(offset) <= FAR);
  const from = Math.min(...offsets, ...marked);
  const until = Math.max(...offsets, ...marked) + 1;
  const busy = new Set(marked);
  for (const { bar } of steps) for (let day = Math.floor(bar.from); day < bar.dry; day++) busy.add(day);
  const kinds: { date: IsoDate; kind: ChartDay['kind'] }[] = [];
  const push = (offset: number, idle: boolean) => {
    const date = daysAfter(start, offset);
    kinds.push({ date, kind: idle ? 'idle' : isWorkingDay(date, calendar) ? 'working' : 'off' });
  };
  for (let offset = from; offset < until;) {
    let end = offset;
    while (end < until && !busy.has(end)) end++;
    const idle = end - offset >= LONG_IDLE;
    for (end = Math.max(end, offset + 1); offset < end; offset++) push(offset, idle);
  }
  const { days, width } = spread(kinds, room);
  return {
    origin: start,
    days,
    months: monthsOf(days),
    width,
    x: (offset) => {
      const at = offset - from;
      if (at < 0) return at * DAY_WIDTHS.working;
      if (at >= days.length) return width + (at - days.length) * DAY_WIDTHS.working;
      const day = days[Math.floor(at)];
      return day.x + (at - Math.floor(at)) * day.width;
    },
    dayAt: (place) => (days.findLast((day) => day.x <= place) ?? days[0]).date,
  };
}

/** The days side by side, all but the narrow ones stretched to fill the room. */
function spread(kinds: readonly Pick<ChartDay, 'date' | 'kind'>[], room: number) {
  const sum = (list: readonly { readonly kind: ChartDay['kind'] }[]) =>
    list.reduce((all, { kind }) => all + DAY_WIDTHS[kind], 0);
  const narrow = sum(kinds.filter(({ kind }) => kind === 'idle'));
  const stretch = Math.min(MOST_STRETCH, Math.max(1, (room - narrow) / (sum(kinds) - narrow)));
  const days: ChartDay[] = [];
  let x = 0;
  for (const { date, kind } of kinds) {
    const width = DAY_WIDTHS[kind] * (kind === 'idle' ? 1 : stretch);
    days.push({ date, x, width, kind });
    x += width;
  }
  return { days, width: x };
}

function monthsOf(days: readonly ChartDay[]) {
  const groups = Map.groupBy(days, ({ date }) => date.slice(0, 7));
  return [...groups.values()].map((own) => {
    const [, , month, year] = dateWords(own[0].date).split(' ');
    return { words: `${month} ${year}`, x: own[0].x, width: own.reduce((sum, day) => sum + day.width, 0) };
  });
}

/** Where an offset of one plan lies in days from another plan's first day. */
export function shiftedBar({ bar }: PlanStep, plan: Plan, origin: IsoDate): PlanStep['bar'] {
  const shift = daysBetween(origin, plan.start!);
  return { from: bar.from + shift, to: bar.to + shift, dry: bar.dry + shift };
}

/** What one line of the chart holds: steps that are one stretch of work, in order. */
export interface ChartRow {
  readonly id: string;
  /** 'Turn and second side, doors 1-8'. */
  readonly name: string;
  readonly steps: readonly PlanStep[];
}

export interface ChartGroup {
  readonly id: string;
  /** 'Kitchen, cabinets'. */
  readonly title: string;
  readonly rows: readonly ChartRow[];
}

/** The plan's groups, each as a few stretches of work; by beginning within a group. */
export function chartGroups({ groups, steps }: Plan): ChartGroup[] {
  const byId = new Map(steps.map((step) => [step.id, step]));
  return groups.map(({ id, room, surface, stepIds }: PlanGroup) => {
    const own = stepIds.flatMap((stepId) => byId.get(stepId) ?? []);
    const rows = [...Map.groupBy(own, stretchOf)].map(([stretch, list]): ChartRow => ({
      id: `${id}, ${stretch}`,
      name: stretchName(list),
      steps: list.toSorted((a, b) => a.bar.from - b.bar.from),
    }));
    const begin = ({ steps: [first] }: ChartRow) => first.bar.from;
    return {
      id,
      title: [room, surface].filter(Boolean).join(', '),
      rows: rows.sort((a, b) => begin(a) - begin(b)),
    };
  });
}

const MADE_READY: readonly PlanStep['task'][] = ['take off', 'clean', 'holes', 'sand', 'dust off'];

function stretchOf({ id, task, batch }: PlanStep): string {
  if (batch) return batch.id;
  if (MADE_READY.includes(task))
    return task === 'take off' || id.endsWith('-fronts') ? 'fronts ready' : 'ready';
  if (task === 'prime' || task === 'coat') return 'coats';
  if (task === 'template' || task === 'fit counter') return 'counter';
  if (task === 'lay tiles' || task === 'grout') return 'tiles';
  return id;
}

/** What a stretch of work is called, read off the words of its steps. */
function stretchName(steps: readonly PlanStep[]): string {
  const [{ task, words, batch }] = steps;
  const object = (pattern: RegExp) => pattern.exec(words)?.[1] ?? '';
  if (batch) {
    const side = /the (first|second) side of (.+?)(?:, coat \d+ of \d+)?$/.exec(words);
    if (side) return side[1] === 'first' ? `First side, ${side[2]}` : `Turn and second side, ${side[2]}`;
  }
  const made = object(/^(?:Take off and number|Clean and degrease|Fill and sand) (.+)$/);
  if (MADE_READY.includes(task) && made) return `Make ready ${made}`;
  if (task === 'template') return 'Measure, make and fit the counter';
  if (task === 'lay tiles') return 'Lay and grout the tiles';
  const painted = object(/^(?:Prime|Paint|Sand lightly and paint) (.+?)(?:, coat \d+ of \d+)?$/);
  if (painted) return `${task === 'prime' && steps.length === 1 ? 'Prime' : 'Paint'} ${painted}`;
  return words.split(';')[0];
}

/** The same lines with the steps as another plan of the same steps has them: a line stays while a bar is moved. */
export function groupsAs(groups: readonly ChartGroup[], { steps }: Plan): ChartGroup[] {
  const byId = new Map(steps.map((step) => [step.id, step]));
  return groups.map((group) => ({
    ...group,
    rows: group.rows.map((row) => ({ ...row, steps: row.steps.flatMap(({ id }) => byId.get(id) ?? []) })),
  }));
}

/** A step in a word or two, for the line under its bar. */
export function barWords({ task, id, words }: PlanStep): string {
  if (task === 'coat') {
    const number = /\/coat-(\d+)/.exec(id)?.[1];
    return number && words.includes(', coat ') ? `coat ${number}` : 'coat';
  }
  const short: Partial<Record<PlanStep['task'], string>> = {
    template: 'measure',
    'fit counter': 'fit',
    'lay tiles': 'lay',
    'lay floor': 'lay',
    'fit hardware': 'fit',
  };
  return short[task] ?? task;
}

/** Width of words under a bar, rem: a little more than they take. */
const worded = (words: string) => 0.44 * words.length + 0.25;

/** Which bars of a row have room for their words, the steps in order of beginning. */
export function wordedBars(row: ChartRow, x: (step: PlanStep) => number, most: number): ReadonlySet<string> {
  const kept = new Set<string>();
  let free = -Infinity;
  row.steps.forEach((step, k) => {
    const at = x(step);
    const end = at + worded(barWords(step));
    const next = row.steps[k + 1];
    if (at < free || end > most || (next && end > x(next))) return;
    kept.add(step.id);
    free = end;
  });
  return kept;
}

/** Cautions by their name on the chart, the gravest first; that local rules decide is said with every one of them. */
const CAUTION_NAMES: Readonly<Record<string, string>> = {
  lead: 'lead paint',
  asbestos: 'asbestos',
  spraying: 'spraying',
  'two parts': 'two-part paint',
  silica: 'stone dust',
  services: 'gas, water, power',
  'hidden lines': 'hidden cables and pipes',
  rags: 'oily rags',
  dust: 'sanding dust',
  cleaners: 'cleaners',
  ladder: 'ladder',
};
export const LOCAL_RULES = 'local rules';

export const cautionName = ({ id }: Caution) => CAUTION_NAMES[id] ?? id;

/** A caution with the steps it belongs to. */
export interface PlanCaution {
  readonly caution: Caution;
  readonly steps: readonly PlanStep[];
}

/** Every caution of the steps once, the gravest first, without the reminder that local rules decide. */
export function cautionsOf(steps: readonly PlanStep[]): PlanCaution[] {
  const found = new Map<string, { caution: Caution; steps: PlanStep[] }>();
  for (const step of steps)
    for (const caution of step.cautions) {
      if (caution.id === LOCAL_RULES) continue;
      const known = found.get(caution.words) ?? { caution, steps: [] };
      known.steps.push(step);
      found.set(caution.words, known);
    }
  const order = Object.keys(CAUTION_NAMES);
  const grave = ({ caution }: PlanCaution) => {
    const at = order.indexOf(caution.id);
    return at < 0 ? order.length : at;
  };
  return [...found.values()].sort((a, b) => grave(a) - grave(b));
}

/** Said in full every day they come up; the others once in the whole list. */
const EVERY_DAY: readonly string[] = ['lead', 'asbestos'];

/** A step of a day's list and its cautions. */
export interface DayStep {
  readonly step: PlanStep;
  readonly gravest: Caution | null;
  /** Whether the gravest was said in full before it. */
  readonly saidBefore: boolean;
  /** Names of the others. */
  readonly others: readonly string[];
}

/** The steps day by day, by the hour. */
export function planDays({ steps }: Plan): { readonly date: IsoDate; readonly steps: readonly DayStep[] }[] {
  const ever = new Set<string>();
  return [...Map.groupBy(steps, ({ start }) => start.date)].map(([date, own]) => {
    const today = new Set<string>();
    return {
      date,
      steps: own.map((step): DayStep => {
        const all = cautionsOf([step]).map(({ caution }) => caution);
        const gravest = all.at(0) ?? null;
        const said = gravest && EVERY_DAY.includes(gravest.id) ? today : ever;
        const saidBefore = gravest !== null && said.has(gravest.words);
        if (gravest) said.add(gravest.words);
        return { step, gravest, saidBefore, others: all.slice(1).map(cautionName) };
      }),
    };
  });
}
