import { randomBytes } from 'node:crypto';
import { building } from '$app/env';
import { publicOrigin, refusal, SECURITY_HEADERS } from '#lib/server/admission.ts';
import { stopIntake } from '#lib/server/intake.ts';
import { ensureSampleJob } from '#lib/server/sample.ts';
import { closeStore, store } from '#lib/server/store.ts';
import type { Handle, HandleServerError, ServerInit } from '@sveltejs/kit/hooks';

export const init: ServerInit = async () => {
  if (building) return;
  // A name that is none is said at the start, not at the first request.
  publicOrigin();
  const opened = await store();
  // In the background: its pictures take a while, and the studio is usable before.
  // `BRUSHOUT_SAMPLE=none` leaves it out.
  const wanted = process.env.BRUSHOUT_SAMPLE !== 'none';
  if (wanted)
    void ensureSampleJob(opened).catch((error) => console.error('The sample job could not be made:', error));
  process.once('sveltekit:shutdown', async () => {
    stopIntake();
    await closeStore();
  });
};

export const handle: Handle = async ({ event, resolve }) => {
  const { request, url } = event;
  const asked = { method: request.method, path: url.pathname };
  const reason = refusal(asked, (name) => request.headers.get(name));
  const response = reason
    ? new Response(reason, { status: 403, headers: { 'content-type': 'text/plain; charset=utf-8' } })
    : await resolve(event);
  for (const [name, value] of Object.entries(SECURITY_HEADERS)) response.headers.set(name, value);
  if (event.url.pathname.startsWith('/api/') && !response.headers.has('content-security-policy')) {
    response.headers.set('content-security-policy', "default-src 'none'; frame-ancestors 'none'; sandbox");
  }
  return response;
};

/** What nobody foresaw is logged whole, and shown as a number to look it up by. */
export const handleError: HandleServerError = (caught) => {
  if (caught.kind !== 'unknown') return { message: caught.error.message };
  const { event, error } = caught;
  const id = randomBytes(4).toString('hex');
  console.error(`[${id}] ${event.request.method} ${event.url.pathname}`, error);
  return { message: `Something went wrong here; the log has it under ${id}.`, id };
};
