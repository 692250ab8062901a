import { describe, expect, test } from 'vitest';
import { observationOrigins, shortlistInput, swatchBusyness, type Job } from '#lib/job/index.ts';
import { kitchen } from './kitchen.ts';

const square = {
  kind: 'polygon' as const,
  points: [
    [0, 0],
    [9, 0],
    [9, 9],
    [0, 9],
  ] as [number, number][],
};

function withReference(kind: 'white paper' | 'grey card' | 'finish' | 'target24', swatchId?: string): Job {
  const job = kitchen();
  job.photos.day.references = {
    known: { id: 'known', order: 1, kind, region: square, swatchId: swatchId ?? null },
  };
  return job;
}

const hasWhite = (job: Job) =>
  observationOrigins(job, 'cabinets').origins.find(({ swatchId }) => swatchId === 'granite')!.photoHasWhite;

describe('where the colours of a ranking came from', () => {
  test('is listed once for every candidate and fixed finish that takes part', () => {
    const job = kitchen();
    const { input } = shortlistInput(job, 'cabinets');
    const { origins } = observationOrigins(job, 'cabinets');
    const taking = [...input.candidates, ...input.fixed.map(({ finish }) => finish)].map(({ id }) => id);
    expect(origins.map(({ swatchId }) => swatchId)).toEqual([...new Set(taking)]);
    expect(origins.find(({ swatchId }) => swatchId === 'sage')).toMatchObject({
      source: 'instrument',
      photoId: null,
    });
    expect(origins.find(({ swatchId }) => swatchId === 'granite')).toMatchObject({
      photoId: 'day',
      photoName: job.photos.day.name,
    });
  });

  test('says whether something in the photo is known well enough to correct it by', () => {
    const bare = kitchen();
    bare.photos.day.references = {};
    expect(hasWhite(bare)).toBe(false);
    for (const kind of ['white paper', 'grey card', 'target24'] as const)
      expect(hasWhite(withReference(kind))).toBe(true);
    expect(hasWhite(withReference('finish', 'sage'))).toBe(true);
    // A finish without a colour yet corrects nothing.
    const colourless = withReference('finish', 'sage');
    colourless.swatches.sage.samples = {};
    expect(hasWhite(colourless)).toBe(false);
  });

  test('names no photo that is gone', () => {
    const job = kitchen();
    job.photos = {};
    const { origins, target } = observationOrigins(job, 'cabinets');
    expect(origins.every(({ photoId }) => photoId === null)).toBe(true);
    expect(target).toMatchObject({ source: 'photo', photoId: null });
  });

  test('of the target is its photo or its finish; a typed one is taken at its word', () => {
    const job = kitchen();
    expect(observationOrigins(job, 'cabinets').target).toMatchObject({ source: 'photo', photoId: 'day' });
    job.surfaces.cabinets.target = { kind: 'finish', swatchId: 'granite' };
    expect(observationOrigins(job, 'cabinets').target).toMatchObject({ photoId: 'day' });
    const { lab, covariance } = job.swatches.sage.samples.s1.colours[0];
    job.surfaces.cabinets.target = { kind: 'colour', estimate: { lab, covariance }, words: '#808080' };
    expect(observationOrigins(job, 'cabinets').target).toBeNull();
    job.surfaces.cabinets.target = null;
    expect(observationOrigins(job, 'cabinets').target).toBeNull();
  });
});

test('sentences call the target what it is', () => {
  const job = kitchen();
  const name = () => shortlistInput(job, 'cabinets').input.targetName;
  job.photos.day.role = 'inspiration';
  expect(name()).toBe('the inspiration');
  job.photos.day.role = 'room';
  expect(name()).toBe('the aim');
  job.surfaces.cabinets.target = { kind: 'finish', swatchId: 'sage' };
  expect(name()).toBe('sage');
});

test('busyness is what was measured, nothing for plain paint, and not known of a stone nobody measured', () => {
  const { granite, sage } = kitchen().swatches;
  expect(swatchBusyness(sage)).toBe(0);
  expect(swatchBusyness(granite)).toBeNull();
  granite.samples.s2 = {
    ...granite.samples.s1,
    id: 's2',
    order: 2,
    pattern: { width: 800, measured: false, busyness: 19, distance: 1500 },
  };
  expect(swatchBusyness(granite)).toBe(19);
});
