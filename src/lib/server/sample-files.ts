import fs from 'node:fs';
import path from 'node:path';
import { parseCgats } from '#lib/finish/index.ts';
import type { Job, SurfaceMask } from '#lib/job/index.ts';
import { sourceFolder } from './place.ts';
import { HOB_WALL, LIT, MARKED } from './sample-contents.ts';

// What lies in files beside the sample job's pictures.

/** What an instrument read on three of the finishes: these have a reflectance, so what a lamp does to them is known. */
export function addReadings(job: Job): void {
  const file = path.join(sourceFolder(), 'static/sample/readings.txt');
  for (const { name, lab, covariance, source, reflectance } of parseCgats(fs.readFileSync(file, 'utf8'))
    .swatches) {
    const swatch = Object.values(job.swatches).find((entry) => entry.name === name);
    if (!swatch) throw new Error(`The readings of the sample job name ${name}, which is no swatch of it`);
    swatch.samples.reading = {
      id: 'reading',
      order: 3,
      source,
      colours: [{ lab, covariance: Array.from(covariance), share: 1 }],
      reflectance: reflectance ? Array.from(reflectance) : null,
      from: null,
      note: '',
    };
  }
}

/** Marks the kitchen's surfaces by day and at dusk, which are taken from one place, and where their light comes from. */
export function addMarks(job: Job): void {
  const file = path.join(sourceFolder(), 'static/sample/marks.json');
  const marks: Record<string, SurfaceMask['mask']> = JSON.parse(fs.readFileSync(file, 'utf8'));
  for (const photoId of MARKED) {
    const photo = job.photos[photoId];
    photo.masks = Object.fromEntries(
      Object.entries(marks).map(([id, mask]) => [
        id,
        { id, fileId: photo.fileId, mask, plane: id === 'backsplash' ? HOB_WALL : null },
      ]),
    );
    photo.lightPlaces = { fileId: photo.fileId, ...LIT[photoId] };
  }
}
