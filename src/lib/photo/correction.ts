import { encodeRgb, type Covariance, type Lab } from '#lib/colour/index.ts';
import { FEATURE_COUNT, features, noiseCovariance } from './features.ts';
import { packSymmetric } from './packing.ts';
import { CONTRADICTION, UNKNOWN_COUNT, solve } from './posterior.ts';
import type { Equation, Posterior } from './posterior.ts';
import {
  CONTEXT_COUNT,
  committedPriors,
  noiseOfPhoto,
  pictureContext,
  pictureGains,
  referenceContext,
} from './prior.ts';
import type { Prior, Priors, Situation } from './prior.ts';
import { CLIPPED_AT, carried, gainDoubt, gainEffect, linearOfLab, plainLab } from './scaled-colour.ts';
import type { Point } from './region.ts';

/**
 * Correcting a photo from references.
 *
 * One reference sets a gain for each channel, so that it has its true colour. What remains wrong is taken as
 * linear in a few dozen functions of the colour (features.ts); their coefficients have a Gaussian prior learned from
 * simulated photographs (prior.ts), and every reference narrows it, in closed form (Gaussian process regression,
 * Rasmussen and Williams 2006, chapter 2). The same formula serves one white paper, five known paints or a 24-patch
 * target, and none. How it compares with plain gains and with root-polynomial regression: DEVELOPERS.md.
 */

/** One reference as measured in the photo. */
export interface ReferencePatch {
  readonly kind: 'white-paper' | 'grey-card' | 'known' | 'target24';
  /** Mean linear rgb as delivered, sRGB primaries, 1 = the brightest the file can say; may be below 0. */
  readonly rgb: readonly [number, number, number];
  /** Covariance of that mean from noise and unevenness: 3x3 row-major, linear rgb units squared. */
  readonly rgbCovariance?: Covariance;
  /** Share of its pixels with a clipped channel, 0-1. */
  readonly clippedShare: number;
  /** Its true colour, and how sure that is; without a covariance KNOWN_COVARIANCE is taken. */
  readonly lab: Lab;
  readonly labCovariance?: Covariance;
  /** Patch number 1-24 of a target. */
  readonly index?: number;
}

/** What became of one reference. */
export interface ReferenceReport {
  readonly used: boolean;
  /** CIEDE2000 between its true colour and what the other references say it is; `null` if unused or alone. */
  readonly disagreement: number | null;
}

/** A correction: plain JSON, everything `correctedLab` needs. */
export interface Correction {
  readonly format: 1;
  readonly kind: 'none' | 'white' | 'references' | 'target';
  /** Factors on linear rgb that give the leading reference its true colour. */
  readonly gains: readonly [number, number, number];
  /** ln factors by which the other references move those gains. */
  readonly gainShift: readonly [number, number, number];
  /** COEFFICIENT_COUNT numbers, CIELAB units: for L, for a, for b. */
  readonly coefficients: readonly number[];
  /** Posterior covariance of coefficients and gain shift, lower triangle, base64 of 32-bit floats. */
  readonly covariance: string;
  /** Noise that no coefficient explains: see `noiseCovariance`. */
  readonly noise: readonly number[];
  readonly correlation: readonly number[];
  /** Factors on the two parts of a stated covariance. */
  readonly calibration: { readonly function: number; readonly noise: number };
  /** Factor, 1 or more, on every stated covariance: how much worse the references fit than they should. */
  readonly doubtScale: number;
  readonly references: readonly ReferenceReport[];
  /** Where the references lie, pixels: light elsewhere may differ. Absent where none was looked for. */
  readonly places?: readonly Point[];
  /** Sentences for the user. */
  readonly notes: readonly string[];
}

function diagonalCovariance(L: number, a: number, b: number): Covariance {
  return [L * L, 0, 0, 0, a * a, 0, 0, 0, b * b];
}

/**
 * Plain copy paper where nothing better is known. Common practice, no published source: office papers lie at L* 92-96
 * and a few units to the blue and red of neutral because of fluorescent whitener, the more the more ultraviolet the
 * light has; behind glass and under LED lamps little of that is left. The covariance spans both cases.
 */
export const COPY_PAPER: { readonly lab: Lab; readonly covariance: Covariance } = {
  lab: { L: 94, a: 0.8, b: -2.5 },
  covariance: diagonalCovariance(1.3, 0.8, 2.2),
};

/** A photographic grey card of 18 % reflectance. Common practice: neutral within about half a unit. */
export const GREY_CARD: { readonly lab: Lab; readonly covariance: Covariance } = {
  lab: { L: 49.5, a: 0, b: 0 },
  covariance: diagonalCovariance(0.6, 0.5, 0.5),
};

/** For a reference whose colour is given without its doubt: a good instrument and one more coat of paint. */
export const KNOWN_COVARIANCE: Covariance = diagonalCovariance(0.4, 0.4, 0.4);

/** A reference with more clipped pixels than this is not used. */
const CLIPPED_SHARE = 0.02;
/** Chroma below which a reference counts as neutral and may lead. */
const NEUTRAL_CHROMA = 12;
/** The leading reference fits by construction; its own equation gets this deviation. CIELAB units. */
const LEADING_DEVIATION = 0.05;
/**
 * Fits the correction to the references of one photo.
 * In: any number of references; `pixels`, a sample of the picture's linear rgb (stride 3), serves when none is usable.
 * Out: the correction, its doubt and its notes. Clipped references are left out and named; references that contradict
 * the others are trusted less and named. The answer depends on nothing else: same input, same bytes.
 * Throws RangeError for values that are not finite or a clipped share outside [0, 1].
 */
export function fitCorrection(
  references: readonly ReferencePatch[],
  pixels?: Float32Array,
  priors: Priors = committedPriors(),
): Correction {
  references.forEach(checkReference);
  const notes: string[] = [];
  const usable = references.map((reference, i) => {
    const reason = unusable(reference);
    if (reason) notes.push(`${nameOf(reference, i)} was not used: ${reason}.`);
    return reason === null;
  });
  if (!usable.includes(true)) {
    const estimate = estimateCorrection(pixels ?? new Float32Array(0), priors);
    return {
      ...estimate,
      references: references.map(() => ({ used: false, disagreement: null })),
      notes: [...notes, ...estimate.notes],
    };
  }
  const leader = leadingReference(references, usable);
  const start = leader === null ? startOfPicture(references, pixels, priors) : startOf(references[leader]);
  const { situation, gains, context } = start;
  const prior = priors[situation];
  const noise = noiseOfPhoto(prior, situation, context);
  const model = { noise, correlation: prior.correlation };
  const equations = references.flatMap((reference, i) =>
    usable[i] ? [equationOf(reference, i, i === leader, gains, model)] : [],
  );
  const posterior = solve(prior, context, start.gainCovariance, equations);
  const reports = references.map((_, i): ReferenceReport => {
    const at = equations.findIndex((equation) => equation.reference === i);
    if (at < 0) return { used: false, disagreement: null };
    return { used: true, disagreement: posterior.disagreements[at] };
  });
  const targets = equations.filter(({ reference }) => references[reference].kind === 'target24').length;
  notes.push(...remarks(references, equations, posterior, situation === 'neutral'));
  return {
    format: 1,
    kind:
      targets >= 12 ? 'target' : equations.length === 1 && situation === 'neutral' ? 'white' : 'references',
    gains,
    gainShift: posterior.gainShift,
    coefficients: posterior.coefficients,
    covariance: packSymmetric(posterior.covariance, UNKNOWN_COUNT),
    noise: Array.from(noise),
    correlation: Array.from(prior.correlation),
    calibration: prior.calibration,
    doubtScale: posterior.doubtScale,
    references: reports,
    notes,
  };
}

/**
 * A correction without any reference, from what pictures are like: a guess at light and exposure.
 * In: a sample of the picture's linear rgb as delivered (sRGB primaries, stride 3), spread evenly over it.
 * Out: a correction whose doubt is several times that of one with a white paper in the picture.
 */
export function estimateCorrection(pixels: Float32Array, priors: Priors = committedPriors()): Correction {
  const seen = tellingContext(pixels);
  const context = seen ?? unknownPicture();
  const prior = priors.picture;
  const gains = seen ? pictureGains(context, priors.pictureGains) : ([1, 1, 1] as const);
  const notes = [seen ? GUESSED : LEFT_AS_DELIVERED];
  const posterior = solve(prior, context, new Float64Array(9), []);
  return {
    format: 1,
    kind: 'none',
    gains,
    gainShift: [0, 0, 0],
    coefficients: posterior.coefficients,
    covariance: packSymmetric(posterior.covariance, UNKNOWN_COUNT),
    noise: Array.from(noiseOfPhoto(prior, 'picture', context)),
    correlation: Array.from(prior.correlation),
    calibration: seen
      ? prior.calibration
      : { function: 2 * prior.calibration.function, noise: prior.calibration.noise },
    doubtScale: 1,
    references: [],
    notes,
  };
}

const GUESSED =
  'No reference with a known colour: light and exposure are guessed from the picture alone. ' +
  'Expect the colours to be off by about 5 (CIEDE2000), plainly visible; a sheet of white paper in the picture halves that.';
const LEFT_AS_DELIVERED =
  'No reference with a known colour, and the picture is of one colour or burnt out nearly all over: it says nothing about ' +
  'its light, so its colours are left as the camera made them.';

/** A picture of which a smaller part differs from one colour is that colour and dust. */
const LEAST_TELLING = 0.01;
/** Steps of an 8-bit picture that noise and JPEG make of one colour. */
const FLAT = 6;
/** More of its pixels are clipped in one simulated photograph of a hundred (.094). */
const LEARNED_CLIPPED = 0.1;

/**
 * What `pictureContext` makes of the pixels that can tell anything about the light: null for a picture that is burnt out, black
 * or of one colour all over. What is clipped says only that there was enough light, whatever its colour: of more than was
 * learned from, every so many-th counts.
 */
function tellingContext(pixels: Float32Array): Float64Array | null {
  const telling: number[] = [];
  const clipped: number[] = [];
  for (let i = 0; i + 2 < pixels.length; i += 3) {
    const most = Math.max(pixels[i], pixels[i + 1], pixels[i + 2]);
    if (most >= CLIPPED_AT) clipped.push(i);
    else if (most > 0) telling.push(i);
  }
  const dust = Math.floor((LEAST_TELLING / 2) * (pixels.length / 3));
  if (telling.length <= 2 * dust) return null;
  const flat = [0, 1, 2].every((c) => {
    const values = Float32Array.from(telling, (i) => pixels[i + c]).sort();
    const [low, high] = [dust, values.length - 1 - dust].map((at) => encodeRgb(values[at], 'srgb'));
    return 255 * (high - low) <= FLAT;
  });
  if (flat) return null;
  const counting = Math.ceil((telling.length * LEARNED_CLIPPED) / (1 - LEARNED_CLIPPED));
  if (clipped.length <= counting) return pictureContext(pixels);
  const step = clipped.length / counting;
  const kept = Array.from({ length: counting }, (_, k) => clipped[Math.floor(k * step)]);
  return pictureContext(
    Float32Array.from([...telling, ...kept].flatMap((i) => [pixels[i], pixels[i + 1], pixels[i + 2]])),
  );
}

function checkReference(reference: ReferencePatch, i: number): void {
  const { rgb, lab, clippedShare } = reference;
  if (![...rgb, lab.L, lab.a, lab.b].every(Number.isFinite)) {
    throw new RangeError(
      `Expected finite rgb and Lab in reference ${i + 1}, got ${JSON.stringify({ rgb, lab })}`,
    );
  }
  if (!(clippedShare >= 0 && clippedShare <= 1)) {
    throw new RangeError(`Expected a clipped share in [0, 1] in reference ${i + 1}, got ${clippedShare}`);
  }
}

function nameOf(reference: ReferencePatch, i: number): string {
  switch (reference.kind) {
    case 'white-paper':
      return `Reference ${i + 1} (white paper)`;
    case 'grey-card':
      return `Reference ${i + 1} (grey card)`;
    case 'target24':
      return `Patch ${reference.index ?? i + 1} of the target`;
    default:
      return `Reference ${i + 1} (known colour)`;
  }
}

function unusable(reference: ReferencePatch): string | null {
  const { rgb, clippedShare } = reference;
  if (clippedShare > CLIPPED_SHARE || Math.max(...rgb) >= CLIPPED_AT) {
    return 'it is overexposed, so its brightness in the photo is unknown';
  }
  if (Math.max(...rgb) < 0.002) return 'it is black in the photo';
  if (reference.kind !== 'target24' && Math.min(...rgb) <= 1e-4)
    return 'one of its channels is empty in the photo';
  return null;
}

/**
 * The lightest, least coloured usable reference; `null` when none has enough of every channel for gains of its own.
 */
function leadingReference(references: readonly ReferencePatch[], usable: readonly boolean[]): number | null {
  let best: number | null = null;
  let bestScore = -Infinity;
  references.forEach((reference, i) => {
    if (!usable[i] || !mayLead(reference.rgb, reference.lab)) return;
    const { L, a, b } = reference.lab;
    const chroma = Math.hypot(a, b);
    // A black is neutral, but too dark to tell the light by.
    const score = L - 1.5 * chroma + (chroma < NEUTRAL_CHROMA && L > 30 ? 100 : 0);
    if (score > bestScore) {
      bestScore = score;
      best = i;
    }
  });
  return best;
}

/** Whether gains may be set on a colour: enough in every channel, in truth and in the photo. */
export function mayLead(rgb: ArrayLike<number>, lab: Lab): boolean {
  const truth = linearOfLab(lab);
  return Math.min(...truth) >= 0.015 && Math.min(rgb[0], rgb[1], rgb[2]) >= 0.004;
}

/** Where the correction starts from before the references narrow it. */
interface Start {
  readonly situation: Situation;
  readonly gains: readonly [number, number, number];
  readonly context: Float64Array;
  /** Covariance of the ln gains. */
  readonly gainCovariance: Float64Array;
}

function startOf(lead: ReferencePatch): Start {
  const [r, g, b] = linearOfLab(lead.lab);
  const gains = [r / lead.rgb[0], g / lead.rgb[1], b / lead.rgb[2]] as const;
  const situation = Math.hypot(lead.lab.a, lead.lab.b) < NEUTRAL_CHROMA ? 'neutral' : 'coloured';
  const context = referenceContext(situation, gains, lead.lab);
  return { situation, gains, context, gainCovariance: gainCovariance(lead, gains) };
}

/** The picture's own statistics, or the references' where nothing else of the picture is known. */
function startOfPicture(
  references: readonly ReferencePatch[],
  pixels: Float32Array | undefined,
  priors: Priors,
): Start {
  const seen = pixels ?? Float32Array.from(references.flatMap(({ rgb }) => [...rgb]));
  const context = tellingContext(seen) ?? unknownPicture();
  const gains = pictureGains(context, priors.pictureGains);
  return { situation: 'picture', gains, context, gainCovariance: new Float64Array(9) };
}

/** Context of a picture nothing is known about. */
function unknownPicture(): Float64Array {
  return Float64Array.from({ length: CONTEXT_COUNT.picture }, (_, i) => (i === 0 ? 1 : 0));
}

function equationOf(
  reference: ReferencePatch,
  index: number,
  leading: boolean,
  gains: readonly [number, number, number],
  model: Pick<Prior, 'noise' | 'correlation'>,
): Equation {
  const [r, g, b] = [reference.rgb[0] * gains[0], reference.rgb[1] * gains[1], reference.rgb[2] * gains[2]];
  const terms = new Float64Array(FEATURE_COUNT);
  features(r, g, b, terms, 0);
  const plain = new Float64Array(3);
  plainLab(r, g, b, plain, 0);
  const { lab } = reference;
  const covariance = new Float64Array(9);
  const known = reference.labCovariance ?? KNOWN_COVARIANCE;
  for (let k = 0; k < 9; k++) covariance[k] = known[k];
  if (leading) {
    for (let k = 0; k < 9; k += 4) covariance[k] += LEADING_DEVIATION ** 2;
  } else {
    noiseCovariance([r, g, b], plain, model).forEach((value, k) => (covariance[k] += value));
    if (reference.rgbCovariance) addSpread(covariance, [r, g, b], gains, reference.rgbCovariance);
  }
  return {
    reference: index,
    leading,
    terms,
    gainEffect: leading ? new Float64Array(9) : gainEffect(r, g, b),
    rest: Float64Array.of(lab.L - plain[0], lab.a - plain[1], lab.b - plain[2]),
    covariance,
    plain: { L: plain[0], a: plain[1], b: plain[2] },
  };
}

/** Adds the covariance of delivered rgb, carried to Lab. */
function addSpread(
  out: Float64Array,
  scaled: readonly [number, number, number],
  gains: readonly [number, number, number],
  spread: Covariance,
): void {
  // d Lab / d rgb = d Lab / d ln(scaled) / rgb, and scaled = gain x rgb.
  const slope = gainEffect(...scaled).map(
    (value, k) => (value * gains[k % 3]) / Math.max(scaled[k % 3], 1e-3),
  );
  carried(slope, spread).forEach((value, k) => (out[k] += value));
}

/** Covariance of the ln gains from the leading reference's doubt: its true colour and its noise in the photo. */
function gainCovariance(lead: ReferencePatch, gains: readonly [number, number, number]): Float64Array {
  const scaled = [lead.rgb[0] * gains[0], lead.rgb[1] * gains[1], lead.rgb[2] * gains[2]] as const;
  const doubt = Float64Array.from(lead.labCovariance ?? KNOWN_COVARIANCE);
  if (lead.rgbCovariance) addSpread(doubt, scaled, gains, lead.rgbCovariance);
  return gainDoubt(scaled, doubt);
}

function remarks(
  references: readonly ReferencePatch[],
  equations: readonly Equation[],
  posterior: Posterior,
  neutral: boolean,
): string[] {
  const notes: string[] = [];
  if (equations.length === 1) {
    notes.push(
      neutral
        ? 'One neutral reference: brightness and cast are set, strong colours remain doubtful. Known colours besides would narrow them.'
        : 'One coloured reference: near its own colour the correction is good, far from it doubtful. White paper besides would help most.',
    );
  }
  const contradicting = equations.filter((_, e) => (posterior.distances[e] ?? 0) > CONTRADICTION);
  // Two references alone accuse each other, and a wrong leader makes all others look wrong: name the worst.
  const worst =
    contradicting.length > 0 ? contradicting.reduce((a, b) => (distance(a) > distance(b) ? a : b)) : null;
  function distance(equation: Equation): number {
    return posterior.distances[equations.indexOf(equation)] ?? 0;
  }
  if (worst) {
    const by = posterior.disagreements[equations.indexOf(worst)] ?? 0;
    const name = nameOf(references[worst.reference], worst.reference);
    notes.push(
      `References contradict each other: ${name} differs by ${by.toFixed(1)} (CIEDE2000) from what the others say it is. ` +
        'Check that it is what it is said to be, lies in the same light and is free of glare.',
    );
    if (contradicting.length > 1)
      notes.push(`${contradicting.length} of ${equations.length} references do not fit the others.`);
  }
  if (posterior.doubtScale > 1.5) {
    const times = Math.sqrt(posterior.doubtScale).toFixed(1);
    notes.push(
      `The references fit together worse than they should: every stated doubt is ${times} times as wide for it.`,
    );
  }
  return notes;
}
