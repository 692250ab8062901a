import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_10,
  WHITE_D65_10,
  illuminant,
  lightReflectanceValue,
  lrvDifference,
  lrvFromLab,
  michelsonContrast,
  spectrumToXyz,
  wcagContrastRatio,
  weberContrast,
  xyzToLab,
} from '#lib/colour/index.ts';
import { RUNS, half, readTable, references, vectors } from './published.ts';

const hexToRgb = (hex: string) => {
  const [r, g, b] = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
  return { r, g, b };
};

describe('light reflectance value', () => {
  const table = readTable('target24_reflectance.csv');
  const patches = Array.from({ length: 24 }, (_, i) =>
    Float64Array.from(table, (row) => Number(row[`patch_${String(i + 1).padStart(2, '0')}`])),
  );

  test('the ends of the scale', () => {
    expect(lightReflectanceValue(new Float64Array(81))).toBe(0);
    expect(lightReflectanceValue(new Float64Array(81).fill(1))).toBeCloseTo(100, 10);
    expect(lightReflectanceValue(new Float64Array(81).fill(0.42))).toBeCloseTo(42, 10);
    expect(lrvFromLab({ L: 100, a: 5, b: 5 })).toBeCloseTo(100, 12);
    expect(lrvFromLab({ L: 0, a: 0, b: 0 })).toBe(0);
  });

  test('is Y of D65 and 10 degrees for the 24-patch target (colour-science 0.4.6)', () => {
    patches.forEach((patch, i) => {
      expect(
        Math.abs(lightReflectanceValue(patch) - vectors.target24.D65_10deg.XYZ[i][1]),
      ).toBeLessThanOrEqual(half(6));
    });
  });

  test('from the spectrum and from its Lab it is the same', () => {
    for (const patch of patches) {
      const xyz = spectrumToXyz(patch, { illuminant: illuminant('D65'), observer: OBSERVER_10 });
      expect(lrvFromLab(xyzToLab(xyz, WHITE_D65_10))).toBeCloseTo(lightReflectanceValue(patch), 10);
    }
  });

  test('L* 50 reflects 18.4 % (ISO/CIE 11664-4: ((50 + 16) / 116) cubed)', () => {
    expect(lrvFromLab({ L: 50, a: 0, b: 0 })).toBeCloseTo(100 * (66 / 116) ** 3, 12);
  });

  test('reflectances out of range are refused', () => {
    expect(() => lightReflectanceValue(new Float64Array(81).fill(1.2))).toThrow(
      'Expected reflectance in [0, 1]',
    );
    expect(() => lrvFromLab({ L: NaN, a: 0, b: 0 })).toThrow('Expected a finite L*, got NaN');
  });
});

describe('contrast', () => {
  test('the guidance of 30 points (BS 8300-2:2018) is met by 50 against 20 and missed by 45 against 20', () => {
    expect(lrvDifference(50, 20)).toBe(30);
    expect(lrvDifference(20, 45)).toBe(25);
  });

  test('Michelson and Weber, by their definitions', () => {
    expect(michelsonContrast(60, 20)).toBe(0.5);
    expect(michelsonContrast(20, 60)).toBe(0.5);
    expect(weberContrast(20, 60)).toBe(2);
    expect(weberContrast(60, 20)).toBeCloseTo(-2 / 3, 15);
    expect(weberContrast(60, 0)).toBe(-1);
  });

  test('without light there is no contrast, and it is said as null', () => {
    expect(michelsonContrast(0, 0)).toBeNull();
    expect(weberContrast(0, 10)).toBeNull();
    expect(michelsonContrast(0, 10)).toBe(1);
  });

  test('Michelson stays in [0, 1] and is symmetric', () => {
    const value = fc.double({ min: 0.001, max: 100, noNaN: true });
    fc.assert(
      fc.property(value, value, (reference, sample) => {
        const contrast = michelsonContrast(reference, sample)!;
        expect(contrast).toBeGreaterThanOrEqual(0);
        expect(contrast).toBeLessThanOrEqual(1);
        expect(michelsonContrast(sample, reference)).toBe(contrast);
      }),
      RUNS,
    );
  });

  test('values that cannot be are refused', () => {
    expect(() => lrvDifference(-1, 5)).toThrow('Expected a light reflectance value in [0, 100], got -1');
    expect(() => michelsonContrast(NaN, 5)).toThrow(RangeError);
    expect(() => weberContrast(5, Infinity)).toThrow(RangeError);
    expect(() => wcagContrastRatio({ r: 1.1, g: 0, b: 0 }, { r: 0, g: 0, b: 0 })).toThrow(
      'Expected encoded sRGB in [0, 1], got 1.1',
    );
  });
});

describe('WCAG 2 contrast ratio', () => {
  test.each(references.filter(({ id }) => id.startsWith('wcag_')))(
    '$id, $source',
    ({ inputs, published, oracle }) => {
      const ratio = wcagContrastRatio(
        hexToRgb(inputs.foreground as string),
        hexToRgb(inputs.background as string),
      );
      expect(Math.abs(ratio - (published!.contrast_ratio as number))).toBeLessThanOrEqual(half(2));
      expect(Math.abs(ratio - (oracle!.contrast_ratio as number))).toBeLessThanOrEqual(half(6));
    },
  );

  test.each(vectors.pairs)('$reference and $sample as colour-science 0.4.6, both ways round', (pair) => {
    const [first, second] = [pair.reference, pair.sample].map(hexToRgb);
    // The file keeps eight figures.
    expect(Math.abs(wcagContrastRatio(first, second) - pair.wcag_contrast)).toBeLessThan(5e-7);
    expect(wcagContrastRatio(first, second)).toBe(wcagContrastRatio(second, first));
  });
});
