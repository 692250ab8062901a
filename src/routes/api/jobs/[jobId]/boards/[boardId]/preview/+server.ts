import { answer } from '#lib/server/answer.ts';
import { htmlResponse } from '#lib/server/board-door.ts';
import { boardPagePolicy } from '#lib/server/board-page.ts';
import { previewPage } from '#lib/server/board-views.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** The page of a round as its clients see it, without a place to answer. */
export const GET: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const round = await boards.load((await store()).db, params.jobId, params.boardId);
    const html = previewPage(round, `/api/jobs/${params.jobId}/boards/${round.id}`);
    return await htmlResponse(html, boardPagePolicy(), request.headers.get('accept-encoding'));
  });
