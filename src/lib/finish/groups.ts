import { CRITERIA, lrvDesirability, nearnessDesirability, steadinessDesirability } from './criteria.ts';
import type { CriterionName } from './criteria.ts';
import { simulate, winShare } from './draws.ts';
import { covarianceRoot } from './evidence.ts';
import type { Entry, Ground } from './question.ts';

/**
 * A candidate is told apart from the best of its group when that one is ahead in at least this share of the draws: odds of
 * four to one. Common practice, no published source.
 */
export const TOLD_APART = 0.8;

/** What the draws look at. */
export type DrawnEntry = Pick<Entry, 'finish' | 'criteria' | 'lrv'>;
export type DrawnGround = Pick<Ground, 'input' | 'lights' | 'fixed'>;

/** Scores of all draws, a row per entry, in the order of the entries. */
export function draw(entries: readonly DrawnEntry[], ground: DrawnGround): Float32Array {
  const { input, lights, fixed } = ground;
  const contacts = fixed.reduce((sum, { contact }) => sum + contact, 0);
  const { minLrv, maxLrv } = input.limits;
  return simulate({
    draws: input.draws,
    seed: input.seed,
    lights,
    target: input.target && {
      lab: input.target.lab,
      root: covarianceRoot(input.target.covariance, 'the covariance of the target'),
    },
    fixed: fixed.map(({ finish, contact }) => ({ finish, contact: contacts > 0 ? contact / contacts : 0 })),
    curves: {
      nearness: nearnessDesirability,
      steadiness: steadinessDesirability,
      lrv: (lrv) => lrvDesirability(lrv, { min: minLrv, max: maxLrv }),
    },
    candidates: entries.map(({ finish, criteria, lrv }) => {
      const weight = (criterion: CriterionName) =>
        criteria[criterion].counted ? input.weights[criterion] : 0;
      const sum = CRITERIA.reduce((total, criterion) => total + weight(criterion), 0) || 1;
      const certain: CriterionName[] = lrv.exact ? ['price', 'time', 'lrv'] : ['price', 'time'];
      return {
        finish,
        certain: certain.reduce(
          (total, criterion) =>
            total + (weight(criterion) / sum) * Math.log(criteria[criterion].desirability),
          0,
        ),
        weights: {
          nearness: weight('nearness') / sum,
          pairing: weight('pairing') / sum,
          steadiness: weight('steadiness') / sum,
          lrv: lrv.exact ? 0 : weight('lrv') / sum,
        },
      };
    }),
  });
}

/** Share of draws each row is first in, 0-1; rows that tie share the draw. */
export function sharesOfFirst(scores: Float32Array, count: number, draws: number): number[] {
  const best = new Float32Array(draws).fill(-Infinity);
  const ties = new Int32Array(draws);
  for (let i = 0; i < count; i++) {
    for (let t = 0; t < draws; t++) {
      const score = scores[i * draws + t];
      if (score > best[t]) {
        best[t] = score;
        ties[t] = 1;
      } else if (score === best[t]) ties[t]++;
    }
  }
  return Array.from({ length: count }, (_, i) => {
    let won = 0;
    for (let t = 0; t < draws; t++) if (scores[i * draws + t] === best[t]) won += 1 / ties[t];
    return won / draws;
  });
}

/**
 * Runs of rows, which come by falling desirability, that cannot be told from the first of the run; inside a run ordered
 * by their share of first places, so that the order says what the number says. Equal shares stay as they came.
 */
export function groupsOf(
  scores: Float32Array,
  draws: number,
  firstShare: readonly number[],
): readonly (readonly number[])[] {
  const groups: number[][] = [];
  for (let i = 0; i < firstShare.length; i++) {
    const group = groups.at(-1);
    if (group && winShare(scores, draws, group[0], i) < TOLD_APART) group.push(i);
    else groups.push([i]);
  }
  return groups.map((members) => members.toSorted((a, b) => firstShare[b] - firstShare[a] || a - b));
}
