/**
 * One picture, from uploaded bytes to the renditions that are kept; then this process ends. It is a process of its own, run
 * by Node straight from the sources, because a decoder can only be stopped, and its memory only be bounded, by ending it.
 *
 * Told by message: {@link Task}. Answers by messages: {@link Report}.
 */
import fs from 'node:fs/promises';
import path from 'node:path';
import zlib from 'node:zlib';
import sharp, { type Metadata, type Sharp } from 'sharp';
import type { Picture } from './files.ts';
import { codedColour, expectFormat, pngGamma, saysAdobeRgb, type Format } from './formats.ts';
import { decodeHeic } from './heif.ts';
import {
  changePrimaries,
  curveTable,
  encoded,
  fitted,
  linearReduced,
  shareOutside,
  type Light,
  type Raster,
} from './pixels.ts';
import {
  ADOBE_RGB,
  matrixTo,
  primariesToXyz,
  readProfile,
  sameAs,
  spaceProfile,
  spaceToXyz,
  CURVES,
  type Profile,
  type Space,
} from './profile.ts';
import { Refusal } from './refusal.ts';

export interface Task {
  /** The uploaded file, the name it came with, and the folder for the renditions. */
  file: string;
  name: string;
  folder: string;
}
export type Report = { progress: number } | { done: Picture } | { refused: string; status: number };

const MOST_PIXELS = 80e6;
const WORKING_LONGEST = 2048;
const VIEW_LONGEST = 1600;
const THUMB_LONGEST = 512;
const READABLE = ['srgb', 'rgb', 'rgb16', 'b-w', 'grey16', 'cmyk'];
const DAMAGED = 'This picture is damaged or incomplete; save or send it again.';

// Only the loaders of accepted formats run. Everything else, drawings and documents above all, is never parsed.
sharp.block({ operation: ['VipsForeignLoad'] });
sharp.unblock({
  operation: ['Jpeg', 'Png', 'Webp', 'Heif', 'Tiff'].map((loader) => `VipsForeignLoad${loader}`),
});
sharp.cache(false);
sharp.concurrency(2);

/** Warnings of the JPEG reader about files that whole families of phones write, and that lose nothing. */
const HARMLESS = /Invalid SOS parameters for sequential JPEG|extraneous bytes before marker/;

async function takeIn(task: Task, progress: (share: number) => void): Promise<Picture> {
  const bytes = await fs.readFile(task.file);
  const format = expectFormat(bytes, task.name);
  const metadata = await readMetadata(bytes);
  expectStill(metadata, format);
  progress(0.1);

  const notes: string[] = [];
  const source = await decode(bytes, format, metadata, notes);
  progress(0.6);
  const picture = await toWorking(source, notes);
  progress(0.8);
  await write(picture, task.folder);
  return {
    width: picture.width,
    height: picture.height,
    space: picture.space,
    originalWidth: source.raster.width,
    originalHeight: source.raster.height,
    notes,
  };
}

/** Width and height are believed only from here on: nothing has been decoded yet. */
async function readMetadata(bytes: Buffer): Promise<Metadata> {
  try {
    return await sharp(bytes, { limitInputPixels: false }).metadata();
  } catch {
    throw new Refusal(415, DAMAGED);
  }
}

function expectStill(metadata: Metadata, format: Format): void {
  const { width, height, pages = 1 } = metadata;
  if (width * height > MOST_PIXELS) {
    const millions = Math.round((width * height) / 1e6);
    throw new Refusal(413, `This picture has ${millions} million pixels; at most 80 million are taken.`);
  }
  if (!READABLE.includes(metadata.space) || !['uchar', 'ushort'].includes(metadata.depth ?? 'uchar')) {
    throw new Refusal(
      415,
      'Only RGB, grey and CMYK pictures of 8 or 16 bits can be read; save this one as such.',
    );
  }
  if (format === 'TIFF' && pages > 1) {
    throw new Refusal(415, `This TIFF holds ${pages} pages; save the one you want as a picture of its own.`);
  }
  if (format === 'WebP' && pages > 1) {
    throw new Refusal(
      415,
      'This file is animated; a still picture is needed, the first frame alone is not taken.',
    );
  }
}

/** A picture as decoded: device values, upright, and how to read them. */
interface Source {
  raster: Raster;
  profile: Profile;
}

async function decode(bytes: Buffer, format: Format, metadata: Metadata, notes: string[]): Promise<Source> {
  const coded = codedColour(bytes, format);
  const embedded = metadata.icc ? profileOrNote(metadata.icc, notes) : null;
  if (!embedded && coded && (coded.transfer === 16 || coded.transfer === 18)) {
    throw new Refusal(
      415,
      'This picture is stored for high-dynamic-range screens; export it with standard dynamic range.',
    );
  }
  const profile =
    embedded ?? codedProfile(coded) ?? gammaProfile(bytes, format) ?? cameraProfile(metadata) ?? 'none';

  if (metadata.space === 'cmyk')
    return { raster: await decodeCmyk(bytes, metadata, notes), profile: ofSpace('rec2020') };
  const raster = format === 'HEIC' ? await heic(bytes, notes) : await decodeRaster(bytes, metadata);
  if (profile === 'none') return { raster, profile: ofSpace('srgb') };
  if (profile.kind !== 'table') {
    // A grey profile on coloured pixels, or the other way round, is a mistake of whoever wrote the file.
    if (
      profile.kind === 'matrix' ||
      raster.channels <= 2 ||
      metadata.space.includes('grey') ||
      metadata.space === 'b-w'
    ) {
      return { raster, profile };
    }
    notes.push('Its colour profile is for grey pictures and was left aside; sRGB was assumed.');
    return { raster, profile: ofSpace('srgb') };
  }
  return { raster: await throughEngine(raster, metadata.icc as Buffer), profile: ofSpace('rec2020') };
}

function profileOrNote(icc: Buffer, notes: string[]): Profile | null {
  try {
    return readProfile(icc);
  } catch {
    notes.push('Its colour profile is damaged and was left aside; sRGB was assumed.');
    return null;
  }
}

function ofSpace(space: Space): Profile {
  const { toLinear } = CURVES[space];
  return { kind: 'matrix', curves: [toLinear, toLinear, toLinear], toXyz: spaceToXyz(space) };
}

/** Profile of H.273 code points; transfer curves of video (BT.709 and its like) are read as sRGB, as viewers do. */
function codedProfile(coded: { primaries: number; transfer: number } | null): Profile | null {
  if (!coded) return null;
  const space = ({ 1: 'srgb', 12: 'display-p3', 9: 'rec2020' } as const)[coded.primaries];
  if (!space) return null;
  const straight = (value: number) => value;
  const curve =
    coded.transfer === 8 ? straight : coded.transfer === 13 ? CURVES.srgb.toLinear : CURVES[space].toLinear;
  return { kind: 'matrix', curves: [curve, curve, curve], toXyz: spaceToXyz(space) };
}

function gammaProfile(bytes: Buffer, format: Format): Profile | null {
  const said = format === 'PNG' ? pngGamma(bytes) : null;
  if (!said) return null;
  const curve = (value: number) => value ** said.gamma;
  const toXyz = said.primaries ? primariesToXyz(said.primaries) : spaceToXyz('srgb');
  // A gamma of 2.2 with sRGB's primaries is how older programs wrote sRGB.
  if (Math.abs(said.gamma - 2.2) < 0.02 && spaceToXyz('srgb').every((v, i) => Math.abs(v - toXyz[i]) < 0.003))
    return null;
  return { kind: 'matrix', curves: [curve, curve, curve], toXyz };
}

/** Adobe RGB where a camera says so without embedding it. */
function cameraProfile(metadata: Metadata): Profile | null {
  if (!metadata.exif || !saysAdobeRgb(metadata.exif)) return null;
  const curve = (value: number) => value ** ADOBE_RGB.exponent;
  return { kind: 'matrix', curves: [curve, curve, curve], toXyz: primariesToXyz(ADOBE_RGB.primaries) };
}

/** Decodes once; a warning that is known to be harmless is no reason to turn a picture away. */
async function pixels(open: (failOn: 'warning' | 'error') => Sharp, deep: boolean) {
  const run = (failOn: 'warning' | 'error') =>
    open(failOn)
      .raw(deep ? { depth: 'ushort' } : { depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
  try {
    return await run('warning').catch((error: Error) => {
      if (HARMLESS.test(error.message)) return run('error');
      throw error;
    });
  } catch (error) {
    throw new Refusal(415, DAMAGED, { cause: error });
  }
}

async function decodeRaster(bytes: Buffer, metadata: Metadata): Promise<Raster> {
  const deep = isDeep(metadata);
  const { data, info } = await pixels((failOn) => {
    const image = sharp(bytes, { ignoreIcc: true, failOn, limitInputPixels: MOST_PIXELS, autoOrient: true });
    if (!deep) return image.toColourspace('srgb');
    return image.toColourspace(metadata.channels <= 2 ? 'grey16' : 'rgb16');
  }, deep);
  return {
    width: info.width,
    height: info.height,
    channels: info.channels as Raster['channels'],
    data: deep ? new Uint16Array(data.buffer, data.byteOffset, data.length / 2) : data,
  };
}

function isDeep(metadata: Metadata): boolean {
  return metadata.depth !== 'uchar' && metadata.depth !== 'char';
}

async function heic(bytes: Buffer, notes: string[]): Promise<Raster> {
  const { width, height, data, others } = await decodeHeic(bytes, MOST_PIXELS);
  if (others > 0) notes.push('This file holds several pictures; its main one was taken.');
  return { width, height, channels: 4, data };
}

/** CMYK through the colour engine, from its own profile or a usual one of offset printing, straight to wide primaries. */
async function decodeCmyk(bytes: Buffer, metadata: Metadata, notes: string[]): Promise<Raster> {
  if (!metadata.icc) notes.push('This CMYK picture names no printing condition; a usual one was assumed.');
  const target = await wideProfileFile();
  const { data, info } = await pixels(
    (failOn) =>
      sharp(bytes, { ignoreIcc: true, failOn, limitInputPixels: MOST_PIXELS, autoOrient: true })
        .pipelineColourspace('cmyk')
        .toColourspace('cmyk')
        .withIccProfile(target),
    false,
  );
  return { width: info.width, height: info.height, channels: info.channels as Raster['channels'], data };
}

/** RGB pixels of a profile made of tables, through the colour engine at 16 bits, straight to wide primaries. */
async function throughEngine(raster: Raster, icc: Buffer): Promise<Raster> {
  const { width, height } = raster;
  const deep =
    raster.data instanceof Uint16Array
      ? raster.data
      : // The engine's own way from 8 to 16 bits shifts instead of scaling, which makes white a code too dark.
        Uint16Array.from(raster.data, (value) => value * 257);
  const png = await sharp(deep, { raw: { width, height, channels: raster.channels } })
    .toColourspace('rgb16')
    .png({ compressionLevel: 1 })
    .toBuffer();
  const { data, info } = await sharp(withProfile(png, icc), {
    ignoreIcc: true,
    limitInputPixels: MOST_PIXELS,
  })
    .toColourspace('rgb16')
    .withIccProfile(await wideProfileFile())
    .raw({ depth: 'ushort' })
    .toBuffer({ resolveWithObject: true });
  const pixelData = new Uint16Array(data.buffer, data.byteOffset, data.length / 2);
  return { width, height, channels: info.channels as Raster['channels'], data: pixelData };
}

let folderForProfile = '';
async function wideProfileFile(): Promise<string> {
  const file = path.join(folderForProfile, 'wide.icc');
  await fs.writeFile(file, spaceProfile('rec2020'));
  return file;
}

/** The working image: 8-bit device values of one of our spaces. */
interface Working {
  width: number;
  height: number;
  space: Space;
  data: Uint8Array;
  light: Light | null;
}

async function toWorking({ raster, profile }: Source, notes: string[]): Promise<Working> {
  if (profile.kind === 'table') throw new TypeError('Expected a profile that can be linearised');
  const size = fitted(raster.width, raster.height, WORKING_LONGEST);
  const own = sameAs(profile);
  const whole = size.width === raster.width && size.height === raster.height;
  const { data, channels } = raster;
  if (own && whole && data instanceof Uint8Array && isOpaque(raster)) {
    return { ...size, space: own, data: plainRgb(data, channels), light: null };
  }
  if (!isOpaque(raster)) notes.push('Its transparent parts were laid on white.');
  // A profile that merely spells out one of our spaces is read by the exact curve, not by its table.
  const curves = own ? [CURVES[own].toLinear] : profile.kind === 'grey' ? [profile.curve] : profile.curves;
  const bits = data instanceof Uint16Array ? 16 : 8;
  const tables =
    curves.length === 1 ? [curveTable(curves[0], bits)] : curves.map((curve) => curveTable(curve, bits));
  const light = linearReduced(
    raster,
    tables.length === 1 ? [tables[0], tables[0], tables[0]] : tables,
    size.width,
    size.height,
  );
  let space: Space = own ?? 'srgb';
  if (!own && profile.kind === 'matrix') {
    space = 'rec2020';
    changePrimaries(light, matrixTo(space, profile.toXyz));
    const outside = shareOutside(light);
    if (outside > 0.0005) {
      const percent = outside < 0.01 ? 'Less than 1 %' : `${Math.round(100 * outside)} %`;
      notes.push(`${percent} of it is more colourful than the widest primaries kept and was cut off there.`);
    }
  }
  return { ...size, space, data: encoded(light, space), light };
}

function isOpaque({ channels, data }: Raster): boolean {
  if (channels === 1 || channels === 3) return true;
  const most = data instanceof Uint16Array ? 65535 : 255;
  for (let i = channels - 1; i < data.length; i += channels) if (data[i] !== most) return false;
  return true;
}

/** Device values without alpha, grey written three times. */
function plainRgb(data: Uint8Array, channels: number): Uint8Array {
  if (channels === 3) return data;
  const count = data.length / channels;
  const out = new Uint8Array(count * 3);
  const [second, third] = channels === 4 ? [1, 2] : [0, 0];
  for (let i = 0; i < count; i += 1) {
    out[3 * i] = data[channels * i];
    out[3 * i + 1] = data[channels * i + second];
    out[3 * i + 2] = data[channels * i + third];
  }
  return out;
}

async function write(picture: Working, folder: string): Promise<void> {
  const { width, height, space } = picture;
  const raw = { width, height, channels: 3 } as const;
  // Screens know nothing of our wide space: what is shown is cut to Display P3, what is measured is not.
  let shown: Space = space;
  let data = picture.data;
  if (space === 'rec2020') {
    shown = 'display-p3';
    const wide = curveTable(CURVES.rec2020.toLinear, 8);
    const light = picture.light ?? linearReduced({ ...raw, data }, [wide, wide, wide], width, height);
    changePrimaries(light, matrixTo('display-p3', spaceToXyz('rec2020')));
    data = encoded(light, shown);
  }
  const own = { width, height, channels: 3, data } as const;
  const table = curveTable(CURVES[shown].toLinear, 8);
  const small = fitted(width, height, THUMB_LONGEST);
  const thumb = encoded(linearReduced(own, [table, table, table], small.width, small.height), shown);
  await Promise.all([
    sharp(picture.data, { raw })
      .png({ compressionLevel: 6, adaptiveFiltering: true })
      .toFile(path.join(folder, 'working.png')),
    writeView(own, shown, path.join(folder, 'view.webp'), 86),
    writeView({ ...small, data: thumb }, shown, path.join(folder, 'thumb.webp'), 80),
  ]);
}

/** A picture to look at: tagged with its space, at most 1600 px, reduced in linear light. */
async function writeView(
  { width, height, data }: { width: number; height: number; data: Uint8Array },
  space: Space,
  file: string,
  quality: number,
): Promise<void> {
  const png = await sharp(data, { raw: { width, height, channels: 3 } })
    .png({ compressionLevel: 1 })
    .toBuffer();
  const image = sharp(withProfile(png, spaceProfile(space))).keepIccProfile();
  const size = fitted(width, height, VIEW_LONGEST);
  const reduced =
    size.width === width ? image : image.pipelineColourspace('scrgb').resize({ ...size, fit: 'fill' });
  await reduced.webp({ quality, effort: 2 }).toFile(file);
}

/** A PNG with a profile put to it, its pixels left as they are. */
function withProfile(png: Buffer, icc: Buffer): Buffer {
  const data = Buffer.concat([Buffer.from('profile\0\0', 'latin1'), zlib.deflateSync(icc)]);
  const chunk = Buffer.alloc(12 + data.length);
  chunk.writeUInt32BE(data.length, 0);
  chunk.write('iCCP', 4, 'latin1');
  data.copy(chunk, 8);
  chunk.writeUInt32BE(zlib.crc32(chunk.subarray(4, 8 + data.length)), 8 + data.length);
  const afterHeader = 8 + 25;
  return Buffer.concat([png.subarray(0, afterHeader), chunk, png.subarray(afterHeader)]);
}

// When the server is gone, however it ended, nobody waits for this picture any more.
process.once('disconnect', () => process.exit());

process.once('message', async (task: Task) => {
  const report = (message: Report) => new Promise((resolve) => process.send?.(message, resolve));
  folderForProfile = task.folder;
  try {
    const done = await takeIn(task, (progress) => void report({ progress }));
    await report({ done });
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    await report({ refused: error.message, status: error.status });
  }
  process.disconnect?.();
});
