import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_2,
  WAVELENGTHS,
  cctOhno2014,
  colourRenderingIndex,
  illuminant,
  whitePoint,
} from '#lib/colour/index.ts';
import { LightFileError, readLightFile } from '#lib/finish/index.ts';

const fixture = (name: string) =>
  readFileSync(new URL(`../fixtures/light-files/${name}`, import.meta.url), 'utf8');
const read = (name: string) => readLightFile(fixture(name), name);

/** The invented lamps: a blue band at 450 nm, 20 nm wide, of the given height, and one of height 1 at 590, 120 wide. */
const invented = (blue: number) => {
  const power = WAVELENGTHS.map(
    (nm) => blue * 2 ** -(((2 * (nm - 450)) / 20) ** 2) + 2 ** -(((2 * (nm - 590)) / 120) ** 2),
  );
  const top = Math.max(...power);
  return power.map((value) => value / top);
};

/** Illuminant A at any wavelength, ISO/CIE 11664-2: 100 at 560 nm. */
const illuminantA = (nm: number) =>
  100 * (560 / nm) ** 5 * (Math.expm1(1.435e7 / (2848 * 560)) / Math.expm1(1.435e7 / (2848 * nm)));

const range = (from: number, to: number, step: number) =>
  Array.from({ length: Math.round((to - from) / step) + 1 }, (_, i) => from + i * step);
const lines = (wavelengths: readonly number[], value: (nm: number) => number | string, between = ',') =>
  wavelengths.map((nm) => `${nm}${between}${value(nm)}`).join('\n');
const problem = (text: string) => {
  try {
    readLightFile(text, 'lamp.csv');
  } catch (error) {
    if (error instanceof LightFileError) return error;
    throw error;
  }
  return null;
};

describe('a file of a lamp', () => {
  test('in ANSI/IES TM-27 XML', () => {
    const { spectrum, name, notes } = read('pendant.spdx');
    expect(name).toBe('Pendant over the invented table');
    expect(notes).toEqual(['The file covers 400-700 nm; outside it is taken as 0.']);
    expect(spectrum).toHaveLength(81);
    expect(Math.max(...spectrum)).toBe(1);
    const expected = invented(0.5);
    WAVELENGTHS.forEach((nm, i) => {
      if (nm < 400 || nm > 700) expect(spectrum[i]).toBe(0);
      // Sprague's polynomial between values by 10 nm, of a band 20 nm wide.
      else expect(Math.abs(spectrum[i] - expected[i]), `${nm} nm`).toBeLessThan(0.02);
    });
  });

  test('with semicolons and decimal commas under a header, the first of two columns', () => {
    const { spectrum, name, notes } = read('kitchen-strip.csv');
    expect(name).toBe('kitchen-strip');
    expect(notes).toEqual([
      'The file has 2 columns of values; the first, “Strip on full [mW/nm]”, was taken.',
      'Small units of power: only the shape of the spectrum is used, not its size.',
    ]);
    const expected = invented(0.8);
    spectrum.forEach((value, i) => expect(value).toBeCloseTo(expected[i], 5));
  });

  test('in photon flux, with tabs', () => {
    const { spectrum, notes } = read('shelf-light.txt');
    expect(notes).toContain('Photon flux was turned into power.');
    const expected = invented(1.2);
    // The average over 5 nm takes a few hundredths off a peak 20 nm wide.
    spectrum.forEach((value, i) => expect(Math.abs(value - expected[i])).toBeLessThan(0.04));
  });

  test('in CGATS.17', () => {
    const { spectrum, name, notes } = read('ceiling-spot.sp');
    expect(name).toBe('Ceiling spot, invented');
    expect(notes).toEqual(['The file covers 380-730 nm; outside it is taken as 0.']);
    const expected = invented(0.6);
    for (let i = 0; i <= 70; i++) expect(Math.abs(spectrum[i] - expected[i])).toBeLessThan(0.025);
  });

  test('by 1 nm keeps the colour of the lamp: LED-B1 has its published CCT and Ra', () => {
    const { spectrum, notes } = read('led-b1-1nm.csv');
    expect(notes).toEqual(['Values closer than 5 nm were averaged to 5 nm.']);
    const light = Float64Array.from(spectrum);
    // CIE 15:2018: 2733 K; Ra 82.
    expect(Math.abs(cctOhno2014(whitePoint(light, OBSERVER_2))!.cct - 2733)).toBeLessThan(3);
    expect(Math.abs(colourRenderingIndex(light)!.Ra - 82)).toBeLessThan(0.5);
  });

  test.each([
    ['comma', ',', false],
    ['comma and blank', ', ', false],
    ['semicolon', ';', false],
    ['tab', '\t', false],
    ['blanks', '   ', false],
    ['semicolon and decimal comma', ';', true],
    ['tab and decimal comma', '\t', true],
    ['blank and decimal comma', ' ', true],
  ])('is read with %s between the numbers', (_, between, comma) => {
    const text = range(380, 780, 5)
      .map((nm) => [nm.toFixed(1), illuminantA(nm).toFixed(5)])
      .map((cells) => (comma ? cells.map((cell) => cell.replace('.', ',')) : cells).join(between))
      .join('\r\n');
    const A = illuminant('A');
    const top = Math.max(...A);
    for (const whole of [text, `Lamp\r\nnm${between}W\r\n${text}\r\n`, `\ufeff# a comment\r\n\r\n${text}`]) {
      const { spectrum, notes } = readLightFile(whole, 'A.txt');
      // The table has six figures.
      spectrum.forEach((value, i) => expect(value).toBeCloseTo(A[i] / top, 5));
      expect(notes).toEqual([]);
    }
  });

  test('keeps the power of a line between grid points', () => {
    const line = (nm: number) => 2 ** -(((2 * (nm - 546.1)) / 2) ** 2);
    const { spectrum } = readLightFile(
      lines(range(380, 780, 0.5), (nm) => 0.01 + line(nm)),
      'x',
    );
    const share = spectrum.reduce((sum, value, i) => sum + (value - spectrum[0]) * WAVELENGTHS[i], 0);
    const power = spectrum.reduce((sum, value) => sum + value - spectrum[0], 0);
    expect(share / power).toBeCloseTo(546.1, 1);
    // Area of the line over that of the ground of 0.01 over 5 nm, from the integral of a Gaussian.
    const area = Math.sqrt(Math.PI / Math.LN2);
    expect(power / spectrum[0]).toBeCloseTo(area / (0.01 * 5), 1);
  });

  test('with uneven, descending or micrometre wavelengths, and a running number', () => {
    const uneven = [380, 388, 401, 410, 418, 430, 450, 470, 500, 530, 560, 600, 640, 680, 720, 750, 780];
    const A = illuminant('A');
    readLightFile(lines(uneven, illuminantA), 'x').spectrum.forEach((value, i) =>
      // Straight lines between values up to 40 nm apart, of a gentle curve.
      expect(Math.abs(value - A[i] / A[80])).toBeLessThan(0.02),
    );
    const gap = uneven.filter((nm) => nm !== 680);
    expect(() => readLightFile(lines(gap, illuminantA), 'x')).toThrow(
      'Line 14: Nothing between 640 and 720 nm',
    );
    const down = readLightFile(lines(range(380, 780, 5).toReversed(), illuminantA), 'x');
    const up = readLightFile(lines(range(380, 780, 5), illuminantA), 'x');
    expect(down.spectrum).toEqual(up.spectrum);
    expect(down.notes).toEqual(['Wavelengths stood in descending order and were turned round.']);
    const micrometres = range(380, 780, 5).map((nm) => `${nm / 1000},${illuminantA(nm)}`);
    expect(readLightFile(micrometres.join('\n'), 'x').spectrum).toEqual(up.spectrum);
    const numbered = range(380, 780, 5).map((nm, i) => `${i + 1};${nm};${illuminantA(nm)}`);
    expect(readLightFile(`No;wavelength;power\n${numbered.join('\n')}`, 'x').spectrum).toEqual(up.spectrum);
  });

  test('says what it changed: noise below 0, missing ends, coarse steps, lines without numbers', () => {
    const noisy = readLightFile(
      lines(range(400, 700, 20), (nm) => (nm === 420 ? -0.5 : illuminantA(nm))) + '\nend of file, ok',
      'x',
    );
    expect(noisy.notes).toEqual([
      'Line 17 holds no numbers and was passed over.',
      '1 value slightly below 0 taken as 0.',
      'Values by 20 nm: narrow lines of the lamp may be missing.',
      'The file covers 400-700 nm; outside it is taken as 0.',
    ]);
    expect(Math.min(...noisy.spectrum)).toBe(0);
    const part = readLightFile(lines(range(450, 600, 5), illuminantA), 'x');
    expect(part.notes.at(-1)).toContain('cannot be trusted');
  });

  test('takes its name from the file without folder and ending', () => {
    const text = lines(range(380, 780, 5), illuminantA);
    expect(readLightFile(text, 'C:\\lamps\\Hall lamp.v2.csv').name).toBe('Hall lamp.v2');
    expect(readLightFile(text, '').name).toBe('Measured lamp');
    expect(readLightFile(text, 'a'.repeat(300)).name).toHaveLength(80);
  });

  test('in CGATS with one wavelength a row, or several lamps', () => {
    const rows = range(380, 780, 10).map((nm) => `${nm} ${illuminantA(nm).toFixed(4)}`);
    const head = 'CGATS.17\nBEGIN_DATA_FORMAT\nSPECTRAL_NM SPECTRAL_DEC\nEND_DATA_FORMAT\nBEGIN_DATA\n';
    const A = illuminant('A');
    const { spectrum, notes } = readLightFile(`${head}${rows.join('\n')}\nEND_DATA\n`, 'x');
    spectrum.forEach((value, i) => expect(value).toBeCloseTo(A[i] / A[80], 3));
    expect(notes).toEqual(['The file does not say that it measured a lamp; it was taken as one.']);
    const bands = range(380, 780, 10);
    const two = `CGATS.17\nMEASUREMENT_TYPE "EMISSIVE"\nBEGIN_DATA_FORMAT\nSAMPLE_NAME ${bands.map((nm) => `nm${nm}`).join(' ')}\nEND_DATA_FORMAT\nBEGIN_DATA\n"Left" ${bands.map(illuminantA).join(' ')}\n"Right" ${bands.join(' ')}\nEND_DATA`;
    const first = readLightFile(two, 'x');
    expect(first.name).toBe('Left');
    expect(first.notes).toEqual(['The file has 2 spectra; the first, “Left”, was taken.']);
  });
});

describe('what is no spectrum of a lamp is refused with line and remedy', () => {
  const good = range(380, 780, 5);
  test.each([
    ['nothing', '', null, 'empty'],
    ['words', 'This is a letter.\nIt has no numbers.', null, 'No columns of numbers'],
    ['bytes', 'PK\0\u0003', null, 'no text file'],
    ['one column', good.join('\n'), null, 'No columns of numbers'],
    ['a value that is none', `nm,W\n380,1\n385,2\n390,x\n${lines(range(395, 500, 5), () => 3)}`, 4, '“x”'],
    ['a missing value', `380,1\n385,2\n390,\n395,3`, 3, 'got nothing'],
    ['one wavelength twice', `380,1\n385,2\n385,3\n${lines(range(390, 500, 5), (nm) => nm)}`, 3, 'twice'],
    ['disorder', `380,1\n385,2\n383,3\n${lines(range(390, 500, 5), (nm) => nm)}`, 3, 'follows 385 nm'],
    ['a negative value', lines(good, (nm) => (nm === 400 ? -9 : 10)), 5, 'too far below 0'],
    ['no light', lines(good, () => 0), null, 'No power'],
    ['a constant', lines(good, () => 7), null, 'All values are the same'],
    ['too few values', lines(range(380, 780, 100), (nm) => nm), null, 'Only 5'],
    ['a sliver', lines(range(500, 509, 1), (nm) => nm), null, 'cover 500-509 nm'],
    ['infrared', lines(range(900, 1700, 5), (nm) => nm), null, 'cover 900-1700 nm'],
    [
      'wavenumbers',
      `wavenumber (cm-1),power\n${lines(range(13000, 26000, 100), (x) => x)}`,
      1,
      'by wavelength',
    ],
    ['power per wavenumber', `nm;W/cm⁻¹\n${lines(good, (nm) => nm, ';')}`, 1, 'by wavelength'],
    ['wavenumbers without a header', lines(range(13000, 26000, 100), (x) => x), 1, 'no wavelength of light'],
    ['a value beyond all numbers', lines(good, (nm) => (nm === 390 ? '1e999' : nm)), 3, 'no number'],
    ['a reflectance', `nm,reflectance\n${lines(good, (nm) => nm / 1000)}`, 1, 'surface'],
    [
      'a CGATS file of Lab',
      'BEGIN_DATA_FORMAT\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 2 3\nEND_DATA',
      null,
      'No spectrum',
    ],
    [
      'DOCTYPE',
      '<?xml version="1.0"?>\n<!DOCTYPE a [<!ENTITY b "c">]>\n<IESTM2714/>',
      2,
      'document type definition',
    ],
    ['broken XML', '<IESTM2714>\n<Header>\n</IESTM2714>', 3, 'no readable XML'],
    ['other XML', '<CxF><Object/></CxF>', null, '<CxF>'],
  ])('%s', (_, text, line, reason) => {
    const found = problem(text);
    expect(found).toBeInstanceOf(LightFileError);
    expect(found!.line).toBe(line);
    expect(found!.message).toContain(reason);
    if (line !== null) expect(found!.message).toMatch(new RegExp(`^Line ${line}: `));
    expect(found!.message.endsWith('.')).toBe(true);
  });

  test('a surface in TM-27 or CGATS, and more than 2 MB', () => {
    const surface = fixture('pendant.spdx').replace('>relative<', '>reflectance<');
    expect(problem(surface)!.message).toContain('The file holds reflectance');
    const gap = fixture('pendant.spdx').replace('wavelength="450.0"', 'wave="450.0"');
    expect(problem(gap)!.message).toContain('SpectralData 6 has no wavelength');
    const cgats = fixture('ceiling-spot.sp').replace('EMISSION', 'REFLECTIVE');
    expect(problem(cgats)!.message).toContain('reflective');
    expect(problem(cgats.replace('REFLECTIVE', 'REMISSION'))!.message).toContain('remission');
    const swatches = new URL('../fixtures/finish/target-10nm.cgats.txt', import.meta.url);
    expect(problem(readFileSync(swatches, 'utf8'))!.message).toContain('measured a surface, not a lamp');
    expect(problem('1'.repeat(2_000_001))!.message).toContain('2 MB');
  });

  test.each([
    ['lines of one value', '380,1\n'.repeat(330_000)],
    ['quotation marks', '"380","1"\n"'.repeat(150_000)],
    ['empty lines', `${'\n'.repeat(1_999_990)}x`],
    ['blanks in a cell', `1${' '.repeat(1_999_990)}x,2`],
    ['keywords of CGATS', `BEGIN_DATA\n${'BEGIN_DATA '.repeat(180_000)}`],
    ['open elements', '<a>'.repeat(660_000)],
  ])('nearly 2 MB of %s are refused before one loses patience', (_, text) => {
    const start = performance.now();
    expect(problem(text)).toBeInstanceOf(LightFileError);
    // Far above what it takes on a busy machine, far below what a quadratic reader would.
    expect(performance.now() - start).toBeLessThan(5000);
  });
});

describe('whatever text comes', () => {
  const sound = (text: string) => {
    const found = (() => {
      try {
        return readLightFile(text, 'x.csv');
      } catch (error) {
        if (error instanceof LightFileError) return null;
        throw error;
      }
    })();
    if (!found) return;
    expect(found.spectrum).toHaveLength(81);
    expect(found.spectrum.every((value) => value >= 0 && value <= 1)).toBe(true);
    expect(Math.max(...found.spectrum)).toBe(1);
  };
  const runs = { seed: 20261125, numRuns: 400 };

  test('an answer is a spectrum and a refusal a LightFileError', () => {
    fc.assert(fc.property(fc.string({ unit: 'binary', maxLength: 300 }), sound), runs);
    const piece = fc.oneof(
      fc.constantFrom(
        ',',
        ';',
        '\t',
        ' ',
        '\n',
        '\r\n',
        '"',
        '<',
        '>',
        'nm',
        '-',
        'e',
        '1e308',
        '5e-324',
        'NaN',
        '#',
        'W/cm-1',
      ),
      fc.constantFrom(
        'BEGIN_DATA_FORMAT',
        'END_DATA_FORMAT',
        'BEGIN_DATA\n',
        'END_DATA',
        'SPEC_380',
        'SPECTRAL_NM',
        'SPECTRAL_DEC',
      ),
      fc.constantFrom(
        '<IESTM2714>',
        '</IESTM2714>',
        '<SpectralDistribution>',
        '<SpectralData wavelength="400">',
        '</SpectralData>',
      ),
      fc.integer({ min: 300, max: 900 }).map(String),
      fc.double({ noNaN: true }).map(String),
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 80 }), (pieces) => sound(pieces.join(''))),
      runs,
    );
  });

  test('also where a good file is damaged', () => {
    const files = ['pendant.spdx', 'kitchen-strip.csv', 'shelf-light.txt', 'ceiling-spot.sp'].map(fixture);
    fc.assert(
      fc.property(
        fc.constantFrom(...files),
        fc.array(
          fc.tuple(
            fc.double({ min: 0, max: 1, noNaN: true }),
            fc.nat({ max: 40 }),
            fc.string({ maxLength: 6 }),
          ),
          { maxLength: 5 },
        ),
        (file, edits) => {
          let text = file;
          for (const [place, cut, put] of edits) {
            const at = Math.floor(place * text.length);
            text = text.slice(0, at) + put + text.slice(at + cut);
          }
          sound(text);
        },
      ),
      runs,
    );
  });

  test('values of any size give the same spectrum', () => {
    const at = (scale: number) =>
      readLightFile(
        lines(range(380, 780, 5), (nm) => illuminantA(nm) * scale),
        'x',
      ).spectrum;
    const one = at(1);
    for (const scale of [1e-250, 1e-9, 1e9, 1e300]) {
      at(scale).forEach((value, i) => expect(value).toBeCloseTo(one[i], 9));
    }
  });
});
