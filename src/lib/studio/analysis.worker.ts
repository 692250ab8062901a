import { decodeRgb, encodeRgb, roomView, type RoomLight } from '#lib/colour/index.ts';
import {
  compareLamps,
  lightReport,
  rank,
  type LampComparison,
  type LampComparisonInput,
  type LightReport,
  type LightReportInput,
  type RankInput,
  type Ranking,
} from '#lib/finish/index.ts';
import {
  correctImage,
  correctionFromReferences,
  correctionWithoutReference,
  evened,
  findBoardPatches,
  measureRegion,
  palette,
  relight,
  relightTable,
  type BoardPatches,
  type Correction,
  type Evened,
  type Image8,
  type Measurement,
  type Palette,
  type Reference,
  type Region,
  type RelightTable,
  type Scene,
} from '#lib/photo/index.ts';
import { expose, transfer } from 'comlink';

/** A photo as the worker needs it: where its pixels are, and what in it is known. */
export interface PhotoSource {
  fileId: string;
  space: Image8['space'];
  scene: Scene;
  references: Reference[];
}

/** Decoded pictures kept; a 2048 px picture is 12-17 MB. */
const PICTURES_KEPT = 5;
const CORRECTIONS_KEPT = 40;
/** Corrected pictures at the size of the screen, 4 MB each. */
const SCREEN_PICTURES_KEPT = 4;
/** Tables of lights, 0.4 MB each: who goes to and fro in a day comes back to the same hours. */
const TABLES_KEPT = 100;

const pictures = new Map<string, Promise<{ delivered: Image8; evened: Evened }>>();
const corrections = new Map<string, Correction>();
const screenPictures = new Map<string, Promise<Image8>>();
const tables = new Map<string, RelightTable>();

/** Keeps the newest entries of a map that is used as a cache. */
function trim<K, V>(map: Map<K, V>, most: number): void {
  while (map.size > most) map.delete(map.keys().next().value as K);
}

async function decode({ fileId, space }: PhotoSource): Promise<Image8> {
  const response = await fetch(`/api/files/${fileId}/working.png`);
  if (!response.ok)
    throw new Error(`The picture could not be loaded (${response.status}). Reload the page to try again.`);
  // The working image carries no profile: its device values pass through the canvas unchanged.
  const bitmap = await createImageBitmap(await response.blob(), { premultiplyAlpha: 'none' });
  return { ...pixels(bitmap), space };
}

/** The picture as delivered, and in light made as even as its scene allows. */
function open(source: PhotoSource): Promise<{ delivered: Image8; evened: Evened }> {
  const key = `${source.fileId} ${source.scene}`;
  let picture = pictures.get(key);
  if (!picture) {
    picture = decode(source).then((delivered) => ({ delivered, evened: evened(delivered, source.scene) }));
    // A failed load must not be remembered.
    picture.catch(() => pictures.delete(key));
  }
  pictures.delete(key);
  pictures.set(key, picture);
  trim(pictures, PICTURES_KEPT);
  return picture;
}

async function corrected(source: PhotoSource): Promise<{ image: Image8; correction: Correction }> {
  const { image, notes } = (await open(source)).evened;
  const key = JSON.stringify([source.fileId, source.scene, source.references]);
  let correction = corrections.get(key);
  if (!correction) {
    correction =
      source.references.length > 0
        ? correctionFromReferences(image, source.references)
        : correctionWithoutReference(image);
    correction = { ...correction, notes: [...notes, ...correction.notes] };
    corrections.set(key, correction);
    trim(corrections, CORRECTIONS_KEPT);
  }
  return { image, correction };
}

/** The corrected picture at a size for the screen. */
function correctedForScreen(source: PhotoSource, longSide: number): Promise<Image8> {
  const key = JSON.stringify([source, longSide]);
  let picture = screenPictures.get(key);
  if (!picture) {
    picture = corrected(source).then(({ image, correction }) =>
      sized(correctImage(image, correction, { space: 'srgb' }), longSide),
    );
    picture.catch(() => screenPictures.delete(key));
  }
  screenPictures.delete(key);
  screenPictures.set(key, picture);
  trim(screenPictures, SCREEN_PICTURES_KEPT);
  return picture;
}

function tableIn(light: RoomLight): RelightTable {
  const key = `${light.illuminance} ${light.spectrum.join(' ')}`;
  const table = tables.get(key) ?? relightTable('srgb', 'srgb', roomView(light));
  tables.delete(key);
  tables.set(key, table);
  trim(tables, TABLES_KEPT);
  return table;
}

const analysis = {
  /** How the photo is corrected and what that is worth. */
  async correction(source: PhotoSource): Promise<Correction> {
    return (await corrected(source)).correction;
  },

  /** Colours of regions, in the order given. */
  async measure(source: PhotoSource, regions: Region[]): Promise<Measurement[]> {
    const { image, correction } = await corrected(source);
    return regions.map((region) => measureRegion(image, region, correction));
  },

  /** The colours of a picture or of a part of it, by area. */
  async palette(source: PhotoSource, region: Region | null): Promise<Palette> {
    const { image, correction } = await corrected(source);
    return palette(image, { correction, ...(region && { region }) });
  },

  /** Painted patches found in a photo of a sample board. */
  async patches(source: PhotoSource): Promise<BoardPatches> {
    const { delivered, evened } = await open(source);
    return evened.board ?? findBoardPatches(delivered);
  },

  /** The picture for the screen, as delivered or corrected, at most `longSide` pixels. */
  async picture(source: PhotoSource, asDelivered: boolean): Promise<ImageBitmap> {
    if (asDelivered) return handOver((await open(source)).delivered);
    const { image, correction } = await corrected(source);
    return handOver(correctImage(image, correction, { space: 'srgb' }));
  },

  /**
   * A box of the corrected picture, for laying a candidate against the real material. `gains` are factors on linear red,
   * green and blue that put it under another light.
   */
  async cutting(
    source: PhotoSource,
    box: Box,
    gains: readonly [number, number, number],
  ): Promise<ImageBitmap> {
    const { image, correction } = await corrected(source);
    const part = correctImage(cut(image, box), correction, { space: 'srgb' });
    applyGains(part, gains);
    return handOver(part);
  },

  /** The corrected picture as it would look in a light, at most `longSide` pixels. */
  async relit(source: PhotoSource, light: RoomLight, longSide: number): Promise<ImageBitmap> {
    return handOver(relight(await correctedForScreen(source, longSide), tableIn(light)));
  },

  rank(input: RankInput): Ranking {
    return rank(input);
  },

  lightReport(input: LightReportInput): LightReport {
    return lightReport(input);
  },

  compareLamps(input: LampComparisonInput): LampComparison {
    return compareLamps(input);
  },
};

async function handOver(image: Image8): Promise<ImageBitmap> {
  const bitmap = await createImageBitmap(toImageData(image));
  return transfer(bitmap, [bitmap]);
}

interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

function applyGains({ data, channels, space }: Image8, gains: readonly [number, number, number]): void {
  const tables = gains.map((gain) =>
    Uint8ClampedArray.from(
      { length: 256 },
      (_, v) => 255 * encodeRgb(gain * decodeRgb(v / 255, space), space),
    ),
  );
  for (let i = 0; i < data.length; i += channels) {
    for (let channel = 0; channel < 3; channel += 1) data[i + channel] = tables[channel][data[i + channel]];
  }
}

/** A picture made smaller where it is larger than `longSide`. */
async function sized(image: Image8, longSide: number): Promise<Image8> {
  const scale = Math.min(1, longSide / Math.max(image.width, image.height));
  if (scale === 1) return image;
  const [width, height] = [Math.round(image.width * scale), Math.round(image.height * scale)];
  const bitmap = await createImageBitmap(toImageData(image), {
    resizeWidth: width,
    resizeHeight: height,
    resizeQuality: 'high',
  });
  return { ...pixels(bitmap), space: image.space };
}

/** The pixels of a bitmap, which is closed. */
function pixels(bitmap: ImageBitmap): Omit<Image8, 'space'> {
  const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d', {
    willReadFrequently: true,
  });
  if (!context) throw new Error('This browser cannot read pictures: its canvas is switched off.');
  context.drawImage(bitmap, 0, 0);
  const { width, height, data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
  bitmap.close();
  return { width, height, channels: 4, data };
}

function toImageData({ width, height, channels, data, space }: Image8): ImageData {
  const rgba = new Uint8ClampedArray(width * height * 4);
  for (let i = 0, from = 0; i < rgba.length; i += 4, from += channels) {
    rgba[i] = data[from];
    rgba[i + 1] = data[from + 1];
    rgba[i + 2] = data[from + 2];
    rgba[i + 3] = 255;
  }
  return new ImageData(rgba, width, height, { colorSpace: space === 'display-p3' ? 'display-p3' : 'srgb' });
}

function cut(image: Image8, box: Box): Image8 {
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

export type Analysis = typeof analysis;

expose(analysis);
