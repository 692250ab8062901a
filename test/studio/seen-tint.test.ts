import { describe, expect, test } from 'vitest';
import {
  deltaE2000,
  labToXyz,
  linearRgbToXyz,
  WHITE_D65_2,
  xyzToLab,
  xyzToLinearRgb,
  type Lab,
} from '#lib/colour/index.ts';
import { bounceGuess, TINTED, tintNote, tintOf } from '#lib/studio/seen-tint.ts';

/** A straw yellow as somebody measured it on the wall of a room, and the orange it came out as. */
const STRAW: Lab = { L: 82, a: -2.9, b: 40.6 };
const ORANGE: Lab = { L: 68, a: 15.5, b: 40 };

/** A paint in a light, both in linear sRGB, with white mirrored on it. */
function lit(paint: Lab, light: readonly [number, number, number], mirrored = 0): Lab {
  const { r, g, b } = xyzToLinearRgb(labToXyz(paint, WHITE_D65_2), 'srgb');
  const [red, green, blue] = [r, g, b].map((albedo, c) => (albedo + mirrored) * light[c]);
  return xyzToLab(linearRgbToXyz({ r: red, g: green, b: blue }, 'srgb'), WHITE_D65_2);
}

const PAINTS: readonly Lab[] = [
  STRAW,
  { L: 95, a: 0, b: 3 },
  { L: 62, a: -9, b: 11 },
  { L: 30, a: 2, b: -18 },
];

describe('the tint of a place', () => {
  test('is none where there is only more or less light', () => {
    for (const paint of PAINTS)
      for (const level of [0.15, 0.5, 1])
        for (const mirrored of [false, true]) {
          const place = lit(paint, [level, level, level]);
          // Below that eight bits tell no colour.
          if (place.L > 12) expect(tintOf(paint, place, { mirrored })).toBeNull();
        }
  });

  test('is not what a shine makes of a paint, at a spot; over a whole surface nothing is taken for a shine', () => {
    const glare = lit({ L: 30, a: 2, b: -18 }, [0.8, 0.8, 0.8], 0.3);
    expect(tintOf({ L: 30, a: 2, b: -18 }, glare, { mirrored: true })).toBeNull();
    expect(tintOf({ L: 30, a: 2, b: -18 }, glare, { mirrored: false })).not.toBeNull();
  });

  test('is said with its size and way where a straw yellow comes out orange', () => {
    for (const mirrored of [false, true]) {
      const tint = tintOf(STRAW, ORANGE, { mirrored });
      expect(tint?.difference).toBeGreaterThanOrEqual(TINTED);
      expect(tint?.words).toMatch(/redder/);
      // At one lightness it is less than with the shade in it.
      expect(tint?.difference).toBeLessThanOrEqual(deltaE2000(STRAW, ORANGE));
    }
  });

  test('of a surface is told from the colour of the light on it, and by what it may be', () => {
    const warm = [0.59, 0.4, 0.27] as const;
    const guessed = tintNote(STRAW, warm, { name: 'Walls', known: false });
    expect(guessed).toMatch(
      /^Walls: the light of the photo, or what is there now, tints it\. .*redder.* than/,
    );
    expect(tintNote(STRAW, warm, { name: 'Walls', known: true })).not.toContain('there now');
    const grey = tintNote(STRAW, [0.5, 0.5, 0.5], { name: 'Walls', known: false });
    expect(grey).toBeNull();
    // A surface nobody marked has no light.
    expect(tintNote(STRAW, [0, 0, 0], { name: 'Walls', known: false })).toBeNull();
  });
});

test('light thrown back and forth is said where more than one surface has a finish on', () => {
  expect(bounceGuess(0)).toBeNull();
  expect(bounceGuess(1)).toBeNull();
  expect(bounceGuess(2)).toMatch(/throw light at each other/);
});
