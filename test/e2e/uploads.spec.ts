import http from 'node:http';
import type { AddressInfo } from 'node:net';
import { expect, test } from '@playwright/test';

/** Sends bytes as the page's own upload would, and gives the last line and the greatest progress heard of. */
function send(input: { jobId: string; name: string; size: number }) {
  return new Promise<{ last: Record<string, unknown>; sent: number }>((resolve, reject) => {
    const request = new XMLHttpRequest();
    let sent = 0;
    request.open('POST', `/api/jobs/${input.jobId}/files?name=${encodeURIComponent(input.name)}`);
    request.upload.onprogress = (event) => (sent = event.loaded);
    request.onload = () =>
      resolve({ last: JSON.parse(request.responseText.trim().split('\n').at(-1) ?? '{}'), sent });
    request.onerror = () => reject(new Error('the connection was cut'));
    request.send(new Blob([new Uint8Array(input.size).fill(7)]));
  });
}

test('a file that is too large is refused with its reason, not with a cut connection', async ({ page }) => {
  await page.goto('/');
  const created = await page.request.post('/api/jobs', {
    data: { name: 'Too large' },
    headers: { origin: new URL(page.url()).origin },
  });
  const { id } = await created.json();
  const answer = await page.evaluate(send, { jobId: id, name: 'large.jpg', size: 75_000_000 });
  expect(answer.last).toEqual({ error: 'This file is larger than 60 MB; save it smaller and try again.' });
});

test('another page can neither read from the studio nor write to it', async ({ page, baseURL }) => {
  const studio = new URL(baseURL as string).origin;
  const foreign = http.createServer((_, response) => {
    response.setHeader('content-type', 'text/html');
    response.end('<!doctype html><title>Another page</title>');
  });
  await new Promise<void>((resolve) => foreign.listen(0, '127.0.0.1', resolve));
  await page.goto(`http://127.0.0.1:${(foreign.address() as AddressInfo).port}/`);
  const tried = await page.evaluate(async (target) => {
    const outcome = async (attempt: Promise<Response>) => {
      try {
        return `${(await attempt).status}`;
      } catch {
        return 'nothing';
      }
    };
    const image = new Promise<string>((resolve) => {
      const element = new Image();
      element.onload = () => resolve('shown');
      element.onerror = () => resolve('nothing');
      element.src = `${target}/icon.svg`;
    });
    const form = { method: 'POST', mode: 'no-cors', body: '{"name":"from another page"}' } as const;
    return {
      read: await outcome(fetch(`${target}/api/jobs`)),
      written: await outcome(
        fetch(`${target}/api/jobs`, { method: 'POST', body: '{"name":"from another page"}' }),
      ),
      blind: await outcome(fetch(`${target}/api/jobs`, form)).then(() => 'sent'),
      image: await image,
    };
  }, studio);
  expect(tried).toEqual({ read: 'nothing', written: 'nothing', blind: 'sent', image: 'nothing' });
  const names = (await (await page.request.get(`${studio}/api/jobs`)).json()).map(
    (job: { name: string }) => job.name,
  );
  expect(names).not.toContain('from another page');
  foreign.close();
});
