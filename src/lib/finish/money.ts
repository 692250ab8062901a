/** Currencies whose smallest unit is not a hundredth. Source: ISO 4217, list one (minor units); all others have two decimals. */
const DIGITS: Readonly<Record<string, number>> = {
  ...digits(0, 'BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF'),
  ...digits(3, 'BHD IQD JOD KWD LYD OMR TND'),
};

function digits(count: number, codes: string): Record<string, number> {
  return Object.fromEntries(codes.split(' ').map((code) => [code, count]));
}

/** Decimals of a currency (ISO 4217 code); 2 for one that is not known or not said. */
export function currencyDigits(currency: string): number {
  return Object.hasOwn(DIGITS, currency) ? DIGITS[currency] : 2;
}

/** A tax on what is bought. */
export interface Tax {
  /** What it is called: 'VAT', 'sales tax'. */
  readonly name: string;
  /** Percent of the net amount, 0-100. */
  readonly rate: number;
  /** Whether prices are said with it. */
  readonly included: boolean;
}

/** An amount in smallest units of its currency, without, of and with tax. */
export interface Taxed {
  readonly net: number;
  readonly tax: number;
  readonly gross: number;
}

/** A decimal number exactly as it is written: `units` / 10^`scale`. */
interface Decimal {
  readonly units: bigint;
  readonly scale: number;
}

/** The decimal a number prints as: 48.1 is 481/10, not the binary fraction beside it. */
function decimal(value: number): Decimal {
  if (!Number.isFinite(value)) throw new RangeError(`Expected a finite amount, got ${value}`);
  const [, sign, whole, fraction = '', power = '0'] =
    /^(-?)(\d+)(?:\.(\d+))?(?:e([+-]\d+))?$/.exec(String(value)) ?? [];
  const scale = fraction.length - Number(power);
  const units = BigInt(`${sign}${whole}${fraction}`);
  return scale >= 0 ? { units, scale } : { units: units * 10n ** BigInt(-scale), scale: 0 };
}

/** Nearest whole number to a fraction, a half away from zero, as shops round. */
function rounded(top: bigint, bottom: bigint): number {
  const size = top < 0n ? -top : top;
  const nearest = (2n * size + bottom) / (2n * bottom);
  return Number(top < 0n ? -nearest : nearest);
}

/**
 * An amount of money as a whole number of smallest units (cents, yen): 48.5 EUR is 4850. A half is rounded away from zero.
 * Throws RangeError where the amount is not finite.
 */
export function minorUnits(amount: number, currency: string): number {
  return pricedLine({ price: amount, count: 1, discount: 0 }, currency);
}

/**
 * What a line of an order costs, in smallest units: count times price less a discount in percent, exact, and rounded once,
 * for the line as a whole (a half away from zero). `count` may be a measure such as 4.25 l.
 */
export function pricedLine(
  { price, count, discount }: { readonly price: number; readonly count: number; readonly discount: number },
  currency: string,
): number {
  const [p, n, d] = [decimal(price), decimal(count), decimal(discount)];
  const kept = 100n * 10n ** BigInt(d.scale) - d.units;
  const top = p.units * n.units * kept * 10n ** BigInt(currencyDigits(currency));
  return rounded(top, 100n * 10n ** BigInt(p.scale + n.scale + d.scale));
}

/**
 * Net, tax and gross of an amount in smallest units; the tax is rounded to a smallest unit, a half away from zero, and the
 * three add up. Without a tax all of it is net.
 */
export function taxed(minor: number, tax: Tax | null): Taxed {
  if (tax === null) return { net: minor, tax: 0, gross: minor };
  const rate = decimal(tax.rate);
  const whole = 100n * 10n ** BigInt(rate.scale);
  const part = rounded(BigInt(minor) * rate.units, tax.included ? whole + rate.units : whole);
  return tax.included
    ? { net: minor - part, tax: part, gross: minor }
    : { net: minor, tax: part, gross: minor + part };
}

/** The amount as a number of the currency: 4850 is 48.5 EUR. For a spreadsheet; sums are made of smallest units. */
export function amountOf(minor: number, currency: string): number {
  return Number(digitsOf(minor, currency));
}

/** '48.50 EUR', '5200 JPY'. */
export function moneyWords(minor: number, currency: string): string {
  return `${digitsOf(minor, currency)}${currency && ` ${currency}`}`;
}

function digitsOf(minor: number, currency: string): string {
  const places = currencyDigits(currency);
  const figures = String(Math.abs(minor)).padStart(places + 1, '0');
  const whole = figures.slice(0, figures.length - places);
  return `${minor < 0 ? '-' : ''}${whole}${places > 0 ? `.${figures.slice(-places)}` : ''}`;
}

/**
 * An amount in smallest units shared out by weights so that the shares add up to it: what rounding leaves goes to those that
 * lost most by it. Equal shares where all weights are 0.
 */
export function sharedOut(minor: number, weights: readonly number[]): number[] {
  const sum = weights.reduce((total, weight) => total + weight, 0);
  const exact = weights.map((weight) => minor * (sum > 0 ? weight / sum : 1 / weights.length));
  const shares = exact.map(Math.floor);
  let left = minor - shares.reduce((total, share) => total + share, 0);
  const order = exact
    .map((_, index) => index)
    .sort((a, b) => exact[b] - shares[b] - (exact[a] - shares[a]) || a - b);
  for (let k = 0; left > 0; k = (k + 1) % order.length, left--) shares[order[k]] += 1;
  return shares;
}
