import { schemeCard } from './scheme-card.ts';
import type { SchemeCard } from './scheme-card.ts';
import { searchTables } from './scheme.ts';
import type { SchemeProblem } from './scheme.ts';
import { AMOUNTS, totals } from './scheme-limits.ts';
import type { SchemeFinding } from './scheme-question.ts';
import { SchemeSearch } from './scheme-search.ts';
import type { SearchProblem } from './scheme-search.ts';
import { schemeScore } from './scheme-terms.ts';
import { costChange, readyChange } from './scheme-words.ts';

/**
 * Part of the overall desirability that a scheme may lose and still be as good as before. Common practice, no published
 * source.
 */
export const WHOLE_TOLERANCE = 0.05;

/** What a new fault costs a scheme, ln: far more than all criteria together (ln 0.01 at most), so that faults come first. */
const FAULT = 20;

/** Searches after which the list of faults is taken as it is: the answer is then not proven. */
const MOST_SEARCHES = 400;

/** Work units a search is given; more than the hardest question of 16 places has needed. */
const MOST_WORK = 200_000;

/** Another change that goes with a swap. */
export interface RepairChange {
  readonly surfaceId: string;
  readonly surfaceName: string;
  readonly from: string;
  readonly fromName: string;
  readonly to: string;
  readonly toName: string;
}

/** A set of changes beside the swap, and what it comes to. */
export interface Repair {
  readonly whole: boolean;
  readonly changes: readonly RepairChange[];
  readonly card: SchemeCard;
  /** Faults that were not there before the swap. */
  readonly newFaults: readonly SchemeFinding[];
  /** Whether it is as good as before the swap, less `WHOLE_TOLERANCE`. */
  readonly asGood: boolean;
  /** Money and days against before the swap; null where something that changes is not known. */
  readonly cost: number | null;
  readonly days: number | null;
  /** What keeps it from being whole, in sentences; '' where it is. */
  readonly missing: string;
  /** Nothing was left out: no smaller set would do, and none of this size is better. */
  readonly proven: boolean;
}

interface Found {
  readonly choice: readonly number[];
  readonly proven: boolean;
}

/** Searches for what must change with a swapped finish. */
export class SchemeRepair {
  readonly #asked: SchemeProblem;
  readonly #current: readonly number[];
  readonly #after: readonly number[];
  readonly #problem: SearchProblem;
  /** Faults of the scheme before, by key. */
  readonly #before: ReadonlySet<string>;
  /** Least score of a whole scheme. */
  readonly #least: number;
  /** Least score of other changes that are worth making where nothing makes it whole. */
  readonly #worth: number;
  readonly #told = new Set<string>();
  readonly #changeable: number;
  #searches = 0;

  constructor(
    asked: SchemeProblem,
    { current, after, place }: { current: readonly number[]; after: readonly number[]; place: number },
  ) {
    const { places, terms, findings } = asked;
    this.#asked = asked;
    this.#current = current;
    this.#after = after;
    this.#before = new Set(faults(findings.of(current)).map(({ key }) => key));
    this.#least = schemeScore(terms, places, current) + Math.log(1 - WHOLE_TOLERANCE);
    this.#worth = schemeScore(terms, places, after) + Math.log(1 - WHOLE_TOLERANCE);
    const mayChange = places.map(
      ({ place: { state }, held }, i) => i !== place && (held < 0 || state === 'chosen'),
    );
    this.#changeable = mayChange.filter(Boolean).length;
    const before = totals(places, current);
    const problem = searchTables(asked, (i, option) =>
      i === place || !mayChange[i]
        ? option === after[i]
        : option === current[i] || places[i].options[option].excluded === null,
    );
    const was: Readonly<Record<string, number>> = {
      [AMOUNTS.budget]: before.cost,
      [AMOUNTS.dark]: before.dark,
      [AMOUNTS.strong]: before.strong,
    };
    // A limit that was broken before may stay as broken.
    const [amounts, distinct] = [problem.amounts, problem.distinct];
    this.#problem = {
      ...problem,
      unlike: undefined,
      amounts: amounts.map((limit) => ({ ...limit, most: Math.max(limit.most, was[limit.name]) })),
      distinct: distinct.map((limit) => ({ ...limit, most: Math.max(limit.most, before.metals) })),
    };
  }

  /** The best scheme with the swap in it, everything that may change being free. */
  freely(): Repair {
    return this.#repair(this.#best(this.#changeable) ?? { choice: this.#after, proven: true });
  }

  /**
   * The least set of changes that does what the best can do: make it whole again; where nothing does, leave as few new
   * faults as can be, and be as good as before if that can be. What does not make it whole must not make it worse: it is
   * no other change where all of these leave it less good than the swap alone, by more than `WHOLE_TOLERANCE`.
   */
  least(freely: Repair): Repair {
    for (let count = 0; count < freely.changes.length; count++) {
      const found = this.#best(count);
      const repair = found && this.#repair(found);
      const asFew = repair && repair.newFaults.length <= freely.newFaults.length;
      if (asFew && (repair.asGood || !freely.asGood) && this.#isWorth(repair))
        return { ...repair, proven: repair.proven && freely.proven };
    }
    // Nothing smaller does; of this size `freely` is the best, being the best of all.
    return this.#isWorth(freely) ? freely : this.#repair({ choice: this.#after, proven: freely.proven });
  }

  #isWorth({ whole, card }: Repair): boolean {
    return whole || Math.log(card.desirability) >= this.#worth - 1e-9;
  }

  /** The scheme with the fewest new faults, and the best of these, with at most so many changes; null where limits leave none. */
  #best(changes: number): Found | null {
    const { places } = this.#asked;
    const each = places.map(({ options }, i) =>
      Float64Array.from(options, (_, option) => (option === this.#after[i] ? 0 : 1)),
    );
    const amounts =
      changes < this.#changeable
        ? [...this.#problem.amounts, { name: 'the number of changes', each, most: changes }]
        : this.#problem.amounts;
    // Faults are found by looking: the best scheme is asked for again until all of its faults are counted in its score.
    for (;;) {
      const search = new SchemeSearch({ ...this.#problem, amounts }, { best: 12, different: 0 });
      search.step(MOST_WORK);
      const { best, bestProven } = search.result();
      this.#searches++;
      if (best.length === 0) return null;
      const fresh = best.map(({ choice }) => this.#count(choice));
      if (fresh[0] === 0) return { choice: best[0].choice, proven: bestProven };
      if (this.#searches >= MOST_SEARCHES) return { choice: best[0].choice, proven: false };
    }
  }

  /** Takes a scheme's new faults into the tables and says how many were not in them yet. */
  #count(choice: readonly number[]): number {
    const { findings, places } = this.#asked;
    let fresh = 0;
    const add = (key: string, found: readonly SchemeFinding[], table: () => Float64Array, cell: number) => {
      if (this.#told.has(key)) return;
      this.#told.add(key);
      const count = this.#newFaults(found).length;
      if (count === 0) return;
      fresh += count;
      table()[cell] -= count * FAULT;
    };
    places.forEach((_, i) =>
      add(`${i}:${choice[i]}`, findings.ofPlace(i, choice[i]), () => this.#problem.alone[i], choice[i]),
    );
    for (let index = 0; index < findings.meetings; index++) {
      const { a, b } = findings.placesOf(index);
      const cell = choice[a] * places[b].options.length + choice[b];
      add(
        `${index}-${cell}`,
        findings.ofMeeting(index, choice[a], choice[b]),
        () => this.#tableOf(a, b),
        cell,
      );
    }
    return fresh;
  }

  #tableOf(a: number, b: number): Float64Array {
    const found = this.#problem.pairs.find((pair) => pair.a === a && pair.b === b);
    if (found) return found.table;
    const { options } = this.#problem;
    const table = new Float64Array(options[a] * options[b]);
    (this.#problem.pairs as SearchProblem['pairs'][number][]).push({ a, b, table });
    return table;
  }

  /** Limits that a choice breaks, and breaks more than the scheme before. */
  #beyondLimits(choice: readonly number[]): string[] {
    const { amounts, distinct } = this.#problem;
    const sum = (each: readonly Float64Array[]) => each.reduce((total, row, i) => total + row[choice[i]], 0);
    const count = (classOf: readonly Int32Array[]) =>
      new Set(classOf.map((row, i) => row[choice[i]]).filter((value) => value >= 0)).size;
    return [
      ...amounts.filter(({ each, most }) => sum(each) > most + 1e-6),
      ...distinct.filter(({ classOf, most }) => count(classOf) > most),
    ].map(({ name }) => name);
  }

  #newFaults(found: readonly SchemeFinding[]): SchemeFinding[] {
    return faults(found).filter(({ key }) => !this.#before.has(key));
  }

  #repair({ choice, proven }: Found): Repair {
    const { places, terms, findings } = this.#asked;
    const newFaults = this.#newFaults(findings.of(choice));
    const asGood = schemeScore(terms, places, choice) >= this.#least - 1e-9;
    const before = schemeCard(this.#asked, this.#current);
    const card = schemeCard(this.#asked, choice);
    const score = (value: number) => (100 * value).toFixed(0);
    const beyond = this.#beyondLimits(choice);
    const missing = [
      ...beyond.map((name) => `It goes further beyond ${name} than before.`),
      ...newFaults.map(({ sentence }) => sentence),
      ...(asGood
        ? []
        : [
            `As a whole it reaches ${score(card.desirability)} of 100 where it was ${score(before.desirability)}.`,
          ]),
    ];
    return {
      whole: missing.length === 0,
      changes: places.flatMap(({ place, options }, i) => {
        const [from, to] = [this.#after[i], choice[i]].map((option) => options[option].option);
        const { surfaceId, surfaceName } = place;
        return from === to
          ? []
          : [{ surfaceId, surfaceName, from: from.id, fromName: from.name, to: to.id, toName: to.name }];
      }),
      card,
      newFaults,
      asGood,
      cost: costChange(before, card),
      days: readyChange(before, card),
      missing: missing.join(' '),
      proven,
    };
  }
}

function faults(findings: readonly SchemeFinding[]): SchemeFinding[] {
  return findings.filter(({ severity }) => severity === 'fault');
}
