import { inOrder, type Job, type Photo, type Room, type Surface } from './document.ts';
import type { Id } from './fields.ts';

/*
 * What surfaces are called where several stand together. A job may give two of one room the same name; a reader has to tell
 * them apart, by the same words on every page and in every document.
 */

/**
 * Names of the surfaces of a room, or of all where `roomId` is null, by id: those of one name within a room with the number
 * they have there ("Cabinets 2"). Where they belong to several rooms, each takes its room's name along ("Walls, Hall").
 */
export function surfaceNames(job: Job, { roomId }: Pick<Photo, 'roomId'>): Record<Id, string> {
  const surfaces = inOrder(job.surfaces).filter((surface) => roomId === null || surface.roomId === roomId);
  const rooms = [...new Set(surfaces.map((surface) => surface.roomId))];
  const roomNames = rooms.length > 1 ? new Map(numbered(inOrder(job.rooms))) : null;
  return Object.fromEntries(
    rooms.flatMap((id) => {
      const room = roomNames?.get(id);
      const own = numbered(surfaces.filter((surface) => surface.roomId === id));
      return own.map(([surfaceId, name]) => [surfaceId, room ? `${name}, ${room}` : name]);
    }),
  );
}

/**
 * The job with its surfaces under the names that tell them apart in their rooms, and its rooms under names of their own: to
 * be read and shown, not to be edited. Named so once it stays as it is.
 */
export function namedApart(job: Job): Job {
  const rooms = apart(job.rooms, numbered(inOrder(job.rooms)));
  const surfaces = apart(
    job.surfaces,
    Object.keys(job.rooms).flatMap((roomId) => Object.entries(surfaceNames(job, { roomId }))),
  );
  return rooms === job.rooms && surfaces === job.surfaces ? job : { ...job, rooms, surfaces };
}

/** Names of photos that stand side by side, by id, told apart in the same way. */
export function photoNames(photos: readonly Photo[]): Record<Id, string> {
  return Object.fromEntries(numbered(photos));
}

/** Things by id under other names; the very same where all have theirs already. */
function apart<T extends Room | Surface>(
  things: Record<Id, T>,
  names: readonly (readonly [Id, string])[],
): Record<Id, T> {
  // Who stands alone keeps every character of the name.
  const others = names
    .filter(([id, name]) => name !== things[id].name.trim())
    .map(([id, name]) => [id, { ...things[id], name }] as const);
  return others.length === 0 ? things : { ...things, ...Object.fromEntries(others) };
}

/** Names that a reader cannot tell apart have one key. */
export const nameKey = (name: string) => name.trim().toLowerCase().replace(/\s+/g, ' ');

function numbered(things: readonly Pick<Room | Surface | Photo, 'id' | 'name'>[]): [Id, string][] {
  const counts = new Map<string, number>();
  for (const { name } of things) counts.set(nameKey(name), (counts.get(nameKey(name)) ?? 0) + 1);
  const last = new Map<string, number>();
  return things.map(({ id, name }) => {
    const key = nameKey(name);
    if (counts.get(key) === 1) return [id, name.trim()];
    const called = (number: number) => `${name.trim()} ${number}`.trim();
    let number = (last.get(key) ?? 0) + 1;
    // A name that is somebody else's already is passed over.
    while (counts.has(nameKey(called(number)))) number += 1;
    last.set(key, number);
    return [id, called(number)];
  });
}
