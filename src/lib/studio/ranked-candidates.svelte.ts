import { shortlistInput, type Id, type Job } from '#lib/job/index.ts';
import { analysis } from './analysis.ts';
import { LatestAnswer } from './latest-answer.svelte.ts';

/** Candidates of surfaces, best first, as far as they have been ranked; the analysis worker ranks one surface at a time. */
export class RankedCandidates {
  /** By surface. */
  ids = $state.raw<Readonly<Record<Id, readonly Id[]>>>({});
  readonly #ranking = new LatestAnswer(async ({ job, surfaceId }: { job: Job; surfaceId: Id }) => {
    const { shortlist } = await analysis().rank(shortlistInput(job, surfaceId).input);
    this.ids = { ...this.ids, [surfaceId]: shortlist.map(({ id }) => id) };
  });

  ask(job: Job, surfaceId: Id): void {
    this.#ranking.ask({ job, surfaceId });
  }
}
