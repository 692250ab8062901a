import {
  GRID,
  OBSERVER_2,
  WAVELENGTHS,
  blackBody,
  colourRenderingIndex,
  daylight,
  illuminant,
} from '#lib/colour/index.ts';
import type { IlluminantName, Spectrum } from '#lib/colour/index.ts';

/** How a lamp makes its light. */
export const LAMP_TECHNOLOGIES = ['LED', 'fluorescent', 'filament'] as const;
export type LampTechnology = (typeof LAMP_TECHNOLOGIES)[number];

/** X, Y and Z sums of a light, 2 degree observer, at the scale of its spectrum. */
type Sums = readonly [number, number, number];

/**
 * A lamp as three lights whose strengths may be changed: what a maker does with the blend of phosphors to reach another
 * colour. Strengths of 1 give the lamp itself.
 */
export interface LampCandidate {
  /** The CIE table it is, with its colour temperature (K) and Duv; null for one composed here, which may have any. */
  readonly table: { readonly name: IlluminantName; readonly cct: number; readonly duv: number } | null;
  readonly bands: readonly [Spectrum, Spectrum, Spectrum];
  readonly sums: readonly [Sums, Sums, Sums];
  /** How unusual such a lamp is among those sold by this description: 0 for the most ordinary. A judgement. */
  readonly rarity: number;
}

/** Where the short, middle and long light of a table lamp pass into each other, nm (raised cosines, so no step appears). */
const CROSSINGS = [
  { from: 475, to: 505 },
  { from: 560, to: 600 },
] as const;

/**
 * The candidates for a lamp of a technology and a colour temperature (K): the CIE tables, one blue pump under a plain
 * yellow phosphor for lamps of lower rendering than any LED table, and the reference light of CIE 13.3 itself, the limit
 * that lamps of the highest rendering tend to. Violet-pumped, hybrid and colour-mixing lamps are rarer than blue-pumped ones.
 */
export function lampCandidates(
  technology: Exclude<LampTechnology, 'filament'>,
  cct: number,
): readonly LampCandidate[] {
  const continuous = split(null, cct < 5000 ? blackBody(cct) : daylight(cct), 3);
  return [...(technology === 'LED' ? ledCandidates() : fluorescentCandidates()), continuous];
}

function ledCandidates(): readonly LampCandidate[] {
  led ??= [
    ...(['LED-B1', 'LED-B2', 'LED-B3', 'LED-B4', 'LED-B5'] as const).map((name) => fromTable(name, 0)),
    ...(['LED-BH1', 'LED-V1', 'LED-V2'] as const).map((name) => fromTable(name, 1)),
    fromTable('LED-RGB1', 12),
    candidate(null, [bell(450, 22), bell(558, 105), bell(595, 90)], 1),
  ];
  return led;
}

function fluorescentCandidates(): readonly LampCandidate[] {
  fluorescent ??= FLUORESCENT_TABLES.map((name) => fromTable(name, 0));
  return fluorescent;
}

let led: readonly LampCandidate[] | null = null;
let fluorescent: readonly LampCandidate[] | null = null;

const FLUORESCENT_TABLES = [
  ...(['FL1', 'FL2', 'FL3', 'FL4', 'FL5', 'FL6', 'FL7', 'FL8', 'FL9', 'FL10', 'FL11', 'FL12'] as const),
  ...(['FL3.1', 'FL3.2', 'FL3.3', 'FL3.4', 'FL3.5', 'FL3.6', 'FL3.7', 'FL3.8', 'FL3.9'] as const),
  ...(['FL3.10', 'FL3.11', 'FL3.12', 'FL3.13', 'FL3.14', 'FL3.15'] as const),
] as const;

function fromTable(name: IlluminantName, rarity: number): LampCandidate {
  const whole = illuminant(name);
  const rendering = colourRenderingIndex(whole);
  if (!rendering) throw new RangeError(`Expected a lamp with a colour temperature, got ${name}`);
  return split({ name, cct: rendering.cct, duv: rendering.duv }, whole, rarity);
}

function split(table: LampCandidate['table'], whole: Spectrum, rarity: number): LampCandidate {
  const [short, long] = CROSSINGS.map(({ from, to }) =>
    WAVELENGTHS.map((nm) => {
      const share = Math.min(1, Math.max(0, (nm - from) / (to - from)));
      return (1 - Math.cos(Math.PI * share)) / 2;
    }),
  );
  const bands = [
    whole.map((power, i) => power * (1 - short[i])),
    whole.map((power, i) => power * (short[i] - long[i])),
    whole.map((power, i) => power * long[i]),
  ] as const;
  return candidate(table, bands, rarity);
}

function candidate(
  table: LampCandidate['table'],
  bands: LampCandidate['bands'],
  rarity: number,
): LampCandidate {
  const [short, middle, long] = bands;
  return { table, bands, sums: [sums(short), sums(middle), sums(long)], rarity };
}

function sums(spectrum: Spectrum): Sums {
  const { xBar, yBar, zBar } = OBSERVER_2;
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < GRID.count; i++) {
    X += spectrum[i] * xBar[i];
    Y += spectrum[i] * yBar[i];
    Z += spectrum[i] * zBar[i];
  }
  return [X, Y, Z];
}

/** A Gaussian band of a peak and a full width at half maximum, nm. */
function bell(peak: number, width: number): Spectrum {
  return Float64Array.from(WAVELENGTHS, (nm) => 2 ** -(((2 * (nm - peak)) / width) ** 2));
}
