import { USUAL_COATS, USUAL_SPREAD } from './coats.ts';
import { parseArea, parseVolume } from './units.ts';
import type { Price } from './price.ts';

/** Part bought beyond the area for cutting and breakage. Common practice, no published source. */
export const USUAL_WASTE = 0.1;

/** What a whole surface costs, roughly. */
export interface RoughCost {
  readonly amount: number;
  /** What it was worked out from: '2 × 2.5 l for 2 coats', '4.4 m² with waste'. */
  readonly words: string;
}

/**
 * Roughly what a surface of `area` m² costs, in the price's currency: goods by area with `USUAL_WASTE`, paint by whole
 * tins for the usual coats at the cautious usual spread. A take-off from dimensions and a purchase of packs are truer; this
 * is enough to compare schemes. `null` without a price or an area, and for units that do not follow from an area (pieces,
 * packs, slabs, tins of a size that nobody says).
 * @throws RangeError for an area that is not positive.
 */
export function costOf(price: Price | null, area: number | null): RoughCost | null {
  if (!price || area === null) return null;
  if (!(area > 0) || !Number.isFinite(area)) throw new RangeError(`Expected an area above 0, got ${area}`);
  // 'l' and 'm²' alone are one of it; a number alone is nothing that can be bought by area or volume.
  const unit = /^\d/.test(price.unit.trim()) ? price.unit : `1 ${price.unit}`;
  if (!/\p{L}/u.test(unit)) return null;
  const goods = parseArea(unit, 'm²');
  if (!('error' in goods)) {
    const bought = area * (1 + USUAL_WASTE);
    return {
      amount: Math.round((100 * bought * price.amount) / goods.squareMetres) / 100,
      words: `${bought.toFixed(1)} m² with waste`,
    };
  }
  const tin = parseVolume(unit, 'l');
  if ('error' in tin) return null;
  const coats = USUAL_COATS['finish coat'];
  // The small step back keeps 0.1 + 0.2 from costing a tin.
  const need = (area * coats) / USUAL_SPREAD['finish coat'][0] / tin.litres;
  const tins = Math.max(1, Math.ceil(need - 1e-9));
  return { amount: tins * price.amount, words: `${tins} × ${unit} for ${coats} coats` };
}
