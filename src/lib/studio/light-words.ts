import {
  cctOhno2014,
  colourRenderingIndex,
  daylight,
  OBSERVER_2,
  whitePoint,
  type Spectrum,
} from '#lib/colour/index.ts';
import { LAMP_TABLE, type Glass, type Sky } from '#lib/light/index.ts';
import { lightSpectrum, type Light, type LightSource } from '#lib/job/index.ts';

/** The eight winds, clockwise from north, 45 degrees apart. */
export const COMPASS = [
  'north',
  'north-east',
  'east',
  'south-east',
  'south',
  'south-west',
  'west',
  'north-west',
] as const;

/** The wind nearest to a direction. In: degrees clockwise from north, any turn. */
export function compassWord(degrees: number): (typeof COMPASS)[number] {
  const turn = ((degrees % 360) + 360) % 360;
  return COMPASS[Math.round(turn / 45) % 8];
}

/** Clock time of an hour of the day: 9.5 is `9:30`. */
export function clock(hour: number): string {
  const minutes = Math.round(hour * 60);
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}`;
}

/** Daylight tables by what they stand for (CIE 15:2018; ID: CIE 184:2009, daylight behind ordinary window glass). */
const DAYLIGHT_TABLES: Record<string, string> = {
  C: 'Average daylight, older standard',
  D50: 'Daylight for print, 5,000 K',
  D55: 'Mid-morning daylight, 5,500 K',
  D65: 'Average daylight, 6,500 K',
  D75: 'North sky daylight, 7,500 K',
  ID50: 'Warm daylight behind window glass',
  ID65: 'Average daylight behind window glass',
};

/** What the trade calls a CIE table of a lamp or of daylight. */
export function tableName(table: string): string {
  const lamp = LAMP_TABLE.find((entry) => entry.table === table);
  return lamp?.name ?? DAYLIGHT_TABLES[table] ?? `Lamp of the CIE table ${table}`;
}

const TECHNOLOGY = { LED: 'LED lamp', fluorescent: 'fluorescent tube', filament: 'filament lamp' };
const SKY_WORDS: Record<Sky, string> = {
  clear: 'clear sky',
  'partly cloudy': 'partly cloudy',
  overcast: 'overcast',
};

/** Glass that is said because it is not the usual one. */
const GLASS_WORDS: Partial<Record<Glass, string>> = {
  'open window': ', open',
  'coated double glass': ', coated glass',
};

/** `2,700 K`: to 100 K, as lamps are sold, and to 10 K below 2,000 K. */
export function kelvinWords(cct: number): string {
  const step = cct < 2000 ? 10 : 100;
  return `${(Math.round(cct / step) * step).toLocaleString('en')} K`;
}

/** What a source is, in words: `North window, clear sky, 9:00`. */
export function sourceWords(source: LightSource): string {
  switch (source.kind) {
    case 'window': {
      const wind = compassWord(source.facing);
      const glass = GLASS_WORDS[source.glass] ?? '';
      return `${capital(wind)} window, ${SKY_WORDS[source.sky]}, ${clock(source.hour)}${glass}`;
    }
    case 'daylight':
      return `Daylight of ${source.cct.toLocaleString('en')} K`;
    case 'table':
      return tableName(source.name);
    case 'black body':
      return `${source.kelvin < 2200 ? 'Flame' : 'Filament'} of ${source.kelvin.toLocaleString('en')} K`;
    case 'described lamp':
      return `${capital(TECHNOLOGY[source.technology])}, ${source.cct.toLocaleString('en')} K, CRI ${source.ra}`;
    case 'measured':
      return `Measured lamp, ${source.fileName}`;
  }
}

/** A source in a word or two, for the end of a line in a plot. */
export function sourceShort(source: LightSource): string {
  switch (source.kind) {
    case 'window':
      return `${capital(compassWord(source.facing))} window`;
    case 'daylight':
      return 'Daylight';
    case 'table':
      return tableName(source.name).split(',')[0];
    case 'black body':
      return source.kelvin < 2200 ? 'Flame' : 'Filament';
    case 'described lamp':
      return capital(TECHNOLOGY[source.technology]);
    case 'measured':
      return 'Measured lamp';
  }
}

/** What the files of a light's measured lamps leave open, in short; null where they leave nothing. */
export function fileDoubts({ parts }: Pick<Light, 'parts'>): string | null {
  const notes = parts.flatMap(({ source }) => (source.kind === 'measured' ? (source.notes ?? []) : []));
  if (notes.length === 0) return null;
  const worst = notes.find((note) => note.includes('cannot be trusted'));
  if (worst) return worst;
  return notes.length === 1
    ? `Its file: ${notes[0]}`
    : `Its file leaves ${notes.length} things open: see its source.`;
}

/** What a light is made of: `North window, clear sky, 9:00 · 60 %; Warm LED lamp, 2,700 K · 40 %`. */
export function lightWords({ parts }: Pick<Light, 'parts'>): string {
  const total = parts.reduce((sum, { share }) => sum + share, 0);
  return parts
    .map(({ source, share }) =>
      parts.length === 1
        ? sourceWords(source)
        : `${sourceWords(source)} · ${Math.round((100 * share) / total)} %`,
    )
    .join('; ');
}

/**
 * How much light that is, in words. In: illuminance on the surfaces, lx.
 * Bands: common practice, no published source.
 */
export function levelWords(lux: number): string {
  if (lux < 20) return 'nearly dark';
  if (lux < 75) return 'dim';
  if (lux < 250) return 'soft';
  if (lux < 700) return 'well lit';
  return lux < 2500 ? 'bright' : 'very bright';
}

/** Warm below 3,300 K, cool above 5,300 K, neutral between: the bands of EN 12464-1 (from memory). */
export function warmthWords(cct: number): string {
  return cct < 3300 ? 'warm' : cct > 5300 ? 'cool' : 'neutral';
}

/** What can be said of a light's colour and of what it does to colours. */
export interface LightColour {
  /** Correlated colour temperature, K. */
  cct: number;
  /** Distance from the Planckian locus, CIE 1960 u, v; above 0 greener. */
  duv: number;
  /** The same from the white that people know at that temperature: filaments below 4,000 K, daylight above 5,000 K. */
  tint: number;
  /** CIE 13.3 general index and special index of strong red; null above 25,000 K, where the index has no reference. */
  rendering: { Ra: number; R9: number; R: readonly number[] } | null;
}

/** Colour of a light from its spectrum; null where it is no kind of white (see `cctOhno2014`). */
export function lightColour(spectrum: Spectrum): LightColour | null {
  const temperature = cctOhno2014(whitePoint(spectrum, OBSERVER_2));
  if (!temperature) return null;
  const { cct, duv } = temperature;
  const found = colourRenderingIndex(spectrum);
  return {
    cct,
    duv,
    tint: duv - familiarDuv(cct),
    rendering: found && { Ra: found.Ra, R9: found.R[8], R: found.R },
  };
}

/** Duv of the familiar white of a temperature: 0 for a glowing body, that of daylight from 5,000 K on, blended between. */
function familiarDuv(cct: number): number {
  if (cct <= 4000) return 0;
  const known = cctOhno2014(whitePoint(daylight(Math.min(cct, 25_000)), OBSERVER_2));
  return (known?.duv ?? 0) * Math.min(1, (cct - 4000) / 1000);
}

/**
 * A light's cast in words, from its tint (see `LightColour`); empty where nobody would see one.
 * Bands: common practice, no published source.
 */
export function tintWords(tint: number): string {
  const size = Math.abs(tint);
  if (size < 0.003) return '';
  const cast = tint > 0 ? 'greenish' : 'pinkish';
  return size < 0.006 ? `a little ${cast}` : size < 0.015 ? cast : `strongly ${cast}`;
}

/**
 * How well a light shows colours, one adverb for Ra. EN 12464-1 asks for 80 in work rooms, 90 where colours are judged (from
 * memory).
 */
function generalWords(Ra: number): string {
  return Ra >= 90 ? 'well' : Ra >= 80 ? 'fairly' : Ra >= 60 ? 'poorly' : 'badly';
}

/** The same for R9, whose scale runs lower. Bands: common practice, no published source. */
function redWords(R9: number): string {
  return R9 >= 80 ? 'well' : R9 >= 50 ? 'fairly' : R9 >= 0 ? 'poorly' : 'badly';
}

const index = (value: number) => Math.round(value).toString().replace('-', '−');

/** `renders colours fairly (Ra 82), strong reds poorly (R9 8)`. */
export function renderingWords({ Ra, R9 }: { Ra: number; R9: number }): string {
  // The words follow the figures that are shown.
  const [general, red] = [generalWords(Math.round(Ra)), redWords(Math.round(R9))];
  return general === red
    ? `renders colours ${general}, strong reds too (Ra ${index(Ra)}, R9 ${index(R9)})`
    : `renders colours ${general} (Ra ${index(Ra)}), strong reds ${red} (R9 ${index(R9)})`;
}

/** A light's colour in one plain sentence. */
export function colourSentence(colour: LightColour | null): string {
  if (!colour) return 'A coloured light, no kind of white: do not judge finishes by it.';
  const tint = tintWords(colour.tint) || 'no tint';
  const rendering = colour.rendering
    ? renderingWords(colour.rendering)
    : 'bluer than any light that rendering is judged by';
  return `${capital(tint)}; ${rendering}.`;
}

// A light's parts stay the same object until they are changed; the index of an unchanged light is not worked out again.
const known = new WeakMap<Light['parts'], LightColour | null>();

/** `lightColour` of a light of the job. */
export function colourOfLight(light: Pick<Light, 'parts'>): LightColour | null {
  const found = known.get(light.parts);
  if (found !== undefined) return found;
  const colour = lightColour(lightSpectrum(light));
  known.set(light.parts, colour);
  return colour;
}

export function capital(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
