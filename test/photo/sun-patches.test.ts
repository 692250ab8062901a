import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { REFERENCE_ILLUMINANCE, illuminant, roomView, type Lab } from '#lib/colour/index.ts';
import {
  decodeMask,
  lightApart,
  lightShares,
  relightApart,
  relightTable,
  type Image8,
  type LightShares,
  type Mask,
  type StoredMask,
} from '#lib/photo/index.ts';
import { labToLinear } from './board-scene.ts';
import { picture } from './picture.ts';

const white = relightTable(
  'srgb',
  'srgb',
  roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
);
const alone = (image: Image8, shares: LightShares, part: number) =>
  relightApart(image, lightApart(shares, { window: white, lamps: white, whole: white, part }));

const WIDTH = 320;
const HEIGHT = 200;
const OAK: Lab = { L: 55, a: 7, b: 20 };

/** Green device value, mean over a box. */
function level({ data, width, channels }: Image8, [left, top, across, down]: readonly number[]): number {
  let sum = 0;
  for (let y = top; y < top + down; y++)
    for (let x = left; x < left + across; x++) sum += data[(y * width + x) * channels + 1];
  return sum / across / down;
}

/** How much neighbouring pixels of a box differ, green device values, mean. */
function grain({ data, width, channels }: Image8, [left, top, across, down]: readonly number[]): number {
  let sum = 0;
  for (let y = top; y < top + down; y++)
    for (let x = left; x < left + across; x++) {
      const i = (y * width + x) * channels + 1;
      sum += Math.abs(data[i] - data[i + width * channels]);
    }
  return sum / across / down;
}

/** A pale wall with a burnt-out pane above an oak floor, on which `sun` multiplies the light. */
function dayPhoto(sun: (x: number, y: number) => number) {
  const body = labToLinear([OAK.L, OAK.a, OAK.b]);
  const image = picture(
    WIDTH,
    HEIGHT,
    (x, y) => {
      if (y < 80) {
        const v = x >= 120 && x < 200 && y >= 15 && y < 65 ? 1 : 0.3;
        return [v, v, v, 'linear'];
      }
      const at = (c: number) => Math.min(1, 0.9 * body[c] * (1 - x / 800) * sun(x, y));
      return [at(0), at(1), at(2), 'linear'];
    },
    { noise: 0.8 },
  );
  const data = new Uint8Array(WIDTH * HEIGHT).fill(255, WIDTH * 80);
  const floor: Mask = { width: WIDTH, height: HEIGHT, data };
  const { shares } = lightShares(image, [{ mask: floor, old: null }], { window: [[150, 40]], lamps: [] });
  if (!shares) throw new Error('Expected shares');
  return { image, shares };
}

describe('sun on a floor in a photo of daylight', () => {
  const inSun = (x: number, y: number) => x >= 110 && x < 200 && y >= 110 && y < 165;

  test('goes with the window: by lamps alone its floor is as bright as beside it, by day as it was', () => {
    const { image, shares } = dayPhoto((x, y) => (inSun(x, y) ? 6 : 1));
    const [night, day] = [alone(image, shares, 0), alone(image, shares, 1)];
    const patch = [120, 118, 70, 40];
    const beside = (level(night, [80, 118, 20, 40]) + level(night, [210, 118, 20, 40])) / 2;
    expect(level(image, patch)).toBeGreaterThan(beside + 60);
    expect(Math.abs(level(night, patch) - beside)).toBeLessThan(8);
    expect(level(day, patch)).toBeGreaterThan(level(image, patch) - 8);
    // Nothing else of the floor changes.
    for (const box of [
      [20, 100, 60, 90],
      [230, 100, 60, 90],
    ])
      expect(Math.abs(level(night, box) - level(image, box))).toBeLessThan(2);
  });

  test('leaves no rim where its edge is', () => {
    // The edge falls off over three pixels, as a lens and the size of the sun make it.
    const soft = (x: number) => Math.max(0, Math.min(1, (x - 110) / 3));
    const { image, shares } = dayPhoto((x, y) => (inSun(x, y) ? 1 + 5 * soft(x) : 1));
    const night = alone(image, shares, 0);
    const beside = level(night, [85, 118, 15, 40]);
    for (let x = 104; x < 120; x++) expect(Math.abs(level(night, [x, 118, 1, 40]) - beside)).toBeLessThan(25);
  });

  test('a pool of light without an edge is no patch of sun', () => {
    const { image, shares } = dayPhoto(
      (x, y) => 1 + 5 * Math.exp(-(((x - 155) / 70) ** 2) - ((y - 140) / 45) ** 2),
    );
    const night = alone(image, shares, 0);
    const middle = [140, 125, 30, 30];
    expect(level(image, middle)).toBeGreaterThan(level(image, [20, 100, 40, 20]) + 60);
    expect(Math.abs(level(night, middle) - level(image, middle))).toBeLessThan(2);
  });
});

test('in the rendered kitchen by day the sun on the floor goes by lamps alone, and no more than that', async () => {
  const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));
  const { data, info } = await sharp(at('static/sample/kitchen-day.jpg'))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const image: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
  const marks = JSON.parse(readFileSync(at('static/sample/marks.json'), 'utf8')) as Record<
    string,
    StoredMask
  >;
  const masks = ['cabinets', 'counter', 'backsplash', 'walls', 'floor'].map((name) =>
    decodeMask(marks[name], image),
  );
  const { shares } = lightShares(
    image,
    masks.map((mask) => ({ mask, old: null })),
    {
      window: [
        [1440, 200],
        [1300, 220],
      ],
      lamps: [],
    },
  );
  if (!shares) throw new Error('Expected shares');
  expect(shares.told).toBe('panes');
  const night = alone(image, shares, 0);
  // Both patches, burnt out, and the floor on either side of them: by its shading between the two.
  for (const { patch, sides } of [
    {
      patch: [1130, 810, 60, 30],
      sides: [
        [1060, 860, 30, 20],
        [1300, 800, 30, 20],
      ],
    },
    {
      patch: [1320, 950, 80, 40],
      sides: [
        [1220, 1020, 30, 20],
        [1500, 900, 30, 20],
      ],
    },
  ]) {
    expect(level(image, patch)).toBeGreaterThan(235);
    const around = sides.map((box) => level(night, box));
    expect(level(night, patch)).toBeGreaterThan(Math.min(...around) - 12);
    expect(level(night, patch)).toBeLessThan(Math.max(...around) + 12);
    // What burnt out has grain again, half as strong or more as beside it.
    const beside = sides.map((box) => grain(night, box));
    expect(grain(night, patch)).toBeGreaterThan(Math.min(...beside) / 2);
    expect(grain(night, patch)).toBeLessThan(2 * Math.max(...beside));
  }
  // Of cabinets, walls and tiles, on which no patch of sun has hard edges, nothing goes.
  for (const j of [0, 2, 3]) {
    let [changed, all] = [0, 0];
    masks[j].data.forEach((v, p) => {
      if (v < 250) return;
      all++;
      if (shares.share[p] > 25) changed++;
    });
    expect(changed / all).toBeLessThan(0.005);
  }
});
