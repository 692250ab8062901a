import { expect, test } from 'vitest';
import { paintOver, projectPattern, surfaceLayers, type Image8 } from '#lib/photo/index.ts';
import { normal, random } from '../photo/board-scene.ts';

// Long sides; half of the picture is the surface. The largest is what intake delivers.
const SIZES = process.env.BENCH_SMOKE ? [320] : [1024, 2048];

const options = process.env.BENCH_SMOKE
  ? { iterations: 1, time: 1, warmupTime: 1 }
  : { iterations: 3, time: 600, warmupTime: 100 };

function scene(width: number, height: number): Image8 {
  const next = random(7);
  const data = new Uint8Array(3 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const light = 0.6 + 0.4 * Math.sin((3 * x) / width) - 0.2 * (y / height);
      const noise = 1.5 * normal(next);
      const i = 3 * (y * width + x);
      data[i] = 190 * light + noise;
      data[i + 1] = 170 * light + noise;
      data[i + 2] = 135 * light + noise;
    }
  return { width, height, channels: 3, data, space: 'srgb' };
}

for (const size of SIZES) {
  test(`another finish on a picture of ${size} pixels`, async ({ bench }) => {
    const height = Math.round(0.75 * size);
    const image = scene(size, height);
    const mask = {
      width: size,
      height,
      data: Uint8Array.from({ length: size * height }, (_, i) => (i % size < size / 2 ? 255 : 0)),
    };
    const layers = surfaceLayers(image, mask);
    const pattern = { image: scene(512, 512), width: 600, height: 600 };
    const plane = {
      corners: [
        [0.1 * size, 0.2 * height],
        [0.4 * size, 0.25 * height],
        [0.5 * size, 0.9 * height],
        [0, 0.95 * height],
      ],
      width: 3000,
      height: 4000,
    } as const;
    const finish = { colour: { L: 28, a: -10, b: 4 } };
    const checks: [string, () => number][] = [
      ['take a plain surface apart', () => surfaceLayers(image, mask).light[4 * size]],
      [
        'take a textured surface apart',
        () => surfaceLayers(image, mask, { texture: 'hide' }).light[4 * size],
      ],
      ['put a finish on', () => paintOver(image, [{ layers, finish }]).data[3 * size * (height >> 1)]],
      [
        'lay a pattern',
        () => projectPattern(layers, pattern, { plane }).data[3 * (size >> 2) * (height >> 1)],
      ],
    ];
    for (const [name, run] of checks) {
      const checksum = run();
      // The same input, the same answer.
      expect(run()).toBe(checksum);
      const result = await bench(name, () => void run()).run(options);
      const milliseconds = result.latency.p50;
      const megapixels = (size * height) / 2e6;
      console.log(
        `${name}, ${megapixels.toFixed(2)} MP of surface: ${milliseconds.toFixed(0)} ms, ` +
          `${(milliseconds / megapixels).toFixed(0)} ms/MP, checksum ${checksum.toFixed(3)}`,
      );
    }
  });
}
