import { differenceCie94, differenceCiede2000, differenceCmc } from 'culori';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  CIE94_TEXTILES,
  deltaE2000,
  deltaE2000Components,
  deltaE2000Many,
  deltaE76,
  deltaE76Many,
  deltaE94,
  deltaE94Many,
  deltaECmc,
  deltaECmcMany,
  labToLch,
  lchToLab,
} from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { RUNS, half, lab, readTable, vectors } from './published.ts';

const pairs = readTable('sharma2005_ciede2000.csv').map((row) => ({
  pair: Number(row.pair),
  reference: { L: Number(row.L1), a: Number(row.a1), b: Number(row.b1) },
  sample: { L: Number(row.L2), a: Number(row.a2), b: Number(row.b2) },
  published: Number(row.dE00),
}));

const anyLab: fc.Arbitrary<Lab> = fc.record({
  L: fc.double({ min: 0, max: 100, noNaN: true }),
  a: fc.double({ min: -128, max: 128, noNaN: true }),
  b: fc.double({ min: -128, max: 128, noNaN: true }),
});

const formulas: [string, (reference: Lab, sample: Lab) => number][] = [
  ['CIEDE2000', deltaE2000],
  ['CIE94', deltaE94],
  ['CMC(2:1)', (reference, sample) => deltaECmc(reference, sample, { l: 2, c: 1 })],
  ['CIE76', deltaE76],
];

describe('CIEDE2000 against Sharma, Wu and Dalal 2005, table 1', () => {
  test('the table is complete', () => {
    expect(pairs).toHaveLength(34);
  });

  test.each(pairs)('pair $pair gives the printed digits both ways', ({ reference, sample, published }) => {
    expect(Math.abs(deltaE2000(reference, sample) - published)).toBeLessThanOrEqual(half(4));
    expect(Math.abs(deltaE2000(sample, reference) - published)).toBeLessThanOrEqual(half(4));
  });

  test('components add up to the total and change only their signs when the pair is turned round', () => {
    for (const { reference, sample } of pairs) {
      const there = deltaE2000Components(reference, sample);
      const back = deltaE2000Components(sample, reference);
      expect(Math.hypot(there.dL, there.dC, there.dH)).toBeCloseTo(there.total, 12);
      expect(there.dL + back.dL).toBeCloseTo(0, 12);
      expect(there.dC + back.dC).toBeCloseTo(0, 12);
      expect(there.dH + back.dH).toBeCloseTo(0, 12);
    }
  });
});

describe('vectors of colour-science 0.4.6', () => {
  // The Lab inputs are rounded to 8 decimals, which moves the large differences by up to 1e-7 and more than the printed digit.
  const tolerance = 2e-7;

  test.each(vectors.pairs)('$reference and $sample', (pair) => {
    const reference = lab(pair.Lab_reference);
    const sample = lab(pair.Lab_sample);
    const found = {
      dE76: deltaE76(reference, sample),
      dE94: deltaE94(reference, sample),
      dE94Textiles: deltaE94(reference, sample, CIE94_TEXTILES),
      dE00: deltaE2000(reference, sample),
      cmc21: deltaECmc(reference, sample, { l: 2, c: 1 }),
      cmc11: deltaECmc(reference, sample, { l: 1, c: 1 }),
    };
    expect(Math.abs(found.dE76 - pair.dE76)).toBeLessThanOrEqual(tolerance);
    expect(Math.abs(found.dE94 - pair.dE94_graphic_arts)).toBeLessThanOrEqual(tolerance);
    expect(Math.abs(found.dE94Textiles - pair.dE94_textiles)).toBeLessThanOrEqual(tolerance);
    expect(Math.abs(found.dE00 - pair.dE00)).toBeLessThanOrEqual(tolerance);
    expect(Math.abs(found.cmc21 - pair.CMC_2_1)).toBeLessThanOrEqual(tolerance);
    expect(Math.abs(found.cmc11 - pair.CMC_1_1)).toBeLessThanOrEqual(tolerance);
  });
});

describe('another implementation (culori) on random colours', () => {
  const asCulori = ({ L, a, b }: Lab) => ({ mode: 'lab65' as const, l: L, a, b });
  const hueGap = (reference: Lab, sample: Lab) =>
    Math.abs(180 - Math.abs(labToLch(reference).h - labToLch(sample).h));

  test('CIEDE2000 agrees away from opposite hues', () => {
    const theirs = differenceCiede2000();
    fc.assert(
      fc.property(anyLab, anyLab, (reference, sample) => {
        // At opposite hues the formula jumps, and the last bit decides on which side.
        fc.pre(hueGap(reference, sample) > 1 && Math.hypot(reference.a, reference.b) > 1e-3);
        fc.pre(Math.hypot(sample.a, sample.b) > 1e-3);
        expect(deltaE2000(reference, sample)).toBeCloseTo(theirs(asCulori(reference), asCulori(sample)), 8);
      }),
      RUNS,
    );
  });

  test('CIE94 and CMC(1:1) agree', () => {
    const their94 = differenceCie94();
    const theirCmc = differenceCmc();
    fc.assert(
      fc.property(anyLab, anyLab, (reference, sample) => {
        expect(deltaE94(reference, sample)).toBeCloseTo(their94(asCulori(reference), asCulori(sample)), 8);
        expect(deltaECmc(reference, sample, { l: 1, c: 1 })).toBeCloseTo(
          theirCmc(asCulori(reference), asCulori(sample)),
          8,
        );
      }),
      RUNS,
    );
  });
});

describe('properties of colour differences', () => {
  test.each(formulas)('%s is 0 between equal colours and above 0 between different ones', (_, formula) => {
    fc.assert(
      fc.property(anyLab, anyLab, (reference, sample) => {
        expect(formula(reference, reference)).toBe(0);
        fc.pre(deltaE76(reference, sample) > 1e-6);
        expect(formula(reference, sample)).toBeGreaterThan(0);
      }),
      RUNS,
    );
  });

  test('CIEDE2000 and CIE76 are symmetric', () => {
    fc.assert(
      fc.property(anyLab, anyLab, (reference, sample) => {
        expect(deltaE2000(reference, sample)).toBeCloseTo(deltaE2000(sample, reference), 10);
        expect(deltaE76(reference, sample)).toBe(deltaE76(sample, reference));
      }),
      RUNS,
    );
  });

  test('CIE94 and CMC are not symmetric: the reference sets the weights', () => {
    const grey = { L: 50, a: 0, b: 0 };
    const red = { L: 50, a: 60, b: 30 };
    expect(deltaE94(grey, red)).toBeGreaterThan(2 * deltaE94(red, grey));
    const weights = { l: 2, c: 1 };
    expect(deltaECmc(grey, red, weights)).toBeGreaterThan(2 * deltaECmc(red, grey, weights));
  });

  test.each(formulas)('%s grows with a growing step in lightness', (_, formula) => {
    fc.assert(
      fc.property(anyLab, fc.double({ min: 0.01, max: 20, noNaN: true }), (reference, step) => {
        const near = formula(reference, { ...reference, L: reference.L + step });
        const far = formula(reference, { ...reference, L: reference.L + 1.5 * step });
        expect(far).toBeGreaterThan(near);
      }),
      RUNS,
    );
  });

  test('a hue of 0 is no edge: turning a pair across it changes CIEDE2000 smoothly', () => {
    const turned = (degrees: number) =>
      deltaE2000(lchToLab({ L: 50, C: 40, h: degrees - 10 }), lchToLab({ L: 55, C: 45, h: degrees + 10 }));
    for (let degrees = -12; degrees < 12; degrees += 0.5) {
      expect(Math.abs(turned(degrees + 0.01) - turned(degrees))).toBeLessThan(0.005);
    }
  });

  test('components of CIEDE2000 add up and have the sign of the change', () => {
    fc.assert(
      fc.property(anyLab, anyLab, (reference, sample) => {
        const { dL, dC, dH, total } = deltaE2000Components(reference, sample);
        // Squaring and adding again costs a few digits where the parts nearly cancel.
        expect(Math.hypot(dL, dC, dH)).toBeCloseTo(total, 8);
        expect(Math.sign(dL)).toBe(Math.sign(sample.L - reference.L));
      }),
      RUNS,
    );
    const beige = { L: 70, a: 3, b: 15 };
    expect(deltaE2000Components(beige, { L: 70, a: 5, b: 25 }).dC).toBeGreaterThan(5);
    expect(deltaE2000Components(beige, { L: 70, a: 1.5, b: 7.5 }).dC).toBeLessThan(-4);
    // From orange-beige towards yellow the hue angle rises, towards red it falls.
    expect(deltaE2000Components(beige, { L: 70, a: 0, b: 15.3 }).dH).toBeGreaterThan(1);
    expect(deltaE2000Components(beige, { L: 70, a: 7, b: 13.5 }).dH).toBeLessThan(-1);
  });

  test('in the blues a pure chroma step stays mostly a chroma difference', () => {
    const { dC, dH } = deltaE2000Components(
      lchToLab({ L: 40, C: 40, h: 275 }),
      lchToLab({ L: 40, C: 45, h: 275 }),
    );
    expect(dC).toBeGreaterThan(0);
    expect(Math.abs(dH)).toBeLessThan(0.6 * dC);
  });

  test('neutrals, black and white give finite differences', () => {
    const ends = [0, 50, 100].map((L) => ({ L, a: 0, b: 0 }));
    for (const [, formula] of formulas) {
      for (const reference of ends) {
        for (const sample of ends) expect(Number.isFinite(formula(reference, sample))).toBe(true);
      }
    }
  });

  test('numbers that are not finite are refused by name', () => {
    const grey = { L: 50, a: 0, b: 0 };
    expect(() => deltaE2000(grey, { L: 50, a: NaN, b: 0 })).toThrow(
      'Expected a finite a of the sample, got NaN',
    );
    expect(() => deltaE76({ L: Infinity, a: 0, b: 0 }, grey)).toThrow(RangeError);
    expect(() => deltaECmc(grey, grey, { l: 0, c: 1 })).toThrow('Expected CMC weights above 0, got 0:1');
  });
});

describe('many at once', () => {
  const floats = (labs: Lab[]) => Float32Array.from(labs.flatMap(({ L, a, b }) => [L, a, b]));
  const at = (array: Float32Array, i: number): Lab => ({
    L: array[3 * i],
    a: array[3 * i + 1],
    b: array[3 * i + 2],
  });
  const kernels: [string, typeof deltaE2000Many, (reference: Lab, sample: Lab) => number][] = [
    ['CIEDE2000', deltaE2000Many, deltaE2000],
    ['CIE76', deltaE76Many, deltaE76],
    ['CIE94', deltaE94Many, deltaE94],
    ['CMC(2:1)', deltaECmcMany, (reference, sample) => deltaECmc(reference, sample, { l: 2, c: 1 })],
  ];

  test.each(kernels)(
    '%s of many equals one by one, pairwise and against one reference',
    (_, many, single) => {
      fc.assert(
        fc.property(fc.array(fc.tuple(anyLab, anyLab), { minLength: 1, maxLength: 30 }), (list) => {
          const references = floats(list.map(([reference]) => reference));
          const samples = floats(list.map(([, sample]) => sample));
          const pairwise = many(references, samples);
          const first = many(references.subarray(0, 3), samples);
          for (let i = 0; i < list.length; i++) {
            expect(pairwise[i]).toBe(Math.fround(single(at(references, i), at(samples, i))));
            expect(first[i]).toBe(Math.fround(single(at(references, 0), at(samples, i))));
          }
        }),
        { ...RUNS, numRuns: 50 },
      );
    },
  );

  test('writes into the given array and refuses lengths that do not fit', () => {
    const out = new Float32Array(2);
    const samples = new Float32Array([50, 0, 0, 60, 0, 0]);
    const reference = new Float32Array([50, 0, 0]);
    expect(deltaE2000Many(reference, samples, out)).toBe(out);
    expect(out[0]).toBe(0);
    expect(out[1]).toBeGreaterThan(0);
    expect(() => deltaE2000Many(reference, new Float32Array(4))).toThrow('Expected samples of stride 3');
    expect(() => deltaE2000Many(new Float32Array(9), samples)).toThrow(RangeError);
    expect(() => deltaE2000Many(reference, samples, new Float32Array(1))).toThrow('Expected room for 2');
  });
});
