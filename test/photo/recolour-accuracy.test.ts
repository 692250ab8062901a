import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { decodeRgb, deltaE2000Many, encodeRgb, type Lab } from '#lib/colour/index.ts';
import {
  correctImage,
  correctionFromReferences,
  paintOver,
  surfaceLayers,
  type Image8,
  type Mask,
} from '#lib/photo/index.ts';
import { linearToLab, linearise } from '../../src/lib/photo/image.ts';

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

const BEIGE = paintOf('kitchen-day');
const GREEN = paintOf('kitchen-day-green');
let beige: Image8;
let green: Image8;
let mask: Mask;

beforeAll(async () => {
  beige = await photo('static/sample/kitchen-day.jpg');
  green = await photo('test/fixtures/sample/kitchen-day-green.jpg');
  const { data, info } = await sharp(at('test/fixtures/sample/masks/cabinets.png'))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  mask = { width: info.width, height: info.height, data: new Uint8Array(data) };
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

  test('after the full correction from white paper the bar is missed from dark to light', () => {
    const paper = truth.pictures['kitchen-day'].surfaces.paper.points[0];
    const region = { kind: 'point', x: paper.x, y: paper.y, radius: paper.r } as const;
    const correction = correctionFromReferences(beige, [{ kind: 'white-paper', region }]);
    const [one, other] = [beige, green].map((image) => correctImage(image, correction, { space: 'srgb' }));
    const dark = compared(painted(one, { old: BEIGE, to: GREEN }), other, mask);
    expect(dark.mean).toBeLessThan(3.5);
    expect(dark.p95).toBeLessThan(7);
    // Beige itself comes out of the correction 5 off the true one (a* + 4.4), dark green 1: what is painted true does not look
    // like what was corrected wrongly. Painting before correcting agrees better here (2.2 and 2.4) but is further from the
    // truth (5.9 instead of 5.3 from dark to light); where a camera has a contrast curve both do alike.
    const light = compared(painted(other, { old: GREEN, to: BEIGE }), one, mask);
    expect(light.mean).toBeLessThan(5);
    expect(light.p95).toBeLessThan(8.5);
  });
});
