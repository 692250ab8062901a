import { expect, test } from 'vitest';
import {
  OBSERVER_10,
  WHITE_D65_10,
  illuminant,
  labToXyz,
  plausibleReflectance,
  reflectanceFromXyz,
  reflectancesFromLab,
} from '#lib/colour/index.ts';

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

/** Mean recovered reflectance at 380, 580 and 780 nm together, solved one by one. */
function solveAll(labs: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < labs.length; i += 3) {
    const xyz = labToXyz({ L: labs[i], a: labs[i + 1], b: labs[i + 2] }, WHITE_D65_10);
    const reflectance = reflectanceFromXyz(xyz, SIGHT);
    sum += reflectance[0] + reflectance[40] + reflectance[80];
  }
  return sum / labs.length;
}

/** The same by the table. */
function lookUpAll(labs: Float32Array): number {
  const reflectances = reflectancesFromLab(labs);
  let sum = 0;
  for (let at = 0; at < reflectances.length; at += 81) {
    sum += reflectances[at] + reflectances[at + 40] + reflectances[at + 80];
  }
  return sum / labs.length;
}

/** Mean variance of the plausible reflectances at 580 nm, in ten-thousandths: what it takes to know the doubt. */
function doubtAll(labs: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < labs.length; i += 3) {
    const { directions } = plausibleReflectance({ L: labs[i], a: labs[i + 1], b: labs[i + 2] });
    for (const direction of directions) sum += direction[40] ** 2;
  }
  return (30_000 * sum) / labs.length;
}

const SMALLEST = 100;

/** Of the smallest size; a change says that the prior or the method has changed. */
const WAYS: readonly {
  name: string;
  run: (labs: Float32Array) => number;
  sizes: number[];
  checksum: number;
}[] = [
  { name: 'solved', run: solveAll, sizes: [1000, 5000], checksum: 0.320976 },
  { name: 'by the table', run: lookUpAll, sizes: [10_000, 100_000], checksum: 0.324378 },
  { name: 'with its doubt', run: doubtAll, sizes: [500], checksum: 8.976263 },
];

test('recovering a reflectance from a colour', () => {
  for (const { name, run, sizes, checksum } of WAYS) {
    run(colours(SMALLEST));
    for (const size of process.env.BENCH_SMOKE ? [SMALLEST] : [SMALLEST, ...sizes]) {
      const labs = colours(size);
      const start = performance.now();
      const found = run(labs);
      const seconds = (performance.now() - start) / 1000;
      console.log(
        `recovery ${name}, ${size} colours: ${Math.round(size / seconds)} a second, checksum ${found.toFixed(6)}`,
      );
      if (size === SMALLEST) expect(found).toBeCloseTo(checksum, 5);
    }
  }
});
