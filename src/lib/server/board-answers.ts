/** Answers of clients: kept as they came, with their date and the hash of the round, never changed; new ones are told. */
import { EventEmitter } from 'node:events';
import type { Transaction } from 'kysely';
import {
  boardQuestions,
  canonicalText,
  parseBoardAnswer,
  type BoardAnswer,
  type BoardContent,
} from '#lib/job/index.ts';
import { Wait } from './board-rates.ts';
import type { Database, Schema } from './database.ts';
import { expectJob, newId } from './jobs.ts';
import { Refusal } from './refusal.ts';

export interface Answer {
  id: string;
  /** Counted through the job from 1, in the order received. */
  number: number;
  boardId: string;
  round: number;
  /** Null where the designer pasted it. */
  linkId: string | null;
  answer: BoardAnswer;
  /** Hash of the round that was answered. */
  hash: string;
  receivedAt: number;
  seenAt: number | null;
}

/** An answer that is kept, and whether it was not before. */
export interface Kept {
  answer: Answer;
  fresh: boolean;
}

const HOUR = 3600_000;
export const MOST_AN_HOUR = 20;
/** Nobody changes their mind so often; somebody who fills the disk would. */
const MOST_OF_LINK = 500;
const MOST_AT_ONCE = 1000;
/** Answers of a link that its page shows again. */
const MOST_SHOWN = 20;

/**
 * Keeps an answer given through a link. The very same once more, with no other between, is not kept twice.
 * @throws Refusal 422 naming the path, 409 for another round's hash; Wait after too many.
 */
export async function receive(
  db: Database,
  link: { id: string; boardId: string; jobId: string },
  { value, hash }: { value: unknown; hash: string | null },
): Promise<Kept> {
  return await kept(db, link.jobId, async (trx) => {
    const board = await boardOf(trx, link.jobId, link.boardId);
    if (hash !== null && hash !== board.content_hash)
      throw new Refusal(
        409,
        'This answer was written to another round; open the link again and answer there.',
      );
    const answer = parsed(value, board.content);
    const given = await trx
      .selectFrom('board_answers')
      .select(['id', 'received_at'])
      .where('link_id', '=', link.id)
      .orderBy('number', 'desc')
      .limit(MOST_OF_LINK)
      .execute();
    const content = canonicalText(answer);
    const last = given[0] && (await one(trx, given[0].id));
    if (last && canonicalText(last.answer) === content) return { known: last.id };
    if (given.length >= MOST_OF_LINK)
      throw new Refusal(409, 'This link has taken all the answers it can; ask for a new one.');
    const now = Date.now();
    const oldest = given[MOST_AN_HOUR - 1]?.received_at ?? -Infinity;
    if (now - oldest < HOUR)
      throw new Wait((oldest + HOUR - now) / 1000, 'These are many answers in one hour; try again later.');
    return { content, board, linkId: link.id };
  });
}

/**
 * Keeps an answer that came as text, as read from it. Pasted once more, it is not kept twice.
 * @throws Refusal 422 naming the path, 409 where it is to another round, which is named.
 */
export async function paste(
  db: Database,
  jobId: string,
  pasted: { boardId: string; value: unknown; hash: string },
): Promise<Kept> {
  return await kept(db, jobId, async (trx) => {
    const board = await boardOf(trx, jobId, pasted.boardId);
    if (pasted.hash !== board.content_hash)
      throw await elsewhere(trx, jobId, { hash: pasted.hash, round: board.round });
    const content = canonicalText(parsed(pasted.value, board.content));
    const same = await trx
      .selectFrom('board_answers')
      .select('id')
      .where('board_id', '=', board.id)
      .where('link_id', 'is', null)
      .where('content', '=', content)
      .executeTakeFirst();
    return same ? { known: same.id } : { content, board, linkId: null };
  });
}

async function elsewhere(
  trx: Transaction<Schema>,
  jobId: string,
  { hash, round }: { hash: string; round: number },
): Promise<Refusal> {
  const other = await trx
    .selectFrom('boards')
    .select('round')
    .where('job_id', '=', jobId)
    .where('content_hash', '=', hash)
    .executeTakeFirst();
  return other
    ? new Refusal(409, `This answer is to round ${other.round}, not to round ${round}; paste it there.`)
    : new Refusal(
        409,
        `This answer is to a board that this job does not have (${hash.slice(0, 12)}…), not to round ${round}.`,
      );
}

interface Board {
  id: string;
  round: number;
  content: BoardContent;
  content_hash: string;
}

async function boardOf(trx: Transaction<Schema>, jobId: string, boardId: string): Promise<Board> {
  await expectJob(trx, jobId);
  const row = await trx
    .selectFrom('boards')
    .select(['id', 'round', 'content', 'content_hash'])
    .where('job_id', '=', jobId)
    .where('id', '=', boardId)
    .executeTakeFirst();
  if (!row) throw new Refusal(404, 'This job has no such round.');
  return { ...row, content: JSON.parse(row.content) as BoardContent };
}

function parsed(value: unknown, content: BoardContent): BoardAnswer {
  const given = (value as Partial<BoardAnswer> | null | undefined)?.surfaces;
  for (const { surfaceId, surface } of boardQuestions(content)) {
    // What a form without script can leave out while there are words or a pin.
    const verdict: unknown = given?.[surfaceId]?.verdict;
    if (verdict === '') throw new Refusal(422, `Say yes, no or change for “${surface}” too.`);
  }
  try {
    return parseBoardAnswer(value, content);
  } catch (error) {
    throw error instanceof TypeError ? new Refusal(422, error.message) : error;
  }
}

/** Writes what `decide` finds fit to keep, and tells of it once it is on the disk. */
async function kept(
  db: Database,
  jobId: string,
  decide: (
    trx: Transaction<Schema>,
  ) => Promise<{ known: string } | { content: string; board: Board; linkId: string | null }>,
): Promise<Kept> {
  const outcome = await db.transaction().execute(async (trx) => {
    const found = await decide(trx);
    if ('known' in found) return { answer: await one(trx, found.known), fresh: false };
    const { content, board, linkId } = found;
    const row = {
      id: newId(),
      job_id: jobId,
      number: (await lastNumber(trx, jobId)) + 1,
      board_id: board.id,
      link_id: linkId,
      content,
      content_hash: board.content_hash,
      received_at: Date.now(),
      seen_at: null,
    };
    await trx.insertInto('board_answers').values(row).execute();
    return { answer: await one(trx, row.id), fresh: true };
  });
  if (outcome.fresh) news.emit(jobId);
  return outcome;
}

function chosen(db: Database) {
  return db
    .selectFrom('board_answers')
    .innerJoin('boards', 'boards.id', 'board_answers.board_id')
    .selectAll('board_answers')
    .select('boards.round');
}

type Row = Awaited<ReturnType<ReturnType<typeof chosen>['executeTakeFirstOrThrow']>>;

function asAnswer(row: Row): Answer {
  const { id, number, round } = row;
  return {
    id,
    number,
    boardId: row.board_id,
    round,
    linkId: row.link_id,
    answer: JSON.parse(row.content) as BoardAnswer,
    hash: row.content_hash,
    receivedAt: row.received_at,
    seenAt: row.seen_at,
  };
}

const one = async (db: Database, id: string) =>
  asAnswer(await chosen(db).where('board_answers.id', '=', id).executeTakeFirstOrThrow());

/** Number of the last answer to a job, 0 where there is none. */
export async function lastNumber(db: Database, jobId: string): Promise<number> {
  const last = await db
    .selectFrom('board_answers')
    .select('number')
    .where('job_id', '=', jobId)
    .orderBy('number', 'desc')
    .limit(1)
    .executeTakeFirst();
  return last?.number ?? 0;
}

/** Answers to any round of a job after a number, oldest first. */
export async function since(db: Database, jobId: string, number: number): Promise<Answer[]> {
  const rows = await chosen(db)
    .where('board_answers.job_id', '=', jobId)
    .where('board_answers.number', '>', number)
    .orderBy('board_answers.number')
    .execute();
  return rows.map(asAnswer);
}

/** The last answers given through a link, at most twenty, oldest first. */
export async function ofLink(db: Database, linkId: string): Promise<Answer[]> {
  const rows = await chosen(db)
    .where('board_answers.link_id', '=', linkId)
    .orderBy('board_answers.number', 'desc')
    .limit(MOST_SHOWN)
    .execute();
  return rows.map(asAnswer).reverse();
}

/**
 * Marks answers of a job as seen; those seen before keep their time, those of other jobs are left alone.
 * @throws Refusal 404 for an unknown or deleted job, 422 for what is no list of answers.
 */
export async function markSeen(db: Database, jobId: string, ids: unknown): Promise<void> {
  await expectJob(db, jobId);
  const texts = Array.isArray(ids) && ids.length <= MOST_AT_ONCE && ids.every((id) => typeof id === 'string');
  if (!texts) throw new Refusal(422, `answers: expected at most ${MOST_AT_ONCE} identifiers`);
  if (ids.length === 0) return;
  await db
    .updateTable('board_answers')
    .set({ seen_at: Date.now() })
    .where('job_id', '=', jobId)
    .where('id', 'in', ids as string[])
    .where('seen_at', 'is', null)
    .execute();
}

/** An event named after the job for every answer kept by this process. */
const news = new EventEmitter().setMaxListeners(0);

/** Calls back after every answer to a job that this process keeps; gives what ends that. */
export function listen(jobId: string, heard: () => void): () => void {
  news.on(jobId, heard);
  return () => news.off(jobId, heard);
}
