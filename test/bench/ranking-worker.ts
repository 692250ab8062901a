import { parentPort } from 'node:worker_threads';
import { rank } from '#lib/finish/index.ts';
import type { RankInput, ReflectanceCache } from '#lib/finish/index.ts';

// The ranking in a thread of its own, as the studio runs it: questions in, answers out, both copied.
const cache: ReflectanceCache = new Map();

parentPort?.on('message', ({ input, cold }: { input: RankInput; cold: boolean }) => {
  const start = performance.now();
  const ranking = rank(input, { cache: cold ? new Map() : cache });
  parentPort?.postMessage({ ranking, inside: performance.now() - start });
});
