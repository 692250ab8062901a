import { QUARTERS } from './work-clock.ts';
import type { WorkClock } from './work-clock.ts';

/** A stay in the drying space: the pieces lie there from the beginning of its first task until its last has dried. */
export interface Stay {
  readonly pieces: number;
  /** Tasks by index, in order, each after the one before. */
  readonly tasks: readonly number[];
}

/** Something to be done. Times in quarter hours (`WorkClock`); other tasks by their index. */
export interface Task {
  /** Working time, 1 or more. */
  readonly work: number;
  /** Elapsed time after the work before what follows may begin. */
  readonly dry: number;
  readonly after: readonly number[];
  /** Whether it takes one of our pairs of hands; a trade brings its own. */
  readonly hands: boolean;
  /** Not before: what it needs is there. */
  readonly release: number;
  /** Not before, and ahead of the rest from then on: where somebody moved it. */
  readonly moved: number | null;
  readonly stay: Stay | null;
}

/** What fixed the beginning of a task: the plan's start, its delivery, its move, or another task that had to be done first. */
export type Because =
  | { readonly kind: 'start' | 'delivery' | 'moved' }
  | { readonly kind: 'after' | 'hands' | 'space'; readonly task: number };

export interface Scheduled {
  readonly start: number;
  /** Of the work. */
  readonly end: number;
  /** Of drying. */
  readonly dry: number;
  /** Which pair of hands, from 0; null for a trade. */
  readonly person: number | null;
  readonly because: Because;
}

export interface ListLimits {
  readonly clock: WorkClock;
  readonly start: number;
  readonly people: number;
  /** Pieces that can lie drying at once; no stay has more. */
  readonly space: number;
}

/**
 * A schedule that keeps every rule: nothing begins before what it follows has dried, before its finish is there or before
 * the day it was moved to; a pair of hands does one thing at a time; never more pieces lie drying than there is room for.
 * List scheduling by the longest chain left: whenever hands are free, the task with most behind it begins. Not proven
 * shortest, and more hands can make it longer (from memory: Graham 1969, SIAM Journal on Applied Mathematics 17(2),
 * 416-429). Hands are kept free for tasks that were moved to a day and can begin on it; drying space is not. Where tasks
 * were moved, a second list puts all that these follow first; the one that keeps more of them on their day counts, then
 * the one that ends sooner.
 * Throws RangeError where tasks follow one another in a circle.
 */
export function listSchedule(tasks: readonly Task[], limits: ListLimits): Scheduled[] {
  const plain = listed(tasks, limits, 'longest chain first');
  if (!tasks.some(({ moved }) => moved !== null)) return plain;
  const hurried = listed(tasks, limits, 'what moved tasks follow first');
  const [a, b] = [plain, hurried].map((done) => ({
    kept: done.filter((one, k) => isKept(tasks[k], one, limits.clock)).length,
    end: Math.max(...done.map(({ dry }) => dry)),
  }));
  return b.kept > a.kept || (b.kept === a.kept && b.end < a.end) ? hurried : plain;
}

/** Whether a task begins on the day it was moved to or, where that is a day off, on the next working day. */
export function isKept({ moved }: Task, { start }: Scheduled, clock: WorkClock): boolean {
  return moved === null || clock.moment(clock.openAt(moved)).date === clock.moment(start).date;
}

type ListOrder = 'longest chain first' | 'what moved tasks follow first';

function listed(tasks: readonly Task[], limits: ListLimits, order: ListOrder): Scheduled[] {
  const list = new List(tasks, limits, order);
  while (list.left > 0) list.advance();
  return list.done.map((one) => one!);
}

class List {
  readonly done: (Scheduled | undefined)[];
  left: number;
  #now: number;
  readonly #tasks: readonly Task[];
  readonly #limits: ListLimits;
  readonly #order: readonly number[];
  /** The last thing that kept a task waiting. */
  readonly #waited: (Because | undefined)[];

  constructor(tasks: readonly Task[], limits: ListLimits, order: ListOrder) {
    this.#tasks = tasks;
    this.#limits = limits;
    this.done = tasks.map(() => undefined);
    this.#waited = tasks.map(() => undefined);
    this.left = tasks.length;
    this.#now = limits.clock.openAt(limits.start);
    const chains = chainsLeft(tasks, limits.clock);
    const urgent = new Set(order === 'longest chain first' ? [] : followedByMoved(tasks));
    const group = (index: number) => (tasks[index].moved !== null ? 0 : urgent.has(index) ? 1 : 2);
    this.#order = tasks
      .map((_, index) => index)
      .sort((a, b) => group(a) - group(b) || chains[b] - chains[a] || a - b);
  }

  /** Begins what can begin now, and goes on to the next moment at which anything changes. */
  advance(): void {
    const { clock } = this.#limits;
    let held = false;
    for (const index of this.#order) {
      if (this.done[index] || this.#ready(index) > this.#now) continue;
      const obstacle = this.#obstacle(index);
      if (obstacle) this.#waited[index] = obstacle;
      if (obstacle || clock.beginning(this.#now, this.#tasks[index].work) > this.#now) held = true;
      else this.#begin(index);
    }
    let next = held ? clock.nextOpening(this.#now) : Infinity;
    const look = (at: number) => {
      if (at > this.#now && at < next) next = at;
    };
    this.done.forEach((one, index) => {
      if (one) {
        look(one.end);
        look(one.dry);
      } else look(this.#ready(index));
    });
    if (this.left > 0) this.#now = clock.openAt(next);
  }

  #begin(index: number): void {
    const { clock, people } = this.#limits;
    const { work, dry, hands } = this.#tasks[index];
    const end = clock.end(this.#now, work);
    const busy = this.#running(this.#now).map(({ person }) => person);
    let person = null;
    for (let k = people - 1; hands && k >= 0; k--) if (!busy.includes(k)) person = k;
    this.done[index] = { start: this.#now, end, dry: end + dry, person, because: this.#because(index) };
    this.left--;
  }

  /** What it waited for, where that has begun before it: hands may have been kept for a task that then could not begin. */
  #because(index: number): Because {
    const waited = this.#waited[index];
    if (!waited || !('task' in waited)) return this.#held(index);
    return (this.done[waited.task]?.start ?? Infinity) < this.#now ? waited : this.#held(index);
  }

  #ready(index: number): number {
    const { after, release, moved } = this.#tasks[index];
    let at = Math.max(this.#limits.start, release, moved ?? release);
    for (const before of after) at = Math.max(at, this.done[before]?.dry ?? Infinity);
    return at;
  }

  /** What of its own fixed the beginning of a task that never waited for hands or space. */
  #held(index: number): Because {
    const { after, release, moved } = this.#tasks[index];
    let because: Because = { kind: 'start' };
    let at = this.#limits.start;
    const look = (from: number, why: Because) => {
      if (from > at) [at, because] = [from, why];
    };
    for (const task of after) look(this.done[task]!.dry, { kind: 'after', task });
    look(release, { kind: 'delivery' });
    if (moved !== null) look(moved, { kind: 'moved' });
    return because;
  }

  #obstacle(index: number): Because | null {
    const { people, space } = this.#limits;
    const { hands, stay } = this.#tasks[index];
    const running = this.#running(this.#now);
    if (hands && running.length >= people) {
      const soonest = running.reduce((a, b) => (b.end < a.end ? b : a));
      return { kind: 'hands', task: this.done.indexOf(soonest) };
    }
    if (stay && stay.tasks[0] === index) {
      const lying = this.#lying();
      if (lying.reduce((sum, { pieces }) => sum + pieces, stay.pieces) > space) {
        const lasts = lying.map(({ tasks }) => tasks.at(-1)!);
        const dry = (task: number) => this.done[task]?.dry ?? Infinity;
        return { kind: 'space', task: lasts.reduce((a, b) => (dry(b) < dry(a) ? b : a)) };
      }
    }
    const crossed = hands ? this.#crossed(index) : null;
    return crossed === null ? null : { kind: 'hands', task: crossed };
  }

  #running(at: number): Scheduled[] {
    return this.done.filter((one) => one !== undefined && one.person !== null && one.end > at) as Scheduled[];
  }

  /** Stays begun and not yet dry. */
  #lying(): Stay[] {
    return this.#tasks.flatMap(({ stay }, index) => {
      if (!stay || stay.tasks[0] !== index || !this.done[index]) return [];
      return (this.done[stay.tasks.at(-1)!]?.dry ?? Infinity) > this.#now ? [stay] : [];
    });
  }

  /** A moved task that would find no hands free on its day if this one began now. */
  #crossed(index: number): number | null {
    const { clock, people } = this.#limits;
    if (this.#tasks[index].moved !== null) return null;
    const end = clock.end(this.#now, this.#tasks[index].work);
    const due = this.#tasks.flatMap(({ moved, hands }, other) => {
      if (this.done[other] || moved === null || !hands) return [];
      const at = clock.openAt(moved);
      return at > this.#now && at < end && this.#ready(other) <= at ? [{ other, at }] : [];
    });
    const crossed = due.find(({ at }) => {
      const wanted = due.filter((one) => one.at <= at).length;
      return this.#running(at).length + 1 + wanted > people;
    });
    return crossed ? crossed.other : null;
  }
}

/**
 * A moment before which no plan of these tasks can be done, however it is ordered: the longest chain with hands and space
 * for all, the work shared out evenly among all hands, the drying space full all the time; the latest of the three.
 */
export function earliestEnd(tasks: readonly Task[], { clock, start, people, space }: ListLimits): number {
  const dry: (number | undefined)[] = tasks.map(() => undefined);
  const done = (index: number): number => {
    const { after, release, moved, work, dry: drying } = tasks[index];
    const ready = Math.max(
      start,
      release,
      moved ?? release,
      ...after.map((before) => dry[before] ?? done(before)),
    );
    return (dry[index] = clock.end(clock.beginning(ready, work), work) + drying);
  };
  const chain = tasks.reduce((most, _, index) => Math.max(most, dry[index] ?? done(index)), start);
  const ours = tasks.reduce((sum, { work, hands }) => sum + (hands ? work : 0), 0);
  const shared = ours === 0 ? start : clock.end(start, Math.ceil(ours / people));
  const pieceTime = tasks.reduce(
    (sum, { stay, work, dry: drying }) => sum + (stay?.pieces ?? 0) * (work + drying),
    0,
  );
  return Math.max(chain, shared, start + Math.ceil(pieceTime / space));
}

/** All that moved tasks follow, directly or not. */
function followedByMoved(tasks: readonly Task[]): Set<number> {
  const found = new Set<number>();
  const look = ({ after }: Task) => {
    for (const before of after) {
      if (found.has(before)) continue;
      found.add(before);
      look(tasks[before]);
    }
  };
  for (const task of tasks) if (task.moved !== null) look(task);
  return found;
}

/** Elapsed time from the beginning of each task to the end of the longest chain it heads, nights estimated in. */
function chainsLeft(tasks: readonly Task[], clock: WorkClock): number[] {
  const followers: number[][] = tasks.map(() => []);
  tasks.forEach(({ after }, index) => after.forEach((before) => followers[before].push(index)));
  const stretch = (24 * QUARTERS) / clock.quartersPerDay;
  const lengths: (number | 'open' | undefined)[] = tasks.map(() => undefined);
  const length = (index: number): number => {
    const known = lengths[index];
    if (known === 'open') throw new RangeError('Expected tasks that follow one another, got a circle');
    if (known !== undefined) return known;
    lengths[index] = 'open';
    const rest = followers[index].reduce((most, next) => Math.max(most, length(next)), 0);
    const { work, dry } = tasks[index];
    return (lengths[index] = work * stretch + dry + rest);
  };
  return tasks.map((_, index) => length(index));
}
