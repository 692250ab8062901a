import { answer } from '#lib/server/answer.ts';
import * as intake from '#lib/server/intake.ts';
import * as jobs from '#lib/server/jobs.ts';
import { Refusal } from '#lib/server/refusal.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** Longest time, ms, that the rest of a refused upload is let go by. */
const PATIENCE = 10_000;

/**
 * Takes a picture in. The answer is a stream of JSON lines: `{stage, share}` while it goes on, then `{done}` or `{error}`.
 * The client takes it back by breaking the request off.
 */
export const POST: RequestHandler = ({ params, request, url }) =>
  answer(async () => {
    const opened = await store();
    await jobs.expectJob(opened.db, params.jobId);
    const gone = new AbortController();
    request.signal.addEventListener('abort', () => gone.abort());
    const length = request.headers.get('content-length');
    const pieces = (request.body as AsyncIterable<Uint8Array> | null)?.[Symbol.asyncIterator]();

    const lines = new ReadableStream<Uint8Array>({
      async start(controller) {
        const encoder = new TextEncoder();
        const send = (line: object) => {
          if (!gone.signal.aborted) controller.enqueue(encoder.encode(`${JSON.stringify(line)}\n`));
        };
        try {
          const upload = {
            jobId: params.jobId,
            name: url.searchParams.get('name') ?? '',
            body: pieces ? { [Symbol.asyncIterator]: () => pieces } : null,
            size: length === null ? null : Number(length),
          };
          send({ done: await intake.takeIn(opened, upload, { signal: gone.signal, onProgress: send }) });
        } catch (error) {
          if (gone.signal.aborted) return;
          if (!(error instanceof Refusal)) console.error('Intake failed:', error);
          const unforeseen =
            'This picture could not be taken in because of a fault of the studio; please try again.';
          send({ error: error instanceof Refusal ? error.message : unforeseen });
          await letPass(pieces);
        } finally {
          if (!gone.signal.aborted) controller.close();
        }
      },
      cancel: () => gone.abort(),
    });
    return new Response(lines, {
      headers: { 'content-type': 'application/x-ndjson; charset=utf-8', 'cache-control': 'no-store' },
    });
  });

/** Reads the rest of a refused upload and forgets it: a connection that is cut while it sends loses the reason. */
async function letPass(pieces: AsyncIterator<Uint8Array> | undefined): Promise<void> {
  const end = Date.now() + PATIENCE;
  try {
    while (pieces && Date.now() < end && !(await pieces.next()).done);
  } catch {
    // The sender has gone; there is nobody left to tell.
  }
}
