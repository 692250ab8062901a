import { describe, expect, test } from 'vitest';
import {
  SKIES,
  opticalAirMass,
  skyIlluminance,
  skyLuminanceRatio,
  sunDistanceFactor,
  sunIlluminance,
} from '#lib/light/index.ts';
import type { Sky } from '#lib/light/index.ts';

const RADIAN = Math.PI / 180;
const at = (altitude: number) => ({ altitude, distanceFactor: 1 });

/** Illuminance of a relative sky on a plane, over the luminance of its zenith; the sun due south. */
function overZenith(sky: Sky, sunAltitude: number, plane: (up: number, south: number) => number): number {
  let sum = 0;
  const step = 1.5;
  for (let altitude = step / 2; altitude < 90; altitude += step) {
    for (let azimuth = step / 2; azimuth < 360; azimuth += step) {
      const up = Math.sin(altitude * RADIAN);
      const south = Math.cos(altitude * RADIAN) * Math.cos(azimuth * RADIAN);
      const cosine = up * Math.sin(sunAltitude * RADIAN) + south * Math.cos(sunAltitude * RADIAN);
      const fromSun = Math.acos(Math.min(1, Math.max(-1, cosine))) / RADIAN;
      const solidAngle = Math.cos(altitude * RADIAN) * (step * RADIAN) ** 2;
      sum +=
        skyLuminanceRatio(sky, { altitude, fromSun, sunAltitude }) *
        solidAngle *
        Math.max(0, plane(up, south));
    }
  }
  return sum;
}

describe('luminance of the standard skies', () => {
  test('is 1 in the zenith', () => {
    for (const sky of SKIES) {
      for (const sunAltitude of [0, 20, 60, 90]) {
        const element = { altitude: 90, fromSun: 90 - sunAltitude, sunAltitude };
        expect(skyLuminanceRatio(sky, element)).toBeCloseTo(1, 12);
      }
    }
  });

  test('the clear one is the CIE clear sky of 1973 as Radiance writes it (skybright.cal)', () => {
    for (const altitude of [0, 5, 20, 45, 70, 90]) {
      for (const sunAltitude of [5, 30, 60]) {
        for (const fromSun of [5, 30, 60, 90]) {
          const indicatrix = (angle: number) =>
            0.91 + 10 * Math.exp(-3 * angle * RADIAN) + 0.45 * Math.cos(angle * RADIAN) ** 2;
          const sine = Math.sin(altitude * RADIAN);
          const gradation = sine > 0.01 ? 1 - Math.exp(-0.32 / sine) : 1;
          const expected = (indicatrix(fromSun) * gradation) / (indicatrix(90 - sunAltitude) * 0.274);
          const ours = skyLuminanceRatio('clear', { altitude, fromSun, sunAltitude });
          // Its 0.91 and 0.274 are rounded.
          expect(Math.abs(ours / expected - 1)).toBeLessThan(0.002);
        }
      }
    }
  });

  test('the overcast one is a third at the horizon and sends 39.6 % of its light on level ground to a wall', () => {
    expect(skyLuminanceRatio('overcast', { altitude: 0, fromSun: 90, sunAltitude: 30 })).toBeCloseTo(
      1 / 3,
      12,
    );
    const level = overZenith('overcast', 30, (up) => up);
    // The integral of Moon and Spencer's formula is 7 pi / 9; the vertical sky component of an open view is 39.6 % (rights of light practice).
    expect(Math.abs(level / ((7 * Math.PI) / 9) - 1)).toBeLessThan(0.001);
    expect(Math.abs(overZenith('overcast', 30, (_, south) => south) / level - 0.396)).toBeLessThan(0.0005);
  });

  // Darula and Kittler 2002, equation 12 and table 2: 133.8 sin(altitude) Lz / Dv = B sin^C / cos^D + E sin.
  test.each([
    ['clear', { B: 23, C: 4.43, D: 0.74, E: 18.52 }],
    ['partly cloudy', { B: 18.41, C: 4.27, D: 0.63, E: 24.04 }],
  ] as const)(
    'the %s one has the published ratio of zenith luminance to illuminance',
    (sky, { B, C, D, E }) => {
      for (const altitude of [10, 20, 30, 40, 50, 60]) {
        const [sine, cosine] = [Math.sin(altitude * RADIAN), Math.cos(altitude * RADIAN)];
        const published = (B * sine ** C) / cosine ** D / (133.8 * sine) + E / 133.8;
        // Theirs is a fit of four numbers.
        expect(Math.abs(1 / overZenith(sky, altitude, (up) => up) / published - 1)).toBeLessThan(0.04);
      }
    },
  );
});

describe('levels outside', () => {
  test('air mass as Kasten and Young 1989: 38 at the horizon, 1.413 at 45 degrees, 1 overhead', () => {
    expect(Math.abs(opticalAirMass(0) - 38)).toBeLessThan(0.5);
    expect(Math.abs(opticalAirMass(45) - 1.413)).toBeLessThan(0.0005);
    expect(Math.abs(opticalAirMass(90) - 1)).toBeLessThan(0.0005);
  });

  test('the earth is 3.4 % nearer in square in January and as much farther in July', () => {
    // Perihelion 0.9833, aphelion 1.0167 astronomical units (Meeus, chapter 38, from memory).
    expect(Math.abs(sunDistanceFactor('2025-01-04') - 1 / 0.9833 ** 2)).toBeLessThan(0.001);
    expect(Math.abs(sunDistanceFactor('2025-07-04') - 1 / 1.0167 ** 2)).toBeLessThan(0.002);
  });

  // IESNA clear sky, read in a program that cites it: sun 128 exp(-0.21 m), sky 0.8 + 15.5 sqrt(sin) klx.
  test.each([30, 45, 60, 75])(
    'under a clear sky sun and sky are those of the IESNA within a tenth, at %d',
    (altitude) => {
      const sun = 128_000 * Math.exp(-0.21 * opticalAirMass(altitude));
      const sky = 800 + 15_500 * Math.sqrt(Math.sin(altitude * RADIAN));
      expect(Math.abs(sunIlluminance('clear', at(altitude)) / sun - 1)).toBeLessThan(0.1);
      expect(Math.abs(skyIlluminance('clear', at(altitude)) / sky - 1)).toBeLessThan(0.1);
    },
  );

  test('an overcast noon at 51 degrees north lies between 6,000 and 20,000 lx through the year', () => {
    // A lighting handbook of the trade (recommendations for daylight, 51 degrees north); noon altitudes 15.6 and 62.4.
    expect(Math.round(skyIlluminance('overcast', at(15.6)) / 1000)).toBe(6);
    expect(Math.abs(skyIlluminance('overcast', at(62.4)) / 20_000 - 1)).toBeLessThan(0.06);
  });

  test('a clear summer noon gives over 100,000 lx', () => {
    const sunOnLevel = sunIlluminance('clear', at(63.4)) * Math.sin(63.4 * RADIAN);
    expect(sunOnLevel + skyIlluminance('clear', at(63.4))).toBeGreaterThan(100_000);
  });

  test('clear twilight lies in the ranges of the Glossary of Meteorology', () => {
    // Geometric altitudes -0.833, -6 and -12 degrees, seen 0.484 higher.
    const [sunset, civil, nautical] = [-0.833, -6, -12].map((h) => skyIlluminance('clear', at(h + 0.484)));
    expect(sunset).toBeGreaterThan(410);
    expect(sunset).toBeLessThan(585);
    expect(civil).toBeGreaterThan(2);
    expect(civil).toBeLessThan(3.5);
    expect(Math.abs(nautical - 0.008)).toBeLessThan(0.0005);
  });

  test('all skies brighten with the sun without a jump, and are dark in deep night', () => {
    for (const sky of SKIES) {
      expect(skyIlluminance(sky, at(-13))).toBe(0);
      for (let altitude = -11.5; altitude < 60; altitude += 0.25) {
        const [low, high] = [skyIlluminance(sky, at(altitude)), skyIlluminance(sky, at(altitude + 0.25))];
        expect(high).toBeGreaterThan(low);
        expect(high).toBeLessThan(low * 1.4 + 250);
      }
      expect(skyIlluminance(sky, at(90))).toBeGreaterThan(0);
      expect(sunIlluminance(sky, at(-0.1))).toBe(0);
    }
    expect(sunIlluminance('overcast', at(50))).toBe(0);
  });
});
