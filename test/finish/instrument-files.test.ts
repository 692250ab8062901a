import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import { parseCgats, parseCxf } from '#lib/finish/index.ts';
import type { SwatchReading } from '#lib/finish/index.ts';
import { readXml } from '#lib/finish/xml.ts';
import { readTable } from '../colour/published.ts';

const fixture = (name: string) =>
  readFileSync(new URL(`../fixtures/finish/${name}`, import.meta.url), 'utf8');

// Lab D65/10 of the 24-patch target, from its reflectances (Ohta 1997) by colour-science 0.4.6.
const truth = readTable('target24_lab.csv').map((row) => ({
  L: Number(row.spectral_L_D65_10),
  a: Number(row.spectral_a_D65_10),
  b: Number(row.spectral_b_D65_10),
}));
const PATCHES = [1, 2, 11, 19, 23];
const errors = ({ swatches }: SwatchReading) =>
  PATCHES.map((patch, i) => deltaE2000(truth[patch - 1], swatches[i].lab));

describe('CGATS.17 text', () => {
  test('with spectra by 10 nm gives the colours of its reflectances', () => {
    const reading = parseCgats(fixture('target-10nm.cgats.txt'));
    expect(reading.problems).toEqual([]);
    expect(reading.swatches.map(({ name }) => name)).toEqual([
      'Dark skin',
      'Light skin',
      'Yellow green',
      'White',
      'Neutral 3.5',
    ]);
    // 10 nm data interpolated, and nothing beyond 730 nm: a tenth of a ΔE.
    for (const error of errors(reading)) expect(error).toBeLessThan(0.15);
    expect(reading.swatches[0]).toMatchObject({
      line: 17,
      code: '1',
      source: 'instrument',
      notes: ['Measured: spectrum 380-730 nm by 10, ends carried on to 380-780 nm.'],
    });
    expect(reading.swatches[0].reflectance).toHaveLength(81);
  });

  test('with spectra by 20 nm in percent, 400 to 700 nm, gives them nearly as well', () => {
    const reading = parseCgats(fixture('target-20nm-percent.cgats.txt'));
    for (const error of errors(reading)) expect(error).toBeLessThan(0.3);
    expect(reading.swatches[3].notes[0]).toMatch(/400-700 nm by 20/);
    expect(Math.max(...reading.swatches[3].reflectance!)).toBeGreaterThan(0.85);
  });

  test('with Lab D50/2 is brought to D65/10 through a reflectance, and says so', () => {
    const reading = parseCgats(fixture('target-lab-d50.cgats.txt'));
    const off = reading.swatches.map(({ lab }, i) => deltaE2000(truth[i], lab));
    expect(off).toHaveLength(24);
    // What the spectrum would have told cannot be recovered; a ΔE on average is what the doubt claims.
    expect(off.reduce((sum, error) => sum + error, 0) / 24).toBeLessThan(1);
    expect(Math.max(...off)).toBeLessThan(2.5);
    expect(reading.swatches[0].notes).toEqual([
      'Measured Lab, converted from D50/2° to D65/10° through its most plausible reflectance.',
    ]);
  });

  const small = (format: string, data: string, head = '') =>
    parseCgats(
      `CGATS.17\n${head}\nBEGIN_DATA_FORMAT\n${format}\nEND_DATA_FORMAT\nBEGIN_DATA\n${data}\nEND_DATA\n`,
    );

  test('takes Lab as it is where the file says D65 and 10 degrees', () => {
    const { swatches } = small(
      'SAMPLE_ID LAB_L LAB_A LAB_B',
      '1 62 -9 11',
      'ILLUMINATION_NAME "D65"\nOBSERVER_ANGLE "10"',
    );
    expect(swatches[0].lab).toEqual({ L: 62, a: -9, b: 11 });
  });

  test('takes D50 and 2 degrees where the file is silent, and says so', () => {
    const { notes } = small('SAMPLE_ID LAB_L LAB_A LAB_B', '1 62 -9 11');
    expect(notes[0]).toBe(
      'Illuminant or observer is not stated: Lab and XYZ are taken as D50/2°, as ISO 13655 has it.',
    );
  });

  test('takes XYZ', () => {
    const { swatches } = small(
      'SAMPLE_ID XYZ_X XYZ_Y XYZ_Z',
      '1 94.81 100 107.32',
      'ILLUMINATION_NAME D65\nOBSERVER_ANGLE 10',
    );
    expect(swatches[0].lab.L).toBeCloseTo(100, 6);
  });

  test('takes wavelength and percent in turns, over several lines', () => {
    const wavelengths = Array.from({ length: 31 }, (_, i) => 400 + 10 * i);
    const { swatches } = small(
      `SAMPLE_ID ${wavelengths.map(() => 'SPECTRAL_NM SPECTRAL_PCT').join(' ')}`,
      `grey ${wavelengths.map((nm) => `${nm} 30`).join('\n')}`,
    );
    expect(swatches[0].reflectance!.every((value) => Math.abs(value - 0.3) < 1e-12)).toBe(true);
  });

  test('reports samples that cannot be used by their line', () => {
    const { swatches, problems } = small(
      'SAMPLE_ID LAB_L LAB_A LAB_B',
      '1 62 -9 11\n2 x 0 0\n3 400 0 0\n4 50 0',
    );
    expect(swatches.map(({ code }) => code)).toEqual(['1']);
    expect(problems.map(({ line, kept }) => [line, kept])).toEqual([
      [8, false],
      [9, false],
      [10, false],
    ]);
  });

  test('of a lamp is refused in words, one of remission is not', () => {
    const lamp = readFileSync(new URL('../fixtures/light-files/ceiling-spot.sp', import.meta.url), 'utf8');
    const { swatches, problems } = parseCgats(lamp);
    expect(swatches).toEqual([]);
    expect(problems).toEqual([
      {
        line: 19,
        reason: 'This file holds the light of a lamp: bring it in under Light, as a lamp that was measured.',
        kept: false,
      },
    ]);
    expect(parseCgats(lamp.replace('EMISSION', 'REMISSION')).swatches).toHaveLength(1);
  });

  test('that has no data is refused in words', () => {
    expect(parseCgats('hello').problems[0].reason).toMatch(/^This is no CGATS file/);
    expect(small('SAMPLE_ID CMYK_C', '1 20').problems[0].reason).toBe(
      'No Lab, XYZ or spectral fields in the data format.',
    );
  });
});

describe('CxF3', () => {
  test('with spectra, any prefix and entities in names', () => {
    const reading = parseCxf(fixture('target-10nm.cxf'));
    for (const error of errors(reading)) expect(error).toBeLessThan(0.15);
    expect(reading.swatches[3].name).toBe('Lime & chalk – white');
    expect(reading.swatches[0].notes).toEqual([
      'Measured: spectrum 400-700 nm by 10, ends carried on to 380-780 nm.',
    ]);
  });

  test('takes Lab or sRGB where there is no spectrum, and reports what has neither', () => {
    const { swatches, problems } = parseCxf(fixture('target-10nm.cxf'));
    const lab = swatches.find(({ code }) => code === 'lab1')!;
    expect(deltaE2000(truth[0], lab.lab)).toBeLessThan(2);
    expect(lab.notes[0]).toMatch(/converted from D50\/2°/);
    expect(swatches.find(({ code }) => code === 'rgb1')).toMatchObject({
      source: 'published',
      reflectance: null,
    });
    expect(problems).toEqual([
      { line: 8, reason: 'Object Ink recipe: no reflectance, Lab or sRGB.', kept: false },
    ]);
  });

  test('with spectra by 20 nm and no prefix', () => {
    const reading = parseCxf(fixture('target-20nm.cxf'));
    for (const error of errors(reading)) expect(error).toBeLessThan(0.3);
    expect(reading.swatches[0].notes[0]).toMatch(/by 20/);
  });

  test('is refused in words when it is something else', () => {
    const reason = (text: string) => parseCxf(text).problems[0].reason;
    expect(reason('<html/>')).toBe('This is no CxF file: it begins with <html>.');
    expect(reason('<CxF/>')).toBe('This CxF file has no objects.');
    expect(reason('<!DOCTYPE CxF [<!ENTITY a "b">]><CxF/>')).toMatch(
      /Line 1: a document type definition is not accepted/,
    );
  });
});

describe('XML', () => {
  test('is read with attributes, text, CDATA, comments and references', () => {
    const root = readXml(
      '\ufeff<?xml version="1.0"?>\n<a:x xmlns:a="u" b="1 &lt; 2" c=\'"\'><!-- no <y> --><y/>t&#x41;&#66;&amp;<![CDATA[<z>&]]></a:x>\n',
    );
    expect(root).toMatchObject({ name: 'x', attributes: { b: '1 < 2', c: '"' }, text: 'tAB&<z>&' });
    expect(root.children.map(({ name }) => name)).toEqual(['y']);
  });

  test('that is not well-formed is refused with its line', () => {
    const cases: [string, RegExp][] = [
      ['<a>\n<b>\n</a>', /^Line 3: expected <\/b>, got <\/a>/],
      ['<a>', /<a> is never closed/],
      ['<a/><b/>', /a second document element/],
      ['<a b=1/>', /in quotes/],
      ['<a b="1" b="2"/>', /occurs twice/],
      ['<a>&nbsp;</a>', /begins no known entity/],
      ['<a>&#xD800;</a>', /begins no known entity/],
      ['<a><!-- </a>', /a comment is never closed/],
      ['text', /text outside/],
      ['', /no document element/],
      ['<!DOCTYPE a><a/>', /not accepted/],
      ['<a>'.repeat(200), /nested deeper/],
    ];
    for (const [text, reason] of cases) expect(() => readXml(text), text.slice(0, 30)).toThrow(reason);
    for (const [text] of cases) expect(() => readXml(text)).toThrow(SyntaxError);
  });
});

describe('damaged files', () => {
  const damaged = (name: string) => {
    const whole = fixture(name);
    return fc
      .tuple(
        fc.nat(whole.length),
        fc.nat(60),
        fc.constantFrom('', '<', '"', '&', 'NaN', '1e999', '-5', 'END_DATA', '\n'),
      )
      .map(([at, length, into]) => whole.slice(0, at) + into + whole.slice(at + length));
  };

  test('never make a reader throw nor give numbers that are not', () => {
    for (const [name, parse] of [
      ['target-20nm-percent.cgats.txt', parseCgats],
      ['target-20nm.cxf', parseCxf],
    ] as const) {
      fc.assert(
        fc.property(damaged(name), (text) => {
          for (const { lab, reflectance } of parse(text).swatches) {
            expect([lab.L, lab.a, lab.b].every(Number.isFinite)).toBe(true);
            expect(reflectance === null || reflectance.every((value) => value >= 0 && value <= 1)).toBe(true);
          }
        }),
        { numRuns: 200 },
      );
    }
  });
});
