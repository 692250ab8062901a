import { answer, readJson } from '#lib/server/answer.ts';
import * as jobs from '#lib/server/jobs.ts';
import { store } from '#lib/server/store.ts';
import { json } from '@sveltejs/kit';
import type { RequestHandler } from './$types';

export const POST: RequestHandler = ({ params, request }) =>
  answer(async () => {
    const sent = jobs.parseEditRequest(await readJson(request));
    const outcome = await jobs.applyEdits((await store()).db, params.jobId, sent);
    if (outcome.accepted) return json({ version: outcome.version, edits: outcome.edits });
    const { collisions, job, version } = outcome;
    const error = `The job was changed in another place meanwhile: ${collisions.join('; ')}.`;
    return json({ error, collisions, job, version }, { status: 409 });
  });
