import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_2,
  WHITE_D65_2,
  adaptCat16,
  deltaE2000,
  illuminant,
  labToMunsell,
  munsellToLab,
  munsellValueToY,
  whitePoint,
  xyzToLab,
  xyzToXy,
  yToMunsellValue,
} from '#lib/colour/index.ts';
import { labToMunsellPoint, munsellPointToXyz, parseMunsell } from '#lib/colour/munsell.ts';
import { RUNS, half, readTable, references } from './published.ts';

describe('Munsell value', () => {
  test('agrees with the renotation, 0.975 times its Y relative to magnesium oxide', () => {
    const published = references.filter((entry) => entry.id.startsWith('munsell_value_'));
    expect(published).toHaveLength(9);
    for (const { inputs, published: expected } of published) {
      // Half a unit in the fourth figure, as printed; the coefficients themselves are rounded to five.
      const Y = 0.975 * Number(expected!.Y);
      expect(Math.abs(munsellValueToY(Number(inputs.V)) - Y)).toBeLessThan(0.005);
    }
  });

  test('goes from 0 for black to 10 for the perfect diffuser (ASTM D1535)', () => {
    expect(munsellValueToY(0)).toBe(0);
    expect(munsellValueToY(10)).toBeCloseTo(100, 2);
    expect(yToMunsellValue(0)).toBeCloseTo(0, 9);
    expect(yToMunsellValue(100)).toBeCloseTo(10, 4);
    expect(yToMunsellValue(-1)).toBeNull();
    expect(yToMunsellValue(101)).toBeNull();
    expect(yToMunsellValue(NaN)).toBeNull();
  });

  test('comes back from Y', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 9.999, noNaN: true }), (value) => {
        expect(yToMunsellValue(munsellValueToY(value))!).toBeCloseTo(value, 9);
      }),
      RUNS,
    );
  });
});

describe('the renotation', () => {
  test('gives the published chromaticities at its own points (Newhall, Nickerson and Judd 1943)', () => {
    const rows = readTable('munsell_renotation_sample.csv');
    expect(rows.length).toBeGreaterThan(90);
    for (const row of rows) {
      const xyz = munsellPointToXyz(parseMunsell(`${row.hue} ${row.value}/${row.chroma}`));
      const xy = xyzToXy(xyz)!;
      expect(Math.abs(xy.x - Number(row.x))).toBeLessThan(half(4));
      expect(Math.abs(xy.y - Number(row.y))).toBeLessThan(half(4));
    }
  });

  test('agrees with another interpolation of it at the 267 centroids of ISCC-NBS', () => {
    const from = whitePoint(illuminant('C'), OBSERVER_2);
    const differences = readTable('iscc_nbs_centroids.csv')
      .filter((row) => row.lab_basis === 'munsell')
      .map((row) => {
        const xyz = munsellPointToXyz(parseMunsell(row.munsell_centroid));
        const lab = xyzToLab(adaptCat16(xyz, { from, to: WHITE_D65_2, degree: 1 }), WHITE_D65_2);
        return deltaE2000({ L: Number(row.L_D65), a: Number(row.a_D65), b: Number(row.b_D65) }, lab);
      })
      .toSorted((one, other) => one - other);
    expect(differences).toHaveLength(263);
    // Two interpolations of one table: C*ab and hue angle here, x and y (curved) there; wide apart only below value 2.
    expect(differences[131]).toBeLessThan(0.25);
    expect(differences[250]).toBeLessThan(1);
    expect(differences.at(-1)!).toBeLessThan(2.1);
  });
});

describe('notation of a colour', () => {
  test('of the 24-patch target is near what was published with it (McCamy, Marcus and Davidson 1976)', () => {
    const measured = readTable('target24_lab.csv');
    readTable('target24_munsell.csv').forEach((row, i) => {
      const { spectral_L_D65_10: L, spectral_a_D65_10: a, spectral_b_D65_10: b } = measured[i];
      const found = labToMunsellPoint({ L: Number(L), a: Number(a), b: Number(b) })!;
      const stated = parseMunsell(row.notation);
      // The measured patches (Ohta 1997) are another printing than the chips of 1976: half a value step, one chroma step.
      expect(Math.abs(found.value - stated.value)).toBeLessThan(0.3);
      expect(Math.abs(found.chroma - stated.chroma)).toBeLessThan(1.2);
      if (stated.chroma > 1) {
        const apart = Math.abs(((found.hue - stated.hue + 150) % 100) - 50);
        expect(apart).toBeLessThan(1.7);
      }
    });
  });

  test('of a grey is N with its value', () => {
    expect(labToMunsell({ L: 100, a: 0, b: 0 })).toBe('N 10');
    expect(labToMunsell({ L: 0, a: 0, b: 0 })).toBe('N 0');
    expect(labToMunsell(munsellToLab('N 6.5')!)).toBe('N 6.5');
  });

  test('of an off-white above value 9 is given', () => {
    expect(labToMunsell({ L: 94, a: -1, b: 8 })).toMatch(/^[\d.]+(Y|GY) 9\.\d\/[\d.]+$/);
  });

  test('is null where the renotation does not reach', () => {
    expect(labToMunsell({ L: 5, a: 6, b: -8 })).toBeNull();
    expect(labToMunsell({ L: 87, a: -86, b: 83 })).toBeNull();
    expect(labToMunsell({ L: 105, a: 0, b: 0 })).toBeNull();
    expect(munsellToLab('5R 5/30')).toBeNull();
    expect(munsellToLab('5R 0.5/2')).toBeNull();
  });

  test('comes back as the same colour', () => {
    fc.assert(
      fc.property(
        fc.record({
          L: fc.double({ min: 15, max: 95, noNaN: true }),
          a: fc.double({ min: -25, max: 25, noNaN: true }),
          b: fc.double({ min: -25, max: 25, noNaN: true }),
        }),
        (lab) => {
          const notation = labToMunsell(lab);
          if (notation === null) return;
          // One decimal of hue, value and chroma: 0.05 of value is 0.5 L*, 0.05 of chroma about 0.3.
          expect(deltaE2000(lab, munsellToLab(notation)!)).toBeLessThan(0.8);
        },
      ),
      { ...RUNS, numRuns: 150 },
    );
  });

  test('comes back as the same notation', () => {
    const families = ['R', 'YR', 'Y', 'GY', 'G', 'BG', 'B', 'PB', 'P', 'RP'];
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 100 }),
        fc.integer({ min: 20, max: 90 }),
        fc.integer({ min: 5, max: 40 }),
        (hue, value, chroma) => {
          const family = families[Math.ceil(hue / 10) - 1];
          const notation = `${hue - 10 * (Math.ceil(hue / 10) - 1)}${family} ${value / 10}/${chroma / 10}`;
          const lab = munsellToLab(notation);
          if (lab === null) return;
          const back = parseMunsell(labToMunsell(lab)!);
          const stated = parseMunsell(notation);
          const apart = Math.abs(((back.hue - stated.hue + 150) % 100) - 50);
          expect(apart * stated.chroma).toBeLessThan(0.35);
          expect(Math.abs(back.value - stated.value)).toBeLessThan(0.051);
          expect(Math.abs(back.chroma - stated.chroma)).toBeLessThan(0.11);
        },
      ),
      { ...RUNS, numRuns: 150 },
    );
  });

  test('runs through the hue circle without a gap', () => {
    let last = parseMunsell(labToMunsell({ L: 60, a: 20, b: 0 })!).hue;
    let turned = 0;
    for (let h = 2; h <= 360; h += 2) {
      const angle = (h * Math.PI) / 180;
      const notation = labToMunsell({ L: 60, a: 20 * Math.cos(angle), b: 20 * Math.sin(angle) })!;
      const { hue } = parseMunsell(notation);
      const step = ((hue - last + 150) % 100) - 50;
      expect(step).toBeGreaterThan(-0.2);
      expect(step).toBeLessThan(2.5);
      turned += step;
      last = hue;
    }
    expect(turned).toBeCloseTo(100, 6);
  });
});

describe('reading a notation', () => {
  test('takes the ways people write it', () => {
    expect(parseMunsell('7.5GY 6.2/3.1')).toEqual({ hue: 37.5, value: 6.2, chroma: 3.1 });
    expect(parseMunsell(' 10 rp 5 / 4 ')).toEqual({ hue: 0, value: 5, chroma: 4 });
    expect(parseMunsell('0R 5/4')).toEqual(parseMunsell('10RP 5/4'));
    for (const text of ['N 8.5', 'N8.5', 'N 8.5/', 'n 8.5/0']) {
      expect(parseMunsell(text)).toEqual({ hue: 0, value: 8.5, chroma: 0 });
    }
  });

  test('says what is wrong', () => {
    for (const text of ['', '5R', '5R 5', '5X 5/4', 'R 5/4', '5R 5/-4', 'N', '#8a9a7b', '5R 5/4/3']) {
      expect(() => munsellToLab(text)).toThrow(
        `Expected a Munsell notation such as 7.5GY 6/3 or N 8.5, got "${text}"`,
      );
    }
    expect(() => munsellToLab('11R 5/4')).toThrow('Expected Munsell hue number in [0, 10], got 11');
    expect(() => munsellToLab('5R 11/4')).toThrow('Expected Munsell value in [0, 10], got 11');
  });
});
