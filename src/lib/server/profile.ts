/**
 * Colour profiles of pictures: read far enough to linearise matrix and grey profiles ourselves, without the clipping that
 * a detour over sRGB brings, and written for our own three spaces.
 *
 * Source: ICC.1:2022 (profile version 4.4): header 7.2, tag table 7.3, `XYZType` 10.31, `curveType` 10.6,
 * `parametricCurveType` 10.18, matrix/TRC model F.3, D50 of the connection space 7.2.16.
 */

/** Device value 0-1 to linear light 0-1. */
export type Curve = (value: number) => number;

/** How a picture's device values are to be read. */
export type Profile =
  /** Linear light of R, G, B times `toXyz` (row-major) gives XYZ relative to D50 with Y = 1 for white. */
  | { kind: 'matrix'; curves: [Curve, Curve, Curve]; toXyz: readonly number[] }
  | { kind: 'grey'; curve: Curve }
  /** Look-up tables, CMYK, or anything else that only a colour engine can read. */
  | { kind: 'table' };

export type Space = 'srgb' | 'display-p3' | 'rec2020';

/** White of the connection space (ICC.1:2022, 7.2.16). */
const D50 = [0.9642, 1, 0.8249];

/** CIE xy of the primaries and white. Sources: IEC 61966-2-1; Display P3 as SMPTE EG 432-1 with D65; ITU-R BT.2020-2. */
const PRIMARIES: Record<Space, readonly number[]> = {
  srgb: [0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329],
  'display-p3': [0.68, 0.32, 0.265, 0.69, 0.15, 0.06, 0.3127, 0.329],
  rec2020: [0.708, 0.292, 0.17, 0.797, 0.131, 0.046, 0.3127, 0.329],
};

/** Adobe RGB (1998), 4.3: primaries, white and exponent. */
export const ADOBE_RGB = {
  primaries: [0.64, 0.33, 0.21, 0.71, 0.15, 0.06, 0.3127, 0.329],
  exponent: 2.19921875,
};

/** Constants of the BT.2020 curve in full precision (ITU-R BT.2020-2, table 4). */
const ALPHA = 1.09929682680944;
const BETA = 0.018053968510807;

const SRGB_CURVE = {
  toLinear: (value: number) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4),
  fromLinear: (light: number) => (light <= 0.0031308 ? light * 12.92 : 1.055 * light ** (1 / 2.4) - 0.055),
};

/**
 * Transfer curves, device value 0-1 to linear light 0-1 and back, unclamped. The same as `decodeRgb` and `encodeRgb` of the
 * colour area, which the kernels read working images with; a test holds them together. They are not imported because this
 * file is loaded by a process started for every picture, and the colour area brings all its tables along.
 * Sources: IEC 61966-2-1 (sRGB, also the curve of Display P3); ITU-R BT.2020-2.
 */
export const CURVES: Record<Space, { toLinear: Curve; fromLinear: Curve }> = {
  srgb: SRGB_CURVE,
  'display-p3': SRGB_CURVE,
  rec2020: {
    toLinear: (value) => (value < 4.5 * BETA ? value / 4.5 : ((value + ALPHA - 1) / ALPHA) ** (1 / 0.45)),
    fromLinear: (light) => (light < BETA ? 4.5 * light : ALPHA * light ** 0.45 - (ALPHA - 1)),
  },
};

/** Linear light of a set of primaries to XYZ relative to D50, adapted by Bradford as ICC profiles are (Annex E). */
export function primariesToXyz(xy: readonly number[]): number[] {
  const column = (x: number, y: number) => [x / y, 1, (1 - x - y) / y];
  const [r, g, b, w] = [0, 2, 4, 6].map((i) => column(xy[i], xy[i + 1]));
  const matrix = [r[0], g[0], b[0], r[1], g[1], b[1], r[2], g[2], b[2]];
  const scale = times(invert(matrix), w);
  const native = matrix.map((v, i) => v * scale[i % 3]);
  const bradford = [0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296];
  const from = times(bradford, w);
  const to = times(bradford, D50);
  const gains = [to[0] / from[0], 0, 0, 0, to[1] / from[1], 0, 0, 0, to[2] / from[2]];
  return multiply(multiply(invert(bradford), multiply(gains, bradford)), native);
}

/** XYZ relative to D50 of one of our spaces' linear light, row-major. */
export function spaceToXyz(space: Space): number[] {
  return primariesToXyz(PRIMARIES[space]);
}

/** Linear light of a matrix profile to linear light of one of our spaces, row-major. */
export function matrixTo(space: Space, toXyz: readonly number[]): number[] {
  return multiply(invert(spaceToXyz(space)), toXyz);
}

/**
 * The profile as embedded in a picture.
 * @throws RangeError where the bytes are not a profile.
 */
export function readProfile(icc: Uint8Array): Profile {
  const view = new DataView(icc.buffer, icc.byteOffset, icc.byteLength);
  if (icc.byteLength < 132 || tag(view, 36) !== 'acsp') throw new RangeError('Expected an ICC profile');
  const space = tag(view, 16);
  const connection = tag(view, 20);
  const tags = new Map<string, { at: number; size: number }>();
  const count = Math.min(view.getUint32(128), 100);
  for (let i = 0; i < count; i += 1) {
    const entry = 132 + 12 * i;
    if (entry + 12 > icc.byteLength) break;
    const at = view.getUint32(entry + 4);
    const size = view.getUint32(entry + 8);
    if (at + size <= icc.byteLength) tags.set(tag(view, entry), { at, size });
  }
  const curveOf = (name: string) => readCurve(view, tags.get(name));
  if (space === 'GRAY') {
    const curve = curveOf('kTRC');
    return curve ? { kind: 'grey', curve } : { kind: 'table' };
  }
  const tables = ['A2B0', 'A2B1', 'A2B2'].some((name) => tags.has(name));
  if (space !== 'RGB ' || connection !== 'XYZ ' || tables) return { kind: 'table' };
  const curves = ['rTRC', 'gTRC', 'bTRC'].map(curveOf);
  const columns = ['rXYZ', 'gXYZ', 'bXYZ'].map((name) => readXyz(view, tags.get(name)));
  if (curves.some((c) => !c) || columns.some((c) => !c)) return { kind: 'table' };
  const [r, g, b] = columns as number[][];
  return {
    kind: 'matrix',
    curves: curves as [Curve, Curve, Curve],
    toXyz: [r[0], g[0], b[0], r[1], g[1], b[1], r[2], g[2], b[2]],
  };
}

function tag(view: DataView, at: number): string {
  return String.fromCharCode(...[0, 1, 2, 3].map((i) => view.getUint8(at + i)));
}

const fixed = (view: DataView, at: number) => view.getInt32(at) / 65536;

function readXyz(view: DataView, place: { at: number; size: number } | undefined): number[] | null {
  if (!place || place.size < 20 || tag(view, place.at) !== 'XYZ ') return null;
  return [8, 12, 16].map((offset) => fixed(view, place.at + offset));
}

function readCurve(view: DataView, place: { at: number; size: number } | undefined): Curve | null {
  if (!place || place.size < 12) return null;
  const type = tag(view, place.at);
  if (type === 'curv') {
    const count = view.getUint32(place.at + 8);
    if (count === 0) return (x) => x;
    if (12 + 2 * count > place.size) return null;
    const entry = (i: number) => view.getUint16(place.at + 12 + 2 * i);
    if (count === 1) {
      const gamma = entry(0) / 256;
      return (x) => x ** gamma;
    }
    return (x) => {
      const position = x * (count - 1);
      const i = Math.min(count - 2, Math.floor(position));
      return (entry(i) + (entry(i + 1) - entry(i)) * (position - i)) / 65535;
    };
  }
  if (type !== 'para') return null;
  const kind = view.getUint16(place.at + 8);
  const length = [1, 3, 4, 5, 7][kind];
  if (length === undefined || 12 + 4 * length > place.size) return null;
  const [g, a = 1, b = 0, c = 0, d = 0, e = 0, f = 0] = Array.from({ length }, (_, i) =>
    fixed(view, place.at + 12 + 4 * i),
  );
  const power = (x: number) => Math.max(0, a * x + b) ** g;
  if (kind === 0) return power;
  if (kind === 1) return (x) => (x >= -b / a ? power(x) : 0);
  if (kind === 2) return (x) => (x >= -b / a ? power(x) + c : c);
  return (x) => (x >= d ? power(x) + e : c * x + f);
}

/** The one of our spaces that a profile merely spells out, or null: same primaries, and a curve within one 8-bit code. */
export function sameAs(profile: Profile): Space | null {
  if (profile.kind === 'table') return null;
  if (profile.kind === 'grey') return isCurveOf('srgb', profile.curve) ? 'srgb' : null;
  const { toXyz, curves } = profile;
  const near = (space: Space) => spaceToXyz(space).every((v, i) => Math.abs(v - toXyz[i]) < 0.002);
  const spaces = ['srgb', 'display-p3', 'rec2020'] as const;
  return spaces.find((space) => near(space) && curves.every((curve) => isCurveOf(space, curve))) ?? null;
}

function isCurveOf(space: Space, curve: Curve): boolean {
  for (let code = 0; code <= 255; code += 5) {
    if (Math.abs(CURVES[space].fromLinear(curve(code / 255)) * 255 - code) > 0.75) return false;
  }
  return true;
}

/**
 * A version 2 matrix profile, ours, for device values with given primaries (CIE xy of R, G, B and white) and curve: that of
 * one of our spaces, or a power.
 */
export function writeProfile(name: string, primaries: readonly number[], curve: Space | number): Buffer {
  const m = primariesToXyz(primaries);
  const xyz = (x: number, y: number, z: number) => {
    const bytes = Buffer.alloc(20);
    bytes.write('XYZ ', 0, 'latin1');
    [x, y, z].forEach((v, i) => bytes.writeInt32BE(Math.round(v * 65536), 8 + 4 * i));
    return bytes;
  };
  const text = Buffer.alloc(12 + name.length + 1 + 78);
  text.write('desc', 0, 'latin1');
  text.writeUInt32BE(name.length + 1, 8);
  text.write(name, 12, 'latin1');
  const rights = Buffer.from('text\0\0\0\0No rights reserved\0', 'latin1');
  const trc = writeCurve(curve);
  const parts: [string[], Buffer][] = [
    [['desc'], text],
    [['cprt'], rights],
    [['wtpt'], xyz(D50[0], D50[1], D50[2])],
    [['rXYZ'], xyz(m[0], m[3], m[6])],
    [['gXYZ'], xyz(m[1], m[4], m[7])],
    [['bXYZ'], xyz(m[2], m[5], m[8])],
    [['rTRC', 'gTRC', 'bTRC'], trc],
  ];
  const count = parts.reduce((sum, [names]) => sum + names.length, 0);
  const table = Buffer.alloc(4 + 12 * count);
  table.writeUInt32BE(count, 0);
  const bodies: Buffer[] = [];
  let at = 128 + table.length;
  let entry = 4;
  for (const [names, body] of parts) {
    for (const key of names) {
      table.write(key, entry, 'latin1');
      table.writeUInt32BE(at, entry + 4);
      table.writeUInt32BE(body.length, entry + 8);
      entry += 12;
    }
    const padded = Buffer.concat([body, Buffer.alloc((4 - (body.length % 4)) % 4)]);
    bodies.push(padded);
    at += padded.length;
  }
  const header = Buffer.alloc(128);
  header.writeUInt32BE(at, 0);
  header.writeUInt32BE(0x02400000, 8);
  header.write('mntrRGB XYZ ', 12, 'latin1');
  [2026, 1, 1, 0, 0, 0].forEach((v, i) => header.writeUInt16BE(v, 24 + 2 * i));
  header.write('acsp', 36, 'latin1');
  D50.forEach((v, i) => header.writeInt32BE(Math.round(v * 65536), 68 + 4 * i));
  return Buffer.concat([header, table, ...bodies]);
}

/** Number of entries of a tabulated curve; interpolated between them it stays within 1/4000 of a code of the formula. */
const CURVE_ENTRIES = 1024;

function writeCurve(curve: Space | number): Buffer {
  const entry = (i: number, space: Space) =>
    Math.round(CURVES[space].toLinear(i / (CURVE_ENTRIES - 1)) * 65535);
  const values =
    typeof curve === 'number'
      ? [Math.round(curve * 256)]
      : Array.from({ length: CURVE_ENTRIES }, (_, i) => entry(i, curve));
  const bytes = Buffer.alloc(12 + 2 * values.length);
  bytes.write('curv', 0, 'latin1');
  bytes.writeUInt32BE(values.length, 8);
  values.forEach((v, i) => bytes.writeUInt16BE(v, 12 + 2 * i));
  return bytes;
}

/** Our own profile for one of our spaces. */
export function spaceProfile(space: Space): Buffer {
  const names = { srgb: 'sRGB', 'display-p3': 'Display P3', rec2020: 'BT.2020' };
  return writeProfile(names[space], PRIMARIES[space], space);
}

function multiply(a: readonly number[], b: readonly number[]): number[] {
  return Array.from({ length: 9 }, (_, i) => {
    const row = 3 * Math.floor(i / 3);
    return a[row] * b[i % 3] + a[row + 1] * b[(i % 3) + 3] + a[row + 2] * b[(i % 3) + 6];
  });
}

function times(m: readonly number[], v: readonly number[]): number[] {
  return [0, 3, 6].map((row) => m[row] * v[0] + m[row + 1] * v[1] + m[row + 2] * v[2]);
}

function invert(m: readonly number[]): number[] {
  const [a, b, c, d, e, f, g, h, i] = m;
  const determinant = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
  const cofactors = [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
  ];
  return [...cofactors, d * h - e * g, b * g - a * h, a * e - b * d].map((v) => v / determinant);
}
