import type { Price } from './price.ts';
import type { Pack, Quantity, QuantityUnit } from './purchase.ts';
import { parseArea, parseLength, parseVolume } from './units.ts';

/** What one order is made of: which unit it is bought in, in which packs or at which price of a unit. */
export interface Terms {
  readonly unit: QuantityUnit | null;
  readonly packs: readonly Pack[];
  /** Price of one unit, where there are no packs. */
  readonly each: number | null;
  /** Why it has no price, or null. */
  readonly fault: string | null;
}

/** How a product is bought: packs with prices of their own, packs priced by the unit, or by the unit alone. */
export function termsOf(
  {
    packs,
    price,
    needs,
  }: { readonly packs: readonly Pack[]; readonly price: Price | null; readonly needs: readonly Quantity[] },
  currency: string,
): Terms {
  const foreign = price !== null && price.currency !== '' && price.currency !== currency;
  const fault = foreign ? `its price is in ${price.currency}, not ${currency}` : null;
  const usable = foreign || price === null ? null : price;
  if (packs.length > 0) {
    const { unit } = packs[0];
    const same = packs.filter((pack) => pack.unit === unit);
    const per = usable && quantityOfUnit(usable.unit);
    const whole =
      usable && same.length === 1 && /^(can|pack|box|piece|slab)$/.test(usable.unit) && per?.unit !== unit;
    const priced = same.map((pack) =>
      foreign
        ? { ...pack, price: null }
        : pack.price !== null || !usable
          ? pack
          : whole
            ? { ...pack, price: usable.amount }
            : per?.unit === unit
              ? { ...pack, price: (usable.amount / per.amount) * pack.size }
              : pack,
    );
    return { unit, packs: priced, each: null, fault };
  }
  const per = usable && quantityOfUnit(usable.unit);
  if (!usable) return { unit: needs[0]?.unit ?? null, packs: [], each: null, fault };
  if (!per)
    return {
      unit: needs[0]?.unit ?? null,
      packs: [],
      each: null,
      fault:
        usable.unit === ''
          ? 'its price does not say what it is for'
          : `a price per ${usable.unit} says nothing about ${needs[0]?.unit ?? 'its quantity'}`,
    };
  const counts = per.unit === 'piece' || per.unit === 'box' || per.unit === 'slab';
  // 'per 2.5 l' is a can; so is a piece, a box, a slab.
  if (counts || per.written)
    return {
      unit: per.unit,
      packs: [{ name: usable.unit, size: per.amount, unit: per.unit, price: usable.amount, discounts: [] }],
      each: null,
      fault,
    };
  return { unit: per.unit, packs: [], each: usable.amount / per.amount, fault };
}

/** How much of a quantity a price's unit is: 'l', '2.5 l', 'gal', 'm²', 'sq ft', 'piece'. Null where it is none. */
export function quantityOfUnit(text: string): (Quantity & { readonly written: boolean }) | null {
  const written = /^\d/.test(text);
  const measure = written ? text : `1 ${text}`;
  const counted = /^(\d+) (piece|box|slab)(?:e?s)?$/.exec(measure);
  if (counted && counted[1] !== '0')
    return { amount: Number(counted[1]), unit: counted[2] as QuantityUnit, written };
  const volume = parseVolume(measure, 'l');
  if (!('error' in volume)) return { amount: volume.litres, unit: 'l', written };
  const area = parseArea(measure, 'm²');
  if (!('error' in area)) return { amount: area.squareMetres, unit: 'm²', written };
  const length = parseLength(measure, 'm');
  return 'error' in length ? null : { amount: length.mm / 1000, unit: 'm', written };
}
