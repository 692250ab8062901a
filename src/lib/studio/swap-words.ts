import { inDays } from '#lib/finish/index.ts';
import type {
  RankedOn,
  Repair,
  SchemeCard,
  SchemeCriterion,
  SchemeCriterionLine,
  SchemeInput,
  SwapChange,
  SwapReport,
} from '#lib/finish/index.ts';
import {
  inOrder,
  leadingSample,
  schemeInput,
  swatchTitle,
  type Id,
  type Job,
  type Room,
  type Surface,
  type SurfaceEdges,
  type Swatch,
} from '#lib/job/index.ts';
import { tooLarge } from './scheme-search-words.ts';
import { choosing, nothingCounts, type Values } from './schemes.ts';

/*
 * What the panel for putting another finish on a decided surface asks, says and does.
 */

/** What is asked about the swaps of a room. */
export interface SwapGround {
  /** Every place of it has a finish at present. */
  readonly input: SchemeInput;
  /** Surfaces whose finish is decided, in their order. */
  readonly surfaces: readonly Surface[];
  /** Surfaces that are not counted, each with what is missing, in sentences. */
  readonly missing: readonly string[];
  /** Why nothing can be worked out, in a sentence; null where it can. */
  readonly problem: string | null;
}

/**
 * The room as it is, and with a scheme where it is still open: `choices` says what the scheme puts on each surface, which
 * counts on open ones only, for a swap decides no other. An open surface that has nothing in the scheme is left out, and
 * said.
 * @throws RangeError for a room that is not in the job.
 */
export function swapGround(
  job: Job,
  roomId: Id,
  { choices, edges = null }: { choices: Readonly<Record<Id, Id>>; edges?: SurfaceEdges | null },
): SwapGround {
  const open = Object.entries(choices).filter(([id]) => {
    const surface = job.surfaces[id];
    return surface && (surface.state === 'open' || !surface.swatchId || !job.swatches[surface.swatchId]);
  });
  const { input, withoutOptions } = schemeInput(job, roomId, { edges, choices: Object.fromEntries(open) });
  const places = input.places.filter(({ current }) => current !== null);
  const ids = new Set(places.map(({ surfaceId }) => surfaceId));
  const surfaces = places.flatMap(({ surfaceId, state }) =>
    state === 'open' ? [] : [job.surfaces[surfaceId]],
  );
  const undecided = input.places.filter(({ current }) => current === null);
  const missing = [
    ...undecided.map(({ surfaceId, surfaceName }) =>
      job.surfaces[surfaceId].state === 'open'
        ? `“${surfaceName}” is open and has no finish in a scheme yet.`
        : `What is on “${surfaceName}” has no colour yet.`,
    ),
    ...withoutOptions.map((id) => {
      const { name, state } = job.surfaces[id];
      return state === 'open'
        ? `“${name}” is open and has no candidate with a colour.`
        : `“${name}” has no finish with a colour.`;
    }),
  ];
  return {
    input: {
      ...input,
      places,
      meetings: input.meetings.filter(({ a, b }) => ids.has(a) && ids.has(b)),
    },
    surfaces,
    missing,
    problem: tooLarge({ places }) ?? nothingCounts(input),
  };
}

/**
 * What is asked about the swaps of one surface. What is there and has given way to something that is chosen already is no
 * more there than what would come: else the budget would grow by it a second time.
 */
export function swapInput(input: SchemeInput, surfaceId: Id): SchemeInput {
  const places = input.places.map((place) =>
    place.surfaceId === surfaceId && place.state === 'chosen' ? { ...place, there: null } : place,
  );
  return { ...input, places };
}

/** Which finishes a swap is judged with though nobody has decided on them yet, in a sentence. */
export function judgedWith({ places }: Pick<SchemeInput, 'places'>): string {
  const open = places.flatMap(({ surfaceName, state, current, options }) => {
    const on = state === 'open' && options.find(({ id }) => id === current);
    return on ? [`${on.name} on ${surfaceName}`] : [];
  });
  if (open.length === 0) return 'Judged with what is there or chosen on every other surface.';
  const are = open.length === 1 ? 'is' : 'are';
  return `Judged with ${new Intl.ListFormat('en-GB').format(open)}, which ${are} still open.`;
}

/** Beside a figure that counts something that is there as if it were not: 'with the counter still to be bought'. */
export function toBuyWords(surfaceName: string): string {
  const plain = /^\p{Lu}\p{Ll}+( \p{Ll}+)*$/u.test(surfaceName.trim());
  return `with ${plain ? `the ${surfaceName.trim().toLowerCase()}` : `“${surfaceName}”`} still to be bought`;
}

/** The surface to begin with: the first that has something to put in place of what is on it, else the first; null for none. */
export function firstToSwap({ input, surfaces }: Pick<SwapGround, 'input' | 'surfaces'>): Id | null {
  const others = (id: Id) => input.places.find(({ surfaceId }) => surfaceId === id)?.options.length ?? 0;
  return (surfaces.find(({ id }) => others(id) > 1) ?? surfaces[0])?.id ?? null;
}

/** A swatch that could be considered for a surface. */
export interface Considerable {
  readonly swatch: Swatch;
  readonly considered: boolean;
  /** Whether it has a colour: without one it cannot be compared. */
  readonly coloured: boolean;
}

/** The job's swatches of a kind that could take the place of what is on a surface, in their order. */
export function considerable(job: Job, surface: Surface, kind: Swatch['kind']): Considerable[] {
  return inOrder(job.swatches)
    .filter((swatch) => swatch.kind === kind && swatch.id !== surface.swatchId)
    .map((swatch) => ({
      swatch,
      considered: surface.candidateIds[swatch.id] === true,
      coloured: leadingSample(swatch) !== null,
    }));
}

/** A sentence with the number it stands on. */
export interface Said {
  readonly words: string;
  readonly number: string;
}

/** What speaks for a finish and against it, beside the others that could be there; null where nothing does. */
export interface Speaks {
  readonly pro: Said | null;
  readonly con: Said | null;
  /** Faults that were not there with what is on the surface now. */
  readonly newFaults: number;
}

/** Weighted ln desirability by which a criterion must set a finish apart from the others to be worth a word. */
const APART = 0.02;

/**
 * What speaks for one of the ranked finishes and against it. For: a fault it takes away, else the criterion that lifts it
 * most above the middle of all. Against: a limit, a new fault, else the criterion that puts it most below.
 */
export function speaks(ranked: RankedOn, all: readonly RankedOn[]): Speaks {
  const lines = ranked.reasons
    .map((line) => ({ line, lift: lift(line, all) }))
    .sort((a, b) => b.lift - a.lift);
  const [best, worst] = [lines[0], lines.at(-1)];
  const added = ranked.broken.filter(isNewFault);
  const gone = ranked.better.filter(({ was, now }) => was?.severity === 'fault' && now?.severity !== 'fault');
  // A fault that was about the old finish alone goes with it whatever comes: it tells one from another least.
  const mended = gone.find(({ now }) => now?.severity === 'good');
  const lifted = best && best.lift > APART ? criterionSaid(best.line, ranked, { all, pro: true }) : null;
  const pro = mended ? said(mended) : (lifted ?? (gone[0] ? said(gone[0]) : null));
  const con =
    ranked.excluded !== null
      ? { words: ranked.excluded, number: '' }
      : added[0]
        ? said(added[0])
        : worst && worst.lift < -APART
          ? criterionSaid(worst.line, ranked, { all, pro: false })
          : null;
  return { pro, con, newFaults: added.length };
}

function said({ sentence, number }: SwapChange): Said {
  return { words: sentence, number };
}

/** Weighted ln desirability of a criterion above the middle of all that could be there. */
function lift({ criterion, desirability, weight }: SchemeCriterionLine, all: readonly RankedOn[]): number {
  const logs = desirabilities(criterion, all).map(Math.log);
  const middle =
    logs.length % 2 ? logs[logs.length >> 1] : (logs[logs.length / 2 - 1] + logs[logs.length / 2]) / 2;
  return weight * (Math.log(desirability) - middle);
}

/** Desirabilities of a criterion of all that could be there, rising. */
function desirabilities(criterion: SchemeCriterion, all: readonly RankedOn[]): number[] {
  return all
    .flatMap(({ reasons }) => reasons.filter((line) => line.criterion === criterion))
    .map(({ desirability }) => desirability)
    .sort((a, b) => a - b);
}

/** What a finish does better than others by a criterion, and what it does worse. */
const BESIDE_OTHERS: Readonly<Record<SchemeCriterion, readonly [better: string, worse: string]>> = {
  nearness: ['Comes closer to its aim', 'Is further from its aim'],
  relations: [
    'Repeats the steps of the inspiration better',
    'Repeats the steps of the inspiration less well',
  ],
  pairing: ['Sits better with the rest', 'Sits less well with the rest'],
  undertone: ['Its undertone fits the rest better', 'Its undertone fits the rest less well'],
  pattern: ['Leaves the room calmer', 'Makes the room busier'],
  edges: ['Its edges are easier to see', 'Its edges are harder to see'],
  steadiness: ['Holds its colour better', 'Holds its colour less well'],
  price: ['Costs less', 'Costs more'],
  time: ['Comes sooner', 'Comes later'],
};

/** Desirability from which the sentence of a criterion has something good to say. */
const GOOD = 0.89;

/** Criteria of a finish by itself: their sentence and number are about nothing else. */
const BY_ITSELF: readonly SchemeCriterion[] = ['nearness', 'steadiness'];

/** Criteria of meetings: their number belongs to their sentence, which is about the worst meeting. */
const OF_MEETINGS: readonly SchemeCriterion[] = ['relations', 'pairing', 'undertone', 'pattern'];

/**
 * 'Comes closer to its aim than all 7 others'. The sentence of the criterion follows where it says the same: it is about what
 * costs most, so it may speak against a finish that is better than others. Of money and days the number tells all.
 */
function criterionSaid(
  { criterion, desirability, sentence, number }: SchemeCriterionLine,
  { cost, card }: RankedOn,
  { all, pro }: { all: readonly RankedOn[]; pro: boolean },
): Said {
  const values = desirabilities(criterion, all);
  const passed = values.filter((value) =>
    pro ? value < desirability - 1e-9 : value > desirability + 1e-9,
  ).length;
  const words = `${BESIDE_OTHERS[criterion][pro ? 0 : 1]} than ${ofOthers(passed, values.length - 1)}`;
  if (criterion === 'price')
    return {
      words: `${words}.`,
      number: cost.after === null ? '' : amountOf(cost.after, card.cost.currency),
    };
  if (criterion === 'time') return { words: `${words}.`, number };
  const tells = pro ? BY_ITSELF.includes(criterion) && desirability >= GOOD : desirability < GOOD;
  if (tells) return { words: `${words}: ${sentence}`, number };
  return { words: `${words}.`, number: OF_MEETINGS.includes(criterion) ? '' : number };
}

function ofOthers(count: number, others: number): string {
  if (others === 1) return 'the other one';
  if (count < others) return `${count} of ${others} others`;
  return others === 2 ? 'both others' : `all ${others} others`;
}

function amountOf(amount: number, currency: string): string {
  return `${amount.toFixed(0)}${currency && ` ${currency}`}`;
}

/** How many faults come that were not there, in a sentence. */
export function faultWords(count: number): string {
  if (count === 0) return 'No new fault.';
  return count === 1 ? 'One new fault.' : `${count} new faults.`;
}

/** Whether a change is a fault that was none before. */
export function isNewFault({ was, now }: Pick<SwapChange, 'was' | 'now'>): boolean {
  return now?.severity === 'fault' && was?.severity !== 'fault';
}

/** What a change is, in a few words. */
export function changeKind({ was, now }: Pick<SwapChange, 'was' | 'now'>, to: 'worse' | 'better'): string {
  const [before, after] = [was?.severity ?? null, now?.severity ?? null];
  if (to === 'worse') {
    if (after === 'fault') return before === 'fault' ? 'The fault grows' : 'New fault';
    return before === 'note' || before === 'fault' ? 'Somewhat worse' : 'Worth knowing';
  }
  if (before === 'fault') return after === 'fault' ? 'Still a fault, a smaller one' : 'A fault less';
  return 'Better';
}

/** What was found before, for a change that had something: 'Before: 8.2 points of LRV.' '' where there was nothing. */
export function beforeWords({ was, now }: Pick<SwapChange, 'was' | 'now'>): string {
  if (!was || !now || was.number === now.number) return '';
  const sort = { fault: 'a fault, ', note: 'a remark, ', good: '' }[was.severity];
  const shape = (number: string) => number.replaceAll(/[\d.]+/g, '0');
  // Numbers of one sort tell it in short.
  return shape(was.number) === shape(now.number)
    ? `Before: ${was.severity === now.severity ? '' : sort}${was.number}.`
    : `Before: ${was.sentence} ${was.number}`;
}

/** Which finishes a statement is about: 'Still Water on “Counter”, Half-bond tile on “Backsplash”'. */
export function aboutWords(
  { about }: Pick<SwapChange, 'about'>,
  { parts }: Pick<SchemeCard, 'parts'>,
): string {
  return about.surfaces
    .flatMap((id) => parts.filter(({ surfaceId }) => surfaceId === id))
    .map(({ optionName, surfaceName }) => `${optionName} on “${surfaceName}”`)
    .join(', ');
}

/** An overall desirability out of 100. */
export function outOf100(desirability: number): string {
  return (100 * desirability).toFixed(0);
}

/** How the whole room does with the swap, in a sentence; `as` says what the figures count otherwise than a card does. */
export function wholeWords({ before, after }: Pick<SwapReport, 'before' | 'after'>, as = ''): string {
  const [was, now] = [before, after].map(({ desirability }) => outOf100(desirability));
  const how = as && `, ${as}`;
  if (was === now) return `The room as a whole stays at ${now} of 100${how}.`;
  return `The room as a whole ${after.desirability > before.desirability ? 'rises' : 'falls'} from ${was} to ${now} of 100${how}.`;
}

/** Where the room stands with a set of changes, and with the swap alone where that is more. */
export function withItWords({ card }: Pick<Repair, 'card'>, { after }: Pick<SwapReport, 'after'>): string {
  const [all, alone] = [card, after].map(({ desirability }) => outOf100(desirability));
  const words = `With these changes the room is at ${all} of 100`;
  return card.desirability >= after.desirability || all === alone
    ? `${words}.`
    : `${words}; with the swap alone, its faults and all, at ${alone}.`;
}

/** What a set of changes does to the cost, the swap included. */
export function repairCost({ cost, card }: Pick<Repair, 'cost' | 'card'>, before: SchemeCard): string {
  if (cost === null) {
    const names = missingOf(card, before, 'cost');
    return names
      ? `What it costs is not known: a price or a size is missing for ${names}.`
      : 'What it costs is not known.';
  }
  const amount = Math.round(Math.abs(cost));
  if (amount === 0) return 'It costs the same as now.';
  return `With the swap it costs ${amountOf(amount, card.cost.currency)} ${cost < 0 ? 'less' : 'more'} than now.`;
}

/** When the last finish comes with a set of changes, the swap included. */
export function repairDays({ days, card }: Pick<Repair, 'days' | 'card'>, before: SchemeCard): string {
  if (days === null) {
    const names = missingOf(card, before, 'days');
    return names
      ? `When it is all here is not known: a lead time is missing for ${names}.`
      : 'When it is all here is not known.';
  }
  const moved = Math.round(days) === 0 ? 'as soon as now' : `${inDays(days)} than now`;
  return `The last finish is here ${moved}.`;
}

/** Surfaces that change and lack a cost or a lead time before or after: '“Handles” and “Walls”'. */
function missingOf(card: SchemeCard, before: SchemeCard, what: 'cost' | 'days'): string {
  const names = card.parts.flatMap((part, i) =>
    part.optionId !== before.parts[i].optionId && (part[what] === null || before.parts[i][what] === null)
      ? [`“${part.surfaceName}”`]
      : [],
  );
  return new Intl.ListFormat('en-GB').format(names);
}

/** How sure it is that the changes are the least there are, in a sentence. */
export function provenWords({
  proven,
  whole,
  changes,
}: Pick<Repair, 'proven' | 'whole' | 'changes'>): string {
  if (!proven) return 'The search was cut short: fewer or better changes may do as much.';
  if (changes.length === 0) return 'Every set of other changes was weighed; none does more.';
  return whole
    ? 'Every smaller set of changes was weighed, and none is enough; none of the same size is better.'
    : 'Every set of changes was weighed, and none comes nearer with fewer.';
}

/** What is to be set for a swap, and what that means beyond the finishes, in sentences. */
export interface Swapping {
  readonly label: string;
  readonly values: Values;
  readonly notes: readonly string[];
}

/**
 * The one edit that puts a swapped finish in its place, and with `changes` the other changes too. What gives way stays among
 * the candidates. What comes is chosen, which is to say still to be bought, and a search leaves it alone from now on; where
 * a budget was for the rest, it grows by what was there already, as the report counts it. What was there all the time and
 * comes back is fixed again.
 */
export function swapping(
  job: Job,
  room: Room,
  { report, input, changes = [] }: { report: SwapReport; input: SchemeInput; changes?: Repair['changes'] },
): Swapping {
  const { surfaceId, to } = report;
  const moves = new Map([
    [surfaceId, to],
    ...changes.map((change) => [change.surfaceId, change.to] as const),
  ]);
  const parts = report.after.parts
    .filter((part) => moves.has(part.surfaceId))
    .map((part) => {
      const optionId = moves.get(part.surfaceId)!;
      return { ...part, optionId, optionName: swatchTitle(job.swatches[optionId]) };
    });
  const { values } = choosing(job, { parts });
  const { scheme } = room;
  const freed = [...moves.keys()].filter((id) => scheme?.free[id]);
  for (const id of freed) values.push([['rooms', room.id, 'scheme', 'free', id], undefined]);
  const name = swatchTitle(job.swatches[to]);
  const notes: string[] = [];
  const place = input.places.find((one) => one.surfaceId === surfaceId);
  const surface = job.surfaces[surfaceId];
  // Once something else is chosen, the budget has grown.
  const fixed = surface.state === 'fixed';
  const there = fixed ? place?.options.find(({ id }) => id === place.there) : undefined;
  const budget = input.limits.budget;
  if (there) notes.push(`${name} is then chosen and still to be bought.`);
  if (surface.thereId === to) notes.push(`${name} is there still: nothing of it has to be bought.`);
  if (scheme && there?.cost && budget !== null && there.id !== to) {
    const grown = Math.ceil(budget + there.cost - 1e-9);
    values.push([['rooms', room.id, 'scheme', 'limits', 'budget'], grown]);
    const money = (amount: number) => amountOf(amount, input.currency);
    notes.push(
      `The budget of ${money(budget)} was for the rest; it grows by what ${there.name} cost, to ${money(grown)}.`,
    );
  }
  if (freed.length > 0)
    notes.push(
      `A search for schemes then leaves ${new Intl.ListFormat('en-GB').format(freed.map((id) => `“${job.surfaces[id].name}”`))} alone.`,
    );
  const more = changes.length === 0 ? '' : `, and ${changes.length} more`;
  return { label: `swap to “${name}” on “${surface.name}”${more}`, values, notes };
}
