import { unmeasuredBusyness } from '#lib/finish/index.ts';
import type {
  CandidateInput,
  ColourOrigin,
  Estimate,
  FinishInput,
  LightInput,
  ObservationSetting,
  RankInput,
} from '#lib/finish/index.ts';
import {
  inOrder,
  type Job,
  type Photo,
  type Sample,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from './document.ts';
import type { Id } from './fields.ts';
import { lightSpectrum } from './lights.ts';

/** Draws of the seeded simulation behind "first in x of 100 draws"; the standard error of a share is then 1.6 points or less. */
const DRAWS = 1000;
const SEED = 20261125;

/** How much two kinds of surface are seen together in a furnished kitchen or bath, 0-1. Common practice, no published source. */
const CONTACT: Partial<Record<SurfaceKind, Partial<Record<SurfaceKind, number>>>> = {
  cabinets: {
    counter: 1,
    backsplash: 0.7,
    floor: 0.8,
    walls: 0.6,
    hardware: 0.5,
    island: 0.8,
    'wood accents': 0.6,
  },
  island: { counter: 1, floor: 0.9, cabinets: 0.8, hardware: 0.4 },
  walls: { trim: 1, ceiling: 0.8, cabinets: 0.7, floor: 0.6, backsplash: 0.6, doors: 0.7, textiles: 0.5 },
  backsplash: { counter: 1, cabinets: 0.9, walls: 0.7 },
  counter: { cabinets: 1, backsplash: 1, island: 1, floor: 0.4 },
  trim: { walls: 1, doors: 0.9, floor: 0.7 },
};
const CONTACT_ELSEWHERE = 0.4;

/** How much surface kinds are seen together, 0-1. */
export function contact(kind: SurfaceKind, other: SurfaceKind): number {
  return CONTACT[kind]?.[other] ?? CONTACT[other]?.[kind] ?? CONTACT_ELSEWHERE;
}

/** Doubt of a sample: the variances of a colour along L*, a* and b* added up, mean over its colours by area, CIELAB units squared. */
function doubt(sample: Sample): number {
  return sample.colours.reduce(
    (sum, c) => sum + c.share * (c.covariance[0] + c.covariance[4] + c.covariance[8]),
    0,
  );
}

/** The sample that speaks for a swatch: one with a measured reflectance, else the least doubtful. Null when there is none. */
export function leadingSample(swatch: Swatch): Sample | null {
  const samples = inOrder(swatch.samples);
  const rank = (s: Sample) => (s.reflectance ? 0 : 1);
  return samples.toSorted((a, b) => rank(a) - rank(b) || doubt(a) - doubt(b))[0] ?? null;
}

/** A mean over the colours of a sample, by area. */
function byArea(sample: Sample, pick: (colour: Sample['colours'][number]) => number): number {
  const whole = sample.colours.reduce((sum, c) => sum + c.share, 0) || 1;
  return sample.colours.reduce((sum, c) => sum + (c.share / whole) * pick(c), 0);
}

/** The colours of a sample averaged by area, CIELAB. */
export function meanColour(sample: Sample): Estimate['lab'] {
  return {
    L: byArea(sample, (c) => c.lab.L),
    a: byArea(sample, (c) => c.lab.a),
    b: byArea(sample, (c) => c.lab.b),
  };
}

/** One colour for a swatch, its colours averaged by area where it has several; null without a sample. */
export function swatchEstimate(swatch: Swatch): Estimate | null {
  const sample = leadingSample(swatch);
  if (!sample) return null;
  const covariance = sample.colours[0].covariance.map((_, i) => byArea(sample, (c) => c.covariance[i]));
  return { lab: meanColour(sample), covariance };
}

/** How busy a swatch looks, CIELAB units: as measured, 0 for plain paint; null where nobody measured it. */
export function swatchBusyness(swatch: Swatch): number | null {
  const samples = [leadingSample(swatch), ...inOrder(swatch.samples)];
  return samples.find((sample) => sample?.pattern)?.pattern?.busyness ?? unmeasuredBusyness(swatch.kind);
}

/** A swatch's name as people say it: name, else code, else kind. */
export function swatchTitle(swatch: Swatch): string {
  return swatch.name || swatch.code || `unnamed ${swatch.kind}`;
}

/** A swatch as the finish area reads it; null while it has no sample. */
export function finishInput(swatch: Swatch): FinishInput | null {
  const sample = leadingSample(swatch);
  if (!sample) return null;
  return {
    id: swatch.id,
    name: swatchTitle(swatch),
    colours: sample.colours.map(({ lab, covariance, share }) => ({
      estimate: { lab, covariance },
      share,
      ...(sample.reflectance && sample.colours.length === 1 && { reflectance: sample.reflectance }),
    })),
  };
}

/** The named lights of a room in their order, as the finish area reads them. */
export function lightInputs(job: Pick<Job, 'lights'>, roomId: Id): LightInput[] {
  return inOrder(job.lights)
    .filter((light) => light.roomId === roomId)
    .map(({ id, name, parts, illuminance }) => ({
      id,
      name,
      spectrum: Array.from(lightSpectrum({ parts })),
      illuminance,
    }));
}

/** What the target of a surface comes down to, or null while there is none (or its finish has no sample yet). */
export function targetEstimate(job: Job, surface: Surface): Estimate | null {
  const { target } = surface;
  if (!target) return null;
  return target.kind === 'finish' ? swatchEstimate(job.swatches[target.swatchId]) : target.estimate;
}

/** How sentences call the target of a surface: its finish, the inspiration, else the aim. */
function targetName(job: Job, { target }: Surface): string {
  if (target?.kind === 'finish') return swatchTitle(job.swatches[target.swatchId]);
  const photo = target?.kind === 'photo' ? job.photos[target.photoId] : undefined;
  return photo?.role === 'inspiration' ? 'the inspiration' : 'the aim';
}

/** Everything the ranking of a surface needs, and which of its swatches cannot take part yet for want of a sample. */
export function shortlistInput(job: Job, surfaceId: Id): { input: RankInput; withoutSample: Id[] } {
  const surface = job.surfaces[surfaceId];
  if (!surface) throw new RangeError(`Expected a surface of this job, got ${surfaceId}`);
  const withoutSample: Id[] = [];
  const candidates: CandidateInput[] = [];
  for (const swatch of inOrder(job.swatches)) {
    if (!surface.candidateIds[swatch.id]) continue;
    const finish = finishInput(swatch);
    if (!finish) withoutSample.push(swatch.id);
    else {
      const { price, leadTimeDays, publishedLrv } = swatch;
      candidates.push({ ...finish, price, leadTimeDays, lrv: publishedLrv });
    }
  }
  const fixed: RankInput['fixed'] = [];
  for (const other of inOrder(job.surfaces)) {
    if (
      other.id === surfaceId ||
      other.roomId !== surface.roomId ||
      other.state === 'open' ||
      !other.swatchId
    )
      continue;
    const finish = finishInput(job.swatches[other.swatchId]);
    if (finish) fixed.push({ finish, surfaceName: other.name, contact: contact(surface.kind, other.kind) });
    else withoutSample.push(other.swatchId);
  }
  return {
    input: {
      surface: { name: surface.name },
      target: targetEstimate(job, surface),
      targetName: targetName(job, surface),
      candidates,
      fixed,
      lights: lightInputs(job, surface.roomId),
      weights: surface.criteria.weights,
      limits: surface.criteria.limits,
      draws: DRAWS,
      seed: SEED,
    },
    withoutSample,
  };
}

/** Whether something in a photo is known well enough to correct it by: white paper, a grey card, a target, a finish with a colour. */
function hasReference(job: Job, { references }: Photo): boolean {
  return Object.values(references).some(
    ({ kind, swatchId }) =>
      kind !== 'finish' || (swatchId !== null && leadingSample(job.swatches[swatchId]) !== null),
  );
}

/** A photo as where a colour came from; of one that is gone nothing is left to take again. */
function photoOrigin(job: Job, photoId: Id | null): Omit<ColourOrigin, 'source'> {
  const photo = photoId === null ? undefined : job.photos[photoId];
  if (!photo) return { photoId: null, photoHasWhite: false };
  return { photoId: photo.id, photoName: photo.name, photoHasWhite: hasReference(job, photo) };
}

/** Where the colour that speaks for a swatch came from; null without one. */
function swatchOrigin(job: Job, swatch: Swatch): ColourOrigin | null {
  const sample = leadingSample(swatch);
  return sample && { source: sample.source, ...photoOrigin(job, sample.from?.photoId ?? null) };
}

/**
 * Where the colours of a surface's ranking came from, so that it can be said what to look at again: those of candidates and
 * of fixed finishes, and the target's. A typed target is taken at its word.
 */
export function observationOrigins(job: Job, surfaceId: Id): Pick<ObservationSetting, 'origins' | 'target'> {
  const { input } = shortlistInput(job, surfaceId);
  const { target } = job.surfaces[surfaceId];
  const ids = new Set([...input.candidates, ...input.fixed.map(({ finish }) => finish)].map(({ id }) => id));
  const origins = [...ids].flatMap((swatchId) => {
    const origin = swatchOrigin(job, job.swatches[swatchId]);
    return origin ? [{ swatchId, ...origin }] : [];
  });
  if (target?.kind === 'photo')
    return { origins, target: { source: 'photo', ...photoOrigin(job, target.photoId) } };
  return {
    origins,
    target: target?.kind === 'finish' ? swatchOrigin(job, job.swatches[target.swatchId]) : null,
  };
}
