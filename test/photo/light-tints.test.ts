import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { REFERENCE_ILLUMINANCE, illuminant, roomView, type Lab } from '#lib/colour/index.ts';
import {
  correctImage,
  correctionWithoutReference,
  evened,
  lightApart,
  lightShares,
  linearise,
  paintOver,
  relightApart,
  relightTable,
  surfaceLayers,
  type Image8,
  type LightShares,
  type Mask,
} from '#lib/photo/index.ts';
import { luminance } from '../../src/lib/photo/highlight.ts';
import { linearToLab } from '../../src/lib/photo/image.ts';
import { albedoOf } from '../../src/lib/photo/shading.ts';

/*
 * A property, no published values: under white light alone, whichever of the two it came from, a matt finish has its own hue
 * and chroma everywhere, at some level.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));
const white = relightTable(
  'srgb',
  'srgb',
  roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
);
const PALE: Lab = { L: 90, a: 1.8, b: 2.3 };
const GREEN: Lab = { L: 70, a: -14, b: 12 };

/** One of the lights, white, as bright as the photo has it. */
function alone(painted: Image8, shares: LightShares, [kind, before]: ['window' | 'lamps', Image8]): Image8 {
  const both = lightApart(shares, { window: white, lamps: white, whole: white, part: 0.5 });
  const off = { table: white, amount: 0 };
  const on = { table: white, amount: 1 };
  return relightApart(
    painted,
    { ...both, window: kind === 'window' ? on : off, lamps: kind === 'lamps' ? on : off },
    before,
  );
}

interface Reading {
  readonly x: number;
  readonly y: number;
  readonly a: number;
  readonly b: number;
}

/** How far discs on a surface lie from the finish in a* and b*, once they are brought to its luminance. */
function readings({ image, mask, finish }: { image: Image8; mask: Mask; finish: Lab }): Reading[] {
  const { width, height } = image;
  const light = linearise(image).data;
  const level = luminance(...albedoOf(finish, 'srgb'));
  const radius = 6;
  const found: Reading[] = [];
  for (let y = 20; y < height - 20; y += 23)
    for (let x = 20; x < width - 20; x += 23) {
      const sum = [0, 0, 0];
      let inside = true;
      for (let v = -radius; v <= radius; v++)
        for (let u = -radius; u <= radius; u++) {
          const p = (y + v) * width + x + u;
          if (mask.data[p] < 255) inside = false;
          for (let c = 0; c < 3; c++) sum[c] += light[3 * p + c];
        }
      const [r, g, b] = sum.map((s) => s / (2 * radius + 1) ** 2);
      const mean = luminance(r, g, b);
      if (!inside || mean < 0.004) continue;
      const lab = linearToLab(Float32Array.of(r, g, b).map((v) => (v * level) / mean));
      found.push({ x, y, a: lab[1] - finish.a, b: lab[2] - finish.b });
    }
  return found;
}

const mean = (values: readonly number[]) => values.reduce((sum, v) => sum + v, 0) / values.length;
const deviation = (values: readonly number[]) => Math.sqrt(mean(values.map((v) => (v - mean(values)) ** 2)));

/** Mean sd of what is read within pieces of the picture. */
function blotches(found: readonly Reading[], axis: 'a' | 'b'): number {
  const pieces = new Map<string, number[]>();
  for (const reading of found) {
    const key = `${Math.floor(reading.x / 115)} ${Math.floor(reading.y / 115)}`;
    pieces.set(key, [...(pieces.get(key) ?? []), reading[axis]]);
  }
  const whole = [...pieces.values()].filter((values) => values.length >= 9);
  expect(whole.length).toBeGreaterThan(3);
  return mean(whole.map(deviation));
}

describe('a finish in the kitchen at dusk, seen by one of its lights', async () => {
  const { data, info } = await sharp(at('static/sample/kitchen-mixed.jpg'))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const delivered: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
  const even = evened(delivered, 'room');
  const image = correctImage(even.image, correctionWithoutReference(even.image), { space: 'srgb' });
  const mask = async (name: string): Promise<Mask> => {
    const read = await sharp(at(`test/fixtures/sample/masks/${name}.png`))
      .toColourspace('b-w')
      .raw()
      .toBuffer({ resolveWithObject: true });
    return { width: read.info.width, height: read.info.height, data: new Uint8Array(read.data) };
  };
  const names = ['cabinets', 'walls', 'ceiling', 'trim', 'counter', 'backsplash', 'floor'];
  const masks = Object.fromEntries(
    await Promise.all(names.map(async (name) => [name, await mask(name)] as const)),
  );
  // A window's reveal; the ceiling over the lights on the cabinets and the tiles under them.
  const { shares } = lightShares(
    image,
    names.map((name) => ({ mask: masks[name], old: null })),
    {
      window: [[1227, 323]],
      lamps: [
        [541, 86],
        [399, 444],
      ],
    },
  );
  if (shares?.told !== 'apart') throw new Error('Expected two lights');

  test.each([
    ['cabinets', PALE],
    ['cabinets', GREEN],
    ['walls', PALE],
  ] as const)('%s have the hue and chroma of %o, without blotches', { timeout: 60_000 }, (name, finish) => {
    const texture = name === 'cabinets' ? 'hide if any' : 'none';
    const layers = surfaceLayers(image, masks[name], { oldSheen: 'matt', texture, shares });
    const painted = paintOver(image, [{ layers, finish: { colour: finish, sheen: 'matt' } }]);
    for (const kind of ['window', 'lamps'] as const) {
      const found = readings({
        image: alone(painted, shares, [kind, image]),
        mask: masks[name],
        finish,
      });
      expect(found.length).toBeGreaterThan(200);
      for (const axis of ['a', 'b'] as const) {
        expect(mean(found.map((reading) => Math.abs(reading[axis])))).toBeLessThan(2);
        expect(blotches(found, axis)).toBeLessThan(1.5);
      }
    }
  });

  test(
    'where nothing tells the lights apart a surface is taken apart as without',
    { timeout: 60_000 },
    () => {
      const without = surfaceLayers(image, masks.trim);
      const panes = surfaceLayers(image, masks.trim, { shares: { ...shares, told: 'panes' } });
      expect(panes.light).toEqual(without.light);
      expect(surfaceLayers(image, masks.trim, { shares }).light).not.toEqual(without.light);
    },
  );
});
