import { Readable } from 'node:stream';
import { answer } from '#lib/server/answer.ts';
import * as files from '#lib/server/files.ts';
import { store } from '#lib/server/store.ts';
import type { RequestHandler } from './$types';

export const GET: RequestHandler = ({ params }) =>
  answer(async () => {
    const { stream, bytes, type } = await files.open(await store(), params.fileId, params.rendition);
    return new Response(Readable.toWeb(stream) as ReadableStream, {
      headers: {
        'content-type': type,
        'content-length': String(bytes),
        // A file never changes under its id.
        'cache-control': 'private, max-age=31536000, immutable',
      },
    });
  });
