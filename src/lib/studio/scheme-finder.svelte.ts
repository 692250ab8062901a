import { proxy, wrap, type Remote } from 'comlink';
import type { FoundSchemes } from './scheme-found.ts';
import type { Schemes } from './scheme.worker.ts';

let remote: Remote<Schemes> | null = null;

/** The worker that searches for schemes, started at first use; a worker of its own, so that nothing waits for a long search. */
export function schemeWork(): Remote<Schemes> {
  remote ??= wrap<Schemes>(new Worker(new URL('./scheme.worker.ts', import.meta.url), { type: 'module' }));
  return remote;
}

/** How long a search goes on by itself, ms. */
const PATIENCE = 15_000;
/** Cards that are seen first. */
export const AT_ONCE = 3;

/** The search for a room's schemes: starts over whenever it is asked something else, and shows what it has on the way. */
export class SchemeFinder {
  /** Stays until something is found for the next question. */
  found = $state.raw<FoundSchemes | null>(null);
  problem = $state<string | null>(null);
  busy = $state(false);
  // Not state: who asks in an effect must not be run again because of them.
  #question: string | null = null;
  #round = 0;

  /** Asks (a `SchemeInput` as JSON), or with null forgets what was found. The same question again changes nothing. */
  ask(question: string | null): void {
    if (question === this.#question) return;
    this.#question = question;
    if (question === null) {
      this.#round += 1;
      this.found = null;
      this.problem = null;
      if (this.busy) this.stop();
      this.busy = false;
    } else void this.#find(question);
  }

  /** Goes on where the search was left. */
  more(): void {
    if (this.#question !== null && !this.busy) void this.#find(this.#question);
  }

  /** Ends the search with what it has. */
  stop(): void {
    void schemeWork().stop();
  }

  async #find(question: string): Promise<void> {
    const mine = ++this.#round;
    this.busy = true;
    const take = (found: FoundSchemes | null) => {
      if (mine === this.#round && found) this.found = found;
    };
    // Who has nothing to look at yet must not wait for what is below.
    const asked = { time: PATIENCE, first: this.found === null ? AT_ONCE : null };
    try {
      take(await schemeWork().find(question, asked, proxy(take)));
      if (mine === this.#round) this.problem = null;
    } catch (error) {
      if (mine === this.#round) this.problem = error instanceof Error ? error.message : String(error);
    }
    if (mine === this.#round) this.busy = false;
  }
}
