import { deltaE2000, deltaE76 } from './difference.ts';
import { xyzToLab } from './lab.ts';
import type { Observer } from './observer.ts';
import type { Spectrum } from './spectrum.ts';
import { spectrumToXyz, whitePoint } from './tristimulus.ts';
import type { XYZ } from './tristimulus.ts';

/** Colour-difference formula of an index: CIELAB 1976, the one CIE 15 names first, or CIEDE2000. */
export type MetamerismFormula = 'CIELAB' | 'CIEDE2000';

/** A change of light: from the reference illuminant, under which the pair is meant to match, to the test illuminant. */
export interface IlluminantChange {
  readonly from: Spectrum;
  readonly to: Spectrum;
  readonly observer: Observer;
  /** Left out, `CIELAB`. */
  readonly formula?: MetamerismFormula;
}

/** Tristimulus values of one surface under the reference illuminant and under the test illuminant. */
export interface UnderBoth {
  readonly from: XYZ;
  readonly to: XYZ;
}

/**
 * CIE special metamerism index, change of illuminant, of two reflectances: the colour difference that a pair matching
 * under `from` shows under `to`. 0 where they stay together; in units of the formula, so about 1 is just seen.
 * A pair that does not quite match under `from` is first made to: X, Y, Z of the sample under `to` are multiplied by
 * the ratio of the pair's values under `from`. That is meant for small remainders; far from a match the index says
 * only how differently the two change.
 * Throws RangeError for reflectances outside [0, 1], lights that are dark, or a sample without any reflection.
 * Source: CIE 15:2018, special metamerism index: change in illuminant; ISO 18314-4, multiplicative correction on XYZ
 * (read through the colour-science library, not in the standard). CIE 80-1989 is about the change of observer.
 */
export function specialMetamerismIndex(
  reference: ArrayLike<number>,
  sample: ArrayLike<number>,
  change: IlluminantChange,
): number {
  const { from, to, observer, formula } = change;
  const under = (reflectance: ArrayLike<number>): UnderBoth => ({
    from: spectrumToXyz(reflectance, { illuminant: from, observer }),
    to: spectrumToXyz(reflectance, { illuminant: to, observer }),
  });
  return metamerismIndexFromXyz(under(reference), under(sample), {
    white: whitePoint(to, observer),
    formula,
  });
}

/**
 * `specialMetamerismIndex` from tristimulus values that are known already.
 * `white` is that of the test illuminant, Y = 100. Throws RangeError for a sample with X, Y or Z not above 0.
 */
export function metamerismIndexFromXyz(
  reference: UnderBoth,
  sample: UnderBoth,
  judged: { readonly white: XYZ; readonly formula?: MetamerismFormula },
): number {
  const { X, Y, Z } = sample.from;
  if (!(X > 0 && Y > 0 && Z > 0)) {
    throw new RangeError(
      `Expected a sample with tristimulus values above 0 under the reference light, got ${X}, ${Y}, ${Z}`,
    );
  }
  const corrected: XYZ = {
    X: (sample.to.X * reference.from.X) / X,
    Y: (sample.to.Y * reference.from.Y) / Y,
    Z: (sample.to.Z * reference.from.Z) / Z,
  };
  const { white, formula = 'CIELAB' } = judged;
  const difference = formula === 'CIEDE2000' ? deltaE2000 : deltaE76;
  return difference(xyzToLab(reference.to, white), xyzToLab(corrected, white));
}
