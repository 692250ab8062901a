import { cholesky, deltaE2000, deltaE2000Many } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';

/** The six steps whose squared ΔE give the six entries of a symmetric 3×3 form: along L, a, b, La, Lb, ab. */
const STEPS = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
  [1, 1, 0],
  [1, 0, 1],
  [0, 1, 1],
];
/** Length of a step, CIELAB units: small against the curvature of ΔE00, large against single precision. */
const STEP = 0.25;

// Kept between calls so that a form costs no garbage; a ranking makes thousands.
const from = new Float32Array(18);
const to = new Float32Array(18);
const energy = new Float32Array(6);

/**
 * Upper triangular A with |A·δ|² ≈ ΔE00² for small Lab differences δ about the midpoint of two colours.
 * By differencing: M(i,j) = (E(i+j) − E(i) − E(j)) / 2 with E the squared ΔE of a small step, then A = Cholesky(M)ᵀ.
 */
export function localForm(reference: Lab, sample: Lab): readonly number[] {
  const L = (reference.L + sample.L) / 2;
  const a = (reference.a + sample.a) / 2;
  const b = (reference.b + sample.b) / 2;
  for (let i = 0; i < 6; i++) {
    const [dL, da, db] = STEPS[i];
    const half = STEP / 2;
    from[3 * i] = L - half * dL;
    from[3 * i + 1] = a - half * da;
    from[3 * i + 2] = b - half * db;
    to[3 * i] = L + half * dL;
    to[3 * i + 1] = a + half * da;
    to[3 * i + 2] = b + half * db;
  }
  deltaE2000Many(from, to, energy);
  for (let i = 0; i < 6; i++) energy[i] = (energy[i] / STEP) ** 2;
  const [LL, aa, bb, ELa, ELb, Eab] = energy;
  const La = (ELa - LL - aa) / 2;
  const Lb = (ELb - LL - bb) / 2;
  const ab = (Eab - aa - bb) / 2;
  const l = cholesky([LL, La, Lb, La, aa, ab, Lb, ab, bb]);
  return [l[0], l[3], l[6], 0, l[4], l[7], 0, 0, l[8]];
}

/**
 * Writes the best estimate's difference, in the space of the form and scaled so that its length is the exact ΔE00, to three
 * places of `into` from `at`.
 */
export function offset(
  into: Float64Array,
  at: number,
  { form, reference, sample }: { form: readonly number[]; reference: Lab; sample: Lab },
): void {
  const L = sample.L - reference.L;
  const a = sample.a - reference.a;
  const b = sample.b - reference.b;
  const x = form[0] * L + form[1] * a + form[2] * b;
  const y = form[4] * a + form[5] * b;
  const z = form[8] * b;
  const length = Math.sqrt(x * x + y * y + z * z);
  const scale = length > 1e-9 ? deltaE2000(reference, sample) / length : 1;
  into[at] = x * scale;
  into[at + 1] = y * scale;
  into[at + 2] = z * scale;
}

/** Variance of g·δ for a δ with this covariance root. */
export function along(g0: number, g1: number, g2: number, root: readonly number[]): number {
  const c0 = g0 * root[0] + g1 * root[3] + g2 * root[6];
  const c1 = g1 * root[4] + g2 * root[7];
  const c2 = g2 * root[8];
  return c0 * c0 + c1 * c1 + c2 * c2;
}
