import type { Lab } from './lab.ts';

/**
 * A colour difference taken apart: signed lightness, chroma and hue parts whose squares add up to the total squared.
 */
export interface DifferenceComponents {
  /** Above 0: the sample is lighter than the reference. */
  readonly dL: number;
  /** Above 0: the sample is stronger (more colourful) than the reference; below 0 greyer. */
  readonly dC: number;
  /** Above 0: the sample's hue lies at a greater hue angle (red to yellow to green to blue); below 0 at a smaller one. */
  readonly dH: number;
  /** CIEDE2000. */
  readonly total: number;
}

/** Constants of CIE94. */
export interface Cie94Weights {
  readonly kL: number;
  readonly K1: number;
  readonly K2: number;
}

/** CIE94 for graphic arts, the CIE reference conditions. */
export const CIE94_GRAPHIC_ARTS: Cie94Weights = { kL: 1, K1: 0.045, K2: 0.015 };

/** CIE94 for textiles. */
export const CIE94_TEXTILES: Cie94Weights = { kL: 2, K1: 0.048, K2: 0.014 };

/** Lightness and chroma tolerances of CMC: 2:1 for acceptability, 1:1 for perceptibility. */
export interface CmcWeights {
  readonly l: number;
  readonly c: number;
}

/**
 * One pair on its way through a formula. In: L, a, b of the reference at 0-2, of the sample at 3-5. Out: the total at
 * 6; CIEDE2000 also leaves delta L'/S_L, delta C', delta H', S_C, S_H and R_T at 7-12.
 * Kernels work on this one array so that a loop over many colours allocates nothing: numbers passed as arguments
 * to a function too large to inline are boxed by V8, each a small allocation.
 */
const pair = new Float64Array(13);

type Kernel = (p: Float64Array) => void;

function one(kernel: Kernel, reference: Lab, sample: Lab): number {
  load(reference, sample);
  kernel(pair);
  return pair[6];
}

function load(reference: Lab, sample: Lab): void {
  pair[0] = reference.L;
  pair[1] = reference.a;
  pair[2] = reference.b;
  pair[3] = sample.L;
  pair[4] = sample.a;
  pair[5] = sample.b;
  if (Number.isFinite(pair[0] + pair[1] + pair[2] + pair[3] + pair[4] + pair[5])) return;
  for (let i = 0; i < 6; i++) {
    if (!Number.isFinite(pair[i])) {
      const which = i < 3 ? 'reference' : 'sample';
      throw new RangeError(`Expected a finite ${'Lab'[i % 3]} of the ${which}, got ${pair[i]}`);
    }
  }
}

function many(
  kernel: Kernel,
  reference: Float32Array,
  samples: Float32Array,
  out?: Float32Array,
): Float32Array {
  const count = samples.length / 3;
  if (!Number.isInteger(count)) {
    throw new RangeError(`Expected samples of stride 3, got ${samples.length} numbers`);
  }
  if (reference.length !== 3 && reference.length !== samples.length) {
    throw new RangeError(
      `Expected one reference or one for each of ${count} samples, got ${reference.length} numbers`,
    );
  }
  const result = out ?? new Float32Array(count);
  if (result.length < count) {
    throw new RangeError(`Expected room for ${count} differences, got ${result.length}`);
  }
  const stride = reference.length === 3 ? 0 : 3;
  for (let i = 0; i < count; i++) {
    const r = i * stride;
    const s = i * 3;
    pair[0] = reference[r];
    pair[1] = reference[r + 1];
    pair[2] = reference[r + 2];
    pair[3] = samples[s];
    pair[4] = samples[s + 1];
    pair[5] = samples[s + 2];
    kernel(pair);
    result[i] = pair[6];
  }
  return result;
}

/**
 * CIEDE2000 colour difference with k_L = k_C = k_H = 1. Symmetric; 0 for equal colours; about 1 is just seen by a
 * careful eye on adjacent samples.
 * Throws RangeError for numbers that are not finite.
 * Source: ISO/CIE 11664-6; Sharma, Wu and Dalal 2005, Color Res. Appl. 30(1), 21-30, doi:10.1002/col.20070.
 */
export function deltaE2000(reference: Lab, sample: Lab): number {
  return one(ciede2000, reference, sample);
}

/**
 * CIEDE2000 of many samples on flat arrays of stride 3, against one reference or pair by pair.
 * Gives one difference a sample, into `out` where given; nothing else is allocated. Numbers are not checked: a
 * sample that is not finite gives a difference that is not finite.
 * Throws RangeError for lengths that do not fit.
 */
export function deltaE2000Many(
  reference: Float32Array,
  samples: Float32Array,
  out?: Float32Array,
): Float32Array {
  return many(ciede2000, reference, samples, out);
}

/**
 * CIEDE2000 as signed parts of lightness, chroma and hue with dL² + dC² + dH² = total².
 * The formula's rotation term R_T couples chroma and hue in the blues; there the two are decorrelated by the symmetric
 * square root of the formula's quadratic form, the change of axes that moves the parts least. Elsewhere R_T is 0 and
 * they are delta C'/S_C and delta H'/S_H. Exchanging reference and sample changes the signs only (for exactly opposite
 * hues the sign of the hue part is a convention).
 * Source: decorrelation derived here. The split of Nobbs 2002 (Advances in Colour Science and Technology 5, 46-53)
 * turns to the ellipse's own axes instead; it calls a pure chroma step at hue 275 and C* 40 two thirds hue, which
 * would read wrongly in words.
 */
export function deltaE2000Components(reference: Lab, sample: Lab): DifferenceComponents {
  const total = deltaE2000(reference, sample);
  const chroma = pair[8] / pair[10];
  const hue = pair[9] / pair[11];
  // Eigenvalues of [[1, R_T/2], [R_T/2, 1]] are 1 + R_T/2 and 1 - R_T/2; |R_T| stays below 1.74.
  const sum = Math.sqrt(1 + pair[12] / 2);
  const difference = Math.sqrt(1 - pair[12] / 2);
  const own = (sum + difference) / 2;
  const other = (sum - difference) / 2;
  return { dL: pair[7], dC: own * chroma + other * hue, dH: other * chroma + own * hue, total };
}

/**
 * CIE 1976 colour difference: the Euclidean distance in CIELAB. Symmetric.
 * Throws RangeError for numbers that are not finite.
 * Source: ISO/CIE 11664-4.
 */
export function deltaE76(reference: Lab, sample: Lab): number {
  return one(cie76, reference, sample);
}

/** CIE 1976 of many; arrays as for `deltaE2000Many`. */
export function deltaE76Many(
  reference: Float32Array,
  samples: Float32Array,
  out?: Float32Array,
): Float32Array {
  return many(cie76, reference, samples, out);
}

/**
 * CIE94 colour difference. Not symmetric: the reference's chroma sets the weights.
 * Throws RangeError for numbers that are not finite.
 * Source: CIE 116-1995.
 */
export function deltaE94(reference: Lab, sample: Lab, weights: Cie94Weights = CIE94_GRAPHIC_ARTS): number {
  return one(cie94(weights), reference, sample);
}

/** CIE94 for graphic arts of many; arrays as for `deltaE2000Many`. */
export function deltaE94Many(
  reference: Float32Array,
  samples: Float32Array,
  out?: Float32Array,
): Float32Array {
  return many(cie94(CIE94_GRAPHIC_ARTS), reference, samples, out);
}

/**
 * CMC(l:c) colour difference. Not symmetric: the reference sets the ellipsoid.
 * Throws RangeError for numbers that are not finite, or weights that are not above 0.
 * Source: ISO 105-J03; Clarke, McDonald and Rigg 1984, J. Soc. Dyers Colour. 100, 128-132.
 */
export function deltaECmc(reference: Lab, sample: Lab, weights: CmcWeights): number {
  return one(cmc(weights), reference, sample);
}

/** CMC(2:1) of many; arrays as for `deltaE2000Many`. */
export function deltaECmcMany(
  reference: Float32Array,
  samples: Float32Array,
  out?: Float32Array,
): Float32Array {
  return many(cmc({ l: 2, c: 1 }), reference, samples, out);
}

const POW_25_7 = 25 ** 7;
const DEGREE = Math.PI / 180;
const COS_30 = Math.cos(30 * DEGREE);
const SIN_30 = 0.5;
const COS_6 = Math.cos(6 * DEGREE);
const SIN_6 = Math.sin(6 * DEGREE);
const COS_63 = Math.cos(63 * DEGREE);
const SIN_63 = Math.sin(63 * DEGREE);
const COS_275 = Math.cos(275 * DEGREE);
const SIN_275 = Math.sin(275 * DEGREE);

/** The quotient C^7 / (C^7 + 25^7) of the paper, rooted. */
function seventh(C: number): number {
  const C2 = C * C;
  const C7 = C2 * C2 * C2 * C;
  return Math.sqrt(C7 / (C7 + POW_25_7));
}

/**
 * CIEDE2000 in the symbols of Sharma, Wu and Dalal, but with hues kept as directions instead of angles: delta H' and
 * the mean hue come from dot and cross products, T from the multiple-angle formulas. One arctangent remains, for
 * the rotation term. That is faster, and exact where angles round: for opposite hues (pair 14 of the paper) the
 * arctangents' last bit would decide which of two mean hues is taken.
 */
function ciede2000(p: Float64Array): void {
  const L1 = p[0];
  const b1 = p[2];
  const L2 = p[3];
  const b2 = p[5];
  const Cbar = (Math.sqrt(p[1] * p[1] + b1 * b1) + Math.sqrt(p[4] * p[4] + b2 * b2)) / 2;
  const stretch = 1 + 0.5 * (1 - seventh(Cbar));
  const a1 = p[1] * stretch;
  const a2 = p[4] * stretch;
  const C1 = Math.sqrt(a1 * a1 + b1 * b1);
  const C2 = Math.sqrt(a2 * a2 + b2 * b2);
  const product = C1 * C2;

  let dH = 0;
  // Direction of the mean hue, not yet of unit length; a colour without chroma has no say (equation 14).
  let x = a1 + a2;
  let y = b1 + b2;
  if (product > 0) {
    const dot = a1 * a2 + b1 * b2;
    const cross = a1 * b2 - a2 * b1;
    const x1 = a1 / C1;
    const y1 = b1 / C1;
    const x2 = a2 / C2;
    const y2 = b2 / C2;
    if (dot >= 0) {
      // 2 sqrt(C1 C2) sin(dh/2), with cos(dh/2) from the half-angle formula: no cancellation for near hues.
      dH = (cross * Math.SQRT2) / Math.sqrt(product + dot);
      x = x1 + x2;
      y = y1 + y2;
    } else {
      const opposite = Math.abs(cross) <= 1e-12 * product;
      // Exactly opposite counts as a hue difference of 180, not above (equations 10 and 14): the mean lies a
      // quarter turn after the hue that is in [0, 180).
      const ahead = opposite ? y1 > y2 || (y1 === y2 && x1 > x2) : cross > 0;
      dH = Math.sqrt(2 * (product - dot));
      if (ahead) {
        x = y2 - y1;
        y = x1 - x2;
      } else {
        dH = -dH;
        x = y1 - y2;
        y = x2 - x1;
      }
    }
  }
  const length = Math.sqrt(x * x + y * y);
  const cos = length > 0 ? x / length : 1;
  const sin = length > 0 ? y / length : 0;
  const cos2 = cos * cos - sin * sin;
  const sin2 = 2 * cos * sin;
  const cos3 = cos2 * cos - sin2 * sin;
  const sin3 = sin2 * cos + cos2 * sin;
  const cos4 = cos2 * cos2 - sin2 * sin2;
  const sin4 = 2 * cos2 * sin2;
  const T =
    1 -
    0.17 * (cos * COS_30 + sin * SIN_30) +
    0.24 * cos2 +
    0.32 * (cos3 * COS_6 - sin3 * SIN_6) -
    0.2 * (cos4 * COS_63 + sin4 * SIN_63);

  const meanC = (C1 + C2) / 2;
  const meanL = (L1 + L2) / 2 - 50;
  const squaredL = meanL * meanL;
  const S_L = 1 + (0.015 * squaredL) / Math.sqrt(20 + squaredL);
  const S_C = 1 + 0.045 * meanC;
  const S_H = 1 + 0.015 * meanC * T;

  let R_T = 0;
  // The paper's mean hue runs from 0 to 360 without wrapping, so hues from 0 to 90 count as 185 degrees or more away
  // from 275. Beyond 143 degrees the rotation is below 1e-12 and left out.
  const near = cos * COS_275 + sin * SIN_275;
  if (near > -0.8 && !(cos > 0 && sin >= 0)) {
    const away = Math.atan2(sin * COS_275 - cos * SIN_275, near) / (25 * DEGREE);
    R_T = -2 * seventh(meanC) * Math.sin(60 * DEGREE * Math.exp(-away * away));
  }
  const dL = (L2 - L1) / S_L;
  const dC = C2 - C1;
  const c = dC / S_C;
  const h = dH / S_H;
  p[6] = Math.sqrt(Math.max(0, dL * dL + c * c + h * h + R_T * c * h));
  p[7] = dL;
  p[8] = dC;
  p[9] = dH;
  p[10] = S_C;
  p[11] = S_H;
  p[12] = R_T;
}

function cie76(p: Float64Array): void {
  const dL = p[3] - p[0];
  const da = p[4] - p[1];
  const db = p[5] - p[2];
  p[6] = Math.sqrt(dL * dL + da * da + db * db);
}

function cie94(weights: Cie94Weights): Kernel {
  const { kL, K1, K2 } = weights;
  if (!(kL > 0 && K1 >= 0 && K2 >= 0)) {
    throw new RangeError(`Expected CIE94 weights with kL above 0, got kL ${kL}, K1 ${K1}, K2 ${K2}`);
  }
  return (p) => {
    const C1 = Math.sqrt(p[1] * p[1] + p[2] * p[2]);
    const C2 = Math.sqrt(p[4] * p[4] + p[5] * p[5]);
    const dL = (p[3] - p[0]) / kL;
    const dC = C2 - C1;
    const dH2 = hueSquared(p, dC);
    const S_C = 1 + K1 * C1;
    const S_H = 1 + K2 * C1;
    p[6] = Math.sqrt(dL * dL + (dC / S_C) ** 2 + dH2 / (S_H * S_H));
  };
}

function cmc(weights: CmcWeights): Kernel {
  const { l, c } = weights;
  if (!(l > 0 && c > 0)) throw new RangeError(`Expected CMC weights above 0, got ${l}:${c}`);
  return (p) => {
    const L1 = p[0];
    const C1 = Math.sqrt(p[1] * p[1] + p[2] * p[2]);
    const C2 = Math.sqrt(p[4] * p[4] + p[5] * p[5]);
    const angle = Math.atan2(p[2], p[1]);
    const h1 = angle < 0 ? angle + 2 * Math.PI : angle;
    const dC = C2 - C1;
    const S_L = L1 < 16 ? 0.511 : (0.040975 * L1) / (1 + 0.01765 * L1);
    const S_C = (0.0638 * C1) / (1 + 0.0131 * C1) + 0.638;
    const T =
      h1 >= 164 * DEGREE && h1 <= 345 * DEGREE
        ? 0.56 + Math.abs(0.2 * Math.cos(h1 + 168 * DEGREE))
        : 0.36 + Math.abs(0.4 * Math.cos(h1 + 35 * DEGREE));
    const C4 = C1 * C1 * C1 * C1;
    const F = Math.sqrt(C4 / (C4 + 1900));
    const S_H = S_C * (F * T + 1 - F);
    p[6] = Math.sqrt(
      ((p[3] - L1) / (l * S_L)) ** 2 + (dC / (c * S_C)) ** 2 + hueSquared(p, dC) / (S_H * S_H),
    );
  };
}

/** Squared hue difference: what is left of the a*, b* distance once chroma is taken out; rounding below 0 is 0. */
function hueSquared(p: Float64Array, dC: number): number {
  const da = p[4] - p[1];
  const db = p[5] - p[2];
  return Math.max(0, da * da + db * db - dC * dC);
}
