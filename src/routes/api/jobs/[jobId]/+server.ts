import { answer } from '#lib/server/answer.ts';
import * as jobs from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params }) =>
  answer(async () => json(await jobs.load((await store()).db, params.jobId)));

export const DELETE: RequestHandler = ({ params }) =>
  answer(async () => {
    await jobs.remove((await store()).db, params.jobId);
    return json({});
  });
