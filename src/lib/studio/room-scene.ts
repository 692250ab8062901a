import type { Lab } from '#lib/colour/index.ts';
import {
  leadingSample,
  meanColour,
  surfaceNames,
  swatchTitle,
  type Id,
  type Job,
  type Photo,
  type Sample,
  type Surface,
  type SurfaceKind,
  type Swatch,
} from '#lib/job/index.ts';
import type {
  GlossName,
  LightPlaces,
  RealPlane,
  Region,
  StoredMask,
  SurfaceTexture,
} from '#lib/photo/index.ts';
import { photoSource } from './analysis.ts';
import { boxOf } from './shapes.ts';
import type { PhotoSource } from './worker-photo.ts';

/**
 * From the job to what is to be drawn: which surfaces a photo shows, what is on them, and what a swatch puts there. Plain
 * data, fit to be sent to the worker; what could not be used is said in words.
 */

/** A surface marked in a photo. */
export interface SceneSurface {
  /** The surface's id in the job. */
  readonly id: string;
  /** What it is called beside the others: see `surfaceNames`. */
  readonly name: string;
  readonly kind: SurfaceKind;
  readonly mask: StoredMask;
  /** Where a rectangle of it lies, for stone and tile; null while its corners are not marked. */
  readonly plane: RealPlane | null;
  /** The colour of the finish that the job says is on it now: a fixed one, or one that another is to replace. */
  readonly old: Lab | null;
  /** What that finish is called; empty where none is known. */
  readonly oldName: string;
  /** Its sheen: as said, as that finish has it, else the usual one; null where none is usual. */
  readonly oldSheen: GlossName | null;
  /** Whether that is only what is usual. */
  readonly sheenGuessed: boolean;
  /** Whether it is known to be wood in the photo. */
  readonly wooden: boolean;
}

export interface RoomScene {
  readonly source: PhotoSource;
  /** Of the working image, pixels. */
  readonly width: number;
  readonly height: number;
  /** In the order the job shows them. */
  readonly surfaces: readonly SceneSurface[];
  /** Where the window alone gives light and where lamps do, or the window itself; null where nothing was pointed at. */
  readonly lightPlaces: LightPlaces | null;
  /** Sentences about marks that are there and cannot be used; empty where all is well. */
  readonly notes: readonly string[];
}

/** A picture of stone, tile or wood, and how much of the real thing it is taken to show, mm. */
export interface PatternSource {
  readonly source: PhotoSource;
  readonly region: Region;
  readonly width: number;
  readonly height: number;
  readonly repeat: 'quilted' | 'same';
  /** The colour its photo shows and the one that counts, where another sample of the swatch leads; null where it is the photo's. */
  readonly tone: { readonly from: Lab; readonly to: Lab } | null;
}

/** Why a stone, tile or wood is shown in its mean colour alone. */
export interface PatternGap {
  /** The corners of the surface, or a photo of the finish. */
  readonly missing: 'corners' | 'photo';
  /** The finish. */
  readonly swatchId: Id;
  /** A sentence. */
  readonly words: string;
}

/** What a swatch puts on a surface. */
export interface FinishSource {
  /** One colour, CIELAB D65/10; of a pattern its mean. */
  readonly colour: Lab;
  readonly sheen: GlossName | null;
  /** Null where its one colour stands for it. */
  readonly pattern: PatternSource | null;
  /** What keeps its pattern from being shown; null where it is shown, and for what has none. */
  readonly patternGap: PatternGap | null;
  /** How the surface has to be taken apart for it. */
  readonly texture: SurfaceTexture;
  /** What is guessed about it. */
  readonly notes: readonly string[];
}

/** Surfaces whose material usually has grain, veins or joints that another finish hides. */
const TEXTURED: readonly SurfaceKind[] = ['counter', 'backsplash', 'floor', 'wood accents', 'textiles'];
/** Surfaces that may be bare or stained wood or painted already: the photo tells. */
const JOINERY: readonly SurfaceKind[] = ['cabinets', 'island', 'doors'];
/** Surfaces on which a wood without a picture of its own goes as a stain does. */
const STAINED: readonly SurfaceKind[] = [...JOINERY, 'floor', 'wood accents'];
/**
 * What surfaces that nobody described are usually painted or varnished in; stone, tile, metal and cloth have no usual one.
 * Common practice, no published source.
 */
export const USUAL_SHEEN: Readonly<Partial<Record<SurfaceKind, GlossName>>> = {
  walls: 'matt',
  ceiling: 'flat',
  cabinets: 'satin',
  island: 'satin',
  doors: 'satin',
  trim: 'semi-gloss',
  floor: 'satin',
  'wood accents': 'satin',
};
/**
 * How wide the real thing is that a photographed sample shows, mm, where its sample does not say: a sample slab, a tile
 * with its joint, a board of veneer. Common practice, no published source.
 */
const SHOWN_WIDTH = { stone: 600, tile: 300, wood: 400 } as const;

/**
 * The marked surfaces of a photo that can be drawn. A mask that was drawn on another picture, or on one of another size, is
 * kept in the job, left out here and named in `notes`.
 */
export function roomScene(job: Job, photo: Photo): RoomScene {
  const names = surfaceNames(job, photo);
  const surfaces: SceneSurface[] = [];
  const replaced: string[] = [];
  const resized: string[] = [];
  const marked = Object.values(photo.masks ?? {})
    .filter(({ id }) => job.surfaces[id])
    .sort((a, b) => job.surfaces[a.id].order - job.surfaces[b.id].order || (a.id < b.id ? -1 : 1));
  for (const { id, fileId, mask, plane } of marked) {
    const surface = job.surfaces[id];
    const name = names[id] ?? surface.name;
    if (fileId !== photo.fileId) replaced.push(name);
    else if (mask.width !== photo.width || mask.height !== photo.height) resized.push(name);
    else surfaces.push({ id, name, kind: surface.kind, mask, plane, ...onIt(job, surface) });
  }
  return {
    source: photoSource(job, photo),
    width: photo.width,
    height: photo.height,
    surfaces,
    lightPlaces: placesOf(photo),
    notes: [
      ...(replaced.length > 0
        ? [
            `The picture of this photo was replaced after ${listed(replaced)} ${were(replaced)} marked. The marks are kept but not used, because they may lie in the wrong places here: mark again, or keep them where it shows the very same view.`,
          ]
        : []),
      ...(resized.length > 0
        ? [
            `${listed(resized)} ${were(resized)} marked on a picture of another size than ${photo.width} by ${photo.height} pixels. The marks are kept but not used: mark again.`,
          ]
        : []),
    ],
  };
}

const were = (names: readonly string[]) => (names.length === 1 ? 'was' : 'were');

/** 'Walls', 'Walls and Floor', 'Walls, Floor and Trim'. */
export function listed(names: readonly string[]): string {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}

function placesOf({ lightPlaces, fileId }: Photo): LightPlaces | null {
  if (lightPlaces?.fileId !== fileId) return null;
  const { window, lamps } = lightPlaces;
  return window.length + lamps.length > 0 ? { window, lamps } : null;
}

/** A chosen finish is still to come: the photo shows the one that it replaces, where that is known. */
function onIt(
  job: Job,
  { state, swatchId, thereId, kind, sheenNow }: Surface,
): Pick<SceneSurface, 'old' | 'oldName' | 'oldSheen' | 'sheenGuessed' | 'wooden'> {
  const there = state === 'fixed' ? swatchId : thereId;
  const swatch = there ? job.swatches[there] : undefined;
  const sample = swatch && leadingSample(swatch);
  const sheen = sheenNow ?? swatch?.sheen ?? null;
  return {
    old: sample ? meanColour(sample) : null,
    oldName: swatch ? swatchTitle(swatch) : '',
    oldSheen: sheen ?? USUAL_SHEEN[kind] ?? null,
    sheenGuessed: sheen === null && kind in USUAL_SHEEN,
    wooden: swatch ? swatch.kind === 'wood' : kind === 'wood accents',
  };
}

/** What a swatch puts on a surface; null while the swatch has no sample and so no colour. */
export function finishSource(
  job: Job,
  { swatch, surface }: { readonly swatch: Swatch; readonly surface: SceneSurface },
): FinishSource | null {
  const sample = leadingSample(swatch);
  if (!sample) return null;
  const { sheen } = swatch;
  const { pattern, patternGap, notes } = patternOf(job, { swatch, surface, sample });
  const stained = !pattern && swatch.kind === 'wood' && (surface.wooden || STAINED.includes(surface.kind));
  const texture = stained ? 'keep' : coveredTexture(surface);
  if (stained)
    notes.push(
      `What grain the photo shows is kept and takes the colour of ${swatchTitle(swatch)}, as a stain would.`,
    );
  const { oldSheen, sheenGuessed } = surface;
  if (sheenGuessed && (sheen || surface.old))
    notes.push(`What sheen is on ${surface.name} now is not known: ${oldSheen} is assumed, as is usual.`);
  else if (sheen && !oldSheen)
    notes.push(
      `What sheen is on ${surface.name} now is not known, so its highlights stay as they were photographed.`,
    );
  return { colour: meanColour(sample), sheen, pattern, patternGap, texture, notes };
}

/** What an opaque finish makes of the texture that is there. */
function coveredTexture({ kind, wooden }: SceneSurface): SurfaceTexture {
  // First, also where it is known to be wood: the gaps between doors are no grain, and 'hide' would take them away.
  if (JOINERY.includes(kind)) return 'hide if any';
  return wooden || TEXTURED.includes(kind) ? 'hide' : 'none';
}

function patternOf(
  job: Job,
  { swatch, surface, sample }: { swatch: Swatch; surface: SceneSurface; sample: Sample },
): Pick<FinishSource, 'pattern' | 'patternGap'> & { notes: string[] } {
  const { kind } = swatch;
  if (kind !== 'stone' && kind !== 'tile' && kind !== 'wood')
    return { pattern: null, patternGap: null, notes: [] };
  const name = swatchTitle(swatch);
  const plain = (missing: PatternGap['missing'], why: string) => ({
    pattern: null,
    patternGap: {
      missing,
      swatchId: swatch.id,
      words: `${name} is shown in its mean colour, without its pattern: ${why}.`,
    },
    notes: [],
  });
  const pictured = sample.from ? sample : Object.values(swatch.samples).find(({ from }) => from);
  const photo = pictured?.from ? job.photos[pictured.from.photoId] : undefined;
  const region = pictured?.from ? photo?.regions[pictured.from.regionId]?.region : undefined;
  if (!pictured || !photo || !region)
    return plain(
      'photo',
      `no photo in this job shows it. Bring one, draw an outline round ${patternPiece(swatch)} there, and keep it for ${name}`,
    );
  if (!surface.plane)
    return plain('corners', `set four corners on ${surface.name}, so that it can lie there in perspective`);
  const { width, measured } = pictured.pattern ?? { width: SHOWN_WIDTH[kind], measured: false };
  const box = boxOf(region);
  return {
    pattern: {
      source: photoSource(job, photo),
      region,
      width,
      height: (width * box.height) / box.width,
      // Tiles are photographed joint to joint; of stone and wood more is made of what the photo shows.
      repeat: kind === 'tile' ? 'same' : 'quilted',
      tone: pictured === sample ? null : { from: meanColour(pictured), to: meanColour(sample) },
    },
    patternGap: null,
    notes: measured
      ? []
      : [
          `The photographed part of ${name} is taken to be ${Math.round(width)} mm wide; its pattern has that size here. Its swatch takes the true width.`,
        ],
  };
}

/** What to outline in a photo of a finish, so that it can be laid on a surface. */
export function patternPiece({ kind }: Pick<Swatch, 'kind'>): string {
  if (kind === 'tile') return 'one tile with its joint, or a few that repeat';
  if (kind === 'wood') return 'the largest clean part of the boards';
  return 'the largest clean part of it';
}
