import { illuminant } from './illuminant.ts';
import { labToXyz } from './lab.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10 } from './observer.ts';
import type { Observer } from './observer.ts';
import { realSurfaces } from './reflectance-prior.ts';
import { reflectanceDoubt } from './reflectance-doubt.ts';
import type { PlausibleReflectance, RecoveredLook, ReflectanceDoubt } from './reflectance-doubt.ts';
import { EXACT, NEAR_BLACK, NEAR_WHITE, reflectanceSolver } from './reflectance-solver.ts';
import type { Recovered, ReflectanceSolver } from './reflectance-solver.ts';
import { reflectanceTable } from './reflectance-table.ts';
import type { TableLookup } from './reflectance-table.ts';
import { GRID } from './spectrum.ts';
import type { Spectrum } from './spectrum.ts';
import { WHITE_D65_10 } from './tristimulus.ts';
import type { Sight, XYZ } from './tristimulus.ts';

const DAYLIGHT: Sight = { illuminant: illuminant('D65'), observer: OBSERVER_10 };

/** What is kept for a sight: its solver and, once it has been asked for, the doubt of that. */
interface Known {
  readonly solver: ReflectanceSolver;
  doubt: ReflectanceDoubt | null;
}

/** One solver for each illuminant array and observer that was asked for; forgotten with them. */
const solvers = new WeakMap<Spectrum, WeakMap<Observer, Known>>();

function knownFor(sight: Sight): Known {
  let byObserver = solvers.get(sight.illuminant);
  if (byObserver === undefined) {
    byObserver = new WeakMap();
    solvers.set(sight.illuminant, byObserver);
  }
  let known = byObserver.get(sight.observer);
  if (known === undefined) {
    known = { solver: reflectanceSolver(realSurfaces(), sight), doubt: null };
    byObserver.set(sight.observer, known);
  }
  return known;
}

function doubtFor(sight: Sight): ReflectanceDoubt {
  const known = knownFor(sight);
  known.doubt ??= reflectanceDoubt(known.solver);
  return known.doubt;
}

/**
 * The most plausible reflectance, 81 values in [0, 1], that gives tristimulus values under an
 * illuminant: it does so to CIEDE2000 below 0.01. Plausible: like the curves of real surfaces of about this colour.
 * The illuminant array is remembered by identity with what was computed for it: pass the same one, do not write to it.
 * Throws RangeError for values that no surface can have, outside the object-colour solid (a screen's or a laser's);
 * `nearestReflectance` answers for these too.
 * Source: own method, described at `reflectanceSolver`; measured by test/authoring/train/recovery.ts.
 */
export function reflectanceFromXyz(xyz: XYZ, sight: Sight): Spectrum {
  const { reflectance, deltaE } = knownFor(sight).solver.nearest(xyz);
  if (deltaE > EXACT) {
    const given = [xyz.X, xyz.Y, xyz.Z].map((v) => v.toFixed(2)).join(', ');
    throw new RangeError(
      `Expected tristimulus values that a surface can have, got XYZ ${given}: ` +
        `the nearest surface of its lightness is CIEDE2000 ${deltaE.toFixed(2)} away`,
    );
  }
  return reflectance;
}

/** `reflectanceFromXyz` for a CIELAB of D65 and the 10 degree observer. */
export function reflectanceFromLab(lab: Lab): Spectrum {
  return reflectanceFromXyz(labToXyz(lab, WHITE_D65_10), DAYLIGHT);
}

let table: TableLookup | null = null;

/**
 * Reflectances of many colours (CIELAB, D65, 10 degrees, stride 3), 81 values each, by a table made with the solver of
 * `reflectanceFromLab`: some 20 times as fast, as exact (CIEDE2000 below 0.01), and the same under lamps to 0.04 in the mean
 * for muted colours and 0.2 for all. What lies outside the object-colour solid is answered as by `nearestReflectance`.
 * Throws RangeError where a number is not finite or the length is not a multiple of 3.
 */
export function reflectancesFromLab(labs: Float32Array): Float32Array {
  if (labs.length % 3 !== 0)
    throw new RangeError(`Expected three values a colour, got ${labs.length} values`);
  table ??= reflectanceTable(DAYLIGHT);
  const { X, Y, Z } = WHITE_D65_10;
  const reflectances = new Float32Array((labs.length / 3) * GRID.count);
  const target = new Float64Array(3);
  const held = (v: number): number => Math.min(Math.max(v, NEAR_BLACK), NEAR_WHITE);
  for (let i = 0, at = 0; i < labs.length; i += 3, at += GRID.count) {
    const lab = { L: labs[i], a: labs[i + 1], b: labs[i + 2] };
    if (!Number.isFinite(lab.L + lab.a + lab.b)) {
      throw new RangeError(`Expected finite L*, a*, b*, got ${lab.L}, ${lab.a}, ${lab.b} at colour ${i / 3}`);
    }
    const xyz = labToXyz(lab, WHITE_D65_10);
    target[0] = held(xyz.X / X);
    target[1] = held(xyz.Y / Y);
    target[2] = held(xyz.Z / Z);
    if (!table(target, reflectances, at)) {
      reflectances.set(knownFor(DAYLIGHT).solver.nearest(xyz).reflectance, at);
    }
  }
  return reflectances;
}

/**
 * `reflectanceFromXyz` for any finite tristimulus values. For a colour outside the object-colour solid the reflectance
 * is that of the colour drawn towards the grey of its own Y (kept within 0-100) until a surface can have it, and
 * `deltaE` says how far that was. Throws RangeError only for numbers that are not finite.
 */
export function nearestReflectance(xyz: XYZ, sight: Sight): Recovered {
  return knownFor(sight).solver.nearest(xyz);
}

/**
 * What is not known about the reflectance of a colour (CIELAB, D65, 10 degrees): the most plausible one, and 12 directions
 * in which it may be otherwise. reflectance + sum of z_k directions[k], z independent standard normal, are the plausible
 * reflectances, all of exactly that colour. Their tristimulus values under any lamp, and differences of these (a movement
 * between two lamps, two finishes under one), are linear in z: one z for each finish.
 * A spread, not reflectances to paint with: of dark or strong colours a third of the sums leave [0, 1] by more than 0.01
 * somewhere, of greys and whites one in forty.
 * Calibrated by cross-validation: of held-out surfaces under eight lamps the 95 % region holds 96 %, 94-98 % of each class
 * of colour, and all near-neutrals. Colours outside the object-colour solid are treated as in `nearestReflectance`.
 * Source: own method, described at `reflectanceDoubt`; measured by test/authoring/train/recovery.ts.
 */
export function plausibleReflectance(lab: Lab): PlausibleReflectance {
  return doubtFor(DAYLIGHT).plausible(labToXyz(lab, WHITE_D65_10));
}

/**
 * What a surface known only by its tristimulus values is expected to look like under another illuminant, with the
 * spread that many different reflectances of the same colour leave.
 * Lab is against D65 for the sight's observer after complete CAT16 adaptation from the other light.
 * The covariance is that of the looks of `plausibleReflectance`, and a rounding of 0.1 on each axis.
 * Colours outside the object-colour solid are treated as in `nearestReflectance`.
 */
export function recoveredLook(xyz: XYZ, sight: Sight, under: Spectrum): RecoveredLook {
  return doubtFor(sight).look(xyz, under);
}
