import { answer } from '#lib/server/answer.ts';
import { download, fileName, onePage } from '#lib/server/board-views.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** The round as one HTML file to send. */
export const GET: RequestHandler = ({ params }) =>
  answer(async () => {
    const opened = await store();
    const round = await boards.load(opened.db, params.jobId, params.boardId);
    const html = await onePage(opened, round);
    return download(html, { type: 'text/html; charset=utf-8', name: fileName(round, 'html') });
  });
