import {
  GRID,
  OBSERVER_10,
  WHITE_D65_10,
  cat16Matrix,
  illuminant,
  plausibleReflectance,
  transform,
  tristimulusWeights,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { Cam16Ucs, Lab, Spectrum } from '#lib/colour/index.ts';
import { covarianceRoot } from './evidence.ts';
import type { Estimate } from './evidence.ts';
import type { Sheen } from './sheen.ts';
import { apply, toUcs } from './look.ts';
import { lookDoubts } from './look-doubt.ts';
import type { LookDoubt } from './look-doubt.ts';

/** One colour of a finish: a paint has one, a stone or a patterned tile several by area. */
export interface FinishColour {
  readonly estimate: Estimate;
  /** Part of the area, 0-1. Shares are taken relative to their sum. */
  readonly share: number;
  /** Spectral reflectance on the 81-sample grid, where an instrument gave one. */
  readonly reflectance?: readonly number[] | null;
}

/** A finish as it is judged: its colours and its name. */
export interface FinishInput {
  readonly id: string;
  readonly name: string;
  readonly colours: readonly FinishColour[];
  readonly sheen?: Sheen | null;
}

/** One state of the room's light. */
export interface LightInput {
  readonly id: string;
  readonly name: string;
  /** Relative spectral power on the 81-sample grid. */
  readonly spectrum: readonly number[];
  /** Illuminance on the surfaces, lx. Kept for words; differences are judged at one level (see `PreparedLight`). */
  readonly illuminance: number;
}

/** A light made ready: weights that give XYZ, already adapted to D65, straight from a reflectance. */
export interface PreparedLight {
  readonly id: string;
  readonly name: string;
  /** Three rows of 81: X, Y, Z after CAT16 to D65/10° with full adaptation. */
  readonly weights: Float64Array;
}

/** One colour of a finish under D65 and under each light of the room. */
export interface Appearance {
  /** Part of the finish's area; the shares of a finish add up to 1. */
  readonly share: number;
  /** CIELAB D65/10°. */
  readonly lab: Lab;
  /** Lower triangular root of its covariance. */
  readonly root: readonly number[];
  /** Whether the reflectance was measured; otherwise it is the most plausible one for the colour. */
  readonly measured: boolean;
  readonly reflectance: ArrayLike<number>;
  /** What is not known about it: reflectance + Σ zₖ directions[k], z standard normal, the same z for all colours of a finish. */
  readonly directions: readonly ArrayLike<number>[];
  /** What that leaves open under each light, in few numbers; null where the reflectance was measured. */
  readonly doubts: readonly LookDoubt[] | null;
  /** Light reflectance value, Y for D65/10°, 0-100. */
  readonly lrv: number;
  /** Under each light, adapted to D65: CIELAB. */
  readonly labs: readonly Lab[];
  /** Under each light, adapted to D65: CAM16-UCS. */
  readonly ucs: readonly Cam16Ucs[];
  /** Under D65: CAM16-UCS. */
  readonly daylightUcs: Cam16Ucs;
}

/** A finish under the room's lights. */
export interface PreparedFinish {
  readonly id: string;
  readonly name: string;
  readonly colours: readonly Appearance[];
  /** The few numbers that stand for what is not known about its reflectances, see `FinishDoubt`. */
  readonly axes: readonly (readonly number[])[];
  /** Area-weighted light reflectance value, 0-100. */
  readonly lrv: number;
}

/**
 * Recovered reflectances by colour, so that a caller who ranks again and again (a moved weight, another light) pays for
 * each colour once. Make one with `new Map()`; it may be kept as long as one likes and shared between rankings.
 */
export type ReflectanceCache = Map<
  string,
  { readonly reflectance: Spectrum; readonly directions: readonly Spectrum[] }
>;

const DAYLIGHT_WEIGHTS = tristimulusWeights({ illuminant: illuminant('D65'), observer: OBSERVER_10 });

/**
 * A light made ready for `prepareFinish`.
 * @throws RangeError for a spectrum that is not on the grid, negative or dark.
 */
export function prepareLight(light: LightInput): PreparedLight {
  const spectrum = Float64Array.from(light.spectrum);
  const weights = tristimulusWeights({ illuminant: spectrum, observer: OBSERVER_10 });
  const white = apply(weights, new Float64Array(GRID.count).fill(1));
  // CAT16 with a fixed white is linear in XYZ, so it can be folded into the weights.
  const adaptation = cat16Matrix({ from: white, to: WHITE_D65_10, degree: 1 });
  for (let i = 0; i < GRID.count; i++) {
    const adapted = transform(adaptation, [weights[i], weights[GRID.count + i], weights[2 * GRID.count + i]]);
    for (let row = 0; row < 3; row++) weights[row * GRID.count + i] = adapted[row];
  }
  return { id: light.id, name: light.name, weights };
}

/**
 * A finish under D65 and under each light, after adaptation to D65 (CAT16, full degree).
 * A colour with a measured reflectance is integrated; one without gets the most plausible reflectance of its Lab.
 * @throws RangeError for a finish without colours, a negative share, a bad covariance or reflectance, naming the finish.
 */
export function prepareFinish(
  finish: FinishInput,
  lights: readonly PreparedLight[],
  cache: ReflectanceCache = new Map(),
): PreparedFinish {
  const where = `finish ${finish.id}`;
  let sum = 0;
  for (const { share } of finish.colours) {
    if (!(share >= 0) || !Number.isFinite(share))
      throw new RangeError(`Expected shares of 0 or more in ${where}, got ${share}`);
    sum += share;
  }
  if (!(sum > 0)) throw new RangeError(`Expected at least one colour with a share in ${where}`);
  const known = finish.colours
    .filter((colour) => colour.share > 0)
    .map((colour) => appearance(colour, colour.share / sum, { lights, cache, where }));
  const { axes, doubts } = lookDoubts(known, lights);
  const colours = known.map((colour, i) => ({ ...colour, doubts: doubts[i] }));
  const lrv = colours.reduce((total, colour) => total + colour.share * colour.lrv, 0);
  return { id: finish.id, name: finish.name, colours, axes, lrv };
}

interface Setting {
  readonly lights: readonly PreparedLight[];
  readonly cache: ReflectanceCache;
  readonly where: string;
}

function appearance(
  colour: FinishColour,
  share: number,
  { lights, cache, where }: Setting,
): Omit<Appearance, 'doubts'> {
  const { lab, covariance } = colour.estimate;
  if (!Number.isFinite(lab.L) || !Number.isFinite(lab.a) || !Number.isFinite(lab.b)) {
    throw new RangeError(`Expected a finite Lab in ${where}, got ${lab.L}, ${lab.a}, ${lab.b}`);
  }
  const measured = colour.reflectance != null;
  const { reflectance, directions } = colour.reflectance
    ? { reflectance: colour.reflectance, directions: [] }
    : recovered(lab, cache);
  if (measured) checkReflectance(reflectance, where);
  const daylight = apply(DAYLIGHT_WEIGHTS, reflectance);
  const adapted = lights.map((light) => apply(light.weights, reflectance));
  return {
    share,
    lab,
    root: covarianceRoot(covariance, `the covariance of ${where}`),
    measured,
    reflectance,
    directions,
    lrv: daylight.Y,
    labs: adapted.map((xyz) => xyzToLab(xyz, WHITE_D65_10)),
    ucs: adapted.map(toUcs),
    daylightUcs: toUcs(daylight),
  };
}

function recovered(lab: Lab, cache: ReflectanceCache) {
  const key = `${lab.L},${lab.a},${lab.b}`;
  let found = cache.get(key);
  if (!found) {
    // A doubtful colour may lie outside what surfaces can have; the nearest one that can is as good as its doubt.
    const { reflectance, directions } = plausibleReflectance(lab);
    found = { reflectance, directions };
    cache.set(key, found);
  }
  return found;
}

/** Measured reflectances may exceed 1: optical brighteners do that. */
function checkReflectance(reflectance: ArrayLike<number>, where: string): void {
  if (reflectance.length !== GRID.count) {
    throw new RangeError(`Expected ${GRID.count} reflectances in ${where}, got ${reflectance.length}`);
  }
  for (let i = 0; i < GRID.count; i++) {
    if (!(reflectance[i] >= 0 && reflectance[i] <= 2)) {
      throw new RangeError(
        `Expected reflectance in [0, 2] at ${GRID.start + i * GRID.step} nm in ${where}, got ${reflectance[i]}`,
      );
    }
  }
}
