import { cholesky, deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';

/**
 * Upper triangular A with |A·δ|² ≈ ΔE00² for small Lab differences δ about the midpoint of two colours.
 * By differencing: M(i,j) = (E(i+j) − E(i) − E(j)) / 2 with E the squared ΔE of a small step, then A = Cholesky(M)ᵀ.
 */
export function localForm(reference: Lab, sample: Lab): readonly number[] {
  const middle = [(reference.L + sample.L) / 2, (reference.a + sample.a) / 2, (reference.b + sample.b) / 2];
  const step = 0.1;
  const energy = (i: number, j: number): number => {
    const from = [...middle];
    const to = [...middle];
    for (const axis of i === j ? [i] : [i, j]) {
      from[axis] -= step / 2;
      to[axis] += step / 2;
    }
    const deltaE = deltaE2000({ L: from[0], a: from[1], b: from[2] }, { L: to[0], a: to[1], b: to[2] });
    return (deltaE / step) ** 2;
  };
  const [LL, aa, bb] = [energy(0, 0), energy(1, 1), energy(2, 2)];
  const La = (energy(0, 1) - LL - aa) / 2;
  const Lb = (energy(0, 2) - LL - bb) / 2;
  const ab = (energy(1, 2) - aa - bb) / 2;
  const l = cholesky([LL, La, Lb, La, aa, ab, Lb, ab, bb]);
  return [l[0], l[3], l[6], 0, l[4], l[7], 0, 0, l[8]];
}

/** The best estimate's difference in the space of the form, scaled so that its length is the exact ΔE00. */
export function offset(
  form: readonly number[],
  reference: Lab,
  sample: Lab,
): readonly [number, number, number] {
  const L = sample.L - reference.L;
  const a = sample.a - reference.a;
  const b = sample.b - reference.b;
  const x = form[0] * L + form[1] * a + form[2] * b;
  const y = form[4] * a + form[5] * b;
  const z = form[8] * b;
  const length = Math.hypot(x, y, z);
  const scale = length > 1e-9 ? deltaE2000(reference, sample) / length : 1;
  return [x * scale, y * scale, z * scale];
}

/** Variance of g·δ for a δ with this covariance root. */
export function along(g0: number, g1: number, g2: number, root: readonly number[]): number {
  const c0 = g0 * root[0] + g1 * root[3] + g2 * root[6];
  const c1 = g1 * root[4] + g2 * root[7];
  const c2 = g2 * root[8];
  return c0 * c0 + c1 * c1 + c2 * c2;
}
