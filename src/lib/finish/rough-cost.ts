import { parseDecimal, parseUnit } from './price.ts';
import type { Price } from './price.ts';

/** Part bought beyond the area for cutting and breakage. Common practice, no published source. */
export const USUAL_WASTE = 0.1;

/** Coats of paint, and the area a litre covers once, m². Common practice, no published source; the tin says. */
export const USUAL_COATS = 2;
export const USUAL_SPREAD = 10;

const SQUARE_FOOT = 0.3048 ** 2;

/** Litres in a unit of volume; the gallon is the US liquid one of 231 cubic inches. */
const LITRES: Readonly<Record<string, number>> = {
  l: 1,
  litre: 1,
  litres: 1,
  liter: 1,
  liters: 1,
  ml: 0.001,
  gal: 3.785411784,
  gallon: 3.785411784,
  gallons: 3.785411784,
  quart: 0.946352946,
  qt: 0.946352946,
};

/** What a whole surface costs, roughly. */
export interface RoughCost {
  readonly amount: number;
  /** What it was worked out from: '2 tins of 2.5 l', '4.4 m² with waste'. */
  readonly words: string;
}

/**
 * Roughly what a surface of `area` m² costs, in the price's currency: goods by area with `USUAL_WASTE`, paint by whole
 * tins for `USUAL_COATS` coats at `USUAL_SPREAD`. A take-off from dimensions is truer; this is enough to compare schemes.
 * `null` without a price or an area, and for units that do not follow from an area (pieces, packs, slabs, tins of a
 * size that nobody says).
 * @throws RangeError for an area that is not positive.
 */
export function costOf(price: Price | null, area: number | null): RoughCost | null {
  if (!price || area === null) return null;
  if (!(area > 0) || !Number.isFinite(area)) throw new RangeError(`Expected an area above 0, got ${area}`);
  const perArea = areaOfUnit(price.unit);
  if (perArea !== null) {
    const bought = area * (1 + USUAL_WASTE);
    return { amount: (bought / perArea) * price.amount, words: `${bought.toFixed(1)} m² with waste` };
  }
  const litres = litresOfUnit(price.unit);
  if (litres === null) return null;
  // The small step back keeps 0.1 + 0.2 from costing a tin.
  const tins = Math.max(1, Math.ceil((area * USUAL_COATS) / USUAL_SPREAD / litres - 1e-9));
  return { amount: tins * price.amount, words: `${tins} × ${price.unit} for ${USUAL_COATS} coats` };
}

/** Square metres in a unit of area, or null for another unit. */
function areaOfUnit(unit: string): number | null {
  if (parseUnit(unit) === 'm²') return 1;
  return /^(sq\.? ?ft\.?|ft2|ft²|sqft|square f(oo|ee)t)$/i.test(unit.trim()) ? SQUARE_FOOT : null;
}

/** Litres in a tin that its unit names ('l', '2.5 l', '1 gal'), or null. */
function litresOfUnit(unit: string): number | null {
  const [, count, word] = /^([\d.,]*)\s*([a-z]+)$/i.exec(unit.trim()) ?? [];
  if (word === undefined || !Object.hasOwn(LITRES, word.toLowerCase())) return null;
  const number = count === '' ? 1 : parseDecimal(count);
  return number !== null && number > 0 ? number * LITRES[word.toLowerCase()] : null;
}
