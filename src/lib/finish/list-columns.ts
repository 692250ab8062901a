import { DAYLIGHT_10, parseViewing } from './instrument.ts';
import type { Viewing } from './instrument.ts';

/** What a column of a list can mean. */
export type Field =
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

/** A column of a list. */
export interface Column {
  readonly header: string;
  readonly field: Field | null;
  /** For Lab and LCh columns: what the header says they were computed for. */
  readonly viewing: Viewing;
  /** A unit or currency that stands in the header, such as 'Price (EUR/l)' or 'lead time (weeks)'. */
  readonly bracket: string;
}

/** Three columns that make a colour only together. */
const TOGETHER: readonly (readonly [readonly Field[], string])[] = [
  [['L', 'a', 'b'], 'L, a and b, or L, C and h'],
  [['R', 'G', 'B'], 'R, G and B'],
];

/**
 * What each header of a list means: several spellings, any order, every meaning once. A column that makes a colour only
 * with others that are missing is not used; `notes` says so.
 */
export function recogniseColumns(headers: readonly string[]): { columns: Column[]; notes: string[] } {
  const taken = new Set<Field>();
  const plain = headers.map((header) =>
    header
      .replace(/\(.*?\)|\[.*?\]/g, ' ')
      .replace(/\bD\d\d\b.*$/i, ' ')
      .toLowerCase()
      .replace(/[^\p{L}\p{N}]+/gu, ' ')
      .trim(),
  );
  const columns = headers.map((header, index) => {
    const [, bracket = ''] = /[([](.*?)[)\]]/.exec(header) ?? [];
    const tail = /\b(D\d\d\b.*)$/i.exec(header.replace(/[)\]]/g, ''))?.[1] ?? '';
    const viewing = (tail && parseViewing(tail)) || DAYLIGHT_10;
    const named = fieldNamed(plain, index);
    const field = named && !taken.has(named) ? named : null;
    if (field) taken.add(field);
    return { header: header.trim(), field, viewing, bracket: bracket.trim() };
  });
  const inLch = taken.has('L') && taken.has('C') && (taken.has('h') || taken.has('hue'));
  const idle = TOGETHER.flatMap(([fields, needed]) =>
    fields.every((field) => taken.has(field))
      ? []
      : fields
          .filter((field) => taken.has(field) && !(field === 'L' && inLch))
          .map((field) => ({ field, needed })),
  );
  return {
    columns: columns.map((column) =>
      idle.some(({ field }) => field === column.field) ? { ...column, field: null } : column,
    ),
    notes: idle.map(({ field, needed }) => {
      const { header } = columns.find((column) => column.field === field)!;
      return `Column “${header}” was not used: a colour needs ${needed}.`;
    }),
  };
}

function fieldNamed(plain: readonly string[], index: number): Field | null {
  const word = plain[index];
  // A lone b belongs to whichever of g (RGB) and a (Lab) stands nearer before it.
  if (word === 'b') return plain.lastIndexOf('g', index) > plain.lastIndexOf('a', index) ? 'B' : 'b';
  for (const field of Object.keys(SPELLINGS) as Field[]) if (SPELLINGS[field].includes(word)) return field;
  return null;
}
