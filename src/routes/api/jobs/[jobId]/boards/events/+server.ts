import { answer } from '#lib/server/answer.ts';
import { answerStream } from '#lib/server/board-stream.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** New answers as they come. A browser that comes back says itself where it was; `?after=` says where to begin. */
export const GET: RequestHandler = ({ params, request, url }) =>
  answer(async () => {
    const from = request.headers.get('last-event-id') ?? url.searchParams.get('after') ?? '';
    const after = /^\d{1,9}$/.test(from) ? Number(from) : null;
    const stream = await answerStream(await store(), params.jobId, { after, signal: request.signal });
    return new Response(stream, {
      headers: {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        'x-accel-buffering': 'no',
      },
    });
  });
