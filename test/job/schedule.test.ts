import { expect, test } from 'vitest';
import { finishSchedule } from '#lib/finish/index.ts';
import { jobSchedule } from '#lib/job/index.ts';
import { TODAY, chosenKitchen, sampleKitchen } from './sample-kitchen.ts';

// Worked by hand from the sizes, cans and prices of the sample job, none of it taken from output. Conversions: 1 ft =
// 0.3048 m and 1 US gal = 3.785411784 l exactly (NIST SP 811, 2008, app. B). Spread rates, share that lands and coats are
// common practice, no published source, as the finish area names them.

const NEEDED = {
  'cabinets primer': '2027-01-04',
  'cabinets finish': '2027-01-05',
  'walls finish': '2026-12-28',
  'counter finish': '2027-01-20',
};

const worked = () => {
  const asked = jobSchedule(chosenKitchen(), { neededOn: NEEDED });
  const schedule = finishSchedule({ ...asked.rules, today: TODAY });
  const line = (id: string) => schedule.lines.find(({ item }) => item.id === id)!;
  const order = (id: string) => schedule.orders.find((one) => one.lineIds.includes(id))!;
  const surface = (id: string) => asked.surfaces.find((one) => one.surface.id === id)!;
  return { schedule, line, order, surface };
};

test('areas of the kitchen are those worked by hand', () => {
  const { surface } = worked();
  // Cabinets, window wall and hob wall, m².
  // Fronts over all: 3.30×0.72 + 2.70×0.72 + 2.30×0.70 + 0.90×2.16 = 2.376 + 1.944 + 1.610 + 1.944 = 7.874.
  // Openings, 12 mm smaller at each edge than what closes them: 6 × 0.426×0.666 = 1.702296, 5 × 0.416×0.646 = 1.343680,
  // 4 × 0.396×1.036 = 1.641024, 5 × 0.426×0.146 = 0.310980, 3 × 0.856×0.226 = 0.580368; together 5.578348.
  // Face frame: 7.874 − 5.578348 = 2.295652.
  // Doors, both sides and 5 % for the profile: 6 × 0.45×0.69 = 1.8630, 5 × 0.44×0.67 = 1.4740, 4 × 0.42×1.06 = 1.7808;
  // together 5.1178, × 2 × 1.05 = 10.74738.
  // Their edges, 20 mm: 6 × 2.28 + 5 × 2.22 + 4 × 2.96 = 36.62 m, × 0.02 = 0.7324.
  // Drawer fronts, one side: 5 × 0.45×0.17 = 0.3825, 3 × 0.88×0.25 = 0.66; together 1.0425, × 1.05 = 1.094625.
  // Their edges: 5 × 1.24 + 3 × 2.26 = 12.98 m, × 0.02 = 0.2596.
  // Sides: 0.60×2.16 + 2 × 0.33×0.70 = 1.296 + 0.462 = 1.758.
  const walls = 2.295652 + 10.74738 + 0.7324 + 1.094625 + 0.2596 + 1.758;
  expect(walls).toBeCloseTo(16.887657, 9);
  // Island: 2.05×0.80 + 2 × 0.82×0.80 = 1.640 + 1.312 = 2.952.
  const cabinets = surface('cabinets').takeOff!;
  expect(cabinets.parts.map(({ area }) => area)).toEqual([
    expect.closeTo(16.887657, 9),
    expect.closeTo(2.952, 9),
  ]);
  // Walls: 4.20×2.50 + 2 × 3.30×1.04 = 10.500 + 6.864 = 17.364; less the window, 1.50, and the door, 0.83×2.04 = 1.6932.
  expect(surface('walls').takeOff!.area).toBeCloseTo(14.1708, 9);
  // Counter: 2.70×0.62 + 1.90×0.62 + 2.20×0.90 = 1.674 + 1.178 + 1.980 = 4.832. Slabs of 3.00 × 1.40, veins one way: the
  // two long pieces lie one above the other (620 + 4 + 620 = 1244 mm), the island's beside neither (900 + 4 + 620 = 1524).
  expect(surface('counter').takeOff).toMatchObject({ area: expect.closeTo(4.832, 9), slabs: 2 });
  expect(surface('hardware').takeOff!.pieces).toBe(23);
});

test('litres are area × coats ÷ spread rate ÷ share that lands', () => {
  const { line } = worked();
  // 350 sq ft per US gal: 350 × 0.09290304 ÷ 3.785411784 = 8.589835 m²/l; 300: 7.362716 m²/l.
  // HVLP lands 0.55, brush and roller 0.90.
  // Primer, one coat on all: 19.839657 ÷ 7.362716 ÷ 0.55 = 19.839657 ÷ 4.0494938 = 4.89929.
  expect(line('cabinets primer').need).toEqual({ amount: expect.closeTo(4.89929, 4), unit: 'l' });
  // Paint, two coats, three on the island: (2 × 16.887657 + 3 × 2.952) ÷ 8.589835 ÷ 0.55 = 42.631314 ÷ 4.7244093 = 9.02363.
  expect(line('cabinets finish').need).toEqual({ amount: expect.closeTo(9.02363, 4), unit: 'l' });
  // Walls: 2 × 14.1708 ÷ 8.589835 ÷ 0.90 = 28.3416 ÷ 7.7308515 = 3.66604.
  expect(line('walls finish').need).toEqual({ amount: expect.closeTo(3.66604, 4), unit: 'l' });
  expect(line('hardware finish').need).toEqual({ amount: 23, unit: 'piece' });
});

test('cans are those that cost least, and lines, tax and budget add up', () => {
  const { schedule, line, order } = worked();
  const cans = (id: string) => order(id).purchase!.packs.map(({ count, pack }) => [count, pack.size]);
  // Primer, cans of 1, 2.5, 5 l at 21.10, 44, 79 EUR for 4.90 l: 5 = 79; 2 × 2.5 = 88; 2.5 + 3 × 1 = 107.30.
  expect(cans('cabinets primer')).toEqual([[1, 5]]);
  // Paint at 27.80, 58, 104 EUR for 9.02 l: 2 × 5 = 208; 5 + 2.5 + 2 × 1 = 217.60; 5 + 2 × 2.5 = 220; 3 × 2.5 + 2 × 1 = 229.60.
  expect(cans('cabinets finish')).toEqual([[2, 5]]);
  // Walls at 23.50, 49, 88 EUR for 3.67 l: 5 = 88; 4 × 1 = 94; 2.5 + 2 × 1 = 96; 2 × 2.5 = 98.
  expect(cans('walls finish')).toEqual([[1, 5]]);
  // Cents, 19 % VAT in the prices: the tax is price × 19 ÷ 119, each rounded.
  // 7900 → 1261.34; 20800 → 3321.01; 8800 → 1405.04; 4.832 m² × 265 = 128048 → 20444.64; 23 × 950 = 21850 → 3488.66.
  const cost = (id: string) => [line(id).cost!.gross, line(id).cost!.tax];
  expect(cost('cabinets primer')).toEqual([7900, 1261]);
  expect(cost('cabinets finish')).toEqual([20800, 3321]);
  expect(cost('walls finish')).toEqual([8800, 1405]);
  expect(cost('counter finish')).toEqual([128048, 20445]);
  expect(cost('hardware finish')).toEqual([21850, 3489]);
  // 79 + 208 + 88 + 1280.48 + 218.50 = 1873.98; 12.61 + 33.21 + 14.05 + 204.45 + 34.89 = 299.21; 2600 − 1873.98 = 726.02.
  expect(schedule.total).toEqual({ gross: 187398, tax: 29921, net: 187398 - 29921 });
  expect(schedule.budget).toEqual({ amount: 260000, left: 72602 });
  expect(schedule.leftOut).toEqual([]);
});

test('each line is ordered so that it is there on the day it is needed', () => {
  const { order } = worked();
  const orderBy = (id: string) => order(id).delivery.orderBy;
  // Calendar days back, then to the working day before. 2027-01-01 is a Friday.
  expect(orderBy('cabinets primer')).toBe('2027-01-01'); // Mon 4 Jan − 3 = Fri 1 Jan
  expect(orderBy('cabinets finish')).toBe('2026-12-31'); // Tue 5 Jan − 5 = Thu 31 Dec
  expect(orderBy('walls finish')).toBe('2026-12-25'); // Mon 28 Dec − 2 = Sat 26 Dec
  expect(orderBy('counter finish')).toBe('2027-01-08'); // Wed 20 Jan − 10 = Sun 10 Jan
  expect(orderBy('hardware finish')).toBe('2027-01-15'); // by Thu 21 Jan, the finish-by date; − 5 = Sat 16 Jan
});

test('what is fixed has no line, what is open has one without a finish, and says so', () => {
  const asked = jobSchedule(sampleKitchen());
  const schedule = finishSchedule({ ...asked.rules, today: TODAY });
  expect(asked.surfaces.map(({ itemIds }) => itemIds.length)).toEqual([1, 1, 0, 1, 0, 1]);
  expect(schedule.orders).toEqual([]);
  expect(schedule.total.gross).toBe(0);
  expect(schedule.leftOut).toHaveLength(4);
  expect(schedule.leftOut[0]).toBe('Kitchen, Cabinets: no finish is chosen');
});
