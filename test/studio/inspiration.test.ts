import { describe, expect, test } from 'vitest';
import { surfaceNames } from '#lib/job/index.ts';
import { aimLabel, inspirationOf, meantFor, surfacesFor } from '#lib/studio/inspiration.ts';
import { ownPattern, patternNeighbours, patternNotes } from '#lib/studio/pattern-notes.ts';
import { kitchen } from '../job/kitchen.ts';

function job() {
  const made = kitchen();
  made.photos.day.role = 'inspiration';
  return made;
}

describe('which surfaces a colour of a picture can be meant for', () => {
  test('are the open ones, and those that are decided where the picture is the inspiration', () => {
    const made = job();
    const names = () => {
      const { open, decided } = surfacesFor(made, made.photos.day);
      return [open, decided].map((list) => list.map(({ id }) => id));
    };
    const [open, decided] = names();
    expect(open).toContain('cabinets');
    expect(decided).toContain('counter');
    expect(inspirationOf(made)?.id).toBe('day');
    made.photos.day.role = 'room';
    expect(names()).toEqual([open, []]);
    expect(inspirationOf(made)).toBeNull();
  });

  test('are named at the place they were given', () => {
    const made = job();
    const estimate = { lab: { L: 50, a: 0, b: 0 }, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1] };
    const region = { ...Object.values(made.photos.day.regions)[0], id: 'r1' };
    expect(meantFor(made, 'day', region)).toBe('The aim of Cabinets.');
    made.surfaces.counter.target = {
      ...{ kind: 'photo', photoId: 'day', regionId: null, estimate, words: '' },
      at: [40, 60],
    };
    expect(meantFor(made, 'day', { at: [40, 60] })).toBe('Stands for Counter.');
    expect(meantFor(made, 'day', { at: [40, 61] })).toBeNull();
    made.surfaces.counter.target = { ...made.surfaces.counter.target, regionId: 'r1' };
    expect(meantFor(made, 'day', region)).toBe('The aim of Cabinets; stands for Counter.');
    expect(meantFor(made, 'other', region)).toBeNull();
  });

  test('of one name are told apart, by their rooms too where there are several', () => {
    const made = job();
    const [room] = Object.values(made.rooms);
    made.rooms.hall = { ...room, id: 'hall', name: 'Hall', order: 9 };
    made.surfaces.second = { ...made.surfaces.cabinets, id: 'second', order: 90 };
    made.surfaces.third = { ...made.surfaces.cabinets, id: 'third', order: 91, roomId: 'hall' };
    const { open, decided } = surfacesFor(made, made.photos.day);
    const names = Object.fromEntries([...open, ...decided].map(({ id, name }) => [id, name]));
    expect(names).toEqual(surfaceNames(made, { roomId: null }));
    expect(names.third).toBe('Cabinets, Hall');
    const estimate = { lab: { L: 50, a: 0, b: 0 }, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1] };
    made.surfaces.second.target = {
      ...{ kind: 'photo', photoId: 'day', regionId: null, estimate, words: '' },
      at: [40, 60],
    };
    expect(meantFor(made, 'day', { at: [40, 60] })).toBe(`The aim of Cabinets 2, ${room.name}.`);
  });

  test('undo calls it by what the surface is', () => {
    const { cabinets, counter } = job().surfaces;
    expect(aimLabel(cabinets, '“Sofa”')).toBe('aim “Cabinets” at “Sofa”');
    expect(aimLabel(counter, '“Sofa”')).toBe('let “Sofa” stand for “Counter”');
  });
});

describe('patterns beside a candidate', () => {
  const made = job();
  const { sage, granite } = made.swatches;
  const { cabinets, counter } = made.surfaces;
  const fixed = [{ surface: counter, swatch: granite }];

  test('are silent where nobody photographed one', () => {
    expect(patternNeighbours(sage, fixed)).toEqual([]);
    expect(ownPattern(sage)).toBeNull();
  });

  test('tell how busy the two are, each with its number, and what is picked up', () => {
    const stone = structuredClone(granite);
    stone.samples.s1.pattern = { width: 800, measured: true, busyness: 19.2, distance: 1500 };
    const neighbours = patternNeighbours(sage, [{ surface: counter, swatch: stone }]);
    expect(neighbours).toHaveLength(1);
    const candidate = { surface: cabinets, swatch: sage };
    const [calm, ...none] = patternNotes(candidate, neighbours, []);
    expect(none).toEqual([]);
    expect(calm).toMatchObject({
      sentence: '“Counter” is busy; the calm “Cabinets” lets it speak.',
      number: 'busyness 19.2 beside 0.0',
    });
    const found = { colour: 1, share: 0.3, deltaE: 2, giveOrTake: 0.5, light: null, score: 0.9 };
    const [, picked] = patternNotes(candidate, neighbours, [found]);
    expect(picked.sentence).toMatch(/^Picks up the .+ in “Counter” \(30 % of it\)\.$/);
    expect(picked.number).toBe('ΔE00 2.0 give or take 0.5 under daylight');
    expect(ownPattern(stone)).toEqual({ sentence: 'Its own pattern is busy.', number: 'busyness 19.2' });
  });
});
