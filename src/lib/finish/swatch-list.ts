import { readCsv } from './csv.ts';
import type { CsvRecord } from './csv.ts';
import { recogniseColumns } from './list-columns.ts';
import type { Column, Field } from './list-columns.ts';
import { listedLeadTime, listedPrice } from './listed-terms.ts';
import { lrvContradiction } from './lrv.ts';
import { parseDecimal } from './price.ts';
import { holdColours, readRowColour } from './row-colour.ts';
import type { Cell } from './row-colour.ts';
import { parseSheen } from './sheen.ts';
import { parseFinishKind, unreadable } from './swatch.ts';
import type { ReadProblem, ReadSwatch, SwatchReading } from './swatch.ts';

/**
 * Swatches from delimited text with a header row: any column order, several spellings, decimal comma or point, delimiter
 * found from the text. A row that cannot be used is reported by its line and the rest is kept; a part that cannot be used
 * is reported and the row kept without it. Never throws.
 */
export function parseSwatchList(text: string): SwatchReading {
  const { records, problems: broken } = readCsv(text);
  if (records.length === 0)
    return unreadable('The list is empty. It needs a header row and one row for each swatch.');
  const [head, ...rows] = records;
  const { columns, notes } = recogniseColumns(head.cells);
  const shown = columns.map(({ header, field }) => ({ header, meaning: field }));
  const fields = new Set(columns.map(({ field }) => field));
  const hasColour =
    ['hex', 'rgb', 'colour', 'lab', 'lch', 'munsell', 'lrv'].some((field) => fields.has(field as Field)) ||
    (['R', 'G', 'B'] as const).every((field) => fields.has(field)) ||
    (fields.has('L') &&
      ((fields.has('a') && fields.has('b')) || (fields.has('C') && (fields.has('h') || fields.has('hue')))));
  const problems: ReadProblem[] = broken.map(({ line, reason }) => ({
    line,
    reason: upperFirst(`${reason}.`),
    kept: false,
  }));
  if (!hasColour) {
    const reason =
      'No column with a colour was recognised in the first row. Name one hex, RGB, Lab, LCh, Munsell or LRV (or three: L, a, b).';
    return {
      swatches: [],
      problems: [...problems, { line: head.line, reason, kept: false }],
      columns: shown,
      notes,
    };
  }
  const swatches: ReadSwatch[] = [];
  const holdsColours = holdColours(
    rows.map((row) => cellsOf(row, columns)('colour')),
    columns,
  );
  for (const row of rows) {
    const swatch = readRow(row, { columns, holdsColours, problems });
    if (swatch) swatches.push(swatch);
  }
  problems.sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  if (rows.length === 0) notes.push('The list has a header row and nothing below it.');
  return { swatches, problems, columns: shown, notes };
}

/** How lists write that there is nothing to say. */
const NOTHING = /^(?:[-–—]+|n\/?a|n\.a\.)$/i;

function cellsOf(row: CsvRecord, columns: readonly Column[]): Cell {
  return (field) => {
    const index = columns.findIndex((column) => column.field === field);
    const text = index < 0 ? '' : (row.cells[index] ?? '').trim();
    return NOTHING.test(text) ? '' : text;
  };
}

function readRow(
  row: CsvRecord,
  {
    columns,
    holdsColours,
    problems,
  }: { columns: readonly Column[]; holdsColours: boolean; problems: ReadProblem[] },
): ReadSwatch | null {
  const { line } = row;
  const cell = cellsOf(row, columns);
  const remarks: ReadProblem[] = [];
  const remark = (reason: string) => remarks.push({ line, reason, kept: true });
  if (
    row.cells.length > columns.length &&
    row.cells.slice(columns.length).some((extra) => extra.trim() !== '')
  ) {
    remark(
      `${row.cells.length} cells where the first row has ${columns.length}; the last ones were not used.`,
    );
  }
  const lrv = readLrv(cell('lrv'), remark);
  const read = readRowColour(cell, { columns, lrv, holdsColours });
  if ('error' in read) {
    const reason =
      lrv === null && cell('lrv') !== ''
        ? `${read.error} LRV “${cell('lrv')}” is not a number from 0 to 100.`
        : read.error;
    problems.push({ line, reason, kept: false });
    return null;
  }
  const { colour } = read;
  read.remarks.forEach(remark);
  const notes = [colour.note];
  const contradiction =
    lrv === null || colour.source === 'published LRV' ? null : lrvContradiction(lrv, colour.lab);
  if (contradiction) {
    notes.push(contradiction.words);
    remarks.push({ line, reason: `${contradiction.words} Both are kept.`, kept: true, whole: true });
  }
  const sheenText = cell('sheen');
  const sheen = sheenText === '' ? null : parseSheen(sheenText);
  if (sheenText !== '' && !sheen) remark(`“${sheenText}” is no sheen we know; left open.`);
  const kindText = cell('kind');
  const kind = kindText === '' ? null : parseFinishKind(kindText);
  if (kindText !== '' && !kind) remark(`“${kindText}” is no kind of finish we know; left open.`);
  const word = holdsColours ? '' : cell('colour');
  if (word !== '' && cell('name') !== '' && colour.source === 'published LRV')
    notes.push(`“${word}” was taken for a word, not for a colour.`);
  const bracket = (name: string) => columns.find(({ field }) => field === name)?.bracket ?? '';
  const told = { remark, otherwise: 'left out' };
  const price = listedPrice(
    { price: cell('price'), currency: cell('currency'), unit: cell('unit'), bracket: bracket('price') },
    told,
  );
  const leadTimeDays = listedLeadTime(cell('lead time'), bracket('lead time'), told);
  problems.push(...remarks);
  return {
    line,
    kind,
    maker: cell('maker'),
    code: cell('code'),
    name: cell('name') || word,
    sheen,
    price,
    leadTimeDays,
    publishedLrv: lrv,
    lab: colour.lab,
    covariance: colour.covariance,
    // What stands in a list was published by somebody; a notation stays one.
    source: colour.source === 'typed' ? 'published' : colour.source,
    reflectance: null,
    notes,
  };
}

function readLrv(text: string, remark: (reason: string) => void): number | null {
  if (text === '') return null;
  const value = parseDecimal(text.replace(/%$/, ''));
  if (value === null || value < 0 || value > 100) {
    remark(`LRV “${text}” is not a number from 0 to 100; left out.`);
    return null;
  }
  return value;
}

function upperFirst(text: string): string {
  return text[0].toUpperCase() + text.slice(1);
}
