import { checkMask, type Mask } from './mask.ts';

/**
 * A mask as plain JSON: coverage 0-255 kept exactly. `code` is base64 (RFC 4648, section 4) of bytes that an adaptive
 * binary range coder wrote, each value told from its neighbours above and to the left; `sum` is its check value.
 */
export interface StoredMask {
  readonly kind: 'mask';
  readonly version: 1;
  readonly width: number;
  readonly height: number;
  /** Adler-32 of the coverage values (RFC 1950, section 8.2). */
  readonly sum: number;
  readonly code: string;
}

const MOST_PIXELS = 1 << 26;

/** Adler-32 (RFC 1950, section 8.2). */
export function adler32(data: Uint8Array): number {
  let [a, b] = [1, 0];
  for (let i = 0; i < data.length;) {
    const end = Math.min(data.length, i + 3800); // sums stay below 2^32 this long
    for (; i < end; i++) {
      a += data[i];
      b += a;
    }
    a %= 65521;
    b %= 65521;
  }
  return b * 65536 + a;
}

/** A mask in its stored form. The same mask always gives the same text. */
export function encodeMask(mask: Mask): StoredMask {
  checkMask(mask);
  const { width, height, data } = mask;
  if (width * height > MOST_PIXELS)
    throw new RangeError(`Expected a mask of at most ${MOST_PIXELS} pixels, got ${width}x${height}`);
  const coder = new RangeWriter();
  const model = new CoverModel(width);
  for (let p = 0; p < data.length; p++) model.write(coder, data, p);
  return { kind: 'mask', version: 1, width, height, sum: adler32(data), code: toBase64(coder.finish()) };
}

/**
 * Reads a stored mask. `expected` is the working size of the picture it must fit. Throws RangeError in words where the
 * text is no mask, is damaged, or belongs to a picture of another size.
 */
export function decodeMask(
  stored: unknown,
  expected?: { readonly width: number; readonly height: number },
): Mask {
  const parts = stored as Partial<StoredMask> | null;
  if (typeof parts !== 'object' || parts === null || parts.kind !== 'mask')
    throw new RangeError('Expected a stored mask, got something else');
  if (parts.version !== 1) throw new RangeError(`Expected a mask of version 1, got ${String(parts.version)}`);
  const { width, height, sum, code } = parts;
  if (
    !Number.isInteger(width) ||
    !Number.isInteger(height) ||
    (width as number) < 1 ||
    (height as number) < 1 ||
    (width as number) * (height as number) > MOST_PIXELS
  )
    throw new RangeError(`Expected a mask of whole pixels, got ${String(width)}x${String(height)}`);
  const [w, h] = [width as number, height as number];
  if (expected && (expected.width !== w || expected.height !== h))
    throw new RangeError(
      `Expected a mask for a picture of ${expected.width}x${expected.height}, got one of ${w}x${h}`,
    );
  if (typeof code !== 'string' || !Number.isInteger(sum))
    throw new RangeError('Expected a mask with its code and check value, got a part of one');
  const reader = new RangeReader(fromBase64(code));
  const data = new Uint8Array(w * h);
  const model = new CoverModel(w);
  for (let p = 0; p < data.length; p++) {
    model.read(reader, data, p);
    if (reader.overrun) break;
  }
  if (reader.overrun || adler32(data) !== sum)
    throw new RangeError('Expected an undamaged mask, got one whose check value does not fit');
  return { width: w, height: h, data };
}

const BITS = 12; // probabilities in 1/4096
const PACE = 4; // the share of each surprise a probability learns: 1/16

/**
 * What a pixel probably is, from the pixels already known: first whether it repeats what its neighbours agree on (or the
 * full or empty they lean to), else the value bit by bit.
 */
class CoverModel {
  private readonly width: number;
  private readonly flags = new Uint16Array(3 * 729).fill(1 << (BITS - 1));
  private readonly values = new Uint16Array(9 * 256).fill(1 << (BITS - 1));

  constructor(width: number) {
    this.width = width;
  }

  /** Three levels of six neighbours (two to the left, three above, one two above) as one number. */
  private context(data: Uint8Array, p: number): number {
    const w = this.width;
    const x = p % w;
    const up = p >= w;
    const level = (value: number) => (value === 0 ? 0 : value === 255 ? 2 : 1);
    const left = x > 0 ? level(data[p - 1]) : up ? level(data[p - w]) : 0;
    const left2 = x > 1 ? level(data[p - 2]) : left;
    const above = up ? level(data[p - w]) : left;
    const aboveLeft = up && x > 0 ? level(data[p - w - 1]) : above;
    const aboveRight = up && x + 1 < w ? level(data[p - w + 1]) : above;
    const above2 = p >= 2 * w ? level(data[p - 2 * w]) : above;
    return ((((left * 3 + above) * 3 + aboveLeft) * 3 + aboveRight) * 3 + left2) * 3 + above2;
  }

  write(coder: RangeWriter, data: Uint8Array, p: number): void {
    const context = this.context(data, p);
    const value = data[p];
    const soft = value > 0 && value < 255 ? 1 : 0;
    coder.bit(this.flags, 2 * context, soft);
    if (!soft) {
      coder.bit(this.flags, 2 * context + 1, value === 255 ? 1 : 0);
      return;
    }
    const set = 256 * Math.floor(context / 81);
    for (let node = 1, k = 7; k >= 0; k--) {
      const bit = (value >> k) & 1;
      coder.bit(this.values, set + node, bit);
      node = 2 * node + bit;
    }
  }

  read(coder: RangeReader, data: Uint8Array, p: number): void {
    const context = this.context(data, p);
    if (!coder.bit(this.flags, 2 * context)) {
      data[p] = coder.bit(this.flags, 2 * context + 1) ? 255 : 0;
      return;
    }
    const set = 256 * Math.floor(context / 81);
    let node = 1;
    for (let k = 0; k < 8; k++) node = 2 * node + coder.bit(this.values, set + node);
    data[p] = node - 256;
  }
}

function learn(table: Uint16Array, at: number, bit: number): void {
  if (bit) table[at] -= table[at] >> PACE;
  else table[at] += ((1 << BITS) - table[at]) >> PACE;
}

const TOP = 2 ** 24;

/**
 * Carry-propagating binary range coder; `table[at]` is the probability of a 0.
 * Source: Martin 1979, Video and Data Recording Conference, Southampton; carries wait until they are certain, as is common
 * practice (no published source).
 */
class RangeWriter {
  private low = 0; // below 2^33
  private range = 2 ** 32 - 1;
  private held = 0;
  private waiting = 0;
  private started = false;
  private readonly out: number[] = [];

  bit(table: Uint16Array, at: number, bit: number): void {
    const bound = Math.floor(this.range / (1 << BITS)) * table[at];
    if (bit) {
      this.low += bound;
      this.range -= bound;
    } else this.range = bound;
    learn(table, at, bit);
    while (this.range < TOP) {
      this.range *= 256;
      this.shift();
    }
  }

  private shift(): void {
    if (this.low < 0xff000000 || this.low >= 2 ** 32) {
      const carry = this.low >= 2 ** 32 ? 1 : 0;
      if (this.started) this.out.push((this.held + carry) & 255);
      for (; this.waiting > 0; this.waiting--) this.out.push((255 + carry) & 255);
      this.started = true;
      this.held = Math.floor(this.low / TOP) & 255;
    } else this.waiting++;
    this.low = (this.low % TOP) * 256;
  }

  finish(): Uint8Array {
    for (let i = 0; i < 5; i++) this.shift();
    return Uint8Array.from(this.out);
  }
}

class RangeReader {
  /** Whether more was asked for than the bytes hold: the text was cut off. */
  overrun = false;
  private code = 0;
  private range = 2 ** 32 - 1;
  private at = 0;
  private readonly bytes: Uint8Array;

  constructor(bytes: Uint8Array) {
    this.bytes = bytes;
    for (let i = 0; i < 4; i++) this.code = this.code * 256 + this.next();
  }

  private next(): number {
    if (this.at >= this.bytes.length) {
      this.overrun = true;
      return 0;
    }
    return this.bytes[this.at++];
  }

  bit(table: Uint16Array, at: number): number {
    const bound = Math.floor(this.range / (1 << BITS)) * table[at];
    const bit = this.code < bound ? 0 : 1;
    if (bit) {
      this.code -= bound;
      this.range -= bound;
    } else this.range = bound;
    learn(table, at, bit);
    while (this.range < TOP) {
      this.range *= 256;
      this.code = this.code * 256 + this.next();
    }
    return bit;
  }
}

const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Base64 with padding (RFC 4648, section 4). */
export function toBase64(bytes: Uint8Array): string {
  let text = '';
  for (let i = 0; i < bytes.length; i += 3) {
    const word = (bytes[i] << 16) | ((bytes[i + 1] ?? 0) << 8) | (bytes[i + 2] ?? 0);
    text += ALPHABET[word >> 18] + ALPHABET[(word >> 12) & 63];
    text += i + 1 < bytes.length ? ALPHABET[(word >> 6) & 63] : '=';
    text += i + 2 < bytes.length ? ALPHABET[word & 63] : '=';
  }
  return text;
}

function fromBase64(text: string): Uint8Array {
  if (text.length % 4 !== 0 || !/^[A-Za-z0-9+/]*={0,2}$/.test(text))
    throw new RangeError('Expected the code of a mask in base64, got other signs');
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((text.length / 4) * 3 - padding);
  for (let i = 0, o = 0; i < text.length; i += 4, o += 3) {
    let word = 0;
    for (let k = 0; k < 4; k++) word = word * 64 + Math.max(0, ALPHABET.indexOf(text[i + k]));
    bytes[o] = (word >> 16) & 255;
    if (o + 1 < bytes.length) bytes[o + 1] = (word >> 8) & 255;
    if (o + 2 < bytes.length) bytes[o + 2] = word & 255;
  }
  return bytes;
}
