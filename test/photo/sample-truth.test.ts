import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import {
  deltaE2000,
  invert,
  linearRgbToXyz,
  transform,
  WHITE_D65_2,
  xyzToLab,
  type Covariance,
  type Lab,
} from '#lib/colour/index.ts';
import {
  correctionFromReferences,
  evened,
  measureRegion,
  type Image8,
  type Scene,
} from '#lib/photo/index.ts';

/**
 * The whole way from a developed picture to a measured colour, against the albedo the renderer was given (truth.json says
 * what its fields mean). Rendered in three bands with gloss, haze of the camera's shoulder and light that changes across the
 * picture: harder than the simulated photographs of correction-accuracy.test.ts, and without evidence on metamerism.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

interface Place {
  x: number;
  y: number;
  r: number;
  linear: [number, number, number];
}
interface Pictured {
  file: string;
  surfaces: Record<string, { points: Place[] }>;
  'samples on board'?: Record<string, { quad: [number, number][]; lab?: [number, number, number] }>;
}

const truth = JSON.parse(readFileSync(at('test/fixtures/sample/truth.json'), 'utf8')) as {
  paints: { name: string; lab: [number, number, number] }[];
  pictures: Record<string, Pictured>;
};

async function picture(name: string, scene: Scene) {
  const { data, info } = await sharp(at(`static/sample/${truth.pictures[name].file}`))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const delivered: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
  const even = evened(delivered, scene);
  const paper = truth.pictures[name].surfaces.paper.points[0];
  const region = { kind: 'point', x: paper.x, y: paper.y, radius: paper.r } as const;
  return { ...even, correction: correctionFromReferences(even.image, [{ kind: 'white-paper', region }]) };
}

const labOf = ([r, g, b]: [number, number, number]): Lab =>
  xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_D65_2);

/** Squared Mahalanobis distance of a measured colour from the truth; 7.81 is the 95 % bound in three dimensions. */
function surprise(lab: Lab, covariance: Covariance, known: Lab): number {
  const d = [lab.L - known.L, lab.a - known.a, lab.b - known.b] as const;
  const weighed = transform(invert(covariance as never), d as never);
  return d.reduce((sum, v, i) => sum + v * weighed[i], 0);
}
const BOUND = 7.81;

describe('the sample board, measured', () => {
  test('every strip is nearest to its own paint, and evening out the light takes off nearly a third of the error', async () => {
    const { image, board, correction } = await picture('board', 'sample board');
    const plain = await picture('board', 'one plane');
    const strips = (board?.patches ?? []).filter((patch) => !patch.cardLike);
    const paints = truth.paints.map(({ lab: [L, a, b] }) => ({ L, a, b }));
    expect(strips.length).toBe(7);
    const errors = strips.map(({ region }, i) => {
      const { lab } = measureRegion(image, region, correction);
      const all = paints.slice(0, 7).map((paint) => deltaE2000(paint, lab));
      expect(all.indexOf(Math.min(...all))).toBe(i);
      return all[i];
    });
    const before = strips.map(({ region }, i) =>
      deltaE2000(paints[i], measureRegion(plain.image, region, plain.correction).lab),
    );
    const mean = (list: number[]) => list.reduce((sum, v) => sum + v, 0) / list.length;
    expect(mean(errors)).toBeLessThan(0.7 * mean(before));
    // Satin paint seen against a window: dark strips carry a veil that no reference shows.
    expect(mean(errors)).toBeLessThan(4.5);
  });

  test('the stated doubt covers at least six of seven strips', async () => {
    const { image, board, correction } = await picture('board', 'sample board');
    const strips = (board?.patches ?? []).filter((patch) => !patch.cardLike);
    const inside = strips.filter(({ region }, i) => {
      const { lab, covariance } = measureRegion(image, region, correction);
      const [L, a, b] = truth.paints[i].lab;
      return surprise(lab, covariance, { L, a, b }) < BOUND;
    });
    expect(inside.length).toBeGreaterThanOrEqual(6);
  });
});

describe('surfaces of a room measured away from the white paper', () => {
  test.each([
    ['kitchen-day', 0.85],
    ['kitchen-mixed', 0.6],
  ])('%s: the doubt says how little their lightness is known', async (name, least) => {
    const { image, correction } = await picture(name, 'room');
    const places = Object.entries(truth.pictures[name].surfaces)
      .filter(([surface]) => surface !== 'paper' && surface !== 'hardware')
      .flatMap(([, { points }]) => points);
    const inside = places.filter(({ x, y, r, linear }) => {
      const region = { kind: 'box', x: x - r, y: y - r, width: 2 * r + 1, height: 2 * r + 1 } as const;
      const { lab, covariance } = measureRegion(image, region, correction);
      return surprise(lab, covariance, labOf(linear)) < BOUND;
    });
    expect(places.length).toBeGreaterThan(30);
    expect(inside.length / places.length).toBeGreaterThan(least);
  });
});
