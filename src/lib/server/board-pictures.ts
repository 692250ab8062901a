/**
 * Pictures of a round: kept as they were sent, so that their hashes can be checked for as long as the round is kept, and
 * as renditions in sRGB for screens and paper.
 */
import { createHash } from 'node:crypto';
import fs from 'node:fs/promises';
import path from 'node:path';
import { Disk } from 'flydrive';
import { FSDriver } from 'flydrive/drivers/fs';
import sharp, { type OutputInfo, type Sharp } from 'sharp';
import type { BoardContent, BoardPicture } from '#lib/job/index.ts';
import { fitted } from './pixels.ts';
import { Refusal } from './refusal.ts';
import type { Store } from './store.ts';

/** Long sides of the renditions, px; a picture smaller than one has no larger one. */
export const LONG_SIDES = [640, 1024, 1600] as const;
export type LongSide = (typeof LONG_SIDES)[number];

export const PICTURE_TYPES = { webp: 'image/webp', jpeg: 'image/jpeg' } as const;
export type PictureType = keyof typeof PICTURE_TYPES;

export const MOST_PICTURES = 40;
/** Longest picture taken, bytes. */
export const MOST_BYTES = 8_000_000;
const MOST_PIXELS = 24e6;
/** Folders without a row are those of a freezing that was cut off, unless another process is just at it. */
const ORPHAN_AFTER = 3600_000;

/** First bytes of the kinds that are taken: JPEG (ITU-T T.81), PNG (ISO/IEC 15948), WebP (RFC 9649). */
const KINDS = {
  jpeg: (bytes: Buffer) => bytes.subarray(0, 3).equals(Buffer.from([0xff, 0xd8, 0xff])),
  png: (bytes: Buffer) => bytes.subarray(0, 8).equals(Buffer.from('\x89PNG\r\n\x1a\n', 'latin1')),
  webp: (bytes: Buffer) =>
    bytes.toString('latin1', 0, 4) === 'RIFF' && bytes.toString('latin1', 8, 12) === 'WEBP',
};

export interface KeptPicture {
  id: string;
  hash: string;
  width: number;
  height: number;
  bytes: number;
}

/** Which kind of picture this is by its first bytes, or null for anything else. */
export function kindOf(bytes: Buffer): keyof typeof KINDS | null {
  const kinds = Object.keys(KINDS) as (keyof typeof KINDS)[];
  return kinds.find((kind) => KINDS[kind](bytes)) ?? null;
}

/** SHA-256, hexadecimal. */
export function sha256(bytes: Uint8Array | string): string {
  return createHash('sha256').update(bytes).digest('hex');
}

/** Every picture that content names, with the path it is named at first, by id. */
export function picturesOf(content: BoardContent): Map<string, { at: string; picture: BoardPicture }> {
  const found = new Map<string, { at: string; picture: BoardPicture }>();
  const add = (at: string, picture: BoardPicture | null) => {
    if (!picture) return;
    const { at: before, picture: known } = found.get(picture.id) ?? { at, picture };
    const { hash, width, height } = picture;
    if (known.hash !== hash || known.width !== width || known.height !== height)
      throw new Refusal(422, `${at}.id: expected one picture under one name, ${before} has another`);
    found.set(picture.id, { at: before, picture: known });
  };
  add('board.designer.mark', content.designer.mark);
  for (const [i, page] of content.pages.entries()) {
    const at = `board.pages.${i}`;
    if (page.kind === 'pictures') {
      add(`${at}.before`, page.before);
      for (const [j, { picture, before }] of page.after.entries()) {
        add(`${at}.after.${j}.picture`, picture);
        add(`${at}.after.${j}.before`, before ?? null);
      }
    }
    if (page.kind === 'choice')
      for (const [j, { picture }] of page.options.entries()) add(`${at}.options.${j}.picture`, picture);
  }
  return found;
}

/**
 * Checks that exactly the pictures that content names were sent, each the very one it describes.
 * @throws Refusal 422 naming the path.
 */
export async function expectPictures(
  content: BoardContent,
  sent: Map<string, Buffer>,
): Promise<KeptPicture[]> {
  const named = picturesOf(content);
  if (named.size > MOST_PICTURES)
    throw new Refusal(422, `board.pages: expected at most ${MOST_PICTURES} pictures, got ${named.size}`);
  for (const id of sent.keys())
    if (!named.has(id)) throw new Refusal(422, `pictures.${id}: expected a picture that the board names`);
  const checked: KeptPicture[] = [];
  for (const [id, { at, picture }] of named) {
    const bytes = sent.get(id);
    if (!bytes) throw new Refusal(422, `${at}.id: expected the picture “${id}” to be sent along`);
    const hash = sha256(bytes);
    if (hash !== picture.hash)
      throw new Refusal(422, `${at}.hash: expected the hash of the picture sent, ${hash}`);
    const size = await sizeOf(bytes, at);
    if (size.width !== picture.width || size.height !== picture.height)
      throw new Refusal(422, `${at}: expected its size as sent, ${size.width} × ${size.height} px`);
    checked.push({ id, hash, ...size, bytes: bytes.length });
  }
  return checked;
}

async function sizeOf(bytes: Buffer, at: string): Promise<{ width: number; height: number }> {
  const kind = kindOf(bytes);
  if (!kind) throw new Refusal(422, `${at}: expected a JPEG, PNG or WebP picture`);
  try {
    const { format, width, height, pages = 1, autoOrient } = await sharp(bytes).metadata();
    if (format === kind && pages === 1 && width * height <= MOST_PIXELS) return autoOrient;
  } catch (error) {
    throw new Refusal(422, `${at}: expected a picture that can be read`, { cause: error });
  }
  throw new Refusal(422, `${at}: expected a single picture of at most ${MOST_PIXELS / 1e6} megapixels`);
}

/** Long sides of the renditions a picture has, smallest first. */
export function longSidesOf({ width, height }: { width: number; height: number }): LongSide[] {
  const longest = Math.max(width, height);
  const enough = LONG_SIDES.findIndex((side) => side >= longest);
  return LONG_SIDES.slice(0, enough < 0 ? undefined : enough + 1);
}

/**
 * Writes the pictures of a round and waits until they are on the disk.
 * @throws Refusal 422 for a picture that cannot be read to its end; nothing is left then.
 */
export async function keep(
  store: Store,
  boardId: string,
  { pictures, sent }: { pictures: readonly KeptPicture[]; sent: Map<string, Buffer> },
): Promise<void> {
  const disk = await diskOf(store);
  try {
    for (const picture of pictures) {
      const folder = `${boardId}/${picture.id}`;
      const bytes = sent.get(picture.id)!;
      await disk.put(`${folder}/sent`, bytes);
      const renditions = await rendered(bytes, picture);
      for (const [name, rendition] of renditions) await disk.put(`${folder}/${name}`, rendition);
      await flush(path.join(folderOf(store), folder), ['sent', ...renditions.keys(), '']);
    }
    await flush(folderOf(store), [...(pictures.length > 0 ? [boardId] : []), '']);
  } catch (error) {
    await disk.deleteAll(boardId);
    throw error;
  }
}

/** Takes back the pictures of a round that did not come about. */
export async function discard(store: Store, boardId: string): Promise<void> {
  await (await diskOf(store)).deleteAll(boardId);
}

interface Pixels {
  data: Buffer;
  info: OutputInfo;
}

async function rendered(bytes: Buffer, picture: KeptPicture): Promise<Map<string, Buffer>> {
  let pixels: Pixels;
  try {
    // To sRGB first: reducing in linear light and converting a profile in one go gives black (libvips 8.18).
    pixels = await sharp(bytes, { limitInputPixels: MOST_PIXELS })
      .autoOrient()
      .flatten({ background: '#ffffff' })
      .toColourspace('srgb')
      .raw()
      .toBuffer({ resolveWithObject: true });
  } catch (error) {
    throw new Refusal(422, `pictures.${picture.id}: expected a picture that can be read to its end`, {
      cause: error,
    });
  }
  const found = new Map<string, Buffer>();
  // Each from the one before: reducing the whole picture for each took three times as long.
  for (const side of longSidesOf(picture).reverse()) {
    pixels = await reduced(pixels, fitted(picture.width, picture.height, side));
    const [webp, jpeg] = await Promise.all([encoded(pixels, 'webp'), encoded(pixels, 'jpeg')]);
    found.set(`${side}.webp`, webp).set(`${side}.jpeg`, jpeg);
  }
  return found;
}

/** Each pixel the mean of light, as in intake: averaging device values darkens every fine pattern. */
async function reduced(
  pixels: Pixels,
  { width, height }: { width: number; height: number },
): Promise<Pixels> {
  if (pixels.info.width === width && pixels.info.height === height) return pixels;
  return await opened(pixels)
    .pipelineColourspace('scrgb')
    .resize(width, height, { fit: 'fill' })
    .toColourspace('srgb')
    .raw()
    .toBuffer({ resolveWithObject: true });
}

const opened = ({ data, info: { width, height, channels } }: Pixels): Sharp =>
  sharp(data, { raw: { width, height, channels } });

async function encoded(pixels: Pixels, type: PictureType): Promise<Buffer> {
  if (type === 'webp')
    return await opened(pixels).webp({ quality: 82, effort: 2, smartSubsample: true }).toBuffer();
  // Colours of small things matter more than bytes here: no chroma subsampling.
  return await opened(pixels).jpeg({ quality: 85, chromaSubsampling: '4:4:4', progressive: true }).toBuffer();
}

/**
 * A rendition of a round's picture, the largest where no side is named.
 * @throws Refusal 404 where there is none.
 */
export async function open(
  store: Store,
  boardId: string,
  { pictureId, side, type }: { pictureId: string; side?: string; type: PictureType },
): Promise<Buffer> {
  const missing = new Refusal(404, 'There is no such picture.');
  const picture = await store.db
    .selectFrom('board_pictures')
    .select(['picture_id', 'width', 'height'])
    .where('board_id', '=', boardId)
    .where('picture_id', '=', pictureId)
    .executeTakeFirst();
  if (!picture) throw missing;
  const sides = longSidesOf(picture);
  const wanted = side === undefined ? sides.at(-1) : sides.find((one) => String(one) === side);
  if (!wanted) throw missing;
  const disk = await diskOf(store);
  return Buffer.from(await disk.getBytes(`${boardId}/${picture.picture_id}/${wanted}.${type}`));
}

/** Whether every picture of a round is still, byte for byte, the one that its content names. */
export async function intact(store: Store, boardId: string, content: BoardContent): Promise<boolean> {
  const disk = await diskOf(store);
  for (const [id, { picture }] of picturesOf(content)) {
    const key = `${boardId}/${id}/sent`;
    if (!(await disk.exists(key)) || sha256(await disk.getBytes(key)) !== picture.hash) return false;
  }
  return true;
}

const folderOf = (store: Store) => path.join(store.folder, 'boards');
const disks = new WeakMap<Store, Promise<Disk>>();

/** The store's folder for rounds, cleared of what freezings that were cut off left behind. */
function diskOf(store: Store): Promise<Disk> {
  let disk = disks.get(store);
  if (!disk) disks.set(store, (disk = openDisk(store)));
  return disk;
}

async function openDisk(store: Store): Promise<Disk> {
  const folder = folderOf(store);
  await fs.mkdir(folder, { recursive: true, mode: 0o700 });
  const disk = new Disk(new FSDriver({ location: folder, visibility: 'private' }));
  const rows = await store.db.selectFrom('boards').select('id').execute();
  const known = new Set(rows.map(({ id }) => id));
  for (const id of await fs.readdir(folder)) {
    const { mtimeMs } = await fs.stat(path.join(folder, id));
    if (!known.has(id) && Date.now() - mtimeMs > ORPHAN_AFTER) await disk.deleteAll(id);
  }
  return disk;
}

/** Waits until files of a folder, or under '' its entries, are on the disk and not only in the system's memory. */
async function flush(folder: string, names: Iterable<string>): Promise<void> {
  if (process.platform === 'win32') return;
  for (const name of names) {
    const handle = await fs.open(path.join(folder, name), 'r');
    try {
      await handle.sync();
    } finally {
      await handle.close();
    }
  }
}
