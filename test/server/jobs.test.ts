import { spawn } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { setting, type Edit, type Job } from '../../src/lib/job/index.ts';
import { migrate, openDatabase, type Database } from '../../src/lib/server/database.ts';
import * as jobs from '../../src/lib/server/jobs.ts';
import { Refusal } from '../../src/lib/server/refusal.ts';

const WRITER = path.resolve(import.meta.dirname, 'edit-writer.ts');

let folder: string;
let db: Database;
beforeEach(async () => {
  folder = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-jobs-'));
  db = await openDatabase(folder);
});
afterEach(async () => {
  await db.destroy();
  fs.rmSync(folder, { recursive: true, force: true });
});

const room = (id: string, name: string) => ({ id, order: 1, name, note: '' });
let numbered = 0;

/** A request as a client of its own sends it. */
function request(base: number, edits: Edit[], over: Partial<jobs.EditRequest> = {}): jobs.EditRequest {
  return { base, edits, client: 'client-one', request: (numbered += 1), ...over };
}

const addRoom = (job: Job, id: string, name = id) =>
  setting(job, `add ${name}`, [[['rooms', id], room(id, name)]]);
const rename = (job: Job, id: string, name: string) =>
  setting(job, 'rename', [[['rooms', id, 'name'], name]]);

describe('jobs', () => {
  test('a new job is listed and loaded as it was made', async () => {
    const id = await jobs.create(db, 'Kitchen');
    expect(id).toMatch(/^[\w-]{22}$/);
    const [summary] = await jobs.list(db);
    expect(summary).toMatchObject({
      id,
      name: 'Kitchen',
      version: 0,
      deletedAt: null,
      counts: { rooms: 0, swatches: 0 },
    });
    expect(Math.abs(summary.createdAt - Date.now())).toBeLessThan(10_000);
    expect(await jobs.load(db, id)).toMatchObject({
      version: 0,
      recent: [],
      job: { name: 'Kitchen', format: 1 },
    });
  });

  test('a thousand identifiers are all different and safe in a URL', () => {
    const ids = Array.from({ length: 1000 }, jobs.newId);
    expect(new Set(ids).size).toBe(1000);
    for (const id of ids) expect(id).toMatch(/^[A-Za-z0-9_-]{22}$/);
  });

  test('a deleted job is listed as deleted, cannot be worked on, and comes back whole', async () => {
    const id = await jobs.create(db, 'Kitchen');
    const { job } = await jobs.load(db, id);
    await jobs.applyEdits(db, id, request(0, [addRoom(job, 'k')]));
    await jobs.remove(db, id);
    expect((await jobs.list(db))[0].deletedAt).toBeGreaterThan(0);
    await expect(jobs.load(db, id)).rejects.toThrow(/deleted; restore it/);
    await expect(jobs.applyEdits(db, id, request(1, [addRoom(job, 'b')]))).rejects.toThrow(/deleted/);
    await jobs.restore(db, id);
    expect((await jobs.load(db, id)).job.rooms.k.name).toBe('k');
  });

  test('what is not there is said in words', async () => {
    for (const attempt of [
      jobs.load(db, 'x'),
      jobs.remove(db, 'x'),
      jobs.restore(db, 'x'),
      jobs.expectJob(db, 'x'),
    ]) {
      await expect(attempt).rejects.toMatchObject({ status: 404, message: 'There is no such job.' });
    }
  });

  test('recent edits are the last fifty, oldest first', async () => {
    const id = await jobs.create(db, 'Kitchen');
    let { job } = await jobs.load(db, id);
    for (let i = 0; i < 60; i += 1) {
      const edit = setting(job, `note ${i}`, [[['note'], String(i)]]);
      await jobs.applyEdits(db, id, request(i, [edit]));
      ({ job } = await jobs.load(db, id));
    }
    const { recent, version } = await jobs.load(db, id);
    expect(version).toBe(60);
    expect(recent.map((edit) => edit.label)).toEqual(Array.from({ length: 50 }, (_, i) => `note ${i + 10}`));
  });
});

describe('edits', () => {
  let id: string;
  let job: Job;
  beforeEach(async () => {
    id = await jobs.create(db, 'Flat');
    await jobs.applyEdits(db, id, request(0, [addRoom((await jobs.load(db, id)).job, 'k', 'Kitchen')]));
    ({ job } = await jobs.load(db, id));
  });

  test('a batch moves the version by its length and the list by its name', async () => {
    const answer = await jobs.applyEdits(
      db,
      id,
      request(1, [addRoom(job, 'b', 'Bath'), setting(job, 'rename job', [[['name'], 'Canal flat']])]),
    );
    expect(answer).toEqual({ accepted: true, version: 3, edits: [] });
    expect((await jobs.list(db))[0]).toMatchObject({ name: 'Canal flat', version: 3, counts: { rooms: 2 } });
  });

  test('an edit made for an older version is rebased, and its client told what it missed', async () => {
    const theirs = addRoom(job, 'b', 'Bath');
    await jobs.applyEdits(db, id, request(1, [theirs], { client: 'client-two' }));
    const ours = rename(job, 'k', 'Cuisine');
    const answer = await jobs.applyEdits(db, id, request(1, [ours]));
    expect(answer).toEqual({ accepted: true, version: 3, edits: [theirs] });
    const { rooms } = (await jobs.load(db, id)).job;
    expect([rooms.k.name, rooms.b.name]).toEqual(['Cuisine', 'Bath']);
  });

  test('edits of the same place collide: nothing is applied and the collision is put in words', async () => {
    await jobs.applyEdits(db, id, request(1, [rename(job, 'k', 'Cuisine')], { client: 'client-two' }));
    const answer = await jobs.applyEdits(db, id, request(1, [addRoom(job, 'b'), rename(job, 'k', 'Küche')]));
    expect(answer).toMatchObject({ accepted: false, version: 2 });
    if (answer.accepted) throw new Error('unreachable');
    expect(answer.collisions).toEqual(['the name of “Cuisine” has been changed meanwhile']);
    expect(answer.job.rooms.k.name).toBe('Cuisine');
    const now = await jobs.load(db, id);
    expect(now.version).toBe(2);
    expect(now.job.rooms.b).toBeUndefined();
  });

  test('an edit inside something deleted meanwhile is a collision, not a fault', async () => {
    await jobs.applyEdits(
      db,
      id,
      request(1, [setting(job, 'delete', [[['rooms', 'k'], undefined]])], { client: 'client-two' }),
    );
    const light = { id: 'l', order: 1, roomId: 'k', name: 'day', parts: [], illuminance: 500 };
    for (const edit of [
      rename(job, 'k', 'Cuisine'),
      setting(job, 'add a light', [[['lights', 'l'], light]]),
      { label: 'odd', changes: [{ path: ['rooms', 'k', 'extra'], now: 1 }] },
    ]) {
      const answer = await jobs.applyEdits(db, id, request(1, [edit]));
      expect(answer.accepted, edit.label).toBe(false);
      if (!answer.accepted) expect(answer.collisions.length).toBeGreaterThan(0);
    }
    expect((await jobs.load(db, id)).version).toBe(2);
  });

  test('a request sent again is answered and not applied again', async () => {
    const sent = request(1, [addRoom(job, 'b'), rename(job, 'k', 'Cuisine')]);
    const first = await jobs.applyEdits(db, id, sent);
    expect(await jobs.applyEdits(db, id, structuredClone(sent))).toEqual(first);
    // Also when others have worked meanwhile: they are told, our own edits are not.
    const theirs = setting(job, 'note', [[['note'], 'theirs']]);
    await jobs.applyEdits(db, id, request(3, [theirs], { client: 'client-two' }));
    expect(await jobs.applyEdits(db, id, sent)).toEqual({ accepted: true, version: 4, edits: [theirs] });
    // And when it comes with more edits behind those it had: only the new ones are applied.
    const longer = { ...sent, edits: [...sent.edits, addRoom(job, 'h')] };
    expect(await jobs.applyEdits(db, id, longer)).toEqual({ accepted: true, version: 5, edits: [theirs] });
    expect(Object.keys((await jobs.load(db, id)).job.rooms).sort()).toEqual(['b', 'h', 'k']);
  });

  test('a request number used for other edits is refused', async () => {
    const sent = request(1, [addRoom(job, 'b')]);
    await jobs.applyEdits(db, id, sent);
    await expect(jobs.applyEdits(db, id, { ...sent, edits: [addRoom(job, 'c')] })).rejects.toThrow(
      /^request: expected/,
    );
  });

  test('an empty request asks what others did', async () => {
    const theirs = addRoom(job, 'b');
    await jobs.applyEdits(db, id, request(1, [theirs], { client: 'client-two' }));
    expect(await jobs.applyEdits(db, id, request(1, []))).toEqual({
      accepted: true,
      version: 2,
      edits: [theirs],
    });
  });

  test('a document that would not be valid is refused with the path', async () => {
    const wrong = (path: string[], now: unknown) => setting(job, 'wrong', [[path, now]]);
    const cases: [Edit, RegExp][] = [
      [wrong(['rooms', 'k', 'name'], 7), /^rooms\.k\.name: /],
      [wrong(['rooms', 'k', 'colour'], 'blue'), /rooms\.k: .*colour/],
      [wrong(['finishBy'], 'soon'), /^finishBy: /],
      [wrong(['rooms', 'b'], room('other', 'x')), /^rooms\.b\.id: expected the id it is filed under/],
      [wrong(['format'], 2), /^format: /],
      [{ label: 'nowhere', changes: [{ path: ['rooms', 'z', 'name'], now: 'x' }] }, /rooms\.z/],
    ];
    for (const [edit, words] of cases) {
      const error = await jobs.applyEdits(db, id, request(1, [edit])).catch((reason: unknown) => reason);
      expect(error).toBeInstanceOf(Refusal);
      expect(error).toMatchObject({ status: 422, message: expect.stringMatching(words) });
    }
    expect((await jobs.load(db, id)).version).toBe(1);
  });

  test('what a client sends is read with care', () => {
    const good = { base: 1, edits: [], client: 'client-one', request: 1 };
    expect(jobs.parseEditRequest(good)).toEqual(good);
    const bad: [object, RegExp][] = [
      [{ ...good, base: -1 }, /^base/],
      [{ ...good, base: '1' }, /^base/],
      [{ ...good, edits: 'x' }, /^edits/],
      [{ ...good, edits: [{ label: 'x', changes: [{ path: ['__proto__', 'x'], now: 1 }] }] }, /plain keys/],
      [{ ...good, edits: Array(501).fill({ label: '', changes: [] }) }, /at most 500/],
      [{ ...good, client: 'x' }, /^client/],
      [{ ...good, request: 1.5 }, /^request/],
    ];
    for (const [sent, words] of bad) expect(() => jobs.parseEditRequest(sent)).toThrow(words);
    expect(({} as Record<string, unknown>).x).toBeUndefined();
  });

  test('a version from the future is refused', async () => {
    await expect(jobs.applyEdits(db, id, request(9, [rename(job, 'k', 'x')]))).rejects.toThrow(
      /^base: expected at most 1/,
    );
  });

  test('many clients at once, and another process: every edit lands once', async () => {
    // The other process changes the note without pause; here, forty clients add a room each.
    const other = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', WRITER, folder, id], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const closed = new Promise((resolve) => other.on('close', resolve));
    await new Promise((resolve) => other.stdout.once('data', resolve));
    const work = Array.from({ length: 40 }, (_, i) =>
      jobs.applyEdits(db, id, request(1, [addRoom(job, `r${i}`)], { client: `client-${i}-x` })),
    );
    const answers = await Promise.all(work);
    other.kill('SIGKILL');
    await closed;
    expect(answers.every((answer) => answer.accepted)).toBe(true);
    expect(new Set(answers.map((answer) => answer.version)).size).toBe(40);
    const loaded = await jobs.load(db, id);
    expect(Object.keys(loaded.job.rooms)).toHaveLength(41);
    const edits = await db
      .selectFrom('edits')
      .select('version')
      .where('job_id', '=', id)
      .orderBy('version')
      .execute();
    expect(edits.map((row) => row.version)).toEqual(Array.from({ length: loaded.version }, (_, i) => i + 1));
    expect(loaded.version).toBeGreaterThanOrEqual(42);
  });
});

describe('durability', () => {
  test('an edit that was acknowledged survives kill -9 at any moment', async () => {
    const id = await jobs.create(db, 'Flat');
    let before = 0;
    for (let round = 0; round < 6; round += 1) {
      const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', WRITER, folder, id], {
        stdio: ['ignore', 'pipe', 'inherit'],
      });
      const closed = new Promise((resolve) => child.on('close', resolve));
      let acknowledged = before;
      let text = '';
      await new Promise<void>((resolve, reject) => {
        child.on('error', reject);
        child.stdout.on('data', (chunk) => {
          text += chunk;
          const lines = text.split('\n').slice(0, -1);
          if (lines.length > 0) acknowledged = Number(lines.at(-1));
          if (lines.length > 8 + 3 * round) resolve();
        });
        child.on('close', () => resolve());
      });
      child.kill('SIGKILL');
      await closed;
      const lines = text.split('\n').slice(0, -1);
      acknowledged = Number(lines.at(-1));
      expect(acknowledged).toBeGreaterThan(before);
      const again = await openDatabase(folder);
      const { version, job } = await jobs.load(again, id);
      const { rows } = await again.executeQuery<{ integrity_check: string }>(
        (await import('kysely')).CompiledQuery.raw('pragma integrity_check'),
      );
      await again.destroy();
      expect(rows[0].integrity_check).toBe('ok');
      expect(version).toBeGreaterThanOrEqual(acknowledged);
      // The document and the edits were written together: the note names the version.
      expect(job.note).toBe(String(version));
      before = version;
    }
  });
});

describe('the database', () => {
  test('a migration that fails leaves nothing of itself behind', async () => {
    const failing = {
      '001-jobs-edits-files': { up: async () => {} },
      '002-boards': { up: async () => {} },
      '003-half': {
        up: async (kysely: Database) => {
          await kysely.schema.createTable('half').addColumn('id', 'text').execute();
          throw new Error('stopped half way');
        },
      },
    };
    await expect(migrate(db, failing)).rejects.toThrow('stopped half way');
    const tables = await db.introspection.getTables();
    expect(tables.map((table) => table.name)).not.toContain('half');
  });

  test('values the two databases bind differently are refused', async () => {
    const insert = (value: unknown) =>
      db
        .updateTable('jobs')
        .set({ name: value as string })
        .execute();
    for (const value of [true, new Date(0), Number.NaN, [1], { a: 1 }]) {
      await expect(insert(value)).rejects.toThrow(TypeError);
    }
  });

  test('writes are synchronous and foreign keys kept', async () => {
    const { CompiledQuery } = await import('kysely');
    const pragma = async (name: string) =>
      Object.values((await db.executeQuery(CompiledQuery.raw(`pragma ${name}`))).rows[0] as object)[0];
    expect(await pragma('journal_mode')).toBe('wal');
    // 2 is FULL (SQLite, pragma synchronous).
    expect(await pragma('synchronous')).toBe(2);
    expect(await pragma('foreign_keys')).toBe(1);
    const row = { job_id: 'nobody', version: 1, edit: '{}', at: 0, client: 'x', request: 0, part: 0 };
    await expect(db.insertInto('edits').values(row).execute()).rejects.toThrow(/FOREIGN KEY/);
  });
});
