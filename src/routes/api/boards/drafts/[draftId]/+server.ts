import { answer } from '#lib/server/answer.ts';
import { htmlResponse } from '#lib/server/board-door.ts';
import * as drafts from '#lib/server/board-drafts.ts';
import { boardPagePolicy } from '#lib/server/board-page.ts';
import { draftPage } from '#lib/server/board-views.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** The page that a draft would become. */
export const GET: RequestHandler = ({ params, request, url }) =>
  answer(async () => {
    const html = draftPage(await drafts.load(await store(), params.draftId), url.pathname);
    return await htmlResponse(html, boardPagePolicy(), request.headers.get('accept-encoding'));
  });
