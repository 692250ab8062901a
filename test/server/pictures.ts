/** The pictures of test/fixtures/photos and ways to look at what intake makes of a picture. */
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import sharp from 'sharp';
import { expect } from 'vitest';
import * as intake from '../../src/lib/server/intake.ts';
import * as jobs from '../../src/lib/server/jobs.ts';
import { openStore, type Store } from '../../src/lib/server/store.ts';

/** Device values of the four patches, left to right and top to bottom; test/authoring/photos.ts paints them. */
export const PATCHES = [
  [200, 90, 40],
  [60, 180, 80],
  [40, 70, 160],
  [128, 128, 128],
];

export const fixture = (name: string) => path.resolve(import.meta.dirname, '../fixtures/photos', name);
export const bytesOf = (name: string) => fs.readFileSync(fixture(name));

/** A store of its own in a fresh folder, with one job. */
export async function freshStore(): Promise<{ store: Store; jobId: string; close: () => Promise<void> }> {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-store-'));
  const store = await openStore(folder);
  const jobId = await jobs.create(store.db, 'Kitchen');
  const close = async () => {
    await store.db.destroy();
    fs.rmSync(folder, { recursive: true, force: true });
  };
  return { store, jobId, close };
}

/** Bytes as a body arrives: in pieces. */
export async function* inPieces(bytes: Uint8Array, size = 65_536): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < bytes.length; at += size) yield bytes.subarray(at, at + size);
}

/** Takes bytes in under a name, as the route does. */
export async function takeIn(
  store: Store,
  jobId: string,
  bytes: Uint8Array,
  name: string,
  options: { signal?: AbortSignal; onProgress?: (progress: intake.Progress) => void } = {},
): Promise<intake.Taken> {
  const { signal = new AbortController().signal, onProgress = () => {} } = options;
  const upload = { jobId, name, body: inPieces(bytes), size: bytes.length };
  return await intake.takeIn(store, upload, { signal, onProgress });
}

export const stored = (store: Store, fileId: string, rendition: string) =>
  path.join(store.folder, 'files', fileId, rendition);

/** Mean of each channel over the middle of each quarter of the working image, as device values 0-255. */
export async function quarters(store: Store, fileId: string): Promise<number[][]> {
  const { data, info } = await sharp(stored(store, fileId, 'working.png'))
    .raw()
    .toBuffer({ resolveWithObject: true });
  expect(info.channels).toBe(3);
  const { width, height } = info;
  const places = [
    [0.25, 0.25],
    [0.75, 0.25],
    [0.25, 0.75],
    [0.75, 0.75],
  ];
  return places.map(([u, v]) => {
    const sum = [0, 0, 0];
    let count = 0;
    for (let y = Math.floor(height * (v - 0.12)); y < height * (v + 0.12); y += 1) {
      for (let x = Math.floor(width * (u - 0.12)); x < width * (u + 0.12); x += 1) {
        for (let c = 0; c < 3; c += 1) sum[c] += data[(y * width + x) * 3 + c];
        count += 1;
      }
    }
    return sum.map((value) => value / count);
  });
}

/** Expects four patches within a tolerance, in 8-bit codes. */
export function expectPatches(got: number[][], wanted: number[][], tolerance: number): void {
  for (const [i, patch] of wanted.entries()) {
    for (const [c, value] of patch.entries()) {
      expect(Math.abs(got[i][c] - value), `patch ${i} is ${got[i]}, not ${patch}`).toBeLessThanOrEqual(
        tolerance,
      );
    }
  }
}
