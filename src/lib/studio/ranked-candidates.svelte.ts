import { shortlistInput, type Id, type Job } from '#lib/job/index.ts';
import { analysis } from './analysis.ts';
import { LatestAnswer } from './latest-answer.svelte.ts';
import { orderKept, rankedOf, type RankedSurface } from './ranked-order.ts';

/**
 * Candidates of surfaces, best first, as far as they have been ranked; the analysis worker ranks one surface at a time. What
 * is shown keeps the order it came in: later rankings, after every edit of the job, must not move it under a pointer.
 */
export class RankedCandidates {
  /** As they were ranked last, by surface. */
  found = $state.raw<Readonly<Record<Id, RankedSurface>>>({});
  /** In the order they are shown, by surface. */
  shown = $state.raw<Readonly<Record<Id, readonly Id[]>>>({});
  readonly #ranking = new LatestAnswer(async ({ job, surfaceId }: { job: Job; surfaceId: Id }) => {
    const { input } = shortlistInput(job, surfaceId);
    const ranked = rankedOf(
      input.candidates.length > 0 ? await analysis().rank(input) : { shortlist: [], excluded: [] },
    );
    this.found = { ...this.found, [surfaceId]: ranked };
    if (!this.shown[surfaceId]) this.renew(surfaceId);
  });

  ask(job: Job, surfaceId: Id): void {
    this.#ranking.ask({ job, surfaceId });
  }

  /** Whether there is an order to show; where ranking fails that of the job has to do. */
  known(surfaceId: Id): boolean {
    return this.shown[surfaceId] !== undefined || this.#ranking.problem !== null;
  }

  /** Whether candidates would now come in another order than the one shown. */
  moved(surfaceId: Id): boolean {
    const found = this.found[surfaceId];
    return found !== undefined && !orderKept(this.shown[surfaceId] ?? [], found.order);
  }

  /** Shows a surface's candidates in the order they were ranked last. */
  renew(surfaceId: Id): void {
    const found = this.found[surfaceId];
    if (found) this.shown = { ...this.shown, [surfaceId]: found.order };
  }
}
