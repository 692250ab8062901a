/**
 * Tables of numbers as text: little-endian 32-bit floats in base64 (RFC 4648), about seven digits. Written here because
 * this area knows neither the browser's nor Node's own.
 */

const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
const VALUES = new Map([...ALPHABET].map((letter, i) => [letter, i]));

function bytesToText(bytes: Uint8Array): string {
  let text = '';
  for (let i = 0; i < bytes.length; i += 3) {
    const left = bytes.length - i;
    const word = (bytes[i] << 16) | ((left > 1 ? bytes[i + 1] : 0) << 8) | (left > 2 ? bytes[i + 2] : 0);
    text += ALPHABET[word >> 18] + ALPHABET[(word >> 12) & 63];
    text += left > 1 ? ALPHABET[(word >> 6) & 63] : '=';
    text += left > 2 ? ALPHABET[word & 63] : '=';
  }
  return text;
}

function textToBytes(text: string): Uint8Array {
  const clean = text.replace(/=+$/, '');
  const bytes = new Uint8Array(Math.floor((clean.length * 3) / 4));
  let word = 0;
  let bits = 0;
  let at = 0;
  for (const letter of clean) {
    const value = VALUES.get(letter);
    if (value === undefined) throw new RangeError(`Expected base64, got ${JSON.stringify(letter)}`);
    word = ((word << 6) | value) & 0xffffff;
    bits += 6;
    if (bits >= 8) {
      bits -= 8;
      bytes[at++] = (word >> bits) & 255;
    }
  }
  return bytes;
}

/** Numbers as base64 of 32-bit floats. */
export function packFloats(values: ArrayLike<number>): string {
  const bytes = new Uint8Array(4 * values.length);
  const view = new DataView(bytes.buffer);
  for (let i = 0; i < values.length; i++) view.setFloat32(4 * i, values[i], true);
  return bytesToText(bytes);
}

/** The numbers of `packFloats`. Throws RangeError for other text. */
export function unpackFloats(text: string): Float64Array {
  const bytes = textToBytes(text);
  if (bytes.length % 4 !== 0) throw new RangeError(`Expected whole 32-bit floats, got ${bytes.length} bytes`);
  const view = new DataView(bytes.buffer);
  return Float64Array.from({ length: bytes.length / 4 }, (_, i) => view.getFloat32(4 * i, true));
}

/** A symmetric matrix as `packFloats` of its lower triangle, row by row. */
export function packSymmetric(matrix: Float64Array, size: number): string {
  const lower = new Float64Array((size * (size + 1)) / 2);
  let at = 0;
  for (let i = 0; i < size; i++) for (let j = 0; j <= i; j++) lower[at++] = matrix[i * size + j];
  return packFloats(lower);
}

/** The full matrix of `packSymmetric`. Throws RangeError when the text holds another size. */
export function unpackSymmetric(text: string, size: number): Float64Array {
  const lower = unpackFloats(text);
  if (lower.length !== (size * (size + 1)) / 2) {
    throw new RangeError(`Expected a symmetric matrix of ${size}, got ${lower.length} numbers`);
  }
  const matrix = new Float64Array(size * size);
  let at = 0;
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      matrix[i * size + j] = lower[at];
      matrix[j * size + i] = lower[at++];
    }
  }
  return matrix;
}
