import { expect, test } from 'vitest';
import { correctionWithoutReference, measurePattern } from '#lib/photo/index.ts';
import { sCielab } from '../../src/lib/photo/s-cielab.ts';
import { drawBoard, paints } from '../photo/board-scene.ts';

// Long sides of a picture, the largest is what intake delivers; a region as large as the whole picture.
const SIZES = process.env.BENCH_SMOKE ? [320] : [512, 2048];

const options = process.env.BENCH_SMOKE
  ? { iterations: 1, time: 1, warmupTime: 1 }
  : { iterations: 3, time: 600, warmupTime: 100 };

for (const size of SIZES) {
  test(`S-CIELAB of a picture of ${size} pixels`, async ({ bench }) => {
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
    const all = { kind: 'box', x: 0, y: 0, width: size, height } as const;
    const outline = {
      kind: 'polygon',
      points: [
        [1, 1],
        [size - 2, size / 40],
        [size - size / 30, height - 2],
        [size / 50, height - size / 40],
      ],
    } as const;
    const light = {
      width: size,
      height,
      data: Float32Array.from({ length: 3 * size * height }, (_, i) => 0.3 + 0.2 * Math.sin(i * i)),
    };
    const measured = (region: typeof all | typeof outline, width: number) =>
      measurePattern(image, region, { correction, width, distance: 1500 })?.busyness ?? NaN;
    const checks: [string, () => number][] = [
      [
        'the filter alone, 53 samples a degree',
        () => sCielab(light, { samplesPerDegree: 53 }).labs[3 * size],
      ],
      // 2048 pixels at 1.5 m: 53 samples a degree, the most work there is; and 179, which is averaged down first.
      ['busyness of 1 m', () => measured(all, 1000)],
      ['busyness of 0.3 m', () => measured(all, 300)],
      ['busyness of an outline of 1 m', () => measured(outline, 1000)],
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
