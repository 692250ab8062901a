import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  WHITE_D65_10,
  cholesky,
  eigenSymmetric,
  invert,
  labToLch,
  labToXyz,
  lchToLab,
  multiply,
  transform,
  transpose,
  xyzToLab,
} from '#lib/colour/index.ts';
import { RUNS, half, references, vectors, xyz } from './published.ts';

const white = xyz(vectors.conventions.white_D65);
const positive = fc.double({ min: 1e-6, max: 120, noNaN: true });

describe('CIELAB', () => {
  test.each(vectors.colours)('$hex equals colour-science 0.4.6, D65 and D50', (colour) => {
    const found = xyzToLab(xyz(colour.XYZ_D65), white);
    const d50 = xyzToLab(xyz(colour.XYZ_D50_bradford), xyz(vectors.conventions.white_D50_icc));
    // XYZ is rounded to 8 decimals; near black its rounding is multiplied by up to 500 kappa / 116 / white.
    const tolerance = colour.XYZ_D65[1] < 0.1 ? 5e-7 : 1e-7;
    (['L', 'a', 'b'] as const).forEach((axis, i) => {
      expect(Math.abs(found[axis] - colour.Lab_D65[i])).toBeLessThanOrEqual(tolerance);
      expect(Math.abs(d50[axis] - colour.Lab_D50[i])).toBeLessThanOrEqual(tolerance);
    });
    const lch = labToLch(found);
    expect(Math.abs(lch.C - colour.LCh_D65[1])).toBeLessThanOrEqual(2 * tolerance);
    // The hue of a neutral is rounding noise in the file.
    if (colour.LCh_D65[1] > 0.01) expect(Math.abs(lch.h - colour.LCh_D65[2])).toBeLessThan(1e-5);
  });

  test('the knee lies at the published constants (CIE 15:2018; ISO/CIE 11664-4)', () => {
    const { epsilon, kappa } = references.find(({ id }) => id === 'cielab_constants')!.published as Record<
      string,
      number
    >;
    const at = (Y: number) => xyzToLab({ X: 0, Y: Y * 100, Z: 0 }, { X: 100, Y: 100, Z: 100 }).L;
    expect(at(epsilon / 2)).toBeCloseTo((kappa * epsilon) / 2, 12);
    expect(at(epsilon)).toBeCloseTo(8, 12);
    expect(at(epsilon * (1 + 1e-12))).toBeCloseTo(8, 9);
  });

  test('white is exactly 100, 0, 0 and black 0, 0, 0; greys have no chroma', () => {
    expect(xyzToLab(white, white)).toEqual({ L: 100, a: 0, b: 0 });
    expect(xyzToLab({ X: 0, Y: 0, Z: 0 }, white)).toEqual({ L: 0, a: 0, b: 0 });
    for (let share = 0.001; share < 1; share += 0.013) {
      const grey = { X: white.X * share, Y: white.Y * share, Z: white.Z * share };
      expect(labToLch(xyzToLab(grey, white)).C).toBeLessThan(1e-12);
      expect(labToLch(xyzToLab(grey, white)).h).toBe(0);
    }
  });

  test('there and back is the same stimulus to 1e-9', () => {
    fc.assert(
      fc.property(positive, positive, positive, (X, Y, Z) => {
        const back = labToXyz(xyzToLab({ X, Y, Z }, WHITE_D65_10), WHITE_D65_10);
        // Below a hundredth of a point the digits of X and Z are lost in those of Y, to which a* and b* tie them.
        const close = (found: number, given: number) =>
          expect(Math.abs(found - given)).toBeLessThan(1e-9 * Math.max(given, 0.01));
        close(back.X, X);
        close(back.Y, Y);
        close(back.Z, Z);
      }),
      RUNS,
    );
  });

  test('stimuli below black by noise come back too, and nothing is NaN', () => {
    const noisy = { X: -0.3, Y: -0.1, Z: -0.2 };
    const lab = xyzToLab(noisy, white);
    expect(lab.L).toBeLessThan(0);
    expect(labToXyz(lab, white).X).toBeCloseTo(-0.3, 12);
  });

  test('L* rises with Y', () => {
    fc.assert(
      fc.property(positive, fc.double({ min: 1.0001, max: 2, noNaN: true }), (Y, factor) => {
        expect(xyzToLab({ X: 0, Y: Y * factor, Z: 0 }, white).L).toBeGreaterThan(
          xyzToLab({ X: 0, Y, Z: 0 }, white).L,
        );
      }),
      RUNS,
    );
  });

  test('a white that is not above 0 is refused', () => {
    expect(() => xyzToLab(white, { X: 0, Y: 100, Z: 100 })).toThrow(
      'Expected a reference white above 0, got X 0',
    );
    expect(() => labToXyz({ L: 50, a: 0, b: 0 }, { X: NaN, Y: 100, Z: 100 })).toThrow(RangeError);
  });
});

describe('lightness, chroma and hue', () => {
  const component = fc.double({ min: -128, max: 128, noNaN: true });

  test('hue is in [0, 360) and there and back is the same colour', () => {
    fc.assert(
      fc.property(component, component, (a, b) => {
        const lch = labToLch({ L: 50, a, b });
        expect(lch.h).toBeGreaterThanOrEqual(0);
        expect(lch.h).toBeLessThan(360);
        const back = lchToLab(lch);
        expect(Math.hypot(back.a - a, back.b - b)).toBeLessThan(1e-9 * Math.max(1, lch.C));
      }),
      RUNS,
    );
  });

  test('the axes lie at 0, 90, 180 and 270; just below a* is not 360', () => {
    const hue = (a: number, b: number) => labToLch({ L: 50, a, b }).h;
    expect([hue(1, 0), hue(0, 1), hue(-1, 0), hue(0, -1)]).toEqual([0, 90, 180, 270]);
    expect(hue(-1, -0)).toBeCloseTo(180, 12);
    expect(hue(1, -1e-20)).toBe(0);
    expect(hue(1, -1e-3)).toBeGreaterThan(359);
  });

  test('any hue angle is accepted: a full turn changes nothing', () => {
    const once = lchToLab({ L: 50, C: 30, h: -20 });
    const twice = lchToLab({ L: 50, C: 30, h: 340 });
    expect(once.a).toBeCloseTo(twice.a, 12);
    expect(once.b).toBeCloseTo(twice.b, 12);
  });
});

describe('3x3 algebra', () => {
  const entry = fc.double({ min: -10, max: 10, noNaN: true });
  const anyMatrix = fc.array(entry, { minLength: 9, maxLength: 9 });

  test('a matrix times its inverse is the identity', () => {
    fc.assert(
      fc.property(anyMatrix, (m) => {
        // Diagonally dominant, so that the inverse is well-behaved.
        const strong = m.map((value, i) => (i % 4 === 0 ? value + Math.sign(value || 1) * 25 : value));
        multiply(strong, invert(strong)).forEach((value, i) =>
          expect(value).toBeCloseTo(i % 4 === 0 ? 1 : 0, 9),
        );
      }),
      RUNS,
    );
    expect(() => invert([1, 2, 3, 2, 4, 6, 0, 0, 1])).toThrow('Expected a matrix with an inverse');
  });

  test('the Cholesky factor squares to the covariance, also without spread in some direction', () => {
    fc.assert(
      fc.property(anyMatrix, (m) => {
        const covariance = multiply(m, transpose(m));
        const l = cholesky(covariance);
        const size = covariance[0] + covariance[4] + covariance[8];
        multiply(l, transpose(l)).forEach((value, i) =>
          expect(Math.abs(value - covariance[i])).toBeLessThan(1e-6 * size + 1e-12),
        );
      }),
      RUNS,
    );
    expect(cholesky([4, 0, 0, 0, 0, 0, 0, 0, 9])).toEqual([2, 0, 0, 0, 0, 0, 0, 0, 3]);
    expect(cholesky([0, 0, 0, 0, 0, 0, 0, 0, 0])).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 0]);
    expect(() => cholesky([1, 0, 0, 0, -1, 0, 0, 0, 1])).toThrow('Expected a positive semi-definite matrix');
  });

  test('eigenvectors are orthonormal, ordered, and map to their multiples', () => {
    fc.assert(
      fc.property(anyMatrix, (m) => {
        const symmetric = multiply(m, transpose(m));
        const { values, vectors: axes } = eigenSymmetric(symmetric);
        expect(values[0]).toBeGreaterThanOrEqual(values[1]);
        expect(values[1]).toBeGreaterThanOrEqual(values[2]);
        axes.forEach((axis, i) => {
          const image = transform(symmetric, axis);
          const size = 1e-9 * Math.max(1, values[0]);
          for (let k = 0; k < 3; k++) expect(Math.abs(image[k] - values[i] * axis[k])).toBeLessThan(size);
          expect(Math.hypot(...axis)).toBeCloseTo(1, 10);
        });
      }),
      RUNS,
    );
    expect(eigenSymmetric([1, 0, 0, 0, 3, 0, 0, 0, 2]).values).toEqual([3, 2, 1]);
  });
});

test('half a unit of the last digit is what it says', () => {
  expect(half(4)).toBeCloseTo(5e-5, 12);
});
