import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { deltaE2000, encodeRgb } from '#lib/colour/index.ts';
import {
  correctionFromReferences,
  measureRegion,
  palette,
  shrink,
  type Image8,
  type Palette,
  type PaletteArea,
} from '#lib/photo/index.ts';
import { random, valueNoise, type LabTriple } from './board-scene.ts';
import { picture } from './picture.ts';

/** A room of flat colours with known shares, lit unevenly: wall, floor, sofa, green cabinet, small red vase. */
const COLOURS: Record<string, LabTriple> = {
  wall: [82, 1, 8],
  floor: [42, 10, 22],
  sofa: [60, -2, -8],
  cabinet: [38, -16, 10],
  vase: [45, 48, 30],
};

function room(
  width: number,
  height: number,
  { seed = 1, noise = 3 } = {},
): { image: Image8; shares: Record<string, number> } {
  const wave = valueNoise(seed + 50);
  const counts: Record<string, number> = {};
  const place = (x: number, y: number): string => {
    const [u, v] = [x / width, y / height];
    if (Math.hypot((u - 0.3) * (width / height), v - 0.5) < 0.075) return 'vase';
    if (v > 0.72) return 'floor';
    if (u > 0.68) return 'cabinet';
    if (u > 0.15 && u < 0.55 && v > 0.52) return 'sofa';
    return 'wall';
  };
  const image = picture(
    width,
    height,
    (x, y) => {
      const name = place(x, y);
      counts[name] = (counts[name] ?? 0) + 1;
      const [L, a, b] = COLOURS[name];
      // Shading in steps of a unit, so that each colour is developed once.
      return [L + Math.round(4 * wave((3 * x) / width, (3 * y) / height)), a, b];
    },
    { seed, noise },
  );
  const total = width * height;
  return { image, shares: Object.fromEntries(Object.entries(counts).map(([k, n]) => [k, n / total])) };
}

const nearest = (areas: readonly PaletteArea[], [L, a, b]: LabTriple) =>
  areas.map((area) => ({ area, off: deltaE2000({ L, a, b }, area.lab) })).sort((p, q) => p.off - q.off)[0];

/** Largest colour difference and share difference between areas of one palette and their match in another. */
function apart(one: Palette, other: Palette): { colour: number; share: number } {
  let [colour, share] = [0, 0];
  for (const area of one.areas) {
    const match = nearest(other.areas, [area.lab.L, area.lab.a, area.lab.b]);
    colour = Math.max(colour, match.off);
    share = Math.max(share, Math.abs(match.area.share - area.share));
  }
  return { colour, share };
}

describe('the palette of a picture', () => {
  const { image, shares } = room(480, 320);
  const found = palette(image, { correction: null });

  test('has each colour of the room with its share, the small vivid one too', () => {
    for (const [name, lab] of Object.entries(COLOURS)) {
      const { area, off } = nearest(found.areas, lab);
      expect(off, name).toBeLessThan(3);
      expect(Math.abs(area.share - shares[name]), name).toBeLessThan(0.03);
    }
    expect(shares.vase).toBeLessThan(0.02);
    expect(found.areas.length).toBe(5);
  });

  test('shares are in order and sum to 1', () => {
    const list = found.areas.map((a) => a.share);
    expect(list.reduce((s, v) => s + v, 0)).toBeCloseTo(1, 9);
    expect([...list].sort((p, q) => q - p)).toEqual(list);
  });

  test('the place given for an area measures as its colour', () => {
    for (const { at, lab } of found.areas) {
      const measured = measureRegion(image, { kind: 'point', x: at[0], y: at[1], radius: 5 }, null);
      expect(deltaE2000(lab, measured.lab)).toBeLessThan(3.5);
      expect(measured.warnings.join()).not.toMatch(/pattern|differs/);
    }
  });

  test('is the same, to the bit, every time', () => {
    expect(palette(image, { correction: null })).toEqual(found);
  });

  test('carries a doubt that is wide without correction and narrower with', () => {
    const correction = correctionFromReferences(image, [
      {
        kind: 'known',
        region: { kind: 'box', x: 10, y: 10, width: 60, height: 40 },
        lab: { L: 82, a: 1, b: 8 },
      },
    ]);
    const corrected = palette(image, { correction });
    const doubt = (p: Palette) =>
      Math.min(...p.areas.map((a) => a.covariance[0] + a.covariance[4] + a.covariance[8]));
    expect(doubt(corrected)).toBeLessThan(doubt(found) / 2);
    for (const { covariance } of corrected.areas) expect(covariance.length).toBe(9);
  });
});

describe('steadiness', () => {
  test('the same picture at 2048 and 512 pixels has the same areas', () => {
    const big = palette(room(2048, 1365).image, { correction: null });
    const small = palette(room(512, 341).image, { correction: null });
    for (const [p, q] of [
      [big, small],
      [small, big],
    ] as const) {
      const { colour, share } = apart(p, q);
      expect(colour).toBeLessThan(2);
      expect(share).toBeLessThan(0.03);
    }
  });

  test('noise and another grain of it change nothing to speak of', () => {
    const calm = palette(room(480, 320, { noise: 0 }).image, { correction: null });
    for (const noise of [4, 8]) {
      const { colour, share } = apart(calm, palette(room(480, 320, { noise }).image, { correction: null }));
      expect(colour).toBeLessThan(2);
      expect(share).toBeLessThan(0.03);
    }
  });

  test('a wall in light that falls off by half is one area', () => {
    const image = picture(400, 300, (x): LabTriple => [Math.round(82 - 18 * (x / 400)), 2, 9]);
    expect(palette(image, { correction: null }).areas.length).toBe(1);
  });
});

describe('asking for a count or a part', () => {
  const { image } = room(480, 320);

  test('a count is kept where there are that many colours', () => {
    for (const count of [1, 2, 3, 4])
      expect(palette(image, { correction: null, count }).areas.length).toBe(count);
  });

  test('fewer colours than asked for are said to be so', () => {
    const flat = palette(
      picture(100, 100, () => [50, 0, 0], { noise: 0 }),
      { correction: null, count: 5 },
    );
    expect(flat.areas.length).toBe(1);
    expect(flat.notes).toEqual(['There is only one colour in it.']);
  });

  test('a region has only its own colours, and places inside it', () => {
    const region = {
      kind: 'polygon',
      points: [
        [340, 20],
        [470, 20],
        [470, 300],
        [340, 300],
      ],
    } as const;
    const { areas } = palette(image, { correction: null, region });
    expect(areas.length).toBe(2);
    for (const name of ['cabinet', 'floor']) expect(nearest(areas, COLOURS[name]).off).toBeLessThan(3);
    for (const { at } of areas) {
      expect(at[0]).toBeGreaterThan(340);
      expect(at[1]).toBeGreaterThan(20);
      expect(at[1]).toBeLessThan(300);
    }
  });

  test('a disc counts only what is inside it', () => {
    const { areas } = palette(image, {
      correction: null,
      region: { kind: 'point', x: 144, y: 160, radius: 20 },
    });
    expect(areas.length).toBe(1);
    expect(nearest(areas, COLOURS.vase).off).toBeLessThan(3);
  });

  test('counts that are none and regions outside are refused in words', () => {
    expect(() => palette(image, { correction: null, count: 0 })).toThrow(RangeError);
    expect(() => palette(image, { correction: null, count: 2.5 })).toThrow(RangeError);
    expect(() =>
      palette(image, { correction: null, region: { kind: 'point', x: -90, y: 0, radius: 3 } }),
    ).toThrow(/inside the 480x320 picture/);
  });
});

const folder = fileURLToPath(new URL('../../static/sample/', import.meta.url));
const pictures = ['inspiration', 'kitchen-day', 'kitchen-lamp', 'kitchen-mixed'];

describe('the pictures of the sample job', () => {
  test.each(pictures)('%s has the same areas at a third of its size', async (name) => {
    const { data, info } = await sharp(`${folder}${name}.jpg`)
      .removeAlpha()
      .raw()
      .toBuffer({ resolveWithObject: true });
    const image: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
    const small = shrink(image, 512);
    const next = random(1);
    const codes = Uint8Array.from(
      small.data,
      (v) => 255 * encodeRgb(Math.min(1, Math.max(0, v)), 'srgb') + next(),
    );
    const one = palette(image, { correction: null });
    const other = palette({ ...small, channels: 3, data: codes }, { correction: null });
    const { colour, share } = apart(one, other);
    expect(colour).toBeLessThan(2);
    expect(share).toBeLessThan(0.03);
    expect(one.areas.length).toBeGreaterThanOrEqual(4);
    expect(one.areas.length).toBeLessThanOrEqual(8);
  });
});
