import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CRITERIA, rank, shortlistSways, weightSways } from '#lib/finish/index.ts';
import type { RankInput, ReflectanceCache, WeighedRow } from '#lib/finish/index.ts';
import { candidate, kitchen } from './kitchen.ts';

type Name = 'nearness' | 'pairing' | 'price' | 'time';
const NAMES: readonly Name[] = ['nearness', 'pairing', 'price', 'time'];
type Weights = Record<Name, number>;

/** ln desirability as it is defined: the weighted mean over what the row has data for; 0 with nothing. */
function overall({ logs }: WeighedRow<Name>, weights: Weights): number {
  let sum = 0;
  let weight = 0;
  for (const name of NAMES) {
    const log = logs[name];
    if (log === null) continue;
    sum += weights[name] * log;
    weight += weights[name];
  }
  return weight > 0 ? sum / weight : 0;
}

const row = (id: string, logs: (number | null)[]): WeighedRow<Name> => ({
  id,
  name: id,
  logs: Object.fromEntries(NAMES.map((name, i) => [name, logs[i] ?? null])) as WeighedRow<Name>['logs'],
});

describe('weightSways', () => {
  test('finds where two lines cross, worked by hand', () => {
    // −0.3 − 0.5x meets −0.9 − 0.2x at x = 2, and −0.1y − 0.5 meets −0.3y − 0.2 at y = 1.5.
    const rows = [row('reed', [-0.1, -0.5]), row('moss', [-0.3, -0.2])];
    const { leaderId, sways, closest } = weightSways<'nearness' | 'pairing'>(rows, {
      nearness: 3,
      pairing: 1,
    });
    expect(leaderId).toBe('reed');
    expect(sways[1].up).toMatchObject({ weight: expect.closeTo(2, 12), leaderId: 'moss' });
    expect(sways[1].down).toBeNull();
    expect(sways[0].down).toMatchObject({ weight: expect.closeTo(1.5, 12), leaderId: 'moss' });
    expect(sways[0].up).toBeNull();
    expect(closest).toBe('pairing');
    expect(sways[1].words).toBe('Pairing may count up to 2 (now 1) before moss leads.');
    expect(sways[0].words).toBe('Nearness may count down to 1.5 (now 3) before moss leads.');
  });

  test('counts a criterion only for the rows that have data for it, worked by hand', () => {
    // −0.4, which has no second criterion, meets (−0.2 − 0.9y) / (1 + y) at y = 0.4.
    const rows = [row('clay', [-0.4, null]), row('mist', [-0.2, -0.9])];
    const { leaderId, sways } = weightSways<'nearness' | 'pairing'>(rows, { nearness: 1, pairing: 3 });
    expect(leaderId).toBe('clay');
    expect(sways[1].down).toMatchObject({ weight: expect.closeTo(0.4, 12), leaderId: 'mist' });
  });

  test('says so where no weight changes the leader, and where a criterion counts for nobody', () => {
    const rows = [row('reed', [-0.1, -0.2, null]), row('moss', [-0.3, -0.4, null])];
    const { sways, closest, headline } = weightSways<'nearness' | 'pairing' | 'price'>(rows, {
      nearness: 3,
      pairing: 1,
      price: 2,
    });
    expect(closest).toBeNull();
    expect(headline).toBe('reed leads whichever single weight is moved.');
    expect(sways[0].words).toBe('However much nearness counts, reed leads.');
    expect(sways[2].words).toBe('Price counts for none of them, whatever its weight.');
    expect(weightSways<Name>([], { nearness: 1, pairing: 1, price: 1, time: 1 }).leaderId).toBeNull();
  });

  test('sees the row that is left with nothing to be judged by at a weight of 0', () => {
    const rows = [row('reed', [-0.1, -0.2]), row('moss', [null, -0.5])];
    const { sways } = weightSways<'nearness' | 'pairing'>(rows, { nearness: 1, pairing: 1 });
    expect(sways[1].down).toMatchObject({ weight: 0, leaderId: 'moss' });
  });

  test('refuses weights and scores that no caller should send', () => {
    const rows = [row('reed', [-0.1, -0.2])];
    expect(() => weightSways<'nearness' | 'pairing'>(rows, { nearness: -1, pairing: 1 })).toThrow(
      /Expected a weight of nearness/,
    );
    expect(() => weightSways<'nearness'>([row('reed', [0.1])], { nearness: 1 })).toThrow(
      /Expected ln desirability/,
    );
  });

  test('the leader leads everywhere up to the turn, and the one that is named just beyond it', () => {
    const log = fc.option(
      fc.integer({ min: -460, max: 0 }).map((hundredths) => hundredths / 100),
      { freq: 5 },
    );
    const rows = fc
      .array(fc.tuple(log, log, log, log), { minLength: 2, maxLength: 12 })
      .map((all) => all.map((logs, i) => row(`c${i}`, logs)));
    const weight = fc.oneof(fc.constant(0), fc.double({ min: 0.1, max: 10, noNaN: true }));
    const weights = fc.record({ nearness: weight, pairing: weight, price: weight, time: weight });
    let turns = 0;
    fc.assert(
      fc.property(rows, weights, (list, now) => {
        const at = (name: Name, x: number) => list.map((one) => overall(one, { ...now, [name]: x }));
        const answer = weightSways(list, now);
        const leader = list.findIndex(({ id }) => id === answer.leaderId);
        expect(at('nearness', now.nearness)[leader]).toBeCloseTo(
          Math.max(...at('nearness', now.nearness)),
          9,
        );
        for (const { criterion, down, up } of answer.sways) {
          for (const [turn, end] of [
            [down, 0],
            [up, 10],
          ] as const) {
            const stop = turn ? turn.weight : end;
            for (let k = 1; k < 20; k++) {
              const x = now[criterion] + ((stop - now[criterion]) * k) / 20;
              const values = at(criterion, x);
              expect(values[leader]).toBeGreaterThan(Math.max(...values) - 1e-9);
            }
            if (!turn) continue;
            turns++;
            const beyond = turn.weight === end ? end : turn.weight + (end - turn.weight) * 1e-6;
            const values = at(criterion, beyond);
            const other = list.findIndex(({ id }) => id === turn.leaderId);
            expect(other).not.toBe(leader);
            expect(values[other]).toBeGreaterThan(values[leader]);
            expect(values[other]).toBeGreaterThan(Math.max(...values) - 1e-7);
          }
        }
      }),
      { numRuns: 300 },
    );
    expect(turns).toBeGreaterThan(300);
  });
});

describe('shortlistSways', () => {
  const cache: ReflectanceCache = new Map();
  const input: RankInput = kitchen({
    draws: 20,
    candidates: [
      candidate('reed', { L: 61, a: -9.5, b: 12 }, { price: { amount: 55, currency: 'EUR', unit: 'l' } }),
      candidate('moss', { L: 56, a: -11, b: 15 }, { leadTimeDays: 1 }),
      candidate('clay', { L: 58, a: 14, b: 19 }, { price: { amount: 12, currency: 'EUR', unit: 'l' } }),
      candidate('mist', { L: 74, a: -3, b: 5 }, { price: null, leadTimeDays: 0 }),
    ],
    weights: { nearness: 3, pairing: 3, steadiness: 2, lrv: 0, price: 0, time: 1 },
  });
  const leaderOf = (weights: RankInput['weights']) => {
    const { shortlist } = rank({ ...input, draws: 1, weights }, { cache });
    return shortlist.reduce((best, one) => (one.desirability > best.desirability ? one : best)).id;
  };

  test('agrees with ranking again just before and just beyond each turn', () => {
    const answer = shortlistSways(input, rank(input, { cache }), { cache });
    expect(answer.leaderId).toBe(leaderOf(input.weights));
    expect(answer.sways.map(({ criterion }) => criterion)).toEqual([...CRITERIA]);
    let turns = 0;
    for (const { criterion, now, down, up } of answer.sways) {
      for (const [turn, outwards] of [
        [down, -1],
        [up, 1],
      ] as const) {
        if (!turn) {
          expect(leaderOf({ ...input.weights, [criterion]: outwards < 0 ? 0 : 10 })).toBe(answer.leaderId);
          continue;
        }
        turns++;
        const by = outwards * 1e-4;
        expect(leaderOf({ ...input.weights, [criterion]: turn.weight + by })).toBe(turn.leaderId);
        if (Math.abs(turn.weight - now) > 1e-3)
          expect(leaderOf({ ...input.weights, [criterion]: turn.weight - by })).toBe(answer.leaderId);
      }
    }
    expect(turns).toBeGreaterThan(1);
    // Price does not count now; what it would do is known all the same.
    expect(answer.sways.find(({ criterion }) => criterion === 'price')!.up).not.toBeNull();
  });
});
