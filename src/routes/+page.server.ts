import * as jobs from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';

export async function load() {
  return { jobs: await jobs.list((await store()).db) };
}
