/**
 * Dense symmetric algebra of small sizes (up to about a hundred), row-major Float64Array, for Gaussian estimates.
 */

/**
 * Lower Cholesky factor of a symmetric positive definite matrix; only its lower triangle is read.
 * Throws RangeError when the matrix is not positive definite.
 */
export function factor(matrix: Float64Array, size: number): Float64Array {
  const lower = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * size + j];
      const rowI = i * size;
      const rowJ = j * size;
      for (let k = 0; k < j; k++) sum -= lower[rowI + k] * lower[rowJ + k];
      if (i === j) {
        if (!(sum > 0)) throw new RangeError(`Expected a positive definite matrix, got pivot ${sum} at ${i}`);
        lower[rowI + i] = Math.sqrt(sum);
      } else {
        lower[rowI + j] = sum / lower[rowJ + j];
      }
    }
  }
  return lower;
}

/** Inverse of a symmetric positive definite matrix from its lower Cholesky factor; full and symmetric. */
export function inverseFromFactor(lower: Float64Array, size: number): Float64Array {
  // Rows of the inverse of the factor, then its transpose times itself.
  const inverse = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    const diagonal = 1 / lower[i * size + i];
    for (let k = 0; k < i; k++) {
      const factorIk = lower[i * size + k] * diagonal;
      for (let j = 0; j <= k; j++) inverse[i * size + j] -= factorIk * inverse[k * size + j];
    }
    inverse[i * size + i] = diagonal;
  }
  const out = new Float64Array(size * size);
  for (let k = 0; k < size; k++) {
    for (let i = 0; i <= k; i++) {
      const value = inverse[k * size + i];
      if (value === 0) continue;
      for (let j = 0; j <= i; j++) out[i * size + j] += value * inverse[k * size + j];
    }
  }
  for (let i = 0; i < size; i++) for (let j = 0; j < i; j++) out[j * size + i] = out[i * size + j];
  return out;
}

/** Solution x of (L L') x = y for one right-hand side. */
export function solveFactored(lower: Float64Array, size: number, y: ArrayLike<number>): Float64Array {
  const x = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    let sum = y[i];
    for (let k = 0; k < i; k++) sum -= lower[i * size + k] * x[k];
    x[i] = sum / lower[i * size + i];
  }
  for (let i = size - 1; i >= 0; i--) {
    let sum = x[i];
    for (let k = i + 1; k < size; k++) sum -= lower[k * size + i] * x[k];
    x[i] = sum / lower[i * size + i];
  }
  return x;
}
