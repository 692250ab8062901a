import { wrap, type Remote } from 'comlink';
import type { Swaps } from './swap.worker.ts';

/**
 * One kind of question about swaps. Another question ends the work on the one before: what nobody waits for is not worked
 * out. Each has a worker of its own, so that a list is there while a report takes its time.
 */
export class SwapWork<Question, Answer> {
  /** Stays until the next question is answered. */
  answer = $state.raw<Answer | null>(null);
  problem = $state<string | null>(null);
  busy = $state(false);
  readonly #ask: (swaps: Remote<Swaps>, question: Question) => Promise<Answer>;
  // Not state: who asks in an effect must not be run again because of them.
  #asked: string | null = null;
  #working = false;
  #worker: Worker | null = null;
  #swaps: Remote<Swaps> | null = null;
  #round = 0;

  constructor(ask: (swaps: Remote<Swaps>, question: Question) => Promise<Answer>) {
    this.#ask = ask;
  }

  /** Asks, or with null forgets the answer. The same question again changes nothing. */
  ask(question: Question | null): void {
    const asked = question === null ? null : JSON.stringify(question);
    if (asked === this.#asked) return;
    this.#asked = asked;
    if (this.#working) this.close();
    this.problem = null;
    this.busy = asked !== null;
    if (asked === null) this.answer = null;
    else void this.#work(JSON.parse(asked) as Question);
  }

  /** Ends the worker and what it works on. */
  close(): void {
    this.#round += 1;
    this.#worker?.terminate();
    this.#worker = null;
    this.#swaps = null;
    this.#working = false;
  }

  async #work(question: Question): Promise<void> {
    const mine = ++this.#round;
    this.#working = true;
    this.#worker ??= new Worker(new URL('./swap.worker.ts', import.meta.url), { type: 'module' });
    this.#swaps ??= wrap<Swaps>(this.#worker);
    try {
      const answer = await this.#ask(this.#swaps, question);
      if (mine === this.#round) this.answer = answer;
    } catch (error) {
      if (mine === this.#round) this.problem = error instanceof Error ? error.message : String(error);
    }
    if (mine !== this.#round) return;
    this.#working = false;
    this.busy = false;
  }
}
