import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  WHITE_RGB,
  decodeRgb,
  encodeRgb,
  isInGamut,
  labToScreen,
  linearRgbToXyz,
  oklabToXyz,
  parseCssColour,
  rgbToXyzMatrix,
  xyzToLab,
  xyzToLinearRgb,
  xyzToOklab,
} from '#lib/colour/index.ts';
import type { Oklab, Rgb, RgbSpace } from '#lib/colour/index.ts';
import { RUNS, half, references, vectors, xyz } from './published.ts';
import type { Triple } from './published.ts';

const SPACES: RgbSpace[] = ['srgb', 'display-p3', 'rec2020'];
const unit = fc.double({ min: 0, max: 1, noNaN: true });
const anyRgb: fc.Arbitrary<Rgb> = fc.record({ r: unit, g: unit, b: unit });

const decode = (rgb: Rgb, space: RgbSpace): Rgb => ({
  r: decodeRgb(rgb.r, space),
  g: decodeRgb(rgb.g, space),
  b: decodeRgb(rgb.b, space),
});
const encodedToLab = (rgb: Rgb, space: RgbSpace) =>
  xyzToLab(linearRgbToXyz(decode(rgb, space), space), WHITE_RGB);
const oklabOf = (rgb: Rgb, space: RgbSpace) => xyzToOklab(linearRgbToXyz(decode(rgb, space), space));

describe('matrices and transfer functions', () => {
  test('sRGB: the matrix from primaries and white rounds to the one printed in IEC 61966-2-1', () => {
    const constants = references.find(({ id }) => id === 'srgb_constants')!.published!;
    const printed = (constants.matrix_RGB_to_XYZ as Triple[]).flat();
    const exact = vectors.conventions.matrix_RGB_to_XYZ.flat();
    rgbToXyzMatrix('srgb').forEach((value, i) => {
      expect(Math.abs(value / 100 - printed[i])).toBeLessThanOrEqual(half(4));
      expect(value / 100).toBeCloseTo(exact[i], 14);
    });
  });

  test.each([
    // Source: SMPTE EG 432-1 (P3 primaries, D65), as listed in CSS Color Module Level 4, section 18 (from memory).
    ['display-p3', [0.48657, 0.26567, 0.19822, 0.22897, 0.69174, 0.07929, 0, 0.04511, 1.04394]],
    // Source: ITU-R BT.2020-2: Y = 0.2627 R + 0.6780 G + 0.0593 B; the other rows CSS Color Module Level 4 (from memory).
    ['rec2020', [0.63696, 0.14462, 0.16888, 0.2627, 0.678, 0.0593, 0, 0.02807, 1.06099]],
  ] as [RgbSpace, number[]][])('%s: the matrix is the published one', (space, printed) => {
    rgbToXyzMatrix(space).forEach((value, i) => {
      expect(Math.abs(value / 100 - printed[i])).toBeLessThanOrEqual(half(5));
    });
  });

  test.each(vectors.colours)('$hex: linear, XYZ, Oklab and contrast equal colour-science 0.4.6', (colour) => {
    const [r, g, b] = colour.rgb.map((value) => decodeRgb(value / 255, 'srgb'));
    [r, g, b].forEach((value, i) => expect(Math.abs(value - colour.linear[i])).toBeLessThanOrEqual(half(8)));
    const found = linearRgbToXyz({ r, g, b }, 'srgb');
    [found.X, found.Y, found.Z].forEach((value, i) =>
      expect(Math.abs(value - colour.XYZ_D65[i])).toBeLessThanOrEqual(half(8)),
    );
    const oklab = xyzToOklab(xyz(colour.XYZ_D65));
    [oklab.L, oklab.a, oklab.b].forEach((value, i) =>
      // The given XYZ are rounded: 2e-8 of a dark colour's cube root.
      expect(Math.abs(value - colour.Oklab_from_XYZ[i])).toBeLessThan(2e-8),
    );
  });

  test('the sRGB curve has its standard points (IEC 61966-2-1)', () => {
    expect(encodeRgb(0, 'srgb')).toBe(0);
    expect(encodeRgb(1, 'srgb')).toBeCloseTo(1, 15);
    expect(encodeRgb(0.0031308, 'srgb')).toBeCloseTo(0.04045, 6);
    expect(decodeRgb(0.04045, 'srgb')).toBeCloseTo(0.0031308, 7);
    // 18 % grey is 8-bit 118 (common practice, no published source).
    expect(Math.round(255 * encodeRgb(0.18, 'srgb'))).toBe(118);
  });

  test.each(SPACES)(
    '%s: encoding and decoding undo each other and rise, also below 0 and above 1',
    (space) => {
      fc.assert(
        fc.property(fc.double({ min: -2, max: 2, noNaN: true }), (value) => {
          // In the seam of sRGB the standard's two pieces overlap by 6e-8: no inverse there.
          fc.pre(Math.abs(Math.abs(value) - 0.04045) > 1e-6 && Math.abs(Math.abs(value) - 0.0031308) > 1e-6);
          const there = decodeRgb(encodeRgb(value, space), space);
          const back = encodeRgb(decodeRgb(value, space), space);
          expect(Math.abs(there - value)).toBeLessThanOrEqual(1e-9 * Math.abs(value) + 1e-300);
          expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-9 * Math.abs(value) + 1e-300);
          expect(encodeRgb(value + 0.001, space)).toBeGreaterThan(encodeRgb(value, space));
        }),
        RUNS,
      );
    },
  );

  test.each(SPACES)('%s: XYZ and back is the same colour, and equal channels are neutral', (space) => {
    fc.assert(
      fc.property(anyRgb, unit, (rgb, grey) => {
        const back = xyzToLinearRgb(linearRgbToXyz(rgb, space), space);
        expect(Math.hypot(back.r - rgb.r, back.g - rgb.g, back.b - rgb.b)).toBeLessThan(1e-12);
        const { a, b } = xyzToLab(linearRgbToXyz({ r: grey, g: grey, b: grey }, space), WHITE_RGB);
        expect(Math.hypot(a, b)).toBeLessThan(1e-11);
      }),
      RUNS,
    );
  });

  test('an unknown space is refused', () => {
    expect(() => encodeRgb(0.5, 'adobe' as RgbSpace)).toThrow('Expected an RGB space');
    expect(() => rgbToXyzMatrix('toString' as RgbSpace)).toThrow(RangeError);
  });
});

describe('Oklab', () => {
  test.each(references.filter(({ id }) => id.startsWith('oklab_')))(
    '$id, $source',
    ({ inputs, published, oracle }) => {
      const [X, Y, Z] = inputs.XYZ as Triple;
      const { L, a, b } = xyzToOklab({ X: 100 * X, Y: 100 * Y, Z: 100 * Z });
      const printed = published!.Oklab as Triple;
      [L, a, b].forEach((value, i) => expect(Math.abs(value - printed[i])).toBeLessThanOrEqual(half(3)));
      const precise = oracle!.Oklab as Triple;
      [L, a, b].forEach((value, i) => expect(Math.abs(value - precise[i])).toBeLessThanOrEqual(half(8)));
    },
  );

  test.each(vectors.pairs)('distance of $reference and $sample as colour-science 0.4.6', (pair) => {
    const [first, second] = [pair.reference, pair.sample].map((hex) => xyzToOklab(parseCssColour(hex)!.xyz));
    const distance = Math.hypot(first.L - second.L, first.a - second.a, first.b - second.b);
    expect(Math.abs(distance - pair.dE_Oklab_euclid)).toBeLessThan(2e-8); // Oklab of the file is rounded to 8 decimals
  });

  test('there and back is the same stimulus', () => {
    fc.assert(
      fc.property(anyRgb, (rgb) => {
        const given = linearRgbToXyz(rgb, 'rec2020');
        const back = oklabToXyz(xyzToOklab(given));
        const error = Math.hypot(back.X - given.X, back.Y - given.Y, back.Z - given.Z);
        expect(error).toBeLessThan(1e-9 * Math.max(1, given.Y));
      }),
      RUNS,
    );
  });
});

describe('to the screen', () => {
  test.each(SPACES)('%s: colours inside come through exactly, up to the edges of the gamut', (space) => {
    const edges = [0, 1].flatMap((r) => [0, 1].flatMap((g) => [0, 0.5, 1].map((b) => ({ r, g, b }))));
    for (const rgb of edges) {
      const screen = labToScreen(encodedToLab(rgb, space), space);
      expect(screen.exact).toBe(true);
      expect(Math.hypot(screen.rgb.r - rgb.r, screen.rgb.g - rgb.g, screen.rgb.b - rgb.b)).toBeLessThan(1e-6);
    }
    fc.assert(
      fc.property(anyRgb, (rgb) => {
        const screen = labToScreen(encodedToLab(rgb, space), space);
        expect(screen.exact).toBe(true);
        // The slope of the curves at 0 multiplies rounding by 13.
        expect(Math.hypot(screen.rgb.r - rgb.r, screen.rgb.g - rgb.g, screen.rgb.b - rgb.b)).toBeLessThan(
          1e-9,
        );
      }),
      RUNS,
    );
  });

  test('colours outside keep lightness and hue, lose chroma and are marked', () => {
    const angle = (lab: Oklab) => (Math.atan2(lab.b, lab.a) * 180) / Math.PI;
    fc.assert(
      fc.property(
        fc.double({ min: 15, max: 92, noNaN: true }),
        fc.double({ min: -140, max: 140, noNaN: true }),
        fc.double({ min: -140, max: 140, noNaN: true }),
        fc.constantFrom(...SPACES),
        (L, a, b, space) => {
          const screen = labToScreen({ L, a, b }, space);
          expect(isInGamut(screen.rgb)).toBe(true);
          for (const value of Object.values(screen.rgb)) {
            expect(value).toBeGreaterThanOrEqual(0);
            expect(value).toBeLessThanOrEqual(1);
          }
          fc.pre(!screen.exact);
          const lab = { L, a, b };
          const fy = (lab.L + 16) / 116;
          const wanted = xyzToOklab({
            X: WHITE_RGB.X * cube(fy + lab.a / 500),
            Y: WHITE_RGB.Y * cube(fy),
            Z: WHITE_RGB.Z * cube(fy - lab.b / 200),
          });
          const shown = oklabOf(screen.rgb, space);
          // CSS Color 4 lets the last clip move the colour by its just noticeable difference, 0.02 in Oklab.
          expect(Math.abs(shown.L - wanted.L)).toBeLessThan(0.0201);
          expect(Math.hypot(shown.a, shown.b)).toBeLessThan(Math.hypot(wanted.a, wanted.b) + 0.0201);
          const chroma = Math.hypot(shown.a, shown.b);
          const turn = Math.abs(((angle(shown) - angle(wanted) + 540) % 360) - 180);
          expect(2 * chroma * Math.sin((Math.min(turn, 180) * Math.PI) / 360)).toBeLessThan(0.0301);
        },
      ),
      RUNS,
    );
  });

  test('white, black and beyond', () => {
    expect(labToScreen({ L: 100, a: 0, b: 0 }, 'srgb')).toMatchObject({
      css: 'color(srgb 1 1 1)',
      exact: true,
    });
    expect(labToScreen({ L: 0, a: 0, b: 0 }, 'srgb')).toMatchObject({
      css: 'color(srgb 0 0 0)',
      exact: true,
    });
    expect(labToScreen({ L: 104, a: 2, b: 0 }, 'display-p3')).toMatchObject({
      css: 'color(display-p3 1 1 1)',
      exact: false,
    });
    expect(labToScreen({ L: -3, a: 0, b: 0 }, 'srgb').css).toBe('color(srgb 0 0 0)');
    expect(() => labToScreen({ L: NaN, a: 0, b: 0 }, 'srgb')).toThrow('Expected a finite Lab, got L NaN');
  });

  test('greys are equal in all channels', () => {
    for (let L = 0; L <= 100; L += 0.5) {
      const { r, g, b } = labToScreen({ L, a: 0, b: 0 }, 'srgb').rgb;
      expect(Math.max(r, g, b) - Math.min(r, g, b)).toBeLessThan(1e-13);
    }
  });

  test('a P3 screen shows a red that sRGB cannot', () => {
    const red = encodedToLab({ r: 1, g: 0, b: 0 }, 'display-p3');
    expect(labToScreen(red, 'display-p3').exact).toBe(true);
    expect(labToScreen(red, 'srgb').exact).toBe(false);
  });
});

/** Inverse of the CIELAB lightness function (ISO/CIE 11664-4). */
function cube(f: number): number {
  return f > 6 / 29 ? f ** 3 : 3 * (6 / 29) ** 2 * (f - 4 / 29);
}

describe('CSS colours', () => {
  test.each([
    ['#fff', 100, 0, 0],
    ['#000000', 0, 0, 0],
    ['white', 100, 0, 0],
    ['rgb(255 255 255)', 100, 0, 0],
    ['color(display-p3 1 1 1)', 100, 0, 0],
    ['color(rec2020 1 1 1)', 100, 0, 0],
  ])('%s is exactly neutral', (text, L, a, b) => {
    const { lab } = parseCssColour(text)!;
    expect(lab.L).toBeCloseTo(L, 12);
    expect(lab.a).toBeCloseTo(a, 12);
    expect(lab.b).toBeCloseTo(b, 12);
  });

  test.each(vectors.colours)('$hex has the Lab of colour-science 0.4.6', ({ hex, Lab_D65 }) => {
    const { lab } = parseCssColour(hex)!;
    (['L', 'a', 'b'] as const).forEach((axis, i) =>
      expect(Math.abs(lab[axis] - Lab_D65[i])).toBeLessThan(1e-7),
    );
  });

  test.each([
    ['hsl(120 100% 50%)', '#00ff00'],
    ['hwb(240 0% 0%)', '#0000ff'],
    ['rgb(100% 0% 0%)', '#f00'],
    ['RebeccaPurple', '#663399'],
    ['  #ABC  ', '#aabbcc'],
    ['8a9b7c', '#8a9b7c'],
    ['rgb(10 none 30)', 'rgb(10 0 30)'],
    ['color(srgb 0.2 0.4 0.6)', '#336699'],
  ])('%s is the same as %s (CSS Color Module Level 4)', (text, same) => {
    const found = parseCssColour(text)!.lab;
    const expected = parseCssColour(same)!.lab;
    for (const axis of ['L', 'a', 'b'] as const) expect(found[axis]).toBeCloseTo(expected[axis], 10);
  });

  test('CSS lab() is for D50: its neutrals stay neutral, and the note says so', () => {
    const grey = parseCssColour('lab(53.585 0 0)')!;
    expect(grey.lab.L).toBeCloseTo(53.585, 5); // culori's D50 matrices are rounded
    expect(Math.hypot(grey.lab.a, grey.lab.b)).toBeLessThan(1e-4); // D50 of CSS is (0.3457, 0.3585), rounded
    expect(grey.note).toContain('D50');
    // oklch of pure sRGB red: Ottosson 2020 gives 0.628, 0.2577, 29.23 (CSS Color Module Level 4, examples).
    const red = parseCssColour('oklch(0.62796 0.25768 29.234)')!;
    const hex = parseCssColour('#f00')!;
    expect(Math.hypot(red.lab.a - hex.lab.a, red.lab.b - hex.lab.b)).toBeLessThan(0.05); // five printed digits
  });

  test.each([
    '',
    'hello',
    '#12',
    '#ggg',
    '123',
    '1234',
    '12345678',
    'rgb(',
    'transparent',
    'rgb(0 0 0 / 0)',
    'color(srgb 1e999 0 0)',
  ])('%j is no colour', (text) => {
    expect(parseCssColour(text)).toBeNull();
  });

  test('transparency is ignored and said so', () => {
    const { lab, note } = parseCssColour('rgb(10 20 30 / 50%)')!;
    expect(lab).toEqual(parseCssColour('rgb(10 20 30)')!.lab);
    expect(note).toContain('transparency ignored');
  });
});
