import { differenceCiede2000 } from 'culori';
import { expect, test } from 'vitest';
import { deltaE2000, deltaE2000Many } from '#lib/colour/index.ts';

const SIZES = process.env.BENCH_SMOKE ? [1_000] : [1_000, 100_000];

/** Random colours from a fixed seed (mulberry32), stride 3: L 0-100, a and b within 80. */
function colours(count: number, seed: number): Float32Array {
  let state = seed;
  const random = () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const out = new Float32Array(3 * count);
  for (let i = 0; i < out.length; i++) out[i] = i % 3 === 0 ? 100 * random() : 160 * random() - 80;
  return out;
}

for (const size of SIZES) {
  test(`CIEDE2000 of ${size} pairs: the flat kernel, one by one, and culori`, async ({ bench }) => {
    const references = colours(size, 1);
    const samples = colours(size, 2);
    const out = new Float32Array(size);
    const asLab = (array: Float32Array, i: number) => ({
      L: array[3 * i],
      a: array[3 * i + 1],
      b: array[3 * i + 2],
    });
    const asCulori = (array: Float32Array, i: number) => ({
      mode: 'lab65' as const,
      l: array[3 * i],
      a: array[3 * i + 1],
      b: array[3 * i + 2],
    });
    // Both object forms are made beforehand: only the formula is timed.
    const ours = Array.from({ length: size }, (_, i) => [asLab(references, i), asLab(samples, i)] as const);
    const theirs = Array.from(
      { length: size },
      (_, i) => [asCulori(references, i), asCulori(samples, i)] as const,
    );
    // Held here: the test runner's modules answer each use of an import through a getter.
    const [culori, ofOne, ofMany] = [differenceCiede2000(), deltaE2000, deltaE2000Many];
    const options = process.env.BENCH_SMOKE
      ? { iterations: 1, time: 1, warmupTime: 1 }
      : { time: 1000, warmupTime: 200 };

    const many = await bench('flat kernel', () => {
      ofMany(references, samples, out);
    }).run(options);
    let checksum = 0;
    for (const value of out) checksum += value;
    let single = 0;
    const one = await bench('one by one', () => {
      single = 0;
      for (const [reference, sample] of ours) single += ofOne(reference, sample);
    }).run(options);
    let other = 0;
    const library = await bench('culori', () => {
      other = 0;
      for (const [reference, sample] of theirs) other += culori(reference, sample);
    }).run(options);

    const perMillion = (result: typeof many) => (result.latency.p50 * 1e6) / size;
    console.log(
      `${size} pairs: flat kernel ${perMillion(many).toFixed(1)} ms per million, ` +
        `one by one ${perMillion(one).toFixed(1)}, culori ${perMillion(library).toFixed(1)} ` +
        `(${(perMillion(library) / perMillion(many)).toFixed(1)} times the kernel); checksum ${(checksum / size).toFixed(4)}`,
    );
    if (size === 1_000) expect(checksum / size).toBeCloseTo(53.5081, 3);
    // The three compute the same thing (the flat one in single precision).
    expect(Math.abs(checksum / single - 1)).toBeLessThan(1e-6);
    expect(Math.abs(other / single - 1)).toBeLessThan(1e-9);
  });
}
