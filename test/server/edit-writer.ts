/** Edits a job without pause and prints each version as it is acknowledged, until it is killed. */
import { setting } from '../../src/lib/job/index.ts';
import { openDatabase } from '../../src/lib/server/database.ts';
import * as jobs from '../../src/lib/server/jobs.ts';

const [folder, id] = process.argv.slice(2);
const db = await openDatabase(folder);
const client = jobs.newId();
for (let request = 1; ; request += 1) {
  const { job, version } = await jobs.load(db, id);
  const edit = setting(job, 'note', [[['note'], String(version + 1)]]);
  const answer = await jobs.applyEdits(db, id, { base: version, edits: [edit], client, request });
  if (!answer.accepted) throw new Error('Nobody else writes here');
  process.stdout.write(`${answer.version}\n`);
}
