import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_2,
  blackBody,
  cctOhno2014,
  cctToXy,
  colourRenderingIndex,
  daylight,
  illuminant,
  whitePoint,
  xyToXyz,
} from '#lib/colour/index.ts';
import type { IlluminantName } from '#lib/colour/index.ts';
import { RUNS, references, vectors } from './published.ts';

const lamps = references.filter(({ id }) => id.startsWith('cct_ra_'));

describe('correlated colour temperature', () => {
  test.each(vectors.cct)('$name as colour-science 0.4.6', ({ xy, CCT_Ohno2013, Duv_Ohno2013 }) => {
    const { cct, duv } = cctOhno2014(xyToXyz({ x: xy[0], y: xy[1] }, 100))!;
    // Their locus is summed at 1 nm, ours at 5 nm: 0.001 % of the temperature; their table leaves 2e-6 of that itself.
    expect(Math.abs(cct / CCT_Ohno2013 - 1)).toBeLessThan(1.5e-5);
    expect(Math.abs(duv - Duv_Ohno2013)).toBeLessThan(1.5e-6);
  });

  test.each(lamps)('$id has its published temperature, $source', ({ inputs, published, oracle }) => {
    const { cct, duv } = cctOhno2014(
      whitePoint(illuminant(inputs.illuminant as IlluminantName), OBSERVER_2),
    )!;
    const name = inputs.illuminant as string;
    // LED lamps are printed to 1 K, fluorescent ones to 10 K; some of these were rounded from older constants (6 K off).
    expect(Math.abs(cct - (published!.CCT as number))).toBeLessThan(name.startsWith('LED') ? 1 : 6);
    expect(Math.abs(cct - (oracle!.CCT_Ohno2013 as number))).toBeLessThan(0.05); // step of 1 nm against 5 nm, as above
    expect(Math.abs(duv - (oracle!.Duv as number))).toBeLessThan(7e-6); // five decimals are printed, and the step
  });

  test('there and back gives temperature and Duv to 1e-9, over the whole range', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.double({ min: -0.05, max: 0.05, noNaN: true }),
        (share, duv) => {
          const cct = 1000 * 100 ** share;
          const found = cctOhno2014(xyToXyz(cctToXy(cct, duv), 100))!;
          expect(Math.abs(found.cct / cct - 1)).toBeLessThan(1e-9);
          expect(Math.abs(found.duv - duv)).toBeLessThan(1e-11);
        },
      ),
      RUNS,
    );
    for (const cct of [1000, 100000]) {
      for (const duv of [-0.05, 0, 0.05]) {
        expect(cctOhno2014(xyToXyz(cctToXy(cct, duv), 1))!.cct / cct).toBeCloseTo(1, 9);
      }
    }
  });

  test('a black body has its own temperature and no Duv', () => {
    for (let kelvin = 1500; kelvin < 8000; kelvin *= 1.3) {
      const { cct, duv } = cctOhno2014(whitePoint(blackBody(kelvin), OBSERVER_2))!;
      // The grid ends at 380 and 780 nm, the locus runs from 360 to 830 nm: 2 K at 7200 K, less below.
      expect(Math.abs(cct / kelvin - 1)).toBeLessThan(4e-4);
      expect(Math.abs(duv)).toBeLessThan(2e-5);
    }
  });

  test('daylight lies on the green side of the locus, at its temperature (CIE 15:2018)', () => {
    for (let cct = 4000; cct <= 25000; cct += 1000) {
      const found = cctOhno2014(whitePoint(daylight(cct), OBSERVER_2))!;
      // The daylight locus is itself a fit: within 0.6 % of the nominal temperature up to 25000 K.
      expect(Math.abs(found.cct / cct - 1)).toBeLessThan(0.006);
      expect(found.duv).toBeGreaterThan(0.0015);
      expect(found.duv).toBeLessThan(0.005);
    }
  });

  test('where temperature has no meaning the answer is null', () => {
    expect(cctOhno2014({ X: 0, Y: 0, Z: 0 })).toBeNull();
    expect(cctOhno2014(xyToXyz({ x: 0.3, y: 0.6 }, 100))).toBeNull(); // sRGB green
    expect(cctOhno2014(xyToXyz({ x: 0.15, y: 0.06 }, 100))).toBeNull(); // sRGB blue
    expect(cctOhno2014(xyToXyz({ x: 0.64, y: 0.33 }, 100))).toBeNull(); // sRGB red, below 1000 K
    const off = cctToXy(4000, 0.05);
    expect(cctOhno2014(xyToXyz({ x: off.x, y: off.y + 0.002 }, 100))).toBeNull();
    expect(cctOhno2014({ X: NaN, Y: 1, Z: 1 })).toBeNull();
  });

  test('asking for a chromaticity outside the range is refused', () => {
    expect(() => cctToXy(999, 0)).toThrow('Expected a colour temperature in [1000, 100000] K, got 999');
    expect(() => cctToXy(4000, 0.051)).toThrow('Expected Duv in [-0.05, 0.05], got 0.051');
    expect(() => cctToXy(NaN, 0)).toThrow(RangeError);
  });
});

describe('colour rendering (CIE 13.3)', () => {
  test.each(lamps)('$id has its published Ra, $source', ({ inputs, published, oracle }) => {
    const name = inputs.illuminant as string;
    const { Ra, R } = colourRenderingIndex(illuminant(name as IlluminantName))!;
    expect(R).toHaveLength(14);
    if (published!.Ra !== null) {
      // Printed in whole units. FL8 (95.50) and LED-V2 (95.65) are printed as 95: cut, or made at another step.
      const tolerance = ['FL8', 'LED-V2'].includes(name) ? 0.7 : 0.5;
      expect(Math.abs(Ra - (published!.Ra as number))).toBeLessThanOrEqual(tolerance);
    }
    // Theirs lies 0.00-0.13 higher (0.28 for the three lines of LED-RGB1), unexplained: not by their Robertson CCT, nor
    // by the step, since a sum at 1 nm over 360-780 nm moves ours by 0.02 at most. The printed units cannot tell.
    expect(Math.abs(Ra - (oracle!.Ra as number))).toBeLessThan(name === 'LED-RGB1' ? 0.3 : 0.13);
  });

  test('the reference lights themselves have 100 throughout', () => {
    for (const light of [blackBody(2700), blackBody(4000), daylight(5500), daylight(8000)]) {
      const { Ra, R } = colourRenderingIndex(light)!;
      expect(Ra).toBeGreaterThan(99.9);
      for (const index of R) expect(index).toBeGreaterThan(99.8);
    }
    // A is a black body, D65 daylight; both by definition of CIE 13.3.
    expect(colourRenderingIndex(illuminant('A'))!.Ra).toBeGreaterThan(99.9);
    expect(colourRenderingIndex(illuminant('D65'))!.Ra).toBeGreaterThan(99.9);
  });

  test('Ra is the mean of the first eight, does not depend on the scale of the lamp, and R9 tells reds', () => {
    const lamp = illuminant('FL11');
    const { Ra, R } = colourRenderingIndex(lamp)!;
    expect(R.slice(0, 8).reduce((sum, index) => sum + index, 0) / 8).toBeCloseTo(Ra, 12);
    expect(colourRenderingIndex(lamp.map((value) => value * 1000))!.Ra).toBeCloseTo(Ra, 8);
    // Halophosphate tubes are known for lost reds (common practice, no published source).
    expect(colourRenderingIndex(illuminant('FL2'))!.R[8]).toBeLessThan(0);
    expect(colourRenderingIndex(illuminant('LED-V1'))!.R[8]).toBeGreaterThan(90);
  });

  test('a lamp without colour temperature has no index; one that is no spectrum is refused', () => {
    const line = new Float64Array(81);
    line[30] = 1;
    expect(colourRenderingIndex(line)).toBeNull();
    expect(colourRenderingIndex(blackBody(60000))).toBeNull();
    expect(() => colourRenderingIndex(new Float64Array(81))).toThrow(RangeError);
    expect(() => colourRenderingIndex(new Float64Array(80))).toThrow(RangeError);
  });
});

test('every reference value is used here or named as outside this area', () => {
  const used =
    /^(whitepoint_|cct_ra_|daylight_|cam16_|ciecam16_|oklab_|wcag_|cielab_constants|srgb_constants|cat16_matrix)/;
  // CIECAM02 and CIE whiteness are not computed; the Munsell values are tested with the notation.
  const outside = /^(ciecam02_|cie_whiteness_|munsell_value_)/;
  expect(references.filter(({ id }) => !used.test(id) && !outside.test(id))).toEqual([]);
  expect(references.filter(({ id }) => used.test(id)).length).toBeGreaterThan(70);
});
