import { answer } from '#lib/server/answer.ts';
import * as jobs from '#lib/server/jobs.ts';
import { attachment, scheduleDocument } from '#lib/server/schedule-documents.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params, url }) =>
  answer(async () => {
    const { job } = await jobs.load((await store()).db, params.jobId);
    const { bytes, type, fileName } = await scheduleDocument(job, {
      jobId: params.jobId,
      name: params.document,
      size: url.searchParams.get('size'),
      on: url.searchParams.get('on'),
      now: new Date(),
    });
    return new Response(new Uint8Array(bytes), {
      headers: {
        'content-type': type,
        'content-length': String(bytes.length),
        'content-disposition': attachment(fileName),
        'cache-control': 'private, no-store',
      },
    });
  });
