import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  WHITE_D65_10,
  WHITE_D65_2,
  adaptCat16,
  cam16ToUcs,
  cam16ToXyz,
  cat16Matrix,
  differenceCam16Ucs,
  illuminant,
  labToXyz,
  linearRgbToXyz,
  OBSERVER_10,
  parseCssColour,
  transform,
  ucsToCam16,
  viewingConditions,
  whitePoint,
  xyzToCam16,
} from '#lib/colour/index.ts';
import type { Surround, ViewingConditions } from '#lib/colour/index.ts';
import { RUNS, half, lab, references, vectors, xyz } from './published.ts';
import type { Triple } from './published.ts';

const { conventions } = vectors;
const conditions = Object.fromEntries(
  (['bright', 'srgb_reference'] as const).map((name) => [
    name,
    viewingConditions({
      white: xyz(conventions.CAM16.XYZ_w),
      L_A: conventions.CAM16.viewing_conditions[name].L_A,
      Y_b: conventions.CAM16.viewing_conditions[name].Y_b,
      surround: 'average',
    }),
  ]),
) as Record<'bright' | 'srgb_reference', ViewingConditions>;

const channel = fc.double({ min: 0.0005, max: 1, noNaN: true });

/** Any colour of the Rec. 2020 gamut, a little above black: wider than that of surfaces. */
const anySurface = fc
  .record({ r: channel, g: channel, b: channel })
  .map((rgb) => linearRgbToXyz(rgb, 'rec2020'));

const anyPlace = fc.record({
  L_A: fc.double({ min: 0.5, max: 2000, noNaN: true }),
  Y_b: fc.double({ min: 5, max: 60, noNaN: true }),
  surround: fc.constantFrom<Surround>('average', 'dim', 'dark'),
  degree: fc.oneof(fc.constant('computed' as const), fc.double({ min: 0, max: 1, noNaN: true })),
  compression: fc.constantFrom('cie248' as const, 'li2017' as const),
});

describe('CAM16 against colour-science 0.4.6 (no published worked example could be read)', () => {
  test.each(vectors.colours)('$hex in bright and in sRGB reference conditions', (colour) => {
    for (const name of ['bright', 'srgb_reference'] as const) {
      const found = xyzToCam16(xyz(colour.XYZ_D65), conditions[name]);
      const theirs = colour[`CAM16_${name}`];
      // XYZ are rounded to eight decimals; the power 0.42 multiplies that in dark channels.
      const tolerance = 2e-7;
      for (const key of ['J', 'C', 'Q', 'M'] as const) {
        expect(Math.abs(found[key] - theirs[key])).toBeLessThan(tolerance);
      }
      // Hue and saturation of neutrals and black are rounding noise in the file, and near them nearly so.
      if (theirs.C > 2) {
        expect(Math.abs(found.h - theirs.h)).toBeLessThan(1e-6);
        expect(Math.abs(found.s - theirs.s)).toBeLessThan(1e-6);
      }
      const ucs = cam16ToUcs(found);
      [ucs.J, ucs.a, ucs.b].forEach((value, i) =>
        expect(Math.abs(value - colour[`CAM16UCS_${name}`][i])).toBeLessThan(tolerance),
      );
    }
  });

  test.each(vectors.pairs)('CAM16-UCS difference of $reference and $sample', (pair) => {
    const byHex = (hex: string) => parseCssColour(hex)!.xyz;
    for (const name of ['bright', 'srgb_reference'] as const) {
      const [reference, sample] = [pair.reference, pair.sample].map((hex) =>
        cam16ToUcs(xyzToCam16(byHex(hex), conditions[name])),
      );
      expect(Math.abs(differenceCam16Ucs(reference, sample) - pair[`dE_CAM16UCS_${name}`])).toBeLessThan(
        2e-7,
      ); // as above
    }
  });

  test.each(references.filter(({ id }) => /^(cie)?cam16_case/.test(id)))(
    '$id, $source',
    ({ id, inputs, oracle }) => {
      const vc = viewingConditions({
        white: xyz(inputs.XYZ_w as Triple),
        L_A: inputs.L_A as number,
        Y_b: inputs.Y_b as number,
        surround: 'average',
        compression: id.startsWith('cie') ? 'cie248' : 'li2017',
      });
      const found = xyzToCam16(xyz(inputs.XYZ as Triple), vc);
      for (const key of ['J', 'C', 'h', 's', 'Q', 'M'] as const) {
        expect(Math.abs(found[key] - (oracle![key] as number))).toBeLessThanOrEqual(half(8) * 2); // eight decimals, and the last bits
      }
    },
  );
});

describe('CAM16 properties', () => {
  test('there and back is the same stimulus, whatever the place', () => {
    fc.assert(
      fc.property(anySurface, anyPlace, (stimulus, place) => {
        const vc = viewingConditions({ ...place, white: WHITE_D65_10 });
        const back = cam16ToXyz(xyzToCam16(stimulus, vc), vc);
        // The power 1 / 0.42 and the subtraction of nearly equal cone responses cost digits of the small ones.
        const tolerance = 1e-9 * Math.max(stimulus.X, stimulus.Y, stimulus.Z);
        expect(Math.abs(back.X - stimulus.X)).toBeLessThan(tolerance);
        expect(Math.abs(back.Y - stimulus.Y)).toBeLessThan(tolerance);
        expect(Math.abs(back.Z - stimulus.Z)).toBeLessThan(tolerance);
      }),
      RUNS,
    );
  });

  test('CAM16-UCS there and back gives the same correlates', () => {
    fc.assert(
      fc.property(anySurface, anyPlace, (stimulus, place) => {
        const vc = viewingConditions({ ...place, white: WHITE_D65_10 });
        const cam = xyzToCam16(stimulus, vc);
        const back = ucsToCam16(cam16ToUcs(cam), vc);
        for (const key of ['J', 'C', 'Q', 'M', 's'] as const) {
          expect(Math.abs(back[key] - cam[key])).toBeLessThan(1e-9 * Math.max(1, cam[key]));
        }
        if (cam.M > 1e-3) expect(Math.abs(((back.h - cam.h + 540) % 360) - 180)).toBeLessThan(1e-9 * 360);
      }),
      RUNS,
    );
  });

  test('white has lightness 100 and, fully adapted, no chroma; black has nothing', () => {
    for (const surround of ['average', 'dim', 'dark'] as const) {
      const vc = viewingConditions({ white: WHITE_D65_2, L_A: 64, Y_b: 20, surround, degree: 1 });
      const white = xyzToCam16(WHITE_D65_2, vc);
      expect(white.J).toBeCloseTo(100, 10);
      expect(white.M).toBeLessThan(1e-10);
      expect(xyzToCam16({ X: 0, Y: 0, Z: 0 }, vc)).toEqual({ J: 0, C: 0, h: 0, Q: 0, M: 0, s: 0 });
      expect(cam16ToXyz({ J: 0, C: 0, h: 0 }, vc)).toEqual({ X: 0, Y: 0, Z: 0 });
    }
  });

  test('the computed degree of adaptation follows the luminance and never reaches beyond [0, 1]', () => {
    const degree = (L_A: number, surround: Surround) =>
      viewingConditions({ white: WHITE_D65_2, L_A, Y_b: 20, surround, degree: 'computed' }).D;
    // Li and others 2017, equation for D: F (1 - exp((-L_A - 42) / 92) / 3.6).
    expect(degree(50, 'average')).toBeCloseTo(1 - Math.exp(-1) / 3.6, 12);
    expect(degree(50, 'dim')).toBeCloseTo(0.9 * (1 - Math.exp(-1) / 3.6), 12);
    expect(degree(1e6, 'average')).toBe(1);
    expect(degree(0.01, 'average')).toBeGreaterThan(0.8);
    expect(degree(100, 'average')).toBeGreaterThan(degree(10, 'average'));
  });

  test('lightness rises with reflectance, colourfulness with luminance (Hunt effect)', () => {
    const place = { white: WHITE_D65_10, Y_b: 20, surround: 'average' } as const;
    const vc = viewingConditions({ ...place, L_A: 60 });
    let last = 0;
    for (let Y = 1; Y <= 100; Y++) {
      const { J } = xyzToCam16({ X: (WHITE_D65_10.X * Y) / 100, Y, Z: (WHITE_D65_10.Z * Y) / 100 }, vc);
      expect(J).toBeGreaterThan(last);
      last = J;
    }
    const clay = labToXyz({ L: 50, a: 30, b: 30 }, WHITE_D65_10);
    expect(xyzToCam16(clay, viewingConditions({ ...place, L_A: 600 })).M).toBeGreaterThan(
      xyzToCam16(clay, vc).M,
    );
  });

  test('the two compressions agree inside the range that CIE 248 leaves as it was', () => {
    const clay = labToXyz({ L: 50, a: 30, b: 30 }, WHITE_D65_10);
    const place = { white: WHITE_D65_10, L_A: 60, Y_b: 20, surround: 'average' } as const;
    expect(xyzToCam16(clay, viewingConditions({ ...place, compression: 'li2017' }))).toEqual(
      xyzToCam16(clay, viewingConditions({ ...place, compression: 'cie248' })),
    );
  });

  test('stimuli darker than black by noise, and far outside, give numbers or a clear refusal', () => {
    const vc = conditions.bright;
    expect(xyzToCam16({ X: -0.01, Y: -0.01, Z: -0.02 }, vc).J).toBe(0);
    // So blue that no eye could see it: no achromatic response is left.
    expect(xyzToCam16({ X: 0.05, Y: 0.055, Z: 3.4 }, vc)).toMatchObject({ J: 0, M: 0 });
    for (const stimulus of [lab([30, 70, -110]), lab([5, 20, -30]), lab([95, -90, 120])].map((colour) =>
      labToXyz(colour, WHITE_D65_2),
    )) {
      for (const value of Object.values(xyzToCam16(stimulus, vc))) expect(Number.isFinite(value)).toBe(true);
    }
    expect(() => xyzToCam16({ X: 60, Y: 60, Z: -12 }, vc)).toThrow('within the domain of CAM16');
    expect(() => xyzToCam16({ X: NaN, Y: 1, Z: 1 }, vc)).toThrow('Expected finite tristimulus values');
  });

  test('places and appearances that cannot be are refused', () => {
    const place = { white: WHITE_D65_10, L_A: 60, Y_b: 20, surround: 'average' } as const;
    expect(() => viewingConditions({ ...place, L_A: 0 })).toThrow(
      'Expected an adapting luminance above 0 cd/m2, got 0',
    );
    expect(() => viewingConditions({ ...place, Y_b: -1 })).toThrow(RangeError);
    expect(() => viewingConditions({ ...place, degree: 1.2 })).toThrow(
      'Expected a degree of adaptation in [0, 1]',
    );
    expect(() => viewingConditions({ ...place, surround: 'bright' as Surround })).toThrow(
      'Expected a surround',
    );
    expect(() => viewingConditions({ ...place, white: { X: 0, Y: 0, Z: 0 } })).toThrow('Expected a white');
    const vc = viewingConditions(place);
    expect(() => cam16ToXyz({ J: -1, C: 0, h: 0 }, vc)).toThrow(RangeError);
    expect(() => ucsToCam16({ J: 250, a: 0, b: 0 }, vc)).toThrow("Expected J' in [0, 242)");
  });
});

describe('CAT16', () => {
  const A = whitePoint(illuminant('A'), OBSERVER_10);

  test.each(vectors.colours)(
    '$hex from D65 to A as colour-science 0.4.6',
    ({ XYZ_D65, XYZ_cat16_D65_to_A }) => {
      const { X, Y, Z } = adaptCat16(xyz(XYZ_D65), {
        from: xyz(conventions.white_D65),
        to: xyz(conventions.white_A),
        degree: 1,
      });
      // Whites and inputs are rounded to eight decimals.
      [X, Y, Z].forEach((value, i) => expect(Math.abs(value - XYZ_cat16_D65_to_A[i])).toBeLessThan(3e-8));
    },
  );

  test('the matrix is the published one (Li and others 2017; CIE 248:2022)', () => {
    const M16 = (references.find(({ id }) => id === 'cat16_matrix')!.published!.M16 as Triple[]).flat();
    // Seen from outside: adapting from the white whose cone responses are 1 to one that doubles the first.
    const responses = (XYZ: Triple) =>
      [0, 1, 2].map((row) => M16.slice(3 * row, 3 * row + 3).reduce((sum, m, i) => sum + m * XYZ[i], 0));
    const adapted = transform(cat16Matrix({ from: WHITE_D65_10, to: A, degree: 1 }), [20, 30, 40]);
    const gain = responses([A.X, A.Y, A.Z]).map(
      (value, i) => value / responses([WHITE_D65_10.X, WHITE_D65_10.Y, WHITE_D65_10.Z])[i],
    );
    responses(adapted).forEach((value, i) =>
      expect(value).toBeCloseTo(responses([20, 30, 40])[i] * gain[i], 10),
    );
  });

  test('white goes to white; fully adapted, back again is the same stimulus', () => {
    const there = adaptCat16(WHITE_D65_10, { from: WHITE_D65_10, to: A, degree: 1 });
    expect(there.X).toBeCloseTo(A.X, 10);
    expect(there.Z).toBeCloseTo(A.Z, 10);
    fc.assert(
      fc.property(anySurface, (stimulus) => {
        const back = adaptCat16(adaptCat16(stimulus, { from: WHITE_D65_10, to: A, degree: 1 }), {
          from: A,
          to: WHITE_D65_10,
          degree: 1,
        });
        const error = Math.hypot(back.X - stimulus.X, back.Y - stimulus.Y, back.Z - stimulus.Z);
        expect(error).toBeLessThan(1e-9 * stimulus.Y + 1e-12);
      }),
      RUNS,
    );
  });

  test('without adaptation nothing moves, half adapted lies between', () => {
    const clay = labToXyz({ L: 50, a: 30, b: 30 }, WHITE_D65_10);
    const at = (degree: number) => adaptCat16(clay, { from: WHITE_D65_10, to: A, degree });
    expect(at(0).X).toBeCloseTo(clay.X, 12);
    expect(at(0.5).Z).toBeCloseTo((at(0).Z + at(1).Z) / 2, 10);
    expect(() => at(1.01)).toThrow('Expected a degree of adaptation in [0, 1], got 1.01');
    expect(() => adaptCat16(clay, { from: { X: 0, Y: 0, Z: 0 }, to: A, degree: 1 })).toThrow(RangeError);
  });
});
