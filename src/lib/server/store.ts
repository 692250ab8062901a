import fs from 'node:fs/promises';
import path from 'node:path';
import { Disk } from 'flydrive';
import { FSDriver } from 'flydrive/drivers/fs';
import { openDatabase, type Database } from './database.ts';
import { dataFolder } from './place.ts';

/** What outlives the tab: the database, the files, and a folder for uploads that are not yet whole. */
export interface Store {
  db: Database;
  disk: Disk;
  folder: string;
  /** Uploads in progress; one folder each, named after the process that works on it. */
  incoming: string;
}

/** Leftovers of a process that cannot be asked any more are removed after this time. */
const STALE_AFTER = 3600_000;
/** Files without a row are those of an intake that was cut off, unless another process is just storing them. */
const ORPHAN_AFTER = 3600_000;

let opened: Promise<Store> | null = null;

/** The store of this process, opened at the first call. */
export function store(): Promise<Store> {
  opened ??= openStore(dataFolder()).catch((error) => {
    opened = null;
    throw error;
  });
  return opened;
}

/** Opens the store of a data folder and removes what cut-off uploads left behind. */
export async function openStore(folder: string): Promise<Store> {
  const incoming = path.join(folder, 'incoming');
  await fs.mkdir(incoming, { recursive: true, mode: 0o700 });
  const files = path.join(folder, 'files');
  await fs.mkdir(files, { recursive: true, mode: 0o700 });
  const store = {
    db: await openDatabase(folder),
    disk: new Disk(new FSDriver({ location: files, visibility: 'private' })),
    folder,
    incoming,
  };
  await sweep(store);
  return store;
}

/** Closes the store of this process, if it was opened. */
export async function closeStore(): Promise<void> {
  const current = opened;
  opened = null;
  if (current) await (await current).db.destroy();
}

async function sweep(store: Store): Promise<void> {
  for (const name of await fs.readdir(store.incoming)) {
    const stale = path.join(store.incoming, name);
    const owner = Number(name.split('-', 1)[0]);
    const working = owner !== process.pid && isAlive(owner) && (await age(stale)) < STALE_AFTER;
    if (!working) await fs.rm(stale, { recursive: true, force: true });
  }
  const known = new Set((await store.db.selectFrom('files').select('id').execute()).map((row) => row.id));
  const files = path.join(store.folder, 'files');
  for (const id of await fs.readdir(files)) {
    if (known.has(id) || (await age(path.join(files, id))) < ORPHAN_AFTER) continue;
    await store.disk.deleteAll(id);
  }
}

async function age(file: string): Promise<number> {
  const stat = await fs.stat(file).catch(() => null);
  return stat ? Date.now() - stat.mtimeMs : 0;
}

function isAlive(pid: number): boolean {
  try {
    return pid > 0 && process.kill(pid, 0);
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
