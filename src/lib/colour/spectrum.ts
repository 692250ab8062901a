/**
 * A quantity sampled on the grid: 81 numbers at 380-780 nm by 5. Reflectance 0-1, or relative spectral power.
 */
export type Spectrum = Float64Array;

/** The one wavelength grid of the project, in nm: first, last, step, number of samples. */
export const GRID = { start: 380, end: 780, step: 5, count: 81 } as const;

/** The 81 wavelengths of the grid, nm. */
export const WAVELENGTHS: readonly number[] = Array.from(
  { length: GRID.count },
  (_, i) => GRID.start + i * GRID.step,
);

/** What `resample` gives back. */
export interface Resampled {
  readonly spectrum: Spectrum;
  /** The part of the grid that the given data covers, nm. */
  readonly range: { readonly from: number; readonly to: number };
  /** Whether values outside that range were filled with the nearest given value (CIE 167). */
  readonly extended: boolean;
  /** How values between the given wavelengths were found; `none` when every grid point was given. */
  readonly interpolation: 'none' | 'sprague' | 'linear';
}

/**
 * Spectral data brought to the grid.
 * In: wavelengths in nm, ascending, at least two, overlapping the grid; one finite value for each.
 * Equal steps use Sprague's fifth-order interpolation, unequal steps (and fewer than six values) linear; data outside
 * the given range takes the nearest value and `extended` says so. Finer data is read at the grid points, not averaged.
 * Sprague can swing past a steep edge: where all given values are in [0, 1], or not negative, so is the result.
 * Throws RangeError for wavelengths that do not ascend or miss the grid, TypeError for lists that do not match.
 * Source: CIE 167:2005; CIE 15:2018, section 7.2 (from memory).
 */
export function resample(data: {
  readonly wavelengths: ArrayLike<number>;
  readonly values: ArrayLike<number>;
}): Resampled {
  const { wavelengths, values } = data;
  checkSamples(wavelengths, values);
  const count = wavelengths.length;
  const first = wavelengths[0];
  const last = wavelengths[count - 1];
  const from = Math.max(
    GRID.start,
    Math.ceil((first - GRID.start) / GRID.step - 1e-9) * GRID.step + GRID.start,
  );
  const to = Math.min(GRID.end, Math.floor((last - GRID.start) / GRID.step + 1e-9) * GRID.step + GRID.start);
  if (from > to) {
    throw new RangeError(`Expected wavelengths within ${GRID.start}-${GRID.end} nm, got ${first}-${last} nm`);
  }
  const step = (last - first) / (count - 1);
  let equal = true;
  for (let i = 0; i < count; i++) {
    if (Math.abs(wavelengths[i] - (first + i * step)) > 1e-6 * step) equal = false;
  }
  const sprague = equal && count >= 6;
  const padded = sprague ? padSprague(values) : null;
  let low = Infinity;
  let high = -Infinity;
  for (let i = 0; i < count; i++) {
    low = Math.min(low, values[i]);
    high = Math.max(high, values[i]);
  }
  const floor = low >= 0 ? 0 : -Infinity;
  const ceiling = low >= 0 && high <= 1 ? 1 : Infinity;

  const spectrum = new Float64Array(GRID.count);
  let between = false;
  let i = 0;
  for (let k = 0; k < GRID.count; k++) {
    const wavelength = WAVELENGTHS[k];
    if (wavelength < from) {
      spectrum[k] = values[0];
      continue;
    }
    if (wavelength > to) {
      spectrum[k] = values[count - 1];
      continue;
    }
    while (i < count - 2 && wavelengths[i + 1] <= wavelength) i++;
    const t = (wavelength - wavelengths[i]) / (wavelengths[i + 1] - wavelengths[i]);
    if (Math.abs(t) < 1e-9) {
      spectrum[k] = values[i];
    } else if (Math.abs(t - 1) < 1e-9) {
      spectrum[k] = values[i + 1];
    } else {
      between = true;
      const value = padded ? interpolateSprague(padded, i, t) : values[i] + t * (values[i + 1] - values[i]);
      spectrum[k] = Math.min(ceiling, Math.max(floor, value));
    }
  }
  return {
    spectrum,
    range: { from, to },
    extended: from > GRID.start || to < GRID.end,
    interpolation: between ? (sprague ? 'sprague' : 'linear') : 'none',
  };
}

/**
 * Throws unless the spectrum has 81 finite values that are not negative (and not above 1 for a reflectance).
 * Values within 1e-9 outside pass: they are rounding.
 */
export function checkSpectrum(spectrum: ArrayLike<number>, quantity: 'reflectance' | 'spectral power'): void {
  if (spectrum.length !== GRID.count) {
    throw new RangeError(
      `Expected ${quantity} as ${GRID.count} samples at ${GRID.start}-${GRID.end} nm by ${GRID.step}, got ${spectrum.length}`,
    );
  }
  const limit = quantity === 'reflectance' ? 1 + 1e-9 : Infinity;
  for (let i = 0; i < GRID.count; i++) {
    const value = spectrum[i];
    if (!(value >= -1e-9 && value <= limit) || value === Infinity) {
      const range = quantity === 'reflectance' ? ' in [0, 1]' : ' of at least 0';
      throw new RangeError(`Expected ${quantity}${range} at ${WAVELENGTHS[i]} nm, got ${value}`);
    }
  }
}

function checkSamples(wavelengths: ArrayLike<number>, values: ArrayLike<number>): void {
  if (wavelengths.length !== values.length) {
    throw new TypeError(
      `Expected one value for each wavelength, got ${values.length} values for ${wavelengths.length} wavelengths`,
    );
  }
  if (wavelengths.length < 2) {
    throw new RangeError(`Expected at least two wavelengths, got ${wavelengths.length}`);
  }
  for (let i = 0; i < wavelengths.length; i++) {
    if (!Number.isFinite(wavelengths[i])) {
      throw new RangeError(`Expected wavelengths in nm, got ${wavelengths[i]} at position ${i + 1}`);
    }
    if (i > 0 && !(wavelengths[i] > wavelengths[i - 1])) {
      throw new RangeError(
        `Expected ascending wavelengths, got ${wavelengths[i]} nm after ${wavelengths[i - 1]} nm`,
      );
    }
    if (!Number.isFinite(values[i])) {
      throw new RangeError(`Expected a finite value at ${wavelengths[i]} nm, got ${values[i]}`);
    }
  }
}

/** The values with two more at either end, as CIE 167 prescribes for the outer intervals. */
function padSprague(y: ArrayLike<number>): Float64Array {
  const n = y.length;
  const padded = new Float64Array(n + 4);
  for (let i = 0; i < n; i++) padded[i + 2] = y[i];
  const outer = (get: (i: number) => number) =>
    (884 * get(0) - 1960 * get(1) + 3033 * get(2) - 2648 * get(3) + 1080 * get(4) - 180 * get(5)) / 209;
  const inner = (get: (i: number) => number) =>
    (508 * get(0) - 540 * get(1) + 488 * get(2) - 367 * get(3) + 144 * get(4) - 24 * get(5)) / 209;
  const fromStart = (i: number) => y[i];
  const fromEnd = (i: number) => y[n - 1 - i];
  padded[0] = outer(fromStart);
  padded[1] = inner(fromStart);
  padded[n + 2] = inner(fromEnd);
  padded[n + 3] = outer(fromEnd);
  return padded;
}

/** Sprague's polynomial between the given samples `i` and `i + 1` at share `t` of the step. */
function interpolateSprague(padded: Float64Array, i: number, t: number): number {
  const a = padded[i];
  const b = padded[i + 1];
  const c = padded[i + 2];
  const d = padded[i + 3];
  const e = padded[i + 4];
  const f = padded[i + 5];
  const a1 = (2 * a - 16 * b + 16 * d - 2 * e) / 24;
  const a2 = (-a + 16 * b - 30 * c + 16 * d - e) / 24;
  const a3 = (-9 * a + 39 * b - 70 * c + 66 * d - 33 * e + 7 * f) / 24;
  const a4 = (13 * a - 64 * b + 126 * c - 124 * d + 61 * e - 12 * f) / 24;
  const a5 = (-5 * a + 25 * b - 50 * c + 50 * d - 25 * e + 5 * f) / 24;
  return c + t * (a1 + t * (a2 + t * (a3 + t * (a4 + t * a5))));
}
