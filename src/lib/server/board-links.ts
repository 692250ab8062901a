/** Links by which clients reach a round. Of the token only a hash is kept; without the token nothing can be found. */
import { createHmac, randomBytes, scrypt, timingSafeEqual, type ScryptOptions } from 'node:crypto';
import { promisify } from 'node:util';
import { sha256 } from './board-pictures.ts';
import { Allowance, Wait } from './board-rates.ts';
import type { Database } from './database.ts';
import { newId } from './jobs.ts';
import { Refusal } from './refusal.ts';

export interface Link {
  id: string;
  boardId: string;
  /** Whom it is for, in the designer's words. */
  label: string;
  createdAt: number;
  expiresAt: number | null;
  revokedAt: number | null;
  /** It asks for a passphrase. */
  passphrase: boolean;
}

/** A link that leads somewhere now. */
export interface OpenLink {
  id: string;
  boardId: string;
  jobId: string;
  passphrase: { salt: string; hash: string } | null;
}

export interface LinkWishes {
  label: string;
  expiresAt: number | null;
  passphrase: string | null;
}

/** 192 bits. */
const TOKEN_BYTES = 24;
const MOST_LINKS = 200;
const LONGEST_LABEL = 120;
const PASSPHRASE = { shortest: 6, longest: 200 } as const;

/** 32 MiB and about a fifth of a second a try; OWASP's password storage cheat sheet has these numbers (from memory). */
const SCRYPT: ScryptOptions = { N: 2 ** 15, r: 8, p: 3, maxmem: 64 * 2 ** 20 };
const SCRYPT_LENGTH = 32;
const derive = promisify<string, Buffer, number, ScryptOptions, Buffer>(scrypt);

/** How long a passphrase once given is remembered, ms. */
export const REMEMBERED = 7 * 24 * 3600_000;

/** A link's own allowance stands against many addresses, an address's against many links. */
const triesOfLink = new Allowance({ most: 15, every: 120_000 });
const triesOfAddress = new Allowance({ most: 8, every: 60_000 });

/** Wishes read from outside. @throws Refusal 422 naming the path. */
export function parseWishes(value: Record<string, unknown>, now: number): LinkWishes {
  const { label = '', expiresAt = null, passphrase = null } = value;
  if (typeof label !== 'string' || label.length > LONGEST_LABEL)
    throw new Refusal(422, `label: expected at most ${LONGEST_LABEL} characters`);
  const later = Number.isSafeInteger(expiresAt) && (expiresAt as number) > now;
  if (expiresAt !== null && !later)
    throw new Refusal(422, 'expiresAt: expected a time to come, in milliseconds since 1970, or null');
  if (passphrase === null) return { label: plain(label), expiresAt: expiresAt as number | null, passphrase };
  const { shortest, longest } = PASSPHRASE;
  const length = typeof passphrase === 'string' ? asTyped(passphrase).length : 0;
  if (length < shortest || length > longest)
    throw new Refusal(422, `passphrase: expected ${shortest}-${longest} characters, or null for none`);
  return { label: plain(label), expiresAt: expiresAt as number | null, passphrase: passphrase as string };
}

/** Text without what PostgreSQL would refuse and what is not text. */
const plain = (text: string) => text.toWellFormed().replaceAll('\0', '').trim();

/** However a keyboard composes it, and without the space it adds at the end. */
const asTyped = (passphrase: string) => passphrase.normalize('NFKC').trim();

/** Makes a link to a round. Its token is given here and never again. */
export async function create(
  db: Database,
  boardId: string,
  wishes: LinkWishes,
): Promise<Link & { token: string }> {
  const token = randomBytes(TOKEN_BYTES).toString('base64url');
  const salt = wishes.passphrase === null ? null : randomBytes(16);
  const hash = salt && (await derive(asTyped(wishes.passphrase!), salt, SCRYPT_LENGTH, SCRYPT));
  const row = {
    id: newId(),
    board_id: boardId,
    token_hash: sha256(token),
    label: wishes.label,
    passphrase_salt: salt && salt.toString('base64url'),
    passphrase_hash: hash && hash.toString('base64url'),
    created_at: Date.now(),
    expires_at: wishes.expiresAt,
    revoked_at: null,
  };
  await db.transaction().execute(async (trx) => {
    const { links } = await trx
      .selectFrom('board_links')
      .select(({ fn }) => fn.countAll<number>().as('links'))
      .where('board_id', '=', boardId)
      .executeTakeFirstOrThrow();
    if (Number(links) >= MOST_LINKS)
      throw new Refusal(422, `A round may have ${MOST_LINKS} links; this one has them.`);
    await trx.insertInto('board_links').values(row).execute();
  });
  return { ...asLink(row), token };
}

/**
 * Revokes a link of a job, for good; one that is revoked stays so since when it was.
 * @throws Refusal 404 where the job has no such link.
 */
export async function revoke(db: Database, jobId: string, linkId: string): Promise<Link> {
  const mine = (await listOfJob(db, jobId)).find(({ id }) => id === linkId);
  if (!mine) throw new Refusal(404, 'This job has no such link.');
  if (mine.revokedAt !== null) return mine;
  const revokedAt = Date.now();
  await db
    .updateTable('board_links')
    .set({ revoked_at: revokedAt })
    .where('id', '=', linkId)
    .where('revoked_at', 'is', null)
    .execute();
  return { ...mine, revokedAt };
}

/** All links to the rounds of a job, oldest first. */
export async function listOfJob(db: Database, jobId: string): Promise<Link[]> {
  const rows = await db
    .selectFrom('board_links')
    .innerJoin('boards', 'boards.id', 'board_links.board_id')
    .selectAll('board_links')
    .where('boards.job_id', '=', jobId)
    .orderBy('board_links.created_at')
    .orderBy('board_links.id')
    .execute();
  return rows.map(asLink);
}

function asLink(row: {
  id: string;
  board_id: string;
  label: string;
  created_at: number;
  expires_at: number | null;
  revoked_at: number | null;
  passphrase_hash: string | null;
}): Link {
  return {
    id: row.id,
    boardId: row.board_id,
    label: row.label,
    createdAt: row.created_at,
    expiresAt: row.expires_at,
    revokedAt: row.revoked_at,
    passphrase: row.passphrase_hash !== null,
  };
}

/**
 * The link with this token, or null where there is none, it was revoked, has expired, or its job is deleted. All take the
 * same one look into an index, so that time does not tell them apart either.
 */
export async function find(db: Database, token: string, now: number): Promise<OpenLink | null> {
  const row = await db
    .selectFrom('board_links')
    .innerJoin('boards', 'boards.id', 'board_links.board_id')
    .innerJoin('jobs', 'jobs.id', 'boards.job_id')
    .select([
      'board_links.id',
      'board_links.board_id',
      'boards.job_id',
      'board_links.passphrase_salt',
      'board_links.passphrase_hash',
      'board_links.expires_at',
      'board_links.revoked_at',
      'jobs.deleted_at',
    ])
    .where('board_links.token_hash', '=', sha256(token))
    .executeTakeFirst();
  if (!row || row.revoked_at !== null || row.deleted_at !== null) return null;
  if (row.expires_at !== null && row.expires_at <= now) return null;
  const { passphrase_salt: salt, passphrase_hash: hash } = row;
  return {
    id: row.id,
    boardId: row.board_id,
    jobId: row.job_id,
    passphrase: salt !== null && hash !== null ? { salt, hash } : null,
  };
}

let derivation: Promise<unknown> = Promise.resolve();

/**
 * Tries a passphrase; where it is right, gives the pass that proves so for `REMEMBERED`, else null.
 * @throws Wait where the link or the address has been tried too often.
 */
export async function tryPassphrase(
  link: OpenLink,
  given: string,
  { address, now }: { address: string; now: number },
): Promise<string | null> {
  if (!link.passphrase) return null;
  const wait = triesOfAddress.take(address, now) || triesOfLink.take(link.id, now);
  if (wait > 0) throw new Wait(wait / 1000, 'That was tried too often; wait a little and try again.');
  const { salt, hash } = link.passphrase;
  // One at a time: each needs memory and a thread that pictures and files are waiting for.
  const typed = asTyped(given).slice(0, PASSPHRASE.longest + 1);
  const turn = derivation.then(() => derive(typed, Buffer.from(salt, 'base64url'), SCRYPT_LENGTH, SCRYPT));
  derivation = turn.catch(() => {});
  const right = timingSafeEqual(await turn, Buffer.from(hash, 'base64url'));
  return right ? passUntil(link, now + REMEMBERED) : null;
}

/** Whether a link's page may be shown: it asks for no passphrase, or this pass proves that it was given. */
export function admits(link: OpenLink, pass: string | undefined, now: number): boolean {
  if (!link.passphrase) return true;
  const until = Number(/^([1-9]\d{0,14})\.[\w-]{43}$/.exec(pass ?? '')?.[1] ?? 0);
  if (until <= now) return false;
  return timingSafeEqual(Buffer.from(pass!), Buffer.from(passUntil(link, until)));
}

/** Bound to the link, its passphrase and a time; the stored hash, which nobody outside has, is the key. */
function passUntil(link: OpenLink, until: number): string {
  const seal = createHmac('sha256', link.passphrase!.hash).update(`${link.id}.${until}`);
  return `${until}.${seal.digest('base64url')}`;
}
