import { describe, expect, test } from 'vitest';
import { WHITE_RGB, decodeRgb, linearRgbToXyz, xyzToLab, type Lab } from '#lib/colour/index.ts';
import { FACE_SHARE, paintOver, surfaceLayers, type Image8, type Mask } from '#lib/photo/index.ts';
import { labToLinear, normal, random } from './board-scene.ts';
import { picture } from './picture.ts';

/** Light paint over materials whose own colour varies, and over plain paint in light whose colour does. */

const WHITE: Lab = { L: 94, a: 0, b: 0 };
const [WIDTH, HEIGHT] = [480, 320];
/** The surface, between pale strips that say what the light is. */
const [TOP, BOTTOM] = [60, 260];
const DOOR = 80;

const mask: Mask = {
  width: WIDTH,
  height: HEIGHT,
  data: Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) =>
    i >= TOP * WIDTH && i < BOTTOM * WIDTH ? 255 : 0,
  ),
};

/** Light from 0.35 on the left to 0.8 on the right, a third of it in a soft shade at the foot of the middle. */
function light(x: number, y: number): number {
  const shade = Math.exp(-(((x - 240) / 70) ** 2) - ((y - 250) / 70) ** 2);
  return (0.35 + (0.45 * x) / WIDTH) * (1 - 0.65 * shade);
}

/** Six doors of a dark red wood, each of another hue, with a grain that differs in hue too, all in one white light. */
function doors(): Image8 {
  const body = labToLinear([24, 24, 17]);
  const next = random(4);
  const hues = [
    [1, 0.5],
    [0.85, 1.6],
    [1.1, 1],
    [0.8, 2],
    [1.15, 0.4],
    [0.95, 1.3],
  ];
  const grain = Array.from({ length: WIDTH }, () => [
    0.1 * normal(next),
    0.06 * normal(next),
    0.2 * normal(next),
  ]);
  return picture(
    WIDTH,
    HEIGHT,
    (x, y) => {
      const here = light(x, y);
      if (y < TOP || y >= BOTTOM) return [0.7 * here, 0.7 * here, 0.7 * here, 'linear'];
      const [red, blue] = hues[Math.floor(x / DOOR)];
      const [depth, ofRed, ofBlue] = grain[Math.floor(x)];
      const own = [red + ofRed, 1, Math.max(0.2, blue + ofBlue)];
      const of = (c: number) => here * (body[c] * (1 + depth) * own[c] + FACE_SHARE / 2);
      return [of(0), of(1), of(2), 'linear'];
    },
    { noise: 0.6, seed: 11 },
  );
}

function painted(photo: Image8, old: Lab | null, texture: 'hide if any' | 'none'): Image8 {
  const layers = surfaceLayers(photo, mask, { old, texture });
  return paintOver(photo, [{ layers, finish: { colour: WHITE } }]);
}

/** Mean colour of squares of 10 pixels, away from the edges of doors and surface, no channel above `most` in linear light. */
function colours(image: Image8, most: number): { lab: Lab; x: number; y: number }[] {
  const out: { lab: Lab; x: number; y: number }[] = [];
  for (let y = TOP + 8; y + 10 < BOTTOM - 8; y += 12)
    for (let x = 6; x + 10 < WIDTH; x += 10) {
      if (x % DOOR < 6 || x % DOOR > DOOR - 16) continue;
      const sums = [0, 0, 0];
      for (let v = y; v < y + 10; v++)
        for (let u = x; u < x + 10; u++)
          for (let c = 0; c < 3; c++) sums[c] += decodeRgb(image.data[3 * (v * WIDTH + u) + c] / 255, 'srgb');
      const [r, g, b] = sums.map((v) => v / 100);
      if (Math.max(r, g, b) > most) continue;
      out.push({ lab: xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_RGB), x, y });
    }
  return out;
}

function range(values: readonly number[]): number {
  return Math.max(...values) - Math.min(...values);
}

describe('white paint over dark wood whose boards differ in hue, in one white light', () => {
  test.each([
    ['as joinery, what is there unknown', null, 'hide if any'],
    ['as joinery, what is there known', { L: 24, a: 24, b: 17 }, 'hide if any'],
    ['as a surface that usually has no grain', null, 'none'],
  ] as const)('is of one colour all over, darker only where less light falls: %s', (_, old, texture) => {
    const out = painted(doors(), old, texture);
    // What is brighter bends towards white.
    const seen = colours(out, 0.8);
    expect(seen.length).toBeGreaterThan(200);
    // A unit side by side is just seen: common practice, no published source.
    expect(range(seen.map(({ lab }) => lab.a))).toBeLessThan(1);
    expect(range(seen.map(({ lab }) => lab.b))).toBeLessThan(1);
    // The shade is still there, as far as white doors do not light it themselves.
    const mean = (of: (place: { x: number; y: number }) => boolean) => {
      const some = colours(out, 1).filter(of);
      return some.reduce((sum, { lab }) => sum + lab.L, 0) / some.length;
    };
    const foot = mean(({ x, y }) => Math.abs(x - 235) < 40 && y > 220);
    const head = mean(({ x, y }) => Math.abs(x - 235) < 40 && y < 90);
    expect(foot).toBeLessThan(head - 6);
  });
});

describe('plain paint in light that goes from warm to cool', () => {
  test('keeps that light when it is painted white', () => {
    const scene = (paint: Lab) => {
      const body = labToLinear([paint.L, paint.a, paint.b]);
      return picture(
        WIDTH,
        HEIGHT,
        (x, y) => {
          const warm = 0.12 * (1 - (2 * x) / WIDTH);
          const lit = [0.6 * (1 + warm), 0.6, 0.6 * (1 - 1.6 * warm)];
          const of = (c: number) => lit[c] * (y < TOP || y >= BOTTOM ? 0.7 : body[c] + FACE_SHARE);
          return [of(0), of(1), of(2), 'linear'];
        },
        { noise: 0.6, seed: 3 },
      );
    };
    const old: Lab = { L: 70, a: 2, b: 12 };
    const [truth, out] = [scene(WHITE), painted(scene(old), old, 'hide if any')].map((image) =>
      colours(image, 1),
    );
    // How strong a cast is, is half believed; that and where it is there stays.
    const cast = (seen: typeof truth, from: number) => {
      const some = seen.filter(({ x }) => x >= from && x < from + 120);
      return some.reduce((sum, { lab }) => sum + lab.b, 0) / some.length;
    };
    expect(cast(truth, 0) - cast(truth, 360)).toBeGreaterThan(10);
    for (const from of [0, 120, 240]) expect(cast(out, from)).toBeGreaterThan(cast(out, from + 120) + 1.5);
  });
});
