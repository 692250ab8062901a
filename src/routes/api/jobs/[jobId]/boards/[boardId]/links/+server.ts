import { publicOrigin } from '#lib/server/admission.ts';
import { answer, readJson } from '#lib/server/answer.ts';
import * as links from '#lib/server/board-links.ts';
import * as boards from '#lib/server/boards.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

/** Makes a link; the answer is the only one with its token. `address` is null where only this computer can follow it. */
export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const wishes = links.parseWishes(await readJson(request), Date.now());
    const { db } = await store();
    const { id } = await boards.load(db, params.jobId, params.boardId);
    const link = await links.create(db, id, wishes);
    const path = `/b/${link.token}`;
    const origin = publicOrigin();
    return json({ ...link, path, address: origin && origin + path }, { status: 201 });
  });
