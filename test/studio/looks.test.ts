import { describe, expect, test } from 'vitest';
import { REFERENCE_ILLUMINANCE, type Lab } from '#lib/colour/index.ts';
import { emptyJob, type Job, type Light, type LightSource, type Swatch } from '#lib/job/index.ts';
import { sampleLook, viewing } from '#lib/studio/look.ts';
import { gist, lightsOf, looksOf } from '#lib/studio/looks.ts';

const D65: LightSource = { kind: 'table', name: 'D65' };
const FILAMENT: LightSource = { kind: 'table', name: 'A' };

function light(id: string, source: LightSource, illuminance: number, order = 1): Light {
  return { id, order, roomId: 'kitchen', name: `Light ${id}`, illuminance, parts: [{ source, share: 1 }] };
}

function swatch(labs: readonly Lab[]): Swatch {
  const covariance = [1, 0, 0, 0, 1, 0, 0, 0, 1];
  const colours = labs.map((lab) => ({ lab, covariance, share: 1 / labs.length }));
  const sample = { id: 's', order: 1, source: 'typed' as const, reflectance: null, from: null, note: '' };
  return {
    id: 'swatch',
    order: 1,
    kind: 'paint',
    maker: '',
    code: '',
    name: 'Invented',
    sheen: null,
    price: null,
    leadTimeDays: null,
    publishedLrv: null,
    samples: labs.length > 0 ? { s: { ...sample, colours } } : {},
    note: '',
  };
}

const SAGE = { L: 62, a: -9, b: 11 };
const WHITE = { L: 94, a: -0.5, b: 2 };

describe('looks of a swatch', () => {
  test('come by plain daylight first, then in the order of the lights of the room', () => {
    const job: Job = {
      ...emptyJob('Lights'),
      lights: {
        b: light('b', FILAMENT, 100, 2),
        a: light('a', D65, 300, 1),
        c: { ...light('c', D65, 300, 0), roomId: 'bath' },
      },
    };
    const looks = looksOf(swatch([SAGE]), lightsOf(job, 'kitchen'));
    expect(looks.map(({ lightId }) => lightId)).toEqual([null, 'a', 'b']);
  });

  test('are none while it has no colour', () => {
    expect(looksOf(swatch([]), [light('a', FILAMENT, 100)])).toEqual([]);
  });

  test('are the daylight look itself where the light is plain daylight', () => {
    const [plain, same] = looksOf(swatch([SAGE]), [light('a', D65, REFERENCE_ILLUMINANCE)]);
    expect(same.own?.deltaE.value).toBeLessThan(0.05);
    expect(same.words).toBe(plain.words);
    expect(same.change).toMatch(/^of its own it holds, 0\.0/);
    expect(same.room).toBe('everything looks as by plain daylight');
  });

  test('leave the level out of what the finish does of its own, not out of the colour shown', () => {
    const [plain, dim] = looksOf(swatch([SAGE]), [light('a', D65, 20)]);
    expect(dim.own?.deltaE.value).toBeLessThan(0.1);
    expect(dim.room).toMatch(/darker here$/);
    expect(dim.colours[0].css).not.toBe(plain.colours[0].css);
  });

  // The eye adapts to a filament lamp only in part: CIE 248:2022, degree of adaptation below 1.
  test('keep some of the cast of a filament lamp, which is no doing of a white', () => {
    const [, lamp] = looksOf(swatch([WHITE]), [light('a', FILAMENT, 100)]);
    expect(lamp.room).toMatch(/redder|yellower/);
    expect(lamp.own?.deltaE.value).toBeLessThan(2);
  });

  test('say it all in one sentence', () => {
    const [plain, lamp] = looksOf(swatch([SAGE]), [light('a', FILAMENT, 100)]);
    expect(plain.sentence).toBe(`Plain daylight: ${plain.words}, as measured`);
    expect(lamp.sentence).toBe(`Light a: ${lamp.words}; ${lamp.room}; ${lamp.change}`);
    expect(lamp.change).toMatch(/^of its own .+, \d+\.\d give or take \d+\.\d$/);
  });

  test('keep every colour of a pattern with its share', () => {
    for (const look of looksOf(swatch([SAGE, WHITE]), [light('a', FILAMENT, 100)]))
      expect(look.colours.map(({ share }) => share)).toEqual([0.5, 0.5]);
  });

  // A strong cyan: outside sRGB, whose greens and blues end well before (IEC 61966-2-1 primaries).
  test('say where the screen cannot show them', () => {
    const cyan = swatch([{ L: 55, a: -45, b: -35 }]);
    const day = light('a', D65, 300);
    const [plain, lamp] = looksOf(cyan, [day]);
    for (const chip of [null, viewing(day)])
      expect(sampleLook(cyan.samples.s, chip).map(({ exact }) => exact)).toEqual([false]);
    for (const look of [plain, lamp]) {
      expect(look.colours[0].exact).toBe(false);
      expect(look.sentence).toMatch(/this screen shows the nearest it can$/);
    }
  });

  test('are worked out once for a swatch and a light', () => {
    const [one, lights] = [swatch([SAGE]), [light('a', FILAMENT, 100)]];
    const [first, second] = [looksOf(one, lights), looksOf(one, lights)];
    expect(second[0]).toBe(first[0]);
    expect(second[1]).toBe(first[1]);
    expect(looksOf(one, [{ ...lights[0], illuminance: 900 }])[1]).not.toBe(first[1]);
  });
});

describe('the one thing to know', () => {
  const own = (value: number, giveOrTake: number) => ({
    deltaE: { value, giveOrTake },
    parts: { dL: 0, dC: 0, dH: 0 },
    chroma: { from: 10, to: { value: 9, giveOrTake: 0 } },
    words: 'a shade redder',
  });

  test('is that a swatch holds where no light moves it', () => {
    const day = light('a', D65, 300);
    expect(gist(looksOf(swatch([SAGE]), [day]))).toMatch(/^Of its own it holds under Light a, 0\.\d$/);
    expect(gist(looksOf(swatch([SAGE]), [day, light('b', D65, 40)]))).toMatch(
      /^Of its own it holds under all 2 lights, 0\.\d at most$/,
    );
  });

  test('else names the light that changes it most', () => {
    const [plain, one] = looksOf(swatch([SAGE]), [light('a', D65, 300)]);
    const other = { lightId: 'b', name: 'Light b', own: own(4.1, 0.8) };
    expect(gist([plain, one, other])).toBe(
      'Of its own it changes most under Light b: a shade redder, 4.1 give or take 0.8',
    );
  });

  test('is hedged where the doubt leaves it open, and says where too little is known', () => {
    const [plain] = looksOf(swatch([SAGE]), []);
    const gistOf = (value: number, giveOrTake: number) =>
      gist([plain, { lightId: 'a', name: 'Light a', own: own(value, giveOrTake) }]);
    expect(gistOf(2.3, 0.4)).toMatch(/^Of its own it changes most under Light a/);
    expect(gistOf(2.3, 2)).toMatch(/^Of its own it may change most under Light a/);
    expect(gistOf(1.7, 0.4)).toMatch(/^Of its own it holds under Light a/);
    expect(gistOf(1.7, 2)).toMatch(/^Of its own it probably holds under Light a/);
    expect(gist([plain, { lightId: 'a', name: 'Light a', own: null }])).toMatch(/^Too little is known/);
  });

  test('is nothing without lights', () => {
    expect(gist(looksOf(swatch([SAGE]), []))).toBeNull();
  });
});
