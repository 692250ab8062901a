/**
 * Pictures in: an upload is written to the disk as it arrives, read by a process of its own, and kept as renditions made by
 * us. Whatever ends it early, be it the person, the clock or a damaged file, leaves nothing behind.
 */
import { fork, type ChildProcess } from 'node:child_process';
import fs from 'node:fs/promises';
import os from 'node:os';
import path from 'node:path';
import * as files from './files.ts';
import type { Report, Task } from './intake-process.ts';
import { expectJob, newId } from './jobs.ts';
import { sourceFolder } from './place.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

export interface Upload {
  jobId: string;
  /** File name as the person has it. */
  name: string;
  body: AsyncIterable<Uint8Array> | null;
  /** Bytes announced, where they were. */
  size: number | null;
}

export interface Progress {
  stage: 'received' | 'decoding' | 'storing';
  /** Part of the stage that is done, 0-1. */
  share: number;
}

export interface Taken extends files.Picture {
  fileId: string;
}

const MOST_BYTES = 60e6;
/** A decode that takes longer is hung or hostile; the largest honest pictures take about a tenth of this. */
const LONGEST_DECODE = 60_000;
/** Memory one decode may use; the hungriest honest picture (80 megapixels of AVIF) was measured at 1.5 GB. */
const MOST_MEMORY = 2e9;
/** Decodes at a time; the rest wait their turn, their bytes on the disk. */
const AT_ONCE = 2;

const TOO_LARGE = 'This file is larger than 60 MB; save it smaller and try again.';

/**
 * Takes a picture in and keeps it as a file of a job.
 * @throws Refusal with one sentence where it is not taken; the reason of `signal` where it was broken off.
 */
export async function takeIn(
  store: Store,
  upload: Upload,
  options: { signal: AbortSignal; onProgress: (progress: Progress) => void },
): Promise<Taken> {
  const { signal, onProgress } = options;
  await expectJob(store.db, upload.jobId);
  if (upload.size !== null && upload.size > MOST_BYTES) throw new Refusal(413, TOO_LARGE);
  const fileId = newId();
  const folder = path.join(store.incoming, `${process.pid}-${fileId}`);
  await fs.mkdir(folder, { mode: 0o700 });
  try {
    const file = path.join(folder, 'upload');
    const bytes = await receive(upload, file, options);
    onProgress({ stage: 'decoding', share: 0 });
    const task = { file, name: upload.name, folder };
    const picture = await inTurn(signal, () =>
      decode(task, signal, (share) => onProgress({ stage: 'decoding', share })),
    );
    onProgress({ stage: 'storing', share: 0 });
    signal.throwIfAborted();
    await files.keep(store, fileId, {
      jobId: upload.jobId,
      name: shortName(upload.name),
      bytes,
      picture,
      folder,
    });
    onProgress({ stage: 'storing', share: 1 });
    return { fileId, ...picture };
  } finally {
    await fs.rm(folder, { recursive: true, force: true });
  }
}

/** Writes the body to a file, no further than what is taken; gives its length. */
async function receive(
  { body, size }: Upload,
  file: string,
  { signal, onProgress }: { signal: AbortSignal; onProgress: (progress: Progress) => void },
): Promise<number> {
  const handle = await fs.open(file, 'wx', 0o600);
  let length = 0;
  let told = 0;
  try {
    const reader = (body as AsyncIterable<Uint8Array> | null)?.[Symbol.asyncIterator]();
    while (reader) {
      signal.throwIfAborted();
      const { done, value } = await reader.next();
      if (done) break;
      length += value.length;
      // The reader is left, not closed: closing it would cut the connection before the reason could be sent.
      if (length > MOST_BYTES) throw new Refusal(413, TOO_LARGE);
      await handle.writeFile(value);
      const share = size ? Math.min(1, length / size) : 0;
      if (share - told >= 0.02) onProgress({ stage: 'received', share: (told = share) });
    }
  } finally {
    await handle.close();
  }
  signal.throwIfAborted();
  if (size !== null && length < size)
    throw new Refusal(400, 'The upload broke off; please send the picture again.');
  onProgress({ stage: 'received', share: 1 });
  return length;
}

/** The file's own name without a path or control characters, at most 200 characters. */
function shortName(name: string): string {
  const plain = [...name].filter((c) => c >= ' ' && c !== '\u007f').join('');
  return (plain.split(/[/\\]/).at(-1) ?? '').slice(-200);
}

let working = 0;
const waiting: (() => void)[] = [];

/** Runs a piece of work when its turn comes; a signal takes it out of the queue. */
async function inTurn<T>(signal: AbortSignal, work: () => Promise<T>): Promise<T> {
  signal.throwIfAborted();
  if (working >= AT_ONCE) {
    await new Promise<void>((resolve, reject) => {
      waiting.push(resolve);
      signal.addEventListener('abort', () => {
        const place = waiting.indexOf(resolve);
        if (place >= 0) waiting.splice(place, 1);
        if (place >= 0) reject(signal.reason);
      });
    });
  } else {
    working += 1;
  }
  try {
    return await work();
  } finally {
    // The place passes to the next in line; nobody can slip in between.
    const next = waiting.shift();
    if (next) next();
    else working -= 1;
  }
}

const children = new Set<ChildProcess>();

/** Ends every decode in progress. */
export function stopIntake(): void {
  for (const child of children) child.kill('SIGKILL');
}

/** Reads a picture in a process of its own, which is ended when it is taken back, too slow or too large. */
async function decode(
  task: Task,
  signal: AbortSignal,
  progress: (share: number) => void,
): Promise<files.Picture> {
  signal.throwIfAborted();
  const script = path.join(sourceFolder(), 'src/lib/server/intake-process.ts');
  const strips = process.features.typescript ? [] : ['--experimental-strip-types'];
  const child = fork(script, {
    cwd: sourceFolder(),
    execArgv: ['--disable-warning=ExperimentalWarning', '--max-old-space-size=512', ...strips],
    // Nothing of this process's surroundings is told to one that reads strangers' files.
    env: { PATH: process.env.PATH, NODE_ENV: process.env.NODE_ENV, MALLOC_ARENA_MAX: '2' },
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    serialization: 'json',
  });
  children.add(child);
  let trouble = '';
  child.stderr?.on('data', (chunk) => (trouble = (trouble + chunk).slice(-8000)));
  if (child.pid) {
    try {
      os.setPriority(child.pid, 5);
    } catch {
      // A courtesy to the server's own work; not every system grants it.
    }
  }

  return await new Promise<files.Picture>((resolve, reject) => {
    let outcome: { picture: files.Picture } | { error: unknown } | null = null;
    const end = (error: unknown) => {
      outcome ??= { error };
      child.kill('SIGKILL');
    };
    const aborted = () => end(signal.reason);
    signal.addEventListener('abort', aborted);
    const clock = setTimeout(
      () => end(new Refusal(422, 'This picture takes too long to read; save it as JPEG and try again.')),
      LONGEST_DECODE,
    );
    const watch = setInterval(async () => {
      if ((await residentMemory(child.pid)) > MOST_MEMORY) {
        end(
          new Refusal(413, 'This picture needs more memory than one may use; save it smaller and try again.'),
        );
      }
    }, 200);

    child.on('message', (report: Report) => {
      if ('progress' in report) progress(report.progress);
      else if ('done' in report) outcome ??= { picture: report.done };
      else outcome ??= { error: new Refusal(report.status, report.refused) };
    });
    child.on('error', end);
    child.on('close', (code, killedBy) => {
      children.delete(child);
      clearTimeout(clock);
      clearInterval(watch);
      signal.removeEventListener('abort', aborted);
      if (outcome && 'picture' in outcome) return resolve(outcome.picture);
      if (outcome) return reject(outcome.error);
      console.error(`Intake of "${task.name}" ended with ${code ?? killedBy}.\n${trouble}`);
      reject(
        new Refusal(
          422,
          'This picture could not be read; it may be damaged. Save it again and try once more.',
        ),
      );
    });
    child.send(task);
  });
}

/** Bytes of memory a process holds, where the system tells; else 0. */
async function residentMemory(pid: number | undefined): Promise<number> {
  if (process.platform !== 'linux' || !pid) return 0;
  const text = await fs.readFile(`/proc/${pid}/statm`, 'utf8').catch(() => '');
  return Number(text.split(' ')[1] ?? 0) * 4096;
}
