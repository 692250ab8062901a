import type { Kysely } from 'kysely';
import type { Migration } from 'kysely/migration';

/**
 * Rounds of a client's board with their pictures, the links they are reached by, and the answers to them. Rows are
 * written once: of a link only its revocation is added, of an answer only when it was seen. Times are epoch milliseconds.
 */
export const boards: Migration = {
  async up(db: Kysely<unknown>): Promise<void> {
    await db.schema
      .createTable('boards')
      .addColumn('id', 'text', (c) => c.primaryKey())
      .addColumn('job_id', 'text', (c) => c.notNull().references('jobs.id').onDelete('cascade'))
      .addColumn('round', 'integer', (c) => c.notNull())
      .addColumn('title', 'text', (c) => c.notNull())
      .addColumn('content', 'text', (c) => c.notNull())
      .addColumn('content_hash', 'text', (c) => c.notNull())
      .addColumn('created_at', 'bigint', (c) => c.notNull())
      .addUniqueConstraint('boards_round_once', ['job_id', 'round'])
      .execute();

    await db.schema
      .createTable('board_pictures')
      .addColumn('board_id', 'text', (c) => c.notNull().references('boards.id').onDelete('cascade'))
      .addColumn('picture_id', 'text', (c) => c.notNull())
      .addColumn('hash', 'text', (c) => c.notNull())
      .addColumn('width', 'integer', (c) => c.notNull())
      .addColumn('height', 'integer', (c) => c.notNull())
      .addColumn('bytes', 'bigint', (c) => c.notNull())
      .addPrimaryKeyConstraint('board_pictures_primary', ['board_id', 'picture_id'])
      .execute();

    await db.schema
      .createTable('board_links')
      .addColumn('id', 'text', (c) => c.primaryKey())
      .addColumn('board_id', 'text', (c) => c.notNull().references('boards.id').onDelete('cascade'))
      .addColumn('token_hash', 'text', (c) => c.notNull().unique())
      .addColumn('label', 'text', (c) => c.notNull())
      .addColumn('passphrase_salt', 'text')
      .addColumn('passphrase_hash', 'text')
      .addColumn('created_at', 'bigint', (c) => c.notNull())
      .addColumn('expires_at', 'bigint')
      .addColumn('revoked_at', 'bigint')
      .execute();
    await db.schema.createIndex('board_links_of_board').on('board_links').column('board_id').execute();

    await db.schema
      .createTable('board_answers')
      .addColumn('id', 'text', (c) => c.primaryKey())
      .addColumn('job_id', 'text', (c) => c.notNull().references('jobs.id').onDelete('cascade'))
      .addColumn('number', 'integer', (c) => c.notNull())
      .addColumn('board_id', 'text', (c) => c.notNull().references('boards.id').onDelete('cascade'))
      .addColumn('link_id', 'text', (c) => c.references('board_links.id'))
      .addColumn('content', 'text', (c) => c.notNull())
      .addColumn('content_hash', 'text', (c) => c.notNull())
      .addColumn('received_at', 'bigint', (c) => c.notNull())
      .addColumn('seen_at', 'bigint')
      .addUniqueConstraint('board_answers_numbered', ['job_id', 'number'])
      .execute();
    await db.schema.createIndex('board_answers_of_board').on('board_answers').column('board_id').execute();
    await db.schema
      .createIndex('board_answers_of_link')
      .on('board_answers')
      .columns(['link_id', 'received_at'])
      .execute();
  },
};
