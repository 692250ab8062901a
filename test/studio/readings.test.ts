import { describe, expect, test } from 'vitest';
import {
  illuminant,
  REFERENCE_ILLUMINANCE,
  roomView,
  type IlluminantName,
  type Lab,
} from '#lib/colour/index.ts';
import { figureWords, lightReport, type OwnChange } from '#lib/finish/index.ts';
import { finishInput, type Swatch } from '#lib/job/index.ts';
import { turningWords } from '#lib/studio/greying.ts';
import { ownReading, ownSentence, ownWords, roomWords } from '#lib/studio/readings.ts';

function swatch(lab: Lab, variance: number, reflectance: number[] | null = null): Swatch {
  const covariance = [variance, 0, 0, 0, variance, 0, 0, 0, variance];
  const sample = {
    ...{ id: 's', order: 1, source: 'typed' as const, colours: [{ lab, covariance, share: 1 }], reflectance },
    ...{ from: null, note: '' },
  };
  return {
    ...{ id: 'w', order: 1, kind: 'paint', maker: '', code: '', name: 'Invented', sheen: null, price: null },
    ...{ leadTimeDays: null, publishedLrv: null, samples: { s: sample }, note: '' },
  };
}

const lit = (name: IlluminantName, illuminance: number) =>
  roomView({ spectrum: illuminant(name), illuminance });

const COLOURS: Record<string, Lab> = {
  'deep green': { L: 32, a: -18, b: 9 },
  'grey blue': { L: 58, a: -3, b: -9 },
  terracotta: { L: 48, a: 24, b: 26 },
};

function own(deltaE: number, giveOrTake = 0, chroma: Partial<OwnChange['chroma']> = {}): OwnChange {
  return {
    deltaE: { value: deltaE, giveOrTake },
    parts: { dL: 0, dC: 0, dH: 0 },
    chroma: { from: 10, to: { value: 9.5, giveOrTake: 0 }, ...chroma },
    words: 'a shade bluer',
  };
}

const kept = (share: number, giveOrTake = 0, from = 10) =>
  own(3, 0, { from, to: { value: share * from, giveOrTake: giveOrTake * from } });

describe('what a finish does of its own', () => {
  test('is what the light report says of it, figure by figure, whatever the level of the light', () => {
    for (const [name, lab] of Object.entries(COLOURS))
      for (const light of ['A', 'LED-B1', 'FL4'] as const) {
        const one = swatch(lab, 1);
        const report = lightReport({
          finishes: [{ ...finishInput(one)!, role: 'candidate' }],
          lights: [{ id: light, name: light, spectrum: Array.from(illuminant(light)), illuminance: 500 }],
        });
        const [moved] = report.finishes[0].movements;
        for (const level of [40, 500, 5000]) {
          const found = ownReading(one, lit(light, level));
          expect(found?.deltaE, name).toEqual(moved.deltaE);
          expect(found?.chroma, name).toEqual(moved.chroma);
          expect(found?.words, name).toBe(moved.words);
        }
      }
  });

  test('is nothing under daylight of any level', () => {
    for (const level of [20, 500, 2000])
      expect(ownReading(swatch(COLOURS.terracotta, 1), lit('D65', level))?.deltaE.value).toBeLessThan(0.01);
  });

  test('is not told of a colour that is hardly known, unless its reflectance was measured', () => {
    const curve = Array.from({ length: 81 }, (_, i) => (i < 40 ? 0.2 : 0.5));
    const view = lit('A', 100);
    expect(ownReading(swatch(COLOURS.terracotta, 96), view)).toBeNull();
    expect(ownReading(swatch(COLOURS.terracotta, 96, curve), view)).not.toBeNull();
    expect(ownSentence(null)).toMatch(/^too little is known/);
  });

  test('is said with its number, and hedged where the doubt leaves it open', () => {
    expect(ownSentence(own(4.1, 0.8))).toBe(
      `of its own a shade bluer, ${figureWords({ value: 4.1, giveOrTake: 0.8 })}`,
    );
    expect(ownWords(own(2.3, 0.4))).toBe('a shade bluer');
    expect(ownWords(own(2.3, 2))).toBe('perhaps a shade bluer');
    expect(ownWords(own(1.7, 0.4))).toBe('it holds');
    expect(ownWords(own(1.7, 2))).toBe('it probably holds');
    expect(ownWords({ ...own(4), words: 'no visible difference' })).toMatch(/not as a whole/);
  });
});

describe('what a light does to everything', () => {
  test('is nothing by plain daylight, and darker and yellower under a dim filament lamp', () => {
    expect(roomWords(lit('D65', REFERENCE_ILLUMINANCE))).toBe('everything looks as by plain daylight');
    expect(roomWords(lit('D65', 50))).toMatch(/^everything looks (much|clearly) darker here$/);
    expect(roomWords(lit('A', 50))).toMatch(/darker.*(yellower|redder) here$/);
  });

  test('says where the screen ends', () => {
    expect(roomWords(lit('D65', 5000))).toMatch(/brighter than the screen can show$/);
    expect(roomWords(lit('D65', 400))).not.toMatch(/screen/);
  });
});

describe('what turns greyest', () => {
  test('is that which keeps least of the colour it has, among those that have enough', () => {
    const words = turningWords([
      { name: 'Reed', own: kept(0.95) },
      { name: 'Tarn', own: kept(0.62, 0.08) },
      { name: 'Chalk', own: kept(0.1, 0, 2) },
      { name: 'Fog', own: null },
    ]);
    expect(words).toMatch(
      /^Tarn turns greyest: it keeps about 62\s% of its colour, give or take 8\. Most is kept by Reed, 95\s%\.$/,
    );
  });

  test('is hedged where the loss is within the doubt', () => {
    const list = [
      { name: 'Reed', own: kept(0.95, 0.1) },
      { name: 'Tarn', own: kept(0.85, 0.2) },
    ];
    expect(turningWords(list)).toMatch(/^Tarn may turn greyest: .*, give or take 20\./);
  });

  test('is none where all hold, and nothing is said where nothing can be compared', () => {
    const list = [
      { name: 'Reed', own: kept(0.97) },
      { name: 'Tarn', own: kept(0.94) },
    ];
    expect(turningWords(list)).toMatch(
      /^every candidate with a clear colour holds it.*94\s% is the least, of Tarn\.$/,
    );
    expect(turningWords([{ name: 'Reed', own: kept(0.5) }])).toBeNull();
    expect(turningWords([])).toBeNull();
  });
});
