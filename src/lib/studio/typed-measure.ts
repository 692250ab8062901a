import {
  LITRES,
  SPREAD_PER_SQ_FT_PER_GAL,
  SQUARE_METRES,
  lengthIn,
  parseArea,
  parseDecimal,
  parseLength,
  parseVolume,
  type LengthUnit,
  type UnitSystem,
} from '#lib/finish/index.ts';

/** What became of a typed text: a value for the document, or why there is none. */
export type Typed = { readonly value: number } | { readonly error: string };

/**
 * How a number of the document is written in a field and read back. What can be told is handed on even where it cannot be
 * (a wall of minus two metres): the take-off says so and leaves it out, and it stays as it was typed.
 */
export interface Measure {
  readonly write: (value: number) => string;
  readonly read: (text: string) => Typed;
  /** Said once beside the fields: what a bare number is. */
  readonly unit: string;
}

/** What nothing is in a field: null, 0 that is shown as 0, or (undefined) 0 that is not shown, for still to be measured. */
export type Nothing = 'null' | 'zero' | undefined;

/**
 * What becomes of a field's text. Where 0 stands for "still to be measured", emptying the field says so; a typed 0 would take a
 * size away without a word, and is refused.
 */
export function typedIn(
  text: string,
  measure: Measure,
  nothing: Nothing,
): { value: number | null } | { error: string } {
  if (text.trim() === '') return { value: nothing === 'null' ? null : 0 };
  const read = measure.read(text);
  if (nothing === undefined && 'value' in read && read.value === 0)
    return { error: `“${text.trim()}” is not taken: it has to be more than zero.` };
  return read;
}

const LENGTH_NAMES: Readonly<Record<LengthUnit, string>> = {
  mm: 'mm',
  cm: 'cm',
  m: 'metres',
  in: 'inches',
  ft: 'feet',
  yd: 'yards',
};

/** A length in mm; a number without a unit is in `bare`. */
export function lengthMeasure(system: UnitSystem, bare: LengthUnit): Measure {
  return {
    unit: LENGTH_NAMES[bare],
    write: (mm) => (mm < 0 ? `-${lengthText(-mm, system)}` : lengthText(mm, system)),
    read: (text) =>
      signed(text, (size) => {
        const read = parseLength(size, bare);
        return 'error' in read ? read : { value: read.mm };
      }),
  };
}

/** Nothing of a size is rounded away: 3.205 m is not 3.21 m. */
function lengthText(mm: number, system: UnitSystem): string {
  // Short as on a drawing: the fields are narrow.
  if (system === 'us') return lengthIn(mm, 'us').replace(/ ft\b/, "'").replace(/ in$/, '"');
  if (mm < 1000) return `${Number(mm.toFixed(1))} mm`;
  const [whole, decimals = ''] = String(Number((mm / 1000).toFixed(4))).split('.');
  return `${whole}.${decimals.padEnd(2, '0')} m`;
}

/** An area in m². */
export function areaMeasure(system: UnitSystem): Measure {
  const unit = system === 'metric' ? 'm²' : 'sq ft';
  return {
    unit,
    write: (value) => `${short(value / SQUARE_METRES[unit])} ${unit}`,
    read: (text) =>
      signed(text, (size) => {
        const read = parseArea(size, unit);
        return 'error' in read ? read : { value: read.squareMetres };
      }),
  };
}

/** A volume in litres. */
export function volumeMeasure(system: UnitSystem): Measure {
  const unit = system === 'metric' ? 'l' : 'gal';
  return {
    unit,
    write: (value) => `${short(value / LITRES[unit])} ${unit}`,
    read: (text) =>
      signed(text, (size) => {
        const read = parseVolume(size, unit);
        return 'error' in read ? read : { value: read.litres };
      }),
  };
}

/** A plain number: a count, a number of hours, money. */
export const PLAIN: Measure = {
  unit: '',
  write: (value) => String(value),
  read: (text) => decimal(text, 1),
};

/** A share from 0 to 1, said in percent. */
export const PERCENT: Measure = {
  unit: '%',
  write: (value) => short(value * 100),
  read: (text) => decimal(text.replace(/%\s*$/, ''), 100),
};

/** An area per volume and coat in m²/l, said in sq ft per US gallon where these are used. */
export function spreadMeasure(system: UnitSystem): Measure {
  const per = system === 'metric' ? 1 : SPREAD_PER_SQ_FT_PER_GAL;
  return {
    unit: system === 'metric' ? 'm²/l' : 'sq ft per gal',
    write: (value) => short(value / per),
    read: (text) => decimal(text.replace(/\s*(m²\/l|m2\/l|sq ft.*)$/i, ''), 1 / per),
  };
}

function decimal(text: string, over: number): Typed {
  const negative = /^\s*[-−]/.test(text);
  const number = parseDecimal(text.replace(/^\s*[-−]/, ''));
  if (number === null)
    return { error: `“${text.trim()}” is no number we can read. Write it like 12 or 2.5.` };
  return { value: ((negative ? -1 : 1) * number) / over };
}

/** Negative and zero sizes are kept for the take-off to speak of, which names them with what they leave out. */
function signed(text: string, read: (size: string) => Typed): Typed {
  const size = text.trim().replace(/^[-−]\s*/, '');
  const negative = size !== text.trim();
  if (/^0+(?:[.,]0*)?\s*\p{L}*$/u.test(size)) return { value: 0 };
  const found = read(size);
  return 'error' in found || !negative ? found : { value: -found.value };
}

const short = (value: number) => String(Number(value.toFixed(3)));
