import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deltaE2000, lrvFromLab, parseCssColour } from '#lib/colour/index.ts';
import { fromLrv, parseColourText } from '#lib/finish/index.ts';
import type { ReadColour } from '#lib/finish/index.ts';

function read(text: string): ReadColour {
  const colour = parseColourText(text);
  if ('error' in colour) throw new Error(`${text}: ${colour.error}`);
  return colour;
}
const error = (text: string) => (parseColourText(text) as { error: string }).error;

describe('a typed colour', () => {
  test('is read from Lab in the ways people write it', () => {
    for (const text of [
      'Lab 62.5 -9.1 11',
      'lab: 62.5, -9.1, 11',
      'Lab 62,5 -9,1 11',
      'LAB 62.5/-9.1/11',
      'L*a*b* 62.5 −9.1 11',
      'L 62.5 a -9.1 b 11',
      'L*=62.5 a*=-9.1 b*=+11',
      'CIELab 62,5; -9,1; 11',
      'Lab 62.5 -9.1 11 D65/10',
    ]) {
      expect(read(text).lab).toEqual({ L: 62.5, a: -9.1, b: 11 });
      expect(read(text).source).toBe('typed');
    }
  });

  test('is read from LCh', () => {
    for (const text of ['LCh 50 20 90', 'L 50 C 20 h 90', 'L*C*h 50, 20, 90°']) {
      expect(read(text).lab.L).toBe(50);
      expect(read(text).lab.a).toBeCloseTo(0, 12);
      expect(read(text).lab.b).toBeCloseTo(20, 12);
    }
  });

  test('for another illuminant is converted and says so', () => {
    const colour = read('Lab 62 -9 11 D50/2');
    expect(colour.note).toBe(
      'Lab 62 -9 11, converted from D50/2° to D65/10° through its most plausible reflectance.',
    );
    // A muted green moves, but by little: adaptation takes most of it.
    expect(deltaE2000(colour.lab, { L: 62, a: -9, b: 11 })).toBeLessThan(3);
    expect(colour.lab).not.toEqual({ L: 62, a: -9, b: 11 });
  });

  test('is read from hex, RGB and CSS as the colour area reads CSS', () => {
    const sage = parseCssColour('#8f9a86')!.lab;
    for (const text of ['#8f9a86', '8F9A86', 'rgb(143 154 134)', 'RGB 143, 154, 134'])
      expect(read(text).lab).toEqual(sage);
    expect(read('olive').lab).toEqual(parseCssColour('olive')!.lab);
    // CSS lab() is for D50; the trade's plain Lab is not.
    expect(read('lab(62% -9 11)').lab).not.toEqual(read('Lab 62 -9 11').lab);
  });

  test('is read from Munsell notation', () => {
    for (const text of ['5GY 6/2', '5 gy 6 / 2', 'Munsell 5GY 6/2'])
      expect(read(text).source).toBe('notation');
    // ASTM D1535: value 6 is Y 29.3 of the perfect diffuser, L* 61.
    expect(read('N 6/').lab.L).toBeCloseTo(61, 0);
  });

  test('is read from an LRV, whose lightness alone is known', () => {
    const colour = read('LRV 45 hue 130');
    expect(lrvFromLab(colour.lab)).toBeCloseTo(45, 9);
    expect(colour).toMatchObject({ source: 'published LRV', lrv: 45 });
    expect(colour.note).toMatch(/hardly known/);
    expect(colour.covariance[0]).toBeLessThan(colour.covariance[4] / 50);
    const more = read('LRV 45,5 hue 130 chroma 12');
    expect(Math.hypot(more.lab.a, more.lab.b)).toBeCloseTo(12, 9);
    expect(more.covariance[4]).toBeLessThan(colour.covariance[4]);
    expect(lrvFromLab(read('LRV 0.5').lab)).toBeCloseTo(0.5, 9);
  });

  test('is doubted by where it comes from', () => {
    const doubt = (text: string) => read(text).covariance[4];
    expect(doubt('Lab 62 -9 11')).toBeLessThan(doubt('#8f9a86'));
    expect(doubt('#8f9a86')).toBeLessThan(doubt('olive'));
    expect(doubt('olive')).toBeLessThan(doubt('LRV 45'));
  });
});

describe('a text that is no colour', () => {
  test('is answered with what was understood and what to do', () => {
    expect(error('')).toMatch(/^Nothing to read\. Type a colour/);
    expect(error('62 -9 11')).toBe(
      'Understood three numbers, but not what they are. Put Lab, LCh or RGB before them, such as Lab 62 -9 11.',
    );
    expect(error('#12')).toMatch(/^Understood a hex colour, but “#12” is not one/);
    expect(error('Lab 62 -9')).toMatch(/^Understood Lab, but not three numbers in “62 -9”/);
    expect(error('L 62 a -9')).toMatch(/^Understood Lab or LCh, but not three numbers in “L 62 a -9”/);
    expect(error('Lab 162 0 0')).toMatch(/L lies between 0 and 100/);
    expect(error('Lab 50 140 140')).toMatch(/no surface is that colourful/);
    expect(error('rgb 1 2 300')).toMatch(/^Understood RGB, but not three whole numbers/);
    expect(error('LRV 145')).toMatch(/an LRV lies between 0 and 100/);
    expect(error('LRV high')).toMatch(/^Understood an LRV, but not “high”/);
    expect(error('5GY 6/40')).toMatch(/^Understood Munsell 5GY 6\/40, but no surface has that colour/);
    expect(error('Munsell blue')).toMatch(/^Understood a Munsell notation/);
    expect(error('sage')).toMatch(/^“sage” is no colour that can be read/);
    expect(error('x'.repeat(500))).toMatch(/^Too long/);
  });

  test('that looks like a catalogue code is told from a colour', () => {
    // Invented codes, in the shapes catalogues use.
    for (const code of ['AB 3040', 'K-12', 'C 2010-G20', 'XYZ C 2010-G20Y', 'HK7006', '840-HR 3040'])
      expect(error(code), code).toMatch(
        /^This looks like a catalogue code\. Codes alone say no colour here: /,
      );
    for (const other of ['sage', '62 -9 11', '62 -9 eleven', '#12', 'Lab 62 -9', 'L 62 a 9', 'LRV high'])
      expect(error(other), other).not.toMatch(/catalogue code/);
  });

  test('never throws and never gives a number that is not one', () => {
    const words = fc.constantFrom(
      'Lab',
      'LCh',
      'LRV',
      'hue',
      '#',
      'N',
      '5GY',
      '/',
      '-',
      ',',
      '.',
      '(',
      ')',
      '1e999',
      '62',
      '-9',
      '11',
      '%',
      '°',
      'D50',
      'rgb',
      '\u0000',
      '−',
    );
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string({ maxLength: 60 }),
          fc.array(words, { maxLength: 8 }).map((list) => list.join(' ')),
        ),
        (text) => {
          const colour = parseColourText(text);
          if ('error' in colour) {
            expect(colour.error.length).toBeGreaterThan(10);
          } else {
            expect([colour.lab.L, colour.lab.a, colour.lab.b].every(Number.isFinite)).toBe(true);
            expect(colour.covariance.every(Number.isFinite)).toBe(true);
          }
        },
      ),
      { numRuns: 500 },
    );
  });
});

test('LRV and lightness agree over the whole range', () => {
  fc.assert(
    fc.property(fc.double({ min: 0, max: 100, noNaN: true }), (lrv) => {
      expect(lrvFromLab((fromLrv(lrv, null, null) as ReadColour).lab)).toBeCloseTo(lrv, 9);
    }),
  );
});
