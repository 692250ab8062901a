/** Bodies of requests about boards, read no further than they may go: rounds with pictures, answers as JSON or as a form. */
import { MOST_BYTES, MOST_PICTURES } from './board-pictures.ts';
import { Refusal } from './refusal.ts';

/** Content and pictures of a round together, bytes. */
const MOST_OF_ROUND = 60_000_000;
/** Longest answer, bytes. */
const MOST_OF_ANSWER = 64_000;

/**
 * The bytes of a body. What is too much is let go by for a while, so that the sender gets to hear why.
 * @throws Refusal 413 with the sentence given.
 */
export async function readBody(request: Request, most: number, sentence: string): Promise<Buffer> {
  const chunks: Uint8Array[] = [];
  let length = 0;
  const reader = request.body?.getReader();
  while (reader) {
    const { done, value } = await reader.read();
    if (done) break;
    length += value.length;
    if (length <= most) chunks.push(value);
    else if (length > 2 * most + 1_000_000) break;
  }
  if (length > most) throw new Refusal(413, sentence);
  return Buffer.concat(chunks);
}

/**
 * A round as the studio sends it: multipart, `content` as JSON, and each picture as a file `picture` named by its id.
 * @throws Refusal 400, 413 or 422.
 */
export async function readRound(
  request: Request,
): Promise<{ content: unknown; pictures: Map<string, Buffer> }> {
  const type = request.headers.get('content-type') ?? '';
  if (!/^multipart\/form-data;/i.test(type))
    throw new Refusal(400, 'Expected a form with the board and its pictures in the body of this request.');
  const body = await readBody(
    request,
    MOST_OF_ROUND,
    `A board with its pictures may be ${MOST_OF_ROUND / 1e6} MB; leave some out or send them smaller.`,
  );
  const form = await formOf(body, type);
  const pictures = new Map<string, Buffer>();
  for (const entry of form.getAll('picture')) {
    if (typeof entry === 'string') throw new Refusal(422, 'picture: expected a file named by its id');
    const { name: id, size } = entry;
    if (pictures.has(id)) throw new Refusal(422, `pictures.${id}: expected each picture once`);
    if (size > MOST_BYTES)
      throw new Refusal(413, `pictures.${id}: expected at most ${MOST_BYTES / 1e6} MB, got ${size} bytes`);
    if (pictures.size >= MOST_PICTURES) throw new Refusal(422, `pictures: expected at most ${MOST_PICTURES}`);
    pictures.set(id, Buffer.from(await entry.arrayBuffer()));
  }
  const content = form.get('content');
  if (content === null) throw new Refusal(422, 'content: expected the board as JSON');
  return { content: asJson(typeof content === 'string' ? content : await content.text()), pictures };
}

/**
 * An answer: JSON `{hash?, answer}`, or the form of a page without script, with `name`, `comment`, `hash`, and for each
 * surface `verdict.<id>` (of two to choose from `yes:` and the swatch), `comment.<id>` and `pin.<id>` (page, x and y with
 * commas).
 * @throws Refusal 400, 413 or 422.
 */
export async function readAnswer(request: Request): Promise<{ value: unknown; hash: string | null }> {
  const type = request.headers.get('content-type') ?? '';
  const tooLong = 'This answer is longer than one may be; shorten the comments.';
  const body = await readBody(request, MOST_OF_ANSWER, tooLong);
  if (!isForm(request)) {
    const given = asJson(body.toString('utf8'));
    const { answer, hash } = (typeof given === 'object' && given !== null ? given : {}) as Record<
      string,
      unknown
    >;
    return { value: answer, hash: typeof hash === 'string' ? hash : null };
  }
  const form = await formOf(body, type);
  const field = (name: string) => {
    const value = form.get(name);
    return typeof value === 'string' ? value.replaceAll('\r\n', '\n') : '';
  };
  const value = { name: field('name'), comment: field('comment'), surfaces: surfacesOf(form, field) };
  return { value, hash: field('hash') || null };
}

/** The passphrase of a form, '' where there is none. @throws Refusal 400 or 413. */
export async function readPassphrase(request: Request): Promise<string> {
  const body = await readBody(request, 4000, 'This is no passphrase.');
  if (!isForm(request)) throw new Refusal(400, 'Expected the form of the page that asks for the passphrase.');
  const given = (await formOf(body, request.headers.get('content-type') ?? '')).get('passphrase');
  return typeof given === 'string' ? given : '';
}

/** Whether a page sent this by itself, without a script that could read the answer. */
export function isForm(request: Request): boolean {
  const type = request.headers.get('content-type') ?? '';
  return /^(?:application\/x-www-form-urlencoded|multipart\/form-data)\b/i.test(type);
}

/** What a form says of each surface; one that it says nothing of is left out. */
function surfacesOf(form: FormData, field: (name: string) => string): Record<string, unknown> {
  const ids = new Set<string>();
  for (const name of form.keys()) {
    const id = /^(?:verdict|comment|pin)\.(.+)$/.exec(name)?.[1];
    if (id) ids.add(id);
  }
  const said = [...ids].flatMap((id): [string, unknown][] => {
    const [chosen, comment, pin] = ['verdict', 'comment', 'pin'].map((part) => field(`${part}.${id}`));
    if (!chosen && !comment && !pin) return [];
    const [, verdict, swatch] = /^([^:]*)(?::(.*))?$/s.exec(chosen)!;
    return [[id, { verdict, swatchId: swatch ?? null, comment, pin: pinOf(pin) }]];
  });
  return Object.fromEntries(said);
}

function pinOf(text: string): unknown {
  if (text === '') return null;
  const [page, x, y] = text.split(',').map(Number);
  return { page, x, y };
}

async function formOf(body: Buffer, type: string): Promise<FormData> {
  try {
    return await new Response(new Uint8Array(body), { headers: { 'content-type': type } }).formData();
  } catch {
    throw new Refusal(400, 'This form could not be read; it may have been cut off. Send it again.');
  }
}

function asJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    throw new Refusal(400, 'Expected JSON in the body of this request.');
  }
}
