import { describe, expect, test } from 'vitest';
import {
  REFERENCE_ILLUMINANCE,
  appearanceInRoom,
  appearancesInRoom,
  blackBody,
  deltaE2000,
  illuminant,
  labToLch,
  reflectanceFromLab,
  roomView,
  type Lab,
} from '#lib/colour/index.ts';
import { linearise, relight, relightTable, type Image8 } from '#lib/photo/index.ts';
import { linearToLab } from '../../src/lib/photo/image.ts';
import { random } from './board-scene.ts';

const pixels = (...data: number[]): Image8 => ({
  width: data.length / 3,
  height: 1,
  channels: 3,
  data: Uint8Array.from(data),
  space: 'srgb',
});

/** Lab D65 of a picture as shown. */
function labs(image: Image8): Lab[] {
  const all = linearToLab(linearise(image).data);
  return Array.from({ length: all.length / 3 }, (_, i) => ({
    L: all[3 * i],
    a: all[3 * i + 1],
    b: all[3 * i + 2],
  }));
}

const lamp = roomView({ spectrum: illuminant('LED-B3'), illuminance: 150 });
const table = relightTable('srgb', 'srgb', lamp);

describe('a relit picture', () => {
  test.each(['srgb', 'display-p3'] as const)(
    'in daylight of the reference level is the picture, in %s',
    (space) => {
      const spectrum = illuminant('D65');
      const day = relightTable(space, space, roomView({ spectrum, illuminance: REFERENCE_ILLUMINANCE }));
      const next = random(11);
      const image = { ...pixels(...Array.from({ length: 3000 }, () => Math.floor(256 * next()))), space };
      const out = relight(image, day);
      image.data.forEach((value, i) => expect(Math.abs(out.data[i] - value)).toBeLessThanOrEqual(1));
    },
  );

  test('by lamplight shows each colour as its most plausible surface looks there', () => {
    // Paints: inside the screen's gamut before and after.
    const image = pixels(200, 180, 150, 120, 140, 110, 90, 100, 125, 160, 110, 90, 60, 60, 62);
    const before = labs(image);
    labs(relight(image, table)).forEach((shown, i) => {
      const direct = appearanceInRoom(reflectanceFromLab(before[i]), lamp).lab;
      // The file's white is that of sRGB, the recovery's that of D65: together with 8 bits within half a unit.
      expect(deltaE2000(direct, shown)).toBeLessThan(0.7);
    });
  });

  test('is the direct computation to a fraction of a step: mean below 0.3, 99 of 100 below 1 CIEDE2000', () => {
    const next = random(5);
    const paint = () => 40 + Math.floor(200 * next());
    const image = pixels(...Array.from({ length: 3 * 1500 }, paint));
    const all = linearToLab(linearise(image).data);
    const exact = appearancesInRoom(all, lamp);
    const off: number[] = [];
    labs(relight(image, table)).forEach((shown, i) => {
      const lab = { L: exact[3 * i], a: exact[3 * i + 1], b: exact[3 * i + 2] };
      // Colours the screen cannot show are drawn towards grey by the table and have no exact value here.
      const device = relight(pixels(...image.data.slice(3 * i, 3 * i + 3)), table).data;
      if (Math.min(...device) > 2 && Math.max(...device) < 253) off.push(deltaE2000(lab, shown));
    });
    off.sort((p, q) => p - q);
    expect(off.length).toBeGreaterThan(1000);
    expect(off.reduce((sum, v) => sum + v, 0) / off.length).toBeLessThan(0.3);
    expect(off[Math.floor(0.99 * off.length)]).toBeLessThan(1);
  });

  test('keeps black black, and white the lightest, near neutral by any ordinary lamp', () => {
    for (const spectrum of [illuminant('A'), illuminant('FL11'), illuminant('LED-B3'), blackBody(2200)]) {
      const view = roomView({ spectrum, illuminance: 200 });
      const [black, white, cream] = labs(
        relight(pixels(0, 0, 0, 255, 255, 255, 245, 235, 215), relightTable('srgb', 'srgb', view)),
      );
      expect(black.L).toBeLessThan(0.5);
      expect(white.L).toBeGreaterThan(80);
      expect(white.L).toBeGreaterThan(cream.L);
      expect(labToLch(white).C).toBeLessThan(18);
    }
  });

  test('keeps the order of greys', () => {
    const ramp = pixels(...Array.from({ length: 64 }, (_, i) => [4 * i, 4 * i, 4 * i]).flat());
    const L = labs(relight(ramp, table)).map((lab) => lab.L);
    for (let i = 1; i < L.length; i++) expect(L[i]).toBeGreaterThan(L[i - 1] - 0.5);
    expect(L[63] - L[0]).toBeGreaterThan(70);
  });

  test('is dimmer the less light there is', () => {
    const grey = pixels(128, 128, 128);
    const L = [20, 100, 500].map((illuminance) => {
      const view = roomView({ spectrum: illuminant('A'), illuminance });
      return labs(relight(grey, relightTable('srgb', 'srgb', view)))[0].L;
    });
    expect(L[0]).toBeLessThan(L[1] - 3);
    expect(L[1]).toBeLessThan(L[2] - 3);
  });

  test('keeps size and opacity, and says its space', () => {
    const data = Uint8Array.from({ length: 24 }, (_, i) => (i % 4 === 3 ? 10 * i : 90));
    const image: Image8 = { width: 3, height: 2, channels: 4, data, space: 'rec2020' };
    const out = relight(image, relightTable('rec2020', 'display-p3', lamp));
    expect([out.width, out.height, out.channels, out.space]).toEqual([3, 2, 4, 'display-p3']);
    for (let i = 3; i < data.length; i += 4) expect(out.data[i]).toBe(data[i]);
  });

  test('refuses a picture of another space', () => {
    expect(() => relight({ ...pixels(1, 2, 3), space: 'display-p3' }, table)).toThrow(RangeError);
  });
});
