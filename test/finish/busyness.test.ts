import { describe, expect, test } from 'vitest';
import {
  BUSYNESS_BANDS,
  busynessWords,
  calmDesirability,
  calmWords,
  neighbourWish,
  usualWidth,
} from '#lib/finish/index.ts';
import { busynessBand } from '../../src/lib/finish/busyness.ts';

// Bands and curve are common practice without a published source: properties only.

const STEPS = [0, 0.5, 1, 2, 2.9, 3, 3.5, 5, 6.5, 8, 9.9, 10, 12, 20, 40];

describe('busyness', () => {
  test('its words change at the borders', () => {
    expect(busynessWords(0)).toBe('calm');
    expect(busynessWords(BUSYNESS_BANDS.calm - 1e-9)).toBe('calm');
    expect(busynessWords(BUSYNESS_BANDS.calm)).toBe('lively');
    expect(busynessWords(BUSYNESS_BANDS.lively - 1e-9)).toBe('lively');
    expect(busynessWords(BUSYNESS_BANDS.lively)).toBe('busy');
    expect([0, 5, 50].map(busynessBand)).toEqual([0, 1, 2]);
  });

  test('two busy neighbours are bad, two calm ones fine, one of each best', () => {
    const [busy, calm] = [25, 1];
    expect(calmDesirability(busy, busy)).toBeLessThan(0.2);
    expect(calmDesirability(calm, calm)).toBeGreaterThan(0.8);
    expect(calmDesirability(busy, calm)).toBeGreaterThan(calmDesirability(calm, calm));
    expect(calmDesirability(busy, calm)).toBeCloseTo(1, 9);
  });

  test('is the same either way round, stays within 0 and 1, and has no steps', () => {
    for (const p of STEPS)
      for (const q of STEPS) {
        const value = calmDesirability(p, q);
        expect(value).toBe(calmDesirability(q, p));
        expect(value).toBeGreaterThan(0);
        expect(value).toBeLessThanOrEqual(1);
        expect(Math.abs(calmDesirability(p + 0.01, q) - value)).toBeLessThan(0.01);
      }
  });

  test('beside a busy finish calmer is never worse', () => {
    const beside = STEPS.map((busyness) => calmDesirability(20, busyness));
    for (let i = 1; i < beside.length; i++) expect(beside[i]).toBeLessThanOrEqual(beside[i - 1]);
  });

  test('sentences name the busier one and what it asks for', () => {
    const counter = { surfaceName: 'Counter', busyness: 19 };
    const tile = { surfaceName: 'Backsplash', busyness: 1.3 };
    const ring = { surfaceName: 'Ring tile', busyness: 22 };
    const oak = { surfaceName: 'Floor', busyness: 6 };
    expect(calmWords(tile, counter)).toBe('“Counter” is busy; the calm “Backsplash” lets it speak.');
    expect(calmWords(counter, tile)).toBe(calmWords(tile, counter));
    expect(calmWords(counter, ring)).toMatch(/both busy and compete/);
    expect(calmWords(oak, tile)).toMatch(/^“Floor” is lively/);
    expect(calmWords(oak, counter)).toMatch(/^“Counter” is busy and “Floor” is lively/);
    expect(calmWords(oak, { ...oak, surfaceName: 'Curtain' })).toMatch(/both lively/);
    expect(calmWords(tile, { ...tile, surfaceName: 'Wall' })).toMatch(/both calm/);
    expect(neighbourWish(counter)).toBe('“Counter” is busy; plain neighbours let it speak.');
    expect(neighbourWish(tile)).toBeNull();
  });

  test('a width that nobody said is the region’s part of what such a picture shows', () => {
    expect(usualWidth(0.5, 'slab')).toBeGreaterThan(100);
    for (const role of ['room', 'slab', 'sample board'] as const)
      expect(usualWidth(0.6, role) / usualWidth(0.3, role)).toBeCloseTo(2, 1);
    expect(usualWidth(0.2, 'room')).toBeGreaterThan(usualWidth(0.2, 'slab'));
    expect(usualWidth(1e-9, 'slab')).toBe(1);
    expect(() => usualWidth(0, 'room')).toThrow(RangeError);
  });

  test('what is no busyness is refused', () => {
    for (const value of [-1, Number.NaN]) {
      expect(() => busynessWords(value)).toThrow(RangeError);
      expect(() => calmDesirability(value, 1)).toThrow(RangeError);
    }
    expect(() => busynessWords(Infinity)).toThrow(RangeError);
  });
});
