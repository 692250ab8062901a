import { deltaE2000Many, describeDifference } from '#lib/colour/index.ts';
import { prepareLight } from './appearance.ts';
import { calmDesirability, calmWords } from './busyness.ts';
import type { FinishInput, LightInput, ReflectanceCache } from './appearance.ts';
import { DRAWS, called, drawnLabs, labsOf, lrvOf, sideOf } from './drawn-meeting.ts';
import type { LrvStep, Sides } from './drawn-meeting.ts';
import { LIKELY, POSSIBLE, chance, doubtWords, figureOf, figureWords } from './figure.ts';
import type { Figure } from './figure.ts';
import { joined } from './light-steadiness.ts';
import { DAYLIGHT_NAME, VISIBLE_EDGE_LRV, judge, pairingKind, passesForMatch, quoted } from './pairing.ts';
import type { Pairing, PairingKind, Verdict } from './pairing.ts';
import {
  RULE,
  calledByName,
  edgeWords,
  lightsSentence,
  stepSentences,
  undertoneWords,
  whereWords,
} from './pairing-words.ts';
import { upperFirst } from './reasons.ts';
import { UNDERTONE_PAIRING, clashOf, huesApart, leaningOf, undertoneRelation } from './undertone-pairing.ts';
import type { UndertoneRelation } from './undertone-pairing.ts';
import { isEnoughForAnEdge } from './visible-edge.ts';
import { SPOKEN_OF_AS_WHITES } from './whites.ts';

/** A finish that meets another. */
export interface MeetingFinish {
  readonly finish: FinishInput;
  /** The surface it is on, as sentences call it; empty where it is on none. */
  readonly surfaceName: string;
  /** How busy it is, CIELAB units; null where nobody measured it. */
  readonly busyness: number | null;
}

/** A pairing under one light with its doubt. */
export interface DoubtfulPairing extends Pairing {
  /** CIEDE2000 of the colours that decide: doubt of both colours and of both reflectances. */
  readonly difference: Figure;
  /** Other kinds that at least `POSSIBLE` of the draws give, the likeliest first. */
  readonly couldAlsoBe: readonly PairingKind[];
  /** The colours that decide, as sentences call them: '“Wall”', 'a colour of “Counter” (30 % of it)'. */
  readonly colours: readonly [string, string];
}

/** What a rule says of two finishes. */
export interface Finding {
  /** A rule of `PAIRING_RULES`. */
  readonly rule: string;
  readonly severity: 'good' | 'note' | 'fault';
  /** For a client. */
  readonly sentence: string;
  /** 'difference 3.4 give or take 0.8 (CIEDE2000)'. */
  readonly number: string;
  /** The light it is about; null where it holds in all, or is judged by day. */
  readonly light: string | null;
}

/** How two finishes that meet sit together, in numbers and in words. */
export interface PairingReport {
  /** Under each light of the room, in their order; under D65 alone where there is none. */
  readonly perLight: readonly DoubtfulPairing[];
  /** The light that decides. */
  readonly worst: DoubtfulPairing;
  /** LRV of the second less that of the first, points; two standard deviations. */
  readonly lrv: { readonly difference: number; readonly giveOrTake: number };
  /** By day, of the two colours whose undertones cost most; `words` without its full stop. */
  readonly undertone: {
    readonly relation: UndertoneRelation;
    readonly words: string;
    /** Share of draws in which the two clash, 0-1. */
    readonly chanceOfClash: number;
  };
  /** Where the colours that decide are two plain whites: what they are to each other, and how the second differs; else null. */
  readonly whites: {
    readonly relation: 'match' | 'nearly match' | 'apart';
    readonly difference: string;
  } | null;
  readonly busier: 'first' | 'second' | 'equal' | null;
  /** Where their edge must be seen: points of LRV, and whether they are enough; else null. */
  readonly edge: {
    readonly points: number;
    readonly need: number;
    readonly enough: boolean;
    readonly words: string;
  } | null;
  /** The weightiest first: faults, notes, then what is good. */
  readonly findings: readonly Finding[];
  /** The weightiest in one sentence. */
  readonly headline: string;
}

export interface PairingReportSettings {
  /** The room's lights; judged in daylight (D65) where there is none. */
  readonly lights: readonly LightInput[];
  /** Whether the edge between the two must be seen (a step, the end of a counter, a handle). */
  readonly mustBeSeen: boolean;
  readonly cache?: ReflectanceCache;
}

/** Desirability below which a pairing is a fault, and from which nothing is to be said against it. */
const FAULT_BELOW = 0.5;
const GOOD_FROM = 0.9;

/**
 * Two busynesses count as equal where the larger exceeds the smaller by no more than this share, or by less than one
 * CIELAB unit. Common practice, no published source.
 */
const BUSIER = { share: 0.25, units: 1 } as const;

/**
 * How two finishes that meet sit together under every light: the kind of their pairing, LRVs, undertones, which is busier,
 * whether an edge that must be seen can be. Whatever is not known (both colours, both reflectances) is drawn, and what could
 * as well be otherwise is said to. The same input gives the same answer; either way round the kinds and scores are the same.
 * Throws as `prepareFinish`, and RangeError for a busyness that is negative or not a number.
 */
export function pairingReport(
  first: MeetingFinish,
  second: MeetingFinish,
  { lights, mustBeSeen, cache = new Map() }: PairingReportSettings,
): PairingReport {
  const prepared = lights.map(prepareLight);
  const names = calledByName(first, second).map(quoted) as [string, string];
  const sides: Sides = [
    sideOf(first.finish, names[0], { lights: prepared, cache }),
    sideOf(second.finish, names[1], { lights: prepared, cache }),
  ];
  const under = lights.length > 0 ? lights : [{ id: 'D65', name: DAYLIGHT_NAME }];
  const perLight = under.map((light, at) =>
    pairingUnder(sides, { ...light, surfaceName: first.surfaceName }, lights.length > 0 ? at : -1),
  );
  const worst = perLight.reduce((a, b) => (b.desirability < a.desirability - 1e-12 ? b : a));
  const at = lights.length > 0 ? perLight.indexOf(worst) : -1;

  const lrv = lrvOf(sides);
  const undertone = undertoneOf(sides);
  const edge = mustBeSeen ? edgeOf(names, lrv) : null;
  const busier = busierOf(first.busyness, second.busyness);
  const told = [
    stepFinding(sides, { perLight, worst, at }),
    lightsFinding(perLight, worst),
    undertoneFinding(undertone),
    edge && edgeFinding(edge, lrv),
    busynessFinding(first, second, busier),
  ].filter((finding) => finding !== null);
  const findings = told.toSorted((a, b) => weight(a) - weight(b));
  const labs = labsOf(sides, worst.verdict, at);
  const pairings = perLight.map(shown);
  return {
    perLight: pairings,
    worst: pairings[perLight.indexOf(worst)],
    lrv: { difference: lrv.difference, giveOrTake: lrv.giveOrTake },
    undertone: {
      relation: undertone.relation,
      words: undertone.words,
      chanceOfClash: undertone.chanceOfClash,
    },
    whites: worst.whites
      ? { relation: whitesRelation(worst.kind), difference: joined(describeDifference(...labs)) }
      : null,
    busier,
    edge: edge && { points: edge.points, need: edge.need, enough: edge.enough, words: edge.words },
    findings: findings.map(({ rule, severity, sentence, number, light }) => ({
      rule,
      severity,
      sentence,
      number,
      light,
    })),
    headline: findings[0].headline,
  };
}

const ORDER: readonly Finding['severity'][] = ['fault', 'note', 'good'];

/** Place of a finding: lower comes first. An edge that somebody may fall over comes before what only displeases. */
function weight({ severity, rule }: Finding): number {
  return ORDER.indexOf(severity) - (severity === 'fault' && rule === RULE.edge ? 0.5 : 0);
}

/** A finding with its one-sentence form. */
type Told = Finding & { readonly headline: string };

type Judged = DoubtfulPairing & { readonly verdict: Verdict };

function shown({ verdict: _, ...pairing }: Judged): DoubtfulPairing {
  return pairing;
}

function pairingUnder(
  sides: Sides,
  light: { id: string; name: string; surfaceName: string },
  at: number,
): Judged {
  const [there, tried] = sides;
  const verdict = judge(there.finish, tried.finish, at);
  const differences = deltaE2000Many(
    drawnLabs(there, verdict.first, at),
    drawnLabs(tried, verdict.second, at),
  );
  const others = (['match', 'near miss', 'related', 'separate'] as const)
    .filter((kind) => kind !== verdict.kind)
    .map((kind) => ({
      kind,
      share: chance(DRAWS, (t) => pairingKind(differences[t], verdict.whites) === kind),
    }))
    .filter(({ share }) => share >= POSSIBLE)
    .toSorted((a, b) => b.share - a.share);
  return {
    finishId: there.finish.id,
    surfaceName: light.surfaceName,
    lightId: light.id,
    lightName: light.name,
    kind: verdict.kind,
    deltaE: verdict.deltaE,
    share: verdict.share,
    lrvDifference: tried.finish.lrv - there.finish.lrv,
    desirability: verdict.desirability,
    whites: verdict.whites >= SPOKEN_OF_AS_WHITES,
    difference: figureOf(verdict.deltaE, differences),
    couldAlsoBe: others.map(({ kind }) => kind),
    colours: [called(there, verdict.first).part, called(tried, verdict.second).part],
    verdict,
  };
}

function whitesRelation(kind: PairingKind): 'match' | 'nearly match' | 'apart' {
  if (kind === 'match') return 'match';
  return kind === 'near miss' ? 'nearly match' : 'apart';
}

function stepFinding(
  sides: Sides,
  { perLight, worst, at }: { perLight: readonly Judged[]; worst: Judged; at: number },
): Told {
  const { kind, whites, desirability, difference, couldAlsoBe, lightName, verdict } = worst;
  const everywhere = perLight.length > 1 && perLight.every((pairing) => pairing.kind === kind);
  const { sentence, headline } = stepSentences({
    first: called(sides[0], verdict.first),
    second: called(sides[1], verdict.second),
    labs: labsOf(sides, verdict, at),
    kind,
    whites,
    small: desirability < GOOD_FROM,
    where: whereWords(lightName, everywhere),
    couldAlsoBe,
  });
  const faultless = kind !== 'near miss' && desirability >= GOOD_FROM && !couldAlsoBe.includes('near miss');
  return {
    rule: whites ? RULE.whites : RULE.step,
    severity: desirability < FAULT_BELOW ? 'fault' : faultless ? 'good' : 'note',
    sentence,
    headline,
    number: `difference ${figureWords(difference)} (CIEDE2000)`,
    light: everywhere ? null : lightName,
  };
}

/**
 * Said where the lights make different kinds of a pair; between a clear step and far apart is nothing to choose. That what
 * matches in one light parts in another is a fault, unless it could as well match there.
 */
function lightsFinding(perLight: readonly Judged[], worst: Judged): Told | null {
  const kinds = new Set(perLight.map(({ kind }) => kind));
  if (kinds.size < 2 || !(kinds.has('match') || kinds.has('near miss'))) return null;
  const sentence = lightsSentence(perLight);
  const values = perLight.map(({ deltaE }) => deltaE);
  const parts = perLight.some(
    ({ deltaE, verdict, couldAlsoBe }) =>
      deltaE >= passesForMatch(verdict.whites) && !couldAlsoBe.includes('match'),
  );
  return {
    rule: RULE.lights,
    severity: kinds.has('match') && parts ? 'fault' : 'note',
    sentence,
    headline: sentence,
    number: `difference ${Math.min(...values).toFixed(1)} to ${Math.max(...values).toFixed(1)} over the lights (CIEDE2000)`,
    light: worst.lightName,
  };
}

/**
 * Part of the edge from which a clash that is likely is a fault; on less of it, or where the two could also agree, it is a
 * note. Common practice, no published source.
 */
const OUTRIGHT = 0.5;

interface JudgedUndertone {
  readonly relation: UndertoneRelation;
  readonly words: string;
  readonly chanceOfClash: number;
  /** Whether two different undertones are too far apart in lightness to be held against each other. */
  readonly apart: boolean;
  /** Part of the common edge on which the two colours meet. */
  readonly share: number;
  /** What decides: hues apart, or the chromas where there is no undertone to compare. */
  readonly number: string;
}

/** By day, of the pair of colours whose undertones cost most, or of the commonest where none cost anything. */
function undertoneOf(sides: Sides): JudgedUndertone {
  const [there, tried] = sides;
  let deciding = { cost: -1, share: 0, first: 0, second: 0 };
  there.finish.colours.forEach((p, first) =>
    tried.finish.colours.forEach((q, second) => {
      const share = p.share * q.share;
      const clash = clashOf(leaningOf(p.lab), leaningOf(q.lab));
      const cost = -share * Math.log(1 - (1 - UNDERTONE_PAIRING.worst) * clash);
      if (cost > deciding.cost + 1e-12 || (cost > deciding.cost - 1e-12 && share > deciding.share))
        deciding = { cost, share, first, second };
    }),
  );
  const labs = labsOf(sides, deciding, -1);
  const [p, q] = [leaningOf(labs[0]), leaningOf(labs[1])];
  const relation = undertoneRelation(p, q);
  const drawn = [drawnLabs(there, deciding.first, -1), drawnLabs(tried, deciding.second, -1)];
  const draw = (labs_: Float32Array, t: number) =>
    leaningOf({ L: labs_[3 * t], a: labs_[3 * t + 1], b: labs_[3 * t + 2] });
  return {
    relation,
    words: undertoneWords(relation, {
      first: called(there, deciding.first),
      second: called(tried, deciding.second),
      labs,
    }),
    chanceOfClash: chance(DRAWS, (t) => undertoneRelation(draw(drawn[0], t), draw(drawn[1], t)) === 'clash'),
    apart: Math.abs(p.L - q.L) > UNDERTONE_PAIRING.lightness.compared,
    share: deciding.share,
    number:
      relation === 'near neutral' || relation === 'strong'
        ? `chroma ${labs.map(({ a, b }) => Math.hypot(a, b).toFixed(1)).join(' and ')} (CIELAB C*)`
        : `${huesApart(p, q).toFixed(0)} degrees of hue apart, a* stretched as CIEDE2000 does near grey`,
  };
}

function undertoneFinding({ relation, words, chanceOfClash, apart, share, number }: JudgedUndertone): Told {
  const clash = relation === 'clash';
  const outright = clash && share >= OUTRIGHT && chanceOfClash >= LIKELY;
  const mayClash = !clash && chanceOfClash >= POSSIBLE;
  const doubt = mayClash
    ? ' As far as is known they could also clash: hold both samples together.'
    : clash && chanceOfClash < LIKELY
      ? ' As far as is known they could also agree: hold both samples together.'
      : '';
  const headline = `${upperFirst(words)}.`;
  return {
    rule: RULE.undertone,
    severity: outright ? 'fault' : clash || mayClash || (relation === 'differ' && !apart) ? 'note' : 'good',
    sentence: `${headline}${doubt}`,
    headline,
    number,
    light: null,
  };
}

interface JudgedEdge {
  readonly points: number;
  readonly need: number;
  readonly enough: boolean;
  readonly words: string;
  /** Whether it could as well be otherwise. */
  readonly open: boolean;
}

function edgeOf(names: readonly [string, string], { difference, drawn }: LrvStep): JudgedEdge {
  const points = Math.abs(difference);
  const enough = isEnoughForAnEdge(points);
  const open = chance(DRAWS, (t) => isEnoughForAnEdge(drawn[t]) !== enough) >= POSSIBLE;
  const words = edgeWords(names, { enough, points: points.toFixed(1), open });
  return { points, need: VISIBLE_EDGE_LRV, enough, words, open };
}

function edgeFinding({ points, need, enough, words, open }: JudgedEdge, { giveOrTake }: LrvStep): Told {
  const sentence = `${upperFirst(words)}.`;
  return {
    rule: RULE.edge,
    severity: enough ? (open ? 'note' : 'good') : 'fault',
    sentence,
    headline: sentence,
    number: `${points.toFixed(1)} points of LRV${doubtWords(giveOrTake)}, ${need} wanted`,
    light: null,
  };
}

/** Which of two is the busier; null where one is not known. */
function busierOf(first: number | null, second: number | null): 'first' | 'second' | 'equal' | null {
  if (first === null || second === null) return null;
  const [less, more] = first < second ? [first, second] : [second, first];
  if (more - less < BUSIER.units || more <= less * (1 + BUSIER.share)) return 'equal';
  return first > second ? 'first' : 'second';
}

function busynessFinding(
  first: MeetingFinish,
  second: MeetingFinish,
  busier: PairingReport['busier'],
): Told | null {
  if (busier === null) return null;
  const values = [first.busyness!, second.busyness!] as const;
  const [one, other] = calledByName(first, second);
  const score = calmDesirability(...values);
  const sentence = calmWords(
    { surfaceName: one, busyness: values[0] },
    { surfaceName: other, busyness: values[1] },
  );
  return {
    rule: RULE.busyness,
    severity: score < FAULT_BELOW ? 'fault' : score < GOOD_FROM - 1e-9 ? 'note' : 'good',
    sentence,
    headline: sentence,
    number: `busyness ${values.map((value) => value.toFixed(1)).join(' and ')} (CIELAB units)`,
    light: null,
  };
}
