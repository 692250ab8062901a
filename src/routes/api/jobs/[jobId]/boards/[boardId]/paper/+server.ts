import { answer } from '#lib/server/answer.ts';
import { boardPaper } from '#lib/server/board-paper.ts';
import { download, fileName, paperPictures } from '#lib/server/board-views.ts';
import * as boards from '#lib/server/boards.ts';
import { PAPER_SIZES } from '#lib/server/paper.ts';
import { Refusal } from '#lib/server/refusal.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

/** The round on paper, as PDF; `?size=` A4 or Letter. */
export const GET: RequestHandler = ({ params, url }) =>
  answer(async () => {
    const wanted = url.searchParams.get('size') ?? 'A4';
    const size = PAPER_SIZES.find((one) => one === wanted);
    if (!size) throw new Refusal(422, `size: expected ${PAPER_SIZES.join(' or ')}`);
    const opened = await store();
    const whole = await boards.load(opened.db, params.jobId, params.boardId);
    const { content, round, hash, news } = whole;
    const pictures = await paperPictures(opened, whole);
    const pdf = await boardPaper(content, { size, pictures, round, hash, news });
    return download(pdf, { type: 'application/pdf', name: fileName(whole, 'pdf') });
  });
