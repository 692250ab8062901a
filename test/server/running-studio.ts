/** The built studio as `npm start` runs it, on a free port with a data folder of its own, and requests to it. */
import { spawn } from 'node:child_process';
import fs from 'node:fs';
import http from 'node:http';
import os from 'node:os';
import path from 'node:path';
import { afterAll } from 'vitest';

export const ROOT = path.resolve(import.meta.dirname, '../..');

export interface Running {
  url: string;
  port: number;
  data: string;
  /** Everything printed so far. */
  output: () => string;
  pid: number;
  /** Ends it by a signal and gives its exit code. */
  stop: (signal?: NodeJS.Signals) => Promise<number | null>;
  /** When it ends by itself. */
  closed: Promise<number | null>;
}

/** Data folders made here; gone when the tests of a file are over. */
const folders = new Set<string>();
afterAll(() => {
  for (const folder of folders) fs.rmSync(folder, { recursive: true, force: true });
});

/** The environment without what the test runner adds to it, which the build would take as meant for itself. */
function outside(): NodeJS.ProcessEnv {
  const kept = Object.entries(process.env).filter(
    ([name]) => !/^(VITEST|NODE_ENV$|TEST$|DEV$|PROD$|MODE$|BASE_URL$|SSR$)/.test(name),
  );
  return Object.fromEntries(kept);
}

/**
 * Starts the studio, without its sample job unless asked for, and waits until it says that it is ready; throws with what it
 * printed where it is not.
 */
export async function startStudio(env: NodeJS.ProcessEnv = {}, root = ROOT): Promise<Running> {
  const data = env.BRUSHOUT_DATA ?? fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-app-'));
  if (!env.BRUSHOUT_DATA) folders.add(data);
  const child = spawn(process.execPath, [path.join(root, 'src/start.js')], {
    cwd: os.tmpdir(),
    env: { ...outside(), PORT: '0', HOST: '', CI: '1', BRUSHOUT_SAMPLE: 'none', BRUSHOUT_DATA: data, ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let output = '';
  child.stderr.on('data', (chunk) => (output += chunk));
  const closed = new Promise<number | null>((resolve) => child.on('close', resolve));
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout.on('data', (chunk) => {
      output += chunk;
      const match = /ready: (\S+)\n/.exec(output);
      if (match) resolve(match[1]);
    });
    void closed.then((code) => reject(new Error(`${output}(ended with ${code})`)));
  });
  const stop = async (signal: NodeJS.Signals = 'SIGTERM') => {
    child.kill(signal);
    const code = await closed;
    return code;
  };
  return {
    url,
    port: Number(new URL(url).port),
    data,
    output: () => output,
    pid: child.pid as number,
    stop,
    closed,
  };
}

export interface Answer {
  status: number;
  headers: http.IncomingHttpHeaders;
  text: string;
  json: () => any;
}

/** A request with exactly these headers; `origin` and `host` are the studio's own unless given, null leaves one out. */
export function ask(
  studio: { port: number },
  method: string,
  target: string,
  options: { headers?: Record<string, string | null>; body?: string | Uint8Array } = {},
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const request = open(studio, method, target, options.headers ?? {});
    request.on('error', reject);
    request.on('response', (response) => {
      const chunks: Buffer[] = [];
      response.on('data', (chunk) => chunks.push(chunk));
      response.on('error', reject);
      response.on('end', () => {
        const text = Buffer.concat(chunks).toString('utf8');
        resolve({
          status: response.statusCode ?? 0,
          headers: response.headers,
          text,
          json: () => JSON.parse(text),
        });
      });
    });
    request.end(options.body);
  });
}

/** Opens a request, its body still to be written. */
export function open(
  { port }: { port: number },
  method: string,
  target: string,
  headers: Record<string, string | null>,
): http.ClientRequest {
  const own: Record<string, string | null> = { host: `127.0.0.1:${port}` };
  if (method !== 'GET' && method !== 'HEAD') own.origin = `http://127.0.0.1:${port}`;
  const sent = Object.entries({ ...own, ...headers }).filter(
    (entry): entry is [string, string] => entry[1] !== null,
  );
  return http.request({
    host: '127.0.0.1',
    port,
    method,
    path: target,
    headers: Object.fromEntries(sent),
    agent: false,
  });
}

export const asJson = (value: unknown) => ({
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(value),
});

/** The last line of an intake's answer. */
export const lastLine = (text: string) => JSON.parse(text.trim().split('\n').at(-1) as string);
