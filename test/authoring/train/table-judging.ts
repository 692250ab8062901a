/** How the table of reflectances compares with the solver: colours kept, looks under lamps. */
import { deltaE2000 } from '../../../src/lib/colour/difference.ts';
import { labToXyz, xyzToLab } from '../../../src/lib/colour/lab.ts';
import { nearestReflectance, reflectancesFromLab } from '../../../src/lib/colour/recovery.ts';
import { WHITE_D65_10, spectrumToXyz } from '../../../src/lib/colour/tristimulus.ts';
import { SIGHT, lookDifferences } from './recovery-judging.ts';

export interface Compared {
  /** CIEDE2000 between each asked colour and that of its reflectance. */
  readonly misses: number[];
  /** CIEDE2000 between the looks of the table's and the solver's reflectance, under every lamp. */
  readonly looks: number[];
  /** Lowest and highest reflectance. */
  readonly lowest: number;
  readonly highest: number;
}

/** Compares on colours of stride 3 that surfaces can have. */
export function compareTable(labs: Float32Array): Compared {
  const found = reflectancesFromLab(labs);
  const misses: number[] = [];
  const looks: number[] = [];
  for (let i = 0; i < labs.length / 3; i++) {
    const lab = { L: labs[3 * i], a: labs[3 * i + 1], b: labs[3 * i + 2] };
    const reflectance = found.subarray(81 * i, 81 * i + 81);
    misses.push(deltaE2000(lab, xyzToLab(spectrumToXyz(reflectance, SIGHT), WHITE_D65_10)));
    looks.push(
      ...lookDifferences(nearestReflectance(labToXyz(lab, WHITE_D65_10), SIGHT).reflectance, reflectance),
    );
  }
  return {
    misses,
    looks,
    lowest: found.reduce((low, v) => Math.min(low, v), 1),
    highest: found.reduce((high, v) => Math.max(high, v), 0),
  };
}
