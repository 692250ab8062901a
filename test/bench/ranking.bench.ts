import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import { expect, test } from 'vitest';
import { blackBody, daylight, illuminant } from '#lib/colour/index.ts';
import { isotropicCovariance } from '#lib/finish/index.ts';
import type { CandidateInput, RankInput, Ranking } from '#lib/finish/index.ts';

/** Candidates for one surface; six fixed finishes, four lights, 1,000 draws. 500 shall be interactive in a worker. */
const SIZES = process.env.BENCH_SMOKE ? [10] : [20, 100, 500];

/** Random house paints from a fixed seed (mulberry32). */
function candidates(count: number, seed: number): CandidateInput[] {
  let state = seed;
  const random = () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const covariance = isotropicCovariance(2);
  return Array.from({ length: count }, (_, i) => ({
    id: `c${i}`,
    name: `Candidate ${i}`,
    colours: [
      {
        share: 1,
        estimate: { lab: { L: 45 + 45 * random(), a: -15 + 22 * random(), b: 20 * random() }, covariance },
      },
    ],
    price: { amount: 20 + 60 * random(), currency: 'EUR', unit: 'l' },
    leadTimeDays: Math.floor(30 * random()),
  }));
}

/** Fixed finishes: two stones of several colours and four plain ones, among them whites and woods near many candidates. */
const FIXED: readonly (readonly (readonly [number, number, number, number])[])[] = [
  [
    [83, 0, 3, 0.7],
    [62, 1, 6, 0.2],
    [45, 0, 3, 0.1],
  ],
  [[50, 8, 20, 1]],
  [[90, 0, 3, 1]],
  [[30, 0, 0, 1]],
  [[92, -1, 4, 1]],
  [
    [60, 10, 25, 0.6],
    [50, 12, 25, 0.4],
  ],
];

function input(count: number): RankInput {
  const covariance = isotropicCovariance(2);
  const lights = [daylight(6500), daylight(5000), illuminant('LED-B1'), blackBody(2700)];
  return {
    surface: { name: 'cabinets' },
    target: { lab: { L: 62, a: -9, b: 11 }, covariance },
    candidates: candidates(count, 1),
    fixed: FIXED.map((colours, i) => ({
      surfaceName: `surface ${i}`,
      contact: 0.8,
      finish: {
        id: `f${i}`,
        name: `fixed ${i}`,
        colours: colours.map(([L, a, b, share]) => ({ share, estimate: { lab: { L, a, b }, covariance } })),
      },
    })),
    lights: lights.map((spectrum, i) => ({
      id: `l${i}`,
      name: `light ${i}`,
      spectrum: Array.from(spectrum),
      illuminance: 300,
    })),
    weights: { nearness: 3, pairing: 3, steadiness: 2, lrv: 0, price: 1, time: 1 },
    limits: { maxPrice: null, maxLeadTimeDays: null, minLrv: null, maxLrv: null },
    draws: 1000,
    seed: 1,
  };
}

interface Answer {
  ranking: Ranking;
  /** Time inside the worker, ms. */
  inside: number;
}

const median = (values: number[]) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)];

for (const size of SIZES) {
  // In a worker thread: that is where the studio ranks, and the test runner's own modules answer each import through a getter.
  test(`ranking ${size} candidates against 6 fixed finishes under 4 lights, 1,000 draws`, async ({
    bench,
  }) => {
    const worker = new Worker(new URL('./ranking-worker.ts', import.meta.url));
    const asked = input(size);
    const ask = async (cold: boolean): Promise<Answer> => {
      worker.postMessage({ input: asked, cold });
      const [answer] = (await once(worker, 'message')) as [Answer];
      return answer;
    };
    let answer = await ask(false);
    const inside: number[] = [];
    const options = process.env.BENCH_SMOKE
      ? { iterations: 1, time: 1, warmupIterations: 0, warmupTime: 0 }
      : { iterations: 10, time: 2000, warmupIterations: 10, warmupTime: 0 };
    const known = await bench('reflectances known', async () => {
      answer = await ask(false);
      inside.push(answer.inside);
    }).run(options);
    const fresh = await bench('new candidates', async () => {
      answer = await ask(true);
    }).run(options);
    await worker.terminate();
    const { shortlist } = answer.ranking;
    const checksum = shortlist.reduce((sum, { place, firstShare }) => sum + place * firstShare, 0);
    console.log(
      `${size} candidates: ${known.latency.p50.toFixed(1)} ms there and back with known reflectances ` +
        `(${median(inside).toFixed(1)} ms of it ranking), ${fresh.latency.p50.toFixed(1)} ms with new ones; ` +
        `checksum ${checksum.toFixed(3)}`,
    );
    expect(shortlist).toHaveLength(size);
    expect(shortlist.reduce((sum, { firstShare }) => sum + firstShare, 0)).toBeCloseTo(1, 9);
  });
}
