import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { LITRES, SQUARE_METRES, USUAL_SPREAD, paintNeed } from '#lib/finish/index.ts';
import type { PaintQuestion, PaintedPart } from '#lib/finish/index.ts';

const part = (given: Partial<PaintedPart>): PaintedPart => ({
  name: 'fronts',
  area: 10,
  relativeSd: 0,
  coats: 2,
  application: 'brush and roller',
  landed: 1,
  ...given,
});
const ask = (given: Partial<PaintQuestion>) =>
  paintNeed({
    role: 'finish coat',
    spreadRate: null,
    parts: [part({})],
    system: 'metric',
    path: 'paints[0]',
    ...given,
  });

describe('paint for coats', () => {
  test('a US gallon covers 350 sq ft with one coat where the product does not say (common practice: 350-400)', () => {
    const gallon = ask({ parts: [part({ area: 350 * SQUARE_METRES['sq ft'], coats: 1 })] });
    expect(gallon.litres! / LITRES.gal).toBeCloseTo(1, 12);
    expect(gallon.range![0] / LITRES.gal).toBeCloseTo(350 / 400, 12);
    expect(USUAL_SPREAD['finish coat'].map((rate) => rate.toFixed(1))).toEqual(['8.6', '9.8']);
    expect(gallon.words).toContain('8.59 m²/l (350 sq ft per US gal)');
  });

  test('each part has its own coats, each line can be checked, and lines add up', () => {
    const need = ask({
      spreadRate: 10,
      parts: [
        part({ name: 'cabinets', area: 12, coats: 2 }),
        part({ name: 'island front', area: 2, coats: 3, landed: 0.5 }),
      ],
    });
    // 12 × 2 / 10 = 2.4; 2 × 3 / 10 / 0.5 = 1.2.
    expect(need.steps.map(({ litres }) => litres)).toEqual([2.4, expect.closeTo(1.2, 12)]);
    expect(need.litres).toBeCloseTo(3.6, 12);
    expect(need.coatArea).toBeCloseTo(30, 12);
    expect(need.steps[1].words).toBe(
      'island front: 2.00 m² (21.5 sq ft) × 3 coats ÷ 10.0 m²/l (407 sq ft per US gal) ÷ 0.50 that lands (brush and roller) = 1.20 l (0.32 US gal)',
    );
    expect(need.words).toContain('as the product says');
  });

  test('a gun takes more than a roller (Products Finishing: HVLP lands 50-60 %, airless 40-50 %)', () => {
    const litres = (application: PaintedPart['application']) =>
      ask({ spreadRate: 10, parts: [part({ application, landed: null })] }).litres!;
    expect(litres('HVLP')).toBeCloseTo(2 / 0.55, 12);
    expect(litres('airless')).toBeCloseTo(2 / 0.45, 12);
    expect(litres('brush and roller')).toBeLessThan(litres('air-assisted airless'));
    expect(litres('air-assisted airless')).toBeLessThan(litres('HVLP'));
  });

  test('the range holds the need, and an unsure area widens it', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 200, noNaN: true }),
        fc.integer({ min: 1, max: 5 }),
        fc.double({ min: 0, max: 0.5, noNaN: true }),
        (area, coats, relativeSd) => {
          const sure = ask({ parts: [part({ area, coats, landed: null })] });
          const unsure = ask({ parts: [part({ area, coats, landed: null, relativeSd })] });
          expect(sure.range![0]).toBeLessThan(sure.litres!);
          expect(sure.range![1]).toBeGreaterThan(sure.litres!);
          expect(unsure.range![0]).toBeLessThanOrEqual(sure.range![0]);
          expect(unsure.range![1]).toBeGreaterThanOrEqual(sure.range![1]);
          expect(unsure.litres).toBe(sure.litres);
        },
      ),
    );
  });

  test('no coats, no area and absurd figures are named at the field; the total says what it leaves out', () => {
    const need = ask({
      spreadRate: -4,
      parts: [
        part({ name: 'walls' }),
        part({ name: 'ceiling', coats: 0 }),
        part({ name: 'trim', area: null }),
        part({ name: 'doors', area: -3 }),
        part({ name: 'floor', landed: 0 }),
      ],
    });
    expect(need.problems.map(({ path }) => path)).toEqual([
      'paints[0].spreadRate',
      'paints[0].parts[1].coats',
      'paints[0].parts[2].area',
      'paints[0].parts[3].area',
      'paints[0].parts[4].landed',
    ]);
    expect(need.leftOut).toEqual(['ceiling', 'trim', 'doors', 'floor']);
    expect(need.litres).toBeCloseTo(20 / USUAL_SPREAD['finish coat'][0], 12);
    expect(need.words).toContain('Not in it: ceiling, trim, doors, floor.');
    expect(ask({ parts: [] })).toMatchObject({
      litres: null,
      range: null,
      words: 'No finish coat could be reckoned.',
    });
  });
});
