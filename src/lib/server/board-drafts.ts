/** Drafts to look at before they are frozen: kept for half an hour with what is on its way in, and then gone. */
import fs from 'node:fs/promises';
import path from 'node:path';
import { canonicalText, type BoardContent } from '#lib/job/index.ts';
import { PICTURE_TYPES, kindOf } from './board-pictures.ts';
import { newsOf, nextRound, type RoundNews, type SentRound } from './boards.ts';
import { newId } from './jobs.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

const KEPT_FOR = 30 * 60_000;
const MOST_DRAFTS = 6;
const CONTENT = 'draft.json';

export interface Draft {
  content: BoardContent;
  hash: string;
  /** The number it would get. */
  round: number;
  news: RoundNews | null;
}

/** Keeps a draft for a while and gives its id. */
export async function keep(store: Store, jobId: string, { content, hash, sent }: SentRound): Promise<string> {
  const { db } = store;
  const news = await newsOf(db, jobId, content);
  const draft: Draft = { content, hash, round: await nextRound(db, jobId), news };
  await clear(store, Date.now());
  const id = `${process.pid}-${newId()}`;
  const folder = path.join(store.incoming, id);
  await fs.mkdir(folder, { mode: 0o700 });
  for (const [name, bytes] of sent) await fs.writeFile(path.join(folder, `${name}.picture`), bytes);
  await fs.writeFile(path.join(folder, CONTENT), canonicalText(draft));
  return id;
}

/** @throws Refusal 404 where it is gone. */
export async function load(store: Store, id: string): Promise<Draft> {
  return JSON.parse((await read(store, id, CONTENT)).toString('utf8')) as Draft;
}

/** A picture of a draft as it was sent. @throws Refusal 404 where there is none. */
export async function picture(
  store: Store,
  id: string,
  pictureId: string,
): Promise<{ bytes: Buffer; type: string }> {
  if (!/^[\w-]{1,40}$/.test(pictureId)) throw gone();
  const bytes = await read(store, id, `${pictureId}.picture`);
  const kind = kindOf(bytes);
  return { bytes, type: kind === 'png' ? 'image/png' : PICTURE_TYPES[kind ?? 'jpeg'] };
}

async function read(store: Store, id: string, name: string): Promise<Buffer> {
  if (!/^\d{1,10}-[\w-]{22}$/.test(id)) throw gone();
  const folder = path.join(store.incoming, id);
  const age = await ageOf(folder, Date.now());
  if (age === null || age > KEPT_FOR) throw gone();
  return await fs.readFile(path.join(folder, name)).catch(() => {
    throw gone();
  });
}

const gone = () => new Refusal(404, 'This draft is no longer kept; make the preview again.');

/** Removes drafts that are too old or too many. */
async function clear(store: Store, now: number): Promise<void> {
  const drafts: { folder: string; age: number }[] = [];
  for (const id of await fs.readdir(store.incoming)) {
    const folder = path.join(store.incoming, id);
    const age = await ageOf(folder, now);
    if (age !== null) drafts.push({ folder, age });
  }
  drafts.sort((a, b) => a.age - b.age);
  for (const [i, { folder, age }] of drafts.entries())
    if (i >= MOST_DRAFTS - 1 || age > KEPT_FOR) await fs.rm(folder, { recursive: true, force: true });
}

/** Age of a draft that is whole, ms; null for anything else that is on its way in. */
async function ageOf(folder: string, now: number): Promise<number | null> {
  const stat = await fs.stat(path.join(folder, CONTENT)).catch(() => null);
  return stat && now - stat.mtimeMs;
}
