/** What surfaces are called where several of them stand in one list. */
import { describe, expect, test } from 'vitest';
import type { Job } from '#lib/job/index.ts';
import { meantFor, surfacesFor } from '#lib/studio/inspiration.ts';
import { namedApart, photoNames, surfaceNames } from '#lib/studio/surface-names.ts';
import { kitchen } from '../job/kitchen.ts';

/** A job of one room with surfaces of these names, in this order; ids are s0, s1, … */
function roomOf(...names: string[]): Job {
  const made = kitchen();
  const [room] = Object.keys(made.rooms);
  const { counter } = made.surfaces;
  const surfaces = names.map((name, i) => ({ ...counter, id: `s${i}`, name, order: i, roomId: room }));
  return { ...made, surfaces: Object.fromEntries(surfaces.map((surface) => [surface.id, surface])) };
}
const named = (...names: string[]) =>
  names.map((_, i) => namedApart(roomOf(...names)).surfaces[`s${i}`].name);

/** The same with a second room that holds the surface `s1`. */
function twoRooms(...names: string[]): Job {
  const made = roomOf(...names);
  const [room] = Object.values(made.rooms);
  const hall = { ...room, id: 'hall', name: 'Hall', order: 9 };
  const s1 = { ...made.surfaces.s1, roomId: 'hall' };
  return { ...made, rooms: { ...made.rooms, hall }, surfaces: { ...made.surfaces, s1 } };
}

describe('names of surfaces', () => {
  test('that a reader cannot tell apart are numbered, others left as they are', () => {
    expect(named('Walls', 'Floor', 'walls ', 'Walls')).toEqual(['Walls 1', 'Floor', 'walls 2', 'Walls 3']);
    expect(named('Back  wall', 'back wall')).toEqual(['Back  wall 1', 'back wall 2']);
  });

  test('never come to be another’s', () => {
    const given = named('Walls', 'Walls 1', 'Walls');
    expect(new Set(given).size).toBe(3);
    expect(given[1]).toBe('Walls 1');
  });

  test('are the same in a list of one room and in the job as it is read', () => {
    const job = twoRooms('Walls', 'Walls', 'Walls');
    const { roomId } = job.surfaces.s0;
    const own = surfaceNames(job, { roomId });
    expect(own).toEqual({ s0: 'Walls 1', s2: 'Walls 2' });
    for (const [id, name] of Object.entries(own)) expect(namedApart(job).surfaces[id].name).toBe(name);
    expect(namedApart(job).surfaces.s1.name).toBe('Walls');
  });

  test('take the room’s along in a list of several rooms', () => {
    const job = twoRooms('Walls', 'Walls', 'Walls');
    const room = job.rooms[job.surfaces.s0.roomId].name;
    expect(surfaceNames(job, { roomId: null })).toEqual({
      s0: `Walls 1, ${room}`,
      s1: 'Walls, Hall',
      s2: `Walls 2, ${room}`,
    });
    const { open, decided } = surfacesFor(job, { ...job.photos.day, role: 'inspiration' });
    expect([...open, ...decided].map(({ name }) => name).toSorted()).toEqual(
      Object.values(surfaceNames(job, { roomId: null })).toSorted(),
    );
  });

  test('say which of two a place of a picture is meant for', () => {
    const job = roomOf('Cabinets', 'Cabinets');
    const estimate = { lab: { L: 50, a: 0, b: 0 }, covariance: [1, 0, 0, 0, 1, 0, 0, 0, 1] };
    job.surfaces.s1.state = 'open';
    job.surfaces.s1.target = {
      ...{ kind: 'photo', photoId: 'day', regionId: null, estimate, words: '' },
      at: [40, 60],
    };
    expect(meantFor(job, 'day', { at: [40, 60] })).toBe('The aim of Cabinets 2.');
  });

  test('leave the job as it is where no two are alike, and never change what is stored', () => {
    const plain = roomOf('Walls', 'Floor');
    expect(namedApart(plain)).toBe(plain);
    const alike = roomOf('Walls', 'Walls', 'Floor');
    const before = structuredClone(alike);
    const read = namedApart(alike);
    expect(alike).toEqual(before);
    expect(read.surfaces.s2).toBe(alike.surfaces.s2);
    expect({ ...read.surfaces.s1, name: 'Walls' }).toEqual(alike.surfaces.s1);
  });
});

test('photos of one name are numbered in the same way', () => {
  const { day } = kitchen().photos;
  const photos = ['Kitchen', 'Hall', 'kitchen '].map((name, i) => ({ ...day, id: `p${i}`, name }));
  expect(photoNames(photos)).toEqual({ p0: 'Kitchen 1', p1: 'Hall', p2: 'kitchen 2' });
});
