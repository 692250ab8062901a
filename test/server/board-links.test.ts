import fs from 'node:fs';
import http from 'node:http';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { answered, bodyOf, drawn, frozen, linked, newJob, painted, sha256 } from './board-rounds.ts';
import { asJson, ask, open, startStudio, type Answer, type Running } from './running-studio.ts';

let studio: Running;
let jobId: string;
let boardId: string;
let hash: string;
beforeAll(async () => {
  studio = await startStudio();
  jobId = await newJob(studio);
  ({ id: boardId, hash } = (await frozen(studio, jobId, await drawn())).json());
}, 240_000);
afterAll(async () => {
  await studio.stop();
});

const newLink = async (wishes: object = {}) => await linked(studio, jobId, boardId, wishes);
const rounds = async (job = jobId) => (await ask(studio, 'GET', `/api/jobs/${job}/boards`)).json();
const form = (fields: Record<string, string>) => ({
  headers: { 'content-type': 'application/x-www-form-urlencoded' },
  body: new URLSearchParams(fields).toString(),
});
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

/** What an answer shows of itself, without the hour. */
const shown = ({ status, headers, text }: Answer) => {
  const { date, ...rest } = headers;
  expect(date).toBeTruthy();
  return { status, headers: rest, text };
};

describe('freezing over HTTP', () => {
  test('a round is numbered, listed, loaded and told to be whole', async () => {
    const [round] = await rounds();
    expect(round).toMatchObject({ id: boardId, round: 1, hash, answers: [] });
    const loaded = (await ask(studio, 'GET', `/api/jobs/${jobId}/boards/${boardId}`)).json();
    expect(loaded).toMatchObject({ id: boardId, hash, intact: true, content: { client: 'A client' } });
    for (const target of [`none/boards/${boardId}`, `${jobId}/boards/none`])
      expect((await ask(studio, 'GET', `/api/jobs/${target}`)).status).toBe(404);
  });

  test('nonsense is answered with a sentence and a 4xx, and leaves nothing', async () => {
    const { content, pictures } = await drawn('Nonsense');
    const target = `/api/jobs/${jobId}/boards`;
    const whole = await bodyOf(content, pictures);
    const cases: [{ headers: Record<string, string>; body: Uint8Array | string }, number, RegExp][] = [
      [asJson(content), 400, /form/],
      [{ ...whole, body: whole.body.slice(0, whole.body.length / 2) }, 400, /could not be read/],
      [await bodyOf('{', pictures), 400, /JSON/],
      [await bodyOf({ ...content, x: 1 }, pictures), 422, /^board: /],
      [await bodyOf(content, []), 422, /^board\.pages\.0\.before\.id: /],
      [await bodyOf(content, [...pictures, ['before', pictures.get('before')!]]), 422, /once/],
      [
        await bodyOf(
          content,
          [...pictures.keys()].map((id) => [id, Buffer.from('no picture')]),
        ),
        422,
        /hash/,
      ],
      [await bodyOf(content, [['before', Buffer.alloc(8_000_001)]]), 413, /8 MB/],
      [await bodyOf(content, [['before', Buffer.alloc(61_000_000)]]), 413, /60 MB/],
    ];
    for (const [sent, status, words] of cases) {
      const answer = await ask(studio, 'POST', target, sent);
      expect([answer.status, answer.json().error], String(words)).toEqual([
        status,
        expect.stringMatching(words),
      ]);
    }
    expect((await rounds()).map(({ title }: { title: string }) => title)).not.toContain('Nonsense');
  });
});

describe('a link', () => {
  test('shows the round and nothing else, and is not for others to find or keep', async () => {
    const { token, path } = await newLink({ label: 'SECRET label' });
    expect(path).toBe(`/b/${token}`);
    const page = await ask(studio, 'GET', path);
    expect(page.status).toBe(200);
    expect(page.text).toContain('Kitchen, first thoughts');
    for (const other of ['SECRET', jobId, boardId]) expect(page.text).not.toContain(other);
    expect(page.headers).toMatchObject({
      'content-type': 'text/html; charset=utf-8',
      'x-robots-tag': expect.stringContaining('noindex'),
      'referrer-policy': 'no-referrer',
      'cache-control': 'private, no-store',
      'x-content-type-options': 'nosniff',
      'content-security-policy': expect.stringMatching(/default-src 'none'/),
    });
    const small = await ask(studio, 'GET', path, { headers: { 'accept-encoding': 'gzip' } });
    expect(small.headers['content-encoding']).toBe('gzip');
    const raw = await bytesOf(path, { 'accept-encoding': 'gzip' });
    expect(gunzipSync(raw).toString('utf8')).toBe(page.text);
    expect(JSON.stringify(await rounds())).not.toContain(token);
    for (const method of ['PUT', 'DELETE', 'PATCH'])
      expect((await ask(studio, method, path)).status, method).toBe(405);
  });

  test('its pictures are WebP where that is taken, else JPEG, and only those of the round', async () => {
    const { path } = await newLink();
    const accept = 'image/avif,image/webp,*/*';
    const modern = await ask(studio, 'GET', `${path}/pictures/before/640`, { headers: { accept } });
    expect(modern.headers).toMatchObject({ 'content-type': 'image/webp', vary: 'accept' });
    const plain = await ask(studio, 'GET', `${path}/pictures/before/640`);
    expect(plain.headers['content-type']).toBe('image/jpeg');
    expect(plain.headers['cache-control']).toMatch(/^private/);
    for (const other of ['before/sent', 'before/9', 'nobody/640', '..%2fbefore/640', '..%2f..%2fx/640'])
      expect((await ask(studio, 'GET', `${path}/pictures/${other}`)).status, other).toBe(404);
  });

  test('revoked, expired, of a deleted job, never made: one and the same answer, everywhere', async () => {
    const other = await newJob(studio, 'Deleted');
    const board = (await frozen(studio, other, await drawn('Deleted'))).json();
    const dead = (await linked(studio, other, board.id)).path;
    await ask(studio, 'DELETE', `/api/jobs/${other}`);
    const revoked = await newLink();
    expect((await ask(studio, 'GET', revoked.path)).status).toBe(200);
    const revocation = await ask(studio, 'DELETE', `/api/jobs/${jobId}/boards/links/${revoked.id}`);
    expect(revocation.json()).toMatchObject({ id: revoked.id, revokedAt: expect.any(Number) });
    const short = await newLink({ expiresAt: Date.now() + 300, passphrase: 'river stones' });
    await pause(400);
    const paths = [
      revoked.path,
      short.path,
      dead,
      `/b/${'A'.repeat(32)}`,
      '/b/short',
      `/b/${'x'.repeat(5000)}`,
    ];
    for (const [method, rest, options] of [
      ['GET', '', {}],
      ['GET', '/pictures/before/640', {}],
      ['POST', '', form({ passphrase: 'river stones' })],
      ['POST', '/answer', form({ name: 'x' })],
      ['POST', '/answer', asJson({ answer: answered() })],
    ] as const) {
      const fresh = await restarted(async (own) => {
        const answers = [];
        for (const path of paths) answers.push(shown(await ask(own, method, path + rest, options)));
        return answers;
      });
      expect(fresh[0].status, method + rest).toBe(404);
      expect(fresh[0].text).toContain('This board is not (or no longer) here');
      for (const answer of fresh) expect(answer).toEqual(fresh[0]);
    }
    await ask(studio, 'POST', `/api/jobs/${other}/restore`);
    expect((await ask(studio, 'GET', dead)).status).toBe(200);
  });

  test('a passphrase stands before page, pictures and answer', async () => {
    const { path } = await newLink({ passphrase: 'river stones' });
    const locked = await ask(studio, 'GET', path);
    expect(locked.text).toContain('asks for a passphrase');
    for (const word of ['Kitchen', 'A client', 'A designer']) expect(locked.text).not.toContain(word);
    expect((await ask(studio, 'GET', `${path}/pictures/before/640`)).status).toBe(403);
    expect((await ask(studio, 'POST', `${path}/answer`, asJson({ answer: answered() }))).status).toBe(403);
    const wrong = await ask(studio, 'POST', path, form({ passphrase: 'river' }));
    expect([wrong.status, wrong.headers['set-cookie']]).toEqual([403, undefined]);
    const right = await ask(studio, 'POST', path, form({ passphrase: 'river stones' }));
    expect([right.status, right.headers.location]).toEqual([303, path]);
    const [set] = right.headers['set-cookie']!;
    expect(set).toMatch(/HttpOnly/i);
    expect(set).toMatch(/SameSite=Lax/i);
    expect(set).toContain(`Path=${path}`);
    const headers = { cookie: set.split(';')[0] };
    expect((await ask(studio, 'GET', path, { headers })).text).toContain('Kitchen');
    expect((await ask(studio, 'GET', `${path}/pictures/before/640`, { headers })).status).toBe(200);
    const { path: second } = await newLink({ passphrase: 'river stones' });
    expect((await ask(studio, 'GET', second, { headers })).text).not.toContain('Kitchen');
    // Eight tries from one address, of which two are used.
    const tries = [];
    for (let i = 0; i < 7; i += 1)
      tries.push((await ask(studio, 'POST', path, form({ passphrase: `p${i}` }))).status);
    expect(tries).toEqual([403, 403, 403, 403, 403, 403, 429]);
  });
});

describe('an answer', () => {
  test('comes as JSON or as a form, and is kept with its date and the hash of the round', async () => {
    const { path, id } = await newLink();
    const from = Date.now();
    const value = answered('Client One', { comment: 'Lovely' });
    const sent = await ask(studio, 'POST', `${path}/answer`, asJson({ hash, answer: value }));
    expect(sent.status).toBe(201);
    expect((await ask(studio, 'POST', `${path}/answer`, asJson({ hash, answer: value }))).json()).toEqual(
      sent.json(),
    );
    const plain = await ask(
      studio,
      'POST',
      `${path}/answer`,
      form({
        name: 'Client Two',
        comment: 'One\r\ntwo',
        'verdict.cabinets': 'change',
        'comment.cabinets': 'Lighter?',
        'pin.cabinets': '0,0.25,0.5',
        'verdict.walls': 'yes:mid',
        'pin.walls': '',
        'comment.trim': '',
      }),
    );
    expect([plain.status, plain.headers.location]).toEqual([303, `${path}#answers`]);
    const [{ answers }] = await rounds();
    const mine = answers.filter(({ linkId }: { linkId: string }) => linkId === id);
    expect(mine.map(({ answer }: { answer: unknown }) => answer)).toEqual([
      value,
      {
        name: 'Client Two',
        comment: 'One\ntwo',
        surfaces: {
          cabinets: {
            verdict: 'change',
            swatchId: null,
            comment: 'Lighter?',
            pin: { page: 0, x: 0.25, y: 0.5 },
          },
          walls: { verdict: 'yes', swatchId: 'mid', comment: '', pin: null },
        },
      },
    ]);
    for (const answer of mine) {
      expect(answer).toMatchObject({ hash, round: 1, seenAt: null });
      expect(answer.receivedAt).toBeGreaterThanOrEqual(from);
      expect(answer.receivedAt).toBeLessThanOrEqual(Date.now());
    }
    expect((await ask(studio, 'GET', path)).text).toContain('Lovely');
    expect((await ask(studio, 'GET', (await newLink()).path)).text).not.toContain('Lovely');
  });

  test('hostile text stays text, and what is no answer is refused in words', async () => {
    const { path } = await newLink();
    const script = '</script><script>alert(1)</script><img src=x onerror=alert(2)>';
    const sent = await ask(
      studio,
      'POST',
      `${path}/answer`,
      asJson({ answer: answered(script.slice(0, 80), { comment: script }) }),
    );
    expect(sent.status).toBe(201);
    const page = (await ask(studio, 'GET', path)).text;
    expect(page).not.toContain('<script>alert');
    expect(page).not.toContain('<img src=x');
    const cases: [{ headers: Record<string, string>; body: string }, number, RegExp][] = [
      [{ headers: { 'content-type': 'application/json' }, body: '{' }, 400, /JSON/],
      [{ headers: { 'content-type': 'application/json' }, body: '['.repeat(60_000) }, 400, /JSON/],
      [asJson([]), 422, /^answer/],
      [asJson({ answer: answered('x', { surfaces: { '<b>': {} } }) }), 422, /^answer\.surfaces/],
      [asJson({ answer: answered('x', { comment: 'y'.repeat(70_000) }) }), 413, /longer/],
      [asJson({ hash: 'f'.repeat(64), answer: answered() }), 409, /another round/],
    ];
    for (const [body, status, words] of cases) {
      const answer = await ask(studio, 'POST', `${path}/answer`, body);
      expect([answer.status, answer.json().error]).toEqual([status, expect.stringMatching(words)]);
    }
    const page422 = await ask(
      studio,
      'POST',
      `${path}/answer`,
      form({ name: 'x', 'verdict.<img src=x>': 'yes' }),
    );
    expect(page422.status).toBe(422);
    expect(page422.text).not.toContain('<img');
    const wordless = form({ name: 'x', 'comment.cabinets': 'Hm' });
    const asked = await ask(studio, 'POST', `${path}/answer`, wordless);
    expect(asked.status).toBe(422);
    expect(asked.text).toContain('Say yes, no or change for “Cabinets” too');
    const foreign = {
      ...asJson({ answer: answered() }),
      headers: { origin: 'http://evil.example', 'content-type': 'application/json' },
    };
    expect((await ask(studio, 'POST', `${path}/answer`, foreign)).status).toBe(403);
  });

  test('twenty an hour, then a time to wait', async () => {
    const { path } = await newLink();
    for (let i = 0; i < 20; i += 1)
      expect(
        (await ask(studio, 'POST', `${path}/answer`, asJson({ answer: answered(`Client ${i}`) }))).status,
      ).toBe(201);
    const refused = await ask(studio, 'POST', `${path}/answer`, asJson({ answer: answered('More') }));
    expect(refused.status).toBe(429);
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(3000);
    expect((await ask(studio, 'GET', path)).status).toBe(200);
  });
});

describe('guessing', () => {
  test('ten thousand guesses a minute find nothing, are soon told to wait, and slow nobody', async () => {
    const { path } = await newLink();
    const agent = new http.Agent({ keepAlive: true });
    const timed = async (target: string) => {
      const from = performance.now();
      const answer = await got(target, agent);
      return { ...answer, ms: performance.now() - from };
    };
    const median = (values: number[]) => values.toSorted((a, b) => a - b)[values.length >> 1].toFixed(1);
    const quiet: number[] = [];
    for (let i = 0; i < 50; i += 1) quiet.push((await timed(path)).ms);
    const memory = residentMemory();

    const guesses: Promise<{ status: number; retry: number }>[] = [];
    const busy: number[] = [];
    const from = performance.now();
    while (guesses.length < 2000) {
      const due = Math.min(2000, Math.floor(((performance.now() - from) * 10_000) / 60_000));
      while (guesses.length < due)
        guesses.push(timed(`/b/${sha256(`guess ${guesses.length}`).slice(0, 32)}`));
      const good = await timed(path);
      expect(good.status).toBe(200);
      busy.push(good.ms);
    }
    const answers = await Promise.all(guesses);
    const took = performance.now() - from;
    agent.destroy();
    expect(answers.filter(({ status }) => status !== 404 && status !== 429)).toEqual([]);
    const told = answers.filter(({ status }) => status === 429);
    expect(told.length).toBeGreaterThan(1900);
    for (const { retry } of told) expect(retry).toBeGreaterThan(0);
    expect(residentMemory() - memory).toBeLessThan(150);
    console.log(
      `2,000 guesses in ${(took / 1000).toFixed(1)} s; a good link took ${median(quiet)} ms before and ${median(busy)} ms meanwhile (medians of ${quiet.length} and ${busy.length})`,
    );
  });
});

test('a restart keeps rounds, links, answers and the passphrase that was given', async () => {
  const { path } = await newLink({ passphrase: 'river stones' });
  const first = await startStudio({ BRUSHOUT_DATA: studio.data });
  const right = await ask(first, 'POST', path, form({ passphrase: 'river stones' }));
  const headers = { cookie: right.headers['set-cookie']![0].split(';')[0] };
  await ask(first, 'POST', `${path}/answer`, {
    ...asJson({ answer: answered() }),
    headers: { ...headers, 'content-type': 'application/json' },
  });
  const before = await rounds();
  await first.stop('SIGKILL');
  await restarted(async (second) => {
    expect((await ask(second, 'GET', `/api/jobs/${jobId}/boards`)).json()).toEqual(before);
    expect((await ask(second, 'GET', `/api/jobs/${jobId}/boards/${boardId}`)).json().intact).toBe(true);
    expect((await ask(second, 'GET', path, { headers })).text).toContain('Kitchen');
  });
});

test('two rounds keep their own pictures under the same name', async () => {
  const job = await newJob(studio, 'Two');
  const first = await drawn('First');
  const a = (await frozen(studio, job, first)).json();
  const other = await painted('#202020');
  const text = JSON.stringify({ ...first.content, title: 'Second' });
  const content = JSON.parse(text.replaceAll(sha256(first.pictures.get('before')!), sha256(other)));
  const b = (
    await frozen(studio, job, { content, pictures: new Map([...first.pictures, ['before', other]]) })
  ).json();
  expect([a.round, b.round]).toEqual([1, 2]);
  const bytes = async (id: string) => await bytesOf(`/api/jobs/${job}/boards/${id}/pictures/before/640`, {});
  expect((await bytes(a.id)).equals(await bytes(b.id))).toBe(false);
});

function got(target: string, agent: http.Agent): Promise<{ status: number; retry: number }> {
  return new Promise((resolve, reject) => {
    const request = http.get({ host: '127.0.0.1', port: studio.port, path: target, agent }, (response) => {
      response.resume();
      const retry = Number(response.headers['retry-after'] ?? 0);
      response.on('end', () => resolve({ status: response.statusCode!, retry }));
    });
    request.on('error', reject);
  });
}

/** MB held by the process that serves, which is below the one that was started. */
function residentMemory(): number {
  const children = fs.readFileSync(`/proc/${studio.pid}/task/${studio.pid}/children`, 'utf8');
  const status = fs.readFileSync(`/proc/${children.trim().split(' ')[0]}/status`, 'utf8');
  return Number(/VmRSS:\s+(\d+)/.exec(status)![1]) / 1024;
}

/** Runs something against a process of its own on the same data, whose memory of tries is empty. */
async function restarted<T>(work: (own: Running) => Promise<T>): Promise<T> {
  const own = await startStudio({ BRUSHOUT_DATA: studio.data });
  try {
    return await work(own);
  } finally {
    await own.stop();
  }
}

function bytesOf(target: string, headers: Record<string, string>): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const request = open(studio, 'GET', target, headers);
    request.on('error', reject);
    request.on('response', (response) => {
      const chunks: Buffer[] = [];
      response.on('data', (chunk) => chunks.push(chunk));
      response.on('end', () => resolve(Buffer.concat(chunks)));
    });
    request.end();
  });
}
