/**
 * The door of a client's link. Who comes without a token that leads somewhere hears the same, whether it never did, was
 * revoked or has expired; who comes with one sees its round and nothing else of the job.
 */
import { gzip } from 'node:zlib';
import { promisify } from 'node:util';
import * as links from './board-links.ts';
import { escaped } from './board-markup.ts';
import { PICTURE_TYPES, open, type PictureType } from './board-pictures.ts';
import { Allowance, Wait, addressKey } from './board-rates.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** Sent with everything behind a link. */
const DOOR_HEADERS: Readonly<Record<string, string>> = {
  'x-robots-tag': 'noindex, nofollow, noarchive',
  'cache-control': 'private, no-store',
};

/** Cookie that proves that the passphrase was given; bound to the path of its link. */
export const PASS = 'board-pass';

/** Links tried in vain from one address: twenty at once, then one every three seconds. */
const misses = new Allowance({ most: 20, every: 3000 });

const GONE = 'This board is not (or no longer) here.';
const ASK = 'Ask whoever sent you the link for a new one.';

export interface Visit {
  token: string;
  address: string;
  pass: string | undefined;
  now: number;
}

/** Somebody who stands before the passphrase. */
export class Locked extends Refusal {
  constructor() {
    super(403, 'This board asks for a passphrase; open its link and give it there.');
  }
}

/**
 * The link of a token.
 * @throws Refusal 404 where it leads nowhere, for whatever reason; Wait after too many of those. A good link is not refused
 * for what others at the same address do.
 */
export async function knock({ db }: Store, { token, address, now }: Visit): Promise<links.OpenLink> {
  const link = await links.find(db, token, now);
  if (link) return link;
  const wait = misses.take(addressKey(address), now);
  if (wait > 0) throw new Wait(wait / 1000, 'Too many links were tried from here; wait a little.');
  throw new Refusal(404, `${GONE} ${ASK}`);
}

/** The link of a token whose passphrase, where it has one, was given. @throws as `knock`, and Locked. */
export async function enter(store: Store, visit: Visit): Promise<links.OpenLink> {
  const link = await knock(store, visit);
  if (!links.admits(link, visit.pass, visit.now)) throw new Locked();
  return link;
}

/**
 * Runs a route behind a link. A refusal is answered as a page with its sentence, or as JSON where a script asks. `written`:
 * somebody wrote what is refused, and will want it back.
 */
export async function behindDoor(
  { script, written }: { script: boolean; written: boolean },
  route: () => Promise<Response>,
): Promise<Response> {
  try {
    const response = await route();
    for (const [name, value] of Object.entries(DOOR_HEADERS))
      if (!response.headers.has(name)) response.headers.set(name, value);
    return response;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const headers: Record<string, string> = { ...DOOR_HEADERS };
    if (error instanceof Wait) headers['retry-after'] = String(error.seconds);
    const { status, message } = error;
    if (script) return Response.json({ error: message }, { status, headers });
    const [, title, rest] = /^(.*?[^.])(?:[;.] +(.*))?$/s.exec(message.replace(/\.$/, ''))!;
    const sentences = rest ? [`${rest[0].toUpperCase()}${rest.slice(1)}.`] : [];
    if (written && status !== 404) sentences.push('Go back in your browser to what you wrote.');
    return doorPage({ title, sentences }, { status, headers });
  }
}

/** The page that asks for the passphrase, with what was wrong with the last one. */
export function passphrasePage(action: string, wrong: string | null): Response {
  const form = `<form method="post" action="${escaped(action)}">
<label for="passphrase">Passphrase</label>
<input id="passphrase" name="passphrase" type="password" required maxlength="200" autocomplete="off" autocapitalize="none" autofocus${wrong ? ' aria-describedby="wrong"' : ''}>
<button>Open the board</button>
</form>`;
  const sentences = wrong ? [] : ['Whoever sent you the link has the passphrase.'];
  const title = 'This board asks for a passphrase';
  const options = { status: wrong ? 403 : 200, headers: { ...DOOR_HEADERS } };
  const said = wrong ? `<p id="wrong" role="alert">${escaped(wrong)}</p>` : '';
  return doorPage({ title, sentences, extra: said + form }, options);
}

const STYLE = `body{margin:0;background:#e2e2e2;color:#1c1c1c;font:1.05rem/1.5 system-ui,sans-serif}
main{max-width:28rem;margin:0 auto;padding:4rem 1.25rem}h1{font-size:1.4rem;line-height:1.25;margin:0 0 1rem}
label{display:block;margin:1.25rem 0 .25rem}input,button{box-sizing:border-box;width:100%;font:inherit;padding:.65rem .75rem;border:1px solid #6b6b6b;border-radius:2px;background:#fff;color:inherit}
button{margin-top:.75rem;background:#1c1c1c;color:#fff}:focus-visible{outline:3px solid #1c1c1c;outline-offset:2px}`;
const POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

function doorPage(
  page: { title: string; sentences: string[]; extra?: string },
  { status, headers }: { status: number; headers: Record<string, string> },
): Response {
  const { title, sentences, extra = '' } = page;
  // A form sent under `no-referrer` comes with the origin `null`, which the studio refuses.
  const html = `<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="robots" content="noindex"><meta name="referrer" content="same-origin"><title>${escaped(title)}</title><style>${STYLE}</style></head>
<body><main><h1>${escaped(title)}</h1>${sentences.map((sentence) => `<p>${escaped(sentence)}</p>`).join('')}${extra}</main></body>
</html>
`;
  const sent = { ...headers, 'content-type': 'text/html; charset=utf-8', 'content-security-policy': POLICY };
  return new Response(html, { status, headers: sent });
}

const compress = promisify(gzip);

/** A page of ours under its own policy, compressed where the browser takes it: the line may be bad. */
export async function htmlResponse(html: string, policy: string, accepts: string | null): Promise<Response> {
  const headers: Record<string, string> = {
    'content-type': 'text/html; charset=utf-8',
    'content-security-policy': policy,
    'cache-control': 'private, no-store',
    vary: 'accept-encoding',
  };
  if (!/\bgzip\b/.test(accepts ?? '')) return new Response(html, { headers });
  const body = await compress(html);
  return new Response(new Uint8Array(body), { headers: { ...headers, 'content-encoding': 'gzip' } });
}

/** A rendition as an answer: WebP where the browser says it takes it, else JPEG. It never changes under its address. */
export async function pictureResponse(
  store: Store,
  boardId: string,
  picture: { pictureId: string; side: string; accepts: string | null },
): Promise<Response> {
  const type: PictureType = /\bimage\/webp\b/.test(picture.accepts ?? '') ? 'webp' : 'jpeg';
  const bytes = await open(store, boardId, { ...picture, type });
  return new Response(new Uint8Array(bytes), {
    headers: {
      'content-type': PICTURE_TYPES[type],
      'content-length': String(bytes.length),
      'cache-control': 'private, max-age=604800, immutable',
      vary: 'accept',
    },
  });
}
