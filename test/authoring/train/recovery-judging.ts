/**
 * How recovered reflectances are judged: errors under lamps on curves held out, and how often the stated spread holds the
 * truth, by class of colour. Used by recovery.ts and the tests.
 */
import { adaptCat16 } from '../../../src/lib/colour/adaptation.ts';
import { deltaE2000 } from '../../../src/lib/colour/difference.ts';
import { illuminant } from '../../../src/lib/colour/illuminant.ts';
import type { IlluminantName } from '../../../src/lib/colour/illuminant.ts';
import { xyzToLab } from '../../../src/lib/colour/lab.ts';
import type { Covariance, Lab } from '../../../src/lib/colour/lab.ts';
import { OBSERVER_10 } from '../../../src/lib/colour/observer.ts';
import type { ReflectanceDoubt } from '../../../src/lib/colour/reflectance-doubt.ts';
import type { ReflectanceSolver } from '../../../src/lib/colour/reflectance-solver.ts';
import { WHITE_D65_10, spectrumToXyz, whitePoint } from '../../../src/lib/colour/tristimulus.ts';

/** The lamps the recovery is judged under. */
export const LAMPS: readonly IlluminantName[] = [
  'A',
  'FL2',
  'FL11',
  'FL12',
  'LED-B1',
  'LED-B3',
  'LED-B5',
  'LED-RGB1',
];

export const SIGHT = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
const LIGHTS = LAMPS.map((name) => illuminant(name));

/** CIELAB of a reflectance under a lamp after complete adaptation to D65, 10 degrees. */
export function appearance(reflectance: ArrayLike<number>, light: Float64Array): Lab {
  const xyz = spectrumToXyz(reflectance, { illuminant: light, observer: OBSERVER_10 });
  const from = whitePoint(light, OBSERVER_10);
  return xyzToLab(adaptCat16(xyz, { from, to: WHITE_D65_10, degree: 1 }), WHITE_D65_10);
}

/** Differences between two reflectances under each of the lamps, CIEDE2000. */
export function lookDifferences(one: ArrayLike<number>, other: ArrayLike<number>): number[] {
  return LIGHTS.map((light) => deltaE2000(appearance(one, light), appearance(other, light)));
}

/** The same as differences in L*, a* and b*, 24 numbers. */
export function lookErrors(one: ArrayLike<number>, other: ArrayLike<number>): number[] {
  return LIGHTS.flatMap((light) => {
    const to = appearance(one, light);
    const from = appearance(other, light);
    return [to.L - from.L, to.a - from.a, to.b - from.b];
  });
}

/** Error under every lamp of every curve: recovered from its D65 colour, or (`null`) taken as unchanged. */
export function errors(curves: readonly Float64Array[], solver: ReflectanceSolver | null): number[] {
  return curves.flatMap((curve) => {
    const xyz = spectrumToXyz(curve, SIGHT);
    if (solver) return lookDifferences(curve, solver.nearest(xyz).reflectance);
    return LIGHTS.map((light) => deltaE2000(appearance(curve, light), xyzToLab(xyz, WHITE_D65_10)));
  });
}

/** A curve held out: its colour and, for each lamp, how far the stated look is off and how sure it was said to be. */
export interface Judged {
  readonly lab: Lab;
  readonly looks: readonly { readonly off: readonly number[]; readonly covariance: Covariance }[];
}

/** Judges the spread stated for curves that the doubt's solver does not know. */
export function judge(curves: readonly Float64Array[], doubt: ReflectanceDoubt): Judged[] {
  return curves.map((curve) => {
    const xyz = spectrumToXyz(curve, SIGHT);
    const looks = LIGHTS.map((light) => {
      const { lab, covariance } = doubt.look(xyz, light);
      const truth = appearance(curve, light);
      return { off: [truth.L - lab.L, truth.a - lab.a, truth.b - lab.b], covariance };
    });
    return { lab: xyzToLab(xyz, WHITE_D65_10), looks };
  });
}

/** Classes of colour for which the coverage is stated; each by chroma or by lightness. */
export const CLASSES: readonly { name: string; holds: (lab: Lab) => boolean }[] = [
  { name: 'all', holds: () => true },
  { name: 'chroma < 10', holds: (lab) => chroma(lab) < 10 },
  { name: 'chroma 10-30', holds: (lab) => chroma(lab) >= 10 && chroma(lab) < 30 },
  { name: 'chroma 30-50', holds: (lab) => chroma(lab) >= 30 && chroma(lab) < 50 },
  { name: 'chroma > 50', holds: (lab) => chroma(lab) >= 50 },
  { name: 'L* < 40', holds: (lab) => lab.L < 40 },
  { name: 'L* 40-65', holds: (lab) => lab.L >= 40 && lab.L < 65 },
  { name: 'L* > 65', holds: (lab) => lab.L >= 65 },
];

function chroma(lab: Lab): number {
  return Math.hypot(lab.a, lab.b);
}

/** Share of curve and lamp whose 95 % ellipsoid, its variance times `widened`, holds the truth. */
export function coverage(judged: readonly Judged[], widened = 1): number {
  const squares = judged.flatMap(({ looks }) =>
    looks.map(({ off, covariance }) => {
      return mahalanobis(
        off,
        covariance.map((v) => widened * v),
      );
    }),
  );
  return squares.filter((v) => v <= 7.815).length / squares.length; // chi-squared, 3 degrees of freedom
}

/** The widening with which the ellipsoids would hold a share of the truth. */
export function wideningFor(judged: readonly Judged[], share: number): number {
  let [low, high] = [0.01, 100];
  for (let halving = 0; halving < 30; halving++) {
    const middle = Math.sqrt(low * high);
    if (coverage(judged, middle) < share) low = middle;
    else high = middle;
  }
  return high;
}

function mahalanobis(d: readonly number[], s: readonly number[]): number {
  const l00 = Math.sqrt(s[0]);
  const l10 = s[3] / l00;
  const l20 = s[6] / l00;
  const l11 = Math.sqrt(s[4] - l10 * l10);
  const l21 = (s[7] - l20 * l10) / l11;
  const l22 = Math.sqrt(s[8] - l20 * l20 - l21 * l21);
  const y0 = d[0] / l00;
  const y1 = (d[1] - l10 * y0) / l11;
  const y2 = (d[2] - l20 * y0 - l21 * y1) / l22;
  return y0 * y0 + y1 * y1 + y2 * y2;
}

/** Mean, 95th percentile and largest. */
export function summary(values: readonly number[]): { mean: number; p95: number; most: number } {
  const sorted = values.toSorted((a, b) => a - b);
  return {
    mean: values.reduce((sum, v) => sum + v, 0) / values.length,
    p95: sorted[Math.floor(0.95 * (sorted.length - 1))],
    most: sorted[sorted.length - 1],
  };
}

/** Splits into folds in the order of a seeded generator (Park and Miller 1988). */
export function folds<T>(items: readonly T[], count: number, seed: number): T[][] {
  let state = seed;
  const keyed = items.map((item) => {
    state = (state * 48271) % 2147483647;
    return { item, key: state };
  });
  keyed.sort((a, b) => a.key - b.key);
  return Array.from({ length: count }, (_, f) =>
    keyed.filter((_, i) => i % count === f).map((entry) => entry.item),
  );
}
