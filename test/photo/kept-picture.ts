import { existsSync, readFileSync, statSync } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { expect } from 'vitest';
import { deltaE2000Many } from '#lib/colour/index.ts';
import type { Image8 } from '#lib/photo/index.ts';
import { linearToLab, linearise } from '../../src/lib/photo/image.ts';

/**
 * Small pictures of what checks come to, kept to be looked at: today's is compared with the kept one, so that a change of the
 * look is noticed; `UPDATE=1` writes them anew, to be looked at before they are committed.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));
const KEPT = 'test/fixtures/pictures';
/** Long side of a kept picture, px; all before and after is done at full size. */
const SIDE = 480;
/**
 * How far today's picture may be from the kept one, mean and 99th percentile of CIEDE2000: a change of one device value in
 * a hundredth of the pixels already makes 2 in a JPEG's dark blocks.
 */
const MOST = { mean: 0.3, p99: 4 };

const pipeline = ({ data, width, height }: Image8) =>
  sharp(Buffer.from(data), { raw: { width, height, channels: 3 } }).resize(SIDE, undefined, {
    kernel: 'lanczos3',
  });

const encoded = (image: Image8) =>
  pipeline(image).jpeg({ quality: 86, chromaSubsampling: '4:4:4', mozjpeg: true }).toBuffer();

/** A picture file's pixels. */
export async function decoded(file: Buffer): Promise<Image8> {
  const { data, info } = await sharp(file).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

/** How far two pictures of one size are apart, CIEDE2000. */
export function compared(one: Image8, other: Image8): { mean: number; p99: number } {
  const [p, q] = [one, other].map((image) => linearToLab(linearise(image).data));
  const errors = Float32Array.from(deltaE2000Many(p, q)).sort();
  return {
    mean: errors.reduce((sum, v) => sum + v, 0) / errors.length,
    p99: errors[Math.floor(0.99 * errors.length)],
  };
}

/** Compares a picture with the kept one, or keeps it. Both pass through one encoder: what is left is a change. */
export async function asKept(name: string, image: Image8): Promise<Image8> {
  const path = at(`${KEPT}/${name}.jpg`);
  const file = await encoded(image);
  if (process.env.UPDATE === '1') {
    await mkdir(at(KEPT), { recursive: true });
    await writeFile(path, file);
  }
  if (!existsSync(path)) throw new Error(`${KEPT}/${name}.jpg is missing: run with UPDATE=1 and look at it`);
  expect(statSync(path).size).toBeLessThan(40_000);
  const [kept, today] = await Promise.all([decoded(readFileSync(path)), decoded(file)]);
  expect([kept.width, kept.height]).toEqual([today.width, today.height]);
  const { mean, p99 } = compared(kept, today);
  expect(mean, name).toBeLessThan(MOST.mean);
  expect(p99, name).toBeLessThan(MOST.p99);
  return today;
}
