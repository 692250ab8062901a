import {
  ILLUMINANT_NAMES,
  OBSERVER_10,
  OBSERVER_2,
  WHITE_D65_10,
  illuminant,
  labToXyz,
  nearestReflectance,
  resample,
  spectrumToXyz,
  whitePoint,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { IlluminantName, Lab, XYZ } from '#lib/colour/index.ts';

/** Illuminant and observer a value was computed for. */
export interface Viewing {
  readonly illuminant: IlluminantName;
  readonly observer: 2 | 10;
}

/** The project's own viewing. */
export const DAYLIGHT_10: Viewing = { illuminant: 'D65', observer: 10 };

/** Reads 'D50/2', 'D65 10°', '(D50, 2 deg)', 'A/10', '10_Degree'. What is not said is D65 and 10°; null for anything else. */
export function parseViewing(text: string): Viewing | null {
  let light: IlluminantName = DAYLIGHT_10.illuminant;
  let observer: 2 | 10 = DAYLIGHT_10.observer;
  for (const word of text.toUpperCase().split(/[\s,;/()_]+/)) {
    if (word === '' || /^(DEG|DEGREES?|°|OBSERVER|CIE|1931|1964|ILLUMINANT)$/.test(word)) continue;
    const named = parseIlluminant(word);
    if (named) light = named;
    else if (/^2(°|DEG|DEGREES?)?$/.test(word)) observer = 2;
    else if (/^10(°|DEG|DEGREES?)?$/.test(word)) observer = 10;
    else return null;
  }
  return { illuminant: light, observer };
}

/** The tabulated illuminant of a name such as 'd50', 'F11' or 'LED-B1'; null for others. */
export function parseIlluminant(text: string): IlluminantName | null {
  const key = text
    .trim()
    .toUpperCase()
    .replace(/^ILL?(UMINANT)?[\s_.]*/, '');
  const spellings = [key, key.replace(/^F(\d+)$/, 'FL$1'), key.replace(/^TL84$/, 'FL11')];
  return ILLUMINANT_NAMES.find((name) => spellings.includes(name.toUpperCase())) ?? null;
}

/** A value brought to the project's viewing, and how in words. */
export interface Converted {
  readonly lab: Lab;
  readonly note: string;
}

const D65 = illuminant('D65');
const SIGHTS = new Map<string, { illuminant: typeof D65; observer: typeof OBSERVER_10; white: XYZ }>();

function sight(viewing: Viewing) {
  const key = viewingInWords(viewing);
  let found = SIGHTS.get(key);
  if (!found) {
    const observer = viewing.observer === 2 ? OBSERVER_2 : OBSERVER_10;
    const light = illuminant(viewing.illuminant);
    found = { illuminant: light, observer, white: whitePoint(light, observer) };
    SIGHTS.set(key, found);
  }
  return found;
}

/** 'D50/2°'. */
export function viewingInWords({ illuminant: light, observer }: Viewing): string {
  return `${light}/${observer}°`;
}

/**
 * CIELAB for another illuminant or observer brought to D65/10° by way of the most plausible reflectance that has it. Exact
 * for D65/10° itself; otherwise as good as the recovery, about 1 ΔE00 from D50/2°.
 */
export function labUnderDaylight(lab: Lab, viewing: Viewing): Converted {
  if (viewing.illuminant === 'D65' && viewing.observer === 10) return { lab, note: 'taken as D65/10°' };
  const from = sight(viewing);
  return { lab: seenThrough(labToXyz(lab, from.white), viewing), note: converted(viewing) };
}

/** Tristimulus values for an illuminant and observer, Y = 100 for white, brought to Lab D65/10°, as `labUnderDaylight`. */
export function xyzUnderDaylight(xyz: XYZ, viewing: Viewing): Converted {
  if (viewing.illuminant === 'D65' && viewing.observer === 10) {
    return { lab: xyzToLab(xyz, WHITE_D65_10), note: 'taken as D65/10°' };
  }
  return { lab: seenThrough(xyz, viewing), note: converted(viewing) };
}

function seenThrough(xyz: XYZ, viewing: Viewing): Lab {
  const { reflectance } = nearestReflectance(xyz, sight(viewing));
  return xyzToLab(spectrumToXyz(reflectance, { illuminant: D65, observer: OBSERVER_10 }), WHITE_D65_10);
}

function converted(viewing: Viewing): string {
  return `converted from ${viewingInWords(viewing)} to D65/10° through its most plausible reflectance`;
}

/** A measured spectrum on the grid, with its colour. */
export interface MeasuredSpectrum {
  /** 81 values in [0, 1]. */
  readonly reflectance: readonly number[];
  readonly lab: Lab;
  /** Range given, step, and what was done to fit the grid. */
  readonly note: string;
}

/**
 * A measured reflectance brought to the grid and its Lab D65/10°. Values slightly outside [0, 1] (noise near black, optical
 * brightener near white) are taken to the border and the note says so.
 * Gives a sentence instead where it cannot be a reflectance.
 */
export function measuredSpectrum(
  wavelengths: readonly number[],
  values: readonly number[],
): MeasuredSpectrum | string {
  if (values.length < 8) return `only ${values.length} spectral values; at least 8 are needed`;
  const bad = values.findIndex((value) => !(value >= -0.05 && value <= 1.5));
  if (bad >= 0) return `reflectance ${values[bad]} at ${wavelengths[bad]} nm; expected 0 to 1`;
  for (let i = 1; i < wavelengths.length; i++) {
    if (!(wavelengths[i] > wavelengths[i - 1]))
      return `wavelengths that do not ascend: ${wavelengths[i - 1]}, ${wavelengths[i]} nm`;
  }
  const first = wavelengths[0];
  const last = wavelengths[wavelengths.length - 1];
  if (first > 420 || last < 680)
    return `spectrum from ${first} to ${last} nm; expected at least 420 to 680 nm`;
  const bounded = values.map((value) => Math.min(1, Math.max(0, value)));
  const { spectrum, extended } = resample({ wavelengths, values: bounded });
  const step = (last - first) / (wavelengths.length - 1);
  const parts = [`spectrum ${first}-${last} nm by ${Math.round(step * 100) / 100}`];
  if (extended) parts.push('ends carried on to 380-780 nm');
  if (bounded.some((value, i) => value !== values[i])) parts.push('values outside 0-1 taken to the border');
  return {
    reflectance: Array.from(spectrum),
    lab: xyzToLab(spectrumToXyz(spectrum, { illuminant: D65, observer: OBSERVER_10 }), WHITE_D65_10),
    note: parts.join(', '),
  };
}
