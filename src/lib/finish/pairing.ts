import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { prepareFinish, prepareLight } from './appearance.ts';
import type { FinishInput, LightInput, PreparedFinish, ReflectanceCache } from './appearance.ts';
import { largerIsBetter, smallerIsBetter } from './desirability.ts';

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
}

/** Kind of a pairing by its ΔE00. */
export function pairingKind(deltaE: number): PairingKind {
  if (deltaE < PAIRING_BANDS.match) return 'match';
  if (deltaE < PAIRING_BANDS['near miss']) return 'near miss';
  if (deltaE < PAIRING_BANDS.related) return 'related';
  return 'separate';
}

/** How good a colour difference between neighbours is, `PAIRING_CURVE.worst` to 1. */
export function pairingDesirability(deltaE: number): number {
  const match = smallerIsBetter(deltaE, { full: PAIRING_CURVE.matchFull, none: PAIRING_CURVE.matchNone });
  const apart = largerIsBetter(deltaE, { none: PAIRING_CURVE.apartNone, full: PAIRING_CURVE.apartFull });
  return Math.max(match, apart, PAIRING_CURVE.worst);
}

/** What decides a pairing, without its words. */
export interface Verdict {
  readonly kind: PairingKind;
  readonly deltaE: number;
  readonly share: number;
  readonly desirability: number;
}

/**
 * Two finishes under one light (`light` counts from 0; -1 is D65). Every colour of one meets every colour of the other,
 * weighted by both areas; desirabilities combine as a weighted geometric mean. The pair of colours that costs most
 * decides the kind; where none costs anything, the commonest pair does.
 */
export function judge(first: PreparedFinish, second: PreparedFinish, light: number): Verdict {
  let logs = 0;
  let deciding = { cost: -1, share: 0, deltaE: 0 };
  for (const p of first.colours) {
    for (const q of second.colours) {
      const share = p.share * q.share;
      const deltaE = deltaE2000(seen(p, light), seen(q, light));
      const log = Math.log(pairingDesirability(deltaE));
      logs += share * log;
      const cost = -share * log;
      if (cost > deciding.cost + 1e-12 || (cost > deciding.cost - 1e-12 && share > deciding.share)) {
        deciding = { cost, share, deltaE };
      }
    }
  }
  return {
    kind: pairingKind(deciding.deltaE),
    deltaE: deciding.deltaE,
    share: deciding.share,
    desirability: Math.exp(logs),
  };
}

/** A colour of a finish as seen under one of the prepared lights, or under D65 for -1. */
export function seen(colour: { lab: Lab; labs: readonly Lab[] }, light: number): Lab {
  return light < 0 ? colour.lab : colour.labs[light];
}

const SENTENCES: Readonly<Record<PairingKind, (with_: string) => string>> = {
  match: (other) => `Matches ${other}`,
  'near miss': (other) =>
    `Near miss with ${other}: close enough to be compared, far enough to look like a mistake`,
  related: (other) => `A clear step from ${other}, of one family`,
  separate: (other) => `Stands apart from ${other}`,
};

/** A pairing as a sentence for a client: 'Near miss with “Counter” under “Evening lamps”: close enough to …'. */
export function pairingWords({ kind, share, surfaceName, lightName }: Pairing): string {
  const part = share < 0.95 ? `a colour of ${the(surfaceName)}` : the(surfaceName);
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
      ...verdict,
      lrvDifference,
    };
  });
}
