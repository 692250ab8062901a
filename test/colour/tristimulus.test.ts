import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  GRID,
  ILLUMINANT_NAMES,
  OBSERVER_10,
  OBSERVER_2,
  WAVELENGTHS,
  WHITE_D65_10,
  WHITE_D65_2,
  blackBody,
  daylight,
  daylightXy,
  deltaE2000,
  illuminant,
  mixture,
  spectrumToXyz,
  tristimulusWeights,
  whitePoint,
  xyToXyz,
  xyzToLab,
  xyzToUv,
  xyzToXy,
} from '#lib/colour/index.ts';
import type { IlluminantName, Spectrum } from '#lib/colour/index.ts';
import { RUNS, half, readTable, references, vectors } from './published.ts';
import type { Triple } from './published.ts';

const table = readTable('target24_reflectance.csv');
const published = readTable('target24_lab.csv');
const patches: Spectrum[] = published.map(({ patch }) =>
  Float64Array.from(table, (row) => Number(row[patch])),
);
const observers = { '2': OBSERVER_2, '10': OBSERVER_10 };

const anyReflectance: fc.Arbitrary<Spectrum> = fc
  .array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: GRID.count, maxLength: GRID.count })
  .map((values) => Float64Array.from(values));

describe('white points', () => {
  const whites = references.filter(({ id }) => id.startsWith('whitepoint_'));

  test('all eighteen published white points are here', () => {
    expect(whites).toHaveLength(18);
  });

  test.each(whites)('$id, $source', ({ id, inputs, published: printed }) => {
    const name = inputs.illuminant as IlluminantName;
    const observer = inputs.observer_deg === 2 ? OBSERVER_2 : OBSERVER_10;
    const found = whitePoint(illuminant(name), observer);
    const [X, Y, Z] = printed!.XYZ as Triple;
    // ASTM E308 integrates at 1 nm and folds in what lies beyond 380-780 nm; the plain sum differs in the fourth or fifth figure.
    const tolerance = id.includes('astm') ? 0.01 : half(2);
    expect(Math.abs(found.X - X)).toBeLessThanOrEqual(tolerance);
    expect(found.Y).toBeCloseTo(Y, 12);
    expect(Math.abs(found.Z - Z)).toBeLessThanOrEqual(tolerance);
  });

  test('the named D65 whites are those of CIE 15:2018', () => {
    expect(WHITE_D65_10.X).toBeCloseTo(94.81, 2);
    expect(WHITE_D65_10.Z).toBeCloseTo(107.32, 2);
    expect(WHITE_D65_2.X).toBeCloseTo(95.04, 2);
    expect(WHITE_D65_2.Z).toBeCloseTo(108.88, 2);
  });

  test('every named illuminant gives a white with Y = 100 for both observers', () => {
    expect(ILLUMINANT_NAMES).toHaveLength(6 + 2 + 9 + 27 + 5);
    for (const name of ILLUMINANT_NAMES) {
      for (const observer of [OBSERVER_2, OBSERVER_10]) {
        const white = whitePoint(illuminant(name), observer);
        expect(white.Y).toBeCloseTo(100, 10);
        expect(white.X).toBeGreaterThan(80);
        expect(white.Z).toBeGreaterThan(0);
      }
    }
  });

  test('an illuminant comes as a copy, an unknown name is refused', () => {
    const copy = illuminant('D65');
    copy.fill(0);
    expect(illuminant('D65')[36]).toBe(100);
    expect(() => illuminant('D66' as IlluminantName)).toThrow('Expected the name of a CIE illuminant');
    expect(() => illuminant('toString' as IlluminantName)).toThrow(RangeError);
  });
});

describe('24-patch target (reflectances: Ohta 1997)', () => {
  test.each(Object.entries(vectors.target24))(
    'XYZ under %s equals the plain sum of colour-science 0.4.6',
    (key, { white, XYZ }) => {
      const [name, degrees] = key.split('_');
      const sight = {
        illuminant: illuminant(name as IlluminantName),
        observer: observers[degrees === '2deg' ? '2' : '10'],
      };
      const foundWhite = whitePoint(sight.illuminant, sight.observer);
      const all = [...patches.map((patch) => spectrumToXyz(patch, sight)), foundWhite];
      [...XYZ, white].forEach((expected, i) => {
        expect(Math.abs(all[i].X - expected[0])).toBeLessThanOrEqual(half(6));
        expect(Math.abs(all[i].Y - expected[1])).toBeLessThanOrEqual(half(6));
        expect(Math.abs(all[i].Z - expected[2])).toBeLessThanOrEqual(half(6));
        const lab = xyzToLab(all[i], foundWhite);
        const theirs = xyzToLab(
          { X: expected[0], Y: expected[1], Z: expected[2] },
          { X: white[0], Y: white[1], Z: white[2] },
        );
        // Their XYZ are rounded to six decimals, which the black patch feels most.
        expect(deltaE2000(lab, theirs)).toBeLessThan(2e-5);
      });
    },
  );

  test.each([
    ['D50', '2'],
    ['D65', '2'],
    ['D65', '10'],
    ['A', '10'],
  ] as const)('Lab under %s for %s degrees equals the computed table', (name, degrees) => {
    const light = illuminant(name);
    const white = whitePoint(light, observers[degrees]);
    patches.forEach((patch, i) => {
      const lab = xyzToLab(spectrumToXyz(patch, { illuminant: light, observer: observers[degrees] }), white);
      // The table took the white from chromaticities rounded to five decimals: 0.012 at most in b*.
      for (const axis of ['L', 'a', 'b'] as const) {
        expect(
          Math.abs(lab[axis] - Number(published[i][`spectral_${axis}_${name}_${degrees}`])),
        ).toBeLessThan(0.015);
      }
    });
  });

  test('the values its maker published in 2005 (D50, 2 degrees) are those of the same object', () => {
    const light = illuminant('D50');
    const white = whitePoint(light, OBSERVER_2);
    const differences = patches.map((patch, i) =>
      deltaE2000(
        {
          L: Number(published[i].published_L_D50_2),
          a: Number(published[i].published_a_D50_2),
          b: Number(published[i].published_b_D50_2),
        },
        xyzToLab(spectrumToXyz(patch, { illuminant: light, observer: OBSERVER_2 }), white),
      ),
    );
    // Another production run than the one measured in 1997: chips agree to about 1, none worse than 2.
    expect(differences.reduce((sum, value) => sum + value, 0) / 24).toBeLessThan(1.1);
    expect(Math.max(...differences)).toBeLessThan(2);
  });

  test('the chromaticities of McCamy, Marcus and Davidson 1976 (C, 2 degrees) are met', () => {
    const light = illuminant('C');
    patches.forEach((patch, i) => {
      const XYZ = spectrumToXyz(patch, { illuminant: light, observer: OBSERVER_2 });
      const xy = xyzToXy(XYZ)!;
      // Chips of different years: up to 0.0081 in x, 1.3 points in Y.
      expect(Math.abs(xy.x - Number(published[i].published_x_C2))).toBeLessThan(0.009);
      expect(Math.abs(xy.y - Number(published[i].published_y_C2))).toBeLessThan(0.009);
      expect(Math.abs(XYZ.Y / 100 - Number(published[i].published_Y_C2))).toBeLessThan(0.014);
    });
  });
});

describe('daylight, black body and mixtures', () => {
  test.each([
    ['D50', 5000],
    ['D55', 5500],
    ['D65', 6500],
    ['D75', 7500],
  ] as const)('the daylight formula gives the table of %s', (name, nominal) => {
    const formula = daylight((nominal * 1.4388) / 1.438);
    const printed = illuminant(name);
    // Source: CIE 15:2018, D series; D50, D55 and D75 are printed to three decimals, D65 to four or six figures.
    const tolerance =
      name === 'D65' ? 0.00086 /* D65 has six figures, more than the components carry */ : half(3);
    for (let i = 0; i < GRID.count; i++)
      expect(Math.abs(formula[i] - printed[i])).toBeLessThanOrEqual(tolerance);
  });

  test.each(references.filter(({ id }) => id.startsWith('daylight_xy_')))(
    '$id, $source',
    ({ inputs, published: printed, oracle }) => {
      const [x, y] = printed!.xy as [number, number];
      const fromTable = xyzToXy(whitePoint(illuminant(inputs.illuminant as IlluminantName), OBSERVER_2))!;
      // The publication sums at 1 nm over 360-830 nm.
      expect(Math.abs(fromTable.x - x)).toBeLessThan(2e-5);
      expect(Math.abs(fromTable.y - y)).toBeLessThan(3e-5);
      const formula = daylightXy(inputs.nominal_CCT as number);
      const [fx, fy] = oracle!.xy_from_formula as [number, number];
      expect(Math.abs(formula.x - fx)).toBeLessThanOrEqual(half(6));
      expect(Math.abs(formula.y - fy)).toBeLessThanOrEqual(half(6));
    },
  );

  test.each(references.filter(({ id }) => id.startsWith('daylight_formula_')))(
    '$id, $source',
    ({ inputs, oracle }) => {
      const xy = daylightXy(inputs.CCT as number);
      const [x, y] = oracle!.xy as [number, number];
      expect(Math.abs(xy.x - x)).toBeLessThanOrEqual(half(8));
      expect(Math.abs(xy.y - y)).toBeLessThanOrEqual(half(8));
    },
  );

  test('illuminant A is a black body of 2856 K (ISO/CIE 11664-2: 2848 K at c2 = 1.435e-2)', () => {
    const A = illuminant('A');
    const body = blackBody((2848 * 1.4388) / 1.435);
    // The table is printed to six figures; A is 100 at 560 nm, as blackBody is.
    for (let i = 0; i < GRID.count; i++) expect(Math.abs(body[i] / A[i] - 1)).toBeLessThan(1e-5);
  });

  test('daylight gets bluer and black bodies whiter with temperature', () => {
    let last = Infinity;
    for (let cct = 4000; cct <= 25000; cct += 500) {
      const { x } = xyzToXy(whitePoint(daylight(cct), OBSERVER_2))!;
      expect(x).toBeLessThan(last);
      last = x;
    }
    last = Infinity;
    for (let kelvin = 1000; kelvin <= 50000; kelvin *= 1.1) {
      const { x } = xyzToXy(whitePoint(blackBody(kelvin), OBSERVER_2))!;
      expect(x).toBeLessThan(last);
      last = x;
    }
  });

  test('outside its range daylight is refused, and so is a body without a temperature', () => {
    expect(daylight(4000)).toHaveLength(81);
    expect(daylight(25000)).toHaveLength(81);
    for (const cct of [3999.9, 25000.1, NaN]) expect(() => daylight(cct)).toThrow(RangeError);
    expect(() => daylight(3000)).toThrow(
      'Expected a daylight colour temperature in [4000, 25000] K, got 3000',
    );
    for (const kelvin of [0, -1, NaN, Infinity]) expect(() => blackBody(kelvin)).toThrow(RangeError);
    expect(blackBody(500).every(Number.isFinite)).toBe(true);
    expect(blackBody(1e6).every(Number.isFinite)).toBe(true);
  });

  test('a mixture has the mean white of its lights, weighted by illuminance and not by power', () => {
    const A = illuminant('A');
    const D65 = illuminant('D65').map((value) => value * 7);
    const white = whitePoint(
      mixture(
        [
          { spectrum: A, share: 3 },
          { spectrum: D65, share: 1 },
        ],
        OBSERVER_2,
      ),
      OBSERVER_2,
    );
    const a = whitePoint(A, OBSERVER_2);
    const d = whitePoint(D65, OBSERVER_2);
    expect(white.X).toBeCloseTo(0.75 * a.X + 0.25 * d.X, 10);
    expect(white.Z).toBeCloseTo(0.75 * a.Z + 0.25 * d.Z, 10);
  });

  test('mixtures that make no light are refused', () => {
    const A = illuminant('A');
    expect(() => mixture([], OBSERVER_2)).toThrow(RangeError);
    expect(() => mixture([{ spectrum: A, share: 0 }], OBSERVER_2)).toThrow(RangeError);
    expect(() => mixture([{ spectrum: A, share: -1 }], OBSERVER_2)).toThrow(
      'Expected a share of illuminance of at least 0, got -1',
    );
    expect(() => mixture([{ spectrum: new Float64Array(81), share: 1 }], OBSERVER_2)).toThrow(RangeError);
  });
});

describe('properties of tristimulus values', () => {
  const sight = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

  test('a brighter reflectance has a greater Y, and Y stays in [0, 100]', () => {
    fc.assert(
      fc.property(anyReflectance, fc.double({ min: 0.1, max: 0.99, noNaN: true }), (reflectance, factor) => {
        const { Y } = spectrumToXyz(reflectance, sight);
        expect(Y).toBeGreaterThanOrEqual(0);
        expect(Y).toBeLessThanOrEqual(100 + 1e-9);
        const darker = spectrumToXyz(
          reflectance.map((value) => value * factor),
          sight,
        );
        expect(darker.Y).toBeCloseTo(Y * factor, 10);
      }),
      { ...RUNS, numRuns: 100 },
    );
  });

  test('the weights give the same values as the sum', () => {
    const weights = tristimulusWeights(sight);
    fc.assert(
      fc.property(anyReflectance, (reflectance) => {
        const { X, Y, Z } = spectrumToXyz(reflectance, sight);
        [X, Y, Z].forEach((value, row) => {
          let sum = 0;
          for (let i = 0; i < GRID.count; i++) sum += weights[row * GRID.count + i] * reflectance[i];
          expect(sum).toBeCloseTo(value, 10);
        });
      }),
      { ...RUNS, numRuns: 50 },
    );
  });

  test('a grey reflectance has the chromaticity of the light; black has none', () => {
    const grey = spectrumToXyz(new Float64Array(81).fill(0.2), sight);
    const white = whitePoint(sight.illuminant, sight.observer);
    expect(xyzToXy(grey)!.x).toBeCloseTo(xyzToXy(white)!.x, 14);
    expect(xyzToXy({ X: 0, Y: 0, Z: 0 })).toBeNull();
    expect(xyzToUv({ X: 0, Y: 0, Z: 0 })).toBeNull();
  });

  test('chromaticity and back is the same stimulus', () => {
    const positive = fc.double({ min: 0.01, max: 120, noNaN: true });
    fc.assert(
      fc.property(positive, positive, positive, (X, Y, Z) => {
        const back = xyToXyz(xyzToXy({ X, Y, Z })!, Y);
        expect(Math.abs(back.X / X - 1)).toBeLessThan(1e-9);
        // Z is what x and y leave of 1: where it is a small rest of the sum, its digits are lost with it.
        expect(Math.abs(back.Z - Z)).toBeLessThan(1e-9 * (X + Y + Z));
      }),
      RUNS,
    );
    expect(() => xyToXyz({ x: 0.3, y: 0 }, 100)).toThrow('Expected chromaticity y above 0, got 0');
  });

  test.each(vectors.cct)("u', v' of $name agree with CIE 1960 u, v", ({ xy, uv1960 }) => {
    const { u, v } = xyzToUv(xyToXyz({ x: xy[0], y: xy[1] }, 100))!;
    // The chromaticities are rounded to 8 decimals, and v' is three halves of v.
    expect(Math.abs(u - uv1960[0])).toBeLessThan(4e-8);
    expect(Math.abs((2 / 3) * v - uv1960[1])).toBeLessThan(4e-8);
  });

  test('reflectances out of range or off the grid are refused with the wavelength', () => {
    const tooBright = new Float64Array(81).fill(0.5);
    tooBright[WAVELENGTHS.indexOf(450)] = 1.3;
    expect(() => spectrumToXyz(tooBright, sight)).toThrow(
      'Expected reflectance in [0, 1] at 450 nm, got 1.3',
    );
    expect(() => spectrumToXyz(new Float64Array(80), sight)).toThrow('got 80');
    const hole = new Float64Array(81).fill(0.5);
    hole[0] = NaN;
    expect(() => spectrumToXyz(hole, sight)).toThrow('Expected reflectance in [0, 1] at 380 nm, got NaN');
    expect(() => whitePoint(new Float64Array(81), OBSERVER_2)).toThrow('Expected an illuminant that emits');
  });
});
