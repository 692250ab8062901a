/** What the server says of a file it has taken in. */
export interface TakenIn {
  fileId: string;
  width: number;
  height: number;
  space: 'srgb' | 'display-p3' | 'rec2020';
  notes: string[];
}

/** Pictures that are taken in, for the browser's file dialogue. */
export const PICTURE_TYPES =
  'image/jpeg,image/png,image/webp,image/avif,image/tiff,image/heic,image/heif,.heic,.heif,.tif,.tiff';

/** Larger files are refused before a byte is sent; the server holds the same limit. */
const LARGEST_BYTES = 60e6;

/** One file on its way in: how far it is, how it ended, and a way to stop it. */
export class Upload {
  readonly name: string;
  share = $state(0);
  words = $state('waiting');
  state = $state<'under way' | 'done' | 'refused' | 'cancelled'>('under way');

  #request = new XMLHttpRequest();
  #jobId: string;
  #file: File;

  constructor(jobId: string, file: File) {
    this.#jobId = jobId;
    this.#file = file;
    this.name = file.name;
  }

  /** Sends the file; null when it was refused or cancelled (then `words` says why). */
  send(): Promise<TakenIn | null> {
    if (this.#file.size > LARGEST_BYTES) {
      return Promise.resolve(
        this.#refuse(`This file has ${Math.round(this.#file.size / 1e6)} MB; up to 60 MB are taken.`),
      );
    }
    if (this.state === 'cancelled') return Promise.resolve(null);
    const request = this.#request;
    return new Promise((resolve) => {
      let read = 0;
      let taken: TakenIn | null = null;
      const readLines = () => {
        const end = request.responseText.lastIndexOf('\n') + 1;
        for (const line of request.responseText.slice(read, end).split('\n')) {
          if (line.trim()) taken = this.#hear(parsed(line)) ?? taken;
        }
        read = end;
      };
      request.upload.onprogress = (event) => {
        this.words = 'sending';
        this.share = 0.5 * (event.lengthComputable ? event.loaded / event.total : 0.5);
      };
      request.onprogress = readLines;
      request.onload = () => {
        if (request.status >= 400) {
          this.#refuse(
            errorIn(request.responseText) ?? `The studio answered ${request.status}. Nothing was stored.`,
          );
        } else readLines();
        if (this.state === 'under way' && !taken)
          this.#refuse('The answer broke off. Nothing was stored; send it again.');
        resolve(this.state === 'done' ? taken : null);
      };
      request.onerror = () => resolve(this.#refuse('The studio does not answer. Is it still running?'));
      request.onabort = () => resolve(null);
      request.open('POST', `/api/jobs/${this.#jobId}/files?name=${encodeURIComponent(this.name)}`);
      request.setRequestHeader('content-type', 'application/octet-stream');
      request.send(this.#file);
    });
  }

  cancel(): void {
    if (this.state !== 'under way') return;
    this.state = 'cancelled';
    this.words = 'cancelled, nothing was stored';
    this.#request.abort();
  }

  #hear(line: Line): TakenIn | null {
    if (line.error) this.#refuse(line.error);
    if (line.stage) {
      this.words = line.stage;
      this.share = Math.max(this.share, 0.5 + 0.5 * (line.share ?? 0));
    }
    if (!line.done) return null;
    this.state = 'done';
    this.share = 1;
    this.words = line.done.notes.join(' ') || 'taken in';
    return line.done;
  }

  #refuse(words: string): null {
    this.state = 'refused';
    this.words = words;
    return null;
  }
}

interface Line {
  stage?: string;
  share?: number;
  done?: TakenIn;
  error?: string;
}

/** A line of the answer; one that cannot be read ends the upload like a refusal. */
function parsed(line: string): Line {
  try {
    return JSON.parse(line) as Line;
  } catch {
    return { error: 'The answer could not be read. Nothing was stored; send it again.' };
  }
}

function errorIn(text: string): string | null {
  try {
    const value = JSON.parse(text.split('\n')[0]) as { error?: string; message?: string };
    return value.error ?? value.message ?? null;
  } catch {
    return null;
  }
}
