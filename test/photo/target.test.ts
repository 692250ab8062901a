import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import {
  TARGET24,
  correctionFromReferences,
  measureRegion,
  readTarget24,
  type Corners,
  type Point,
} from '#lib/photo/index.ts';
import { homographyTo } from '../../src/lib/photo/target.ts';
import type { LabTriple } from './board-scene.ts';
import { picture } from './picture.ts';

const CORNERS: Corners = [
  [60, 50],
  [330, 70],
  [310, 240],
  [40, 215],
];

/** A photo of the target seen at a slant: patches with dark gaps on a dark frame, on a desk. */
function photo(light: readonly [number, number, number] = [0.8, 0.7, 0.55], gap = 0.15, frame = 0) {
  const h = homographyTo(CORNERS);
  // Inverse of the homography by cofactors, for going from pixels to the target.
  const [a, b, c, d, e, f, g, i] = h;
  const inverse = [
    e - f * i,
    c * i - b,
    b * f - c * e,
    f * g - d,
    a - c * g,
    c * d - a * f,
    d * i - e * g,
    b * g - a * i,
    a * e - b * d,
  ];
  const [width, height] = [6 + 5 * gap + 2 * frame, 4 + 3 * gap + 2 * frame];
  return picture(
    380,
    290,
    (x, y): LabTriple => {
      const w = inverse[6] * x + inverse[7] * y + inverse[8];
      const u = (inverse[0] * x + inverse[1] * y + inverse[2]) / w;
      const v = (inverse[3] * x + inverse[4] * y + inverse[5]) / w;
      if (u < 0 || v < 0 || u > 1 || v > 1) return [60, 8, 20];
      const [cu, cv] = [u * width - frame, v * height - frame];
      const [column, row] = [Math.floor(cu / (1 + gap)), Math.floor(cv / (1 + gap))];
      const inside = cu >= 0 && cv >= 0 && cu - column * (1 + gap) < 1 && cv - row * (1 + gap) < 1;
      if (!inside || column > 5 || row > 3) return [14, 0, 0];
      const { L, a: pa, b: pb } = TARGET24[row * 6 + column];
      return [L, pa, pb];
    },
    { light, noise: 2.5 },
  );
}

test('the 24 patches have the colours of their published reflectances', () => {
  const lines = readFileSync(new URL('../fixtures/published/target24_lab.csv', import.meta.url), 'utf8')
    .trim()
    .split('\n');
  const rows = lines.filter((line) => !line.startsWith('#')).map((line) => line.split(','));
  const column = rows[0].indexOf('spectral_L_D65_10');
  expect(rows.length).toBe(25);
  TARGET24.forEach(({ L, a, b }, k) => {
    const row = rows[k + 1];
    expect([L, a, b]).toEqual([0, 1, 2].map((c) => Number(row[column + c])));
  });
});

describe('reading a target', () => {
  const image = photo();

  test('samples each patch away from its edges, at a slant', () => {
    const { patches, misfit, warnings } = readTarget24(image, CORNERS);
    expect(warnings).toEqual([]);
    expect(misfit).toBeLessThan(12);
    for (const { light } of patches) {
      expect(light.strangeShare).toBeLessThan(0.1);
      expect(light.clippedShare).toBe(0);
    }
  });

  test('finds the same patches from corners that begin elsewhere or go the other way round, and says so', () => {
    const truth = readTarget24(image, CORNERS).patches.map((p) => p.centre.map(Math.round));
    for (let start = 1; start < 4; start++) {
      const turned = [0, 1, 2, 3].map((k) => CORNERS[(start + k) % 4]) as unknown as Corners;
      const { patches, warnings } = readTarget24(image, turned);
      expect(patches.map((p) => p.centre.map(Math.round))).toEqual(truth);
      expect(warnings.join()).toMatch(/began at another patch/);
    }
    const mirrored = [1, 0, 3, 2].map((k) => CORNERS[k]) as unknown as Corners;
    const { patches, warnings } = readTarget24(image, mirrored);
    expect(patches.map((p) => p.centre.map(Math.round))).toEqual(truth);
    expect(warnings.join()).toMatch(/other way round/);
  });

  test('takes the corners of the frame for those of the patches', () => {
    const { patches, warnings } = readTarget24(photo([0.8, 0.7, 0.55], 0.12, 0.35), CORNERS);
    expect(warnings).toEqual([]);
    for (const { light } of patches) expect(light.strangeShare).toBeLessThan(0.25);
  });

  test('touching patches are read as well', () => {
    const { patches } = readTarget24(photo([0.8, 0.7, 0.55], 0), CORNERS);
    for (const { light } of patches) expect(light.strangeShare).toBeLessThan(0.1);
  });

  test('what is no target is called that', () => {
    const desk = picture(380, 290, (x) => [30 + x / 8, 5, 15]);
    expect(readTarget24(desk, CORNERS).warnings.join()).toMatch(/does not look like a 24-patch target/);
  });

  test('overexposed patches are counted', () => {
    expect(readTarget24(photo([1.5, 1.5, 1.5]), CORNERS).warnings.join()).toMatch(/overexposed/);
  });

  test('corners that cross, coincide or lie outside are refused in words', () => {
    const crossed = [0, 2, 1, 3].map((k) => CORNERS[k]) as unknown as Corners;
    expect(() => readTarget24(image, crossed)).toThrow(/four corners in order/);
    expect(() =>
      readTarget24(image, [
        [1, 1],
        [1, 1],
        [9, 9],
        [1, 9],
      ]),
    ).toThrow(RangeError);
    const outside = CORNERS.map(([x, y]): Point => [x + 900, y]) as unknown as Corners;
    expect(() => readTarget24(image, outside)).toThrow(/inside the 380x290 picture/);
  });

  test('corrects the photo it is in', () => {
    const correction = correctionFromReferences(image, [{ kind: 'target24', corners: CORNERS }]);
    const region = { kind: 'box', x: 345, y: 100, width: 30, height: 100 } as const;
    const desk = { L: 60, a: 8, b: 20 };
    const measured = deltaE2000(desk, measureRegion(image, region, correction).lab);
    expect(measured).toBeLessThan(2);
    expect(measured).toBeLessThan(deltaE2000(desk, measureRegion(image, region, null).lab) / 3);
  });
});
