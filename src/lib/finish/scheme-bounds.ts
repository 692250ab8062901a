import { DOUBT } from './scheme-tables.ts';
import type { SchemeTables } from './scheme-tables.ts';

/*
 * An upper bound on every scheme of a part of the search, and on every scheme with a given option in it.
 *
 * The sum of all scores is written anew without changing it for any scheme (a reparametrisation): a constant, one score
 * for each option and one for each pair of options, all <= 0, so that the constant bounds everything and constant plus
 * own score of an option bounds every scheme with that option. Sequential tree-reweighted message passing lowers the
 * constant step by step: each place in turn draws into its own scores what its pairs must lose at least, the best of
 * them goes to the constant, the rest is handed on in equal shares to the places still to come.
 *
 * Additive limits enter with multipliers >= 0 (Lagrangian relaxation): score + multiplier × (most − amount) is never below
 * the score of a scheme that keeps the limit.
 *
 * Sources: Kolmogorov 2006, 'Convergent tree-reweighted message passing for energy minimization', IEEE Trans. Pattern
 * Analysis and Machine Intelligence 28(10), 1568-1583 (the order of messages and the shares 1 / max of the places before
 * and after: from memory, only the abstract could be read); Cooper et al. 2010, 'Soft arc consistency revisited',
 * Artificial Intelligence 174, 449-478, and Geoffrion 1974 on Lagrangian relaxation (both from memory).
 */

/** A part of the search: some places chosen, the options of the others narrowed down, and what bounds them. */
export class Relaxation {
  readonly tables: SchemeTables;
  /** Nothing in this part scores above it. */
  constant = 0;
  /** Chosen option of each place, -1 while open. */
  readonly chosen: Int32Array;
  /** Open places, ascending. */
  open: number[];
  /** Options left at each place, ascending: the first `left[place]` of `active[place]`. */
  readonly active: readonly Int32Array[];
  readonly left: Int32Array;
  /** Own score of each option, <= 0. At place × width + option. */
  readonly own: Float64Array;
  /** Drawn into place i out of its pairs with place j, for each option of i. At (i × places + j) × width + option. */
  readonly drawn: Float64Array;
  readonly multipliers: Float64Array;
  /** Sum of each amount over the chosen places. */
  readonly spent: Float64Array;
  /** Classes in use, and how many, for each limit on distinct classes. */
  readonly used: readonly Uint8Array[];
  readonly usedCount: Int32Array;
  readonly #drawing: Float64Array;

  constructor(tables: SchemeTables) {
    const { places, width, counts, amounts, distinct } = tables;
    this.tables = tables;
    this.chosen = new Int32Array(places).fill(-1);
    this.open = Array.from({ length: places }, (_, place) => place);
    this.active = Array.from(counts, (count) => Int32Array.from({ length: count }, (_, option) => option));
    this.left = Int32Array.from(counts);
    this.own = new Float64Array(places * width);
    tables.alone.forEach((row, place) => this.own.set(row, place * width));
    this.drawn = new Float64Array(places * places * width);
    this.multipliers = new Float64Array(amounts.length);
    this.spent = new Float64Array(amounts.length);
    this.used = distinct.map(({ classes }) => new Uint8Array(classes));
    this.usedCount = new Int32Array(distinct.length);
    distinct.forEach(({ already }, k) => already.forEach((own) => this.#use(k, own)));
    this.#drawing = new Float64Array(width);
  }

  #use(limit: number, own: number): void {
    if (own < 0 || this.used[limit][own]) return;
    this.used[limit][own] = 1;
    this.usedCount[limit]++;
  }

  /** Becomes what `other` is, of the same tables. */
  copy(other: Relaxation): void {
    const { places, width } = this.tables;
    this.constant = other.constant;
    this.chosen.set(other.chosen);
    this.open = other.open;
    this.left.set(other.left);
    for (const i of other.open) {
      this.active[i].set(other.active[i]);
      this.own.set(other.own.subarray(i * width, (i + 1) * width), i * width);
      for (const j of other.open) {
        const at = (i * places + j) * width;
        if (i !== j) this.drawn.set(other.drawn.subarray(at, at + width), at);
      }
    }
    this.multipliers.set(other.multipliers);
    this.spent.set(other.spent);
    this.used.forEach((flags, k) => flags.set(other.used[k]));
    this.usedCount.set(other.usedCount);
  }

  /** Chooses an option of an open place: what its pairs cost goes to the places they lead to. */
  choose(place: number, option: number): void {
    const { places, width, counts, pairs, amounts, distinct } = this.tables;
    this.constant += this.own[place * width + option];
    this.chosen[place] = option;
    this.open = this.open.filter((other) => other !== place);
    for (const j of this.open) {
      const table = pairs[place * places + j];
      if (!table) continue;
      const gone = this.drawn[(place * places + j) * width + option];
      const at = (j * places + place) * width;
      for (let k = 0; k < this.left[j]; k++) {
        const b = this.active[j][k];
        this.own[j * width + b] += table[option * counts[j] + b] - gone - this.drawn[at + b];
      }
    }
    amounts.forEach(({ each }, k) => (this.spent[k] += each[place][option]));
    distinct.forEach(({ classOf }, k) => this.#use(k, classOf[place][option]));
  }

  /** Takes away options that no scheme within the limits can have. False where a place has none left. */
  withinLimits(): boolean {
    const { amounts, distinct } = this.tables;
    for (let again = true; again;) {
      again = false;
      for (let k = 0; k < distinct.length; k++) {
        const { classOf, most } = distinct[k];
        if (this.usedCount[k] > most) return false;
        if (this.usedCount[k] < most) continue;
        for (const i of this.open) {
          if (this.#keep(i, (a) => classOf[i][a] < 0 || this.used[k][classOf[i][a]] === 1)) again = true;
          if (this.left[i] === 0) return false;
        }
      }
      for (let k = 0; k < amounts.length; k++) {
        const { each, most, slack } = amounts[k];
        const least = this.open.map((i) => this.#least(each[i], i));
        const total = least.reduce((sum, value) => sum + value, this.spent[k]);
        if (total > most + slack) return false;
        this.open.forEach((i, n) => {
          const room = most + slack - total + least[n];
          if (this.#keep(i, (a) => each[i][a] <= room)) again = true;
        });
      }
    }
    return true;
  }

  #least(row: Float64Array, place: number): number {
    let least = Infinity;
    for (let k = 0; k < this.left[place]; k++) least = Math.min(least, row[this.active[place][k]]);
    return least;
  }

  /** Whether any option had to go. */
  #keep(place: number, keeps: (option: number) => boolean): boolean {
    const list = this.active[place];
    const before = this.left[place];
    let kept = 0;
    for (let k = 0; k < before; k++) if (keeps(list[k])) list[kept++] = list[k];
    this.left[place] = kept;
    return kept < before;
  }

  /**
   * One pass over the open places, up or down. Options that cannot be part of a scheme of at least `least` are taken
   * away; false where none is left at some place, or nothing can reach `least`.
   */
  pass(up: boolean, least: number): boolean {
    const { open } = this;
    const cut = least - DOUBT;
    for (let n = 0; n < open.length; n++) {
      const i = open[up ? n : open.length - 1 - n];
      let before = 0;
      let after = 0;
      for (const j of open) {
        if (j === i || !this.tables.pairs[i * this.tables.places + j]) continue;
        if (up ? j < i : j > i) {
          before++;
          this.#draw(i, j);
        } else after++;
      }
      if (!this.#settle(i, cut)) return false;
      if (after > 0) this.#handOn(i, up, { share: 1 / Math.max(before, after), after });
    }
    return true;
  }

  /** Draws into one place what all its pairs lose at least, so that its own scores bound its options. */
  gather(place: number, least: number): boolean {
    const { places, pairs } = this.tables;
    for (const j of this.open) if (j !== place && pairs[place * places + j]) this.#draw(place, j);
    return this.#settle(place, least - DOUBT);
  }

  /** Bound of the schemes with two given options, where no other place is open. */
  pairBound(i: number, j: number, choice: readonly number[]): number {
    const { places, width, counts, pairs } = this.tables;
    const table = pairs[i * places + j];
    const own = this.constant + this.own[i * width + choice[i]] + this.own[j * width + choice[j]];
    if (!table) return own;
    return (
      own +
      table[choice[i] * counts[j] + choice[j]] -
      this.drawn[(i * places + j) * width + choice[i]] -
      this.drawn[(j * places + i) * width + choice[j]]
    );
  }

  /** Takes over the scores of `other`, whose tables had more options: `kept` are those that are left, ascending. */
  restate(other: Relaxation, kept: readonly Int32Array[]): void {
    const { places, width } = this.tables;
    this.constant = other.constant;
    this.multipliers.set(other.multipliers);
    for (let i = 0; i < places; i++) {
      kept[i].forEach((option, a) => {
        this.own[i * width + a] = other.own[i * other.tables.width + option];
        for (let j = 0; j < places; j++) {
          this.drawn[(i * places + j) * width + a] =
            other.drawn[(i * places + j) * other.tables.width + option];
        }
      });
    }
  }

  /** Draws into place i the least that its pairs with place j lose. */
  #draw(i: number, j: number): void {
    const { places, width, counts, pairs } = this.tables;
    const table = pairs[i * places + j]!;
    const { own, drawn } = this;
    const drawing = this.#drawing;
    const columns = counts[j];
    const from = (j * places + i) * width;
    const into = (i * places + j) * width;
    const list = this.active[j];
    const there = this.left[j];
    const here = this.left[i];
    const whole = there === columns;
    for (let k = 0; k < there; k++) drawing[k] = drawn[from + list[k]];
    for (let n = 0; n < here; n++) {
      const a = this.active[i][n];
      const row = a * columns;
      let best = -Infinity;
      if (whole) {
        for (let k = 0; k < there; k++) {
          const value = table[row + k] - drawing[k];
          if (value > best) best = value;
        }
      } else {
        for (let k = 0; k < there; k++) {
          const value = table[row + list[k]] - drawing[k];
          if (value > best) best = value;
        }
      }
      own[i * width + a] += best - drawn[into + a];
      drawn[into + a] = best;
    }
  }

  /** Moves the best own score of a place to the constant and takes away what cannot reach `cut`. */
  #settle(place: number, cut: number): boolean {
    const { own } = this;
    const at = place * this.tables.width;
    const list = this.active[place];
    const count = this.left[place];
    let best = -Infinity;
    for (let k = 0; k < count; k++) if (own[at + list[k]] > best) best = own[at + list[k]];
    if (best === -Infinity) return false;
    this.constant += best;
    if (this.constant < cut) return false;
    let kept = 0;
    for (let k = 0; k < count; k++) {
      const a = list[k];
      const value = own[at + a] - best;
      if (value === -Infinity || this.constant + value < cut) continue;
      own[at + a] = value;
      list[kept++] = a;
    }
    this.left[place] = kept;
    return true;
  }

  #handOn(place: number, up: boolean, { share, after }: { share: number; after: number }): void {
    const { places, width, pairs } = this.tables;
    const { own, drawn } = this;
    const list = this.active[place];
    const count = this.left[place];
    for (const j of this.open) {
      if ((up ? j <= place : j >= place) || !pairs[place * places + j]) continue;
      const at = (place * places + j) * width;
      for (let k = 0; k < count; k++) drawn[at + list[k]] -= share * own[place * width + list[k]];
    }
    const rest = Math.max(0, 1 - share * after);
    for (let k = 0; k < count; k++) own[place * width + list[k]] *= rest;
  }

  /** Changes the multiplier of an amount. The bound may rise. */
  weigh(limit: number, multiplier: number): void {
    const { width, amounts } = this.tables;
    const { each, most } = amounts[limit];
    const step = multiplier - this.multipliers[limit];
    this.multipliers[limit] = multiplier;
    this.constant += step * (most - this.spent[limit]);
    for (const i of this.open) {
      let best = -Infinity;
      for (let k = 0; k < this.left[i]; k++) {
        const a = this.active[i][k];
        this.own[i * width + a] -= step * each[i][a];
        best = Math.max(best, this.own[i * width + a]);
      }
      this.constant += best;
      for (let k = 0; k < this.left[i]; k++) this.own[i * width + this.active[i][k]] -= best;
    }
  }

  /** A scheme the messages point to, place by place upwards (Kolmogorov 2006, section on choosing a solution). After a pass down. */
  decoded(): Int32Array {
    const { places, width, counts, alone, pairs, amounts } = this.tables;
    const choice = Int32Array.from(this.chosen);
    for (const i of this.open) {
      let best = -Infinity;
      for (let k = 0; k < this.left[i]; k++) {
        const a = this.active[i][k];
        let value = alone[i][a];
        for (let limit = 0; limit < amounts.length; limit++)
          value -= this.multipliers[limit] * amounts[limit].each[i][a];
        for (let j = 0; j < places; j++) {
          const table = j === i ? null : pairs[i * places + j];
          if (!table) continue;
          value +=
            choice[j] >= 0 ? table[a * counts[j] + choice[j]] : this.drawn[(i * places + j) * width + a];
        }
        if (value > best || choice[i] < 0) {
          best = value;
          choice[i] = a;
        }
      }
    }
    return choice;
  }
}
