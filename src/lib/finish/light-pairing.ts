import { deltaE2000, deltaE2000Many, describeDifference, metamerismIndexFromXyz } from '#lib/colour/index.ts';
import type { XYZ } from '#lib/colour/index.ts';
import { labOfDraw, underLight } from './drawn-look.ts';
import type { DrawnFinish, Facet, Stage } from './drawn-look.ts';
import { LIKELY, MORE_LIKELY_THAN_NOT, POSSIBLE, chance, figureOf, figureWords, meanOf } from './figure.ts';
import type { Figure } from './figure.ts';
import { joined } from './light-steadiness.ts';
import type { NamedLight } from './light-steadiness.ts';
import { DAYLIGHT_NAME, pairingKind, passesForMatch, under } from './pairing.ts';
import type { PairingKind } from './pairing.ts';
import { twoWhites } from './whites.ts';

/**
 * What a light does to a pair, against daylight: `parts`, a match by day that is none there; `meets`, the other way round;
 * `nears`, a clear step by day that becomes a near miss; `clears`, a near miss by day that becomes a clear step; `holds`.
 */
export type PairChange = 'parts' | 'meets' | 'nears' | 'clears' | 'holds';

/** A pair under one light. */
export interface PairUnderLight {
  readonly light: NamedLight;
  /** CIEDE2000 after adaptation; its doubt is that of both colours and of both reflectances. */
  readonly difference: Figure;
  /**
   * What CIEDE2000 to expect for the colours as they stand by day: mean and spread over the plausible reflectances. Larger
   * than the best estimate's, for two finishes that are known by day alone hardly change alike.
   */
  readonly expected: Figure;
  readonly kind: PairingKind;
  readonly change: PairChange;
  /** Share of plausible reflectances with which the change comes about (1 less the chance of others for `holds`), 0-1. */
  readonly chance: number;
  /**
   * CIE special metamerism index, change of illuminant from the first light, CIELAB units: mean and spread over the
   * plausible reflectances.
   * Null where the pair does not match by day, where the index means nothing, or reflects nothing.
   */
  readonly metamerismIndex: Figure | null;
}

/** How a pair takes the lights of a room, its worst light deciding. */
export type PairVerdict =
  Exclude<PairChange, 'holds'> | `may ${'part' | 'meet' | 'near' | 'clear'}` | 'holds';

/** Two finishes by day and under each light. */
export interface PairReport {
  readonly first: PairMember;
  readonly second: PairMember;
  readonly day: { readonly difference: Figure; readonly kind: PairingKind };
  /** How far the two are plain whites, 0-1: whites are judged more strictly. */
  readonly whites: number;
  readonly lights: readonly PairUnderLight[];
  readonly verdict: PairVerdict;
  /** The light that decides; null without lights. */
  readonly at: PairUnderLight | null;
  readonly sentence: string;
}

/** One of a pair: which finish, and which of its colours is meant. */
export interface PairMember {
  readonly finishId: string;
  readonly name: string;
  /** 'whole', or the place of the colour among the finish's colours. */
  readonly of: 'whole' | number;
}

/** Colours of two finishes farther apart than this in every light, CIEDE2000, are not looked at on their own. */
const FAR = 10;

/** Change in CIEDE2000 below which no light is said to change a pair, so that 4.9 and 5.1 are not two kinds. */
const CHANGE_SEEN = 1;

/** Part of a finish's area from which a colour is looked at on its own. */
const MAIN_SHARE = 0.2;

/** A drawn finish with the name sentences call it. */
export interface NamedFinish {
  readonly drawn: DrawnFinish;
  readonly name: string;
}

/**
 * How two finishes sit together by day (the first light; a comparison may put another there) and under each other light,
 * or under `only` one of them.
 *
 * Two plain finishes are compared as they are. Of a finish of several colours the whole (mixed by area, as from across the
 * room) and each colour from `MAIN_SHARE` on are compared with those of the other: reported is the pair that the lights
 * treat worst, or the nearest by day where they change none. Where a reflectance is measured it gives the look by day too.
 *
 * Whether lights change a pair is judged for the colours as they stand by day: what is drawn is the reflectances alone, for
 * who holds two samples together at the window knows how they look there. The doubt about the colours is in `difference`.
 */
export function pairUnderLights(
  first: NamedFinish,
  second: NamedFinish,
  { lights, only }: { lights: readonly Stage[]; only?: number },
): PairReport {
  const looked = lights.map((_, at) => at).filter((at) => at > 0 && (only === undefined || at === only));
  let worst: PairReport | null = null;
  for (const p of facetsOf(first.drawn)) {
    for (const q of facetsOf(second.drawn)) {
      if (worst && [0, ...looked].every((l) => deltaE2000(p.labs[l], q.labs[l]) > FAR)) continue;
      const report = facetPair({ ...first, facet: p }, { ...second, facet: q }, { lights, looked });
      if (!worst || severity(report) < severity(worst)) worst = report;
    }
  }
  return worst!;
}

function facetsOf({ whole, colours }: DrawnFinish): Facet[] {
  return colours.length === 1 ? [whole] : [whole, ...colours.filter(({ share }) => share >= MAIN_SHARE)];
}

const ORDER: readonly PairVerdict[] = [
  'parts',
  'may part',
  'nears',
  'meets',
  'clears',
  'may near',
  'may meet',
  'may clear',
  'holds',
];

/** Place of a report in the order of what must be known first: lower is worse. */
export function severity({ verdict, at, day }: PairReport): number {
  // Of pairs that hold the nearest come first: there the eye compares.
  const within = verdict === 'holds' ? day.difference.value / 1000 : 0.9 - 0.9 * (at?.chance ?? 0);
  return ORDER.indexOf(verdict) + within;
}

interface Member extends NamedFinish {
  readonly facet: Facet;
}

function facetPair(
  first: Member,
  second: Member,
  { lights: stages, looked }: { lights: readonly Stage[]; looked: readonly number[] },
): PairReport {
  const { draws } = first.drawn;
  const [p, q] = [first.facet, second.facet];
  const dayDelta = deltaE2000(p.labs[0], q.labs[0]);
  // What is mixed from several colours is no plain white.
  const whites =
    p.of === 'whole' || q.of === 'whole'
      ? 0
      : twoWhites({ lab: p.labs[0], share: p.share }, { lab: q.labs[0], share: q.share });
  const day = { difference: figureOf(dayDelta, totalDraws(p, q, 0)), kind: pairingKind(dayDelta, whites) };
  const apart = new Float32Array(draws);
  const lights = looked.map((at): PairUnderLight => {
    const { id, name } = stages[at];
    const value = deltaE2000(p.labs[at], q.labs[at]);
    deltaE2000Many(p.drawnLabs[at], q.drawnLabs[at], apart);
    const { change, share } = changeOf(dayDelta, apart, whites);
    return {
      light: { id, name },
      difference: figureOf(value, totalDraws(p, q, at)),
      expected: meanOf(apart),
      kind: pairingKind(value, whites),
      change,
      chance: share,
      metamerismIndex: dayDelta < passesForMatch(whites) ? indexOf(p, q, { stages, at, draws }) : null,
    };
  });
  const member = ({ drawn, name, facet }: Member): PairMember => ({
    finishId: drawn.finish.id,
    name: memberWords(name, drawn, facet),
    of: facet.of,
  });
  const report = { first: member(first), second: member(second), day, whites, lights };
  const at = lights.reduce<PairUnderLight | null>(
    (most, one) => (most && !worse(one, most) ? most : one),
    null,
  );
  const verdict = at ? verdictOf(at) : 'holds';
  const look = at && looked[lights.indexOf(at)];
  const leaning = look ? joined(describeDifference(p.labs[look], q.labs[look])) : '';
  return {
    ...report,
    verdict,
    at,
    sentence: sentence({ ...report, verdict, at }, { leaning, first: stages[0].name }),
  };
}

/** CIEDE2000 of every draw, colours by day and reflectances both drawn. */
function totalDraws(p: Facet, q: Facet, light: number): Float32Array {
  const out = new Float32Array(p.moves[0].length);
  deltaE2000Many(p.movedLabs[light], q.movedLabs[light], out);
  return out;
}

/** What a light does to a pair in most of the draws that do anything, and in what share of all. */
function changeOf(day: number, apart: Float32Array, whites: number): { change: PairChange; share: number } {
  const matching = passesForMatch(whites);
  const of = (there: number): PairChange => {
    if (Math.abs(there - day) < CHANGE_SEEN) return 'holds';
    if (day < matching) return there >= matching ? 'parts' : 'holds';
    if (there < matching) return 'meets';
    const [before, after] = [day, there].map((deltaE) => pairingKind(deltaE, whites) === 'near miss');
    if (before === after) return 'holds';
    return after ? 'nears' : 'clears';
  };
  const shares = (['parts', 'meets', 'nears', 'clears'] as const).map((change) => ({
    change,
    share: chance(apart.length, (t) => of(apart[t]) === change),
  }));
  const most = shares.reduce((a, b) => (b.share > a.share ? b : a));
  // Parting is a fault worth a warning early; the rest only where it is more likely than not.
  const enough = most.change === 'parts' ? POSSIBLE : MORE_LIKELY_THAN_NOT;
  if (most.share >= enough) return most;
  return { change: 'holds', share: 1 - shares.reduce((sum, { share }) => sum + share, 0) };
}

function indexOf(
  p: Facet,
  q: Facet,
  { stages, at, draws }: { stages: readonly Stage[]; at: number; draws: number },
): Figure | null {
  const pair = (pick: (light: number) => XYZ) => ({
    from: underLight(stages[0], pick(0)),
    to: underLight(stages[at], pick(at)),
  });
  const judged = { white: stages[at].white };
  const lit = ({ from }: { from: XYZ }) => from.X > 0 && from.Y > 0 && from.Z > 0;
  const drawn = (of: Facet, t: number) =>
    pair((l) => ({ X: of.xyz[l][3 * t], Y: of.xyz[l][3 * t + 1], Z: of.xyz[l][3 * t + 2] }));
  const values: number[] = [];
  for (let t = 0; t < draws; t++) {
    const sample = drawn(q, t);
    if (lit(sample)) values.push(metamerismIndexFromXyz(drawn(p, t), sample, judged));
  }
  return values.length > 0 ? meanOf(values) : null;
}

/** How a finish, or one of its colours, is called. */
function memberWords(name: string, { colours }: DrawnFinish, { of, share }: Facet): string {
  if (colours.length === 1) return name;
  if (of === 'whole') return `${name} as a whole`;
  return of === colours[0].of
    ? `the main colour of ${name}`
    : `a colour of ${name} (${(100 * share).toFixed(0)} % of it)`;
}

function verdictOf({ change, chance: share }: PairUnderLight): PairVerdict {
  if (change === 'holds' || share >= LIKELY) return change;
  return `may ${change.slice(0, -1) as 'part' | 'meet' | 'near' | 'clear'}`;
}

function worse(one: PairUnderLight, other: PairUnderLight): boolean {
  const rank = (under_: PairUnderLight) => ORDER.indexOf(verdictOf(under_)) - 0.9 * under_.chance;
  const [a, b] = [rank(one), rank(other)];
  // Where nothing changes, the light in which they lie farthest from the day speaks.
  return a < b || (a === b && one.difference.value > other.difference.value);
}

function sentence(
  { first, second, day, whites, lights, verdict, at }: Omit<PairReport, 'sentence'>,
  { leaning, first: firstLight }: { leaning: string; first: string },
): string {
  const both = `${first.name} and ${second.name}`;
  const when = firstLight === DAYLIGHT_NAME ? 'by day' : under(firstLight);
  const byDay = figureWords(day.difference);
  if (!at) return `${both}: difference ${byDay} ${when}.`;
  const where = under(at.light.name);
  const there = figureWords(at.difference);
  const close = day.difference.value < 1 ? 'match' : 'nearly match';
  const known = day.difference.giveOrTake > passesForMatch(whites) ? ' as far as is known' : '';
  const how = leaning === 'no visible difference' ? '' : `: there ${second.name} will look ${leaning}`;
  switch (verdict) {
    case 'parts':
      return `${both} ${close} ${when}${known} (difference ${byDay}) and part ${where} (${there})${how}.`;
    case 'may part':
      return `${both} ${close} ${when}${known} (difference ${byDay}); ${where} ${figureWords(at.expected)}: only a look at both samples in that light decides.`;
    case 'meets':
      return `${both} differ ${when} (difference ${byDay}) and match ${where} (${there}).`;
    case 'may meet':
      return `${both} differ ${when} (difference ${byDay}) and may match ${where} (${there}).`;
    case 'nears':
      return `${both} are a clear step apart ${when} (difference ${byDay}); ${where} they come so near that it may look like a mistake (${there}).`;
    case 'may near':
      return `${both} are a clear step apart ${when} (difference ${byDay}); ${where} they may come so near that it looks like a mistake (${there}).`;
    case 'clears':
      return `${both} are a near miss ${when} (difference ${byDay}); ${where} the step is clear (${there}).`;
    case 'may clear':
      return `${both} are a near miss ${when} (difference ${byDay}); ${where} the step may be clear (${there}).`;
    case 'holds':
      return holdsSentence({ both, day, whites, lights, when });
  }
}

function holdsSentence({
  both,
  day,
  whites,
  lights,
  when,
}: Pick<PairReport, 'day' | 'whites' | 'lights'> & { both: string; when: string }): string {
  const most = lights.reduce((a, b) => (b.difference.value > a.difference.value ? b : a));
  const widest = Math.max(day.difference.value, most.difference.value);
  const range = `difference ${day.difference.value.toFixed(1)} ${when}, ${figureWords(most.difference)} ${under(most.light.name)}`;
  if (day.difference.value < passesForMatch(whites))
    return `${both} ${widest < 1 ? 'match' : 'match or nearly match'} in every light (${range}).`;
  switch (day.kind) {
    case 'match':
    case 'near miss':
      return `${both} are a near miss in every light (${range}).`;
    case 'related':
      return `${both} keep a clear step in every light (${range}).`;
    case 'separate':
      return `${both} stand apart in every light (${range}).`;
  }
}
