import {
  USUAL_CREW,
  dateWords,
  daysAfter,
  daysBetween,
  type Caution,
  type PlanStep,
} from '#lib/finish/index.ts';
import type PDFDocument from 'pdfkit';
import type { Cell, Paper } from './paper.ts';
import type { ScheduleContents } from './schedule-contents.ts';

type Document = InstanceType<typeof PDFDocument>;

/** What the cautions are called in a table; their words stand above it. */
const CAUTION_NAMES: Readonly<Record<string, string>> = {
  lead: 'lead in old paint',
  asbestos: 'asbestos',
  dust: 'sanding dust',
  spraying: 'spraying',
  'two parts': 'hardener',
  rags: 'rags and vapour',
  cleaners: 'cleaners',
  silica: 'stone dust',
  services: 'gas, mains, water',
  'hidden lines': 'hidden lines',
  ladder: 'ladder',
};
/** Closes every step's cautions; said once, above them. */
const LOCAL_RULES = 'local rules';

/** The work of the plan: a chart, the cautions in full, and every step with the cautions that belong to it. */
export function addWork(paper: Paper, { plan, trade }: ScheduleContents): void {
  paper.heading(2, 'The work, in order');
  paper.text(plan.words);
  if (plan.steps.length === 0) return;
  const { people, hoursPerDay } = crewOf(trade);
  paper.text(
    `Reckoned with ${people === 1 ? 'one pair of hands' : `${people} pairs of hands`}, ${hoursPerDay} hours a day, and room for ${plan.space} doors or drawer fronts to lie drying. Dry means ready for what follows, not hardened.`,
  );
  addChart(paper, plan.steps, plan.groups);
  const letters = lettersOf(plan.steps);
  if (letters.size > 0) {
    paper.keep(150);
    paper.heading(3, 'Take care');
    paper.text(
      'Local codes, the products’ safety data sheets and licensed trades decide; these are only the usual cautions. Each stands by its letter at every step it belongs to.',
      { strong: true },
    );
    paper.table(
      [
        { title: '', width: 0.3 },
        { title: 'Caution', width: 1.2 },
        { title: 'What to do', width: 7 },
        { title: 'Source', width: 2 },
      ],
      [...letters.values()].map(({ letter, caution }) => [
        { text: letter, strong: true },
        { text: CAUTION_NAMES[caution.id] ?? caution.id, strong: true },
        caution.words,
        { text: caution.source, soft: true },
      ]),
    );
  }
  paper.keep(150);
  paper.heading(3, 'Steps');
  paper.table(
    [
      { title: 'Begin', width: 1.5 },
      { title: 'Done', width: 1 },
      { title: 'Where', width: 1.6 },
      { title: 'Step', width: 3.2 },
      { title: 'Hours', width: 0.6 },
      { title: 'Dry', width: 1.5 },
      { title: 'Take care', width: 2.1 },
    ],
    plan.steps.map((step): (string | Cell)[] => [
      { text: `${dateWords(step.start.date)}, ${clock(step.start.hour)}`, strong: true },
      step.end.date === step.start.date
        ? clock(step.end.hour)
        : `${dateWords(step.end.date)}, ${clock(step.end.hour)}`,
      [step.room.name, step.surface].filter(Boolean).join(', '),
      `${step.words}${step.trade ? ` (${step.trade})` : ''}${step.movedTo ? '. Moved by hand' : ''}`,
      `${Number(step.hours.toFixed(2))}${step.hoursFrom === 'guess' ? ' ?' : ''}`,
      step.waits > 0 ? `${dateWords(step.dry.date)}, ${clock(step.dry.hour)}` : '–',
      {
        text: step.cautions
          .filter(({ id }) => id !== LOCAL_RULES)
          .map(
            (caution) => `${letters.get(caution.words)!.letter} ${CAUTION_NAMES[caution.id] ?? caution.id}`,
          )
          .join(', '),
      },
    ]),
  );
}

/** Hands and hours the plan reckoned with: those given, the usual ones where they cannot be. */
function crewOf({ hands, hoursPerDay }: ScheduleContents['trade']): { people: number; hoursPerDay: number } {
  return {
    people: Number.isInteger(hands) && hands >= 1 && hands <= 50 ? hands : USUAL_CREW.people,
    hoursPerDay: hoursPerDay >= 1 && hoursPerDay <= 16 ? hoursPerDay : USUAL_CREW.hoursPerDay,
  };
}

function clock(hour: number): string {
  const minutes = Math.round((hour % 1) * 60);
  return `${String(Math.floor(hour)).padStart(2, '0')}:${String(minutes).padStart(2, '0')}`;
}

/** A letter for each caution, by its words, in the order in which the work meets them. */
function lettersOf(steps: readonly PlanStep[]): Map<string, { letter: string; caution: Caution }> {
  const letters = new Map<string, { letter: string; caution: Caution }>();
  for (const caution of steps.flatMap(({ cautions }) => cautions))
    if (caution.id !== LOCAL_RULES && !letters.has(caution.words))
      letters.set(caution.words, { letter: letterAt(letters.size), caution });
  return letters;
}

/** A, B … Z, AA, AB … */
function letterAt(index: number): string {
  const last = String.fromCharCode(65 + (index % 26));
  return index < 26 ? last : letterAt(Math.floor(index / 26) - 1) + last;
}

const ROW = 15;
const MOST_ROWS = 24;
const LABEL = 170;

/** A bar for every step, a row for every surface; what dries is light. */
function addChart(
  paper: Paper,
  steps: readonly PlanStep[],
  groups: ScheduleContents['plan']['groups'],
): void {
  const first = steps.reduce(
    (least, { start }) => (start.date < least ? start.date : least),
    steps[0].start.date,
  );
  const days = Math.max(1, ...steps.map(({ bar }) => bar.dry));
  const byId = new Map(steps.map((step) => [step.id, step]));
  for (let from = 0; from < groups.length; from += MOST_ROWS) {
    const rows = groups.slice(from, from + MOST_ROWS);
    const labels = rows.map(({ room, surface }) => [room, surface].filter(Boolean).join(', '));
    const height = 16 + rows.length * ROW;
    const words = `Bars from ${dateWords(first)} on for ${labels.join('; ')}`;
    let chart: { doc: Document; y: number } | null = null;
    paper.drawing(height, words, (doc, { x, y }) => {
      chart = { doc, y };
      const each = (paper.width - LABEL) / days;
      const at = (day: number) => x + LABEL + day * each;
      for (const day of ticks(first, days)) {
        doc
          .moveTo(at(day), y + 12)
          .lineTo(at(day), y + height)
          .lineWidth(0.4)
          .strokeColor('#b4b4b4')
          .stroke();
        const date = dateWords(daysAfter(first, day)).split(' ');
        paper.mark(`${date[1]} ${date[2]}`, { x: at(day) + 2, y, width: 40 }, { size: 7.5, soft: true });
      }
      for (const [k, { stepIds }] of rows.entries()) {
        const top = y + 16 + k * ROW + 3;
        const bars = stepIds.flatMap((id) => byId.get(id)?.bar ?? []);
        for (const { to, dry } of bars)
          if (dry > to) doc.rect(at(to), top + 2, Math.max(0.6, (dry - to) * each), ROW - 10).fill('#cfcfcf');
        for (const { from: begin, to } of bars)
          doc.rect(at(begin), top, Math.max(1, (to - begin) * each), ROW - 6).fill('#474747');
      }
    });
    const below = paper.y;
    if (chart) labelRows(paper, labels, chart);
    paper.y = below;
  }
  paper.text('Dark: work. Light: drying. Fine lines: Mondays.', { soft: true, size: 8 });
}

function labelRows(paper: Paper, labels: readonly string[], { doc, y }: { doc: Document; y: number }): void {
  for (const [k, label] of labels.entries()) {
    paper.y = y + 16 + k * ROW + 1;
    paper.text(fitted(doc, label, { width: LABEL - 8, size: 8 }), { size: 8 });
  }
}

/** Mondays of the plan, so far apart that their dates can be read. */
function ticks(first: string, days: number): number[] {
  // 1970-01-05 was a Monday.
  const toMonday = (7 - (((daysBetween('1970-01-05', first) % 7) + 7) % 7)) % 7;
  const step = 7 * Math.max(1, Math.ceil(days / 7 / 12));
  const found: number[] = [];
  for (let day = toMonday; day < days; day += step) found.push(day);
  return found;
}

/** Words cut to a line of a width; letters that another face prints are reckoned as wide as the widest. */
export function fitted(
  doc: Document,
  words: string,
  { width, size }: { width: number; size: number },
): string {
  const plain = words.replace(/\s+/g, ' ').trim();
  doc.fontSize(size);
  let cut = plain;
  while (cut !== '' && widthOf(doc, cut, size) > width) cut = [...cut].slice(0, -1).join('');
  return cut === plain ? plain : `${[...cut].slice(0, -1).join('')}…`;
}

function widthOf(doc: Document, words: string, size: number): number {
  const other = [...words].filter((character) => !/[\u0020-\u024f]/.test(character)).length;
  return doc.widthOfString(words) + 0.5 * size * other;
}
