import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { decodeRgb, deltaE2000Many, encodeRgb, reflectanceFromLab, type Lab } from '#lib/colour/index.ts';
import {
  correctImage,
  correctionFromReferences,
  paintOver,
  surfaceLayers,
  type Image8,
  type Mask,
} from '#lib/photo/index.ts';
import { linearToLab, linearise } from '../../src/lib/photo/image.ts';
import { idealRgb } from '../authoring/train/photo-simulation.ts';

/**
 * Another paint put on the rendered kitchen against a second rendering with that paint really on. Both pictures were
 * developed alike (truth.json: same exposure, gains and shoulder), so that what is left is how light is told from paint,
 * gloss, and what a changed colour of the cabinets does to the light of the whole room.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

interface Place {
  x: number;
  y: number;
  r: number;
  linear: [number, number, number];
}
const truth = JSON.parse(readFileSync(at('test/fixtures/sample/truth.json'), 'utf8')) as {
  pictures: Record<
    string,
    {
      development: unknown;
      surfaces: Record<
        string,
        { materials: { tones: { lab: [number, number, number] }[] }[]; points: Place[] }
      >;
    }
  >;
};

async function photo(path: string): Promise<Image8> {
  const { data, info } = await sharp(at(path)).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

async function maskOf(path: string): Promise<Mask> {
  const { data, info } = await sharp(at(path))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, data: new Uint8Array(data) };
}

function paintOf(picture: string): Lab {
  const [L, a, b] = truth.pictures[picture].surfaces.cabinets.materials[0].tones[0].lab;
  return { L, a, b };
}

/** Mean and 95th percentile of CIEDE2000 over the pixels at least half covered. */
function compared(painted: Image8, real: Image8, mask: Mask): { mean: number; p95: number } {
  const labs = [real, painted].map((image) => linearToLab(linearise(image).data));
  const pixels = Array.from(mask.data.keys()).filter((i) => mask.data[i] >= 128);
  const [one, other] = labs.map((lab) => {
    const some = new Float32Array(3 * pixels.length);
    pixels.forEach((i, k) => some.set(lab.subarray(3 * i, 3 * i + 3), 3 * k));
    return some;
  });
  const errors = Float32Array.from(deltaE2000Many(one, other)).sort();
  return {
    mean: errors.reduce((sum, v) => sum + v, 0) / errors.length,
    p95: errors[Math.floor(0.95 * errors.length)],
  };
}

/** Mean L* over the pixels at least half covered. */
function lightness(image: Image8, mask: Mask): number {
  const lab = linearToLab(linearise(image).data);
  let [sum, count] = [0, 0];
  mask.data.forEach((v, i) => {
    if (v < 128) return;
    sum += lab[3 * i];
    count++;
  });
  return sum / count;
}

/**
 * CIELAB D65/10 of a likely paint that a perfect camera, which has the 2 degree observer's eyes, delivers as the
 * renderer's three bands hold it. A correction from white paper tells the 10 degree colour, as it should of real
 * surfaces; the renderer has no spectra and takes the numbers of one for those of the other.
 */
function asPaint(rendered: Lab): Lab {
  let at = rendered;
  for (let round = 0; round < 12; round++) {
    const rgb = Float32Array.from(idealRgb(Float64Array.from(reflectanceFromLab(at))));
    const [L, a, b] = linearToLab(rgb);
    at = { L: at.L + rendered.L - L, a: at.a + rendered.a - a, b: at.b + rendered.b - b };
  }
  return at;
}

const BEIGE = paintOf('kitchen-day');
const GREEN = paintOf('kitchen-day-green');
let beige: Image8;
let green: Image8;
let mask: Mask;

beforeAll(async () => {
  beige = await photo('static/sample/kitchen-day.jpg');
  green = await photo('test/fixtures/sample/kitchen-day-green.jpg');
  mask = await maskOf('test/fixtures/sample/masks/cabinets.png');
});

function painted(image: Image8, finishes: { old: Lab | null; to: Lab }, bounce = true): Image8 {
  const layers = surfaceLayers(image, mask, { old: finishes.old });
  return paintOver(image, [{ layers, finish: { colour: finishes.to } }], { bounce });
}

describe('the kitchen repainted, against the kitchen rendered in that paint', () => {
  test('both pictures were developed alike', () => {
    expect(truth.pictures['kitchen-day-green'].development).toEqual(
      truth.pictures['kitchen-day'].development,
    );
  });

  test('beige cabinets painted dark green', () => {
    const { mean, p95 } = compared(painted(beige, { old: BEIGE, to: GREEN }), green, mask);
    expect(mean).toBeLessThan(3);
    expect(p95).toBeLessThan(7);
  });

  test('dark green cabinets painted beige', () => {
    const { mean, p95 } = compared(painted(green, { old: GREEN, to: BEIGE }), beige, mask);
    expect(mean).toBeLessThan(3);
    expect(p95).toBeLessThan(7);
  });

  test('the old paint unknown, estimated from the picture: a little worse', () => {
    const dark = compared(painted(beige, { old: null, to: GREEN }), green, mask);
    expect(dark.mean).toBeLessThan(3.5);
    expect(dark.p95).toBeLessThan(8);
    const light = compared(painted(green, { old: null, to: BEIGE }), beige, mask);
    expect(light.mean).toBeLessThan(4);
    expect(light.p95).toBeLessThan(8);
  });

  test.each([
    ['as developed', false],
    ['after the correction from white paper', true],
  ])(
    'white walls whose paint is unknown are taken for white walls in warm light, %s',
    async (_, corrected) => {
      const walls = await maskOf('test/fixtures/sample/masks/walls.png');
      const paper = truth.pictures['kitchen-day'].surfaces.paper.points[0];
      const region = { kind: 'point', x: paper.x, y: paper.y, radius: paper.r } as const;
      const image = corrected
        ? correctImage(beige, correctionFromReferences(beige, [{ kind: 'white-paper', region }]), {
            space: 'srgb',
          })
        : beige;
      const [, a, b] = linearToLab(Float32Array.from(surfaceLayers(image, walls).old));
      const [, trueA, trueB] = truth.pictures['kitchen-day'].surfaces.walls.materials[0].tones[0].lab;
      expect(Math.abs(a - trueA)).toBeLessThan(2);
      expect(Math.abs(b - trueB)).toBeLessThan(3);
    },
  );

  test('without the changed bounce of light a dark room cannot be told from a light one', () => {
    const plain = compared(painted(green, { old: GREEN, to: BEIGE }, false), beige, mask);
    const bounced = compared(painted(green, { old: GREEN, to: BEIGE }), beige, mask);
    expect(bounced.mean).toBeLessThan(0.7 * plain.mean);
  });

  test('balanced by gains alone, so that the white paper is white: both ways', () => {
    const paper = truth.pictures['kitchen-day'].surfaces.paper.points[0];
    const { data, width } = linearise(beige);
    const gains = [0, 1, 2].map((c) => paper.linear[c] / data[3 * (paper.y * width + paper.x) + c]);
    const balanced = (image: Image8): Image8 => ({
      ...image,
      data: Uint8Array.from(image.data, (v, i) =>
        Math.round(255 * Math.min(1, encodeRgb(gains[i % 3] * decodeRgb(v / 255, 'srgb'), 'srgb'))),
      ),
    });
    const [one, other] = [balanced(beige), balanced(green)];
    const dark = compared(painted(one, { old: BEIGE, to: GREEN }), other, mask);
    expect(dark.mean).toBeLessThan(3);
    expect(dark.p95).toBeLessThan(7);
    const light = compared(painted(other, { old: GREEN, to: BEIGE }), one, mask);
    expect(light.mean).toBeLessThan(3);
    expect(light.p95).toBeLessThan(7);
  });

  test('after the full correction from white paper: both ways', () => {
    const paper = truth.pictures['kitchen-day'].surfaces.paper.points[0];
    const region = { kind: 'point', x: paper.x, y: paper.y, radius: paper.r } as const;
    const correction = correctionFromReferences(beige, [{ kind: 'white-paper', region }]);
    const [one, other] = [beige, green].map((image) => correctImage(image, correction, { space: 'srgb' }));
    const [pale, deep] = [asPaint(BEIGE), asPaint(GREEN)];
    const dark = compared(painted(one, { old: pale, to: deep }), other, mask);
    expect(dark.mean).toBeLessThan(3);
    expect(dark.p95).toBeLessThan(7);
    // Beige comes out of the correction 1 to 2 L* too dark beside green, which its stated doubt allows for.
    const light = compared(painted(other, { old: deep, to: pale }), one, mask);
    expect(light.mean).toBeLessThan(3);
    expect(light.p95).toBeLessThan(7);
  });
});

// Some constants (what is mirrored on dark paint) were chosen with these in view too: no proof, a guard.
describe('other paints in the same kitchen, at half the size: dark blue and white', () => {
  const BLUE: Lab = { L: 27, a: 1, b: -21 };
  const WHITE: Lab = { L: 92, a: -0.5, b: 3 };
  let rooms: Record<'beige' | 'blue' | 'white', Image8>;
  let small: Mask;

  beforeAll(async () => {
    const [pale, blue, white] = await Promise.all(
      ['beige', 'blue', 'white'].map((name) => photo(`test/fixtures/sample/half/${name}.jpg`)),
    );
    rooms = { beige: pale, blue, white };
    small = await maskOf('test/fixtures/sample/half/cabinets.png');
  });

  test.each([
    ['beige', 'blue', BEIGE, BLUE, 3, 7],
    ['white', 'blue', WHITE, BLUE, 3.3, 7.7],
    ['beige', 'white', BEIGE, WHITE, 2.3, 5],
    ['white', 'beige', WHITE, BEIGE, 2, 5],
    // Soft highlights on dark blue are partly taken for light.
    ['blue', 'beige', BLUE, BEIGE, 3.2, 6.5],
    ['blue', 'white', BLUE, WHITE, 3.2, 6.5],
  ] as const)('%s painted %s', (from, to, old, fresh, mean, p95) => {
    const layers = surfaceLayers(rooms[from], small, { old });
    const out = compared(paintOver(rooms[from], [{ layers, finish: { colour: fresh } }]), rooms[to], small);
    expect(out.mean).toBeLessThan(mean);
    expect(out.p95).toBeLessThan(p95);
  });

  test('the room is as much lighter or darker on the cabinets as it really is: no drift of L* either way', () => {
    const [dark, light] = (['blue', 'white'] as const).map((from) => {
      const to = from === 'blue' ? 'white' : 'blue';
      const layers = surfaceLayers(rooms[from], small, { old: from === 'blue' ? BLUE : WHITE });
      const finish = { colour: to === 'blue' ? BLUE : WHITE };
      return lightness(paintOver(rooms[from], [{ layers, finish }]), small) - lightness(rooms[to], small);
    });
    expect(Math.abs(dark)).toBeLessThan(1.5);
    expect(Math.abs(light)).toBeLessThan(1.5);
  });
});
