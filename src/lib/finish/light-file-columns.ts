import { readCsv } from './csv.ts';
import type { CsvRecord } from './csv.ts';
import { LightFileError } from './light-file-samples.ts';
import type { LightSamples } from './light-file-samples.ts';

/** Samples from columns of text, with what was understood of them in sentences. */
export interface LightColumns extends LightSamples {
  readonly notes: readonly string[];
}

/** Characters of a cell beyond which it is no number. */
const LONGEST_NUMBER = 60;

const WAVELENGTH = /wave|lambda|λ|^\W*nm\b/i;
const WAVENUMBER = /cm\s*\^?\s*[-−]\s*1(?!\d)|cm⁻¹|1\s*\/\s*cm\b|wave\s?number|\bTHz\b|\beV\b/i;
const SURFACE = /reflect|transmi|absor[bp]|%\s*[RT]\b/i;
const PHOTONS = /[µμu]mol|micromol|photon|quanta|\bppf/i;
const SMALL_UNIT = /(?:^|[^a-z])([mµμu]W)\b|(milli|micro)watt/i;
const COUNTS = /\bcounts?\b|\braw\b|\badc\b/i;

/**
 * Two or more columns of numbers, wavelength and power, separated by semicolon, tab, blanks or comma, with a decimal comma
 * where the separator is none, header and comment lines above. Of several columns of power the first is taken. Photon flux
 * becomes power (times 1 / wavelength).
 * Throws LightFileError where there are no such columns or they are by wavenumber or of a surface.
 */
export function lightColumns(text: string): LightColumns {
  const records = bestRecords(text);
  const start = records.findIndex(
    (record, i) => isData(record) && (i + 1 >= records.length || isData(records[i + 1])),
  );
  if (start < 0) {
    throw new LightFileError(
      null,
      'No columns of numbers were found. Expected wavelength in nm and power, two numbers a line.',
    );
  }
  const header = columnNames(records.slice(0, start));
  const width = records[start].cells.length;
  const labels = Array.from({ length: width }, (_, column) =>
    header
      .map(({ cells }) => cells[column]?.trim() ?? '')
      .filter((cell) => cell !== '')
      .join(' '),
  );
  // A running number may stand before the wavelength; only a header can tell, and only where the first column is no wavelength.
  const named = labels.findIndex((label) => WAVELENGTH.test(label));
  const wave = named > 0 && (numberIn(records[start].cells[0]) ?? 0) < 100 ? named : 0;
  const line = records[start].line;
  if (labels.some((label) => WAVENUMBER.test(label))) {
    throw new LightFileError(
      header[0]?.line ?? line,
      'The values are by wavenumber or frequency. Export them by wavelength in nm.',
    );
  }
  const powers = labels.flatMap((_, i) =>
    i > wave && numberIn(records[start].cells[i]) !== null ? [i] : [],
  );
  if (powers.length === 0) {
    throw new LightFileError(
      line,
      'No column of power beside the wavelength. Export wavelength and power, two numbers a line.',
    );
  }
  const label = labels[powers[0]];
  if (SURFACE.test(label)) {
    throw new LightFileError(
      header.at(-1)?.line ?? line,
      `“${label}” is a property of a surface, not of a lamp. Add that file as a swatch, or export the lamp's power.`,
    );
  }
  const notes =
    powers.length > 1
      ? [
          `The file has ${powers.length} columns of values; the first${label === '' ? '' : `, “${label}”,`} was taken.`,
        ]
      : [];
  const samples = samplesOf(records.slice(start), { wave, power: powers[0], notes });
  if (COUNTS.test(label))
    notes.push('The values are counts of an instrument, perhaps not corrected for it: colours may be off.');
  if (SMALL_UNIT.test(label))
    notes.push('Small units of power: only the shape of the spectrum is used, not its size.');
  if (!PHOTONS.test(label)) return { ...samples, notes };
  notes.push('Photon flux was turned into power.');
  return { ...samples, values: samples.values.map((value, i) => value / samples.wavelengths[i]), notes };
}

/** The records that name columns and their units: from the last that speaks of wavelength on, else the last of all. */
function columnNames(above: readonly CsvRecord[]): readonly CsvRecord[] {
  const named = above.findLastIndex(({ cells }) =>
    cells.some((cell) => WAVELENGTH.test(cell) || WAVENUMBER.test(cell)),
  );
  return above.slice(named >= 0 ? named : -1);
}

/** Characters at the beginning that decide which separator a file has; headers are shorter. */
const SAMPLE = 50_000;

const SPLITS: readonly ((text: string) => readonly CsvRecord[])[] = [
  (text) => readCsv(text, ';').records,
  (text) => readCsv(text, '\t').records,
  (text) => text.split(/\r\n|\n|\r/).map((line, i) => ({ line: i + 1, cells: line.trim().split(/\s+/) })),
  (text) => readCsv(text, ',').records,
];

/** The text split by the separator that makes the most lines of two numbers; with equal merit the one less often part of a number. */
function bestRecords(text: string): readonly CsvRecord[] {
  const sample = text.slice(0, SAMPLE);
  const counts = SPLITS.map((split) => split(sample).filter(isData).length);
  const split = SPLITS[counts.indexOf(Math.max(...counts))];
  return split(text)
    .map(withoutComment)
    .filter(({ cells }) => cells.some((cell) => cell.trim() !== ''));
}

/** A comment line is read as a header line: it may name the columns. */
function withoutComment({ line, cells }: CsvRecord): CsvRecord {
  const [first, ...rest] = cells;
  return { line, cells: [first.replace(/^\s*(?:#|\/\/|%|!)+\s*/, ''), ...rest] };
}

function isData({ cells }: CsvRecord): boolean {
  return cells.length > 1 && numberIn(cells[0]) !== null && numberIn(cells[1]) !== null;
}

function samplesOf(
  records: readonly CsvRecord[],
  { wave, power, notes }: { wave: number; power: number; notes: string[] },
): LightSamples {
  const wavelengths: number[] = [];
  const values: number[] = [];
  const lines: number[] = [];
  let passed = 0;
  let firstPassed = 0;
  for (const { line, cells } of records) {
    const wavelength = numberIn(cells[wave] ?? '');
    if (wavelength === null) {
      passed++;
      if (passed === 1) firstPassed = line;
      continue;
    }
    const cell = (cells[power] ?? '').trim();
    const value = numberIn(cell);
    if (value === null) {
      throw new LightFileError(
        line,
        `Expected the power at ${wavelength} nm, got ${cell === '' ? 'nothing' : `“${cell.slice(0, 40)}”`}. Correct that value, or leave out the line.`,
      );
    }
    wavelengths.push(wavelength);
    values.push(value);
    lines.push(line);
  }
  if (passed > 0) {
    notes.push(
      passed === 1
        ? `Line ${firstPassed} holds no numbers and was passed over.`
        : `${passed} lines without numbers, the first line ${firstPassed}, were passed over.`,
    );
  }
  return { wavelengths, values, lines };
}

/** A number with decimal point or comma, a unit nm allowed; null for anything else. */
function numberIn(cell: string): number | null {
  if (cell.length > LONGEST_NUMBER) return null;
  const plain = cell
    .trim()
    .replace(/\s*nm$/i, '')
    .replace(/^−/, '-');
  if (!/^[+-]?(\d+[.,]?\d*|[.,]\d+)(e[+-]?\d+)?$/i.test(plain)) return null;
  return Number(plain.replace(',', '.'));
}
