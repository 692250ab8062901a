/** New answers as server-sent events (WHATWG HTML, server-sent events): at once, and those of other processes soon. */
import * as answers from './board-answers.ts';
import { expectJob } from './jobs.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** How often the table is asked for answers that other processes kept, ms. */
const ASK_EVERY = 2000;
/** A line of nothing keeps whatever lies between from cutting the connection, ms. */
const BEAT_EVERY = 15_000;
/** What a browser waits before it comes back, ms. */
const RETRY_AFTER = 2000;

/**
 * A stream of the answers to a job after a number: `event: answer`, its id the answer's number, its data the answer. One
 * `event: ready` comes first; `event: gone` when the job is deleted, with which the stream ends.
 * @throws Refusal 404 for an unknown or deleted job.
 */
export async function answerStream(
  { db }: Store,
  jobId: string,
  { after, signal }: { after: number | null; signal: AbortSignal },
): Promise<ReadableStream<Uint8Array>> {
  await expectJob(db, jobId);
  let told = after ?? (await answers.lastNumber(db, jobId));
  let stop = () => {};

  return new ReadableStream<Uint8Array>({
    start(controller) {
      const encoder = new TextEncoder();
      let open = true;
      const send = (text: string) => {
        if (open) controller.enqueue(encoder.encode(text));
      };
      const event = (name: string, data: object, id: number) =>
        send(`id: ${id}\nevent: ${name}\ndata: ${JSON.stringify(data)}\n\n`);

      let asking: Promise<void> | null = null;
      let again = false;
      const ask = () => {
        if (asking) return void (again = true);
        asking = tell()
          .catch(fail)
          .finally(() => {
            asking = null;
            if (again && open) ask();
          });
      };
      const tell = async () => {
        again = false;
        await expectJob(db, jobId);
        for (const answer of await answers.since(db, jobId, told)) {
          event('answer', answer, answer.number);
          told = answer.number;
        }
      };
      const fail = (error: unknown) => {
        if (open && error instanceof Refusal) event('gone', { error: error.message }, told);
        else if (open) console.error('Answers could not be read for a stream:', error);
        const ended = !open;
        stop();
        if (!ended) controller.close();
      };

      const silent = answers.listen(jobId, ask);
      const asks = setInterval(ask, ASK_EVERY);
      const beats = setInterval(() => send(': still here\n\n'), BEAT_EVERY);
      stop = () => {
        open = false;
        silent();
        clearInterval(asks);
        clearInterval(beats);
        signal.removeEventListener('abort', stop);
      };
      signal.addEventListener('abort', stop);
      send(`retry: ${RETRY_AFTER}\n`);
      event('ready', { after: told }, told);
      ask();
    },
    cancel: () => stop(),
  });
}
