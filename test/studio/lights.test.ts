import { readLightFile } from '#lib/finish/index.ts';
import { changedSinceKept, emptyJob, lightSpectrum, parseJob, type Job, type Light } from '#lib/job/index.ts';
import { ROOM_KINDS, sunPosition } from '#lib/light/index.ts';
import { describe, expect, test } from 'vitest';
import { fileDoubts } from '../../src/lib/studio/light-words.ts';
import {
  freeName,
  kindOfRoom,
  knownWindow,
  lightPresets,
  measuredLamp,
  nameForKind,
  USUAL_LIGHTS,
  withPart,
  type KnownWindow,
} from '../../src/lib/studio/lights.ts';

const place = { latitude: 52, longitude: 10, timeZone: '+01:00' };
const north: KnownWindow = { place, date: '2026-06-21', facing: 0, glass: 'double glass' };

function withLights(parts: Light['parts'][]): Job {
  const job = emptyJob('Job');
  job.rooms.r = { id: 'r', order: 1, name: 'Kitchen', note: '' };
  for (const [i, own] of parts.entries()) {
    const id = `l${i}`;
    job.lights[id] = { id, order: i, roomId: 'r', name: `Light ${i}`, parts: own, illuminance: 100 };
  }
  return job;
}

describe('presets', () => {
  const cases = ROOM_KINDS.flatMap((kind) =>
    [null, north, { ...north, date: '2026-12-21' }, { ...north, place: { ...place, latitude: 75 } }].map(
      (window) => ({ kind, window }),
    ),
  );

  test('every kind of room has them, with names of their own, and the document takes them', () => {
    for (const { kind, window } of cases) {
      const presets = lightPresets(kind, { window });
      expect(presets.length).toBeGreaterThanOrEqual(USUAL_LIGHTS + 3);
      expect(new Set(presets.map(({ name }) => name)).size).toBe(presets.length);
      const job = withLights(presets.map(({ parts }) => parts));
      expect(Object.keys(parseJob(job).lights)).toHaveLength(presets.length);
      for (const { parts, illuminance } of presets) {
        expect(Math.max(...lightSpectrum({ parts }))).toBeGreaterThan(0);
        expect(illuminance).toBeGreaterThan(0);
        expect(parts.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9);
      }
    }
  });

  test('the usual lights of a room hold daylight and lamps', () => {
    for (const kind of ROOM_KINDS) {
      const kinds = lightPresets(kind, { window: north })
        .slice(0, USUAL_LIGHTS)
        .flatMap(({ parts }) => parts.map(({ source }) => source.kind));
      expect(kinds).toContain('window');
      expect(kinds).toContain('table');
    }
  });

  test('where the place is known, the sun is up in the morning and at dusk, on the shortest day too', () => {
    for (const date of ['2026-06-21', '2026-12-21']) {
      const windows = lightPresets('kitchen', { window: { ...north, date } }).flatMap(({ parts }) =>
        parts.flatMap(({ source }) => (source.kind === 'window' ? [source] : [])),
      );
      expect(windows.length).toBeGreaterThanOrEqual(4);
      for (const { hour } of windows) expect(sunPosition(place, date, hour).altitude).toBeGreaterThan(-1);
    }
  });
});

test('a room whose day is known gets the level its windows give', () => {
  const pane = (id: string, facing: number, area: number) =>
    [id, { id, order: 1, name: id, facing, area, glass: 'double glass' as const }] as const;
  const dayOf = (...panes: ReturnType<typeof pane>[]) => ({
    ...{ place, date: '2026-03-20', sky: 'overcast' as const, lamps: {} },
    ...{ floorArea: 12, height: 2.5, reflectance: 0.5, windows: Object.fromEntries(panes) },
  });
  const presets = (day: ReturnType<typeof dayOf>) => lightPresets('kitchen', { window: north, day });
  const morning = (day: ReturnType<typeof dayOf>) => presets(day)[0];
  const small = morning(dayOf(pane('a', 0, 1)));
  const large = morning(dayOf(pane('a', 0, 2)));
  // Flux through a window goes with its area.
  expect(large.illuminance / small.illuminance).toBeGreaterThan(1.7);
  expect(large.illuminance / small.illuminance).toBeLessThan(2.3);
  // The sky of the preset, not that of the day; and every window has its part.
  const both = morning(dayOf(pane('a', 0, 1), pane('b', 90, 1)));
  expect(both.parts.map(({ source }) => source.kind === 'window' && source.sky)).toEqual(['clear', 'clear']);
  // At dusk the lamps come on top of what the window gives.
  const [, dusk, evening] = presets(dayOf(pane('a', 0, 2)));
  expect(dusk.parts.map(({ source }) => source.kind).sort()).toEqual(['table', 'window']);
  const lamps = dusk.parts.find(({ source }) => source.kind === 'table');
  expect(lamps!.share * dusk.illuminance).toBeCloseTo(120, 6);
  expect(evening.parts).toHaveLength(1);
});

test('the kind of a room is what was said, or else what its name says', () => {
  expect(kindOfRoom({ name: 'Guest bathroom' })).toBe('bathroom');
  expect(kindOfRoom({ name: 'Living room, street side' })).toBe('living room');
  expect(kindOfRoom({ name: 'Kitchen', kind: 'other' })).toBe('other');
  expect(kindOfRoom({ name: 'Hall' })).toBe('other');
});

test('daylight taken from the day of a room says so, and is no longer it once the day is changed', () => {
  const pane = { id: 'a', order: 1, name: '', facing: 0, area: 2, glass: 'double glass' as const };
  const day = {
    ...{ place, date: '2026-03-20', sky: 'overcast' as const, lamps: {}, windows: { a: pane } },
    ...{ floorArea: 12, height: 2.5, reflectance: 0.5 },
  };
  for (const kind of ROOM_KINDS) {
    const ofDay = lightPresets(kind, { window: north, day }).filter(({ kept }) => kept);
    expect(ofDay.length).toBeGreaterThan(1);
    for (const preset of ofDay) {
      expect(changedSinceKept({ day }, preset)).toBeNull();
      const turned = { ...day, windows: { a: { ...pane, facing: 180 } } };
      expect(changedSinceKept({ day: turned }, preset)).not.toBeNull();
    }
    expect(lightPresets(kind, { window: north }).filter(({ kept }) => kept)).toEqual([]);
  }
});

test('a room that is called after its kind is renamed with it; any other name stays', () => {
  expect(nameForKind('Kitchen', 'living room')).toBe('Living room');
  expect(nameForKind('Living room', 'other')).toBe('Room');
  expect(nameForKind('Room', 'bathroom')).toBe('Bathroom');
  expect(nameForKind('Kitchen, street side', 'living room')).toBe('Kitchen, street side');
});

test('a second light of one name gets a number', () => {
  expect(freeName('Noon, 12:00', [])).toBe('Noon, 12:00');
  expect(freeName('Noon, 12:00', ['Noon, 12:00', 'Noon, 12:00 (2)'])).toBe('Noon, 12:00 (3)');
});

test('what a lamp’s file leaves open stays with the lamp, as far as the document keeps it', () => {
  const rows = Array.from({ length: 21 }, (_, i) => `${500 + 5 * i},${1 + i}`).join('\n');
  const { spectrum, notes } = readLightFile(`wavelength,power\n${rows}\n`, 'part.csv');
  const part = { source: measuredLamp({ fileName: 'part.csv', values: spectrum, notes }), share: 1 };
  const [light] = Object.values(parseJob(withLights([[part]])).lights);
  expect(light.parts[0].source).toMatchObject({ notes });
  expect(fileDoubts(light)).toMatch(/colours under this lamp cannot be trusted/);
  const many = measuredLamp({
    fileName: 'x',
    values: spectrum,
    notes: new Array(40).fill('long '.repeat(99)),
  });
  expect(() => parseJob(withLights([[{ source: many, share: 1 }]]))).not.toThrow();
  expect(fileDoubts({ parts: [{ source: many, share: 1 }] })).toMatch(/leaves \d+ things open/);
  const clean = measuredLamp({ fileName: 'x', values: spectrum, notes: [] });
  expect(clean).not.toHaveProperty('notes');
  expect(fileDoubts({ parts: [{ source: clean, share: 1 }] })).toBeNull();
});

test('a window is started from what the job knows, the room itself first', () => {
  const job = withLights([[{ source: { kind: 'daylight', cct: 6500 }, share: 1 }]]);
  expect(knownWindow(job, 'r')).toBeNull();
  job.rooms.other = { id: 'other', order: 0, name: 'Bath', note: '' };
  const source = { kind: 'window', ...north, facing: 90, hour: 9, sky: 'clear' } as const;
  job.lights.b = {
    ...{ id: 'b', order: 9, roomId: 'other', name: 'East' },
    ...{ parts: [{ source, share: 1 }], illuminance: 100 },
  };
  expect(knownWindow(job, 'r')).toEqual({ ...north, facing: 90 });
  job.lights.l0 = { ...job.lights.l0, parts: [{ source: { ...source, facing: 180 }, share: 1 }] };
  expect(knownWindow(job, 'r')?.facing).toBe(180);
  job.rooms.r = {
    ...job.rooms.r,
    day: {
      ...{ place, date: '2026-05-01', sky: 'clear', lamps: {}, floorArea: 12, height: 2.5, reflectance: 0.5 },
      windows: { w: { id: 'w', order: 1, name: 'Window', facing: 270, area: 2, glass: 'single glass' } },
    },
  };
  expect(knownWindow(job, 'r')).toEqual({ place, date: '2026-05-01', facing: 270, glass: 'single glass' });
  job.rooms.r.day!.windows = {};
  // A day without a window still knows the place, but a window that was described says more.
  expect(knownWindow(job, 'r')?.facing).toBe(180);
});

test('a source that is added takes an even share and leaves the others in proportion', () => {
  const lamp = { kind: 'table', name: 'A' } as const;
  const two = [
    { source: lamp, share: 0.6 },
    { source: { kind: 'daylight', cct: 6500 } as const, share: 0.3 },
  ];
  const three = withPart(two, lamp);
  expect(three).toHaveLength(3);
  expect(three[2].share).toBeCloseTo(1 / 3, 2);
  expect(three[0].share / three[1].share).toBeCloseTo(2, 1);
  expect(three.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 1);
  let many: Light['parts'] = [{ source: lamp, share: 1 }];
  while (many.length < 8) many = withPart(many, lamp);
  for (const { share } of many) expect(share).toBeGreaterThanOrEqual(0.01);
  expect(parseJob(withLights([many])).lights.l0.parts).toHaveLength(8);
});
