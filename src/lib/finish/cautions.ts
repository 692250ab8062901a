import type { Application } from './coats.ts';
import type { WorkKind } from './surface-work.ts';
import type { StepTask } from './work-step.ts';

/** What a caution depends on. */
export interface CautionedStep {
  readonly task: StepTask;
  /** Null where the step is for a whole room. */
  readonly kind: WorkKind | null;
  readonly application: Application;
  /** Whether the paint has two parts, or a solvent or oil in it; null where nobody said, and the caution is given. */
  readonly twoPart: boolean | null;
  readonly solventBased: boolean | null;
}

/** A usual caution at a step. It replaces no rule, no data sheet and no licensed trade. */
export interface Caution {
  readonly id: string;
  readonly words: string;
  /** The rule behind it, or how we know. */
  readonly source: string;
}

/**
 * Housing built before this year counts as old. Source: 40 CFR 745, subpart E (73 FR 21692), renovation for pay in
 * housing built before 1978. Other countries have other years.
 */
export const LEAD_YEAR = 1978;

/** Years in which a house can have been built; others count as not known. */
export const BUILT_BOUNDS = [1000, 2200] as const;

const COATING: readonly StepTask[] = ['prime', 'coat'];
const DISTURBING: readonly StepTask[] = ['sand', 'dust off', 'holes'];
const OPENING_UP: readonly StepTask[] = ['lay tiles', 'lay floor'];

/**
 * The usual cautions at a step, the gravest first, closed by the reminder that local rules decide; empty only where none
 * is known. A house whose year is not known counts as old; what is not known of the paint counts as the worse.
 */
export function cautionsFor(
  step: CautionedStep,
  { yearBuilt }: { readonly yearBuilt: number | null },
): Caution[] {
  const { task, kind, application, twoPart, solventBased } = step;
  const year = knownYear(yearBuilt);
  const old = year === null || year < LEAD_YEAR;
  const age = year === null ? 'The year of the house is not known, so it counts as old. ' : `Built ${year}. `;
  const coating = COATING.includes(task);
  const sprayed = coating && application !== 'brush and roller';
  const cautions: Caution[] = [];
  const add = (id: string, words: string, source: string) => cautions.push({ id, words, source });
  if (old && (DISTURBING.includes(task) || OPENING_UP.includes(task)))
    add(
      'lead',
      `${age}Old paint may contain lead: have it tested before it is sanded, scraped, drilled or broken out. Where lead is found or not ruled out, no dry sanding and no open flame; follow the local rules for such work, keep children and pregnant women away.`,
      `US: 40 CFR 745, subpart E (work for pay in housing built before ${LEAD_YEAR}; work practices in 745.85)`,
    );
  if (old && (task === 'lay floor' || (task === 'sand' && kind === 'paint ceiling')))
    add(
      'asbestos',
      `${age}Old floor coverings, their glue and textured ceilings may contain asbestos: have them tested before they are sanded, scraped or broken out.`,
      'from memory',
    );
  const dust = () =>
    add(
      'dust',
      'Dust from sanding: take it off at the tool or sand wet, wear a close-fitting dust respirator and eye protection. In some countries lead was allowed in paint for longer than in the US.',
      'common practice; respirators: 29 CFR 1910.134 (US)',
    );
  if (DISTURBING.includes(task)) dust();
  if (sprayed)
    add(
      'spraying',
      `Spraying (${application}): ventilate without blowing the mist at anybody, put out flames and sparks, wear eye protection and a respirator for paint mist and vapour that was tested for fit. A jet at pressure injects through skin: never point it at a hand; an injury is an emergency.`,
      'respirators: 29 CFR 1910.134 (selection, fit testing; US); the rest from memory',
    );
  if (coating && twoPart !== false)
    add(
      'two parts',
      `${twoPart === null ? 'If the paint has two parts: ' : 'Paint of two parts: '}its hardener may hold isocyanates, which cannot be smelled in time and cause asthma. Follow the safety data sheet; for spraying as a rule breathing air from outside the mist, and nobody else in the room.`,
      'US: 29 CFR 1910.134; OSHA, interpretations on isocyanates of 11 July 1994 and 18 July 2000',
    );
  if (coating && solventBased !== false)
    add(
      'rags',
      `${solventBased === null ? 'If the paint holds oil or solvent: rags' : 'Rags'} with drying oil heat up by themselves and can catch fire in a heap. Spread them out singly to dry outdoors, or keep them in a closed metal can with water. Ventilate, no flames, and pour nothing down a drain.`,
      'common practice, no standard read',
    );
  // Coats on anything but walls and ceilings are sanded lightly in between.
  if (task === 'coat' && kind !== 'paint walls' && kind !== 'paint ceiling') dust();
  if (task === 'clean')
    add(
      'cleaners',
      'Degreasers hurt skin and eyes: gloves and eye protection; never mix cleaners. Switch off and cover sockets, hob and lamps before anything gets wet.',
      'from memory',
    );
  if (['fit counter', 'lay tiles', 'grout', 'lay floor'].includes(task))
    add(
      'silica',
      'Dust of stone, tile, grout and concrete holds fine quartz, which scars the lungs: cut wet or with dust taken off at the tool, outdoors where it can be, never dry in the room; wear a close-fitting respirator.',
      'US: 29 CFR 1926.1153 (on site), 29 CFR 1910.1053 (workshop)',
    );
  if (task === 'template' || task === 'fit counter')
    add(
      'services',
      'Sink, tap, gas hob, oven and sockets are taken off and connected again by licensed trades; gas and mains are shut off first. A slab is carried on edge by enough people.',
      'from memory',
    );
  if (['lay tiles', 'holes', 'fit hardware', 'lay floor'].includes(task))
    add(
      'hidden lines',
      'Look for cables, water and gas before drilling or cutting into a wall, floor or cabinet; work on them is for licensed trades.',
      'from memory',
    );
  if (kind === 'paint ceiling' || kind === 'paint walls')
    add(
      'ladder',
      'Ladder or platform on firm, level ground; face it, do not lean out, do not stand on its top.',
      'US: 29 CFR 1926.1053 (from memory)',
    );
  if (cautions.length > 0)
    add(
      'local rules',
      'Local codes and licensed trades decide; this is only the usual caution.',
      'common practice',
    );
  return cautions;
}

/** A year in which a house can have been built, else null. */
export function knownYear(year: number | null): number | null {
  const [least, most] = BUILT_BOUNDS;
  return year !== null && Number.isInteger(year) && year >= least && year <= most ? year : null;
}
