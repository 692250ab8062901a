import path from 'node:path';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { Image8 } from '#lib/photo/index.ts';
import { castWords, leftCast } from '#lib/studio/left-cast.ts';

const SAMPLES = path.resolve(import.meta.dirname, '../../static/sample');

async function picture(name: string): Promise<Image8> {
  const { data, info } = await sharp(path.join(SAMPLES, `${name}.jpg`))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const { width, height } = info;
  return { data: new Uint8ClampedArray(data), width, height, channels: 3, space: 'srgb' };
}

/** A picture of one dark wall below and one pale one above it. */
function walls(pale: readonly number[]): Image8 {
  const data = new Uint8ClampedArray(3 * 100);
  for (let p = 0; p < 100; p += 1) data.set(p < 50 ? pale : [60, 60, 60], 3 * p);
  return { data, width: 10, height: 10, channels: 3, space: 'srgb' };
}

describe('a cast that a picture has all over', () => {
  test('is seen in the kitchen by lamp and at dusk as the camera delivers them, and not by day', async () => {
    expect(leftCast(await picture('kitchen-lamp'))).toBe('warm');
    expect(leftCast(await picture('kitchen-mixed'))).toBe('warm');
    expect(leftCast(await picture('kitchen-day'))).toBeNull();
  });

  test('has a name by its hue, and none where pale parts are grey, burnt out or black', () => {
    expect(leftCast(walls([220, 180, 140]))).toBe('warm');
    expect(leftCast(walls([170, 220, 170]))).toBe('greenish');
    expect(leftCast(walls([150, 190, 230]))).toBe('bluish');
    expect(leftCast(walls([230, 170, 200]))).toBe('pinkish');
    for (const level of [0, 25, 90, 200, 255]) expect(leftCast(walls([level, level, level]))).toBeNull();
    expect(castWords('warm')).toMatch(/warm all over.*not as plain daylight/);
  });
});
