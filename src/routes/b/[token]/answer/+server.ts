import * as answers from '#lib/server/board-answers.ts';
import { PASS, behindDoor, enter } from '#lib/server/board-door.ts';
import { isForm, readAnswer } from '#lib/server/board-requests.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

/** An answer to the board of a link, from its page's script as JSON or from its form. */
export const POST: RequestHandler = ({ params, request, cookies, getClientAddress }) => {
  const form = isForm(request);
  const back = `/b/${encodeURIComponent(params.token)}`;
  return behindDoor({ script: !form, written: form }, async () => {
    const opened = await store();
    const visit = {
      token: params.token,
      address: getClientAddress(),
      pass: cookies.get(PASS),
      now: Date.now(),
    };
    const link = await enter(opened, visit);
    const { answer, fresh } = await answers.receive(opened.db, link, await readAnswer(request));
    if (form) return new Response(null, { status: 303, headers: { location: `${back}#answers` } });
    return json({ id: answer.id, receivedAt: answer.receivedAt }, { status: fresh ? 201 : 200 });
  });
};
