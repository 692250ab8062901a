/**
 * What a file is by its bytes, and why it is not taken where it is not. Nothing here decodes pixels; it is read before any
 * decoder sees the file.
 *
 * Sources: PNG 3rd edition (chunks acTL, cICP, gAMA, cHRM), ISO/IEC 14496-12 and 23008-12 (boxes, brands, colr), GIF89a,
 * ITU-T H.273 (code points of primaries and transfer).
 */
import { Refusal } from './refusal.ts';

export type Format = 'JPEG' | 'PNG' | 'WebP' | 'AVIF' | 'TIFF' | 'HEIC';

/** Colour as code points of ITU-T H.273, where a file says it so. */
export interface CodedColour {
  primaries: number;
  transfer: number;
}

const ENDINGS: Record<Format, string[]> = {
  JPEG: ['jpg', 'jpeg', 'jpe', 'jfif'],
  PNG: ['png'],
  WebP: ['webp'],
  AVIF: ['avif'],
  TIFF: ['tif', 'tiff'],
  HEIC: ['heic', 'heif', 'hif'],
};
const RAW = ['dng', 'cr2', 'cr3', 'nef', 'arw', 'raf', 'orf', 'rw2', 'pef', 'srw'];
const ACCEPTED = 'JPEG, PNG, WebP, AVIF, TIFF and HEIC';

const ANIMATED = 'This file is animated; a still picture is needed, the first frame alone is not taken.';

function refuse(sentence: string): never {
  throw new Refusal(415, sentence);
}

/**
 * The format of a file, by its bytes.
 * @throws Refusal with one sentence for everything that is not a still picture of an accepted format under an honest name.
 */
export function expectFormat(bytes: Uint8Array, name: string): Format {
  if (bytes.length === 0) refuse('This file is empty.');
  const ending = /\.([^./\\]{1,8})$/.exec(name.trim())?.[1].toLowerCase() ?? null;
  if (ending && RAW.includes(ending))
    refuse('This is a camera raw file; develop it and export it as JPEG or TIFF.');
  const format = sniff(bytes);
  if (ending && !ENDINGS[format].includes(ending)) {
    refuse(
      `The name ends in .${ending}, but the file is ${article(format)} ${format}; rename it to end in .${ENDINGS[format][0]}.`,
    );
  }
  return format;
}

function article(format: Format): string {
  return format === 'AVIF' || format === 'HEIC' ? (format === 'AVIF' ? 'an' : 'a') : 'a';
}

function sniff(bytes: Uint8Array): Format {
  const text = (from: number, to: number) => Buffer.from(bytes.subarray(from, to)).toString('latin1');
  const starts = (...values: number[]) => values.every((value, i) => bytes[i] === value);
  if (starts(0xff, 0xd8, 0xff)) return 'JPEG';
  if (starts(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a)) {
    if (pngChunk(bytes, 'acTL')) refuse(ANIMATED);
    return 'PNG';
  }
  if (text(0, 4) === 'RIFF' && text(8, 12) === 'WEBP') {
    if (text(12, 16) === 'VP8X' && (bytes[20] & 0x02) !== 0) refuse(ANIMATED);
    return 'WebP';
  }
  if (
    starts(0x49, 0x49, 0x2a, 0) ||
    starts(0x4d, 0x4d, 0, 0x2a) ||
    starts(0x49, 0x49, 0x2b, 0) ||
    starts(0x4d, 0x4d, 0, 0x2b)
  ) {
    return 'TIFF';
  }
  if (text(4, 8) === 'ftyp')
    return sniffBoxes(
      text(8, 12),
      text(16, Math.min(256, new DataView(bytes.buffer, bytes.byteOffset).getUint32(0))),
    );
  if (text(0, 4) === 'GIF8') {
    refuse(
      gifFrames(bytes) > 1 ? ANIMATED : `GIF has too few colours to be measured; ${ACCEPTED} are taken.`,
    );
  }
  const head = text(0, 1024);
  if (head.includes('%PDF-'))
    refuse(`This is a PDF document; save the picture in it as a picture (${ACCEPTED} are taken).`);
  if (/<svg[\s>]/i.test(text(0, 8192))) refuse(`This is an SVG drawing, not a photo; ${ACCEPTED} are taken.`);
  if (starts(0xff, 0x0a) || text(4, 8) === 'JXL ')
    refuse(`JPEG XL cannot be read here; ${ACCEPTED} are taken.`);
  if (text(0, 4) === '8BPS') refuse(`This is a layered picture (PSD); export it as TIFF or PNG.`);
  if (text(0, 2) === 'BM' && bytes.length > 26) refuse(`BMP cannot be read here; ${ACCEPTED} are taken.`);
  return refuse(`This is not a picture that can be read here; ${ACCEPTED} are taken.`);
}

function sniffBoxes(brand: string, compatible: string): Format {
  if (['msf1', 'hevc', 'hevx', 'avis'].includes(brand)) refuse(ANIMATED);
  if (brand === 'avif') return 'AVIF';
  if (['heic', 'heix', 'heim', 'heis'].includes(brand)) return 'HEIC';
  if (brand === 'mif1' || brand === 'miaf') return compatible.includes('avif') ? 'AVIF' : 'HEIC';
  if (brand === 'crx ') refuse('This is a camera raw file; develop it and export it as JPEG or TIFF.');
  return refuse(`This is a film, not a picture; ${ACCEPTED} are taken.`);
}

/** Frames of a GIF, counted no further than two. */
function gifFrames(bytes: Uint8Array): number {
  const table = (flags: number) => (flags & 0x80 ? 3 * 2 ** ((flags & 7) + 1) : 0);
  let at = 13 + table(bytes[10]);
  let frames = 0;
  const skipBlocks = () => {
    while (at < bytes.length && bytes[at] !== 0) at += bytes[at] + 1;
    at += 1;
  };
  while (at < bytes.length && frames < 2) {
    if (bytes[at] === 0x21) {
      at += 2;
      skipBlocks();
    } else if (bytes[at] === 0x2c) {
      frames += 1;
      at += 10 + table(bytes[at + 9]) + 1;
      skipBlocks();
    } else {
      break;
    }
  }
  return frames;
}

/** The data of a PNG chunk that stands before the pixels, or null. */
function pngChunk(bytes: Uint8Array, name: string): Uint8Array | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 8; at + 12 <= bytes.length;) {
    const length = view.getUint32(at);
    const type = Buffer.from(bytes.subarray(at + 4, at + 8)).toString('latin1');
    if (type === name) return bytes.subarray(at + 8, Math.min(bytes.length, at + 8 + length));
    if (type === 'IDAT' || type === 'IEND') return null;
    at += 12 + length;
  }
  return null;
}

/** Colour of a PNG, AVIF or HEIC said by code points, or null. */
export function codedColour(bytes: Uint8Array, format: Format): CodedColour | null {
  if (format === 'PNG') {
    const chunk = pngChunk(bytes, 'cICP');
    return chunk && chunk.length >= 4 ? { primaries: chunk[0], transfer: chunk[1] } : null;
  }
  if (format !== 'AVIF' && format !== 'HEIC') return null;
  // The properties stand near the start, before the pictures; the first one found belongs to the main picture in practice.
  const at = Buffer.from(bytes.subarray(0, 1 << 16)).indexOf('colrnclx', 0, 'latin1');
  if (at < 0 || at + 12 > bytes.length) return null;
  return { primaries: bytes[at + 8] * 256 + bytes[at + 9], transfer: bytes[at + 10] * 256 + bytes[at + 11] };
}

/**
 * Gamma and primaries of a PNG without a profile (chunks gAMA and cHRM), or null where it has none or calls itself sRGB.
 * `primaries` are CIE xy of R, G, B and white, or null for those of sRGB.
 */
export function pngGamma(bytes: Uint8Array): { gamma: number; primaries: number[] | null } | null {
  const gamma = pngChunk(bytes, 'gAMA');
  if (!gamma || gamma.length < 4 || pngChunk(bytes, 'sRGB')) return null;
  const stored = Buffer.from(gamma).readUInt32BE(0) / 100000;
  if (stored <= 0.1 || stored > 1.5) return null;
  const chromaticities = pngChunk(bytes, 'cHRM');
  if (!chromaticities || chromaticities.length < 32) return { gamma: 1 / stored, primaries: null };
  const data = Buffer.from(chromaticities);
  const [wx, wy, ...rgb] = Array.from({ length: 8 }, (_, i) => data.readUInt32BE(4 * i) / 100000);
  return { gamma: 1 / stored, primaries: [...rgb, wx, wy] };
}

/**
 * Whether a camera's EXIF says Adobe RGB: cameras set to it often embed no profile, and mark the file as DCF 2.0 asks, by
 * colour space "uncalibrated" and interoperability index R03. `exif` is the TIFF structure, with or without its preamble.
 */
export function saysAdobeRgb(exif: Uint8Array): boolean {
  const start = Buffer.from(exif.subarray(0, 4)).toString('latin1') === 'Exif' ? 6 : 0;
  const view = new DataView(exif.buffer, exif.byteOffset + start, exif.byteLength - start);
  if (view.byteLength < 8) return false;
  const little = view.getUint16(0) === 0x4949;
  /** Where the value of a tag stands in a directory, or null. */
  const find = (directory: number, tag: number): number | null => {
    if (directory + 2 > view.byteLength) return null;
    const count = view.getUint16(directory, little);
    for (let i = 0, at = directory + 2; i < count && at + 12 <= view.byteLength; i += 1, at += 12) {
      if (view.getUint16(at, little) === tag) return at + 8;
    }
    return null;
  };
  const follow = (directory: number | null, tag: number): number | null => {
    const at = directory === null ? null : find(directory, tag);
    return at === null ? null : view.getUint32(at, little);
  };
  const camera = follow(view.getUint32(4, little), 0x8769);
  const space = camera === null ? null : find(camera, 0xa001);
  const interoperability = follow(camera, 0xa005);
  const index = interoperability === null ? null : find(interoperability, 0x0001);
  if (space === null || index === null || view.getUint16(space, little) !== 0xffff) return false;
  return [0x52, 0x30, 0x33].every((letter, i) => view.getUint8(index + i) === letter);
}
