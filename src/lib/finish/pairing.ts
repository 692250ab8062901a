import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from './appearance.ts';
import type { FinishInput, LightInput, PreparedFinish, ReflectanceCache } from './appearance.ts';
import { largerIsBetter, smallerIsBetter } from './desirability.ts';
import { SPOKEN_OF_AS_WHITES, twoWhites } from './whites.ts';

/** How two finishes sit together. */
export type PairingKind = 'match' | 'near miss' | 'related' | 'separate';

/**
 * Upper border of each kind, ΔE00. Common practice, no published source. Below 1 two touching chips look the same to most
 * people; from there to 5 the eye sees a difference and reads it as one colour that failed to match; to 20 the two are
 * plainly different but of one family; beyond that they stand apart.
 */
export const PAIRING_BANDS = { match: 1, 'near miss': 5, related: 20 } as const;

/**
 * How good a pairing is by its ΔE00: 1 while it matches, down to `worst` in the trough of the near miss, up to 1 again
 * once the step is unmistakable. Common practice, no published source; the shape is Derringer and Suich's one-sided
 * transformations, the better of the two. The trough does not reach 0: a near miss is a fault, not a veto.
 */
export const PAIRING_CURVE = { matchFull: 1, matchNone: 2, apartNone: 3, apartFull: 8, worst: 0.1 } as const;

/**
 * Upper border of each kind for two whites (`WHITES`), ΔE00. Common practice, no published source. Beside a white the eye is
 * adapted to white and sees less: up to 0.5 nobody tells the two apart edge to edge; from there on the whiter is taken for
 * white and the other for dirty or yellowed, until the step is plainly meant. That comes a little sooner than among other
 * colours, for the whites span hardly more than 10.
 */
export const WHITE_BANDS = { match: 0.5, 'near miss': 4.5, related: 20 } as const;

/**
 * `PAIRING_CURVE` for two whites. Common practice, no published source: two whites that nearly match are the commonest
 * mistake in the trade, so that the trough begins sooner and is twice as deep; full marks again from a step of about ten
 * units of lightness, or from clean white to cream, on.
 */
export const WHITE_CURVE = {
  matchFull: 0.5,
  matchNone: 1.5,
  apartNone: 3,
  apartFull: 6,
  worst: 0.05,
} as const;

const ORDINARY = trough(PAIRING_CURVE);
const OF_WHITES = trough(WHITE_CURVE);

/** Difference in LRV, points, that guidance asks for where an edge must be seen (BS 8300-2:2018; local codes decide). */
export const VISIBLE_EDGE_LRV = 30;

/** Two finishes under one light; `pairingWords` says it in a sentence. */
export interface Pairing {
  readonly finishId: string;
  readonly surfaceName: string;
  readonly lightId: string;
  readonly lightName: string;
  readonly kind: PairingKind;
  /** CIEDE2000 of the two colours that decide, adapted to D65. */
  readonly deltaE: number;
  /** Part of the common edge, 0-1, on which the deciding colours meet; 1 for two plain finishes. */
  readonly share: number;
  /** LRV of the second finish less that of the first, points. */
  readonly lrvDifference: number;
  /** 0-1, over all their colours by area. */
  readonly desirability: number;
  /** Whether the colours that decide are two plain whites, which are judged more strictly (`WHITE_CURVE`). */
  readonly whites: boolean;
}

/** Kind of a pairing by its ΔE00; `whites` 0-1 says how far the two are plain whites (`twoWhites`). */
export function pairingKind(deltaE: number, whites = 0): PairingKind {
  for (const kind of ['match', 'near miss', 'related'] as const)
    if (deltaE < PAIRING_BANDS[kind] + whites * (WHITE_BANDS[kind] - PAIRING_BANDS[kind])) return kind;
  return 'separate';
}

/**
 * How good a colour difference between neighbours is, `worst` of the curve to 1; `whites` 0-1 says how far the two are plain
 * whites (`twoWhites`). In between, the weighted geometric mean of the two curves.
 */
export function pairingDesirability(deltaE: number, whites = 0): number {
  if (whites === 0) return ORDINARY(deltaE);
  if (whites === 1) return OF_WHITES(deltaE);
  return ORDINARY(deltaE) ** (1 - whites) * OF_WHITES(deltaE) ** whites;
}

/** The ΔE00 up to which a pair passes for a match: from here on the curve gives it nothing for matching. */
export function passesForMatch(whites = 0): number {
  return PAIRING_CURVE.matchNone + whites * (WHITE_CURVE.matchNone - PAIRING_CURVE.matchNone);
}

interface Trough {
  readonly matchFull: number;
  readonly matchNone: number;
  readonly apartNone: number;
  readonly apartFull: number;
  readonly worst: number;
}

function trough({ matchFull, matchNone, apartNone, apartFull, worst }: Trough): (deltaE: number) => number {
  const match = { full: matchFull, none: matchNone };
  const apart = { none: apartNone, full: apartFull };
  return (deltaE) => Math.max(smallerIsBetter(deltaE, match), largerIsBetter(deltaE, apart), worst);
}

/** What decides a pairing, without its words. */
export interface Verdict {
  readonly kind: PairingKind;
  readonly deltaE: number;
  readonly share: number;
  readonly desirability: number;
  /** How far the deciding colours are two plain whites, 0-1. */
  readonly whites: number;
  /** Places of the deciding colours in the two finishes. */
  readonly first: number;
  readonly second: number;
}

/**
 * Two finishes under one light (`light` counts from 0; -1 is D65). Every colour of one meets every colour of the other,
 * weighted by both areas; desirabilities combine as a weighted geometric mean. The pair of colours that costs most
 * decides the kind; where none costs anything, the commonest pair does.
 */
export function judge(first: PreparedFinish, second: PreparedFinish, light: number): Verdict {
  let logs = 0;
  let deciding = { cost: -1, share: 0, deltaE: 0, whites: 0, first: 0, second: 0 };
  for (let i = 0; i < first.colours.length; i++) {
    const p = first.colours[i];
    for (let j = 0; j < second.colours.length; j++) {
      const q = second.colours[j];
      const share = p.share * q.share;
      const whites = twoWhites(p, q);
      const deltaE = deltaE2000(seen(p, light), seen(q, light));
      const log = Math.log(pairingDesirability(deltaE, whites));
      logs += share * log;
      const cost = -share * log;
      if (cost > deciding.cost + 1e-12 || (cost > deciding.cost - 1e-12 && share > deciding.share)) {
        deciding = { cost, share, deltaE, whites, first: i, second: j };
      }
    }
  }
  return {
    kind: pairingKind(deciding.deltaE, deciding.whites),
    deltaE: deciding.deltaE,
    share: deciding.share,
    desirability: Math.exp(logs),
    whites: deciding.whites,
    first: deciding.first,
    second: deciding.second,
  };
}

/**
 * How well two finishes sit together, 0-1: the desirability of `judge` in the worst of the lights they are prepared for, in
 * daylight where there are none. The same either way round. Allocates nothing; CIEDE2000 is most of its work.
 */
export function pairScore(first: PreparedFinish, second: PreparedFinish): number {
  const lights = first.colours[0].labs.length;
  const plain = first.colours.length === 1 && second.colours.length === 1;
  let worst = plain ? 1 : 0;
  for (let light = lights > 0 ? 0 : -1; light < lights; light++) {
    if (plain) {
      const p = first.colours[0];
      const q = second.colours[0];
      const deltaE = deltaE2000(seen(p, light), seen(q, light));
      worst = Math.min(worst, pairingDesirability(deltaE, twoWhites(p, q)));
    } else worst = Math.min(worst, logUnder(first, second, light));
  }
  return plain ? worst : Math.exp(worst);
}

/** ln of the desirability of `judge`. */
function logUnder(first: PreparedFinish, second: PreparedFinish, light: number): number {
  let logs = 0;
  for (const p of first.colours) {
    for (const q of second.colours) {
      const deltaE = deltaE2000(seen(p, light), seen(q, light));
      // Most pairs of colours of patterned finishes are far apart, and cost nothing.
      if (deltaE < PAIRING_CURVE.apartFull)
        logs += p.share * q.share * Math.log(pairingDesirability(deltaE, twoWhites(p, q)));
    }
  }
  return logs;
}

/** A colour of a finish as seen under one of the prepared lights, or under D65 for -1. */
export function seen(colour: { lab: Lab; labs: readonly Lab[] }, light: number): Lab {
  return light < 0 ? colour.lab : colour.labs[light];
}

/** What is wrong with two whites that nearly match, for a client. */
export const WHITES_WARNING = 'beside the whiter one the other looks dirty or yellowed, as if by mistake';

const SENTENCES: Readonly<Record<PairingKind, (with_: string) => string>> = {
  match: (other) => `Matches ${other}`,
  'near miss': (other) =>
    `Near miss with ${other}: close enough to be compared, far enough to look like a mistake`,
  related: (other) => `A clear step from ${other}, of one family`,
  separate: (other) => `Stands apart from ${other}`,
};

/** A pairing as a sentence for a client: 'Near miss with “Counter” under “Evening lamps”: close enough to …'. */
export function pairingWords({ kind, share, surfaceName, lightName, whites }: Pairing): string {
  const part = share < 0.95 ? `a colour of ${the(surfaceName)}` : the(surfaceName);
  if (whites && kind === 'near miss')
    return `Nearly the white of ${part} ${under(lightName)}: ${WHITES_WARNING}`;
  return SENTENCES[kind](`${part} ${under(lightName)}`);
}

/** A name somebody gave, inside a sentence: as it was written, in quotation marks. */
export function quoted(name: string): string {
  return `“${name.trim()}”`;
}

/** A fixed finish's place inside a sentence. */
export function the(surfaceName: string): string {
  return surfaceName.trim() === '' ? 'its neighbour' : quoted(surfaceName);
}

/** How a light that nobody named is called: the plain daylight every colour is given for. */
export const DAYLIGHT_NAME = 'daylight';

/** A light's name inside a sentence. */
export function lightWords(lightName: string): string {
  if (lightName.trim() === '') return 'one of the lights';
  return lightName === DAYLIGHT_NAME ? lightName : quoted(lightName);
}

/** 'under “Evening lamps”' from a light's name. */
export function under(lightName: string): string {
  return `under ${lightWords(lightName)}`;
}

/**
 * How two finishes sit together, under each light; under D65 alone where no light is given.
 * `first` is the one that is there already, `second` the one that is tried.
 */
export function pairings(
  first: { finish: FinishInput; surfaceName: string },
  second: FinishInput,
  { lights, cache }: { lights: readonly LightInput[]; cache?: ReflectanceCache },
): Pairing[] {
  const prepared = lights.map(prepareLight);
  const there = prepareFinish(first.finish, prepared, cache);
  const tried = prepareFinish(second, prepared, cache);
  return pairingsOf(there, tried, { surfaceName: first.surfaceName, lights: prepared });
}

/** `pairings` of finishes that are prepared already. */
export function pairingsOf(
  first: PreparedFinish,
  second: PreparedFinish,
  { surfaceName, lights }: { surfaceName: string; lights: readonly { id: string; name: string }[] },
): Pairing[] {
  const lrvDifference = second.lrv - first.lrv;
  const under_ = lights.length > 0 ? lights : [{ id: 'D65', name: DAYLIGHT_NAME }];
  return under_.map((light, index) => {
    const verdict = judge(first, second, lights.length > 0 ? index : -1);
    return {
      finishId: first.id,
      surfaceName,
      lightId: light.id,
      lightName: light.name,
      kind: verdict.kind,
      deltaE: verdict.deltaE,
      share: verdict.share,
      lrvDifference,
      desirability: verdict.desirability,
      whites: verdict.whites >= SPOKEN_OF_AS_WHITES,
    };
  });
}
