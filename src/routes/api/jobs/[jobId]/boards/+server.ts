import { answer } from '#lib/server/answer.ts';
import { readRound } from '#lib/server/board-requests.ts';
import * as boards from '#lib/server/boards.ts';
import { expectJob } from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params }) =>
  answer(async () => json(await boards.list((await store()).db, params.jobId)));

export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const opened = await store();
    await expectJob(opened.db, params.jobId);
    const sent = await boards.parseRound(await readRound(request));
    return json(await boards.freeze(opened, params.jobId, sent), { status: 201 });
  });
