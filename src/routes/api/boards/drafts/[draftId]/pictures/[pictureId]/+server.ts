import { answer } from '#lib/server/answer.ts';
import * as drafts from '#lib/server/board-drafts.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params }) =>
  answer(async () => {
    const { bytes, type } = await drafts.picture(await store(), params.draftId, params.pictureId);
    return new Response(new Uint8Array(bytes), {
      headers: { 'content-type': type, 'cache-control': 'private, no-store' },
    });
  });
