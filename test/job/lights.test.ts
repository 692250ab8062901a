import { describe, expect, test } from 'vitest';
import { cctOhno2014, illuminant, OBSERVER_2, whitePoint } from '#lib/colour/index.ts';
import { lightAt } from '#lib/light/index.ts';
import {
  changedSinceKept,
  keptHour,
  lightSpectrum,
  momentAsLight,
  parseJob,
  roomDay,
  sameLight,
  sourceSpectrum,
  type Job,
  type Light,
  type LightSource,
} from '#lib/job/index.ts';
import { kitchen } from './kitchen.ts';

const PLACE = { latitude: 50, longitude: 10, timeZone: '+01:00' };
const NORTH: LightSource = {
  kind: 'window',
  place: PLACE,
  date: '2027-02-10',
  hour: 12,
  facing: 0,
  sky: 'clear',
  glass: 'double glass',
};
const WARM: LightSource = { kind: 'table', name: 'LED-B1' };

const cct = (source: LightSource) => {
  const spectrum = sourceSpectrum(source);
  return spectrum && cctOhno2014(whitePoint(spectrum, OBSERVER_2))?.cct;
};

/** The kitchen with a north window and pendants from five in the afternoon till eleven. */
function withDay(): Job {
  const job = kitchen();
  job.rooms.k.day = {
    place: PLACE,
    date: '2027-02-10',
    sky: 'clear',
    windows: { w: { id: 'w', order: 1, name: '', facing: 0, area: 2, glass: 'double glass' } },
    lamps: {
      p: {
        id: 'p',
        order: 1,
        name: 'Pendants',
        source: WARM as never,
        illuminance: 120,
        on: { from: 16, until: 23 },
      },
    },
    floorArea: 14,
    height: 2.5,
    reflectance: 0.5,
  };
  return job;
}

describe('sources of light', () => {
  test('each kind has a spectrum of the colour it names', () => {
    expect(cct({ kind: 'table', name: 'A' })).toBeCloseTo(2856, -1); // CIE 15:2018, illuminant A
    expect(cct({ kind: 'daylight', cct: 6500 })).toBeCloseTo(6500, -2);
    expect(cct({ kind: 'black body', kelvin: 3200 })).toBeCloseTo(3200, -1);
    expect(cct({ kind: 'described lamp', technology: 'LED', cct: 2700, duv: 0, ra: 80 })).toBeCloseTo(
      2700,
      -1,
    );
    expect(cct({ kind: 'measured', fileName: 'x.csv', values: Array.from(illuminant('D50')) })).toBeCloseTo(
      5000,
      -2,
    );
    expect(cct(NORTH)).toBeGreaterThan(6500); // a clear sky without the sun is bluer than D65
  });

  test('a window at night gives nothing, beside a lamp as much as alone', () => {
    const night: LightSource = { ...NORTH, hour: 1 };
    expect(sourceSpectrum(night)).toBeNull();
    const mixed = lightSpectrum({
      parts: [
        { source: night, share: 0.5 },
        { source: WARM, share: 0.5 },
      ],
    });
    const alone = lightSpectrum({ parts: [{ source: WARM, share: 1 }] });
    const ratio = mixed[40] / alone[40];
    for (let i = 0; i < 81; i += 1) expect(mixed[i]).toBeCloseTo(alone[i] * ratio, 6);
    // By night a window alone still has to be shown under something.
    expect(lightSpectrum({ parts: [{ source: night, share: 1 }] }).every((v) => v > 0)).toBe(true);
  });

  test('a light without any share is refused in words', () => {
    expect(() => lightSpectrum({ parts: [{ source: WARM, share: 0 }] })).toThrow(
      'Expected a light with at least one share above 0',
    );
  });

  test('the spectrum of a light is worked out once', () => {
    const parts: Light['parts'] = [{ source: NORTH, share: 1 }];
    expect(lightSpectrum({ parts })).toBe(lightSpectrum({ parts }));
  });
});

describe('a room’s day', () => {
  test('is part of a valid job, and a job without one is valid too', () => {
    const job = withDay();
    expect(parseJob(structuredClone(job))).toEqual(job);
    expect(roomDay(kitchen().rooms.k)).toBeNull();
  });

  test.each([
    [
      'a time zone nobody keeps',
      (d: Record<string, unknown>) => (d.place = { ...PLACE, timeZone: 'Middle/Earth' }),
    ],
    ['a latitude past the pole', (d: Record<string, unknown>) => (d.place = { ...PLACE, latitude: 91 })],
    ['a date that does not exist', (d: Record<string, unknown>) => (d.date = '2027-02-30')],
    ['a room of no height', (d: Record<string, unknown>) => (d.height = 0)],
    ['walls that give back everything', (d: Record<string, unknown>) => (d.reflectance = 1)],
  ])('%s is refused with its path', (_, spoil) => {
    const job = withDay();
    spoil(job.rooms.k.day as never);
    expect(() => parseJob(job)).toThrow(/^rooms\.k\.day\./);
  });

  test('a window is called as it is named, else after the way it looks, also when it is turned', () => {
    const { k } = withDay().rooms;
    const names = () => lightAt(roomDay(k)!, 12).parts.map(({ name }) => name);
    expect(names()).toEqual(['north window']);
    k.day!.windows.w.facing = 90;
    expect(names()).toEqual(['east window']);
    k.day!.windows.w.name = 'Bay window over the canal';
    expect(names()).toEqual(['Bay window over the canal']);
  });

  test('a measured lamp that is dark is refused', () => {
    const job = withDay();
    const dark = { kind: 'measured', fileName: 'dark.csv', values: new Array(81).fill(0) };
    job.rooms.k.day!.lamps.p.source = dark as never;
    expect(() => parseJob(job)).toThrow('expected some light');
  });
});

test('a described lamp is refused where there is none like it, in the words of the light area', () => {
  const job = withDay();
  const source = { kind: 'described lamp', technology: 'LED', cct: 900, duv: 0, ra: 80 } as const;
  job.rooms.k.day!.lamps.p.source = source;
  expect(() => parseJob(job)).toThrow(/^rooms\.k\.day\.lamps\.p\.source: Expected .* got 900/);
});

describe('an hour kept as a light', () => {
  test('has the hour’s own level and, mixed again from its parts, the hour’s own spectrum', () => {
    const { k } = withDay().rooms;
    for (const hour of [9, 12.5, 16.5, 17]) {
      const moment = lightAt(roomDay(k)!, hour);
      const kept = momentAsLight(k, hour)!;
      expect(Math.abs(kept.illuminance / moment.illuminance - 1)).toBeLessThan(0.005);
      expect(kept.parts.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 2);
      const again = lightSpectrum(kept);
      const [white, given] = [whitePoint(again, OBSERVER_2), whitePoint(moment.spectrum!, OBSERVER_2)];
      expect(white.X).toBeCloseTo(given.X, 0);
      expect(white.Z).toBeCloseTo(given.Z, 0);
    }
  });

  test('is made of the window by day, of both at dusk, of the pendants in the evening', () => {
    const { k } = withDay().rooms;
    const kinds = (hour: number) => momentAsLight(k, hour)!.parts.map(({ source }) => source.kind);
    expect(kinds(12)).toEqual(['window']);
    expect(kinds(17).toSorted()).toEqual(['table', 'window']);
    expect(kinds(21)).toEqual(['table']);
  });

  test('there is nothing to keep in the dark, or where the day is not known', () => {
    const { k } = withDay().rooms;
    expect(momentAsLight(k, 2)).toBeNull();
    expect(momentAsLight(kitchen().rooms.k, 12)).toBeNull();
  });

  test('a lamp that burns when it is dark counts what the windows give', () => {
    const { k } = withDay().rooms;
    k.day!.lamps.p.on = 'when dark';
    expect(momentAsLight(k, 12)!.parts).toHaveLength(1);
    expect(momentAsLight(k, 2)!.parts[0].source).toEqual(WARM);
  });

  test('is the same light as long as the day gives the same, whatever things are called', () => {
    const { k } = withDay().rooms;
    const light = { ...momentAsLight(k, 20)!, kept: { hour: 20 } };
    expect(changedSinceKept(k, light)).toBeNull();
    k.day!.lamps.p.name = 'Hanging lamps';
    k.day!.windows.w.area = 3;
    // By night neither a name nor more glass changes anything.
    expect(changedSinceKept(k, light)).toBeNull();
    k.day!.lamps.p.source = { kind: 'table', name: 'LED-B3' };
    const now = changedSinceKept(k, light);
    expect(now).toEqual(momentAsLight(k, 20));
    expect(sameLight(now as typeof light, light)).toBe(false);
    expect(changedSinceKept(k, { ...light, ...(now as typeof light) })).toBeNull();
    k.day!.lamps.p.illuminance = 60;
    expect(changedSinceKept(k, light)).toMatchObject({ illuminance: 60 });
    k.day!.lamps.p.on = { from: 6, until: 7 };
    expect(changedSinceKept(k, light)).toBe('dark');
  });

  test('of the windows alone, under a sky of its own, is compared with just that', () => {
    const { k } = withDay().rooms;
    const kept = { hour: 17, daylight: 'overcast' } as const;
    const light = { ...keptHour(k, kept)!, kept };
    expect(light.parts.map(({ source }) => source.kind)).toEqual(['window']);
    k.day!.sky = 'partly cloudy';
    k.day!.lamps.p.illuminance = 60;
    expect(changedSinceKept(k, light)).toBeNull();
    k.day!.windows.w.facing = 180;
    expect(changedSinceKept(k, light)).toMatchObject({
      parts: [{ source: { facing: 180, sky: 'overcast' } }],
    });
  });

  test('is left alone where it was not kept from a day, or the room has none any more', () => {
    const { k } = withDay().rooms;
    const light = { ...momentAsLight(k, 20)!, illuminance: 90 };
    expect(changedSinceKept(k, light)).toBeNull();
    expect(changedSinceKept(kitchen().rooms.k, { ...light, kept: { hour: 20 } })).toBeNull();
  });

  test('can be put into the job as it is', () => {
    const job = withDay();
    const kept = { ...momentAsLight(job.rooms.k, 17)!, kept: { hour: 17 } };
    job.lights.dusk = { id: 'dusk', order: 9, roomId: 'k', name: 'Dusk', ...kept };
    expect(parseJob(job).lights.dusk.parts).toEqual(kept.parts);
  });
});
