import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { GRID, WAVELENGTHS, resample } from '#lib/colour/index.ts';
import { RUNS } from './published.ts';

const range = (from: number, to: number, step: number) =>
  Array.from({ length: Math.round((to - from) / step) + 1 }, (_, i) => from + i * step);

describe('resampling to the grid', () => {
  test('data on the grid comes back as it was', () => {
    const values = WAVELENGTHS.map((nm) => 0.5 + 0.4 * Math.sin(nm / 40));
    const {
      spectrum,
      range: covered,
      extended,
      interpolation,
    } = resample({ wavelengths: WAVELENGTHS, values });
    expect(Array.from(spectrum)).toEqual(values);
    expect(covered).toEqual({ from: 380, to: 780 });
    expect(extended).toBe(false);
    expect(interpolation).toBe('none');
  });

  test('finer data is read at the grid points', () => {
    const wavelengths = range(360, 830, 1);
    const { spectrum, interpolation } = resample({ wavelengths, values: wavelengths.map((nm) => nm / 1000) });
    spectrum.forEach((value, i) => expect(value).toBe(WAVELENGTHS[i] / 1000));
    expect(interpolation).toBe('none');
  });

  test('equal steps: Sprague reproduces polynomials of degree four between inner samples', () => {
    // A property of the fifth-order polynomial with fourth-order derivatives (CIE 167:2005).
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.1, max: 2, noNaN: true }), { minLength: 5, maxLength: 5 }),
        fc.constantFrom(10, 20),
        (coefficients, step) => {
          const polynomial = (nm: number) =>
            coefficients.reduce(
              (sum, coefficient, power) => sum + coefficient * ((nm - 300) / 500) ** power,
              0,
            );
          const wavelengths = range(300, 860, step);
          const { spectrum, interpolation } = resample({ wavelengths, values: wavelengths.map(polynomial) });
          expect(interpolation).toBe('sprague');
          spectrum.forEach((value, i) => {
            expect(Math.abs(value / polynomial(WAVELENGTHS[i]) - 1)).toBeLessThan(1e-9);
          });
        },
      ),
      { ...RUNS, numRuns: 50 },
    );
  });

  test('equal steps: a straight line stays straight up to the ends of the data', () => {
    const wavelengths = range(400, 700, 10);
    const { spectrum } = resample({ wavelengths, values: wavelengths.map((nm) => nm / 1000) });
    for (let i = 4; i <= 64; i++) expect(spectrum[i]).toBeCloseTo(WAVELENGTHS[i] / 1000, 12);
  });

  test('a smooth curve at 20 nm is followed far better than by straight lines', () => {
    const curve = (nm: number) => 0.5 + 0.3 * Math.sin(nm / 30);
    const wavelengths = range(360, 800, 20);
    const { spectrum } = resample({ wavelengths, values: wavelengths.map(curve) });
    spectrum.forEach((value, i) => expect(Math.abs(value - curve(WAVELENGTHS[i]))).toBeLessThan(0.002));
  });

  test('unequal steps: linear between neighbours', () => {
    const { spectrum, interpolation } = resample({
      wavelengths: [380, 381, 400, 500, 780],
      values: [0, 0, 1, 3, 0],
    });
    expect(interpolation).toBe('linear');
    expect(spectrum[WAVELENGTHS.indexOf(450)]).toBeCloseTo(2, 12);
    expect(spectrum[WAVELENGTHS.indexOf(640)]).toBeCloseTo(1.5, 12);
  });

  test('data shorter than the grid is extended by the nearest value, and says so', () => {
    const wavelengths = range(400, 700, 10);
    const values = wavelengths.map((_, i) => 0.2 + i / 100);
    const { spectrum, range: covered, extended } = resample({ wavelengths, values });
    expect(extended).toBe(true);
    expect(covered).toEqual({ from: 400, to: 700 });
    expect(spectrum[0]).toBe(values[0]);
    expect(spectrum[3]).toBe(values[0]);
    expect(spectrum[80]).toBe(values.at(-1));
  });

  test('a range that ends between grid points covers the grid points inside it', () => {
    const { range: covered, spectrum } = resample({ wavelengths: [397.3, 500, 702.9], values: [1, 1, 2] });
    expect(covered).toEqual({ from: 400, to: 700 });
    expect(spectrum[80]).toBe(2);
  });

  test('a reflectance stays a reflectance beside a steep edge', () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom(0, 1), { minLength: 31, maxLength: 31 }), (values) => {
        const { spectrum } = resample({ wavelengths: range(400, 700, 10), values });
        expect(spectrum).toHaveLength(GRID.count);
        expect(spectrum.every((value) => value >= 0 && value <= 1)).toBe(true);
      }),
      RUNS,
    );
  });

  test('data that cannot be a spectrum is refused in words', () => {
    expect(() => resample({ wavelengths: [400, 500], values: [1] })).toThrow(TypeError);
    expect(() => resample({ wavelengths: [400], values: [1] })).toThrow(
      'Expected at least two wavelengths, got 1',
    );
    expect(() => resample({ wavelengths: [500, 400], values: [1, 1] })).toThrow(
      'Expected ascending wavelengths, got 400 nm after 500 nm',
    );
    expect(() => resample({ wavelengths: [400, 400], values: [1, 1] })).toThrow(RangeError);
    expect(() => resample({ wavelengths: [400, 500], values: [1, NaN] })).toThrow(
      'Expected a finite value at 500 nm, got NaN',
    );
    expect(() => resample({ wavelengths: [900, 1000], values: [1, 1] })).toThrow('got 900-1000 nm');
  });
});
