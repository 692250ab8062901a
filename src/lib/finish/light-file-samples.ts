import { GRID, WAVELENGTHS, resample } from '#lib/colour/index.ts';

/** A file of a light that cannot be read: the sentence says what is wrong and what to do. */
export class LightFileError extends Error {
  /** Line of the text, from 1; null where it is about the whole, or the file is XML without a fault of its own. */
  readonly line: number | null;

  constructor(line: number | null, reason: string) {
    super(line === null ? reason : `Line ${line}: ${reason}`);
    this.name = 'LightFileError';
    this.line = line;
  }
}

/** Spectral values as a file has them. */
export interface LightSamples {
  readonly wavelengths: readonly number[];
  readonly values: readonly number[];
  /** Line of each value; null where the file has none to name. */
  readonly lines: readonly number[] | null;
}

/** Fewest values of a spectrum, widest gap between two (nm), and least part of the visible it must cover (nm). */
const FEWEST = 8;
const WIDEST_GAP = 40;
const LEAST_COVER = 10;

/** Negative values down to this share of the maximum are the noise of an instrument; below, something is wrong. Common practice. */
const NOISE = 0.02;

/** The part of the visible outside which missing light hardly changes a colour, nm. Common practice, no published source. */
const NEEDED = { from: 420, to: 680 };

/**
 * The samples of a lamp on the grid, 1 at the maximum, and what was done to them in sentences.
 * Wavelengths in descending order are turned round, micrometres become nanometres, small negative values become 0. Data finer
 * than the grid is averaged over a triangle of 5 nm half-width, so that lines keep their power; other data goes through
 * `resample` (CIE 167). Outside the given range there is no light.
 * Throws LightFileError for what is no spectrum of a lamp.
 */
export function lampOnGrid(samples: LightSamples): { spectrum: number[]; notes: string[] } {
  const notes: string[] = [];
  const { wavelengths, values, lines } = inOrder(samples, notes);
  const at = (i: number) => lines?.[i] ?? null;
  const count = values.length;
  if (count < FEWEST) {
    throw new LightFileError(
      null,
      `Only ${count} spectral ${count === 1 ? 'value' : 'values'}; at least ${FEWEST} are needed. Export the whole spectrum, one value a line.`,
    );
  }
  for (let i = 1; i < count; i++) {
    if (wavelengths[i] > wavelengths[i - 1]) continue;
    const twice = wavelengths[i] === wavelengths[i - 1];
    throw new LightFileError(
      at(i),
      `${wavelengths[i]} nm ${twice ? 'stands there twice' : `follows ${wavelengths[i - 1]} nm`}. Export one lamp, sorted by wavelength.`,
    );
  }
  const first = wavelengths[0];
  const last = wavelengths[count - 1];
  const cover = Math.min(last, GRID.end) - Math.max(first, GRID.start);
  if (first > 2500) {
    throw new LightFileError(
      at(0),
      `${first} is no wavelength of light in nm. Export by wavelength in nm, not in ångström or by wavenumber.`,
    );
  }
  if (cover < LEAST_COVER) {
    throw new LightFileError(
      null,
      `The values cover ${figure(first)}-${figure(last)} nm, less than ${LEAST_COVER} nm of visible light. A lamp needs about 380-780 nm.`,
    );
  }
  const bounded = withoutNoise(values, { at, wavelengths, notes });
  for (let i = 1; i < count; i++) {
    if (
      wavelengths[i] - wavelengths[i - 1] > WIDEST_GAP &&
      wavelengths[i] > GRID.start &&
      wavelengths[i - 1] < GRID.end
    ) {
      throw new LightFileError(
        at(i),
        `Nothing between ${figure(wavelengths[i - 1])} and ${figure(wavelengths[i])} nm. Export at least one value every ${WIDEST_GAP} nm.`,
      );
    }
  }
  const step = (last - first) / (count - 1);
  const fine = wavelengths.some((nm, i) => i > 0 && nm - wavelengths[i - 1] < GRID.step * (1 - 1e-6));
  const spectrum = fine
    ? averaged(wavelengths, bounded)
    : Array.from(resample({ wavelengths, values: bounded }).spectrum);
  for (let k = 0; k < GRID.count; k++) {
    if (WAVELENGTHS[k] < first - 1e-9 || WAVELENGTHS[k] > last + 1e-9) spectrum[k] = 0;
  }
  const top = Math.max(...spectrum);
  if (!(top > 0)) throw new LightFileError(null, 'There is no light between 380 and 780 nm in this file.');
  if (fine) notes.push(`Values closer than ${GRID.step} nm were averaged to ${GRID.step} nm.`);
  if (step > 10 * (1 + 1e-6))
    notes.push(`Values by ${figure(step)} nm: narrow lines of the lamp may be missing.`);
  if (first > GRID.start || last < GRID.end) {
    notes.push(`The file covers ${figure(first)}-${figure(last)} nm; outside it is taken as 0.`);
    if (first > NEEDED.from || last < NEEDED.to) {
      notes.push('A large part of visible light is missing: colours under this lamp cannot be trusted.');
    }
  }
  return { spectrum: spectrum.map((value) => value / top), notes };
}

/** Ascending, in nm. */
function inOrder(samples: LightSamples, notes: string[]): LightSamples {
  const { wavelengths, values, lines } = samples;
  const bad = wavelengths.findIndex((wavelength) => !(wavelength > 0 && wavelength < Infinity));
  if (bad >= 0) {
    throw new LightFileError(
      lines?.[bad] ?? null,
      `${wavelengths[bad]} is no wavelength. Export by wavelength in nm.`,
    );
  }
  const count = wavelengths.length;
  const falling =
    count > 1 && wavelengths.every((wavelength, i) => i === 0 || wavelength < wavelengths[i - 1]);
  if (falling) notes.push('Wavelengths stood in descending order and were turned round.');
  const ordered = falling
    ? {
        wavelengths: wavelengths.toReversed(),
        values: values.toReversed(),
        lines: lines?.toReversed() ?? null,
      }
    : samples;
  if (count === 0 || Math.max(ordered.wavelengths[0], ordered.wavelengths[count - 1]) > 3) return ordered;
  notes.push('Wavelengths were read as micrometres.');
  // Rounded to a thousandth of a nanometre: 0.555 µm is 555 nm.
  return { ...ordered, wavelengths: ordered.wavelengths.map((value) => Math.round(value * 1e6) / 1e3) };
}

/** Values over their maximum, small negative ones as 0. */
function withoutNoise(
  values: readonly number[],
  {
    at,
    wavelengths,
    notes,
  }: { at: (i: number) => number | null; wavelengths: readonly number[]; notes: string[] },
): number[] {
  let top = -Infinity;
  let bottom = Infinity;
  let lowest = 0;
  for (const [i, value] of values.entries()) {
    if (!Number.isFinite(value)) {
      throw new LightFileError(
        at(i),
        `The power at ${figure(wavelengths[i])} nm is no number. Correct that value, or leave out its line.`,
      );
    }
    top = Math.max(top, value);
    if (value < bottom) {
      bottom = value;
      lowest = i;
    }
  }
  if (!(top > 0))
    throw new LightFileError(
      null,
      'No power anywhere: all values are 0 or less. Export the spectrum of a lamp that is on.',
    );
  if (bottom < -NOISE * top) {
    throw new LightFileError(
      at(lowest),
      `The power at ${figure(wavelengths[lowest])} nm is ${bottom}, too far below 0 for noise. Measure again with the dark reading taken off.`,
    );
  }
  if (top - bottom <= 1e-9 * top) {
    throw new LightFileError(
      null,
      'All values are the same: that is no lamp. See that the column of power was exported.',
    );
  }
  const below = values.reduce((count, value) => count + (value < 0 ? 1 : 0), 0);
  if (below > 0) notes.push(`${below} ${below === 1 ? 'value' : 'values'} slightly below 0 taken as 0.`);
  return values.map((value) => Math.max(0, value / top));
}

/**
 * Data finer than the grid, averaged with a triangle from one grid point to the next on either side: the colour is then
 * that of the fine data under colour-matching functions interpolated linearly. Between samples the data is taken as linear.
 */
function averaged(wavelengths: readonly number[], values: readonly number[]): number[] {
  const last = wavelengths.length - 1;
  const finest = 0.25;
  let i = 0;
  return WAVELENGTHS.map((centre) => {
    let sum = 0;
    let weights = 0;
    for (let d = finest - GRID.step; d < GRID.step; d += finest) {
      const nm = centre + d;
      if (nm < wavelengths[0] || nm > wavelengths[last]) continue;
      while (i > 0 && wavelengths[i] > nm) i--;
      while (i < last - 1 && wavelengths[i + 1] < nm) i++;
      const share = (nm - wavelengths[i]) / (wavelengths[i + 1] - wavelengths[i]);
      const weight = GRID.step - Math.abs(d);
      sum += weight * (values[i] + share * (values[i + 1] - values[i]));
      weights += weight;
    }
    return weights > 0 ? Math.max(0, sum / weights) : 0;
  });
}

/** A number with at most two decimals. */
function figure(value: number): string {
  return String(Math.round(value * 100) / 100);
}
