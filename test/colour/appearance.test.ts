import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_10,
  REFERENCE_ILLUMINANCE,
  WHITE_D65_10,
  appearanceInRoom,
  appearancesInRoom,
  blackBody,
  daylight,
  deltaE2000,
  illuminant,
  labToLch,
  labToScreen,
  labToXyz,
  plausibleSurfaces,
  reflectanceFromLab,
  roomView,
  spectrumToXyz,
  viewingConditions,
  whitePoint,
  xyzToCam16,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { Lab, RoomView, Spectrum } from '#lib/colour/index.ts';
import { readTable } from './published.ts';

const D65 = illuminant('D65');
const A = illuminant('A');
const reference = roomView({ spectrum: D65, illuminance: REFERENCE_ILLUMINANCE });
const room = (spectrum: Spectrum, illuminance: number) => roomView({ spectrum, illuminance });

/** The 24 patches of the target: measured reflectances, 380-780 nm by 5. */
const rows = readTable('target24_reflectance.csv');
const PATCHES = Object.keys(rows[0])
  .filter((column) => column !== 'nm')
  .map((column) => Float64Array.from(rows, (row) => Number(row[column])));

const flat = (value: number) => new Float64Array(81).fill(value);
const labD65 = (reflectance: ArrayLike<number>): Lab =>
  xyzToLab(spectrumToXyz(reflectance, { illuminant: D65, observer: OBSERVER_10 }), WHITE_D65_10);
const look = (reflectance: ArrayLike<number>, view: RoomView) => appearanceInRoom(reflectance, view).lab;
const chroma = (lab: Lab) => labToLch(lab).C;

/** CAM16 on the screen: white 160 cd/m2 (ISO 3664), a fifth of it adapted to, D65, average surround. */
const onScreen = (lab: Lab, degree: number) =>
  xyzToCam16(
    labToXyz(lab, WHITE_D65_10),
    viewingConditions({ white: WHITE_D65_10, L_A: 32, Y_b: 20, surround: 'average', degree }),
  );

test('the patches are what the file says', () => {
  expect(PATCHES).toHaveLength(24);
  for (const patch of PATCHES) expect(patch.every((value) => value > 0 && value < 1)).toBe(true);
});

describe('the conditions of a room', () => {
  // CIE 248:2022: L_A = E / pi times the luminance factor of the background, D = F (1 - exp((-L_A - 42) / 92) / 3.6).
  test.each([20, 150, 1000])('adapt to a fifth of the light and not completely, at %i lx', (lux) => {
    const { conditions } = room(A, lux);
    const L_A = lux / (5 * Math.PI);
    expect(conditions.L_A).toBeCloseTo(L_A, 10);
    expect(conditions.D).toBeCloseTo(1 - Math.exp(-(L_A + 42) / 92) / 3.6, 10);
    expect(conditions.white).toEqual(whitePoint(A, OBSERVER_10));
  });

  test.each([0, -1, NaN, Infinity])('refuse %f lx', (lux) => {
    expect(() => room(D65, lux)).toThrow(RangeError);
  });

  test('refuse a dark spectrum and one off the grid', () => {
    expect(() => room(flat(0), 100)).toThrow(RangeError);
    expect(() => room(new Float64Array(31).fill(1), 100)).toThrow(RangeError);
  });
});

describe('daylight', () => {
  test('of the reference level leaves every colour as plain daylight has it', () => {
    expect(REFERENCE_ILLUMINANCE).toBeGreaterThan(490);
    expect(REFERENCE_ILLUMINANCE).toBeLessThan(510);
    for (const patch of PATCHES) {
      expect(deltaE2000(labD65(patch), look(patch, reference))).toBeLessThan(0.01);
      expect(deltaE2000(labD65(patch), look(patch, room(D65, 500)))).toBeLessThan(0.5);
    }
  });

  test('of any brightness above it stays near plain daylight', () => {
    for (const patch of PATCHES)
      expect(deltaE2000(labD65(patch), look(patch, room(D65, 2000)))).toBeLessThan(1);
  });

  test.each([5, 50, 500, 5000, 50000])('keeps neutrals neutral at %i lx', (lux) => {
    // Not 0: room and screen compress cone responses at different levels.
    for (const value of [0.02, 0.2, 0.6, 1])
      expect(chroma(look(flat(value), room(D65, lux)))).toBeLessThan(0.002);
  });
});

describe('what the screen shows', () => {
  test.each([500, 1000])('has the lightness, chroma and hue of the room, at %i lx or more', (lux) => {
    for (const light of [D65, A, illuminant('FL11')]) {
      const view = room(light, Math.max(lux, REFERENCE_ILLUMINANCE));
      for (const patch of PATCHES) {
        const { cam16, lab } = appearanceInRoom(patch, view);
        const seen = onScreen(lab, view.conditions.D);
        expect(Math.abs(seen.J - cam16.J)).toBeLessThan(1e-6);
        expect(Math.abs(seen.C - cam16.C)).toBeLessThan(1e-6);
        if (cam16.C > 1) expect(Math.abs(seen.h - cam16.h)).toBeLessThan(1e-4);
      }
    }
  });

  test.each([20, 50, 300])(
    'has the colourfulness, hue and saturation of the room, dimmed, at %i lx',
    (lux) => {
      const view = room(A, lux);
      const bright = room(A, REFERENCE_ILLUMINANCE);
      for (const patch of PATCHES) {
        const { cam16, lab } = appearanceInRoom(patch, view);
        const seen = onScreen(lab, view.conditions.D);
        expect(Math.abs(seen.M - cam16.M)).toBeLessThan(1e-6);
        if (cam16.C > 1) expect(Math.abs(seen.h - cam16.h)).toBeLessThan(1e-4);
        // Chroma over the root of lightness is what saturation is made of in CAM16.
        expect(seen.C / Math.sqrt(seen.J)).toBeCloseTo(cam16.C / Math.sqrt(cam16.J), 6);
        expect(seen.J).toBeLessThan(cam16.J);
        expect(lab.L).toBeLessThan(appearanceInRoom(patch, bright).lab.L);
      }
    },
  );

  test('falls with the light and never rises as it goes down', () => {
    const levels = [1, 5, 20, 50, 100, 200, 400, 503, 1000];
    const L = levels.map((lux) => look(flat(0.2), room(D65, lux)).L);
    for (let i = 1; i < L.length; i++) expect(L[i]).toBeGreaterThanOrEqual(L[i - 1]);
  });

  test('the same grey at 50 lx and at 1,000 lx does not look the same, and white does not become grey', () => {
    const [dim, bright] = [room(D65, 50), room(D65, 1000)];
    expect(deltaE2000(look(flat(0.2), dim), look(flat(0.2), bright))).toBeGreaterThan(5);
    expect(look(flat(0.9), dim).L).toBeGreaterThan(65);
  });

  test('a red pales as the light goes down (Hunt 1952)', () => {
    const red = PATCHES[14];
    expect(labD65(red).a).toBeGreaterThan(30);
    expect(chroma(look(red, room(D65, 50)))).toBeLessThan(chroma(look(red, room(D65, 500))) - 5);
  });

  test('black is black and the brightest white no brighter than the screen', () => {
    for (const light of [D65, A, blackBody(2000), daylight(15000)]) {
      for (const lux of [5, 500, 20000]) {
        expect(look(flat(0), room(light, lux)).L).toBe(0);
        expect(look(flat(1), room(light, lux)).L).toBeLessThan(101);
      }
    }
  });

  test('white by lamplight is yellowish, the more the dimmer, and less than without any adaptation', () => {
    const white = whitePoint(A, OBSERVER_10);
    const unadapted = chroma(xyzToLab(white, WHITE_D65_10));
    const casts = [50, 200, 1000].map((lux) => look(flat(1), room(A, lux)));
    for (const cast of casts) {
      expect(cast.b).toBeGreaterThan(0);
      expect(chroma(cast)).toBeLessThan(0.35 * unadapted);
    }
    // Against its own lightness: the dim white is also darker.
    const strength = casts.map((cast) => chroma(cast) / cast.L);
    expect(strength[0]).toBeGreaterThan(strength[1]);
    expect(strength[1]).toBeGreaterThan(strength[2]);
  });

  test('a colour the screen cannot show is marked', () => {
    const view = room(illuminant('LED-RGB1'), 500);
    const looks = PATCHES.map((patch) => labToScreen(look(patch, view), 'srgb').exact);
    expect(looks).toContain(true);
    expect(looks).toContain(false);
  });

  test('a reflectance off the grid or above 1 is refused', () => {
    expect(() => appearanceInRoom(flat(1.2), reference)).toThrow(RangeError);
    expect(() => appearanceInRoom([0.5, 0.5], reference)).toThrow(RangeError);
  });
});

describe('many colours at once', () => {
  const labs = Float32Array.from(PATCHES.flatMap((patch) => Object.values(labD65(patch))));
  const labAt = (all: Float32Array, i: number): Lab => ({ L: all[i], a: all[i + 1], b: all[i + 2] });

  test('look as each of them does', () => {
    const view = room(illuminant('LED-B3'), 150);
    const many = appearancesInRoom(labs, view);
    for (let i = 0; i < labs.length; i += 3) {
      const one = look(reflectanceFromLab(labAt(labs, i)), view);
      expect(deltaE2000(one, labAt(many, i))).toBeLessThan(0.1);
    }
  });

  test('stay what they are in the daylight of the reference level, also those no surface has', () => {
    fc.assert(
      fc.property(
        fc.record({
          L: fc.double({ min: 0, max: 100, noNaN: true }),
          a: fc.double({ min: -110, max: 110, noNaN: true }),
          b: fc.double({ min: -110, max: 110, noNaN: true }),
        }),
        ({ L, a, b }) => {
          const out = appearancesInRoom(Float32Array.of(L, a, b), reference);
          expect(deltaE2000({ L, a, b }, labAt(out, 0))).toBeLessThan(0.01);
        },
      ),
      { numRuns: 200, seed: 20261125 },
    );
  });

  test('leave the given array alone and refuse a broken one', () => {
    const given = labs.slice();
    plausibleSurfaces(given);
    expect(given).toEqual(labs);
    expect(() => plausibleSurfaces(new Float32Array(4))).toThrow(RangeError);
    expect(() => plausibleSurfaces(Float32Array.of(NaN, 0, 0))).toThrow(RangeError);
  });
});
