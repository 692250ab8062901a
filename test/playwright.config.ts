import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig } from '@playwright/test';
import { foundChromium } from './browser.js';

// `npm test` starts the studio and says where; run by hand, Playwright starts one of its own.
const ownUrl = 'http://127.0.0.1:4390/';
const executablePath = foundChromium() ?? undefined;

export default defineConfig({
  testDir: './e2e',
  outputDir: '../test-results',
  // Painting without a graphics processor takes its time on a busy machine.
  timeout: 150_000,
  expect: { timeout: 20_000 },
  workers: 1,
  retries: 0,
  forbidOnly: true,
  reporter: process.env.PLAYWRIGHT_JSON_OUTPUT_NAME ? [['list'], ['json']] : 'list',
  use: {
    baseURL: process.env.BRUSHOUT_URL ?? ownUrl,
    browserName: 'chromium',
    trace: 'retain-on-failure',
    launchOptions: {
      executablePath,
      args: [
        '--no-sandbox',
        '--disable-quic',
        '--no-first-run',
        '--disable-background-networking',
        '--disable-component-update',
        '--disable-sync',
      ],
    },
  },
  webServer: process.env.BRUSHOUT_URL
    ? undefined
    : {
        command: 'node src/start.js',
        cwd: fileURLToPath(new URL('..', import.meta.url)),
        url: ownUrl,
        timeout: 120_000,
        env: {
          PORT: '4390',
          get BRUSHOUT_DATA() {
            return fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-e2e-'));
          },
        },
      },
});
