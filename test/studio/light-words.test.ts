import { illuminant } from '#lib/colour/index.ts';
import type { LightSource } from '#lib/job/index.ts';
import { LAMP_TABLE, describedLamp } from '#lib/light/index.ts';
import { expect, test } from 'vitest';
import { references } from '../colour/published.ts';
import {
  clock,
  colourOfLight,
  colourSentence,
  compassWord,
  COMPASS,
  kelvinWords,
  lightColour,
  lightWords,
  levelWords,
  renderingWords,
  sourceShort,
  sourceWords,
  tintWords,
  warmthWords,
} from '../../src/lib/studio/light-words.ts';

const window: LightSource = {
  kind: 'window',
  place: { latitude: 50, longitude: 10, timeZone: '+01:00' },
  date: '2026-03-20',
  hour: 9,
  facing: 0,
  sky: 'clear',
  glass: 'double glass',
};
const table = (name: string): LightSource => ({ kind: 'table', name });

test('a direction is called after the nearest of eight winds, across north too', () => {
  for (const [i, wind] of COMPASS.entries()) {
    for (const off of [-22, 0, 22]) expect(compassWord(45 * i + off)).toBe(wind);
  }
  // Compass rose: east at 90, south at 180, west at 270 degrees clockwise from north.
  expect([90, 180, 270, 360, -90].map(compassWord)).toEqual(['east', 'south', 'west', 'north', 'west']);
});

test('an hour is written as clocks show it', () => {
  expect([0, 9, 9.5, 16.75, 24].map(clock)).toEqual(['0:00', '9:00', '9:30', '16:45', '24:00']);
  // Never 8:60.
  expect(clock(8.9999)).toBe('9:00');
});

test('a light says what it is made of, with shares that add up', () => {
  expect(lightWords({ parts: [{ source: window, share: 1 }] })).toBe('North window, clear sky, 9:00');
  const mixed = [
    { source: window, share: 0.3 },
    { source: table('LED-B1'), share: 0.2 },
  ];
  expect(lightWords({ parts: mixed })).toBe(
    'North window, clear sky, 9:00 · 60 %; Warm LED lamp, 2,700 K · 40 %',
  );
});

test('every lamp of the catalogue and every daylight table has a name that is not its code', () => {
  for (const name of [...LAMP_TABLE.map((lamp) => lamp.table), 'C', 'D50', 'D65', 'D75', 'ID50', 'ID65']) {
    expect(sourceWords(table(name))).not.toContain(`table ${name}`);
    expect(sourceShort(table(name)).length).toBeGreaterThan(0);
  }
  expect(sourceWords(table('FL3.15'))).toContain('FL3.15');
});

test('a level is said in words of level, no times of day, and never dimmer for more light', () => {
  const words = [1, 30, 180, 400, 1200, 9000].map(levelWords);
  expect(new Set(words).size).toBe(words.length);
  for (const word of words) expect(word).not.toMatch(/evening|morning|noon|night/);
});

test('glass is said where it is not the usual one', () => {
  expect(sourceWords({ ...window, glass: 'open window' })).toMatch(/, open$/);
  expect(sourceWords({ ...window, glass: 'coated double glass' })).toMatch(/coated glass$/);
});

test('lamps are judged as their published indices deserve', () => {
  const sentence = (name: Parameters<typeof illuminant>[0]) => colourSentence(lightColour(illuminant(name)));
  // Ra: CIE 15:2018, as the fixture quotes it. The words are our own bands.
  for (const [name, word] of [
    ['FL2', 'poorly'],
    ['FL4', 'badly'],
    ['FL7', 'well'],
    ['FL11', 'fairly'],
    ['LED-B1', 'fairly'],
  ] as const) {
    const Ra = references.find(({ id }) => id === `cct_ra_${name}`)?.published?.Ra;
    expect(sentence(name)).toContain(`colours ${word}`);
    expect(sentence(name)).toContain(`(Ra ${Ra}`);
  }
  // The reference itself: 100 by definition (CIE 13.3-1995).
  expect(sentence('A')).toBe('No tint; renders colours well, strong reds too (Ra 100, R9 100).');
  expect(sentence('D65')).toMatch(/^No tint; renders colours well, strong reds too \(Ra 100,/);
});

test('the word for rendering follows the figure beside it', () => {
  expect(renderingWords({ Ra: 79.6, R9: 5 })).toBe(
    'renders colours fairly (Ra 80), strong reds poorly (R9 5)',
  );
  expect(renderingWords({ Ra: 50, R9: -110.2 })).toContain('strong reds too (Ra 50, R9 −110)');
});

test('daylight has no tint though it is greener than a glowing body; lamps off their white have', () => {
  for (const name of ['D50', 'D55', 'D65', 'D75'] as const) {
    const colour = lightColour(illuminant(name));
    // The daylight locus lies above the Planckian one (CIE 15:2018).
    expect(colour?.duv).toBeGreaterThan(0.002);
    expect(tintWords(colour?.tint ?? NaN)).toBe('');
  }
  const lamp = (duv: number) =>
    lightColour(describedLamp({ technology: 'LED', cct: 3000, duv, ra: 80 }).spectrum)?.tint ?? NaN;
  expect(tintWords(lamp(0))).toBe('');
  expect(tintWords(lamp(0.004))).toBe('a little greenish');
  expect(tintWords(lamp(0.01))).toBe('greenish');
  expect(tintWords(lamp(-0.01))).toBe('pinkish');
});

test('a light that is no kind of white is said to be one', () => {
  const red = Float64Array.from({ length: 81 }, (_, i) => (i > 60 ? 1 : 0));
  expect(lightColour(red)).toBeNull();
  expect(colourSentence(null)).toMatch(/^A coloured light/);
});

test('words of level and warmth grow with the figure', () => {
  const levels = [1, 30, 100, 400, 1500, 20_000].map(levelWords);
  expect(new Set(levels).size).toBe(levels.length);
  // Bands of EN 12464-1 (from memory): warm below 3,300 K, cool above 5,300 K.
  expect([2700, 3299, 3301, 5299, 5301].map(warmthWords)).toEqual([
    'warm',
    'warm',
    'neutral',
    'neutral',
    'cool',
  ]);
  expect([1873, 2733, 6504].map(kelvinWords)).toEqual(['1,870 K', '2,700 K', '6,500 K']);
});

test('an unchanged light keeps its answer, a changed one gets another', () => {
  const parts = [{ source: table('A'), share: 1 }];
  expect(colourOfLight({ parts })).toBe(colourOfLight({ parts }));
  expect(colourOfLight({ parts: [{ source: table('FL2'), share: 1 }] })?.cct).not.toBe(
    colourOfLight({ parts })?.cct,
  );
});
