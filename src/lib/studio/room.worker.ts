import { roomView, type RoomLight, type Spectrum } from '#lib/colour/index.ts';
import {
  correctImage,
  decodeMask,
  lightApart,
  lightShares,
  paintOver,
  projectPattern,
  tonedPattern,
  relight,
  relightApart,
  relightTable,
  surfaceLayers,
  type AppliedFinish,
  type Image8,
  type LightApart,
  type LightPlaces,
  type LightShares,
  type RelightTable,
  type SurfaceLayers,
  type SurfaceTexture,
} from '#lib/photo/index.ts';
import { expose, transfer } from 'comlink';
import type { LightParts } from './room-light.ts';
import type { FinishSource, PatternSource, RoomScene, SceneSurface } from './room-scene.ts';
import { boxOf } from './shapes.ts';
import { buffersOf, stageOf, type Stage, type StagePlace } from './room-stage.ts';
import { Kept, cut, handOver, tableIn, withCorrection, type PhotoSource } from './worker-photo.ts';

/** Corrected pictures kept, 12 MB each at 2048 px: the room's photo and those of patterns. */
const CORRECTED_KEPT = 4;
/** Surfaces taken apart, up to 41 MB each. */
const LAYERS_KEPT = 8;
const PATTERNS_KEPT = 12;
/** Shares of photos, 2-5 MB each. */
const SHARES_KEPT = 2;

type Shares = ReturnType<typeof lightShares>;

/** A surface, and what tells the lights of its photo apart; without that the light on it is read off it alone. */
export type SurfaceAmong = SceneSurface & { readonly among?: Pick<RoomScene, 'surfaces' | 'lightPlaces'> };

const correctedPictures = new Kept<Promise<Image8>>(CORRECTED_KEPT);
const layers = new Kept<Promise<SurfaceLayers>>(LAYERS_KEPT);
const patterns = new Kept<Promise<AppliedFinish>>(PATTERNS_KEPT);
const sharesOfPhotos = new Kept<Promise<Shares>>(SHARES_KEPT);

/** What a view without a graphics processor has here, by its name. */
const rooms = new Map<string, { picture: Image8; surfaces: Map<string, SurfaceLayers> }>();

function corrected(source: PhotoSource): Promise<Image8> {
  const make = async () => {
    const { image, correction } = await withCorrection(source);
    return correctImage(image, correction, { space: 'srgb' });
  };
  return correctedPictures.get(JSON.stringify(source), make);
}

/** Two masks of one picture with one check value are taken for the same. */
function surfaceKey(source: PhotoSource, { id, mask, old, oldSheen, among }: SurfaceAmong): string {
  const lit = among?.lightPlaces ? litKey(among.surfaces, among.lightPlaces) : null;
  return JSON.stringify([source, id, mask.sum, mask.code.length, old, oldSheen, lit]);
}

function litKey(surfaces: readonly SceneSurface[], places: LightPlaces): string {
  return JSON.stringify([places, surfaces.map(({ id, mask, old }) => [id, mask.sum, old])]);
}

function sharesOf(
  source: PhotoSource,
  surfaces: readonly SceneSurface[],
  places: LightPlaces,
): Promise<Shares> {
  const make = async () => {
    const picture = await corrected(source);
    const lit = surfaces.flatMap(({ mask, old }) => {
      try {
        return [{ mask: decodeMask(mask, picture), old }];
      } catch {
        // A damaged mask is named where its surface is shown; the others are enough to go by.
        return [];
      }
    });
    return lightShares(picture, lit, places);
  };
  return sharesOfPhotos.get(JSON.stringify([source, litKey(surfaces, places)]), make);
}

function apart(source: PhotoSource, surface: SurfaceAmong, texture: SurfaceTexture): Promise<SurfaceLayers> {
  const make = async () => {
    const picture = await corrected(source);
    const { mask, old, oldSheen, among } = surface;
    const lit = among?.lightPlaces && (await sharesOf(source, among.surfaces, among.lightPlaces));
    const shares = lit?.shares ?? null;
    return surfaceLayers(picture, decodeMask(mask, picture), { old, oldSheen, texture, shares });
  };
  return layers.get(`${surfaceKey(source, surface)} ${texture}`, make);
}

/** A view's picture, and its surfaces that have a finish. */
function dressed(room: string, finishes: readonly (readonly [string, AppliedFinish])[]) {
  const found = rooms.get(room);
  if (!found) throw new Error('The picture was closed before it was painted.');
  const on = finishes.flatMap(([id, finish]) => {
    const layers = found.surfaces.get(id);
    return layers && layers.box.width > 0 ? [{ layers, finish }] : [];
  });
  return { picture: found.picture, on };
}

async function laid(
  source: PhotoSource,
  surface: SurfaceAmong & { readonly plane: NonNullable<SceneSurface['plane']> },
  { pattern, texture }: { readonly pattern: PatternSource; readonly texture: SurfaceTexture },
) {
  const whole = await corrected(pattern.source);
  const { width, height, repeat, tone } = pattern;
  const shown = cut(whole, boxOf(pattern.region));
  const image = tone ? tonedPattern(shown, tone) : shown;
  return projectPattern(
    await apart(source, surface, texture),
    { image, width, height },
    { plane: surface.plane, repeat },
  );
}

const work = {
  /** The photo, corrected, sRGB, at working size. */
  async picture(source: PhotoSource): Promise<Image8> {
    const image = await corrected(source);
    const data = image.data.slice();
    return transfer({ ...image, data }, [data.buffer]);
  },

  /** A marked surface taken apart; `notes` in it say what the picture could not show. */
  async layers(source: PhotoSource, surface: SurfaceAmong, texture: SurfaceTexture): Promise<SurfaceLayers> {
    const kept = await apart(source, surface, texture);
    const own = {
      ...kept,
      light: kept.light.slice(),
      glow: kept.glow.slice(),
      coverage: kept.coverage.slice(),
      rest: kept.rest.slice(),
    };
    return transfer(own, [own.light.buffer, own.glow.buffer, own.coverage.buffer, own.rest.buffer]);
  },

  /** A finish ready to be put on a surface; its pattern laid on the surface's plane where it has both. */
  async applied(
    source: PhotoSource,
    surface: SurfaceAmong,
    { colour, sheen, pattern, texture }: FinishSource,
  ): Promise<AppliedFinish> {
    const { plane } = surface;
    if (!pattern || !plane) return { colour, sheen };
    const make = async () => ({
      colour: await laid(source, { ...surface, plane }, { pattern, texture }),
      sheen,
    });
    const key = JSON.stringify([surfaceKey(source, surface), plane, pattern, texture, sheen]);
    return patterns.get(key, make);
  },

  /** The table that shows the picture in a light. */
  light(light: RoomLight): RelightTable {
    return tableIn(light);
  },

  /** Which part of the light on each place of a photo is the window's; a sentence where that cannot be told or is in doubt. */
  async shares(
    source: PhotoSource,
    surfaces: readonly SceneSurface[],
    places: LightPlaces,
  ): Promise<{ shares: LightShares | null; note: string | null }> {
    return sharesOf(source, surfaces, places);
  },

  /** What shows window and lamps of a picture each in its own light. */
  apart(shares: LightShares, { whole, part, window, lamps }: LightParts): LightApart {
    const view = roomView(whole);
    // The eye is adapted to both, whichever it looks at.
    const table = (spectrum: Spectrum | null) =>
      spectrum &&
      relightTable('srgb', 'srgb', {
        ...view,
        weights: roomView({ spectrum, illuminance: whole.illuminance }).weights,
      });
    return lightApart(shares, { window: table(window), lamps: table(lamps), whole: tableIn(whole), part });
  },

  /** Picture of a view that has no graphics processor. */
  setPicture(room: string, picture: Image8): void {
    rooms.set(room, { picture, surfaces: new Map() });
  },

  /** A surface of that view; null takes it away. */
  setSurface(room: string, id: string, surface: SurfaceLayers | null): void {
    const surfaces = rooms.get(room)?.surfaces;
    if (surface) surfaces?.set(id, surface);
    else surfaces?.delete(id);
  },

  /** The view's picture with finishes on, in a light. */
  painted(
    room: string,
    finishes: readonly (readonly [string, AppliedFinish])[],
    light: RelightTable | LightApart | null,
  ): Promise<ImageBitmap> {
    const { picture, on } = dressed(room, finishes);
    const painted = on.length > 0 ? paintOver(picture, on) : picture;
    if (!light) return handOver(painted);
    return handOver('shares' in light ? relightApart(painted, light, picture) : relight(painted, light));
  },

  /** What a canvas shows of the view, made ready for frames: see `stageOf`. */
  stage(
    room: string,
    finishes: readonly (readonly [string, AppliedFinish])[],
    options: { readonly place: StagePlace; readonly light: LightApart | null },
  ): Stage {
    const { picture, on } = dressed(room, finishes);
    const stage = stageOf(picture, on, options);
    return transfer(stage, buffersOf(stage));
  },

  /** Lets a view's picture and surfaces go. */
  leave(room: string): void {
    rooms.delete(room);
  },
};

export type RoomWork = typeof work;

expose(work);
