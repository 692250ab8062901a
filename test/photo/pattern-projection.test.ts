import { describe, expect, test } from 'vitest';
import { decodeRgb } from '#lib/colour/index.ts';
import {
  homographyToPlane,
  projectPattern,
  surfaceLayers,
  tonedPattern,
  type AlbedoPlane,
  type Image8,
  type PlaneCorners,
} from '#lib/photo/index.ts';
import { random } from './board-scene.ts';

/** A pattern drawn from a grey per texel. */
function pattern(width: number, height: number, grey: (x: number, y: number) => number): Image8 {
  const data = new Uint8Array(3 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) data.fill(grey(x, y), 3 * (y * width + x), 3 * (y * width + x) + 3);
  return { width, height, channels: 3, data, space: 'srgb' };
}

/** Layers of a whole evenly grey picture. */
function wall(width: number, height: number) {
  const photo = pattern(width, height, () => 150);
  return surfaceLayers(photo, { width, height, data: new Uint8Array(width * height).fill(255) });
}

const grey = ({ width, data }: AlbedoPlane, x: number, y: number) => data[3 * (y * width + x)];

const apply = (m: readonly number[], [x, y]: readonly [number, number]) => {
  const w = m[6] * x + m[7] * y + m[8];
  return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
};

const SQUARE: PlaneCorners = [
  [0, 0],
  [200, 0],
  [200, 200],
  [0, 200],
];
const FLOOR: PlaneCorners = [
  [140, 60],
  [180, 60],
  [300, 200],
  [20, 200],
];

describe('four corners of a plane', () => {
  test('go to the corners of its real size, and points on its lines stay on them', () => {
    const m = homographyToPlane({ corners: FLOOR, width: 3000, height: 4000 });
    const real = [
      [0, 0],
      [3000, 0],
      [3000, 4000],
      [0, 4000],
    ];
    FLOOR.forEach((corner, k) => {
      const [u, v] = apply(m, corner);
      expect(u).toBeCloseTo(real[k][0], 6);
      expect(v).toBeCloseTo(real[k][1], 6);
    });
    // Where the diagonals of the picture cross lies the middle of the rectangle (projective geometry).
    const crossing = 60 + (140 * 20) / (20 + 140);
    const [u, v] = apply(m, [160, crossing]);
    expect(u).toBeCloseTo(1500, 6);
    expect(v).toBeCloseTo(2000, 6);
  });

  test.each([
    ['counter-clockwise', [SQUARE[0], SQUARE[3], SQUARE[2], SQUARE[1]]],
    ['crossed', [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]],
    ['on a line', [SQUARE[0], [100, 0], SQUARE[1], [50, 0]]],
  ] as [string, PlaneCorners][])('%s corners are refused', (_, corners) => {
    expect(() => homographyToPlane({ corners, width: 1, height: 1 })).toThrow(/clockwise/);
  });

  test('sizes that are none are refused', () => {
    expect(() => homographyToPlane({ corners: SQUARE, width: 0, height: 5 })).toThrow(/positive size/);
    const layers = wall(40, 40);
    const plane = { corners: SQUARE, width: 100, height: 100 };
    const image = pattern(4, 4, () => 99);
    expect(() => projectPattern(layers, { image, width: -1, height: 5 }, { plane })).toThrow(/positive size/);
    const wide: Image8 = { ...image, space: 'rec2020' };
    expect(() => projectPattern(layers, { image: wide, width: 5, height: 5 }, { plane })).toThrow(/rec2020/);
  });
});

describe('a pattern on a plane', () => {
  test('has its real size: tiles of 100 mm on a wall of 1 m', () => {
    const tiles = pattern(64, 64, (x, y) => (((x < 32 ? 0 : 1) + (y < 32 ? 0 : 1)) % 2 === 0 ? 220 : 60));
    const plane = { corners: SQUARE, width: 1000, height: 1000 };
    const out = projectPattern(
      wall(200, 200),
      { image: tiles, width: 200, height: 200 },
      { plane, repeat: 'same', even: false },
    );
    // One tile is 20 pixels.
    for (let i = 0; i < 10; i++)
      for (let j = 0; j < 10; j++)
        expect(grey(out, 20 * i + 10, 20 * j + 10)).toBe((i + j) % 2 === 0 ? 220 : 60);
  });

  describe('that ends before the surface does', () => {
    const next = random(5);
    const tones = Array.from({ length: 25 * 25 }, () => 60 + Math.floor(120 * next()));
    // Grains of two texels; a texel is a pixel.
    const stone = pattern(50, 50, (x, y) => tones[25 * (y >> 1) + (x >> 1)]);
    const plane = { corners: SQUARE, width: 200, height: 200 };
    const lay = (options: { repeat?: 'quilted' | 'same'; seed?: number }, size = 50) =>
      projectPattern(
        wall(200, 200),
        { image: stone, width: size, height: size },
        { plane, even: false, ...options },
      );
    /** Pixels of the first 100 rows and 150 columns that are what `to` leads to. */
    const alike = (out: AlbedoPlane, to: (x: number, y: number) => readonly [number, number]) => {
      let found = 0;
      for (let y = 0; y < 100; y++)
        for (let x = 0; x < 150; x++) found += grey(out, x, y) === grey(out, ...to(x, y)) ? 1 : 0;
      return found / 15_000;
    };

    test('comes again, joint to joint', () => {
      expect(alike(lay({ repeat: 'same' }), (x, y) => [x + 50, y])).toBe(1);
    });

    test('is quilted: neither again nor mirrored, of its own tones, the same whenever it is laid', () => {
      const out = lay({});
      // By chance 1 in 120 tones is alike, and blocks of one place of the sample are.
      for (const to of [
        (x: number, y: number) => [x + 50, y] as const,
        (x: number, y: number) => [x, y + 50] as const,
        (x: number, y: number) => [199 - x, y] as const,
        (x: number, y: number) => [x, 199 - y] as const,
      ])
        expect(alike(out, to)).toBeLessThan(0.2);
      expect(lay({}).data).toEqual(out.data);
      expect(lay({ seed: 2 }).data).not.toEqual(out.data);
    });

    test('a slab larger than the surface is shown as it is', () => {
      expect(lay({}, 200).data).toEqual(lay({ repeat: 'same' }, 200).data);
      expect(lay({}, 190).data).not.toEqual(lay({ repeat: 'same' }, 190).data);
    });
  });

  test('moves by its offset and turns', () => {
    const half = pattern(100, 100, (x) => (x < 50 ? 200 : 50));
    const plane = { corners: SQUARE, width: 200, height: 200 };
    const lay = (options: { offset?: [number, number]; turn?: number }) =>
      projectPattern(
        wall(200, 200),
        { image: half, width: 100, height: 100 },
        { plane, repeat: 'same', even: false, ...options },
      );
    expect(grey(lay({}), 25, 25)).toBe(200);
    expect(grey(lay({ offset: [50, 0] }), 25, 25)).toBe(50);
    // Turned a quarter, what changed across now changes down.
    const turned = lay({ turn: 90 });
    expect(grey(turned, 25, 25)).toBe(grey(turned, 75, 25));
    expect(grey(turned, 25, 25)).not.toBe(grey(turned, 25, 75));
  });

  test('far away becomes its mean light instead of false stripes', () => {
    const checks = pattern(64, 64, (x, y) => ((x + y) % 2 === 0 ? 255 : 0));
    const plane = { corners: FLOOR, width: 40_000, height: 60_000 };
    const out = projectPattern(
      wall(320, 200),
      { image: checks, width: 640, height: 640 },
      { plane, even: false },
    );
    for (let x = 150; x < 170; x++)
      for (let y = 62; y < 90; y++)
        // Half black, half white is 0.5 in linear light.
        expect(Math.abs(decodeRgb(grey(out, x, y) / 255, 'srgb') - 0.5)).toBeLessThan(0.06);
  });

  test('a shift of a fraction of a pixel shifts a distant pattern as little: no flicker', () => {
    const checks = pattern(64, 64, (x, y) => (((x >> 4) + (y >> 4)) % 2 === 0 ? 230 : 40));
    const plane = { corners: FLOOR, width: 6000, height: 9000 };
    const shifted = FLOOR.map(([x, y]) => [x + 0.25, y]) as unknown as PlaneCorners;
    const [a, b] = [FLOOR, shifted].map((corners) =>
      projectPattern(
        wall(320, 200),
        { image: checks, width: 400, height: 400 },
        { plane: { ...plane, corners }, repeat: 'same', even: false },
      ),
    );
    let most = 0;
    for (let x = 145; x < 175; x++)
      for (let y = 62; y < 80; y++) most = Math.max(most, Math.abs(grey(a, x, y) - grey(b, x, y)));
    expect(most).toBeLessThan(60);
  });

  test('beyond the horizon stands its mean colour', () => {
    const plane = { corners: FLOOR, width: 3000, height: 4000 };
    const out = projectPattern(
      wall(320, 200),
      { image: pattern(8, 8, () => 120), width: 100, height: 100 },
      { plane },
    );
    expect(Math.abs(grey(out, 160, 2) - 120)).toBeLessThanOrEqual(1);
  });

  test('light that fades across the picture of the pattern is taken out, its veins are not', () => {
    const slab = pattern(128, 128, (x, y) => (y % 16 < 3 ? 60 : 110 + Math.round(0.7 * x)));
    const plane = { corners: SQUARE, width: 200, height: 200 };
    const out = projectPattern(wall(200, 200), { image: slab, width: 200, height: 200 }, { plane });
    const row = 16; // between two veins
    expect(Math.abs(grey(out, 20, row) - grey(out, 180, row))).toBeLessThan(15);
    const column = Array.from({ length: 40 }, (_, y) => grey(out, 100, 80 + y));
    expect(Math.max(...column) - Math.min(...column)).toBeGreaterThan(60);
  });
});

describe('a pattern brought to its measured colour', () => {
  const grey = (L: number) => ({ L, a: 0, b: 0 });

  test('a grey that shows half its light comes out with all of it, joints in proportion', () => {
    // CIE 15:2018 eq. 8.6: L* 50 is Y 18.42, L* 66 is Y 35.3; sRGB codes of the two greys (IEC 61966-2-1) are 119 and 161.
    const data = new Uint8Array([119, 119, 119, 60, 60, 60]);
    const toned = tonedPattern(
      { width: 2, height: 1, channels: 3, data, space: 'srgb' },
      { from: grey(50), to: grey(66) },
    );
    for (let c = 0; c < 3; c++) expect(Math.abs(toned.data[c] - 161)).toBeLessThanOrEqual(1);
    const linear = (v: number) => ((v / 255 + 0.055) / 1.055) ** 2.4;
    expect(linear(toned.data[3]) / linear(toned.data[0])).toBeCloseTo(linear(60) / linear(119), 2);
    expect([...data]).toEqual([119, 119, 119, 60, 60, 60]);
  });

  test('what would be brighter than white is white', () => {
    const data = new Uint8Array([200, 200, 200]);
    const image = { width: 1, height: 1, channels: 3 as const, data, space: 'srgb' as const };
    expect([...tonedPattern(image, { from: grey(40), to: grey(90) }).data]).toEqual([255, 255, 255]);
  });
});
