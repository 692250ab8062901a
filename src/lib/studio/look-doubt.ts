import {
  appearanceOfXyz,
  cholesky,
  deltaE2000,
  GRID,
  plausibleReflectance,
  transform,
  type Covariance,
  type Lab,
  type RoomView,
  type Spectrum,
  type XYZ,
} from '#lib/colour/index.ts';

/** A colour as far as what is not known about its look in a room depends on it. */
export interface OpenColour {
  /** As measured: its look by plain daylight. */
  readonly plain: Lab;
  /** Of the area, 0-1. */
  readonly share: number;
  readonly reflectance: ArrayLike<number>;
  /** Whether the reflectance is an instrument's, so that no lamp leaves anything open. */
  readonly measured: boolean;
}

// The directions are those of the colour: found once for it, when the first of its doubts is asked for.
const directions = new WeakMap<OpenColour, readonly Spectrum[]>();

function directionsOf(colour: OpenColour): readonly Spectrum[] {
  if (colour.measured) return [];
  let found = directions.get(colour);
  if (!found) {
    found = plausibleReflectance(colour.plain).directions;
    directions.set(colour, found);
  }
  return found;
}

/**
 * What is not known about the look of a finish in a room (its colours by area as one), CIELAB D65/10 as the screen shows
 * it: the covariance over the reflectances that are the same colour by daylight, to first order. The colours of one finish
 * share their unknown numbers, as in finish. Null where every reflectance is measured.
 */
export function lookSpread(colours: readonly OpenColour[], view: RoomView): Covariance | null {
  const whole = colours.reduce((sum, { share }) => sum + share, 0) || 1;
  const slopes: number[] = [];
  for (const colour of colours) {
    const open = directionsOf(colour);
    if (open.length === 0) continue;
    const by = lookSlopes(weighed(colour.reflectance, view), view);
    for (const [k, direction] of open.entries()) {
      const { X, Y, Z } = weighed(direction, view);
      for (let i = 0; i < 3; i++)
        slopes[3 * k + i] =
          (slopes[3 * k + i] ?? 0) + (colour.share / whole) * (by[0][i] * X + by[1][i] * Y + by[2][i] * Z);
    }
  }
  if (slopes.length === 0) return null;
  const covariance = new Array<number>(9).fill(0);
  for (let k = 0; k < slopes.length; k += 3)
    for (let at = 0; at < 9; at++) covariance[at] += slopes[k + Math.floor(at / 3)] * slopes[k + (at % 3)];
  return covariance;
}

/** Two standard deviations of the CIEDE2000 between a look that is known and one with a spread. */
export function differenceDoubt(reference: Lab, seen: Lab, spread: Covariance | null): number {
  return doubtOf(seen, spread, (lab) => deltaE2000(reference, lab));
}

/** Two standard deviations of the chroma C* of a look with a spread. */
export function chromaDoubt(seen: Lab, spread: Covariance | null): number {
  return doubtOf(seen, spread, ({ a, b }) => Math.hypot(a, b));
}

function weighed(values: ArrayLike<number>, { weights }: RoomView): XYZ {
  const sum = [0, 0, 0];
  for (let row = 0; row < 3; row++)
    for (let i = 0; i < GRID.count; i++) sum[row] += weights[row * GRID.count + i] * values[i];
  const [X, Y, Z] = sum;
  return { X, Y, Z };
}

/** Step of the differences, on the scale of Y = 100. */
const STEP = 1e-3;

/** Slopes of the look by X, by Y and by Z: L*, a*, b* each, by central differences. */
function lookSlopes({ X, Y, Z }: XYZ, view: RoomView): number[][] {
  const look = (dX: number, dY: number, dZ: number) => {
    const { L, a, b } = appearanceOfXyz({ X: X + dX, Y: Y + dY, Z: Z + dZ }, view).lab;
    return [L, a, b];
  };
  return [
    [STEP, 0, 0],
    [0, STEP, 0],
    [0, 0, STEP],
  ].map(([dX, dY, dZ]) => {
    const [above, below] = [look(dX, dY, dZ), look(-dX, -dY, -dZ)];
    return above.map((value, i) => (value - below[i]) / (2 * STEP));
  });
}

/**
 * Distances from the middle and their weights, of three standard normal numbers, exact for polynomials of the square up to
 * degree 5. Source: positive nodes and weights of Gauss-Hermite integration with seven points (Abramowitz and Stegun 1964,
 * table 25.10), whose squares are those of Gauss-Laguerre with t^(1/2).
 */
const SHELLS = [
  { node: 0.81628788285897, weight: 0.4256072526101 },
  { node: 1.67355162876747, weight: 0.05451558281913 },
  { node: 2.65196135683523, weight: 0.0009717812450995 },
].map(({ node, weight }) => ({ radius: Math.SQRT2 * node, weight: weight * node * node }));

/** Directions on a sphere: as many as make the doubt good to 2 %. */
const WAYS = 64;

/** Points in three dimensions that stand for three standard normal numbers; weights add up to 1. */
const POINTS = (() => {
  const total = WAYS * SHELLS.reduce((sum, { weight }) => sum + weight, 0);
  return Array.from({ length: WAYS }, (_, i) => {
    // Fibonacci's lattice: even in height, the golden angle from one to the next.
    const z = (2 * i + 1) / WAYS - 1;
    const turn = Math.PI * (3 - Math.sqrt(5)) * i;
    const flat = Math.sqrt(1 - z * z);
    return [flat * Math.cos(turn), flat * Math.sin(turn), z] as const;
  }).flatMap(([x, y, z]) =>
    SHELLS.map(({ radius, weight }) => ({
      at: [radius * x, radius * y, radius * z] as const,
      weight: weight / total,
    })),
  );
})();

/**
 * Two standard deviations of a quantity of a look. Summed over the spread, as the light report does with draws: to first
 * order alone what may go either way would come out far too doubtful.
 */
function doubtOf(seen: Lab, spread: Covariance | null, quantity: (lab: Lab) => number): number {
  if (!spread) return 0;
  const root = cholesky(spread);
  const middle = quantity(seen);
  let [mean, square] = [0, 0];
  for (const { at, weight } of POINTS) {
    const [L, a, b] = transform(root, at);
    const value = quantity({ L: seen.L + L, a: seen.a + a, b: seen.b + b }) - middle;
    mean += weight * value;
    square += weight * value * value;
  }
  return 2 * Math.sqrt(Math.max(0, square - mean * mean));
}
