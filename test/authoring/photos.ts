/**
 * Makes the small pictures of test/fixtures/photos, all of flat patches whose device values the tests know. Run by hand:
 * `npx node test/authoring/photos.ts`; needs heif-enc (Debian: libheif-examples) for the HEIC files and ImageMagick's
 * convert for the ones a second program should have written. SOURCES.md beside the pictures says which is which.
 */
import { execFileSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import zlib from 'node:zlib';
import sharp, { type Sharp } from 'sharp';
import { spaceProfile, writeProfile } from '../../src/lib/server/profile.ts';

const OUT = path.resolve(import.meta.dirname, '../fixtures/photos');
const TMP = fs.mkdtempSync(path.join(os.tmpdir(), 'photos-'));
const WIDTH = 96;
const HEIGHT = 64;

/** Four patches, top left, top right, bottom left, bottom right: device values of 8 bits. */
export const PATCHES = [
  [200, 90, 40],
  [60, 180, 80],
  [40, 70, 160],
  [128, 128, 128],
];

/** Patches as raw pixels; `scale` 257 gives the same at 16 bits. */
function scene(patches: number[][], scale = 1, width = WIDTH, height = HEIGHT): Uint8Array | Uint16Array {
  const channels = patches[0].length;
  const data =
    scale === 1 ? new Uint8Array(width * height * channels) : new Uint16Array(width * height * channels);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const patch = patches[(y < height / 2 ? 0 : 2) + (x < width / 2 ? 0 : 1)];
      patch.forEach((v, c) => (data[(y * width + x) * channels + c] = v * scale));
    }
  }
  return data;
}

const raw = (channels: 3 | 4) => ({ raw: { width: WIDTH, height: HEIGHT, channels } });
const out = (name: string) => path.join(OUT, name);
const tmp = (name: string) => path.join(TMP, name);
const picture = (patches = PATCHES) => sharp(scene(patches), raw(patches[0].length as 3 | 4));

/** CIE xy of Adobe RGB (1998) and ROMM RGB (ISO 22028-2), R, G, B, white. */
const ADOBE_LIKE = [0.64, 0.33, 0.21, 0.71, 0.15, 0.06, 0.3127, 0.329];
const PROPHOTO_LIKE = [0.7347, 0.2653, 0.1596, 0.8404, 0.0366, 0.0001, 0.3457, 0.3585];

/** A PNG with a profile, or any other chunk, put behind its header. */
export function withChunk(png: Buffer, type: string, data: Buffer): Buffer {
  const chunk = Buffer.alloc(12 + data.length);
  chunk.writeUInt32BE(data.length, 0);
  chunk.write(type, 4, 'latin1');
  data.copy(chunk, 8);
  chunk.writeUInt32BE(zlib.crc32(chunk.subarray(4, 8 + data.length)), 8 + data.length);
  return Buffer.concat([png.subarray(0, 33), chunk, png.subarray(33)]);
}

const withIcc = (png: Buffer, icc: Buffer) =>
  withChunk(png, 'iCCP', Buffer.concat([Buffer.from('profile\0\0', 'latin1'), zlib.deflateSync(icc)]));

async function png(name: string, patches: number[][], icc?: Buffer, scale = 1) {
  const image = sharp(scene(patches, scale), raw(3));
  const bytes = await (scale === 1 ? image : image.toColourspace('rgb16')).png().toBuffer();
  fs.writeFileSync(out(name), icc ? withIcc(bytes, icc) : bytes);
}

async function make() {
  fs.mkdirSync(OUT, { recursive: true });
  await png('srgb.png', PATCHES);
  await png('srgb-tagged.png', PATCHES, spaceProfile('srgb'));
  await png('p3.png', [[60, 220, 40], ...PATCHES.slice(1)], spaceProfile('display-p3'));
  await png(
    'adobe-like.png',
    [[0, 255, 0], ...PATCHES.slice(1)],
    writeProfile('Adobe-like', ADOBE_LIKE, 2.19921875),
  );
  await png(
    'prophoto-like-16.png',
    [[120, 140, 60], ...PATCHES.slice(1)],
    writeProfile('ProPhoto-like', PROPHOTO_LIKE, 1.8),
    257,
  );
  await png('srgb-16.png', PATCHES, undefined, 257);
  const gradient = new Uint16Array(WIDTH * HEIGHT * 3).fill(30000);
  await sharp(gradient, raw(3)).toColourspace('rgb16').png().toFile(out('between-codes-16.png'));
  await sharp(scene(PATCHES, 257), raw(3))
    .toColourspace('rgb16')
    .tiff({ compression: 'lzw' })
    .toFile(out('srgb-16.tiff'));
  await picture().tiff({ compression: 'deflate' }).toFile(out('srgb.tiff'));
  await picture(PATCHES.map((p, i) => [...p, i === 0 ? 0 : 255]))
    .png()
    .toFile(out('transparent.png'));
  await picture().toColourspace('b-w').png().toFile(out('grey.png'));
  await picture().toColourspace('b-w').jpeg({ quality: 95 }).toFile(out('grey.jpg'));
  await picture().webp({ lossless: true }).toFile(out('srgb.webp'));
  await picture().avif({ quality: 90, chromaSubsampling: '4:4:4' }).toFile(out('srgb.avif'));

  // Orientation: the patches stand as listed once the picture is turned upright.
  for (let orientation = 1; orientation <= 8; orientation += 1) {
    const stored = unturned(orientation);
    await stored
      .jpeg({ quality: 95, chromaSubsampling: '4:4:4' })
      .withMetadata({ orientation })
      .toFile(out(`turned-${orientation}.jpg`));
  }
  await picture()
    .jpeg({ quality: 95 })
    .withExif({
      IFD0: { Make: 'Invented', Model: 'Camera', Artist: 'Nobody', Copyright: 'SECRETOWNER' },
      IFD3: {
        GPSLatitudeRef: 'N',
        GPSLatitude: '51/1 28/1 40/1',
        GPSLongitudeRef: 'W',
        GPSLongitude: '0/1 0/1 5/1',
      },
    })
    .withXmp('<x:xmpmeta xmlns:x="adobe:ns:meta/"><note>SECRETXMP</note></x:xmpmeta>')
    .toFile(out('located.jpg'));

  // A second program: ImageMagick.
  const srgb = out('srgb.png');
  const convert = (...args: string[]) => execFileSync('convert', args);
  convert(srgb, '-colorspace', 'CMYK', '-quality', '95', out('cmyk.jpg'));
  convert(srgb, '-depth', '16', '-colorspace', 'Gray', out('grey-16.png'));
  convert(srgb, '(', srgb, '-negate', ')', '-set', 'delay', '20', out('animated.gif'));
  convert(srgb, '(', srgb, '-negate', ')', '-set', 'delay', '20', out('animated.webp'));
  convert(srgb, out('still.gif'));
  convert(srgb, '(', srgb, '-negate', ')', out('pages.tiff'));
  convert(
    srgb,
    '-depth',
    '32',
    '-define',
    'quantum:format=floating-point',
    '-compress',
    'zip',
    out('float.tiff'),
  );
  convert(srgb, '-interlace', 'Plane', '-quality', '92', out('progressive.jpg'));

  // HEIC: plain, with a profile, with EXIF orientation, with a rotation box.
  const heif = (from: string, to: string, ...args: string[]) =>
    execFileSync('heif-enc', ['-q', '95', '-p', 'chroma=444', ...args, from, '-o', out(to)], {
      stdio: 'ignore',
    });
  heif(srgb, 'srgb.heic');
  heif(out('p3.png'), 'p3.heic');
  heif(out('adobe-like.png'), 'adobe-like.heic');
  heif(out('turned-6.jpg'), 'exif-6.heic');
  heif(out('located.jpg'), 'located.heic');
  fs.writeFileSync(out('rotated-box.heic'), rotated(out('srgb.heic')));
  execFileSync('heif-enc', ['-A', '-q', '90', '-p', 'chroma=444', out('p3.png'), '-o', out('p3.avif')], {
    stdio: 'ignore',
  });

  // Refusals.
  const whole = await sharp(noise(256, 192), { raw: { width: 256, height: 192, channels: 3 } })
    .jpeg({ quality: 60 })
    .toBuffer();
  fs.writeFileSync(out('truncated.jpg'), whole.subarray(0, Math.floor(whole.length * 0.6)));
  const wholePng = await sharp(noise(96, 64), { raw: { width: 96, height: 64, channels: 3 } })
    .png()
    .toBuffer();
  fs.writeFileSync(out('truncated.png'), wholePng.subarray(0, Math.floor(wholePng.length * 0.6)));
  const broken = Buffer.from(wholePng);
  broken.fill(0x55, Math.floor(broken.length / 2), Math.floor(broken.length / 2) + 40);
  fs.writeFileSync(out('corrupt.png'), broken);
  for (const [from, to] of [
    ['srgb.heic', 'truncated.heic'],
    ['srgb.webp', 'truncated.webp'],
    ['srgb.avif', 'truncated.avif'],
    ['srgb.tiff', 'truncated.tiff'],
  ]) {
    const bytes = fs.readFileSync(out(from));
    fs.writeFileSync(out(to), bytes.subarray(0, Math.floor(bytes.length * 0.7)));
  }
  fs.writeFileSync(
    out('drawing.svg'),
    '<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>\n',
  );
  fs.copyFileSync(out('drawing.svg'), out('drawing-called.png'));
  fs.copyFileSync(out('srgb.png'), out('png-called.jpg'));
  fs.writeFileSync(
    out('document.pdf'),
    '%PDF-1.4\n1 0 obj <</Type /Catalog /Pages 2 0 R>> endobj\n2 0 obj <</Type /Pages /Kids [] /Count 0>> endobj\ntrailer <</Root 1 0 R>>\n%%EOF\n',
  );
  fs.writeFileSync(out('empty.jpg'), '');
  fs.writeFileSync(out('text.jpg'), 'This is a list of paints, not a picture.\n');
  fs.writeFileSync(out('bomb.png'), bomb(30000, 30000));
  fs.writeFileSync(out('animated.png'), animatedPng(await picture().png().toBuffer()));
  fs.rmSync(TMP, { recursive: true });
}

/**
 * The scene as a camera held in a given orientation stores it: EXIF 2.32, tag 0x0112, says on which side of the upright
 * picture the stored first row and first column lie.
 */
function unturned(orientation: number): Sharp {
  const upright = scene(PATCHES);
  const swapped = orientation >= 5;
  const [width, height] = swapped ? [HEIGHT, WIDTH] : [WIDTH, HEIGHT];
  const rowFromRight = [6, 7].includes(orientation);
  const rowFromBottom = [3, 4].includes(orientation);
  const columnFromRight = [2, 3].includes(orientation);
  const columnFromBottom = [7, 8].includes(orientation);
  const data = new Uint8Array(width * height * 3);
  for (let row = 0; row < height; row += 1) {
    for (let column = 0; column < width; column += 1) {
      const [along, down] = swapped ? [row, column] : [column, row];
      const x = (swapped ? rowFromRight : columnFromRight) ? WIDTH - 1 - along : along;
      const y = (swapped ? columnFromBottom : rowFromBottom) ? HEIGHT - 1 - down : down;
      const from = (y * WIDTH + x) * 3;
      data.set(upright.subarray(from, from + 3), (row * width + column) * 3);
    }
  }
  return sharp(data, { raw: { width, height, channels: 3 } });
}

/**
 * Puts a rotation of 90 degrees anticlockwise (box `irot`, ISO/IEC 23008-12, 6.5.10) into a HEIC file of one picture: the
 * property is appended to `ipco`, tied to item 1 in `ipma`, and the offsets in `iloc` move by what that adds.
 */
function rotated(file: string): Buffer {
  const bytes = fs.readFileSync(file);
  const find = (type: string) => bytes.indexOf(type, 0, 'latin1') - 4;
  const ipco = find('ipco');
  const ipma = find('ipma');
  const iloc = find('iloc');
  const end = (at: number) => at + bytes.readUInt32BE(at);
  // Box ipma, version 0, flags 0: entry count, item id (16 bits), association count, associations of 8 bits.
  const count = ipma + 12 + 4 + 2;
  if (bytes.readUInt32BE(ipma + 8) !== 0 || bytes.readUInt32BE(ipma + 12) !== 1)
    throw new Error('Unforeseen ipma');
  const properties = (() => {
    let number = 0;
    for (let at = ipco + 8; at < end(ipco); at = end(at)) number += 1;
    return number;
  })();
  const irot = Buffer.from([0, 0, 0, 9, ...Buffer.from('irot', 'latin1'), 1]);
  const added = irot.length + 1;
  for (const box of ['meta', 'iprp']) bytes.writeUInt32BE(bytes.readUInt32BE(find(box)) + added, find(box));
  bytes.writeUInt32BE(bytes.readUInt32BE(ipco) + irot.length, ipco);
  bytes.writeUInt32BE(bytes.readUInt32BE(ipma) + 1, ipma);
  bytes[count] += 1;
  // Box iloc: 4 bits each for the sizes of offset, length and base offset; here 4, 4 and 0 or 4.
  const version = bytes[iloc + 8];
  const base = bytes[iloc + 13] >> 4;
  if (bytes[iloc + 12] !== 0x44 || bytes.readUInt16BE(iloc + 14) !== 1) throw new Error('Unforeseen iloc');
  const item = iloc + 16;
  const offset = item + 2 + (version === 1 ? 2 : 0) + 2 + base + 2;
  bytes.writeUInt32BE(bytes.readUInt32BE(offset) + added, offset);
  const endOfIpco = ipco + bytes.readUInt32BE(ipco) - irot.length;
  const endOfIpma = ipma + bytes.readUInt32BE(ipma) - 1;
  return Buffer.concat([
    bytes.subarray(0, endOfIpco),
    irot,
    bytes.subarray(endOfIpco, endOfIpma),
    Buffer.from([0x80 | (properties + 1)]),
    bytes.subarray(endOfIpma),
  ]);
}

/** Fixed noise, so that cutting a file off really loses something. */
function noise(width: number, height: number): Uint8Array {
  let state = 12345;
  return Uint8Array.from({ length: width * height * 3 }, () => {
    state = (Math.imul(state, 1103515245) + 12345) & 0x7fffffff;
    return state >> 16;
  });
}

/** A PNG whose header promises far more pixels than its bytes: 1 bit grey, all zero. */
function bomb(width: number, height: number): Buffer {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header[8] = 1;
  const chunk = (type: string, data: Buffer) => withChunk(Buffer.alloc(33), type, data).subarray(33);
  const rows = zlib.deflateSync(Buffer.alloc((width / 8 + 1) * 1000), { level: 9 });
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10]),
    chunk('IHDR', header),
    chunk('IDAT', rows),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

/** A PNG with two frames (acTL, fcTL, fdAT of PNG 3rd edition). */
function animatedPng(still: Buffer): Buffer {
  const acTL = Buffer.alloc(8);
  acTL.writeUInt32BE(2, 0);
  const fcTL = Buffer.alloc(26);
  fcTL.writeUInt32BE(WIDTH, 4);
  fcTL.writeUInt32BE(HEIGHT, 8);
  fcTL.writeUInt16BE(1, 20);
  fcTL.writeUInt16BE(5, 22);
  return withChunk(withChunk(still, 'fcTL', fcTL), 'acTL', acTL);
}

await make();
