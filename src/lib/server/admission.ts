/**
 * Who may speak to this server: only pages it served itself, opened on this computer under a name that is ours.
 * A foreign page can neither read from it nor write to it, nor reach it by giving its own name our address.
 *
 * `BRUSHOUT_PUBLIC` (an origin such as https://boards.example.org) is a name under which clients reach the links they were
 * sent, by whatever stands before the studio, and nothing else of it.
 */

/** Sent with every answer. The content security policy comes from the app's configuration, with its nonces. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-resource-policy': 'same-origin',
  'cross-origin-opener-policy': 'same-origin',
  'permissions-policy': 'camera=(), microphone=(), geolocation=(), payment=(), usb=(), browsing-topics=()',
  'x-frame-options': 'DENY',
};

const LOOPBACK = ['localhost', '127.0.0.1', '[::1]'];
const EVERYWHERE = ['0.0.0.0', '::', '[::]'];
const READING = ['GET', 'HEAD', 'OPTIONS'];

/** Paths that may be asked for under the public name. */
const PUBLIC_PATH = /^\/b\//;

/**
 * The origin that clients reach their links under, without a slash at its end; null where none is set.
 * @throws Error in one sentence where `BRUSHOUT_PUBLIC` is no origin.
 */
export function publicOrigin(): string | null {
  const text = process.env.BRUSHOUT_PUBLIC;
  if (!text) return null;
  if (!URL.canParse(text) || !/^https?:$/.test(new URL(text).protocol))
    throw new Error(`BRUSHOUT_PUBLIC must be an address such as https://boards.example.org, not ${text}.`);
  return new URL(text).origin;
}

/**
 * Why a request is not admitted, as a sentence, or null when it is.
 * `header` gives the value of a header by its lower-case name.
 * Our names are the loopback names and `HOST`; the port is the one listened on, where it is known (`BRUSHOUT_PORT`).
 */
export function refusal(
  { method, path }: { method: string; path: string },
  header: (name: string) => string | null | undefined,
): string | null {
  const host = header('host')?.toLowerCase();
  const shared = PUBLIC_PATH.test(path) && host === publicHost();
  if (!host || !(isOurs(host) || shared))
    return 'This name is not one of this studio; open it under the address it printed.';

  const origin = header('origin')?.toLowerCase();
  const sameOrigin = origin === `http://${host}` || origin === `https://${host}`;
  if (origin && !sameOrigin) return 'Requests from other pages are refused.';
  const site = header('sec-fetch-site');
  if (READING.includes(method)) {
    // Following a link to the studio is fine; a foreign page that embeds or fetches parts of it is not.
    const embedded = header('sec-fetch-mode') !== 'navigate' || header('sec-fetch-dest') !== 'document';
    return (site === 'cross-site' || site === 'same-site') && embedded
      ? 'Requests from other pages are refused.'
      : null;
  }
  return sameOrigin ? null : 'A change needs the Origin header of the studio itself.';
}

function publicHost(): string | null {
  const origin = publicOrigin();
  return origin && new URL(origin).host;
}

function isOurs(host: string): boolean {
  const match = /^(\[[0-9a-f:.]+\]|[^:[\]/@]+)(?::(\d{1,5}))?$/.exec(host);
  if (!match) return false;
  const [, name, port = '80'] = match;
  const configured = process.env.HOST?.toLowerCase();
  const names = [...LOOPBACK];
  if (configured && !EVERYWHERE.includes(configured)) names.push(configured, `[${configured}]`);
  if (!names.includes(name)) return false;
  const ours = process.env.BRUSHOUT_PORT;
  return !ours || ours === port;
}
