import { expect, test } from 'vitest';
import { appearancesInRoom, illuminant, roomView } from '#lib/colour/index.ts';
import { relight, relightTable, type Image8 } from '#lib/photo/index.ts';
import { random } from '../photo/board-scene.ts';

const options = process.env.BENCH_SMOKE
  ? { iterations: 1, time: 1, warmupTime: 1 }
  : { iterations: 3, time: 600, warmupTime: 100 };

const lamp = roomView({ spectrum: illuminant('LED-B3'), illuminance: 150 });

test('colours in the light of a room', async ({ bench }) => {
  for (const count of process.env.BENCH_SMOKE ? [200] : [200, 20000]) {
    const next = random(8);
    const labs = Float32Array.from({ length: 3 * count }, (_, i) =>
      i % 3 === 0 ? 20 + 70 * next() : 40 * next() - 20,
    );
    const run = () => appearancesInRoom(labs, lamp).reduce((sum, value) => sum + value, 0) / count;
    const checksum = run();
    // The same input, the same answer.
    expect(run()).toBe(checksum);
    const result = await bench(`appearances of ${count}`, () => void run()).run(options);
    const perMillion = (result.latency.p50 / count) * 1e6;
    console.log(
      `appearances, ${count} colours: ${perMillion.toFixed(0)} ms per million, checksum ${checksum.toFixed(3)}`,
    );
  }
});

test('relighting pictures', async ({ bench }) => {
  let table = relightTable('srgb', 'srgb', lamp);
  for (const which of ['first', 'next']) {
    const start = performance.now();
    table = relightTable(which === 'first' ? 'display-p3' : 'srgb', 'srgb', lamp);
    console.log(`relighting table, ${which} of a space: ${(performance.now() - start).toFixed(0)} ms`);
  }
  // The largest is a 3:2 picture as intake delivers it.
  for (const width of process.env.BENCH_SMOKE ? [320] : [512, 2048]) {
    const height = Math.round(width / 1.5);
    const next = random(9);
    const data = Uint8ClampedArray.from({ length: 3 * width * height }, () => Math.floor(256 * next()));
    const image: Image8 = { width, height, channels: 3, data, space: 'srgb' };
    const run = () => {
      let sum = 0;
      for (const value of relight(image, table).data) sum += value;
      return sum / data.length;
    };
    const checksum = run();
    expect(run()).toBe(checksum);
    const result = await bench(`relight ${width}`, () => void relight(image, table)).run(options);
    const milliseconds = result.latency.p50;
    const megapixels = (width * height) / 1e6;
    console.log(
      `relight, ${megapixels.toFixed(2)} MP: ${milliseconds.toFixed(0)} ms, ` +
        `${(milliseconds / megapixels).toFixed(0)} ms/MP, checksum ${checksum.toFixed(3)}`,
    );
  }
});
