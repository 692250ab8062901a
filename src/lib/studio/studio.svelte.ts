import {
  applyEdit,
  EMPTY_HISTORY,
  misfits,
  namedApart,
  recorded,
  redone,
  setting,
  undone,
  valueAt,
  type Edit,
  type History,
  type Id,
  type Job,
} from '#lib/job/index.ts';
import { viewing, viewingAt, type Viewing } from './look.ts';
import { redoOf, StepTurns, type InHand } from './step-turns.ts';

/** What the server answers to a request for a job. */
export interface LoadedJob {
  job: Job;
  version: number;
  /** Edits made so far, latest last, so that undo reaches back over a reload. */
  recent: Edit[];
}

interface EditAnswer {
  version: number;
  edits: Edit[];
}

interface Collision {
  job: Job;
  version: number;
  collisions: string[];
}

/** What the page is shown under: a named light, or an hour of a room's day. */
export type Shown = { lightId: Id } | { roomId: Id; hour: number };

interface Pending {
  seq: number;
  edit: Edit;
}

/** A retry waits a little longer each time, from and up to this many milliseconds. */
const SHORTEST_WAIT = 500;
const LONGEST_WAIT = 8000;
/** Edits sent at once; more wait their turn. */
const LARGEST_BATCH = 100;

/** An identifier for a new thing in a job: 96 random bits. */
export function newId(): Id {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return btoa(String.fromCharCode(...bytes))
    .replaceAll('+', '-')
    .replaceAll('/', '_');
}

/** What an earlier page of this tab left, or null where it cannot be read. */
function readShown(text: string | null): Shown | null {
  try {
    const kept = JSON.parse(text ?? 'null') as Partial<{ lightId: Id; roomId: Id; hour: number }> | null;
    if (typeof kept?.lightId === 'string') return { lightId: kept.lightId };
    const { roomId, hour } = kept ?? {};
    return typeof roomId === 'string' && typeof hour === 'number' && hour >= 0 && hour <= 24
      ? { roomId, hour }
      : null;
  } catch {
    return null;
  }
}

/**
 * The open job: its document, undo, saving and the light everything is looked at under. Components show it and call its
 * methods; nothing else changes it. An edit shows at once and is kept in this browser until the server has it on disk.
 */
export class Studio {
  readonly jobId: Id;
  job = $state.raw<Job>() as Job;
  /** The job under names that tell surfaces and rooms apart, for what is read; edits are made of `job`. */
  readonly named: Job = $derived(namedApart(this.job));
  history = $state.raw<History>(EMPTY_HISTORY);
  saving = $state<'saved' | 'saving' | 'waiting'>('saved');
  /** What the user has to know: a collision, a lost connection. */
  notice = $state<string | null>(null);
  /** Whether edits are on their way that undo and redo wait for. */
  coming = $state(false);
  /** Whether one of these waits. */
  waiting = $state(false);
  readonly #turns = new StepTurns((state) => Object.assign(this, state));
  #hand = $state.raw<InHand | null>(null);
  /** Steps of the job that were undone already when the hand last stepped back. */
  #beneath = $state(0);
  /** What undo and redo reach next, in words; null where there is nothing. */
  readonly undoes: string | null = $derived(this.#hand?.back ?? this.history.done.at(-1)?.label ?? null);
  readonly redoes: string | null = $derived(
    this.#redoOf === 'hand'
      ? (this.#hand?.forth ?? null)
      : this.#redoOf === 'job'
        ? (this.history.undone.at(-1)?.label ?? null)
        : null,
  );
  #shown = $state.raw<Shown | null>(null);
  /** The light that the page is shown under, ready for the screen; null for plain daylight, as measured. */
  readonly viewing: Viewing | null = $derived.by(() => {
    const { shown } = this;
    if (!shown) return null;
    if ('lightId' in shown) return viewing(this.job.lights[shown.lightId]);
    return viewingAt(this.named.rooms[shown.roomId], shown.hour);
  });

  #version: number;
  #pending: Pending[] = [];
  /** What was last sent and not yet answered: a retry sends exactly this, so that the server can recognise it. */
  #batch: Pending[] | null = null;
  #clientId = newId();
  #seq = 0;
  #flushing = false;
  /** Others may have done something since our version. */
  #asked = false;
  /** What is shown is not the server's document and ours on top: it has to be fetched whatever the answer. */
  #behind = false;
  #tabs: BroadcastChannel | null = null;
  #retry: ReturnType<typeof setTimeout> | undefined;
  #wait = SHORTEST_WAIT;
  #largest = LARGEST_BATCH;
  #closed = false;

  constructor(jobId: Id, loaded: LoadedJob) {
    this.jobId = jobId;
    this.job = loaded.job;
    this.history = { done: loaded.recent, undone: [] };
    this.#version = loaded.version;
  }

  /** Connects to the other tabs and picks up what an earlier visit could not send. Call once, in the browser. */
  open(): () => void {
    this.#tabs = new BroadcastChannel(`brushout ${this.jobId}`);
    this.#tabs.onmessage = (message: MessageEvent<number>) => {
      if (message.data > this.#version) void this.#flush(true);
    };
    const look = () => document.visibilityState === 'visible' && void this.#flush(true);
    document.addEventListener('visibilitychange', look);
    window.addEventListener('online', look);
    this.#shown = readShown(sessionStorage.getItem(`brushout light ${this.jobId}`));
    this.#resumeUnsent();
    return () => {
      this.#closed = true;
      clearTimeout(this.#retry);
      this.#tabs?.close();
      this.#tabs = null;
      document.removeEventListener('visibilitychange', look);
      window.removeEventListener('online', look);
    };
  }

  /** What the page is shown under, or null for plain daylight as measured. Kept in this tab. */
  get shown(): Shown | null {
    const shown = this.#shown;
    if (!shown) return null;
    const there = 'lightId' in shown ? this.job.lights[shown.lightId] : this.job.rooms[shown.roomId]?.day;
    return there ? shown : null;
  }

  set shown(shown: Shown | null) {
    this.#shown = shown;
    if (shown === null) sessionStorage.removeItem(`brushout light ${this.jobId}`);
    else sessionStorage.setItem(`brushout light ${this.jobId}`, JSON.stringify(shown));
  }

  /** Applies an edit, remembers it for undo, and saves it. An edit that changes nothing is dropped. */
  edit(edit: Edit): void {
    if (edit.changes.length === 0) return;
    this.history = recorded(this.history, edit);
    this.#apply(edit);
  }

  /** Sets places of the document: `studio.set('rename room', [[['rooms', id, 'name'], 'Kitchen']])`. */
  set(label: string, values: readonly (readonly [string[], unknown])[]): void {
    // A Svelte proxy must not enter the document: it is compared, sent to workers and stored.
    this.edit(setting(this.job, label, $state.snapshot(values) as typeof values));
  }

  /** Takes a name from a field. Nothing goes without a name: an emptied field shows the old one again. */
  rename(label: string, path: string[], field: HTMLInputElement): void {
    if (field.value.trim() === '') field.value = String(valueAt(this.job, path) ?? '');
    else this.set(label, [[path, field.value]]);
  }

  /** Says that an edit is on its way which takes a moment to come about: undo and redo wait for it. See `StepTurns`. */
  expect<T>(edit: Promise<T>): Promise<T> {
    this.#turns.expect(edit);
    return edit;
  }

  /** Gives undo and redo to what a page has in hand, as long as that has steps; what is returned gives them back. */
  takeInHand(hand: InHand): () => void {
    this.#hand = hand;
    return () => {
      if (this.#hand === hand) this.#hand = null;
    };
  }

  /** What a page has in hand that the job does not hold; null where nothing. */
  get inHand(): string | null {
    return this.#hand?.words ?? null;
  }

  /** Whether the next undo, the next redo, is of what is in hand. */
  get undoesHand(): boolean {
    return (this.#hand?.back ?? null) !== null;
  }

  get redoesHand(): boolean {
    return this.#redoOf === 'hand';
  }

  get #redoOf(): ReturnType<typeof redoOf> {
    return redoOf(this.#hand, { undone: this.history.undone.length, beneath: this.#beneath });
  }

  undo(): void {
    if (this.#hand && this.undoesHand) {
      this.#beneath = this.history.undone.length;
      this.#hand.stepBack();
    } else this.#turns.take(() => this.#step(undone(this.history)));
  }

  redo(): void {
    if (this.#hand && this.redoesHand) this.#hand.stepForth();
    // What is in hand is newer than any step of the job that could come again.
    else if (!this.undoesHand) this.#turns.take(() => this.#step(redone(this.history)));
  }

  #step(step: { edit: Edit; history: History } | null): void {
    if (!step) return;
    const met = misfits(this.job, step.edit);
    if (met.length > 0) {
      // A step that can never be taken must not bar the way to those before it.
      const { done, undone } = this.history;
      const isUndo = step.history.done.length < done.length;
      this.history = isUndo ? { done: step.history.done, undone } : { done, undone: step.history.undone };
      this.notice = `This step cannot be taken any more: ${met[0]}. It is passed over from now on.`;
      return;
    }
    this.history = step.history;
    this.#apply(step.edit);
  }

  #apply(edit: Edit): void {
    this.job = applyEdit(this.job, edit);
    this.#pending.push({ seq: ++this.#seq, edit });
    this.#keepUnsent();
    void this.#flush(false);
  }

  /** Sends what is pending, and with `ask` also fetches what others did. One request is under way at a time. */
  async #flush(ask: boolean): Promise<void> {
    this.#asked ||= ask;
    if (this.#flushing) return;
    this.#flushing = true;
    clearTimeout(this.#retry);
    try {
      while (this.#asked || this.#pending.length > 0) {
        this.#asked = false;
        if (!(await this.#send())) {
          this.#retryLater();
          return;
        }
        this.#wait = SHORTEST_WAIT;
      }
      this.#largest = LARGEST_BATCH;
      this.saving = 'saved';
    } finally {
      this.#flushing = false;
    }
  }

  /** One request and what follows from its answer; false when there was none. */
  async #send(): Promise<boolean> {
    const batch = (this.#batch ??= this.#pending.slice(0, this.#largest));
    if (batch.length > 0) this.saving = 'saving';
    let response: Response;
    let answer: unknown;
    try {
      response = await fetch(`/api/jobs/${this.jobId}/edits`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({
          base: this.#version,
          client: this.#clientId,
          request: batch[0]?.seq ?? 0,
          edits: batch.map((p) => p.edit),
        }),
      });
      if (response.status >= 500) return false;
      const understood = response.ok || response.status === 409;
      answer = understood ? await response.json() : await response.json().catch(() => ({}));
    } catch {
      return false;
    }
    this.#batch = null;
    if (response.status === 409) {
      const { job, version, collisions } = answer as Collision;
      this.#rebase(job, version, collisions);
      return true;
    }
    if (!response.ok && batch.length > 1) {
      // One of them is refused; sent one by one, the others are saved.
      this.#largest = 1;
      return true;
    }
    this.#pending = this.#pending.filter((p) => !batch.includes(p));
    this.#keepUnsent();
    if (response.ok) return await this.#merge(answer as EditAnswer, batch.length > 0);
    const { message, error } = answer as Record<string, string>;
    const why = (error ?? message ?? response.statusText).replace(/\.$/, '');
    this.notice =
      batch.length > 0
        ? `The last change could not be saved: ${why}. The job is shown as it was last saved.`
        : `${why}.`;
    this.#forget(batch.map((p) => p.edit));
    this.#behind = true;
    return await this.#reload();
  }

  /** Takes in what others did since our version; our own unsent edits come again on top. */
  async #merge(answer: EditAnswer, sent: boolean): Promise<boolean> {
    if (sent) this.#tabs?.postMessage(answer.version);
    // Only a document that has their edits may be called the newer version.
    if (this.#behind || answer.edits.length > 0) return await this.#reload();
    this.#version = answer.version;
    return true;
  }

  /** Fetches the document as the server has it; false when there was no answer. */
  async #reload(): Promise<boolean> {
    try {
      const response = await fetch(`/api/jobs/${this.jobId}`);
      if (response.status >= 500) return false;
      if (!response.ok) return true;
      const { job, version } = (await response.json()) as LoadedJob;
      this.#rebase(job, version, []);
      this.#behind = false;
      return true;
    } catch {
      return false;
    }
  }

  /** Puts our unsent edits on top of a newer document; gives up those that no longer fit, and says so. */
  #rebase(job: Job, version: number, met: string[]): void {
    const lost: Edit[] = [];
    const words: string[] = [];
    this.#pending = this.#pending.filter(({ edit }) => {
      const found = misfits(job, edit);
      if (found.length > 0) {
        words.push(...found);
        lost.push(edit);
        return false;
      }
      job = applyEdit(job, edit);
      return true;
    });
    this.job = job;
    this.#version = version;
    this.#forget(lost);
    this.#keepUnsent();
    const where = (words.length > 0 ? words : met).slice(0, 3).join('; ');
    if (where) {
      this.notice = `Someone else, or another tab, got there first: ${where}. Their version is shown; your other changes are kept.`;
    }
  }

  /** Edits that never came to be cannot be undone. */
  #forget(edits: readonly Edit[]): void {
    const rest = (list: readonly Edit[]) => list.filter((edit) => !edits.includes(edit));
    this.history = { done: rest(this.history.done), undone: rest(this.history.undone) };
  }

  #retryLater(): void {
    if (this.#pending.length > 0) this.saving = 'waiting';
    if (this.#closed) return;
    this.#retry = setTimeout(() => void this.#flush(true), this.#wait);
    this.#wait = Math.min(LONGEST_WAIT, this.#wait * 2);
  }

  get #unsentKey(): string {
    return `brushout unsent ${this.jobId}`;
  }

  #keepUnsent(): void {
    const key = `${this.#unsentKey} ${this.#clientId}`;
    try {
      if (this.#pending.length === 0) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(this.#pending));
    } catch {
      // The browser's store is full or shut: what is pending is then sent from memory only.
    }
  }

  #resumeUnsent(): void {
    const keys = Object.keys(localStorage).filter((key) => key.startsWith(this.#unsentKey));
    for (const key of keys) {
      const pending = JSON.parse(localStorage.getItem(key) ?? '[]') as Pending[];
      localStorage.removeItem(key);
      for (const { edit } of pending) {
        const met = misfits(this.job, edit);
        if (met.length > 0) this.notice = `A change from an earlier visit was not saved: ${met[0]}.`;
        else this.edit(edit);
      }
    }
  }
}
