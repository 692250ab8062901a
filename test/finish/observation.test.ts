import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { WORTH_LOOKING, bestObservations, isotropicCovariance, rank } from '#lib/finish/index.ts';
import type { ColourOrigin, ObservationSetting, RankInput, ReflectanceCache } from '#lib/finish/index.ts';
import { expectedWorths, gainOf, perfectGain, worthsOf } from '#lib/finish/expected-gain.ts';
import { generator } from './chance.ts';
import { LAMPS, WINDOW, candidate, finish, kitchen } from './kitchen.ts';

/**
 * Unit normal loss integral, φ(d) − d (1 − Φ(d)): what may be lost, in standard deviations, by a decision that is d of them
 * to the good. Source: the tables of Raiffa and Schlaifer 1961, Applied Statistical Decision Theory; from memory.
 */
const UNIT_NORMAL_LOSS = [
  { d: 0, loss: 0.3989 },
  { d: 0.5, loss: 0.1978 },
  { d: 1, loss: 0.0833 },
  { d: 1.5, loss: 0.0293 },
];
const DRAWS = 20_000;

function normals(seed: number, mean = 0, deviation = 1): Float64Array {
  const { normal } = generator(seed);
  return Float64Array.from({ length: DRAWS }, () => mean + deviation * normal());
}

describe('the gain from knowing everything', () => {
  test.each(UNIT_NORMAL_LOSS)('is the unit normal loss of $d for two normal alternatives', ({ d, loss }) => {
    // 3 and 4 make a difference with standard deviation 5.
    const worths = worthsOf([normals(1, 5 * d, 3), normals(2, 0, 4)]);
    // Four standard errors of a mean over the draws, whose standard deviation is below that of the difference.
    expect(Math.abs(perfectGain(worths) - 5 * loss)).toBeLessThan((4 * 5) / Math.sqrt(DRAWS));
  });
});

describe('the gain of an observation', () => {
  test.each(UNIT_NORMAL_LOSS)(
    'is the unit normal loss of what it tells, for a normal alternative seen with noise, at $d',
    ({ d, loss }) => {
      // Worth of deviation 3, seen with noise of deviation 4: the posterior mean has deviation 3² / 5 = 1.8.
      const uncertain = normals(3, 0, 3);
      const noise = normals(4, 0, 4);
      const worths = worthsOf([uncertain, new Float64Array(DRAWS).fill(1.8 * d)]);
      const column = uncertain.map((value, t) => value + noise[t]);
      const [fit] = expectedWorths([uncertain], [column]);
      const { gain } = gainOf(worths, new Map([[0, fit]]));
      expect(Math.abs(gain - 1.8 * loss)).toBeLessThan((4 * 1.8) / Math.sqrt(DRAWS));
    },
  );

  test('is next to nothing for what has nothing to do with the alternatives', () => {
    const worths = worthsOf([normals(5).subarray(0, 1000), normals(6).subarray(0, 1000)]);
    const columns = Array.from({ length: 10 }, (_, k) => normals(10 + k).subarray(0, 1000));
    const fits = expectedWorths(worths.rows, columns);
    const { gain } = gainOf(worths, new Map(fits.map((fit, i) => [i, fit])));
    expect(gain).toBeLessThan(0.03 * perfectGain(worths));
  });

  test('is all there is to gain where it shows everything, columns that repeat each other or not', () => {
    const worths = worthsOf([normals(7), normals(8)]);
    const [x, y] = worths.rows;
    const columns = [x, y, x.map((value, t) => value + y[t]), new Float64Array(DRAWS).fill(3)];
    const fits = expectedWorths(worths.rows, columns);
    const { gain, right } = gainOf(worths, new Map(fits.map((fit, i) => [i, fit])));
    expect(gain).toBeCloseTo(perfectGain(worths), 6);
    expect(right).toBeGreaterThan(0.999);
  });

  test('refuses worths no caller should send', () => {
    expect(() => worthsOf([])).toThrow(RangeError);
    expect(() => worthsOf([new Float64Array(2), new Float64Array(3)])).toThrow(RangeError);
  });
});

const cache: ReflectanceCache = new Map();
const FROM_PHOTO: ColourOrigin = {
  source: 'photo',
  photoId: 'p1',
  photoName: 'Samples',
  photoHasWhite: false,
};

function advise(input: RankInput, over: Partial<ObservationSetting> = {}) {
  const setting = { origins: [], target: null, cache, ...over };
  return bestObservations(input, rank(input, { cache }), setting);
}

/** Two greens as good as each other, and one that has no hope. */
function close({ doubt = 3, targetDoubt = 0 }: { doubt?: number; targetDoubt?: number } = {}): RankInput {
  return kitchen({
    target: { lab: { L: 62, a: -9, b: 11 }, covariance: isotropicCovariance(targetDoubt) },
    candidates: [
      { ...candidate('c1', { L: 64, a: -8, b: 9 }, { doubt }), name: 'Deep Lock' },
      { ...candidate('c2', { L: 60, a: -10, b: 13 }, { doubt }), name: 'Lock Keeper' },
      { ...candidate('c3', { L: 20, a: 30, b: -20 }, { doubt }), name: 'Plum' },
    ],
    fixed: [
      { finish: finish('counter', [[62, -3, 14]], 0), surfaceName: 'Counter', contact: 1 },
      { finish: finish('floor', [[30, 8, 10]], 0), surfaceName: 'Floor', contact: 1 },
    ],
    draws: 600,
  });
}

describe('bestObservations', () => {
  test('says to hold two samples against the finish they are near to, and what that is worth', () => {
    const { best, closeCalls, words } = advise(close());
    expect(closeCalls[0].names.toSorted()).toEqual(['Deep Lock', 'Lock Keeper']);
    expect(words).toMatch(
      /^Hold (Deep Lock and Lock Keeper|Lock Keeper and Deep Lock) against “Counter” under “(window|lamps)”\.$/,
    );
    expect(best).toMatchObject({ kind: 'hold', words, surfaceName: 'Counter' });
    expect(best!.swatchIds.toSorted()).toEqual(['c1', 'c2', 'counter']);
    expect(best!.number).toMatch(
      /^worth \d+\.\d points of 100 on average; finds the best \d+ times in 100 instead of \d+$/,
    );
  });

  test('says to hold them in the light they are not known in', () => {
    // Known exactly by day: only what lamps do to a reflectance nobody measured is open.
    const { best } = advise(close({ doubt: 0 }));
    expect(best).toMatchObject({ kind: 'hold', lightId: LAMPS.id });
    const inDaylight = advise({ ...close({ doubt: 0 }), lights: [WINDOW] });
    expect(inDaylight.perfectGain).toBeLessThan(best!.expectedGain);
  });

  test('says to take the target’s colour again where that alone is not known', () => {
    const input = { ...close({ doubt: 0, targetDoubt: 9 }), fixed: [], lights: [] };
    const { best, perfectGain: most } = advise(input, { target: { ...FROM_PHOTO, photoId: 'p2' } });
    expect(best).toMatchObject({ kind: 'target', photoId: 'p2' });
    expect(best!.words).toBe(
      'Take the colour of the inspiration again from a photo with white paper in it, or choose a firmer aim.',
    );
    // A photo with white paper leaves little of a doubt that large.
    expect(best!.expectedGain).toBeGreaterThan(0.7 * most);
    expect(advise(input).best).toBeNull();
  });

  test('says to take a photo again that several samples came from, for all of them at once', () => {
    const input = { ...close({ doubt: 8 }), fixed: [], lights: [WINDOW] };
    const origins = ['c1', 'c2', 'c3'].map((swatchId) => ({ swatchId, ...FROM_PHOTO }));
    const { best, observations } = advise(input, { origins });
    expect(best).toMatchObject({ kind: 'retake', photoId: 'p1' });
    expect(best!.words).toBe(
      'Take the photo “Samples” again with white paper in it: it serves Deep Lock, Lock Keeper and Plum at once.',
    );
    expect(observations.some(({ kind }) => kind === 'photograph')).toBe(false);
    // One by one gains less than all at once.
    const alone = advise(input).observations;
    expect(alone.map(({ kind }) => kind)).toContain('photograph');
    for (const { expectedGain } of alone) expect(expectedGain).toBeLessThan(best!.expectedGain);
  });

  test('values an instrument more than a photo of the same sample', () => {
    const { observations } = advise({ ...close(), fixed: [] }, { instrument: true });
    const gain = (kind: string) =>
      observations.find((one) => one.kind === kind && one.swatchIds[0] === 'c1')!.expectedGain;
    expect(gain('measure')).toBeGreaterThan(gain('photograph'));
  });

  test('does not ask to look at what cannot win', () => {
    const { observations } = advise(close(), { instrument: true });
    expect(observations.length).toBeGreaterThan(1);
    expect(observations.filter(({ swatchIds }) => swatchIds.includes('c3'))).toEqual([]);
  });

  test('says why nothing would help', () => {
    const still = { ...close({ doubt: 0 }), fixed: [], lights: [] };
    const { best, words, perfectGain: most } = advise(still);
    expect(best).toBeNull();
    expect(most).toBeLessThan(WORTH_LOOKING);
    expect(words).toMatch(/^The order would not change: nothing you could look at is worth/);
    const twins = {
      ...still,
      candidates: [1, 2].map((k) => candidate(`twin ${k}`, { L: 50, a: 1, b: 2 }, { doubt: 0 })),
    };
    expect(advise(twins).words).toBe(
      'No observation would tell them apart: twin 1 and twin 2 are as good as each other. Let the eye decide.',
    );
    expect(advise({ ...still, candidates: still.candidates.slice(0, 1) }).words).toBe(
      'There is nothing to decide between.',
    );
    const silent = { nearness: 0, pairing: 0, steadiness: 0, lrv: 0, price: 0, time: 0 };
    expect(advise({ ...close(), weights: silent }).words).toMatch(/^Nothing counts/);
  });

  test('refuses a ranking of other candidates', () => {
    const other = rank(kitchen({ draws: 20 }), { cache });
    expect(() => bestObservations(close(), other, { origins: [], target: null })).toThrow(RangeError);
  });

  test('no gain is below 0 or above that of knowing everything, and the order of the candidates does not matter', () => {
    const lab = fc.record({
      L: fc.integer({ min: 50, max: 70 }),
      a: fc.integer({ min: -14, max: -4 }),
      b: fc.integer({ min: 5, max: 17 }),
    });
    const places = fc.array(fc.tuple(lab, fc.integer({ min: 0, max: 6 })), { minLength: 2, maxLength: 5 });
    let seen = 0;
    fc.assert(
      fc.property(places, fc.integer({ min: 0, max: 6 }), (list, targetDoubt) => {
        const candidates = list.map(([place, doubt], i) => candidate(`c${i}`, place, { doubt }));
        const input = { ...close({ targetDoubt }), candidates, draws: 300 };
        const setting = {
          origins: candidates.slice(1).map(({ id }) => ({ swatchId: id, ...FROM_PHOTO })),
          target: FROM_PHOTO,
          instrument: true,
        };
        const advice = advise(input, setting);
        for (const { expectedGain, wouldDecide, wouldChange } of advice.observations) {
          seen++;
          expect(expectedGain).toBeGreaterThanOrEqual(WORTH_LOOKING);
          expect(expectedGain).toBeLessThanOrEqual(advice.perfectGain);
          for (const share of [wouldDecide, wouldChange]) {
            expect(share).toBeGreaterThanOrEqual(0);
            expect(share).toBeLessThanOrEqual(1);
          }
        }
        const reversed = advise({ ...input, candidates: candidates.toReversed() }, setting);
        expect(reversed).toEqual(advice);
      }),
      { numRuns: 30 },
    );
    expect(seen).toBeGreaterThan(50);
  });
});
