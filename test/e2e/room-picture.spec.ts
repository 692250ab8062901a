import fs from 'node:fs';
import path from 'node:path';
import { expect, test, type Page } from '@playwright/test';
import { build } from 'vite';
import type * as bench from './room-bench.ts';
import { sampleJob } from './desk.ts';

// The room picture by WebGL2 and by the worker, in a real browser, on the sample job's kitchen with its true masks. The page is
// the test's own: bundled here, served beside the studio's files.

const ROOT = path.resolve(import.meta.dirname, '../..');
const MASKS = path.join(ROOT, 'test/fixtures/sample/masks');
const KINDS: Record<string, string> = { '.js': 'text/javascript', '.png': 'image/png', '.css': 'text/css' };

/** Enough to see what is sent; `BENCH_CANDIDATES=20` times a walk through a shortlist, in more views. */
const CANDIDATES = Number(process.env.BENCH_CANDIDATES ?? 3);

let files: Map<string, string>;

test.beforeAll(async () => {
  test.setTimeout(120_000);
  const built = await build({
    configFile: false,
    root: ROOT,
    base: '/room-bench/',
    logLevel: 'error',
    publicDir: false,
    worker: { format: 'es' },
    build: {
      write: false,
      minify: false,
      target: 'es2022',
      assetsInlineLimit: 0,
      lib: { entry: path.join(ROOT, 'test/e2e/room-bench.ts'), formats: ['es'], fileName: 'bench' },
    },
  });
  const outputs = (Array.isArray(built) ? built : [built]).flatMap((one) =>
    'output' in one ? one.output : [],
  );
  files = new Map(
    outputs.map((file) => [file.fileName, String('code' in file ? file.code : file.source)] as const),
  );
});

type Bench = typeof bench;

/** Runs something of the bench in the page. */
function run<K extends keyof Bench>(
  name: K,
  ...given: Parameters<Bench[K]>
): Promise<Awaited<ReturnType<Bench[K]>>> {
  return page.evaluate(
    async ([key, list]) => {
      const url = '/room-bench/bench.js';
      const all = (await import(/* @vite-ignore */ url)) as Record<string, (...args: unknown[]) => unknown>;
      return (await all[key](...list)) as never;
    },
    [name as string, given as unknown[]] as const,
  );
}

let page: Page;
let sample: Parameters<Bench['mark']>[0];

test.beforeAll(async ({ browser }) => {
  test.setTimeout(120_000);
  page = await browser.newPage();
  await sampleJob(page);
  const id = new URL(page.url()).pathname.split('/')[2];
  const { job } = (await (await page.request.get(`/api/jobs/${id}`)).json()) as {
    job: Parameters<Bench['mark']>[0];
  };
  await page.route('**/room-bench/**', async (route) => {
    const name = new URL(route.request().url()).pathname.slice('/room-bench/'.length);
    const contentType = KINDS[path.extname(name)] ?? 'text/html';
    if (name === '') return route.fulfill({ contentType, body: '<!doctype html><title>Room view</title>' });
    if (name.startsWith('masks/'))
      return route.fulfill({ contentType, body: fs.readFileSync(path.join(MASKS, path.basename(name))) });
    const body = files.get(name);
    return body === undefined ? route.fulfill({ status: 404 }) : route.fulfill({ contentType, body });
  });
  sample = job;
  await page.goto('/room-bench/');
  await run('watchContexts');
  expect(await run('mark', job, ['cabinets', 'walls', 'counter'])).toEqual([]);
});

test.afterAll(() => page.close());

const said = ({ mean, p99, most, over, step, strays, pixels, bias }: bench.Difference) =>
  `mean ${mean.toFixed(5)}, p99 ${p99.toFixed(2)}, above 0.5 ${(100 * over).toFixed(4)} %, most ${most.toFixed(2)} ` +
  `(${step} device values) over ${pixels} pixels, ${strays} others differ, bias ${bias.map((v) => v.toFixed(5)).join(' ')}`;

test('WebGL2 and worker paint the same room', async () => {
  test.setTimeout(240_000);
  const cases: [string, Record<string, string>, string | null, boolean?][] = [
    ['dark green on the cabinets', { cabinets: 'Deep Lock' }, null],
    ['the same by lamps', { cabinets: 'Deep Lock' }, 'evening'],
    ['the same by window and lamps apart', { cabinets: 'Deep Lock' }, 'dusk', true],
    ['the same with the lamps off', { cabinets: 'Deep Lock' }, 'day', true],
    [
      'cabinets, walls and a stone in perspective',
      { cabinets: 'Deep Lock', walls: 'Fog Sluice', counter: 'Heron granite' },
      null,
    ],
  ];
  for (const [what, putting, light, apart = false] of cases) {
    const found = await run('agreement', putting, light, apart);
    console.log(`${what}: ${said(found)}`);
    expect(found.paths, what).toEqual(['graphics', 'worker']);
    // The bar of this project for two paths: a difference nobody sees.
    expect(found.mean, what).toBeLessThanOrEqual(0.5);
    expect(found.p99, what).toBeLessThanOrEqual(0.5);
    // Formula, tables and dither are the same. What is left is single against double precision: where that just tips a value
    // over, the next one, and where one light is made stronger that of the other. In a dark pixel that alone can be more than 0.5.
    expect(found.step, what).toBeLessThanOrEqual(apart ? 2 : 1);
    expect(found.over, what).toBeLessThan(0.0001);
    expect(found.mean, what).toBeLessThan(0.001);
    // No channel is lighter or darker on the average.
    for (const bias of found.bias) expect(Math.abs(bias), what).toBeLessThan(0.001);
    expect(found.pixels, what).toBeGreaterThan(100_000);
    expect(found.patterned, what).toBe('counter' in putting);
    if (light === null) expect(found.strays, what).toBe(0);
  }
});

test('WebGL2 and worker agree to a device value on any light, mirror and coverage', async () => {
  const { differing, most, changed } = await run('scattered');
  console.log(`scattered: ${(100 * differing).toFixed(3)} % of values differ, by ${most} at most`);
  expect(most).toBeLessThanOrEqual(1);
  // Single against double precision where the dither just tips a value over.
  expect(differing).toBeLessThan(0.0005);
  expect(changed).toBeGreaterThan(0.5);
});

test('what one candidate leaves of another is what a view that starts with it shows', async () => {
  test.setTimeout(120_000);
  const { stale, changed } = await run('walked');
  expect(stale).toEqual(stale.map(() => 0));
  for (const values of changed) expect(values).toBeGreaterThan(10_000);
});

test('zoomed in, each pixel of the picture is a square; a wipe cuts between before and after', async ({
  page,
}) => {
  test.setTimeout(120_000);
  for (const graphics of ['any', 'none'] as const)
    for (const scale of [1, 2, 3.7]) {
      const { wrong, opaque, inside } = await run('enlarged', graphics, scale);
      expect([graphics, scale, wrong, opaque]).toEqual([graphics, scale, 0, 0]);
      expect(inside).toBeGreaterThan(50_000);
    }
  const { between, toMean } = await run('resampled', 0.3);
  console.log(
    `made smaller: ${between.toFixed(3)} between the paths, ${toMean.map((v) => v.toFixed(3)).join(' and ')} from the mean`,
  );
  // A filter is a choice: what counts is that neither shimmers nor blurs.
  expect(between).toBeLessThan(1);
  for (const value of toMean) expect(value).toBeLessThan(1);
  expect(toMean).toHaveLength(2);
  const larger = await run('resampled', 1.6);
  expect(larger.between).toBeLessThan(0.5);
});

test('a lost graphics processor costs nothing but time', async () => {
  test.setTimeout(120_000);
  const { paths, lost, back, changed } = await run('loss');
  expect(paths).toEqual(['graphics', 'worker', 'graphics']);
  expect(lost).toBeLessThan(0.5);
  expect(back).toBe(0);
  // The comparison can tell a painted room from a bare one.
  expect(changed).toBeGreaterThan(2);
});

test('of many calls the worker paints the last; what does not fit is refused in words', async () => {
  test.setTimeout(120_000);
  const { shown, last } = await run('hurried');
  expect(shown).toEqual([false, false, false, false, true]);
  expect(last).toBe(0);
  const words = await run('refusals');
  expect(words[0]).toBe('Expected a surface that was set, got ceiling');
  expect(words[1]).toBe('Expected a mask for a picture of 1600x1067, got one of 320x213');
  expect(words[2]).toMatch(/^The picture could not be loaded \(40\d\)\./);
});

test('without a graphics processor the worker paints', async () => {
  const { path: by, renderer } = await run('chosen');
  expect(by).toBe(/SwiftShader|llvmpipe|software|none/i.test(renderer) ? 'worker' : 'graphics');
});

test('a picture too large for the graphics processor is painted by the worker', async () => {
  const { paths, size, value } = await run('widePicture');
  expect(paths).toEqual(['worker', 'worker', 'graphics']);
  expect(size).toEqual([4000, 10]);
  expect(value).toEqual([119, 119, 119, 255]);
});

test('a new candidate sends numbers to the graphics processor and no picture', async () => {
  test.setTimeout(240_000);
  for (const graphics of ['any', 'none'] as const) {
    const found = await run('timing', graphics, CANDIDATES);
    const { width, height, surfaces, path: by, renderer, candidate, moved, setup } = found;
    console.log(
      `${by} (${renderer}), ${width}x${height}, ${surfaces} surfaces: a candidate ${candidate.median.toFixed(1)} ms ` +
        `(most ${candidate.most.toFixed(1)}), a move ${moved.median.toFixed(1)} ms (most ${moved.most.toFixed(1)}), ` +
        `set up ${setup.toFixed(0)} ms`,
    );
    expect(by).toBe(graphics === 'any' ? 'graphics' : 'worker');
    expect(found.uploads).toBe(0);
  }
});

const KITCHEN = ['cabinets', 'walls', 'counter', 'floor', 'ceiling', 'backsplash'];
/** A desk's window, a phone's at three pixels to one, and pixels of the picture. */
const VIEWS: [string, { width: number; height: number }, number | null][] = [
  ['1440 wide', { width: 1440, height: 960 }, null],
  ['390 wide, 3 to 1', { width: 1170, height: 780 }, null],
  ['pixels', { width: 1440, height: 900 }, 1],
  ['pixels doubled', { width: 1440, height: 900 }, 2],
];

test('WebGL2 paints what surfaces cover of what is seen, and shows only that anew', async () => {
  test.setTimeout(300_000);
  expect(await run('mark', sample, ['cabinets', 'walls', 'counter'])).toEqual([]);
  const whole = 2048 * 1366;
  const canvas = 1440 * 900;
  const cost = async (scale: number, split = 0, ids = ['cabinets', 'walls', 'counter']) => {
    const found = await run('graphicsWork', { ids, scale, split });
    const million = (n: number) => (n / 1e6).toFixed(2);
    console.log(
      `WebGL2, ${ids.length} on, at ${scale}${split ? ' with a wipe' : ''}: ${found.draws} draws, ${million(found.pixels)} M pixels ` +
        `(surfaces cover ${million(found.covered)} M, the canvas has ${million(canvas)} M), ${found.ms.toFixed(0)} ms`,
    );
    return found;
  };
  const scale = 1440 / 2048;
  const [fitted, one] = [await cost(scale), await cost(scale, 0, ['counter'])];
  for (const { pixels, covered } of [fitted, one]) {
    // Painted once, seen once and copied with the rest of the canvas; what cells have too much is no more than that again.
    expect(pixels - canvas).toBeGreaterThan(covered);
    expect(pixels - canvas).toBeLessThan(2 * covered * (1 + scale * scale));
  }
  expect(fitted.pixels).toBeLessThan(canvas + whole);
  const [pixels, wipe] = [await cost(1), await cost(1, 0.5)];
  expect(pixels.pixels).toBeLessThan(fitted.pixels);
  expect(wipe.pixels).toBeLessThan(pixels.pixels);
  const close = await cost(4);
  // A sixteenth of what the canvas has is painted, and what surfaces share anywhere is added up; then view and copy.
  expect(close.pixels).toBeLessThan(2.2 * canvas);
  const small = await cost(0.2);
  // A smaller view costs no more than a larger one: nothing is made smaller but what is shown.
  expect(small.pixels).toBeLessThan(fitted.pixels);
});

test('while candidates are moved through, frames of the screen’s size stand for whole pictures', async () => {
  test.setTimeout(600_000);
  expect(await run('mark', sample, KITCHEN)).toEqual([]);
  const more = CANDIDATES > 3;
  for (const lightId of more ? [null, 'evening'] : [null])
    for (const surfaces of more ? [1, 2, 3, 6] : [2])
      for (const [what, canvas, scale] of VIEWS) {
        const ids = KITCHEN.slice(0, surfaces);
        const given = { graphics: 'none' as const, ids, canvas, scale, lightId, count: CANDIDATES };
        const found = await run('moving', given);
        const { frame, drawImage, rest, kept, apart, p99, changed, size } = found;
        console.log(
          `${size.width}x${size.height}, ${what}, ${surfaces} on, ${lightId ?? 'no light'}: ` +
            `${(1000 / frame.median).toFixed(0)} candidates a second (${frame.median.toFixed(1)} ms, most ${frame.most.toFixed(1)}; ` +
            `${(frame.median / drawImage).toFixed(2)} of drawImage's ${drawImage.toFixed(1)} ms), stays after ${rest.toFixed(0)} ms ` +
            `(${kept.toFixed(3)} from whole), ` +
            `frame from whole ${apart.toFixed(3)}, p99 ${p99.toFixed(2)}`,
        );
        expect(found.path, what).toBe('worker');
        expect(found.frames, what).toBe(CANDIDATES);
        // What stands for a moment is not told from what follows it.
        expect(apart, what).toBeLessThan(0.5);
        expect(kept, what).toBeLessThan(0.25);
        // The comparison can tell one candidate from another.
        expect(changed, what).toBeGreaterThan(1);
      }
});
