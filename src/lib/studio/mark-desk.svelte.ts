import { wrap, type Remote } from 'comlink';
import { tick } from 'svelte';
import { inOrder, photoNames, type Id, type Photo, type Surface, type SurfaceMask } from '#lib/job/index.ts';
import { capital } from './light-words.ts';
import type { Answer, MarkedPicture, Marks, ShownMarks } from './mark.worker.ts';
import {
  cleared,
  holds,
  isByHand,
  isChanged,
  NO_STEPS,
  readMarkings,
  shareWords,
  stepBack,
  stepForth,
  stepped,
  stepsSince,
  stepsTo,
  stepWords,
  withStroke,
  writeMarkings,
  type AnyStroke,
  type Marking,
  type MarkingSteps,
} from './marking.ts';
import { roomPhotos } from './see.ts';
import type { Studio } from './studio.svelte.ts';

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

const wordsOf = (error: unknown) => (error instanceof Error ? error.message : String(error));

/** How the marks of a surface in this photo stand. */
export type MarksState = 'none' | 'unsaved' | 'saved' | 'of another picture' | 'damaged';

/**
 * Marking the surfaces of one photo: which surface is picked, the strokes on it, what the worker makes of them, and when
 * that enters the job.
 *
 * A mask is 20-40 kB of text and stays in the history of edits, so that not every stroke is an edit: strokes become one
 * with “Done”, when another surface is picked, and when the page is left. Until then they lie in this browser's store,
 * where a reload, a crash or a closed tab finds them again; strokes are some hundred bytes and select the same again.
 *
 * Saving takes a moment. What is saved is the surface as it stood when that was asked for: another one is picked at once,
 * and whatever the hand does from then on is that one's.
 */
export class MarkDesk {
  readonly #studio: Studio;
  readonly #photoId: Id;
  surfaceId = $state<Id | null>(null);
  answer = $state.raw<(Answer & { readonly id: Id; readonly marking: Marking }) | null>(null);
  /** Whether the picture is made ready; before that a stroke waits. */
  ready = $state(false);
  busy = $state(false);
  /** The save under way, true once it is in the job; null where none is. */
  saving: Promise<boolean> | null = null;
  /** For the live region: what was done last and what is marked now. */
  said = $state('');
  #steps = $state.raw<Record<Id, MarkingSteps>>({});
  #shown = $state.raw<Record<Id, { code: string; look: ShownMarks | string }>>({});
  #failed = $state<string | null>(null);
  /** Why the marks of a surface could not be saved: told until they change or are saved. */
  #refused = $state.raw<{ id: Id; words: string } | null>(null);
  /** Whether what an earlier visit left is taken up; who picks a surface before that is asked to wait. */
  #opened = false;
  #picked: Id | null = null;
  /** Selecting and saving, one after the other: the worker saves what it selected last. */
  #line: Promise<unknown> = Promise.resolve();
  #asked = false;
  #selected: Marking | null = null;
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

  /** A photo's name, told apart from others of the same name. */
  photoName(id: Id): string {
    const { job } = this.#studio;
    return photoNames(roomPhotos(job))[id] ?? job.photos[id]?.name ?? '';
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

  get problem(): string | null {
    return this.#refused?.words ?? this.#failed;
  }

  look(id: Id): ShownMarks | null {
    // One that was left is shown as it was until it is saved.
    const isShown = id === this.surfaceId || isChanged((this.#steps[id] ?? NO_STEPS).now);
    if (this.answer?.id === id && isShown) return this.answer;
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
    const asked = [this.#picked, Object.keys(this.#steps)[0], wanted].find((id) =>
      this.surfaces.some((s) => s.id === id),
    );
    this.#opened = true;
    this.surfaceId =
      asked ?? (this.surfaces.find(({ id }) => !photo.masks?.[id]) ?? this.surfaces[0])?.id ?? null;
    try {
      await marks().open(picture);
      this.ready = true;
      this.#failed = null;
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

  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#line.then(work);
    this.#line = turn.catch(() => null);
    return turn;
  }

  /** Selects anew for the marking as it stands. One selection is under way; of what comes meanwhile the latest is next. */
  ask(): void {
    if (this.#asked) return;
    this.#asked = true;
    this.busy = true;
    void this.#inTurn(async () => {
      this.#asked = false;
      await this.#show().catch((error: unknown) => this.#fail(error));
      this.busy = this.#asked;
    });
  }

  async #show(): Promise<void> {
    const { surfaceId: id } = this;
    const { now: marking } = this.steps;
    const picture = this.#picture;
    if (!id || !picture) return;
    const answer = await this.#select(id, marking, picture);
    if (id !== this.surfaceId) {
      answer.veil?.close();
      return;
    }
    this.answer?.veil?.close();
    this.answer = { ...answer, id, marking };
    this.#failed = null;
    const name = this.nameOf(id);
    const found =
      answer.share > 0 ? `${shareWords(answer.share)} of the picture marked.` : 'nothing marked yet.';
    // Saved and gone on with: one sentence about one surface.
    const [before, after] = [this.#prefix, this.#suffix];
    const lead = before === `${name} saved` ? before : before ? `${before}. ${name}` : name;
    this.said = [`${lead}: ${found}`, after, ...answer.notes].filter(Boolean).join(' ');
    this.#prefix = '';
    this.#suffix = '';
  }

  /** What a marking selects, on the marks that are saved at this moment. */
  async #select(id: Id, marking: Marking, picture: MarkedPicture): Promise<Answer> {
    const own = this.saved.find((entry) => entry.id === id)?.mask ?? null;
    const others = this.saved.filter((entry) => entry.id !== id);
    this.#selected = null;
    const answer = await marks().select(picture, { id, marking, saved: own, others });
    this.#selected = marking;
    return answer;
  }

  #fail(error: unknown): void {
    this.#failed = wordsOf(error);
  }

  #change(steps: MarkingSteps): void {
    const id = this.surfaceId;
    if (!id || steps === this.steps) return;
    if (this.#refused?.id === id) this.#refused = null;
    this.#steps = { ...this.#steps, [id]: steps };
    this.#remember();
  }

  /** `blank`: the picture is the same all over, so that “Take away” takes as much as “Add” gives. */
  draw(stroke: AnyStroke, blank = false): void {
    if (blank && stroke.mode === 'remove' && !isByHand(stroke)) this.#takeAll();
    else this.#change(withStroke(this.steps, stroke));
  }

  clear(): void {
    this.#prefix = 'Cleared';
    this.#change(cleared(this.steps));
  }

  #takeAll(): void {
    this.#prefix = 'The picture shows no edge, so all of it is taken away';
    const { kept, strokes } = this.steps.now;
    if (strokes.length > 0 || (kept && this.saved.some(({ id }) => id === this.surfaceId)))
      this.#change(cleared(this.steps));
    else this.ask();
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

  pick(id: Id): void {
    if (!this.#opened) this.#picked = id;
    if (!this.#opened || id === this.surfaceId) return;
    // What cannot be saved stays with its surface, and is told.
    void this.keep();
    this.surfaceId = id;
  }

  /** Puts the marks of the picked surface into the job as one edit; false where that failed, and why is told. */
  keep(): Promise<boolean> {
    const { surface } = this;
    const { now } = this.steps;
    // Of surfaces that were left, the saves may be under way still.
    if (!surface || !isChanged(now)) return (this.saving ?? Promise.resolve()).then(() => true);
    const saving = this.#inTurn(() => this.#keep(surface, now)).finally(() => {
      if (this.saving === saving) this.saving = null;
    });
    underWay = this.saving = saving;
    return this.#studio.expect(saving);
  }

  /** Saves a surface as it stood when that was asked for; what was undone since is not brought back. */
  async #keep(surface: Surface, asked: Marking): Promise<boolean> {
    const { id } = surface;
    try {
      for (;;) {
        const steps = this.#steps[id] ?? NO_STEPS;
        const marking = holds(steps, asked) ? asked : steps.now;
        const picture = this.#picture;
        if (!picture || !isChanged(marking) || !this.surfaces.some((known) => known.id === id)) return true;
        if (this.#selected !== marking) (await this.#select(id, marking, picture)).veil?.close();
        const others = this.saved.filter((entry) => entry.id !== id);
        const ready = await marks().ready(picture, id, others);
        const { photo } = this;
        const since = this.#steps[id] ?? NO_STEPS;
        if (!holds(since, marking)) continue;
        if (!ready || !photo) {
          this.#selected = null;
          throw new Error(
            `The marks of ${this.nameOf(id)} could not be saved. They are kept here; try again.`,
          );
        }
        if ((ready.mask?.code.length ?? 0) > LONGEST_CODE)
          throw new Error(
            `What is marked on ${this.nameOf(id)} is too ragged to be kept. Take some of it away.`,
          );
        this.#write(photo, surface, ready);
        const { [id]: _kept, ...rest } = this.#steps;
        const left = stepsSince(since, marking);
        this.#steps = left === NO_STEPS ? rest : { ...rest, [id]: left };
        if (this.#refused?.id === id) this.#refused = null;
        this.#remember();
        // The page asks for what is shown now: one question, not two.
        await tick();
        return true;
      }
    } catch (error) {
      this.#refused = { id, words: wordsOf(error) };
      return false;
    }
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
