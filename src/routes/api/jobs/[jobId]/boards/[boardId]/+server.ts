import { answer } from '#lib/server/answer.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params }) =>
  answer(async () => {
    const opened = await store();
    const round = await boards.load(opened.db, params.jobId, params.boardId);
    return json({ ...round, intact: await boards.intact(opened, round) });
  });
