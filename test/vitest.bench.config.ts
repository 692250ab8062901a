import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

// Times of the hot kernels, one file for each; not part of the unit tests. `bench` works only in files that the
// benchmark patterns match, and not in those of `test.include`.
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: [],
    benchmark: { enabled: true, include: ['test/bench/**/*.bench.ts'] },
    testTimeout: 300_000,
    maxWorkers: 1,
    fileParallelism: false,
  },
});
