import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  applyEdit,
  collisions,
  describePath,
  emptyJob,
  EMPTY_HISTORY,
  inverse,
  misfits,
  parseEdit,
  parseJob,
  recorded,
  redone,
  removingPhoto,
  removingRoom,
  removingSurface,
  removingSwatch,
  setting,
  undone,
  valueAt,
  type Edit,
  type Job,
} from '#lib/job/index.ts';
import { kitchen } from './kitchen.ts';

describe('edits', () => {
  test('an edit leaves the given document untouched and shares what it does not change', () => {
    const job = kitchen();
    const before = structuredClone(job);
    const after = applyEdit(job, setting(job, 'rename', [[['rooms', 'k', 'name'], 'Galley']]));
    expect(job).toEqual(before);
    expect(after.rooms.k.name).toBe('Galley');
    expect(after.swatches).toBe(job.swatches);
  });

  test('any chain of edits is taken back exactly by its inverses', () => {
    const name = fc.string({ maxLength: 12 });
    const steps = fc.array(
      fc.oneof(
        name.map((n) => ['name', n]),
        name.map((n) => ['note', n]),
        name.map((n) => ['room', n]),
      ),
      {
        maxLength: 12,
      },
    );
    fc.assert(
      fc.property(steps, (list) => {
        const start = kitchen();
        let job = start;
        const made: Edit[] = [];
        for (const [what, value] of list) {
          const path = what === 'room' ? ['rooms', 'k', 'name'] : [what];
          const edit = setting(job, what, [[path, value]]);
          made.push(edit);
          job = applyEdit(job, edit);
        }
        for (const edit of made.toReversed()) job = applyEdit(job, inverse(edit));
        expect(job).toEqual(start);
      }),
    );
  });

  test('setting a value to what it is already makes no change', () => {
    const job = kitchen();
    expect(setting(job, 'rename', [[['rooms', 'k', 'name'], job.rooms.k.name]]).changes).toEqual([]);
  });

  test('an edit whose names make its label too long can still be sent', () => {
    const label = `choose “${'s'.repeat(120)}” for “${'f'.repeat(80)}”`;
    const edit = setting(kitchen(), label, [[['name'], 'Another']]);
    expect(parseEdit(JSON.parse(JSON.stringify(edit)))).toEqual(edit);
    expect(() => parseEdit({ ...edit, label })).toThrow('edit.label');
  });

  test('adding and removing are each other’s inverse', () => {
    const job = kitchen();
    const room = { id: 'b', order: 2, name: 'Bath', note: '' };
    const add = setting(job, 'add room', [[['rooms', 'b'], room]]);
    const added = applyEdit(job, add);
    expect(added.rooms.b).toEqual(room);
    expect(applyEdit(added, inverse(add))).toEqual(job);
    expect('b' in applyEdit(added, inverse(add)).rooms).toBe(false);
  });

  test('a path through something that is gone is refused in words', () => {
    const job = kitchen();
    const edit: Edit = { label: 'x', changes: [{ path: ['rooms', 'gone', 'name'], was: 'a', now: 'b' }] };
    expect(() => applyEdit(job, edit)).toThrow('Expected something to change at rooms.gone, found nothing');
  });

  test('a collision is found when the value has changed meanwhile, and none when both wrote the same', () => {
    const job = kitchen();
    const mine = setting(job, 'rename', [[['rooms', 'k', 'name'], 'Galley']]);
    const theirs = applyEdit(job, setting(job, 'rename', [[['rooms', 'k', 'name'], 'Scullery']]));
    expect(collisions(theirs, mine)).toEqual(['the name of “Scullery” has been changed meanwhile']);
    expect(collisions(applyEdit(job, mine), mine)).toEqual([]);
    expect(collisions(job, mine)).toEqual([]);
  });

  test('an edit of something deleted meanwhile says so', () => {
    const job = kitchen();
    const mine = setting(job, 'rename', [[['swatches', 'sage', 'name'], 'Other']]);
    const theirs = applyEdit(job, removingSwatch(job, 'sage'));
    expect(collisions(theirs, mine)).toEqual([
      `the swatch “${job.swatches.sage.name}” has been deleted meanwhile`,
    ]);
    // The edit remembers no name of what is gone: its label, which says one, stands for it.
    const price = { amount: 5, currency: 'EUR', unit: 'l' };
    const priced = setting(job, 'set the price of “sage”', [[['swatches', 'sage', 'price'], price]]);
    expect(collisions(theirs, priced)).toEqual([
      '“set the price of “sage”” is about a swatch that has been deleted meanwhile',
    ]);
  });

  test('an addition to something deleted meanwhile is a collision, and so is taking it back', () => {
    const job = kitchen();
    const sample = { ...job.swatches.sage.samples.s1, id: 's2', order: 2 };
    const add = setting(job, 'measure', [[['swatches', 'sage', 'samples', 's2'], sample]]);
    const theirs = applyEdit(job, removingSwatch(job, 'sage'));
    expect(collisions(job, add)).toEqual([]);
    expect(collisions(theirs, add)[0]).toMatch(/deleted meanwhile/);
    expect(collisions(theirs, inverse(add))[0]).toMatch(/deleted meanwhile/);
  });

  test('an edit may bring a thing and then change it', () => {
    const job = kitchen();
    const room = { id: 'b', order: 2, name: 'Bath', note: '' };
    const edit: Edit = {
      label: 'add a named room',
      changes: [
        { path: ['rooms', 'b'], now: room },
        { path: ['rooms', 'b', 'name'], now: 'Wash room' },
      ],
    };
    expect(collisions(job, edit)).toEqual([]);
    expect(applyEdit(job, edit).rooms.b.name).toBe('Wash room');
  });

  test('an edit that mentions something deleted meanwhile does not fit, though no place collides', () => {
    const job = kitchen();
    const before = applyEdit(
      job,
      setting(job, 'stop', [[['surfaces', 'cabinets', 'candidateIds', 'sage'], undefined]]),
    );
    const consider = setting(before, 'consider “sage”', [
      [['surfaces', 'cabinets', 'candidateIds', 'sage'], true],
    ]);
    const theirs = applyEdit(before, removingSwatch(before, 'sage'));
    expect(misfits(before, consider)).toEqual([]);
    expect(collisions(theirs, consider)).toEqual([]);
    expect(misfits(theirs, consider)[0]).toMatch(/“consider “sage”” does not fit any more/);
  });

  test('a path is described by the names the user gave', () => {
    expect(describePath(kitchen(), ['photos', 'day', 'regions', 'r1', 'name'])).toBe(
      'the name of “counter front” in “Kitchen by day”',
    );
    expect(describePath(kitchen(), ['photos', 'day'])).toBe('“Kitchen by day”');
  });

  test('keys that reach into prototypes are refused', () => {
    expect(() => parseEdit({ label: 'x', changes: [{ path: ['__proto__', 'polluted'], now: 1 }] })).toThrow(
      'plain keys',
    );
    expect(valueAt(kitchen(), ['constructor'])).toBeUndefined();
  });
});

describe('deleting', () => {
  const holds = (job: Job, edit: Edit) => {
    const after = applyEdit(job, edit);
    expect(() => parseJob(structuredClone(after))).not.toThrow();
    expect(applyEdit(after, inverse(edit))).toEqual(job);
    return after;
  };

  test('a swatch goes with every mention of it, and all of it comes back', () => {
    const job = kitchen();
    const after = holds(job, removingSwatch(job, 'granite'));
    expect(after.surfaces.counter.swatchId).toBeNull();
    expect(Object.keys(holds(job, removingSwatch(job, 'sage')).surfaces.cabinets.candidateIds)).not.toContain(
      'sage',
    );
  });

  test('a swatch that is still on a surface goes from it too', () => {
    const job = kitchen();
    Object.assign(job.surfaces.counter, { state: 'chosen', swatchId: 'sage', thereId: 'granite' });
    const { counter } = holds(job, removingSwatch(job, 'granite')).surfaces;
    expect(counter).not.toHaveProperty('thereId');
    expect(counter).toMatchObject({ state: 'chosen', swatchId: 'sage' });
  });

  test('a photo goes, what was measured in it stays', () => {
    const job = kitchen();
    const after = holds(job, removingPhoto(job, 'day'));
    expect(after.swatches.granite.samples.s1.from).toBeNull();
    expect(after.swatches.granite.samples.s1.colours).toEqual(job.swatches.granite.samples.s1.colours);
    expect(after.surfaces.cabinets.target?.kind).toBe('colour');
  });

  /** The kitchen with its counter marked in the photo. */
  const marked = (): Job => {
    const job = kitchen();
    const mask = { kind: 'mask', version: 1, width: 4, height: 3, sum: 1, code: 'AAAA' } as const;
    job.photos.day.masks = { counter: { id: 'counter', fileId: job.photos.day.fileId, mask, plane: null } };
    return job;
  };

  test('a surface goes with the masks that show it, and all of it comes back', () => {
    const after = holds(marked(), removingSurface(marked(), 'counter'));
    expect(after.surfaces.counter).toBeUndefined();
    expect(after.photos.day.masks).toEqual({});
  });

  test('a room goes with its surfaces, masks and lights, its photos stay', () => {
    const job = marked();
    const after = holds(job, removingRoom(job, 'k'));
    expect(after.surfaces).toEqual({});
    expect(after.lights).toEqual({});
    expect(after.photos.day.roomId).toBeNull();
    expect(after.photos.day.masks).toEqual({});
  });
});

describe('undo and redo', () => {
  test('undo, then redo, ends where it began', () => {
    const job = kitchen();
    const edit = setting(job, 'rename', [[['name'], 'Another']]);
    const history = recorded(EMPTY_HISTORY, edit);
    const changed = applyEdit(job, edit);
    const back = undone(history);
    if (!back) throw new Error('expected a step to undo');
    expect(applyEdit(changed, back.edit)).toEqual(job);
    const again = redone(back.history);
    if (!again) throw new Error('expected a step to redo');
    expect(applyEdit(job, again.edit)).toEqual(changed);
    expect(again.history).toEqual(history);
  });

  test('a new edit ends what could be redone, and an empty history has nothing to offer', () => {
    const edit = setting(emptyJob('a'), 'rename', [[['name'], 'b']]);
    const back = undone(recorded(EMPTY_HISTORY, edit));
    expect(back && recorded(back.history, edit).undone).toEqual([]);
    expect(undone(EMPTY_HISTORY)).toBeNull();
    expect(redone(EMPTY_HISTORY)).toBeNull();
  });
});

describe('a document from outside', () => {
  test('is read back as it was written', () => {
    expect(parseJob(JSON.parse(JSON.stringify(kitchen())))).toEqual(kitchen());
  });

  test('is refused with the path of the first mistake', () => {
    const job = kitchen();
    job.swatches.sage.leadTimeDays = -1;
    expect(() => parseJob(job)).toThrow(/^swatches\.sage\.leadTimeDays: /);
  });

  test('is refused when it mentions something that is not there', () => {
    const job = kitchen();
    job.surfaces.cabinets.candidateIds.nobody = true;
    expect(() => parseJob(job)).toThrow(
      'surfaces.cabinets.candidateIds: expected a swatch of this job, got nobody',
    );
  });

  test('is refused when a thing is filed under another id, and when a field is misspelt', () => {
    const job = kitchen();
    job.rooms.k.id = 'q';
    expect(() => parseJob(job)).toThrow('rooms.k.id: expected the id it is filed under');
    expect(() => parseJob({ ...kitchen(), nmae: 'x' })).toThrow(/nmae/);
  });
});
