import { describe, expect, test } from 'vitest';
import type { SurfaceKind, SurfaceMask } from '#lib/job/index.ts';
import { parseJob } from '#lib/job/index.ts';
import { encodeMask } from '#lib/photo/index.ts';
import { finishSource, patternPiece, roomScene, type SceneSurface } from '../../src/lib/studio/room-scene.ts';
import { kitchen } from '../job/kitchen.ts';

const CORNERS: SurfaceMask['plane'] = {
  corners: [
    [40, 20],
    [120, 20],
    [140, 60],
    [20, 60],
  ],
  width: 2400,
  height: 600,
};

function maskOf(id: string, fields: Partial<SurfaceMask> = {}, [width, height] = [1600, 1067]): SurfaceMask {
  const mask = encodeMask({ width, height, data: new Uint8Array(width * height).fill(255, 0, width) });
  return { id, fileId: 'f1', mask, plane: null, ...fields };
}

function marked(...masks: SurfaceMask[]) {
  const job = kitchen();
  job.photos.day.masks = Object.fromEntries(masks.map((mask) => [mask.id, mask]));
  return parseJob(job);
}

function counterOf(plane: SurfaceMask['plane']): SceneSurface {
  const job = marked(maskOf('counter', { plane }));
  return roomScene(job, job.photos.day).surfaces[0];
}

describe('what a photo shows', () => {
  test('marked surfaces come in the order of the job, with the finish that is on the fixed ones', () => {
    const job = marked(maskOf('counter'), maskOf('cabinets'));
    const { surfaces, notes, width, height } = roomScene(job, job.photos.day);
    expect(notes).toEqual([]);
    expect([width, height]).toEqual([1600, 1067]);
    expect(surfaces.map(({ id }) => id)).toEqual(['cabinets', 'counter']);
    expect(surfaces[0]).toMatchObject({ old: null, oldSheen: 'satin', sheenGuessed: true });
    // Two colours by area: 0.7 of (60, 1, 6) and 0.3 of (20, 0, 1).
    expect(surfaces[1].old?.L).toBeCloseTo(48, 9);
    expect(surfaces[1].old?.b).toBeCloseTo(4.5, 9);
    expect(surfaces[1]).toMatchObject({ oldSheen: 'satin', sheenGuessed: false });
  });

  test('a chosen finish is still to come: it is not taken for the one in the photo', () => {
    const job = marked(maskOf('cabinets'));
    Object.assign(job.surfaces.cabinets, { state: 'chosen', swatchId: 'sage' });
    expect(roomScene(job, job.photos.day).surfaces[0].old).toBeNull();
  });

  test('what a chosen finish is to replace is the one in the photo, where it is known', () => {
    const job = marked(maskOf('counter'));
    Object.assign(job.surfaces.counter, { state: 'chosen', swatchId: 'sage', thereId: 'granite' });
    const [counter] = roomScene(job, job.photos.day).surfaces;
    // The mean of granite, as above, and not the light green that is to come.
    expect(counter.old?.L).toBeCloseTo(48, 9);
    job.surfaces.counter.thereId = 'gone';
    expect(roomScene(job, job.photos.day).surfaces[0].old).toBeNull();
  });

  test('surfaces of one name are numbered in the order of the room', () => {
    const job = marked(maskOf('counter'), maskOf('cabinets'));
    job.surfaces.counter.name = 'cabinets ';
    const names = () => roomScene(job, job.photos.day).surfaces.map(({ name }) => name);
    expect(names()).toEqual(['Cabinets 1', 'cabinets 2']);
    job.surfaces.counter.name = 'Counter';
    expect(names()).toEqual(['Cabinets', 'Counter']);
  });

  test('the sheen that is there now counts before that of the finish, and on open surfaces too', () => {
    const job = marked(maskOf('counter'), maskOf('cabinets'));
    job.surfaces.cabinets.sheenNow = 'matt';
    job.surfaces.counter.sheenNow = 'gloss';
    const { surfaces } = roomScene(job, job.photos.day);
    expect(surfaces.map(({ oldSheen }) => oldSheen)).toEqual(['matt', 'gloss']);
    expect(surfaces.map(({ sheenGuessed }) => sheenGuessed)).toEqual([false, false]);
  });

  // Common practice, no published source: walls and ceilings are dull, joinery and floors have a shine.
  test('where no sheen is said the usual one of its kind is taken, and stone has none', () => {
    const sheenOf = (kind: SurfaceKind) => {
      const job = marked(maskOf('cabinets'));
      job.surfaces.cabinets.kind = kind;
      const { oldSheen, sheenGuessed } = roomScene(job, job.photos.day).surfaces[0];
      expect(sheenGuessed).toBe(oldSheen !== null);
      return oldSheen;
    };
    for (const kind of ['walls', 'ceiling'] as const) expect(['flat', 'matt']).toContain(sheenOf(kind));
    for (const kind of ['cabinets', 'island', 'doors', 'trim'] as const)
      expect(['satin', 'semi-gloss']).toContain(sheenOf(kind));
    expect(sheenOf('floor')).toBe('satin');
    for (const kind of ['counter', 'backsplash', 'textiles'] as const) expect(sheenOf(kind)).toBeNull();
  });

  test('a fixed wood is wood, whatever surface it is on', () => {
    const job = marked(maskOf('counter'));
    expect(roomScene(job, job.photos.day).surfaces[0].wooden).toBe(false);
    job.swatches[job.surfaces.counter.swatchId as string].kind = 'wood';
    expect(roomScene(job, job.photos.day).surfaces[0].wooden).toBe(true);
  });

  test('places lit by one light alone count on the picture they were pointed at on, one kind or both', () => {
    const job = marked(maskOf('counter'));
    const places = (fileId: string, lamps: [number, number][]) => {
      job.photos.day.lightPlaces = { fileId, window: [[20, 30]], lamps };
      return roomScene(job, job.photos.day).lightPlaces;
    };
    expect(places('f1', [[40, 50]])).toEqual({ window: [[20, 30]], lamps: [[40, 50]] });
    expect(places('f1', [])).toEqual({ window: [[20, 30]], lamps: [] });
    expect(places('f0', [[40, 50]])).toBeNull();
  });

  test('a mask of another picture or another size is left out and named', () => {
    const job = marked(maskOf('counter', { fileId: 'f0' }), maskOf('cabinets', {}, [320, 213]));
    const { surfaces, notes } = roomScene(job, job.photos.day);
    expect(surfaces).toEqual([]);
    expect(notes).toHaveLength(2);
    expect(notes.join(' ')).toMatch(/replaced after Counter was marked\. The marks are kept but not used/);
    expect(notes.join(' ')).toMatch(/Cabinets was marked on a picture of another size than 1600 by 1067/);
    // Nothing is lost: the job is as it was.
    expect(Object.keys(job.photos.day.masks ?? {})).toEqual(['counter', 'cabinets']);
  });

  test('a photo without marks, and marks of a surface that is gone, show nothing', () => {
    const job = marked(maskOf('ghost'));
    expect(roomScene(job, job.photos.day)).toMatchObject({ surfaces: [], notes: [] });
    delete job.photos.day.masks;
    expect(roomScene(job, job.photos.day)).toMatchObject({ surfaces: [], notes: [] });
  });
});

describe('what a swatch puts there', () => {
  const put = (id: string, surface: SceneSurface, job = kitchen()) =>
    finishSource(job, { swatch: job.swatches[id], surface });
  const cabinets: SceneSurface = { ...counterOf(null), id: 'cabinets', name: 'Cabinets', kind: 'cabinets' };

  test('a paint is one colour; what lies under it is hidden where the surface has a grain', () => {
    expect(put('sage', cabinets)).toMatchObject({
      colour: { L: 62, a: -9, b: 11 },
      sheen: 'satin',
      pattern: null,
      texture: 'hide if any',
      notes: [],
    });
    expect(put('sage', counterOf(null))?.texture).toBe('hide');
    expect(put('sage', { ...counterOf(null), kind: 'trim', wooden: true })?.texture).toBe('hide');
  });

  test('doors that are known to be wood keep the gaps between them under paint', () => {
    for (const kind of ['cabinets', 'island', 'doors'] as const)
      for (const wooden of [true, false])
        expect(put('sage', { ...cabinets, kind, wooden })?.texture).toBe('hide if any');
    expect(put('sage', { ...cabinets, kind: 'walls' })?.texture).toBe('none');
  });

  test('a swatch without a sample has nothing to put on', () => {
    expect(put('bare', cabinets)).toBeNull();
  });

  test('a stone brings its pattern where the corners of the surface are marked, and says how large it takes it to be', () => {
    const found = put('granite', counterOf(CORNERS));
    // 40 x 20 pixels of the photo are taken for 600 mm across.
    expect(found?.pattern).toMatchObject({ width: 600, height: 300, repeat: 'quilted', tone: null });
    expect(found?.pattern?.source.fileId).toBe('f1');
    expect(found?.notes.join(' ')).toMatch(/taken to be 600 mm wide/);
    const job = kitchen();
    job.swatches.granite.samples.s1.pattern = { width: 1000, measured: true, busyness: 3, distance: 1500 };
    const known = put('granite', counterOf(CORNERS), job);
    expect(known?.pattern).toMatchObject({ width: 1000, height: 500 });
    expect(known?.notes).toEqual([]);
  });

  test('without corners, or without a photo of it, a stone is shown in its mean colour and says why', () => {
    const plain = put('granite', counterOf(null));
    expect(plain?.pattern).toBeNull();
    expect(plain?.colour.L).toBeCloseTo(48, 9);
    expect(plain?.patternGap).toMatchObject({ missing: 'corners' });
    expect(plain?.patternGap?.words).toMatch(/mean colour, .*: set four corners on Counter/);
    const job = kitchen();
    job.swatches.granite.samples.s1.from = null;
    const bare = finishSource(job, { swatch: job.swatches.granite, surface: counterOf(CORNERS) });
    // What to do about it, and for which finish.
    expect(bare?.patternGap).toMatchObject({ missing: 'photo', swatchId: 'granite' });
    expect(bare?.patternGap?.words).toMatch(/Bring one, draw an outline round .* there, and keep it for /);
    // What is shown, and what has no pattern, has no gap.
    expect(put('granite', counterOf(CORNERS))?.patternGap).toBeNull();
    expect(put('sage', counterOf(null))?.patternGap).toBeNull();
  });

  test('a wood without a picture goes on wood as a stain does: the grain stays', () => {
    const job = kitchen();
    job.swatches.clay.kind = 'wood';
    const floor: SceneSurface = { ...cabinets, id: 'floor', name: 'Floor', kind: 'floor' };
    const found = finishSource(job, { swatch: job.swatches.clay, surface: floor });
    expect(found?.texture).toBe('keep');
    expect(found?.notes.join(' ')).toMatch(/as a stain would/);
    expect(finishSource(job, { swatch: job.swatches.clay, surface: cabinets })?.texture).toBe('keep');
    const wall: SceneSurface = { ...cabinets, kind: 'walls' };
    expect(finishSource(job, { swatch: job.swatches.clay, surface: wall })?.texture).toBe('none');
  });

  test('a sheen that is only usual is said to be assumed; without one a new sheen is said to change nothing', () => {
    const notes = (fields: Partial<SceneSurface>, id = 'sage') =>
      put(id, { ...cabinets, ...fields })?.notes.join(' ');
    expect(notes({ oldSheen: 'matt', sheenGuessed: true })).toMatch(
      /What sheen is on Cabinets now is not known: matt is assumed/,
    );
    expect(notes({ oldSheen: 'matt', sheenGuessed: false })).toBe('');
    expect(notes({ oldSheen: null })).toMatch(/not known, so its highlights stay/);
  });
});

test('of a tile a piece that repeats is outlined, of stone and wood as much as there is', () => {
  expect(patternPiece({ kind: 'tile' })).toMatch(/one tile with its joint/);
  for (const kind of ['stone', 'wood'] as const) expect(patternPiece({ kind })).toMatch(/largest clean part/);
});
