import { describe, expect, test } from 'vitest';
import {
  deltaE2000,
  deltaE76,
  illuminant,
  REFERENCE_ILLUMINANCE,
  roomView,
  type Lab,
} from '#lib/colour/index.ts';
import {
  DEFAULT_CRITERIA,
  emptyJob,
  parseJob,
  type Job,
  type Room,
  type RoomDayRecord,
  type Sample,
  type Swatch,
} from '#lib/job/index.ts';
import { DARK, ROOM_KINDS } from '#lib/light/index.ts';
import {
  burning,
  dayGroups,
  dayThrough,
  isDark,
  lampHours,
  lampLight,
  landmarks,
  lookOf,
  momentName,
  momentWords,
  paintsOf,
  readingOf,
  STEP,
  withinSpan,
  type DayRow,
} from '#lib/studio/day.ts';
import {
  feetAndInches,
  hourOfField,
  hoursWords,
  notableDates,
  placeWords,
  squareFeet,
  startingPlace,
  timeField,
  usualDay,
} from '#lib/studio/day-setup.ts';
import { labUnder, viewing, viewingAt } from '#lib/studio/look.ts';

const PLACE = { latitude: 50, longitude: 10, timeZone: '+01:00' };

function record(lamps: Partial<RoomDayRecord['lamps'][string]>[]): RoomDayRecord {
  const entries = lamps.map((lamp, i) => [
    `l${i}`,
    {
      id: `l${i}`,
      order: i,
      name: `Lamp ${i}`,
      source: { kind: 'table', name: 'LED-B1' },
      illuminance: 120,
      on: { from: 16, until: 23 },
      ...lamp,
    },
  ]);
  return {
    place: PLACE,
    date: '2027-02-10',
    sky: 'clear',
    windows: { w: { id: 'w', order: 1, name: '', facing: 0, area: 2.4, glass: 'double glass' } },
    lamps: Object.fromEntries(entries) as RoomDayRecord['lamps'],
    floorArea: 14,
    height: 2.5,
    reflectance: 0.5,
  };
}

const roomOf = (day: RoomDayRecord): Room => ({ id: 'k', order: 1, name: 'Kitchen', note: '', day });

function through(day: RoomDayRecord) {
  const found = dayThrough(roomOf(day));
  if (!found) throw new Error('expected a day');
  return found;
}

const momentAt = (day: RoomDayRecord, hour: number) => through(day).moments[hour / STEP];

function sample(lab: Lab, reflectance: number[] | null = null): Sample {
  return {
    id: 's',
    order: 1,
    source: 'typed',
    colours: [{ lab, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1], share: 1 }],
    reflectance,
    from: null,
    note: '',
  };
}

function swatch(id: string, name: string, lab: Lab | null): Swatch {
  return {
    id,
    order: 1,
    kind: 'paint',
    maker: '',
    code: '',
    name,
    sheen: null,
    price: null,
    leadTimeDays: null,
    publishedLrv: null,
    samples: lab ? { s: sample(lab) } : {},
    note: '',
  };
}

const rowOf = (lab: Lab): DayRow => ({
  id: 'r',
  name: 'Row',
  swatch: swatch('r', 'Row', lab),
  paints: paintsOf(sample(lab)),
});

describe('a day', () => {
  test('is drawn from an hour before its first light to an hour after its last', () => {
    const { span, moments } = through(record([{}]));
    const lit = moments.filter((moment) => !isDark(moment)).map(({ hour }) => hour);
    expect(lit[0] - span.from).toBeGreaterThanOrEqual(1);
    expect(lit[0] - span.from).toBeLessThan(2);
    // The lamps go out at 23.
    expect(span.until).toBe(24);
    expect(through(record([{ on: { from: 17, until: 21 } }])).span.until).toBe(22);
    const night = { ...record([]), windows: {} };
    expect(through(night).span).toEqual({ from: 0, until: 24 });
  });

  test('is worked out once, and again when it is changed', () => {
    const day = record([{}]);
    expect(through(day)).toBe(through(day));
    expect(through({ ...day, sky: 'overcast' })).not.toBe(through(day));
    expect(dayThrough({ id: 'k', order: 1, name: 'Kitchen', note: '' })).toBeNull();
  });

  test('has its lamps on exactly in their hours, over midnight too, and when it is dark', () => {
    expect(lampHours(through(record([{}])), 0)).toEqual([{ from: 16, until: 23 }]);
    expect(lampHours(through(record([{ on: { from: 22, until: 1.5 } }])), 0)).toEqual([
      { from: 0, until: 1.5 },
      { from: 22, until: 24 },
    ]);
    const dark = through(record([{ on: 'when dark' }]));
    for (const moment of dark.moments) {
      const daylight = moment.illuminance - lampLight(dark.day, moment);
      expect(burning(dark.day, moment)[0], `at ${moment.hour}`).toBe(daylight < DARK);
    }
  });

  test('keeps two equal lamps apart and adds up what they give', () => {
    const day = record([{}, { name: 'Lamp 0' }, { name: 'Other', on: { from: 18, until: 19 } }]);
    const moment = momentAt(day, 20);
    expect(burning(through(day).day, moment)).toEqual([true, true, false]);
    expect(lampLight(through(day).day, moment)).toBeCloseTo(240, 6);
    expect(lampLight(through(day).day, momentAt(day, 12))).toBe(0);
  });

  test('by night shows what the rest of the page shows', () => {
    const day = record([{}]);
    expect(through(day).views[3 / STEP].light.illuminance).toBe(viewingAt(roomOf(day), 3)?.illuminance);
    expect(through(day).views[20 / STEP].conditions).toEqual(viewingAt(roomOf(day), 20)?.view.conditions);
  });

  test('is brought to quarters of an hour inside what is drawn', () => {
    expect(withinSpan({ from: 6, until: 24 }, 17.6)).toBe(17.5);
    expect(withinSpan({ from: 6, until: 24 }, 2)).toBe(6);
    expect(withinSpan({ from: 6, until: 22 }, 30)).toBe(22);
  });

  test('says what its light is and where it comes from', () => {
    const day = record([{ name: 'Pendants' }]);
    expect(momentWords(momentAt(day, 20))).toMatch(/^2,[67]\d0 K, 120 lx: pendants alone$/);
    const dusk = momentWords(momentAt(day, 17));
    const shares = [...dusk.matchAll(/(\d+)\s%/g)].map(([, share]) => Number(share));
    expect(dusk).toMatch(/: north window \d+\s%, pendants \d+\s%$/);
    expect(shares.reduce((sum, share) => sum + share, 0)).toBe(100);
    expect(momentWords(momentAt(day, 3))).toBe('dark');
  });

  test('has hours worth looking at, in their order, the evening under lamps alone', () => {
    const day = record([{}]);
    const marks = landmarks(through(day));
    expect(marks.map(({ words }) => words)).toEqual(['Morning', 'Noon', 'Dusk', 'Evening']);
    expect(marks.map(({ hour }) => hour)).toEqual(marks.map(({ hour }) => hour).toSorted((a, b) => a - b));
    const evening = momentAt(day, marks[3].hour);
    expect(lampLight(through(day).day, evening) / evening.illuminance).toBeGreaterThan(0.99);
    expect(landmarks(through(record([]))).map(({ words }) => words)).toEqual(['Morning', 'Noon', 'Dusk']);
  });

  test('has no hour worth looking at outside what is drawn', () => {
    // Within the polar night the sun does not rise; the lamp burns in the afternoon alone.
    const polar = {
      ...record([{}]),
      place: { latitude: 78, longitude: 15, timeZone: '+01:00' },
      date: '2026-12-21',
    };
    const { span } = through(polar);
    expect(span.from).toBeGreaterThan(12);
    const marks = landmarks(through(polar));
    expect(marks.map(({ words }) => words)).toEqual(['Evening']);
    for (const { hour } of marks) expect(hour).toBeGreaterThanOrEqual(span.from);
  });

  test('names a kept hour by the sun and the lamps', () => {
    const day = record([{ name: 'Pendants' }]);
    const name = (hour: number) => momentName(through(day).day, momentAt(day, hour));
    expect(name(9.5)).toBe('Morning, 9:30');
    expect(name(12)).toBe('Noon, 12:00');
    expect(name(15)).toBe('Afternoon, 15:00');
    expect(name(17.25)).toBe('Dusk with pendants, 17:15');
    expect(name(20)).toBe('Pendants, 20:00');
  });
});

describe('a finish through the day', () => {
  const reference = roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE });
  const warm = { spectrum: illuminant('LED-B1'), illuminance: 120 };

  test('looks as measured under D65 of the reference level, also where no surface can have the colour', () => {
    for (const lab of [
      { L: 62, a: -8, b: 12 },
      { L: 95, a: 0, b: 1 },
      { L: 20, a: -15, b: 4 },
      { L: 88, a: -86, b: 83 },
    ]) {
      const [paint] = paintsOf(sample(lab));
      expect(deltaE2000(lab, lookOf(paint, reference)), JSON.stringify(lab)).toBeLessThan(0.02);
    }
  });

  test('looks as everywhere else in the studio', () => {
    const light = viewing({
      id: 'l',
      order: 1,
      roomId: 'k',
      name: 'Lamp',
      parts: [{ source: { kind: 'table', name: 'LED-B1' }, share: 1 }],
      illuminance: 120,
    });
    const curve = Array.from({ length: 81 }, (_, i) => (i < 40 ? 0.2 : 1.05));
    for (const one of [
      sample({ L: 62, a: -8, b: 12 }),
      sample({ L: 40, a: 30, b: 25 }),
      // No surface is as green as this.
      sample({ L: 88, a: -86, b: 83 }),
      sample({ L: 50, a: 0, b: 0 }, curve),
    ]) {
      const [paint] = paintsOf(one);
      const elsewhere = labUnder(one.colours[0].lab, light, one.reflectance);
      // Elsewhere colours pass through 32-bit numbers.
      expect(deltaE76(elsewhere, lookOf(paint, light.view))).toBeLessThan(0.01);
    }
  });

  test('is read as the room shows it, level and all, and by what it does of its own', () => {
    const dim = readingOf(
      rowOf({ L: 60, a: 20, b: 10 }),
      roomView({ spectrum: illuminant('D65'), illuminance: 40 }),
    );
    // Dim daylight differs from plain daylight by its level alone, which is no doing of the finish.
    expect(dim.own?.deltaE.value).toBeLessThan(0.02);
    expect(dim.deltaE).toBeGreaterThan(3);
    expect(dim.words).toMatch(/darker/);
    // Twice the light of the same lamp: more of it is seen, and the finish does the same of its own.
    const [evening, night] = [warm, { ...warm, illuminance: 60 }].map((light) =>
      readingOf(rowOf({ L: 60, a: -4, b: -14 }), roomView(light)),
    );
    expect(night.own).toEqual(evening.own);
    expect(night.deltaE).toBeGreaterThan(evening.deltaE);
  });

  test('stands with the candidates of its surface or with what stays', () => {
    const job: Job = emptyJob('Job');
    job.rooms.k = roomOf(record([{}]));
    job.swatches = {
      a: swatch('a', 'Reed', { L: 60, a: -8, b: 10 }),
      b: swatch('b', 'Tarn', null),
      c: swatch('c', 'Oak', { L: 55, a: 8, b: 20 }),
    };
    const surface = { roomId: 'k', target: null, criteria: DEFAULT_CRITERIA, candidateIds: {} };
    job.surfaces = {
      open: {
        ...{ ...surface, id: 'open', order: 1, name: 'Cabinets', kind: 'cabinets', state: 'open' },
        ...{ swatchId: null, candidateIds: { a: true, b: true } },
      },
      floor: {
        ...{ ...surface, id: 'floor', order: 2, name: 'Floor', kind: 'floor', state: 'fixed' },
        swatchId: 'c',
      },
      walls: {
        ...{ ...surface, id: 'walls', order: 3, name: 'Walls', kind: 'walls', state: 'chosen' },
        swatchId: 'a',
      },
    };
    const groups = dayGroups(parseJob(job), 'k').map(({ title, rows, without }) => ({
      title,
      rows: rows.map(({ name }) => name),
      without,
    }));
    expect(groups).toEqual([
      { title: 'Cabinets', rows: ['Reed'], without: ['Tarn'] },
      { title: 'What stays', rows: ['Floor: Oak', 'Walls: Reed'], without: [] },
    ]);
    expect(dayGroups(parseJob(job), 'elsewhere')).toEqual([]);
  });
});

describe('setting a day up', () => {
  test('every kind of room starts with a day the document takes', () => {
    for (const kind of ROOM_KINDS) {
      let count = 0;
      const day = usualDay(kind, { place: PLACE, date: '2026-11-26', newId: () => `n${(count += 1)}` });
      const job = emptyJob('Job');
      job.rooms.k = { ...roomOf(day), kind };
      expect(() => parseJob(job), kind).not.toThrow();
      expect(Object.keys(day.windows).length, kind).toBeGreaterThan(0);
      expect(Object.keys(day.lamps).length, kind).toBeGreaterThan(0);
    }
  });

  test('starts where the job is, and else says that it guesses', () => {
    const here = { timeZone: 'Europe/Vienna', standardOffset: 1 };
    const empty = emptyJob('Job');
    expect(startingPlace(empty, here)).toEqual({
      place: { latitude: 50, longitude: 15, timeZone: 'Europe/Vienna' },
      guessed: true,
    });
    const job = emptyJob('Job');
    job.rooms.k = roomOf({ ...record([]), place: { ...PLACE, latitude: -33 } });
    expect(startingPlace(job, here)).toEqual({ place: { ...PLACE, latitude: -33 }, guessed: false });
  });

  test('the shortest day is in December in the north and in June in the south', () => {
    const dates = (latitude: number) =>
      Object.fromEntries(notableDates('2027', latitude).map(({ words, date }) => [words, date]));
    expect(dates(50)['Shortest day']).toBe('2027-12-21');
    expect(dates(50)['Longest day']).toBe('2027-06-21');
    expect(dates(-33)['Shortest day']).toBe('2027-06-21');
  });

  test('sizes are said in feet too', () => {
    // NIST SP 811 (2008), B.8: 1 ft² = 0.09290304 m², 1 in = 25.4 mm; 14 m² = 150.7 ft², 2.5 m = 98.4 in.
    expect(squareFeet(14)).toBe('151 sq ft');
    expect(squareFeet(0.1858)).toBe('2 sq ft');
    expect(feetAndInches(2.5)).toBe('8 ft 2 in');
    expect(feetAndInches(1.8288)).toBe('6 ft 0 in');
  });

  test('hours go through a time field and back, midnight as its last minute', () => {
    for (const hour of [0, 7.5, 16, 23.75]) expect(hourOfField(timeField(hour))).toBe(hour);
    expect(timeField(24)).toBe('23:59');
    expect(hourOfField('23:59')).toBe(24);
    expect(hourOfField('')).toBeNull();
  });

  test('hours of a lamp that come to nothing or to everything are said', () => {
    expect(hoursWords({ from: 19, until: 19 })).toMatch(/stays off/);
    expect(hoursWords({ from: 0, until: 0 })).toMatch(/stays off/);
    expect(hoursWords({ from: 0, until: 24 })).toMatch(/all day and night/);
    expect(hoursWords({ from: 22, until: 2 })).toMatch(/over midnight/);
    expect(hoursWords({ from: 17, until: 0 })).toBe('');
    expect(hoursWords({ from: 17, until: 23 })).toBe('');
  });

  test('a place is said by its hemispheres', () => {
    expect(placeWords({ ...PLACE, latitude: -33.86, longitude: -10.5 })).toBe('33.86° south, 10.5° west');
  });
});
