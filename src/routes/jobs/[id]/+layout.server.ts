import { error } from '@sveltejs/kit';
import * as jobs from '#lib/server/jobs.ts';
import { Refusal } from '#lib/server/refusal.ts';
import { store } from '#lib/server/store.ts';

export async function load({ params }) {
  const { db } = await store();
  try {
    return { id: params.id, loaded: await jobs.load(db, params.id) };
  } catch (refused) {
    if (refused instanceof Refusal) error(refused.status, refused.message);
    throw refused;
  }
}
