/** Rounds of a client's board: content frozen with its pictures, numbered by the job, never changed once written. */
import {
  boardQuestions,
  canonicalText,
  parseBoardContent,
  roundNews,
  type BoardContent,
  type BoardQuestion,
} from '#lib/job/index.ts';
import * as answers from './board-answers.ts';
import * as links from './board-links.ts';
import * as pictures from './board-pictures.ts';
import type { Database } from './database.ts';
import { expectJob, newId } from './jobs.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** Longest content, characters of its canonical text. */
const LONGEST_CONTENT = 2_000_000;

export interface Round {
  id: string;
  /** Counted through the job from 1. */
  round: number;
  title: string;
  /** SHA-256 of the content's canonical text, hexadecimal; the content has the hashes of its pictures in it. */
  hash: string;
  createdAt: number;
}

export interface RoundSummary extends Round {
  /** What the client is asked. */
  questions: BoardQuestion[];
  links: links.Link[];
  /** Oldest first. */
  answers: answers.Answer[];
}

/** What a round says of itself at its head: since which round, and what changed, in sentences. */
export interface RoundNews {
  since: number;
  sentences: string[];
}

/** A round with its content, and its news where it has a page for them. */
export interface WholeRound extends Round {
  content: BoardContent;
  news: RoundNews | null;
}

export interface SentRound {
  content: BoardContent;
  hash: string;
  pictures: pictures.KeptPicture[];
  sent: Map<string, Buffer>;
}

/**
 * Checks content and pictures as they were sent.
 * @throws Refusal 413 or 422 naming the path.
 */
export async function parseRound(given: {
  content: unknown;
  pictures: Map<string, Buffer>;
}): Promise<SentRound> {
  let content: BoardContent;
  try {
    content = parseBoardContent(given.content);
  } catch (error) {
    throw error instanceof TypeError ? new Refusal(422, error.message) : error;
  }
  const text = canonicalText(content);
  if (text.length > LONGEST_CONTENT)
    throw new Refusal(413, 'This board says more than one may hold; leave pages out or shorten them.');
  const kept = await pictures.expectPictures(content, given.pictures);
  return { content, hash: pictures.sha256(text), pictures: kept, sent: given.pictures };
}

/**
 * Freezes a round; when this returns, it is on the disk. The same content sent again right after is the same round, so
 * that a request whose answer was lost can be repeated.
 * @throws Refusal 404 for an unknown or deleted job, 422 naming the path.
 */
export async function freeze(store: Store, jobId: string, sent: SentRound): Promise<Round> {
  const { db } = store;
  await expectJob(db, jobId);
  const known = await lastRound(db, jobId);
  if (known?.hash === sent.hash) return known;
  const id = newId();
  // Renditions take seconds: they are written before the transaction, and go again if it does not come about.
  await pictures.keep(store, id, sent);
  try {
    const round = await db.transaction().execute(async (trx) => {
      await expectJob(trx, jobId);
      const last = await lastRound(trx, jobId);
      if (last?.hash === sent.hash) return last;
      const number = await nextRound(trx, jobId);
      expectEarlier(sent.content, number);
      const row = {
        id,
        job_id: jobId,
        round: number,
        title: sent.content.title,
        content: canonicalText(sent.content),
        content_hash: sent.hash,
        created_at: Date.now(),
      };
      await trx.insertInto('boards').values(row).execute();
      for (const { id: picture_id, hash, width, height, bytes } of sent.pictures) {
        const picture = { board_id: id, picture_id, hash, width, height, bytes };
        await trx.insertInto('board_pictures').values(picture).execute();
      }
      return asRound(row);
    });
    if (round.id !== id) await pictures.discard(store, id);
    return round;
  } catch (error) {
    await pictures.discard(store, id);
    throw error;
  }
}

/** A page that names changes since another round names one that there is. */
function expectEarlier(content: BoardContent, round: number): void {
  for (const [i, page] of content.pages.entries()) {
    if (page.kind === 'changes' && page.since >= round)
      throw new Refusal(422, `board.pages.${i}.since: expected a round before this one, which is ${round}`);
  }
}

const COLUMNS = ['id', 'round', 'title', 'content_hash', 'created_at'] as const;

function asRound(row: {
  id: string;
  round: number;
  title: string;
  content_hash: string;
  created_at: number;
}): Round {
  const { id, round, title } = row;
  return { id, round, title, hash: row.content_hash, createdAt: row.created_at };
}

/** The number that the next round of a job gets. */
export async function nextRound(db: Database, jobId: string): Promise<number> {
  return ((await lastRound(db, jobId))?.round ?? 0) + 1;
}

async function lastRound(db: Database, jobId: string): Promise<Round | null> {
  const row = await db
    .selectFrom('boards')
    .select(COLUMNS)
    .where('job_id', '=', jobId)
    .orderBy('round', 'desc')
    .limit(1)
    .executeTakeFirst();
  return row ? asRound(row) : null;
}

/**
 * The rounds of a job, the latest first, with their links and answers.
 * @throws Refusal 404 for an unknown or deleted job.
 */
export async function list(db: Database, jobId: string): Promise<RoundSummary[]> {
  await expectJob(db, jobId);
  const rows = await db
    .selectFrom('boards')
    .select([...COLUMNS, 'content'])
    .where('job_id', '=', jobId)
    .orderBy('round', 'desc')
    .execute();
  const linked = await links.listOfJob(db, jobId);
  const answered = await answers.since(db, jobId, 0);
  return rows.map((row) => ({
    ...asRound(row),
    questions: boardQuestions(JSON.parse(row.content) as BoardContent),
    links: linked.filter(({ boardId }) => boardId === row.id),
    answers: answered.filter(({ boardId }) => boardId === row.id),
  }));
}

/**
 * One round with its content and its news.
 * @throws Refusal 404 for an unknown or deleted job, and for a round that is not one of its.
 */
export async function load(db: Database, jobId: string, boardId: string): Promise<WholeRound> {
  await expectJob(db, jobId);
  const row = await db
    .selectFrom('boards')
    .select([...COLUMNS, 'content'])
    .where('job_id', '=', jobId)
    .where('id', '=', boardId)
    .executeTakeFirst();
  if (!row) throw new Refusal(404, 'This job has no such round.');
  const content = JSON.parse(row.content) as BoardContent;
  return { ...asRound(row), content, news: await newsOf(db, jobId, content) };
}

/**
 * What changed since the round that a board compares itself with, worked out from the two as they are frozen; null for a first
 * round, and where the designer left out the page that says it.
 */
export async function newsOf(db: Database, jobId: string, content: BoardContent): Promise<RoundNews | null> {
  const page = content.pages.find(({ kind }) => kind === 'changes');
  if (page?.kind !== 'changes') return null;
  const row = await db
    .selectFrom('boards')
    .select('content')
    .where('job_id', '=', jobId)
    .where('round', '=', page.since)
    .executeTakeFirst();
  if (!row) return null;
  return { since: page.since, sentences: roundNews(JSON.parse(row.content) as BoardContent, content) };
}

/** Whether a round still is what was frozen: its content by its hash, its pictures by theirs. */
export async function intact(store: Store, round: Round & Pick<WholeRound, 'content'>): Promise<boolean> {
  const same = pictures.sha256(canonicalText(round.content)) === round.hash;
  return same && (await pictures.intact(store, round.id, round.content));
}
