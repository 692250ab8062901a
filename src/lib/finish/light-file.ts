import { cgatsSpectra, measurementOf } from './cgats.ts';
import { lightColumns } from './light-file-columns.ts';
import { LightFileError, lampOnGrid } from './light-file-samples.ts';
import type { LightSamples } from './light-file-samples.ts';
import { childNamed, elementsNamed, readXml } from './xml.ts';
import type { XmlElement } from './xml.ts';

/** The light of a lamp as a file has it. */
export interface LightFile {
  /** Relative spectral power, 81 values at 380-780 nm by 5, 1 at the maximum. */
  readonly spectrum: number[];
  /** What the file calls the lamp, else the name of the file. */
  readonly name: string;
  /** What was understood, chosen or changed, in sentences. */
  readonly notes: string[];
}

/** Longest text read, characters: a spectrum needs some kilobytes. */
const LONGEST = 2_000_000;

const LONGEST_NAME = 80;

/** Quantities of TM-27 that light has; the others are of surfaces. */
const LIGHT_QUANTITIES = ['flux', 'intensity', 'irradiance', 'radiance', 'exitance', 'relative', 'other'];

/**
 * The spectral power distribution of a lamp from a file: ANSI/IES TM-27 XML, CGATS.17 text, or columns of wavelength and
 * power (CSV, TXT). Only the shape is kept.
 * Throws LightFileError, and nothing else, with the line and what to do, for what is no spectrum of a lamp.
 * Source: element names and quantities of IES TM-27-14 as open readers and writers of it have them (not read in the standard);
 * CGATS.17 (ISO 28178).
 */
export function readLightFile(text: string, fileName: string): LightFile {
  if (text.length > LONGEST) {
    throw new LightFileError(
      null,
      'The file is larger than 2 MB. Export the spectrum of one lamp, a value every 1 to 5 nm.',
    );
  }
  if (text.trim() === '') throw new LightFileError(null, 'The file is empty.');
  if (text.includes('\0')) {
    throw new LightFileError(
      null,
      'This is no text file. Export the spectrum as CSV, TXT, CGATS or TM-27 XML.',
    );
  }
  const found = /^\ufeff?\s*</.test(text)
    ? fromXml(text)
    : /^[ \t]*BEGIN_DATA\b/im.test(text)
      ? fromCgats(text)
      : { ...lightColumns(text), name: '' };
  const { spectrum, notes } = lampOnGrid(found);
  const stem = fileName.replace(/^.*[\\/]/, '').replace(/\.[^.]*$/, '');
  const name = (found.name.trim() || stem.trim() || 'Measured lamp').slice(0, LONGEST_NAME);
  return { spectrum, name, notes: [...found.notes, ...notes] };
}

interface Found extends LightSamples {
  readonly name: string;
  readonly notes: readonly string[];
}

function fromXml(text: string): Found {
  let document: XmlElement;
  try {
    document = readXml(text);
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    const [, line, reason] = /^Line (\d+): (.*)$/s.exec(error.message) ?? [];
    throw new LightFileError(
      line === undefined ? null : Number(line),
      `This is no readable XML: ${reason ?? error.message}. Export the file again.`,
    );
  }
  const distributions = elementsNamed(document, 'SpectralDistribution');
  if (!/^IESTM27/i.test(document.name) || distributions.length === 0) {
    throw new LightFileError(
      null,
      `This XML begins with <${document.name}> and is no spectrum. Expected <IESTM2714> with a <SpectralDistribution>, as ANSI/IES TM-27 has it.`,
    );
  }
  const [distribution] = distributions;
  const notes: string[] = [];
  if (distributions.length > 1)
    notes.push(`The file has ${distributions.length} spectra; the first was taken.`);
  const quantity = words(childNamed(distribution, 'SpectralQuantity'));
  if (quantity !== '' && !LIGHT_QUANTITIES.includes(quantity.toLowerCase())) {
    throw new LightFileError(
      null,
      `The file holds ${quantity}, a property of a surface, not of a lamp. Add it as a swatch, or ask for the lamp's own spectrum.`,
    );
  }
  if (quantity === '' || quantity.toLowerCase() === 'other') {
    notes.push('The file does not say which quantity it holds; it was taken as power.');
  }
  const bandwidth = Number(words(childNamed(distribution, 'BandwidthFWHM')) || NaN);
  if (bandwidth > 10) {
    notes.push(
      `Measured with a bandwidth of ${bandwidth} nm: narrow lines of the lamp look broader than they are.`,
    );
  }
  const data = distribution.children.filter(({ name }) => name === 'SpectralData');
  const wavelengths: number[] = [];
  const values: number[] = [];
  for (const [i, element] of data.entries()) {
    const wavelength = decimal(element.attributes.wavelength ?? '');
    const value = decimal(element.text);
    if (Number.isNaN(wavelength) || Number.isNaN(value)) {
      const missing = Number.isNaN(wavelength) ? 'wavelength' : 'number';
      throw new LightFileError(
        null,
        `SpectralData ${i + 1} has no ${missing}. Correct or leave out that element.`,
      );
    }
    wavelengths.push(wavelength);
    values.push(value);
  }
  return { wavelengths, values, lines: null, notes, name: lampName(childNamed(document, 'Header')) };
}

/** The description, else the catalogue number, that a TM-27 header gives. */
function lampName(header: XmlElement | null): string {
  if (!header) return '';
  const said = ['Description', 'CatalogNumber'].map((name) => words(childNamed(header, name)));
  return said.find((name) => name !== '' && !/^(unknown|n\/?a|none|-)$/i.test(name)) ?? '';
}

function fromCgats(text: string): Found {
  const { spectra, keywords } = cgatsSpectra(text);
  if (spectra.length === 0) {
    throw new LightFileError(
      null,
      'No spectrum in this CGATS file. Expected fields such as SPECTRAL_NM380, SPEC_380 or nm380 and a row of values.',
    );
  }
  const measured = measurementOf(keywords);
  if (measured.of === 'surface') {
    throw new LightFileError(
      null,
      `The file says that it measured a surface${measured.word && ` (${measured.word.toLowerCase()})`}, not a lamp. Add it as a swatch, or measure the lamp itself.`,
    );
  }
  const [{ line, name, wavelengths, values }] = spectra;
  const notes: string[] = [];
  if (spectra.length > 1) {
    notes.push(
      `The file has ${spectra.length} spectra; the first${name === '' ? '' : `, “${name}”,`} was taken.`,
    );
  }
  if (measured.of === null) notes.push('The file does not say that it measured a lamp; it was taken as one.');
  const lines = values.map(() => line);
  return { wavelengths, values, lines, notes, name: keywords.get('DESCRIPTOR') ?? name };
}

function words(element: XmlElement | null): string {
  return element?.text.trim() ?? '';
}

/** A number of XML Schema (double), NaN for anything else. */
function decimal(text: string): number {
  const plain = text.trim();
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain) ? Number(plain) : NaN;
}
