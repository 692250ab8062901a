import { amountOf, currencyDigits, finishWords, type IsoDate } from '#lib/finish/index.ts';
import { namedFinish, type ScheduledSurface } from '#lib/job/index.ts';
import writeExcelFile from 'write-excel-file/node';
import {
  boughtWords,
  bySupplier,
  packsWords,
  stateWords,
  type ScheduleContents,
} from './schedule-contents.ts';

/*
 * The finish schedule as a workbook (ECMA-376, .xlsx): amounts, quantities and days are numbers and days, text stays text
 * whatever it begins with. Every sheet is one table with its head in the first row, so that it can be sorted and filtered.
 */

interface Cell {
  value?: string | number | Date;
  type?: StringConstructor | NumberConstructor | DateConstructor | 'Formula';
  format?: string;
  fontWeight?: 'bold';
  wrap?: boolean;
  alignVertical?: 'top';
}
type Row = (Cell | null)[];

interface Sheet {
  readonly name: string;
  readonly head: readonly (readonly [title: string, width: number])[];
  readonly rows: readonly Row[];
  /** What each formula of it comes to, by its text. */
  readonly reckoned?: ReadonlyMap<string, number>;
}

const DATE = 'd mmm yyyy';
const TIME = 'd mmm yyyy hh:mm';
/** Characters a cell can hold. Source: ECMA-376 applications' common limit. */
const LONGEST_CELL = 32_767;
const DAY = 86_400_000;

/** The workbook: schedule, orders by supplier, take-off, steps, changes, and what all of them leave out. */
export async function scheduleSheet(contents: ScheduleContents): Promise<Buffer> {
  const sheets = [
    linesSheet(contents),
    ordersSheet(contents),
    takeOffSheet(contents),
    stepsSheet(contents),
    changesSheet(contents),
    notesSheet(contents),
  ];
  const book = sheets.map(({ name, head, rows }) => ({
    sheet: name,
    data: [head.map(([title]) => ({ ...text(title), fontWeight: 'bold' as const })), ...rows],
    columns: head.map(([, width]) => ({ width })),
    stickyRowsCount: 1,
  }));
  return await writeExcelFile(book, { features: [storedValues(sheets)] }).toBuffer();
}

/**
 * Formulas with what they come to beside them: readers that do not reckon (previews on phones and in mail) show that.
 * Source: ECMA-376 part 1, 18.3.1.96 `v`, after 18.3.1.40 `f` in a cell.
 */
function storedValues(sheets: readonly Sheet[]) {
  const transform = (xml: string, _: unknown, { sheetIndex }: { sheetIndex: number }) =>
    xml.replace(/<f>([^<]*)<\/f>/g, (whole, words: string) => {
      const value = sheets[sheetIndex].reckoned?.get(words);
      return value === undefined ? whole : `${whole}<v>${value}</v>`;
    });
  return { files: { transform: { 'xl/worksheets/sheet{id}.xml': { transform } } } };
}

/** Text as a cell: without what XML cannot hold, and never read as a formula. */
function text(words: string, { strong = false, wrap = false } = {}): Cell {
  const plain = words
    .toWellFormed()
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '')
    .slice(0, LONGEST_CELL)
    .toWellFormed();
  return {
    value: plain,
    type: String,
    alignVertical: 'top',
    ...(strong && { fontWeight: 'bold' }),
    ...(wrap && { wrap: true }),
  };
}

function number(value: number | null, format = '0.00', strong = false): Cell | null {
  if (value === null || !Number.isFinite(value)) return null;
  return { value, type: Number, format, alignVertical: 'top', ...(strong && { fontWeight: 'bold' }) };
}

/** A day, with an hour where one is given. */
function day(date: IsoDate | null, hour?: number): Cell | null {
  if (date === null) return null;
  const at = Date.parse(`${date}T00:00:00Z`) + (hour === undefined ? 0 : Math.round((hour / 24) * DAY));
  return { value: new Date(at), type: Date, format: hour === undefined ? DATE : TIME, alignVertical: 'top' };
}

function money(minor: number | null, { job: { currency } }: ScheduleContents, strong = false): Cell | null {
  return minor === null ? null : number(amountOf(minor, currency), moneyFormat(currency), strong);
}

/** Two decimals, or those of the currency, and its code behind. */
function moneyFormat(currency: string): string {
  const digits = currencyDigits(currency);
  const code = currency.replace(/[^\p{L}\p{N}]/gu, '');
  return `#,##0${digits > 0 ? `.${'0'.repeat(digits)}` : ''}${code && ` "${code}"`}`;
}

/** Columns of net, tax and cost in the sheet of the lines. */
const AMOUNTS = [
  [11, 'L'],
  [12, 'M'],
  [13, 'N'],
] as const;

/** Sums of amounts for whoever changes one above them, and what they come to, in minor units on the way. */
function sumsOf(rows: readonly Row[], currency: string) {
  const minor = 10 ** currencyDigits(currency);
  return AMOUNTS.map(([column, letter]) => {
    const amounts = rows.map((row) => Math.round(Number(row[column]?.value ?? 0) * minor));
    const words = `SUM(${letter}2:${letter}${rows.length + 1})`;
    return { column, words, value: amounts.reduce((sum, amount) => sum + amount, 0) / minor };
  });
}

function linesSheet(contents: ScheduleContents): Sheet {
  const { scheduled, schedule, job, trade } = contents;
  const lines = new Map(schedule.lines.map((line) => [line.item.id, line]));
  const head = [
    ['Room', 16],
    ['Surface', 18],
    ['For', 13],
    ['Maker', 18],
    ['Code', 11],
    ['Name', 24],
    ['Sheen', 10],
    ['Coats', 7],
    ['Needed', 10],
    ['Unit', 7],
    ['Bought', 34],
    ['Net', 14],
    [trade.tax?.name || 'Tax', 13],
    ['Cost', 14],
    ['Needed on', 13],
    ['Lead time, days', 14],
    ['Order by', 13],
    ['Ordered on', 13],
    ['Supplier', 24],
    ['State', 36],
  ] as const;
  const rows = scheduled.surfaces.flatMap((surface): Row[] => {
    if (surface.itemIds.length === 0) return [staysRow(surface, head.length)];
    return surface.itemIds.map((id) => {
      const { item, need, cost, orderId, neededOn } = lines.get(id)!;
      const order = schedule.orders.find((one) => one.id === orderId);
      const { finish } = item;
      const coats =
        item.role === 'primer'
          ? (surface.surface.work?.primerCoats ?? 1)
          : item.role === 'finish coat'
            ? surface.coats
            : null;
      const said = need ?? item.needs[0] ?? null;
      return [
        text(item.room),
        text(item.surface),
        text(item.role),
        text(finish?.maker ?? ''),
        text(finish?.code ?? ''),
        text(finish?.name ?? ''),
        text(finish?.sheen ?? ''),
        number(coats, '0'),
        number(said?.amount ?? null),
        text(said?.unit ?? ''),
        text(order ? boughtWords(order, trade) : ''),
        money(cost?.net ?? null, contents),
        money(cost?.tax ?? null, contents),
        money(cost?.gross ?? null, contents),
        day(neededOn),
        number(item.leadTimeDays, '0'),
        day(order?.delivery.orderBy ?? null),
        day(item.orderedOn),
        text(item.supplier),
        text(order ? `${stateWords(order)}${cost ? '' : ', no price'}` : 'open: no finish chosen'),
      ];
    });
  });
  const { total } = schedule;
  const reckoned = rows.length > 0 ? sumsOf(rows, job.currency) : [];
  const sums = (cells: Record<number, Cell | null>, words: string): Row =>
    head.map((_, k) => (k === 0 ? text(words, { strong: true }) : (cells[k] ?? null)));
  const format = moneyFormat(job.currency);
  rows.push(
    sums(
      {
        11: money(total.net, contents, true),
        12: money(total.tax, contents, true),
        13: money(total.gross, contents, true),
      },
      schedule.leftOut.length > 0 ? 'Total, without what Notes names' : 'Total',
    ),
  );
  if (reckoned.length > 0)
    rows.push(
      sums(
        Object.fromEntries(
          reckoned.map(({ column, words }) => [column, { value: words, type: 'Formula' as const, format }]),
        ),
        'Sum of the lines, reckoned anew',
      ),
    );
  if (schedule.budget)
    rows.push(
      sums({ 13: money(schedule.budget.amount, contents) }, 'Budget'),
      sums({ 13: money(schedule.budget.left, contents, true) }, 'Left of the budget'),
    );
  return {
    ...{ name: 'Finish schedule', head, rows },
    reckoned: new Map(reckoned.map(({ words, value }) => [words, value])),
  };
}

function staysRow({ surface, roomName, swatch }: ScheduledSurface, width: number): Row {
  const finish = swatch && namedFinish(swatch);
  const row: Row = Array.from({ length: width }, () => null);
  row[0] = text(roomName);
  row[1] = text(surface.name);
  row[3] = text(finish?.maker ?? '');
  row[4] = text(finish?.code ?? '');
  row[5] = text(finish?.name ?? '');
  row[6] = text(finish?.sheen ?? '');
  row[width - 1] = text('stays as it is');
  return row;
}

function ordersSheet(contents: ScheduleContents): Sheet {
  const { schedule, trade } = contents;
  const places = new Map(schedule.lines.map(({ item }) => [item.id, `${item.room}, ${item.surface}`]));
  return {
    name: 'Orders',
    head: [
      ['Supplier', 24],
      ['Finish', 40],
      ['For', 34],
      ['Needed', 10],
      ['Bought', 10],
      ['Left over', 10],
      ['Unit', 7],
      ['Packs', 30],
      ['Net', 14],
      [trade.tax?.name || 'Tax', 13],
      ['Cost', 14],
      ['Order by', 13],
      ['Comes', 13],
      ['State', 36],
    ],
    rows: bySupplier(schedule.orders).flatMap(({ supplier, orders }) =>
      orders.map((order): Row => {
        const { finish, role, lineIds, need, purchase, cost, delivery } = order;
        return [
          text(supplier || 'not named'),
          text(finishWords(finish)),
          text(`${lineIds.map((id) => places.get(id)).join('; ')} (${role})`),
          number(need?.amount ?? null),
          number(purchase?.bought ?? null),
          number(purchase?.left ?? null),
          text(need?.unit ?? ''),
          text(packsWords(order) || 'packs not given'),
          money(cost?.net ?? null, contents),
          money(cost?.tax ?? null, contents),
          money(cost?.gross ?? null, contents),
          day(delivery.orderBy),
          day(delivery.arrives),
          text(stateWords(order)),
        ];
      }),
    ),
  };
}

function takeOffSheet({ scheduled }: ScheduleContents): Sheet {
  const squareFeet = (value: number) => value / 0.09290304;
  return {
    name: 'Take-off',
    head: [
      ['Room', 16],
      ['Surface', 18],
      ['Part', 26],
      ['Line', 70],
      ['m²', 10],
      ['sq ft', 10],
      ['Length, m', 10],
      ['Pieces', 9],
      ['Paint, l', 10],
    ],
    rows: scheduled.surfaces.flatMap(({ surface, roomName, takeOff, paint, primed }) => {
      const where = [text(roomName), text(surface.name)];
      const lines = (takeOff?.parts ?? []).flatMap((part): Row[] => [
        ...part.steps.map(({ words, area, length, pieces }): Row => [
          ...where,
          text(part.name),
          text(words),
          number(area || null),
          number(area ? squareFeet(area) : null),
          number(length || null),
          number(pieces || null, '0'),
          null,
        ]),
        ...part.leftOut.map((line): Row => [
          ...where,
          text(part.name),
          text(`left out: ${line}`, { strong: true }),
        ]),
      ]);
      const needs = [
        ['primer', primed],
        ['paint', paint],
      ] as const;
      const litres = needs.flatMap(([name, need]) =>
        (need?.steps ?? []).map(({ words, litres }): Row => [
          ...where,
          text(name),
          text(words),
          null,
          null,
          null,
          null,
          number(litres),
        ]),
      );
      return [...lines, ...litres];
    }),
  };
}

function stepsSheet({ plan }: ScheduleContents): Sheet {
  return {
    name: 'Steps',
    head: [
      ['Begin', 18],
      ['Done', 18],
      ['Dry', 18],
      ['Room', 16],
      ['Surface', 22],
      ['Step', 52],
      ['Hours', 8],
      ['Who', 14],
      ['Take care', 90],
    ],
    rows: plan.steps.map((step): Row => [
      day(step.start.date, step.start.hour),
      day(step.end.date, step.end.hour),
      day(step.dry.date, step.dry.hour),
      text(step.room.name),
      text(step.surface),
      text(step.words, { wrap: true }),
      number(step.hours),
      text(step.trade ?? (step.person === null ? '' : `person ${step.person}`)),
      text(step.cautions.map(({ words, source }) => `${words} (${source})`).join('\n'), { wrap: true }),
    ]),
  };
}

function changesSheet({ changes, trade }: ScheduleContents): Sheet {
  const said = changes === null ? 'Nothing has been agreed yet.' : 'Nothing has changed since it was agreed.';
  return {
    name: 'Changes',
    head: [
      ['Where', 36],
      ['What', 12],
      ['Was', 40],
      ['Is', 40],
      ['Why', 40],
      ['Who said yes', 24],
      ['On', 13],
      [trade.agreed ? `Agreed ${trade.agreed.on}` : 'Agreed', 18],
    ],
    rows:
      changes === null || changes.length === 0
        ? [[text(said)]]
        : changes.map(({ room, surface, role, field, was, is, why, who, on, agreed }): Row => [
            text([room, surface, role].filter(Boolean).join(', ')),
            text(field),
            text(was),
            text(is),
            text(why),
            text(who),
            day(on),
            text(agreed ? 'yes' : 'not yet'),
          ]),
  };
}

function notesSheet({ missing, plan, job, made }: ScheduleContents): Sheet {
  const rows: Row[] = [
    [text(`${job.name}: made ${made.toISOString().slice(0, 10)}.`)],
    [text('Printed or shown colour is no sample: order by maker, code and sheen.')],
    [text('Cautions stand at the steps; local codes and licensed trades decide.')],
    [text(plan.words, { wrap: true })],
    ...missing.map((line): Row => [text(line, { wrap: true })]),
  ];
  return { name: 'Notes', head: [['What is guessed, missing or left out', 120]], rows };
}
