import { filterDeficiencyDeuter, filterDeficiencyProt, filterDeficiencyTrit } from 'culori';
import { describe, expect, test } from 'vitest';
import { COLOUR_VISIONS, decodeRgb, encodeRgb, simulateColourVision } from '#lib/colour/index.ts';
import type { ColourVision } from '#lib/colour/index.ts';

// Bytes of sRGB as a browser's emulation of Machado et al. 2009 shows pure colours, severity 1.
// Source: Wacton.Unicolour, VisionDeficiencyTests.cs (MIT), whose tolerance is 1 (2 for tritanopia).
const PURE: Record<ColourVision, [number[], number[]][]> = {
  protanopia: [
    [
      [255, 0, 0],
      [109, 95, 0],
    ],
    [
      [255, 255, 0],
      [255, 244, 0],
    ],
    [
      [0, 255, 0],
      [255, 229, 0],
    ],
    [
      [0, 255, 255],
      [237, 242, 255],
    ],
    [
      [0, 0, 255],
      [0, 88, 255],
    ],
    [
      [255, 0, 255],
      [0, 128, 255],
    ],
  ],
  deuteranopia: [
    [
      [255, 0, 0],
      [163, 144, 0],
    ],
    [
      [0, 255, 0],
      [239, 214, 59],
    ],
    [
      [0, 255, 255],
      [208, 221, 255],
    ],
    [
      [255, 0, 255],
      [104, 155, 250],
    ],
  ],
  tritanopia: [
    [
      [255, 0, 0],
      [255, 0, 13],
    ],
    [
      [255, 255, 0],
      [255, 238, 217],
    ],
    [
      [0, 255, 0],
      [0, 247, 216],
    ],
    [
      [0, 0, 255],
      [0, 108, 150],
    ],
  ],
};

const clipped = (value: number) => Math.min(255, Math.max(0, 255 * encodeRgb(value, 'srgb')));

for (const vision of COLOUR_VISIONS) {
  describe(vision, () => {
    test('pure colours look as a browser’s emulation shows them', () => {
      for (const [bytes, expected] of PURE[vision]) {
        const [r, g, b] = bytes.map((byte) => decodeRgb(byte / 255, 'srgb'));
        const seen = simulateColourVision({ r, g, b }, vision);
        const tolerance = vision === 'tritanopia' ? 2 : 1;
        for (const [i, value] of [seen.r, seen.g, seen.b].map(clipped).entries())
          expect(Math.abs(value - expected[i]), `${bytes} channel ${i}`).toBeLessThanOrEqual(tolerance);
      }
    });

    test('the matrix is the one another library has from the authors’ page', () => {
      const theirs = {
        protanopia: filterDeficiencyProt(1),
        deuteranopia: filterDeficiencyDeuter(1),
        tritanopia: filterDeficiencyTrit(1),
      }[vision];
      for (const rgb of [
        { r: 1, g: 0, b: 0 },
        { r: 0, g: 1, b: 0 },
        { r: 0, g: 0, b: 1 },
      ]) {
        const expected = theirs({ mode: 'rgb', ...rgb }) as { r: number; g: number; b: number };
        const seen = simulateColourVision(rgb, vision);
        expect(seen.r).toBeCloseTo(expected.r, 12);
        expect(seen.g).toBeCloseTo(expected.g, 12);
        expect(seen.b).toBeCloseTo(expected.b, 12);
      }
    });

    test('greys stay greys', () => {
      for (const value of [0, 0.18, 1]) {
        // Rows of the published matrices add up to 1 within the rounding of their six digits.
        const seen = simulateColourVision({ r: value, g: value, b: value }, vision);
        for (const channel of [seen.r, seen.g, seen.b]) expect(channel).toBeCloseTo(value, 5);
      }
    });
  });
}

test('a vision that is none is refused', () => {
  expect(() => simulateColourVision({ r: 0, g: 0, b: 0 }, 'toString' as ColourVision)).toThrow(RangeError);
});
