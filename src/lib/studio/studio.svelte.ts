import {
  applyEdit,
  collisions,
  EMPTY_HISTORY,
  recorded,
  redone,
  setting,
  undone,
  type Edit,
  type History,
  type Id,
  type Job,
} from '#lib/job/index.ts';

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

interface Pending {
  seq: number;
  edit: Edit;
}

/** A retry waits a little longer each time, up to this many milliseconds. */
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

/**
 * The open job: its document, undo, saving and the light everything is looked at under. Components show it and call its
 * methods; nothing else changes it. An edit shows at once and is kept in this browser until the server has it on disk.
 */
export class Studio {
  readonly jobId: Id;
  job = $state.raw<Job>() as Job;
  history = $state.raw<History>(EMPTY_HISTORY);
  saving = $state<'saved' | 'saving' | 'waiting'>('saved');
  /** What the user has to know: a collision, a lost connection. */
  notice = $state<string | null>(null);
  #lightId = $state<Id | null>(null);

  #version: number;
  #pending: Pending[] = [];
  /** What was last sent and not yet answered: a retry sends exactly this, so that the server can recognise it. */
  #batch: Pending[] | null = null;
  #clientId = newId();
  #seq = 0;
  #flushing: Promise<void> | null = null;
  #tabs: BroadcastChannel | null = null;
  #wait = 500;
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
    this.#lightId = sessionStorage.getItem(`brushout light ${this.jobId}`);
    this.#resumeUnsent();
    return () => {
      this.#closed = true;
      this.#tabs?.close();
      this.#tabs = null;
      document.removeEventListener('visibilitychange', look);
      window.removeEventListener('online', look);
    };
  }

  /** Light the page is shown under: an id of the job's lights, or null for daylight D65 as measured. Kept in this tab. */
  get lightId(): Id | null {
    return this.#lightId !== null && this.job.lights[this.#lightId] ? this.#lightId : null;
  }

  set lightId(id: Id | null) {
    this.#lightId = id;
    if (id === null) sessionStorage.removeItem(`brushout light ${this.jobId}`);
    else sessionStorage.setItem(`brushout light ${this.jobId}`, id);
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

  undo(): void {
    this.#step(undone(this.history));
  }

  redo(): void {
    this.#step(redone(this.history));
  }

  #step(step: { edit: Edit; history: History } | null): void {
    if (!step) return;
    const met = collisions(this.job, step.edit);
    if (met.length > 0) {
      this.notice = `This step cannot be taken back: ${met[0]}.`;
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
    if (this.#flushing) {
      await this.#flushing;
      if (ask || this.#pending.length > 0) return this.#flush(ask);
      return;
    }
    if (!ask && this.#pending.length === 0) return;
    this.#flushing = this.#send().finally(() => (this.#flushing = null));
    await this.#flushing;
    if (this.#pending.length > 0 && this.saving !== 'waiting') await this.#flush(false);
  }

  async #send(): Promise<void> {
    const batch = (this.#batch ??= this.#pending.slice(0, LARGEST_BATCH));
    if (batch.length > 0) this.saving = 'saving';
    let response: Response;
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
    } catch {
      this.#retryLater();
      return;
    }
    if (response.status >= 500) {
      this.#retryLater();
      return;
    }
    this.#batch = null;
    if (response.status === 409) {
      this.#collide(await response.json());
    } else if (response.ok) {
      const answer = (await response.json()) as EditAnswer;
      this.#pending.splice(0, batch.length);
      this.#merge(answer, batch.length > 0);
    } else {
      const { message, error } = await response.json().catch(() => ({}) as Record<string, string>);
      this.#pending.splice(0, batch.length);
      this.#keepUnsent();
      this.notice = `The last change could not be saved: ${error ?? message ?? response.statusText}. The job is shown as it was last saved.`;
      await this.#reload();
    }
  }

  /** Takes in what others did since our version; our own unsent edits come again on top. */
  #merge(answer: EditAnswer, sent: boolean): void {
    this.#version = answer.version;
    this.#wait = 500;
    this.saving = this.#pending.length > 0 ? 'saving' : 'saved';
    if (answer.edits.length > 0) void this.#reload();
    this.#keepUnsent();
    if (sent) this.#tabs?.postMessage(this.#version);
  }

  async #reload(): Promise<void> {
    const response = await fetch(`/api/jobs/${this.jobId}`);
    if (!response.ok) return;
    const loaded = (await response.json()) as LoadedJob;
    this.#version = loaded.version;
    this.#rebase(loaded.job);
    if (this.#pending.length === 0) this.saving = 'saved';
  }

  #collide(answer: { job: Job; version: number; collisions: string[] }): void {
    this.#version = answer.version;
    const lost = this.#rebase(answer.job);
    const where = (lost.length > 0 ? lost : answer.collisions).slice(0, 3).join('; ');
    this.notice = `Someone else, or another tab, got there first: ${where}. Their version is shown; your other changes are kept.`;
    this.saving = this.#pending.length > 0 ? 'saving' : 'saved';
  }

  /** Puts our unsent edits on top of a newer document; gives the words for those that no longer fit. */
  #rebase(job: Job): string[] {
    const lost: string[] = [];
    this.#pending = this.#pending.filter(({ edit }) => {
      const met = collisions(job, edit);
      lost.push(...met);
      if (met.length > 0) return false;
      job = applyEdit(job, edit);
      return true;
    });
    this.job = job;
    this.#keepUnsent();
    return lost;
  }

  #retryLater(): void {
    this.saving = 'waiting';
    setTimeout(() => {
      if (this.#closed) return;
      if (this.#pending.length === 0) {
        this.saving = 'saved';
        return;
      }
      this.saving = 'saving';
      void this.#flush(false);
    }, this.#wait);
    this.#wait = Math.min(LONGEST_WAIT, this.#wait * 2);
  }

  get #unsentKey(): string {
    return `brushout unsent ${this.jobId}`;
  }

  #keepUnsent(): void {
    const key = `${this.#unsentKey} ${this.#clientId}`;
    if (this.#pending.length === 0) localStorage.removeItem(key);
    else localStorage.setItem(key, JSON.stringify(this.#pending));
  }

  #resumeUnsent(): void {
    const keys = Object.keys(localStorage).filter((key) => key.startsWith(this.#unsentKey));
    for (const key of keys) {
      const pending = JSON.parse(localStorage.getItem(key) ?? '[]') as Pending[];
      localStorage.removeItem(key);
      for (const { edit } of pending) {
        const met = collisions(this.job, edit);
        if (met.length > 0) this.notice = `A change from an earlier visit was not saved: ${met[0]}.`;
        else this.edit(edit);
      }
    }
  }
}
