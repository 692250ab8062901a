/**
 * Who may speak to this server: only pages it served itself, opened on this computer under a name that is ours.
 * A foreign page can neither read from it nor write to it, nor reach it by giving its own name our address.
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

/**
 * Why a request is not admitted, as a sentence, or null when it is.
 * `header` gives the value of a header by its lower-case name.
 * Our names are the loopback names and `HOST`; the port is the one listened on, where it is known (`BRUSHOUT_PORT`).
 */
export function refusal(method: string, header: (name: string) => string | null | undefined): string | null {
  const host = header('host')?.toLowerCase();
  if (!host || !isOurs(host))
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
