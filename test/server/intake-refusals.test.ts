import fs from 'node:fs';
import path from 'node:path';
import sharp from 'sharp';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import * as intake from '../../src/lib/server/intake.ts';
import { Refusal } from '../../src/lib/server/refusal.ts';
import { openStore, type Store } from '../../src/lib/server/store.ts';
import { bytesOf, freshStore, inPieces, takeIn } from './pictures.ts';

let store: Store;
let jobId: string;
let close: () => Promise<void>;
beforeAll(async () => ({ store, jobId, close } = await freshStore()));
afterAll(() => close());

const leftovers = () => fs.readdirSync(store.incoming);
const kept = () => fs.readdirSync(path.join(store.folder, 'files'));

/** Expects a refusal in one sentence that leaves nothing behind. */
async function refused(bytes: Uint8Array, name: string): Promise<string> {
  const before = kept();
  const error = await takeIn(store, jobId, bytes, name).then(
    () => null,
    (reason: unknown) => reason,
  );
  expect(error, name).toBeInstanceOf(Refusal);
  const { message, status } = error as Refusal;
  expect(status).toBeGreaterThanOrEqual(400);
  expect(status).toBeLessThan(500);
  expect(message).toMatch(/^[A-Z][^\n]*\.$/);
  expect(message).not.toMatch(/\. [A-Z]/);
  expect(leftovers()).toEqual([]);
  expect(kept()).toEqual(before);
  return message;
}

describe('refused with one sentence', () => {
  test.each([
    ['text.jpg', /not a picture/],
    ['empty.jpg', /empty/],
    ['png-called.jpg', /ends in \.jpg, but the file is a PNG/],
    ['drawing.svg', /SVG drawing/],
    ['drawing-called.png', /SVG drawing/],
    ['document.pdf', /PDF/],
    ['animated.gif', /animated; a still picture is needed, the first frame alone is not taken/],
    ['animated.webp', /animated; a still picture is needed, the first frame alone is not taken/],
    ['animated.png', /animated; a still picture is needed, the first frame alone is not taken/],
    ['still.gif', /GIF has too few colours/],
    ['pages.tiff', /2 pages/],
    ['float.tiff', /8 or 16 bits/],
    ['bomb.png', /900 million pixels; at most 80 million/],
    ['truncated.jpg', /damaged or incomplete/],
    ['truncated.png', /damaged or incomplete/],
    ['truncated.webp', /damaged or incomplete/],
    ['truncated.avif', /damaged or incomplete/],
    ['truncated.tiff', /damaged or incomplete/],
    ['truncated.heic', /damaged or incomplete/],
    ['corrupt.png', /damaged or incomplete/],
  ])('%s', async (name, sentence) => {
    expect(await refused(bytesOf(name), name)).toMatch(sentence);
  });

  test('a name without an ending, or in capitals, is no lie', async () => {
    for (const name of ['photo', '', 'IMG_1.PNG', 'kitchen 3.5 m.png']) {
      expect((await takeIn(store, jobId, bytesOf('srgb.png'), name)).width, name).toBe(96);
    }
  });

  test('every honest format under every other name is refused', async () => {
    const endings = ['jpg', 'png', 'webp', 'avif', 'tiff', 'heic'];
    const files = ['turned-1.jpg', 'srgb.png', 'srgb.webp', 'srgb.avif', 'srgb.tiff', 'srgb.heic'];
    for (const [i, file] of files.entries()) {
      const other = endings[(i + 1) % endings.length];
      expect(await refused(bytesOf(file), `photo.${other}`)).toContain(
        `.${endings[i].replace('tiff', 'tif')}.`,
      );
    }
  });

  test('camera raw, films and layered files are named as what they are', async () => {
    expect(await refused(bytesOf('srgb.tiff'), 'photo.dng')).toMatch(/raw/);
    const film = Buffer.concat([
      Buffer.from([0, 0, 0, 24]),
      Buffer.from('ftypisom\0\0\0\0isommp42'),
      Buffer.alloc(100),
    ]);
    expect(await refused(film, 'clip.heic')).toMatch(/film/);
    expect(await refused(Buffer.from('8BPS\0\x01aaaaaaaaaaaaaa'), 'kitchen.png')).toMatch(/layered/);
  });

  test('more than 80 megapixels of honest pixels', async () => {
    const wide = sharp({ create: { width: 12000, height: 7000, channels: 3, background: '#777' } });
    expect(await refused(await wide.png({ compressionLevel: 9 }).toBuffer(), 'wide.png')).toMatch(
      /84 million pixels/,
    );
  });

  test('a header that lies about its size', async () => {
    for (const [width, height] of [
      [0, 64],
      [0x7fffffff, 2],
      [200000, 100000],
    ]) {
      const bytes = Buffer.from(bytesOf('srgb.png'));
      bytes.writeUInt32BE(width, 16);
      bytes.writeUInt32BE(height, 20);
      await refused(bytes, 'lie.png');
    }
  });

  test('more than 60 MB is not read any further', async () => {
    let read = 0;
    async function* endless() {
      for (;;) {
        read += 1e6;
        yield new Uint8Array(1e6);
      }
    }
    const options = { signal: new AbortController().signal, onProgress: () => {} };
    const upload = { jobId, name: 'long.jpg', body: endless(), size: null };
    await expect(intake.takeIn(store, upload, options)).rejects.toThrow(/larger than 60 MB/);
    expect(read).toBeLessThanOrEqual(62e6);
    read = 0;
    await expect(intake.takeIn(store, { ...upload, body: endless(), size: 61e6 }, options)).rejects.toThrow(
      /60 MB/,
    );
    expect(read).toBe(0);
    expect(leftovers()).toEqual([]);
  });

  test('an upload that breaks off', async () => {
    const whole = bytesOf('srgb.png');
    const upload = { jobId, name: 'a.png', body: inPieces(whole.subarray(0, 200)), size: whole.length };
    const options = { signal: new AbortController().signal, onProgress: () => {} };
    await expect(intake.takeIn(store, upload, options)).rejects.toThrow(/broke off/);
    expect(leftovers()).toEqual([]);
  });

  test('a job that is not there', async () => {
    await expect(takeIn(store, 'nobody', bytesOf('srgb.png'), 'a.png')).rejects.toThrow(/no such job/);
  });
});

test(
  'damaged bytes anywhere in a file end in a picture or a sentence, never in a fault',
  { timeout: 300_000 },
  async () => {
    let state = 7;
    const random = (below: number) => {
      state = (Math.imul(state, 1103515245) + 12345) & 0x7fffffff;
      return (state >> 8) % below;
    };
    const files = [
      'turned-1.jpg',
      'p3.png',
      'srgb.webp',
      'p3.avif',
      'srgb-16.tiff',
      'p3.heic',
      'adobe-like.heic',
    ];
    let readable = 0;
    for (const name of files) {
      for (let round = 0; round < 5; round += 1) {
        const bytes = Buffer.from(bytesOf(name));
        for (let i = 0; i < 1 + round * 3; i += 1) bytes[12 + random(bytes.length - 12)] = random(256);
        const outcome = await takeIn(store, jobId, bytes, name).catch((error: unknown) => error);
        if (outcome instanceof Error) expect(outcome, `${name}, round ${round}`).toBeInstanceOf(Refusal);
        else readable += 1;
      }
    }
    expect(readable).toBeGreaterThan(0);
    expect(leftovers()).toEqual([]);
  },
);

describe('many, and broken off', () => {
  let children: { most: number; memory: number } | null = null;
  let watching: NodeJS.Timeout | undefined;
  afterEach(() => clearInterval(watching));

  /** Counts the decoding processes and the most memory one of them held, as the system reports it. */
  function watch(): void {
    const seen = (children = { most: 0, memory: 0 });
    watching = setInterval(() => {
      const tasks = decoders();
      seen.most = Math.max(seen.most, tasks.length);
      for (const pid of tasks) {
        const status = readProc(`${pid}/status`);
        const peak = Number(/VmHWM:\s+(\d+) kB/.exec(status)?.[1] ?? 0) / 1000;
        seen.memory = Math.max(seen.memory, peak);
      }
    }, 15);
  }

  /** A file of the process table, or nothing when what it was about has ended. */
  const readProc = (name: string) => {
    try {
      return fs.readFileSync(`/proc/${name}`, 'utf8');
    } catch {
      return '';
    }
  };

  function decoders(): number[] {
    const tasks = fs.readdirSync('/proc/self/task');
    const children = tasks.flatMap((task) => readChildren(task));
    return children.filter((pid) => readProc(`${pid}/cmdline`).includes('intake-process'));
  }

  const readChildren = (task: string) => {
    // A thread can end between being listed and being read.
    const text = readProc(`self/task/${task}/children`).trim();
    return text ? text.split(' ').map(Number) : [];
  };

  /** A picture full of detail, made of one tile of fixed noise. */
  async function photo(width: number, height: number): Promise<Buffer> {
    let state = 5;
    const noise = Uint8Array.from({ length: 500 * 500 * 3 }, () => {
      state = (Math.imul(state, 1103515245) + 12345) & 0x7fffffff;
      return 64 + ((state >> 16) & 127);
    });
    const tile = await sharp(noise, { raw: { width: 500, height: 500, channels: 3 } })
      .png()
      .toBuffer();
    return await sharp({ create: { width, height, channels: 3, background: '#888' } })
      .composite([{ input: tile, tile: true }])
      .jpeg({ quality: 80 })
      .toBuffer();
  }

  test.skipIf(process.platform !== 'linux')(
    '20 uploads at once: all taken, two decoded at a time',
    { timeout: 240_000 },
    async () => {
      const bytes = await photo(2100, 1400);
      watch();
      const before = process.memoryUsage().rss;
      const taken = await Promise.all(
        Array.from({ length: 20 }, (_, i) => takeIn(store, jobId, bytes, `${i}.jpg`)),
      );
      expect(new Set(taken.map((t) => t.fileId)).size).toBe(20);
      expect(taken.every((t) => t.width === 2048)).toBe(true);
      expect(children?.most).toBe(2);
      // Measured: about 230 MB a child, most of it Node and the encoders.
      expect(children?.memory).toBeLessThan(450);
      expect((process.memoryUsage().rss - before) / 1e6).toBeLessThan(200);
      expect(leftovers()).toEqual([]);
    },
  );

  test.skipIf(process.platform !== 'linux')(
    'the largest picture that is taken stays within 1 GB',
    async () => {
      const bytes = await photo(10300, 7700);
      watch();
      const taken = await takeIn(store, jobId, bytes, 'largest.jpg');
      expect(taken.originalWidth).toBe(10300);
      expect(children?.memory).toBeGreaterThan(100);
      expect(children?.memory).toBeLessThan(1000);
    },
  );

  test.skipIf(process.platform !== 'linux')(
    'a decode taken back ends its process at once and leaves nothing',
    async () => {
      const bytes = await photo(9000, 6000);
      const before = kept();
      const stop = new AbortController();
      const started = takeIn(store, jobId, bytes, 'large.jpg', {
        signal: stop.signal,
        onProgress: ({ stage, share }) => {
          if (stage === 'decoding' && share > 0) stop.abort(new Error('taken back'));
        },
      });
      await expect(started).rejects.toThrow('taken back');
      expect(decoders()).toEqual([]);
      expect(leftovers()).toEqual([]);
      expect(kept()).toEqual(before);
    },
  );

  test('uploads taken back while they wait their turn let the others pass', async () => {
    const bytes = await photo(1600, 1200);
    const stop = new AbortController();
    const wanted = Array.from({ length: 3 }, (_, i) => takeIn(store, jobId, bytes, `wanted-${i}.jpg`));
    const unwanted = Array.from({ length: 5 }, (_, i) =>
      takeIn(store, jobId, bytes, `unwanted-${i}.jpg`, { signal: stop.signal }).then(
        () => 'taken',
        () => 'taken back',
      ),
    );
    setTimeout(() => stop.abort(), 60);
    const ends = await Promise.all(unwanted);
    expect(ends.filter((end) => end === 'taken back').length).toBeGreaterThan(0);
    await Promise.all(wanted);
    expect((await takeIn(store, jobId, bytes, 'after.jpg')).width).toBe(1600);
    expect(leftovers()).toEqual([]);
  });

  test('what a killed process left behind is gone after the next start', async () => {
    // No process has this number: Linux and macOS count no further than 4194304.
    const stale = path.join(store.incoming, '99999999-abc');
    fs.mkdirSync(stale);
    fs.writeFileSync(path.join(stale, 'upload'), 'half a picture');
    const orphan = path.join(store.folder, 'files', 'AAAAAAAAAAAAAAAAAAAAAA');
    fs.mkdirSync(orphan);
    fs.writeFileSync(path.join(orphan, '.working.png.part'), 'half a picture');
    const longAgo = new Date(Date.now() - 2 * 3600_000);
    fs.utimesSync(orphan, longAgo, longAgo);
    const before = kept().filter((id) => !id.startsWith('AAAA'));
    const again = await openStore(store.folder);
    await again.db.destroy();
    expect(leftovers()).toEqual([]);
    expect(kept()).toEqual(before);
  });
});
