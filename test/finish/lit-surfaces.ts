import {
  OBSERVER_10,
  WHITE_D65_10,
  illuminant,
  spectrumToXyz,
  tristimulusWeights,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { IlluminantName, Lab } from '#lib/colour/index.ts';
import { isotropicCovariance } from '#lib/finish/index.ts';
import type { ReportedFinish } from '#lib/finish/index.ts';
import { readTable } from '../colour/published.ts';

// Measured surfaces, and pairs of reflectances that are one colour by day and differ under lamps.

const DAY = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
const rows = readTable('target24_reflectance.csv');

/** Reflectances of the 24-patch target; the source stands in the first line of the table. */
export const PATCHES: readonly (readonly number[])[] = Array.from({ length: 24 }, (_, i) =>
  rows.map((row) => Number(row[`patch_${String(i + 1).padStart(2, '0')}`])),
);

export function labByDay(reflectance: readonly number[]): Lab {
  return xyzToLab(spectrumToXyz(reflectance, DAY), WHITE_D65_10);
}

/** A finish of one measured colour. */
export function measured(
  id: string,
  reflectance: readonly number[],
  over: Partial<ReportedFinish> = {},
): ReportedFinish {
  const estimate = { lab: labByDay(reflectance), covariance: isotropicCovariance(0) };
  return { id, name: id, role: 'chosen', colours: [{ estimate, share: 1, reflectance }], ...over };
}

/** The same colour as far as it is known by day. */
export function known(
  id: string,
  reflectance: readonly number[],
  over: Partial<ReportedFinish> = {},
): ReportedFinish {
  const estimate = { lab: labByDay(reflectance), covariance: isotropicCovariance(0) };
  return { id, name: id, role: 'chosen', colours: [{ estimate, share: 1 }], ...over };
}

/**
 * A metameric black for an illuminant and the 10 degree observer, largest value 1: a curve with no tristimulus values (Wyszecki
 * 1953), here what is left of three humps beside the span of the weights.
 */
export function metamericBlack(name: IlluminantName = 'D65'): number[] {
  const weights = tristimulusWeights({ illuminant: illuminant(name), observer: OBSERVER_10 });
  const axes: number[][] = [];
  const without = (curve: number[]) => {
    for (let pass = 0; pass < 2; pass++) {
      for (const axis of axes) {
        const share = curve.reduce((sum, value, j) => sum + value * axis[j], 0);
        curve.forEach((_, j) => (curve[j] -= share * axis[j]));
      }
    }
    return curve;
  };
  for (let i = 0; i < 3; i++) {
    const row = without(Array.from(weights.subarray(81 * i, 81 * i + 81)));
    const length = Math.hypot(...row);
    axes.push(row.map((value) => value / length));
  }
  const humps = Array.from({ length: 81 }, (_, j) => {
    const nm = 380 + 5 * j;
    const hump = (centre: number) => Math.exp(-(((nm - centre) / 20) ** 2));
    return hump(450) + hump(545) + hump(610) - hump(490) - hump(580);
  });
  const black = without(humps);
  const most = Math.max(...black.map(Math.abs));
  return black.map((value) => value / most);
}

/** A reflectance and another of the same colour under an illuminant, by day where none is named. */
export function metamericPair(
  reflectance: readonly number[],
  amount: number,
  name: IlluminantName = 'D65',
): [number[], number[]] {
  const black = metamericBlack(name);
  return [Array.from(reflectance), reflectance.map((value, j) => value + amount * black[j])];
}

/** A lamp of two narrow lines with hardly any light between them: under it surfaces lose nearly all chroma. */
export function twoLines(): number[] {
  return Array.from({ length: 81 }, (_, j) => {
    const nm = 380 + 5 * j;
    return nm === 575 ? 100 : 0.05;
  });
}
