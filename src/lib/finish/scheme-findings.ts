import { busynessBand, calmWords } from './busyness.ts';
import { largestMovement, movementWords } from './criteria.ts';
import { figureWords } from './figure.ts';
import { lightWords, the } from './pairing.ts';
import { pickUp, pickUpWords } from './pick-up.ts';
import { RULE } from './pairing-words.ts';
import { pairingReport } from './pairing-report.ts';
import type { MeetingFinish } from './pairing-report.ts';
import { named, upperFirst } from './reasons.ts';
import { limitFindings } from './scheme-limits.ts';
import type { SchemeCriterion } from './scheme-criteria.ts';
import type {
  PreparedOption,
  PreparedPlace,
  SchemeFinding,
  SchemeGround,
  SchemeMeeting,
  SchemeStatement,
} from './scheme-question.ts';
import type { ReflectanceCache } from './appearance.ts';

/** Movement between two lights, CAM16-UCS, from which it is worth a word, and from which it is a fault. Common practice, no published source. */
export const MOVES = { note: 5, fault: 8 } as const;

const ORDER = { fault: 0, note: 1, good: 2 } as const;

/** What is found about schemes; what was found about two finishes that meet is kept, for schemes share most of theirs. */
export class SchemeFindings {
  readonly #ground: SchemeGround;
  readonly #cache: ReflectanceCache;
  readonly #meetings: readonly {
    a: number;
    b: number;
    meeting: SchemeMeeting;
    found: Map<number, SchemeFinding[]>;
  }[];
  readonly #alone: readonly Map<number, SchemeFinding[]>[];

  constructor(ground: SchemeGround, cache: ReflectanceCache) {
    this.#ground = ground;
    this.#cache = cache;
    const at = new Map(ground.places.map(({ place }, index) => [place.surfaceId, index]));
    this.#meetings = ground.input.meetings.map((meeting) => ({
      a: at.get(meeting.a)!,
      b: at.get(meeting.b)!,
      meeting,
      found: new Map(),
    }));
    this.#alone = ground.places.map(() => new Map());
  }

  /** All findings about a scheme: faults first, then notes, then what is good. */
  of(choice: readonly number[]): SchemeFinding[] {
    const found = [
      ...this.#ground.places.flatMap((_, place) => this.ofPlace(place, choice[place])),
      ...this.#meetings.flatMap(({ a, b }, index) => this.ofMeeting(index, choice[a], choice[b])),
      ...limitFindings(this.#ground, choice),
    ];
    return found.sort((p, q) => ORDER[p.severity] - ORDER[q.severity]);
  }

  /** Places of a meeting. */
  placesOf(meeting: number): { a: number; b: number } {
    return this.#meetings[meeting];
  }

  get meetings(): number {
    return this.#meetings.length;
  }

  ofMeeting(index: number, first: number, second: number): SchemeFinding[] {
    const { a, b, meeting, found } = this.#meetings[index];
    const { places, input, lights } = this.#ground;
    const key = first * places[b].options.length + second;
    let findings = found.get(key);
    if (!findings) {
      const side = ({ place, options }: PreparedPlace, i: number) => ({
        finish: options[i].option,
        surfaceName: place.surfaceName,
        busyness: options[i].option.busyness,
      });
      const sides = [side(places[a], first), side(places[b], second)] as const;
      const report = pairingReport(...sides, {
        lights: input.lights,
        mustBeSeen: meeting.mustBeSeen,
        cache: this.#cache,
      });
      const about = { surfaces: [meeting.a, meeting.b], light: null };
      findings = report.findings
        .filter(({ rule }) => rule !== RULE.busyness)
        .map(({ rule, severity, sentence, number, light }) => ({
          rule,
          severity,
          sentence: ended(sentence),
          number,
          // Two whites are judged more strictly, but by the same question.
          key: `${rule === RULE.whites ? RULE.step : rule} ${meeting.a} ${meeting.b}`,
          about: { ...about, light, criterion: CRITERION_OF[rule] ?? 'pairing' },
        }));
      const calm = calmFinding(sides);
      if (calm)
        findings.push({
          ...calm,
          rule: RULE.busyness,
          key: `${RULE.busyness} ${meeting.a} ${meeting.b}`,
          about: { ...about, criterion: 'pattern' },
        });
      const [p, q] = [places[a].options[first].finish, places[b].options[second].finish];
      for (const [mine, its, from, to] of [
        [p, q, places[a], places[b]],
        [q, p, places[b], places[a]],
      ] as const) {
        const picked = pickUp(mine, its, lights);
        if (!picked) continue;
        const { surfaceName } = to.place;
        const { sentence, number } = pickUpWords(picked, { neighbour: its, surfaceName });
        findings.push({
          rule: 'A colour picked up',
          severity: 'good',
          sentence: `${upperFirst(the(from.place.surfaceName))} ${sentence[0].toLowerCase()}${sentence.slice(1)}.`,
          number,
          key: `picked up ${from.place.surfaceId} ${to.place.surfaceId}`,
          about: { ...about, light: picked.light?.name ?? null, criterion: 'look' },
        });
      }
      found.set(key, findings);
    }
    return findings;
  }

  ofPlace(index: number, option: number): SchemeFinding[] {
    let findings = this.#alone[index].get(option);
    if (!findings) {
      const place = this.#ground.places[index];
      findings = placeFindings(place, place.options[option], this.#ground);
      this.#alone[index].set(option, findings);
    }
    return findings;
  }
}

/** Which criterion a rule of a pairing belongs to. */
const CRITERION_OF: Readonly<Record<string, SchemeCriterion>> = {
  [RULE.undertone]: 'undertone',
  [RULE.busyness]: 'pattern',
  [RULE.edge]: 'edges',
};

/** What the patterns of two finishes that meet do to each other; null where that is nothing, or not known. */
function calmFinding([first, second]: readonly [MeetingFinish, MeetingFinish]): Pick<
  SchemeFinding,
  'severity' | 'sentence' | 'number'
> | null {
  const [p, q] = [first.busyness, second.busyness];
  if (p === null || q === null || Math.max(busynessBand(p), busynessBand(q)) === 0) return null;
  const calmer = Math.min(busynessBand(p), busynessBand(q));
  return {
    severity: calmer === 2 ? 'fault' : calmer === 1 ? 'note' : 'good',
    sentence: calmWords(
      { surfaceName: first.surfaceName, busyness: p },
      { surfaceName: second.surfaceName, busyness: q },
    ),
    number: `busyness ${p.toFixed(1)} and ${q.toFixed(1)}`,
  };
}

function placeFindings(
  { place }: PreparedPlace,
  { option, finish, excluded }: PreparedOption,
  { lights }: SchemeGround,
): SchemeFinding[] {
  const out: SchemeFinding[] = [];
  const surfaces = [place.surfaceId];
  const movement = largestMovement(finish, lights);
  if (movement && movement.shift >= MOVES.note) {
    const { from, to, shift, giveOrTake } = movement;
    out.push({
      rule: 'movement',
      key: `movement ${place.surfaceId}`,
      severity: shift >= MOVES.fault ? 'fault' : 'note',
      sentence: `${upperFirst(named(option.name))} on ${the(place.surfaceName)}: ${movementWords(shift)} between ${lightWords(from)} and ${lightWords(to)}.`,
      number: `change ${figureWords({ value: shift, giveOrTake })}`,
      about: { surfaces, light: to, criterion: 'steadiness' },
    });
  }
  if (excluded !== null) {
    out.push({
      rule: 'limit of the surface',
      key: `limit ${place.surfaceId}`,
      severity: 'fault',
      sentence: `${upperFirst(named(option.name))} on ${the(place.surfaceName)}: ${excluded[0].toLowerCase()}${excluded.slice(1)}`,
      number: /\d[\d.,]*( \S+)?/.exec(excluded)?.[0] ?? '',
      about: { surfaces, light: null, criterion: 'limits' },
    });
  }
  return out;
}

/** A sentence with exactly one full stop at its end. */
export function ended(sentence: string): string {
  return /[.!?]$/.test(sentence) ? sentence : `${sentence}.`;
}
