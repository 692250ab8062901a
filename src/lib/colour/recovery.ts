import { illuminant } from './illuminant.ts';
import { labToXyz } from './lab.ts';
import type { Lab } from './lab.ts';
import { OBSERVER_10 } from './observer.ts';
import type { Observer } from './observer.ts';
import { realSurfaces } from './reflectance-prior.ts';
import { EXACT, reflectanceSolver } from './reflectance-solver.ts';
import type { Recovered, RecoveredLook, ReflectanceSolver } from './reflectance-solver.ts';
import type { Spectrum } from './spectrum.ts';
import { WHITE_D65_10 } from './tristimulus.ts';
import type { Sight, XYZ } from './tristimulus.ts';

const D65 = illuminant('D65');

/** One solver for each illuminant array and observer that was asked for; forgotten with them. */
const solvers = new WeakMap<Spectrum, WeakMap<Observer, ReflectanceSolver>>();

function solverFor(sight: Sight): ReflectanceSolver {
  let byObserver = solvers.get(sight.illuminant);
  if (byObserver === undefined) {
    byObserver = new WeakMap();
    solvers.set(sight.illuminant, byObserver);
  }
  let solver = byObserver.get(sight.observer);
  if (solver === undefined) {
    solver = reflectanceSolver(realSurfaces(), sight);
    byObserver.set(sight.observer, solver);
  }
  return solver;
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
  const { reflectance, deltaE } = solverFor(sight).nearest(xyz);
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
  return reflectanceFromXyz(labToXyz(lab, WHITE_D65_10), { illuminant: D65, observer: OBSERVER_10 });
}

/**
 * `reflectanceFromXyz` for any finite tristimulus values. For a colour outside the object-colour solid the reflectance
 * is that of the colour drawn towards the grey of its own Y (kept within 0-100) until a surface can have it, and
 * `deltaE` says how far that was. Throws RangeError only for numbers that are not finite.
 */
export function nearestReflectance(xyz: XYZ, sight: Sight): Recovered {
  return solverFor(sight).nearest(xyz);
}

/**
 * What a surface known only by its tristimulus values is expected to look like under another illuminant, with the
 * spread that many different reflectances of the same colour leave.
 * Lab is against D65 for the sight's observer after complete CAT16 adaptation from the other light.
 * Covariance: the posterior of the logit reflectance, linearised and scaled by cross-validation.
 * Colours outside the object-colour solid are treated as in `nearestReflectance`.
 */
export function recoveredLook(xyz: XYZ, sight: Sight, under: Spectrum): RecoveredLook {
  return solverFor(sight).look(xyz, under);
}
