import { wrap, type Remote } from 'comlink';
import type { Reference } from '#lib/photo/index.ts';
import { inOrder, PHOTO_SCENES, swatchEstimate, type Job, type Photo } from '#lib/job/index.ts';
import type { Analysis } from './analysis.worker.ts';
import type { PhotoSource } from './worker-photo.ts';

let remote: Remote<Analysis> | null = null;

/** The worker that does the pixels and the ranking, started at first use and shared by all screens. */
export function analysis(): Remote<Analysis> {
  remote ??= wrap<Analysis>(new Worker(new URL('./analysis.worker.ts', import.meta.url), { type: 'module' }));
  return remote;
}

/** What the worker needs of a photo. A reference whose finish has no colour yet is left out. */
export function photoSource(job: Job, photo: Photo): PhotoSource {
  const references: Reference[] = [];
  for (const { kind, region, swatchId } of inOrder(photo.references)) {
    if (kind === 'target24') {
      if (region.kind === 'polygon' && region.points.length === 4) {
        references.push({ kind, corners: region.points as [number, number][] as never });
      }
    } else if (kind === 'finish') {
      const known = swatchId ? swatchEstimate(job.swatches[swatchId]) : null;
      if (known) references.push({ kind: 'known', region, lab: known.lab, covariance: known.covariance });
    } else {
      references.push({ kind: kind === 'white paper' ? 'white-paper' : 'grey-card', region });
    }
  }
  return { fileId: photo.fileId, space: photo.space, scene: PHOTO_SCENES[photo.role], references };
}
