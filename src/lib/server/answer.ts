import { json } from '@sveltejs/kit';
import { Refusal } from './refusal.ts';

/** Longest JSON body read, bytes. */
const LONGEST_BODY = 24_000_000;

/** Runs a route and turns a refusal into its answer: `{error}` with one sentence, under the refusal's status. */
export async function answer(route: () => Promise<Response>): Promise<Response> {
  try {
    return await route();
  } catch (error) {
    if (error instanceof Refusal) return json({ error: error.message }, { status: error.status });
    throw error;
  }
}

/**
 * The JSON body of a request, read no further than 24 MB.
 * @throws Refusal 413 or 400.
 */
export async function readJson(request: Request): Promise<Record<string, unknown>> {
  const chunks: Uint8Array[] = [];
  let length = 0;
  const reader = request.body?.getReader();
  while (reader) {
    const { done, value } = await reader.read();
    if (done) break;
    length += value.length;
    // What is too much is let go by, so that the sender gets to hear why, but not without end.
    if (length <= LONGEST_BODY) chunks.push(value);
    else if (length > 4 * LONGEST_BODY) break;
  }
  if (length > LONGEST_BODY) {
    throw new Refusal(413, 'This is more than one request may hold; send fewer changes at once.');
  }
  let value: unknown;
  try {
    value = JSON.parse(Buffer.concat(chunks).toString('utf8') || '{}');
  } catch {
    throw new Refusal(400, 'Expected JSON in the body of this request.');
  }
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    throw new Refusal(400, 'Expected a JSON object in the body of this request.');
  }
  return value as Record<string, unknown>;
}
