import fs from 'node:fs/promises';
import path from 'node:path';
import type { Readable } from 'node:stream';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** What is kept of a picture: only these, made by us; the bytes that were uploaded are gone. */
export const RENDITIONS = {
  'working.png': 'image/png',
  'view.webp': 'image/webp',
  'thumb.webp': 'image/webp',
} as const;
export type Rendition = keyof typeof RENDITIONS;

/** A picture as taken in. */
export interface Picture {
  /** Size of the working image, px. */
  width: number;
  height: number;
  /** Space of the working image's device values, primaries and transfer curve, as the colour area defines it. */
  space: 'srgb' | 'display-p3' | 'rec2020';
  /** Size as uploaded, upright, px. */
  originalWidth: number;
  originalHeight: number;
  /** What a person should know about how it was read, as sentences. */
  notes: string[];
}

/**
 * Keeps the renditions that lie in a folder as a file of a job. They are written under a temporary key, moved to their
 * place and made durable before the row that names them is written.
 */
export async function keep(
  store: Store,
  id: string,
  file: { jobId: string; name: string; bytes: number; picture: Picture; folder: string },
): Promise<void> {
  try {
    for (const rendition of Object.keys(RENDITIONS)) {
      const temporary = `${id}/.${rendition}.part`;
      const bytes = await fs.readFile(path.join(file.folder, rendition));
      await store.disk.put(temporary, bytes);
      await store.disk.move(temporary, `${id}/${rendition}`);
      await flush(path.join(store.folder, 'files', id, rendition));
    }
    await flush(path.join(store.folder, 'files', id));
    await flush(path.join(store.folder, 'files'));
    const { picture } = file;
    await store.db
      .insertInto('files')
      .values({
        id,
        job_id: file.jobId,
        name: file.name,
        state: 'ready',
        width: picture.width,
        height: picture.height,
        space: picture.space,
        original_width: picture.originalWidth,
        original_height: picture.originalHeight,
        original_bytes: file.bytes,
        notes: JSON.stringify(picture.notes),
        created_at: Date.now(),
      })
      .execute();
  } catch (error) {
    await store.disk.deleteAll(id);
    throw error;
  }
}

/** Waits until a file, or the entries of a folder, are on the disk and not only in the system's memory. */
async function flush(file: string): Promise<void> {
  if (process.platform === 'win32') return;
  const handle = await fs.open(file, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/**
 * A rendition of a file.
 * @throws Refusal 404 where there is none.
 */
export async function open(
  store: Store,
  id: string,
  rendition: string,
): Promise<{ stream: Readable; bytes: number; type: string }> {
  const missing = new Refusal(404, 'There is no such picture.');
  if (!/^[\w-]{22}$/.test(id) || !Object.hasOwn(RENDITIONS, rendition)) throw missing;
  const row = await store.db.selectFrom('files').select('id').where('id', '=', id).executeTakeFirst();
  if (!row) throw missing;
  const key = `${id}/${rendition}`;
  const { contentLength } = await store.disk.getMetaData(key);
  return {
    stream: await store.disk.getStream(key),
    bytes: contentLength,
    type: RENDITIONS[rendition as Rendition],
  };
}
