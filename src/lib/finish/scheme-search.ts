import { Branching } from './scheme-branching.ts';
import { SchemeList } from './scheme-list.ts';
import { exchanges } from './scheme-start.ts';
import { amount, schemeTables } from './scheme-tables.ts';
import type { SchemeTables } from './scheme-tables.ts';
import { whyNone } from './scheme-infeasible.ts';
import type { Infeasible } from './scheme-infeasible.ts';

/** What a scheme must keep as a whole. */
export interface SchemeLimits {
  /** The amounts of the chosen options sum up to `most` at most (money, dark share, changes); any finite numbers. */
  readonly amounts: readonly {
    readonly name: string;
    /** Amount of each option of each place. */
    readonly each: readonly Float64Array[];
    readonly most: number;
  }[];
  /** The chosen options and `already` belong to `most` distinct classes at most, such as metals. */
  readonly distinct: readonly {
    readonly name: string;
    /** Class of each option of each place; below 0: none. */
    readonly classOf: readonly Int32Array[];
    /** Classes in use whatever is chosen. */
    readonly already: readonly number[];
    readonly most: number;
  }[];
}

/** One option is to be chosen for each place. Knows no colours. */
export interface SearchProblem extends SchemeLimits {
  /** Options of each place: 1 to 16 places, 1 to 200 options. */
  readonly options: readonly number[];
  /** Log score of each option, -20,000 to 0; -Infinity: not allowed. The sum of all scores is to be as large as possible. */
  readonly alone: readonly Float64Array[];
  /** Log scores of two places' options together, row-major options[a] × options[b], likewise. */
  readonly pairs: readonly { readonly a: number; readonly b: number; readonly table: Float64Array }[];
  /** When two schemes are different ones. */
  readonly unlike?: {
    /** Difference of two options of a place, 0-1, row-major square, symmetric. */
    readonly pairs: readonly Float64Array[];
    /** Weight of each place, sum 1. */
    readonly weights: readonly number[];
    /** Different schemes are at least so far apart, 0-1: the weighted sum of the differences of their options. */
    readonly least: number;
  };
}

export interface Scheme {
  /** Option of each place. */
  readonly choice: number[];
  /** Log score, with each table entry rounded to 2⁻³⁰ (a billionth). */
  readonly score: number;
}

export interface SearchProgress {
  readonly done: boolean;
  /** Rough part of the work that is behind, 0-1; never falls. */
  readonly fraction: number;
  /** Log score of the best scheme found, null before one is; never falls. */
  readonly best: number | null;
  /** No scheme, seen or not, scores above it (log); never rises. `best` once that is proven; -Infinity where there is none. */
  readonly bound: number;
}

export interface SearchResult {
  /** The best schemes found, best first; of equal ones that with the lower option numbers first. */
  readonly best: Scheme[];
  /** The best, then each time the best that is unlike all before it; fewer than asked for where no more are unlike. */
  readonly different: Scheme[];
  /** Both lists are exactly right: nothing was left out. */
  readonly proven: boolean;
  /** `best` is exactly right. */
  readonly bestProven: boolean;
  /** How many of `different`, from the first on, are exactly right. */
  readonly differentProven: number;
  /**
   * 0 when proven. While `best` is not: how many times the overall score of the best scheme (1.05: 5 % more) one that
   * was not seen may have at most; at 1 or less the first place is certain and only later ones are open. Infinity before
   * any is found. Where only `different` is open: the same against its first scheme that is not proven.
   */
  readonly couldStillWin: number;
  /** Why there is no scheme, once that is proven. */
  readonly infeasible: Infeasible | null;
  /** Units of work done: exchanges tried, rounds of bounding, parts of the search looked at. */
  readonly visited: number;
}

/** How the work on `best` counts in the fraction, beside one for each different scheme. */
const SHARE_OF_BEST = 2;

/**
 * The exactly best whole schemes, by branch and bound over reparametrised scores; see `scheme-bounds.ts` for the bound and
 * its sources. Deterministic, without clock: the caller gives it work in portions, looks at the clock between them, and
 * drops it to cancel. What it has at any moment is a list of good schemes and a proof of how much better others can be.
 *
 * Memory: the tables twice (both orientations, 77 MB for 16 places of 200 options, 1.6 MB for 8 of 60) and again for what is
 * left of them, and per open depth one state of places² × options numbers; it does not grow with the time spent.
 * Sums that overstep an additive limit by a billionth of it (at least 1e-9) count as rounding.
 */
export class SchemeSearch {
  readonly #tables: SchemeTables;
  readonly #unlike: SearchProblem['unlike'];
  readonly #wanted: number;
  readonly #list: SchemeList;
  readonly #work: Generator<void, void>;
  /** The different schemes that are proven. */
  readonly #different: Scheme[] = [];
  #current: Branching;
  #bound = 0;
  #fraction = 0;
  #visited = 0;
  #bestProven = false;
  #done = false;
  #infeasible: Infeasible | null = null;

  /**
   * `best`: length of the list of best schemes; `different`: length of the list of different ones, of no meaning without
   * `problem.unlike`.
   * @throws RangeError for a number of the problem that is out of its range, saying where.
   */
  constructor(
    problem: SearchProblem,
    { best = 20, different = 3 }: { best?: number; different?: number } = {},
  ) {
    for (const [name, value, least] of [
      ['best', best, 1],
      ['different', different, 0],
    ] as const) {
      if (!Number.isInteger(value) || value < least)
        throw new RangeError(`Expected a whole number of ${least} or more for ${name}, got ${value}`);
    }
    this.#tables = schemeTables(problem);
    checkUnlike(problem);
    this.#unlike = problem.unlike;
    this.#wanted = problem.unlike ? different : 0;
    this.#list = new SchemeList(best);
    this.#current = new Branching(this.#tables, this.#list);
    this.#work = this.#run();
  }

  /** Does about `work` units (a few tenths of a millisecond each for 8 places of 60 options) and says where it stands. */
  step(work: number): SearchProgress {
    if (!(work > 0)) throw new RangeError(`Expected work above 0, got ${work}`);
    for (let unit = 0; unit < work && !this.#done; unit++) {
      this.#visited++;
      if (this.#work.next().done) this.#done = true;
    }
    return this.progress;
  }

  get progress(): SearchProgress {
    const [first] = this.#list.schemes;
    const bound = Math.min(this.#bound, this.#bestProven ? (first?.score ?? -Infinity) : this.#unseen());
    return {
      done: this.#done,
      fraction: this.#done ? 1 : this.#fraction,
      best: first ? first.score : null,
      bound,
    };
  }

  /** Bound of everything, seen or not, while the best are looked for. */
  #unseen(): number {
    const [first] = this.#list.schemes;
    return Math.max(this.#current.bound, first ? first.score : -Infinity);
  }

  *#run(): Generator<void, void> {
    const units = SHARE_OF_BEST + Math.max(0, this.#wanted - 1);
    yield* this.#through(0, SHARE_OF_BEST / units);
    this.#bestProven = true;
    const [first] = this.#list.schemes;
    if (!first) {
      this.#infeasible = yield* whyNone(this.#tables);
      return;
    }
    if (this.#wanted > 0) this.#different.push(first);
    while (this.#different.length < this.#wanted) {
      const tables = this.#unlikeAll(this.#different);
      const list = new SchemeList(1);
      const starts = [...this.#different, ...this.#list.schemes.slice(0, 3)].map(({ choice }) => choice);
      // What must be unlike more schemes cannot score higher.
      const bound = this.#different.at(-1)!.score;
      this.#current = new Branching(tables, list, { starts, bound });
      const n = this.#different.length - 1;
      yield* this.#through((SHARE_OF_BEST + n) / units, 1 / units);
      if (list.schemes.length === 0) return;
      this.#different.push(list.schemes[0]);
    }
  }

  *#through(from: number, share: number): Generator<void, void> {
    while (!this.#current.done) {
      this.#current.step();
      if (!this.#bestProven) this.#bound = Math.min(this.#bound, this.#unseen());
      this.#fraction = Math.max(this.#fraction, from + share * this.#current.fraction);
      yield;
    }
  }

  /** The tables with one more limit for each scheme: to be unlike it. */
  #unlikeAll(schemes: readonly Scheme[]): SchemeTables {
    const { pairs, weights, least } = this.#unlike!;
    const { counts } = this.#tables;
    const limits = schemes.map(({ choice }) =>
      amount(
        'unlike',
        choice.map((option, place) => {
          const row = pairs[place].subarray(option * counts[place], (option + 1) * counts[place]);
          return row.map((difference) => -weights[place] * difference);
        }),
        -least,
      ),
    );
    return { ...this.#tables, amounts: [...this.#tables.amounts, ...limits] };
  }

  /** What is known now. While the search is not done, the different schemes are filled up with good ones (some milliseconds for 8 places of 60 options). */
  result(): SearchResult {
    const best = [...this.#list.schemes];
    const different = [...this.#different];
    if (!this.#done) this.#fillUp(different, best);
    return {
      best,
      different,
      proven: this.#done,
      bestProven: this.#bestProven,
      differentProven: this.#different.length,
      couldStillWin: this.#couldStillWin(best, different),
      infeasible: this.#infeasible,
      visited: this.#visited,
    };
  }

  #couldStillWin([first]: readonly Scheme[], different: readonly Scheme[]): number {
    if (this.#done || (this.#bestProven && !first)) return 0;
    const shown = this.#bestProven ? different[this.#different.length] : first;
    return shown ? Math.exp(this.#current.bound - shown.score) : Infinity;
  }

  #fillUp(different: Scheme[], best: readonly Scheme[]): void {
    if (best.length === 0) return;
    if (different.length === 0 && this.#wanted > 0) different.push(best[0]);
    if (this.#bestProven)
      different.push(...this.#current.list.schemes.slice(0, this.#wanted - different.length));
    while (different.length < this.#wanted) {
      const list = new SchemeList(1);
      const tables = this.#unlikeAll(different);
      for (const { choice } of different) exhaust(exchanges(tables, choice, list));
      if (list.schemes.length === 0) return;
      different.push(list.schemes[0]);
    }
  }
}

function exhaust(work: Generator<void, void>): void {
  while (!work.next().done);
}

function checkUnlike({ options, unlike }: SearchProblem): void {
  if (!unlike) return;
  const { pairs, weights, least } = unlike;
  if (!(least >= 0 && least <= 1)) throw new RangeError(`Expected least in unlike in [0, 1], got ${least}`);
  if (weights.length !== options.length || pairs.length !== options.length)
    throw new RangeError(
      `Expected ${options.length} weights and tables in unlike, got ${weights.length} and ${pairs.length}`,
    );
  let sum = 0;
  weights.forEach((weight, place) => {
    if (!(weight >= 0))
      throw new RangeError(`Expected weights of 0 or more in unlike, got ${weight} at place ${place}`);
    sum += weight;
  });
  if (!(Math.abs(sum - 1) < 1e-6)) throw new RangeError(`Expected weights in unlike with sum 1, got ${sum}`);
  pairs.forEach((table, place) => {
    const count = options[place];
    if (table.length !== count * count)
      throw new RangeError(
        `Expected ${count} × ${count} differences in unlike at place ${place}, got ${table.length}`,
      );
    table.forEach((value, at) => {
      const mirrored = table[(at % count) * count + Math.floor(at / count)];
      if (!(value >= 0 && value <= 1) || Math.abs(value - mirrored) > 1e-9)
        throw new RangeError(
          `Expected symmetric differences in [0, 1] in unlike at place ${place}, got ${value} at ${at} and ${mirrored} across`,
        );
    });
  });
}
