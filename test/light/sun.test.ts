import fs from 'node:fs';
import { describe, expect, test } from 'vitest';
import { isTimeZone, sunPosition, sunTimes } from '#lib/light/index.ts';

/** US Naval Observatory; the source is the file's first line. */
const almanac = fs
  .readFileSync(new URL('../fixtures/published/sunrise_usno.csv', import.meta.url), 'utf8')
  .trim()
  .split('\n')
  .slice(2)
  .map((line) => {
    const [latitude, longitude, date, rise, set] = line.split(',');
    const place = { latitude: Number(latitude), longitude: Number(longitude), timeZone: '+00:00' };
    const clock = (time: string) => {
      if (time === '') return null;
      const [hours, minutes] = time.split(':').map(Number);
      return hours + minutes / 60;
    };
    return { place, date, rise: clock(rise), set: clock(set) };
  });

const place = { latitude: 50, longitude: 15, timeZone: '+01:00' };

/** Altitude of the almanacs' sunset as the eye sees it: -0.833 and 0.484 of refraction. */
const HORIZON = -0.349;

describe('the sun’s position', () => {
  test('agrees with the worked example of Reda and Andreas 2004 (NREL/TP-560-34302, table A5.1)', () => {
    const spa = { latitude: 39.742476, longitude: -105.1786, timeZone: '-07:00' };
    const { altitude, azimuth } = sunPosition(spa, '2003-10-17', 12 + 30 / 60 + 30 / 3600);
    // Theirs is for 820 mbar and refracts by 0.0163; at sea level, as here, it is 0.0203.
    expect(Math.abs(altitude - (39.872046 + 0.0203))).toBeLessThan(0.005);
    expect(Math.abs(azimuth - 194.34024)).toBeLessThan(0.005);
  });

  // Obliquity of the ecliptic 23.44 degrees (Meeus, chapter 22, from memory); refraction adds at most 0.04 at these altitudes.
  test.each([
    ['2026-06-21', 40, 73.44],
    ['2026-12-21', 40, 26.56],
    ['2026-12-21', -40, 73.44],
    ['2026-06-21', -40, 26.56],
  ])('stands at 90 - |latitude ± 23.44| at noon of the solstice, %s at %d', (date, latitude, expected) => {
    const { highest } = sunTimes({ latitude, longitude: 0, timeZone: 'UTC' }, date);
    expect(highest - expected).toBeGreaterThan(-0.01);
    expect(highest - expected).toBeLessThan(0.045);
  });

  test('rises in the east and sets in the west at the equinox, wherever one is', () => {
    for (const latitude of [-50, -20, 0, 20, 50]) {
      const here = { latitude, longitude: 15, timeZone: '+01:00' };
      const { rise, set } = sunTimes(here, '2025-03-20');
      expect(Math.abs(sunPosition(here, '2025-03-20', rise!).azimuth - 90)).toBeLessThan(1.5);
      expect(Math.abs(sunPosition(here, '2025-03-20', set!).azimuth - 270)).toBeLessThan(1.5);
    }
  });

  test('stands in the north at noon south of the tropics', () => {
    const { azimuth } = sunPosition({ ...place, latitude: -50 }, '2025-06-21', 12);
    expect(Math.min(azimuth, 360 - azimuth)).toBeLessThan(2);
  });
});

describe('sunrise and sunset', () => {
  test.each(almanac)('$date at $place.latitude as the almanac gives them', ({ place, date, rise, set }) => {
    const times = sunTimes(place, date);
    // Half a minute of the almanac's rounding, and the quarter of a minute the library claims; near the pole the sun takes
    // half a minute for a hundredth of a degree.
    const minutes = place.latitude > 70 ? 1 : 0.75;
    for (const [ours, theirs] of [
      [times.rise, rise],
      [times.set, set],
    ]) {
      if (theirs === null) expect(ours).toBeNull();
      else expect(Math.abs(ours! - theirs) * 60).toBeLessThan(minutes);
    }
  });

  test('the almanac has days without sunrise in both polar seasons', () => {
    const highest = almanac
      .filter(({ rise }) => rise === null)
      .map(({ place, date }) => sunTimes(place, date).highest);
    expect(highest.some((altitude) => altitude > 10)).toBe(true);
    expect(highest.some((altitude) => altitude < 0)).toBe(true);
  });

  test('the sun is on the horizon at them, also where it grazes it and across the date line', () => {
    let seen = 0;
    for (const [latitude, longitude, timeZone] of [
      [76.5, 0, 'UTC'],
      [66.4, 25, 'Europe/Helsinki'],
      [-18, 179, 'Pacific/Fiji'],
      [2, -157.4, 'Pacific/Kiritimati'],
    ] as const) {
      for (let day = 1; day <= 28; day++) {
        const date = `2025-08-${String(day).padStart(2, '0')}`;
        const here = { latitude, longitude, timeZone };
        const { rise, set } = sunTimes(here, date);
        for (const hour of [rise, set]) {
          if (hour === null) continue;
          seen++;
          expect(hour).toBeGreaterThanOrEqual(0);
          expect(hour).toBeLessThan(24);
          expect(Math.abs(sunPosition(here, date, hour).altitude - HORIZON)).toBeLessThan(0.001);
        }
      }
    }
    expect(seen).toBeGreaterThan(100);
  });
});

describe('clock time', () => {
  const zone = { latitude: 52.5, longitude: 13.4, timeZone: 'Europe/Berlin' };
  const fixed = { ...zone, timeZone: '+01:00' };
  // Directive 2000/84/EC: summer time begins and ends at 1:00 UTC on the last Sundays of March and October.
  const [spring, autumn] = ['2025-03-30', '2025-10-26'];

  test('an IANA zone follows summer time', () => {
    expect(sunPosition(zone, '2025-01-15', 12)).toEqual(sunPosition(fixed, '2025-01-15', 12));
    expect(sunPosition(zone, '2025-07-15', 12)).toEqual(sunPosition(fixed, '2025-07-15', 11));
    expect(sunPosition(zone, spring, 1.99)).toEqual(sunPosition(fixed, spring, 1.99));
    expect(sunPosition(zone, spring, 3)).toEqual(sunPosition(fixed, spring, 2));
  });

  test('an hour that is left out is read by the old clock, one that comes twice is the first', () => {
    expect(sunPosition(zone, spring, 2.5)).toEqual(sunPosition(fixed, spring, 2.5));
    expect(sunPosition(zone, autumn, 2.5)).toEqual(sunPosition(fixed, autumn, 1.5));
    expect(sunPosition(zone, autumn, 3)).toEqual(sunPosition(fixed, autumn, 3));
  });

  test('a text is a time zone or it is not', () => {
    for (const name of ['Europe/Berlin', 'UTC', '+05:45', '-12:00']) expect(isTimeZone(name)).toBe(true);
    for (const name of ['', 'Nowhere/Else', '+25:00', '+1', '1:00']) expect(isTimeZone(name)).toBe(false);
  });

  test('hour 24 is midnight of the next date', () => {
    for (const here of [zone, fixed]) {
      expect(sunPosition(here, '2025-03-30', 24)).toEqual(sunPosition(here, '2025-03-31', 0));
    }
  });

  test('one instant is one position, whatever the clock', () => {
    const { altitude } = sunPosition({ ...zone, timeZone: '+05:45' }, '2025-06-21', 13.75);
    expect(altitude).toBe(sunPosition({ ...zone, timeZone: '-03:30' }, '2025-06-21', 4.5).altitude);
  });

  test.each([
    [{ ...place, latitude: 91 }, '2025-06-21', 12, /latitude in \[-90, 90\], got 91/],
    [{ ...place, longitude: 181 }, '2025-06-21', 12, /longitude in \[-180, 180\], got 181/],
    [{ ...place, latitude: NaN }, '2025-06-21', 12, /latitude/],
    [{ ...place, timeZone: 'Nowhere/Else' }, '2025-06-21', 12, /IANA time zone.*got Nowhere\/Else/],
    [place, '2025-02-30', 12, /date YYYY-MM-DD.*got 2025-02-30/],
    [place, '21.6.2025', 12, /date/],
    [place, '2025-06-21', 24.5, /hour in \[0, 24\], got 24.5/],
    [place, '2025-06-21', NaN, /hour/],
  ])('what does not exist throws: %j %s %d', (here, date, hour, message) => {
    expect(() => sunPosition(here, date, hour)).toThrow(RangeError);
    expect(() => sunPosition(here, date, hour)).toThrow(message);
  });
});
