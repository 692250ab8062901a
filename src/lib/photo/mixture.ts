/** A surface's colours and textures as a sum of Gaussians with axes of their own; values have stride `AXES`. */
export interface Mixture {
  readonly count: number;
  readonly mean: Float64Array;
  /** 1 / variance along each axis. */
  readonly precision: Float64Array;
  /** ln of weight times the Gaussian's height. */
  readonly height: Float64Array;
}

/** L, u, v and the binary logarithm of the texture. */
export const AXES = 4;

const ROUNDS = 6;

interface MixtureOptions {
  /** Gaussians at most; fewer where the values are alike. */
  readonly most: number;
  /** Least standard deviation along each axis. */
  readonly least: readonly number[];
  /** Which values take part, and how much each counts. */
  readonly members: readonly number[];
  readonly weight: (member: number) => number;
}

/**
 * Fits a mixture by k-means, started from the values farthest from those already chosen, and measured per cluster:
 * the hard assignments of GrabCut. The same members give the same mixture.
 * Source: Rother, Kolmogorov, Blake 2004, ACM TOG 23(3), 309-314, section 3.2.
 */
export function fitMixture(values: Float32Array, { most, least, members, weight }: MixtureOptions): Mixture {
  const n = members.length;
  if (n === 0) throw new RangeError('Expected at least one value for a mixture, got none');
  const scale = least.map((s) => 1 / (s * s));
  const squared = (value: number, centre: Float64Array, k: number) => {
    let d = 0;
    for (let a = 0; a < AXES; a++) d += scale[a] * (values[value * AXES + a] - centre[k * AXES + a]) ** 2;
    return d;
  };
  const centre = new Float64Array(most * AXES);
  const far = new Float64Array(n).fill(Infinity);
  let count = 0;
  let next = 0;
  for (let i = 1; i < n; i++) if (weight(members[i]) > weight(members[next])) next = i;
  while (count < most) {
    for (let a = 0; a < AXES; a++) centre[count * AXES + a] = values[members[next] * AXES + a];
    let worst = 0;
    for (let i = 0; i < n; i++) {
      far[i] = Math.min(far[i], squared(members[i], centre, count));
      // Rare values far away do not take a Gaussian from common ones nearer by.
      const reach = Math.min(far[i], 100) * weight(members[i]);
      if (reach > worst) [worst, next] = [reach, i];
    }
    count++;
    if (worst === 0 || far[next] < 2) break;
  }
  const owner = new Int32Array(n);
  const sums = new Float64Array(count * AXES);
  const squares = new Float64Array(count * AXES);
  const total = new Float64Array(count);
  for (let round = 0; round < ROUNDS; round++) {
    sums.fill(0);
    squares.fill(0);
    total.fill(0);
    for (let i = 0; i < n; i++) {
      let [best, nearest] = [0, Infinity];
      for (let k = 0; k < count; k++) {
        const d = squared(members[i], centre, k);
        if (d < nearest) [best, nearest] = [k, d];
      }
      owner[i] = best;
      const w = weight(members[i]);
      total[best] += w;
      for (let a = 0; a < AXES; a++) {
        const value = values[members[i] * AXES + a];
        sums[best * AXES + a] += w * value;
        squares[best * AXES + a] += w * value * value;
      }
    }
    for (let k = 0; k < count; k++)
      if (total[k] > 0) for (let a = 0; a < AXES; a++) centre[k * AXES + a] = sums[k * AXES + a] / total[k];
  }
  const everything = total.reduce((s, v) => s + v, 0);
  const precision = new Float64Array(count * AXES);
  const height = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    height[k] = total[k] > 0 ? Math.log(Math.max(total[k] / everything, 0.02)) : -Infinity;
    for (let a = 0; a < AXES; a++) {
      const o = k * AXES + a;
      const variance = total[k] > 0 ? Math.max(0, squares[o] / total[k] - centre[o] ** 2) : 0;
      const whole = variance + least[a] ** 2;
      precision[o] = 1 / whole;
      height[k] -= 0.5 * Math.log(whole / least[a] ** 2);
    }
  }
  return { count, mean: centre.slice(0, count * AXES), precision, height };
}

/** ln of a value's likelihood up to a constant: 0 for the middle of a tight, sole Gaussian. */
export function logLikelihood(mixture: Mixture, values: Float32Array, member: number): number {
  const { count, mean, precision, height } = mixture;
  let best = -Infinity;
  for (let k = 0; k < count; k++) {
    let d = height[k];
    for (let a = 0; a < AXES; a++) {
      const off = values[member * AXES + a] - mean[k * AXES + a];
      d -= 0.5 * precision[k * AXES + a] * off * off;
    }
    if (d > best) best = d;
  }
  return best;
}
