/*
 * Seeded normal numbers. One stream per thing, named by a string, so that what is drawn for one thing never depends on
 * which other things there are or in which order they come.
 */

const LEVELS = 4096;

/** Midpoint quantiles of the standard normal, scaled to unit variance: symmetric, so their mean is exactly 0. */
const QUANTILES = quantiles(LEVELS);

/** By accumulating the density outwards from 0 in small steps and reading off where each probability is reached. */
function quantiles(levels: number): Float64Array {
  const out = new Float64Array(levels);
  const step = 1e-3;
  const density = (x: number) => Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI);
  let x = 0;
  let probability = 0.5;
  for (let i = levels / 2; i < levels; i++) {
    const wanted = (i + 0.5) / levels;
    let gain = step * density(x + step / 2);
    while (probability + gain < wanted) {
      probability += gain;
      x += step;
      gain = step * density(x + step / 2);
    }
    out[i] = x + (step * (wanted - probability)) / gain;
    out[levels - 1 - i] = -out[i];
  }
  const deviation = Math.sqrt(out.reduce((sum, value) => sum + value * value, 0) / levels);
  return out.map((value) => value / deviation);
}

/** FNV-1a, 32 bit, over the UTF-16 units of a text. */
export function hash(text: string): number {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) {
    h = Math.imul(h ^ (text.charCodeAt(i) & 0xff), 0x01000193);
    h = Math.imul(h ^ (text.charCodeAt(i) >>> 8), 0x01000193);
  }
  return h >>> 0;
}

/**
 * A stream of standard normal numbers with 4096 levels (±3.7 at most), from a 32-bit generator (Weyl sequence with a
 * mixing function). Streams of different names or seeds are independent for our purpose.
 */
export function normals(seed: number, stream: string): () => number {
  let state = hash(`${seed}\u0000${stream}`);
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return QUANTILES[((mixed ^ (mixed >>> 14)) >>> 0) >>> 20];
  };
}
