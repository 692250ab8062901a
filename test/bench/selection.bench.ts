import { expect, test } from 'vitest';
import {
  adjacentSurfaces,
  decodeMask,
  encodeMask,
  maskArea,
  prepareSelection,
  select,
  straightened,
  type Stroke,
} from '#lib/photo/index.ts';
import { picture } from '../photo/picture.ts';

// Long sides of a drawn room with two fronts, a wall and a floor; the largest is what intake delivers.
const SIZES = process.env.BENCH_SMOKE ? [320] : [1024, 2048];

const options = process.env.BENCH_SMOKE
  ? { iterations: 1, time: 1, warmupTime: 1 }
  : { iterations: 3, time: 600, warmupTime: 100 };

for (const size of SIZES) {
  test(`selecting on a picture of ${size} pixels`, async ({ bench }) => {
    const height = Math.round((2 / 3) * size);
    const image = picture(size, height, (px, py) => {
      const [x, y] = [px / size, py / size];
      if (x % 0.2 < 0.004 && y > 0.2 && y < 0.5) return [20, 0, 0];
      const shade = Math.round(20 * (1 - 0.3 * x)) / 20;
      if (y > 0.2 && y < 0.5 && x > 0.1) return [62 * shade, 14 * shade, 26 * shade];
      return y >= 0.5 ? [45 + ((Math.floor(y * 60) * 7) % 5), 8, 16] : [82, 1, 4];
    });
    const stroke = (mode: Stroke['mode'], ...points: [number, number][]): Stroke => ({
      mode,
      points: points.map(([x, y]) => [x * size, y * size] as const),
      radius: size / 200,
    });
    const strokes = [
      stroke('add', [0.25, 0.3], [0.5, 0.4]),
      stroke('add', [0.7, 0.25], [0.85, 0.45]),
      stroke('remove', [0.2, 0.55], [0.4, 0.6]),
    ];
    const selector = prepareSelection(image);
    const alone = { elsewhere: false };
    const { mask } = select(selector, strokes, alone);
    const rest = select(
      selector,
      [strokes[2]].map((s) => ({ ...s, mode: 'add' })),
      alone,
    ).mask;
    const stored = encodeMask(mask);
    /** As before the first stroke. */
    const forget = () => {
      selector.remembered.traces.clear();
      selector.remembered.growths.clear();
      selector.remembered.unlikeness.clear();
      selector.remembered.edges.last = null;
      for (const store of [selector.samples.likenesses, selector.small.likenesses]) {
        store.from.fill(-1);
        store.used = 0;
      }
      selector.small.odds.known.fill(NaN);
    };
    const covered = (count: number) => maskArea(select(selector, strokes.slice(0, count), alone).mask);
    const checks: [string, () => number][] = [
      ['prepare', () => prepareSelection(image).regions.count],
      ['first stroke', () => (forget(), covered(1))],
      ['three strokes, one after the other', () => (forget(), covered(1) + covered(2) + covered(3))],
      ['the same three again', () => covered(3)],
      ['elsewhere', () => maskArea(select(selector, strokes, { elsewhere: true }).mask)],
      ['straighten', () => straightened(mask).edges.length],
      ['encode', () => encodeMask(mask).code.length],
      ['decode', () => maskArea(decodeMask(stored))],
      ['borders of two', () => adjacentSurfaces([mask, rest])[0]?.length ?? 0],
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
