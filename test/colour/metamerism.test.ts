import { describe, expect, test } from 'vitest';
import {
  OBSERVER_10,
  OBSERVER_2,
  deltaE2000,
  deltaE76,
  illuminant,
  metamerismIndexFromXyz,
  resample,
  specialMetamerismIndex,
  spectrumToXyz,
  whitePoint,
  xyToXyz,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { XYZ } from '#lib/colour/index.ts';
import { readTable, xyz } from './published.ts';

const D65 = illuminant('D65');
const A = illuminant('A');

/** A dark green dyed twice, 400-700 nm by 10, D65 to A, 10 degrees: pair and results as printed in the documentation of
 * colour-science's `colour.difference.metamerism_index` (BSD-3-Clause), which follows ISO 18314-4:2024. */
const PRINTED = {
  reference: { from: xyz([7.6576, 10.7116, 5.0731]), to: xyz([8.96442, 10.1878, 1.6663]) },
  sample: { from: xyz([7.6933, 10.5616, 5.54474]), to: xyz([8.56438, 10.0324, 1.9315]) },
  multiplicative: 3.7906989,
  whiteA: xyToXyz({ x: 0.45117, y: 0.40594 }, 100),
  referenceCurve: [
    0.099, 0.1244, 0.0933, 0.0596, 0.0405, 0.0322, 0.0299, 0.0316, 0.0377, 0.0507, 0.0681, 0.0968, 0.1522,
    0.2014, 0.1991, 0.159, 0.1162, 0.0843, 0.0655, 0.057, 0.0553, 0.0582, 0.0638, 0.0716, 0.0818, 0.0959,
    0.1131, 0.1317, 0.149, 0.1656, 0.1832,
  ],
  sampleCurve: [
    0.0379, 0.0403, 0.0415, 0.0427, 0.045, 0.0483, 0.0521, 0.0572, 0.0624, 0.0673, 0.0777, 0.1026, 0.1307,
    0.145, 0.1484, 0.1455, 0.1375, 0.1254, 0.1099, 0.0908, 0.0698, 0.0526, 0.0423, 0.0368, 0.0331, 0.0306,
    0.0297, 0.0311, 0.034, 0.038, 0.0421,
  ],
};
const curve = (values: number[]) =>
  resample({ wavelengths: values.map((_, i) => 400 + 10 * i), values }).spectrum;

const rows = readTable('target24_reflectance.csv');
const patches = Object.keys(rows[0])
  .filter((column) => column !== 'nm')
  .map((column) => Float64Array.from(rows, (row) => Number(row[column])));
const change = { from: D65, to: A, observer: OBSERVER_10 };

describe('the special metamerism index against the printed example', () => {
  test('from tristimulus values', () => {
    const { reference, sample, whiteA, multiplicative } = PRINTED;
    const index = metamerismIndexFromXyz(reference, sample, { white: whiteA });
    // The white of A is known to five figures of chromaticity.
    expect(Math.abs(index - multiplicative)).toBeLessThan(2e-4);
  });

  test('from the reflectances', () => {
    const index = specialMetamerismIndex(curve(PRINTED.referenceCurve), curve(PRINTED.sampleCurve), change);
    // Ours are sums at 5 nm over 380-780, theirs at 10 nm over 400-700.
    expect(Math.abs(index - PRINTED.multiplicative)).toBeLessThan(0.1);
  });
});

describe('the special metamerism index', () => {
  test('is 0 for a surface and itself, and for one that differs by the same factor everywhere', () => {
    for (const patch of patches) {
      expect(specialMetamerismIndex(patch, patch, change)).toBeLessThan(1e-9);
      const darker = patch.map((value) => 0.9 * value);
      expect(specialMetamerismIndex(patch, darker, change)).toBeLessThan(1e-9);
    }
  });

  test('is 0 without a change of light', () => {
    const still = { from: D65, to: D65, observer: OBSERVER_2 };
    for (const patch of patches.slice(1)) {
      expect(specialMetamerismIndex(patches[0], patch, still)).toBeLessThan(1e-9);
    }
  });

  test('does not ask how strong the lights are', () => {
    const [one, other] = patches;
    const stronger = { ...change, from: D65.map((v) => 3 * v), to: A.map((v) => 0.2 * v) };
    expect(specialMetamerismIndex(one, other, stronger)).toBeCloseTo(
      specialMetamerismIndex(one, other, change),
      9,
    );
  });

  test('of a pair that matches exactly is the plain colour difference under the other light', () => {
    // A metameric black: what no light-and-observer pair of the three sums sees.
    const base = new Float64Array(81).fill(0.4);
    const rows = [OBSERVER_10.xBar, OBSERVER_10.yBar, OBSERVER_10.zBar].map((bar) =>
      Array.from(bar, (v, i) => v * D65[i]),
    );
    let ripple = Array.from({ length: 81 }, (_, i) => Math.sin(i / 5));
    const basis: number[][] = [];
    const dot = (p: number[], q: number[]) => p.reduce((sum, v, i) => sum + v * q[i], 0);
    for (const row of rows) {
      let rest = row;
      for (const b of basis) rest = rest.map((v, i) => v - (dot(row, b) / dot(b, b)) * b[i]);
      basis.push(rest);
    }
    for (const b of basis) {
      const share = dot(ripple, b) / dot(b, b);
      ripple = ripple.map((v, i) => v - share * b[i]);
    }
    const size = Math.max(...ripple.map(Math.abs));
    const twin = base.map((v, i) => v + (0.3 * ripple[i]) / size);
    const under = (reflectance: Float64Array, light: Float64Array): XYZ =>
      spectrumToXyz(reflectance, { illuminant: light, observer: OBSERVER_10 });
    const day = [base, twin].map((r) => xyzToLab(under(r, D65), whitePoint(D65, OBSERVER_10)));
    const lamp = [base, twin].map((r) => xyzToLab(under(r, A), whitePoint(A, OBSERVER_10)));
    expect(deltaE76(day[0], day[1])).toBeLessThan(1e-9);
    expect(deltaE76(lamp[0], lamp[1])).toBeGreaterThan(1);
    expect(specialMetamerismIndex(base, twin, change)).toBeCloseTo(deltaE76(lamp[0], lamp[1]), 9);
    expect(specialMetamerismIndex(base, twin, { ...change, formula: 'CIEDE2000' })).toBeCloseTo(
      deltaE2000(lamp[0], lamp[1]),
      9,
    );
  });

  test('refuses a sample without reflection and curves off the grid', () => {
    expect(() => specialMetamerismIndex(patches[0], new Float64Array(81), change)).toThrow(RangeError);
    expect(() => specialMetamerismIndex(patches[0], [0.5], change)).toThrow(RangeError);
  });
});
