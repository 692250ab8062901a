import { Relaxation } from './scheme-bounds.ts';
import { narrowed, overstep, reachable, scoreOf } from './scheme-tables.ts';
import type { SchemeTables } from './scheme-tables.ts';
import { compareChoices } from './scheme-list.ts';
import type { SchemeList } from './scheme-list.ts';
import { exchanges } from './scheme-start.ts';

/*
 * Depth-first branch and bound (Land and Doig 1960, Econometrica 28(3), 497-520, from memory) for the best schemes of a
 * list. Memory: one relaxation for each depth, no more than there are places, whatever the search does.
 */

/** Passes up and down at the root, at most, and how little a round of them may gain before they stop. */
const ROOT_ROUNDS = 300;
const ROOT_PATIENCE = 20;
/** Passes in one part of the search, at most; another pair of passes must close this part of the gap. */
const PART_ROUNDS = 6;
const WORTHWHILE = 0.15;

interface Branch {
  readonly place: number;
  /** Options from the most promising down, and the bound of each. */
  readonly options: readonly number[];
  readonly bounds: readonly number[];
  next: number;
}

export class Branching {
  readonly list: SchemeList;
  done = false;
  /** Nothing that is not in the list scores above it. */
  bound: number;
  /** Rough part of the search that is behind, 0-1. */
  fraction = 0;
  /** The tables as given; `#root` and `#states` may work on narrower ones. */
  readonly #whole: SchemeTables;
  readonly #starts: ArrayLike<number>[];
  #exchanging: Generator<void, void> | null = null;
  readonly #root: Relaxation;
  /** The root at its lowest bound so far: multipliers on their way may raise it. */
  readonly #best: Relaxation;
  #rounds = 0;
  /** Rounds since the bound fell noticeably. */
  #stale = 0;
  /** By depth. */
  #states: Relaxation[] = [];
  readonly #branches: Branch[] = [];

  /**
   * Finds the best schemes for `list`, which is empty at first. `starts` are schemes that may be near good ones, whether
   * or not they keep the limits; nothing is known to score above `bound`.
   */
  constructor(
    tables: SchemeTables,
    list: SchemeList,
    { starts = [], bound = 0 }: { starts?: readonly ArrayLike<number>[]; bound?: number } = {},
  ) {
    this.list = list;
    this.#whole = tables;
    this.#starts = [...starts];
    this.#root = new Relaxation(tables);
    this.#best = new Relaxation(tables);
    this.bound = bound;
  }

  /** The next part of the work: an exchange, a round at the root, or one part of the search. */
  step(): void {
    if (this.done) return;
    if (this.#exchanging && !this.#exchanging.next().done) return;
    const start = this.#starts.pop();
    this.#exchanging = start ? exchanges(this.#whole, start, this.list) : null;
    if (start) return;
    if (this.#states.length === 0) this.#atRoot();
    else this.#next();
  }

  #finish(): void {
    this.done = true;
    this.fraction = 1;
    this.bound = Math.min(this.bound, this.list.least);
  }

  #lower(bound: number): void {
    this.bound = Math.min(this.bound, Math.max(reachable(bound), this.list.least));
  }

  /** A pass up and down, then another look at the multipliers. */
  #atRoot(): void {
    const root = this.#root;
    const before = this.#best.constant;
    if (this.#rounds === 0) {
      if (!root.withinLimits()) return this.#finish();
      this.#best.copy(root);
    }
    const alive = root.pass(true, this.list.least) && root.pass(false, this.list.least);
    if (!alive) return this.#finish();
    this.#rounds++;
    const gap = before - this.list.least;
    if (root.constant < before || this.#rounds === 1) this.#best.copy(root);
    else this.#copyOptions();
    this.#stale = before - root.constant > Math.min(1, gap) * 1e-3 ? 0 : this.#stale + 1;
    this.#lower(this.#best.constant);
    this.fraction = 0.2 * Math.min(1, this.#rounds / ROOT_ROUNDS);
    const decoded = root.decoded();
    if (this.#rounds <= 4 || this.#rounds % 10 === 0) this.#starts.push(decoded);
    if (this.#stale > ROOT_PATIENCE || this.#rounds >= ROOT_ROUNDS) this.#descend();
    else this.#weigh(decoded);
  }

  /** Options ruled out are ruled out whatever the multipliers. */
  #copyOptions(): void {
    for (const i of this.#root.open) {
      this.#best.active[i].set(this.#root.active[i]);
      this.#best.left[i] = this.#root.left[i];
    }
  }

  /** Polyak's step for the multipliers (subgradient of the bound). */
  #weigh(decoded: Int32Array): void {
    const { amounts, places } = this.#root.tables;
    if (amounts.length === 0) return;
    const over = amounts.map(({ each, most }) => {
      let total = -most;
      for (let i = 0; i < places; i++) total += each[i][decoded[i]];
      return total;
    });
    const size = amounts.map(({ each }) =>
      each.reduce((sum, row) => sum + Math.max(...row.map(Math.abs)), 1e-12),
    );
    const steps = over.map((value, k) =>
      value <= 0 && this.#root.multipliers[k] === 0 ? 0 : value / size[k],
    );
    const norm = steps.reduce((sum, value) => sum + value * value, 0);
    if (norm === 0) return;
    const least = this.list.least === -Infinity ? this.#root.constant - 1 : this.list.least;
    const step = (0.5 * Math.max(1e-6, this.#root.constant - least)) / norm;
    steps.forEach((value, k) => {
      if (value !== 0) this.#root.weigh(k, Math.max(0, this.#root.multipliers[k] + (step * value) / size[k]));
    });
  }

  #descend(): void {
    const best = this.#best;
    const kept = best.tables.names.map((_, i) => best.active[i].slice(0, best.left[i]).sort());
    const tables = narrowed(best.tables, kept);
    const root = new Relaxation(tables);
    root.restate(best, kept);
    this.#states = [root];
    for (let depth = 1; depth < tables.places; depth++) this.#states.push(new Relaxation(tables));
    this.#expand(0);
  }

  /** Goes to the next branch that can still lead into the list. */
  #next(): void {
    while (this.#branches.length > 0) {
      const depth = this.#branches.length - 1;
      const branch = this.#branches[depth];
      if (branch.next >= branch.options.length || this.#hopeless(branch.bounds[branch.next])) {
        this.#branches.pop();
        continue;
      }
      const option = branch.options[branch.next++];
      const state = this.#states[depth + 1];
      state.copy(this.#states[depth]);
      state.choose(branch.place, option);
      this.#expand(depth + 1);
      return;
    }
    this.#finish();
  }

  #hopeless(bound: number): boolean {
    return reachable(bound) < this.list.least;
  }

  #expand(depth: number): void {
    const state = this.#states[depth];
    if (this.#bounded(state)) {
      if (state.open.length <= 2) this.#complete(state);
      else this.#branches.push(this.#branch(state));
    }
    this.#account();
  }

  /** Whether the part can still hold a scheme for the list, after its bound has been lowered as far as is worth while. */
  #bounded(state: Relaxation): boolean {
    const { least } = this.list;
    if (!state.withinLimits() || this.#hopeless(state.constant)) return false;
    if (state.open.length <= 2) return !this.#onlyLater(state);
    for (let round = 0; round < PART_ROUNDS; round++) {
      const gap = state.constant - least;
      if (!state.pass(true, least) || !state.pass(false, least) || !state.withinLimits()) return false;
      if (!(gap - (state.constant - least) > WORTHWHILE * gap)) break;
    }
    return !this.#onlyLater(state);
  }

  /** Whether the part can at best tie with the last of the list and comes after it. */
  #onlyLater(state: Relaxation): boolean {
    const { last } = this.list;
    if (!last || !this.#tied(state)) return false;
    const { names } = state.tables;
    const first = names.map((row, i) =>
      state.chosen[i] >= 0
        ? row[state.chosen[i]]
        : Math.min(...state.active[i].subarray(0, state.left[i]).map((a) => row[a])),
    );
    return compareChoices(first, last.choice) > 0;
  }

  /** Whether the part can at best tie with the last of the list. */
  #tied(state: Relaxation): boolean {
    return reachable(state.constant) <= this.list.least;
  }

  #branch(state: Relaxation): Branch {
    const { width } = state.tables;
    let place = state.open[0];
    // Where nothing but ties is left, in the order of places: the first that are met are then those that count.
    if (!this.#tied(state)) for (const i of state.open) if (state.left[i] < state.left[place]) place = i;
    if (!state.gather(place, this.list.least)) return { place, options: [], bounds: [], next: 0 };
    const options = Array.from(state.active[place].subarray(0, state.left[place]));
    const bound = (option: number) => reachable(state.constant + state.own[place * width + option]);
    options.sort((a, b) => bound(b) - bound(a) || a - b);
    return { place, options, bounds: options.map(bound), next: 0 };
  }

  /** Every scheme of a part with at most two open places. */
  #complete(state: Relaxation): void {
    const choice = Array.from(state.chosen);
    const [i, j] = state.open;
    const { tables } = state;
    const visit = () => {
      const score = scoreOf(tables, choice);
      if (score < this.list.least || score === -Infinity || overstep(tables, choice) > 0) return;
      this.list.add({ choice: choice.map((option, place) => tables.names[place][option]), score });
    };
    if (i === undefined) return visit();
    for (let n = 0; n < state.left[i]; n++) {
      choice[i] = state.active[i][n];
      if (j === undefined) {
        if (!this.#hopeless(state.constant + state.own[i * tables.width + choice[i]])) visit();
        continue;
      }
      for (let m = 0; m < state.left[j]; m++) {
        choice[j] = state.active[j][m];
        if (!this.#hopeless(state.pairBound(i, j, choice))) visit();
      }
    }
  }

  #account(): void {
    let bound = -Infinity;
    let fraction = 0;
    let share = 0.8;
    for (const { options, bounds, next } of this.#branches) {
      if (next < options.length) bound = Math.max(bound, bounds[next]);
      share /= Math.max(1, options.length);
      fraction += share * Math.max(0, next - 1);
    }
    this.#lower(bound);
    this.fraction = Math.max(this.fraction, 0.2 + fraction);
  }
}
