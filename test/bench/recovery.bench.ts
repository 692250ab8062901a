import { expect, test } from 'vitest';
import { OBSERVER_10, WHITE_D65_10, illuminant, labToXyz, reflectanceFromXyz } from '#lib/colour/index.ts';

/** Colours of paints, stones and textiles: D65, 10 degrees, a seeded generator (Park and Miller 1988). */
function colours(count: number): Float32Array {
  let state = 20240601;
  const random = () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
  return Float32Array.from({ length: 3 * count }, (_, i) =>
    i % 3 === 0 ? 20 + 65 * random() : i % 3 === 1 ? -20 + 40 * random() : -10 + 40 * random(),
  );
}

const SIGHT = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

/** Mean recovered reflectance at 380, 580 and 780 nm together. */
function recoverAll(labs: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < labs.length; i += 3) {
    const xyz = labToXyz({ L: labs[i], a: labs[i + 1], b: labs[i + 2] }, WHITE_D65_10);
    const reflectance = reflectanceFromXyz(xyz, SIGHT);
    sum += reflectance[0] + reflectance[40] + reflectance[80];
  }
  return sum / labs.length;
}

const SMALLEST = 100;

/** Of the smallest size; a change says that the prior or the method has changed. */
const CHECKSUM = 0.320976;

test('recovering a reflectance from a colour', () => {
  const sizes = process.env.BENCH_SMOKE ? [SMALLEST] : [SMALLEST, 1000, 5000];
  recoverAll(colours(SMALLEST));
  for (const size of sizes) {
    const labs = colours(size);
    const start = performance.now();
    const checksum = recoverAll(labs);
    const milliseconds = (performance.now() - start) * (1000 / size);
    console.log(
      `recovery, ${size} colours: ${milliseconds.toFixed(1)} ms per 1,000, checksum ${checksum.toFixed(6)}`,
    );
    if (size === SMALLEST) expect(checksum).toBeCloseTo(CHECKSUM, 5);
  }
});
