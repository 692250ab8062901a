import { describe, expect, test } from 'vitest';
import { labToXyz, WHITE_D65_2, xyzToLinearRgb, type Lab } from '#lib/colour/index.ts';
import type { Image8, LinearRgb } from '#lib/photo/index.ts';
import { flatPicture, flatWords } from '#lib/studio/flat-picture.ts';
import { applyEdit, setting } from '#lib/job/index.ts';
import { medianColour, sayingThere, thereNow, unlike } from '#lib/studio/old-finish.ts';
import { roomScene } from '#lib/studio/room-scene.ts';
import { kitchen } from '../job/kitchen.ts';

const OFF_WHITE: Lab = { L: 94, a: 0, b: 4 };
const GRANITE: Lab = { L: 48, a: 1, b: 4 };
const GREEN: Lab = { L: 32, a: -12, b: 4 };
const OAK: Lab = { L: 66, a: 9, b: 24 };

/** A finish as a photo shows it under a light that falls on it, channel by channel. */
function lit(lab: Lab, [red, green, blue]: LinearRgb): LinearRgb {
  const { r, g, b } = xyzToLinearRgb(labToXyz(lab, WHITE_D65_2), 'srgb');
  return [red * (r + 0.02), green * (g + 0.02), blue * (b + 0.02)];
}

describe('whether a photo can show a finish', () => {
  const lights: LinearRgb[] = [
    [1, 1, 1],
    [0.3, 0.3, 0.3],
    // Warm lamps beside a window, and a shadow lit by the sky.
    [0.7, 0.45, 0.3],
    [0.2, 0.21, 0.25],
    // A dark corner.
    [0.05, 0.05, 0.05],
  ];

  test('it can in any light of a room', () => {
    for (const light of lights)
      for (const lab of [OFF_WHITE, GRANITE, GREEN, OAK]) expect(unlike(lab, lit(lab, light))).toBeNull();
  });

  test('it cannot where the photo is lighter than the finish in full light', () => {
    expect(unlike(GRANITE, lit(OFF_WHITE, [0.7, 0.7, 0.7]))).toBe('lighter');
    expect(unlike(GREEN, lit(OAK, [0.6, 0.6, 0.6]))).toBe('lighter');
  });

  test('it cannot where no light makes the one colour of the other', () => {
    expect(unlike({ L: 55, a: 40, b: 30 }, lit({ L: 50, a: -35, b: 20 }, [0.5, 0.5, 0.5]))).toBe(
      'another colour',
    );
    expect(unlike({ L: 60, a: -5, b: -35 }, lit({ L: 70, a: 5, b: 60 }, [0.4, 0.4, 0.4]))).toBe(
      'another colour',
    );
  });

  test('what is too dark to tell is believed', () => {
    expect(unlike(GREEN, [0.001, 0, 0.004])).toBeNull();
    expect(unlike(OFF_WHITE, [0, 0, 0])).toBeNull();
  });
});

function filled(width: number, height: number, at: (x: number, y: number) => number[]): Image8 {
  const data = new Uint8ClampedArray(3 * width * height);
  for (let y = 0; y < height; y += 1)
    for (let x = 0; x < width; x += 1) data.set(at(x, y), 3 * (y * width + x));
  return { width, height, channels: 3, data, space: 'srgb' };
}

describe('what a photo shows under a mask', () => {
  test('is the median of what is wholly the surface: handles and soft edges do not count', () => {
    const image = filled(20, 10, (x) => (x < 12 ? [255, 0, 0] : [0, 0, 255]));
    const data = new Uint8Array(200);
    for (let p = 0; p < 200; p += 1) data[p] = p % 20 < 10 ? 255 : p % 20 < 14 ? 100 : p % 20 < 18 ? 255 : 0;
    expect(medianColour(image, { width: 20, height: 10, data })).toEqual([1, 0, 0]);
    expect(medianColour(image, { width: 20, height: 10, data: new Uint8Array(200) })).toBeNull();
  });
});

describe('a picture in which nothing can be made out', () => {
  test('is told from one that shows something, noise and dust and all', () => {
    const noisy = (level: number) => filled(300, 200, (x, y) => Array(3).fill(level + ((7 * x + 3 * y) % 4)));
    expect(flatPicture(noisy(0))).toBe('black');
    expect(flatPicture(noisy(250))).toBe('white');
    expect(flatPicture(noisy(120))).toBe('of one colour');
    expect(flatPicture(filled(300, 200, () => [180, 40, 40]))).toBe('of one colour');
    expect(flatPicture(filled(1, 1, () => [0, 0, 0]))).toBe('black');
    expect(flatPicture(filled(300, 200, (x, y) => (x === 7 && y < 9 ? [0, 0, 0] : [255, 255, 255])))).toBe(
      'white',
    );
    expect(flatPicture(filled(300, 200, (x) => [x < 30 ? 90 : 0, 0, 0]))).toBeNull();
    expect(flatPicture(filled(300, 200, (x) => [40 + x / 10, 40, 40]))).toBeNull();
    expect(flatPicture(filled(300, 200, (x) => (x < 6 ? [200, 200, 200] : [255, 255, 255])))).toBeNull();
    // Of one lightness, but of two colours.
    expect(flatPicture(filled(300, 200, (x) => [120, 120, x % 2 ? 120 : 140]))).toBeNull();
    // RGBA, as a canvas gives it.
    expect(flatPicture({ data: Uint8ClampedArray.of(9, 9, 9, 255, 200, 9, 9, 255), channels: 4 })).toBeNull();
    expect(flatPicture({ data: Uint8ClampedArray.of(9, 9, 9, 255, 9, 9, 9, 0), channels: 4 })).toBe('black');
    for (const flat of ['black', 'white', 'of one colour'] as const)
      expect(flatWords(flat)).toMatch(/ all over.*take the photo again/);
  });
});

describe('what somebody says is on a surface now', () => {
  const mark = {
    id: 'cabinets',
    fileId: 'f1',
    mask: { kind: 'mask' as const, version: 1 as const, width: 1600, height: 1067, sum: 1, code: '' },
    plane: null,
  };

  test('is taken out of the photo, whatever is to come, and can be taken back', () => {
    for (const state of ['open', 'chosen', 'fixed'] as const) {
      const job = kitchen();
      job.photos.day.masks = { cabinets: mark };
      Object.assign(job.surfaces.cabinets, { state, swatchId: state === 'open' ? null : 'clay' });
      const say = (id: string | null, of = job) =>
        applyEdit(
          of,
          setting(
            of,
            'say',
            sayingThere(of.surfaces.cabinets, id).map(([at, value]) => [at, value]),
          ),
        );
      const told = say('sage');
      expect(thereNow(told.surfaces.cabinets)).toBe('sage');
      expect(roomScene(told, told.photos.day).surfaces[0].old).toEqual({ L: 62, a: -9, b: 11 });
      // What was chosen stays chosen.
      if (state === 'chosen') expect(told.surfaces.cabinets.swatchId).toBe('clay');
      const back = say(null, told);
      expect(thereNow(back.surfaces.cabinets)).toBeNull();
      expect(roomScene(back, back.photos.day).surfaces[0].old).toBeNull();
    }
  });
});
