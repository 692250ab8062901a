import { createContext } from 'svelte';
import type { BoardAnswer, BoardContent, BoardQuestion, Id } from '#lib/job/index.ts';
import type { SentPicture } from './board-pictures.ts';

/** What the server says of a round, of its links and of the answers to it. Times are epoch milliseconds. */
export interface Round {
  readonly id: Id;
  readonly round: number;
  readonly title: string;
  /** SHA-256 of what is shown, hexadecimal. */
  readonly hash: string;
  readonly createdAt: number;
  readonly questions: readonly BoardQuestion[];
  readonly links: readonly RoundLink[];
  /** Oldest first. */
  readonly answers: readonly GivenAnswer[];
}

export interface RoundLink {
  readonly id: Id;
  /** Whom it is for. */
  readonly label: string;
  readonly createdAt: number;
  readonly expiresAt: number | null;
  readonly revokedAt: number | null;
  readonly passphrase: boolean;
  /** Where the server knows when it was last opened. */
  readonly lastSeenAt?: number | null;
}

/** A link as it is made. */
export interface MadeLink extends RoundLink {
  readonly path: string;
  /** The whole address that others can follow; null where only this computer can. */
  readonly address?: string | null;
}

export interface GivenAnswer {
  readonly id: Id;
  readonly number: number;
  readonly boardId: Id;
  readonly round: number;
  /** Null where it was pasted. */
  readonly linkId: Id | null;
  readonly answer: BoardAnswer;
  readonly hash: string;
  readonly receivedAt: number;
  readonly seenAt: number | null;
}

/** A round with all that it shows, and whether it still is what was frozen. */
export interface WholeRound {
  readonly id: Id;
  readonly round: number;
  readonly hash: string;
  readonly content: BoardContent;
  readonly intact: boolean;
}

export interface LinkWishes {
  readonly label: string;
  readonly expiresAt: number | null;
  readonly passphrase: string | null;
}

const NO_ANSWER = 'The studio does not answer. Is it still running?';

/**
 * The rounds of a job as the server has them, and what is done with them. New answers come by themselves while the page is in
 * sight; out of sight the line is closed, since a browser opens only six to one studio.
 */
export class BoardRounds {
  /** Latest first; null until they are known. */
  rounds = $state.raw<readonly Round[] | null>(null);
  problem = $state<string | null>(null);
  readonly unread: number = $derived(this.answers.filter(({ seenAt }) => seenAt === null).length);

  readonly #jobId: Id;
  readonly #whole = new Map<Id, Promise<WholeRound>>();
  #events: EventSource | null = null;

  constructor(jobId: Id) {
    this.#jobId = jobId;
  }

  /** All answers, newest first. */
  get answers(): GivenAnswer[] {
    const found = (this.rounds ?? []).flatMap(({ answers }) => answers);
    return found.toSorted((a, b) => b.number - a.number);
  }

  /** The last round; null before there is one. */
  get last(): Round | null {
    return this.rounds?.[0] ?? null;
  }

  /** Keeps up with the server. Call once, in the browser; gives what ends it. */
  open(): () => void {
    const look = () => {
      if (document.visibilityState === 'visible') this.#listen();
      else this.#hangUp();
    };
    look();
    document.addEventListener('visibilitychange', look);
    return () => {
      document.removeEventListener('visibilitychange', look);
      this.#hangUp();
    };
  }

  #listen(): void {
    if (this.#events) return;
    const events = new EventSource(`${this.#base}/events`);
    this.#events = events;
    // What came while nobody listened is in the list; what comes from now on is told.
    events.addEventListener('ready', () => void this.load());
    events.addEventListener('answer', () => void this.load());
    events.addEventListener('gone', () => this.#hangUp());
  }

  #hangUp(): void {
    this.#events?.close();
    this.#events = null;
  }

  get #base(): string {
    return `/api/jobs/${this.#jobId}/boards`;
  }

  /** Where a round's page, file, paper and pictures are. */
  at(roundId: Id): string {
    return `${this.#base}/${roundId}`;
  }

  async load(): Promise<void> {
    try {
      this.rounds = (await asked(this.#base)) as Round[];
      this.problem = null;
    } catch (error) {
      this.problem = sentence(error);
    }
  }

  /** A round with its content; it never changes, so it is asked for once. */
  whole(roundId: Id): Promise<WholeRound> {
    let found = this.#whole.get(roundId);
    if (!found) {
      found = asked(this.at(roundId)) as Promise<WholeRound>;
      found.catch(() => this.#whole.delete(roundId));
      this.#whole.set(roundId, found);
    }
    return found;
  }

  /** Lets the server make the page that the client would see. @throws Error in words. */
  async preview(
    content: BoardContent,
    pictures: readonly SentPicture[],
    sending: (share: number) => void,
  ): Promise<{ path: string; hash: string }> {
    const answer = await sent(`${this.#base}/drafts`, formOf(content, pictures), sending);
    return answer as { path: string; hash: string };
  }

  /**
   * Freezes a round; once this comes back it is on the server's disk. Gives null where nothing was different from the round
   * before, which then stays the last. @throws Error in words; what was sent can be sent again.
   */
  async freeze(
    content: BoardContent,
    pictures: readonly SentPicture[],
    sending: (share: number) => void,
  ): Promise<Round | null> {
    const before = this.last?.id ?? null;
    const made = (await sent(this.#base, formOf(content, pictures), sending)) as Round;
    await this.load();
    return made.id === before ? null : made;
  }

  /** Makes a link; where it leads is given here and never again. @throws Error in words. */
  async link(roundId: Id, wishes: LinkWishes): Promise<MadeLink> {
    const made = await asked(`${this.at(roundId)}/links`, { method: 'POST', body: wishes });
    await this.load();
    return made as MadeLink;
  }

  async revoke(linkId: Id): Promise<void> {
    await asked(`${this.#base}/links/${linkId}`, { method: 'DELETE' });
    await this.load();
  }

  /** Takes the text of an answer that came some other way. @throws Error in words: which item, and what to do. */
  async paste(roundId: Id, text: string): Promise<GivenAnswer> {
    const kept = (await asked(`${this.at(roundId)}/answers`, {
      method: 'POST',
      body: { text },
    })) as GivenAnswer;
    await this.load();
    return kept;
  }

  /** Marks answers as read. */
  async read(ids: readonly Id[]): Promise<void> {
    await asked(`${this.#base}/seen`, { method: 'POST', body: { answers: ids } });
    await this.load();
  }
}

/** The rounds of the open job for every component below the shell. */
export const [getRounds, setRounds] = createContext<BoardRounds>();

function formOf(content: BoardContent, pictures: readonly SentPicture[]): FormData {
  const form = new FormData();
  form.append('content', JSON.stringify(content));
  for (const { id, blob } of pictures) form.append('picture', blob, id);
  return form;
}

async function asked(
  path: string,
  { method = 'GET', body }: { method?: string; body?: unknown } = {},
): Promise<unknown> {
  let response: Response;
  try {
    response = await fetch(path, {
      method,
      ...(body !== undefined && {
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify(body),
      }),
    });
  } catch {
    throw new Error(NO_ANSWER);
  }
  const answer: unknown = await response.json().catch(() => null);
  if (!response.ok) throw new Error(refusalIn(answer, response.status));
  return answer;
}

/** Sends a form and tells how far it is, 0-1, which `fetch` does not. */
function sent(path: string, form: FormData, sending: (share: number) => void): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.upload.onprogress = ({ lengthComputable, loaded, total }) =>
      sending(lengthComputable ? loaded / total : 0.5);
    request.onload = () => {
      let answer: unknown = null;
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        // What is no JSON says nothing: the status has to do.
      }
      if (request.status < 400 && answer !== null) resolve(answer);
      else reject(new Error(refusalIn(answer, request.status)));
    };
    request.onerror = () => reject(new Error(NO_ANSWER));
    request.open('POST', path);
    request.send(form);
  });
}

function refusalIn(answer: unknown, status: number): string {
  const { error, message } = (answer ?? {}) as { error?: string; message?: string };
  return error ?? message ?? `The studio answered ${status}.`;
}

export function sentence(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
