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
function hash(text: string): number {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) {
    h = Math.imul(h ^ (text.charCodeAt(i) & 0xff), 0x01000193);
    h = Math.imul(h ^ (text.charCodeAt(i) >>> 8), 0x01000193);
  }
  return h >>> 0;
}

/**
 * Fills arrays of equal length with standard normal numbers of 4096 levels (±3.7 at most), one number to each array in
 * turn, from a stream of their own: a 32-bit generator (Weyl sequence with a mixing function). Streams of different names or
 * seeds are independent for our purpose.
 */
export function fillNormals(
  seed: number,
  stream: string,
  [x, y, z]: readonly [Float64Array, Float64Array, Float64Array],
): void {
  let state = hash(`${seed}\u0000${stream}`);
  // Written out: a call for each number costs more than the number.
  for (let t = 0; t < x.length; t++) {
    state = (state + 0x6d2b79f5) | 0;
    let a = Math.imul(state ^ (state >>> 15), 1 | state);
    a = (a + Math.imul(a ^ (a >>> 7), 61 | a)) ^ a;
    x[t] = QUANTILES[(a ^ (a >>> 14)) >>> 20];
    state = (state + 0x6d2b79f5) | 0;
    let b = Math.imul(state ^ (state >>> 15), 1 | state);
    b = (b + Math.imul(b ^ (b >>> 7), 61 | b)) ^ b;
    y[t] = QUANTILES[(b ^ (b >>> 14)) >>> 20];
    state = (state + 0x6d2b79f5) | 0;
    let c = Math.imul(state ^ (state >>> 15), 1 | state);
    c = (c + Math.imul(c ^ (c >>> 7), 61 | c)) ^ c;
    z[t] = QUANTILES[(c ^ (c >>> 14)) >>> 20];
  }
}
