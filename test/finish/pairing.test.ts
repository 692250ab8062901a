import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  PAIRING_BANDS,
  PAIRING_CURVE,
  pairingDesirability,
  pairingKind,
  pairingWords,
  pairings,
} from '#lib/finish/index.ts';
import { COUNTER, LAMPS, WINDOW, finish, light, metamers } from './kitchen.ts';

describe('the kind of a pairing', () => {
  test('changes at its named borders', () => {
    expect(pairingKind(0)).toBe('match');
    expect(pairingKind(PAIRING_BANDS.match)).toBe('near miss');
    expect(pairingKind(PAIRING_BANDS['near miss'])).toBe('related');
    expect(pairingKind(PAIRING_BANDS.related)).toBe('separate');
  });

  test('near miss is the worst of all', () => {
    const worst = (from: number, to: number) =>
      Math.min(...Array.from({ length: 50 }, (_, i) => pairingDesirability(from + ((to - from) * i) / 50)));
    const trough = worst(PAIRING_BANDS.match, PAIRING_BANDS['near miss']);
    expect(trough).toBe(PAIRING_CURVE.worst);
    expect(worst(0, PAIRING_BANDS.match)).toBe(1);
    expect(worst(PAIRING_BANDS['near miss'], 100)).toBeGreaterThan(3 * trough);
  });

  test('is judged without jumps: 0.1 ΔE never moves a desirability by more than 0.1', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 60, noNaN: true }), (deltaE) => {
        const jump = Math.abs(pairingDesirability(deltaE + 0.1) - pairingDesirability(deltaE));
        expect(jump).toBeLessThanOrEqual(0.1 + 1e-9);
      }),
    );
  });
});

describe('two finishes', () => {
  const beside = (other: Parameters<typeof finish>[1], lights = [WINDOW, LAMPS]) =>
    pairings({ finish: finish('counter', [[83, 0, 3]]), surfaceName: 'Counter' }, finish('cabinets', other), {
      lights,
    });

  test('that are one colour match under every light', () => {
    expect(beside([[83, 0, 3]]).map((pairing) => [pairing.kind, pairingWords(pairing)])).toEqual([
      ['match', 'Matches “Counter” under “window”'],
      ['match', 'Matches “Counter” under “lamps”'],
    ]);
  });

  test('that are close but not the same are a near miss, in a sentence a client understands', () => {
    const [window] = beside([[81, 0.5, 5]]);
    expect(window.kind).toBe('near miss');
    expect(pairingWords(window)).toBe(
      'Near miss with “Counter” under “window”: close enough to be compared, far enough to look like a mistake',
    );
  });

  test('that are far apart stand apart, with their LRV difference signed towards the second', () => {
    const [window] = beside([[40, -9, 11]]);
    expect(window.kind).toBe('separate');
    expect(window.lrvDifference).toBeLessThan(-40);
  });

  test('without lights are judged in daylight', () => {
    expect(beside([[83, 0, 3]], [])).toMatchObject([{ lightId: 'D65', lightName: 'daylight', deltaE: 0 }]);
  });

  test('are as different either way round', () => {
    const a = { finish: COUNTER, surfaceName: 'counter' };
    const b = finish('door', [[70, -4, 9]]);
    const there = pairings(a, b, { lights: [LAMPS] })[0];
    const back = pairings({ finish: b, surfaceName: 'door' }, COUNTER, { lights: [LAMPS] })[0];
    expect(back.deltaE).toBeCloseTo(there.deltaE, 9);
    expect(back.desirability).toBeCloseTo(there.desirability, 12);
    expect(back.lrvDifference).toBeCloseTo(-there.lrvDifference, 9);
  });

  test('that are metamers match in daylight and part under tubes', () => {
    const { bumpy, smooth } = metamers();
    const lights = [light('day', 'D65'), light('tubes', 'FL11')];
    const [day, tubes] = pairings({ finish: bumpy, surfaceName: 'shelf' }, smooth, { lights });
    expect(day.kind).toBe('match');
    expect(day.deltaE).toBeLessThan(0.02);
    expect(tubes.deltaE).toBeGreaterThan(3);
  });

  test('of several colours are decided by the pair that costs most', () => {
    const [one] = pairings({ finish: COUNTER, surfaceName: 'counter' }, finish('cabinets', [[64, 1, 8]]), {
      lights: [],
    });
    // 0.3 of the counter is within a near miss; 0.7 stands apart.
    expect(one.kind).toBe('near miss');
    expect(one.share).toBeCloseTo(0.3, 12);
    expect(pairingWords(one)).toMatch(/^Near miss with a colour of “counter” under daylight/);
  });
});
