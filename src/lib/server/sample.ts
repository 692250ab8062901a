import * as jobs from './jobs.ts';
import type { Store } from './store.ts';

/** Builds the sample job and gives its id. */
export async function createSampleJob(store: Store): Promise<string> {
  return await jobs.create(store.db, 'Sample job');
}

/** Builds the sample job where nothing has ever been made in this store. */
export async function ensureSampleJob(store: Store): Promise<void> {
  const any = await store.db.selectFrom('jobs').select('id').limit(1).executeTakeFirst();
  if (!any) await createSampleJob(store);
}
