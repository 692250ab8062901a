/** What runs in the page of `room-picture.spec.ts`: the studio's room picture without the studio round it. */
import { deltaE2000Many } from '#lib/colour/index.ts';
import type { Job, SurfaceMask } from '#lib/job/index.ts';
import {
  encodeMask,
  scaledMask,
  surfaceLayers,
  type AppliedFinish,
  type Image8,
  type LightShares,
  type Mask,
  type SurfaceLayers,
} from '#lib/photo/index.ts';
import { toHalf } from '../../src/lib/photo/half-float.ts';
import { linearToLab, linearise } from '../../src/lib/photo/image.ts';
import { viewing } from '../../src/lib/studio/look.ts';
import { lightParts } from '../../src/lib/studio/room-light.ts';
import { finishSource, roomScene, type RoomScene } from '../../src/lib/studio/room-scene.ts';
import { RoomPicture, type DrawOptions, type ViewTransform } from '../../src/lib/studio/room-picture.ts';
import { roomWork } from '../../src/lib/studio/room-work.ts';

type Graphics = NonNullable<ConstructorParameters<typeof RoomPicture>[0]>['graphics'];
/** The tests' browser has no graphics processor and plays one. */
const PATHS: readonly Graphics[] = ['any', 'none'];

/** What is put on which surface: names of swatches by surface. */
type Putting = Record<string, string>;

const PHOTO = 'kitchen-day';
/** Corners of the counter's front part in the sample picture, and a size one would measure there. */
const COUNTER: NonNullable<SurfaceMask['plane']> = {
  corners: [
    [300, 560],
    [1100, 560],
    [1250, 640],
    [200, 640],
  ],
  width: 2400,
  height: 620,
};

async function pictured(url: string): Promise<Image8> {
  const blob = await (await fetch(url)).blob();
  return pixelsOf(await createImageBitmap(blob, { colorSpaceConversion: 'none' }));
}

function pixelsOf(
  source: ImageBitmap | HTMLCanvasElement,
  size: { width: number; height: number } = source,
): Image8 {
  const context = new OffscreenCanvas(size.width, size.height).getContext('2d', { willReadFrequently: true });
  if (!context) throw new Error('expected a canvas');
  context.drawImage(source, 0, 0, size.width, size.height);
  const { width, height, data } = context.getImageData(0, 0, size.width, size.height);
  return { width, height, channels: 4, data, space: 'srgb' };
}

async function maskOf(name: string): Promise<Mask> {
  const { width, height, data } = await pictured(`/room-bench/masks/${name}.png`);
  return { width, height, data: Uint8Array.from({ length: width * height }, (_, i) => data[4 * i]) };
}

let job: Job;
let scene: RoomScene;
const masks = new Map<string, Mask>();

/** Marks surfaces of the sample job's kitchen by their true masks. */
export async function mark(sample: Job, names: readonly string[]): Promise<readonly string[]> {
  job = structuredClone(sample);
  const photo = job.photos[PHOTO];
  photo.masks = {};
  for (const id of names) {
    const mask = await maskOf(id);
    masks.set(id, mask);
    const plane = id === 'counter' ? COUNTER : null;
    photo.masks[id] = { id, fileId: photo.fileId, mask: encodeMask(mask), plane };
  }
  scene = roomScene(job, photo);
  return scene.notes;
}

const surfaceOf = (id: string) => scene.surfaces.find((surface) => surface.id === id)!;

function sourceOf(id: string, name: string) {
  const swatch = Object.values(job.swatches).find((entry) => entry.name === name);
  const source = swatch && finishSource(job, { swatch, surface: surfaceOf(id) });
  if (!source) throw new Error(`expected a swatch with a colour called ${name}`);
  return source;
}

/** A view of the kitchen with finishes on. `sheen` is what the surfaces are taken to have had before. */
async function dressed(putting: Putting, graphics: Graphics): Promise<RoomPicture> {
  const view = new RoomPicture({ graphics });
  view.setPicture(await roomWork().picture(scene.source));
  for (const [id, name] of Object.entries(putting)) {
    const surface = { ...surfaceOf(id), oldSheen: 'eggshell' as const };
    const source = sourceOf(id, name);
    view.setSurface(id, await roomWork().layers(scene.source, surface, source.texture));
    view.setFinish(id, await roomWork().applied(scene.source, surface, source));
  }
  return view;
}

export interface Difference {
  /** CIEDE2000 over the pixels that a finish covers, or over all. */
  mean: number;
  p99: number;
  most: number;
  /** Part of the pixels that are further apart than 0.5, and the most by which a device value differs. */
  over: number;
  step: number;
  /** Mean of second less first in device values, per channel. */
  bias: number[];
  /** Pixels outside the masks that are not the same in both, by any bit. */
  strays: number;
  pixels: number;
  paths: string[];
  patterned: boolean;
}

function difference(
  one: Image8,
  other: Image8,
  inside: (i: number) => boolean,
): Omit<Difference, 'paths' | 'patterned'> {
  const [a, b] = [one, other].map((image) => linearToLab(linearise(image).data));
  const all = deltaE2000Many(a, b);
  const errors: number[] = [];
  const sums = [0, 0, 0];
  let [strays, step] = [0, 0];
  for (let i = 0; i < all.length; i++)
    if (inside(i)) {
      errors.push(all[i]);
      for (let c = 0; c < 3; c++) {
        const less = other.data[4 * i + c] - one.data[4 * i + c];
        sums[c] += less;
        step = Math.max(step, Math.abs(less));
      }
    } else if ([0, 1, 2].some((c) => one.data[4 * i + c] !== other.data[4 * i + c])) strays++;
  errors.sort((p, q) => p - q);
  return {
    mean: errors.reduce((sum, v) => sum + v, 0) / errors.length,
    p99: errors[Math.floor(0.99 * errors.length)],
    most: errors[errors.length - 1],
    over: errors.filter((error) => error > 0.5).length / errors.length,
    step,
    bias: sums.map((sum) => sum / errors.length),
    strays,
    pixels: errors.length,
  };
}

/** The same room by both paths at working size. */
export async function agreement(
  putting: Putting,
  lightId: string | null,
  apart = false,
): Promise<Difference> {
  const light = lightId === null ? null : viewing(job.lights[lightId]);
  const parts = apart && lightId ? lightParts(job, { lightId }) : null;
  const table = parts
    ? await roomWork().apart(sharesAcross(), parts)
    : light && (await roomWork().light({ spectrum: light.spectrum, illuminance: light.illuminance }));
  const pictures: Image8[] = [];
  const paths: string[] = [];
  let patterned = false;
  for (const graphics of PATHS) {
    const view = await dressed(putting, graphics);
    view.setLight(table);
    paths.push(view.path);
    pictures.push(pixelsOf(await view.read()));
    const source = Object.entries(putting).map(([id, name]) => sourceOf(id, name));
    patterned ||= source.some(({ pattern }) => pattern !== null);
    view.dispose();
  }
  const covers = Object.keys(putting).map((id) => masks.get(id)!.data);
  const inside = (i: number) => covers.some((data) => data[i] > 0);
  return { ...difference(pictures[0], pictures[1], inside), paths, patterned };
}

/** A window at the left and lamps at the right, whatever the picture shows. */
function sharesAcross(): LightShares {
  const [width, height, cell] = [400, 267, 4];
  return {
    picture: { width: scene.width, height: scene.height },
    told: 'apart',
    ...{ width, height, cell },
    share: Uint8Array.from({ length: width * height }, (_, at) => 255 - Math.floor((at % width) / 1.6)),
    window: [0.8, 1, 1.4],
    lamps: [1.5, 1, 0.6],
    mean: 0.5,
    around: {
      ...{ width, height, cell },
      data: Uint8Array.from({ length: 4 * width * height }, (_, i) => (i % 4 === 2 ? 120 : 200 + (i % 7))),
    },
    seen: 0,
  };
}

/**
 * Two surfaces that overlap, of any light, mirror and coverage there can be, painted by both paths: how many device values
 * differ at all, and by how much at most.
 */
export async function scattered(): Promise<{ differing: number; most: number; changed: number }> {
  // Mulberry32: any generator with a seed will do.
  let state = 20;
  const random = () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const [width, height] = [320, 240];
  const data = Uint8ClampedArray.from({ length: 4 * width * height }, (_, i) =>
    i % 4 === 3 ? 255 : 256 * random(),
  );
  const picture: Image8 = { width, height, channels: 4, data, space: 'srgb' };
  const layersOn = (box: SurfaceLayers['box'], old: number): SurfaceLayers => {
    const n = box.width * box.height;
    const light = Uint16Array.from({ length: 4 * n }, (_, i) =>
      toHalf(i % 4 === 3 ? 0.4 * random() - 0.03 : 2 * random() ** 3),
    );
    return {
      box,
      picture: { width, height, space: 'srgb' },
      light,
      glow: Uint16Array.from({ length: n }, () => toHalf(0.2 * random() - 0.03)),
      coverage: Uint8Array.from({ length: n }, () => Math.max(0, Math.min(255, 600 * random() - 170))),
      rest: Uint8Array.from({ length: 3 * n }, () => 120 * random()),
      old: [old, 0.9 * old, 0.8 * old],
      face: 0.03,
      oldSheen: 'eggshell',
      meanLight: [0.6, 0.5, 0.4],
      share: 0.45,
      notes: [],
    };
  };
  const layers = {
    one: layersOn({ x: 0, y: 0, width: 220, height: 240 }, 0.06),
    other: layersOn({ x: 130, y: 17, width: 190, height: 201 }, 0.1),
  };
  const painted: Image8[] = [];
  for (const graphics of PATHS) {
    const view = new RoomPicture({ graphics });
    view.setPicture(picture);
    for (const [id, surface] of Object.entries(layers)) view.setSurface(id, surface);
    view.setFinish('one', { colour: { L: 92, a: -4, b: 12 }, sheen: 'gloss' });
    view.setFinish('other', { colour: { L: 70, a: 20, b: 30 }, sheen: 'matt' });
    painted.push(pixelsOf(await view.read()));
    view.dispose();
  }
  let [differing, most, changed] = [0, 0, 0];
  for (let i = 0; i < data.length; i++) {
    const apart = Math.abs(painted[0].data[i] - painted[1].data[i]);
    if (apart > 0) differing++;
    most = Math.max(most, apart);
    if (painted[1].data[i] !== data[i]) changed++;
  }
  return { differing: differing / data.length, most, changed: changed / data.length };
}

function onPage(width: number, height: number): HTMLCanvasElement {
  const canvas = document.createElement('canvas');
  Object.assign(canvas, { width, height });
  document.body.append(canvas);
  return canvas;
}

/** Pixels of a canvas that shows a view by one of the paths, beside the whole pictures before and after. */
async function viewed(graphics: Graphics, transform: ViewTransform, options: DrawOptions) {
  const view = await dressed({ cabinets: 'Deep Lock' }, graphics);
  const canvas = onPage(500, 400);
  const done = await view.draw(canvas, transform, options);
  const shown = pixelsOf(canvas);
  const before = pixelsOf(await view.read({ before: true }));
  const after = pixelsOf(await view.read());
  view.dispose();
  canvas.remove();
  return { done, shown, before, after };
}

/**
 * A wipe at half the canvas, `scale` times enlarged: how many canvas pixels are not those of the picture pixel under them,
 * and how many outside the picture are not transparent.
 */
export async function enlarged(
  graphics: Graphics,
  scale: number,
): Promise<{ wrong: number; opaque: number; inside: number }> {
  // A part of a pixel off, so that no canvas pixel's middle lies on a border.
  const [x, y] = [-scale * 700 + 30.13, -scale * 780 + 0.13];
  const { shown, before, after } = await viewed(graphics, { scale, x, y }, { split: 0.5 });
  let [wrong, opaque, inside] = [0, 0, 0];
  for (let row = 0; row < shown.height; row++)
    for (let column = 0; column < shown.width; column++) {
      const i = 4 * (row * shown.width + column);
      const px = Math.floor((column + 0.5 - x) / scale);
      const py = Math.floor((row + 0.5 - y) / scale);
      if (px < 0 || py < 0 || px >= before.width || py >= before.height) {
        if (shown.data[i + 3] !== 0) opaque++;
        continue;
      }
      inside++;
      const side = column + 0.5 < shown.width / 2 ? before : after;
      const p = 4 * (py * side.width + px);
      if ([0, 1, 2].some((c) => shown.data[i + c] !== side.data[p + c])) wrong++;
    }
  return { wrong, opaque, inside };
}

/** A view at a scale by both paths; made smaller, each also against the mean of what its pixels cover. */
export async function resampled(scale: number): Promise<{ between: number; toMean: number[] }> {
  const shown: Image8[] = [];
  const toMean: number[] = [];
  for (const graphics of PATHS) {
    const picture = await viewed(graphics, { scale, x: 0, y: 0 }, {});
    const width = Math.min(picture.shown.width, Math.floor(scale * picture.after.width));
    const height = Math.min(picture.shown.height, Math.floor(scale * picture.after.height));
    const own = cropped(picture.shown, width, height);
    shown.push(own);
    if (scale < 1)
      toMean.push(difference(own, meanOf(picture.after, { scale, width, height }), () => true).mean);
  }
  return { between: difference(shown[0], shown[1], () => true).mean, toMean };
}

function cropped({ width: stride, data: from }: Image8, width: number, height: number): Image8 {
  const data = new Uint8ClampedArray(4 * width * height);
  for (let y = 0; y < height; y++)
    data.set(from.subarray(4 * y * stride, 4 * (y * stride + width)), 4 * y * width);
  return { width, height, channels: 4, data, space: 'srgb' };
}

/** Mean of the device values whose middles lie under each pixel. */
function meanOf(
  { width: stride, data: from }: Image8,
  to: { scale: number; width: number; height: number },
): Image8 {
  const { scale, width, height } = to;
  const data = new Uint8ClampedArray(4 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++)
      for (let c = 0; c < 4; c++) {
        let [sum, count] = [0, 0];
        for (let v = Math.round(y / scale); v < Math.round((y + 1) / scale); v++)
          for (let u = Math.round(x / scale); u < Math.round((x + 1) / scale); u++) {
            sum += from[4 * (v * stride + u) + c];
            count++;
          }
        data[4 * (y * width + x) + c] = sum / count;
      }
  return { width, height, channels: 4, data, space: 'srgb' };
}

/** Every WebGL2 context made from here on. */
export function watchContexts(): void {
  const original = OffscreenCanvas.prototype.getContext;
  const made: WebGL2RenderingContext[] = [];
  OffscreenCanvas.prototype.getContext = function (this: OffscreenCanvas, kind: string, ...rest: unknown[]) {
    const context = (original as (...all: unknown[]) => RenderingContext | null).call(this, kind, ...rest);
    if (kind === 'webgl2' && context) made.push(context as WebGL2RenderingContext);
    return context;
  } as typeof original;
  Object.assign(globalThis, { madeContexts: made });
}

/** What a canvas shows while the graphics processor is lost, and after it came back, against what it showed before. */
export async function loss(): Promise<{ paths: string[]; lost: number; back: number; changed: number }> {
  const made = (globalThis as unknown as { madeContexts: WebGL2RenderingContext[] }).madeContexts;
  const view = await dressed({ cabinets: 'Deep Lock' }, 'any');
  const context = made[made.length - 1];
  const lose = context.getExtension('WEBGL_lose_context');
  if (!lose) throw new Error('expected a context that can be lost');
  const canvas = onPage(800, 534);
  const transform = { scale: 0.5, x: 0, y: 0 };
  await view.draw(canvas, transform);
  const first = pixelsOf(canvas);
  const paths = [view.path];
  lose.loseContext();
  await until(() => view.path === 'worker');
  paths.push(view.path);
  await view.draw(canvas, transform, { split: 0.4 });
  await view.draw(canvas, transform);
  const meanwhile = pixelsOf(canvas);
  await view.draw(canvas, transform, { before: true });
  const bare = pixelsOf(canvas);
  lose.restoreContext();
  await until(() => view.path === 'graphics');
  paths.push(view.path);
  await view.draw(canvas, transform);
  const last = pixelsOf(canvas);
  view.dispose();
  canvas.remove();
  return {
    paths,
    lost: difference(first, meanwhile, () => true).mean,
    back: difference(first, last, () => true).mean,
    changed: difference(first, bare, () => true).mean,
  };
}

async function until(holds: () => boolean): Promise<void> {
  for (let k = 0; k < 200 && !holds(); k++) await new Promise((resolve) => setTimeout(resolve, 25));
}

/** Many calls for one canvas: how many were shown, and whether the last one is what the canvas shows. */
export async function hurried(): Promise<{ shown: boolean[]; last: number }> {
  const view = await dressed({ cabinets: 'Deep Lock' }, 'none');
  const canvas = onPage(400, 267);
  const transform = { scale: 0.25, x: 0, y: 0 };
  const candidates: AppliedFinish[] = [80, 65, 50, 35, 20].map((L) => ({ colour: { L, a: 0, b: 0 } }));
  const shown = await Promise.all(
    candidates.map((finish) => view.draw(canvas, transform, { finishes: { cabinets: finish } })),
  );
  const seen = pixelsOf(canvas);
  view.setFinish('cabinets', candidates[candidates.length - 1]);
  await view.draw(canvas, transform);
  const last = difference(seen, pixelsOf(canvas), () => true).most;
  view.dispose();
  canvas.remove();
  return { shown, last };
}

/**
 * Steps through candidates, surfaces, wipes and lights on one canvas: how many values of it are not those of a view that
 * starts with each step, and how many each step changes.
 */
export async function walked(): Promise<{ stale: number[]; changed: number[] }> {
  const putting = { cabinets: 'Deep Lock', walls: 'Fog Sluice' };
  const shares = sharesAcross();
  const apart = lightParts(job, { lightId: 'dusk' });
  const lights = [
    null,
    { ...(await roomWork().apart(shares, apart!)), shares },
    await roomWork().light(viewing(job.lights.evening)!),
  ];
  const grey = (L: number): AppliedFinish => ({ colour: { L, a: 3, b: 12 }, sheen: 'gloss' });
  // Cabinets, walls, which light, where the wipe stands.
  const steps: [AppliedFinish | null, AppliedFinish | null, number, number?][] = [
    [grey(80), grey(50), 0],
    [grey(20), grey(50), 0],
    [grey(20), null, 0],
    [grey(60), grey(90), 0, 0.4],
    [grey(30), grey(90), 0, 0.4],
    [grey(30), grey(90), 1],
    [grey(75), grey(90), 1],
    [null, grey(40), 2],
    [null, grey(85), 2],
  ];
  const [one, canvas] = [await dressed(putting, 'any'), onPage(700, 467)];
  const [stale, changed]: number[][] = [[], []];
  let last = pixelsOf(canvas);
  for (const [cabinets, walls, light, split = 0] of steps) {
    const shown = async (view: RoomPicture, on: HTMLCanvasElement) => {
      view.setFinish('cabinets', cabinets);
      view.setFinish('walls', walls);
      view.setLight(lights[light]);
      await view.draw(on, { scale: 0.4375, x: 0, y: 0 }, { split });
      return pixelsOf(on);
    };
    const [fresh, other] = [await dressed(putting, 'any'), onPage(700, 467)];
    const [walk, start] = [await shown(one, canvas), await shown(fresh, other)];
    stale.push(otherValues(walk, start));
    changed.push(otherValues(walk, last));
    last = walk;
    fresh.dispose();
    other.remove();
  }
  one.dispose();
  canvas.remove();
  return { stale, changed };
}

function otherValues({ data }: Image8, { data: from }: Image8): number {
  let count = 0;
  for (let i = 0; i < data.length; i++) if (data[i] !== from[i]) count++;
  return count;
}

/** What is refused, in words. */
export async function refusals(): Promise<string[]> {
  const view = await dressed({ cabinets: 'Deep Lock' }, 'any');
  const said: string[] = [];
  const attempt = async (act: () => unknown) => {
    try {
      await act();
      said.push('');
    } catch (error) {
      said.push((error as Error).message);
    }
  };
  const small = scaledMask(masks.get('cabinets')!, 320, 213);
  const missing = { ...scene.source, fileId: 'no-such-file' };
  await attempt(() => view.setFinish('ceiling', { colour: { L: 50, a: 0, b: 0 } }));
  await attempt(() =>
    roomWork().layers(scene.source, { ...surfaceOf('cabinets'), mask: encodeMask(small) }, 'none'),
  );
  await attempt(() => roomWork().picture(missing));
  view.dispose();
  return said;
}

export interface Timing {
  width: number;
  height: number;
  surfaces: number;
  path: string;
  renderer: string;
  /** Milliseconds from the candidate to pixels that can be read, median and largest of those measured. */
  candidate: { median: number; most: number };
  /** The same for a move of the view with nothing to paint. */
  moved: { median: number; most: number };
  /** Calls that sent pictures to the graphics processor while candidates came and went. */
  uploads: number;
  /** From picture and surfaces to the first drawing. */
  setup: number;
}

/** The kitchen enlarged to the full working size; made once. */
async function fullPicture(): Promise<Image8> {
  const corrected = await roomWork().picture(scene.source);
  const [width, height] = [2048, Math.round((2048 * corrected.height) / corrected.width)];
  const data = corrected.data as Uint8ClampedArray<ArrayBuffer>;
  return pixelsOf(await createImageBitmap(new ImageData(data, corrected.width)), { width, height });
}
let full: ReturnType<typeof fullPicture> | null = null;
const fullLayers = new Map<string, SurfaceLayers>();

/** With those of its surfaces taken apart, each made once. */
async function fullSize(ids: readonly string[] = [...masks.keys()]) {
  const picture = await (full ??= fullPicture());
  const { width, height } = picture;
  const layers = ids.map((id) => {
    const known = fullLayers.get(id) ?? surfaceLayers(picture, scaledMask(masks.get(id)!, width, height));
    fullLayers.set(id, known);
    return [id, known] as const;
  });
  return { picture, layers };
}

/** Candidates one after another at the full working size, on a canvas of a desk's screen. */
export async function timing(graphics: Graphics, count: number): Promise<Timing> {
  const { picture, layers } = await fullSize();
  const { width, height } = picture;
  const view = new RoomPicture({ graphics });
  const canvas = onPage(1440, 900);
  const scale = 1440 / width;
  // What is drawn is done when its pixels are there.
  const drawn = async (x: number, split: number) => {
    await view.draw(canvas, { scale, x, y: x }, { split });
    pixelsOf(await createImageBitmap(canvas, 0, 0, 1, 1));
  };
  const timed = async (act: () => Promise<void>) => {
    const from = performance.now();
    await act();
    return performance.now() - from;
  };
  const setup = await timed(async () => {
    view.setPicture(picture);
    for (const [id, surface] of layers) view.setSurface(id, surface);
    layers.forEach(([id], k) => view.setFinish(id, { colour: { L: 40 + 15 * k, a: 2, b: 8 } }));
    await drawn(0, 0.5);
    // Where on the canvas its surfaces lie is sent once for each view.
    await drawn(0, 0);
  });
  const uploads = countUploads();
  const candidate: number[] = [];
  for (let k = 0; k < count; k++) {
    view.setFinish('cabinets', { colour: { L: 20 + (60 * k) / count, a: -5 + k, b: 10 - k } });
    candidate.push(await timed(() => drawn(0, 0)));
  }
  const sent = uploads.count();
  uploads.stop();
  const moved: number[] = [];
  for (let k = 1; k <= count; k++) moved.push(await timed(() => drawn(k, k / (count + 1))));
  const { path } = view;
  view.dispose();
  canvas.remove();
  return {
    width,
    height,
    surfaces: layers.length,
    path,
    renderer: rendererName(),
    candidate: spread(candidate),
    moved: spread(moved),
    uploads: sent,
    setup,
  };
}

export interface Moving {
  path: string;
  /** Milliseconds from one candidate on the canvas to the next, which is asked for as soon as one is there. */
  frame: { median: number; most: number };
  /** Canvas 2D's `drawImage` of the picture to the same canvas, in the same run. */
  drawImage: number;
  /** From the last candidate to the picture that stays, and that to what comes of the whole one, CIEDE2000. */
  rest: number;
  kept: Difference['mean'];
  /** The last frame that passed against that whole picture, CIEDE2000. */
  apart: Difference['mean'];
  p99: number;
  /** What the last candidate changed beside the first. */
  changed: number;
  /** Frames that came before any whole picture of their candidate. */
  frames: number;
  size: { width: number; height: number };
}

/** Candidates of the first surface moved through at the full working size, as fast as they are shown. */
export async function moving(given: {
  graphics: Graphics;
  ids: readonly string[];
  canvas: { width: number; height: number };
  /** Of the picture on the canvas; null: the whole of it. */
  scale: number | null;
  lightId: string | null;
  count: number;
}): Promise<Moving> {
  const { graphics, ids, lightId, count } = given;
  const { picture, layers } = await fullSize(ids);
  const light = lightId === null ? null : viewing(job.lights[lightId]);
  const view = new RoomPicture({ graphics });
  view.setPicture(picture);
  for (const [id, surface] of layers) view.setSurface(id, surface);
  layers.forEach(([id], k) => view.setFinish(id, { colour: { L: 40 + 8 * k, a: 2, b: 8 } }));
  view.setLight(
    light && (await roomWork().light({ spectrum: light.spectrum, illuminance: light.illuminance })),
  );
  const canvas = onPage(given.canvas.width, given.canvas.height);
  const fitted = Math.min(canvas.width / picture.width, canvas.height / picture.height);
  const scale = given.scale ?? fitted;
  const transform = {
    scale,
    x: (canvas.width - scale * picture.width) / 2,
    y: (canvas.height - scale * picture.height) / 2,
  };
  const put = watchPuts();
  const asked = (k: number): { shown: Promise<void>; whole: Promise<boolean> } => {
    view.setFinish(ids[0], { colour: { L: 25 + ((37 * k) % 60), a: -5 + (k % 11), b: 10 - (k % 17) } });
    const shown = put.next();
    return { shown, whole: view.draw(canvas, transform) };
  };
  await asked(0).whole;
  const first = pixelsOf(canvas);
  // Until frames come before whole pictures, or as by the graphics processor with them.
  for (let k = 1; k < 60; k++) {
    const before = put.count();
    await asked(k).whole;
    if (put.count() > before + 1 || view.path === 'graphics') break;
    await new Promise((resolve) => setTimeout(resolve, 300));
  }
  const frame: number[] = [];
  let [whole, from] = [Promise.resolve(true), performance.now()];
  const counted = put.count();
  for (let k = 0; k < count; k++) {
    const next = asked(100 + k);
    ({ whole } = next);
    await next.shown;
    const now = performance.now();
    frame.push(now - from);
    from = now;
  }
  const frames = put.count() - counted;
  const last = pixelsOf(canvas);
  await whole;
  const rest = performance.now() - from;
  const stays = pixelsOf(canvas);
  (await view.read()).close();
  // A canvas that shows nothing yet is drawn on from the whole picture.
  const other = onPage(canvas.width, canvas.height);
  await view.draw(other, transform);
  const still = pixelsOf(other);
  other.remove();
  const { mean: apart, p99 } = difference(last, still, () => true);
  const { mean: kept } = difference(stays, still, () => true);
  const changed = difference(first, still, () => true).mean;
  put.stop();
  const { path } = view;
  view.dispose();
  canvas.remove();
  const drawImage = await drawingTime(picture, given.canvas);
  const size = { width: picture.width, height: picture.height };
  return { path, frame: spread(frame), drawImage, rest, kept, apart, p99, changed, frames, size };
}

/** Whatever is put on canvases of the page. */
function watchPuts(): { next: () => Promise<void>; count: () => number; stop: () => void } {
  const { prototype } = ImageBitmapRenderingContext;
  const original = prototype.transferFromImageBitmap;
  let count = 0;
  let waiting: (() => void)[] = [];
  prototype.transferFromImageBitmap = function (this: ImageBitmapRenderingContext, bitmap) {
    original.call(this, bitmap);
    count++;
    for (const resolve of waiting.splice(0)) resolve();
  };
  return {
    next: () => new Promise((resolve) => waiting.push(resolve)),
    count: () => count,
    stop: () => (prototype.transferFromImageBitmap = original),
  };
}

/** Median milliseconds in which canvas 2D draws the picture to a canvas and hands it over. */
async function drawingTime(picture: Image8, { width, height }: { width: number; height: number }) {
  const data = picture.data as Uint8ClampedArray<ArrayBuffer>;
  const bitmap = await createImageBitmap(new ImageData(data, picture.width));
  const times = Array.from({ length: 12 }, () => {
    const from = performance.now();
    const canvas = new OffscreenCanvas(width, height);
    const context = canvas.getContext('2d', { willReadFrequently: true });
    if (!context) throw new Error('expected a canvas');
    context.imageSmoothingQuality = 'high';
    context.drawImage(bitmap, 0, 0, width, height);
    context.getImageData(0, 0, 1, 1);
    canvas.transferToImageBitmap().close();
    return performance.now() - from;
  });
  bitmap.close();
  return spread(times).median;
}

function spread(values: number[]): { median: number; most: number } {
  const sorted = [...values].sort((a, b) => a - b);
  return { median: sorted[sorted.length >> 1], most: sorted[sorted.length - 1] };
}

function countUploads(): { count: () => number; stop: () => void } {
  const names = ['texImage2D', 'texSubImage2D', 'texImage3D', 'texSubImage3D', 'bufferData'] as const;
  const prototype = WebGL2RenderingContext.prototype as unknown as Record<
    string,
    (...all: unknown[]) => unknown
  >;
  const originals = names.map((name) => prototype[name]);
  let calls = 0;
  names.forEach((name, k) => {
    prototype[name] = function (this: unknown, ...all: unknown[]) {
      calls++;
      return originals[k].apply(this, all);
    };
  });
  return { count: () => calls, stop: () => names.forEach((name, k) => (prototype[name] = originals[k])) };
}

/** Work for the graphics processor: what is drawn, and how many pixels of its own textures and of those that are shown. */
export interface Work {
  draws: number;
  pixels: number;
}

/** Counts that from here on: rectangles as far as the scissors leave them, and what is copied to the canvas. */
function countWork(): { take: () => Work; stop: () => void } {
  const prototype = WebGL2RenderingContext.prototype;
  const { drawArrays, drawArraysInstanced, blitFramebuffer } = prototype;
  let work: Work = { draws: 0, pixels: 0 };
  const add = (gl: WebGL2RenderingContext, [x, y, width, height]: Int16Array | Float32Array) => {
    const [left, top, wide, tall] = (
      gl.isEnabled(gl.SCISSOR_TEST) ? gl.getParameter(gl.SCISSOR_BOX) : gl.getParameter(gl.VIEWPORT)
    ) as Int32Array;
    const across = Math.min(x + width, left + wide) - Math.max(x, left);
    const down = Math.min(y + height, top + tall) - Math.max(y, top);
    work.pixels += Math.max(0, across) * Math.max(0, down);
  };
  prototype.drawArrays = function (mode, first, count) {
    work.draws++;
    add(this, this.getVertexAttrib(0, this.CURRENT_VERTEX_ATTRIB) as Float32Array);
    drawArrays.call(this, mode, first, count);
  };
  prototype.drawArraysInstanced = function (mode, first, count, instances) {
    work.draws++;
    const stride = (this.getVertexAttrib(0, this.VERTEX_ATTRIB_ARRAY_STRIDE) as number) / 2;
    const rects = new Int16Array(stride * instances);
    this.getBufferSubData(
      this.ARRAY_BUFFER,
      this.getVertexAttribOffset(0, this.VERTEX_ATTRIB_ARRAY_POINTER),
      rects,
    );
    for (let k = 0; k < instances; k++) add(this, rects.subarray(k * stride, k * stride + 4));
    drawArraysInstanced.call(this, mode, first, count, instances);
  };
  prototype.blitFramebuffer = function (...all) {
    work.pixels += all[2] * all[3];
    blitFramebuffer.apply(this, all);
  };
  return {
    take: () => {
      const taken = work;
      work = { draws: 0, pixels: 0 };
      return taken;
    },
    stop: () => Object.assign(prototype, { drawArrays, drawArraysInstanced, blitFramebuffer }),
  };
}

/** What a candidate for the cabinets costs WebGL2 on a canvas of a desk's screen, at a scale of the picture. */
export async function graphicsWork(given: {
  ids: readonly string[];
  scale: number;
  split: number;
}): Promise<Work & { ms: number; covered: number }> {
  const { picture, layers } = await fullSize(given.ids);
  const covered = layers.reduce(
    (sum, [, { coverage }]) => sum + coverage.reduce((own, value) => own + (value > 0 ? 1 : 0), 0),
    0,
  );
  const counted = countWork();
  const view = new RoomPicture({ graphics: 'any' });
  view.setPicture(picture);
  for (const [id, surface] of layers) view.setSurface(id, surface);
  layers.forEach(([id], k) => view.setFinish(id, { colour: { L: 40 + 8 * k, a: 2, b: 8 } }));
  const canvas = onPage(1440, 900);
  const { scale, split } = given;
  const transform = { scale, x: (1440 - scale * picture.width) / 2, y: (900 - scale * picture.height) / 2 };
  const all: (Work & { ms: number })[] = [];
  for (let k = 0; k < 6; k++) {
    view.setFinish(given.ids[0], { colour: { L: 20 + 8 * k, a: -5, b: 10 } });
    counted.take();
    const from = performance.now();
    await view.draw(canvas, transform, { split });
    pixelsOf(await createImageBitmap(canvas, 0, 0, 1, 1));
    all.push({ ms: performance.now() - from, ...counted.take() });
  }
  counted.stop();
  view.dispose();
  canvas.remove();
  // The first ones fill what is kept; of the others the quickest, which others on the machine held up least.
  const last = all.slice(3);
  return { ...last[last.length - 1], ms: Math.min(...last.map(({ ms }) => ms)), covered };
}

function rendererName(): string {
  const gl = new OffscreenCanvas(1, 1).getContext('webgl2');
  const named = gl?.getExtension('WEBGL_debug_renderer_info');
  return gl && named ? String(gl.getParameter(named.UNMASKED_RENDERER_WEBGL)) : 'none';
}

/** Who paints where nothing is said: the worker, unless a graphics processor stands behind WebGL2. */
export async function chosen(): Promise<{ path: string; renderer: string }> {
  const view = await dressed({}, 'fast');
  const { path } = view;
  view.dispose();
  return { path, renderer: rendererName() };
}

/** A grey picture wider than any texture: who paints it, and what comes out. */
export async function widePicture(): Promise<{ paths: string[]; size: number[]; value: number[] }> {
  const [width, height] = [40_000, 100];
  const view = new RoomPicture({ graphics: 'any' });
  const paths = [view.path];
  view.setPicture({
    width,
    height,
    channels: 4,
    data: new Uint8ClampedArray(4 * width * height).fill(119),
    space: 'srgb',
  });
  paths.push(view.path);
  const bitmap = await view.read({ width: 4000 });
  const size = [bitmap.width, bitmap.height];
  const value = [...pixelsOf(bitmap).data.slice(0, 4)];
  // The next picture fits again.
  view.setPicture(await roomWork().picture(scene.source));
  paths.push(view.path);
  view.dispose();
  return { paths, size, value };
}
