import { wrap, type Remote } from 'comlink';
import { inOrder, type Id, type Photo, type Surface, type SurfaceMask } from '#lib/job/index.ts';
import { capital } from './light-words.ts';
import type { Answer, MarkedPicture, Marks, ShownMarks } from './mark.worker.ts';
import {
  cleared,
  isChanged,
  NO_STEPS,
  readMarkings,
  shareWords,
  stepBack,
  stepForth,
  stepped,
  stepsTo,
  stepWords,
  withStroke,
  writeMarkings,
  type AnyStroke,
  type Marking,
  type MarkingSteps,
} from './marking.ts';
import type { Studio } from './studio.svelte.ts';
import { surfaceNames } from './surface-names.ts';

let remote: Remote<Marks> | null = null;

/** The worker that selects surfaces, started at first use. One of its own: a stroke must not wait for a ranking. */
function marks(): Remote<Marks> {
  remote ??= wrap<Marks>(new Worker(new URL('./mark.worker.ts', import.meta.url), { type: 'module' }));
  return remote;
}

/** The save under way, of whichever desk: who comes back to a photo at once must not take up strokes that it is saving. */
let underWay: Promise<unknown> = Promise.resolve();

/** The schema's limit for the text of a mask. */
const LONGEST_CODE = 400_000;

type Saved = Pick<SurfaceMask, 'id' | 'mask'>;

/** How the marks of a surface in this photo stand. */
export type MarksState = 'none' | 'unsaved' | 'saved' | 'of another picture' | 'damaged';

/**
 * Marking the surfaces of one photo: which surface is picked, the strokes on it, what the worker makes of them, and when
 * that enters the job.
 *
 * A mask is 20-40 kB of text and stays in the history of edits, so that not every stroke is an edit: strokes become one
 * with “Done”, when another surface is picked, and when the page is left. Until then they lie in this browser's store,
 * where a reload, a crash or a closed tab finds them again; strokes are some hundred bytes and select the same again.
 */
export class MarkDesk {
  readonly #studio: Studio;
  readonly #photoId: Id;
  surfaceId = $state<Id | null>(null);
  answer = $state.raw<(Answer & { readonly id: Id; readonly marking: Marking }) | null>(null);
  /** Whether the picture is made ready; before that a stroke waits. */
  ready = $state(false);
  busy = $state(false);
  problem = $state<string | null>(null);
  /** For the live region: what was done last and what is marked now. */
  said = $state('');
  #steps = $state.raw<Record<Id, MarkingSteps>>({});
  #shown = $state.raw<Record<Id, { code: string; look: ShownMarks | string }>>({});
  #wanted: (() => Promise<void>) | null = null;
  #running: Promise<void> | null = null;
  #saving: Promise<boolean> | null = null;
  /** What was done, to be said with the selection that follows. */
  #prefix = '';
  #suffix = '';

  constructor(studio: Studio, photoId: Id) {
    this.#studio = studio;
    this.#photoId = photoId;
  }

  get photo(): Photo | undefined {
    return this.#studio.job.photos[this.#photoId];
  }

  /** Surfaces of the photo's room; of the only room where the photo names none. */
  readonly surfaces: Surface[] = $derived.by(() => {
    const { rooms, surfaces } = this.#studio.job;
    const roomId = this.photo?.roomId ?? (Object.keys(rooms).length === 1 ? Object.keys(rooms)[0] : null);
    return inOrder(surfaces).filter((surface) => surface.roomId === roomId);
  });

  /** A surface's name, told apart from others of the same name. */
  nameOf(id: Id): string {
    return this.#studio.named.surfaces[id]?.name ?? '';
  }

  readonly surface: Surface | undefined = $derived(this.surfaces.find(({ id }) => id === this.surfaceId));

  readonly steps: MarkingSteps = $derived(this.#steps[this.surfaceId ?? ''] ?? NO_STEPS);

  readonly changed: boolean = $derived(isChanged(this.steps.now));

  /** Saved marks that were drawn on this very picture. */
  readonly saved: Saved[] = $derived.by(() => {
    const { photo } = this;
    return this.surfaces.flatMap(({ id }) => {
      const entry = photo?.masks?.[id];
      if (!photo || entry?.fileId !== photo.fileId) return [];
      const { mask } = entry;
      return mask.width === photo.width && mask.height === photo.height ? [{ id, mask }] : [];
    });
  });

  look(id: Id): ShownMarks | null {
    if (this.answer?.id === id && id === this.surfaceId) return this.answer;
    const look = this.#shown[id]?.look;
    return look && typeof look !== 'string' ? look : null;
  }

  stateOf(id: Id): MarksState {
    if (isChanged((this.#steps[id] ?? NO_STEPS).now)) return 'unsaved';
    const entry = this.photo?.masks?.[id];
    if (!entry) return 'none';
    if (!this.saved.some((known) => known.id === id)) return 'of another picture';
    return typeof this.#shown[id]?.look === 'string' ? 'damaged' : 'saved';
  }

  get #picture(): MarkedPicture | null {
    const { photo } = this;
    if (!photo) return null;
    const { fileId, space, width, height } = photo;
    return { fileId, space, width, height };
  }

  /** Makes the picture ready and takes up what an earlier visit left; picks `wanted`, or what is still to do. */
  async open(wanted: Id | null): Promise<void> {
    await underWay;
    const { photo } = this;
    const picture = this.#picture;
    if (!photo || !picture) return;
    const left = readMarkings(localStorage.getItem(this.#key), photo.fileId);
    this.#steps = Object.fromEntries(
      Object.entries(left)
        .filter(([id]) => this.surfaces.some((surface) => surface.id === id))
        .map(([id, marking]) => [id, stepsTo(marking)]),
    );
    const asked = [Object.keys(this.#steps)[0], wanted].find((id) => this.surfaces.some((s) => s.id === id));
    this.surfaceId ??=
      asked ?? (this.surfaces.find(({ id }) => !photo.masks?.[id]) ?? this.surfaces[0])?.id ?? null;
    try {
      await marks().open(picture);
      this.ready = true;
      this.problem = null;
    } catch (error) {
      this.#fail(error);
    }
  }

  /** Reads saved marks that are not known yet, for outlines and areas. */
  async readSaved(): Promise<void> {
    const picture = this.#picture;
    const fresh = this.saved.filter(({ id, mask }) => this.#shown[id]?.code !== mask.code);
    if (!picture || fresh.length === 0) return;
    try {
      const looks = await marks().shown(fresh, picture);
      const entries = fresh.map(({ id, mask }, i) => [id, { code: mask.code, look: looks[i] }]);
      this.#shown = { ...this.#shown, ...Object.fromEntries(entries) };
    } catch (error) {
      this.#fail(error);
    }
  }

  /** Selects anew for the marking as it stands. One selection is under way; of what comes meanwhile the latest is next. */
  ask(): void {
    const { surfaceId: id, steps, saved } = this;
    const picture = this.#picture;
    if (!id || !picture) return;
    const { now: marking } = steps;
    this.#wanted = async () => {
      const own = saved.find((entry) => entry.id === id)?.mask ?? null;
      const others = saved.filter((entry) => entry.id !== id);
      const answer = await marks().select(picture, { id, marking, saved: own, others });
      if (id !== this.surfaceId) {
        answer.veil?.close();
        return;
      }
      this.answer?.veil?.close();
      this.answer = { ...answer, id, marking };
      this.problem = null;
      const name = this.nameOf(id);
      const found =
        answer.share > 0 ? `${shareWords(answer.share)} of the picture marked.` : 'nothing marked yet.';
      // Saved and gone on with: one sentence about one surface.
      const [before, after] = [this.#prefix, this.#suffix];
      const lead = before === `${name} saved` ? before : before ? `${before}. ${name}` : name;
      this.said = [`${lead}: ${found}`, after, ...answer.notes].filter(Boolean).join(' ');
      this.#prefix = '';
      this.#suffix = '';
    };
    this.#running ??= this.#run();
  }

  async #run(): Promise<void> {
    this.busy = true;
    while (this.#wanted) {
      const next = this.#wanted;
      this.#wanted = null;
      await next().catch((error: unknown) => this.#fail(error));
    }
    this.busy = false;
    this.#running = null;
  }

  #fail(error: unknown): void {
    this.problem = error instanceof Error ? error.message : String(error);
  }

  #change(steps: MarkingSteps): void {
    const id = this.surfaceId;
    if (!id || steps === this.steps) return;
    this.#steps = { ...this.#steps, [id]: steps };
    this.#remember();
  }

  draw(stroke: AnyStroke): void {
    this.#change(withStroke(this.steps, stroke));
  }

  clear(): void {
    this.#prefix = 'Cleared';
    this.#change(cleared(this.steps));
  }

  setElsewhere(elsewhere: boolean): void {
    this.#change(stepped(this.steps, { ...this.steps.now, elsewhere }));
  }

  back(): void {
    this.#walk(stepBack(this.steps));
  }

  forth(): void {
    this.#walk(stepForth(this.steps));
  }

  #walk(to: MarkingSteps): void {
    const words = stepWords(this.steps.now, to.now);
    this.#prefix = capital(words);
    this.#change(to);
  }

  async pick(id: Id): Promise<void> {
    if (id === this.surfaceId) return;
    // What could not be saved stays with its surface, and is said so there.
    await this.keep();
    this.surfaceId = id;
  }

  /** Puts the marks of the picked surface into the job as one edit; false where that failed, and why is said. */
  keep(): Promise<boolean> {
    this.#saving ??= this.#keep().finally(() => (this.#saving = null));
    underWay = this.#saving;
    return this.#saving;
  }

  async #keep(): Promise<boolean> {
    const { surface } = this;
    const picture = this.#picture;
    if (!surface || !picture) return true;
    const { id } = surface;
    const name = this.nameOf(id);
    while (isChanged((this.#steps[id] ?? NO_STEPS).now)) {
      const { now } = this.#steps[id];
      try {
        // The selection may not have been asked for yet where the last stroke is this moment's.
        if (this.answer?.marking !== now) this.ask();
        await this.#running;
        if (this.answer?.marking !== now && now === this.#steps[id]?.now)
          throw new Error(this.problem ?? 'The marks could not be saved. They are kept here; try again.');
        const others = this.saved.filter((entry) => entry.id !== id);
        const ready = await marks().ready(picture, id, others);
        const { photo } = this;
        // A stroke that came meanwhile belongs to the same edit.
        if (now !== this.#steps[id]?.now) continue;
        if (!ready || !photo) throw new Error('The marks could not be saved. They are kept here; try again.');
        if ((ready.mask?.code.length ?? 0) > LONGEST_CODE)
          throw new Error(`What is marked on ${name} is too ragged to be kept. Take some of it away.`);
        this.#write(photo, surface, ready);
      } catch (error) {
        this.#fail(error);
        return false;
      }
      const { [id]: _kept, ...rest } = this.#steps;
      this.#steps = rest;
      this.#remember();
    }
    return true;
  }

  #write(photo: Photo, { id }: Surface, ready: Awaited<ReturnType<Remote<Marks>['ready']>>): void {
    if (!ready) return;
    const name = this.nameOf(id);
    const at = ['photos', photo.id, 'masks'];
    const plane = photo.masks?.[id]?.plane ?? null;
    const mask = ready.mask && { id, fileId: photo.fileId, mask: ready.mask, plane };
    const given = ready.others.map((other) =>
      other.mask
        ? ([[...at, other.id, 'mask'], other.mask] as const)
        : ([[...at, other.id], undefined] as const),
    );
    if (!mask) {
      if (photo.masks?.[id]) this.#studio.set(`clear ${name} in ${photo.name}`, [[[...at, id], undefined]]);
      this.#prefix = `${name} saved`;
      return;
    }
    const own = photo.masks ? ([[...at, id], mask] as const) : ([at, { [id]: mask }] as const);
    this.#studio.set(`mark ${name} in ${photo.name}`, [own, ...given] as [string[], unknown][]);
    const lost = ready.others.map((other) => this.nameOf(other.id));
    // Said together with what the next selection finds, which follows at once.
    this.#prefix = `${name} saved`;
    if (lost.length > 0) this.#suffix = `${lost.join(' and ')} gave way where the two lay over each other.`;
  }

  /** Masks of another picture of the same view, at this picture's size; null where one does not fit. */
  scaled(entries: readonly SurfaceMask[]): Promise<(SurfaceMask['mask'] | null)[]> {
    const { width, height } = this.photo ?? { width: 1, height: 1 };
    return marks().scaled(
      entries.map(({ mask }) => mask),
      width,
      height,
    );
  }

  get #key(): string {
    return `brushout marks ${this.#studio.jobId} ${this.#photoId}`;
  }

  #remember(): void {
    const { photo } = this;
    if (!photo) return;
    const now = Object.fromEntries(Object.entries(this.#steps).map(([id, steps]) => [id, steps.now]));
    const text = writeMarkings(photo.fileId, now);
    try {
      if (text === null) localStorage.removeItem(this.#key);
      else localStorage.setItem(this.#key, text);
    } catch {
      // The browser's store is full or shut: the strokes are then kept by this page alone.
    }
  }
}
