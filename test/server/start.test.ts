import fs from 'node:fs';
import http from 'node:http';
import os from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ask, ROOT, startStudio } from './running-studio.ts';

let scratch: string;
beforeAll(async () => {
  scratch = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout start '));
  // Whatever has to be built is built now, so that times below are those of a second start.
  await (await startStudio()).stop();
}, 180_000);
afterAll(() => fs.rmSync(scratch, { recursive: true, force: true }));

test('a second start is up in under 3 seconds and says where', async () => {
  const timed = async () => {
    const from = performance.now();
    const studio = await startStudio();
    return { studio, took: performance.now() - from };
  };
  let { studio, took } = await timed();
  if (studio.output().includes('Building')) {
    // Somebody is editing the sources while the tests run; the start after that one is the second.
    await studio.stop();
    ({ studio, took } = await timed());
  }
  expect((await ask(studio, 'GET', '/')).status).toBe(200);
  expect(studio.url).toBe(`http://127.0.0.1:${studio.port}/`);
  expect(studio.output()).toContain(`Its data are kept in ${studio.data}`);
  expect(took).toBeLessThan(3000);
  await studio.stop();
});

test('a taken port gets the next free one, and that is said', async () => {
  const taken = http.createServer().listen(0, '127.0.0.1');
  await new Promise((resolve) => taken.once('listening', resolve));
  const { port } = taken.address() as { port: number };
  const studio = await startStudio({ PORT: String(port) });
  expect(studio.port).toBeGreaterThan(port);
  expect(studio.output()).toContain(`Port ${port} is taken; port ${studio.port} is used instead.`);
  expect((await ask(studio, 'GET', '/api/jobs')).status).toBe(200);
  await studio.stop();
  taken.close();
});

test('it listens on the loopback address only', async () => {
  const studio = await startStudio();
  const others = Object.values(os.networkInterfaces())
    .flat()
    .filter((address) => address && !address.internal && address.family === 'IPv4');
  for (const address of others) {
    const reached = await new Promise((resolve) => {
      const request = http.get({ host: address?.address, port: studio.port, timeout: 2000 }, () =>
        resolve(true),
      );
      request.on('error', () => resolve(false));
      request.on('timeout', () => resolve(false));
    });
    expect(reached, address?.address).toBe(false);
  }
  await studio.stop();
});

test('HOST is honoured and is then a name of ours', async () => {
  const studio = await startStudio({ HOST: 'localhost' });
  expect(studio.url).toBe(`http://localhost:${studio.port}/`);
  await studio.stop();
});

test('under the public name clients reach their links and nothing else', async () => {
  const studio = await startStudio({ BRUSHOUT_PUBLIC: 'https://boards.example.org/' });
  const status = async (host: string, path: string) =>
    (await ask(studio, 'GET', path, { headers: { host } })).status;
  // A link that leads nowhere is answered by the client's door; the rest is refused before it is looked at.
  expect(await status('boards.example.org', '/b/none')).toBe(404);
  for (const path of ['/', '/jobs/x', '/api/jobs', '/bx'])
    expect(await status('boards.example.org', path), path).toBe(403);
  expect(await status('elsewhere.example.org', '/b/none')).toBe(403);
  expect(await status(`127.0.0.1:${studio.port}`, '/')).toBe(200);
  await studio.stop();
});

test.each(['SIGINT', 'SIGTERM'] as const)(
  '%s ends it cleanly, with an upload in progress',
  async (signal) => {
    const studio = await startStudio();
    const request = http.request({
      host: '127.0.0.1',
      port: studio.port,
      method: 'POST',
      path: '/api/jobs/x/files?name=a.png',
      headers: { origin: `http://127.0.0.1:${studio.port}`, 'content-length': '1000000' },
    });
    request.on('error', () => {});
    request.write('x');
    await new Promise((resolve) => setTimeout(resolve, 100));
    const from = performance.now();
    expect(await studio.stop(signal)).toBe(0);
    expect(performance.now() - from).toBeLessThan(5000);
    request.destroy();
  },
);

test('the serving process ends when the starting one is killed', async () => {
  const studio = await startStudio();
  process.kill(studio.pid, 'SIGKILL');
  await studio.closed;
  const end = Date.now() + 5000;
  for (;;) {
    const reached = await ask(studio, 'GET', '/').then(
      () => true,
      () => false,
    );
    if (!reached) break;
    expect(Date.now()).toBeLessThan(end);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
});

test('a data folder that cannot be used is said in one sentence', async () => {
  const file = path.join(scratch, 'a file');
  fs.writeFileSync(file, '');
  const start = startStudio({ BRUSHOUT_DATA: path.join(file, 'inside') });
  await expect(start).rejects.toThrow(
    /^The data folder .* cannot be used: a file of that name is in the way\. Set BRUSHOUT_DATA/,
  );
});

test('without BRUSHOUT_DATA the data stand in the home folder, outside the sources', async () => {
  const home = path.join(scratch, 'home');
  fs.mkdirSync(home);
  const studio = await startStudio({ BRUSHOUT_DATA: '', HOME: home, XDG_DATA_HOME: '' });
  expect(fs.existsSync(path.join(home, '.brushout', 'brushout.sqlite'))).toBe(true);
  await studio.stop();
});

test('a wrong PORT is said in one sentence', async () => {
  await expect(startStudio({ PORT: 'kitchen' })).rejects.toThrow(
    /^Expected PORT to be a number from 0 to 65535, got kitchen/,
  );
});

test('a clone in a path with spaces builds and serves', { timeout: 180_000 }, async () => {
  const clone = path.join(scratch, 'a clone of it');
  fs.mkdirSync(clone);
  for (const name of [
    'src',
    'static',
    'package.json',
    'package-lock.json',
    'vite.config.ts',
    'tsconfig.json',
  ]) {
    fs.cpSync(path.join(ROOT, name), path.join(clone, name), { recursive: true });
  }
  fs.cpSync(path.join(ROOT, 'node_modules'), path.join(clone, 'node_modules'), {
    recursive: true,
    mode: fs.constants.COPYFILE_FICLONE,
    verbatimSymlinks: true,
  });
  const studio = await startStudio({}, clone);
  expect(studio.output()).toContain('Building the studio');
  const created = await ask(studio, 'POST', '/api/jobs', {
    headers: { 'content-type': 'application/json' },
    body: '{"name":"Kitchen"}',
  });
  const { id } = created.json();
  const picture = fs.readFileSync(path.join(ROOT, 'test/fixtures/photos/p3.heic'));
  const taken = await ask(studio, 'POST', `/api/jobs/${id}/files?name=p3.heic`, { body: picture });
  expect(taken.text).toContain('"space":"display-p3"');
  await studio.stop();
});
