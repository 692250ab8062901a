import { describe, expect, test } from 'vitest';
import {
  OBSERVER_10,
  OBSERVER_2,
  WHITE_D65_10,
  illuminant,
  labToXyz,
  plausibleReflectance,
  recoveredLook,
  reflectanceFromLab,
  whitePoint,
} from '#lib/colour/index.ts';
import type { Lab, Spectrum } from '#lib/colour/index.ts';
import { tristimulusWeights } from '#lib/colour/tristimulus.ts';
import { CLASSES, appearance, coverage, folds, judge } from '../authoring/train/recovery-judging.ts';
import { allCurves, doubtFrom, isReflectance } from '../authoring/train/recovery.ts';

const D65_10 = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

const COLOURS: Record<string, Lab> = {
  'mid grey': { L: 55, a: 0, b: 1 },
  'deep green': { L: 32, a: -14, b: 7 },
  'off-white': { L: 93, a: -1, b: 5 },
  clay: { L: 52, a: 17, b: 22 },
  'strong red': { L: 42, a: 62, b: 38 },
  'near black': { L: 4, a: 0.5, b: -1 },
  black: { L: 0, a: 0, b: 0 },
  white: { L: 100, a: 0, b: 0 },
  'no surface': { L: 85, a: -140, b: 120 },
};

describe('what is not known about a reflectance', () => {
  test.each(Object.entries(COLOURS))('is 12 directions that leave the colour alone: %s', (_, lab) => {
    const { reflectance, deltaE, directions } = plausibleReflectance(lab);
    expect(directions).toHaveLength(12);
    expect(Number.isFinite(deltaE)).toBe(true);
    const weights = tristimulusWeights(D65_10);
    for (const direction of directions) {
      expect(direction).toHaveLength(81);
      for (let i = 0; i < 3; i++) {
        let moved = 0;
        direction.forEach((v, j) => (moved += weights[i * 81 + j] * v));
        expect(Math.abs(moved)).toBeLessThan(1e-9);
      }
    }
    expect(reflectance.every((v) => v >= 0 && v <= 1)).toBe(true);
  });

  test('goes with the reflectance that is recovered', () => {
    const { clay } = COLOURS;
    expect(Array.from(plausibleReflectance(clay).reflectance)).toEqual(Array.from(reflectanceFromLab(clay)));
  });

  test('does not depend on what was asked before', () => {
    const once = plausibleReflectance(COLOURS.clay);
    plausibleReflectance(COLOURS['strong red']);
    recoveredLook({ X: 20, Y: 30, Z: 10 }, D65_10, illuminant('A'));
    const again = plausibleReflectance(COLOURS.clay);
    expect(again.directions.map((d) => Array.from(d))).toEqual(once.directions.map((d) => Array.from(d)));
  });

  test('is the same as the spread of a look, but for its rounding', () => {
    // The covariance of a look is the sum of squares of what each direction does to it.
    const light = illuminant('FL11');
    for (const lab of [COLOURS['mid grey'], COLOURS.clay]) {
      const { reflectance, directions } = plausibleReflectance(lab);
      const { covariance } = recoveredLook(labToXyz(lab, WHITE_D65_10), D65_10, light);
      const step = 1e-4;
      const moved = directions.map((d) => {
        const to = appearance(mixed(reflectance, d, step), light);
        const from = appearance(mixed(reflectance, d, -step), light);
        return [to.L - from.L, to.a - from.a, to.b - from.b].map((v) => v / (2 * step));
      });
      for (let i = 0; i < 9; i++) {
        const sum = moved.reduce((total, m) => total + m[Math.floor(i / 3)] * m[i % 3], 0);
        expect(covariance[i]).toBeCloseTo(sum + (i % 4 === 0 ? 0.01 : 0), 4);
      }
    }
  });

  test('is found for another light and observer than D65 and 10 degrees', () => {
    const sight = { illuminant: illuminant('A'), observer: OBSERVER_2 };
    const white = whitePoint(sight.illuminant, sight.observer);
    const xyz = { X: 0.3 * white.X, Y: 30, Z: 0.25 * white.Z };
    const same = recoveredLook(xyz, sight, sight.illuminant);
    const other = recoveredLook(xyz, sight, illuminant('FL11'));
    const spread = (s: readonly number[]) => s[0] + s[4] + s[8];
    expect(spread(same.covariance)).toBeLessThan(0.0301); // rounding alone
    expect(spread(other.covariance)).toBeGreaterThan(0.1);
  });

  test('is less for greys and whites than for strong colours', () => {
    const spread = (lab: Lab) => {
      const { covariance: s } = recoveredLook(labToXyz(lab, WHITE_D65_10), D65_10, illuminant('LED-B1'));
      return Math.sqrt(s[0] + s[4] + s[8]);
    };
    expect(spread(COLOURS['off-white'])).toBeLessThan(spread(COLOURS['mid grey']));
    expect(spread(COLOURS['mid grey'])).toBeLessThan(spread(COLOURS['strong red']));
  });
});

function mixed(reflectance: Spectrum, direction: Spectrum, z: number): Spectrum {
  return reflectance.map((v, j) => v + z * direction[j]);
}

describe('the stated spread, on rows held out', () => {
  const { training, target, rendering } = allCurves();
  const kept = [...training, ...target, ...rendering].filter(isReflectance);

  // 93-98 % is the aim for the 95 % ellipsoid. A class has 10-60 curves here, each under 8 lamps that agree with one
  // another, so one class may miss by more than the whole.
  test('covers the truth in every class of colour', () => {
    const parts = folds(kept, 3, 20240601);
    const judged = parts.flatMap((part, f) =>
      judge(
        part.filter((_, i) => i % 2 === 0),
        doubtFrom(parts.flatMap((other, i) => (i === f ? [] : other))),
      ),
    );
    expect(coverage(judged)).toBeGreaterThan(0.93);
    expect(coverage(judged)).toBeLessThan(0.985);
    for (const { name, holds } of CLASSES) {
      expect(coverage(judged.filter((one) => holds(one.lab))), name).toBeGreaterThan(0.9);
    }
  });

  test('covers the target and the rendering samples, learned from the 190 alone', () => {
    const judged = judge([...target, ...rendering], doubtFrom(training));
    expect(coverage(judged)).toBeGreaterThan(0.93);
    expect(coverage(judged)).toBeLessThan(0.995);
  });
});
