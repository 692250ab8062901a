import { roomView, type RoomLight } from '#lib/colour/index.ts';
import {
  correctionFromReferences,
  correctionWithoutReference,
  evened,
  relightTable,
  type Correction,
  type Evened,
  type Image8,
  type Reference,
  type RelightTable,
  type Scene,
} from '#lib/photo/index.ts';
import { transfer } from 'comlink';

/**
 * Photos as a worker has them: opened, evened out, corrected, kept while they are among the latest; and pictures on their
 * way between canvas and kernels.
 */

/** A photo as a worker needs it: where its pixels are, and what in it is known. */
export interface PhotoSource {
  fileId: string;
  space: Image8['space'];
  scene: Scene;
  references: Reference[];
}

/** Decoded pictures kept; a 2048 px picture is 12-17 MB. */
const PICTURES_KEPT = 5;
const CORRECTIONS_KEPT = 40;
/** Tables of lights, 0.4 MB each: who goes to and fro in a day comes back to the same hours. */
const TABLES_KEPT = 100;

/** The latest things of a kind, made where they are missing. Work that fails is not remembered. */
export class Kept<V> {
  readonly #things = new Map<string, V>();
  readonly #most: number;

  constructor(most: number) {
    this.#most = most;
  }

  get(key: string, make: () => V): V {
    const known = this.#things.get(key);
    const thing = known ?? make();
    this.#things.delete(key);
    this.#things.set(key, thing);
    if (known === undefined && thing instanceof Promise) thing.catch(() => this.#things.delete(key));
    while (this.#things.size > this.#most) this.#things.delete(this.#things.keys().next().value as string);
    return thing;
  }
}

const pictures = new Kept<Promise<{ delivered: Image8; evened: Evened }>>(PICTURES_KEPT);
const corrections = new Kept<Correction>(CORRECTIONS_KEPT);
const tables = new Kept<RelightTable>(TABLES_KEPT);

async function decode({ fileId, space }: PhotoSource): Promise<Image8> {
  const response = await fetch(`/api/files/${fileId}/working.png`);
  if (!response.ok)
    throw new Error(`The picture could not be loaded (${response.status}). Reload the page to try again.`);
  // The working image carries no profile: its device values pass through the canvas unchanged.
  const bitmap = await createImageBitmap(await response.blob(), { premultiplyAlpha: 'none' });
  return { ...pixels(bitmap), space };
}

/** The picture as delivered, and in light made as even as its scene allows. */
export function opened(source: PhotoSource): Promise<{ delivered: Image8; evened: Evened }> {
  const make = () =>
    decode(source).then((delivered) => ({ delivered, evened: evened(delivered, source.scene) }));
  return pictures.get(`${source.fileId} ${source.scene}`, make);
}

/** The picture in even light, not yet corrected, and its correction with what is to be said about both. */
export async function withCorrection(
  source: PhotoSource,
): Promise<{ image: Image8; correction: Correction }> {
  const { image, notes } = (await opened(source)).evened;
  const make = () => {
    const correction =
      source.references.length > 0
        ? correctionFromReferences(image, source.references)
        : correctionWithoutReference(image);
    return { ...correction, notes: [...notes, ...correction.notes] };
  };
  const key = JSON.stringify([source.fileId, source.scene, source.references]);
  return { image, correction: corrections.get(key, make) };
}

/** The table that shows a corrected sRGB picture in a light. */
export function tableIn(light: RoomLight): RelightTable {
  const key = `${light.illuminance} ${light.spectrum.join(' ')}`;
  return tables.get(key, () => relightTable('srgb', 'srgb', roomView(light)));
}

/** The pixels of a bitmap, which is closed. */
export function pixels(bitmap: ImageBitmap): Omit<Image8, 'space'> {
  const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d', {
    willReadFrequently: true,
  });
  if (!context) throw new Error('This browser cannot read pictures: its canvas is switched off.');
  context.drawImage(bitmap, 0, 0);
  const { width, height, data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
  bitmap.close();
  return { width, height, channels: 4, data };
}

/** The picture as the page's canvases take it, opaque. */
export function toImageData({ width, height, channels, data, space }: Image8): ImageData {
  const rgba = new Uint8ClampedArray(width * height * 4);
  for (let i = 0, from = 0; i < rgba.length; i += 4, from += channels) {
    rgba[i] = data[from];
    rgba[i + 1] = data[from + 1];
    rgba[i + 2] = data[from + 2];
    rgba[i + 3] = 255;
  }
  return new ImageData(rgba, width, height, { colorSpace: space === 'display-p3' ? 'display-p3' : 'srgb' });
}

/** The picture as a bitmap that moves to the page. */
export async function handOver(image: Image8): Promise<ImageBitmap> {
  const bitmap = await createImageBitmap(toImageData(image));
  return transfer(bitmap, [bitmap]);
}

/** An upright part of a picture in its pixels. */
export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** A part of a picture, at least a pixel and within it. */
export function cut(image: Image8, box: Box): Image8 {
  const left = Math.max(0, Math.floor(box.x));
  const top = Math.max(0, Math.floor(box.y));
  const width = Math.max(1, Math.min(image.width - left, Math.round(box.width)));
  const height = Math.max(1, Math.min(image.height - top, Math.round(box.height)));
  const data = new Uint8ClampedArray(width * height * image.channels);
  for (let y = 0; y < height; y += 1) {
    const from = ((top + y) * image.width + left) * image.channels;
    data.set(image.data.subarray(from, from + width * image.channels), y * width * image.channels);
  }
  return { ...image, width, height, data };
}
