/**
 * 3x3 matrix, row-major, nine numbers.
 */
export type Matrix3 = readonly number[];

/** Three numbers in the order of the matrix rows they meet. */
export type Vector3 = readonly [number, number, number];

/** A 3x3 matrix with the given diagonal and zeros elsewhere. */
export function diagonal(d0: number, d1: number, d2: number): Matrix3 {
  return [d0, 0, 0, 0, d1, 0, 0, 0, d2];
}

/** Matrix product `a b`: apply `b` first, then `a`. */
export function multiply(a: Matrix3, b: Matrix3): Matrix3 {
  const out = new Array<number>(9);
  for (let row = 0; row < 3; row++) {
    for (let column = 0; column < 3; column++) {
      out[row * 3 + column] =
        a[row * 3] * b[column] + a[row * 3 + 1] * b[column + 3] + a[row * 3 + 2] * b[column + 6];
    }
  }
  return out;
}

/** Matrix times column vector. */
export function transform(m: Matrix3, v: Vector3): [number, number, number] {
  return [
    m[0] * v[0] + m[1] * v[1] + m[2] * v[2],
    m[3] * v[0] + m[4] * v[1] + m[5] * v[2],
    m[6] * v[0] + m[7] * v[1] + m[8] * v[2],
  ];
}

/** The matrix mirrored at its diagonal. */
export function transpose(m: Matrix3): Matrix3 {
  return [m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]];
}

/** Determinant. */
export function determinant(m: Matrix3): number {
  return (
    m[0] * (m[4] * m[8] - m[5] * m[7]) -
    m[1] * (m[3] * m[8] - m[5] * m[6]) +
    m[2] * (m[3] * m[7] - m[4] * m[6])
  );
}

/**
 * Inverse, by cofactors.
 * Throws RangeError when the matrix has no inverse.
 */
export function invert(m: Matrix3): Matrix3 {
  const d = determinant(m);
  if (!(Math.abs(d) > 0) || !Number.isFinite(d)) {
    throw new RangeError(`Expected a matrix with an inverse, got determinant ${d}`);
  }
  return [
    (m[4] * m[8] - m[5] * m[7]) / d,
    (m[2] * m[7] - m[1] * m[8]) / d,
    (m[1] * m[5] - m[2] * m[4]) / d,
    (m[5] * m[6] - m[3] * m[8]) / d,
    (m[0] * m[8] - m[2] * m[6]) / d,
    (m[2] * m[3] - m[0] * m[5]) / d,
    (m[3] * m[7] - m[4] * m[6]) / d,
    (m[1] * m[6] - m[0] * m[7]) / d,
    (m[0] * m[4] - m[1] * m[3]) / d,
  ];
}

/** How a covariance changes under a linear map: `m c mT` (first-order propagation of doubt). */
export function transformCovariance(m: Matrix3, covariance: Matrix3): Matrix3 {
  return multiply(multiply(m, covariance), transpose(m));
}

/**
 * Lower-triangular factor `l` with `l lT = m`, for drawing from a covariance.
 * A positive semi-definite matrix is allowed: directions without spread get a zero column.
 * Only the lower triangle of `m` is read.
 * Throws RangeError when `m` has a clearly negative direction.
 */
export function cholesky(m: Matrix3): Matrix3 {
  // Pivots below this share of the largest variance are rounding of an exact zero.
  const floor = 1e-12 * Math.max(Math.abs(m[0]), Math.abs(m[4]), Math.abs(m[8]));
  const root = (pivot: number): number => {
    if (!(pivot >= -floor)) {
      throw new RangeError(`Expected a positive semi-definite matrix, got pivot ${pivot}`);
    }
    return pivot <= floor ? 0 : Math.sqrt(pivot);
  };
  const l00 = root(m[0]);
  const l10 = l00 === 0 ? 0 : m[3] / l00;
  const l20 = l00 === 0 ? 0 : m[6] / l00;
  const l11 = root(m[4] - l10 * l10);
  const l21 = l11 === 0 ? 0 : (m[7] - l20 * l10) / l11;
  const l22 = root(m[8] - l20 * l20 - l21 * l21);
  return [l00, 0, 0, l10, l11, 0, l20, l21, l22];
}

/** Eigenvalues in descending order, and for each its unit eigenvector. */
export interface SymmetricEigen {
  readonly values: readonly [number, number, number];
  readonly vectors: readonly [Vector3, Vector3, Vector3];
}

/**
 * Eigenvalues and eigenvectors of a symmetric matrix: the axes of a covariance ellipsoid.
 * Only the lower triangle of `m` is read. Eigenvalues descend; eigenvectors are orthonormal, sign arbitrary.
 * Source: cyclic Jacobi rotations, Golub and Van Loan, Matrix Computations, section 8.5.
 */
export function eigenSymmetric(m: Matrix3): SymmetricEigen {
  const a = [
    [m[0], m[3], m[6]],
    [m[3], m[4], m[7]],
    [m[6], m[7], m[8]],
  ];
  const v = [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ];
  const size =
    Math.abs(m[0]) + Math.abs(m[4]) + Math.abs(m[8]) + Math.abs(m[3]) + Math.abs(m[6]) + Math.abs(m[7]);
  if (!Number.isFinite(size)) throw new RangeError('Expected a matrix of finite numbers');
  for (let sweep = 0; sweep < 50; sweep++) {
    if (Math.abs(a[0][1]) + Math.abs(a[0][2]) + Math.abs(a[1][2]) <= 1e-18 * size) break;
    for (let p = 0; p < 2; p++) {
      for (let q = p + 1; q < 3; q++) {
        if (a[p][q] === 0) continue;
        const theta = (a[q][q] - a[p][p]) / (2 * a[p][q]);
        const t = (theta < 0 ? -1 : 1) / (Math.abs(theta) + Math.hypot(theta, 1));
        const c = 1 / Math.hypot(t, 1);
        const s = t * c;
        for (let k = 0; k < 3; k++) {
          const kp = a[k][p];
          const kq = a[k][q];
          a[k][p] = c * kp - s * kq;
          a[k][q] = s * kp + c * kq;
        }
        for (let k = 0; k < 3; k++) {
          const pk = a[p][k];
          const qk = a[q][k];
          a[p][k] = c * pk - s * qk;
          a[q][k] = s * pk + c * qk;
          const vp = v[k][p];
          const vq = v[k][q];
          v[k][p] = c * vp - s * vq;
          v[k][q] = s * vp + c * vq;
        }
        a[p][q] = 0;
        a[q][p] = 0;
      }
    }
  }
  const order = [0, 1, 2].sort((i, j) => a[j][j] - a[i][i]);
  const vector = (i: number): Vector3 => [v[0][order[i]], v[1][order[i]], v[2][order[i]]];
  return {
    values: [a[order[0]][order[0]], a[order[1]][order[1]], a[order[2]][order[2]]],
    vectors: [vector(0), vector(1), vector(2)],
  };
}
