import { lrvFromLab } from '#lib/colour/index.ts';
import {
  CRITERIA,
  LEAD_YEAR,
  cautionsFor,
  type CriterionName,
  type Finding,
  type RankedCandidate,
  type Ranking,
} from '#lib/finish/index.ts';
import { swatchEstimate, swatchTitle, type Id, type Job, type Surface, type Swatch } from '#lib/job/index.ts';
import type { BoardPlace } from './board-draft.ts';
import type { JudgedPair } from './pair-table.ts';

/* What a board says besides showing: why this finish, why not the next, what is still open, what to be careful of. */

export interface Reason {
  readonly sentence: string;
  /** Behind the sentence: 'difference 2.3'; '' where it has no number. */
  readonly number: string;
}

/** A reason and what it is about: a surface and what was judged of it, or two surfaces that meet. */
export interface ReasonAbout extends Reason {
  readonly about: string;
}

/** Reasons given for one finish, pairs spoken of, and candidates named at most: a client reads one page. */
const MOST = { reasons: 3, pairs: 8, named: 3 } as const;

/** What it costs and when it comes is between the designer and the trade until the designer says so. */
const BETWEEN_OTHERS: readonly CriterionName[] = ['price', 'time'];

/** Desirability above which the words of a criterion are praise: "sits well", "hardly changes". Common practice, no published source. */
const STILL_GOOD = 0.9;

/** A sentence and the number at its end in brackets: 'Greyer than the aim (difference 2.3)'. */
export function apartFromNumber(words: string): Reason {
  const found = /^(.*\S)\s*\(([^()]*\d[^()]*)\)\.?$/s.exec(words);
  return found ? { sentence: found[1], number: found[2] } : { sentence: words, number: '' };
}

const lowerFirst = (words: string) =>
  /^[A-Z][a-z ]/.test(words) ? words.charAt(0).toLowerCase() + words.slice(1) : words;
const sentence = (words: string) => (/[.!?]$/.test(words) ? words : `${words}.`);
const quoted = (names: readonly string[]) =>
  names.length > 1
    ? `${names
        .slice(0, -1)
        .map((name) => `“${name}”`)
        .join(', ')} and “${names.at(-1)}”`
    : `“${names[0]}”`;

/** Two surfaces, either way round. Within a room their names tell them apart. */
const meetingOf = (one: string, other: string) => `meeting ${[one, other].toSorted().join(' / ')}`;

/**
 * Why these finishes: for each what was compared, what came next and what is too close to call, then how they sit together. Of
 * one thing one reason: two surfaces that meet are told of once, by their report, which knows the lights of the board and the doubt.
 */
export function boardReasons(
  places: readonly BoardPlace[],
  { rankings, pairs }: { rankings: Readonly<Record<Id, Ranking>>; pairs: readonly JudgedPair[] },
): ReasonAbout[] {
  const judged = new Set(
    pairs.map(({ pair: { row, column } }) => meetingOf(row.surfaceName, column.surfaceName)),
  );
  const ranked = places.flatMap(({ surface, swatch, state }) => {
    const ranking = rankings[surface.id];
    return state === 'proposed' && swatch && ranking
      ? rankingReasons({ surface, swatch }, ranking, judged)
      : [];
  });
  const told = new Set<string>();
  return [...ranked, ...pairReasons(pairs)].filter(({ about }) => !told.has(about) && told.add(about));
}

/** Why a surface has this finish, by its ranking, without what is told of the meetings that are `judged`. */
function rankingReasons(
  { surface, swatch }: { surface: Pick<Surface, 'name' | 'criteria'>; swatch: Swatch },
  ranking: Ranking,
  judged: ReadonlySet<string>,
): ReasonAbout[] {
  const chosen = ranking.shortlist.find(({ id }) => id === swatch.id);
  if (!chosen || !ranking.ordered) return [];
  const { name } = surface;
  const on = `${name}, “${swatchTitle(swatch)}”`;
  const about = (what: string) => `${name}: ${what}`;
  const reasons = chosen.reasons
    .map((words) => ({ words, about: aboutWhat(words, { surface, chosen, judged }) }))
    .filter((reason): reason is { words: string; about: string } => reason.about !== null)
    .slice(0, MOST.reasons)
    .map((reason): ReasonAbout => {
      const { sentence: said, number } = apartFromNumber(reason.words);
      return { about: reason.about, sentence: sentence(`${on}: ${lowerFirst(said)}`), number };
    });
  const others = ranking.shortlist.filter(({ id }) => id !== chosen.id);
  if (others.length === 0) return reasons;
  const close = others.filter(({ group }) => group === chosen.group);
  if (close.length > 0) {
    const named = close.slice(0, MOST.named).map((one) => one.name);
    const more = close.length > named.length ? ` and ${close.length - named.length} more` : '';
    reasons.push({
      about: about('too close to call'),
      sentence: `${on} and ${quoted(named)}${more} are too close to call by what is known; painted samples in the room decide.`,
      number: shares(chosen, close[0]),
    });
  }
  const next = others.find(({ group }) => group !== chosen.group) ?? null;
  if (next) reasons.push({ about: about('next'), ...againstNext({ surface, on }, chosen, next) });
  if (ranking.excluded.length > 0) {
    const [first] = ranking.excluded;
    const more = ranking.excluded.length - 1;
    reasons.push({
      about: about('left out'),
      sentence: `${name}: “${first.name}” was left out: ${sentence(lowerFirst(first.reason))}${more > 0 ? ` ${more} more ${more === 1 ? 'was' : 'were'} left out too.` : ''}`,
      number: '',
    });
  }
  return reasons;
}

/** What a reason of the ranking is about; null where the client is not told it, or hears it from the report on a meeting. */
function aboutWhat(
  words: string,
  {
    surface: { name },
    chosen: { criteria, pairings },
    judged,
  }: { surface: Pick<Surface, 'name'>; chosen: RankedCandidate; judged: ReadonlySet<string> },
): string | null {
  const criterion = CRITERIA.find((one) => criteria[one].words === words);
  if (criterion && BETWEEN_OTHERS.includes(criterion)) return null;
  if (criterion && criterion !== 'pairing') return `${name}: ${criterion}`;
  const meetings = [...new Set(pairings.map(({ surfaceName }) => surfaceName))];
  const named = meetings.filter((other) => words.includes(`“${other}”`));
  // Without a name it speaks of all.
  const spoken = (named.length > 0 ? named : meetings).map((other) => meetingOf(name, other));
  if (spoken.some((meeting) => judged.has(meeting))) return null;
  return spoken.length === 1 ? spoken[0] : `${name}: pairing`;
}

function againstNext(
  { surface, on }: { surface: Pick<Surface, 'name' | 'criteria'>; on: string },
  chosen: RankedCandidate,
  next: RankedCandidate,
): Reason {
  const why = worstAgainst(surface, next, chosen);
  const because = why ? ` Against it: ${sentence(lowerFirst(why.sentence))}` : '';
  const number = [why?.number, shares(chosen, next)].filter(Boolean).join('; ');
  return next.place > chosen.place
    ? { sentence: `${surface.name}: “${next.name}” came after it.${because}`, number }
    : {
        sentence: `By the numbers “${next.name}” comes before ${on}; it was chosen all the same.${because}`,
        number,
      };
}

const shares = (chosen: RankedCandidate, other: RankedCandidate) =>
  `first in ${percentOf(chosen)} of 100 draws against ${percentOf(other)}`;
const percentOf = ({ firstShare }: RankedCandidate) => Math.round(100 * firstShare);

/**
 * The criterion by which a candidate loses most against another, in its words; null where it loses by none that a client is told.
 * What is good all the same speaks against nothing, and what reads the same of both does not either.
 */
function worstAgainst(
  { criteria }: Pick<Surface, 'criteria'>,
  loser: RankedCandidate,
  winner: RankedCandidate,
): Reason | null {
  let worst: { words: Reason; loss: number } | null = null;
  for (const criterion of CRITERIA) {
    const [lost, won] = [loser.criteria[criterion], winner.criteria[criterion]];
    if (!lost.counted || !won.counted || BETWEEN_OTHERS.includes(criterion)) continue;
    const words = apartFromNumber(lost.words);
    if (lost.desirability > STILL_GOOD || words.sentence === apartFromNumber(won.words).sentence) continue;
    const loss = criteria.weights[criterion] * Math.log(won.desirability / lost.desirability);
    if (loss > Math.max(0.01, worst?.loss ?? 0)) worst = { words, loss };
  }
  return worst && worst.words;
}

const hasFault = ({ report }: JudgedPair) => report.findings.some(({ severity }) => severity === 'fault');

/** What could as well be a fault as far as is known gives no reason: it stands among what is in doubt. */
const couldBeFault = ({ sentence: said }: Finding) =>
  /could also (?:clash|fall short|be [^.]*near miss)/.test(said);

/** A finding's sentence, with the two surfaces before it where it does not name both: 'Walls and Trim: …'. */
function ofBoth({ pair: { column, row } }: JudgedPair, { sentence: said }: Finding): string {
  const names = [column.surfaceName, row.surfaceName];
  return names.every((name) => said.includes(`“${name}”`)) ? said : `${names.join(' and ')}: ${said}`;
}

/** How what is proposed sits with its neighbours: the weightiest of each pair without a fault, those seen together most first. */
function pairReasons(pairs: readonly JudgedPair[]): ReasonAbout[] {
  return pairs
    .filter((judged) => !hasFault(judged))
    .toSorted((p, q) => q.pair.contact - p.pair.contact)
    .slice(0, MOST.pairs)
    .flatMap((judged) => {
      const { row, column } = judged.pair;
      const finding = judged.report.findings.find((one) => !couldBeFault(one));
      if (!finding) return [];
      const about = meetingOf(row.surfaceName, column.surfaceName);
      return [{ about, sentence: ofBoth(judged, finding), number: finding.number }];
    });
}

/** What is not decided and what is in doubt, in sentences. */
export function openItems(
  places: readonly BoardPlace[],
  { rankings, pairs }: { rankings: Readonly<Record<Id, Ranking>>; pairs: readonly JudgedPair[] },
): string[] {
  const undecided = places.filter(({ state, choice }) => state === 'open' && !choice);
  const doubts = places.flatMap(({ surface, swatch, state }) => {
    const ranked = rankings[surface.id]?.shortlist.find(({ id }) => id === swatch?.id);
    return state === 'proposed' && ranked
      ? // That something is too close to call stands among the reasons.
        ranked.doubts
          .filter((doubt) => !/^too close to call/i.test(doubt))
          .map((doubt) => sentence(`${surface.name}: ${lowerFirst(doubt)}`))
      : [];
  });
  const colourless = places
    .filter(({ swatch, state }) => !swatch && state !== 'open')
    .map(({ surface }) => `${surface.name}: its colour is not known yet.`);
  const found = (judged: JudgedPair, wanted: (finding: Finding) => boolean) =>
    judged.report.findings.filter(wanted).map((finding) => ofBoth(judged, finding));
  const faults = pairs.flatMap((judged) => found(judged, ({ severity }) => severity === 'fault'));
  const unsure = pairs.flatMap((judged) =>
    found(judged, (one) => one.severity !== 'fault' && couldBeFault(one)).slice(0, 1),
  );
  return [
    ...undecided.map((place) => undecidedWords(place, rankings[place.surface.id])),
    ...colourless,
    ...faults,
    ...unsure,
    ...doubts,
  ].filter((item, i, all) => all.indexOf(item) === i);
}

/** 'Walls: not decided. “Paper Skiff” leads of 8, too close to call with “Lime Dust”.' */
function undecidedWords({ surface }: BoardPlace, ranking: Ranking | undefined): string {
  const [first, ...rest] = ranking?.shortlist ?? [];
  if (!first) return `${surface.name}: not decided, and nothing is being considered yet.`;
  if (rest.length === 0) return `${surface.name}: not decided; only “${first.name}” is being considered.`;
  const close = rest.filter(({ group }) => group === first.group).map(({ name }) => name);
  const beside =
    close.length > MOST.named
      ? `, too close to call with ${close.length} others`
      : close.length > 0
        ? `, too close to call with ${quoted(close)}`
        : '';
  return `${surface.name}: not decided. Of ${rest.length + 1} considered “${first.name}” leads${beside}.`;
}

/** What differs between two finishes offered for a surface, besides their colour by day, which the page says itself. */
export function choiceDifferences(
  [first, second]: readonly [Swatch, Swatch],
  ranking: Ranking | undefined,
): string[] {
  const found: string[] = [];
  const [one, other] = [first, second].map((swatch) => {
    const estimate = swatchEstimate(swatch);
    return estimate && lrvFromLab(estimate.lab);
  });
  if (one !== null && other !== null && Math.round(one) !== Math.round(other))
    found.push(
      `${other > one ? 'B' : 'A'} gives back more light: LRV ${Math.round(Math.max(one, other))} against ${Math.round(Math.min(one, other))}.`,
    );
  if (first.sheen !== second.sheen && first.sheen && second.sheen)
    found.push(`A is ${first.sheen}, B is ${second.sheen}.`);
  const ranked = [first, second].map(({ id }) => ranking?.shortlist.find((entry) => entry.id === id));
  for (const criterion of ['nearness', 'pairing', 'steadiness', 'time'] as const) {
    const [a, b] = ranked.map((entry) =>
      entry?.criteria[criterion].counted ? entry.criteria[criterion] : null,
    );
    if (a && b && a.words !== b.words)
      found.push(`A: ${sentence(lowerFirst(a.words))} B: ${sentence(lowerFirst(b.words))}`);
  }
  if (ranked[0] && ranked[1] && ranked[0].group === ranked[1].group && ranking?.ordered)
    found.push('By all that is known together, the two are too close to call: both would do.');
  return found;
}

/** Stands on every board, first. */
export const SCREEN_CAUTION =
  'Screens differ: see the painted sample in the room, by day and by lamp light, before anything is ordered.';

const CEILING_OR_WALLS = ['walls', 'ceiling', 'trim', 'doors', 'cabinets', 'island'];
const NATURAL = ['stone', 'tile', 'wood', 'textile'];

/** Usual cautions for what is proposed, the one about screens first. They replace no rule and no licensed trade. */
export function boardCautions(
  job: Job,
  places: readonly BoardPlace[],
  { pictured, estimated }: { pictured: boolean; estimated: boolean },
): string[] {
  const items = [SCREEN_CAUTION];
  if (pictured)
    items.push(
      `The pictures with the proposal are simulations, worked out from a photo.${estimated ? ' Nothing of known colour is marked in that photo, so its colours are only estimated.' : ''}`,
    );
  const coming = places.filter(({ state }) => state !== 'stays');
  const natural = coming.filter(({ swatch }) => swatch && NATURAL.includes(swatch.kind));
  if (natural.length > 0)
    items.push(
      `${natural.map(({ surface }) => surface.name).join(', ')}: stone, tile, wood and cloth differ from piece to piece; see the very slab, batch or roll.`,
    );
  const painted = coming.some(
    ({ surface, swatch }) => CEILING_OR_WALLS.includes(surface.kind) && (!swatch || swatch.kind === 'paint'),
  );
  const yearBuilt = job.trade?.yearBuilt ?? null;
  if (painted && (yearBuilt === null || yearBuilt < LEAD_YEAR)) {
    const sanding = { task: 'sand', kind: null, application: 'brush and roller' } as const;
    const found = cautionsFor({ ...sanding, twoPart: false, solventBased: false }, { yearBuilt });
    for (const { id, words } of found) if (id === 'lead') items.push(words);
  }
  items.push('Local rules and licensed trades decide how the work is done.');
  return items;
}
