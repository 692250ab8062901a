import type { FinishInput, LightInput, ReflectanceCache } from './appearance.ts';
import { DAYLIGHT, drawnFinish, stages } from './drawn-look.ts';
import { pairUnderLights, severity } from './light-pairing.ts';
import type { NamedFinish, PairReport } from './light-pairing.ts';
import { isKnown, ownChange, steadinessOf } from './light-steadiness.ts';
import type { FinishSteadiness, OwnChange, SteadinessVerdict } from './light-steadiness.ts';
import { quoted } from './pairing.ts';
import { named } from './reasons.ts';

/** A finish of a room as a report on its lights reads it. */
export interface ReportedFinish extends FinishInput {
  /** The surface it is on, or would be. */
  readonly surfaceName?: string;
  readonly role: 'candidate' | 'fixed' | 'chosen';
}

export interface LightReportInput {
  /** A finish on several surfaces may come several times; it is one finish. */
  readonly finishes: readonly ReportedFinish[];
  /** The room's lights; daylight (D65) is added to them. */
  readonly lights: readonly LightInput[];
  /** Which finishes meet, by id; left out, every two of which at least one is not a candidate. */
  readonly pairs?: readonly (readonly [string, string])[];
  readonly cache?: ReflectanceCache;
  /** Draws over what is not known, 10-10,000; left out, 400, which gives a chance to 2.5 points. */
  readonly draws?: number;
  readonly seed?: number;
}

/** What a room's lights do to its finishes. */
export interface LightReport {
  /** The least steady first. */
  readonly finishes: readonly FinishSteadiness[];
  /** The worst first: what parts, what may part, what else the lights change, then the rest. */
  readonly pairs: readonly PairReport[];
}

const DRAWS = 400;
const SEED = 20261125;

/**
 * How steady each finish is between daylight and the room's lights, and which pairs stop matching, in numbers and words.
 * Whatever hangs on a reflectance that nobody measured is drawn over the plausible ones and carries its doubt.
 * The same input gives the same answer, and the order of finishes in it changes only the order of equals.
 * @throws RangeError for draws outside 10-10,000, a pair of unknown finishes, or what `prepareFinish` refuses.
 */
export function lightReport(input: LightReportInput): LightReport {
  const stage = stages([DAYLIGHT, ...input.lights]);
  const known = namedFinishes(input.finishes, stage, input);
  const finishes = [...known.values()]
    .map(({ drawn, name }) =>
      steadinessOf(drawn, { lights: stage.map(({ id, name: n }) => ({ id, name: n })), name }),
    )
    .toSorted((a, b) => unsteadiness(b) - unsteadiness(a));
  const pairs = meeting(input)
    .map(([first, second]) => pairUnderLights(find(known, first), find(known, second), { lights: stage }))
    .toSorted((a, b) => severity(a) - severity(b));
  return { finishes, pairs };
}

/**
 * What one finish does of its own from daylight to each light, with the report's figures; null where too little is known
 * of its colour. Throws as `lightReport`.
 */
export function ownChanges(
  finish: FinishInput,
  lights: readonly LightInput[],
  cache: ReflectanceCache = new Map(),
): (OwnChange | null)[] {
  const drawn = drawnFinish(finish, stages([DAYLIGHT, ...lights]), { draws: DRAWS, seed: SEED, cache });
  return lights.map((_, i) => (isKnown(drawn) ? ownChange(drawn, { from: 0, to: i + 1 }) : null));
}

/** Finishes by id, drawn, with the name sentences call them. */
export function namedFinishes(
  finishes: readonly (FinishInput & { surfaceName?: string; role?: ReportedFinish['role'] })[],
  stage: ReturnType<typeof stages>,
  { draws = DRAWS, seed = SEED, cache = new Map() }: Pick<LightReportInput, 'draws' | 'seed' | 'cache'>,
): Map<string, NamedFinish> {
  if (!Number.isInteger(draws) || draws < 10 || draws > 10_000)
    throw new RangeError(`Expected draws in [10, 10000], got ${draws}`);
  const out = new Map<string, NamedFinish>();
  for (const finish of finishes) {
    if (out.has(finish.id)) continue;
    const surfaces = finishes
      .filter(({ id, role, surfaceName }) => id === finish.id && role !== 'candidate' && surfaceName?.trim())
      .map(({ surfaceName }) => quoted(surfaceName!));
    const name = named(finish.name) + (surfaces.length > 0 ? ` on ${surfaces.join(' and ')}` : '');
    out.set(finish.id, { drawn: drawnFinish(finish, stage, { draws, seed, cache }), name });
  }
  return out;
}

/** A finish a caller named by its id. */
export function find(known: ReadonlyMap<string, NamedFinish>, id: string): NamedFinish {
  const found = known.get(id);
  if (!found) throw new RangeError(`Expected pairs of the finishes given, got ${id}`);
  return found;
}

/** The pairs that meet, each once; a finish beside itself never parts and is left out. */
function meeting({ finishes, pairs }: LightReportInput): (readonly [string, string])[] {
  const given =
    pairs ??
    finishes.flatMap((first, i) =>
      finishes
        .slice(i + 1)
        .filter((second) => first.role !== 'candidate' || second.role !== 'candidate')
        .map((second) => [first.id, second.id] as const),
    );
  const seen = new Set<string>();
  return given.filter(([first, second]) => {
    const key = [first, second].toSorted().join('\u0000');
    if (first === second || seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

const VERDICTS: readonly SteadinessVerdict[] = [
  'too little known',
  'steady',
  'may move a little',
  'moves a little',
  'may turn',
  'turns',
];

/** For the order: by verdict, inside it what becomes another kind of colour, then by difference. */
function unsteadiness({ verdict, turns, worst }: FinishSteadiness): number {
  const kind = turns.length > 0 ? 200 + 100 * turns[0].chance : 0;
  return 1000 * VERDICTS.indexOf(verdict) + kind + Math.min(99, worst?.deltaE.value ?? 0);
}
