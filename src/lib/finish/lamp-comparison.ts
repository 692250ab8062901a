import {
  OBSERVER_2,
  blackBody,
  cctOhno2014,
  colourRenderingIndex,
  daylight,
  whitePoint,
} from '#lib/colour/index.ts';
import type { FinishInput, LightInput, ReflectanceCache } from './appearance.ts';
import { DAYLIGHT, stages } from './drawn-look.ts';
import type { Stage } from './drawn-look.ts';
import { LIKELY, chance, figureOf, figureWords } from './figure.ts';
import type { Figure } from './figure.ts';
import { TOLD_APART } from './groups.ts';
import { pairUnderLights } from './light-pairing.ts';
import type { NamedFinish, PairChange } from './light-pairing.ts';
import { find, namedFinishes } from './light-report.ts';
import { differenceBetween, drawnDifferences } from './light-steadiness.ts';
import { lightWords } from './pairing.ts';
import type { PairingKind } from './pairing.ts';

/** A finish as a comparison of lamps weighs it. */
export interface LitFinish extends FinishInput {
  readonly surfaceName?: string;
  readonly role?: 'candidate' | 'fixed' | 'chosen';
  /** How much of it the room shows, in any unit; 1 where absent. A finish given twice counts with both areas. */
  readonly area?: number;
}

export interface LampComparisonInput {
  readonly finishes: readonly LitFinish[];
  /** Which finishes meet, by id. */
  readonly pairs: readonly (readonly [string, string])[];
  readonly lamps: readonly LightInput[];
  readonly cache?: ReflectanceCache;
  readonly draws?: number;
  readonly seed?: number;
}

/** A pair whose kind is another under a lamp than by day. */
export interface PairingChange {
  readonly first: string;
  readonly second: string;
  readonly change: Exclude<PairChange, 'holds'>;
  readonly from: PairingKind;
  readonly to: PairingKind;
  readonly difference: Figure;
  /** Share of plausible reflectances with which it comes about, 0-1. */
  readonly chance: number;
  /** The pair's sentence; see `PairReport`. */
  readonly sentence: string;
}

/** The warmths that lamps are chosen by; `coloured` is no kind of white. */
export const WARMTHS = ['warm', 'neutral', 'cool', 'coloured'] as const;
export type Warmth = (typeof WARMTHS)[number];

/** What one lamp is, and what it does to these finishes. */
export interface ComparedLamp {
  readonly id: string;
  readonly name: string;
  readonly warmth: Warmth;
  /** Among the lamps of its warmth, from 1: 1 shows the finishes truest. Lamps of one `group` are too close to call. */
  readonly place: number;
  readonly group: number;
  /** CIE 13.3 general index, and R9 (strong red); null where the lamp has no colour temperature. */
  readonly Ra: number | null;
  readonly R9: number | null;
  /** Correlated colour temperature, K, and Duv; null where it has none. */
  readonly cct: number | null;
  readonly duv: number | null;
  /**
   * CIEDE2000 between the finishes under the lamp and under its own reference, after adaptation, mean by area. The reference
   * is that of CIE 13.3: the black body of its colour temperature below 5,000 K, daylight of it from there on; D65 for a
   * coloured light.
   */
  readonly mean: Figure;
  /** The finish that differs most; null without finishes. */
  readonly worst: { readonly finishId: string; readonly name: string; readonly difference: Figure } | null;
  /** Pairs that change from daylight. */
  readonly changes: readonly PairingChange[];
  readonly sentence: string;
}

/** The lamps of one warmth. */
export interface ComparedWarmth {
  readonly warmth: Warmth;
  /** Lamp ids by place; those of one group are too close to call. */
  readonly groups: readonly (readonly string[])[];
  /** Share of draws in which the first lamp shows the finishes truer than the next one does, 0-1; null for one lamp. */
  readonly ahead: number | null;
  /** Which lamp of this warmth to take, and how sure that is. */
  readonly sentence: string;
}

/** Lamps by warmth, and in each in the order in which they show the finishes true. */
export interface LampComparison {
  readonly lamps: readonly ComparedLamp[];
  /** In the order of `WARMTHS`, those that are there. */
  readonly warmths: readonly ComparedWarmth[];
  /** Which lamp to take in each warmth. */
  readonly sentence: string;
}

/** Upper borders of the mean difference from a lamp's reference, CIEDE2000. Common practice, no published source. */
const TRUE_BELOW = { true: 1, nearly: 2, bent: 3.5 } as const;

/**
 * How lamps treat these finishes and pairs, and which shows them truest for its warmth: who wants 2,700 K has chosen how far
 * to go from daylight, and asks what the lamp does beyond that. (Beside daylight a cool tube that distorts colours stands
 * before a filament that does not.)
 * Order: mean difference by area at the best estimates. Every draw is one plausible reflectance for each finish, seen under
 * all the lamps, so what is common to them cancels; lamps that fewer than `TOLD_APART` of the draws put behind the first of
 * their group stay in it.
 * @throws RangeError for no lamps, a negative area, pairs of unknown finishes, or what `lightReport` refuses.
 */
export function compareLamps(input: LampComparisonInput): LampComparison {
  const { finishes, lamps } = input;
  if (lamps.length === 0) throw new RangeError('Expected at least one lamp to compare, got none');
  const facts = lamps.map(factsOf);
  const stage = stages([DAYLIGHT, ...lamps, ...lamps.map((lamp, i) => referenceOf(lamp, facts[i]))]);
  const known = namedFinishes(finishes, stage, input);
  const areas = areasOf(finishes);
  const pairs = input.pairs
    .filter(([first, second]) => first !== second)
    .map(([first, second]) => [find(known, first), find(known, second)] as const);
  const judged = lamps.map((lamp, i) => {
    const change = differencesUnder(known, areas, { from: 1 + lamps.length + i, to: 1 + i });
    const changes = pairs.flatMap(([first, second]) =>
      changeOf(first, second, { lights: stage.slice(0, 1 + lamps.length), only: i + 1 }),
    );
    return { lamp, ...facts[i], ...change, changes: changes.toSorted((a, b) => b.chance - a.chance) };
  });
  const compared: ComparedLamp[] = [];
  const warmths: ComparedWarmth[] = [];
  for (const warmth of WARMTHS) {
    const ordered = judged
      .filter((one) => one.warmth === warmth)
      .toSorted((a, b) => a.mean.value - b.mean.value);
    if (ordered.length === 0) continue;
    const groups = groupsOf(ordered.map(({ drawn }) => drawn));
    const here = ordered.map(({ lamp: { id, name }, drawn: _, ...body }, place): ComparedLamp => ({
      ...{ id, name, place: place + 1, ...body },
      group: groups.findIndex((members) => members.includes(place)),
      sentence: lampSentence(name, body),
    }));
    compared.push(...here);
    warmths.push({
      warmth,
      groups: groups.map((members) => members.map((index) => here[index].id)),
      ahead: ordered.length > 1 ? behind(ordered[1].drawn, ordered[0].drawn) : null,
      sentence: warmthSentence(here, groups),
    });
  }
  const sentence =
    finishes.length === 0
      ? 'There is no finish to compare the lamps by.'
      : warmths.map((one) => one.sentence).join(' ');
  return { lamps: compared, warmths, sentence };
}

/** Area of each finish as a share of all, 0-1. */
function areasOf(finishes: readonly LitFinish[]): Map<string, number> {
  const out = new Map<string, number>();
  let sum = 0;
  for (const { id, area = 1 } of finishes) {
    if (!(area >= 0) || !Number.isFinite(area))
      throw new RangeError(`Expected an area of 0 or more for finish ${id}, got ${area}`);
    out.set(id, (out.get(id) ?? 0) + area);
    sum += area;
  }
  for (const [id, area] of out) out.set(id, sum > 0 ? area / sum : 1 / out.size);
  return out;
}

/** CIEDE2000 of the finishes between two lights: the mean by area in every draw, and the finish that differs most. */
function differencesUnder(
  known: ReadonlyMap<string, NamedFinish>,
  areas: ReadonlyMap<string, number>,
  between: { from: number; to: number },
): { drawn: Float64Array; mean: Figure; worst: ComparedLamp['worst'] } {
  let drawn: Float64Array | null = null;
  let mean = 0;
  let worst: ComparedLamp['worst'] = null;
  for (const [finishId, { drawn: finish, name }] of known) {
    const area = areas.get(finishId)!;
    const each = drawnDifferences(finish.colours, between);
    const difference = differenceBetween(finish.colours, between);
    drawn ??= new Float64Array(finish.draws);
    for (let t = 0; t < drawn.length; t++) drawn[t] += area * each[t];
    mean += area * difference.value;
    if (area > 0 && (!worst || difference.value > worst.difference.value))
      worst = { finishId, name, difference };
  }
  drawn ??= new Float64Array(1);
  return { drawn, mean: figureOf(mean, drawn), worst };
}

/** What a lamp does to a pair, where it changes its kind. */
function changeOf(
  first: NamedFinish,
  second: NamedFinish,
  under_: { lights: readonly Stage[]; only: number },
): PairingChange[] {
  const { at, day, sentence } = pairUnderLights(first, second, under_);
  if (!at || at.change === 'holds') return [];
  const { change, difference, kind } = at;
  return [
    {
      first: first.name,
      second: second.name,
      change,
      from: day.kind,
      to: kind,
      difference,
      chance: at.chance,
      sentence,
    },
  ];
}

type Facts = Pick<ComparedLamp, 'warmth' | 'Ra' | 'R9' | 'cct' | 'duv'>;

/** Colour temperature and rendering of a lamp. */
function factsOf({ spectrum }: LightInput): Facts {
  const light = Float64Array.from(spectrum);
  const rendering = colourRenderingIndex(light);
  const temperature = cctOhno2014(whitePoint(light, OBSERVER_2));
  return {
    warmth: temperature ? warmthOf(temperature.cct) : 'coloured',
    Ra: rendering?.Ra ?? null,
    R9: rendering?.R[8] ?? null,
    cct: temperature?.cct ?? null,
    duv: temperature?.duv ?? null,
  };
}

/** Warm below 3,300 K, cool above 5,300 K: the bands of EN 12464-1 (from memory). */
function warmthOf(cct: number): Warmth {
  return cct < 3300 ? 'warm' : cct > 5300 ? 'cool' : 'neutral';
}

/** The light of a lamp's colour temperature that lacks nothing. Source: the reference illuminants of CIE 13.3. */
function referenceOf(lamp: LightInput, { cct }: Facts): LightInput {
  if (cct === null) return DAYLIGHT;
  const spectrum = cct < 5000 ? blackBody(cct) : daylight(Math.min(cct, 25_000));
  return { ...lamp, id: `${lamp.id} reference`, spectrum: Array.from(spectrum) };
}

/** Runs of lamps, which come by rising difference, that the draws cannot put behind the first of the run. */
function groupsOf(drawn: readonly Float64Array[]): number[][] {
  const groups: number[][] = [];
  drawn.forEach((differences, index) => {
    const group = groups.at(-1);
    const first = group && drawn[group[0]];
    if (first && behind(differences, first) < TOLD_APART) group.push(index);
    else groups.push([index]);
  });
  return groups;
}

/** Share of draws in which a lamp changes the finishes more than another; ties count half. */
function behind(differences: Float64Array, first: Float64Array): number {
  const more = chance(first.length, (t) => differences[t] > first[t]);
  const same = chance(first.length, (t) => differences[t] === first[t]);
  return more + same / 2;
}

/** What a mean difference from its reference means for a lamp. */
function trueWords(difference: number): string {
  if (difference < TRUE_BELOW.true) return 'shows the finishes true for its warmth';
  if (difference < TRUE_BELOW.nearly) return 'shows the finishes nearly true for its warmth';
  if (difference < TRUE_BELOW.bent) return 'bends the finishes a little for its warmth';
  return 'shows the finishes plainly untrue for its warmth';
}

const signed = (value: number) => Math.round(value).toString().replace('-', '\u2212');

function lampSentence(
  name: string,
  { warmth, mean, worst, changes, R9 }: Pick<ComparedLamp, 'warmth' | 'mean' | 'worst' | 'changes' | 'R9'>,
): string {
  if (!worst) return `${lightWords(name)}: no finish to judge it by.`;
  const how = warmth === 'coloured' ? 'is no white light and changes the finishes' : trueWords(mean.value);
  const most =
    worst.difference.value < 1 ? '' : `, most for ${worst.name} (${figureWords(worst.difference)})`;
  const reds = R9 !== null && R9 < 0 ? ` Strong reds go dull under it (R9 ${signed(R9)}).` : '';
  const sure = changes.filter((change) => change.chance >= LIKELY).length;
  const may = changes.length - sure;
  const pairs = [
    ...(sure > 0 ? [`changes ${sure === 1 ? 'one pair' : `${sure} pairs`}`] : []),
    ...(may > 0 ? [`may change ${may === 1 ? 'one pair' : `${may} pairs`}`] : []),
  ];
  const changed = pairs.length > 0 ? ` Beside daylight it ${pairs.join(' and ')}.` : '';
  return `${lightWords(name)} ${how}: difference ${figureWords(mean)} on average${most}.${reds}${changed}`;
}

/** Which of the lamps of one warmth to take; they come by place. */
function warmthSentence(lamps: readonly ComparedLamp[], groups: readonly (readonly number[])[]): string {
  const [{ warmth, sentence }] = lamps;
  if (lamps.length === 1) return sentence;
  const name = (index: number) => lightWords(lamps[index].name);
  const size = (index: number) => figureWords(lamps[index].mean);
  const [first, second] = groups;
  if (first.length > 1) {
    const names = first.map(name);
    const all = `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
    const left = lamps.length - first.length;
    const others = left === 0 ? '' : `, and truer than ${left === 1 ? name(second[0]) : 'the others'}`;
    return `Of the ${warmth} lamps ${all} show the finishes about equally true${others}: which is better is too close to call.`;
  }
  return (
    `Of the ${warmth} lamps ${name(0)} shows the finishes truest (difference ${size(0)} on average), ` +
    `before ${name(second[0])} (${size(second[0])}).`
  );
}
