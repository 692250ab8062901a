import path from 'node:path';
import { DatabaseSync, type SQLInputValue } from 'node:sqlite';
import {
  CompiledQuery,
  Kysely,
  SqliteAdapter,
  SqliteDialect,
  SqliteDriver,
  type DatabaseConnection,
  type Dialect,
  type SqliteDatabase,
} from 'kysely';
import { Migrator, type Migration } from 'kysely/migration';
import { jobsEditsFiles } from './migrations/001-jobs-edits-files.ts';
import { boards } from './migrations/002-boards.ts';

/**
 * The tables. Column types are the ones SQLite and PostgreSQL share: text (ids, JSON), integer, bigint epoch
 * milliseconds, double precision; no booleans and no dates, which the two bind differently.
 */
export interface Schema {
  jobs: {
    id: string;
    name: string;
    document: string;
    summary: string;
    version: number;
    created_at: number;
    updated_at: number;
    deleted_at: number | null;
  };
  edits: {
    job_id: string;
    /** Version of the job after this edit; the first edit makes version 1. */
    version: number;
    edit: string;
    at: number;
    client: string;
    /** The client's own number of the request, and the place of the edit in it. */
    request: number;
    part: number;
  };
  files: {
    id: string;
    job_id: string;
    name: string;
    state: 'ready';
    width: number;
    height: number;
    space: string;
    original_width: number;
    original_height: number;
    original_bytes: number;
    notes: string;
    created_at: number;
  };
  /** Rounds: what clients were shown, never changed once written. */
  boards: {
    id: string;
    job_id: string;
    round: number;
    title: string;
    content: string;
    /** SHA-256 of the content's canonical text, hexadecimal. */
    content_hash: string;
    created_at: number;
  };
  board_pictures: {
    board_id: string;
    /** Its name in the content. */
    picture_id: string;
    /** SHA-256 of the picture as it was sent, hexadecimal. */
    hash: string;
    width: number;
    height: number;
    bytes: number;
  };
  board_links: {
    id: string;
    board_id: string;
    /** SHA-256 of the token; the token itself is nowhere. */
    token_hash: string;
    label: string;
    passphrase_salt: string | null;
    passphrase_hash: string | null;
    created_at: number;
    expires_at: number | null;
    revoked_at: number | null;
  };
  board_answers: {
    id: string;
    job_id: string;
    /** Counted through the job from 1, in the order received. */
    number: number;
    board_id: string;
    /** Null where the designer pasted it. */
    link_id: string | null;
    content: string;
    /** Hash of the round that was answered. */
    content_hash: string;
    received_at: number;
    seen_at: number | null;
  };
}

export type Database = Kysely<Schema>;

/** In the order they are run; never edited once landed. */
const MIGRATIONS: Record<string, Migration> = {
  '001-jobs-edits-files': jobsEditsFiles,
  '002-boards': boards,
};

class TransactionalAdapter extends SqliteAdapter {
  // Kysely runs SQLite migrations outside a transaction unless told that SQLite can do it inside; a failing migration
  // would otherwise be left half applied.
  override get supportsTransactionalDdl(): boolean {
    return true;
  }
}

class WritingDriver extends SqliteDriver {
  // A transaction that reads first and writes later fails at once, without waiting, when another process wrote in
  // between; taking the write lock from the start makes it wait its turn instead.
  override async beginTransaction(connection: DatabaseConnection): Promise<void> {
    await connection.executeQuery(CompiledQuery.raw('begin immediate'));
  }
}

function sqliteDialect(file: string): Dialect {
  const db = new DatabaseSync(file);
  db.exec(
    'pragma journal_mode = wal; pragma synchronous = full; pragma foreign_keys = on; pragma busy_timeout = 5000;',
  );
  const bind = (values: readonly unknown[]) => values.map(bindable);
  const database: SqliteDatabase = {
    close: () => db.close(),
    prepare(sql) {
      const statement = db.prepare(sql);
      return {
        reader: statement.columns().length > 0,
        all: (parameters) => statement.all(...bind(parameters)),
        run: (parameters) => statement.run(...bind(parameters)),
        iterate: (parameters) => statement.iterate(...bind(parameters)) as IterableIterator<unknown>,
      };
    },
  };
  class Sqlite extends SqliteDialect {
    override createAdapter() {
      return new TransactionalAdapter();
    }
    override createDriver() {
      return new WritingDriver({ database });
    }
  }
  return new Sqlite({ database });
}

/** node:sqlite would store a Date as NULL and a boolean as a number, both without a word. */
function bindable(value: unknown): SQLInputValue {
  if (value === null || typeof value === 'string' || typeof value === 'bigint') return value;
  if (typeof value === 'number' && Number.isFinite(value)) return value;
  throw new TypeError(`Expected a text, a finite number or null for a column, got ${typeof value} ${value}`);
}

/** Opens the database of a data folder and brings its tables up to date. Acknowledged writes survive a crash. */
export async function openDatabase(folder: string): Promise<Database> {
  const db = new Kysely<Schema>({ dialect: sqliteDialect(path.join(folder, 'brushout.sqlite')) });
  await migrate(db, MIGRATIONS);
  return db;
}

/**
 * Runs the migrations that have not been run; each whole or not at all.
 * @throws the first error met, after everything of the failing run has been taken back.
 */
export async function migrate(db: Kysely<Schema>, migrations: Record<string, Migration>): Promise<void> {
  const migrator = new Migrator({ db, provider: { getMigrations: async () => migrations } });
  const { error } = await migrator.migrateToLatest();
  if (error) throw error;
}
