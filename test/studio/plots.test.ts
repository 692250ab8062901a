import {
  deltaE2000,
  illuminant,
  OBSERVER_10,
  spectrumToXyz,
  WAVELENGTHS,
  WHITE_D65_10,
  xyzToLab,
} from '#lib/colour/index.ts';
import { readLightFile } from '#lib/finish/index.ts';
import { describe, expect, test } from 'vitest';
import { curvesCsv, fileName } from '../../src/lib/studio/plot-file.ts';
import { labelPlaces, type LabelSpace } from '../../src/lib/studio/plot-labels.ts';
import { reflectanceBand } from '../../src/lib/studio/reflectance-band.ts';

describe('a saved plot', () => {
  test('is read back as the lamp it was', () => {
    const values = illuminant('FL11');
    const text = curvesCsv([{ name: 'Tube', values }]);
    const { spectrum } = readLightFile(text, 'tube.csv');
    const most = Math.max(...values);
    for (const [i, value] of spectrum.entries()) expect(value).toBeCloseTo(values[i] / most, 5);
  });

  test('has a line for each wavelength and a column for each curve, names quoted as RFC 4180 has it', () => {
    const flat = new Float64Array(81).fill(0.5);
    const text = curvesCsv([
      { name: 'Dusk, "window"', values: flat },
      { name: 'Daylight', values: flat, dashed: true },
    ]);
    const lines = text.split('\r\n');
    expect(lines).toHaveLength(83);
    expect(lines[0]).toBe('wavelength (nm),"Dusk, ""window""",Daylight');
    expect(lines[1]).toBe('380,0.5,0.5');
    expect(lines[81]).toBe('780,0.5,0.5');
    expect(lines[82]).toBe('');
  });

  test('gets a name that every file system takes', () => {
    expect(fileName('Dusk / window: its light', 'csv')).toBe('dusk-window-its-light.csv');
    expect(fileName('…', 'svg')).toBe('plot.svg');
    expect(fileName('x'.repeat(300), 'svg').length).toBeLessThan(70);
  });
});

describe('names at the curves', () => {
  const space: LabelSpace = { left: 40, right: 360, top: 10, bottom: 200, letter: 6.6, line: 15 };
  const curve = (name: string, height: (part: number) => number) => ({
    name,
    points: Array.from({ length: 81 }, (_, i) => [40 + i * 4, height(i / 80)] as const),
  });

  test('stay inside, do not meet, and are nearest to their own curve', () => {
    const curves = [
      curve('Dusk', (t) => 100 - 60 * Math.sin(3 * t)),
      curve('Plain daylight', (t) => 60 + 20 * t),
      curve('Warm LED lamp', (t) => 190 - 90 * t ** 3),
    ];
    const places = labelPlaces(curves, space);
    const boxes = places.map(({ x, y }, i) => ({
      ...{ left: x, right: x + curves[i].name.length * space.letter },
      middle: y + space.line * 0.25 - space.line / 2,
    }));
    for (const [i, box] of boxes.entries()) {
      expect(box.left).toBeGreaterThanOrEqual(space.left);
      expect(box.right).toBeLessThanOrEqual(space.right);
      expect(box.middle - space.line / 2).toBeGreaterThanOrEqual(space.top);
      expect(box.middle + space.line / 2).toBeLessThanOrEqual(space.bottom);
      for (const other of boxes.slice(i + 1)) {
        const apart =
          box.right <= other.left ||
          other.right <= box.left ||
          Math.abs(box.middle - other.middle) >= space.line - 1e-9;
        expect(apart).toBe(true);
      }
      const gaps = curves.map(({ points }) =>
        Math.min(
          ...points.filter(([x]) => x >= box.left && x <= box.right).map(([, y]) => Math.abs(y - box.middle)),
        ),
      );
      expect(Math.min(...gaps)).toBe(gaps[i]);
    }
  });

  test('have a place even where there is none that is free', () => {
    const same = Array.from({ length: 12 }, (_, i) => curve(`Curve ${i}`, () => 100));
    for (const { x, y } of labelPlaces(same, space)) {
      expect(Number.isFinite(x) && Number.isFinite(y)).toBe(true);
    }
  });
});

describe('the band of a reflectance', () => {
  test('holds its curve, stays between 0 and 1, and its curve has the colour', () => {
    const daylight = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
    for (const lab of [
      { L: 95, a: 0, b: 2 },
      { L: 50, a: 40, b: 30 },
      { L: 20, a: -3, b: -4 },
    ]) {
      const { reflectance, low, high, deltaE } = reflectanceBand(lab);
      const seen = xyzToLab(spectrumToXyz(reflectance, daylight), WHITE_D65_10);
      expect(deltaE2000(lab, seen)).toBeLessThan(0.02);
      expect(deltaE).toBeLessThan(0.02);
      for (const i of WAVELENGTHS.keys()) {
        expect(low[i]).toBeGreaterThanOrEqual(0);
        expect(high[i]).toBeLessThanOrEqual(1);
        expect(low[i]).toBeLessThanOrEqual(reflectance[i]);
        expect(high[i]).toBeGreaterThanOrEqual(reflectance[i]);
      }
      // Where the eye is blind the colour says least (CIE 15:2018, colour-matching functions at 780 nm).
      expect(high[80] - low[80]).toBeGreaterThan(high[34] - low[34]);
    }
  });

  test('says how far it is off where no surface has the colour', () => {
    expect(reflectanceBand({ L: 60, a: 120, b: 100 }).deltaE).toBeGreaterThan(1);
  });
});
