import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { committedPriors, unpackPriors } from '../../src/lib/photo/prior.ts';
import {
  CALIBRATION,
  JUDGED,
  TEST_FOLD,
  calibrationOf,
  holdOut,
  judge,
  summarise,
} from '../authoring/train/photo-judging.ts';
import type { Judged, Method, Results } from '../authoring/train/photo-judging.ts';

/**
 * How true corrected colours are, on simulated photographs with cameras, lamps and surfaces that the prior under test
 * has never seen: two of the eight cameras, every second lamp, 60 of the 190 surfaces. The prior that is shipped
 * learned from all of them, so another one, learned without, stands in for it (photo-prior.ts --apart).
 *
 * The bars are goals set beforehand, mean and 95th percentile of CIEDE2000 against D65/10 truth.
 */

const apart = unpackPriors(
  JSON.parse(
    readFileSync(new URL('../fixtures/learned/correction-prior-apart.json', import.meta.url), 'utf8'),
  ),
);

const developments = Object.values(JUDGED);

function photographs(priors: typeof apart): Results {
  const parts = developments.map((development, i) =>
    judge(
      { seed: 900 + i, ...holdOut(TEST_FOLD).judge, vary: false, development },
      { photos: 36, surfaces: 16, priors },
    ),
  );
  const methods = Object.keys(parts[0]) as Method[];
  return Object.fromEntries(
    methods.map((method) => [method, parts.flatMap((part) => part[method])]),
  ) as Results;
}

const results = photographs(apart);

const bars: Partial<Record<Method, readonly [number, number]>> = {
  white: [2.8, 7.0],
  five: [2.4, 6.0],
  target: [1.85, 5.4],
};

for (const [method, [mean, p95]] of Object.entries(bars)) {
  test(`${method}: corrected colours are within the bar on what was never seen`, () => {
    const summary = summarise(results[method as Method], calibrationOf(method as Method));
    expect(summary.mean).toBeLessThanOrEqual(mean);
    expect(summary.p95).toBeLessThanOrEqual(p95);
  });
}

test('nothing known: still nearer the truth than the file as delivered', () => {
  const { mean } = summarise(results.nothing);
  expect(mean).toBeLessThanOrEqual(5.5);
  expect(mean).toBeLessThan(summarise(results['as delivered']).mean - 1);
});

test('a white reference is worth much more than its gains alone', () => {
  const gains = summarise(results.gains);
  const white = summarise(results.white);
  expect(white.mean).toBeLessThan(0.75 * gains.mean);
  expect(white.p95).toBeLessThan(0.75 * gains.p95);
  expect(1 - white.nearest).toBeLessThan(0.8 * (1 - gains.nearest));
});

test('every further reference brings the colours nearer', () => {
  const order = (['nothing', 'white', 'five', 'target'] as const).map(
    (method) => summarise(results[method]).mean,
  );
  expect([...order].sort((a, b) => b - a)).toEqual(order);
});

test('the stated 95 % region covers the truth in 90 to 98 % of cases', () => {
  for (const method of ['nothing', 'white', 'paints', 'five', 'target'] as const) {
    const { coverage } = summarise(results[method], calibrationOf(method));
    expect(coverage, method).toBeGreaterThanOrEqual(0.9);
    expect(coverage, method).toBeLessThanOrEqual(0.98);
  }
});

test('the stated doubt is no wider than it must be', () => {
  // Colours of rooms; strong colours (chroma above 25) are honestly more doubtful in CIELAB units.
  const calm = (judged: readonly Judged[]) => judged.filter(({ chroma }) => chroma < 25);
  expect(summarise(calm(results.white), CALIBRATION.neutral).deviation).toBeLessThan(2.1);
  expect(summarise(calm(results.five), CALIBRATION.neutral).deviation).toBeLessThan(1.5);
  expect(summarise(calm(results.target), CALIBRATION.neutral).deviation).toBeLessThan(1.35);
});

test('the shipped prior does at least as well, and states its doubt in the same way', () => {
  const shipped = photographs(committedPriors());
  for (const method of ['nothing', 'white', 'five', 'target'] as const) {
    expect(summarise(shipped[method]).mean, method).toBeLessThan(summarise(results[method]).mean + 0.1);
  }
  const { neutral, coloured, picture } = committedPriors();
  const stated = {
    neutral: neutral.calibration,
    coloured: coloured.calibration,
    picture: picture.calibration,
  };
  expect(stated).toEqual(CALIBRATION);
});
