import { expect, test } from 'vitest';
import { daylight, illuminant } from '#lib/colour/index.ts';
import { compareLamps, isotropicCovariance, lightReport } from '#lib/finish/index.ts';
import type { LightInput, ReflectanceCache, ReportedFinish } from '#lib/finish/index.ts';

/** Candidates beside six fixed finishes, two of them of three colours; four lights, 400 draws. Wanted: under a second. */
const SIZES = process.env.BENCH_SMOKE ? [4] : [10, 40];

const covariance = isotropicCovariance(2);

function finishes(candidates: number): ReportedFinish[] {
  return Array.from({ length: candidates + 6 }, (_, i) => {
    const candidate = i < candidates;
    const L = 30 + ((i * 17) % 60);
    const lab = { L, a: -12 + ((i * 7) % 20), b: (i * 5) % 22 };
    const shares = !candidate && i % 3 === 0 ? [0.5, 0.3, 0.2] : [1];
    return {
      id: `f${i}`,
      name: `Finish ${i}`,
      role: candidate ? 'candidate' : 'fixed',
      colours: shares.map((share, k) => ({
        share,
        estimate: { lab: { ...lab, L: lab.L - 8 * k }, covariance },
      })),
    };
  });
}

const lights: LightInput[] = [daylight(6500), daylight(5000), illuminant('LED-B1'), illuminant('FL11')].map(
  (spectrum, i) => ({ id: `l${i}`, name: `light ${i}`, spectrum: Array.from(spectrum), illuminance: 300 }),
);

for (const size of SIZES) {
  test(`the lights of a room over ${size} candidates and 6 fixed finishes`, async ({ bench }) => {
    const asked = finishes(size);
    const cache: ReflectanceCache = new Map();
    const pairs = asked.slice(0, -1).map(({ id }, i) => [id, asked[i + 1].id] as const);
    const options = process.env.BENCH_SMOKE
      ? { iterations: 1, time: 1, warmupIterations: 0, warmupTime: 0 }
      : { iterations: 5, time: 1000, warmupIterations: 2, warmupTime: 0 };
    let report = lightReport({ finishes: asked, lights, cache });
    let comparison = compareLamps({ finishes: asked, pairs, lamps: lights, cache });
    const reported = await bench('report', () => {
      report = lightReport({ finishes: asked, lights, cache });
    }).run(options);
    const compared = await bench('lamps', () => {
      comparison = compareLamps({ finishes: asked, pairs, lamps: lights, cache });
    }).run(options);
    const checksum = report.finishes.reduce((sum, { worst }, i) => sum + (i + 1) * worst!.shift.value, 0);
    console.log(
      `${size} candidates: report ${reported.latency.p50.toFixed(0)} ms (${report.pairs.length} pairs), ` +
        `comparison of ${lights.length} lamps ${compared.latency.p50.toFixed(0)} ms (${pairs.length} pairs); ` +
        `checksum ${checksum.toFixed(3)}`,
    );
    expect(report.finishes).toHaveLength(size + 6);
    // Daylight of 6,500 K is its own reference, so nothing moves in it.
    expect(comparison.lamps.find(({ id }) => id === 'l0')?.mean.value).toBeLessThan(0.1);
  });
}
