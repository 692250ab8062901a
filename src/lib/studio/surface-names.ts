import { inOrder, type Id, type Job, type Photo } from '#lib/job/index.ts';

/**
 * What the surfaces that a photo may show are called beside each other, by id: by their names, those of one name with the
 * number they have in the order of the room ("Cabinets 2"). Surfaces of several rooms, where the photo belongs to none of
 * them, take the room's name along.
 */
export function surfaceNames(job: Job, { roomId }: Pick<Photo, 'roomId'>): Record<Id, string> {
  const surfaces = inOrder(job.surfaces).filter((surface) => roomId === null || surface.roomId === roomId);
  const several = new Set(surfaces.map((surface) => surface.roomId)).size > 1;
  const plain = surfaces.map((surface) => {
    const room = several ? job.rooms[surface.roomId]?.name : undefined;
    const name = surface.name.trim();
    return { id: surface.id, name: room ? `${name}, ${room}` : name };
  });
  const alike = new Map<string, Id[]>();
  for (const { id, name } of plain) alike.set(keyOf(name), [...(alike.get(keyOf(name)) ?? []), id]);
  return Object.fromEntries(
    plain.map(({ id, name }) => {
      const same = alike.get(keyOf(name)) ?? [];
      return [id, same.length > 1 ? `${name} ${same.indexOf(id) + 1}` : name];
    }),
  );
}

/** Names that a reader cannot tell apart have one key. */
const keyOf = (name: string) => name.toLowerCase().replace(/\s+/g, ' ');
