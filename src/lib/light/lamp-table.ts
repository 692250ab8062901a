import { colourRenderingIndex, illuminant } from '#lib/colour/index.ts';
import type { IlluminantName } from '#lib/colour/index.ts';
import type { LampTechnology } from './lamp-candidates.ts';

/** A lamp one can buy or meet, by the name the trade gives it, and the CIE illuminant that stands for it. */
export interface TableLamp {
  readonly name: string;
  readonly table: IlluminantName;
  readonly technology: LampTechnology;
  /** K, Duv, Ra and R9 of the table, as the colour area computes them. */
  readonly cct: number;
  readonly duv: number;
  readonly ra: number;
  readonly r9: number;
  /** What it is and where one meets it. */
  readonly fact: string;
}

/**
 * CIE illuminants as lamps, warm to cool within each technology. What each table was measured on: CIE 15:2018, tables
 * for FL and LED illuminants; three-figure colour codes (first figure tens of Ra, then hundreds of kelvin) are those that
 * makers of tubes share. Where one meets a lamp is common knowledge of the trade, no published source.
 */
export const LAMP_TABLE: readonly TableLamp[] = [
  lamp('A', 'filament', {
    name: 'Halogen or old bulb',
    fact: 'A tungsten filament. All colours are shown, reds and yellows warmest. Dimmed, it gets warmer still.',
  }),
  lamp('LED-B1', 'LED', {
    name: 'Warm LED lamp, 2,700 K',
    fact: 'Blue LED under a phosphor, the usual lamp in living rooms. Strong reds look a little flat.',
  }),
  lamp('LED-B2', 'LED', {
    name: 'Warm LED lamp, 3,000 K',
    fact: 'Blue LED under a phosphor, usual in kitchens and as downlights. Strong reds look a little flat.',
  }),
  lamp('LED-B3', 'LED', {
    name: 'Neutral LED panel, 4,000 K',
    fact: 'Blue LED under a phosphor, usual in offices, work lights and garages.',
  }),
  lamp('LED-B4', 'LED', {
    name: 'Cool LED lamp, 5,000 K',
    fact: 'Blue LED under a yellow phosphor. Reds look dull.',
  }),
  lamp('LED-B5', 'LED', {
    name: 'Daylight LED lamp, 6,500 K',
    fact: 'Blue LED under a yellow phosphor, cold white. Reds look dull.',
  }),
  lamp('LED-BH1', 'LED', {
    name: 'Warm LED lamp with red added',
    fact: 'Blue LED under a phosphor beside a red LED, in better fittings. Reds are strong.',
  }),
  lamp('LED-V1', 'LED', {
    name: 'High-rendering warm LED lamp',
    fact: 'Violet LED under phosphors, for shops and pictures. Colours look nearly as under a bulb.',
  }),
  lamp('LED-V2', 'LED', {
    name: 'High-rendering neutral LED lamp',
    fact: 'Violet LED under phosphors, for shops and pictures. Colours look nearly as by day.',
  }),
  lamp('LED-RGB1', 'LED', {
    name: 'Colour-changing LED lamp set to warm white',
    fact: 'Red, green and blue LED together. Colours are exaggerated or shifted; do not judge finishes by it.',
  }),
  lamp('FL12', 'fluorescent', {
    name: 'Tri-phosphor tube, warm, 3,000 K',
    fact: 'Three narrow phosphors, code 830. Tubes and compact lamps of homes and hotels.',
  }),
  lamp('FL11', 'fluorescent', {
    name: 'Tri-phosphor tube, neutral, 4,000 K',
    fact: 'Three narrow phosphors, code 840. Offices, shops, kitchens.',
  }),
  lamp('FL10', 'fluorescent', {
    name: 'Tri-phosphor tube, cool, 5,000 K',
    fact: 'Three narrow phosphors, code 850. Workshops and shops.',
  }),
  lamp('FL9', 'fluorescent', {
    name: 'High-rendering tube, neutral, 4,000 K',
    fact: 'Broad-band phosphors, code 940. Galleries, surgeries, dye houses.',
  }),
  lamp('FL8', 'fluorescent', {
    name: 'Colour-matching tube, 5,000 K',
    fact: 'Broad-band phosphors, code 950. Viewing booths for print and paint.',
  }),
  lamp('FL7', 'fluorescent', {
    name: 'Daylight tube, 6,500 K',
    fact: 'Broad-band phosphors, code 965. Stands in for daylight.',
  }),
  lamp('FL4', 'fluorescent', {
    name: 'Old tube, warm white, 3,000 K',
    fact: 'A halophosphate tube of old fittings. Reds turn brown; change the tube before judging colours.',
  }),
  lamp('FL3', 'fluorescent', {
    name: 'Old tube, white, 3,500 K',
    fact: 'A halophosphate tube of old fittings. Reds turn brown; change the tube before judging colours.',
  }),
  lamp('FL2', 'fluorescent', {
    name: 'Old tube, cool white, 4,200 K',
    fact: 'A halophosphate tube of old kitchens, cellars and stairwells. Reds turn brown, greens yellow.',
  }),
  lamp('FL1', 'fluorescent', {
    name: 'Old tube, daylight, 6,500 K',
    fact: 'A halophosphate tube, bluish and dull in the reds. Workshops and cellars.',
  }),
];

function lamp(
  table: IlluminantName,
  technology: LampTechnology,
  { name, fact }: { readonly name: string; readonly fact: string },
): TableLamp {
  const rendering = colourRenderingIndex(illuminant(table));
  if (!rendering) throw new RangeError(`Expected a lamp with a colour temperature, got ${table}`);
  const { cct, duv, Ra, R } = rendering;
  return { name, table, technology, cct, duv, ra: Ra, r9: R[8], fact };
}
