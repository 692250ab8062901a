import { answer, readJson } from '#lib/server/answer.ts';
import * as jobs from '#lib/server/jobs.ts';
import { Refusal } from '#lib/server/refusal.ts';
import { createSampleJob } from '#lib/server/sample.ts';
import { store } from '#lib/server/store.ts';
import { json, type RequestHandler } from '@sveltejs/kit';

const LONGEST_NAME = 160;

export const GET: RequestHandler = () => answer(async () => json(await jobs.list((await store()).db)));

export const POST: RequestHandler = ({ request }) =>
  answer(async () => {
    const { name, sample } = await readJson(request);
    const opened = await store();
    if (sample === true) return json({ id: await createSampleJob(opened) }, { status: 201 });
    if (typeof name !== 'string' || !name.trim() || name.length > LONGEST_NAME) {
      throw new Refusal(422, `name: expected 1-${LONGEST_NAME} characters`);
    }
    return json({ id: await jobs.create(opened.db, name.trim()) }, { status: 201 });
  });
