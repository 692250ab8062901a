import { VIEWING_DISTANCE, usualWidth } from '#lib/finish/index.ts';
import type { Measurement, Region } from '#lib/photo/index.ts';
import {
  applyEdit,
  setting,
  swatchTitle,
  type Edit,
  type FinishColour,
  type Id,
  type Job,
  type Photo,
  type PhotoRegion,
  type Sample,
} from '#lib/job/index.ts';
import { analysis, photoSource } from './analysis.ts';
import { boxOf } from './shapes.ts';
import type { Studio } from './studio.svelte.ts';

/** How busy a sample's pattern looks, as the document keeps it. */
export type SamplePattern = NonNullable<Sample['pattern']>;

/** A region as it was measured: the colour for one, the colours by area for a pattern. */
export interface Reading {
  measurement: Measurement;
  colours: FinishColour[];
  /** For a region of several colours, at the width its picture usually has; null for one colour, or too small to tell. */
  pattern: SamplePattern | null;
}

const plain = (covariance: ArrayLike<number>) => Array.from(covariance);

/** A width in mm across a region: said by somebody, or the usual one. */
type RegionWidth = Pick<SamplePattern, 'width' | 'measured'>;

/** The width of a region where nobody said it: its part of what such a picture usually shows. */
function assumedWidth(photo: Photo, { region }: PhotoRegion): RegionWidth {
  return { width: usualWidth(boxOf(region as Region).width / photo.width, photo.role), measured: false };
}

/** The pattern of a region of several colours; null for one colour, or where it is too small to tell. */
async function patternOf(
  job: Job,
  photo: Photo,
  { entry, width, measured }: RegionWidth & { entry: PhotoRegion },
): Promise<SamplePattern | null> {
  if (entry.colours !== 'several') return null;
  const distance = VIEWING_DISTANCE;
  const size = { width, distance };
  const found = await analysis().pattern(photoSource(job, photo), entry.region as Region, size);
  return found && { width, measured, busyness: found.busyness, distance };
}

/** Measures regions of a photo as the job corrects it, by region id. */
export async function readRegions(
  job: Job,
  photo: Photo,
  regions: readonly PhotoRegion[],
): Promise<Map<Id, Reading>> {
  const source = photoSource(job, photo);
  const readings = new Map<Id, Reading>();
  if (regions.length === 0) return readings;
  const measurements = await analysis().measure(
    source,
    regions.map((entry) => entry.region as Region),
  );
  for (const [i, entry] of regions.entries()) {
    const measurement = measurements[i];
    let colours: FinishColour[] = [
      { lab: measurement.lab, covariance: plain(measurement.covariance), share: 1 },
    ];
    if (entry.colours === 'several') {
      const { areas } = await analysis().palette(source, entry.region as Region);
      if (areas.length > 0) {
        colours = areas.map(({ lab, covariance, share }) => ({ lab, covariance: plain(covariance), share }));
      }
    }
    const pattern = await patternOf(job, photo, { entry, ...assumedWidth(photo, entry) });
    readings.set(entry.id, { measurement, colours, pattern });
  }
  return readings;
}

/**
 * An edit of a photo's references or regions together with what it changes elsewhere: samples and targets that were
 * measured in the photo are measured again, so that one undo takes back both.
 */
async function photoEdit(
  job: Job,
  label: string,
  photoId: Id,
  values: readonly (readonly [string[], unknown])[],
): Promise<Edit> {
  const first = setting(job, label, values);
  const next = applyEdit(job, first);
  const photo = next.photos[photoId];
  if (!photo) return first;
  const followers: [string[], unknown][] = [];
  const linked = new Map<Id, PhotoRegion>();
  const samples = Object.values(next.swatches).flatMap((swatch) =>
    Object.values(swatch.samples)
      .filter((sample) => sample.from?.photoId === photoId)
      .map((sample) => ({ swatch, sample, region: photo.regions[sample.from?.regionId ?? ''] })),
  );
  const aims = Object.values(next.surfaces).flatMap((surface) =>
    surface.target?.kind === 'photo' && surface.target.photoId === photoId
      ? [{ surface, target: surface.target }]
      : [],
  );
  for (const { region } of samples) if (region) linked.set(region.id, region);
  for (const { target } of aims) {
    const region = target.regionId ? photo.regions[target.regionId] : undefined;
    if (region) linked.set(region.id, region);
  }
  const readings = await readRegions(next, photo, [...linked.values()]);
  for (const { swatch, sample, region } of samples) {
    const at = ['swatches', swatch.id, 'samples', sample.id];
    const reading = region && readings.get(region.id);
    // A sample whose region was deleted keeps its colour and loses the link.
    if (!reading) followers.push([[...at, 'from'], null]);
    else {
      followers.push([[...at, 'colours'], reading.colours]);
      const said = sample.pattern?.measured ? widthNow(job, photo, { sample, region }) : null;
      const pattern = said ? await patternOf(next, photo, { entry: region, ...said }) : reading.pattern;
      followers.push([[...at, 'pattern'], pattern ?? undefined]);
    }
  }
  const loose = aims.filter(({ target }) => !target.regionId);
  const areas = loose.length > 0 ? (await analysis().palette(photoSource(next, photo), null)).areas : [];
  for (const { surface, target } of aims) {
    const reading = target.regionId ? readings.get(target.regionId) : undefined;
    const at = ['surfaces', surface.id, 'target'];
    if (reading) {
      const { lab, covariance } = reading.measurement;
      followers.push([[...at, 'estimate'], { lab, covariance: plain(covariance) }]);
    } else if (!target.regionId && target.at && areas.length > 0) {
      const nearest = areas.reduce((best, area) =>
        apart(area.at, target.at) < apart(best.at, target.at) ? area : best,
      );
      followers.push([[...at, 'estimate'], { lab: nearest.lab, covariance: plain(nearest.covariance) }]);
    } else if (target.regionId) {
      followers.push([at, { kind: 'colour', estimate: target.estimate, words: target.words }]);
    }
  }
  return setting(job, label, [...values, ...followers]);
}

/** The width of a region whose width somebody said: where the region was made wider or narrower, the scale stays. */
function widthNow(
  before: Job,
  photo: Photo,
  { sample, region }: { sample: Sample; region: PhotoRegion },
): RegionWidth | null {
  const was = before.photos[photo.id]?.regions[region.id];
  if (!sample.pattern || !was) return null;
  const scale = boxOf(region.region as Region).width / boxOf(was.region as Region).width;
  return { width: sample.pattern.width * scale, measured: true };
}

/**
 * The edit that says how wide a sample's region really is, mm, and measures its pattern at that width; null takes the usual
 * width again. Null where the sample has no region of several colours, or one too small to tell.
 */
export async function patternWidthEdit(
  job: Job,
  at: { readonly swatchId: Id; readonly sampleId: Id },
  width: number | null,
): Promise<Edit | null> {
  const swatch = job.swatches[at.swatchId];
  const sample = swatch?.samples[at.sampleId];
  const photo = sample?.from ? job.photos[sample.from.photoId] : undefined;
  const entry = sample?.from ? photo?.regions[sample.from.regionId] : undefined;
  if (!swatch || !photo || !entry) return null;
  const size = width === null ? assumedWidth(photo, entry) : { width, measured: true };
  const pattern = await patternOf(job, photo, { entry, ...size });
  const path = ['swatches', swatch.id, 'samples', at.sampleId, 'pattern'];
  return (
    pattern && setting(job, `say how large the pattern of “${swatchTitle(swatch)}” is`, [[path, pattern]])
  );
}

/**
 * Makes an edit of a photo and gives it to the studio. Measuring takes a moment: where the job was changed meanwhile, the
 * edit is made again for the job as it is then.
 */
export function changePhoto(
  studio: Studio,
  label: string,
  photoId: Id,
  values: () => readonly (readonly [string[], unknown])[],
): Promise<void> {
  const made = async () => {
    for (;;) {
      const { job } = studio;
      const edit = await photoEdit(job, label, photoId, values());
      if (studio.job !== job) continue;
      studio.edit(edit);
      return;
    }
  };
  return studio.expect(made());
}

function apart(a: readonly [number, number] | readonly number[], b: readonly number[] | null): number {
  return b ? Math.hypot(a[0] - b[0], a[1] - b[1]) : Number.POSITIVE_INFINITY;
}
