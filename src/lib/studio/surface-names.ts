import { inOrder, type Id, type Job, type Photo, type Surface } from '#lib/job/index.ts';

/*
 * What surfaces are called where several stand together. A job may give two of one room the same name; a reader has to tell
 * them apart, by the same words on every page.
 */

/**
 * Names of the surfaces of a room, or of all where `roomId` is null, by id: those of one name within a room with the number
 * they have there ("Cabinets 2"). Where they belong to several rooms, each takes its room's name along ("Walls, Hall").
 */
export function surfaceNames(job: Job, { roomId }: Pick<Photo, 'roomId'>): Record<Id, string> {
  const surfaces = inOrder(job.surfaces).filter((surface) => roomId === null || surface.roomId === roomId);
  const rooms = [...new Set(surfaces.map((surface) => surface.roomId))];
  return Object.fromEntries(
    rooms.flatMap((id) => {
      const room = rooms.length > 1 ? job.rooms[id]?.name : undefined;
      const own = numbered(surfaces.filter((surface) => surface.roomId === id));
      return own.map(([surfaceId, name]) => [surfaceId, room ? `${name}, ${room}` : name]);
    }),
  );
}

/** The job with its surfaces under the names that tell them apart in their rooms: to be read and shown, not to be edited. */
export function namedApart(job: Job): Job {
  const others = Object.keys(job.rooms)
    .flatMap((roomId) => Object.entries(surfaceNames(job, { roomId })))
    .filter(([id, name]) => name !== job.surfaces[id].name)
    .map(([id, name]) => [id, { ...job.surfaces[id], name }] as const);
  return others.length === 0 ? job : { ...job, surfaces: { ...job.surfaces, ...Object.fromEntries(others) } };
}

/** Names of photos that stand side by side, by id, told apart in the same way. */
export function photoNames(photos: readonly Photo[]): Record<Id, string> {
  return Object.fromEntries(numbered(photos));
}

/** Names that a reader cannot tell apart have one key. */
const keyOf = (name: string) => name.trim().toLowerCase().replace(/\s+/g, ' ');

function numbered(things: readonly Pick<Surface | Photo, 'id' | 'name'>[]): [Id, string][] {
  const counts = new Map<string, number>();
  for (const { name } of things) counts.set(keyOf(name), (counts.get(keyOf(name)) ?? 0) + 1);
  const last = new Map<string, number>();
  return things.map(({ id, name }) => {
    const key = keyOf(name);
    if (counts.get(key) === 1) return [id, name.trim()];
    let number = (last.get(key) ?? 0) + 1;
    // A name that is somebody else's already is passed over.
    while (counts.has(`${key} ${number}`)) number += 1;
    last.set(key, number);
    return [id, `${name.trim()} ${number}`];
  });
}
