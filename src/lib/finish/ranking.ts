import { prepareFinish, prepareLight } from './appearance.ts';
import {
  CRITERIA,
  LEAST,
  largestMovement,
  lrvDesirability,
  movements,
  nearness,
  nearnessDesirability,
  priceDesirability,
  steadinessDesirability,
  timeDesirability,
} from './criteria.ts';
import { overallDesirability } from './desirability.ts';
import { draw, groupsOf, sharesOfFirst } from './groups.ts';
import { checkRankInput, excludedBecause } from './limits.ts';
import { judgedLrv } from './lrv.ts';
import { pairingsOf } from './pairing.ts';
import { advise, criterionWords, doubtsAbout, reasonsFor, usualDesirabilities } from './reasons.ts';
import type { PreparedFinish, ReflectanceCache } from './appearance.ts';
import type { CriterionName } from './criteria.ts';
import type { JudgedLrv } from './lrv.ts';
import type {
  CandidateInput,
  RankInput,
  CriterionResult,
  RankedCandidate,
  Ranking,
  Entry,
  Ground,
} from './question.ts';

/**
 * Orders the candidates of a surface.
 *
 * Each criterion becomes a desirability (Derringer and Suich 1980), together a weighted geometric mean. A pairing is as
 * good as its worst light, because the room is seen in every one of them; several fixed finishes combine by contact.
 * Candidates beyond a limit are left out of the order and listed with the reason. Seeded draws over all doubts give the
 * share of first places; candidates the draws cannot tell from the best of their group stay in it (`TOLD_APART`).
 *
 * Inside such a group the order is that of the shares, so that order and number agree; candidates of equal share come by
 * desirability, then nearness, then id.
 *
 * The same input gives the same answer, whatever the order of the candidates. One candidate more does not change the
 * desirability of the others; it may change places inside a group, since it takes first places away.
 * `cache` keeps recovered reflectances between calls.
 * @throws RangeError or TypeError for an input no caller should send (see `checkRankInput`).
 */
export function rank(input: RankInput, { cache = new Map() }: { cache?: ReflectanceCache } = {}): Ranking {
  checkRankInput(input);
  const lights = input.lights.map(prepareLight);
  const fixed = input.fixed.map(({ finish, surfaceName, contact }) => ({
    finish: prepareFinish(finish, lights, cache),
    surfaceName,
    contact,
  }));
  const sorted = [...input.candidates].sort((a, b) => (a.id < b.id ? -1 : 1));
  const prepared = sorted.map((candidate) => {
    const finish = prepareFinish(candidate, lights, cache);
    return { candidate, finish, lrv: judgedLrv(candidate.lrv ?? null, finish.lrv) };
  });
  const inside: typeof prepared = [];
  const excluded: { id: string; name: string; reason: string }[] = [];
  const comparable = !mixedPrices(sorted);
  for (const one of prepared) {
    const reason = excludedBecause(one.candidate, one.lrv, { limits: input.limits, comparable });
    if (reason) excluded.push({ id: one.candidate.id, name: one.candidate.name, reason });
    else inside.push(one);
  }
  const candidates = inside.map(({ candidate }) => candidate);
  const leftOut = criteriaLeftOut(input, candidates);
  const ground: Ground = {
    input,
    lights,
    fixed,
    leftOut,
    priceWish: leftOut.has('price') ? null : (input.limits.priceWish ?? cheapest(candidates)),
  };
  const ordered = leftOut.size < CRITERIA.length;
  const entries = inside.map((one) => evaluate(one.candidate, one.finish, one.lrv, ground));
  if (ordered) {
    entries.sort(
      (a, b) =>
        b.desirability - a.desirability ||
        (a.nearness?.deltaE ?? 0) - (b.nearness?.deltaE ?? 0) ||
        (a.candidate.id < b.candidate.id ? -1 : 1),
    );
  }

  const scores = draw(entries, ground);
  const firstShare = sharesOfFirst(scores, entries.length, input.draws);
  const groups = groupsOf(scores, input.draws, firstShare);
  const usual = usualDesirabilities(entries);
  const shortlist = groups.flatMap((members, group) =>
    members.map((index): Omit<RankedCandidate, 'place'> => {
      const entry = entries[index];
      // Named are the first few; a long group would make this quadratic.
      const named = members.slice(0, 4).filter((other) => other !== index);
      const rivals = {
        names: named.map((other) => entries[other].candidate.name),
        count: ordered ? members.length - 1 : 0,
      };
      return {
        id: entry.candidate.id,
        name: entry.candidate.name,
        desirability: entry.desirability,
        firstShare: firstShare[index],
        group,
        criteria: entry.criteria,
        reasons: reasonsFor(entry, ground, usual),
        doubts: doubtsAbout(entry, rivals, ground),
        nearness: entry.nearness,
        pairings: entry.pairings,
        steadiness: entry.steadiness,
        lrv: entry.lrv.value,
        disputedLrv: entry.lrv.disputed,
      };
    }),
  );
  return {
    ordered,
    shortlist: shortlist.map((candidate, index) => ({ ...candidate, place: index + 1 })),
    excluded,
    groups: groups.map((members) => members.map((index) => entries[index].candidate.id)),
    advice: [
      ...advise(entries, { groups, scores, ground }),
      ...(comparable || input.limits.maxPrice === null
        ? []
        : ['Prices are in different currencies or units, so the limit on the price was not applied.']),
    ],
    leftOut: CRITERIA.filter((criterion) => leftOut.has(criterion)).map((criterion) => ({
      criterion,
      reason: leftOut.get(criterion)!,
    })),
  };
}

/** Criteria that cannot or shall not count for anyone, with the reason in words. */
function criteriaLeftOut(
  input: RankInput,
  candidates: readonly CandidateInput[],
): Map<CriterionName, string> {
  const out = new Map<CriterionName, string>();
  const { limits } = input;
  if (!input.target) out.set('nearness', 'No aim is set.');
  if (!input.fixed.some(({ contact }) => contact > 0))
    out.set('pairing', 'No fixed finish is near this surface.');
  if (input.lights.length === 0) out.set('steadiness', 'The room has no lights yet.');
  if (limits.minLrv === null && limits.maxLrv === null) out.set('lrv', 'No LRV is asked for.');
  if (!candidates.some(({ price }) => price)) out.set('price', 'No candidate has a price.');
  else if (mixedPrices(candidates)) {
    out.set('price', 'Prices are in different currencies or units and cannot be compared.');
  }
  if (!candidates.some(({ leadTimeDays }) => leadTimeDays !== null))
    out.set('time', 'No candidate has a lead time.');
  for (const criterion of CRITERIA)
    if (input.weights[criterion] === 0) out.set(criterion, 'Its weight is 0.');
  return out;
}

/** Whether prices name more than one currency or unit. */
function mixedPrices(candidates: readonly CandidateInput[]): boolean {
  const kinds = candidates.flatMap(({ price }) => (price ? [`${price.currency} per ${price.unit}`] : []));
  return new Set(kinds).size > 1;
}

function cheapest(candidates: readonly CandidateInput[]): number {
  const amounts = candidates.flatMap(({ price }) => (price && price.amount > 0 ? [price.amount] : []));
  return Math.min(...amounts, Number.MAX_VALUE);
}

/** A candidate's criteria at the best estimates. */
function evaluate(candidate: CandidateInput, finish: PreparedFinish, lrv: JudgedLrv, ground: Ground): Entry {
  const { input, lights, fixed, leftOut, priceWish } = ground;
  const near = input.target && nearness(input.target, finish);
  const pairs = fixed.map((neighbour) => ({
    contact: neighbour.contact,
    pairings: pairingsOf(neighbour.finish, finish, { surfaceName: neighbour.surfaceName, lights }),
  }));
  const movement = largestMovement(finish, lights);
  const { minLrv, maxLrv, timeWish } = input.limits;
  const { price, leadTimeDays } = candidate;
  const paired = overallDesirability(
    pairs.map(({ contact, pairings }) => ({
      desirability: Math.min(...pairings.map(({ desirability }) => desirability)),
      weight: contact,
    })),
  );
  const values: Record<CriterionName, { value: number | null; desirability: number }> = {
    nearness: { value: near?.deltaE ?? null, desirability: near ? nearnessDesirability(near.deltaE) : 1 },
    pairing: { value: paired, desirability: paired ?? 1 },
    steadiness: {
      value: movement?.shift ?? null,
      desirability: movement ? steadinessDesirability(movement.shift) : 1,
    },
    lrv: { value: lrv.value, desirability: lrvDesirability(lrv.value, { min: minLrv, max: maxLrv }) },
    price: {
      value: price?.amount ?? null,
      desirability: price && priceWish !== null ? priceDesirability(price.amount, priceWish) : 1,
    },
    time: {
      value: leadTimeDays,
      desirability: leadTimeDays === null ? 1 : timeDesirability(leadTimeDays, timeWish ?? 0),
    },
  };
  const criteria = {} as Record<CriterionName, CriterionResult>;
  for (const criterion of CRITERIA) {
    const { value, desirability } = values[criterion];
    const counted = !leftOut.has(criterion) && value !== null;
    const base = { value, desirability: counted ? Math.max(LEAST, desirability) : 1, counted };
    criteria[criterion] = { ...base, words: '' };
  }
  const overall = overallDesirability(
    CRITERIA.filter((criterion) => criteria[criterion].counted).map((criterion) => ({
      desirability: criteria[criterion].desirability,
      weight: input.weights[criterion],
    })),
  );
  const entry: Entry = {
    candidate,
    finish,
    lrv,
    criteria,
    nearness: near,
    pairings: pairs.flatMap(({ pairings }) => pairings),
    steadiness: movements(finish, lights),
    movement,
    // With nothing to judge by, all are equally good.
    desirability: overall ?? 1,
  };
  for (const criterion of CRITERIA) {
    criteria[criterion] = { ...criteria[criterion], words: criterionWords(criterion, entry, ground) };
  }
  return entry;
}
