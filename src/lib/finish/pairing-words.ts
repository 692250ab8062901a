import { describeDifference } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { BUSYNESS_BANDS } from './busyness.ts';
import { joined } from './light-steadiness.ts';
import {
  PAIRING_BANDS,
  VISIBLE_EDGE_LRV,
  WHITES_WARNING,
  WHITE_BANDS,
  lightWords,
  under,
} from './pairing.ts';
import type { PairingKind } from './pairing.ts';
import { upperFirst } from './reasons.ts';
import { HUE_SAID, isLeaning, leaningOf, leaningWords, UNDERTONE_PAIRING } from './undertone-pairing.ts';
import type { UndertoneRelation } from './undertone-pairing.ts';
import { WHITES } from './whites.ts';

// What a report on a pairing says, for a client; the numbers are worked out in pairing-report.ts.

/** The rules two finishes that meet are judged by, as the screen names them. */
export const RULE = {
  step: 'A match or a clear step',
  whites: 'Two whites',
  lights: 'The worst light decides',
  undertone: 'Undertones',
  busyness: 'One busy, one calm',
  edge: 'Edges that must be seen',
} as const;

const PRACTICE = 'common practice, no published source';

/** Every rule with its bands, its reason in a sentence for a client, and where it comes from; for the screen to show. */
export const PAIRING_RULES: readonly {
  readonly rule: string;
  readonly band: string;
  readonly reason: string;
  readonly source: string;
}[] = [
  {
    rule: RULE.step,
    band:
      `A difference below ${PAIRING_BANDS.match} is a match, up to ${PAIRING_BANDS['near miss']} a near miss, ` +
      `up to ${PAIRING_BANDS.related} a clear step of one family; beyond that the two stand apart.`,
    reason:
      'What is close but not equal looks like one colour that failed to match; equal or plainly different looks meant.',
    source: `Bands: ${PRACTICE}. Difference: CIEDE2000, ISO/CIE 11664-6.`,
  },
  {
    rule: RULE.whites,
    band:
      `Two whites (lightness from about ${(WHITES.lightness.none + WHITES.lightness.full) / 2}, chroma up to about ` +
      `${(WHITES.chroma.none + WHITES.chroma.full) / 2}; of a pattern only a ground of ${100 * WHITES.plainShare} % or more) ` +
      `match below a difference of ${WHITE_BANDS.match} and nearly match up to ${WHITE_BANDS['near miss']}, ` +
      `which costs twice as much as among other colours.`,
    reason: `Two whites that nearly match are the commonest mistake in the trade: ${WHITES_WARNING}.`,
    source: `Bands: ${PRACTICE}. Difference: CIEDE2000, ISO/CIE 11664-6.`,
  },
  {
    rule: RULE.lights,
    band: 'Each pair is judged under every light of the room; the least good of them counts.',
    reason:
      'The room is seen in all of its lights, and a pair that fails in one of them fails there every day.',
    source: `The rule: ${PRACTICE}. Adaptation to each light: CAT16, CIE 248:2022.`,
  },
  {
    rule: RULE.undertone,
    band:
      `Undertones up to ${UNDERTONE_PAIRING.hue.agree} degrees of hue apart cost nothing; they are spoken of as a clash from ` +
      `${HUE_SAID} degrees (half way), and count as one in full from ${UNDERTONE_PAIRING.hue.clash}. It counts for ` +
      `near-neutrals (chroma up to ${UNDERTONE_PAIRING.soft.full}), fades for soft colours and ends at a chroma of ` +
      `${UNDERTONE_PAIRING.soft.none}; it fades too where one is lighter by more than ` +
      `${UNDERTONE_PAIRING.lightness.compared} units of lightness, and ends at ${UNDERTONE_PAIRING.lightness.apart}.`,
    reason:
      'Side by side each near-neutral brings out the tint of the other: a pinkish beige makes a greenish one look sickly.',
    source: `Bands: ${PRACTICE}. Hue with a* stretched by 1.5 as in CIEDE2000, ISO/CIE 11664-6.`,
  },
  {
    rule: RULE.busyness,
    band:
      `Below a busyness of ${BUSYNESS_BANDS.calm} a finish is calm, up to ${BUSYNESS_BANDS.lively} lively, beyond that busy; ` +
      `one busy beside one calm is best, two busy ones are worst.`,
    reason: 'One busy finish asks for calm neighbours: two of them compete, and the eye finds no rest.',
    source: `Bands: ${PRACTICE}. Busyness: spread of the S-CIELAB filtered picture (Zhang and Wandell 1996).`,
  },
  {
    rule: RULE.edge,
    band: `An edge that must be seen needs ${VISIBLE_EDGE_LRV} points between the two LRVs; local codes decide.`,
    reason:
      'Who sees poorly finds a step or the end of a counter by the difference in lightness, not in colour.',
    source: 'Guidance of BS 8300-2:2018; LRV measured per BS 8493.',
  },
];

/** How a finish, or one of its colours, is called. */
export interface Called {
  /** '“Wall”', 'Old lime'. */
  readonly name: string;
  /** '“Wall”', 'the main colour of “Counter” (70 % of it)'. */
  readonly part: string;
}

/**
 * What two finishes that meet are called, before quotation marks: by their surfaces, or by their own names where these do not
 * tell them apart.
 */
export function calledByName(first: NamedMeeting, second: NamedMeeting): [string, string] {
  const [a, b] = [first, second].map((one) => one.surfaceName.trim() || one.finish.name.trim());
  if (a !== '' && b !== '' && a !== b) return [a, b];
  const [p, q] = [first, second].map((one) => one.finish.name.trim());
  if (p !== '' && q !== '' && p !== q) return [p, q];
  return [a === '' ? 'first finish' : `${a} (first)`, b === '' ? 'second finish' : `${b} (second)`];
}

interface NamedMeeting {
  readonly surfaceName: string;
  readonly finish: { readonly name: string };
}

/** A colour of a finish of several, with its part of the area. */
export function partWords(
  name: string,
  { share, main, plain }: { share: number; main: boolean; plain: boolean },
) {
  if (plain) return name;
  return `${main ? 'the main' : 'a'} colour of ${name} (${shareWords(share)} of it)`;
}

function shareWords(share: number): string {
  return share < 0.005 ? 'less than 1 %' : `${(100 * share).toFixed(0)} %`;
}

/** What two finishes are by their kind: 'a near miss'. */
export const KIND_WORDS: Readonly<Record<PairingKind, string>> = {
  match: 'a match',
  'near miss': 'a near miss',
  related: 'a clear step',
  separate: 'far apart',
};

/** 'in every light' or 'under “Evening lamps”'. */
export function whereWords(lightName: string, everywhere: boolean): string {
  return everywhere ? 'in every light' : under(lightName);
}

/** What two colours that meet are to each other. */
export interface Meeting {
  readonly first: Called;
  readonly second: Called;
  /** Under the light that is told of. */
  readonly labs: readonly [Lab, Lab];
  readonly kind: PairingKind;
  readonly whites: boolean;
  /** Whether the step, being no near miss, is still a small one. */
  readonly small: boolean;
  readonly where: string;
  readonly couldAlsoBe: readonly PairingKind[];
}

/** A sentence or two on how two finishes sit together, and the same in one. */
export function stepSentences(meeting: Meeting): { sentence: string; headline: string } {
  const { first, second, kind, where } = meeting;
  const both = `${first.part} and ${second.part}`;
  const brief = stepBrief(meeting, both, where);
  const more = kind === 'near miss' ? ` ${advice(meeting)}` : '';
  return { sentence: `${upperFirst(brief)}.${more}${couldAlso(meeting)}`, headline: `${upperFirst(brief)}.` };
}

function stepBrief({ kind, whites, small }: Meeting, both: string, where: string): string {
  switch (kind) {
    case 'match':
      return whites ? `${both} are the same white ${where}` : `${both} match ${where}`;
    case 'near miss':
      return whites
        ? `${both} are two whites that nearly match ${where}: ${WHITES_WARNING}`
        : `${both} nearly match ${where}: close enough to be compared, far enough to look like a mistake`;
    case 'related':
      if (whites) return `${both} are two whites plainly apart ${where}`;
      return small
        ? `${both} are only a small step apart ${where}`
        : `${both} are a clear step apart ${where}, of one family`;
    case 'separate':
      return `${both} stand apart ${where}`;
  }
}

function advice({ whites, second, labs }: Meeting): string {
  const how = describeDifference(...labs);
  const other = upperFirst(second.part);
  const seen = how === 'no visible difference' ? '' : `${other} is ${joined(how)}. `;
  return whites
    ? `${seen}Use one white for both, or a step that is plainly meant.`
    : `${seen}Match them truly, or take a clearer step.`;
}

function couldAlso({ kind, couldAlsoBe }: Meeting): string {
  if (couldAlsoBe.length === 0) return '';
  const kinds = couldAlsoBe.map((other) => KIND_WORDS[other]).join(' or ');
  // Between a clear step and far apart is nothing to decide.
  const decide = [kind, ...couldAlsoBe].includes('near miss') ? ': hold both samples together' : '';
  return ` As far as is known they could also be ${kinds}${decide}.`;
}

/** What another light makes of a pair: 'Under “Window” they are a match, under “Pendants” a near miss.' */
export function lightsSentence(lights: readonly { lightName: string; kind: PairingKind }[]): string {
  const kinds = [...new Set(lights.map(({ kind }) => kind))];
  const told = kinds.map((kind) => {
    const names = lights.filter((light) => light.kind === kind).map(({ lightName }) => lightWords(lightName));
    const listed = names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names.at(-1)}` : names[0];
    return `${KIND_WORDS[kind]} under ${listed}`;
  });
  return `The light changes how they sit together: ${told.join(', ')}.`;
}

/** How two undertones stand to each other, in a sentence without its full stop. */
export function undertoneWords(
  relation: UndertoneRelation,
  { first, second, labs }: { first: Called; second: Called; labs: readonly [Lab, Lab] },
): string {
  const called = [first.part, second.part];
  const leanings = labs.map(leaningOf);
  const hues = labs.map(leaningWords);
  const bothLean = `${called[0]} leans ${hues[0]}, ${called[1]} leans ${hues[1]}`;
  const neutral = called.filter((_, i) => isLeaning(leanings[i]) === 'neutral');
  const strong = called.filter((_, i) => isLeaning(leanings[i]) === 'strong');
  switch (relation) {
    case 'clash':
      return hues[0] === hues[1]
        ? `${called[0]} and ${called[1]} lean to different sides of ${hues[0]}: their undertones clash`
        : `${bothLean}: their undertones clash, for each brings out the tint of the other`;
    case 'agree':
      return hues[0] === hues[1]
        ? `${called[0]} and ${called[1]} both lean ${hues[0]}: their undertones agree`
        : `${bothLean}: near enough for their undertones to agree`;
    case 'differ':
      return Math.abs(labs[0].L - labs[1].L) > UNDERTONE_PAIRING.lightness.compared
        ? `${bothLean}, but they are so far apart in lightness that the eye hardly compares them`
        : `${bothLean}: their undertones differ, though not plainly`;
    case 'near neutral':
      return neutral.length === 2
        ? `neither ${called[0]} nor ${called[1]} has an undertone to speak of`
        : `${neutral[0]} has no undertone to speak of, so that nothing clashes`;
    case 'strong':
      return strong.length === 2
        ? `${called[0]} and ${called[1]} are colours of their own, so that undertones do not count`
        : `${strong[0]} is a colour of its own, so that undertones do not count`;
  }
}

/** The edge between two finishes, in a sentence without its full stop; `points` as it is written. */
export function edgeWords(
  [first, second]: readonly [string, string],
  { enough, points, open }: { enough: boolean; points: string; open: boolean },
): string {
  const doubt = open
    ? enough
      ? ', though it could also fall short'
      : ', though it could also be enough'
    : '';
  return enough
    ? `the edge between ${first} and ${second} stands out, with ${points} points of LRV between them${doubt}; local codes decide`
    : `the edge between ${first} and ${second} is faint, with ${points} points of LRV between them where guidance asks ` +
        `for ${VISIBLE_EDGE_LRV}${doubt}; local codes decide`;
}
