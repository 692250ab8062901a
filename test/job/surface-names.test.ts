/** What surfaces are called where several of them stand in one list. */
import { describe, expect, test } from 'vitest';
import {
  leftOutWords,
  namedApart,
  parseJob,
  photoNames,
  planOf,
  surfaceNames,
  type Job,
  type JobPlan,
  type Room,
} from '#lib/job/index.ts';
import { generator } from '../finish/chance.ts';
import { kitchen } from './kitchen.ts';
import { chosenKitchen, TODAY } from './sample-kitchen.ts';

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
  });

  test('of rooms are told apart in the same way', () => {
    const job = twoRooms('Walls', 'Walls');
    const [first] = Object.keys(job.rooms);
    job.rooms.hall.name = ` ${job.rooms[first].name.toLowerCase()}`;
    const { rooms } = namedApart(job);
    expect(Object.values(rooms).map(({ name }) => name)).toEqual(['Kitchen 1', 'kitchen 2']);
    expect(surfaceNames(job, { roomId: null })).toEqual({ s0: 'Walls, Kitchen 1', s1: 'Walls, kitchen 2' });
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

/** What a reader cannot tell apart is the same. */
const read = (words: string) => words.trim().toLowerCase().replace(/\s+/g, ' ');

const NAMES = ['Walls', 'walls ', 'Walls 1', 'Cabinets', ' cabinets', 'Counter', 'Handles', ''];
const ROOM_NAMES = ['Kitchen', 'kitchen', 'Kitchen 2', 'Hall'];

/** The chosen kitchen's surfaces several times over, in one to three rooms, under names of which many are alike. */
function crowdedHouse(seed: number): Job {
  const { uniform } = generator(seed);
  const one = <T>(of: readonly T[]): T => of[Math.floor(uniform() * of.length)];
  const job = chosenKitchen();
  const models = Object.values(job.surfaces);
  job.rooms = Object.fromEntries(
    Array.from({ length: 1 + Math.floor(uniform() * 3) }, (_, i): [string, Room] => [
      `r${i}`,
      { id: `r${i}`, order: i, name: one(ROOM_NAMES), note: '' },
    ]),
  );
  job.surfaces = Object.fromEntries(
    Array.from({ length: 9 }, (_, i) => {
      const id = `s${i}`;
      const roomId = one(Object.keys(job.rooms));
      return [id, { ...structuredClone(one(models)), id, roomId, order: i, name: one(NAMES) }];
    }),
  );
  return parseJob(job);
}

/** Where lines, works and rows of the plan are said to be: the surface, and the label as it stands on page and paper. */
function labelsOf({
  scheduled,
  schedule,
  plan,
  rules,
  surfaceOf,
}: JobPlan): Record<string, [string, string][]> {
  const place = (room: string, surface: string) => [room, surface].filter(Boolean).join(', ');
  return {
    schedule: schedule.lines.map(({ item }) => [item.id.split(' ')[0], place(item.room, item.surface)]),
    takeOff: scheduled.surfaces.map(({ surface, roomName }) => [surface.id, place(roomName, surface.name)]),
    work: rules.surfaces.map(({ id, room, name }) => [surfaceOf[id], place(room.name, name)]),
    plan: plan.groups.map(({ id, room, surface }) => [
      surfaceOf[id] ?? id.replace('room:', ''),
      place(room, surface),
    ]),
    steps: plan.steps.map(({ surfaceId, room, surface }) => [
      surfaceOf[surfaceId ?? ''] ?? room.id,
      place(room.name, surface),
    ]),
    purchases: schedule.orders.flatMap(({ lineIds }) =>
      schedule.lines
        .filter(({ item }) => lineIds.includes(item.id))
        .map(({ item }): [string, string] => [item.id.split(' ')[0], place(item.room, item.surface)]),
    ),
  };
}

describe('in schedule, plan and purchases', () => {
  const seeds = Array.from({ length: 24 }, (_, i) => i + 1);

  test.each(seeds)('house %i: no two surfaces have one label, and one has the same everywhere', (seed) => {
    const labels = labelsOf(planOf(crowdedHouse(seed), { today: TODAY }));
    const own = new Map(labels.takeOff);
    expect(own.size).toBe(9);
    const told = new Map<string, string>();
    for (const [where, list] of Object.entries(labels))
      for (const [id, label] of list) {
        // The room's own steps stand under its name alone.
        const key = `${own.has(id) ? 'surface' : 'room'} ${read(label)}`;
        expect([where, label, told.get(key) ?? id]).toEqual([where, label, id]);
        told.set(key, id);
        // Parts with coats of their own stand behind the surface's name.
        if (own.has(id)) expect(`${label},`.startsWith(`${own.get(id)},`)).toBe(true);
      }
  });

  test.each(seeds)('house %i: what is alone keeps its name', (seed) => {
    const job = crowdedHouse(seed);
    const rooms = Object.values(job.rooms);
    const alone = <T extends { name: string }>(thing: T, all: readonly T[]) =>
      all.filter(({ name }) => read(name) === read(thing.name)).length === 1;
    const { surfaces } = planOf(job, { today: TODAY }).scheduled;
    for (const { surface, roomName } of surfaces) {
      const own = job.surfaces[surface.id];
      const room = job.rooms[own.roomId];
      if (alone(room, rooms)) expect(roomName).toBe(room.name);
      const beside = Object.values(job.surfaces).filter(({ roomId }) => roomId === own.roomId);
      if (alone(own, beside)) expect(surface.name).toBe(own.name);
    }
    // A job without namesakes is planned as it is.
    const plain = chosenKitchen();
    expect(planOf(plain, { today: TODAY }).scheduled.surfaces.map(({ surface }) => surface)).toEqual(
      Object.values(plain.surfaces).toSorted((a, b) => a.order - b.order),
    );
  });

  test('named apart once, a job stays as it is', () => {
    for (const seed of seeds) {
      const once = namedApart(crowdedHouse(seed));
      expect(namedApart(once)).toBe(once);
    }
  });

  test('what totals leave out is said of the one surface that is meant', () => {
    const job = chosenKitchen();
    const { cabinets } = job.surfaces;
    const [part] = Object.values(cabinets.parts ?? {});
    const faulty = { ...structuredClone(part), id: 'q', order: 9, name: 'island', coats: 0 };
    job.surfaces.more = {
      ...structuredClone(cabinets),
      id: 'more',
      order: 8,
      parts: { p: { ...part, id: 'p' }, q: faulty },
    };
    const said = leftOutWords(planOf(parseJob(job), { today: TODAY }));
    expect(said).toContain('Kitchen, Cabinets 2: the finish coats of island');
    expect(said.filter((words) => words.startsWith('Kitchen, Cabinets 1'))).toEqual([]);
  });
});
