import { TYPICAL_DIFFERENCE, isotropicCovariance } from './evidence.ts';
import {
  labUnderDaylight,
  measuredSpectrum,
  parseIlluminant,
  viewingInWords,
  xyzUnderDaylight,
} from './instrument.ts';
import type { Viewing } from './instrument.ts';
import { unreadable } from './swatch.ts';
import type { ReadProblem, ReadSwatch, SwatchReading } from './swatch.ts';

/** A word of the file: a bare token or a quoted text, with its line. */
interface Token {
  readonly text: string;
  readonly quoted: boolean;
  readonly line: number;
}

interface Table {
  readonly keywords: ReadonlyMap<string, string>;
  readonly fields: readonly string[];
  readonly data: readonly Token[];
}

/** The columns of a table that matter here. */
interface Layout {
  readonly id: number;
  readonly name: number;
  readonly lab: readonly [number, number, number] | null;
  readonly xyz: readonly [number, number, number] | null;
  readonly bands: readonly { readonly index: number; readonly wavelength: number }[];
  /** What the field names say of the scale of the spectra; null where custom differs. */
  readonly percent: boolean | null;
}

/**
 * Samples from CGATS.17 text (ISO 28178), as instruments and their programs write it: keyword header, BEGIN_DATA_FORMAT,
 * BEGIN_DATA, several tables one after the other. Spectral fields SPECTRAL_NM380, SPECTRAL_380, SPEC_380, nm380, R_380nm and
 * SPECTRAL_NM/SPECTRAL_PCT pairs. The spectrum comes first, then Lab, then XYZ; Lab and XYZ of another illuminant or observer
 * are converted and the note says so. Rows that cannot be used are reported by line; tables that hold the light of a lamp
 * (MEAS_TYPE) are refused. Never throws.
 */
export function parseCgats(text: string): SwatchReading {
  const tokens = tokenise(text.startsWith('\ufeff') ? text.slice(1) : text);
  const problems: ReadProblem[] = [];
  const tables = readTables(tokens, problems);
  if (tables.length === 0) {
    if (problems.length > 0) return { swatches: [], problems, columns: [], notes: [] };
    return unreadable('This is no CGATS file: BEGIN_DATA_FORMAT and BEGIN_DATA were not found.');
  }
  const swatches: ReadSwatch[] = [];
  const columns: { header: string; meaning: string | null }[] = [];
  const notes: string[] = [];
  for (const table of tables) readTable(table, { swatches, problems, columns, notes });
  problems.sort((a, b) => (a.line ?? 0) - (b.line ?? 0));
  return { swatches, problems, columns, notes };
}

/** A spectrum as a CGATS table has it: neither scaled nor checked, NaN where no number stands. */
export interface CgatsSpectrum {
  readonly line: number;
  readonly name: string;
  readonly wavelengths: readonly number[];
  readonly values: readonly number[];
}

/**
 * The spectra of CGATS.17 text, whatever they measure, with the keywords of the first table that has one: a sample in each
 * row, or one spectrum with a pair of SPECTRAL_NM and value in each row. Never throws.
 */
export function cgatsSpectra(text: string): {
  readonly spectra: readonly CgatsSpectrum[];
  readonly keywords: ReadonlyMap<string, string>;
} {
  const tables = readTables(tokenise(text.startsWith('\ufeff') ? text.slice(1) : text), []);
  for (const { keywords, fields, data } of tables) {
    const { bands, id, name } = layoutOf(fields);
    const pairs = pairsOf(fields);
    if (bands.length === 0 && !pairs) continue;
    const spectra: CgatsSpectrum[] = [];
    for (let i = 0; i + fields.length <= data.length; i += fields.length) {
      const row = data.slice(i, i + fields.length);
      const label = name >= 0 ? name : id;
      spectra.push({
        line: row[0].line,
        name: label >= 0 ? row[label].text : '',
        wavelengths: pairs
          ? pairs.map(({ nm }) => numberOf(row[nm]))
          : bands.map(({ wavelength }) => wavelength),
        values: (pairs?.map(({ value }) => value) ?? bands.map(({ index }) => index)).map((at) =>
          numberOf(row[at]),
        ),
      });
    }
    if (pairs?.length !== 1 || spectra.length < 2) return { spectra, keywords };
    const joined = {
      ...{ line: spectra[0].line, name: '' },
      wavelengths: spectra.map(({ wavelengths }) => wavelengths[0]),
      values: spectra.map(({ values }) => values[0]),
    };
    return { spectra: [joined], keywords };
  }
  return { spectra: [], keywords: new Map() };
}

function numberOf({ text }: Token): number {
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text) ? Number(text) : NaN;
}

function tokenise(text: string): Token[] {
  const tokens: Token[] = [];
  let line = 1;
  const pattern = /(\r\n|\n|\r)|#[^\r\n]*|"((?:[^"\r\n]|"")*)"|'((?:[^'\r\n])*)'|([^\s"]+)|"|\s/g;
  for (const [match, lineBreak, double, single, bare] of text.matchAll(pattern)) {
    if (lineBreak !== undefined) line++;
    else if (double !== undefined) tokens.push({ text: double.replaceAll('""', '"'), quoted: true, line });
    else if (single !== undefined) tokens.push({ text: single, quoted: true, line });
    else if (bare !== undefined) tokens.push({ text: bare, quoted: false, line });
    else if (match === '"') tokens.push({ text: '', quoted: true, line });
  }
  return tokens;
}

function readTables(tokens: readonly Token[], problems: ReadProblem[]): Table[] {
  const tables: Table[] = [];
  let keywords = new Map<string, string>();
  let fields: string[] = [];
  let at = 0;
  const until = (end: string): Token[] | null => {
    const start = at;
    while (at < tokens.length && !(tokens[at].text.toUpperCase() === end && !tokens[at].quoted)) at++;
    if (at >= tokens.length) return null;
    at++;
    return tokens.slice(start, at - 1);
  };
  while (at < tokens.length) {
    const token = tokens[at++];
    const word = token.quoted ? '' : token.text.toUpperCase();
    if (word === 'BEGIN_DATA_FORMAT') {
      const found = until('END_DATA_FORMAT');
      if (!found) {
        problems.push({ line: token.line, reason: 'BEGIN_DATA_FORMAT has no END_DATA_FORMAT.', kept: false });
        break;
      }
      fields = found.map(({ text }) => text);
    } else if (word === 'BEGIN_DATA') {
      const from = at;
      const found = until('END_DATA');
      if (!found)
        problems.push({
          line: token.line,
          reason: 'BEGIN_DATA has no END_DATA; the file may be cut short.',
          kept: true,
        });
      tables.push({ keywords, fields, data: found ?? tokens.slice(from) });
      keywords = new Map(keywords);
    } else if (word !== '' && at < tokens.length && tokens[at].line === token.line) {
      keywords.set(word, tokens[at++].text);
      while (at < tokens.length && tokens[at].line === token.line) at++;
    }
  }
  return tables;
}

interface Found {
  readonly swatches: ReadSwatch[];
  readonly problems: ReadProblem[];
  readonly columns: { header: string; meaning: string | null }[];
  readonly notes: string[];
}

function readTable({ keywords, fields, data }: Table, found: Found): void {
  const { problems, columns, notes } = found;
  const line = data[0]?.line ?? null;
  if (fields.length === 0) {
    problems.push({ line, reason: 'Data without a data format before it.', kept: false });
    return;
  }
  if (measurementOf(keywords).of === 'lamp') {
    const reason =
      'This file holds the light of a lamp: bring it in under Light, as a lamp that was measured.';
    problems.push({ line, reason, kept: false });
    return;
  }
  const layout = layoutOf(fields);
  for (const [index, header] of fields.entries()) columns.push({ header, meaning: meaningOf(index, layout) });
  if (!layout.lab && !layout.xyz && layout.bands.length === 0 && !pairsOf(fields)) {
    problems.push({ line, reason: 'No Lab, XYZ or spectral fields in the data format.', kept: false });
    return;
  }
  const viewing = viewingOf(keywords);
  if (viewing.note && layout.bands.length === 0 && !pairsOf(fields)) notes.push(viewing.note);
  const rows: Token[][] = [];
  for (let i = 0; i + fields.length <= data.length; i += fields.length)
    rows.push(data.slice(i, i + fields.length));
  const rest = data.length % fields.length;
  if (rest > 0) {
    problems.push({
      line: data[data.length - rest].line,
      reason: `The last sample has ${rest} of ${fields.length} values; not used.`,
      kept: false,
    });
  }
  const stated = Number(keywords.get('NUMBER_OF_SETS'));
  if (Number.isInteger(stated) && stated !== rows.length) {
    problems.push({ line, reason: `NUMBER_OF_SETS says ${stated}, found ${rows.length}.`, kept: true });
  }
  const scale = spectralScale(rows, layout, fields);
  for (const row of rows)
    readSample(
      row,
      { layout, fields, viewing: viewing.viewing, scale, maker: keywords.get('MANUFACTURER') ?? '' },
      found,
    );
}

function layoutOf(fields: readonly string[]): Layout {
  const upper = fields.map((field) => field.toUpperCase());
  const at = (...names: string[]) =>
    names.map((name) => upper.indexOf(name)).find((index) => index >= 0) ?? -1;
  const three = (...names: string[]): [number, number, number] | null => {
    const [x, y, z] = names.map((name) => upper.indexOf(name));
    return x >= 0 && y >= 0 && z >= 0 ? [x, y, z] : null;
  };
  const bands = upper.flatMap((field, index) => {
    const [, nm] =
      /^(?:SPECTRAL_?(?:NM)?_?|SPEC_?|NM_?|R_?|SPECTRAL_DEC|SPECTRAL_PCT)(\d{3,4}(?:\.\d+)?)(?:_?NM)?$/.exec(
        field,
      ) ?? [];
    return nm === undefined ? [] : [{ index, wavelength: Number(nm) }];
  });
  const first = bands.length > 0 ? upper[bands[0].index] : '';
  return {
    id: at('SAMPLE_ID', 'SAMPLEID', 'ID'),
    name: at('SAMPLE_NAME', 'SAMPLENAME', 'NAME', 'SAMPLE_LOC', 'STRING'),
    lab: three('LAB_L', 'LAB_A', 'LAB_B'),
    xyz: three('XYZ_X', 'XYZ_Y', 'XYZ_Z'),
    bands: bands.toSorted((a, b) => a.wavelength - b.wavelength),
    percent: first.startsWith('SPECTRAL_PCT') ? true : first.startsWith('SPECTRAL_DEC') ? false : null,
  };
}

function meaningOf(index: number, layout: Layout): string | null {
  if (index === layout.id) return 'code';
  if (index === layout.name) return 'name';
  if (layout.lab?.includes(index)) return 'Lab';
  if (layout.xyz?.includes(index)) return 'XYZ';
  const band = layout.bands.find((candidate) => candidate.index === index);
  return band ? `reflectance at ${band.wavelength} nm` : null;
}

/**
 * What the keywords say was measured: in their word (EMISSION, REFLECTIVE; empty where there is none), and of what, null where
 * nothing tells. A lamp is not lit by another: who names the illumination has measured a surface.
 */
export function measurementOf(keywords: ReadonlyMap<string, string>): {
  readonly word: string;
  readonly of: 'lamp' | 'surface' | null;
} {
  const word = keywords.get('MEAS_TYPE') ?? keywords.get('MEASUREMENT_TYPE') ?? '';
  // Remission is reflection.
  if (/reflect|transmi|remiss/i.test(word)) return { word, of: 'surface' };
  if (/emi|ambient/i.test(word)) return { word, of: 'lamp' };
  const lit = keywords.has('ILLUMINATION_NAME') || /illumina/i.test(keywords.get('MEASUREMENT_SOURCE') ?? '');
  return { word, of: lit ? 'surface' : null };
}

/** Places of SPECTRAL_NM and of the value that follows it, where spectra come as wavelength and value in turns. */
function pairsOf(fields: readonly string[]): { nm: number; value: number; percent: boolean }[] | null {
  const pairs = fields.flatMap((field, index) => {
    const next = fields[index + 1]?.toUpperCase();
    if (field.toUpperCase() !== 'SPECTRAL_NM' || (next !== 'SPECTRAL_PCT' && next !== 'SPECTRAL_DEC'))
      return [];
    return [{ nm: index, value: index + 1, percent: next === 'SPECTRAL_PCT' }];
  });
  return pairs.length > 0 ? pairs : null;
}

/** Illuminant and observer of Lab and XYZ; instruments for print write D50 and 2°, which is what a silent file means (ISO 13655). */
function viewingOf(keywords: ReadonlyMap<string, string>): { viewing: Viewing; note: string } {
  const source = `${keywords.get('MEASUREMENT_SOURCE') ?? ''} ${keywords.get('WEIGHTING_FUNCTION') ?? ''}`;
  const named =
    keywords.get('ILLUMINATION_NAME') ??
    keywords.get('ILLUMINANT') ??
    /ILLUMINA(?:NT|TION)[=,_ "]+\s*"?([A-Z]+\d*)/i.exec(source)?.[1];
  const angle =
    keywords.get('OBSERVER_ANGLE') ??
    keywords.get('OBSERVER') ??
    /OBSERVER(?:ANGLE)?[=,_ "]+\s*"?(\d+)/i.exec(source)?.[1];
  const light = named === undefined ? null : parseIlluminant(named);
  const observer = angle === undefined ? null : /^\s*10/.test(angle) ? 10 : /^\s*2/.test(angle) ? 2 : null;
  const viewing: Viewing = { illuminant: light ?? 'D50', observer: observer ?? 2 };
  if (light && observer) return { viewing, note: '' };
  const unknown =
    named !== undefined && !light
      ? `Illuminant “${named}” is not known here`
      : 'Illuminant or observer is not stated';
  return {
    viewing,
    note: `${unknown}: Lab and XYZ are taken as ${viewingInWords(viewing)}, as ISO 13655 has it.`,
  };
}

/** Whether spectra are in percent: as the field names say, else by what fits the file's values best. */
function spectralScale(
  rows: readonly (readonly Token[])[],
  { bands, percent }: Layout,
  fields: readonly string[],
): number {
  if (percent !== null) return percent ? 100 : 1;
  if (fields.some((field) => field.toUpperCase() === 'SPECTRAL_NM')) return 1;
  let largest = 0;
  for (const row of rows)
    for (const { index } of bands) largest = Math.max(largest, Number(row[index].text) || 0);
  // A file of reflectances 0-1 stays below 1.5 even with brightener; one in percent goes above it unless all samples are pitch black.
  return largest > 1.5 ? 100 : 1;
}

interface Reading {
  readonly layout: Layout;
  readonly fields: readonly string[];
  readonly viewing: Viewing;
  readonly scale: number;
  readonly maker: string;
}

function readSample(
  row: readonly Token[],
  { layout, fields, viewing, scale, maker }: Reading,
  { swatches, problems }: Found,
): void {
  const line = row[0].line;
  const code = layout.id >= 0 ? row[layout.id].text : '';
  const name = layout.name >= 0 ? row[layout.name].text : '';
  const number = (index: number) => numberOf(row[index]);
  const reject = (reason: string) => {
    problems.push({ line, reason: `Sample ${name || code || 'without a name'}: ${reason}.`, kept: false });
  };
  const base = {
    ...{
      line,
      kind: null,
      maker,
      code,
      name: name || code,
      sheen: null,
      price: null,
      leadTimeDays: null,
      publishedLrv: null,
    },
    ...{ covariance: isotropicCovariance(TYPICAL_DIFFERENCE.instrument), source: 'instrument' as const },
  };
  const pairs = pairsOf(fields);
  if (layout.bands.length > 0 || pairs) {
    const wavelengths = pairs
      ? pairs.map(({ nm }) => number(nm))
      : layout.bands.map(({ wavelength }) => wavelength);
    const values = pairs
      ? pairs.map(({ value, percent }) => number(value) / (percent ? 100 : 1))
      : layout.bands.map(({ index }) => number(index) / scale);
    const measured = measuredSpectrum(wavelengths, values);
    if (typeof measured !== 'string') {
      const notes = [`Measured: ${measured.note}.`];
      swatches.push({ ...base, lab: measured.lab, reflectance: measured.reflectance, notes });
      return;
    }
    if (!layout.lab && !layout.xyz) return reject(measured);
    problems.push({
      line,
      reason: `Sample ${name || code}: ${measured}; its Lab or XYZ was taken instead.`,
      kept: true,
    });
  }
  const values = (layout.lab ?? layout.xyz)!.map(number);
  if (!values.every(Number.isFinite)) return reject(`${layout.lab ? 'Lab' : 'XYZ'} is not three numbers`);
  const [x, y, z] = values;
  if (layout.lab ? x < 0 || x > 101 || Math.hypot(y, z) > 150 : x < 0 || y < 0 || y > 110 || z < 0) {
    return reject(`${layout.lab ? 'Lab' : 'XYZ'} ${values.join(' ')} is no surface`);
  }
  const here = layout.lab
    ? labUnderDaylight({ L: x, a: y, b: z }, viewing)
    : xyzUnderDaylight({ X: x, Y: y, Z: z }, viewing);
  const converted = viewing.illuminant !== 'D65' || viewing.observer !== 10;
  const covariance = isotropicCovariance(
    converted ? TYPICAL_DIFFERENCE['typed Lab'] : TYPICAL_DIFFERENCE.instrument,
  );
  swatches.push({
    ...base,
    covariance,
    lab: here.lab,
    reflectance: null,
    notes: [`Measured ${layout.lab ? 'Lab' : 'XYZ'}, ${here.note}.`],
  });
}
