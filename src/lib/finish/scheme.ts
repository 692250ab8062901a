import { deltaE2000, lrvFromLab } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from './appearance.ts';
import type { PreparedFinish, PreparedLight, ReflectanceCache } from './appearance.ts';
import { excludedBecause } from './limits.ts';
import { judgedLrv } from './lrv.ts';
import { PAIRING_BANDS } from './pairing.ts';
import { SCHEME_CRITERIA } from './scheme-criteria.ts';
import type {
  PreparedOption,
  PreparedPlace,
  SchemeGround,
  SchemeInput,
  SchemeOption,
  SchemePlace,
} from './scheme-question.ts';
import type { SearchProblem } from './scheme-search.ts';
import { SchemeFindings } from './scheme-findings.ts';
import { amountLimits, DARK_LRV, isThere, metalLimit, STRONG_CHROMA } from './scheme-limits.ts';
import { schemeTerms } from './scheme-terms.ts';
import type { SchemeTerms } from './scheme-terms.ts';

/** Schemes are different when this part of the open area looks quite different. Common practice, no published source. */
export const LEAST_UNLIKE = 0.2;

/** A question about schemes, worked out: what to search, and all that cards and swaps are made from. */
export interface SchemeProblem extends SchemeGround, SchemeTerms {
  readonly problem: SearchProblem;
  /** False where every criterion is left out: all schemes within the limits are then equally good. */
  readonly counts: boolean;
  /** Options that a limit excludes, with the reason. */
  readonly excluded: readonly {
    readonly surfaceId: string;
    readonly id: string;
    readonly name: string;
    readonly reason: string;
  }[];
  /** What is found about schemes, worked out when asked for. */
  readonly findings: SchemeFindings;
}

/**
 * Whole schemes as a search: a choice is an index into the options of every place, and its score is the ln of its overall
 * desirability, a weighted geometric mean (Derringer and Suich 1980) whose terms `schemeTerms` explains. Held places keep
 * their option and count as constants. Limits exclude: the budget sums the known costs of what is still to be bought, a
 * date excludes what comes later, metals count the different swatches of metal, and shares go by area. What is held is
 * not excluded by a date or an LRV; its card says that it breaks them.
 * `cache` keeps recovered reflectances between calls.
 * @throws RangeError for places without options or area, ids that occur twice or do not exist, weights and contacts below 0.
 */
export function schemeProblem(
  input: SchemeInput,
  { cache = new Map() }: { cache?: ReflectanceCache } = {},
): SchemeProblem {
  checkSchemeInput(input);
  const lights = input.lights.map(prepareLight);
  const places = preparedPlaces(input, lights, cache);
  const ground: SchemeGround = { input, lights, places };
  const { terms, leftOut } = schemeTerms(ground);
  const problem = searchTables({ ...ground, terms }, (i, option) =>
    places[i].held >= 0 ? option === places[i].held : places[i].options[option].excluded === null,
  );
  const excluded = places.flatMap(({ place, options, held }) =>
    held >= 0
      ? []
      : options.flatMap(({ option: { id, name }, excluded: reason }) =>
          reason === null ? [] : [{ surfaceId: place.surfaceId, id, name, reason }],
        ),
  );
  const findings = new SchemeFindings(ground, cache);
  return { ...ground, terms, leftOut, counts: terms.length > 0, problem, excluded, findings };
}

/** The tables of a search in which only options that are `allowed` (place, option) take part. */
export function searchTables(
  { terms, ...ground }: SchemeGround & Pick<SchemeTerms, 'terms'>,
  allowed: (place: number, option: number) => boolean,
): SearchProblem {
  const { places } = ground;
  const alone = places.map(({ options }, i) =>
    Float64Array.from(options, (_, option) => (allowed(i, option) ? 0 : -Infinity)),
  );
  const pairs = new Map<string, SearchProblem['pairs'][number]>();
  for (const { a, b, weight, logs } of terms) {
    const table = b < 0 ? alone[a] : pairOf(pairs, { a, b, size: logs.length }).table;
    for (let cell = 0; cell < table.length; cell++) table[cell] += weight * logs[cell];
  }
  return {
    options: places.map(({ options }) => options.length),
    alone,
    pairs: [...pairs.values()],
    amounts: amountLimits(ground),
    distinct: metalLimit(ground),
    unlike: unlikeness(places),
  };
}

/** The choice that puts these finishes (surface id to option id) on their places; null where one of them is missing. */
export function choiceOf(
  { places }: SchemeGround,
  choices: Readonly<Record<string, string>>,
): number[] | null {
  const choice = places.map(({ place, options }) =>
    options.findIndex(({ option }) => option.id === choices[place.surfaceId]),
  );
  return choice.includes(-1) ? null : choice;
}

/** What a choice puts where: surface id to option id. */
export function choicesOf({ places }: SchemeGround, choice: readonly number[]): Record<string, string> {
  return Object.fromEntries(
    places.map(({ place, options }, i) => [place.surfaceId, options[choice[i]].option.id]),
  );
}

function pairOf(
  pairs: Map<string, SearchProblem['pairs'][number]>,
  { a, b, size }: { a: number; b: number; size: number },
): SearchProblem['pairs'][number] {
  const key = `${a},${b}`;
  let pair = pairs.get(key);
  if (!pair) pairs.set(key, (pair = { a, b, table: new Float64Array(size) }));
  return pair;
}

function preparedPlaces(
  input: SchemeInput,
  lights: readonly PreparedLight[],
  cache: ReflectanceCache,
): PreparedPlace[] {
  const area = input.places.reduce((sum, place) => sum + place.area, 0);
  const known = new Map<SchemeOption, PreparedFinish>();
  const finishOf = (option: SchemeOption) => {
    let finish = known.get(option);
    if (!finish) known.set(option, (finish = prepareFinish(option, lights, cache)));
    return finish;
  };
  return input.places.map((place) => {
    const units = place.options.flatMap(({ price }) => (price ? [`${price.currency} ${price.unit}`] : []));
    const comparable = new Set(units).size <= 1;
    const { readyInDays } = input.limits;
    const options = place.options.map((option): PreparedOption => {
      const finish = finishOf(option);
      const lrv = judgedLrv(option.lrv ?? null, finish.lrv);
      const late = isThere(place, option) ? null : soonest(place.limits.maxLeadTimeDays, readyInDays);
      const limits = { ...place.limits, maxLeadTimeDays: late };
      return {
        option,
        finish,
        lrv,
        mean: meanLab(finish),
        dark: partOf(finish, ({ lab }) => lrvFromLab(lab) < DARK_LRV),
        strong: partOf(finish, ({ lab }) => Math.hypot(lab.a, lab.b) > STRONG_CHROMA),
        excluded: excludedBecause(option, lrv, { limits, comparable }),
      };
    });
    const index = (id: string | null) => options.findIndex(({ option }) => option.id === id);
    return {
      place,
      options,
      held: index(place.held),
      current: index(place.current),
      share: place.area / area,
    };
  });
}

function soonest(a: number | null, b: number | null): number | null {
  return a === null ? b : b === null ? a : Math.min(a, b);
}

function meanLab({ colours }: PreparedFinish): Lab {
  const mean = (pick: (lab: Lab) => number) =>
    colours.reduce((sum, { share, lab }) => sum + share * pick(lab), 0);
  return { L: mean(({ L }) => L), a: mean(({ a }) => a), b: mean(({ b }) => b) };
}

function partOf(
  { colours }: PreparedFinish,
  holds: (colour: PreparedFinish['colours'][number]) => boolean,
): number {
  return colours.reduce((sum, colour) => sum + (holds(colour) ? colour.share : 0), 0);
}

/**
 * How different two options of a place look, 0-1: 1 for another kind of material, else ΔE00 of the mean colours against
 * the border beyond which finishes stand apart. Held places do not count.
 */
function unlikeness(places: readonly PreparedPlace[]): SearchProblem['unlike'] {
  const open = places.map(({ held, share }) => (held < 0 ? share : 0));
  const sum = open.reduce((total, share) => total + share, 0);
  if (sum === 0) return undefined;
  return {
    pairs: places.map(({ options }) => {
      const count = options.length;
      const square = new Float64Array(count * count);
      for (let i = 0; i < count; i++)
        for (let j = 0; j < i; j++) {
          const [p, q] = [options[i], options[j]];
          const same = p.option.kind === q.option.kind;
          const unlike = same ? Math.min(1, deltaE2000(p.mean, q.mean) / PAIRING_BANDS.related) : 1;
          square[i * count + j] = square[j * count + i] = unlike;
        }
      return square;
    }),
    weights: open.map((share) => share / sum),
    least: LEAST_UNLIKE,
  };
}

/** @throws RangeError for what the types of a `SchemeInput` cannot say. */
function checkSchemeInput({ places, meetings, weights, limits }: SchemeInput): void {
  const ids = new Set<string>();
  for (const { surfaceId, options, area, held, current, there } of places) {
    if (ids.has(surfaceId)) throw new RangeError(`Expected every place once, got ${surfaceId} twice`);
    ids.add(surfaceId);
    if (options.length === 0) throw new RangeError(`Expected at least one option for ${surfaceId}`);
    if (!(area > 0) || !Number.isFinite(area))
      throw new RangeError(`Expected an area above 0 for ${surfaceId}, got ${area}`);
    const own = new Set(options.map(({ id }) => id));
    if (own.size < options.length) throw new RangeError(`Expected every option of ${surfaceId} once`);
    for (const id of [held, current, there])
      if (id !== null && !own.has(id)) throw new RangeError(`Expected an option of ${surfaceId}, got ${id}`);
    for (const { id, cost, busyness } of options)
      for (const value of [cost, busyness])
        if (value !== null && !(value >= 0 && Number.isFinite(value)))
          throw new RangeError(`Expected cost and busyness of 0 or more for ${id}, got ${value}`);
  }
  for (const { a, b, contact } of meetings) {
    if (!ids.has(a) || !ids.has(b) || a === b)
      throw new RangeError(`Expected meetings of two different places, got ${a} and ${b}`);
    if (!(contact >= 0 && contact <= 1))
      throw new RangeError(`Expected contact in [0, 1] of ${a} and ${b}, got ${contact}`);
  }
  for (const criterion of SCHEME_CRITERIA) {
    const weight = weights[criterion];
    if (!(weight >= 0) || !Number.isFinite(weight))
      throw new RangeError(`Expected weights.${criterion} of 0 or more, got ${weight}`);
  }
  for (const [name, limit] of Object.entries(limits))
    if (limit !== null && !(limit >= 0))
      throw new RangeError(`Expected limits.${name} of 0 or more, got ${limit}`);
}
