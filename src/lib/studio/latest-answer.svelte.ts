/**
 * Asks something slow one question at a time. What is asked meanwhile waits, and only the latest of it is asked next; the
 * last answer stays until then.
 */
export class LatestAnswer<Question, Answer> {
  answer = $state.raw<Answer | null>(null);
  problem = $state<string | null>(null);
  busy = $state(false);
  #ask: (question: Question) => Promise<Answer>;
  // Not state: who asks in an effect must not be run again because of them.
  #waiting: { question: Question | null } | null = null;
  #asking = false;

  constructor(ask: (question: Question) => Promise<Answer>) {
    this.#ask = ask;
  }

  /** Asks, or with null forgets the answer. */
  ask(question: Question | null): void {
    this.#waiting = { question };
    if (!this.#asking) void this.#work();
  }

  async #work(): Promise<void> {
    this.#asking = true;
    this.busy = true;
    while (this.#waiting) {
      const { question } = this.#waiting;
      this.#waiting = null;
      try {
        this.answer = question === null ? null : await this.#ask(question);
        this.problem = null;
      } catch (error) {
        this.problem = error instanceof Error ? error.message : String(error);
      }
    }
    this.#asking = false;
    this.busy = false;
  }
}
