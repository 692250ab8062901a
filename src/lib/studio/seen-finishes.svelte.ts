import { untrack } from 'svelte';
import type { Id, Job, Photo } from '#lib/job/index.ts';
import { keepHere, keptHere } from './kept-here.ts';
import { RankedCandidates } from './ranked-candidates.svelte.ts';
import { placesIn, readTried, type Place, type Tried } from './see.ts';

/** Whose finishes are seen: a photo of the job; null where there is none. */
interface SeenPhoto {
  readonly jobId: Id;
  readonly job: Job;
  readonly photo: Photo | null;
}

/** What is put on the surfaces of the photo that is seen, and which of them is chosen for. Made while a component is. */
export class SeenFinishes {
  readonly #seen: () => SeenPhoto;
  /** The surface somebody asked for. */
  asked = $state<Id | null>(null);
  #tried = $state.raw<Tried>({});
  // Candidates come in the order of the shortlist; where it cannot be ranked in that of the job.
  readonly #ranked = new RankedCandidates();

  readonly places: readonly Place[] = $derived.by(() => {
    const { job, photo } = this.#seen();
    return photo ? placesIn(job, photo, { tried: this.#tried, ranked: this.#ranked.shown }) : [];
  });
  readonly place: Place | null = $derived(
    this.places.find(({ surface }) => surface.id === this.asked) ??
      this.places.find(({ surface, marked }) => marked && surface.state !== 'fixed') ??
      this.places[0] ??
      null,
  );
  // Of the surface itself, not of its place: that is another one after every ranking, which would ask for the next.
  readonly #toRank = $derived(
    this.place &&
      this.place.surface.state !== 'fixed' &&
      Object.keys(this.place.surface.candidateIds).length > 0
      ? this.place.surface
      : null,
  );
  /** Whether the order of the candidates is still on its way: cards that move under a pointer would mislead it. */
  readonly ordering: boolean = $derived(
    this.#toRank !== null && (this.place?.choices.length ?? 0) > 1 && !this.#ranked.known(this.#toRank.id),
  );
  /** Whether the shortlist has another order by now than the one shown. */
  readonly moved: boolean = $derived(this.#toRank !== null && this.#ranked.moved(this.#toRank.id));

  /** Why candidates of the surface are excluded, in the shortlist's sentences. */
  readonly excluded: Readonly<Record<Id, string>> = $derived(
    (this.#toRank && this.#ranked.found[this.#toRank.id]?.excluded) ?? {},
  );

  constructor(seen: () => SeenPhoto) {
    this.#seen = seen;
    // What another page of this tab put on is kept for others too.
    this.#set(readTried(keptHere(this.#keptAs)));
    $effect(() => {
      if (this.#toRank) this.#ranked.ask(seen().job, this.#toRank.id);
    });
    // An open surface nobody has tried anything on shows its leading candidate, so that there is something to see.
    $effect(() => {
      if (this.place?.surface.state !== 'open') return;
      const { id } = this.place.surface;
      const leading = this.#ranked.found[id]?.leading;
      if (leading && this.#tried[id] === undefined)
        untrack(() => this.#set({ ...this.#tried, [id]: leading }));
    });
  }

  /** Puts a swatch on the surface that is chosen for; null shows it as photographed. */
  put(swatchId: Id | null): void {
    if (this.place) this.#set({ ...this.#tried, [this.place.surface.id]: swatchId });
  }

  /** Shows candidates in the order the shortlist has now. */
  reorder(): void {
    if (this.#toRank) this.#ranked.renew(this.#toRank.id);
  }

  get #keptAs(): string {
    return `brushout see ${this.#seen().jobId}`;
  }

  // What is tried is nobody's decision yet: it stays in this browser until it is chosen.
  #set(next: Tried): void {
    this.#tried = next;
    keepHere(this.#keptAs, JSON.stringify(next));
  }
}
