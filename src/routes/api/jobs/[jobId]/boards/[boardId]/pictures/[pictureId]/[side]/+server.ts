import { answer } from '#lib/server/answer.ts';
import { pictureResponse } from '#lib/server/board-door.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const opened = await store();
    const { pictureId, side } = params;
    const { id } = await boards.load(opened.db, params.jobId, params.boardId);
    return await pictureResponse(opened, id, { pictureId, side, accepts: request.headers.get('accept') });
  });
