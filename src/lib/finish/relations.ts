import {
  WHITE_D65_10,
  deltaE2000,
  describeDifference,
  differenceWays,
  invert,
  labToXyz,
  transform,
  xyzToLab,
  xyzToRgbMatrix,
} from '#lib/colour/index.ts';
import type { Lab, Matrix3, Vector3 } from '#lib/colour/index.ts';
import { LEAST } from './criteria.ts';
import { smallerIsBetter } from './desirability.ts';
import { the } from './pairing.ts';
import { upperFirst } from './reasons.ts';

/*
 * How well the step between two surfaces repeats the step between the two places of the inspiration that stand for them.
 *
 * A picture's exposure and white balance act as one gain on each of three channels, the same on both places. So the
 * inspiration's two colours are moved together, by the three gains that bring them nearest to the scheme's two, and what
 * then remains is the difference between the steps. Any gain the picture already has is undone by that, exactly; only
 * ratios of the two places count. Gains act on linear Rec. 2020, whose channels are narrow enough that another daylight
 * is nearly a gain on each: among measured surfaces of room colours, daylight of 6,000 K instead of 6,500 K moves a
 * difference between steps by 0.26 (root mean square), where with CAT16's cone responses it is 0.31, with sRGB 0.33, with
 * XYZ 0.49 and with plain differences of CIELAB 0.63.
 *
 * The gains are least squares on cube roots, the scale of lightness, and not on logarithms: a dark colour's logarithm
 * moves by much where the eye sees next to nothing. In closed form, so a pair costs two colour differences and no search.
 */

/**
 * How good a difference between two steps is, ΔE00, smaller is better. Common practice, no published source: the steps are
 * compared from memory, a picture with a room, so 2 is taken as repeated; 10 is half as good, 20 a fifth.
 */
export const RELATION = { full: 2, none: 100, r: 8 } as const;

/** Upper borders of a difference between two steps, ΔE00: repeated, close to it; beyond, another step. Common practice, no published source. */
export const RELATION_BANDS = { repeated: 2, close: 8 } as const;

export type RelationKind = 'repeated' | 'close' | 'another';

/** Linear Rec. 2020 of XYZ, each row divided by its value for white, so that a neutral has three equal channels. */
const TO_CHANNELS = channelMatrix();
const FROM_CHANNELS = invert(TO_CHANNELS);

/** Least channel value, part of white: what a picture shows below it is noise, and no surface reflects so little. */
const DARKEST = 5e-4;

function channelMatrix(): Matrix3 {
  const rows = xyzToRgbMatrix('rec2020');
  const white = transform(rows, [WHITE_D65_10.X, WHITE_D65_10.Y, WHITE_D65_10.Z]);
  return rows.map((value, i) => value / white[Math.floor(i / 3)]);
}

function rootsToLab(r: number, g: number, b: number): Lab {
  const [X, Y, Z] = transform(FROM_CHANNELS, [r * r * r, g * g * g, b * b * b]);
  return xyzToLab({ X, Y, Z }, WHITE_D65_10);
}

/** A colour with the cube roots of its three channels. */
interface Rooted {
  readonly lab: Lab;
  readonly roots: Vector3;
}

/** A colour with a channel that no surface has, being below `DARKEST`, is taken as the one that has just that. */
function rooted(lab: Lab): Rooted {
  if (!Number.isFinite(lab.L + lab.a + lab.b))
    throw new RangeError(`Expected a finite Lab, got ${lab.L}, ${lab.a}, ${lab.b}`);
  const { X, Y, Z } = labToXyz(lab, WHITE_D65_10);
  const channels = transform(TO_CHANNELS, [X, Y, Z]);
  const [r, g, b] = channels.map((value) => Math.cbrt(Math.max(DARKEST, value)));
  return { lab: Math.min(...channels) < DARKEST ? rootsToLab(r, g, b) : lab, roots: [r, g, b] };
}

/** Gain on the cube root of one channel that brings the inspiration's two values nearest to the scheme's. */
function gain(a: number, b: number, A: number, B: number): number {
  return (A * a + B * b) / (A * A + B * B);
}

/** Two colours of one scheme, or of the inspiration. */
interface Two {
  readonly a: Rooted;
  readonly b: Rooted;
}

/** The inspiration's two colours under the gains that bring them nearest to the scheme's two. */
function fitted({ a, b }: Two, inspiration: Two): { a: Lab; b: Lab } {
  const [A, B] = [inspiration.a.roots, inspiration.b.roots];
  const r = gain(a.roots[0], b.roots[0], A[0], B[0]);
  const g = gain(a.roots[1], b.roots[1], A[1], B[1]);
  const s = gain(a.roots[2], b.roots[2], A[2], B[2]);
  return { a: rootsToLab(r * A[0], g * A[1], s * A[2]), b: rootsToLab(r * B[0], g * B[1], s * B[2]) };
}

function differenceOf(pair: Two, inspiration: Two): number {
  const near = fitted(pair, inspiration);
  // What remains falls on both surfaces; √2 makes it what one of two equally light ones alone would have to move.
  return Math.SQRT2 * Math.hypot(deltaE2000(near.a, pair.a.lab), deltaE2000(near.b, pair.b.lab));
}

/**
 * Difference between the step from `b` to `a` and that from the inspiration's place for `b` to its place for `a`, in the
 * units of ΔE00, 0 or more: the size of what one surface would have to change so that the pair repeats the inspiration's.
 * Unchanged by any gain common to both places of the inspiration, as long as no channel is cut off or nearly black.
 * In: CIELAB D65/10°. @throws RangeError for numbers that are not finite.
 */
export function relationDifference(
  { a, b }: { readonly a: Lab; readonly b: Lab },
  inspiration: { readonly a: Lab; readonly b: Lab },
): number {
  return differenceOf({ a: rooted(a), b: rooted(b) }, { a: rooted(inspiration.a), b: rooted(inspiration.b) });
}

/** How good a difference between two steps is, 0.01-1. Derringer and Suich's one-sided transformation with `RELATION`. */
export function relationDesirability(difference: number): number {
  return Math.max(LEAST, smallerIsBetter(difference, RELATION));
}

/**
 * ln desirability of one pair of surfaces against the inspiration's places for them, ln 0.01 to 0. A scheme's score is the
 * sum over its pairs times their weights, so a search can keep it in a table for each pair.
 * @throws RangeError for numbers that are not finite.
 */
export function relationLog(a: Lab, b: Lab, inspirationA: Lab, inspirationB: Lab): number {
  return Math.log(relationDesirability(relationDifference({ a, b }, { a: inspirationA, b: inspirationB })));
}

/**
 * `relationLog` of every option of one surface with every option of another: row-major, a row for each option of `a`.
 * @throws RangeError for numbers that are not finite.
 */
export function relationTable(
  optionsA: readonly Lab[],
  optionsB: readonly Lab[],
  inspiration: { readonly a: Lab; readonly b: Lab },
): Float64Array {
  const places = { a: rooted(inspiration.a), b: rooted(inspiration.b) };
  const columns = optionsB.map(rooted);
  const table = new Float64Array(optionsA.length * columns.length);
  optionsA.forEach((lab, row) => {
    const a = rooted(lab);
    columns.forEach((b, column) => {
      table[row * columns.length + column] = Math.log(relationDesirability(differenceOf({ a, b }, places)));
    });
  });
  return table;
}

/** A surface with what is on it and what stands for it in the inspiration. */
export interface RelatedSurface {
  readonly surfaceName: string;
  /** Its finish, CIELAB D65/10°; one with several colours as their mean by area. */
  readonly lab: Lab;
  readonly inspiration: Lab;
  /** Whether it stays as it is: sentences then ask the other surface to change. */
  readonly held?: boolean;
}

/** Two surfaces of a scheme that are seen together, and how much that counts. */
export interface RelatedPair {
  readonly first: RelatedSurface;
  readonly second: RelatedSurface;
  /** 0 or more, such as their contact. */
  readonly weight: number;
}

/** How the step between two surfaces stands to that of the inspiration. */
export interface Relation {
  readonly firstName: string;
  readonly secondName: string;
  readonly kind: RelationKind;
  /** See `relationDifference`. */
  readonly difference: number;
  /** 0.01-1. */
  readonly desirability: number;
  readonly weight: number;
  /** For a client: '“Cabinets” is darker than “Walls”, as in the inspiration; to repeat that step “Cabinets” would be a touch greener.' */
  readonly sentence: string;
  /** 'difference 3.1'. */
  readonly number: string;
}

export interface RelationReport {
  /** Those that cost most first. */
  readonly relations: readonly Relation[];
  /** Weighted geometric mean over the pairs, 0.01-1; null where no pair has a weight. */
  readonly desirability: number | null;
  /** 'Keeps 4 of 6 steps of the inspiration closely'. */
  readonly headline: string;
}

/**
 * What a scheme keeps of the inspiration's steps, pair by pair, in words and numbers.
 * @throws RangeError for colours that are not finite or a weight below 0.
 */
export function relationReport(
  pairs: readonly RelatedPair[],
  { targetName = 'the inspiration' }: { targetName?: string } = {},
): RelationReport {
  const relations = pairs.map((pair) => relation(pair, targetName));
  const cost = ({ weight, desirability }: Relation) => -weight * Math.log(desirability);
  const sum = relations.reduce((total, { weight }) => total + weight, 0);
  const costs = relations.reduce((total, one) => total + cost(one), 0);
  return {
    relations: relations.toSorted((p, q) => cost(q) - cost(p) || q.difference - p.difference),
    desirability: sum > 0 ? Math.exp(-costs / sum) : null,
    headline: headline(relations, targetName),
  };
}

function relation({ first, second, weight }: RelatedPair, targetName: string): Relation {
  if (!(weight >= 0) || !Number.isFinite(weight))
    throw new RangeError(`Expected a weight of 0 or more, got ${weight}`);
  const pair = { a: rooted(first.lab), b: rooted(second.lab) };
  const inspiration = { a: rooted(first.inspiration), b: rooted(second.inspiration) };
  const difference = differenceOf(pair, inspiration);
  const kind =
    difference < RELATION_BANDS.repeated
      ? 'repeated'
      : difference < RELATION_BANDS.close
        ? 'close'
        : 'another';
  return {
    firstName: first.surfaceName,
    secondName: second.surfaceName,
    kind,
    difference,
    desirability: relationDesirability(difference),
    weight,
    sentence: sentence(
      { first: { ...first, lab: pair.a.lab }, second: { ...second, lab: pair.b.lab } },
      fitted(pair, inspiration),
      { kind, targetName },
    ),
    number: `difference ${difference.toFixed(1)}`,
  };
}

/** Words that say the opposite of each other. */
const OPPOSITES: readonly (readonly [string, string])[] = [
  ['lighter', 'darker'],
  ['more colourful', 'greyer'],
  ['redder', 'greener'],
  ['yellower', 'bluer'],
];

function opposite(word: string): string | null {
  const pair = OPPOSITES.find((words) => words.includes(word));
  return pair ? pair[word === pair[0] ? 1 : 0] : null;
}

/** The step there is, whether it is the inspiration's, and what would make it so. */
function sentence(
  { first, second }: { first: RelatedSurface; second: RelatedSurface },
  near: { a: Lab; b: Lab },
  { kind, targetName }: { kind: RelationKind; targetName: string },
): string {
  const [one, other] = [the(first.surfaceName), the(second.surfaceName)];
  const here = steps(second.lab, first.lab);
  const there = steps(near.b, near.a);
  const asThere = there.length === 0 ? here.length === 0 : here.includes(there[0]);
  // What is named is what the inspiration does, or its opposite, before anything else that differs.
  const turned = here.find((word) => word === opposite(there[0] ?? ''));
  const word = asThere ? there[0] : (turned ?? here[0]);
  const what = word
    ? `${one} is ${word} than ${other}`
    : `${one} and ${other} are much the same as each other`;
  if (kind === 'repeated') return `${upperFirst(what)}, just as in ${targetName}.`;
  const repeat = `to repeat that step ${remedy({ first, second }, near)}`;
  if (asThere) return `${upperFirst(what)}, as in ${targetName}; ${repeat}.`;
  const instead = there.length === 0 ? 'the two are much the same' : `it is ${there[0]}`;
  return `${upperFirst(what)}, while in ${targetName} ${instead}; ${repeat}.`;
}

/** Lightness that a surface can have, L*; beyond it no change of that surface is proposed. Common practice, no published source. */
const POSSIBLE = { darkest: 8, lightest: 97 } as const;

/** What one of the two surfaces would have to be, the other staying as it is: the first, unless it is held or cannot. */
function remedy(
  { first, second }: { first: RelatedSurface; second: RelatedSurface },
  near: { a: Lab; b: Lab },
): string {
  const firstWanted = moved(second.lab, near.b, near.a);
  const secondWanted = moved(first.lab, near.a, near.b);
  const possible = ({ L }: Lab) => L >= POSSIBLE.darkest && L <= POSSIBLE.lightest;
  const other =
    (first.held ?? false) === (second.held ?? false)
      ? !possible(firstWanted) && possible(secondWanted)
      : first.held;
  const [surface, wanted] = other ? [second, secondWanted] : [first, firstWanted];
  const change = listed(describeDifference(surface.lab, wanted).split(', '));
  return `${the(surface.surfaceName)} would be ${change}`;
}

/** A colour moved by the step between two others. */
function moved(lab: Lab, from: Lab, to: Lab): Lab {
  return { L: lab.L + to.L - from.L, a: lab.a + to.a - from.a, b: lab.b + to.b - from.b };
}

/** In which ways a sample departs from a reference, the plainest first: 'darker', 'greener'. */
function steps(reference: Lab, sample: Lab): string[] {
  const words = describeDifference(reference, sample);
  if (deltaE2000(reference, sample) < RELATION_BANDS.repeated) return [];
  return differenceWays(words);
}

function listed(parts: readonly string[]): string {
  return parts.length === 1 ? parts[0] : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
}

function headline(relations: readonly Relation[], targetName: string): string {
  const count = relations.length;
  if (count === 0) return `No two surfaces have a place in ${targetName}`;
  const kept = relations.filter(({ kind }) => kind !== 'another').length;
  if (kept === count) return `Keeps every step of ${targetName} closely`;
  if (count === 1) return `Does not keep the step of ${targetName} closely`;
  if (kept === 0) return `Keeps none of the ${count} steps of ${targetName} closely`;
  return `Keeps ${kept} of ${count} steps of ${targetName} closely`;
}
