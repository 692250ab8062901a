import { M_CAT16, M_CAT16_INVERSE } from './adaptation.ts';
import { hueDegrees } from './lab.ts';
import { diagonal, invert, multiply, transform } from './matrix.ts';
import type { Matrix3 } from './matrix.ts';
import type { XYZ } from './tristimulus.ts';

/**
 * Appearance correlates of CAM16: lightness J (white 100), chroma C, hue angle h in degrees [0, 360), brightness Q,
 * colourfulness M, saturation s.
 */
export interface Cam16 {
  readonly J: number;
  readonly C: number;
  readonly h: number;
  readonly Q: number;
  readonly M: number;
  readonly s: number;
}

/** Coordinates of the uniform space CAM16-UCS: J', a', b'. */
export interface Cam16Ucs {
  readonly J: number;
  readonly a: number;
  readonly b: number;
}

/** Relative luminance around the stimulus: a lit room is average, a television viewed at dusk dim, a cinema dark. */
export type Surround = 'average' | 'dim' | 'dark';

/** What to say about the place where a stimulus is seen. */
export interface ViewingPlace {
  /** White of the light, Y = 100, on the scale of the stimuli. */
  readonly white: XYZ;
  /** Luminance of the adapting field, cd/m2: for a grey world of 20 % reflectance E / (5 pi), E in lx. */
  readonly L_A: number;
  /** Luminance factor of the background, 0-100: 20 for mid grey. */
  readonly Y_b: number;
  readonly surround: Surround;
  /** Degree of adaptation 0-1, or `computed` from L_A and surround. Left out, it is computed. */
  readonly degree?: number | 'computed';
  /**
   * How cone responses outside the model's range are compressed. `cie248` (left out, this is meant) carries the curve on
   * as straight lines below 0.26 and above 150, as CIE 248 does, which keeps dark saturated colours invertible;
   * `li2017` is CAM16 as first published. In between the two are the same.
   */
  readonly compression?: 'cie248' | 'li2017';
}

/** A viewing place with everything the model derives from it, in the symbols of Li and others 2017. Built once. */
export interface ViewingConditions {
  readonly white: XYZ;
  readonly L_A: number;
  readonly Y_b: number;
  readonly surround: Surround;
  readonly compression: 'cie248' | 'li2017';
  /** Degree of adaptation in use. */
  readonly D: number;
  readonly c: number;
  readonly N_c: number;
  readonly F_L: number;
  readonly n: number;
  readonly z: number;
  readonly N_bb: number;
  readonly N_cb: number;
  /** Achromatic response of the white. */
  readonly A_w: number;
  /** XYZ to adapted cone responses, and back. */
  readonly toCones: Matrix3;
  readonly fromCones: Matrix3;
}

/** F, c, N_c of each surround. Source: Li and others 2017, table A1; CIE 248:2022, table 1. */
const SURROUNDS: Readonly<Record<Surround, readonly [number, number, number]>> = {
  average: [1, 0.69, 1],
  dim: [0.9, 0.59, 0.9],
  dark: [0.8, 0.525, 0.8],
};

/** Range of cone responses outside which CIE 248 carries the compression on as straight lines. */
const Q_L = 0.26;
const Q_U = 150;

/** Inverse of the opponent step: [p2, a, b] to compressed cone responses. */
const FROM_OPPONENT: Matrix3 = invert([2, 1, 1 / 20, 1, -12 / 11, 1 / 11, 1 / 9, 1 / 9, -2 / 9]);

/**
 * Viewing conditions for CAM16, from what is known about the place.
 * Throws RangeError for a white, luminance or background that is not above 0, or a degree outside [0, 1].
 * Source: Li, Li, Wang and others 2017, Color Res. Appl. 42(6), 703-718, doi:10.1002/col.22131; CIE 248:2022.
 */
export function viewingConditions(place: ViewingPlace): ViewingConditions {
  const { white, L_A, Y_b, surround, degree = 'computed', compression = 'cie248' } = place;
  if (!(L_A > 0) || L_A === Infinity) {
    throw new RangeError(`Expected an adapting luminance above 0 cd/m2, got ${L_A}`);
  }
  if (!(Y_b > 0) || Y_b === Infinity) {
    throw new RangeError(`Expected a background luminance factor above 0, got ${Y_b}`);
  }
  if (!Object.hasOwn(SURROUNDS, surround)) {
    throw new RangeError(`Expected a surround (average, dim, dark), got ${String(surround)}`);
  }
  if (degree !== 'computed' && !(degree >= 0 && degree <= 1)) {
    throw new RangeError(`Expected a degree of adaptation in [0, 1] or 'computed', got ${degree}`);
  }
  const cones = transform(M_CAT16, [white.X, white.Y, white.Z]);
  if (!(white.Y > 0 && cones[0] > 0 && cones[1] > 0 && cones[2] > 0)) {
    throw new RangeError(
      `Expected a white with cone responses above 0, got X ${white.X}, Y ${white.Y}, Z ${white.Z}`,
    );
  }
  const [F, c, N_c] = SURROUNDS[surround];
  const computed = F * (1 - Math.exp((-L_A - 42) / 92) / 3.6);
  const D = degree === 'computed' ? Math.min(1, Math.max(0, computed)) : degree;
  const k = 1 / (5 * L_A + 1);
  const F_L = 0.2 * k ** 4 * (5 * L_A) + 0.1 * (1 - k ** 4) ** 2 * Math.cbrt(5 * L_A);
  const n = Y_b / white.Y;
  const N_bb = 0.725 * n ** -0.2;
  const gain = (i: 0 | 1 | 2) => (D * white.Y) / cones[i] + 1 - D;
  const toCones = multiply(diagonal(gain(0), gain(1), gain(2)), M_CAT16);
  const fromCones = multiply(M_CAT16_INVERSE, diagonal(1 / gain(0), 1 / gain(1), 1 / gain(2)));
  const [R, G, B] = transform(toCones, [white.X, white.Y, white.Z]).map((response) =>
    compress(response, F_L, compression),
  );
  return {
    white,
    L_A,
    Y_b,
    surround,
    compression,
    D,
    c,
    N_c,
    F_L,
    n,
    z: 1.48 + Math.sqrt(n),
    N_bb,
    N_cb: N_bb,
    A_w: (2 * R + G + B / 20) * N_bb,
    toCones,
    fromCones,
  };
}

/**
 * Appearance of tristimulus values in given viewing conditions.
 * A stimulus without achromatic response (black, or darker than black by noise) has all correlates 0; the hue of a
 * stimulus with exactly equal responses is 0. Values are not limited above white.
 * Throws RangeError for numbers that are not finite, or a stimulus so far outside the visible that the model has no
 * chroma for it.
 * Source: Li and others 2017, appendix A; CIE 248:2022. The constant 0.1 of the older compression is left out, as in
 * CIE 248: it cancels in every correlate.
 */
export function xyzToCam16(xyz: XYZ, vc: ViewingConditions): Cam16 {
  if (!(Number.isFinite(xyz.X) && Number.isFinite(xyz.Y) && Number.isFinite(xyz.Z))) {
    throw new RangeError(`Expected finite tristimulus values, got X ${xyz.X}, Y ${xyz.Y}, Z ${xyz.Z}`);
  }
  const cones = transform(vc.toCones, [xyz.X, xyz.Y, xyz.Z]);
  const R = compress(cones[0], vc.F_L, vc.compression);
  const G = compress(cones[1], vc.F_L, vc.compression);
  const B = compress(cones[2], vc.F_L, vc.compression);
  const A = (2 * R + G + B / 20) * vc.N_bb;
  if (!(A > 0)) return { J: 0, C: 0, h: 0, Q: 0, M: 0, s: 0 };
  const a = R - (12 * G) / 11 + B / 11;
  const b = (R + G - 2 * B) / 9;
  const h = a === 0 && b === 0 ? 0 : hueDegrees(b, a);
  const J = 100 * (A / vc.A_w) ** (vc.c * vc.z);
  const Q = (4 / vc.c) * Math.sqrt(J / 100) * (vc.A_w + 4) * vc.F_L ** 0.25;
  const base = R + G + (21 / 20) * B + 0.305;
  if (!(base > 0)) {
    throw new RangeError(
      `Expected a stimulus within the domain of CAM16, got X ${xyz.X}, Y ${xyz.Y}, Z ${xyz.Z}`,
    );
  }
  const t = ((50000 / 13) * vc.N_c * vc.N_cb * eccentricity(h) * Math.hypot(a, b)) / base;
  const alpha = t ** 0.9 * chromaFactor(vc);
  return correlates(alpha, { J, Q, h }, vc);
}

/**
 * Tristimulus values of an appearance in given viewing conditions, from J, C and h (the other correlates follow from
 * them and are not read). Black (J = 0) gives 0.
 * Throws RangeError for numbers that are not finite, or J or C below 0.
 * Source: Li and others 2017, appendix B; CIE 248:2022.
 */
export function cam16ToXyz(cam: Pick<Cam16, 'J' | 'C' | 'h'>, vc: ViewingConditions): XYZ {
  const { J, C, h } = cam;
  if (!(J >= 0 && C >= 0 && Number.isFinite(J + C + h))) {
    throw new RangeError(`Expected J and C of at least 0 and a finite hue, got J ${J}, C ${C}, h ${h}`);
  }
  if (J === 0) return { X: 0, Y: 0, Z: 0 };
  const t = (C / (Math.sqrt(J / 100) * chromaFactor(vc))) ** (1 / 0.9);
  const angle = (h * Math.PI) / 180;
  const cos = Math.cos(angle);
  const sin = Math.sin(angle);
  const p1 = (50000 / 13) * vc.N_c * vc.N_cb * eccentricity(h);
  const p2 = (vc.A_w * (J / 100) ** (1 / (vc.c * vc.z))) / vc.N_bb;
  const radius = (23 * (p2 + 0.305) * t) / (23 * p1 + 11 * t * cos + 108 * t * sin);
  const [R, G, B] = transform(FROM_OPPONENT, [p2, radius * cos, radius * sin]);
  const [X, Y, Z] = transform(vc.fromCones, [
    expand(R, vc.F_L, vc.compression),
    expand(G, vc.F_L, vc.compression),
    expand(B, vc.F_L, vc.compression),
  ]);
  return { X, Y, Z };
}

/**
 * Coordinates in CAM16-UCS, the uniform space: J' 0-100, a' and b' from colourfulness and hue.
 * Source: Li and others 2017, equations 18 to 21 (coefficients of CAM02-UCS, Luo, Cui and Li 2006).
 */
export function cam16ToUcs(cam: Pick<Cam16, 'J' | 'M' | 'h'>): Cam16Ucs {
  const M = Math.log1p(0.0228 * cam.M) / 0.0228;
  const h = (cam.h * Math.PI) / 180;
  return { J: (1.7 * cam.J) / (1 + 0.007 * cam.J), a: M * Math.cos(h), b: M * Math.sin(h) };
}

/**
 * Correlates of a point of CAM16-UCS in given viewing conditions.
 * Throws RangeError for J' outside [0, 242), where the lightness scale ends.
 */
export function ucsToCam16(ucs: Cam16Ucs, vc: ViewingConditions): Cam16 {
  if (!(ucs.J >= 0 && ucs.J < 1.7 / 0.007) || !Number.isFinite(ucs.a + ucs.b)) {
    throw new RangeError(`Expected J' in [0, 242) and finite a', b', got ${ucs.J}, ${ucs.a}, ${ucs.b}`);
  }
  const J = ucs.J / (1.7 - 0.007 * ucs.J);
  const M = Math.expm1(0.0228 * Math.hypot(ucs.a, ucs.b)) / 0.0228;
  const h = ucs.a === 0 && ucs.b === 0 ? 0 : hueDegrees(ucs.b, ucs.a);
  const root = vc.F_L ** 0.25;
  const C = M / root;
  const Q = (4 / vc.c) * Math.sqrt(J / 100) * (vc.A_w + 4) * root;
  return { J, C, h, Q, M, s: Q > 0 ? 100 * Math.sqrt(M / Q) : 0 };
}

/**
 * Colour difference in CAM16-UCS: the Euclidean distance. Symmetric. Both may come from different viewing conditions:
 * then it says how far the appearance shifts.
 * Source: Li and others 2017, equation 22.
 */
export function differenceCam16Ucs(reference: Cam16Ucs, sample: Cam16Ucs): number {
  return Math.hypot(sample.J - reference.J, sample.a - reference.a, sample.b - reference.b);
}

/** C, M and s from alpha, the chroma before it is scaled by lightness: no division by a lightness near 0. */
function correlates(alpha: number, known: { J: number; Q: number; h: number }, vc: ViewingConditions): Cam16 {
  const { J, Q, h } = known;
  const C = alpha * Math.sqrt(J / 100);
  return {
    J,
    C,
    h,
    Q,
    M: C * vc.F_L ** 0.25,
    s: 50 * Math.sqrt((vc.c * alpha) / (vc.A_w + 4)),
  };
}

function chromaFactor(vc: ViewingConditions): number {
  return (1.64 - 0.29 ** vc.n) ** 0.73;
}

function eccentricity(h: number): number {
  return (Math.cos((h * Math.PI) / 180 + 2) + 3.8) / 4;
}

/** Compressed response between the limits: 400 x / (x + 27.13) with x = (F_L q / 100)^0.42. */
function curve(q: number, F_L: number): number {
  const x = ((F_L * q) / 100) ** 0.42;
  return (400 * x) / (x + 27.13);
}

function curveSlope(q: number, F_L: number): number {
  const x = ((F_L * q) / 100) ** 0.42;
  return (400 * 27.13 * 0.42 * x) / (q * (x + 27.13) ** 2);
}

function curveInverse(response: number, F_L: number): number {
  return (100 / F_L) * ((27.13 * response) / (400 - response)) ** (1 / 0.42);
}

function compress(q: number, F_L: number, compression: 'cie248' | 'li2017'): number {
  if (compression === 'li2017') return q < 0 ? -curve(-q, F_L) : curve(q, F_L);
  if (q < Q_L) return (curve(Q_L, F_L) / Q_L) * q;
  if (q > Q_U) return curve(Q_U, F_L) + curveSlope(Q_U, F_L) * (q - Q_U);
  return curve(q, F_L);
}

function expand(response: number, F_L: number, compression: 'cie248' | 'li2017'): number {
  if (compression === 'li2017') {
    const size = Math.abs(response);
    if (!(size < 400)) throw new RangeError('Expected an appearance within the domain of CAM16, got none');
    return response < 0 ? -curveInverse(size, F_L) : curveInverse(size, F_L);
  }
  const low = curve(Q_L, F_L);
  const high = curve(Q_U, F_L);
  if (response < low) return (Q_L / low) * response;
  if (response > high) return Q_U + (response - high) / curveSlope(Q_U, F_L);
  return curveInverse(response, F_L);
}
