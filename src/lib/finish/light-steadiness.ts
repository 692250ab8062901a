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
import { LIKELY, MORE_LIKELY_THAN_NOT, POSSIBLE, chance, figureOf, figureWords } from './figure.ts';
import type { Figure } from './figure.ts';
import { DAYLIGHT_NAME, lightWords, under } from './pairing.ts';

/** How a finish takes a change of light. 'May' where less than `LIKELY` of the plausible reflectances agree. */
export type SteadinessVerdict = 'turns' | 'may turn' | 'moves a little' | 'may move a little' | 'steady';

/** One light, by id and name. */
export interface NamedLight {
  readonly id: string;
  readonly name: string;
}

/** What happens to a finish from one light to another, after adaptation. */
export interface LightMovement {
  readonly from: NamedLight;
  readonly to: NamedLight;
  /** CAM16-UCS, its colours by area. */
  readonly shift: Figure;
  /** CIEDE2000 between its looks after adaptation, its colours by area. */
  readonly deltaE: Figure;
  /** Signed parts of CIEDE2000 of the finish as a whole: positive is lighter, more chromatic, hue turned counter-clockwise. */
  readonly parts: { readonly dL: number; readonly dC: number; readonly dH: number };
  /** CIELAB chroma of the whole under the first light, and under the second. */
  readonly chroma: { readonly from: number; readonly to: Figure };
  /** 'a shade greener and a touch darker', 'clearly lighter and yellower'. */
  readonly words: string;
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
  /** The pair between which it moves most; null where there is no light. */
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
    (most, one) => (most && most.shift.value >= one.shift.value ? most : one),
    null,
  );
  const turns = lights
    .slice(1)
    .flatMap((light, i) => turnOf(drawn, light, i + 1) ?? [])
    .toSorted((a, b) => b.chance - a.chance);
  const verdict = verdictOf(worst);
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

function movement(
  { colours, whole, draws }: DrawnFinish,
  { lights, from, to }: { lights: readonly NamedLight[]; from: number; to: number },
): LightMovement {
  const shifts = drawnShifts(colours, { from, to, draws });
  const deltas = new Float64Array(draws);
  const one = new Float32Array(draws);
  for (const { drawnLabs, share } of colours) {
    deltaE2000Many(drawnLabs[from], drawnLabs[to], one);
    for (let t = 0; t < draws; t++) deltas[t] += share * one[t];
  }
  const byArea = (of: (colour: Facet) => number) =>
    colours.reduce((sum, colour) => sum + colour.share * of(colour), 0);
  const { dL, dC, dH } = deltaE2000Components(whole.labs[from], whole.labs[to]);
  return {
    from: lights[from],
    to: lights[to],
    shift: figureOf(
      byArea(({ ucs }) => differenceCam16Ucs(ucs[from], ucs[to])),
      shifts,
    ),
    deltaE: figureOf(
      byArea(({ labs }) => deltaE2000(labs[from], labs[to])),
      deltas,
    ),
    parts: { dL, dC, dH },
    chroma: {
      from: chromaOf(whole.labs[from]),
      to: figureOf(
        chromaOf(whole.labs[to]),
        Float64Array.from({ length: draws }, (_, t) => chromaOf(labOfDraw(whole, to, t))),
      ),
    },
    words: joined(describeDifference(whole.labs[from], whole.labs[to])),
    chances: {
      moves: chance(draws, (t) => shifts[t] >= MOVEMENT_BANDS.steady),
      turns: chance(draws, (t) => shifts[t] >= MOVEMENT_BANDS['moves a little']),
    },
  };
}

function chromaOf({ a, b }: Lab): number {
  return Math.hypot(a, b);
}

/** CAM16-UCS distance between two lights in every draw, colours by area. */
export function drawnShifts(
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

function verdictOf(worst: LightMovement | null): SteadinessVerdict {
  if (!worst) return 'steady';
  const { moves, turns } = worst.chances;
  if (turns >= LIKELY) return 'turns';
  if (turns >= POSSIBLE) return 'may turn';
  if (moves >= LIKELY) return 'moves a little';
  return moves >= POSSIBLE ? 'may move a little' : 'steady';
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
  // Greyness is what people fear of lamps and is said early; an undertone only where it is more likely than not.
  if (share < (kind === 'turns grey' ? POSSIBLE : MORE_LIKELY_THAN_NOT)) return null;
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
  if (!worst) return `There is no other light to see ${name} in.`;
  const size = (moved: LightMovement) => `movement ${figureWords(moved.shift)}`;
  if (turn) {
    const there = byDay.find(({ to }) => to.id === turn.light.id)!;
    const { from, to } = there.chroma;
    const chroma =
      turn.kind === 'turns grey' ? `chroma ${from.toFixed(0)} by day, ${to.value.toFixed(0)} there; ` : '';
    return `${name} ${turn.words} (${chroma}${size(there)}).`;
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
      return `${name} will stay steady in every light (${size(worst)} at most).`;
  }
}

function whereFrom({ from }: LightMovement): string {
  return from.name === DAYLIGHT_NAME ? 'by day' : under(from.name);
}

function placeWords({ from, to }: LightMovement): string {
  if (from.name === DAYLIGHT_NAME) return under(to.name);
  return `between ${lightWords(from.name)} and ${lightWords(to.name)}`;
}
