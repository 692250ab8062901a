import { readAnswerText } from '#lib/job/index.ts';
import { answer, readJson } from '#lib/server/answer.ts';
import * as answers from '#lib/server/board-answers.ts';
import { Refusal } from '#lib/server/refusal.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

const LONGEST_TEXT = 200_000;

/** Takes the text of an answer that the client sent some other way. */
export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const { text } = await readJson(request);
    if (typeof text !== 'string' || text.length > LONGEST_TEXT)
      throw new Refusal(422, `text: expected at most ${LONGEST_TEXT} characters`);
    const { hash, answer: value } = read(text);
    const pasted = { boardId: params.boardId, value, hash };
    const { answer: kept, fresh } = await answers.paste((await store()).db, params.jobId, pasted);
    return json(kept, { status: fresh ? 201 : 200 });
  });

function read(text: string): { hash: string; answer: unknown } {
  try {
    return readAnswerText(text);
  } catch (error) {
    throw error instanceof TypeError ? new Refusal(422, error.message) : error;
  }
}
