import { lchToLab } from '#lib/colour/index.ts';
import { DAYLIGHT_10 } from './instrument.ts';
import type { Column, Field } from './list-columns.ts';
import { parseDecimal } from './price.ts';
import { fromLab, fromLrv, fromRgb, parseColourText } from './typed-colour.ts';
import type { ColourError, ReadColour } from './typed-colour.ts';

/** Text of a row's cell by what its column means; '' where it is empty or there is no such column. */
export type Cell = (field: Field) => string;

/** The colour of a row, and what of the row was left out in favour of it. */
export interface RowColour {
  readonly colour: ReadColour;
  readonly remarks: readonly string[];
}

/** What three numbers in three cells must be, and how to say that one is not. */
interface Triple {
  readonly label: string;
  readonly fields: readonly [Field, Field, Field];
  readonly limits: readonly [Limit | null, Limit | null, Limit | null];
}
interface Limit {
  readonly fits: (value: number) => boolean;
  readonly words: string;
}

const LIGHTNESS: Limit = { fits: (L) => L >= 0 && L <= 100, words: 'L* lies between 0 and 100' };
const CHROMA: Limit = { fits: (C) => C >= 0 && C <= 150, words: 'chroma lies between 0 and about 130' };
const EIGHT_BIT: Limit = {
  fits: (value) => Number.isInteger(value) && value >= 0 && value <= 255,
  words: 'RGB values are whole numbers from 0 to 255',
};
const LAB: Triple = { label: 'L, a and b', fields: ['L', 'a', 'b'], limits: [LIGHTNESS, null, null] };
const RGB: Triple = {
  label: 'R, G and B',
  fields: ['R', 'G', 'B'],
  limits: [EIGHT_BIT, EIGHT_BIT, EIGHT_BIT],
};

/**
 * The colour of a row: the most telling of its cells that has one. Lab, then LCh, Munsell, hex, RGB, a colour in words or
 * notation; an LRV (with its hue, where there is one) only where no other colour is given: it must not stand in for one
 * that is given but cannot be read. `holdsColours` says whether a column called 'colour' holds colours rather than names.
 */
export function readRowColour(
  cell: Cell,
  { columns, lrv, holdsColours }: { columns: readonly Column[]; lrv: number | null; holdsColours: boolean },
): RowColour | ColourError {
  const given: (ReadColour | ColourError)[] = [];
  const has = (field: Field) => columns.some((column) => column.field === field);
  const viewing = columns.find(({ field }) => field === 'L')?.viewing ?? DAYLIGHT_10;
  const single = (field: Field, read: (text: string) => ReadColour | ColourError) => {
    const text = cell(field);
    if (text === '') return;
    const colour = read(text);
    given.push('error' in colour ? { error: `${header(columns, field)}: ${colour.error}` } : colour);
  };

  const hueField: Field = cell('h') !== '' || !has('hue') ? 'h' : 'hue';
  const turned = cell('C') !== '' || cell(hueField) !== '';
  const inLab = has('L') && has('a') && has('b');
  const inLch = has('L') && has('C') && (has('h') || has('hue'));
  if (inLab && (cell('a') !== '' || cell('b') !== '' || (cell('L') !== '' && !(inLch && turned)))) {
    const values = numbers(cell, columns, LAB);
    given.push(
      'error' in values
        ? values
        : fromLab({ L: values[0], a: values[1], b: values[2] }, { viewing, written: 'Lab' }),
    );
  }
  single('lab', (text) => labelled(text, 'Lab'));
  // Without a lightness, chroma and hue may belong to the LRV.
  if (inLch && (cell('L') === '' ? turned && lrv === null : turned || !inLab)) {
    const values = numbers(cell, columns, {
      label: 'L, C and h',
      fields: ['L', 'C', hueField],
      limits: [LIGHTNESS, CHROMA, null],
    });
    given.push(
      'error' in values
        ? values
        : fromLab(lchToLab({ L: values[0], C: values[1], h: values[2] }), { viewing, written: 'LCh' }),
    );
  }
  single('lch', (text) => labelled(text, 'LCh'));
  single('munsell', (text) => parseColourText(/^munsell\b/i.test(text) ? text : `Munsell ${text}`));
  single('hex', (text) => parseColourText(/^[0-9a-f]{3}$/i.test(text) ? `#${text}` : text));
  single('rgb', (text) => labelled(text, 'RGB'));
  if (has('R') && has('G') && has('B') && RGB.fields.some((field) => cell(field) !== '')) {
    const values = numbers(cell, columns, RGB);
    given.push('error' in values ? values : fromRgb(values)!);
  }
  if (holdsColours) single('colour', parseColourText);

  const colour = given.find((one): one is ReadColour => 'lab' in one);
  const errors = given.flatMap((one) => ('error' in one ? [one.error] : []));
  if (colour) {
    return { colour, remarks: errors.map((error) => `${error} Another colour of the row was taken.`) };
  }
  if (errors.length > 0) return { error: errors.join(' ') };
  if (lrv === null) return { error: 'No colour in this row.' };
  return byLrv(cell, { columns, lrv, hueField });
}

/** A row that gives its colour by LRV alone, perhaps with hue and chroma. */
function byLrv(
  cell: Cell,
  { columns, lrv, hueField }: { columns: readonly Column[]; lrv: number; hueField: Field },
): RowColour | ColourError {
  const remarks: string[] = [];
  const part = (field: Field) => {
    const text = cell(field);
    const value = parseDecimal(text);
    if (text !== '' && value === null)
      remarks.push(`${header(columns, field)} “${text}” is not a number; left out.`);
    return value;
  };
  const colour = fromLrv(lrv, part(hueField), part('C'));
  return 'error' in colour ? colour : { colour, remarks };
}

/** The numbers of three cells, or which of them cannot be read and why. */
function numbers(
  cell: Cell,
  columns: readonly Column[],
  { label, fields, limits }: Triple,
): number[] | ColourError {
  const wrong: string[] = [];
  const values = fields.map((field, i) => {
    const text = cell(field);
    const value = parseDecimal(text);
    const name = header(columns, field);
    if (text === '') wrong.push(`${name} is empty: a colour needs ${label}.`);
    else if (value === null) wrong.push(`${name} “${text}” is not a number.`);
    else if (limits[i] && !limits[i].fits(value)) wrong.push(`${name} ${text}: ${limits[i].words}.`);
    return value ?? 0;
  });
  return wrong.length > 0 ? { error: wrong.join(' ') } : values;
}

/** The column's header as it is written. */
function header(columns: readonly Column[], field: Field): string {
  return columns.find((column) => column.field === field)?.header ?? field;
}

/** A cell that may or may not begin with the label its header has already given. */
function labelled(text: string, label: string): ReadColour | ColourError {
  if (/^#|^[a-z]+\(/i.test(text)) return parseColourText(text);
  return parseColourText(/^[a-z]/i.test(text) ? text : `${label} ${text}`);
}

/**
 * Whether the cells of a column called 'colour' hold colours, and not names: most of them are notations, or some are and
 * no other column gives a colour, or there is no other column to give one at all. A bare word such as 'olive' may be
 * either and decides nothing.
 */
export function holdColours(texts: readonly string[], columns: readonly Column[]): boolean {
  const others = columns.some(({ field }) => field !== null && COLOUR_FIELDS.includes(field));
  if (!others && !columns.some(({ field }) => field === 'lrv')) return true;
  const filled = texts.filter((text) => text !== '');
  const notations = filled.filter(isNotation).length;
  return notations * 2 > filled.length || (notations > 0 && !others);
}

/** Fields that give a colour by themselves or three together, but for the LRV and 'colour' itself. */
const COLOUR_FIELDS: readonly Field[] = ['hex', 'rgb', 'R', 'lab', 'L', 'lch', 'munsell'];

/** Whether a text is written as a colour is, even if it cannot be read as one. */
function isNotation(text: string): boolean {
  if (!/[#(\d]/.test(text)) return false;
  return (
    /^#|^[a-z-]+\(|^(lab|lch|rgb|lrv|munsell)\b|\d\s*\/\s*\d/i.test(text) || 'lab' in parseColourText(text)
  );
}
