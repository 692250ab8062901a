import { applyEdit, emptyJob, inverse, parseJob, setting, type Job, type Photo } from '#lib/job/index.ts';
import { describe, expect, test } from 'vitest';
import { pictureReplaced, placesWords, sameShape } from '../../src/lib/studio/photo-replacing.ts';

const TAKEN = { fileId: 'f2', width: 1600, height: 1200, space: 'srgb' as const, notes: [] };

function job(): Job {
  const made = emptyJob('Job');
  made.photos.p = {
    ...{ id: 'p', order: 1, roomId: null, name: 'Kitchen', role: 'room', fileId: 'f1', space: 'srgb' },
    ...{ width: 800, height: 600 },
    references: {
      paper: {
        ...{ id: 'paper', order: 1, kind: 'white paper', swatchId: null },
        region: { kind: 'box', x: 100, y: 50, width: 40, height: 20 },
      },
    },
    regions: {
      place: {
        ...{ id: 'place', order: 1, name: 'place 1', colours: 'one' },
        region: { kind: 'point', x: 700, y: 500, radius: 8 },
      },
      field: {
        ...{ id: 'field', order: 2, name: 'place 2', colours: 'one' },
        region: {
          kind: 'polygon',
          points: [
            [10, 20],
            [30, 20],
            [30, 60],
          ],
        },
      },
    },
  } satisfies Photo as Photo;
  return made;
}

const replaced = (before: Job, places: 'kept' | 'taken away', taken = TAKEN) =>
  setting(before, 'replace', pictureReplaced(before, before.photos.p, { taken, places }));

describe('another picture in a photo’s place', () => {
  test('of the same view keeps what lies in it, at its own size', () => {
    const before = job();
    const after = applyEdit(before, replaced(before, 'kept'));
    const { id, name, fileId, width, height, references, regions } = after.photos.p;
    expect({ id, name, fileId, width, height }).toEqual({
      ...{ id: 'p', name: 'Kitchen', fileId: 'f2', width: 1600, height: 1200 },
    });
    expect(references.paper.region).toEqual({ kind: 'box', x: 200, y: 100, width: 80, height: 40 });
    expect(regions.place.region).toEqual({ kind: 'point', x: 1400, y: 1000, radius: 16 });
    expect(regions.field.region).toMatchObject({
      points: [
        [20, 40],
        [60, 40],
        [60, 120],
      ],
    });
    expect(() => parseJob(after)).not.toThrow();
  });

  test('of another view takes it away, and one step back brings all of it again', () => {
    const before = job();
    const edit = replaced(before, 'taken away', { ...TAKEN, width: 600, height: 800 });
    const after = applyEdit(before, edit);
    expect(after.photos.p).toMatchObject({ fileId: 'f2', width: 600, references: {}, regions: {} });
    expect(applyEdit(after, inverse(edit))).toEqual(before);
  });

  test('says what lies in the earlier one', () => {
    const before = job();
    expect(placesWords(before, before.photos.p)).toBe('1 known thing and 2 measured places');
    expect(placesWords(before, { ...before.photos.p, references: {}, regions: {} })).toBeNull();
  });

  test('has the same shape where it differs by what rounding to whole pixels does', () => {
    const size = (width: number, height: number) => ({ width, height });
    expect(sameShape(size(1024, 683), size(2048, 1365))).toBe(true);
    expect(sameShape(size(1024, 683), size(683, 1024))).toBe(false);
    expect(sameShape(size(1600, 1067), size(1600, 1200))).toBe(false);
  });
});
