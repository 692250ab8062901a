import { describe, expect, test } from 'vitest';
import { SchemeSearch } from '#lib/finish/index.ts';
import type { Scheme, SearchProblem } from '#lib/finish/index.ts';
import { room, seeded } from './scheme-instances.ts';

/** The documented lattice of scores and rounding of limits, so that ties are ties here as well. */
const onLattice = (score: number) => (score === -Infinity ? score : Math.round(score * 2 ** 30) / 2 ** 30);
const rounding = (most: number) => 1e-9 * Math.max(1, Math.abs(most));

/** Every scheme that keeps the limits, best first, of equal ones the lower option numbers first. */
function enumerated({ options, alone, pairs, amounts, distinct }: SearchProblem): Scheme[] {
  const all: Scheme[] = [];
  const choice = options.map(() => 0);
  for (let more = true; more;) {
    let score = choice.reduce((sum, option, place) => sum + onLattice(alone[place][option]), 0);
    for (const { a, b, table } of pairs) score += onLattice(table[choice[a] * options[b] + choice[b]]);
    const affordable = amounts.every(
      ({ each, most }) =>
        choice.reduce((sum, option, place) => sum + each[place][option], 0) <= most + rounding(most),
    );
    const few = distinct.every(({ classOf, already, most }) => {
      const own = choice.map((option, place) => classOf[place][option]);
      return new Set([...already, ...own].filter((value) => value >= 0)).size <= most;
    });
    if (score > -Infinity && affordable && few) all.push({ choice: [...choice], score });
    let place = options.length - 1;
    while (place >= 0 && ++choice[place] === options[place]) choice[place--] = 0;
    more = place >= 0;
  }
  // The sort is stable and the schemes came in the order of their numbers.
  return all.sort((p, q) => q.score - p.score);
}

function unlikeEachOther(all: readonly Scheme[], { unlike, options }: SearchProblem, most: number): Scheme[] {
  const found: Scheme[] = [];
  for (const scheme of all) {
    const far = found.every(
      (other) =>
        scheme.choice.reduce(
          (sum, option, i) =>
            sum + unlike!.weights[i] * unlike!.pairs[i][other.choice[i] * options[i] + option],
          0,
        ) >=
        unlike!.least - 1e-9,
    );
    if (far && found.length < most) found.push(scheme);
  }
  return found;
}

/** A small problem of any kind: smooth, tied, mostly full or steep scores, forbidden ones, all limits, pairs named twice. */
function anySmall(seed: number): SearchProblem {
  const random = seeded(seed);
  const whole = (most: number) => Math.floor(random() * most);
  const options = Array.from({ length: 1 + whole(5) }, () => 1 + whole(5));
  const style = whole(4);
  const forbidden = random() < 0.4 ? 0.12 : 0;
  const score = () => {
    if (random() < forbidden) return -Infinity;
    if (style === 0) return -random();
    if (style === 1) return -whole(3);
    if (style === 2) return random() < 0.7 ? 0 : -random();
    return -10 * random();
  };
  const rows = (value: () => number) => options.map((count) => Float64Array.from({ length: count }, value));
  const alone = rows(score);
  const pairs: SearchProblem['pairs'][number][] = [];
  const density = random();
  for (let a = 0; a < options.length; a++) {
    for (let b = 0; b < options.length; b++) {
      if (a === b || (a > b && random() < 0.8) || random() > density) continue;
      pairs.push({ a, b, table: Float64Array.from({ length: options[a] * options[b] }, score) });
    }
  }
  const amounts = Array.from({ length: whole(3) }, (_, n) => {
    const below = random() < 0.3;
    const each = rows(() => (below ? 2 * random() - 1 : whole(10)));
    const extreme = (of: (...values: number[]) => number) => each.reduce((sum, row) => sum + of(...row), 0);
    const most = extreme(Math.min) + (extreme(Math.max) - extreme(Math.min)) * (0.9 * random() - 0.02);
    return { name: `amount ${n}`, each, most };
  });
  const distinct = Array.from({ length: random() < 0.4 ? 1 : 0 }, () => ({
    name: 'metals',
    classOf: options.map((count) => Int32Array.from({ length: count }, () => whole(5) - 1)),
    already: random() < 0.5 ? [0, 0] : [],
    most: 1 + whole(2),
  }));
  const parts = options.map(() => 0.01 + random());
  const weights = parts.map((part) => part / parts.reduce((sum, value) => sum + value, 0));
  const allOrNone = random() < 0.5;
  const differences = options.map((count) => {
    const table = new Float64Array(count * count);
    for (let p = 0; p < count; p++) {
      for (let q = 0; q < p; q++) table[p * count + q] = table[q * count + p] = allOrNone ? 1 : random();
    }
    return table;
  });
  return {
    options,
    alone,
    pairs,
    amounts,
    distinct,
    unlike: { pairs: differences, weights, least: 0.8 * random() },
  };
}

function finished(search: SchemeSearch): SchemeSearch {
  while (!search.step(1000).done);
  return search;
}

const nothing = { pairs: [], amounts: [], distinct: [] };

describe('a search that is done', () => {
  test('has the best schemes and the different ones of every scheme there is, in 600 small problems', () => {
    let impossible = 0;
    for (let seed = 1; seed <= 600; seed++) {
      const problem = anySmall(seed);
      const all = enumerated(problem);
      const size = 1 + (seed % 20);
      const result = finished(new SchemeSearch(problem, { best: size, different: 4 })).result();
      expect(result.best, `best of seed ${seed}`).toEqual(all.slice(0, size));
      expect(result.different, `different of seed ${seed}`).toEqual(unlikeEachOther(all, problem, 4));
      expect(result).toMatchObject({ proven: true, bestProven: true, couldStillWin: 0 });
      expect(result.differentProven).toBe(result.different.length);
      expect(result.infeasible === null, `infeasible of seed ${seed}`).toBe(all.length > 0);
      if (all.length === 0) impossible++;
    }
    expect(impossible).toBeGreaterThan(20);
    expect(impossible).toBeLessThan(400);
  });

  test('gives the same answer again, and whatever the portions of work', () => {
    const problem = room(3, { places: 6, count: 15, least: 0.3 });
    const first = finished(new SchemeSearch(problem)).result();
    const again = new SchemeSearch(problem);
    while (!again.step(1).done);
    expect(again.result()).toEqual(first);
  });

  test('does not change its answer when one more option that is worse than another everywhere joins', () => {
    const problem = room(4, { places: 4, count: 6 });
    const { best } = finished(new SchemeSearch(problem, { best: 1 })).result();
    const joined = {
      ...problem,
      options: problem.options.map((count, place) => (place === 0 ? count + 1 : count)),
      alone: problem.alone.map((row, place) => (place === 0 ? Float64Array.of(...row, row[2] - 1) : row)),
      pairs: problem.pairs.map(({ a, b, table }) => ({
        a,
        b,
        table: a === 0 ? Float64Array.of(...table, ...table.subarray(12, 18)) : table,
      })),
    };
    expect(finished(new SchemeSearch(joined, { best: 1 })).result().best).toEqual(best);
  });

  test('takes the lower option numbers where schemes tie, without trying all 200^16 of them', () => {
    const alone = Array.from({ length: 16 }, () => new Float64Array(200));
    const search = new SchemeSearch({ options: alone.map(() => 200), alone, ...nothing }, { best: 3 });
    const zeros = Array.from({ length: 15 }, () => 0);
    expect(finished(search).result().best).toEqual(
      [0, 1, 2].map((last) => ({ choice: [...zeros, last], score: 0 })),
    );
  });

  test('lists what there is where that is less than was asked for', () => {
    const problem = { options: [1], alone: [Float64Array.of(-0.5)], ...nothing };
    const result = finished(new SchemeSearch(problem, { best: 20, different: 3 })).result();
    expect(result.best).toEqual([{ choice: [0], score: -0.5 }]);
    expect(result).toMatchObject({ proven: true, different: [] });
  });

  test('solves the knapsack as dynamic programming does', () => {
    for (let seed = 1; seed <= 25; seed++) {
      const random = seeded(1000 + seed);
      const places = 3 + Math.floor(random() * 8);
      const options = Array.from({ length: places }, () => 2 + Math.floor(random() * 10));
      const money = options.map((count) =>
        Float64Array.from({ length: count }, () => Math.floor(random() * 40)),
      );
      // Dearer is better, more or less: otherwise the budget binds nothing.
      const alone = money.map((row) => row.map((value) => onLattice(-(40 - value) / 40 - 0.5 * random())));
      const least = money.reduce((sum, row) => sum + Math.min(...row), 0);
      const budget = least + Math.floor(random() * 12 * places);
      let byMoney: number[] = [0, ...Array.from({ length: budget }, () => -Infinity)];
      for (let place = 0; place < places; place++) {
        const next = byMoney.map(() => -Infinity);
        byMoney.forEach((score, spent) =>
          money[place].forEach((cost, option) => {
            if (spent + cost <= budget)
              next[spent + cost] = Math.max(next[spent + cost], score + alone[place][option]);
          }),
        );
        byMoney = next;
      }
      const problem = {
        options,
        alone,
        pairs: [],
        distinct: [],
        amounts: [{ name: 'budget', each: money, most: budget }],
      };
      const { best } = finished(new SchemeSearch(problem, { best: 1 })).result();
      expect(best[0].score, `seed ${seed}`).toBe(Math.max(...byMoney));
    }
  });

  test('finds the best of 60^8 schemes where it is planted', () => {
    const problem = room(5);
    const planted = [3, 59, 0, 17, 30, 41, 8, 22];
    // Alone the planted options cost nothing, all others the most that all pairs together can give back.
    const most = -problem.pairs.reduce((sum, { table }) => sum + Math.min(...table), 0);
    const alone = problem.alone.map((row, place) =>
      row.map((_, option) => (option === planted[place] ? 0 : -most)),
    );
    const { best, proven } = finished(new SchemeSearch({ ...problem, alone }, { best: 1 })).result();
    expect(proven).toBe(true);
    expect(best[0].choice).toEqual(planted);
  });

  test('proves the best 20 of 60^8 schemes of a room in 5,000 units of work', () => {
    const search = new SchemeSearch(room(1), { best: 20 });
    search.step(5000);
    const { best, bestProven } = search.result();
    expect(bestProven).toBe(true);
    expect(best).toHaveLength(20);
  });
});

describe('a search that is stopped', () => {
  test('never claims less than can still come, in 150 small problems at every moment', () => {
    for (let seed = 1; seed <= 150; seed++) {
      const problem = anySmall(seed);
      const all = enumerated(problem);
      const optimum = all[0]?.score ?? -Infinity;
      const search = new SchemeSearch(problem, { best: 1 + (seed % 7), different: 3 });
      let before = search.progress;
      while (!before.done) {
        expect(before.bound, `bound of seed ${seed}`).toBeGreaterThanOrEqual(optimum);
        const { best, different, bestProven, differentProven, couldStillWin, proven } = search.result();
        expect(proven).toBe(false);
        const right = unlikeEachOther(all, problem, 3);
        if (bestProven) {
          expect(best).toEqual(all.slice(0, 1 + (seed % 7)));
          expect(different.slice(0, differentProven)).toEqual(right.slice(0, differentProven));
          const [shown, true_] = [different[differentProven], right[differentProven]];
          if (shown && true_)
            expect(couldStillWin).toBeGreaterThanOrEqual(Math.exp(true_.score - shown.score) - 1e-9);
        } else if (best.length > 0) {
          const seen = new Set(best.map(({ choice }) => choice.join()));
          const unseen = all.find(({ choice }) => !seen.has(choice.join()));
          if (unseen)
            expect(couldStillWin).toBeGreaterThanOrEqual(Math.exp(unseen.score - best[0].score) - 1e-9);
        } else if (all.length > 0) expect(couldStillWin).toBe(Infinity);
        const now = search.step(1);
        expect(now.bound).toBeLessThanOrEqual(before.bound);
        expect(now.best ?? -Infinity).toBeGreaterThanOrEqual(before.best ?? -Infinity);
        expect(now.fraction).toBeGreaterThanOrEqual(before.fraction);
        before = now;
      }
      expect(before.fraction).toBe(1);
      expect(before.best ?? -Infinity).toBe(optimum);
      expect(before.bound).toBe(optimum);
    }
  });

  test('has good schemes early, unlike each other, that keep the limits', () => {
    const { prices, ...problem } = room(6, { least: 0.3 });
    const cheapest = prices.reduce((sum, row) => sum + Math.min(...row), 0);
    const limited = { ...problem, amounts: [{ name: 'budget', each: prices, most: 1.6 * cheapest }] };
    const search = new SchemeSearch(limited, { best: 20, different: 3 });
    search.step(400);
    const early = search.result();
    const { best } = finished(search).result();
    // Within a hundredth of the best overall score.
    expect(early.best[0].score).toBeGreaterThan(best[0].score + Math.log(0.99));
    expect(early.different).toHaveLength(3);
    expect(unlikeEachOther(early.different, limited, 3)).toEqual(early.different);
    for (const { choice } of [...early.best, ...early.different]) {
      const sum = choice.reduce((total, option, place) => total + prices[place][option], 0);
      expect(sum).toBeLessThanOrEqual(1.6 * cheapest + 1e-6);
    }
  });
});

describe('an impossible problem', () => {
  const three = {
    options: [2, 2, 2],
    alone: Array.from({ length: 3 }, () => new Float64Array(2)),
    ...nothing,
  };
  const why = (problem: SearchProblem) => {
    const result = finished(new SchemeSearch(problem)).result();
    expect(result).toMatchObject({ proven: true, best: [], different: [], couldStillWin: 0 });
    return result.infeasible;
  };
  const money = [Float64Array.of(10, 20), Float64Array.of(30, 5), Float64Array.of(7, 9)];

  test('names the place that has no option', () => {
    const alone = [new Float64Array(2), Float64Array.of(-Infinity, -Infinity), new Float64Array(2)];
    expect(why({ ...three, alone })).toMatchObject({
      name: 'options',
      place: 1,
      words: 'Place 2 has no option that is allowed',
    });
  });

  test('says by how much the cheapest costs more than the budget, allowed options only', () => {
    expect(why({ ...three, amounts: [{ name: 'budget', each: money, most: 20 }] })?.words).toBe(
      '“budget” comes to 22 at least, 2 over its most of 20',
    );
    const alone = [Float64Array.of(-Infinity, 0), new Float64Array(2), new Float64Array(2)];
    expect(why({ ...three, alone, amounts: [{ name: 'budget', each: money, most: 30 }] })?.words).toBe(
      '“budget” comes to 32 at least, 2 over its most of 30',
    );
  });

  test('says how many metals are needed, those that are there included', () => {
    const classOf = [Int32Array.of(1, 1), Int32Array.of(2, 3), Int32Array.of(3, -1)];
    expect(why({ ...three, distinct: [{ name: 'metals', classOf, already: [9], most: 2 }] })?.words).toBe(
      '“metals” needs at least 3 different ones, 1 over its most of 2',
    );
  });

  test('says when options are never allowed together', () => {
    const table = new Float64Array(4).fill(-Infinity);
    expect(why({ ...three, pairs: [{ a: 2, b: 0, table }] })).toMatchObject({
      name: 'pairs',
      words: 'Some places have no options that are allowed together',
    });
  });

  test('names the fewest limits that cannot be kept together', () => {
    // The cheap options are of two metals; the free limit has nothing to do with it.
    const classOf = [Int32Array.of(0, 1), Int32Array.of(1, 2), Int32Array.of(-1, -1)];
    const problem = {
      ...three,
      amounts: [
        { name: 'free', each: money, most: 1000 },
        { name: 'budget', each: money, most: 25 },
      ],
      distinct: [{ name: 'metals', classOf, already: [], most: 1 }],
    };
    expect(why(problem)).toMatchObject({
      name: 'budget and metals',
      limits: ['budget', 'metals'],
      words: 'No scheme keeps “budget” and “metals” together; without any one of them there is one',
    });
  });
});

describe('a problem with a mistake in it', () => {
  const fine: SearchProblem = {
    options: [2, 1],
    alone: [new Float64Array(2), new Float64Array(1)],
    pairs: [{ a: 0, b: 1, table: new Float64Array(2) }],
    amounts: [{ name: 'budget', each: [new Float64Array(2), new Float64Array(1)], most: 1 }],
    distinct: [{ name: 'metals', classOf: [new Int32Array(2), new Int32Array(1)], already: [], most: 1 }],
    unlike: { pairs: [new Float64Array(4), new Float64Array(1)], weights: [0.5, 0.5], least: 0.1 },
  };
  test.each<[string, Partial<SearchProblem>, RegExp]>([
    ['no places', { options: [] }, /Expected 1 to 16 places, got 0/],
    ['a place without options', { options: [0, 1] }, /1 to 200 options at place 0, got 0/],
    ['a short row', { alone: [new Float64Array(1), new Float64Array(1)] }, /2 options in alone at place 0/],
    [
      'a positive score',
      { alone: [Float64Array.of(0, 0.1), new Float64Array(1)] },
      /alone\[0\], got 0.1 at 1/,
    ],
    ['a score that is no number', { alone: [Float64Array.of(NaN, 0), new Float64Array(1)] }, /got NaN at 0/],
    [
      'a place with itself',
      { pairs: [{ a: 1, b: 1, table: new Float64Array(1) }] },
      /pairs\[0\], got 1 twice/,
    ],
    [
      'an unknown place',
      { pairs: [{ a: 0, b: 2, table: new Float64Array(2) }] },
      /place from 0 to 1 in pairs\[0\]/,
    ],
    [
      'a short table',
      { pairs: [{ a: 0, b: 1, table: new Float64Array(3) }] },
      /2 × 1 scores in pairs\[0\], got 3/,
    ],
    [
      'an endless amount',
      { amounts: [{ name: 'budget', each: [Float64Array.of(0, Infinity), new Float64Array(1)], most: 1 }] },
      /“budget”, got Infinity at place 0, option 1/,
    ],
    [
      'half a metal',
      {
        distinct: [
          { name: 'metals', classOf: [new Int32Array(2), new Int32Array(1)], already: [], most: 0.5 },
        ],
      },
      /limit of “metals”, got 0.5/,
    ],
    [
      'weights that do not add up',
      { unlike: { ...fine.unlike!, weights: [0.5, 0.6] } },
      /weights in unlike with sum 1, got 1.1/,
    ],
    [
      'differences that depend on the side',
      { unlike: { ...fine.unlike!, pairs: [Float64Array.of(0, 1, 0.5, 0), new Float64Array(1)] } },
      /symmetric differences/,
    ],
  ])('is refused: %s', (_, wrong, message) => {
    expect(() => new SchemeSearch(fine)).not.toThrow();
    expect(() => new SchemeSearch({ ...fine, ...wrong })).toThrow(message);
  });

  test('is refused: lists and portions of no length', () => {
    expect(() => new SchemeSearch(fine, { best: 0 })).toThrow(RangeError);
    expect(() => new SchemeSearch(fine, { different: 1.5 })).toThrow(RangeError);
    expect(() => new SchemeSearch(fine).step(0)).toThrow(/Expected work above 0, got 0/);
  });
});
