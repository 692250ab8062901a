import {
  choiceOf,
  schemeCard,
  SchemeSearch,
  schemeProblem,
  type Infeasible,
  type ReflectanceCache,
  type SchemeCard,
  type SchemeInput,
  type SchemeProblem,
} from '#lib/finish/index.ts';
import type { SurfaceEdges } from '#lib/job/index.ts';
import { adjacentSurfaces, decodeMask, maskArea, type Mask, type StoredMask } from '#lib/photo/index.ts';
import { expose } from 'comlink';

/** Good schemes that look different, and the length of the list of the best whatever they look like. */
const DIFFERENT = 6;
const BEST = 20;
/** How long the search goes on without looking up, and how often it says where it stands, ms. */
const SLICE = 30;
const TELL_EVERY = 200;
/** Recovered reflectances kept; a kitchen has fifty finishes. */
const MOST_REFLECTANCES = 2000;

/** What is known of a room's schemes so far. */
export interface FoundSchemes {
  /** Whether the search goes on. */
  readonly searching: boolean;
  /** Rough part of the work that is behind, 0-1. */
  readonly fraction: number;
  /** Ways to put together what the limits of single surfaces leave. */
  readonly possible: number;
  readonly different: readonly SchemeCard[];
  /** The best of all, alike or not; empty while the search goes on. */
  readonly best: readonly SchemeCard[];
  /** As in `SearchResult`. */
  readonly proven: boolean;
  readonly bestProven: boolean;
  readonly differentProven: number;
  readonly couldStillWin: number;
  readonly excluded: SchemeProblem['excluded'];
  /** Why there is none; `least` is what the amount that is broken comes to at least. */
  readonly infeasible: (Infeasible & { readonly least: number | null }) | null;
}

interface Prepared {
  readonly key: string;
  readonly asked: SchemeProblem;
  readonly search: SchemeSearch;
}

let reflectances: ReflectanceCache = new Map();
let prepared: Prepared | null = null;
/** Counts questions: who finds another number here has been overtaken. */
let round = 0;

function prepare(question: string): Prepared {
  if (prepared?.key === question) return prepared;
  if (reflectances.size > MOST_REFLECTANCES) reflectances = new Map();
  const asked = schemeProblem(JSON.parse(question) as SchemeInput, { cache: reflectances });
  const search = new SchemeSearch(asked.problem, { best: BEST, different: DIFFERENT });
  return (prepared = { key: question, asked, search });
}

function known({ asked, search }: Prepared, searching: boolean): FoundSchemes {
  const { best, different, infeasible, ...proof } = search.result();
  const { problem, excluded } = asked;
  const card = ({ choice }: { choice: readonly number[] }) => schemeCard(asked, choice);
  return {
    searching,
    fraction: search.progress.fraction,
    possible: problem.alone.reduce((all, row) => all * row.filter((score) => score > -Infinity).length, 1),
    different: different.map(card),
    best: searching ? [] : best.map(card),
    proven: proof.proven,
    bestProven: proof.bestProven,
    differentProven: proof.differentProven,
    couldStillWin: proof.couldStillWin,
    excluded,
    infeasible: infeasible && { ...infeasible, least: leastAmount(asked, infeasible) },
  };
}

/** What a sum that cannot be kept comes to at least, where it alone is the reason. */
function leastAmount({ problem }: SchemeProblem, { limits }: Infeasible): number | null {
  const amount = limits.length === 1 && problem.amounts.find(({ name }) => name === limits[0]);
  if (!amount) return null;
  return amount.each.reduce(
    (sum, row, place) =>
      sum + Math.min(...row.filter((_, option) => problem.alone[place][option] > -Infinity)),
    0,
  );
}

const schemes = {
  /**
   * Searches for `time` ms at most, telling where it stands on the way. The same question again goes on where it was left;
   * another one, or `stop`, ends it. Null for one that was overtaken.
   * `question` is a `SchemeInput` as JSON.
   */
  async find(
    question: string,
    time: number,
    tell: (found: FoundSchemes) => void,
  ): Promise<FoundSchemes | null> {
    const mine = ++round;
    const ready = prepare(question);
    const { search } = ready;
    const end = performance.now() + time;
    let told = performance.now();
    while (!search.progress.done && performance.now() < end) {
      const pause = performance.now() + SLICE;
      while (performance.now() < pause && !search.step(8).done);
      if (search.progress.done) break;
      if (performance.now() - told > TELL_EVERY) {
        tell(known(ready, true));
        told = performance.now();
      }
      // Lets questions in.
      await new Promise((resolve) => setTimeout(resolve));
      if (round !== mine) return stopped === mine ? known(ready, false) : null;
    }
    return known(ready, false);
  },

  /** Ends the search that goes on; it answers with what it has. */
  stop(): void {
    stopped = round;
    round += 1;
  },

  /** Cards of schemes by what is on each surface; null where something of one is gone. */
  cards(question: string, choices: readonly Readonly<Record<string, string>>[]): (SchemeCard | null)[] {
    const { asked } = prepare(question);
    return choices.map((one) => {
      const choice = choiceOf(asked, one);
      return choice && schemeCard(asked, choice);
    });
  },

  /** How large marked surfaces are in a photo and where they meet. A mark that is damaged is left out. */
  edges(
    marked: readonly { readonly id: string; readonly mask: StoredMask }[],
    { width, height }: { readonly width: number; readonly height: number },
  ): SurfaceEdges {
    const ids: string[] = [];
    const masks: Mask[] = [];
    for (const { id, mask } of marked) {
      try {
        masks.push(decodeMask(mask, { width, height }));
        ids.push(id);
      } catch (error) {
        if (!(error instanceof RangeError)) throw error;
      }
    }
    return {
      areas: Object.fromEntries(masks.map((mask, i) => [ids[i], maskArea(mask)])),
      borders: adjacentSurfaces(masks).map(({ a, b, length }) => ({ a: ids[a], b: ids[b], length })),
    };
  },
};

/** Number of the question that was told to stop. */
let stopped = -1;

export type Schemes = typeof schemes;

expose(schemes);
