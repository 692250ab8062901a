import { OBSERVER_2, colourRenderingIndex, cctOhno2014, whitePoint } from '#lib/colour/index.ts';
import type { FinishInput, LightInput, ReflectanceCache } from './appearance.ts';
import { MOVEMENT_BANDS } from './criteria.ts';
import { DAYLIGHT, stages } from './drawn-look.ts';
import type { Stage } from './drawn-look.ts';
import { LIKELY, chance, figureOf, figureWords } from './figure.ts';
import type { Figure } from './figure.ts';
import { TOLD_APART } from './groups.ts';
import { pairUnderLights } from './light-pairing.ts';
import type { NamedFinish, PairChange } from './light-pairing.ts';
import { find, namedFinishes } from './light-report.ts';
import { drawnShifts } from './light-steadiness.ts';
import type { PairingKind } from './pairing.ts';
import { DAYLIGHT_NAME, lightWords } from './pairing.ts';

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
  /** What the scheme shall stay close to; left out, daylight (D65). */
  readonly reference?: LightInput;
  readonly cache?: ReflectanceCache;
  readonly draws?: number;
  readonly seed?: number;
}

/** A pair whose kind is another under a lamp than under the reference. */
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

/** What one lamp is, and what it does to these finishes. */
export interface ComparedLamp {
  readonly id: string;
  readonly name: string;
  /** 1 is closest to the reference. Lamps of one `group` are too close to call. */
  readonly place: number;
  readonly group: number;
  /** CIE 13.3 general index, and R9 (strong red); null where the lamp has no colour temperature. */
  readonly Ra: number | null;
  readonly R9: number | null;
  /** Correlated colour temperature, K, and Duv; null where it has none. */
  readonly cct: number | null;
  readonly duv: number | null;
  /** Movement of the finishes from the reference, CAM16-UCS after adaptation, mean by area. */
  readonly mean: Figure;
  /** The finish that moves most; null without finishes. */
  readonly worst: { readonly finishId: string; readonly name: string; readonly shift: Figure } | null;
  readonly changes: readonly PairingChange[];
  readonly sentence: string;
}

/** Lamps in the order in which they keep a scheme close to the reference. */
export interface LampComparison {
  readonly lamps: readonly ComparedLamp[];
  /** Lamp ids by place; those of one group are too close to call. */
  readonly groups: readonly (readonly string[])[];
  /** Share of draws in which the first lamp keeps the scheme closer than the next one does, 0-1; null for one lamp. */
  readonly ahead: number | null;
  /** Which lamp to take, and how sure that is. */
  readonly sentence: string;
}

/**
 * How lamps treat these finishes and pairs, and which keeps the scheme closest to a reference light.
 * Order: mean movement by area at the best estimates. Every draw is one plausible reflectance for each finish, seen under
 * all the lamps, so what is common to them cancels; lamps that fewer than `TOLD_APART` of the draws put behind the first of
 * their group stay in it.
 * @throws RangeError for no lamps, a negative area, pairs of unknown finishes, or what `lightReport` refuses.
 */
export function compareLamps(input: LampComparisonInput): LampComparison {
  const { finishes, lamps, reference = DAYLIGHT } = input;
  if (lamps.length === 0) throw new RangeError('Expected at least one lamp to compare, got none');
  const stage = stages([reference, ...lamps]);
  const known = namedFinishes(finishes, stage, input);
  const areas = areasOf(finishes);
  const pairs = input.pairs
    .filter(([first, second]) => first !== second)
    .map(([first, second]) => [find(known, first), find(known, second)] as const);
  const judged = lamps.map((lamp, i) => {
    const movement = movementUnder(known, areas, i + 1);
    const changes = pairs.flatMap(([first, second]) =>
      changeOf(first, second, { lights: stage, only: i + 1 }),
    );
    return { lamp, ...movement, changes: changes.toSorted((a, b) => b.chance - a.chance) };
  });
  const ordered = judged.toSorted((a, b) => a.mean.value - b.mean.value);
  const groups = groupsOf(ordered.map(({ drawn }) => drawn));
  const compared = ordered.map((one, place): ComparedLamp => {
    const facts = factsOf(one.lamp);
    const { mean, worst, changes } = one;
    const body = { ...facts, mean, worst, changes };
    return {
      id: one.lamp.id,
      name: one.lamp.name,
      place: place + 1,
      group: groups.findIndex((members) => members.includes(place)),
      ...body,
      sentence: lampSentence(one.lamp.name, body, reference.name),
    };
  });
  return {
    lamps: compared,
    groups: groups.map((members) => members.map((index) => compared[index].id)),
    ahead: ordered.length > 1 ? behind(ordered[1].drawn, ordered[0].drawn) : null,
    sentence: comparisonSentence(compared, groups, reference.name),
  };
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

/** Movement of the finishes from the reference to a lamp: the mean by area in every draw, and the worst finish. */
function movementUnder(
  known: ReadonlyMap<string, NamedFinish>,
  areas: ReadonlyMap<string, number>,
  to: number,
): { drawn: Float64Array; mean: Figure; worst: ComparedLamp['worst'] } {
  let drawn: Float64Array | null = null;
  let mean = 0;
  let worst: ComparedLamp['worst'] = null;
  for (const [finishId, { drawn: finish, name }] of known) {
    const area = areas.get(finishId)!;
    const shifts = drawnShifts(finish.colours, { from: 0, to, draws: finish.draws });
    const value = finish.colours.reduce((sum, { share, ucs }) => {
      const [p, q] = [ucs[0], ucs[to]];
      return sum + share * Math.hypot(q.J - p.J, q.a - p.a, q.b - p.b);
    }, 0);
    drawn ??= new Float64Array(finish.draws);
    for (let t = 0; t < drawn.length; t++) drawn[t] += area * shifts[t];
    mean += area * value;
    if (area > 0 && (!worst || value > worst.shift.value))
      worst = { finishId, name, shift: figureOf(value, shifts) };
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

/** Colour temperature and rendering of a lamp. */
function factsOf({ spectrum }: LightInput): Pick<ComparedLamp, 'Ra' | 'R9' | 'cct' | 'duv'> {
  const light = Float64Array.from(spectrum);
  const rendering = colourRenderingIndex(light);
  const temperature = cctOhno2014(whitePoint(light, OBSERVER_2));
  return {
    Ra: rendering?.Ra ?? null,
    R9: rendering?.R[8] ?? null,
    cct: temperature?.cct ?? null,
    duv: temperature?.duv ?? null,
  };
}

/** Runs of lamps, which come by rising movement, that the draws cannot put behind the first of the run. */
function groupsOf(drawn: readonly Float64Array[]): number[][] {
  const groups: number[][] = [];
  drawn.forEach((shifts, index) => {
    const group = groups.at(-1);
    const first = group && drawn[group[0]];
    if (first && behind(shifts, first) < TOLD_APART) group.push(index);
    else groups.push([index]);
  });
  return groups;
}

/** Share of draws in which a lamp moves the finishes more than another; ties count half. */
function behind(shifts: Float64Array, first: Float64Array): number {
  const more = chance(shifts.length, (t) => shifts[t] > first[t]);
  const same = chance(shifts.length, (t) => shifts[t] === first[t]);
  return more + same / 2;
}

/** What a mean movement from the reference means for a scheme; the bands are those of a finish. */
function schemeWords(shift: number, reference: string): string {
  if (shift < 1) return `keeps the scheme as in ${reference}`;
  if (shift < MOVEMENT_BANDS.steady) return `keeps the scheme close to ${reference}`;
  if (shift < MOVEMENT_BANDS['moves a little']) return `moves the scheme a little away from ${reference}`;
  return `turns the scheme away from ${reference}`;
}

/** What the scheme shall stay close to, in a sentence. */
function referenceWords(reference: string): string {
  return reference === DAYLIGHT_NAME ? 'daylight' : lightWords(reference);
}

function lampSentence(
  name: string,
  { mean, worst, changes, Ra, R9 }: Pick<ComparedLamp, 'mean' | 'worst' | 'changes' | 'Ra' | 'R9'>,
  reference: string,
): string {
  const facts = Ra === null ? 'no colour rendering index' : `Ra ${Ra.toFixed(0)}, R9 ${R9!.toFixed(0)}`;
  if (!worst) return `${lightWords(name)}: ${facts}.`;
  const moves =
    `${lightWords(name)} (${facts}) ${schemeWords(mean.value, referenceWords(reference))}: ` +
    `movement ${figureWords(mean)} on average`;
  const most = worst.shift.value < 1 ? '' : `, most for ${worst.name} (${figureWords(worst.shift)})`;
  const sure = changes.filter((change) => change.chance >= LIKELY).length;
  const may = changes.length - sure;
  const pairs = [
    ...(sure > 0 ? [`changes ${sure === 1 ? 'one pair' : `${sure} pairs`}`] : []),
    ...(may > 0 ? [`may change ${may === 1 ? 'one pair' : `${may} pairs`}`] : []),
  ];
  return `${moves}${most}.${pairs.length > 0 ? ` It ${pairs.join(' and ')}.` : ''}`;
}

function comparisonSentence(
  lamps: readonly ComparedLamp[],
  groups: readonly (readonly number[])[],
  reference: string,
): string {
  const to = referenceWords(reference);
  const name = (index: number) => lightWords(lamps[index].name);
  if (lamps.every(({ worst }) => !worst)) return 'There is no finish to compare the lamps by.';
  const size = (index: number) => figureWords(lamps[index].mean);
  if (lamps.length === 1) return `${name(0)} moves the scheme by ${size(0)} from ${to}.`;
  const [first, second] = groups;
  if (first.length > 1) {
    const names = first.map(name);
    const all = `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
    const left = lamps.length - first.length;
    const others = left === 0 ? '' : `, and closer than ${left === 1 ? name(second[0]) : 'the others'}`;
    return `${all} keep the scheme about equally close to ${to}${others}: which is better is too close to call.`;
  }
  return (
    `${name(0)} keeps the scheme closest to ${to} (movement ${size(0)} on average), ` +
    `before ${name(second[0])} (${size(second[0])}).`
  );
}
