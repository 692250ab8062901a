import type { Lab } from '#lib/colour/index.ts';
import { describeDifference } from '#lib/colour/index.ts';
import { largestMovement, movementWords } from './criteria.ts';
import { figureWords } from './figure.ts';
import { days as dayWords } from './limits.ts';
import { VISIBLE_EDGE_LRV, lightWords, the } from './pairing.ts';
import { named, upperFirst } from './reasons.ts';
import { relationReport } from './relations.ts';
import { choicesOf } from './scheme.ts';
import type { SchemeProblem } from './scheme.ts';
import { SCHEME_CRITERIA } from './scheme-criteria.ts';
import type { SchemeCriterion } from './scheme-criteria.ts';
import { ended } from './scheme-findings.ts';
import { costIn, daysIn, money, percent, totals } from './scheme-limits.ts';
import type {
  PreparedOption,
  PreparedPlace,
  SchemeFinding,
  SchemeStatement,
  SchemeTerm,
} from './scheme-question.ts';
import { cellOf, dearness, differenceByArea, isInQuestion, schemeScore } from './scheme-terms.ts';
import type { FinishKind } from './swatch.ts';

/** Desirability from which nothing need be said against a part. */
const GOOD = 0.89;

/** One surface of a scheme. */
export interface SchemePart {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly state: 'fixed' | 'chosen' | 'open';
  /** Whether it was held while the scheme was searched: fixed, chosen or locked. */
  readonly held: boolean;
  readonly optionId: string;
  readonly optionName: string;
  readonly kind: FinishKind;
  /** As given, and as part of the visible area of all surfaces, 0-1. */
  readonly area: number;
  readonly share: number;
  /** CIELAB D65/10° and part of the surface, 0-1, the largest first. */
  readonly colours: readonly { readonly lab: Lab; readonly share: number }[];
  readonly mean: Lab;
  /** Light reflectance value, 0-100; `disputedLrv` the published one where it contradicts the colour. */
  readonly lrv: number;
  readonly disputedLrv: number | null;
  readonly busyness: number | null;
  /** Money and days still to come: 0 for what is there; null where not known. */
  readonly cost: number | null;
  readonly days: number | null;
}

/** A criterion of a scheme: the sentence is about what costs it most. */
export interface SchemeCriterionLine extends SchemeStatement {
  readonly criterion: SchemeCriterion;
  /** 0.01-1, weighted geometric mean over its surfaces or meetings. */
  readonly desirability: number;
  /** As entered, 0 or more. */
  readonly weight: number;
  /**
   * ΔE00 by area (nearness), LRV points of the least edge (edges), CAM16-UCS of the largest movement (steadiness), money
   * still to spend (price), days (time); else the desirability.
   */
  readonly value: number;
  /** How many surfaces or meetings lack the data and count as is usual for the others. */
  readonly assumed: number;
}

/** A surface for which something is not known. */
export interface NotKnown {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly optionName: string;
}

/** A scheme in words and numbers. */
export interface SchemeCard {
  readonly choice: readonly number[];
  /** Surface id to option id. */
  readonly choices: Readonly<Record<string, string>>;
  /** Weighted geometric mean of all that counts, 0-1; 1 where nothing does. */
  readonly desirability: number;
  readonly parts: readonly SchemePart[];
  readonly criteria: readonly SchemeCriterionLine[];
  readonly leftOut: readonly { readonly criterion: SchemeCriterion; readonly reason: string }[];
  /** Faults first. */
  readonly findings: readonly SchemeFinding[];
  /** Known costs of what is still to be bought, and what they leave out. */
  readonly cost: {
    /** As in `SchemeInput`. */
    readonly currency: string;
    readonly total: number;
    readonly notKnown: readonly NotKnown[];
    readonly statement: SchemeStatement;
  };
  /** When the last finish is here, and which one decides; null where no lead time is known. */
  readonly ready: {
    readonly days: number | null;
    readonly surfaceId: string | null;
    readonly notKnown: readonly NotKnown[];
    readonly statement: SchemeStatement;
  };
}

/**
 * A scheme in words and numbers.
 * @throws RangeError for a choice that has another number of places, or an option that is not there.
 */
export function schemeCard(asked: SchemeProblem, choice: readonly number[]): SchemeCard {
  const { places, terms, leftOut, findings } = asked;
  if (choice.length !== places.length)
    throw new RangeError(`Expected a choice for ${places.length} places, got ${choice.length}`);
  choice.forEach((option, i) => {
    if (!places[i].options[option])
      throw new RangeError(`Expected an option of ${places[i].place.surfaceId}, got ${option}`);
  });
  const on = places.map(({ options }, i) => options[choice[i]]);
  return {
    choice: [...choice],
    choices: choicesOf(asked, choice),
    desirability: Math.exp(schemeScore(terms, places, choice)),
    parts: places.map((place, i) => partOf(place, on[i])),
    criteria: criterionLines(asked, choice),
    leftOut,
    findings: findings.of(choice),
    cost: costOfScheme(asked, choice, on),
    ready: readyOfScheme(asked, on),
  };
}

/** The criteria of a scheme, or of what one of its places (by index) has to do with them. */
export function criterionLines(
  asked: SchemeProblem,
  choice: readonly number[],
  place: number | null = null,
): SchemeCriterionLine[] {
  const on = asked.places.map(({ options }, i) => options[choice[i]]);
  return SCHEME_CRITERIA.flatMap((criterion) => {
    const own = asked.terms.filter(
      (term) => term.criterion === criterion && (place === null || term.a === place || term.b === place),
    );
    return own.length === 0 ? [] : [criterionLine(criterion, own, { asked, choice, on })];
  });
}

function partOf(prepared: PreparedPlace, { option, finish, lrv, mean }: PreparedOption): SchemePart {
  const { place, held, share } = prepared;
  return {
    surfaceId: place.surfaceId,
    surfaceName: place.surfaceName,
    state: place.state,
    held: held >= 0,
    optionId: option.id,
    optionName: option.name,
    kind: option.kind,
    area: place.area,
    share,
    colours: finish.colours
      .map(({ lab, share: part }) => ({ lab, share: part }))
      .sort((a, b) => b.share - a.share),
    mean,
    lrv: lrv.value,
    disputedLrv: lrv.disputed,
    busyness: option.busyness,
    cost: costIn(prepared, option),
    days: daysIn(prepared, option),
  };
}

interface Seen {
  readonly asked: SchemeProblem;
  readonly choice: readonly number[];
  /** What is on each place. */
  readonly on: readonly PreparedOption[];
}

function criterionLine(
  criterion: SchemeCriterion,
  own: readonly SchemeTerm[],
  seen: Seen,
): SchemeCriterionLine {
  const { asked, choice } = seen;
  const log = (term: SchemeTerm) => term.logs[cellOf(term, asked.places, choice)];
  const weight = own.reduce((sum, term) => sum + term.weight, 0);
  const logs = own.reduce((sum, term) => sum + term.weight * log(term), 0);
  // Told is what costs most, of what can still be decided and is known, if there is any.
  const known = own.filter((term) => !term.assumed?.[cellOf(term, asked.places, choice)]);
  const open = known.filter(({ a, b }) => [a, b].some((i) => i >= 0 && isInQuestion(asked.places[i])));
  const isGood = (term: SchemeTerm) => Math.exp(log(term)) >= GOOD;
  const worstOf = (terms: readonly SchemeTerm[]) =>
    terms.reduce((a, b) => (b.weight * log(b) < a.weight * log(a) - 1e-12 ? b : a));
  const bad = [open, known]
    .map((terms) => terms.filter((term) => !isGood(term)))
    .find((list) => list.length > 0);
  const worst = worstOf(bad ?? (known.length > 0 ? known : own));
  const desirability = Math.exp(logs / weight);
  const told = tell(
    criterion,
    { own: known.length > 0 ? known : own, worst, good: isGood(worst), desirability, log },
    seen,
  );
  return {
    criterion,
    desirability,
    weight: asked.input.weights[criterion],
    assumed: own.length - known.length,
    ...told,
    sentence: ended(known.length === 0 ? 'Nothing is known about it for these finishes' : told.sentence),
    ...(known.length === 0 && { number: 'not known' }),
  };
}

interface Told extends SchemeStatement {
  readonly value: number;
}

interface Weighed {
  readonly own: readonly SchemeTerm[];
  /** What costs most, and whether even that is good. */
  readonly worst: SchemeTerm;
  readonly good: boolean;
  readonly desirability: number;
  readonly log: (term: SchemeTerm) => number;
}

function tell(criterion: SchemeCriterion, weighed: Weighed, seen: Seen): Told {
  const { own, worst, good, desirability } = weighed;
  const { asked, on } = seen;
  const { places, input } = asked;
  const surface = (i: number) => the(places[i].place.surfaceName);
  const ids = [worst.a, worst.b].filter((i) => i >= 0).map((i) => places[i].place.surfaceId);
  const about = (light: string | null = null) => ({ surfaces: ids, light, criterion });
  switch (criterion) {
    case 'nearness': {
      const difference = ({ a }: SchemeTerm) => differenceByArea(places[a].place.target!.lab, on[a].finish);
      const area = own.reduce((sum, { a }) => sum + places[a].share, 0);
      const value = own.reduce((sum, term) => sum + places[term.a].share * difference(term), 0) / area;
      const words = describeDifference(places[worst.a].place.target!.lab, on[worst.a].mean);
      return {
        value,
        sentence: good
          ? `${own.length === 1 ? surface(worst.a) : 'Every surface with a target'} comes very close to it`
          : `${upperFirst(named(on[worst.a].option.name))} on ${surface(worst.a)}: ${words === 'no visible difference' ? 'patterned where the target is plain' : `${words} than its target`}`,
        number: `difference ${difference(worst).toFixed(1)}`,
        about: about(),
      };
    }
    case 'relations': {
      const pair = (term: SchemeTerm) => ({
        first: related(places[term.a], on[term.a]),
        second: related(places[term.b], on[term.b]),
        weight: term.weight,
      });
      const { headline } = relationReport(own.map(pair));
      const [first] = relationReport([pair(worst)]).relations;
      return {
        value: desirability,
        sentence: good ? headline : `${headline}. ${first.sentence}`,
        number: first.number,
        about: about(),
      };
    }
    case 'pairing':
    case 'undertone':
    case 'pattern':
      return meetingTold(criterion, weighed, seen);
    case 'edges': {
      const points = (term: SchemeTerm) => Math.abs(on[term.a].finish.lrv - on[term.b].finish.lrv);
      const least = own.reduce((a, b) => (points(b) < points(a) ? b : a));
      const enough = points(least) >= VISIBLE_EDGE_LRV;
      return {
        value: points(least),
        sentence:
          `${surface(least.a)} ${enough ? 'stands out plainly' : 'is hard to tell'} from ${surface(least.b)} for low vision: ` +
          `guidance asks for ${VISIBLE_EDGE_LRV} points of LRV, local codes decide`,
        number: `${points(least).toFixed(0)} points of LRV`,
        about: {
          surfaces: [least.a, least.b].map((i) => places[i].place.surfaceId),
          light: null,
          criterion,
        },
      };
    }
    case 'steadiness': {
      const movement = largestMovement(on[worst.a].finish, asked.lights)!;
      const { from, to, shift, giveOrTake } = movement;
      const most = Math.max(...own.map(({ a }) => largestMovement(on[a].finish, asked.lights)!.shift));
      return {
        value: most,
        sentence: `${upperFirst(named(on[worst.a].option.name))} on ${surface(worst.a)}: ${movementWords(shift)} between ${lightWords(from)} and ${lightWords(to)}`,
        number: `change ${figureWords({ value: shift, giveOrTake })}`,
        about: about(to),
      };
    }
    case 'price':
      return priceTold(weighed, seen);
    case 'time': {
      const { days } = totals(places, seen.choice);
      const { leadTimeDays } = on[worst.a].option;
      return {
        value: days,
        sentence:
          leadTimeDays === null || good
            ? 'Nothing is long in coming'
            : `Longest to come: ${named(on[worst.a].option.name)} for ${surface(worst.a)}`,
        number: dayWords(leadTimeDays ?? days),
        about: about(),
      };
    }
  }
}

function related({ place }: PreparedPlace, { mean }: PreparedOption) {
  return { surfaceName: place.surfaceName, lab: mean, inspiration: place.inspiration!.lab };
}

const WELL: Readonly<Record<'pairing' | 'undertone' | 'pattern', readonly [good: string, bad: string]>> = {
  pairing: ['match or stand clearly apart', 'sit least well together'],
  undertone: ['have no undertones that clash', 'have the undertones that agree least'],
  pattern: ['leave each other calm', 'are the busiest together'],
};

/** What meetings have to say: the finding about the one that costs most, where there is one. */
function meetingTold(
  criterion: 'pairing' | 'undertone' | 'pattern',
  { own, worst, good, log }: Weighed,
  { asked, choice }: Seen,
): Told {
  const { places, findings, input } = asked;
  const value = Math.exp(log(worst));
  const meeting = input.meetings.indexOf(worst.meeting!);
  const found = findings
    .ofMeeting(meeting, choice[worst.a], choice[worst.b])
    .find(({ about, severity }) => about.criterion === criterion && severity !== 'good');
  const names = `${the(places[worst.a].place.surfaceName)} and ${the(places[worst.b].place.surfaceName)}`;
  const about = {
    surfaces: [worst.meeting!.a, worst.meeting!.b],
    light: found?.about.light ?? null,
    criterion,
  };
  if (good || !found) {
    const pairs = good && own.length > 1 ? `all ${own.length} pairs of surfaces seen together` : names;
    const all = criterion === 'pairing' ? `The colours of ${pairs}` : upperFirst(pairs);
    const number = good
      ? `${own.length} ${own.length === 1 ? 'pair' : 'pairs'}`
      : `${percent(value)} of what it could be`;
    return { value, sentence: `${all} ${WELL[criterion][good ? 0 : 1]}`, number, about };
  }
  return { value, sentence: found.sentence, number: found.number, about };
}

function priceTold({ own, worst, good }: Weighed, { asked, choice, on }: Seen): Told {
  const { places, input } = asked;
  const { cost } = totals(places, choice);
  const names = `${named(on[worst.a].option.name)} on ${the(places[worst.a].place.surfaceName)}`;
  const { amount, times, words } = dearness(places[worst.a], on[worst.a]);
  const many = own.length > 1 ? 'Every surface has the cheapest of its finishes, or close to it' : '';
  return {
    value: cost,
    sentence:
      good || amount === null
        ? many ||
          `${upperFirst(names)}: ${amount === 0 ? 'it costs nothing' : 'the cheapest, or close to it'}`
        : `${upperFirst(names)}: ${words}`,
    number: cost > 0 || amount === 0 ? money(cost, input.currency) : `${times.toFixed(1)} times the cheapest`,
    about: { surfaces: [places[worst.a].place.surfaceId], light: null, criterion: 'price' },
  };
}

function costOfScheme(
  { places, input }: SchemeProblem,
  choice: readonly number[],
  on: readonly PreparedOption[],
): SchemeCard['cost'] {
  const notKnown = unknown(places, on, (place, option) => costIn(place, option.option));
  const { cost } = totals(places, choice);
  const sum = money(cost, input.currency);
  const bought = places.filter((place, i) => costIn(place, on[i].option) !== 0).length;
  const sentence =
    bought === 0
      ? 'Nothing is left to buy'
      : notKnown.length === bought
        ? 'No cost is known yet: it needs prices and areas'
        : `All that is still to be bought costs about ${sum}${notKnown.length > 0 ? `, without ${listed(notKnown)}` : ''}`;
  return {
    currency: input.currency,
    total: cost,
    notKnown,
    statement: {
      sentence: ended(sentence),
      number: notKnown.length === bought && bought > 0 ? 'not known' : sum,
      about: { surfaces: notKnown.map(({ surfaceId }) => surfaceId), light: null, criterion: 'money' },
    },
  };
}

function readyOfScheme({ places }: SchemeProblem, on: readonly PreparedOption[]): SchemeCard['ready'] {
  const notKnown = unknown(places, on, (place, option) => daysIn(place, option.option));
  let last = -1;
  let days: number | null = null;
  places.forEach((place, i) => {
    const its = daysIn(place, on[i].option);
    if (its === null || (days !== null && its <= days)) return;
    days = its;
    last = i;
  });
  const decides = days === null || days === 0 ? null : places[last].place;
  const without = notKnown.length > 0 ? `, not counting ${listed(notKnown)}` : '';
  const sentence = decides
    ? `All of it is here in ${dayWords(days!)}${without}, the last being ${named(on[last].option.name)} for ${the(decides.surfaceName)}`
    : days === null || notKnown.length > 0
      ? `No lead time is known${notKnown.length > 0 ? ` of ${listed(notKnown)}` : ''}`
      : 'All of it is here already';
  return {
    days,
    surfaceId: decides?.surfaceId ?? null,
    notKnown,
    statement: {
      sentence: ended(sentence),
      number: decides || notKnown.length === 0 ? dayWords(days ?? 0) : 'not known',
      about: { surfaces: decides ? [decides.surfaceId] : [], light: null, criterion: 'time' },
    },
  };
}

function unknown(
  places: readonly PreparedPlace[],
  on: readonly PreparedOption[],
  of: (place: PreparedPlace, option: PreparedOption) => number | null,
): NotKnown[] {
  return places.flatMap((prepared, i) => {
    const { surfaceId, surfaceName } = prepared.place;
    return of(prepared, on[i]) === null ? [{ surfaceId, surfaceName, optionName: on[i].option.name }] : [];
  });
}

/** 'Reed Hollow on “Cabinets”, and 2 others'. */
function listed(things: readonly NotKnown[]): string {
  const words = things.map(({ optionName, surfaceName }) => `${named(optionName)} for ${the(surfaceName)}`);
  if (words.length <= 1) return words.join('');
  if (words.length <= 3) return `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
  return `${words.slice(0, 2).join(', ')} and ${words.length - 2} others`;
}
