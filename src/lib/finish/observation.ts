import { prepareFinish, prepareLight } from './appearance.ts';
import type { PreparedFinish, PreparedLight, ReflectanceCache } from './appearance.ts';
import type { EvidenceSource } from './evidence.ts';
import { expectedWorths, gainOf, perfectGain, rightNow, worthsOf } from './expected-gain.ts';
import type { Worths } from './expected-gain.ts';
import { draw } from './groups.ts';
import { judgedLrv } from './lrv.ts';
import { WORTH_LOOKING, observationWords, pointsWords, verdictWords } from './observation-words.ts';
import { DAYLIGHT_NAME } from './pairing.ts';
import type { RankInput, RankedCandidate, Ranking } from './question.ts';
import { READING, Sighting, isDoubtful } from './sighting.ts';
import type { Columns } from './sighting.ts';

/*
 * The one observation that would decide best between the candidates of a surface.
 *
 * The draws behind the ranking hold one plausible truth each. For each observation somebody could make, what they would see
 * is worked out in every draw (sighting.ts); the expected gain is what knowing it adds to the desirability of the candidate
 * that is then chosen (expected-gain.ts). A finish's numbers are drawn apart from all others', so what is seen of one
 * candidate says nothing of another, and only what concerns a candidate enters its regression. What two samples say of each
 * other, and of the fixed finish beside them, is left out: the gain of holding them is then a little too small.
 */

/** Candidates that are held side by side, at most, and the least share of first places that makes one worth it. */
const MOST_HELD = 5;
const LEAST_HOPE = 0.02;

/** Where a colour came from. */
export interface ColourOrigin {
  readonly source: EvidenceSource;
  /** The photo it was measured in. */
  readonly photoId: string | null;
  /** As sentences call that photo. */
  readonly photoName?: string;
  /** Whether a known white, card or target stands in that photo. */
  readonly photoHasWhite: boolean;
}

export interface ObservationSetting {
  /** Of candidates and fixed finishes; `swatchId` is the finish's id. One that is not listed came from no photo. */
  readonly origins: readonly (ColourOrigin & { readonly swatchId: string })[];
  /** Of the target; null where there is none, or nothing can be done about it. */
  readonly target: ColourOrigin | null;
  /** Whether there is a spectrophotometer at hand. */
  readonly instrument?: boolean;
  readonly cache?: ReflectanceCache;
}

/**
 * What could be looked at: two samples against a fixed finish in one light; one finish photographed with white paper, or
 * measured with an instrument; a photo without white taken again with it; the target's colour taken again.
 */
export type ObservationKind = 'hold' | 'photograph' | 'measure' | 'retake' | 'target';

export interface Observation {
  readonly kind: ObservationKind;
  /** For a designer: 'Hold Deep Lock and Lock Keeper against “Counter” under “Pendants”.' */
  readonly words: string;
  /** Expected increase of the desirability of what is then chosen, points of 100. */
  readonly expectedGain: number;
  /** Chance that what is then chosen is the best of all, 0-1; to be held against `rightNow`. */
  readonly wouldDecide: number;
  /** Chance that another candidate is chosen then, 0-1. */
  readonly wouldChange: number;
  /** 'worth 1.8 points of 100 on average; finds the best 46 times in 100 instead of 27'. */
  readonly number: string;
  /** The finishes it concerns, candidates first. */
  readonly swatchIds: readonly string[];
  /** The fixed surface it concerns: what samples are held against, or what is measured; else null. */
  readonly surfaceName: string | null;
  /** Of kind `hold`: in which light; null is daylight. */
  readonly lightId: string | null;
  /** Of kind `retake`, or of a target that was measured in a photo. */
  readonly photoId: string | null;
}

export interface ObservationAdvice {
  /** The one that gains most; null where none is worth it (`WORTH_LOOKING`): `words` then says why. */
  readonly best: Observation | null;
  /** All that are worth it, by falling gain; of two samples only the view that gains most. */
  readonly observations: readonly Observation[];
  /** Groups that are too close to call, by place. */
  readonly closeCalls: readonly { readonly ids: readonly string[]; readonly names: readonly string[] }[];
  /** Expected gain from knowing everything, points of 100. */
  readonly perfectGain: number;
  /** Chance that what would be chosen now is the best of all, 0-1. */
  readonly rightNow: number;
  /** One sentence: what to do, or why nothing would help. */
  readonly words: string;
}

/**
 * What to look at next, by expected gain. `ranking` is what `rank` answered to `input`; the same draws are used, so the
 * same input gives the same answer.
 * @throws RangeError for a ranking of other candidates, or for an input `rank` would not take.
 */
export function bestObservations(
  input: RankInput,
  ranking: Ranking,
  setting: ObservationSetting,
): ObservationAdvice {
  const names = new Map(ranking.shortlist.map(({ id, name }) => [id, name]));
  const closeCalls = ranking.groups
    .filter((ids) => ranking.ordered && ids.length > 1)
    .map((ids) => ({ ids, names: ids.map((id) => names.get(id)!) }));
  if (!ranking.ordered || ranking.shortlist.length < 2) {
    const words = verdictWords(ranking, { best: null, perfect: 0 });
    return { best: null, observations: [], closeCalls, perfectGain: 0, rightNow: 1, words };
  }
  const scene = sceneOf(input, ranking, setting);
  const perfect = 100 * perfectGain(scene.worths);
  // Nothing is worth more than knowing everything.
  const all = perfect < WORTH_LOOKING ? [] : [...held(scene), ...readings(scene), ...retaken(scene)];
  const observations = all
    .filter(({ expectedGain }) => expectedGain >= WORTH_LOOKING)
    .toSorted((a, b) => b.expectedGain - a.expectedGain || (a.words < b.words ? -1 : 1));
  const best = observations[0] ?? null;
  const words = verdictWords(ranking, { best, perfect });
  return { best, observations, closeCalls, perfectGain: perfect, rightNow: scene.rightNow, words };
}

/** Everything the observations are worked out from. */
interface Scene {
  readonly input: RankInput;
  readonly setting: ObservationSetting;
  readonly lights: readonly PreparedLight[];
  readonly candidates: readonly { readonly ranked: RankedCandidate; readonly finish: PreparedFinish }[];
  /** Those in contact. */
  readonly fixed: readonly { readonly finish: PreparedFinish; readonly surfaceName: string }[];
  readonly worths: Worths;
  readonly rightNow: number;
  /** Candidates that could be chosen and are worth holding. */
  readonly rivals: readonly number[];
  readonly sighting: Sighting;
}

function sceneOf(input: RankInput, ranking: Ranking, setting: ObservationSetting): Scene {
  const { draws, seed } = input;
  const cache = setting.cache ?? new Map();
  const lights = input.lights.map(prepareLight);
  const given = new Map(input.candidates.map((candidate) => [candidate.id, candidate]));
  const candidates = ranking.shortlist.map((ranked) => {
    const candidate = given.get(ranked.id);
    if (!candidate) throw new RangeError(`Expected a ranking of these candidates, got one of ${ranked.id}`);
    return { ranked, candidate, finish: prepareFinish(candidate, lights, cache) };
  });
  const fixed = input.fixed.map((one) => ({ ...one, finish: prepareFinish(one.finish, lights, cache) }));
  const entries = candidates.map(({ ranked, candidate, finish }) => ({
    finish,
    criteria: ranked.criteria,
    lrv: judgedLrv(candidate.lrv ?? null, finish.lrv),
  }));
  const scores = draw(entries, { input, lights, fixed });
  const worths = worthsOf(
    candidates.map((_, i) => Float64Array.from(scores.subarray(i * draws, (i + 1) * draws), Math.exp)),
  );
  const rivals = candidates
    .flatMap(({ ranked }, i) => (ranked.firstShare >= LEAST_HOPE || i === worths.chosen ? [i] : []))
    .toSorted((a, b) => worths.means[b] - worths.means[a])
    .slice(0, MOST_HELD);
  return {
    input,
    setting,
    lights,
    candidates,
    fixed: fixed.filter(({ contact }) => contact > 0),
    worths,
    rightNow: rightNow(worths),
    rivals,
    sighting: new Sighting({ seed, draws }),
  };
}

/** Two candidates side by side, against a fixed finish, in one light: for each two the view that gains most. */
function held(scene: Scene): Observation[] {
  const { candidates, fixed, lights, rivals, worths, sighting } = scene;
  const places = lights.length > 0 ? lights.map((_, index) => index) : [-1];
  const views = fixed.flatMap((there) => places.map((light) => ({ there, light })));
  const expected = views.map(({ there, light }) => {
    const of = (i: number) =>
      expectedWorths([worths.rows[i]], sighting.pair(candidates[i].finish, there.finish, light))[0];
    return new Map(rivals.map((i) => [i, of(i)]));
  });
  return rivals.flatMap((i, n) =>
    rivals.slice(n + 1).flatMap((j) => {
      const pair = [i, j].toSorted((a, b) => a - b).map((row) => candidates[row].ranked);
      const found = views.map(({ there, light }, v) =>
        observation(scene, new Map([i, j].map((row) => [row, expected[v].get(row)!])), {
          kind: 'hold',
          words: observationWords.hold(
            pair.map(({ name }) => name),
            there.surfaceName,
            light < 0 ? DAYLIGHT_NAME : lights[light].name,
          ),
          swatchIds: [...pair.map(({ id }) => id), there.finish.id],
          surfaceName: there.surfaceName,
          lightId: light < 0 ? null : lights[light].id,
        }),
      );
      return found.toSorted((a, b) => b.expectedGain - a.expectedGain).slice(0, 1);
    }),
  );
}

/** Finishes that take part, each once: candidates first. */
function finishesOf({ candidates, fixed }: Scene): Map<string, PreparedFinish> {
  return new Map([...candidates, ...fixed].map(({ finish }) => [finish.id, finish]));
}

/** Expected worths where finishes, and perhaps the target, are read anew. */
function afterReading(
  { candidates, fixed, worths }: Scene,
  read: ReadonlyMap<string, Columns>,
  target: Columns = [],
): Map<number, Float64Array> {
  const shared = new Set(fixed.map(({ finish }) => finish.id));
  const common = [...read].flatMap(([id, columns]) => (shared.has(id) ? columns : [])).concat(target);
  const own = candidates.map(({ finish: { id } }) => (shared.has(id) ? undefined : read.get(id)));
  const expected = new Map<number, Float64Array>();
  own.forEach((columns, i) => {
    if (columns) expected.set(i, expectedWorths([worths.rows[i]], [...columns, ...common])[0]);
  });
  if (common.length > 0) {
    // All others by the same columns, which are then taken apart once.
    const others = own.flatMap((columns, i) => (columns ? [] : [i]));
    const fits = expectedWorths(
      others.map((i) => worths.rows[i]),
      common,
    );
    others.forEach((i, k) => expected.set(i, fits[k]));
  }
  return expected;
}

/** One finish photographed with white paper, or measured with an instrument. */
function readings(scene: Scene): Observation[] {
  const { setting, fixed, sighting } = scene;
  const origins = new Map(setting.origins.map((origin) => [origin.swatchId, origin]));
  const surfaces = new Map(fixed.map(({ finish, surfaceName }) => [finish.id, surfaceName]));
  return [...finishesOf(scene)].flatMap(([id, finish]) => {
    if (!isDoubtful(finish)) return [];
    const origin = origins.get(id);
    // A finish whose photo could be taken again is served by that, with all others in it.
    const again = origin?.photoId != null && !origin.photoHasWhite;
    const kinds = [
      ...(again ? [] : (['photograph'] as const)),
      ...(setting.instrument ? (['measure'] as const) : []),
    ];
    return kinds.map((kind) => {
      const columns = sighting.finish(finish, kind === 'measure' ? READING.instrument : READING.photo);
      const surfaceName = surfaces.get(id) ?? null;
      return observation(scene, afterReading(scene, new Map([[id, columns]])), {
        kind,
        words: observationWords[kind](finish.name, surfaceName),
        swatchIds: [id],
        surfaceName,
      });
    });
  });
}

/** Photos without white taken again with it, and the target's colour taken again. */
function retaken(scene: Scene): Observation[] {
  const { setting, input, sighting } = scene;
  const finishes = finishesOf(scene);
  const photos = new Map<string, { name: string; ids: string[] }>();
  for (const { swatchId, photoId, photoName, photoHasWhite } of setting.origins) {
    if (photoId === null || photoHasWhite || !finishes.has(swatchId)) continue;
    const photo = photos.get(photoId) ?? { name: photoName?.trim() ?? '', ids: [] };
    if (!photo.ids.includes(swatchId)) photo.ids.push(swatchId);
    photos.set(photoId, photo);
  }
  const { target } = setting;
  const fresh = input.target && target ? sighting.target(input.target, READING.photo) : [];
  const targetName = input.targetName?.trim() || 'the inspiration';
  const out = [...photos].map(([photoId, { name, ids }]) => {
    const withTarget = target?.photoId === photoId;
    const read = new Map(ids.map((id) => [id, sighting.finish(finishes.get(id)!, READING.photo)]));
    return observation(scene, afterReading(scene, read, withTarget ? fresh : []), {
      kind: 'retake',
      words: observationWords.retake(
        name,
        ids.map((id) => finishes.get(id)!.name),
        withTarget ? targetName : null,
      ),
      swatchIds: [...finishes.keys()].filter((id) => ids.includes(id)),
      photoId,
    });
  });
  if (target && fresh.length > 0 && !(target.photoId !== null && photos.has(target.photoId)))
    out.push(
      observation(scene, afterReading(scene, new Map(), fresh), {
        kind: 'target',
        words: observationWords.target(targetName, target),
        swatchIds: [],
        photoId: target.photoId,
      }),
    );
  return out;
}

type About = Pick<Observation, 'kind' | 'words' | 'swatchIds'> &
  Partial<Pick<Observation, 'surfaceName' | 'lightId' | 'photoId'>>;

function observation(
  { worths, rightNow: now }: Scene,
  expected: ReadonlyMap<number, Float64Array>,
  about: About,
): Observation {
  const { gain, change, right } = gainOf(worths, expected);
  const told = { expectedGain: 100 * gain, wouldDecide: right, wouldChange: change };
  return {
    surfaceName: null,
    lightId: null,
    photoId: null,
    ...about,
    ...told,
    number: pointsWords(told, now),
  };
}
