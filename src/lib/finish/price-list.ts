import { readCsv } from './csv.ts';
import type { CsvRecord } from './csv.ts';
import { recogniseColumns } from './list-columns.ts';
import type { Column, Field } from './list-columns.ts';
import { listedLeadTime, listedPrice } from './listed-terms.ts';
import { priceInWords } from './price.ts';
import type { Price } from './price.ts';
import { quantityOfUnit } from './purchase-terms.ts';
import type { Pack, Quantity } from './purchase.ts';
import type { ReadProblem } from './swatch.ts';

/** A row of a price list. */
export interface PriceRow {
  /** Line of the text, from 1. */
  readonly line: number;
  readonly maker: string;
  readonly code: string;
  readonly name: string;
  readonly price: Price | null;
  readonly leadTimeDays: number | null;
}

export interface PriceListReading {
  readonly rows: readonly PriceRow[];
  readonly problems: readonly ReadProblem[];
  readonly columns: readonly { readonly header: string; readonly meaning: string | null }[];
}

/** A finish that prices are looked up for. */
export interface PricedFinish {
  readonly id: string;
  readonly maker: string;
  readonly code: string;
  readonly name: string;
  readonly price: Price | null;
  /** The cans or boxes it is sold in. */
  readonly packs: readonly Pack[];
  readonly leadTimeDays: number | null;
}

/** What a row of the list would change. */
export interface PriceChange {
  readonly finishId: string;
  readonly line: number;
  readonly matchedBy: 'maker and code' | 'code' | 'maker and name' | 'name';
  /** The pack whose price it is, where the row names one ('per 2.5 l'); null for the price of the finish itself. */
  readonly pack: Quantity | null;
  /** Null where the row says the same or nothing. */
  readonly price: { readonly was: Price | null; readonly is: Price } | null;
  readonly leadTimeDays: { readonly was: number | null; readonly is: number } | null;
  readonly words: string;
}

export interface PriceListReport {
  readonly changes: readonly PriceChange[];
  /** Finishes the list has as they are. */
  readonly same: readonly { readonly finishId: string; readonly line: number }[];
  /** Rows that fit no finish. */
  readonly notFound: readonly { readonly row: PriceRow; readonly words: string }[];
  /** Rows that fit several finishes, or a finish that another row has said something else of: nothing is changed by them. */
  readonly unclear: readonly {
    readonly row: PriceRow;
    readonly finishIds: readonly string[];
    readonly words: string;
  }[];
  /** Finishes no row speaks of. */
  readonly missing: readonly string[];
  readonly words: string;
}

/**
 * Prices and lead times from delimited text with a header row, in the columns and spellings of swatch lists; colours are not
 * needed. Every record is a row, a row with a problem, or a problem with its line. Never throws.
 */
export function readPriceList(text: string): PriceListReading {
  const { records, problems: broken } = readCsv(text);
  const problems: ReadProblem[] = broken.map(({ line, reason }) => ({
    line,
    reason: `${reason[0].toUpperCase()}${reason.slice(1)}.`,
    kept: false,
  }));
  const nothing = (reason: string, line: number | null): PriceListReading => ({
    rows: [],
    problems: [...problems, { line, reason, kept: false }],
    columns: [],
  });
  if (records.length === 0)
    return nothing('The list is empty. It needs a header row and one row for each finish.', null);
  const [head, ...body] = records;
  const { columns } = recogniseColumns(head.cells);
  const has = (field: Field) => columns.some((column) => column.field === field);
  if (!has('code') && !has('name'))
    return nothing(
      'No column with a code or a name was recognised in the first row, so no finish can be found.',
      head.line,
    );
  if (!has('price') && !has('lead time'))
    return nothing('No column with a price or a lead time was recognised in the first row.', head.line);
  const rows: PriceRow[] = [];
  for (const record of body) {
    const row = readRow(record, columns, problems);
    if (row) rows.push(row);
  }
  problems.sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  return { rows, problems, columns: columns.map(({ header, field }) => ({ header, meaning: field })) };
}

function readRow(record: CsvRecord, columns: readonly Column[], problems: ReadProblem[]): PriceRow | null {
  const { line, cells } = record;
  const cell = (field: Field) => {
    const text = (cells[columns.findIndex((column) => column.field === field)] ?? '').trim();
    return /^(?:[-–—]+|n\/?a|n\.a\.)$/i.test(text) ? '' : text;
  };
  const bracket = (field: Field) => columns.find((column) => column.field === field)?.bracket ?? '';
  const remarks: string[] = [];
  if (cells.slice(columns.length).some((extra) => extra.trim() !== ''))
    remarks.push(
      `${cells.length} cells where the first row has ${columns.length}; the last ones were not used.`,
    );
  const [code, name] = [cell('code'), cell('name')];
  const told = (field: string) => ({
    remark: (reason: string) => remarks.push(reason),
    otherwise: `the ${field} stays as it is`,
  });
  const price = listedPrice(
    { price: cell('price'), currency: cell('currency'), unit: cell('unit'), bracket: bracket('price') },
    told('price'),
  );
  const leadTimeDays = listedLeadTime(cell('lead time'), bracket('lead time'), told('lead time'));
  const fault =
    code === '' && name === ''
      ? 'No code and no name: which finish is it?'
      : price === null && leadTimeDays === null
        ? 'No price and no lead time that could be read.'
        : null;
  problems.push(...remarks.map((reason) => ({ line, reason, kept: fault === null })));
  if (fault) {
    problems.push({ line, reason: fault, kept: false });
    return null;
  }
  return { line, maker: cell('maker'), code, name, price, leadTimeDays };
}

/** Letters and figures alone, in lower case, so that 'SG-214' and 'sg 214' are one. */
function plain(text: string): string {
  return text
    .normalize('NFKC')
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, '');
}

/**
 * What a price list changes on the finishes: rows are matched by maker and code, else by code where the row or the finish
 * names no maker, else by name in the same way. Every row ends in one of changes, same, notFound, unclear; every finish no
 * row speaks of in `missing`. Several rows may speak of one finish where each has the price of another can or box. A price without a currency is taken to be in `currency`; one without a unit keeps the unit the
 * finish had.
 */
export function priceListReport(
  rows: readonly PriceRow[],
  finishes: readonly PricedFinish[],
  { currency }: { readonly currency: string },
): PriceListReport {
  const changes: PriceChange[] = [];
  const same: { finishId: string; line: number }[] = [];
  const notFound: { row: PriceRow; words: string }[] = [];
  const unclear: { row: PriceRow; finishIds: string[]; words: string }[] = [];
  const spoken = new Map<string, PriceRow>();
  const heard = new Set<string>();
  for (const row of rows) {
    const { matches, by } = matchesOf(row, finishes);
    const called = [row.maker, row.code, row.name].filter(Boolean).join(' ');
    if (matches.length === 0) {
      notFound.push({ row, words: `Line ${row.line}: ${called} is no finish of this job.` });
      continue;
    }
    const finishIds = matches.map(({ id }) => id);
    if (matches.length > 1) {
      const words = `Line ${row.line}: ${called} fits ${matches.length} finishes; give its maker and code.`;
      unclear.push({ row, finishIds, words });
      continue;
    }
    const [finish] = matches;
    const pack = packOf(row);
    const key = pack ? `${finish.id} ${pack.amount} ${pack.unit}` : finish.id;
    const earlier = spoken.get(key);
    if (earlier) {
      const words = `Line ${row.line}: ${called} stands on line ${earlier.line} already; that line is used.`;
      unclear.push({ row, finishIds, words });
      continue;
    }
    spoken.set(key, row);
    heard.add(finish.id);
    const change = changeOf(row, finish, { by, pack, currency });
    if (change) changes.push(change);
    else same.push({ finishId: finish.id, line: row.line });
  }
  const missing = finishes
    .filter(({ id }) => !heard.has(id) && !unclear.some(({ finishIds }) => finishIds.includes(id)))
    .map(({ id }) => id);
  const counts = [
    [changes.length, 'changed'],
    [same.length, 'as they were'],
    [missing.length, 'not in the list'],
    [unclear.length, 'unclear'],
    [notFound.length, 'of the list not in this job'],
  ] as const;
  const said = counts.filter(([count]) => count > 0).map(([count, word]) => `${count} ${word}`);
  return {
    changes,
    same,
    notFound,
    unclear,
    missing,
    words: said.length === 0 ? 'Nothing in the list.' : `${said.join(', ')}.`,
  };
}

function matchesOf(
  row: PriceRow,
  finishes: readonly PricedFinish[],
): { matches: readonly PricedFinish[]; by: PriceChange['matchedBy'] } {
  const [maker, code, name] = [plain(row.maker), plain(row.code), plain(row.name)];
  const sameMaker = (finish: PricedFinish) => maker !== '' && plain(finish.maker) === maker;
  const noMaker = (finish: PricedFinish) => maker === '' || plain(finish.maker) === '';
  const sameCode = (finish: PricedFinish) => code !== '' && plain(finish.code) === code;
  // A code that says otherwise is not talked over by a name.
  const sameName = (finish: PricedFinish) =>
    name !== '' && plain(finish.name) === name && (code === '' || plain(finish.code) === '');
  const ways: readonly [PriceChange['matchedBy'], (finish: PricedFinish) => boolean][] = [
    ['maker and code', (finish) => sameMaker(finish) && sameCode(finish)],
    ['code', (finish) => noMaker(finish) && sameCode(finish)],
    ['maker and name', (finish) => sameMaker(finish) && sameName(finish)],
    ['name', (finish) => noMaker(finish) && sameName(finish)],
  ];
  for (const [by, fits] of ways) {
    const found = finishes.filter(fits);
    // Several of one code, as in several sheens, may still differ by their names.
    const named =
      found.length > 1 && name !== '' ? found.filter((finish) => plain(finish.name) === name) : found;
    if (found.length > 0) return { matches: named.length > 0 ? named : found, by };
  }
  return { matches: [], by: 'name' };
}

/** The pack a row has the price of: its unit says how much is in it. */
function packOf({ price }: PriceRow): Quantity | null {
  const per = price && quantityOfUnit(price.unit);
  return per?.written ? { amount: per.amount, unit: per.unit } : null;
}

/** What the finish says that pack costs. */
function packPrice({ packs, price }: PricedFinish, pack: Quantity, currency: string): Price | null {
  const sameSize = (one: Pack) =>
    one.unit === pack.unit && Math.abs(one.size - pack.amount) < 1e-6 * pack.amount;
  const known = packs.find(sameSize);
  if (!known || known.price === null) return null;
  return { amount: known.price, currency: price?.currency || currency, unit: `${pack.amount} ${pack.unit}` };
}

function changeOf(
  row: PriceRow,
  finish: PricedFinish,
  { by, pack, currency }: { by: PriceChange['matchedBy']; pack: Quantity | null; currency: string },
): PriceChange | null {
  const is = row.price && {
    amount: row.price.amount,
    currency: row.price.currency || finish.price?.currency || currency,
    unit: pack ? `${pack.amount} ${pack.unit}` : row.price.unit || finish.price?.unit || '',
  };
  const was = pack && finish.packs.length > 0 ? packPrice(finish, pack, currency) : finish.price;
  const samePrice =
    !is || (was && was.amount === is.amount && was.currency === is.currency && was.unit === is.unit);
  const sameTime = row.leadTimeDays === null || row.leadTimeDays === finish.leadTimeDays;
  if (samePrice && sameTime) return null;
  const called = [finish.maker, finish.code, finish.name].filter(Boolean).join(' ');
  const price = samePrice || !is ? null : { was, is };
  const leadTimeDays =
    sameTime || row.leadTimeDays === null ? null : { was: finish.leadTimeDays, is: row.leadTimeDays };
  const said = [
    price ? `price was ${was ? priceInWords(was) : 'not known'}, is ${priceInWords(price.is)}` : '',
    leadTimeDays
      ? `lead time was ${leadTimeDays.was === null ? 'not known' : `${leadTimeDays.was} days`}, is ${leadTimeDays.is} days`
      : '',
  ].filter(Boolean);
  return {
    finishId: finish.id,
    line: row.line,
    matchedBy: by,
    pack,
    price,
    leadTimeDays,
    words: `${called}: ${said.join('; ')} (line ${row.line}, by ${by}).`,
  };
}
