import fs from 'node:fs';
import path from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  OBSERVER_2,
  WHITE_D65_10,
  WHITE_RGB,
  cat16Matrix,
  daylight,
  deltaE2000,
  labToXyz,
  linearRgbToXyz,
  spectrumToXyz,
  transform,
  whitePoint,
  xyzToLab,
  xyzToLinearRgb,
} from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { relationDifference, relationLog, relationReport, relationTable } from '#lib/finish/index.ts';
import { generator } from './chance.ts';

/** Rows of a published table with one column per surface, 81 reflectances each. */
function reflectances(name: string): number[][] {
  const file = path.join(import.meta.dirname, '../fixtures/published', name);
  const lines = fs.readFileSync(file, 'utf8').trim().split('\n');
  const rows = lines.filter((line) => !line.startsWith('#')).slice(1);
  const cells = rows.map((line) => line.split(',').slice(1).map(Number));
  return cells[0].map((_, k) => cells.map((row) => Math.min(1, Math.max(0, row[k]))));
}

const CAMERA_BALANCE = 6500;
const CAMERA_WHITE = whitePoint(daylight(CAMERA_BALANCE), OBSERVER_2);
const TO_SRGB_WHITE = cat16Matrix({ from: CAMERA_WHITE, to: WHITE_RGB, degree: 1 });

/**
 * A surface as a picture shows it: lit by daylight of a colour temperature, taken by a camera that stays at 6,500 K,
 * exposed, cut to what sRGB holds. Unexposed by less than a step of 8 bits: a place is the mean of many pixels.
 */
function delivered(
  reflectance: readonly number[],
  {
    kelvin = CAMERA_BALANCE,
    exposure = 1,
    gains = [1, 1, 1],
  }: { kelvin?: number; exposure?: number; gains?: readonly number[] } = {},
): Lab {
  const { X, Y, Z } = spectrumToXyz(reflectance, { illuminant: daylight(kelvin), observer: OBSERVER_2 });
  const [x, y, z] = transform(TO_SRGB_WHITE, [X, Y, Z]);
  const { r, g, b } = xyzToLinearRgb({ X: x, Y: y, Z: z }, 'srgb');
  const [red, green, blue] = [r, g, b].map((value, k) =>
    Math.min(1, Math.max(0, value * exposure * gains[k])),
  );
  return xyzToLab(linearRgbToXyz({ r: red, g: green, b: blue }, 'srgb'), WHITE_RGB);
}

/** Surfaces of ordinary rooms among measured ones: no strong colours, no blacks. */
const SURFACES = [...reflectances('reflectance_training190.csv'), ...reflectances('target24_reflectance.csv')]
  .map((reflectance) => ({ reflectance, lab: delivered(reflectance) }))
  .filter(({ lab }) => Math.hypot(lab.a, lab.b) < 35 && lab.L > 15);

const ROOMS = 40;
const SCHEMES = 60;
const PLACES = 4;

/** Rooms of four places with sixty schemes each: two thirds near the inspiration, one third of anything. */
function rooms() {
  const { uniform, normal } = generator(99);
  const any = () => SURFACES[Math.floor(uniform() * SURFACES.length)];
  return Array.from({ length: ROOMS }, () => {
    const places = Array.from({ length: PLACES }, any);
    const near = (lab: Lab): Lab => ({
      L: Math.min(97, Math.max(8, lab.L + 6 * normal())),
      a: lab.a + 5 * normal(),
      b: lab.b + 5 * normal(),
    });
    const schemes = Array.from({ length: SCHEMES }, (_, k) =>
      places.map(({ lab }) => (k < (2 * SCHEMES) / 3 ? near(lab) : any().lab)),
    );
    return { reflectances: places.map(({ reflectance }) => reflectance), schemes };
  });
}

type PairLog = (a: Lab, b: Lab, A: Lab, B: Lab) => number;

/** Mean ln desirability of a scheme over its pairs. */
function score(scheme: readonly Lab[], inspiration: readonly Lab[], log: PairLog): number {
  let sum = 0;
  for (let i = 0; i < PLACES; i++)
    for (let j = i + 1; j < PLACES; j++) sum += log(scheme[i], scheme[j], inspiration[i], inspiration[j]);
  return sum / ((PLACES * (PLACES - 1)) / 2);
}

/**
 * Of two schemes that change places when the picture changes, how far they were apart (ln desirability): the largest over
 * all rooms. Everything farther apart keeps its order. And the share of all pairs that change places.
 */
function disorder(change: Parameters<typeof delivered>[1], log: PairLog): { largest: number; share: number } {
  let largest = 0;
  let changed = 0;
  let count = 0;
  for (const room of rooms()) {
    const before = room.reflectances.map((one) => delivered(one));
    const after = room.reflectances.map((one) => delivered(one, change));
    const scores = room.schemes.map((scheme) => [score(scheme, before, log), score(scheme, after, log)]);
    for (let i = 0; i < SCHEMES; i++) {
      for (let j = 0; j < i; j++) {
        count++;
        const gap = scores[i][0] - scores[j][0];
        if (gap * (scores[i][1] - scores[j][1]) > 0) continue;
        changed++;
        largest = Math.max(largest, Math.abs(gap));
      }
    }
  }
  return { largest, share: changed / count };
}

/** The plain difference of CIELAB differences, judged by the same curve: what a picture's exposure does to it. */
const plain: PairLog = (a, b, A, B) => {
  const expected = { L: b.L + A.L - B.L, a: b.a + A.a - B.a, b: b.b + A.b - B.b };
  const difference = deltaE2000(expected, a);
  return Math.log(Math.max(0.01, difference <= 2 ? 1 : Math.max(0, (100 - difference) / 98) ** 8));
};

const lab = fc.record({
  L: fc.double({ min: 12, max: 96, noNaN: true }),
  a: fc.double({ min: -18, max: 18, noNaN: true }),
  b: fc.double({ min: -15, max: 25, noNaN: true }),
});

describe('the order of schemes by their relations', () => {
  // Only schemes closer than this (ln desirability: 0.08 is 8 %) may change places. Exposure alone is undone exactly, but for
  // what a picture cuts off; another daylight is not quite a gain on each channel.
  const changes = [
    { name: 'made 20 % darker', change: { exposure: 0.8 }, epsilon: 0.03 },
    { name: 'made 500 K warmer', change: { kelvin: 6000 }, epsilon: 0.08 },
    { name: 'made 20 % darker and 500 K warmer', change: { exposure: 0.8, kelvin: 6000 }, epsilon: 0.08 },
    { name: 'warmed in editing', change: { gains: [1, 0.96, 0.88] }, epsilon: 0.08 },
    { name: 'made 500 K cooler', change: { kelvin: 7000 }, epsilon: 0.08 },
  ];
  for (const { name, change, epsilon } of changes) {
    test(`stays when the inspiration is ${name}`, () => {
      const ours = disorder(change, relationLog);
      expect(ours.largest).toBeLessThan(epsilon);
      expect(ours.share).toBeLessThan(0.008);
      // Plain differences, under the same curve, are what this must beat.
      expect(disorder(change, plain).largest).toBeGreaterThan(1.9 * ours.largest);
    });
  }
});

describe('relationDifference', () => {
  test('does not change under any gain on the channels of the picture, as long as nothing is cut off', () => {
    const channel = fc.double({ min: 0.5, max: 1.6, noNaN: true });
    const under = (colour: Lab, [r, g, b]: readonly number[]): Lab => {
      const { X, Y, Z } = labToXyz(colour, WHITE_D65_10);
      const linear = xyzToLinearRgb({ X, Y, Z }, 'rec2020');
      const gained = linearRgbToXyz({ r: linear.r * r, g: linear.g * g, b: linear.b * b }, 'rec2020');
      return xyzToLab(gained, WHITE_D65_10);
    };
    fc.assert(
      fc.property(lab, lab, lab, lab, fc.tuple(channel, channel, channel), (a, b, A, B, gains) => {
        const { r, g, b: blue } = xyzToLinearRgb(labToXyz(A, WHITE_D65_10), 'rec2020');
        const other = xyzToLinearRgb(labToXyz(B, WHITE_D65_10), 'rec2020');
        fc.pre(Math.min(r, g, blue, other.r, other.g, other.b) > 0.002);
        const before = relationDifference({ a, b }, { a: A, b: B });
        const after = relationDifference({ a, b }, { a: under(A, gains), b: under(B, gains) });
        expect(Math.abs(after - before)).toBeLessThan(1e-6 * Math.max(1, before));
      }),
    );
  });

  test('is 0 for the inspiration itself, and the same whichever surface comes first', () => {
    fc.assert(
      fc.property(lab, lab, lab, lab, (a, b, A, B) => {
        expect(relationDifference({ a: A, b: B }, { a: A, b: B })).toBeLessThan(1e-6);
        const difference = relationDifference({ a, b }, { a: A, b: B });
        expect(relationDifference({ a: b, b: a }, { a: B, b: A })).toBeCloseTo(difference, 9);
      }),
    );
  });

  test('says what CIEDE2000 says of the difference between steps, for ordinary rooms', () => {
    const { uniform, normal } = generator(7);
    const pick = () => SURFACES[Math.floor(uniform() * SURFACES.length)].lab;
    const ours: number[] = [];
    const plainly: number[] = [];
    for (let k = 0; k < 2000; k++) {
      const [A, B] = [pick(), pick()];
      const size = 8 * uniform();
      const by = (c: Lab): Lab => ({
        L: c.L + size * normal(),
        a: c.a + size * normal(),
        b: c.b + size * normal(),
      });
      const [a, b] = [by(A), by(B)];
      const one = deltaE2000({ L: b.L + A.L - B.L, a: b.a + A.a - B.a, b: b.b + A.b - B.b }, a);
      const other = deltaE2000({ L: a.L + B.L - A.L, a: a.a + B.a - A.a, b: a.b + B.b - A.b }, b);
      ours.push(relationDifference({ a, b }, { a: A, b: B }));
      plainly.push((one + other) / 2);
    }
    const mean = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
    const [x, y] = [mean(ours), mean(plainly)];
    const product = mean(ours.map((value, k) => (value - x) * (plainly[k] - y)));
    const spread = (values: number[], m: number) => Math.sqrt(mean(values.map((value) => (value - m) ** 2)));
    expect(product / spread(ours, x) / spread(plainly, y)).toBeGreaterThan(0.95);
    expect(x / y).toBeGreaterThan(0.93);
    expect(x / y).toBeLessThan(1.07);
  });

  test('stays finite for blacks and for colours no surface can have', () => {
    const black = { L: 0, a: 0, b: 0 };
    const unreal = { L: 5, a: 60, b: -90 };
    for (const [a, b] of [
      [black, black],
      [black, unreal],
      [unreal, { L: 100, a: 0, b: 0 }],
    ]) {
      expect(relationDifference({ a, b }, { a: b, b: a })).toBeGreaterThanOrEqual(0);
      expect(Number.isFinite(relationLog(a, b, b, a))).toBe(true);
    }
    expect(() => relationLog(black, black, black, { L: Number.NaN, a: 0, b: 0 })).toThrow(RangeError);
  });
});

describe('relationTable', () => {
  test('holds what relationLog says of each pair, a row for each option of the first surface', () => {
    const first = SURFACES.slice(0, 3).map(({ lab: one }) => one);
    const second = SURFACES.slice(10, 14).map(({ lab: one }) => one);
    const [a, b] = [SURFACES[20].lab, SURFACES[31].lab];
    const table = relationTable(first, second, { a, b });
    expect(table).toHaveLength(12);
    first.forEach((one, i) =>
      second.forEach((other, j) => expect(table[4 * i + j]).toBe(relationLog(one, other, a, b))),
    );
  });
});

describe('relationReport', () => {
  const cabinets = {
    surfaceName: 'Cabinets',
    lab: { L: 42, a: -6, b: 8 },
    inspiration: { L: 45, a: -12, b: 10 },
  };
  const walls = { surfaceName: 'Walls', lab: { L: 88, a: 0, b: 6 }, inspiration: { L: 86, a: 0, b: 6 } };
  const floor = { surfaceName: 'Floor', lab: { L: 72, a: 5, b: 16 }, inspiration: { L: 40, a: 9, b: 20 } };

  test('says which step is there, that it is the inspiration’s, and what would repeat it', () => {
    const { relations } = relationReport([{ first: cabinets, second: walls, weight: 1 }]);
    expect(relations[0].sentence).toMatch(
      /^“Cabinets” is darker than “Walls”, as in the inspiration; to repeat that step “Cabinets” would be .*(greener|more colourful)/,
    );
    expect(relations[0].number).toBe(`difference ${relations[0].difference.toFixed(1)}`);
  });

  test('says where a step goes the other way, and never asks a held surface to change', () => {
    const turned = { ...floor, lab: { L: 30, a: 2, b: 5 }, inspiration: { L: 80, a: 2, b: 10 } };
    const pair = { first: turned, second: { ...cabinets, held: true }, weight: 1 };
    const [forth] = relationReport([pair]).relations;
    expect(forth.sentence).toMatch(
      /^“Floor” is darker than “Cabinets”, while in the inspiration it is lighter; .*“Floor” would be much lighter/,
    );
    expect(forth.kind).toBe('another');
    const [back] = relationReport([{ first: pair.second, second: pair.first, weight: 1 }]).relations;
    expect(back.sentence).toContain('“Floor” would be much lighter');
  });

  test('puts what costs most first and gives the weighted geometric mean', () => {
    const { relations, desirability, headline } = relationReport(
      [
        { first: cabinets, second: walls, weight: 1 },
        { first: cabinets, second: floor, weight: 0.5 },
        { first: walls, second: { ...walls, surfaceName: 'Trim' }, weight: 1 },
      ],
      { targetName: 'the picture' },
    );
    expect(relations.map(({ secondName }) => secondName)).toEqual(['Floor', 'Walls', 'Trim']);
    expect(relations[2].sentence).toBe(
      '“Walls” and “Trim” are much the same as each other, just as in the picture.',
    );
    const product = relations.reduce((all, one) => all * one.desirability ** one.weight, 1);
    expect(desirability).toBeCloseTo(product ** (1 / 2.5), 12);
    expect(headline).toMatch(/^Keeps \d of 3 steps of the picture closely$/);
    expect(relationReport([]).desirability).toBeNull();
  });
});
