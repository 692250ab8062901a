/**
 * What a page has in hand and the job does not hold yet, such as strokes. It is newer than anything in the job: while it has
 * steps of its own, undo and redo are theirs.
 */
export interface InHand {
  /** What is in hand, in a word or two that stand in place of “Saved”; null where nothing is. */
  readonly words: string | null;
  /** What a step back takes back and a step forth brings again, such as `stroke 3 on Cabinets`; null where there is none. */
  readonly back: string | null;
  readonly forth: string | null;
  stepBack(): void;
  stepForth(): void;
}

/**
 * Whose the next redo is; null where there is none. Steps come again in the order opposite to that in which they were taken
 * back: those of the job that were undone after the hand's (`undone` in all, `beneath` of them before) come first.
 */
export function redoOf(
  hand: InHand | null,
  { undone, beneath }: { undone: number; beneath: number },
): 'hand' | 'job' | null {
  if (hand && hand.back === null && hand.forth !== null && undone > beneath) return 'job';
  if (hand?.forth != null) return 'hand';
  // What was done since in the hand leaves nothing of the job to be done again.
  return undone > 0 && (hand?.back ?? null) === null ? 'job' : null;
}

/** What a page has to know of steps that wait. */
export interface TurnsState {
  /** Whether an edit is on its way into the job. */
  readonly coming: boolean;
  /** Whether a step waits for one. */
  readonly waiting: boolean;
}

/**
 * Undo and redo in their turn. Some edits take a moment to come about: marks that a worker makes a mask of, a place that is
 * measured. Such an edit is the last thing done, so that a step asked for meanwhile waits until it is in the job. Where it
 * comes to nothing the step is not taken either, as it was meant for that edit; what went wrong is told where it went wrong.
 */
export class StepTurns {
  readonly #tell: (state: TurnsState) => void;
  readonly #coming = new Set<Promise<boolean>>();
  #waiting = 0;
  /** Steps are taken in the order they were asked for. */
  #line: Promise<unknown> = Promise.resolve();

  constructor(tell: (state: TurnsState) => void) {
    this.#tell = tell;
  }

  /** An edit on its way: done once it is in the job; one that is rejected, or resolves to false, has come to nothing. */
  expect(edit: Promise<unknown>): void {
    const landed = edit.then(
      (found) => found !== false,
      () => false,
    );
    this.#coming.add(landed);
    this.#say();
    void landed.then(() => {
      this.#coming.delete(landed);
      this.#say();
    });
  }

  /** Takes a step: at once, or after the edits that are on their way now and the steps that wait already. */
  take(step: () => void): void {
    if (this.#coming.size === 0 && this.#waiting === 0) return step();
    const before = [...this.#coming];
    this.#waiting += 1;
    this.#say();
    const turn = this.#line.then(async () => {
      try {
        if ((await Promise.all(before)).every(Boolean)) step();
      } finally {
        this.#waiting -= 1;
        this.#say();
      }
    });
    // A step that fails holds up none after it; what it throws is reported as from any handler.
    this.#line = turn.catch(() => null);
    void turn.then();
  }

  #say(): void {
    this.#tell({ coming: this.#coming.size > 0, waiting: this.#waiting > 0 });
  }
}
