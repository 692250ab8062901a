import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

// Unit and server tests run in plain Node against the sources; the browser journeys are Playwright's (test/e2e).
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: ['test/**/*.test.ts'],
    exclude: ['test/e2e/**'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    // Styles that are read as text would otherwise come out empty.
    css: true,
  },
});
