import { describe, expect, test } from 'vitest';
import {
  OBSERVER_10,
  WHITE_D65_10,
  deltaE2000,
  illuminant,
  labToXyz,
  nearestReflectance,
  reflectancesFromLab,
  spectrumToXyz,
  xyzToLab,
} from '#lib/colour/index.ts';
import { KIND_NAMES, coloursOf } from '../authoring/train/recovery-colours.ts';
import { summary } from '../authoring/train/recovery-judging.ts';
import { compareTable } from '../authoring/train/table-judging.ts';

const SIGHT = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

describe('reflectances of many colours', () => {
  // The mean differences are to stay well below the doubt of a look (0.4 and more on each axis).
  const MEAN_LOOK: Record<string, number> = {
    muted: 0.06,
    'whole solid': 0.4,
    'near black': 0.1,
    'near white': 0.06,
    'random smooth curves': 0.15,
    'nearly optimal colours': 0.8,
  };
  for (const kind of KIND_NAMES) {
    test(`have the asked colour, stay in [0, 1] and look like the solver's: ${kind}`, () => {
      const { misses, looks, lowest, highest } = compareTable(coloursOf(kind, 120));
      expect(misses).toHaveLength(120);
      expect(Math.max(...misses)).toBeLessThan(0.01);
      expect(lowest).toBeGreaterThanOrEqual(0);
      expect(highest).toBeLessThanOrEqual(1);
      expect(summary(looks).mean).toBeLessThan(MEAN_LOOK[kind]);
    });
  }

  test('are exact from black to white and for every grey between', () => {
    const lightnesses = [0, 0.01, 0.5, 3, 10, 25, 50, 75, 90, 97, 99.9, 100];
    const found = reflectancesFromLab(Float32Array.from(lightnesses.flatMap((L) => [L, 0, 0])));
    lightnesses.forEach((L, i) => {
      const lab = xyzToLab(spectrumToXyz(found.subarray(81 * i, 81 * i + 81), SIGHT), WHITE_D65_10);
      expect(deltaE2000({ L: Math.fround(L), a: 0, b: 0 }, lab)).toBeLessThan(0.01);
    });
  });

  test('of colours outside the object-colour solid are those of the nearest surface', () => {
    const labs = [85, -140, 120, 30, 90, -130, 120, 0, 0, -10, 0, 0];
    const found = reflectancesFromLab(Float32Array.from(labs));
    for (let i = 0; i < 4; i++) {
      const [L, a, b] = labs.slice(3 * i);
      const { reflectance } = nearestReflectance(labToXyz({ L, a, b }, WHITE_D65_10), SIGHT);
      const asked = xyzToLab(spectrumToXyz(reflectance, SIGHT), WHITE_D65_10);
      const got = xyzToLab(spectrumToXyz(found.subarray(81 * i, 81 * i + 81), SIGHT), WHITE_D65_10);
      expect(deltaE2000(asked, got)).toBeLessThan(0.01);
    }
  });

  test('do not depend on the company they are asked in', () => {
    const labs = coloursOf('muted', 20);
    const together = reflectancesFromLab(labs);
    const alone = reflectancesFromLab(labs.slice(3 * 7, 3 * 8));
    expect(Array.from(alone)).toEqual(Array.from(together.subarray(81 * 7, 81 * 8)));
    expect(reflectancesFromLab(new Float32Array(0))).toHaveLength(0);
  });

  test('are refused for numbers that are not finite, and for a broken list', () => {
    expect(() => reflectancesFromLab(Float32Array.from([50, NaN, 0]))).toThrow(/^Expected finite/);
    expect(() => reflectancesFromLab(Float32Array.from([Infinity, 0, 0]))).toThrow(RangeError);
    expect(() => reflectancesFromLab(Float32Array.from([50, 0]))).toThrow(/^Expected three values/);
  });
});
