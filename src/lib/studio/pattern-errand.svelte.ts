import type { Id } from '#lib/job/index.ts';

/**
 * A photo of a stone, tile or wood that somebody sets out to bring: for which swatch, kept per tab until an outline in a photo
 * is kept for it or they leave it.
 */
export class PatternErrand {
  readonly #at: string;
  swatchId = $state<Id | null>(null);
  /** The outline that was drawn for it and is being measured. */
  regionId = $state<Id | null>(null);
  /** The swatch whose pattern was kept last; until the next errand. */
  doneId = $state<Id | null>(null);

  constructor(jobId: Id) {
    this.#at = `brushout pattern ${jobId}`;
    this.swatchId = sessionStorage.getItem(this.#at);
  }

  begin(swatchId: Id): void {
    this.swatchId = swatchId;
    this.regionId = this.doneId = null;
    sessionStorage.setItem(this.#at, swatchId);
  }

  /** `kept` where an outline was kept for the swatch. */
  end(kept: boolean): void {
    this.doneId = kept ? this.swatchId : null;
    this.swatchId = this.regionId = null;
    sessionStorage.removeItem(this.#at);
  }
}

const errands = new Map<Id, PatternErrand>();

/** The errand of this tab in a job. */
export function patternErrand(jobId: Id): PatternErrand {
  const known = errands.get(jobId) ?? new PatternErrand(jobId);
  errands.set(jobId, known);
  return known;
}
