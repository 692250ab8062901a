/** A server that has nothing but one round, as the studio's would serve it, for the client's side of a board. */
import http from 'node:http';
import type { AddressInfo } from 'node:net';
import { runnerImport } from 'vite';
import type { BoardContent } from '../../src/lib/job/board.ts';

type Page = typeof import('../../src/lib/server/board-page.ts');
type Content = typeof import('../server/board-content.ts');

// The page takes its style and script in as text, which Vite does and Playwright does not.
const load = async <T>(file: string) =>
  (await runnerImport<T>(file, { configFile: false, logLevel: 'error' })).module;

export interface Stand {
  readonly address: string;
  readonly content: BoardContent;
  readonly hash: string;
  /** The same round as one file. */
  readonly file: string;
  /** What was sent to it: JSON as an object, a form as its fields. */
  readonly received: { type: string; value: Record<string, unknown> }[];
  /** What is answered from now on: a status, or `cut` for a broken connection. */
  outcome: number | 'cut';
  close(): void;
}

/** Sizes that the studio keeps of a picture, long side in px. */
const SIDES = [640, 1024, 1600];

/** Opens the stand; `change` makes another round of the sample kitchen's. */
export async function openStand(
  change: (content: BoardContent, made: Content) => BoardContent = (content) => content,
): Promise<Stand> {
  const made = await load<Content>('test/server/board-content.ts');
  const { boardFile, boardPage, boardPagePolicy } = await load<Page>('src/lib/server/board-page.ts');
  const content = change(await made.kitchenBoard(), made);
  const hash = made.hashOf(content);
  const fitted = (side: number) => ({ width: side, height: Math.round((side * 2) / 3) });
  const html = boardPage(content, {
    round: 2,
    hash,
    news: { since: 1, sentences: ['Walls has another finish.'] },
    images: (id) => ({
      src: `/pictures/${id}/1600`,
      srcset: SIDES.map((side) => `/pictures/${id}/${side} ${side}w`).join(', '),
      ...fitted(1600),
    }),
    answer: { action: '/answer' },
    closed: null,
    previous: [],
  });
  const inlined = new Map<string, string>();
  for (const name of made.PICTURE_NAMES) {
    const bytes = await made.pictureBytes(name, { side: 1024, type: 'webp' });
    inlined.set(name, `data:image/webp;base64,${bytes.toString('base64')}`);
  }
  const file = boardFile(content, {
    round: 2,
    hash,
    news: { since: 1, sentences: ['Walls has another finish.'] },
    images: (id) => ({ src: inlined.get(id) as string, ...fitted(1024) }),
  });
  const stand: Omit<Stand, 'address' | 'close'> = { content, hash, file, received: [], outcome: 201 };
  const server = http.createServer(async (request, response) => {
    const [, first, name, side] = (request.url ?? '/').split('/');
    if (request.method === 'POST') {
      let body = '';
      for await (const part of request) body += part;
      if (stand.outcome === 'cut') return void request.socket.destroy();
      const type = request.headers['content-type'] ?? '';
      const value = type.startsWith('application/json')
        ? (JSON.parse(body) as Record<string, unknown>)
        : Object.fromEntries(new URLSearchParams(body));
      stand.received.push({ type, value });
      response.writeHead(stand.outcome, { 'content-type': 'application/json' });
      return void response.end(JSON.stringify(stand.outcome === 201 ? { id: 'a1' } : { error: 'Too long.' }));
    }
    if (first === 'pictures') {
      const picture = made.PICTURE_NAMES.find((known) => known === name);
      const bytes = picture && (await made.pictureBytes(picture, { side: Number(side), type: 'webp' }));
      response.writeHead(bytes ? 200 : 404, { 'content-type': 'image/webp', 'cache-control': 'max-age=600' });
      return void response.end(bytes);
    }
    response.writeHead(200, {
      'content-type': 'text/html; charset=utf-8',
      'content-security-policy': boardPagePolicy(),
    });
    response.end(html);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return Object.assign(stand, {
    address: `http://127.0.0.1:${(server.address() as AddressInfo).port}/`,
    close: () => void server.close(),
  });
}
