import { parseCurrency, parseDecimal, parsePrice, parseUnit } from './price.ts';
import type { Price } from './price.ts';

// Prices and lead times as the cells of a list give them.

/** How a cell that cannot be read is told: `remark` takes a sentence, `otherwise` says what becomes of the field. */
export interface Remarks {
  readonly remark: (reason: string) => void;
  readonly otherwise: string;
}

/** A price from its cell, with currency and unit from cells of their own or from the brackets of the column's title. */
export function listedPrice(
  {
    price: text,
    currency: stated,
    unit,
    bracket,
  }: Readonly<Record<'price' | 'currency' | 'unit' | 'bracket', string>>,
  { remark, otherwise }: Remarks,
): Price | null {
  if (text === '') return null;
  const price = parsePrice(text);
  if (!price) {
    remark(`Price “${text}” could not be read; ${otherwise}.`);
    return null;
  }
  // 'Price (EUR/l)', 'Price [€ per m²]'.
  const [money = '', per = ''] = bracket.split(/\s*(?:\/|\bper\b)\s*/i);
  if (stated !== '' && !parseCurrency(stated)) remark(`“${stated}” is no currency we know.`);
  const currency = price.currency || parseCurrency(stated) || parseCurrency(money) || '';
  return { amount: price.amount, currency, unit: price.unit || parseUnit(unit) || parseUnit(per) };
}

const DAYS: readonly (readonly [RegExp, number])[] = [
  [/^(?:d|days?|working days?)$/, 1],
  [/^(?:w|wks?|weeks?)$/, 7],
  [/^(?:m|months?)$/, 30],
];
const LONGEST = 3650;

/** Days of a lead time: '10', '5-7 days' (its longer end), '2 weeks', 'in stock'; `bracket` is the unit of the column's title. */
export function listedLeadTime(text: string, bracket: string, { remark, otherwise }: Remarks): number | null {
  if (text === '') return null;
  if (/^(?:in stock|stock|now|immediate(?:ly)?)$/i.test(text)) return 0;
  const [, first, later, word] =
    /^([\d.,]+)(?:\s*[-–]\s*([\d.,]+))?\s*(\p{L}[\p{L} ]*)?\.?$/u.exec(text) ?? [];
  const value = first === undefined ? null : parseDecimal(later ?? first);
  const unit = (word || bracket || 'days').trim().toLowerCase();
  const factor = DAYS.find(([form]) => form.test(unit))?.[1];
  if (value === null || factor === undefined || value * factor > LONGEST) {
    remark(`Lead time “${text}” could not be read; ${otherwise}.`);
    return null;
  }
  return value * factor;
}
