import {
  GRID,
  OBSERVER_10,
  WHITE_D65_10,
  cam16ToUcs,
  cat16Matrix,
  illuminant,
  labToXyz,
  nearestReflectance,
  recoveredLook,
  transform,
  transformCovariance,
  tristimulusWeights,
  viewingConditions,
  xyzToCam16,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { Cam16Ucs, Lab, XYZ } from '#lib/colour/index.ts';
import { covarianceRoot } from './evidence.ts';
import type { Estimate } from './evidence.ts';
import { localForm } from './local-difference.ts';
import type { Sheen } from './sheen.ts';

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
  /** Standard deviation per axis, ΔE00, of what this light does to a mid colour whose reflectance is not known; near 0 for D65. */
  readonly unknown: number;
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
  /** How much of a light's `unknown` this colour has: 0 for a measured one, 1 at mid lightness, less for whites and blacks. */
  readonly unknown: number;
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
  /** Area-weighted light reflectance value, 0-100. */
  readonly lrv: number;
}

/**
 * Recovered reflectances by colour, so that a caller who ranks again and again (a moved weight, another light) pays for
 * each colour once. Make one with `new Map()`; it may be kept as long as one likes and shared between rankings.
 */
export type ReflectanceCache = Map<string, ArrayLike<number>>;

/**
 * Conditions in which movement between lights is judged: a room at 200 lx, mid-grey surround, full adaptation. One level
 * for all lights: that a lamp is dimmer than the window changes every finish alike and is not the finish's doing.
 */
const ROOM = viewingConditions({
  white: WHITE_D65_10,
  L_A: (200 / Math.PI) * 0.2,
  Y_b: 20,
  surround: 'average',
  degree: 1,
});

/** The one illuminant array, so that the recovery remembers what it computed for it. */
const DAYLIGHT = { illuminant: illuminant('D65'), observer: OBSERVER_10 };
const DAYLIGHT_WEIGHTS = tristimulusWeights(DAYLIGHT);

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
  return { id: light.id, name: light.name, weights, unknown: spreadUnder(spectrum, MID) };
}

/** Lightness at which a light's spread is stated; and the muted, warmish colour, as house paints are, it is found with. */
const MID = 50;
const muted = (L: number): Lab => ({ L, a: -3, b: 8 });

/**
 * Spread per axis, ΔE00, that the plausible reflectances of a muted colour of this lightness leave under a light: from the
 * covariance of `recoveredLook`, measured in the local metric of CIEDE2000. Far more chromatic colours have somewhat less.
 */
function spreadUnder(spectrum: Float64Array, L: number): number {
  const { lab, covariance } = recoveredLook(labToXyz(muted(L), WHITE_D65_10), DAYLIGHT, spectrum);
  const inForm = transformCovariance(localForm(lab, lab), covariance);
  return Math.sqrt((inForm[0] + inForm[4] + inForm[8]) / 3);
}

/** Lightness steps at which the share of a light's spread is known; it hardly depends on the light (within 5 % over lamps). */
const SHARE_STEP = 10;
let shares: readonly number[] | null = null;

/** How much of a light's spread a colour of this lightness has, relative to mid lightness. Found once, under illuminant A. */
function spreadShare(L: number): number {
  if (!shares) {
    const lamp = illuminant('A');
    const mid = spreadUnder(lamp, MID);
    shares = Array.from(
      { length: 10 },
      (_, i) => spreadUnder(lamp, Math.min(95, (i + 1) * SHARE_STEP)) / mid,
    );
  }
  const at = Math.min(9, Math.max(1, L / SHARE_STEP)) - 1;
  const low = Math.floor(at);
  return shares[low] + (at - low) * (shares[Math.min(9, low + 1)] - shares[low]);
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
  const colours = finish.colours
    .filter((colour) => colour.share > 0)
    .map((colour) => appearance(colour, colour.share / sum, { lights, cache, where }));
  const lrv = colours.reduce((total, colour) => total + colour.share * colour.lrv, 0);
  return { id: finish.id, name: finish.name, colours, lrv };
}

interface Setting {
  readonly lights: readonly PreparedLight[];
  readonly cache: ReflectanceCache;
  readonly where: string;
}

function appearance(colour: FinishColour, share: number, { lights, cache, where }: Setting): Appearance {
  const { lab, covariance } = colour.estimate;
  if (!Number.isFinite(lab.L) || !Number.isFinite(lab.a) || !Number.isFinite(lab.b)) {
    throw new RangeError(`Expected a finite Lab in ${where}, got ${lab.L}, ${lab.a}, ${lab.b}`);
  }
  const measured = colour.reflectance != null;
  const reflectance = colour.reflectance ?? recovered(lab, cache);
  if (measured) checkReflectance(reflectance, where);
  const daylight = apply(DAYLIGHT_WEIGHTS, reflectance);
  const adapted = lights.map((light) => apply(light.weights, reflectance));
  return {
    share,
    lab,
    root: covarianceRoot(covariance, `the covariance of ${where}`),
    measured,
    unknown: measured ? 0 : spreadShare(lab.L),
    lrv: daylight.Y,
    labs: adapted.map((xyz) => xyzToLab(xyz, WHITE_D65_10)),
    ucs: adapted.map(toUcs),
    daylightUcs: toUcs(daylight),
  };
}

function recovered(lab: Lab, cache: ReflectanceCache): ArrayLike<number> {
  const key = `${lab.L},${lab.a},${lab.b}`;
  let reflectance = cache.get(key);
  if (!reflectance) {
    // A doubtful colour may lie outside what surfaces can have; the nearest one that can is as good as its doubt.
    reflectance = nearestReflectance(labToXyz(lab, WHITE_D65_10), DAYLIGHT).reflectance;
    cache.set(key, reflectance);
  }
  return reflectance;
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

function apply(weights: Float64Array, reflectance: ArrayLike<number>): XYZ {
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < GRID.count; i++) {
    const r = reflectance[i];
    X += weights[i] * r;
    Y += weights[GRID.count + i] * r;
    Z += weights[2 * GRID.count + i] * r;
  }
  return { X, Y, Z };
}

function toUcs(xyz: XYZ): Cam16Ucs {
  return cam16ToUcs(xyzToCam16(xyz, ROOM));
}
