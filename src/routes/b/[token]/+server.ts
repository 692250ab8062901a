import * as answers from '#lib/server/board-answers.ts';
import {
  Locked,
  PASS,
  behindDoor,
  enter,
  htmlResponse,
  knock,
  passphrasePage,
} from '#lib/server/board-door.ts';
import * as links from '#lib/server/board-links.ts';
import { boardPagePolicy } from '#lib/server/board-page.ts';
import { readPassphrase } from '#lib/server/board-requests.ts';
import { linkPage } from '#lib/server/board-views.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import type { RequestEvent } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

const visit = ({ cookies, getClientAddress }: RequestEvent, token: string) => ({
  token,
  address: getClientAddress(),
  pass: cookies.get(PASS),
  now: Date.now(),
});

/** The board of a link. */
export const GET: RequestHandler = (event) => {
  const { token } = event.params;
  return behindDoor({ script: false, written: false }, async () => {
    const opened = await store();
    try {
      const { id, jobId, boardId } = await enter(opened, visit(event, token));
      const round = await boards.load(opened.db, jobId, boardId);
      const html = linkPage(round, { token, previous: await answers.ofLink(opened.db, id) });
      const accepts = event.request.headers.get('accept-encoding');
      return await htmlResponse(html, boardPagePolicy(), accepts);
    } catch (error) {
      if (error instanceof Locked) return passphrasePage(event.url.pathname, null);
      throw error;
    }
  });
};

/** The passphrase of a link. */
export const POST: RequestHandler = (event) => {
  const { token } = event.params;
  const { pathname, protocol } = event.url;
  return behindDoor({ script: false, written: false }, async () => {
    const from = visit(event, token);
    const link = await knock(await store(), from);
    const given = await readPassphrase(event.request);
    const pass = await links.tryPassphrase(link, given, from);
    if (link.passphrase && !pass) return passphrasePage(pathname, 'That is not the passphrase.');
    if (pass)
      event.cookies.set(PASS, pass, {
        path: pathname,
        httpOnly: true,
        sameSite: 'lax',
        secure: protocol === 'https:',
        maxAge: links.REMEMBERED / 1000,
      });
    return new Response(null, { status: 303, headers: { location: pathname } });
  });
};
