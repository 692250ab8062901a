import { blackBody, colourRenderingIndex } from '#lib/colour/index.ts';
import type { Spectrum } from '#lib/colour/index.ts';
import { LAMP_TECHNOLOGIES, lampCandidates } from './lamp-candidates.ts';
import type { LampTechnology } from './lamp-candidates.ts';
import { fitLamp } from './lamp-fit.ts';

/** A lamp as its box describes it. */
export interface LampDescription {
  readonly technology: LampTechnology;
  /** Correlated colour temperature, K. */
  readonly cct: number;
  /** Distance from the Planckian locus, CIE 1960 u, v; 0 where the box is silent. */
  readonly duv: number;
  /** General colour rendering index Ra (CRI), 0-100. */
  readonly ra: number;
}

/** A spectrum chosen for a description, and what it has. */
export interface DescribedLamp {
  /** Relative spectral power on the grid, 1 at its maximum. */
  readonly spectrum: Spectrum;
  readonly cct: number;
  readonly duv: number;
  readonly ra: number;
  /** Special index R9, strong red; 100 at best, often below 0. */
  readonly r9: number;
  /** Whether the description is met: CCT within 1 K, Duv within 0.0002, Ra within 1. */
  readonly exact: boolean;
  /** That it is a guess, and what it reaches, in words. */
  readonly words: string;
}

/**
 * Colour temperatures (K) a lamp of each technology may have here. Filaments: from a dim bulb to a halogen lamp for
 * photography; the others: what is sold for rooms, with some margin. Common practice, no published source.
 */
export const LAMP_CCT: Readonly<Record<LampTechnology, { readonly from: number; readonly to: number }>> = {
  LED: { from: 1800, to: 10000 },
  fluorescent: { from: 2500, to: 8000 },
  filament: { from: 2300, to: 3400 },
};

/** The widest |Duv| of a lamp: beyond it a light is no longer called white. Common practice, no published source. */
export const LAMP_DUV = 0.015;

/** Answers kept; the oldest goes first. */
const REMEMBERED = 200;
const remembered = new Map<string, DescribedLamp>();

/**
 * A lamp by what its box says: the spectrum to expect of its colour temperature, Duv and Ra. Many spectra have
 * them, so it is a guess, and the words say so. LED and fluorescent lamps are composed from the CIE tables of their kind
 * (see `fitLamp`); a filament is a black body, whose Ra is 100 and Duv 0 whatever is asked, and the words say that.
 * An Ra out of reach gives the nearest, `exact` false. CCT and Duv are always met but by a filament's Duv.
 *
 * How good the guess is: 24 patches under each CIE table, against the same patches under the spectrum described by that
 * table's CCT, Duv and Ra alone, composed without that table (mean / p95 CIEDE2000, CAT16 to D65, 10 degrees; the test
 * prints them): fluorescent 0.38 / 1.41, where the reference light of that temperature is off by 2.20 / 7.14; LED
 * 0.52 / 2.14, reference 1.75 / 4.45. From Ra 94 up the reference light alone is a little nearer (0.52 against 0.63 in the
 * mean). R9 is off by 12 in the mean and by 59 at worst: Ra does not hold it. A lamp that mixes red, green and blue cannot
 * be foretold so: 7.3, reference 3.6. An answer takes 2 ms, at most 20 (2 cores, November 2026).
 *
 * Throws RangeError for a temperature outside `LAMP_CCT`, |Duv| above `LAMP_DUV`, Ra outside [0, 100], another
 * technology, and for a chromaticity no lamp here reaches (LED, greener than Duv 0.008 below 2400 K).
 * Source of chromaticity and Ra: Ohno 2014; CIE 13.3-1995.
 */
export function describedLamp(description: LampDescription): DescribedLamp {
  check(description);
  const { technology, cct, duv, ra } = description;
  const key = `${technology} ${cct} ${duv} ${ra}`;
  let lamp = remembered.get(key);
  if (!lamp) {
    lamp = technology === 'filament' ? filament(description) : composed(description, technology);
    const oldest = remembered.keys().next();
    if (remembered.size >= REMEMBERED && !oldest.done) remembered.delete(oldest.value);
    remembered.set(key, lamp);
  }
  // The spectrum is the caller's to keep and change.
  return { ...lamp, spectrum: lamp.spectrum.slice() };
}

function check({ technology, cct, duv, ra }: LampDescription): void {
  if (!LAMP_TECHNOLOGIES.includes(technology)) {
    throw new RangeError(`Expected a lamp of ${LAMP_TECHNOLOGIES.join(', ')}, got ${String(technology)}`);
  }
  const { from, to } = LAMP_CCT[technology];
  if (!(cct >= from && cct <= to)) {
    throw new RangeError(
      `Expected the colour temperature of a ${technology} lamp in [${from}, ${to}] K, got ${cct}`,
    );
  }
  if (!(Math.abs(duv) <= LAMP_DUV)) {
    throw new RangeError(`Expected Duv in [-${LAMP_DUV}, ${LAMP_DUV}], got ${duv}`);
  }
  if (!(ra >= 0 && ra <= 100)) throw new RangeError(`Expected Ra in [0, 100], got ${ra}`);
}

function composed(
  description: LampDescription,
  technology: Exclude<LampTechnology, 'filament'>,
): DescribedLamp {
  const { duv, ra } = description;
  // At 5000 K the reference of CIE 13.3 changes; rounding must not decide from candidate to candidate which it is.
  const cct = Math.abs(description.cct - 5000) < 0.01 ? 5000.01 : description.cct;
  const fit = fitLamp(lampCandidates(technology, cct), { cct, duv, ra });
  if (!fit) {
    throw new RangeError(`Expected a chromaticity that ${technology} lamps reach, got ${cct} K, Duv ${duv}`);
  }
  const found = answer(fit.spectrum, description);
  const asked = `${kelvin(description.cct)}${duv === 0 ? '' : `, Duv ${signed(duv, 4)}`}`;
  const reached = `Ra ${signed(found.ra, 0)} and R9 ${signed(found.r9, 0)}`;
  const words = found.exact
    ? `A guess: many spectra fit ${asked} and Ra ${signed(ra, 1)}; this one has ${reached}.`
    : `A guess: at ${asked} no ${technology} spectrum here has Ra ${signed(ra, 1)}; the nearest has ${reached}.`;
  return { ...found, words };
}

function filament(description: LampDescription): DescribedLamp {
  const found = answer(blackBody(description.cct), description);
  const { duv, ra } = description;
  const differs = [
    Math.abs(ra - found.ra) > 1 ? `Ra 100, not ${signed(ra, 1)}` : '',
    Math.abs(duv) > 0.0002 ? `Duv 0, not ${signed(duv, 4)}` : '',
  ].filter((part) => part !== '');
  const words =
    differs.length === 0
      ? `A filament glows like a black body of ${kelvin(description.cct)}: Ra 100 and R9 100.`
      : `A filament glows like a black body, whatever the box says: ${differs.join('; ')}. Such a lamp may be an LED: look again.`;
  return { ...found, words };
}

function answer(spectrum: Spectrum, asked: LampDescription): Omit<DescribedLamp, 'words'> {
  const rendering = colourRenderingIndex(spectrum);
  if (!rendering) throw new RangeError(`Expected a lamp with a colour temperature, got ${asked.cct} K`);
  const { cct, duv, Ra, R } = rendering;
  const top = Math.max(...spectrum);
  return {
    spectrum: spectrum.map((power) => power / top),
    ...{ cct, duv, ra: Ra, r9: R[8] },
    exact:
      Math.abs(cct - asked.cct) <= 1 && Math.abs(duv - asked.duv) <= 0.0002 && Math.abs(Ra - asked.ra) <= 1,
  };
}

/** '2,700 K'. */
function kelvin(cct: number): string {
  return `${String(Math.round(cct)).replace(/\B(?=(\d{3})+$)/g, ',')} K`;
}

/** At most so many decimals, no trailing zeros, a true minus sign, never minus zero. */
function signed(value: number, decimals: number): string {
  return String(Number(value.toFixed(decimals)) + 0).replace('-', '−');
}
