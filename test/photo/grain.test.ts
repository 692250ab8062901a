import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { measuredGrain, withoutGrain } from '#lib/photo/grain.ts';
import { prepareSelection, select, type Image8, type Mask } from '#lib/photo/index.ts';
import { normal, random } from './board-scene.ts';
import { SESSIONS } from './sample-strokes.ts';

/**
 * Grain as poor light leaves it, added by a seeded generator: its deviation is known. Bars are common practice, no published
 * source.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

async function sample(name: string): Promise<Image8> {
  const file = sharp(at(`static/sample/${name}.jpg`))
    .removeAlpha()
    .raw();
  const { data, info } = await file.toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

function grainy(image: Image8, deviation: number, seed: number): Image8 {
  const next = random(seed);
  const data = Uint8Array.from(image.data, (v) =>
    Math.max(0, Math.min(255, Math.round(v + deviation * normal(next)))),
  );
  return { ...image, data };
}

function meanSquare(a: Image8, b: Image8): number {
  let sum = 0;
  for (let i = 0; i < a.data.length; i++) sum += (a.data[i] - b.data[i]) ** 2;
  return sum / a.data.length;
}

describe('what a picture has of grain', () => {
  let day: Image8;
  beforeAll(async () => {
    day = await sample('kitchen-day');
  });

  test.each([3, 6, 12])('a deviation of %d is found to a tenth', (deviation) => {
    const found = measuredGrain(grainy(day, deviation, deviation));
    for (const [, diagonal] of found?.deviation ?? []) {
      expect(diagonal[0]).toBeGreaterThan(0.9 * deviation);
      expect(diagonal[0]).toBeLessThan(1.1 * deviation);
    }
    expect(found).not.toBeNull();
  });

  test('grain that grows with brightness is found to do so', () => {
    const grey: Image8 = {
      width: 512,
      height: 256,
      channels: 3,
      data: Uint8Array.from({ length: 512 * 256 * 3 }, (_, i) => (Math.floor(i / 3) % 512 < 256 ? 48 : 176)),
      space: 'srgb',
    };
    const next = random(5);
    const data = Uint8Array.from(grey.data, (v) => Math.round(v + (v < 100 ? 4 : 6) * normal(next)));
    const { byBrightness } = measuredGrain({ ...grey, data })!;
    expect(byBrightness[11] / byBrightness[3]).toBeGreaterThan(1.4);
    expect(byBrightness[11] / byBrightness[3]).toBeLessThan(1.6);
  });

  test.each(['kitchen-day', 'kitchen-lamp', 'kitchen-mixed', 'board'])('%s has none', async (name) => {
    expect(measuredGrain(await sample(name))).toBeNull();
  });

  test.each(['slab-busy', 'slab-calm', 'slab-veined'])('%s has texture, no grain', async (name) => {
    expect(measuredGrain(await sample(name))).toBeNull();
  });

  test('a picture too small to tell has none', () => {
    expect(
      measuredGrain({ width: 20, height: 20, channels: 3, data: new Uint8Array(1200), space: 'srgb' }),
    ).toBeNull();
  });

  test('without it a picture is nearer to the one it was made of', () => {
    const image = grainy(day, 6, 2);
    const found = measuredGrain(image)!;
    expect(meanSquare(withoutGrain(image, found), day)).toBeLessThan(0.25 * meanSquare(image, day));
  });
});

describe('marks on a grainy picture', () => {
  const overlap = (a: Mask, b: Uint8Array) => {
    let [both, either] = [0, 0];
    for (let p = 0; p < b.length; p++) {
      both += Math.min(a.data[p], b[p]);
      either += Math.max(a.data[p], b[p]);
    }
    return both / either;
  };

  test('are about as true as on the clean one', async () => {
    const selector = prepareSelection(grainy(await sample('kitchen-day'), 6, 1));
    const others: Mask[] = [];
    const shares: number[] = [];
    for (const { surface, strokes, elsewhere } of SESSIONS['kitchen-day']) {
      const { mask } = select(selector, strokes, { elsewhere, others });
      others.push(mask);
      const truth = await sharp(at(`test/fixtures/sample/masks/${surface}.png`))
        .extractChannel(0)
        .raw()
        .toBuffer();
      shares.push(overlap(mask, truth));
    }
    console.log(`grain of 6: ${shares.map((share) => share.toFixed(3)).join(', ')}`);
    // Of clean pictures .95 is wanted; a twentieth may be lost to grain as strong as this. Left in, it took a third.
    expect(shares.reduce((sum, share) => sum + share, 0) / shares.length).toBeGreaterThan(0.9);
  }, 240_000);

  test('noise alone is prepared in no more pieces than a few times those wanted', () => {
    const next = random(9);
    const [width, height] = [600, 400];
    const data = Uint8Array.from({ length: width * height * 3 }, () => Math.floor(256 * next()));
    const { pieces, small, parts } = prepareSelection({ width, height, channels: 3, data, space: 'srgb' });
    const wanted = (width * height) / pieces.cell ** 2;
    expect(pieces.count).toBeLessThan(1.5 * wanted);
    expect(small.pieces.count).toBeLessThan(5 * wanted);
    expect(parts.count).toBeLessThanOrEqual(pieces.count);
  }, 60_000);
});
