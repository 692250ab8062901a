import { FieldCheck } from './field-check.ts';
import type { FieldProblem } from './parts.ts';
import { SPREAD_PER_SQ_FT_PER_GAL, areaWords, spreadRateWords, volumeWords } from './units.ts';
import type { UnitSystem } from './units.ts';

export const PAINT_ROLES = ['primer', 'finish coat'] as const;
export type PaintRole = (typeof PAINT_ROLES)[number];

/**
 * Area that a volume covers with one coat, m² per litre, where the product does not say: cautious and generous end. Reckoned
 * with the cautious one. Common practice, no published source: 350-400 sq ft per US gallon for finish coats (8.6-9.8 m²/l),
 * 300-400 for primers, which soak in.
 */
export const USUAL_SPREAD: Readonly<Record<PaintRole, readonly [number, number]>> = {
  primer: [300 * SPREAD_PER_SQ_FT_PER_GAL, 400 * SPREAD_PER_SQ_FT_PER_GAL],
  'finish coat': [350 * SPREAD_PER_SQ_FT_PER_GAL, 400 * SPREAD_PER_SQ_FT_PER_GAL],
};

export const APPLICATIONS = ['brush and roller', 'air-assisted airless', 'HVLP', 'airless'] as const;
export type Application = (typeof APPLICATIONS)[number];

/**
 * Share of the paint used that ends up on the surface: least and most; reckoned with the middle. What is left in brush,
 * roller and tray is common practice, no published source. Spray guns: Products Finishing, A primer on transfer efficiency
 * and tip sizes (HVLP 50-60 %, airless 40-50 %, air-assisted airless 60-80 %), for furniture and other pieces; on
 * large walls less is lost, so that the user may set their own share.
 */
export const LANDED: Readonly<Record<Application, readonly [number, number]>> = {
  'brush and roller': [0.85, 0.95],
  'air-assisted airless': [0.6, 0.8],
  HVLP: [0.5, 0.6],
  airless: [0.4, 0.5],
};

/** Coats where nobody said: one of primer, two of finish. Common practice, no published source. */
export const USUAL_COATS: Readonly<Record<PaintRole, number>> = { primer: 1, 'finish coat': 2 };

/** A part of a surface to be painted. */
export interface PaintedPart {
  readonly name: string;
  /** m² of one coat, as the take-off gives it; null where it is not known. */
  readonly area: number | null;
  /** Standard deviation over the area. */
  readonly relativeSd: number;
  /** Coats of this paint, a whole number from 1; a part without primer is not handed in. */
  readonly coats: number;
  readonly application: Application;
  /** Share of the paint that lands, 0.1-1, where the user knows it; else null. */
  readonly landed: number | null;
}

export interface PaintQuestion {
  readonly role: PaintRole;
  /** m² per litre and coat as the product says; null where it does not. */
  readonly spreadRate: number | null;
  readonly parts: readonly PaintedPart[];
  readonly system: UnitSystem;
  /** Path of the question, for problems: 'paints[0]'. */
  readonly path: string;
}

export interface PaintStep {
  readonly words: string;
  /** Unrounded. */
  readonly litres: number;
}

/** How much paint is needed. */
export interface PaintNeed {
  /** Litres, unrounded; null where no part could be reckoned. */
  readonly litres: number | null;
  /** Litres if everything goes well, and if nothing does: spread rate and loss at their ends, the area off by two sd. */
  readonly range: readonly [number, number] | null;
  /** Area times coats, m². */
  readonly coatArea: number;
  readonly steps: readonly PaintStep[];
  /** Parts in no total, in words. */
  readonly leftOut: readonly string[];
  readonly problems: readonly FieldProblem[];
  /** The need in a sentence, in litres and US gallons, with what it leaves out. */
  readonly words: string;
}

/** Spread rates that can be, m² per litre and coat; outside the second pair one is asked to look again. */
const SPREAD_BOUNDS = { possible: [0.5, 40], usual: [3, 18] } as const;
const MOST_COATS = 12;

/**
 * Paint for the parts of a surface, coats and loss counted, primer and finish coats each in a question of their own. Parts
 * with a size or a number of coats that cannot be are left out and named.
 */
export function paintNeed({ role, spreadRate, parts, system, path }: PaintQuestion): PaintNeed {
  const check = new FieldCheck(system);
  const usual = USUAL_SPREAD[role];
  const given =
    spreadRate !== null && soundSpreadRate(check, { spreadRate, path: `${path}.spreadRate`, system });
  const [rate, generous] = given ? [spreadRate, spreadRate] : usual;
  const why = given ? 'as the product says' : `usual for a ${role}; the product's own figure is better`;
  const steps: PaintStep[] = [];
  const leftOut: string[] = [];
  const range: [number, number] = [0, 0];
  let coatArea = 0;
  parts.forEach((part, index) => {
    const at = `${path}.parts[${index}]`;
    const what = { what: 'number of coats', most: MOST_COATS };
    const sound = [
      part.area === null
        ? check.error(`${at}.area`, `The area of ${part.name} is not known.`)
        : check.within(part.area, `${at}.area`, { least: 1e-6, most: 1e5, what: 'area' }),
      check.count(part.coats, `${at}.coats`, what),
      part.landed === null ||
        check.within(part.landed, `${at}.landed`, { least: 0.1, most: 1, what: 'share of paint that lands' }),
    ];
    if (part.area === null || !sound.every(Boolean)) {
      leftOut.push(part.name);
      return;
    }
    const [least, most] = part.landed === null ? LANDED[part.application] : [part.landed, part.landed];
    const landed = (least + most) / 2;
    const area = part.area * part.coats;
    coatArea += area;
    const litres = area / rate / landed;
    range[0] += (area * Math.exp(-2 * part.relativeSd)) / generous / most;
    range[1] += (area * Math.exp(2 * part.relativeSd)) / rate / least;
    const coats = part.coats === 1 ? '1 coat' : `${part.coats} coats`;
    steps.push({
      litres,
      words: `${part.name}: ${areaWords(part.area, system)} × ${coats} ÷ ${spreadRateWords(rate, system)} ÷ ${landed.toFixed(2)} that lands (${part.application}) = ${volumeWords(litres, system)}`,
    });
  });
  const none = steps.length === 0;
  const litres = none ? null : steps.reduce((sum, step) => sum + step.litres, 0);
  const missing = leftOut.length === 0 ? '' : ` Not in it: ${leftOut.join(', ')}.`;
  const words =
    litres === null
      ? `No ${role} could be reckoned.${missing}`
      : `${volumeWords(litres, system)} of ${role}, at ${spreadRateWords(rate, system)} a coat, ${why}.${missing}`;
  return { litres, range: none ? null : range, coatArea, steps, leftOut, problems: check.problems, words };
}

function soundSpreadRate(
  check: FieldCheck,
  { spreadRate, path, system }: { spreadRate: number; path: string; system: UnitSystem },
): boolean {
  const [least, most] = SPREAD_BOUNDS.possible;
  const [low, high] = SPREAD_BOUNDS.usual;
  if (!Number.isFinite(spreadRate) || spreadRate < least || spreadRate > most)
    return check.error(
      path,
      `A spread rate must lie from ${spreadRateWords(least, system)} to ${spreadRateWords(most, system)}; the usual one is used.`,
    );
  if (spreadRate < low || spreadRate > high)
    check.warn(path, `${spreadRateWords(spreadRate, system)} is an unusual spread rate. It is used.`);
  return true;
}
