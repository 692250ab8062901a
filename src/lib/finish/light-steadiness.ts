import {
  NEAR_NEUTRAL_CHROMA,
  deltaE2000,
  deltaE2000Components,
  deltaE2000Many,
  describeDifference,
  differenceCam16Ucs,
  undertone,
} from '#lib/colour/index.ts';
import type { Lab, Undertone, UndertoneHue } from '#lib/colour/index.ts';
import { MOVEMENT_BANDS } from './criteria.ts';
import { labOfDraw } from './drawn-look.ts';
import type { DrawnFinish, Facet } from './drawn-look.ts';
import { doubtPerAxis } from './evidence.ts';
import { LIKELY, MORE_LIKELY_THAN_NOT, POSSIBLE, chance, figureOf, figureWords } from './figure.ts';
import type { Figure } from './figure.ts';
import { DAYLIGHT_NAME, lightWords, under } from './pairing.ts';

/**
 * How a finish takes a change of light. 'May' where less than `LIKELY` of the plausible reflectances agree; nothing is said
 * of a colour that is hardly known itself.
 */
export type SteadinessVerdict =
  'turns' | 'may turn' | 'moves a little' | 'may move a little' | 'steady' | 'too little known';

/** One light, by id and name. */
export interface NamedLight {
  readonly id: string;
  readonly name: string;
}

/**
 * What a finish does of its own from one light to another: for an eye that has settled on each, at one level, so that what
 * the light does to everything is no part of it.
 */
export interface OwnChange {
  /** CIEDE2000 between its looks after adaptation, its colours by area. */
  readonly deltaE: Figure;
  /** Signed parts of CIEDE2000 of the finish as a whole: positive is lighter, more chromatic, hue turned counter-clockwise. */
  readonly parts: { readonly dL: number; readonly dC: number; readonly dH: number };
  /** CIELAB chroma of the whole under the first light, and under the second. */
  readonly chroma: { readonly from: number; readonly to: Figure };
  /** 'a shade greener and a touch darker', 'clearly lighter and yellower'. */
  readonly words: string;
}

/** What happens to a finish from one light to another, after adaptation. */
export interface LightMovement extends OwnChange {
  readonly from: NamedLight;
  readonly to: NamedLight;
  /** CAM16-UCS, its colours by area. */
  readonly shift: Figure;
  /** Share of plausible reflectances with which it moves to the eye (from the first band on), and with which it turns, 0-1. */
  readonly chances: { readonly moves: number; readonly turns: number };
}

/** What a change of light does to the kind of a colour. */
export type ColourTurn = 'turns grey' | 'loses its undertone' | 'takes on a colour' | 'changes its undertone';

/** A colour that becomes another kind of colour under a lamp. */
export interface NamedTurn {
  readonly kind: ColourTurn;
  readonly light: NamedLight;
  /** Share of plausible reflectances with which it happens, 0-1. */
  readonly chance: number;
  /** 'will turn grey under “Evening pendants”', 'may turn pinkish under …'. */
  readonly words: string;
}

/** How steady one finish is. */
export interface FinishSteadiness {
  readonly finishId: string;
  readonly name: string;
  /** Every pair of lights, daylight first. */
  readonly movements: readonly LightMovement[];
  /** The pair between which it differs most, CIEDE2000; null where there is no light. */
  readonly worst: LightMovement | null;
  readonly verdict: SteadinessVerdict;
  /** From daylight to each light, the likeliest first. */
  readonly turns: readonly NamedTurn[];
  /** Whether what lamps do to it is an estimate, its daylight colour alone being known. */
  readonly estimated: boolean;
  readonly sentence: string;
}

/** Loss of chroma, as what is left of it, that reads as grey: for a colour that ends near-neutral, and for any colour. */
const GREYED = { nearNeutral: 0.8, anywhere: 0.6 } as const;

/**
 * Doubt of a colour, CIELAB units per axis, from which what a lamp does to it is not told: its very hue is open then, and
 * with it what the lamp meets. A photo without any reference leaves about 4. Common practice, no published source.
 */
const HARDLY_KNOWN = 6;

/** CIEDE2000 from which a changed undertone is seen without holding two chips edge to edge. */
const SEEN_APART = 2;

/**
 * How steady a finish is between lights; `lights` as it was drawn with, daylight first.
 * Movement is that of each colour, averaged by area, as in the ranking; direction and kind are those of the whole, since a
 * stone is said to turn when it does so from across the room.
 * Bands, `GREYED` and `SEEN_APART` are common practice, no published source.
 */
export function steadinessOf(
  drawn: DrawnFinish,
  { lights, name }: { lights: readonly NamedLight[]; name: string },
): FinishSteadiness {
  const movements = lights.flatMap((_, from) =>
    lights.slice(from + 1).map((_, i) => movement(drawn, { lights, from, to: from + 1 + i })),
  );
  const worst = movements.reduce<LightMovement | null>(
    (most, one) => (most && most.deltaE.value >= one.deltaE.value ? most : one),
    null,
  );
  const known = isKnown(drawn);
  const turns = known
    ? lights
        .slice(1)
        .flatMap((light, i) => turnOf(drawn, light, i + 1) ?? [])
        .toSorted((a, b) => b.chance - a.chance)
    : [];
  const verdict = known ? verdictOf(movements) : 'too little known';
  return {
    finishId: drawn.finish.id,
    name,
    movements,
    worst,
    verdict,
    turns,
    estimated: drawn.estimated,
    sentence: sentence(name, {
      worst,
      verdict,
      turn: turns[0] ?? null,
      byDay: movements.slice(0, lights.length - 1),
    }),
  };
}

/**
 * Below this CIEDE2000 a finish is said to hold its colour: chips that lie apart hide it. Common practice, no published
 * source.
 */
export const HOLDS_BELOW = 2;

/** Part of the give or take (two standard deviations) that leaves four chances in five on one side of a value. */
const LIKELY_REACH = 0.42;

/** Whether the doubt leaves it clear that a finish holds its colour, or that it does not. */
export function isFirm({ value, giveOrTake }: Figure): boolean {
  return Math.abs(value - HOLDS_BELOW) >= LIKELY_REACH * giveOrTake;
}

/** Whether enough is known of a finish to say what a lamp does to it: its reflectance, or its colour by day. */
export function isKnown({
  finish: { colours },
  estimated,
}: Pick<DrawnFinish, 'finish' | 'estimated'>): boolean {
  if (!estimated) return true;
  const whole = colours.reduce((sum, { share }) => sum + share, 0);
  const doubt = colours.reduce(
    (sum, { estimate, share }) => sum + share * doubtPerAxis(estimate.covariance),
    0,
  );
  return doubt < HARDLY_KNOWN * whole;
}

function movement(
  drawn: DrawnFinish,
  { lights, from, to }: { lights: readonly NamedLight[]; from: number; to: number },
): LightMovement {
  const { colours, draws } = drawn;
  const shifts = drawnShifts(colours, { from, to, draws });
  const shift = colours.reduce(
    (sum, { share, ucs }) => sum + share * differenceCam16Ucs(ucs[from], ucs[to]),
    0,
  );
  return {
    from: lights[from],
    to: lights[to],
    ...ownChange(drawn, { from, to }),
    shift: figureOf(shift, shifts),
    chances: {
      moves: chance(draws, (t) => shifts[t] >= MOVEMENT_BANDS.steady),
      turns: chance(draws, (t) => shifts[t] >= MOVEMENT_BANDS['moves a little']),
    },
  };
}

/** What a finish does of its own between two of the lights it was drawn with. */
export function ownChange(
  { colours, whole, draws }: DrawnFinish,
  { from, to }: { from: number; to: number },
): OwnChange {
  const { dL, dC, dH } = deltaE2000Components(whole.labs[from], whole.labs[to]);
  return {
    deltaE: differenceBetween(colours, { from, to }),
    parts: { dL, dC, dH },
    chroma: {
      from: chromaOf(whole.labs[from]),
      to: figureOf(
        chromaOf(whole.labs[to]),
        Float64Array.from({ length: draws }, (_, t) => chromaOf(labOfDraw(whole, to, t))),
      ),
    },
    words: joined(describeDifference(whole.labs[from], whole.labs[to])),
  };
}

/** CIEDE2000 between the looks in two lights at the best estimates, colours by area. */
export function differenceBetween(
  colours: readonly Facet[],
  { from, to }: { from: number; to: number },
): Figure {
  const value = colours.reduce((sum, { share, labs }) => sum + share * deltaE2000(labs[from], labs[to]), 0);
  return figureOf(value, drawnDifferences(colours, { from, to }));
}

/** The same in every draw. */
export function drawnDifferences(
  colours: readonly Facet[],
  { from, to }: { from: number; to: number },
): Float64Array {
  const draws = colours[0].drawnLabs[from].length / 3;
  const out = new Float64Array(draws);
  const one = new Float32Array(draws);
  for (const { drawnLabs, share } of colours) {
    deltaE2000Many(drawnLabs[from], drawnLabs[to], one);
    for (let t = 0; t < draws; t++) out[t] += share * one[t];
  }
  return out;
}

function chromaOf({ a, b }: Lab): number {
  return Math.hypot(a, b);
}

/** CAM16-UCS distance between two lights in every draw, colours by area. */
function drawnShifts(
  colours: readonly Facet[],
  { from, to, draws }: { from: number; to: number; draws: number },
): Float64Array {
  const out = new Float64Array(draws);
  for (const { drawnUcs, share } of colours) {
    const [p, q] = [drawnUcs[from], drawnUcs[to]];
    for (let t = 0, i = 0; t < draws; t++, i += 3)
      out[t] += share * Math.hypot(q[i] - p[i], q[i + 1] - p[i + 1], q[i + 2] - p[i + 2]);
  }
  return out;
}

function verdictOf(movements: readonly LightMovement[]): SteadinessVerdict {
  const most = (of: 'moves' | 'turns') => Math.max(0, ...movements.map(({ chances }) => chances[of]));
  if (most('turns') >= LIKELY) return 'turns';
  if (most('turns') >= POSSIBLE) return 'may turn';
  if (most('moves') >= LIKELY) return 'moves a little';
  return most('moves') >= POSSIBLE ? 'may move a little' : 'steady';
}

/** What became of a colour: its kind of turn and the hue the words name; null for none. */
interface Turned {
  readonly kind: ColourTurn;
  readonly from: UndertoneHue | null;
  readonly to: UndertoneHue | null;
}

const isPlain = (tone: Undertone) => tone.strength === 'none' || tone.strength === 'slight';

/** What kind of turn a look by day and a look under a lamp make. */
function turned(day: Lab, there: Lab, tone: Undertone | null): Turned | null {
  const before = chromaOf(day);
  const after = chromaOf(there);
  if (!tone) {
    const greyed =
      after <= GREYED.anywhere * before ||
      (after <= NEAR_NEUTRAL_CHROMA && after <= GREYED.nearNeutral * before);
    return greyed ? { kind: 'turns grey', from: null, to: null } : null;
  }
  if (deltaE2000(day, there) < SEEN_APART) return null;
  // Beyond the near-neutrals the hue is that of the same angle nearer to grey.
  const pale = after > NEAR_NEUTRAL_CHROMA ? (0.99 * NEAR_NEUTRAL_CHROMA) / after : 1;
  const now = undertone({ L: there.L, a: pale * there.a, b: pale * there.b })!;
  if (isPlain(tone) && !isPlain(now)) return { kind: 'takes on a colour', from: null, to: now.hue };
  if (!isPlain(tone) && now.strength === 'none')
    return { kind: 'loses its undertone', from: tone.hue, to: null };
  if (tone.hue !== now.hue && !isPlain(tone) && !isPlain(now))
    return { kind: 'changes its undertone', from: tone.hue, to: now.hue };
  return null;
}

/** Counts, over the draws, what becomes of the whole of a finish from daylight to a light; null where nothing may. */
function turnOf({ whole, draws }: DrawnFinish, light: NamedLight, index: number): NamedTurn | null {
  const day = whole.labs[0];
  const tone = undertone(day);
  const tally = new Map<string, { turn: Turned; count: number }>();
  for (let t = 0; t < draws; t++) {
    const turn = turned(day, labOfDraw(whole, index, t), tone);
    if (!turn) continue;
    const key = `${turn.kind} ${turn.to}`;
    const entry = tally.get(key) ?? { turn, count: 0 };
    entry.count++;
    tally.set(key, entry);
  }
  const commonest = [...tally.values()].toSorted((a, b) => b.count - a.count)[0];
  if (!commonest) return null;
  const { kind } = commonest.turn;
  const ofKind = [...tally.values()].filter(({ turn }) => turn.kind === kind);
  const share = ofKind.reduce((sum, { count }) => sum + count, 0) / draws;
  // Greyness is what people fear of lamps: it is said also where the best estimate alone greys, and never for less.
  const greys = kind === 'turns grey' && turned(day, whole.labs[index], tone)?.kind === kind;
  if (!greys && share < MORE_LIKELY_THAN_NOT) return null;
  return {
    kind,
    light,
    chance: share,
    words: `${turnWords(commonest.turn, share >= LIKELY)} ${under(light.name)}`,
  };
}

/** How a near-neutral that has taken on a hue is called. */
const TINGED: Readonly<Record<UndertoneHue, string>> = {
  pink: 'pinkish',
  red: 'reddish',
  orange: 'a little orange',
  yellow: 'yellowish',
  green: 'greenish',
  'blue-green': 'blue-greenish',
  blue: 'bluish',
  violet: 'a little violet',
};

// 'Will' and 'may' suit names of one thing and of many: 'Oak planks on “Floor” will turn …'.
function turnWords({ kind, from, to }: Turned, plain: boolean): string {
  const may = plain ? 'will' : 'may';
  switch (kind) {
    case 'turns grey':
      return `${may} turn grey`;
    case 'loses its undertone':
      return `${may} lose the ${from} undertone`;
    case 'takes on a colour':
      return `${may} turn ${TINGED[to!]}`;
    case 'changes its undertone':
      return `${may} turn from ${from} to ${to}`;
  }
}

/** 'a shade greener, a touch darker' as it stands in a sentence, each size said once: 'clearly lighter and yellower'. */
export function joined(words: string): string {
  const bySize = new Map<string, string[]>();
  for (const part of words.split(', ')) {
    const [, size, what] = /^(a \w+|\w+) (\w+)$/.exec(part) ?? [];
    if (size === undefined) return words;
    bySize.set(size, [...(bySize.get(size) ?? []), what]);
  }
  const parts = [...bySize].map(([size, whats]) => `${size} ${inSeries(whats, ' and ')}`);
  const nested = bySize.size > 1 && [...bySize.values()].some(({ length }) => length > 1);
  return inSeries(parts, nested ? ', and ' : ' and ');
}

function inSeries(words: readonly string[], last: string): string {
  return words.length === 1 ? words[0] : `${words.slice(0, -1).join(', ')}${last}${words.at(-1)}`;
}

function sentence(
  name: string,
  {
    worst,
    verdict,
    turn,
    byDay,
  }: {
    worst: LightMovement | null;
    verdict: SteadinessVerdict;
    turn: NamedTurn | null;
    byDay: readonly LightMovement[];
  },
): string {
  if (verdict === 'too little known')
    return `${name}: too little is known of this colour to say what a lamp does to it.`;
  if (!worst) return `There is no other light to see ${name} in.`;
  const size = (moved: LightMovement) => `difference ${figureWords(moved.deltaE)}`;
  if (turn) {
    const there = byDay.find(({ to }) => to.id === turn.light.id)!;
    const sure = turn.chance >= LIKELY;
    const cases = sure ? '' : ` in ${Math.max(1, Math.round(10 * turn.chance))} of 10 plausible cases`;
    const left = `${sure ? '' : 'about '}${keptPercent(there)} of the colour is left`;
    return turn.kind === 'turns grey'
      ? `${name} ${turn.words}${cases}: ${left} (${size(there)}).`
      : `${name} ${turn.words}${cases} (${size(there)}).`;
  }
  const how = worst.words === 'no visible difference' ? '' : worst.words;
  const may = verdict === 'turns' || verdict === 'moves a little' ? 'will' : 'may';
  switch (verdict) {
    case 'turns':
    case 'may turn':
      return how
        ? `${name} ${may} look ${how} ${under(worst.to.name)} than ${whereFrom(worst)} (${size(worst)}).`
        : `${name} ${may} turn into another colour ${placeWords(worst)} (${size(worst)}).`;
    case 'moves a little':
    case 'may move a little':
      return `${name} ${may} move a little ${placeWords(worst)}${how && `: ${how}`} (${size(worst)}).`;
    case 'steady':
      return `${name} will ${isFirm(worst.deltaE) ? '' : 'probably '}stay steady in every light (${size(worst)} at most).`;
  }
}

/** What is left of a colour's chroma, '52 %'. */
export function keptPercent({ chroma }: Pick<OwnChange, 'chroma'>): string {
  return `${Math.round((100 * chroma.to.value) / chroma.from)}\u00a0%`;
}

function whereFrom({ from }: LightMovement): string {
  return from.name === DAYLIGHT_NAME ? 'by day' : under(from.name);
}

function placeWords({ from, to }: LightMovement): string {
  if (from.name === DAYLIGHT_NAME) return under(to.name);
  return `between ${lightWords(from.name)} and ${lightWords(to.name)}`;
}
