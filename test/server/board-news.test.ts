import type http from 'node:http';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { answerText } from '../../src/lib/server/board-answer-text.js';
import { answered, bodyOf, drawn, frozen, linked, newJob } from './board-rounds.ts';
import { asJson, ask, open, startStudio, type Running } from './running-studio.ts';

let studio: Running;
let jobId: string;
let boardId: string;
beforeAll(async () => {
  studio = await startStudio();
  jobId = await newJob(studio);
  boardId = (await frozen(studio, jobId, await drawn())).json().id;
}, 240_000);
afterAll(async () => {
  await studio.stop();
});

const rounds = async (job: string) => (await ask(studio, 'GET', `/api/jobs/${job}/boards`)).json();
const newAnswers = async (job: string) =>
  (await ask(studio, 'GET', '/api/jobs')).json().find(({ id }: { id: string }) => id === job).newAnswers;

describe('the designer', () => {
  test('hears of answers at once, and from where they were after a break', async () => {
    const job = await newJob(studio, 'Heard');
    const board = (await frozen(studio, job, await drawn('Heard'))).json();
    const { path } = await linked(studio, job, board.id);
    const stream = await follow(`/api/jobs/${job}/boards/events`);
    expect(stream.headers['content-type']).toMatch(/^text\/event-stream/);
    await stream.until((text) => text.includes('event: ready'));
    const from = performance.now();
    await ask(studio, 'POST', `${path}/answer`, asJson({ answer: answered('Client\nOne') }));
    await stream.until((text) => text.includes('event: answer'));
    expect(performance.now() - from).toBeLessThan(1500);
    const data = JSON.parse(/event: answer\ndata: (.*)\n/.exec(stream.text())![1]);
    expect(data).toMatchObject({ number: 1, boardId: board.id, answer: { name: 'Client\nOne' } });
    stream.end();
    await ask(studio, 'POST', `${path}/answer`, asJson({ answer: answered('Client Two') }));
    const again = await follow(`/api/jobs/${job}/boards/events`, { 'last-event-id': '1' });
    await again.until((text) => text.includes('event: answer'));
    expect(again.text()).toMatch(/id: 2\nevent: answer\n/);
    expect(again.text()).not.toMatch(/id: 1\nevent: answer\n/);
    expect(await newAnswers(job)).toBe(2);
    const ids = (await rounds(job))[0].answers.map(({ id }: { id: string }) => id);
    await ask(studio, 'POST', `/api/jobs/${job}/boards/seen`, asJson({ answers: ids }));
    expect(await newAnswers(job)).toBe(0);
    await ask(studio, 'DELETE', `/api/jobs/${job}`);
    await again.until((text) => text.includes('event: gone'));
    await again.ended;
    expect((await ask(studio, 'GET', `/api/jobs/${job}/boards/events`)).status).toBe(404);
  });

  test('hears of answers that another process took', async () => {
    const stream = await follow(`/api/jobs/${jobId}/boards/events`);
    await stream.until((text) => text.includes('event: ready'));
    const { path } = await linked(studio, jobId, boardId);
    const second = await startStudio({ BRUSHOUT_DATA: studio.data });
    const sent = await ask(second, 'POST', `${path}/answer`, asJson({ answer: answered('Elsewhere') }));
    expect(sent.status).toBe(201);
    await stream.until((text) => text.includes('Elsewhere'));
    stream.end();
    await second.stop();
  });

  test('pastes the text that a board in a file makes, at the round it is for', async () => {
    const job = await newJob(studio, 'Pasted');
    const first = (await frozen(studio, job, await drawn('First'))).json();
    const second = (await frozen(studio, job, await drawn('Second'))).json();
    const value = answered('Client One', { comment: 'Lovely\n> quoted' });
    const names = { surfaces: { cabinets: 'Cabinets' }, swatches: {} };
    const text = answerText(value, { title: 'First', round: '1', hash: first.hash, ...names });
    const paste = async (board: { id: string }, pasted: unknown) =>
      await ask(studio, 'POST', `/api/jobs/${job}/boards/${board.id}/answers`, asJson({ text: pasted }));
    const kept = await paste(first, `Hello!\n${text}\nBye`);
    expect(kept.status).toBe(201);
    expect(kept.json()).toMatchObject({ answer: value, linkId: null, hash: first.hash, round: 1 });
    expect((await paste(first, text)).status).toBe(200);
    const wrong = await paste(second, text);
    expect([wrong.status, wrong.json().error]).toEqual([409, expect.stringMatching(/is to round 1/)]);
    for (const nonsense of ['Hello!', text.slice(0, 60), text.replace('yes', 'no'), 7])
      expect((await paste(first, nonsense)).status, String(nonsense)).toBe(422);
    expect(await newAnswers(job)).toBe(1);
  });

  test('looks at a draft without keeping it', async () => {
    const { content, pictures } = await drawn('A draft');
    const target = `/api/jobs/${jobId}/boards/drafts`;
    const { path, hash } = (await ask(studio, 'POST', target, await bodyOf(content, pictures))).json();
    const page = await ask(studio, 'GET', path);
    expect(page.text).toContain('A draft');
    expect(page.text).toContain(`${path}/pictures/before`);
    const picture = await ask(studio, 'GET', `${path}/pictures/before`);
    expect([picture.status, picture.headers['content-type']]).toEqual([200, 'image/png']);
    expect((await ask(studio, 'GET', `${path}x`)).status).toBe(404);
    const kept = await rounds(jobId);
    expect(kept.map((round: { hash: string }) => round.hash)).not.toContain(hash);
  });

  test('has preview, file, paper and pictures of a round', async () => {
    const base = `/api/jobs/${jobId}/boards/${boardId}`;
    const preview = await ask(studio, 'GET', `${base}/preview`);
    expect(preview.status).toBe(200);
    expect(preview.headers['content-security-policy']).not.toContain('sandbox');
    expect(preview.text).toContain(`${base}/pictures/before/640`);
    expect(preview.text).not.toContain('/answer"');
    const file = await ask(studio, 'GET', `${base}/file`);
    expect(file.headers['content-disposition']).toMatch(/^attachment; filename="Kitchen/);
    expect(file.text).toContain('data:image/webp;base64,');
    expect(file.text).not.toContain(boardId);
    for (const size of ['A4', 'Letter']) {
      const paper = await ask(studio, 'GET', `${base}/paper?size=${size}`);
      expect(paper.headers['content-type']).toBe('application/pdf');
      expect(paper.text).toMatch(/^%PDF-/);
    }
    expect((await ask(studio, 'GET', `${base}/paper?size=A3`)).status).toBe(422);
    expect((await ask(studio, 'GET', `${base}/pictures/before/640`)).status).toBe(200);
  });
});

/** A stream of events as it comes. */
async function follow(target: string, headers: Record<string, string> = {}) {
  const request = open(studio, 'GET', target, headers);
  let text = '';
  let ended: Promise<void> = Promise.resolve();
  const response = await new Promise<http.IncomingMessage>((resolve, reject) => {
    request.on('error', reject);
    request.on('response', resolve);
    request.end();
  });
  request.on('error', () => {});
  response.on('error', () => {});
  response.on('data', (chunk) => (text += chunk));
  ended = new Promise((resolve) => response.on('close', resolve));
  return {
    headers: response.headers,
    text: () => text,
    ended,
    end: () => request.destroy(),
    until: async (what: (text: string) => boolean) => {
      const end = Date.now() + 15_000;
      while (!what(text)) {
        if (Date.now() > end) throw new Error(`Waited in vain; heard: ${text}`);
        await new Promise((resolve) => setTimeout(resolve, 10));
      }
    },
  };
}
