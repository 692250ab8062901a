import { lchToLab } from '#lib/colour/index.ts';
import { readCsv } from './csv.ts';
import type { CsvRecord } from './csv.ts';
import { DAYLIGHT_10, parseViewing } from './instrument.ts';
import type { Viewing } from './instrument.ts';
import { lrvContradiction } from './lrv.ts';
import { parseCurrency, parseDecimal, parsePrice, parseUnit } from './price.ts';
import type { Price } from './price.ts';
import { parseSheen } from './sheen.ts';
import { parseFinishKind, unreadable } from './swatch.ts';
import type { ReadProblem, ReadSwatch, SwatchReading } from './swatch.ts';
import { fromLab, fromLrv, fromRgb, parseColourText } from './typed-colour.ts';
import type { ColourError, ReadColour } from './typed-colour.ts';

type Field =
  | 'maker'
  | 'code'
  | 'name'
  | 'colour'
  | 'hex'
  | 'rgb'
  | 'R'
  | 'G'
  | 'B'
  | 'lab'
  | 'L'
  | 'a'
  | 'b'
  | 'lch'
  | 'C'
  | 'h'
  | 'lrv'
  | 'hue'
  | 'munsell'
  | 'sheen'
  | 'price'
  | 'currency'
  | 'unit'
  | 'lead time'
  | 'kind';

/** Spellings of each header, in lower case and single spaces; punctuation and what stands in brackets is dropped first. */
const SPELLINGS: Readonly<Record<Field, readonly string[]>> = {
  maker: ['maker', 'brand', 'manufacturer', 'make', 'producer', 'supplier', 'company', 'vendor'],
  code: [
    ...[
      'code',
      'number',
      'no',
      'nr',
      'num',
      'sku',
      'ref',
      'reference',
      'item',
      'item number',
      'article',
      'article number',
      'id',
    ],
    ...[
      'colour code',
      'color code',
      'colour number',
      'color number',
      'product code',
      'colour no',
      'color no',
      'colour id',
      'color id',
    ],
  ],
  name: ['name', 'colour name', 'color name', 'title', 'product', 'product name', 'description', 'swatch'],
  colour: ['colour', 'color', 'value', 'colour value', 'color value', 'shade'],
  hex: [
    'hex',
    'html',
    'hex code',
    'hex value',
    'web',
    'web colour',
    'web color',
    'srgb hex',
    'rgb hex',
    'hexadecimal',
  ],
  rgb: ['rgb', 'srgb', 'rgb value', 'rgb values'],
  R: ['r', 'red', 'rgb r', 'srgb r', 'r8'],
  G: ['g', 'green', 'rgb g', 'srgb g', 'g8'],
  B: ['blue', 'rgb b', 'srgb b', 'b8'],
  lab: ['lab', 'cielab', 'cie lab', 'lab value', 'lab values', 'l a b'],
  L: ['l', 'lab l', 'cie l', 'cielab l', 'lightness', 'lstar'],
  a: ['a', 'lab a', 'cie a', 'cielab a', 'astar'],
  b: ['lab b', 'cie b', 'cielab b', 'bstar'],
  lch: ['lch', 'cielch', 'cie lch', 'l c h', 'lch value'],
  C: ['c', 'chroma', 'lch c', 'cie c'],
  h: ['h', 'lch h', 'cie h', 'hab', 'hue angle'],
  lrv: [
    'lrv',
    'light reflectance',
    'light reflectance value',
    'reflectance',
    'reflectance value',
    'y',
    'luminous reflectance',
  ],
  hue: ['hue'],
  munsell: ['munsell', 'munsell notation', 'notation'],
  sheen: ['sheen', 'finish', 'gloss', 'gloss level', 'sheen level', 'lustre'],
  price: [
    'price',
    'cost',
    'unit price',
    'list price',
    'net price',
    'price each',
    'amount',
    'price per unit',
    'price per litre',
  ],
  currency: ['currency', 'cur', 'ccy'],
  unit: ['unit', 'per', 'uom', 'price unit', 'sold by', 'unit of measure', 'pack'],
  'lead time': [
    ...[
      'lead time',
      'lead time days',
      'lead',
      'lead days',
      'leadtime',
      'delivery',
      'delivery time',
      'delivery days',
    ],
    ...['days', 'available in', 'availability days'],
  ],
  kind: ['kind', 'type', 'material', 'category', 'finish kind', 'product type'],
};

interface Column {
  readonly header: string;
  readonly field: Field | null;
  /** For Lab and LCh columns: what the header says they were computed for. */
  readonly viewing: Viewing;
  /** A unit or currency that stands in the header, such as 'Price (EUR/l)' or 'lead time (weeks)'. */
  readonly bracket: string;
}

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
  const columns = recogniseColumns(head.cells);
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
      notes: [],
    };
  }
  const swatches: ReadSwatch[] = [];
  for (const row of rows) {
    const swatch = readRow(row, columns, problems);
    if (swatch) swatches.push(swatch);
  }
  problems.sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  const notes = rows.length === 0 ? ['The list has a header row and nothing below it.'] : [];
  return { swatches, problems, columns: shown, notes };
}

function recogniseColumns(headers: readonly string[]): Column[] {
  const taken = new Set<Field>();
  const plain = headers.map((header) =>
    header
      .replace(/\(.*?\)|\[.*?\]/g, ' ')
      .replace(/\bD\d\d\b.*$/i, ' ')
      .toLowerCase()
      .replace(/[^\p{L}\p{N}]+/gu, ' ')
      .trim(),
  );
  return headers.map((header, index) => {
    const [, bracket = ''] = /[([](.*?)[)\]]/.exec(header) ?? [];
    const tail = /\b(D\d\d\b.*)$/i.exec(header.replace(/[)\]]/g, ''))?.[1] ?? '';
    const viewing = (tail && parseViewing(tail)) || DAYLIGHT_10;
    const named = fieldNamed(plain, index);
    const field = named && !taken.has(named) ? named : null;
    if (field) taken.add(field);
    return { header: header.trim(), field, viewing, bracket: bracket.trim() };
  });
}

function fieldNamed(plain: readonly string[], index: number): Field | null {
  const word = plain[index];
  // A lone b belongs to whichever of g (RGB) and a (Lab) stands nearer before it.
  if (word === 'b') return plain.lastIndexOf('g', index) > plain.lastIndexOf('a', index) ? 'B' : 'b';
  for (const field of Object.keys(SPELLINGS) as Field[]) if (SPELLINGS[field].includes(word)) return field;
  return null;
}

function readRow(row: CsvRecord, columns: readonly Column[], problems: ReadProblem[]): ReadSwatch | null {
  const { line } = row;
  const cell = (field: Field) => {
    const index = columns.findIndex((column) => column.field === field);
    return index < 0 ? '' : (row.cells[index] ?? '').trim();
  };
  const remark = (reason: string) => problems.push({ line, reason, kept: true });
  if (
    row.cells.length > columns.length &&
    row.cells.slice(columns.length).some((extra) => extra.trim() !== '')
  ) {
    remark(
      `${row.cells.length} cells where the first row has ${columns.length}; the last ones were not used.`,
    );
  }
  const lrv = readLrv(cell('lrv'), remark);
  const colour = readColour(cell, { columns, lrv });
  if ('error' in colour) {
    problems.push({ line, reason: colour.error, kept: false });
    return null;
  }
  const notes = [colour.note];
  const contradiction =
    lrv === null || colour.source === 'published LRV' ? null : lrvContradiction(lrv, colour.lab);
  if (contradiction) {
    notes.push(contradiction.words);
    remark(contradiction.words);
  }
  const sheenText = cell('sheen');
  const sheen = sheenText === '' ? null : parseSheen(sheenText);
  if (sheenText !== '' && !sheen) remark(`“${sheenText}” is no sheen we know; left open.`);
  const kindText = cell('kind');
  const kind = kindText === '' ? null : parseFinishKind(kindText);
  if (kindText !== '' && !kind) remark(`“${kindText}” is no kind of finish we know; left open.`);
  const name = cell('name') || (cell('colour') && !isColourText(cell('colour')) ? cell('colour') : '');
  return {
    line,
    kind,
    maker: cell('maker'),
    code: cell('code'),
    name,
    sheen,
    price: readPrice(cell, columns, remark),
    leadTimeDays: readLeadTime(cell('lead time'), columns, remark),
    publishedLrv: lrv,
    lab: colour.lab,
    covariance: colour.covariance,
    // What stands in a list was published by somebody; a notation stays one.
    source: colour.source === 'typed' ? 'published' : colour.source,
    reflectance: null,
    notes,
  };
}

type Cell = (field: Field) => string;

/** The colour of a row: the most telling of its columns that has one. Lab, then LCh, Munsell, hex, RGB, LRV with hue. */
function readColour(
  cell: Cell,
  { columns, lrv }: { columns: readonly Column[]; lrv: number | null },
): ReadColour | ColourError {
  const numbers = (...fields: Field[]): number[] | null => {
    const values = fields.map((field) => parseDecimal(cell(field)));
    return values.every((value) => value !== null) ? (values as number[]) : null;
  };
  const viewing = (field: Field) => columns.find((column) => column.field === field)?.viewing ?? DAYLIGHT_10;
  const errors: string[] = [];
  const attempts: (() => ReadColour | ColourError | null)[] = [
    () => {
      const values = numbers('L', 'a', 'b');
      return (
        values &&
        fromLab({ L: values[0], a: values[1], b: values[2] }, { viewing: viewing('L'), written: 'Lab' })
      );
    },
    () => labelled(cell('lab'), 'Lab'),
    () => {
      const values = numbers('L', 'C', cell('h') ? 'h' : 'hue');
      if (!values) return null;
      return fromLab(lchToLab({ L: values[0], C: values[1], h: values[2] }), {
        viewing: viewing('L'),
        written: 'LCh',
      });
    },
    () => labelled(cell('lch'), 'LCh'),
    () => (cell('munsell') ? parseColourText(`Munsell ${cell('munsell')}`) : null),
    () =>
      cell('hex')
        ? parseColourText(/^[0-9a-f]{3}$/i.test(cell('hex')) ? `#${cell('hex')}` : cell('hex'))
        : null,
    () => labelled(cell('rgb'), 'RGB'),
    () => {
      const values = numbers('R', 'G', 'B');
      return (
        values &&
        (fromRgb(values) ?? { error: `RGB ${values.join(' ')} is not three whole numbers from 0 to 255.` })
      );
    },
    () => (isColourText(cell('colour')) ? parseColourText(cell('colour')) : null),
    () =>
      lrv === null ? null : fromLrv(lrv, parseDecimal(cell('hue') || cell('h')), parseDecimal(cell('C'))),
  ];
  for (const attempt of attempts) {
    const colour = attempt();
    if (colour && 'lab' in colour) return colour;
    if (colour) errors.push(colour.error);
  }
  return { error: errors[0] ?? 'No colour in this row.' };
}

/** A cell that may or may not begin with the label its header has already given. */
function labelled(text: string, label: string): ReadColour | ColourError | null {
  if (text === '') return null;
  if (/^#|^[a-z]+\(/i.test(text)) return parseColourText(text);
  return parseColourText(/^[a-z]/i.test(text) ? text : `${label} ${text}`);
}

/** Whether a cell of a column called 'colour' holds a colour rather than a name. */
function isColourText(text: string): boolean {
  return /^#|^[a-z-]+\(|^(lab|lch|rgb|lrv|munsell)\b/i.test(text) || /^[0-9a-f]{6}$/i.test(text);
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

function readPrice(cell: Cell, columns: readonly Column[], remark: (reason: string) => void): Price | null {
  const text = cell('price');
  if (text === '') return null;
  const price = parsePrice(text);
  if (!price) {
    remark(`Price “${text}” could not be read; left out.`);
    return null;
  }
  const header = columns.find(({ field }) => field === 'price');
  // 'Price (EUR/l)', 'Price [€ per m²]'.
  const [money = '', unit = ''] = (header?.bracket ?? '').split(/\s*(?:\/|\bper\b)\s*/i);
  const headerCurrency = parseCurrency(money);
  const currency = price.currency || parseCurrency(cell('currency')) || headerCurrency || '';
  if (cell('currency') !== '' && !parseCurrency(cell('currency')))
    remark(`“${cell('currency')}” is no currency we know.`);
  return { amount: price.amount, currency, unit: price.unit || parseUnit(cell('unit')) || parseUnit(unit) };
}

function readLeadTime(
  text: string,
  columns: readonly Column[],
  remark: (reason: string) => void,
): number | null {
  if (text === '') return null;
  if (/^(in stock|stock|now|immediate(ly)?)$/i.test(text)) return 0;
  const [, figure, word] = /^([\d.,]+)(?:\s*[-–]\s*[\d.,]+)?\s*(\p{L}*)\.?$/u.exec(text) ?? [];
  // A range such as '5-7 days' counts with its longer end.
  const later = /[-–]\s*([\d.,]+)/.exec(text)?.[1];
  const value = figure === undefined ? null : parseDecimal(later ?? figure);
  const unit = (word || columns.find(({ field }) => field === 'lead time')?.bracket || 'days').toLowerCase();
  const factor = /^(d|days?|working days?)$/.test(unit)
    ? 1
    : /^(w|wks?|weeks?)$/.test(unit)
      ? 7
      : /^(m|months?)$/.test(unit)
        ? 30
        : null;
  if (value === null || factor === null || value * factor > 3650) {
    remark(`Lead time “${text}” could not be read; left out.`);
    return null;
  }
  return value * factor;
}

function upperFirst(text: string): string {
  return text[0].toUpperCase() + text.slice(1);
}
