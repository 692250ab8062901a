import { randomBytes } from 'node:crypto';
import {
  applyEdit,
  collisions,
  emptyJob,
  inOrder,
  parseEdit,
  parseJob,
  type Edit,
  type Job,
} from '#lib/job/index.ts';
import type { Transaction } from 'kysely';
import type { Database, Schema } from './database.ts';
import { Refusal } from './refusal.ts';

/** Edits given with a job when it is opened, so that a second tab can show what happened last. */
const RECENT = 50;
const MOST_EDITS_AT_ONCE = 500;
/** Longest document kept, in characters; a job with hundreds of swatches and their spectra stays well below. */
const LONGEST_DOCUMENT = 24_000_000;

export interface JobSummary {
  id: string;
  name: string;
  version: number;
  createdAt: number;
  updatedAt: number;
  deletedAt: number | null;
  counts: Counts;
  /** File of the picture that stands for the job: the first photo of a room, else the first photo. */
  coverFileId: string | null;
  /** Answers of clients that the designer has not seen yet. */
  newAnswers: number;
  /** It is still being set up and not to be opened yet. */
  preparing?: boolean;
}

/** How many of each thing a job holds. */
export interface Counts {
  rooms: number;
  surfaces: number;
  lights: number;
  photos: number;
  swatches: number;
}

/** What the list of jobs shows of a document, kept beside it so that the list reads no documents. */
type Summary = Pick<JobSummary, 'counts' | 'coverFileId' | 'preparing'>;

/** A batch of edits as a client sends it. */
export interface EditRequest {
  /** Version of the document the edits were made for. */
  base: number;
  edits: Edit[];
  /** Who sends, and the sender's own number of this request: a request sent again is answered, not applied again. */
  client: string;
  request: number;
}

export type EditAnswer =
  /** All edits are durable. `edits` are those of others since `base`, which the client has not seen. */
  | { accepted: true; version: number; edits: Edit[] }
  /** Nothing was applied. `collisions` says in words what was changed meanwhile. */
  | { accepted: false; collisions: string[]; job: Job; version: number };

/** A random 128-bit identifier in 22 letters that are safe in a URL. */
export function newId(): string {
  return randomBytes(16).toString('base64url');
}

/** Creates a job, empty unless a document is given, and gives its id. */
export async function create(db: Database, name: string, document: Job = emptyJob(name)): Promise<string> {
  const id = newId();
  const now = Date.now();
  const job = parseJob({ ...document, name });
  await db
    .insertInto('jobs')
    .values({ id, ...stored(job), version: 0, created_at: now, updated_at: now, deleted_at: null })
    .execute();
  return id;
}

/** Creates a job that is shown as being prepared until `setUp` gives it its document. */
export async function prepare(db: Database, name: string): Promise<string> {
  const id = await create(db, name);
  const { summary } = stored(emptyJob(name));
  const preparing: Summary = { ...(JSON.parse(summary) as Summary), preparing: true };
  await db
    .updateTable('jobs')
    .set({ summary: JSON.stringify(preparing) })
    .where('id', '=', id)
    .execute();
  return id;
}

/** Gives a prepared job the document it starts with: no edit, so that nothing can be undone behind it. */
export async function setUp(db: Database, id: string, document: Job): Promise<void> {
  const row = { ...stored(parseJob(document)), updated_at: Date.now() };
  await db.updateTable('jobs').set(row).where('id', '=', id).where('version', '=', 0).execute();
}

/** All jobs, deleted ones included, last touched first. */
export async function list(db: Database): Promise<JobSummary[]> {
  const rows = await db
    .selectFrom('jobs')
    .select(['id', 'name', 'version', 'created_at', 'updated_at', 'deleted_at', 'summary'])
    .orderBy('updated_at', 'desc')
    .orderBy('id')
    .execute();
  const unseen = await db
    .selectFrom('board_answers')
    .select(({ fn }) => ['job_id', fn.countAll<number>().as('answers')])
    .where('seen_at', 'is', null)
    .groupBy('job_id')
    .execute();
  const newAnswers = new Map(unseen.map((row) => [row.job_id, Number(row.answers)]));
  return rows.map((row) => ({
    id: row.id,
    name: row.name,
    version: row.version,
    createdAt: row.created_at,
    updatedAt: row.updated_at,
    deletedAt: row.deleted_at,
    newAnswers: newAnswers.get(row.id) ?? 0,
    ...(JSON.parse(row.summary) as Summary),
  }));
}

/** A job with its last edits, oldest first. */
export async function load(db: Database, id: string): Promise<{ job: Job; version: number; recent: Edit[] }> {
  return await db.transaction().execute(async (trx) => {
    const { job, version } = await read(trx, id);
    return { job, version, recent: await editsBetween(trx, id, Math.max(0, version - RECENT), version) };
  });
}

/**
 * Applies a batch of edits as a whole. Edits made for an older version are applied to the current one where they meet
 * nothing that was changed meanwhile. When this returns `accepted`, they are on the disk. An empty batch only asks what
 * others did. A request whose answer was lost can be sent again, also with more edits behind those it had.
 * @throws Refusal 404 for an unknown or deleted job, 422 naming the path for a document that would not be valid.
 */
export async function applyEdits(db: Database, id: string, sent: EditRequest): Promise<EditAnswer> {
  return await db.transaction().execute(async (trx): Promise<EditAnswer> => {
    const { job, version } = await read(trx, id);
    if (sent.base > version) throw new Refusal(422, `base: expected at most ${version}, got ${sent.base}`);
    const known = await appliedBefore(trx, id, sent);
    const fresh = sent.edits.slice(known);
    if (fresh.length === 0) return { accepted: true, version, edits: await editsOfOthers(trx, id, sent) };

    const outcome = attempt(job, fresh, sent.base < version);
    if ('collisions' in outcome) return { accepted: false, collisions: outcome.collisions, job, version };
    const now = Date.now();
    const { client, request } = sent;
    for (const [i, edit] of fresh.entries()) {
      const row = { job_id: id, version: version + i + 1, edit: JSON.stringify(edit), at: now };
      await trx
        .insertInto('edits')
        .values({ ...row, client, request, part: known + i })
        .execute();
    }
    const last = version + fresh.length;
    const changes = { ...stored(outcome.job), version: last, updated_at: now };
    await trx.updateTable('jobs').set(changes).where('id', '=', id).execute();
    return { accepted: true, version: last, edits: await editsOfOthers(trx, id, sent) };
  });
}

/** How many edits of a request were applied when it was sent before, its answer having been lost. */
async function appliedBefore(trx: Transaction<Schema>, id: string, sent: EditRequest): Promise<number> {
  if (sent.edits.length === 0) return 0;
  const rows = await trx
    .selectFrom('edits')
    .select('edit')
    .where('job_id', '=', id)
    .where('client', '=', sent.client)
    .where('request', '=', sent.request)
    .orderBy('part')
    .execute();
  if (rows.some((row, i) => row.edit !== JSON.stringify(sent.edits[i]))) {
    throw new Refusal(422, `request: expected a new number, ${sent.request} was used for other edits`);
  }
  return rows.length;
}

/** Edits since the base of a request that are not the request's own, oldest first. */
async function editsOfOthers(trx: Transaction<Schema>, id: string, sent: EditRequest): Promise<Edit[]> {
  const rows = await trx
    .selectFrom('edits')
    .select(['edit', 'client', 'request'])
    .where('job_id', '=', id)
    .where('version', '>', sent.base)
    .orderBy('version')
    .execute();
  return rows
    .filter((row) => row.client !== sent.client || row.request !== sent.request)
    .map((row) => JSON.parse(row.edit) as Edit);
}

/** Marks a job as deleted; it can be restored. */
export async function remove(db: Database, id: string): Promise<void> {
  await mark(db, id, Date.now());
}

/** Takes a deletion back. */
export async function restore(db: Database, id: string): Promise<void> {
  await mark(db, id, null);
}

async function mark(db: Database, id: string, deletedAt: number | null): Promise<void> {
  const { numUpdatedRows } = await db
    .updateTable('jobs')
    .set({ deleted_at: deletedAt })
    .where('id', '=', id)
    .executeTakeFirst();
  if (numUpdatedRows === 0n) throw unknownJob();
}

/** @throws Refusal 404 where no such job is open for work. */
export async function expectJob(db: Database, id: string): Promise<void> {
  const row = await db
    .selectFrom('jobs')
    .select(['id', 'deleted_at'])
    .where('id', '=', id)
    .executeTakeFirst();
  refuseMissing(row);
}

async function read(trx: Transaction<Schema>, id: string): Promise<{ job: Job; version: number }> {
  const row = await trx
    .selectFrom('jobs')
    .select(['document', 'version', 'deleted_at'])
    .where('id', '=', id)
    .executeTakeFirst();
  refuseMissing(row);
  return { job: JSON.parse(row.document) as Job, version: row.version };
}

function refuseMissing(row: { deleted_at: number | null } | undefined): asserts row {
  if (!row) throw unknownJob();
  if (row.deleted_at !== null) throw new Refusal(404, 'This job has been deleted; restore it to work on it.');
}

function unknownJob(): Refusal {
  return new Refusal(404, 'There is no such job.');
}

/** Edits that led from one version to another, oldest first. */
async function editsBetween(trx: Transaction<Schema>, id: string, from: number, to: number): Promise<Edit[]> {
  if (to <= from) return [];
  const rows = await trx
    .selectFrom('edits')
    .select('edit')
    .where('job_id', '=', id)
    .where('version', '>', from)
    .where('version', '<=', to)
    .orderBy('version')
    .execute();
  return rows.map((row) => JSON.parse(row.edit) as Edit);
}

/**
 * The document after all edits, or what of them no longer fits. An edit that cannot be applied, or that leaves a document
 * which is not valid, is the client's mistake, unless others have changed the document since: then it is a collision.
 */
function attempt(
  job: Job,
  edits: Edit[],
  changedMeanwhile: boolean,
): { job: Job } | { collisions: string[] } {
  const found: string[] = [];
  let next = job;
  try {
    for (const edit of edits) {
      const met = collisions(next, edit);
      // In the very version it was made for, a path that leads nowhere is a mistake, and applying it says which.
      if (met.length === 0) next = applyEdit(next, edit);
      else if (!changedMeanwhile) applyEdit(next, edit);
      found.push(...met);
    }
    if (found.length === 0) return { job: parseJob(next) };
  } catch (error) {
    if (!changedMeanwhile || !(error instanceof TypeError)) throw asRefusal(error);
    found.push(`the change no longer fits: ${error.message}`);
  }
  return { collisions: [...new Set(found)] };
}

function asRefusal(error: unknown): unknown {
  return error instanceof TypeError ? new Refusal(422, error.message) : error;
}

function stored(job: Job): Pick<Schema['jobs'], 'name' | 'document' | 'summary'> {
  const document = JSON.stringify(job);
  if (document.length > LONGEST_DOCUMENT) {
    throw new Refusal(
      413,
      'This job has grown too large to be kept; delete swatches or spectra that are not needed.',
    );
  }
  const count = (things: object) => Object.keys(things).length;
  const counts: Counts = {
    rooms: count(job.rooms),
    surfaces: count(job.surfaces),
    lights: count(job.lights),
    photos: count(job.photos),
    swatches: count(job.swatches),
  };
  const photos = inOrder(job.photos);
  const cover = photos.find((photo) => photo.role === 'room') ?? photos[0];
  const summary: Summary = { counts, coverFileId: cover?.fileId ?? null };
  return { name: job.name, document, summary: JSON.stringify(summary) };
}

/**
 * A batch of edits read from outside. Without `client` and `request` it is taken, but cannot be recognised when sent again.
 * @throws Refusal 422 naming the path.
 */
export function parseEditRequest(value: unknown): EditRequest {
  const given = (typeof value === 'object' && value !== null ? value : {}) as Record<string, unknown>;
  const { base, edits, client = newId(), request = 0 } = given;
  const whole = (n: unknown): n is number => Number.isSafeInteger(n) && (n as number) >= 0;
  if (!whole(base)) throw new Refusal(422, 'base: expected a version number');
  if (!Array.isArray(edits) || edits.length > MOST_EDITS_AT_ONCE) {
    throw new Refusal(422, `edits: expected at most ${MOST_EDITS_AT_ONCE} edits`);
  }
  if (typeof client !== 'string' || !/^[\w-]{8,40}$/.test(client)) {
    throw new Refusal(422, 'client: expected 8-40 letters, digits, - or _');
  }
  if (!whole(request)) throw new Refusal(422, 'request: expected a whole number');
  try {
    return { base, edits: edits.map(parseEdit), client, request };
  } catch (error) {
    throw asRefusal(error);
  }
}
