import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  LRV_TOLERANCE,
  SHEEN_LEVELS,
  TYPICAL_DIFFERENCE,
  axisCovariance,
  doubtInWords,
  isotropicCovariance,
  lrvContradiction,
  parseDecimal,
  parseFinishKind,
  parsePrice,
  parseSheen,
  parseUnit,
  priceInWords,
  sheenLevel,
} from '#lib/finish/index.ts';
import { covarianceRoot } from '#lib/finish/evidence.ts';
import { fillNormals } from '#lib/finish/random.ts';

function drawn(count: number, seed: number, stream: string): [Float64Array, Float64Array, Float64Array] {
  const out: [Float64Array, Float64Array, Float64Array] = [
    new Float64Array(count),
    new Float64Array(count),
    new Float64Array(count),
  ];
  fillNormals(seed, stream, out);
  return out;
}

describe('doubt', () => {
  test('of a source is that source’s mean difference', () => {
    // Mean length of seeded normal vectors with this covariance.
    const root = covarianceRoot(isotropicCovariance(2));
    const [x, y, z] = drawn(20_000, 1, 'test');
    let sum = 0;
    for (let i = 0; i < 20_000; i++) sum += Math.hypot(root[0] * x[i], root[4] * y[i], root[8] * z[i]);
    // Standard error 0.006; ΔE76 and ΔE00 agree for neutrals up to the stretch of a*.
    expect(sum / 20_000).toBeCloseTo(2, 1);
  });

  test('has words that grow with it', () => {
    const words = Object.values(TYPICAL_DIFFERENCE)
      .toSorted((a, b) => a - b)
      .map((difference) => doubtInWords(isotropicCovariance(difference)));
    expect(words[0]).toBe('measured');
    expect(doubtInWords(axisCovariance(1, 12, 12))).toBe('hardly known');
    expect(new Set(words).size).toBeGreaterThan(2);
  });

  test('that no source can have is refused', () => {
    expect(() => isotropicCovariance(-1)).toThrow('Expected a mean difference of 0 or more, got -1');
    expect(() => covarianceRoot([1, 2])).toThrow(RangeError);
  });

  test('root times its transpose is the covariance', () => {
    const entry = fc.double({ min: -3, max: 3, noNaN: true });
    fc.assert(
      fc.property(fc.array(entry, { minLength: 6, maxLength: 6 }), ([a, b, c, d, e, f]) => {
        const m = [
          [a, 0, 0],
          [b, c, 0],
          [d, e, f],
        ];
        const covariance = m.flatMap((row) =>
          m.map((column) => row.reduce((sum, value, k) => sum + value * column[k], 0)),
        );
        const r = covarianceRoot(covariance);
        for (let i = 0; i < 3; i++) {
          for (let j = 0; j < 3; j++) {
            const back = r[i * 3] * r[j * 3] + r[i * 3 + 1] * r[j * 3 + 1] + r[i * 3 + 2] * r[j * 3 + 2];
            expect(Math.abs(back - covariance[i * 3 + j])).toBeLessThan(1e-4);
          }
        }
      }),
    );
  });
});

describe('seeded normals', () => {
  test('are standard normal: mean, variance and tails', () => {
    const n = 100_000;
    const [values] = drawn(n, 42, 'any');
    let [sum, squares, beyond] = [0, 0, 0];
    for (const z of values) {
      sum += z;
      squares += z * z;
      if (Math.abs(z) > 1.96) beyond++;
    }
    // Four standard errors each.
    expect(Math.abs(sum / n)).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(squares / n - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
    expect(Math.abs(beyond / n - 0.05)).toBeLessThan(4 * Math.sqrt((0.05 * 0.95) / n));
  });

  test('of different streams and seeds are unrelated, of the same the same', () => {
    const take = (seed: number, stream: string) => Array.from(drawn(5000, seed, stream)[0]);
    expect(take(1, 'a')).toEqual(take(1, 'a'));
    for (const other of [take(1, 'b'), take(2, 'a')]) {
      const correlation = take(1, 'a').reduce((sum, value, i) => sum + value * other[i], 0) / 5000;
      expect(Math.abs(correlation)).toBeLessThan(4 / Math.sqrt(5000));
    }
  });
});

describe('a published LRV', () => {
  test('that agrees with the colour within the tolerance is left alone', () => {
    // L* 62 is Y 30.3 (ISO/CIE 11664-4: 100 ((62 + 16) / 116)³ = 30.40).
    const lab = { L: 62, a: -9, b: 11 };
    expect(lrvContradiction(31, lab)).toBeNull();
    expect(lrvContradiction(35, lab)).toBeNull();
  });

  test('that contradicts the colour is pointed out with both numbers', () => {
    const found = lrvContradiction(45, { L: 62, a: -9, b: 11 })!;
    expect(found.fromColour).toBeCloseTo(30.4, 1);
    expect(found.difference).toBeCloseTo(14.6, 1);
    expect(found.words).toBe(
      'The published LRV of 45 and the colour (LRV 30) contradict each other: the colour is darker than the number says. Look at a painted sample.',
    );
    expect(lrvContradiction(20, { L: 62, a: -9, b: 11 })!.words).toMatch(/lighter than the number says/);
  });

  test('is tolerated by its points and share exactly', () => {
    const edge = LRV_TOLERANCE.points + LRV_TOLERANCE.share * 50;
    expect(lrvContradiction(50, 50 - edge + 1e-9)).toBeNull();
    expect(lrvContradiction(50, 50 - edge - 1e-9)).not.toBeNull();
    expect(() => lrvContradiction(120, 50)).toThrow('Expected a published LRV in [0, 100], got 120');
  });
});

describe('trade words', () => {
  test('for sheen are read in their spellings and ordered from dull to shiny', () => {
    expect(
      ['Matte', 'EGGSHELL', 'semi gloss', 'Semi-Gloss', 'dead flat', 'High gloss'].map(parseSheen),
    ).toEqual([...['matt', 'eggshell', 'semi-gloss', 'semi-gloss', 'flat', 'gloss']]);
    expect(parseSheen('sparkling')).toBeNull();
    expect(parseSheen('constructor')).toBeNull();
    const sixty = SHEEN_LEVELS.filter(({ gloss }) => gloss.angle === 60);
    sixty.slice(1).forEach(({ gloss }, i) => expect(gloss.from).toBeGreaterThanOrEqual(sixty[i].gloss.to));
    expect(sheenLevel('satin').gloss).toEqual({ from: 20, to: 35, angle: 60 });
  });

  test('for kinds of finish are read', () => {
    expect(
      ['Paint', 'tiles', 'marble slab', 'oak', 'brushed brass', 'wool rug', 'jelly'].map(parseFinishKind),
    ).toEqual([...['paint', 'tile', 'stone', 'wood', 'metal', 'textile', null]]);
  });
});

describe('prices', () => {
  test('are read as suppliers write them', () => {
    const cases: [string, string][] = [
      ['48,50 €/l', '48.50 EUR/l'],
      ['EUR 52 per m2', '52 EUR/m²'],
      ['£31', '31 GBP'],
      ['1.234,50 EUR', '1234.50 EUR'],
      ['USD 1,200.00/slab', '1200 USD/slab'],
      ['$4.5 / each', '4.50 USD/piece'],
      ['12', '12'],
    ];
    for (const [text, words] of cases) expect(priceInWords(parsePrice(text)!), text).toBe(words);
    for (const text of ['', 'abc', '-3', 'about 12 or so EUR', '12 EUR USD'])
      expect(parsePrice(text), text).toBeNull();
  });

  test('come back from their words', () => {
    const currency = fc.constantFrom('EUR', 'GBP', 'USD', '');
    const unit = fc.constantFrom('l', 'm²', 'piece', 'slab', '');
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1_000_000 }), currency, unit, (cents, c, u) => {
        const price = { amount: cents / 100, currency: c, unit: u };
        expect(parsePrice(priceInWords(price))).toEqual(price);
      }),
    );
  });

  test('have units in one spelling', () => {
    expect(['Litre', 'sqm', 'M2', 'pcs', 'bucket'].map(parseUnit)).toEqual([
      'l',
      'm²',
      'm²',
      'piece',
      'bucket',
    ]);
  });

  test('and other decimals are read with point or comma', () => {
    const cases: [string, number | null][] = [
      ['62,4', 62.4],
      ['62.4', 62.4],
      ['-9', -9],
      ['−9,1', -9.1],
      ['1 200', 1200],
      ['1.234.567', 1234567],
      ['1,234,567.8', 1234567.8],
      ['.5', 0.5],
      ['1,2,3', null],
      ['', null],
      ['1e999', null],
      ['12a', null],
    ];
    for (const [text, value] of cases) expect(parseDecimal(text), text).toBe(value);
  });
});
