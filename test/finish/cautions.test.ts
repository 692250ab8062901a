import { describe, expect, test } from 'vitest';
import { APPLICATIONS, LEAD_YEAR, STEP_TASKS, WORK_KINDS, cautionsFor } from '#lib/finish/index.ts';
import type { CautionedStep } from '#lib/finish/index.ts';
import { everything, plan, surface } from './plan-work.ts';

const step = (given: Partial<CautionedStep>): CautionedStep => ({
  task: 'sand',
  kind: 'paint cabinets',
  application: 'brush and roller',
  twoPart: false,
  solventBased: false,
  ...given,
});
const ids = (given: Partial<CautionedStep>, yearBuilt: number | null = 2005) =>
  cautionsFor(step(given), { yearBuilt }).map(({ id }) => id);

describe('lead', () => {
  // Federal Register 73, 21692 (22 April 2008), final rule on 40 CFR 745, subpart E: housing built before 1978.
  test('is named before old paint is disturbed, in houses built before 1978', () => {
    expect(LEAD_YEAR).toBe(1978);
    for (const task of ['sand', 'dust off', 'holes', 'lay tiles', 'lay floor'] as const) {
      expect(ids({ task }, 1977)[0], task).toBe('lead');
      expect(ids({ task }, 1978), task).not.toContain('lead');
    }
    expect(ids({ task: 'clean' }, 1900)).not.toContain('lead');
  });

  test('a year that is not known, or cannot be, counts as old and is said', () => {
    for (const year of [null, 0, 3000, 1950.5, NaN]) {
      const [first] = cautionsFor(step({}), { yearBuilt: year });
      expect(first.id).toBe('lead');
      expect(first.words).toMatch(/^The year of the house is not known, so it counts as old\./);
      expect(first.source).toContain('40 CFR 745, subpart E');
    }
    expect(cautionsFor(step({}), { yearBuilt: 1931 })[0].words).toMatch(/^Built 1931\./);
  });

  test('dust of sanding between coats is named where there is any', () => {
    expect(ids({ task: 'coat', kind: 'paint cabinets' }, 2020)).toContain('dust');
    expect(ids({ task: 'coat', kind: 'paint walls' }, 2020)).not.toContain('dust');
  });

  test('other dust is named in new houses too', () => {
    expect(ids({ task: 'sand' }, 2020)).toContain('dust');
  });
});

describe('paint', () => {
  test('sprayed paint asks for air and a respirator that fits, brushed paint does not', () => {
    for (const application of APPLICATIONS) {
      for (const task of ['prime', 'coat'] as const)
        expect(ids({ task, application }).includes('spraying')).toBe(application !== 'brush and roller');
      expect(ids({ task: 'sand', application })).not.toContain('spraying');
    }
    const [spraying] = cautionsFor(step({ task: 'coat', application: 'HVLP' }), { yearBuilt: 2005 });
    expect(spraying.words).toContain('tested for fit');
    expect(spraying.source).toContain('29 CFR 1910.134');
  });

  test('hardeners and rags are named unless somebody said there are none', () => {
    const priming = { task: 'prime', kind: 'paint cabinets' } as const;
    expect(ids(priming)).toEqual([]);
    expect(ids({ ...priming, twoPart: true, solventBased: true })).toEqual([
      'two parts',
      'rags',
      'local rules',
    ]);
    const unknown = cautionsFor(step({ task: 'coat', twoPart: null, solventBased: null }), {
      yearBuilt: 2005,
    });
    expect(unknown[0].words).toMatch(/^If the paint has two parts: /);
    expect(unknown[1].words).toMatch(/^If the paint holds oil or solvent: /);
  });
});

describe('stone, height and services', () => {
  test('stand where they belong', () => {
    expect(ids({ task: 'fit counter', kind: 'fit counter' })).toEqual(['silica', 'services', 'local rules']);
    expect(ids({ task: 'template', kind: 'fit counter' })).toEqual(['services', 'local rules']);
    expect(ids({ task: 'lay tiles', kind: 'tile' })).toEqual(['silica', 'hidden lines', 'local rules']);
    expect(ids({ task: 'coat', kind: 'paint ceiling' })).toEqual(['ladder', 'local rules']);
    expect(ids({ task: 'lay floor', kind: 'lay floor' }, 1960)).toContain('asbestos');
    const silica = cautionsFor(step({ task: 'grout', kind: 'tile' }), { yearBuilt: 2005 })[0];
    expect(silica.source).toContain('29 CFR 1926.1153');
  });
});

test('every caution has words and a source, each once, and local rules have the last word', () => {
  for (const task of STEP_TASKS)
    for (const [kind, known] of [...WORK_KINDS, null].flatMap(
      (one) =>
        [
          [one, null],
          [one, true],
        ] as const,
    ))
      for (const application of APPLICATIONS) {
        const cautions = cautionsFor(
          { task, kind, application, twoPart: known, solventBased: known },
          { yearBuilt: null },
        );
        expect(new Set(cautions.map(({ id }) => id)).size).toBe(cautions.length);
        for (const { words, source } of cautions) {
          expect(words.length).toBeGreaterThan(20);
          expect(source.length).toBeGreaterThan(5);
          expect(words).toMatch(/^[A-Z].*\.$/);
        }
        if (cautions.length > 0) expect(cautions.at(-1)!.id).toBe('local rules');
      }
});

test('a plan carries them at its steps', () => {
  const made = plan([...everything, surface({ id: 's', area: 3, application: 'airless' })], {
    yearBuilt: null,
  });
  const at = (id: string) => made.steps.find((one) => one.id === id)!;
  expect(at('cab/sand-fronts').cautions[0].id).toBe('lead');
  expect(at('s/coat-1').cautions[0].id).toBe('spraying');
  expect(at('cab/sand-fronts').description).toContain('Caution: The year of the house is not known');
});
