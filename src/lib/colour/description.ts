import { deltaE2000Components } from './difference.ts';
import { hueDegrees } from './lab.ts';
import type { Lab } from './lab.ts';

/**
 * Words for the size of one component of a difference (lightness, chroma or hue part of CIEDE2000), by upper limit; a
 * component below `UNSAID` is not mentioned. Common practice, no published source.
 */
export const SIZES: readonly { readonly below: number; readonly words: string }[] = [
  { below: 1.5, words: 'a touch' },
  { below: 3, words: 'a shade' },
  { below: 6, words: 'clearly' },
  { below: Infinity, words: 'much' },
];

/** A component smaller than this is left out. Common practice, no published source. */
const UNSAID = 0.4;

/** A component smaller than this share of the largest one is left out too: people name what they see first. */
const OVERSHADOWED = 0.2;

/**
 * Below this C* of the paler of the two a hue angle says little: what has changed is named by its direction in the
 * a*b* plane instead of as chroma and hue. Common practice, no published source.
 */
const HUELESS_CHROMA = 6;

/**
 * Unique hues, degrees. Source: CIE 248:2022, table of unique hue data for hue quadrature (CAM16 hue angles; those of
 * CIELAB differ by some degrees, which the words do not feel).
 */
const UNIQUE_HUES = [
  { angle: 20.14, word: 'redder' },
  { angle: 90, word: 'yellower' },
  { angle: 164.25, word: 'greener' },
  { angle: 237.53, word: 'bluer' },
] as const;

/** A colour within these degrees of a unique hue is of that hue: a yellow turns greener or redder, never yellower. */
const OWN_HUE = 15;

/** What a difference of a size means to someone who holds two chips side by side, by upper limit of CIEDE2000. */
const DIFFERENCE_MEANINGS: readonly { readonly below: number; readonly words: string }[] = [
  { below: 0.5, words: 'the same to the eye, even edge to edge' },
  { below: 1, words: 'the same to most people; a trained eye may see it edge to edge' },
  { below: 2, words: 'just visible when the chips touch, gone when they lie apart' },
  { below: 3.5, words: 'visible side by side, easily missed across a room' },
  { below: 6, words: 'plainly different side by side, still close relatives' },
  { below: 12, words: 'different at a glance' },
  { below: 25, words: 'two different colours' },
  { below: Infinity, words: 'two colours with little in common' },
];

/**
 * What a CIEDE2000 difference means to someone holding two chips side by side, in words.
 * Bands: common practice, no published source; 1 is about the just noticeable difference the formula is scaled to.
 * Throws RangeError for a difference that is negative or not a number.
 */
export function differenceInWords(deltaE: number): string {
  if (!(deltaE >= 0)) throw new RangeError(`Expected a colour difference of at least 0, got ${deltaE}`);
  return DIFFERENCE_MEANINGS.find((band) => deltaE < band.below)?.words ?? DIFFERENCE_MEANINGS.at(-1)!.words;
}

/**
 * How a sample differs from a reference, in words, the largest part first: `a shade lighter, a touch greener`,
 * `much darker, clearly greyer`. `no visible difference` where every part is too small to mention.
 * Parts: lighter or darker; greyer or more colourful; redder, yellower, greener or bluer. For near-neutrals chroma and hue are
 * one part, named by its direction.
 * In: CIELAB, D65, 10 degrees. Throws RangeError for numbers that are not finite.
 * Source: components of CIEDE2000 (ISO/CIE 11664-6), the words and bands common practice, no published source.
 */
export function describeDifference(reference: Lab, sample: Lab): string {
  const { dL, dC, dH } = deltaE2000Components(reference, sample);
  const parts: { size: number; word: string }[] = [
    { size: Math.abs(dL), word: dL > 0 ? 'lighter' : 'darker' },
  ];
  const paler = Math.min(Math.hypot(reference.a, reference.b), Math.hypot(sample.a, sample.b));
  if (paler < HUELESS_CHROMA) {
    parts.push({ size: Math.hypot(dC, dH), word: neutralLeaning(reference, sample) });
  } else {
    parts.push({ size: Math.abs(dC), word: dC > 0 ? 'more colourful' : 'greyer' });
    parts.push({ size: Math.abs(dH), word: hueLeaning(reference, sample, dH) });
  }
  const largest = Math.max(...parts.map((part) => part.size));
  const said = parts
    .filter((part) => part.size >= UNSAID && part.size >= OVERSHADOWED * largest)
    .toSorted((one, other) => other.size - one.size)
    .map((part) => `${sizeInWords(part.size)} ${part.word}`);
  return said.length === 0 ? 'no visible difference' : said.join(', ');
}

/** The ways of a difference that `describeDifference` put into words, without their sizes: `darker`, `more colourful`. */
export function differenceWays(words: string): string[] {
  return words.split(', ').map((part) => {
    const size = SIZES.find((band) => part.startsWith(`${band.words} `));
    return size ? part.slice(size.words.length + 1) : part;
  });
}

function sizeInWords(size: number): string {
  return SIZES.find((band) => size < band.below)?.words ?? SIZES.at(-1)!.words;
}

/** Where a near-neutral has moved: to grey, if it lies nearer the grey axis in about the same hue, else to a hue. */
function neutralLeaning(reference: Lab, sample: Lab): string {
  const before = Math.hypot(reference.a, reference.b);
  const after = Math.hypot(sample.a, sample.b);
  const da = sample.a - reference.a;
  const db = sample.b - reference.b;
  const moved = Math.hypot(da, db);
  const straight = (reference.a * da + reference.b * db) / (before * moved) < -0.9;
  const sameSide = reference.a * sample.a + reference.b * sample.b >= 0;
  if (straight && sameSide && after < before) return 'greyer';
  return nearestHue(hueDegrees(db, da));
}

function nearestHue(angle: number): string {
  let best: (typeof UNIQUE_HUES)[number] = UNIQUE_HUES[0];
  for (const hue of UNIQUE_HUES) {
    if (apart(hue.angle, angle) < apart(best.angle, angle)) best = hue;
  }
  return best.word;
}

/** The unique hue towards which the hue angle has moved, from the mean of the two hues. */
function hueLeaning(reference: Lab, sample: Lab, dH: number): string {
  const before = Math.hypot(reference.a, reference.b);
  const after = Math.hypot(sample.a, sample.b);
  const mean = hueDegrees(reference.b / before + sample.b / after, reference.a / before + sample.a / after);
  const direction = dH > 0 ? 1 : -1;
  let nearest: (typeof UNIQUE_HUES)[number] = UNIQUE_HUES[0];
  let least = Infinity;
  for (const hue of UNIQUE_HUES) {
    if (apart(hue.angle, mean) <= OWN_HUE) continue;
    const ahead = (((direction * (hue.angle - mean)) % 360) + 360) % 360;
    if (ahead < least) {
      least = ahead;
      nearest = hue;
    }
  }
  return nearest.word;
}

function apart(one: number, other: number): number {
  return Math.abs(one - other - 360 * Math.round((one - other) / 360));
}
