import type { Kysely } from 'kysely';
import type { Migration } from 'kysely/migration';

/** Jobs with their document, every edit made to them, and the files taken in. Times are epoch milliseconds. */
export const jobsEditsFiles: Migration = {
  async up(db: Kysely<unknown>): Promise<void> {
    await db.schema
      .createTable('jobs')
      .addColumn('id', 'text', (c) => c.primaryKey())
      .addColumn('name', 'text', (c) => c.notNull())
      .addColumn('document', 'text', (c) => c.notNull())
      .addColumn('summary', 'text', (c) => c.notNull())
      .addColumn('version', 'integer', (c) => c.notNull())
      .addColumn('created_at', 'bigint', (c) => c.notNull())
      .addColumn('updated_at', 'bigint', (c) => c.notNull())
      .addColumn('deleted_at', 'bigint')
      .execute();

    await db.schema
      .createTable('edits')
      .addColumn('job_id', 'text', (c) => c.notNull().references('jobs.id').onDelete('cascade'))
      .addColumn('version', 'integer', (c) => c.notNull())
      .addColumn('edit', 'text', (c) => c.notNull())
      .addColumn('at', 'bigint', (c) => c.notNull())
      .addColumn('client', 'text', (c) => c.notNull())
      .addColumn('request', 'bigint', (c) => c.notNull())
      .addColumn('part', 'integer', (c) => c.notNull())
      .addPrimaryKeyConstraint('edits_primary', ['job_id', 'version'])
      .addUniqueConstraint('edits_sent_once', ['job_id', 'client', 'request', 'part'])
      .execute();

    await db.schema
      .createTable('files')
      .addColumn('id', 'text', (c) => c.primaryKey())
      .addColumn('job_id', 'text', (c) => c.notNull().references('jobs.id').onDelete('cascade'))
      .addColumn('name', 'text', (c) => c.notNull())
      .addColumn('state', 'text', (c) => c.notNull())
      .addColumn('width', 'integer', (c) => c.notNull())
      .addColumn('height', 'integer', (c) => c.notNull())
      .addColumn('space', 'text', (c) => c.notNull())
      .addColumn('original_width', 'integer', (c) => c.notNull())
      .addColumn('original_height', 'integer', (c) => c.notNull())
      .addColumn('original_bytes', 'bigint', (c) => c.notNull())
      .addColumn('notes', 'text', (c) => c.notNull())
      .addColumn('created_at', 'bigint', (c) => c.notNull())
      .execute();
    await db.schema.createIndex('files_of_job').on('files').column('job_id').execute();
  },
};
