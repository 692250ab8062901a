import { answer } from '#lib/server/answer.ts';
import * as jobs from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const POST: RequestHandler = ({ params }) =>
  answer(async () => {
    await jobs.restore((await store()).db, params.jobId);
    return json({});
  });
