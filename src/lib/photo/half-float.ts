/**
 * Half-precision floats (IEEE 754 binary16), kept in a Uint16Array: 11 bits of precision from 6e-5 to 65504, the format
 * of a half-float texture, so that a layer goes to the graphics processor as it stands.
 */

const FLOAT = new Float32Array(1);
const BITS = new Uint32Array(FLOAT.buffer);

/** Binary16 of a number, rounded to nearest; beyond 65504 the largest finite value. */
export function toHalf(value: number): number {
  FLOAT[0] = value;
  const bits = BITS[0];
  const sign = (bits >>> 16) & 0x8000;
  const size = bits & 0x7fffffff;
  if (size >= 0x477ff000) return sign | 0x7bff;
  if (size < 0x38800000) {
    // Below the smallest normal number: steps of 2^-24.
    return sign | Math.round(Math.abs(value) * 16777216);
  }
  return sign | ((size - 0x38000000 + 0x1000) >>> 13);
}

/** The number of each of the 65536 patterns; infinities and what is no number do not occur in our planes. */
export const HALF_TO_NUMBER: Float32Array = Float32Array.from({ length: 65536 }, (_, bits) => {
  const sign = bits & 0x8000 ? -1 : 1;
  const exponent = (bits >> 10) & 31;
  const fraction = bits & 1023;
  return exponent === 0 ? sign * fraction * 2 ** -24 : sign * (1 + fraction / 1024) * 2 ** (exponent - 15);
});
