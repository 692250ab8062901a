import { answer } from '#lib/server/answer.ts';
import * as drafts from '#lib/server/board-drafts.ts';
import { readRound } from '#lib/server/board-requests.ts';
import * as boards from '#lib/server/boards.ts';
import { expectJob } from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

/** Takes a board as freezing does, to be looked at; nothing of it stays. */
export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const opened = await store();
    await expectJob(opened.db, params.jobId);
    const sent = await boards.parseRound(await readRound(request));
    const id = await drafts.keep(opened, params.jobId, sent);
    return json({ path: `/api/boards/drafts/${id}`, hash: sent.hash }, { status: 201 });
  });
