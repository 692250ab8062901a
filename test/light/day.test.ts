import { describe, expect, test } from 'vitest';
import { OBSERVER_2, illuminant, mixture } from '#lib/colour/index.ts';
import {
  DARK,
  ROOM_KINDS,
  SKIES,
  defaultDay,
  lightAt,
  sunTimes,
  throughDay,
  windowLight,
} from '#lib/light/index.ts';
import type { DayLamp, DayWindow, RoomDay } from '#lib/light/index.ts';
import { openAir } from '#lib/light/dome.ts';

const place = { latitude: 50, longitude: 15, timeZone: '+01:00' };
const north: DayWindow = { facing: 0, area: 2, glass: 'double glass' };
const lamp = (change: Partial<DayLamp>): DayLamp => ({
  name: 'pendants',
  spectrum: illuminant('LED-B1'),
  illuminance: 100,
  on: 'when dark',
  ...change,
});
const room: RoomDay = {
  place,
  date: '2025-06-21',
  sky: 'overcast',
  windows: [north],
  lamps: [],
  floorArea: 16,
  height: 2.5,
  reflectance: 0.5,
};

describe('the light of a room', () => {
  test('is the flux through the glass over the absorbing area: Sumpner', () => {
    const { illuminance } = windowLight({ ...room, ...north, hour: 12 });
    // 16 + 16 m2 of floor and ceiling, 4 x 4 x 2.5 m2 of walls, half absorbed.
    expect(lightAt(room, 12).illuminance).toBeCloseTo((illuminance * 2) / (72 * 0.5), 9);
    expect(lightAt({ ...room, reflectance: 0.75 }, 12).illuminance).toBeCloseTo(
      2 * lightAt(room, 12).illuminance,
      9,
    );
  });

  test('stays below the average daylight factor of a working plane, as a mean over all surfaces must', () => {
    // BS 8206-2:2008 (from memory): T W theta / (A (1 - R²)) per cent, theta 90 degrees for an open view; T 0.68 for clear double glass.
    const factor = (0.68 * 2 * 90) / (72 * (1 - 0.5 ** 2)) / 100;
    const air = openAir(place, room.date, { hour: 12, sky: 'overcast' })!;
    const level = air.level.reduce((sum, value, i) => sum + value * OBSERVER_2.yBar[i], 0);
    const ours = lightAt(room, 12).illuminance / level;
    expect(ours).toBeLessThan(factor);
    expect(ours).toBeGreaterThan(factor * 0.6);
  });

  test('is made of its parts, in illuminance and in colour', () => {
    const mixed: RoomDay = {
      ...room,
      windows: [north, { ...north, facing: 88 }],
      lamps: [lamp({ on: { from: 10, until: 14 } })],
    };
    const { parts, illuminance, spectrum } = lightAt(mixed, 12);
    expect(parts.map(({ name }) => name)).toEqual(['north window', 'east window', 'pendants']);
    expect(parts.reduce((sum, part) => sum + part.illuminance, 0)).toBeCloseTo(illuminance, 9);
    const again = mixture(
      parts.map((part) => ({ spectrum: part.spectrum, share: part.illuminance })),
      OBSERVER_2,
    );
    for (let i = 0; i < again.length; i++) expect(spectrum![i]).toBeCloseTo(again[i], 9);
  });

  test('counts windows that look the same way, and calls each after its quarter', () => {
    const facing = [350, 10, -130, 765, 181];
    const { parts } = lightAt({ ...room, windows: facing.map((f) => ({ ...north, facing: f })) }, 12);
    expect(parts.map(({ name }) => name)).toEqual([
      'north window 1',
      'north window 2',
      'south-west window',
      'north-east window',
      'south window',
    ]);
  });

  test('calls a window by its own name where it has one, and counts those of one name', () => {
    const named = ['Bay window over the canal', ' ', 'Bay window over the canal', undefined];
    const { parts } = lightAt({ ...room, windows: named.map((name) => ({ ...north, name })) }, 12);
    expect(parts.map(({ name }) => name)).toEqual([
      'Bay window over the canal 1',
      'north window 1',
      'Bay window over the canal 2',
      'north window 2',
    ]);
  });

  test('is dark without sun and lamps: no spectrum, 0 lx, no parts', () => {
    const night = lightAt(room, 0);
    expect(night).toMatchObject({ spectrum: null, illuminance: 0, parts: [] });
    expect(night.sunAltitude).toBeLessThan(-12);
    expect(lightAt({ ...room, windows: [] }, 12).spectrum).toBeNull();
  });
});

describe('lamps', () => {
  const burns = (on: DayLamp['on'], hour: number, change: Partial<RoomDay> = {}) =>
    lightAt({ ...room, windows: [], lamps: [lamp({ on })], ...change }, hour).parts.length > 0;

  test('burn between their hours, also past midnight', () => {
    const evening = [17, 18, 23, 23.9, 0, 1, 2, 12].map((hour) => burns({ from: 18, until: 2 }, hour));
    expect(evening).toEqual([false, true, true, true, true, true, false, false]);
    const morning = [5.9, 6, 7.9, 8].map((hour) => burns({ from: 6, until: 8 }, hour));
    expect(morning).toEqual([false, true, true, false]);
    expect([0, 12, 23.5].map((hour) => burns({ from: 0, until: 24 }, hour))).toEqual([true, true, true]);
    expect(burns({ from: 8, until: 8 }, 8)).toBe(false);
  });

  test('that burn when it is dark do so exactly while the windows give too little', () => {
    const lit: RoomDay = { ...room, lamps: [lamp({})] };
    let [off, on] = [0, 0];
    for (const moment of throughDay(lit, 0.25)) {
      const byDay = lightAt({ ...lit, lamps: [] }, moment.hour).illuminance;
      const burning = moment.parts.some(({ name }) => name === 'pendants');
      expect(burning).toBe(byDay < DARK);
      if (burning) on++;
      else off++;
    }
    expect(Math.min(on, off)).toBeGreaterThan(10);
  });

  test('that give nothing are no part', () => {
    const { parts } = lightAt({ ...room, lamps: [lamp({ illuminance: 0, on: { from: 0, until: 24 } })] }, 12);
    expect(parts).toHaveLength(1);
  });
});

describe('a day', () => {
  test('has 48 half hours, or the steps asked for', () => {
    const hours = throughDay(room).map(({ hour }) => hour);
    expect(hours).toEqual(Array.from({ length: 48 }, (_, i) => i / 2));
    expect(throughDay(room, 1)).toHaveLength(24);
    expect(throughDay(room, 7).map(({ hour }) => hour)).toEqual([0, 7, 14, 21]);
    expect(throughDay(room, 0.1)).toHaveLength(240);
  });

  test('is the light of each of its hours', () => {
    const day: RoomDay = { ...room, sky: 'clear', windows: [{ ...north, facing: 250 }], lamps: [lamp({})] };
    for (const moment of throughDay(day, 3)) expect(moment).toEqual(lightAt(day, moment.hour));
  });

  test('is bright between sunrise and sunset and brightest about noon', () => {
    for (const sky of SKIES) {
      const { rise, set } = sunTimes(place, room.date);
      const moments = throughDay({ ...room, sky, windows: [{ ...north, facing: 180 }] });
      for (const { hour, illuminance } of moments) {
        if (hour > rise! && hour < set!) expect(illuminance).toBeGreaterThan(1);
      }
      const brightest = moments.reduce((a, b) => (b.illuminance > a.illuminance ? b : a));
      expect(Math.abs(brightest.hour - 12)).toBeLessThanOrEqual(0.5);
    }
  });

  test.each([
    [{ reflectance: 1 }, /reflectance/],
    [{ floorArea: 0 }, /floor area/],
    [{ height: NaN }, /height/],
    [{ sky: 'foggy' }, /Expected a sky/],
    [{ windows: [{ ...north, area: -1 }] }, /window area/],
    [{ windows: [{ ...north, glass: 'ice' }] }, /Expected a glass/],
    [{ lamps: [lamp({ illuminance: -5 })] }, /illuminance of pendants/],
    [{ lamps: [lamp({ on: { from: 25, until: 2 } })] }, /hour pendants is switched on/],
    [{ lamps: [lamp({ spectrum: new Float64Array(81) })] }, /emits light, got pendants/],
    [{ lamps: [lamp({ spectrum: new Float64Array(3) })] }, /81 samples/],
  ])('that cannot be throws: %j', (change, message) => {
    const wrong = { ...room, ...change } as unknown as RoomDay;
    expect(() => throughDay(wrong)).toThrow(RangeError);
    expect(() => throughDay(wrong)).toThrow(message);
  });

  test('needs a step that moves on', () => {
    for (const step of [0, -1, 25, NaN]) expect(() => throughDay(room, step)).toThrow(RangeError);
  });
});

describe('a usual day', () => {
  test.each(ROOM_KINDS)('of a %s can be lit: by the window at noon, by lamps in the evening', (kind) => {
    const { lamps, ...usual } = defaultDay(kind);
    const day: RoomDay = {
      ...usual,
      place,
      date: '2025-12-21',
      lamps: lamps.map(({ source, ...rest }) => ({ ...rest, spectrum: illuminant(source.name) })),
    };
    const noon = lightAt(day, 12);
    expect(noon.parts.map(({ name }) => name)).toContain('north window');
    const evening = lightAt(day, 20);
    expect(evening.parts.map(({ name }) => name)).not.toContain('north window');
    // Homes are lit to 50-300 lx: common practice, no published source.
    expect(evening.illuminance).toBeGreaterThanOrEqual(50);
    expect(evening.illuminance).toBeLessThanOrEqual(300);
  });

  test('is the caller’s own: changing it changes no other', () => {
    const first = defaultDay('kitchen');
    Object.assign(first.windows[0], { area: 99 });
    Object.assign(first.lamps[0].source, { name: 'A' });
    expect(defaultDay('kitchen').windows[0].area).not.toBe(99);
    expect(defaultDay('kitchen').lamps[0].source.name).not.toBe('A');
  });
});
