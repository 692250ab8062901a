import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  LITRES,
  MILLIMETRES,
  SPREAD_PER_SQ_FT_PER_GAL,
  SQUARE_METRES,
  areaWords,
  lengthIn,
  lengthWords,
  parseArea,
  parseLength,
  parseVolume,
  spreadRateWords,
  volumeWords,
} from '#lib/finish/index.ts';

describe('factors', () => {
  test('are those of NIST SP 811 (2008), Appendix B', () => {
    expect(MILLIMETRES.in).toBe(25.4);
    expect(MILLIMETRES.ft).toBe(304.8);
    expect(MILLIMETRES.yd).toBe(914.4);
    expect(SQUARE_METRES['sq ft']).toBe(0.09290304);
    expect(SQUARE_METRES['sq in'] * 1e4).toBeCloseTo(6.4516, 12);
    expect(LITRES.gal).toBe(3.785411784);
    // Printed there to seven figures: pint 4.731 765 E-04 m³, quart 9.463 529 E-04, fluid ounce 2.957 353 E-05.
    expect(LITRES.quart).toBeCloseTo(0.9463529, 7);
    expect(LITRES.pint).toBeCloseTo(0.4731765, 7);
    expect(LITRES['fl oz'] * 10).toBeCloseTo(0.2957353, 7);
  });

  test('agree with each other: a square foot is a foot by a foot, a gallon 231 cubic inches', () => {
    expect(SQUARE_METRES['sq ft']).toBeCloseTo((MILLIMETRES.ft / 1000) ** 2, 15);
    expect(LITRES.gal).toBeCloseTo(231 * (MILLIMETRES.in / 100) ** 3, 12);
    expect(MILLIMETRES.ft).toBeCloseTo(12 * MILLIMETRES.in, 10);
  });

  test('350 to 400 sq ft per US gallon (common practice) are 8.6 to 9.8 m² per litre', () => {
    expect(350 * SPREAD_PER_SQ_FT_PER_GAL).toBeCloseTo(8.6, 1);
    expect(400 * SPREAD_PER_SQ_FT_PER_GAL).toBeCloseTo(9.8, 1);
    expect(spreadRateWords(350 * SPREAD_PER_SQ_FT_PER_GAL, 'us')).toBe('350 sq ft per US gal (8.59 m²/l)');
  });
});

describe('lengths as they are typed', () => {
  // Worked out by hand from the factors above.
  test.each([
    ['3.2 m', 3200],
    ['320 cm', 3200],
    ['3,2', 3200],
    ['3200 mm', 3200],
    ['3 200 mm', 3200],
    ['1,200 mm', 1200],
    ['1.234,5 mm', 1234.5],
    ['3 m 20', 3200],
    ['3m20', 3200],
    [`10' 6"`, 3200.4],
    ['10′ 6″', 3200.4],
    ['10 ft 6 1/2 in', 3213.1],
    ['10 ft, 6-1/2 in.', 3213.1],
    [`10'6½"`, 3213.1],
    [`5' 3`, 1600.2],
    [`10' - 6"`, 3200.4],
    [`10'-6"`, 3200.4],
    ['126 in', 3200.4],
    ['¾"', 19.05],
    ['2 yards', 1828.8],
    ['.5 m', 500],
  ])('%s', (text, mm) => {
    const read = parseLength(text, 'm');
    expect(read).toHaveProperty('mm');
    expect('mm' in read && read.mm).toBeCloseTo(mm, 9);
  });

  test('a bare number is in the unit the field says', () => {
    expect(parseLength('126', 'in')).toEqual({ mm: 3200.4 });
    expect(parseLength('10', 'ft')).toEqual({ mm: 3048 });
    expect(parseLength('45', 'mm')).toEqual({ mm: 45 });
  });

  test.each([
    ['', 'Nothing to read'],
    ['  ', 'Nothing to read'],
    ['-3 m', 'negative'],
    ['−3 m', 'negative'],
    ['0', 'zero'],
    ['ten feet', 'no length'],
    ['3 lightyears', '“lightyears”'],
    ['10 ft 14 in', 'a whole ft or more'],
    ['10 6', 'no length'],
    ['6 in 10 ft', 'no length'],
    ['1/0 in', 'no length'],
    ['constructor', 'no length'],
    ['3 constructor', '“constructor”'],
    ['3.2.1 m', 'no length'],
  ])('“%s” is said to be wrong in words', (text, words) => {
    const read = parseLength(text, 'm');
    expect(read).toHaveProperty('error');
    expect('error' in read && read.error).toContain(words);
  });

  test('whatever is typed gives a positive length or words, and does not throw', () => {
    const pieces = fc.constantFrom(
      '1',
      '12',
      '.5',
      ',',
      '1/2',
      ' ',
      "'",
      '"',
      'ft',
      'm',
      'cm',
      '-',
      '½',
      'x',
      '3,2',
      '0',
    );
    fc.assert(
      fc.property(fc.array(pieces, { maxLength: 7 }), (parts) => {
        const read = parseLength(parts.join(''), 'm');
        if ('mm' in read) expect(read.mm > 0 && Number.isFinite(read.mm)).toBe(true);
        else expect(read.error.length).toBeGreaterThan(10);
      }),
    );
  });

  test('what is said can be typed back: feet to a sixteenth of an inch, metres to a centimetre', () => {
    fc.assert(
      fc.property(fc.double({ min: 30, max: 60_000, noNaN: true }), (mm) => {
        const us = parseLength(lengthIn(mm, 'us'), 'm');
        const metric = parseLength(lengthIn(mm, 'metric'), 'm');
        expect('mm' in us && Math.abs(us.mm - mm)).toBeLessThanOrEqual(25.4 / 32 + 1e-6);
        expect('mm' in metric && Math.abs(metric.mm - mm)).toBeLessThanOrEqual(5 + 1e-6);
      }),
    );
  });
});

describe('areas and volumes', () => {
  test('are read with their units', () => {
    expect(parseArea('12,4 m²', 'sq ft')).toEqual({ squareMetres: 12.4 });
    expect(parseArea('100 sq. ft.', 'm²')).toEqual({ squareMetres: 100 * 0.09290304 });
    expect(parseArea('7', 'm²')).toEqual({ squareMetres: 7 });
    expect(parseVolume('2,5 l', 'gal')).toEqual({ litres: 2.5 });
    expect(parseVolume('1/2 gallon', 'l')).toEqual({ litres: 3.785411784 / 2 });
    expect(parseVolume('750 ml', 'l')).toEqual({ litres: 0.75 });
  });

  test('that cannot be are said in words', () => {
    for (const text of ['', '-1 m²', '0', '3 l', 'big'])
      expect(parseArea(text, 'm²')).toHaveProperty('error');
    for (const text of ['', '-1 l', '0', '3 m²', 'a lot'])
      expect(parseVolume(text, 'l')).toHaveProperty('error');
  });

  test('are said in both systems, the user’s first', () => {
    // 12.4 / 0.09290304 = 133.47; 4.6 / 3.785411784 = 1.215.
    expect(areaWords(12.4, 'metric')).toBe('12.4 m² (133 sq ft)');
    expect(areaWords(12.4, 'us')).toBe('133 sq ft (12.4 m²)');
    expect(volumeWords(4.6, 'metric')).toBe('4.60 l (1.22 US gal)');
    expect(lengthWords(3200.4, 'us')).toBe('10 ft 6 in (3.20 m)');
    expect([lengthIn(19.05, 'us'), lengthIn(304.8, 'us'), lengthIn(45, 'metric')]).toEqual([
      '3/4 in',
      '1 ft',
      '45 mm',
    ]);
  });

  test('a volume said in one unit is the same read in the other', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 1000, noNaN: true }), (value) => {
        const read = parseVolume(`${value} gal`, 'l');
        // Exponents are not typed by people, and small values print with one.
        if (String(value).includes('e')) return;
        expect('litres' in read && read.litres / LITRES.gal / value).toBeCloseTo(1, 12);
      }),
    );
  });
});
