import type { Id, Photo } from '#lib/job/index.ts';
import { keepHere, keptHere } from './kept-here.ts';

const keptAs = (jobId: Id) => `brushout photo ${jobId}`;

/** The photo of a room that was last looked at or marked in this browser; null before there is one. */
export function lastPhoto(jobId: Id): Id | null {
  return keptHere(keptAs(jobId));
}

/** Remembers a photo that is looked at; other photos than those of rooms are passed over. */
export function rememberPhoto(jobId: Id, photo: Pick<Photo, 'id' | 'role'> | undefined): void {
  if (photo?.role === 'room') keepHere(keptAs(jobId), photo.id);
}
