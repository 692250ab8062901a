import { answer } from '#lib/server/answer.ts';
import * as links from '#lib/server/board-links.ts';
import { expectJob } from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

/** Revokes a link. */
export const DELETE: RequestHandler = ({ params }) =>
  answer(async () => {
    const { db } = await store();
    await expectJob(db, params.jobId);
    return json(await links.revoke(db, params.jobId, params.linkId));
  });
