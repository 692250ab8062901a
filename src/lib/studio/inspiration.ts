import {
  inOrder,
  surfaceNames,
  type Id,
  type Job,
  type Photo,
  type PhotoRegion,
  type Surface,
} from '#lib/job/index.ts';
import { capital } from './light-words.ts';

/*
 * Which place of a picture is meant for which surface: what an open surface aims at, and what stands in the inspiration for
 * one whose finish is decided, so that whole schemes can be compared with the inspiration.
 */

/** Why anybody would say it of a surface that is decided. */
export const STANDS_FOR_EXPLAINED =
  'Where a finish is decided, a place of the inspiration can stand for it: that lets whole schemes be compared with the inspiration.';

/** The picture that places are taken from; null without one. */
export function inspirationOf(job: Job): Photo | null {
  return inOrder(job.photos).find(({ role }) => role === 'inspiration') ?? null;
}

/** Surfaces of all rooms that a colour of a photo can be meant for, under names that tell them apart. Only the inspiration says anything of what is decided. */
export function surfacesFor(job: Job, photo: Photo): { open: Surface[]; decided: Surface[] } {
  const names = surfaceNames(job, { roomId: null });
  const surfaces = inOrder(job.surfaces).map((surface) => ({ ...surface, name: names[surface.id] }));
  return {
    open: surfaces.filter(({ state }) => state === 'open'),
    decided: photo.role === 'inspiration' ? surfaces.filter(({ state }) => state !== 'open') : [],
  };
}

/** What undo calls it when a surface gets its place: `what` is that place in words. */
export function aimLabel(surface: Surface, what: string): string {
  return surface.state === 'open'
    ? `aim “${surface.name}” at ${what}`
    : `let ${what} stand for “${surface.name}”`;
}

/** What a place of a photo is meant for: `The aim of Cabinets; stands for Counter.`; null where for nothing. */
export function meantFor(
  job: Job,
  photoId: Id,
  place: PhotoRegion | { at: readonly number[] },
): string | null {
  const meant = inOrder(job.surfaces).filter(({ target }) => {
    if (target?.kind !== 'photo' || target.photoId !== photoId) return false;
    if ('id' in place) return target.regionId === place.id;
    return target.regionId === null && target.at !== null && target.at.every((x, i) => x === place.at[i]);
  });
  const names = surfaceNames(job, { roomId: null });
  const listed = (open: boolean) =>
    new Intl.ListFormat('en-GB').format(
      meant.filter(({ state }) => (state === 'open') === open).map(({ id }) => names[id]),
    );
  const [aims, stands] = [listed(true), listed(false)];
  if (!aims && !stands) return null;
  const said = [aims && `the aim of ${aims}`, stands && `stands for ${stands}`].filter(Boolean).join('; ');
  return `${capital(said)}.`;
}
