import { answer, readJson } from '#lib/server/answer.ts';
import * as answers from '#lib/server/board-answers.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const given = await readJson(request);
    await answers.markSeen((await store()).db, params.jobId, given.answers);
    return json({});
  });
