import { parseDecimal } from './price.ts';

/** Which units a person thinks in; the other is shown beside. */
export type UnitSystem = 'metric' | 'us';

/**
 * Millimetres in a unit of length, exact.
 * Source: NIST Special Publication 811 (2008), Appendix B: inch 25.4 mm, foot 0.3048 m, yard 0.9144 m.
 */
export const MILLIMETRES = { mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8, yd: 914.4 } as const;
export type LengthUnit = keyof typeof MILLIMETRES;

/** Square metres in a unit of area, exact. Source: NIST SP 811 (2008), Appendix B: square foot 0.092 903 04 m². */
export const SQUARE_METRES = { 'm²': 1, 'cm²': 1e-4, 'sq ft': 0.09290304, 'sq in': 0.00064516 } as const;
export type AreaUnit = keyof typeof SQUARE_METRES;

/**
 * Litres in a unit of volume: the US liquid gallon (231 cubic inches) and its parts, exact.
 * Source: NIST SP 811 (2008), Appendix B.
 */
export const LITRES = {
  ml: 0.001,
  l: 1,
  'fl oz': 3.785411784 / 128,
  pint: 3.785411784 / 8,
  quart: 3.785411784 / 4,
  gal: 3.785411784,
} as const;
export type VolumeUnit = keyof typeof LITRES;

/** Square metres per litre that one square foot per US gallon is. */
export const SPREAD_PER_SQ_FT_PER_GAL = SQUARE_METRES['sq ft'] / LITRES.gal;

/** Why a text is no length, area or volume: what was understood of it, and how to write it. */
export interface MeasureError {
  readonly error: string;
}

const LENGTH_NAMES: Readonly<Record<string, LengthUnit>> = {
  ...words('mm', 'mm millimetre millimetres millimeter millimeters'),
  ...words('cm', 'cm centimetre centimetres centimeter centimeters'),
  ...words('m', 'm metre metres meter meters'),
  ...words('in', "\" ″ ” '' ′′ in ins inch inches"),
  ...words('ft', "' ′ ’ ft foot feet"),
  ...words('yd', 'yd yds yard yards'),
};

const AREA_NAMES: Readonly<Record<string, AreaUnit>> = {
  ...words('m²', 'm² m2 m^2 sqm sq.m squaremetre squaremetres squaremeter squaremeters'),
  ...words('cm²', 'cm² cm2 cm^2 sqcm'),
  ...words('sq ft', 'sqft sq.ft ft² ft2 ft^2 sf squarefoot squarefeet'),
  ...words('sq in', 'sqin sq.in in² in2 in^2 squareinch squareinches'),
};

const VOLUME_NAMES: Readonly<Record<string, VolumeUnit>> = {
  ...words('ml', 'ml millilitre millilitres milliliter milliliters'),
  ...words('l', 'l ltr litre litres liter liters'),
  ...words('fl oz', 'floz fl.oz fluidounce fluidounces'),
  ...words('pint', 'pt pts pint pints'),
  ...words('quart', 'qt qts quart quarts'),
  ...words('gal', 'gal gals gallon gallons usgal usgallon usgallons'),
};

function words<Unit extends string>(unit: Unit, names: string): Record<string, Unit> {
  return Object.fromEntries(names.split(' ').map((name) => [name, unit]));
}

const FRACTIONS: Readonly<Record<string, string>> = {
  '½': '1/2',
  '¼': '1/4',
  '¾': '3/4',
  '⅛': '1/8',
  '⅜': '3/8',
  '⅝': '5/8',
  '⅞': '7/8',
};

/** A number as people type it: thousands grouped by spaces, a decimal, a fraction, or a whole number and a fraction. */
const NUMBER =
  /^(?:(\d{1,3}(?:[ \u00a0\u202f]\d{3})+(?:[.,]\d+)?|\d[\d.,]*|[.,]\d+)(?![\d/]))?(?:[ -]*(\d+)\/(\d+))?/;

/** A number at the start of a text and what follows it; null where none stands there. */
function leadingNumber(text: string): { value: number; grouped: number; rest: string } | null {
  const match = NUMBER.exec(text);
  if (!match || match[0] === '') return null;
  const [all, whole, top, bottom] = match;
  const base = whole === undefined ? 0 : parseDecimal(whole);
  const fraction = top === undefined ? 0 : Number(top) / Number(bottom);
  if (base === null || !Number.isFinite(fraction)) return null;
  // '1,200 mm': nobody writes thousandths of a millimetre.
  const grouped =
    whole !== undefined && /^\d{1,3}[.,]\d{3}$/.test(whole) ? Number(whole.replace(/[.,]/, '')) : base;
  return { value: base + fraction, grouped: grouped + fraction, rest: text.slice(all.length).trimStart() };
}

function plain(text: string): string {
  return text
    .trim()
    .replace(/[½¼¾⅛⅜⅝⅞]/g, (sign) => ` ${FRACTIONS[sign]}`)
    .replace(/[⁄]/g, '/')
    .trim();
}

const LENGTH_EXAMPLE = '3.2 m, 320 cm, 10 ft 6 1/2 in or 126 in';

/**
 * A length as it is typed, in millimetres: '3.2 m', '3,2', '320 cm', `10' 6"`, '10 ft 6 1/2 in', '3 m 20'. A number without
 * a unit is in `bare`; after feet it is inches, after metres centimetres. '1,200 mm' is read as 1200 mm.
 * Zero, negative and unreadable lengths give an error in words. Never throws.
 */
export function parseLength(text: string, bare: LengthUnit): { readonly mm: number } | MeasureError {
  let rest = plain(text);
  if (rest === '') return { error: `Nothing to read. Type a length, such as ${LENGTH_EXAMPLE}.` };
  if (/^[-−]/.test(rest)) return { error: `“${text.trim()}” is negative. A length is more than zero.` };
  let sum = 0;
  let before: LengthUnit | null = null;
  let named = true;
  while (rest !== '') {
    const number = leadingNumber(rest);
    const unread = { error: `“${text.trim()}” is no length we can read. Write it like ${LENGTH_EXAMPLE}.` };
    if (!number) return unread;
    const name = /^(?:''|′′|["″”'′’]|\p{L}+\.?)/u.exec(number.rest)?.[0] ?? '';
    const key = name.toLowerCase().replace(/\.$/, '');
    if (name !== '' && !Object.hasOwn(LENGTH_NAMES, key))
      return { error: `“${name}” is no unit of length we know. Write it like ${LENGTH_EXAMPLE}.` };
    const unit: LengthUnit =
      name !== '' ? LENGTH_NAMES[key] : before === 'ft' ? 'in' : before === 'm' ? 'cm' : before ? 'mm' : bare;
    const value = unit === 'mm' ? number.grouped : number.value;
    if (before) {
      // '10 6': of what?
      if (!named) return unread;
      if (MILLIMETRES[unit] >= MILLIMETRES[before]) return unread;
      if (value * MILLIMETRES[unit] >= MILLIMETRES[before])
        return { error: `“${text.trim()}”: ${value} ${unit} is a whole ${before} or more. Is a unit wrong?` };
    }
    sum += value * MILLIMETRES[unit];
    before = unit;
    named = name !== '';
    rest = number.rest.slice(name.length).replace(/^[\s,]*(?:-\s*)?/, '');
  }
  // To a nanometre, so that 3/4 in is 19.05 and not a hair beside it.
  return sum > 0
    ? { mm: Number(sum.toFixed(6)) }
    : { error: `“${text.trim()}” is zero. A length is more than zero.` };
}

/** An area as it is typed, in square metres: '12.4 m²', '133 sq ft'. A number without a unit is in `bare`. Never throws. */
export function parseArea(text: string, bare: AreaUnit): { readonly squareMetres: number } | MeasureError {
  const read = oneMeasure(text, { names: AREA_NAMES, bare, what: 'area', example: '12.4 m² or 133 sq ft' });
  return 'error' in read ? read : { squareMetres: read.value * SQUARE_METRES[read.unit] };
}

/**
 * A volume as it is typed, in litres: '2,5 l', '750 ml', '1 gal', '1/2 gal', '1 qt'. Gallons, quarts and pints are those
 * of the US. A number without a unit is in `bare`. Never throws.
 */
export function parseVolume(text: string, bare: VolumeUnit): { readonly litres: number } | MeasureError {
  const read = oneMeasure(text, { names: VOLUME_NAMES, bare, what: 'volume', example: '2.5 l or 1 gal' });
  return 'error' in read ? read : { litres: read.value * LITRES[read.unit] };
}

function oneMeasure<Unit extends string>(
  text: string,
  {
    names,
    bare,
    what,
    example,
  }: { names: Readonly<Record<string, Unit>>; bare: Unit; what: string; example: string },
): { value: number; unit: Unit } | MeasureError {
  const rest = plain(text);
  if (rest === '') return { error: `Nothing to read. Type a number and its unit, such as ${example}.` };
  if (/^[-−]/.test(rest)) return { error: `“${text.trim()}” is negative. It must be more than zero.` };
  const number = leadingNumber(rest);
  const key = number?.rest.toLowerCase().replace(/\s+/g, '').replace(/\.$/, '') ?? '';
  const unit = key === '' ? bare : Object.hasOwn(names, key) ? names[key] : null;
  if (!number || !unit)
    return { error: `“${text.trim()}” is no ${what} we can read. Write it like ${example}.` };
  if (!(number.value > 0)) return { error: `“${text.trim()}” is zero. It must be more than zero.` };
  return { value: number.value, unit };
}

/** '3.20 m', '45 mm'; in feet and inches to a sixteenth of an inch: '10 ft 6 1/2 in'. */
export function lengthIn(mm: number, system: UnitSystem): string {
  if (system === 'metric') return mm < 1000 ? `${trimmed(mm, 1)} mm` : `${(mm / 1000).toFixed(2)} m`;
  const sixteenths = Math.round((mm / MILLIMETRES.in) * 16);
  const feet = Math.floor(sixteenths / 192);
  const inches = Math.floor((sixteenths % 192) / 16);
  let [top, bottom] = [sixteenths % 16, 16];
  while (top > 0 && top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  const parts = [
    feet > 0 ? `${feet} ft` : '',
    inches > 0 || top > 0 || feet === 0
      ? `${[inches > 0 || top === 0 ? String(inches) : '', top > 0 ? `${top}/${bottom}` : ''].filter(Boolean).join(' ')} in`
      : '',
  ];
  return parts.filter(Boolean).join(' ');
}

/** '3.20 m (10 ft 6 in)', or the other way round. */
export function lengthWords(mm: number, first: UnitSystem): string {
  return both((system) => lengthIn(mm, system), first);
}

/** '12.4 m²' or '133 sq ft', of square metres. */
export function areaIn(squareMetres: number, system: UnitSystem): string {
  return system === 'metric'
    ? `${figure(squareMetres)} m²`
    : `${figure(squareMetres / SQUARE_METRES['sq ft'])} sq ft`;
}

/** '12.4 m² (133 sq ft)', or the other way round. */
export function areaWords(squareMetres: number, first: UnitSystem): string {
  return both((system) => areaIn(squareMetres, system), first);
}

/** '4.60 l (1.22 US gal)', or the other way round. */
export function volumeWords(litres: number, first: UnitSystem): string {
  return both(
    (system) => (system === 'metric' ? `${figure(litres)} l` : `${figure(litres / LITRES.gal)} US gal`),
    first,
  );
}

/** '9.20 m²/l (375 sq ft per US gal)', or the other way round; of square metres per litre and coat. */
export function spreadRateWords(squareMetresPerLitre: number, first: UnitSystem): string {
  return both(
    (system) =>
      system === 'metric'
        ? `${figure(squareMetresPerLitre)} m²/l`
        : `${figure(squareMetresPerLitre / SPREAD_PER_SQ_FT_PER_GAL)} sq ft per US gal`,
    first,
  );
}

function both(say: (system: UnitSystem) => string, first: UnitSystem): string {
  return first === 'metric' ? `${say('metric')} (${say('us')})` : `${say('us')} (${say('metric')})`;
}

/** Three figures that count: 1.25, 12.5, 125. */
function figure(value: number): string {
  const size = Math.abs(value);
  return value.toFixed(size >= 99.95 ? 0 : size >= 9.995 ? 1 : 2);
}

function trimmed(value: number, digits: number): string {
  return String(Number(value.toFixed(digits)));
}
