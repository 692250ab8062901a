/** A price as a supplier quotes it: per litre, per square metre, per piece. */
export interface Price {
  readonly amount: number;
  /** ISO 4217 code, or '' where the list does not say. */
  readonly currency: string;
  /** 'l', 'm²', 'piece', '' where the list does not say. */
  readonly unit: string;
}

const SYMBOLS: Readonly<Record<string, string>> = { '€': 'EUR', $: 'USD', '£': 'GBP', '¥': 'JPY' };

const UNITS: Readonly<Record<string, string>> = {
  l: 'l',
  litre: 'l',
  liter: 'l',
  ltr: 'l',
  m2: 'm²',
  'm²': 'm²',
  sqm: 'm²',
  'sq m': 'm²',
  'square metre': 'm²',
  m: 'm',
  metre: 'm',
  kg: 'kg',
  piece: 'piece',
  pc: 'piece',
  pcs: 'piece',
  each: 'piece',
  ea: 'piece',
  can: 'can',
  tin: 'can',
  pack: 'pack',
  box: 'box',
  slab: 'slab',
};

/** A unit in our spelling; one we do not know stays as it is written. */
export function parseUnit(text: string): string {
  const key = text.trim().toLowerCase();
  return Object.hasOwn(UNITS, key) ? UNITS[key] : text.trim();
}

/** A currency in our spelling (ISO 4217 code), or null where it is neither a code nor a known sign. */
export function parseCurrency(text: string): string | null {
  const key = text.trim();
  if (Object.hasOwn(SYMBOLS, key)) return SYMBOLS[key];
  return /^[A-Za-z]{3}$/.test(key) ? key.toUpperCase() : null;
}

/**
 * A decimal number as people write it: point or comma, thousands grouped by the other, by space or by apostrophe.
 * '1.234,50', '1,234.50', '12,5', '1 200'. A single separator followed by exactly three digits after one to three others
 * ('1.234') is ambiguous and read as a decimal, as a price of over a thousand per litre is rare.
 * Null where it is not a number.
 */
export function parseDecimal(text: string): number | null {
  const plain = text
    .trim()
    .replace(/[\s\u00a0\u202f'’]/g, '')
    .replace(/^−/, '-');
  if (/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) return finite(plain);
  if (/^[+-]?(\d+,\d*|,\d+)$/.test(plain)) return finite(plain.replace(',', '.'));
  if (/^[+-]?\d{1,3}(\.\d{3})+,\d*$/.test(plain)) return finite(plain.replaceAll('.', '').replace(',', '.'));
  if (/^[+-]?\d{1,3}(,\d{3})+\.\d*$/.test(plain)) return finite(plain.replaceAll(',', ''));
  if (/^[+-]?\d{1,3}(\.\d{3}){2,}$/.test(plain)) return finite(plain.replaceAll('.', ''));
  if (/^[+-]?\d{1,3}(,\d{3}){2,}$/.test(plain)) return finite(plain.replaceAll(',', ''));
  return null;
}

function finite(text: string): number | null {
  const value = Number(text);
  return Number.isFinite(value) ? value : null;
}

/** A price such as '48,50 €/l', 'EUR 52 per m2', '£31'. Null where there is no amount of 0 or more. */
export function parsePrice(text: string): Price | null {
  const [, money, unit] = /^(.*?)(?:\s*(?:\/|\bper\b)\s*([^/]*))?$/is.exec(text.trim()) ?? [];
  if (money === undefined) return null;
  const [, before, amountText, after] =
    /^([^\d.,-]*)([\d.,\s\u00a0\u202f'’]*\d[.,]?)\s*(.*)$/s.exec(money.trim()) ?? [];
  if (amountText === undefined) return null;
  const amount = parseDecimal(amountText);
  if (amount === null || amount < 0) return null;
  const written = [before.trim(), after.trim()].filter((part) => part !== '');
  if (written.length > 1) return null;
  const currency = written.length === 0 ? '' : parseCurrency(written[0]);
  if (currency === null) return null;
  return { amount, currency, unit: unit ? parseUnit(unit) : '' };
}

/** '48.50 EUR/l', '52 EUR/m²', '12'; with 'per' where a stroke would be misread: '50 per 2,5 l'. */
export function priceInWords({ amount, currency, unit }: Price): string {
  const figure = Number.isInteger(amount) ? String(amount) : amount.toFixed(2);
  if (!currency || /\d/.test(unit)) {
    return `${figure}${currency && ` ${currency}`}${unit && ` per ${unit}`}`;
  }
  return `${figure} ${currency}${unit && `/${unit}`}`;
}
