import {
  LEAD_YEAR,
  areaIn,
  dateWords,
  finishWords,
  moneyWords,
  volumeWords,
  type Order,
  type PaintNeed,
  type PartTakeOff,
  type ScheduleLine,
} from '#lib/finish/index.ts';
import { inOrder, leftOutWords, namedFinish, shortageWords, type ScheduledSurface } from '#lib/job/index.ts';
import { Paper, type Cell, type Column, type PaperSize } from './paper.ts';
import { addWork } from './plan-paper.ts';
import {
  ROLE_WORDS,
  boughtWords,
  bySupplier,
  costWords,
  neededWords,
  orderByWords,
  packsWords,
  patchOf,
  stateWords,
  swatchOf,
  taxWords,
  type ScheduleContents,
} from './schedule-contents.ts';

const SQUARE_FEET = (squareMetres: number) => squareMetres / 0.09290304;

/** Said wherever colours are printed. */
export const PATCH_NOTE =
  'Patches show the colour in daylight as well as a printer can. Printed colour is no sample: order by maker, code and sheen, and look at a painted board or the material itself.';

/** Surfaces an order names; the table of the rooms has them all. */
const MOST_PLACES = 8;

/** The finish schedule on paper: what goes where, what is bought, how it was measured, when it is done. */
export async function schedulePaper(contents: ScheduleContents, size: PaperSize): Promise<Buffer> {
  return await pulledTogether((tight) => {
    const paper = startPaper(contents, { size, landscape: true, tight, title: 'Finish schedule' });
    addHead(paper, contents);
    addLines(paper, contents);
    addOrders(paper, contents);
    addChanges(paper, contents);
    addTakeOffs(paper, contents);
    addWork(paper, contents);
    addMissing(paper, contents);
    return paper;
  });
}

/** A document as it is written; a little tighter where that saves a last page with next to nothing on it. */
export async function pulledTogether(write: (tight: boolean) => Paper): Promise<Buffer> {
  const usual = write(false);
  if (!usual.strays) return await usual.finish();
  const tighter = write(true);
  return await (tighter.pageCount < usual.pageCount ? tighter : usual).finish();
}

/** A document of a job with its name and day at the foot of every page. */
export function startPaper(
  { job, made, today }: ScheduleContents,
  {
    size,
    landscape,
    tight = false,
    title,
  }: { size: PaperSize; landscape: boolean; tight?: boolean; title: string },
): Paper {
  const foot = `${title} · ${dateWords(today)} · ${job.name}`;
  return new Paper({
    size,
    landscape,
    tight,
    title: `${title}: ${job.name}`,
    author: 'Brushout',
    made,
    foot,
  });
}

/** Says which characters could not be printed. */
export function addShapeless(paper: Paper): void {
  if (paper.shapeless.size === 0) return;
  // Said by number, as they have no shape here either.
  const points = [...paper.shapeless].map(
    (character) => `U+${character.codePointAt(0)!.toString(16).toUpperCase().padStart(4, '0')}`,
  );
  const shown = points.slice(0, 12).join(', ');
  const more = points.length > 12 ? ` and ${points.length - 12} more` : '';
  paper.text(
    `Some letters have no shape in this document's type and are printed as a box (${shown}${more}); the spreadsheet has them.`,
    { soft: true },
  );
}

function addHead(paper: Paper, { job, trade, today, plan, scheduled }: ScheduleContents): void {
  paper.heading(1, 'Finish schedule');
  const rooms = inOrder(job.rooms).map(({ name }) => name);
  const columns: Column[] = [
    { title: 'Job', width: 2 },
    { title: 'Rooms', width: 1.4 },
    { title: 'As of', width: 1.2 },
    { title: 'To be finished by', width: 1.2 },
    { title: 'Work', width: 2 },
    { title: 'Prices', width: 1.6 },
  ];
  const work =
    plan.start && plan.finish
      ? `${dateWords(plan.start)} to ${dateWords(plan.finish)}${plan.spare !== null && plan.spare < 0 ? ', too late' : ''}`
      : 'nothing planned';
  paper.table(columns, [
    [
      { text: job.name, strong: true },
      rooms.join(', ') || 'none',
      dateWords(today),
      scheduled.rules.finishBy ? dateWords(scheduled.rules.finishBy) : 'no day set',
      work,
      `${job.currency || 'no currency given'}, ${taxWords(trade)}`,
    ],
  ]);
  const care = plan.steps.length === 0 ? '' : houseWords(trade.yearBuilt);
  if (care) paper.text(`${care} The other cautions stand at the steps of the work.`, { strong: true });
}

function addLines(paper: Paper, contents: ScheduleContents): void {
  const { scheduled, schedule, job, trade } = contents;
  const lines = new Map(schedule.lines.map((line) => [line.item.id, line]));
  const rooms = Map.groupBy(scheduled.surfaces, ({ surface }) => surface.roomId);
  if (scheduled.surfaces.length === 0) paper.text('The job has no surfaces yet.', { strong: true });
  for (const surfaces of rooms.values()) {
    paper.heading(2, surfaces[0].roomName || 'A room without a name');
    paper.table(
      [
        { title: 'Surface', width: 1.2 },
        { title: 'Finish', width: 2.1 },
        { title: 'For', width: 1.15 },
        { title: 'Needed', width: 1.25 },
        { title: 'Bought', width: 1.7 },
        { title: 'Needed on', width: 1.05 },
        { title: 'Order by', width: 1.05 },
        { title: 'State', width: 1.3 },
        { title: 'Cost', width: 1, align: 'right' },
      ],
      surfaces.flatMap((surface) =>
        surface.itemIds.length === 0
          ? [staysRow(surface)]
          : surface.itemIds.map((id) => lineRow(contents, surface, lines.get(id)!)),
      ),
    );
  }
  const { total, budget } = schedule;
  paper.keep(70);
  const tax =
    total.tax > 0 ? `, of which ${moneyWords(total.tax, job.currency)} ${trade.tax?.name || 'tax'}` : '';
  paper.text(`Total ${moneyWords(total.gross, job.currency)}${tax}.`, { strong: true, size: 11 });
  if (budget)
    paper.text(
      budget.left >= 0
        ? `The budget is ${moneyWords(budget.amount, job.currency)}; ${moneyWords(budget.left, job.currency)} of it is left.`
        : `The budget is ${moneyWords(budget.amount, job.currency)}; this is ${moneyWords(-budget.left, job.currency)} over it.`,
      { strong: budget.left < 0 },
    );
  const leftOut = leftOutWords(contents);
  if (leftOut.length > 0) {
    paper.text('Not in the total:', { strong: true });
    paper.list(leftOut);
  }
  const short = shortageWords(contents);
  if (short.length > 0) {
    paper.text('What may run short:', { strong: true });
    paper.list(short);
  }
  paper.text(PATCH_NOTE, { soft: true });
}

function staysRow({ surface, swatch }: ScheduledSurface): (string | Cell)[] {
  const patch = patchOf(swatch);
  const text = swatch ? finishWords(namedFinish(swatch)) : 'not said what is on it';
  return [
    { text: surface.name, strong: true },
    { text, ...(patch && { patch }) },
    '–',
    '–',
    '–',
    '–',
    '–',
    'stays as it is',
    '–',
  ];
}

function lineRow(
  contents: ScheduleContents,
  surface: ScheduledSurface,
  line: ScheduleLine,
): (string | Cell)[] {
  const { schedule, trade, job } = contents;
  const { item } = line;
  const order = schedule.orders.find(({ id }) => id === line.orderId);
  const changed = contents.changes?.some(({ lineId }) => lineId === item.id) ?? false;
  const place = { text: item.surface || 'without a name', strong: true };
  const needed = line.neededOn ? dateWords(line.neededOn) : 'no date';
  if (!order)
    return [
      place,
      'no finish chosen',
      '–',
      neededWords(line, trade),
      '–',
      needed,
      '–',
      { text: 'open: choose', strong: true },
      '–',
    ];
  const shared =
    order.lineIds.length > 1
      ? `${boughtWords(order, trade)}, for ${order.lineIds.length} surfaces`
      : boughtWords(order, trade);
  return [
    place,
    finishCell(contents, order, item.id),
    useWords(surface, item.role),
    neededWords(line, trade),
    shared,
    needed,
    { text: orderByWords(order), strong: true },
    { text: `${stateWords(order)}${changed ? '; changed since it was agreed' : ''}`, strong: changed },
    costWords(line.cost, job),
  ];
}

/** 'paint, 2 coats; Island 3'. */
function useWords({ surface, coats, takeOff }: ScheduledSurface, role: ScheduleLine['item']['role']): string {
  const said = (count: number) => `${count} ${count === 1 ? 'coat' : 'coats'}`;
  if (role === 'primer') return `primer, ${said(surface.work?.primerCoats ?? 1)}`;
  if (role !== 'finish coat') return ROLE_WORDS[role];
  const others = (takeOff?.parts ?? []).filter((part) => part.coats !== null && part.coats !== coats);
  return [`paint, ${said(coats)}`, ...others.map((part) => `${part.name || part.kind} ${part.coats}`)].join(
    '; ',
  );
}

/** A finish with a patch of its colour. */
export function finishCell(contents: ScheduleContents, order: Order, lineId: string = order.id): Cell {
  const patch = patchOf(swatchOf(contents, lineId));
  return { text: finishWords(order.finish), ...(patch && { patch }) };
}

/** What an order is for: 'Kitchen, Walls (finish coat)'. */
export function placesOf({ schedule }: ScheduleContents, { lineIds, role }: Order): string {
  const places = schedule.lines
    .filter(({ item }) => lineIds.includes(item.id))
    .map(({ item }) => [item.room, item.surface].filter(Boolean).join(', '));
  const more = places.length - MOST_PLACES;
  const said = more > 0 ? [...places.slice(0, MOST_PLACES), `${more} more surfaces`] : places;
  return `${said.join('; ')} (${ROLE_WORDS[role]})`;
}

function addOrders(paper: Paper, contents: ScheduleContents): void {
  const { schedule, job, trade } = contents;
  if (schedule.orders.length === 0) return;
  paper.heading(2, 'Orders, by supplier');
  paper.table(
    [
      { title: 'Supplier', width: 1.5 },
      { title: 'Finish', width: 2.1 },
      { title: 'For', width: 1.6 },
      { title: 'Buy', width: 1.6 },
      { title: 'Left over', width: 1 },
      { title: 'Lead time', width: 1 },
      { title: 'Order by', width: 1.1 },
      { title: 'State', width: 1.3 },
      { title: 'Cost', width: 1.2, align: 'right' },
    ],
    bySupplier(schedule.orders).flatMap(({ supplier, orders }) =>
      orders.map((order) => [
        { text: supplier || 'not named', strong: true },
        finishCell(contents, order),
        placesOf(contents, order),
        { text: packsWords(order) || boughtWords(order, trade), strong: true },
        order.purchase && order.purchase.packs[0]?.pack.unit === 'l'
          ? volumeWords(order.purchase.left, trade.units)
          : '–',
        leadTimeWords(contents, order),
        { text: orderByWords(order), strong: true },
        stateWords(order),
        costWords(order.cost, job),
      ]),
    ),
  );
  for (const order of schedule.orders.filter(({ delivery }) => delivery.kind === 'late'))
    paper.text(order.words, { strong: true });
}

function leadTimeWords({ schedule, trade }: ScheduleContents, { id }: Order): string {
  const days = schedule.lines.find(({ item }) => item.id === id)?.item.leadTimeDays ?? null;
  if (days === null) return 'not known';
  return `${days} ${trade.leadTimeIn === 'working days' ? 'working ' : ''}${days === 1 ? 'day' : 'days'}`;
}

function addChanges(paper: Paper, { changes, trade }: ScheduleContents): void {
  paper.heading(2, 'Changes since it was agreed');
  if (changes === null) {
    paper.text('Nothing of this schedule has been agreed yet; once it is, changes are marked here.');
    return;
  }
  const round = trade.agreed!.round === null ? '' : ` with round ${trade.agreed!.round}`;
  paper.text(`Agreed${round} on ${trade.agreed!.on || 'a day not said'}.`);
  if (changes.length === 0) {
    paper.text('Nothing has changed since.');
    return;
  }
  paper.table(
    [
      { title: 'Where', width: 1.6 },
      { title: 'What', width: 0.8 },
      { title: 'Was', width: 2 },
      { title: 'Is', width: 2 },
      { title: 'Why', width: 2 },
      { title: 'Who said yes', width: 1.6 },
    ],
    changes.map(({ room, surface, role, field, was, is, why, who, on, agreed }) => [
      [room, surface, role].filter(Boolean).join(', '),
      { line: 'the line', finish: 'finish', quantity: 'quantity', cost: 'cost', date: 'needed on' }[field],
      was || 'nothing',
      { text: is || 'taken out', strong: true },
      why || 'not said',
      agreed ? `${who}${on ? `, ${dateWords(on)}` : ''}` : { text: 'nobody yet', strong: true },
    ]),
  );
}

function addTakeOffs(paper: Paper, { scheduled, trade }: ScheduleContents): void {
  const measured = scheduled.surfaces.filter(({ surface, takeOff }) => surface.state !== 'fixed' && takeOff);
  if (measured.length === 0) return;
  paper.heading(2, 'Take-off, line by line');
  paper.text(
    'How quantities were worked out, so that they can be checked with a tape and a pencil. Areas are rounded where they are printed and nowhere else.',
  );
  for (const { surface, roomName, takeOff, paint, primed } of measured) {
    paper.heading(3, [roomName, surface.name].filter(Boolean).join(', '));
    for (const part of takeOff!.parts) addPart(paper, part);
    paper.text(takeOff!.words, { strong: true });
    if (primed) addNeed(paper, 'Primer', primed, trade.units);
    if (paint) addNeed(paper, 'Paint', paint, trade.units);
  }
}

function addPart(paper: Paper, part: PartTakeOff): void {
  if (part.area === null) {
    paper.text(part.name || part.kind, { strong: true });
    paper.list([...part.steps.map(({ words }) => words), ...part.leftOut.map((line) => `left out: ${line}`)]);
    return;
  }
  const rows = part.steps.map(({ words, area }): (string | Cell)[] => [
    area === 0 ? words : words.replace(/ = [^=]*$/, ''),
    area === 0 ? '' : signed(area),
    area === 0 ? '' : signed(SQUARE_FEET(area)),
  ]);
  rows.push([
    { text: 'together', strong: true },
    { text: part.area.toFixed(2), strong: true },
    { text: SQUARE_FEET(part.area).toFixed(2), strong: true },
  ]);
  for (const line of part.leftOut) rows.push([{ text: `left out: ${line}`, strong: true }, '–', '–']);
  const title =
    part.coats === null ? part.name || part.kind : `${part.name || part.kind}: ${part.coats} coats`;
  paper.table(
    [
      { title, width: 6 },
      { title: 'm²', width: 1, align: 'right' },
      { title: 'sq ft', width: 1, align: 'right' },
    ],
    rows,
  );
}

const signed = (value: number) => `${value < 0 ? '−' : ''}${Math.abs(value).toFixed(2)}`;

function addNeed(
  paper: Paper,
  title: string,
  need: PaintNeed,
  units: ScheduleContents['trade']['units'],
): void {
  paper.text(`${title}: ${need.words}`, { strong: true });
  paper.list(need.steps.map(({ words }) => words));
  if (need.range)
    paper.text(
      `From ${volumeWords(need.range[0], units)} where all goes well to ${volumeWords(need.range[1], units)} where nothing does; ${areaIn(need.coatArea, units)} of coats in all.`,
      { soft: true },
    );
}

function addMissing(paper: Paper, { missing }: ScheduleContents): void {
  paper.heading(2, 'What is guessed, missing or left out');
  const rest = missing.filter((line) => !line.startsWith('Not in the total:'));
  if (rest.length === 0) paper.text('Nothing that is known to be.');
  else paper.list(rest);
  addShapeless(paper);
}

/** What an old house asks for before anything else; the steps say the rest. */
function houseWords(yearBuilt: number | null): string {
  if (yearBuilt !== null && yearBuilt >= LEAD_YEAR) return '';
  const age =
    yearBuilt === null ? 'When the house was built is not known' : `The house was built in ${yearBuilt}`;
  return `${age}: before anything is sanded, scraped or drilled, have the old paint tested for lead.`;
}
