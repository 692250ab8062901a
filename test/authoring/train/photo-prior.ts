/**
 * Learns what the photo correction knows beforehand, and writes src/lib/photo/data/correction-prior.ts.
 *
 *   node test/authoring/train/photo-prior.ts            learn from all cameras, lamps and surfaces; write the table
 *   node test/authoring/train/photo-prior.ts --judge    leave two cameras, half the lamps, a third of the surfaces out
 *                                                       in turn; print how the rest does on them; write nothing
 *   node test/authoring/train/photo-prior.ts --apart     learn from fold 2's share only and write the table that
 *                                                       test/photo/correction.test.ts judges on the rest
 *
 * Sources: see photo-simulation.ts. Fixed seeds: the same table comes out, byte for byte, on the same engine.
 */
import { writeFileSync } from 'node:fs';
import { ILLUMINANT_NAMES } from '#lib/colour/index.ts';
import type { PackedPriors } from '../../../src/lib/photo/prior.ts';
import { unpackPriors } from '../../../src/lib/photo/prior.ts';
import {
  CALIBRATION,
  JUDGED,
  METHODS,
  TEST_FOLD,
  calibrationOf,
  holdOut,
  judge,
  summarise,
  summaryLine,
} from './photo-judging.ts';
import type { HoldOut, Judged, Method } from './photo-judging.ts';
import { learnPriors } from './photo-learning.ts';
import { CAMERAS, LEARNING, SURFACES } from './photo-simulation.ts';

const option = (name: string, fallback: number): number => {
  const found = process.argv.find((argument) => argument.startsWith(`--${name}=`));
  return found ? Number(found.slice(name.length + 3)) : fallback;
};
const photos = option('photos', 3000);
const rounds = option('rounds', 12);
const report = (line: string) => console.log(line);

if (process.argv.includes('--judge')) judgeHeldOut();
else if (process.argv.includes('--apart')) writeApart();
else writeTable();

function calibrated(table: PackedPriors): PackedPriors {
  return {
    neutral: { ...table.neutral, calibration: CALIBRATION.neutral },
    coloured: { ...table.coloured, calibration: CALIBRATION.coloured },
    picture: { ...table.picture, calibration: CALIBRATION.picture },
    pictureGains: table.pictureGains,
  };
}

function learnFrom(share: HoldOut['learn'], seed: number, say: (line: string) => void): PackedPriors {
  const world = { seed, ...share, vary: true, development: LEARNING };
  return calibrated(learnPriors(world, { photos, rounds, report: say }));
}

function write(place: string, text: string): void {
  writeFileSync(new URL(place, import.meta.url), text);
  console.log(`wrote ${text.length} bytes`);
}

function writeApart(): void {
  const table = learnFrom(holdOut(TEST_FOLD).learn, 20240, report);
  const { learn } = holdOut(TEST_FOLD);
  const source = `Learned by test/authoring/train/photo-prior.ts --apart without cameras ${holdOut(TEST_FOLD)
    .judge.cameras.map((i) => i + 1)
    .join(
      ' and ',
    )}, from ${learn.lamps.length} lamps and ${learn.surfaces.length} surfaces; sources as in photo-simulation.ts`;
  const text = JSON.stringify({ source, ...table }, null, 2) + '\n';
  write('../../fixtures/learned/correction-prior-apart.json', text);
}

function writeTable(): void {
  const everything = { cameras: CAMERAS.map((_, i) => i), lamps: ILLUMINANT_NAMES, surfaces: SURFACES };
  const table = learnFrom(everything, 20240, report);
  const text = `// What cameras are like before the first reference is seen: learned by test/authoring/train/photo-prior.ts.
// Sources of what it learned from: camera sensitivities and 190 reflectances, Academy (AMPAS), RAWtoACES
// (AcademySoftwareFoundation/rawtoaces-data e9b8503cf8a0641f40e5345d9757bde60c15f423, Apache-2.0); CIE illuminants.
// Base64 of little-endian 32-bit floats; sizes and order as prior.ts says. Do not edit: run the script.
import type { PackedPriors } from '../prior.ts';

/** The learned priors, packed; prior.ts opens them. */
export const CORRECTION_PRIOR: PackedPriors = ${JSON.stringify(table, null, 2)};
`;
  write('../../../src/lib/photo/data/correction-prior.ts', text);
}

function judgeHeldOut(): void {
  const folds = option('folds', 4);
  const all = new Map<string, Record<Method, Judged[]>>();
  for (let fold = option('first', 0); fold < folds; fold++) {
    const { learn, judge: apart } = holdOut(fold);
    const table = learnFrom(learn, 20240 + 100 * fold, () => {});
    const priors = unpackPriors(table);
    for (const [name, development] of Object.entries(JUDGED)) {
      const results = judge(
        { seed: 5000 + fold, ...apart, vary: false, development },
        { photos: option('judged', 150), surfaces: 30, priors },
      );
      const sum = all.get(name);
      if (sum) for (const method of METHODS) sum[method].push(...results[method]);
      else all.set(name, results);
      console.log(`fold ${fold + 1}, ${name}`);
      for (const method of METHODS)
        console.log(`  ${summaryLine(method, summarise(results[method], calibrationOf(method)))}`);
    }
  }
  console.log('all folds');
  for (const [name, results] of all) {
    console.log(name);
    for (const method of METHODS)
      console.log(`  ${summaryLine(method, summarise(results[method], calibrationOf(method)))}`);
  }
  for (const f of [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.2]) {
    for (const n of [0.85, 1, 1.15, 1.3, 1.5]) {
      const line = (['nothing', 'white', 'paints', 'five', 'target'] as const).map((method) => {
        const parts = [...all.values()].map((results) =>
          summarise(results[method], { function: f, noise: n }),
        );
        return `${method} ${parts.map((s) => `${s.coverage.toFixed(3)} (${s.deviation.toFixed(2)})`).join(' ')}`;
      });
      console.log(`function ${f}, noise ${n}: ${line.join('; ')}`);
    }
  }
}
