import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { BUSYNESS_BANDS, VIEWING_DISTANCE, busynessWords } from '#lib/finish/index.ts';
import {
  correctionFromReferences,
  evened,
  measurePattern,
  type Image8,
  type Region,
  type Scene,
} from '#lib/photo/index.ts';
import { random, type LabTriple } from './board-scene.ts';
import { picture } from './picture.ts';

// Bands are common practice without a published source, so pictures are judged by name: stone that anybody calls busy, paint
// that nobody does. The rest are properties.

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));
const whole = ({ width, height }: Image8): Region => ({ kind: 'box', x: 0, y: 0, width, height });
const DELIVERED = { correction: null, distance: VIEWING_DISTANCE };

/** Busyness of a box in parts of a picture, at that width in mm. */
function busyness(
  image: Image8,
  width: number,
  options: Partial<{ distance: number; region: Region }> = {},
): number {
  const { region = whole(image), distance = VIEWING_DISTANCE } = options;
  const found = measurePattern(image, region, { ...DELIVERED, distance, width });
  if (!found) throw new Error('Expected a pattern');
  return found.busyness;
}

/** Grains of about `size` pixels in two colours. */
function grains(size: number, colours: readonly [LabTriple, LabTriple], pixels = 240, noise = 0): Image8 {
  const next = random(4);
  const cells = Math.ceil(pixels / size);
  const dark = Array.from({ length: cells * cells }, () => next() < 0.4);
  return picture(
    pixels,
    pixels,
    (x, y) => colours[dark[Math.floor(y / size) * cells + Math.floor(x / size)] ? 1 : 0],
    {
      noise,
    },
  );
}
const PALE: LabTriple = [75, 2, 6];
const DARK: LabTriple = [35, 0, 2];

describe('how busy a pattern looks', () => {
  test('a plain field is 0, and light that slopes across it does not count', () => {
    const plain = picture(160, 120, () => [60, 5, 10], { noise: 0 });
    expect(busyness(plain, 400)).toBeLessThan(0.01);
    // L* 55 to 65 from left to right: rounding to 8 bits is all that is left.
    const sloped = picture(160, 120, (x) => [55 + x / 16, 0, 0], { noise: 0 });
    const found = measurePattern(sloped, whole(sloped), { ...DELIVERED, width: 400 });
    expect(found?.busyness).toBeLessThan(0.3);
    expect(found?.shading).toBeGreaterThan(9);
    expect(found?.shading).toBeLessThan(11.5);
  });

  test('two colours in equal, broad fields differ from their mean by half their distance', () => {
    // Fields of 100 mm at 1.5 m are 3.8 degrees wide: sharp to the eye but for the light-dark kernel's wide surround, which
    // can add at most its weight, 0.108 of 0.918 (Zhang and Wandell 1996).
    const fields = picture(
      240,
      240,
      (x, y) => [(Math.floor(x / 60) + Math.floor(y / 60)) % 2 ? 60 : 50, 0, 0],
      { noise: 0 },
    );
    const found = measurePattern(fields, whole(fields), { ...DELIVERED, width: 400 });
    expect(found?.spread.L).toBeGreaterThan(4.6);
    expect(found?.spread.L).toBeLessThan(5.1 * (1 + 0.108 / 0.918));
    // Greys are not null in the published colour channels: edges get a faint fringe, which must stay faint.
    expect((found?.busyness ?? 0) / (found?.spread.L ?? 1)).toBeLessThan(1.1);
  });

  test.each([1, 2, 3])(
    'noise of %i device values does not make plain paint lively, fine or coarse',
    (noise) => {
      for (const L of [25, 55, 90])
        for (const width of [100, 400, 3000]) {
          const paint = picture(200, 200, () => [L, 5, 10], { noise });
          expect(busyness(paint, width), `L* ${L}, ${width} mm`).toBeLessThan(BUSYNESS_BANDS.calm);
        }
    },
  );

  test('JPEG compression neither makes paint lively nor stone calm', async () => {
    for (const [source, low, high] of [
      [picture(240, 240, () => [45, -12, 14], { noise: 2 }), 0, BUSYNESS_BANDS.calm],
      [grains(8, [PALE, DARK]), BUSYNESS_BANDS.lively, Infinity],
    ] as const) {
      const raw = { width: source.width, height: source.height, channels: 3 } as const;
      const jpeg = await sharp(Buffer.from(source.data), { raw }).jpeg({ quality: 60 }).toBuffer();
      const data = await sharp(jpeg).raw().toBuffer();
      const found = busyness({ ...source, data }, 300);
      expect(found).toBeGreaterThanOrEqual(low);
      expect(found).toBeLessThan(high);
    }
  });

  test('fine grain at twice the size, or from half as far, is busier; far away it is calm', () => {
    const stone = grains(3, [PALE, DARK]);
    const sizes = [60, 120, 240, 480].map((width) => busyness(stone, width));
    for (let i = 1; i < sizes.length; i++) expect(sizes[i]).toBeGreaterThan(sizes[i - 1]);
    const distances = [750, 1500, 3000, 6000, 12000].map((distance) => busyness(stone, 120, { distance }));
    for (let i = 1; i < distances.length; i++) expect(distances[i]).toBeLessThan(distances[i - 1]);
    // Grains of 1.5 mm: lively or more from across a table, calm from 12 m.
    expect(distances[0]).toBeGreaterThan(BUSYNESS_BANDS.calm);
    expect(distances.at(-1)).toBeLessThan(BUSYNESS_BANDS.calm);
  });

  test('twice the size from twice as far is the same', () => {
    const stone = grains(4, [PALE, DARK]);
    expect(busyness(stone, 400, { distance: 3000 })).toBeCloseTo(busyness(stone, 200), 9);
  });

  test('the same stone photographed at half the resolution is as busy, while the photo is finer than the eye', () => {
    const fine = grains(12, [PALE, DARK], 480);
    const coarse = grains(6, [PALE, DARK], 240);
    expect(busyness(coarse, 160) / busyness(fine, 160)).toBeCloseTo(1, 1);
  });

  test('says when the photo is too coarse to tell', () => {
    const stone = grains(3, [PALE, DARK]);
    // 240 pixels: 25 mm at 1.5 m to a degree.
    const near = measurePattern(stone, whole(stone), { ...DELIVERED, width: 120 });
    expect(near?.resolution).toBe('enough');
    expect(near?.samplesPerDegree).toBeCloseTo((1500 * Math.tan(Math.PI / 180)) / 0.5, 6);
    expect(measurePattern(stone, whole(stone), { ...DELIVERED, width: 3000 })?.resolution).toBe('too coarse');
  });

  test('only the region counts, and clipped glare in it does not', () => {
    const stone = grains(6, [PALE, DARK]);
    const region: Region = {
      kind: 'polygon',
      points: [
        [20, 20],
        [220, 30],
        [210, 210],
        [30, 200],
      ],
    };
    const before = busyness(stone, 200, { region });
    const data = Uint8Array.from(stone.data);
    for (let y = 0; y < 240; y++)
      for (let x = 0; x < 240; x++) {
        const outside = x < 15 || x > 225 || y < 15 || y > 215;
        const glare = Math.hypot(x - 120, y - 120) < 15;
        if (outside || glare) data.fill(glare ? 255 : 40 * (x % 3), 3 * (240 * y + x), 3 * (240 * y + x) + 3);
      }
    const after = busyness({ ...stone, data }, 200, { region });
    expect(Math.abs(after / before - 1)).toBeLessThan(0.05);
  });

  test('too few pixels give no answer, and nonsense is refused', () => {
    const stone = grains(3, [PALE, DARK]);
    const options = { ...DELIVERED, width: 100 };
    expect(measurePattern(stone, { kind: 'box', x: 4, y: 4, width: 6, height: 6 }, options)).toBeNull();
    expect(() => measurePattern(stone, whole(stone), { ...options, width: 0 })).toThrow(/width above 0 mm/);
    expect(() => measurePattern(stone, whole(stone), { ...options, distance: -1 })).toThrow(
      /distance above 0 mm/,
    );
    expect(() =>
      measurePattern(stone, { kind: 'box', x: 400, y: 0, width: 60, height: 60 }, options),
    ).toThrow(/inside the/);
  });
});

const truth = JSON.parse(readFileSync(at('test/fixtures/sample/truth.json'), 'utf8')) as {
  pictures: Record<string, { surfaces: Record<string, { points: { x: number; y: number; r: number }[] }> }>;
};

async function opened(file: string, scene: Scene) {
  const { data, info } = await sharp(at(`static/sample/${file}.jpg`))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const delivered: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
  const even = evened(delivered, scene);
  const paper = truth.pictures[file].surfaces.paper.points[0];
  const region = { kind: 'point', x: paper.x, y: paper.y, radius: paper.r } as const;
  return { ...even, correction: correctionFromReferences(even.image, [{ kind: 'white-paper', region }]) };
}

/** The part of a picture between shares of its sides. */
function part({ width, height }: Image8, [left, top, right, bottom]: readonly number[]): Region {
  return {
    kind: 'box',
    x: left * width,
    y: top * height,
    width: (right - left) * width,
    height: (bottom - top) * height,
  };
}

// The close-ups show 0.71 m from side to side (camera 0.61 m above, 31 mm lens on 36 mm: test/authoring/render/boards.py).
const CLOSE_UP = 710;

describe('the rendered materials', () => {
  test.each([
    ['slab-busy', 'coarse granite', [0.5, 0.3, 0.78, 0.7], 'busy'],
    ['slab-calm', 'fine grey stone', [0.3, 0.3, 0.7, 0.7], 'calm'],
  ] as const)('%s, %s, is what anybody would call it', async (file, _, box, words) => {
    const { image, correction } = await opened(file, 'one plane');
    const width = CLOSE_UP * (box[2] - box[0]);
    const found = measurePattern(image, part(image, box), { correction, width, distance: VIEWING_DISTANCE });
    expect(found?.resolution).toBe('enough');
    expect(busynessWords(found?.busyness ?? NaN)).toBe(words);
    // From across a hall the granite is less busy by half at least.
    const far = measurePattern(image, part(image, box), { correction, width, distance: 10_000 });
    expect(far?.busyness).toBeLessThan((found?.busyness ?? 0) / 2);
  });

  test('painted strips are calm, every one', async () => {
    const { image, board, correction } = await opened('board', 'sample board');
    const strips = (board?.patches ?? []).filter((patch) => !patch.cardLike);
    expect(strips.length).toBe(7);
    for (const { region } of strips) {
      // Each a hand wide.
      const found = measurePattern(image, region, { correction, width: 60, distance: VIEWING_DISTANCE });
      expect(busynessWords(found?.busyness ?? NaN)).toBe('calm');
    }
  });

  test('oak planks are livelier than a glazed tile', async () => {
    const { image, correction } = await opened('kitchen-day', 'room');
    const oak = measurePattern(image, part(image, [0.4, 0.87, 0.5, 0.96]), {
      correction,
      width: 400,
      distance: VIEWING_DISTANCE,
    });
    const tile = measurePattern(image, part(image, [0.25, 0.352, 0.31, 0.386]), {
      correction,
      width: 240,
      distance: VIEWING_DISTANCE,
    });
    expect(busynessWords(oak?.busyness ?? NaN)).toBe('lively');
    expect(busynessWords(tile?.busyness ?? NaN)).toBe('calm');
    // A room photo shows 10 to 15 pixels to a degree from there.
    expect([oak?.resolution, tile?.resolution]).toEqual(['too coarse', 'too coarse']);
  });
});
