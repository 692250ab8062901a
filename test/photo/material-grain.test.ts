import { describe, expect, test } from 'vitest';
import { decodeRgb, linearRgbToXyz, xyzToLab, WHITE_RGB, type Lab } from '#lib/colour/index.ts';
import { paintOver, surfaceLayers, type Image8, type Mask } from '#lib/photo/index.ts';
import { labToLinear, random } from './board-scene.ts';
import { picture } from './picture.ts';

/** A light finish on a counter of speckled stone: nothing of the old stone may show at its rims or in bright light. */

const LIGHT: Lab = { L: 88, a: 0, b: 2 };
const [WIDTH, HEIGHT] = [300, 200];
const [TOP, BOTTOM] = [50.4, 150.4];
const PLATE = { x: 150, y: 100, radius: 22.3 };

/** How much of a pixel is stone: between a wall and doors, with a round plate on it. */
function stoneAt(x: number, y: number): number {
  const inside = (v: number) => Math.min(1, Math.max(0, v + 0.5));
  const away = Math.hypot(x - PLATE.x, y - PLATE.y) - PLATE.radius;
  return Math.min(inside(y - TOP), inside(BOTTOM - y), inside(away));
}

const mask: Mask = {
  width: WIDTH,
  height: HEIGHT,
  data: Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) =>
    Math.round(255 * stoneAt((i % WIDTH) + 0.5, Math.floor(i / WIDTH) + 0.5)),
  ),
};

/** Speckles of a pixel or two, darker and lighter by half; `light` falls on all. */
function counter(light: (x: number) => number, depth: number): Image8 {
  const next = random(12);
  const speckles = Array.from({ length: WIDTH * HEIGHT }, () => (next() < 0.5 ? 1 - depth : 1 + depth));
  const [body, wall, doors] = [labToLinear([62, 2, 6]), labToLinear([80, 1, 6]), labToLinear([30, 8, 10])];
  return picture(
    WIDTH,
    HEIGHT,
    (x, y) => {
      const stone = stoneAt(x, y);
      const speckle = speckles[Math.floor(y) * WIDTH + Math.floor(x)];
      const beside = y < TOP + 5 ? wall : y > BOTTOM - 5 ? doors : wall;
      const of = (c: number) => light(x) * (stone * speckle * body[c] + (1 - stone) * beside[c]);
      return [of(0), of(1), of(2), 'linear'];
    },
    { noise: 0.6, seed: 5 },
  );
}

function lightness({ data }: Image8, i: number): number {
  const [r, g, b] = [data[3 * i], data[3 * i + 1], data[3 * i + 2]].map((v) => decodeRgb(v / 255, 'srgb'));
  return xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_RGB).L;
}

function deviation(values: readonly number[]): number {
  const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
  return Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length);
}

function covered(photo: Image8): Image8 {
  const layers = surfaceLayers(photo, mask, { texture: 'hide' });
  return paintOver(photo, [{ layers, finish: { colour: LIGHT } }]);
}

describe('a light finish on speckled stone', () => {
  test('shows no dots of the old stone along its front edge and around what stands on it', () => {
    const photo = counter(() => 0.75, 0.45);
    const out = covered(photo);
    const rims: Record<'front' | 'plate', number[]> = { front: [], plate: [] };
    for (let i = 0; i < mask.data.length; i++) {
      if (mask.data[i] !== 255) continue;
      const [x, y] = [(i % WIDTH) + 0.5, Math.floor(i / WIDTH) + 0.5];
      const fromPlate = Math.hypot(x - PLATE.x, y - PLATE.y) - PLATE.radius;
      if (fromPlate < 2.5) rims.plate.push(i);
      else if (BOTTOM - y < 2.5) rims.front.push(i);
    }
    for (const rim of Object.values(rims)) {
      expect(rim.length).toBeGreaterThan(100);
      expect(deviation(rim.map((i) => lightness(photo, i)))).toBeGreaterThan(8);
      // A unit side by side is just seen: common practice, no published source.
      expect(deviation(rim.map((i) => lightness(out, i)))).toBeLessThan(1);
    }
  });

  test('has no white flecks where lighter speckles burn out', () => {
    // Light speckles burn out towards the right, dark ones nowhere.
    const photo = counter((x) => 1.6 + (1.2 * x) / WIDTH, 0.2);
    const burnt = Array.from(mask.data.keys()).filter((i) => mask.data[i] === 255 && photo.data[3 * i] > 250);
    expect(burnt.length).toBeGreaterThan(500);
    const out = covered(photo);
    const steps: number[] = [];
    for (const i of burnt)
      for (const beside of [i - 1, i + 1, i - WIDTH, i + WIDTH])
        if (mask.data[beside] === 255 && photo.data[3 * beside] <= 250)
          steps.push(lightness(out, i) - lightness(out, beside));
    expect(steps.length).toBeGreaterThan(500);
    const mean = steps.reduce((sum, v) => sum + v, 0) / steps.length;
    expect(Math.abs(mean)).toBeLessThan(1);
  });
});
