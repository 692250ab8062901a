import {
  OBSERVER_10,
  WHITE_D65_10,
  cat16Matrix,
  illuminant,
  transform,
  whitePoint,
  xyzToLab,
} from '#lib/colour/index.ts';
import type { Cam16Ucs, Lab, Matrix3, XYZ } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from './appearance.ts';
import type { Appearance, FinishInput, LightInput, PreparedLight, ReflectanceCache } from './appearance.ts';
import { colourStream, spectrumStream, unit, wander } from './draws.ts';
import { apply, toUcs } from './look.ts';
import type { Triple } from './movement.ts';
import { DAYLIGHT_NAME } from './pairing.ts';

/*
 * Finishes under several lights, with draws over what is not known about their reflectances: every draw is one plausible
 * reflectance, seen under all the lights. Two finishes are drawn apart, one finish always alike. For the few finishes of a
 * report, where the ranking's short cuts (draws.ts) are not needed: each draw is looked at exactly.
 */

/** Daylight as every report compares with it: CIE D65. */
export const DAYLIGHT: LightInput = {
  id: 'D65',
  name: DAYLIGHT_NAME,
  spectrum: Array.from(illuminant('D65')),
  illuminance: 500,
};

/** A light made ready, and the way back from adapted tristimulus values to those it gives. */
export interface Stage extends PreparedLight {
  readonly white: XYZ;
  readonly unadapt: Matrix3;
}

/** Lights made ready for `drawnFinish`. Throws as `prepareLight`. */
export function stages(lights: readonly LightInput[]): Stage[] {
  return lights.map((light) => {
    const white = whitePoint(Float64Array.from(light.spectrum), OBSERVER_10);
    const unadapt = cat16Matrix({ from: WHITE_D65_10, to: white, degree: 1 });
    return { ...prepareLight(light), white, unadapt };
  });
}

/**
 * A part of a finish that the eye takes for one colour: the finish as a whole (its colours mixed by area, as from across
 * the room) or one of several colours.
 */
export interface Facet {
  /** 'whole', or the place of the colour in the finish. */
  readonly of: 'whole' | number;
  /** Part of the finish's area, 0-1. */
  readonly share: number;
  /** Under each light at the best estimate, adapted to D65. */
  readonly labs: readonly Lab[];
  readonly ucs: readonly Cam16Ucs[];
  /** Adapted tristimulus values of each draw under each light, stride 3. */
  readonly xyz: readonly Float64Array[];
  /** CIELAB and CAM16-UCS of the same, stride 3. */
  readonly drawnLabs: readonly Float32Array[];
  readonly drawnUcs: readonly Float64Array[];
  /** `drawnLabs` moved by what is not known about the colour by day, the same under every light. */
  readonly movedLabs: readonly Float32Array[];
  readonly moves: Triple;
  /** Tristimulus values at the best estimate, adapted to D65. */
  readonly best: readonly XYZ[];
}

/** A finish with its draws. */
export interface DrawnFinish<F extends FinishInput = FinishInput> {
  readonly finish: F;
  readonly draws: number;
  /** Whether any of its colours is known by its daylight look alone. */
  readonly estimated: boolean;
  readonly whole: Facet;
  /** Its colours, the largest first; a plain finish has one, which is the whole. */
  readonly colours: readonly Facet[];
}

export interface DrawSettings {
  readonly draws: number;
  readonly seed: number;
  readonly cache: ReflectanceCache;
}

/** A finish under the lights. Throws as `prepareFinish`. */
export function drawnFinish<F extends FinishInput>(
  finish: F,
  lights: readonly Stage[],
  { draws, seed, cache }: DrawSettings,
): DrawnFinish<F> {
  const prepared = prepareFinish(finish, lights, cache);
  const unknown = unknowns(prepared.colours, { draws, seed, id: finish.id });
  const still = unit(seed, colourStream(finish.id), draws);
  const colours = prepared.colours
    .map((colour, index) => {
      const xyz = lights.map((light) => drawnXyz(colour, light, unknown, draws));
      const best = lights.map(({ weights }) => apply(weights, colour.reflectance));
      return facet({ of: index, share: colour.share, xyz, best, moves: wander(colour.root, still) });
    })
    .toSorted((a, b) => b.share - a.share);
  return {
    finish,
    draws,
    estimated: prepared.colours.some(({ measured }) => !measured),
    whole: colours.length === 1 ? colours[0] : mixed(colours, lights.length),
    colours,
  };
}

/** Standard normal numbers for each direction of a finish's reflectances; the colours of a finish share them. */
function unknowns(
  colours: readonly Appearance[],
  { draws, seed, id }: { draws: number; seed: number; id: string },
): Float64Array[] {
  const count = Math.max(...colours.map(({ directions }) => directions.length));
  return Array.from({ length: Math.ceil(count / 3) }, (_, i) =>
    unit(seed, `${spectrumStream(id)}, ${i}`, draws),
  ).flat();
}

function drawnXyz(
  { reflectance, directions }: Appearance,
  { weights }: Stage,
  unknown: readonly Float64Array[],
  draws: number,
): Float64Array {
  const { X, Y, Z } = apply(weights, reflectance);
  const steps = directions.map((direction) => apply(weights, direction));
  const out = new Float64Array(3 * draws);
  for (let t = 0; t < draws; t++) {
    let x = X;
    let y = Y;
    let z = Z;
    for (let k = 0; k < steps.length; k++) {
      const by = unknown[k][t];
      x += by * steps[k].X;
      y += by * steps[k].Y;
      z += by * steps[k].Z;
    }
    // The spread is linear; no surface reflects less than nothing.
    out[3 * t] = Math.max(0, x);
    out[3 * t + 1] = Math.max(0, y);
    out[3 * t + 2] = Math.max(0, z);
  }
  return out;
}

function facet(of: Pick<Facet, 'of' | 'share' | 'xyz' | 'best' | 'moves'>): Facet {
  const { xyz, best, moves } = of;
  const drawnLabs = xyz.map((values) =>
    each(values, Float32Array, (one) => {
      const { L, a, b } = xyzToLab(one, WHITE_D65_10);
      return [L, a, b];
    }),
  );
  let movedLabs: Float32Array[] | null = null;
  let drawnUcs: Float64Array[] | null = null;
  return {
    ...of,
    labs: best.map((one) => xyzToLab(one, WHITE_D65_10)),
    ucs: best.map(toUcs),
    drawnLabs,
    // What takes longest is worked out when it is asked for: who asks after one finish needs neither.
    get movedLabs() {
      movedLabs ??= drawnLabs.map((labs) => labs.map((value, i) => value + moves[i % 3][Math.floor(i / 3)]));
      return movedLabs;
    },
    get drawnUcs() {
      drawnUcs ??= xyz.map((values) =>
        each(values, Float64Array, (one) => {
          const { J, a, b } = toUcs(one);
          return [J, a, b];
        }),
      );
      return drawnUcs;
    },
  };
}

/** Tristimulus values, stride 3, as other coordinates. */
function each<A extends Float32Array | Float64Array>(
  xyz: Float64Array,
  Values: new (length: number) => A,
  coordinates: (xyz: XYZ) => readonly [number, number, number],
): A {
  const out = new Values(xyz.length);
  for (let i = 0; i < xyz.length; i += 3) {
    const [p, q, r] = coordinates({ X: xyz[i], Y: xyz[i + 1], Z: xyz[i + 2] });
    out[i] = p;
    out[i + 1] = q;
    out[i + 2] = r;
  }
  return out;
}

/** Colours mixed by area, in light. */
function mixed(colours: readonly Facet[], lights: number): Facet {
  const sum = (pick: (colour: Facet) => Float64Array) => {
    const out = new Float64Array(pick(colours[0]).length);
    for (const colour of colours) pick(colour).forEach((value, i) => (out[i] += colour.share * value));
    return out;
  };
  const places = Array.from({ length: lights }, (_, l) => l);
  return facet({
    of: 'whole',
    share: 1,
    xyz: places.map((l) => sum(({ xyz }) => xyz[l])),
    best: places.map((l) => {
      const total = { X: 0, Y: 0, Z: 0 };
      for (const { best, share } of colours) {
        total.X += share * best[l].X;
        total.Y += share * best[l].Y;
        total.Z += share * best[l].Z;
      }
      return total;
    }),
    moves: [0, 1, 2].map((axis) => sum(({ moves }) => moves[axis])) as unknown as Triple,
  });
}

/** CIELAB of one draw, by what is not known about the reflectance alone. */
export function labOfDraw({ drawnLabs }: Facet, light: number, draw: number): Lab {
  const labs = drawnLabs[light];
  return { L: labs[3 * draw], a: labs[3 * draw + 1], b: labs[3 * draw + 2] };
}

/** Tristimulus values as the light gives them, from those adapted to D65. */
export function underLight({ unadapt }: Stage, { X, Y, Z }: XYZ): XYZ {
  const [x, y, z] = transform(unadapt, [X, Y, Z]);
  return { X: x, Y: y, Z: z };
}
