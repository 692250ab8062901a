import fs from 'node:fs';
import zlib from 'node:zlib';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { decodeRgb, encodeRgb, linearRgbToXyz, xyzToLinearRgb } from '../../src/lib/colour/index.ts';
import { CURVES } from '../../src/lib/server/profile.ts';
import type { Store } from '../../src/lib/server/store.ts';
import { bytesOf, expectPatches, freshStore, PATCHES, quarters, stored, takeIn } from './pictures.ts';
import { withChunk } from './png.ts';
import { adobeRgbExif, tableProfile } from './table-profile.ts';

let store: Store;
let jobId: string;
let close: () => Promise<void>;
beforeAll(async () => ({ store, jobId, close } = await freshStore()));
afterAll(() => close());

const take = (name: string) => takeIn(store, jobId, bytesOf(name), name);

describe('device values', () => {
  // Lossless files: exactly what was painted. Lossy ones at high quality: within a code, two for chroma of HEVC and AV1.
  test.each([
    ['srgb.png', 0],
    ['srgb-tagged.png', 0],
    ['srgb.tiff', 0],
    ['srgb.webp', 0],
    ['srgb-16.png', 0],
    ['srgb-16.tiff', 0],
    ['turned-1.jpg', 1],
    ['progressive.jpg', 2],
    ['srgb.avif', 2],
    ['srgb.heic', 2],
  ])('%s keeps sRGB values', async (name, tolerance) => {
    const taken = await take(name);
    expect(taken).toMatchObject({
      space: 'srgb',
      width: 96,
      height: 64,
      originalWidth: 96,
      originalHeight: 64,
      notes: [],
    });
    expectPatches(await quarters(store, taken.fileId), PATCHES, tolerance);
  });

  test.each([
    ['p3.png', 0],
    ['p3.heic', 2],
    ['p3.avif', 2],
  ])('%s keeps Display P3 values outside sRGB', async (name, tolerance) => {
    const taken = await take(name);
    expect(taken.space).toBe('display-p3');
    expectPatches(await quarters(store, taken.fileId), [[60, 220, 40], ...PATCHES.slice(1)], tolerance);
  });

  test.each(['adobe-like.png', 'adobe-like.heic'])(
    '%s: pure green of Adobe RGB is not clipped',
    async (name) => {
      const taken = await take(name);
      expect(taken).toMatchObject({ space: 'rec2020', notes: [] });
      // Both spaces have a D65 white, so their XYZ need no adaptation. Adobe RGB (1998) 4.3.5.3 prints the matrix to XYZ and
      // 4.3.4.2 the exponent 2.19921875; ITU-R BT.2020-2 gives the primaries, from which Recommendation ITU-R BT.2407 (3.2)
      // prints the matrix from XYZ. Half a code from the printed digits, half from rounding.
      const toXyz = [0.57667, 0.18556, 0.18823, 0.29734, 0.62736, 0.07529, 0.02703, 0.07069, 0.99134];
      const toWide = [
        1.716651, -0.355671, -0.253366, -0.666684, 1.616481, 0.015769, 0.01764, -0.042771, 0.942103,
      ];
      const apply = (m: number[], v: number[]) =>
        [0, 3, 6].map((r) => m[r] * v[0] + m[r + 1] * v[1] + m[r + 2] * v[2]);
      // BT.2020-2, table 4, 12-bit constants.
      const curve = (v: number) => (v < 0.0181 ? 4.5 * v : 1.0993 * v ** 0.45 - 0.0993);
      const wanted = [[0, 255, 0], ...PATCHES.slice(1)].map((patch) =>
        apply(
          toWide,
          apply(
            toXyz,
            patch.map((v) => (v / 255) ** 2.19921875),
          ),
        ).map((v) => 255 * curve(v)),
      );
      expect(Math.min(...wanted[0])).toBeGreaterThan(15);
      expectPatches(await quarters(store, taken.fileId), wanted, name.endsWith('png') ? 0.5 : 2);
    },
  );

  test('16 bits of a wide profile: what even the widest primaries cannot hold is said', async () => {
    const taken = await take('prophoto-like-16.png');
    expect(taken.space).toBe('rec2020');
    expect(taken.notes.join()).toMatch(/^25 % of it is more colourful/);
    // A grey of any profile is a grey of ours: (128/255)^1.8 through the curve of BT.2020-2, table 4.
    const grey = 255 * (1.0993 * (128 / 255) ** (1.8 * 0.45) - 0.0993);
    const [, , , last] = await quarters(store, taken.fileId);
    for (const value of last) expect(Math.abs(value - grey)).toBeLessThan(0.1);
  });

  test('values between two codes keep their mean', async () => {
    const taken = await take('between-codes-16.png');
    // 30000 of 65535 is 116.73 of 255; the standard error of a dithered mean of 337 pixels is 0.025.
    for (const quarter of await quarters(store, taken.fileId)) {
      for (const value of quarter) expect(Math.abs(value - 30000 / 257)).toBeLessThan(0.1);
    }
  });

  test('grey pictures, 8 and 16 bits, are grey', async () => {
    for (const name of ['grey.png', 'grey.jpg', 'grey-16.png']) {
      const taken = await take(name);
      expect(taken.space, name).toBe('srgb');
      const got = await quarters(store, taken.fileId);
      for (const [r, g, b] of got) {
        expect(Math.max(Math.abs(r - g), Math.abs(g - b)), name).toBeLessThan(0.2);
      }
      expect(Math.abs(got[3][0] - 128), name).toBeLessThan(1.1);
    }
  });

  test('a PNG that states its gamma is read by it', async () => {
    const data = new Uint8Array(64 * 64).fill(64);
    const grey = await sharp(data, { raw: { width: 64, height: 64, channels: 1 } })
      .toColourspace('b-w')
      .png()
      .toBuffer();
    const taken = await takeIn(
      store,
      jobId,
      withChunk(grey, 'gAMA', Buffer.from([0, 0, 0x9c, 0x40])),
      'grey.png',
    );
    // gAMA 40000 means an exponent of 2.5 (PNG 3rd edition, 11.3.2.2); kept in the curve of BT.2020-2, table 4.
    const wanted = 255 * (1.0993 * (64 / 255) ** (2.5 * 0.45) - 0.0993);
    for (const value of (await quarters(store, taken.fileId))[0])
      expect(Math.abs(value - wanted)).toBeLessThan(0.15);
  });

  test.each([8, 16])('%i bits with a profile made of tables: nothing is clipped on the way', async (bits) => {
    const patches = [[60, 220, 40], ...PATCHES.slice(1)];
    const painted = bits === 8 ? new Uint8Array(96 * 64 * 3) : new Uint16Array(96 * 64 * 3);
    for (let i = 0; i < 96 * 64; i += 1) {
      const patch = patches[(Math.floor(i / 96) < 32 ? 0 : 2) + (i % 96 < 48 ? 0 : 1)];
      patch.forEach((value, c) => (painted[3 * i + c] = bits === 8 ? value : value * 257));
    }
    const image = sharp(painted, { raw: { width: 96, height: 64, channels: 3 } });
    const png = await (bits === 8 ? image : image.toColourspace('rgb16')).png().toBuffer();
    const icc = Buffer.concat([Buffer.from('tables\0\0', 'latin1'), zlib.deflateSync(tableProfile())]);
    const taken = await takeIn(store, jobId, withChunk(png, 'iCCP', icc), 'scan.png');
    expect(taken).toMatchObject({ space: 'rec2020', notes: [] });
    // The same colours by the colour area's own way from Display P3, whose primaries lie inside those of BT.2020.
    const wanted = patches.map((patch) => {
      const [r, g, b] = patch.map((value) => decodeRgb(value / 255, 'display-p3'));
      const wide = xyzToLinearRgb(linearRgbToXyz({ r, g, b }, 'display-p3'), 'rec2020');
      return [wide.r, wide.g, wide.b].map((value) => 255 * encodeRgb(value, 'rec2020'));
    });
    expectPatches(await quarters(store, taken.fileId), wanted, 0.4);
  });

  test('a camera that says Adobe RGB without embedding it is believed', async () => {
    const plain = bytesOf('adobe-like.png');
    const jpeg = await sharp(plain, { ignoreIcc: true })
      .jpeg({ quality: 98, chromaSubsampling: '4:4:4' })
      .toBuffer();
    const exif = Buffer.concat([Buffer.from('Exif\0\0', 'latin1'), adobeRgbExif()]);
    const segment = Buffer.concat([Buffer.from([0xff, 0xe1, 0, exif.length + 2]), exif]);
    const said = Buffer.concat([jpeg.subarray(0, 2), segment, jpeg.subarray(2)]);
    const taken = await takeIn(store, jobId, said, 'camera.jpg');
    const tagged = await take('adobe-like.png');
    expect(taken.space).toBe('rec2020');
    expectPatches(await quarters(store, taken.fileId), await quarters(store, tagged.fileId), 2);
    expect((await takeIn(store, jobId, jpeg, 'camera.jpg')).space).toBe('srgb');
  });

  test('CMYK goes through its profile straight to wide primaries', async () => {
    const patches = [...PATCHES.slice(0, 2), [150, 110, 90], [128, 128, 128]];
    const painted = new Uint8Array(96 * 64 * 3);
    for (let i = 0; i < 96 * 64; i += 1) {
      painted.set(patches[(Math.floor(i / 96) < 32 ? 0 : 2) + (i % 96 < 48 ? 0 : 1)], 3 * i);
    }
    const cmyk = await sharp(painted, { raw: { width: 96, height: 64, channels: 3 } })
      .toColourspace('cmyk')
      .withIccProfile('cmyk')
      .jpeg({ quality: 98, chromaSubsampling: '4:4:4' })
      .toBuffer();
    const taken = await takeIn(store, jobId, cmyk, 'print.jpg');
    expect(taken).toMatchObject({ space: 'rec2020', notes: [] });
    // What ImageMagick 6.9 (LittleCMS, relative colorimetric) makes of the same file and target profile: ink on paper as it
    // is, without lifting its black to the screen's. One code for its rounding, half for ours.
    const wanted = [
      [155, 89, 44],
      [102, 143, 71],
      [124, 97, 72],
      [101, 101, 102],
    ];
    expectPatches(await quarters(store, taken.fileId), wanted, 1.5);
  });

  test('CMYK without a profile is taken and says what was assumed', async () => {
    const taken = await take('cmyk.jpg');
    expect(taken.notes).toEqual(['This CMYK picture names no printing condition; a usual one was assumed.']);
  });

  test('what is transparent lies on white, and that is said', async () => {
    const taken = await take('transparent.png');
    expect(taken.notes).toEqual(['Its transparent parts were laid on white.']);
    expectPatches(await quarters(store, taken.fileId), [[255, 255, 255], ...PATCHES.slice(1)], 0);
  });
});

test('the kernels read each working image as it was written', async () => {
  for (const space of ['srgb', 'display-p3', 'rec2020'] as const) {
    for (let code = 0; code <= 255; code += 1) {
      expect(CURVES[space].toLinear(code / 255)).toBeCloseTo(decodeRgb(code / 255, space), 12);
      expect(CURVES[space].fromLinear(code / 255)).toBeCloseTo(encodeRgb(code / 255, space), 12);
    }
  }
  const taken = await take('adobe-like.png');
  const [green] = await quarters(store, taken.fileId);
  const [r, g, b] = green.map((value) => decodeRgb(value / 255, taken.space));
  const { X, Y, Z } = linearRgbToXyz({ r, g, b }, taken.space);
  // Adobe RGB (1998), 4.3.5.3: XYZ of its green primary, times 100. Half an 8-bit code is 0.4 of Y here.
  expect(Math.abs(X - 18.556)).toBeLessThan(0.4);
  expect(Math.abs(Y - 62.736)).toBeLessThan(0.4);
  expect(Math.abs(Z - 7.069)).toBeLessThan(0.4);
});

describe('shape', () => {
  test.each([1, 2, 3, 4, 5, 6, 7, 8])('EXIF orientation %i is turned upright', async (orientation) => {
    const taken = await take(`turned-${orientation}.jpg`);
    expect(taken).toMatchObject({ width: 96, height: 64, originalWidth: 96, originalHeight: 64 });
    expectPatches(await quarters(store, taken.fileId), PATCHES, 2);
  });

  test('HEIC: its rotation box counts, EXIF orientation does not', async () => {
    const box = await take('rotated-box.heic');
    expect(box).toMatchObject({ width: 64, height: 96 });
    // A quarter turn anticlockwise brings the right side to the top.
    expectPatches(await quarters(store, box.fileId), [PATCHES[1], PATCHES[3], PATCHES[0], PATCHES[2]], 2);
    // Stored turned by the camera, with the EXIF tag but no box: ISO/IEC 23008-12 says to show it as stored.
    const exif = await take('exif-6.heic');
    expect(exif).toMatchObject({ width: 64, height: 96 });
  });

  test('reduction is in linear light: black and white stripes become middle grey 187.5', async () => {
    const width = 6000;
    const height = 300;
    const stripes = Uint8Array.from({ length: width * height }, (_, i) => ((i % width) % 2 ? 255 : 0));
    const png = await sharp(stripes, { raw: { width, height, channels: 1 } })
      .png()
      .toBuffer();
    const taken = await takeIn(store, jobId, png, 'stripes.png');
    expect(taken).toMatchObject({ width: 2048, height: 102, originalWidth: width, originalHeight: height });
    // Half of white's linear light is 187.5 (IEC 61966-2-1), where a mean of device values would be 127.5. Windows that
    // cover 2.93 stripes lie to both sides of it.
    for (const quarter of await quarters(store, taken.fileId)) {
      for (const value of quarter) expect(Math.abs(value - 187.5)).toBeLessThan(1.5);
    }
  });

  test('reduction keeps flat areas exact and their place', async () => {
    const data = new Uint8Array(3000 * 2000 * 3);
    for (let y = 0; y < 2000; y += 1) {
      for (let x = 0; x < 3000; x += 1)
        data.set(PATCHES[(y < 1000 ? 0 : 2) + (x < 1500 ? 0 : 1)], (y * 3000 + x) * 3);
    }
    const png = await sharp(data, { raw: { width: 3000, height: 2000, channels: 3 } })
      .png({ compressionLevel: 1 })
      .toBuffer();
    const taken = await takeIn(store, jobId, png, 'large.png');
    expect(taken).toMatchObject({ width: 2048, height: 1365 });
    expectPatches(await quarters(store, taken.fileId), PATCHES, 0);
  });
});

describe('what leaves intake', () => {
  test.each(['located.jpg', 'located.heic', 'turned-6.jpg', 'p3.png', 'adobe-like.png'])(
    '%s: no metadata, the working image untagged, views tagged',
    async (name) => {
      const taken = await take(name);
      for (const rendition of ['working.png', 'view.webp', 'thumb.webp']) {
        const bytes = fs.readFileSync(stored(store, taken.fileId, rendition));
        const metadata = await sharp(bytes).metadata();
        expect(metadata.exif, rendition).toBeUndefined();
        expect(metadata.xmp, rendition).toBeUndefined();
        expect(metadata.iptc, rendition).toBeUndefined();
        expect(metadata.orientation, rendition).toBeUndefined();
        expect(bytes.toString('latin1'), rendition).not.toMatch(/SECRET|GPS|Exif/);
        expect(metadata.icc === undefined, rendition).toBe(rendition === 'working.png');
      }
    },
  );

  test('the file that carries a place and names really carries them', async () => {
    const bytes = bytesOf('located.jpg').toString('latin1');
    expect(bytes).toContain('SECRETOWNER');
    expect(bytes).toContain('SECRETXMP');
    expect(bytesOf('located.heic').toString('latin1')).toContain('SECRETOWNER');
  });

  test('a view shows the colours of the working image under its own profile', async () => {
    const taken = await take('p3.png');
    const view = sharp(stored(store, taken.fileId, 'view.webp'), { ignoreIcc: true });
    const { data, info } = await view.raw().toBuffer({ resolveWithObject: true });
    const at = (16 * info.width + 24) * info.channels;
    [60, 220, 40].forEach((value, c) => expect(Math.abs(data[at + c] - value)).toBeLessThanOrEqual(3));
  });

  test('renditions have the sizes they promise', async () => {
    const png = await sharp({ create: { width: 3000, height: 1500, channels: 3, background: '#886644' } })
      .png()
      .toBuffer();
    const taken = await takeIn(store, jobId, png, 'wide.png');
    const size = async (rendition: string) => {
      const { width, height } = await sharp(stored(store, taken.fileId, rendition)).metadata();
      return [width, height];
    };
    expect(await size('working.png')).toEqual([2048, 1024]);
    expect(await size('view.webp')).toEqual([1600, 800]);
    expect(await size('thumb.webp')).toEqual([512, 256]);
  });
});
