import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { bytesOf } from './pictures.ts';
import { asJson, ask, lastLine, open, startStudio, type Running } from './running-studio.ts';

let studio: Running;
let jobId: string;
beforeAll(async () => {
  studio = await startStudio();
  jobId = (await ask(studio, 'POST', '/api/jobs', asJson({ name: 'Kitchen' }))).json().id;
}, 180_000);
afterAll(async () => {
  await studio.stop();
  fs.rmSync(studio.data, { recursive: true, force: true });
});

const upload = (name: string, bytes: Uint8Array, headers = {}) =>
  ask(studio, 'POST', `/api/jobs/${jobId}/files?name=${encodeURIComponent(name)}`, { body: bytes, headers });

const onDisk = () => ({
  files: fs.readdirSync(path.join(studio.data, 'files')).sort(),
  incoming: fs.readdirSync(path.join(studio.data, 'incoming')),
});

async function until(what: () => boolean): Promise<void> {
  const end = Date.now() + 15_000;
  while (!what()) {
    if (Date.now() > end) throw new Error('Waited in vain');
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

describe('who may speak to it', () => {
  const names = () => [`127.0.0.1:${studio.port}`, `localhost:${studio.port}`, `[::1]:${studio.port}`];

  test('its own names are served', async () => {
    for (const host of names())
      expect((await ask(studio, 'GET', '/api/jobs', { headers: { host } })).status).toBe(200);
  });

  test.each(['/', '/api/jobs', '/_app/version.json', '/favicon.ico'])(
    '%s under a foreign name is refused',
    async (target) => {
      for (const host of [
        'evil.example',
        `evil.example:${studio.port}`,
        '127.0.0.1:1',
        '127.0.0.1.evil.example',
        'localhost',
      ]) {
        const answer = await ask(studio, 'GET', target, { headers: { host } });
        expect(answer.status, host).toBe(403);
      }
    },
  );

  test('a foreign page can neither read nor write', async () => {
    for (const origin of [
      'http://evil.example',
      'null',
      `http://127.0.0.1:1`,
      `http://localhost:${studio.port}`,
    ]) {
      expect((await ask(studio, 'GET', '/api/jobs', { headers: { origin } })).status, origin).toBe(403);
      const write = await ask(studio, 'POST', '/api/jobs', { ...asJson({ name: 'x' }), headers: { origin } });
      expect(write.status, origin).toBe(403);
    }
    const embedded = {
      'sec-fetch-site': 'cross-site',
      'sec-fetch-mode': 'no-cors',
      'sec-fetch-dest': 'image',
    };
    expect((await ask(studio, 'GET', '/api/jobs', { headers: embedded })).status).toBe(403);
    const followed = {
      'sec-fetch-site': 'cross-site',
      'sec-fetch-mode': 'navigate',
      'sec-fetch-dest': 'document',
    };
    expect((await ask(studio, 'GET', '/', { headers: followed })).status).toBe(200);
  });

  test('a change without an Origin is refused, whatever its method and type', async () => {
    const before = (await ask(studio, 'GET', '/api/jobs')).json().length;
    for (const [method, target] of [
      ['POST', '/api/jobs'],
      ['DELETE', `/api/jobs/${jobId}`],
      ['POST', `/api/jobs/${jobId}/edits`],
      ['POST', `/api/jobs/${jobId}/files?name=a.png`],
    ]) {
      for (const type of ['application/json', 'text/plain', 'application/x-www-form-urlencoded']) {
        const headers = { origin: null, 'content-type': type };
        expect((await ask(studio, method, target, { headers, body: '{"name":"x"}' })).status, target).toBe(
          403,
        );
      }
    }
    expect((await ask(studio, 'GET', '/api/jobs')).json()).toHaveLength(before);
  });

  test('every answer carries the headers that keep it to itself', async () => {
    for (const target of ['/', '/api/jobs', '/nowhere', '/_app/version.json']) {
      const { headers } = await ask(studio, 'GET', target);
      expect(headers, target).toMatchObject({
        'x-content-type-options': 'nosniff',
        'referrer-policy': 'no-referrer',
        'cross-origin-resource-policy': 'same-origin',
        'permissions-policy': expect.stringContaining('geolocation=()'),
      });
      expect(headers['access-control-allow-origin'], target).toBeUndefined();
    }
    const page = (await ask(studio, 'GET', '/')).headers['content-security-policy'];
    expect(page).toMatch(/default-src 'self'/);
    expect(page).toMatch(/script-src 'self' 'nonce-/);
    expect(page).not.toMatch(/script-src[^;]*unsafe/);
    expect((await ask(studio, 'GET', '/api/jobs')).headers['content-security-policy']).toMatch(
      /default-src 'none'/,
    );
  });
});

describe('jobs over HTTP', () => {
  test('made, edited, collided with, deleted and restored', async () => {
    const { id } = (await ask(studio, 'POST', '/api/jobs', asJson({ name: 'Flat' }))).json();
    const edit = (was: string, now: string) => ({ label: 'note', changes: [{ path: ['note'], was, now }] });
    const send = (base: number, edits: object[], request: number) =>
      ask(studio, 'POST', `/api/jobs/${id}/edits`, asJson({ base, edits, client: 'client-one', request }));
    expect((await send(0, [edit('', 'a')], 1)).json()).toEqual({ version: 1, edits: [] });
    expect((await send(0, [edit('', 'a')], 1)).json()).toEqual({ version: 1, edits: [] });
    const collided = await send(0, [edit('', 'b')], 2);
    expect(collided.status).toBe(409);
    expect(collided.json()).toMatchObject({
      version: 1,
      job: { note: 'a' },
      collisions: [expect.any(String)],
    });
    expect(
      (await send(1, [{ label: 'x', changes: [{ path: ['format'], was: 1, now: 2 }] }], 3)).json(),
    ).toEqual({
      error: expect.stringMatching(/^format: /),
    });
    expect((await ask(studio, 'DELETE', `/api/jobs/${id}`)).status).toBe(200);
    expect((await ask(studio, 'GET', `/api/jobs/${id}`)).status).toBe(404);
    expect((await ask(studio, 'POST', `/api/jobs/${id}/restore`)).status).toBe(200);
    expect((await ask(studio, 'GET', `/api/jobs/${id}`)).json()).toMatchObject({
      version: 1,
      recent: [edit('', 'a')],
    });
  });

  test('nonsense is answered with a sentence and a 4xx', async () => {
    const cases: [string, string, string][] = [
      ['POST', '/api/jobs', '{'],
      ['POST', '/api/jobs', '[]'],
      ['POST', '/api/jobs', '{"name":""}'],
      ['POST', '/api/jobs', `{"name":"${'x'.repeat(200)}"}`],
      ['POST', `/api/jobs/${jobId}/edits`, '{"base":0}'],
      ['POST', '/api/jobs/none/edits', '{"base":0,"edits":[]}'],
      ['POST', '/api/jobs/none/files?name=a.png', 'x'],
    ];
    for (const [method, target, body] of cases) {
      const answer = await ask(studio, method, target, {
        body,
        headers: { 'content-type': 'application/json' },
      });
      expect(answer.status, `${target} ${body.slice(0, 20)}`).toBeGreaterThanOrEqual(400);
      expect(answer.status).toBeLessThan(500);
      // A sentence, not a code.
      expect(answer.json().error).toMatch(/^\S+ .* \S+[.\w]$/);
    }
  });

  test('a body without end is cut off', async () => {
    const body = Buffer.alloc(25_000_000, 0x20);
    const answer = await ask(studio, 'POST', '/api/jobs', {
      body,
      headers: { 'content-type': 'application/json' },
    });
    expect(answer.status).toBe(413);
  });
});

describe('pictures over HTTP', () => {
  test('progress comes line by line, then the file, served only as made by us', async () => {
    const sent = bytesOf('located.jpg');
    const answer = await upload('located.jpg', sent);
    expect(answer.headers['content-type']).toMatch(/ndjson/);
    const lines = answer.text
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(lines.map((line) => line.stage).filter(Boolean)).toEqual(
      expect.arrayContaining(['received', 'decoding', 'storing']),
    );
    for (const line of lines.slice(0, -1)) {
      expect(line.share).toBeGreaterThanOrEqual(0);
      expect(line.share).toBeLessThanOrEqual(1);
    }
    const { done } = lines.at(-1);
    expect(done).toMatchObject({
      width: 96,
      height: 64,
      space: 'srgb',
      originalWidth: 96,
      originalHeight: 64,
      notes: [],
    });
    for (const [rendition, type] of [
      ['working.png', 'image/png'],
      ['view.webp', 'image/webp'],
      ['thumb.webp', 'image/webp'],
    ]) {
      const file = await ask(studio, 'GET', `/api/files/${done.fileId}/${rendition}`);
      expect(file.status).toBe(200);
      expect(file.headers).toMatchObject({
        'content-type': type,
        'cross-origin-resource-policy': 'same-origin',
      });
      expect(file.headers['cache-control']).toMatch(/immutable/);
      expect(file.text).not.toContain('SECRET');
    }
    for (const other of [
      'upload',
      'original',
      '../../brushout.sqlite',
      '..%2f..%2fbrushout.sqlite',
      '.working.png.part',
      '',
    ]) {
      expect((await ask(studio, 'GET', `/api/files/${done.fileId}/${other}`)).status, other).toBe(404);
    }
    expect((await ask(studio, 'GET', `/api/files/..%2f..%2fincoming/working.png`)).status).toBe(404);
  });

  test('a refusal is the last line, and the studio goes on', async () => {
    for (const name of ['bomb.png', 'truncated.jpg', 'empty.jpg', 'animated.gif', 'drawing-called.png']) {
      expect(lastLine((await upload(name, bytesOf(name))).text), name).toEqual({
        error: expect.stringMatching(/\.$/),
      });
    }
    expect(lastLine((await upload('srgb.png', bytesOf('srgb.png'))).text).done.width).toBe(96);
    expect(onDisk().incoming).toEqual([]);
  });

  test('more than 60 MB: announced, the reason comes at once; unannounced, as soon as it is too much', async () => {
    const body = Buffer.alloc(61_000_000, 7);
    expect(lastLine((await upload('big.jpg', body)).text).error).toMatch(/60 MB/);
    const chunked = await upload('big.jpg', body, { 'transfer-encoding': 'chunked' });
    expect(lastLine(chunked.text).error).toMatch(/60 MB/);
    expect(onDisk().incoming).toEqual([]);
  });

  test('a client that goes away in the middle of sending leaves nothing', async () => {
    const before = onDisk().files;
    const target = `/api/jobs/${jobId}/files?name=a.jpg`;
    const request = open(studio, 'POST', target, { 'content-length': '5000000' });
    request.on('error', () => {});
    request.write(Buffer.alloc(1_000_000, 1));
    await until(() => onDisk().incoming.length > 0);
    request.destroy();
    await until(() => onDisk().incoming.length === 0);
    expect(onDisk().files).toEqual(before);
  });

  test('a client that goes away while its picture is decoded leaves nothing', async () => {
    const bytes = await sharp({ create: { width: 9000, height: 7000, channels: 3, background: '#c08040' } })
      .png({ compressionLevel: 1 })
      .toBuffer();
    const before = onDisk().files;
    const request = open(studio, 'POST', `/api/jobs/${jobId}/files?name=a.png`, {});
    request.on('error', () => {});
    const decoding = new Promise<void>((resolve) =>
      request.on('response', (response) => {
        response.on('error', () => {});
        response.on('data', (chunk) => String(chunk).includes('decoding') && resolve());
      }),
    );
    request.end(bytes);
    await decoding;
    request.destroy();
    await until(() => onDisk().incoming.length === 0);
    expect(onDisk().files).toEqual(before);
    expect(lastLine((await upload('srgb.png', bytesOf('srgb.png'))).text).done.width).toBe(96);
  });

  test('twenty uploads at once while the studio keeps answering', async () => {
    const bytes = bytesOf('p3.heic');
    const uploads = Promise.all(Array.from({ length: 20 }, (_, i) => upload(`${i}.heic`, bytes)));
    let slowest = 0;
    let going = true;
    void uploads.then(() => (going = false));
    while (going) {
      const from = performance.now();
      expect((await ask(studio, 'GET', '/api/jobs')).status).toBe(200);
      slowest = Math.max(slowest, performance.now() - from);
    }
    const ids = (await uploads).map((answer) => lastLine(answer.text).done.fileId);
    expect(new Set(ids).size).toBe(20);
    expect(slowest).toBeLessThan(2000);
  });
});

test('kill -9 of the running studio loses no acknowledged edit and no finished picture', async () => {
  const first = await startStudio();
  const { id } = (await ask(first, 'POST', '/api/jobs', asJson({ name: 'Flat' }))).json();
  const note = (i: number) => (i === 0 ? '' : String(i));
  let acknowledged = 0;
  const sent = ask(first, 'POST', `/api/jobs/${id}/files?name=a.png`, { body: bytesOf('srgb.png') });
  const { fileId } = lastLine((await sent).text).done;
  const editing = (async () => {
    for (let i = 0; i < 10_000; i += 1) {
      const change = { path: ['note'], was: note(i), now: note(i + 1) };
      const body = {
        base: i,
        edits: [{ label: 'note', changes: [change] }],
        client: 'client-one',
        request: i,
      };
      acknowledged = (await ask(first, 'POST', `/api/jobs/${id}/edits`, asJson(body))).json().version;
    }
  })().catch(() => {});
  await until(() => acknowledged > 25);
  const serving = Number(
    fs.readFileSync(`/proc/${first.pid}/task/${first.pid}/children`, 'utf8').trim().split(' ')[0],
  );
  process.kill(serving, 'SIGKILL');
  await editing;
  await first.closed;

  const second = await startStudio({ BRUSHOUT_DATA: first.data });
  const { version, job } = (await ask(second, 'GET', `/api/jobs/${id}`)).json();
  expect(version).toBeGreaterThanOrEqual(acknowledged);
  expect(job.note).toBe(String(version));
  expect((await ask(second, 'GET', `/api/files/${fileId}/working.png`)).status).toBe(200);
  await second.stop();
  fs.rmSync(first.data, { recursive: true, force: true });
});

test('a fresh store gets its sample job without delaying the start, and another one on request', async () => {
  const from = performance.now();
  const fresh = await startStudio({ BRUSHOUT_SAMPLE: '' });
  expect(performance.now() - from).toBeLessThan(3000);
  const jobs = async () => (await ask(fresh, 'GET', '/api/jobs')).json() as { id: string }[];
  for (let waited = 0; (await jobs()).length === 0 && waited < 300; waited += 1) {
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  expect(await jobs()).toHaveLength(1);
  const answer = await ask(fresh, 'POST', '/api/jobs', asJson({ sample: true }));
  expect(answer.status).toBe(201);
  expect(await jobs()).toHaveLength(2);
  expect((await ask(fresh, 'GET', `/api/jobs/${answer.json().id}`)).status).toBe(200);
  await fresh.stop();
  // A store that has had jobs is not fresh.
  const again = await startStudio({ BRUSHOUT_SAMPLE: '', BRUSHOUT_DATA: fresh.data });
  await new Promise((resolve) => setTimeout(resolve, 500));
  expect((await ask(again, 'GET', '/api/jobs')).json()).toHaveLength(2);
  await again.stop();
  fs.rmSync(fresh.data, { recursive: true, force: true });
});
