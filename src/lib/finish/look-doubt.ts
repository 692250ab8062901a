import { WHITE_D65_10, xyzToLab } from '#lib/colour/index.ts';
import type { XYZ } from '#lib/colour/index.ts';
import { apply, toUcs } from './look.ts';

/*
 * What is not known about looks under lamps, boiled down. A reflectance that was not measured is open along some ten
 * directions; what they do to the looks under a room's few lights lies nearly all in three (test/finish/look-doubt.test.ts
 * holds how much), and three numbers a draw are a third of the work.
 */

/** Numbers per finish, standard normal, that stand for what is not known about its reflectance. */
export const UNKNOWNS = 3;

/** How a colour's look under one light moves with the finish's `UNKNOWNS`: to first order, 3 × 3, row-major. */
export interface LookDoubt {
  /** Rows L*, a*, b*, after adaptation to D65. */
  readonly lab: readonly number[];
  /** Rows J', a', b' of CAM16-UCS. */
  readonly ucs: readonly number[];
}

/** A colour as far as its doubts depend on it. */
interface Open {
  readonly share: number;
  readonly reflectance: ArrayLike<number>;
  readonly directions: readonly ArrayLike<number>[];
}

/** Weights that give XYZ, adapted to D65, from a reflectance. */
interface Weighted {
  readonly weights: Float64Array;
}

/** What is not known about the looks of a finish. */
export interface FinishDoubt {
  /** The unknown numbers as directions among those of the reflectances: `UNKNOWNS` unit vectors, or none. */
  readonly axes: readonly (readonly number[])[];
  /** Of each colour under each light; null for a colour whose reflectance is measured. */
  readonly doubts: readonly (readonly LookDoubt[] | null)[];
}

/**
 * What is not known about the looks of a finish's colours under each light. The colours of one finish share their
 * numbers: what is not known about one pigment or mineral is likely not known about its neighbour.
 */
export function lookDoubts(colours: readonly Open[], lights: readonly Weighted[]): FinishDoubt {
  const count = Math.max(0, ...colours.map(({ directions }) => directions.length));
  if (count === 0 || lights.length === 0)
    return { axes: [], doubts: colours.map(({ directions }) => (directions.length > 0 ? [] : null)) };
  const slopes = colours.map((colour) => lights.map((light) => slopesUnder(colour, light)));
  const product = new Float64Array(count * count);
  slopes.forEach((perLight, i) =>
    perLight.forEach(({ ucs }) => addProduct(product, count, { rows: ucs, weight: colours[i].share })),
  );
  const axes = mainAxes(product, count);
  const doubts = colours.map(({ directions }, i) =>
    directions.length === 0
      ? null
      : slopes[i].map(({ lab, ucs }) => ({ lab: along(lab, axes), ucs: along(ucs, axes) })),
  );
  return { axes, doubts };
}

/** Slopes of a colour's look by each direction: three rows of as many. */
function slopesUnder({ reflectance, directions }: Open, { weights }: Weighted): LookDoubt {
  const count = directions.length;
  const lab = new Array<number>(3 * count).fill(0);
  const ucs = new Array<number>(3 * count).fill(0);
  if (count === 0) return { lab, ucs };
  const by = lookSlopes(apply(weights, reflectance));
  for (let k = 0; k < count; k++) {
    const { X, Y, Z } = apply(weights, directions[k]);
    for (let i = 0; i < 3; i++) {
      lab[i * count + k] = by.lab[3 * i] * X + by.lab[3 * i + 1] * Y + by.lab[3 * i + 2] * Z;
      ucs[i * count + k] = by.ucs[3 * i] * X + by.ucs[3 * i + 1] * Y + by.ucs[3 * i + 2] * Z;
    }
  }
  return { lab, ucs };
}

/** Step of the differences, on the scale of Y = 100. */
const STEP = 1e-3;

/** Slopes of CIELAB and CAM16-UCS by X, Y and Z, row-major, by central differences. */
function lookSlopes({ X, Y, Z }: XYZ): LookDoubt {
  const lab = new Array<number>(9).fill(0);
  const ucs = new Array<number>(9).fill(0);
  for (let k = 0; k < 3; k++) {
    for (const sign of [1, -1]) {
      const by = sign * STEP;
      const xyz = { X: k === 0 ? X + by : X, Y: k === 1 ? Y + by : Y, Z: k === 2 ? Z + by : Z };
      const inLab = xyzToLab(xyz, WHITE_D65_10);
      const inUcs = toUcs(xyz);
      const half = 1 / (2 * by);
      lab[k] += half * inLab.L;
      lab[3 + k] += half * inLab.a;
      lab[6 + k] += half * inLab.b;
      ucs[k] += half * inUcs.J;
      ucs[3 + k] += half * inUcs.a;
      ucs[6 + k] += half * inUcs.b;
    }
  }
  return { lab, ucs };
}

/** Adds weight × rowsᵀ·rows of three rows. */
function addProduct(
  product: Float64Array,
  count: number,
  { rows, weight }: { rows: readonly number[]; weight: number },
): void {
  if (rows.length === 0) return;
  for (let i = 0; i < count; i++) {
    const r0 = weight * rows[i];
    const r1 = weight * rows[count + i];
    const r2 = weight * rows[2 * count + i];
    for (let j = 0; j < count; j++)
      product[i * count + j] += r0 * rows[j] + r1 * rows[count + j] + r2 * rows[2 * count + j];
  }
}

/** Steps of the iteration; the axes are as good as they get for our purpose after a few. */
const ITERATIONS = 6;

/**
 * The `UNKNOWNS` orthogonal unit vectors along which the product of the slopes is largest, by orthogonal iteration, begun
 * at its largest columns. Zero where it spans less.
 */
function mainAxes(product: Float64Array, count: number): number[][] {
  let axes = largestColumns(product, count);
  orthonormalise(axes);
  for (let step = 0; step < ITERATIONS; step++) {
    axes = axes.map((axis) => times(product, axis));
    orthonormalise(axes);
  }
  return axes;
}

/** Columns of a positive semidefinite product by pivoted elimination: the largest, then what is largest beside it. */
function largestColumns(product: Float64Array, count: number): number[][] {
  const left = product.slice();
  const out: number[][] = [];
  while (out.length < UNKNOWNS) {
    let pivot = 0;
    for (let i = 1; i < count; i++) if (left[i * count + i] > left[pivot * count + pivot]) pivot = i;
    const size = left[pivot * count + pivot];
    const column = Array.from({ length: count }, (_, i) => left[i * count + pivot]);
    out.push(column);
    if (!(size > 0)) continue;
    for (let i = 0; i < count; i++)
      for (let j = 0; j < count; j++) left[i * count + j] -= (column[i] * column[j]) / size;
  }
  return out;
}

function times(product: Float64Array, axis: readonly number[]): number[] {
  const count = axis.length;
  const out = new Array<number>(count).fill(0);
  for (let i = 0; i < count; i++) {
    let sum = 0;
    for (let j = 0; j < count; j++) sum += product[i * count + j] * axis[j];
    out[i] = sum;
  }
  return out;
}

/** Gram-Schmidt, in place; a vector that lies in those before it becomes zero. */
function orthonormalise(vectors: readonly number[][]): void {
  vectors.forEach((vector, n) => {
    const before = Math.sqrt(dot(vector, vector));
    for (let m = 0; m < n; m++) {
      const share = dot(vector, vectors[m]);
      for (let j = 0; j < vector.length; j++) vector[j] -= share * vectors[m][j];
    }
    const length = Math.sqrt(dot(vector, vector));
    const scale = length > 1e-9 * before ? 1 / length : 0;
    for (let j = 0; j < vector.length; j++) vector[j] *= scale;
  });
}

function dot(a: readonly number[], b: readonly number[]): number {
  let sum = 0;
  for (let j = 0; j < a.length; j++) sum += a[j] * b[j];
  return sum;
}

/** Three rows of slopes times the axes: 3 × `UNKNOWNS`. */
function along(rows: readonly number[], axes: readonly (readonly number[])[]): number[] {
  const count = rows.length / 3;
  const out = new Array<number>(3 * UNKNOWNS).fill(0);
  for (let i = 0; i < 3; i++) {
    for (let k = 0; k < UNKNOWNS; k++) {
      let sum = 0;
      for (let j = 0; j < count; j++) sum += rows[i * count + j] * axes[k][j];
      out[i * UNKNOWNS + k] = sum;
    }
  }
  return out;
}
