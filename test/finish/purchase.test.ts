import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { amountOf, minorUnits, moneyWords, pricedLine, sharedOut, taxed } from '#lib/finish/money.ts';
import { packProblems, purchase } from '#lib/finish/purchase.ts';
import type { Pack } from '#lib/finish/purchase.ts';

const pack = (size: number, price: number | null, discounts: Pack['discounts'] = []): Pack => ({
  name: `can of ${size} l`,
  size,
  unit: 'l',
  price,
  discounts,
});
const buy = (need: number, packs: readonly Pack[]) =>
  purchase({ need, packs, currency: 'EUR', system: 'metric', path: 'packs' });

/** Every count of every pack up to what covers the need alone or reaches its largest discount. */
function tried(need: number, packs: readonly Pack[]): { cost: number; left: number; packs: number } {
  let best = { cost: Infinity, left: Infinity, packs: Infinity };
  const visit = (k: number, covered: number, cost: number, count: number) => {
    if (k === packs.length) {
      if (covered < need - 1e-9) return;
      const left = covered - need;
      const better =
        cost !== best.cost
          ? cost < best.cost
          : Math.abs(left - best.left) > 1e-9
            ? left < best.left
            : count < best.packs;
      if (better) best = { cost, left, packs: count };
      return;
    }
    const { size, price, discounts } = packs[k];
    const most = Math.max(Math.ceil(need / size), ...discounts.map(({ from }) => from));
    for (let n = 0; n <= most; n++) {
      const reached = discounts.filter(({ from }) => from <= n).sort((a, b) => a.from - b.from);
      const discount = reached.at(-1)?.percent ?? 0;
      visit(
        k + 1,
        covered + n * size,
        cost + pricedLine({ price: price ?? 0, count: n, discount }, 'EUR'),
        count + n,
      );
    }
  };
  visit(0, 0, 0, 0);
  return best;
}

describe('packs that cover a need', () => {
  test('greedy by size, and greedy by unit price, would both pay more', () => {
    // 6 l: the largest first takes 5 + 1 (66.00), the cheapest litre (9.60, of 5 l) likewise; three of 2 l are 60.00. Sums by hand.
    const best = buy(6, [pack(5, 48), pack(2, 20), pack(1, 18)]);
    expect(best?.cost).toBe(6000);
    expect(best?.packs.map(({ pack: { size }, count }) => [size, count])).toEqual([[2, 3]]);
    expect(best?.words).toBe(
      '3 × can of 2 l: 6.00 l (1.59 US gal) for the 6.00 l (1.59 US gal) needed, 60.00 EUR.',
    );
  });

  test('a discount is reached for where that costs less', () => {
    // Nine at 10.00 are 90.00, ten with 20 % off are 80.00.
    const best = buy(9, [pack(1, 10, [{ from: 10, percent: 20 }])]);
    expect(best).toMatchObject({ cost: 8000, bought: 10, left: 1 });
  });

  test('no choice of packs is cheaper, leaves less over at that cost, or is fewer then', () => {
    const packs = fc.uniqueArray(
      fc.record({
        size: fc.constantFrom(0.5, 0.75, 1, 2.5, 3.785411784, 5),
        price: fc.integer({ min: 0, max: 6000 }).map((cents) => cents / 100),
        discounts: fc.array(
          fc.record({ from: fc.integer({ min: 2, max: 7 }), percent: fc.constantFrom(5, 12.5, 33) }),
          { maxLength: 2 },
        ),
      }),
      { minLength: 1, maxLength: 3, selector: ({ size }) => size },
    );
    fc.assert(
      fc.property(packs, fc.integer({ min: 1, max: 90 }), (drawn, tenths) => {
        const kinds = drawn.map(({ size, price, discounts }) =>
          pack(
            size,
            price,
            discounts.filter(({ from }, k) => discounts.findIndex((one) => one.from === from) === k),
          ),
        );
        const need = tenths / 10;
        const best = buy(need, kinds)!;
        const brute = tried(need, kinds);
        expect(best.cost).toBe(brute.cost);
        expect(best.left).toBeCloseTo(Math.max(0, brute.left), 9);
        expect(best.packs.reduce((sum, { count }) => sum + count, 0)).toBe(brute.packs);
      }),
      { numRuns: 400 },
    );
  });

  test('without any price least is left over, and of packs with and without one only the priced are taken', () => {
    expect(buy(4.6, [pack(1, null), pack(2.5, null)])).toMatchObject({ cost: null, bought: 5 });
    expect(buy(4.6, [pack(1, null), pack(2.5, null)])?.packs).toHaveLength(1);
    const mixed = buy(4.6, [pack(1, 15), pack(2.5, null)]);
    expect(mixed).toMatchObject({ cost: 7500, leftOut: ['can of 2.5 l has no price'] });
  });

  test('a pack that cannot be is named by its field and not bought; the others are', () => {
    const packs = [pack(0, 5), pack(2.5, -1), pack(1, 10, [{ from: 0, percent: 120 }]), pack(1, 12)];
    expect(packProblems(packs, 'packs').map(({ path }) => path)).toEqual([
      'packs[0].size',
      'packs[1].price',
      'packs[2].discounts[0].from',
      'packs[2].discounts[0].percent',
    ]);
    expect(buy(2, packs)).toMatchObject({ cost: 2400, bought: 2 });
    expect(buy(2, packs)?.leftOut).toHaveLength(3);
    expect(buy(2, [pack(0, 5)])).toBeNull();
    expect(buy(0, [pack(1, 5)])).toMatchObject({ cost: 0, bought: 0, words: 'Nothing to buy.' });
    expect(() => buy(-1, [pack(1, 5)])).toThrow(RangeError);
  });

  test('thousands of pieces are packed while one waits', () => {
    const pieces = [1, 10, 25, 100].map((size) =>
      pack(size, [0.31, 2.9, 7, 27][[1, 10, 25, 100].indexOf(size)]),
    );
    const before = performance.now();
    const best = buy(9_999, pieces)!;
    expect(performance.now() - before).toBeLessThan(2000);
    expect(best.bought).toBeGreaterThanOrEqual(9_999);
    // 99 hundreds and the rest at 27 cents a piece is a bound from below; 100 hundreds one from above.
    expect(best.cost).toBeGreaterThanOrEqual(269_973);
    expect(best.cost).toBeLessThanOrEqual(270_000);
  });
});

describe('money', () => {
  test('has the decimals of its currency (ISO 4217: JPY none, EUR two, KWD three)', () => {
    expect(minorUnits(48.5, 'EUR')).toBe(4850);
    expect(minorUnits(48.5, 'JPY')).toBe(49);
    expect(minorUnits(48.5, 'KWD')).toBe(48500);
    expect([
      moneyWords(4850, 'EUR'),
      moneyWords(49, 'JPY'),
      moneyWords(5, ''),
      moneyWords(-5, 'EUR'),
    ]).toEqual(['48.50 EUR', '49 JPY', '0.05', '-0.05 EUR']);
  });

  test('does not drift: what binary fractions lose is not lost', () => {
    // 1.005 × 100 is 100.49999999999999 in binary, 100.5 in decimal, and rounds to 101.
    expect(minorUnits(1.005, 'EUR')).toBe(101);
    expect(pricedLine({ price: 0.1, count: 3, discount: 0 }, 'EUR')).toBe(30);
    // 3 × 0.335 = 1.005: rounded once for the line, not 3 × 0.34.
    expect(pricedLine({ price: 0.335, count: 3, discount: 0 }, 'EUR')).toBe(101);
    expect(pricedLine({ price: 19.99, count: 7, discount: 12.5 }, 'EUR')).toBe(12244);
  });

  test('net, tax and gross add up, whether prices have the tax in or not', () => {
    // By hand: 19 % of 100.00 is 19.00; of 119.00 with it in, 19.00; 8.875 % of 45.10 is 4.002625.
    expect(taxed(10000, { name: 'VAT', rate: 19, included: false })).toEqual({
      net: 10000,
      tax: 1900,
      gross: 11900,
    });
    expect(taxed(11900, { name: 'VAT', rate: 19, included: true })).toEqual({
      net: 10000,
      tax: 1900,
      gross: 11900,
    });
    expect(taxed(4510, { name: 'sales tax', rate: 8.875, included: false }).tax).toBe(400);
    expect(taxed(4510, null)).toEqual({ net: 4510, tax: 0, gross: 4510 });
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 1e8 }),
        fc.integer({ min: 0, max: 30_000 }),
        fc.boolean(),
        (minor, rate, included) => {
          const { net, tax, gross } = taxed(minor, { name: '', rate: rate / 1000, included });
          expect(net + tax).toBe(gross);
          expect(included ? gross : net).toBe(minor);
          expect(Math.abs(tax - (net * rate) / 100_000)).toBeLessThanOrEqual(1);
        },
      ),
    );
  });

  test('shares add up to the whole, and no share is off by a whole unit', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 1e7 }),
        fc.array(fc.integer({ min: 0, max: 1000 }), { minLength: 1, maxLength: 9 }),
        (minor, weights) => {
          const shares = sharedOut(minor, weights);
          expect(shares.reduce((sum, share) => sum + share, 0)).toBe(minor);
          const all = weights.reduce((sum, weight) => sum + weight, 0);
          if (all > 0)
            shares.forEach((share, k) =>
              expect(Math.abs(share - (minor * weights[k]) / all)).toBeLessThan(1),
            );
        },
      ),
    );
  });

  test('an amount comes back from its smallest units', () => {
    for (const [amount, currency] of [
      [48.5, 'EUR'],
      [1200, 'JPY'],
      [0.125, 'KWD'],
    ] as const)
      expect(amountOf(minorUnits(amount, currency), currency)).toBe(amount);
  });
});
