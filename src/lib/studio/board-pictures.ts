import {
  decodeMask,
  type LightApart,
  type LightShares,
  type Mask,
  type RelightTable,
} from '#lib/photo/index.ts';
import type { BoardPicture, Id, Job, Light, Photo, Surface, Swatch } from '#lib/job/index.ts';
import { believedScene } from './believed-scene.ts';
import { pictureWords, type DrawnPage } from './board-content.ts';
import { capital } from './light-words.ts';
import { viewing } from './look.ts';
import { roomWords } from './readings.ts';
import { lightParts } from './room-light.ts';
import { RoomPicture } from './room-picture.ts';
import { finishSource, roomScene, type RoomScene } from './room-scene.ts';
import { roomWork } from './room-work.ts';
import { lightMade, patternsLeftOut } from './seen-caption.ts';
import { Kept } from './worker-photo.ts';

/*
 * The pictures of a board: before and after under each of its lights, at full working size, as files with their hash. What
 * was drawn once is kept, so that another word on a page draws nothing again.
 */

/** A picture as it is sent. */
export interface SentPicture {
  readonly id: string;
  readonly blob: Blob;
  readonly hash: string;
  readonly width: number;
  readonly height: number;
}

/** What a page of pictures came to. */
export interface DrawnPictures {
  readonly page: DrawnPage;
  readonly sent: readonly SentPicture[];
  /** What could not be shown, in sentences. */
  readonly notes: readonly string[];
}

/** A surface and what is put on it. */
export interface PutOn {
  readonly surface: Surface;
  readonly swatch: Swatch;
}

/** JPEG without a loss that shows: the studio makes the sizes for phones from it. */
const QUALITY = 0.92;
/** Pictures kept between drawings, half a megabyte each. */
const PICTURES_KEPT = 40;
/** Long side of a mark, px. */
const MARK_SIDE = 480;
/** Long side of the grid on which the middle of a surface is looked for. */
const GRID = 160;

/** Shares of the two lights of photos kept, 3 MB each. */
const SHARES_KEPT = 3;

const kept = new Map<string, Promise<SentPicture>>();
const keptShares = new Kept<Promise<LightShares | null>>(SHARES_KEPT);

function keptPicture(key: string, make: () => Promise<SentPicture>): Promise<SentPicture> {
  const found = kept.get(key) ?? make();
  found.catch(() => kept.delete(key));
  kept.delete(key);
  kept.set(key, found);
  while (kept.size > PICTURES_KEPT) kept.delete(kept.keys().next().value as string);
  return found;
}

/** A picture as a file of its own; its name follows from what it shows. */
export async function sentPicture(
  source: ImageBitmap,
  { longSide = Infinity, type = 'image/jpeg' }: { longSide?: number; type?: 'image/jpeg' | 'image/png' } = {},
): Promise<SentPicture> {
  const scale = Math.min(1, longSide / Math.max(source.width, source.height));
  const size = [source.width, source.height].map((side) => Math.max(1, Math.round(scale * side)));
  const canvas = new OffscreenCanvas(size[0], size[1]);
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  context.imageSmoothingQuality = 'high';
  context.drawImage(source, 0, 0, size[0], size[1]);
  source.close();
  const blob = await canvas.convertToBlob({ type, quality: QUALITY });
  const hash = await sha256(await blob.arrayBuffer());
  return { id: `p-${hash.slice(0, 24)}`, blob, hash, width: size[0], height: size[1] };
}

/** SHA-256, hexadecimal. */
async function sha256(bytes: ArrayBuffer): Promise<string> {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** A picture of a page, with what it shows in words. */
export function pictureOf({ id, hash, width, height }: SentPicture, words: string): BoardPicture {
  return { id, hash, width, height, words };
}

/** The designer's mark, from a file of the job. */
export async function drawnMark(
  fileId: Id,
  name: string,
): Promise<{ mark: BoardPicture; sent: SentPicture }> {
  const sent = await keptPicture(`mark ${fileId}`, async () => {
    const response = await fetch(`/api/files/${fileId}/view.webp`);
    if (!response.ok) throw new Error('The mark could not be read. Bring it again.');
    return sentPicture(await createImageBitmap(await response.blob()), {
      longSide: MARK_SIDE,
      type: 'image/png',
    });
  });
  return { mark: pictureOf(sent, name ? `Mark of ${name}` : 'Mark of the designer'), sent };
}

/** A photo of a room with finishes on, ready to be drawn under one light after another. Dispose it when all is drawn. */
export class BoardRoom {
  readonly scene: RoomScene;
  readonly notes: string[] = [];
  readonly #job: Job;
  readonly #photo: Photo;
  readonly #view = new RoomPicture();
  readonly #on = new Map<Id, PutOn>();
  #ready = false;

  constructor(job: Job, photo: Photo) {
    this.#job = job;
    this.#photo = photo;
    this.scene = roomScene(job, photo);
    this.notes.push(...this.scene.notes);
  }

  dispose(): void {
    this.#view.dispose();
  }

  /** The picture under a light, null for plain daylight, with these finishes on; drawn only where it is not kept. */
  async picture(on: readonly PutOn[], light: Light | null): Promise<SentPicture> {
    const marked = on.filter(({ surface }) => this.scene.surfaces.some(({ id }) => id === surface.id));
    const { source, surfaces, lightPlaces } = this.scene;
    const key = JSON.stringify([
      source,
      surfaces.map(({ id, mask, plane, old, oldSheen }) => [
        id,
        mask.sum,
        mask.code.length,
        plane,
        old,
        oldSheen,
      ]),
      marked.map(({ surface, swatch }) => [surface.id, swatch.kind, swatch.sheen, swatch.samples]),
      light && [light.parts, light.illuminance, lightPlaces],
    ]);
    return keptPicture(key, async () => {
      await this.#prepare();
      await this.#put(marked);
      this.#view.setLight(light && (await this.#tableOf(light)));
      return sentPicture(await this.#view.read());
    });
  }

  async #prepare(): Promise<void> {
    if (this.#ready) return;
    this.#view.setPicture(await roomWork().picture(this.scene.source));
    this.#ready = true;
  }

  /** The scene as far as the photo bears it out. */
  async #borneOut(): Promise<RoomScene> {
    const { scene, doubts } = await believedScene(this.scene, () => roomWork().picture(this.scene.source));
    this.notes.push(...doubts.filter((doubt) => !this.notes.includes(doubt)));
    return scene;
  }

  /** What of the photo's own light is the window's; null where nothing was pointed at or nothing can be told. */
  async #shares(): Promise<LightShares | null> {
    const { source, surfaces, lightPlaces } = await this.#borneOut();
    if (!lightPlaces) return null;
    const key = JSON.stringify([
      source,
      lightPlaces,
      surfaces.map(({ id, mask, old }) => [id, mask.sum, old]),
    ]);
    return keptShares.get(key, async () => (await roomWork().shares(source, surfaces, lightPlaces)).shares);
  }

  async #put(on: readonly PutOn[]): Promise<void> {
    for (const id of this.#on.keys())
      if (!on.some(({ surface }) => surface.id === id)) {
        this.#view.removeSurface(id);
        this.#on.delete(id);
      }
    const scene = await this.#borneOut();
    for (const put of on) {
      const { surface, swatch } = put;
      const there = scene.surfaces.find(({ id }) => id === surface.id);
      const finish = there && finishSource(this.#job, { swatch, surface: there });
      if (!there || !finish || this.#on.get(surface.id)?.swatch === swatch) continue;
      try {
        const lit = { ...there, among: scene };
        this.#view.setSurface(surface.id, await roomWork().layers(scene.source, lit, finish.texture));
        this.#view.setFinish(surface.id, await roomWork().applied(scene.source, lit, finish));
        this.#on.set(surface.id, put);
        this.notes.push(...finish.notes, ...(finish.patternGap ? [finish.patternGap.words] : []));
      } catch (error) {
        this.notes.push(
          `${surface.name} is shown as photographed: ${error instanceof Error ? error.message : error}`,
        );
      }
    }
  }

  async #tableOf(light: Light): Promise<RelightTable | LightApart> {
    const shares = await this.#shares();
    const parts = shares && lightParts(this.#job, { lightId: light.id });
    if (shares && parts) return roomWork().apart(shares, parts);
    const { spectrum, illuminance } = viewing(light);
    return roomWork().light({ spectrum, illuminance });
  }

  /** How the light of a picture of the proposal looks, and how it was worked out. */
  async #lightWords(light: Light | null): Promise<string> {
    if (!light) return lightMade(null, null);
    const shown = viewing(light);
    const told = lightParts(this.#job, { lightId: light.id }) && (await this.#shares());
    return `${capital(roomWords(shown.view))}. ${lightMade(shown, told)}`;
  }

  /** Which of these finishes are drawn without their pattern, in a sentence; empty where none is. */
  plainWords(on: readonly PutOn[]): string {
    const plain = on.flatMap(({ surface, swatch }) => {
      const there = this.scene.surfaces.find(({ id }) => id === surface.id);
      const gap = there && finishSource(this.#job, { swatch, surface: there })?.patternGap;
      return there && gap ? [{ surface: there.name, swatch }] : [];
    });
    return patternsLeftOut(plain);
  }

  /** A page of pictures: before, and the proposal by plain daylight and under each light. `drawn` hears of every picture. */
  async page(
    on: readonly PutOn[],
    { lights, drawn }: { lights: readonly Light[]; drawn: () => void },
  ): Promise<DrawnPictures> {
    const shown = on
      .filter(({ surface }) => this.scene.surfaces.some(({ id }) => id === surface.id))
      .map(({ surface, swatch }) => ({ surface: surface.name, swatch }));
    const before = await this.picture([], null);
    drawn();
    const sent = [before];
    const after: DrawnPage['after'] = [];
    const plain = this.plainWords(on);
    for (const light of [null, ...lights]) {
      const picture = await this.picture(on, light);
      drawn();
      sent.push(picture);
      const unchanged = light && (await this.picture([], light));
      if (unchanged) {
        drawn();
        sent.push(unchanged);
      }
      after.push({
        light: light?.name ?? 'Plain daylight',
        words: [plain, await this.#lightWords(light)].filter(Boolean).join(' '),
        picture: pictureOf(picture, pictureWords(shown, light?.name ?? null)),
        ...(light &&
          unchanged && {
            before: pictureOf(unchanged, `${this.#photo.name}: the room as it is, under ${light.name}.`),
          }),
      });
    }
    const words = `${this.#photo.name}: the room as photographed.`;
    const page = { before: pictureOf(before, words), after, places: placesOf(this.scene) };
    return { page, sent, notes: [...new Set(this.notes)] };
  }
}

/** A mark of a photo; null where it is damaged. */
function maskOf({ surfaces, width, height }: RoomScene, id: Id): Mask | null {
  const surface = surfaces.find((one) => one.id === id);
  try {
    return surface ? decodeMask(surface.mask, { width, height }) : null;
  } catch {
    return null;
  }
}

/** Where each marked surface is: a point well inside it, parts of the picture's width and height. */
function placesOf(scene: RoomScene): DrawnPage['places'] {
  return scene.surfaces.flatMap(({ id, name }) => {
    const mask = maskOf(scene, id);
    const point = mask && insidePoint(mask);
    return point ? [{ surfaceId: id, surface: name, x: point.x, y: point.y }] : [];
  });
}

/** Pixels that each marked surface covers, by surface. */
export function coveredAreas(scene: RoomScene): Record<Id, number> {
  return Object.fromEntries(
    scene.surfaces.map(({ id }) => [id, maskOf(scene, id)?.data.reduce((sum, cover) => sum + cover, 0) ?? 0]),
  );
}

/**
 * The point of a mask farthest from its border and from the picture's, parts of width and height; null for an empty mask. Found
 * on a grid, by steps to the nearest uncovered cell (city blocks), which is enough to point at something.
 */
export function insidePoint({ width, height, data }: Mask): { x: number; y: number } | null {
  const cell = Math.max(1, Math.ceil(Math.max(width, height) / GRID));
  const [columns, rows] = [Math.ceil(width / cell), Math.ceil(height / cell)];
  const steps = new Int32Array((columns + 2) * (rows + 2));
  const at = (x: number, y: number) => (y + 1) * (columns + 2) + x + 1;
  for (let y = 0; y < rows; y += 1)
    for (let x = 0; x < columns; x += 1) {
      const middle = {
        x: Math.min(width - 1, x * cell + (cell >> 1)),
        y: Math.min(height - 1, y * cell + (cell >> 1)),
      };
      steps[at(x, y)] = data[middle.y * width + middle.x] > 127 ? columns + rows : 0;
    }
  for (let y = 0; y < rows; y += 1)
    for (let x = 0; x < columns; x += 1)
      steps[at(x, y)] = Math.min(steps[at(x, y)], steps[at(x - 1, y)] + 1, steps[at(x, y - 1)] + 1);
  let best = { steps: 0, x: 0, y: 0 };
  for (let y = rows - 1; y >= 0; y -= 1)
    for (let x = columns - 1; x >= 0; x -= 1) {
      const here = Math.min(steps[at(x, y)], steps[at(x + 1, y)] + 1, steps[at(x, y + 1)] + 1);
      steps[at(x, y)] = here;
      if (here > best.steps) best = { steps: here, x, y };
    }
  if (best.steps === 0) return null;
  return {
    x: Math.min(1, ((best.x + 0.5) * cell) / width),
    y: Math.min(1, ((best.y + 0.5) * cell) / height),
  };
}
