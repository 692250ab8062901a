import { PASS, behindDoor, enter, pictureResponse } from '#lib/server/board-door.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** A picture of the board of a link. */
export const GET: RequestHandler = ({ params, request, cookies, getClientAddress }) =>
  behindDoor({ script: false, written: false }, async () => {
    const opened = await store();
    const { token, pictureId, side } = params;
    const visit = { token, address: getClientAddress(), pass: cookies.get(PASS), now: Date.now() };
    const { boardId } = await enter(opened, visit);
    return await pictureResponse(opened, boardId, {
      pictureId,
      side,
      accepts: request.headers.get('accept'),
    });
  });
