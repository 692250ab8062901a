import { expect, test } from 'vitest';
import {
  correctImage,
  correctionWithoutReference,
  findBoardPatches,
  measureRegion,
  palette,
  shrink,
} from '#lib/photo/index.ts';
import { drawBoard, paints } from '../photo/board-scene.ts';

// Long sides of a board with 20 patches in uneven light; the largest is what intake delivers.
const SIZES = process.env.BENCH_SMOKE ? [320] : [512, 2048];

const options = process.env.BENCH_SMOKE
  ? { iterations: 1, time: 1, warmupTime: 1 }
  : { iterations: 3, time: 600, warmupTime: 100 };

for (const size of SIZES) {
  test(`kernels on a picture of ${size} pixels`, async ({ bench }) => {
    const height = Math.round(0.75 * size);
    const { image } = drawBoard({
      seed: 5,
      width: size,
      height,
      paints: paints(3, 20),
      sizes: 0.5,
      labels: true,
    });
    const correction = correctionWithoutReference(image);
    const region = { kind: 'box', x: size / 4, y: height / 4, width: size / 2, height: height / 2 } as const;
    const checks: [string, () => number][] = [
      ['shrink to 512', () => shrink(image, 512).data.reduce((s, v) => s + v, 0)],
      ['measure half of it', () => measureRegion(image, region, correction).lab.L],
      ['palette', () => palette(image, { correction }).areas.length],
      ['find patches', () => findBoardPatches(image).patches.length],
      ['correct for display', () => correctImage(image, correction, { space: 'srgb' }).data[3 * size + 1]],
    ];
    for (const [name, run] of checks) {
      const checksum = run();
      // The same input, the same answer.
      expect(run()).toBe(checksum);
      const result = await bench(name, () => void run()).run(options);
      const milliseconds = result.latency.p50;
      const megapixels = (size * height) / 1e6;
      console.log(
        `${name}, ${megapixels.toFixed(2)} MP: ${milliseconds.toFixed(0)} ms, ` +
          `${(milliseconds / megapixels).toFixed(0)} ms/MP, checksum ${checksum.toFixed(3)}`,
      );
    }
  });
}
