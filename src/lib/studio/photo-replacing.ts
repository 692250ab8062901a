import type { Region } from '#lib/photo/index.ts';
import { inOrder, type Id, type Job, type Photo, type PhotoRegion } from '#lib/job/index.ts';
import type { Size } from './picture-view.ts';
import { heldIn } from './shapes.ts';
import type { TakenIn } from './uploads.svelte.ts';

/** What becomes of places in the earlier picture, references and what was measured: its view is the same, or it is not. */
export type PlacesThen = 'kept' | 'taken away';

/** Whether a picture has another's shape to a pixel, so that places of one can be brought to the other's size. */
export function sameShape(from: Size, to: Size): boolean {
  return Math.abs(from.height * (to.width / from.width) - to.height) <= 1 + to.width / from.width;
}

/** Places of a photo that belong to its picture, as words: `1 known thing and 2 measured places`; null without any. */
export function placesWords(job: Job, photo: Photo): string | null {
  const count = (many: number, one: string, more: string) =>
    many === 0 ? [] : [`${many} ${many === 1 ? one : more}`];
  const words = [
    ...count(Object.keys(photo.references).length, 'known thing', 'known things'),
    ...count(Object.keys(photo.regions).length, 'measured place', 'measured places'),
    ...count(looseAims(job, photo.id).length, 'colour to aim at', 'colours to aim at'),
  ];
  return words.length > 0 ? words.join(', ').replace(/, ([^,]*)$/, ' and $1') : null;
}

/** Surfaces whose target is the colour at a place of the photo that is no measured place. */
function looseAims(job: Job, photoId: Id) {
  return inOrder(job.surfaces).flatMap(({ id, target }) =>
    target?.kind === 'photo' && target.photoId === photoId && !target.regionId ? [{ id, target }] : [],
  );
}

/**
 * Values that put another picture into a photo, which stays the same photo. Marks of surfaces and of lights know the picture
 * they were drawn on and stay as they are. Places `kept` come to the new picture's size; where they are `taken away`, colours
 * that were measured there stay as they were measured (see `changePhoto`, which measures kept ones anew).
 */
export function pictureReplaced(
  job: Job,
  photo: Photo,
  { taken, places }: { taken: TakenIn; places: PlacesThen },
): [string[], unknown][] {
  const at = ['photos', photo.id];
  const { fileId, width, height, space } = taken;
  const picture = Object.entries({ fileId, width, height, space }).map(
    ([field, value]): [string[], unknown] => [[...at, field], value],
  );
  const entries = (['references', 'regions'] as const).flatMap((kind) =>
    inOrder<{ id: Id; order: number; region: PhotoRegion['region'] }>(photo[kind]).map(
      ({ id, region }): [string[], unknown] =>
        places === 'kept'
          ? [[...at, kind, id, 'region'], heldIn(resized(region as Region, width / photo.width), taken)]
          : [[...at, kind, id], undefined],
    ),
  );
  const aims = places === 'kept' ? [] : looseAims(job, photo.id);
  return [
    ...picture,
    ...entries,
    ...aims.map(({ id, target: { estimate, words } }): [string[], unknown] => [
      ['surfaces', id, 'target'],
      { kind: 'colour', estimate, words },
    ]),
  ];
}

/** A region of a picture in the same picture `by` times as large. */
function resized(region: Region, by: number): Region {
  if (region.kind === 'polygon')
    return { kind: 'polygon', points: region.points.map(([x, y]) => [x * by, y * by] as const) };
  const moved = { x: region.x * by, y: region.y * by };
  if (region.kind === 'point') return { ...region, ...moved, radius: region.radius * by };
  return { ...region, ...moved, width: region.width * by, height: region.height * by };
}
