import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { decodeRgb } from '#lib/colour/index.ts';
import { MOST_TEXELS, quilt, quiltedColours, type Texels } from '../../src/lib/photo/quilt.ts';
import { random } from './board-scene.ts';

// No published figures: what is asserted are properties, against the sample itself and against laying it edge to edge or
// mirrored.

/** A stone of grains, each one of four tones, as linear light. */
function speckle(width: number, height: number): Texels {
  const next = random(11);
  const points = Array.from({ length: Math.round((width * height) / 40) }, () => ({
    x: next() * width,
    y: next() * height,
    tone: [0.04, 0.2, 0.35, 0.5][Math.floor(4 * next())],
  }));
  const data = new Float32Array(3 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      let [tone, nearest] = [0, Infinity];
      for (const point of points) {
        const distance = (point.x - x) ** 2 + (point.y - y) ** 2;
        if (distance < nearest) [tone, nearest] = [point.tone, distance];
      }
      data.set([tone, 0.9 * tone, 0.8 * tone], 3 * (y * width + x));
    }
  return { width, height, data };
}

/** The part of the sample job's granite slab that is its swatch. */
async function granite(): Promise<Texels> {
  const path = fileURLToPath(new URL('../../static/sample/slab-busy.jpg', import.meta.url));
  const { width: all = 0, height: high = 0 } = await sharp(path).metadata();
  const [width, height] = [Math.round(0.28 * all), Math.round(0.4 * high)];
  const bytes = await sharp(path)
    .extract({ left: Math.round(0.5 * all), top: Math.round(0.3 * high), width, height })
    .removeAlpha()
    .raw()
    .toBuffer();
  const linear = Array.from({ length: 256 }, (_, v) => decodeRgb(v / 255, 'srgb'));
  return { width, height, data: Float32Array.from(bytes, (v) => linear[v]) };
}

interface Lightness {
  readonly width: number;
  readonly height: number;
  readonly data: Float64Array;
}

/** CIELAB lightness of the texels (CIE 15:2018, 8.2.1; every tone here is above the linear part's end or near it). */
function lightness({ width, height, data }: Texels): Lightness {
  const out = Float64Array.from({ length: width * height }, (_, i) => {
    const Y = 0.2126 * data[3 * i] + 0.7152 * data[3 * i + 1] + 0.0722 * data[3 * i + 2];
    return Y > (6 / 29) ** 3 ? 116 * Math.cbrt(Y) - 16 : (29 / 3) ** 3 * Y;
  });
  return { width, height, data: out };
}

function moments(data: Float64Array): { mean: number; sd: number } {
  const mean = data.reduce((sum, v) => sum + v, 0) / data.length;
  return { mean, sd: Math.sqrt(data.reduce((sum, v) => sum + (v - mean) ** 2, 0) / data.length) };
}

/** Correlation of the texels of a strip between two columns with those at `to`, where these are within the picture. */
function correlation(
  { width, height, data }: Lightness,
  [first, last]: readonly [number, number],
  to: (x: number, y: number) => readonly [number, number],
): number {
  const [one, other]: [number[], number[]] = [[], []];
  for (let y = 0; y < height; y += 2)
    for (let x = first; x < last; x++) {
      const [u, v] = to(x, y);
      if (u >= width || v >= height) continue;
      one.push(data[y * width + x]);
      other.push(data[v * width + u]);
    }
  const [p, q] = [moments(Float64Array.from(one)), moments(Float64Array.from(other))];
  const product = one.reduce((sum, value, i) => sum + (value - p.mean) * (other[i] - q.mean), 0);
  return product / one.length / (p.sd * q.sd);
}

/** Largest correlation with itself moved sideways or down by the size of the sample, some texels more or less. */
function repetition(image: Lightness, { width, height }: Texels): number {
  const found: number[] = [];
  for (let d = -3; d <= 3; d++) {
    found.push(correlation(image, [0, image.width], (x, y) => [x + width + d, y]));
    found.push(correlation(image, [0, image.width], (x, y) => [x, y + height + d]));
  }
  return Math.max(...found);
}

/** Largest correlation of a strip with its mirror image, over all upright axes. */
function symmetry(image: Lightness): number {
  const reach = 30;
  let most = 0;
  for (let axis = reach; axis <= image.width - reach; axis++)
    most = Math.max(
      most,
      correlation(image, [axis - reach, axis], (x, y) => [2 * axis - 1 - x, y]),
    );
  return most;
}

/** The sample laid beside itself, mirrored or not. */
function tiled({ width, height, data }: Texels, mirror: boolean): Texels {
  const out = { width: 2 * width, height: 2 * height, data: new Float32Array(12 * width * height) };
  const folded = (i: number, size: number) => (i < size ? i : mirror ? 2 * size - 1 - i : i - size);
  for (let y = 0, o = 0; y < out.height; y++)
    for (let x = 0; x < out.width; x++, o += 3) {
      const from = 3 * (folded(y, height) * width + folded(x, width));
      out.data.set(data.subarray(from, from + 3), o);
    }
  return out;
}

const even = (sample: Texels): Texels => ({ ...sample, data: sample.data.map(Math.sqrt) });

function made(sample: Texels, size: { width: number; height: number }, seed = 1) {
  const piece = quilt(even(sample), size, seed);
  if (!piece) throw new Error('Expected a quilt');
  const { width, height } = piece;
  return { piece, swatch: { width, height, data: quiltedColours(sample, piece) } };
}

const stones: Record<string, Texels> = { 'a synthetic speckle': speckle(150, 120) };
beforeAll(async () => {
  stones['the granite of the sample job'] = await granite();
});

describe.each(['a synthetic speckle', 'the granite of the sample job'])('%s, quilted', (name) => {
  let large: ReturnType<typeof made>;
  beforeAll(() => {
    large = made(stones[name], { width: 2.2 * stones[name].width, height: 2.2 * stones[name].height });
  });

  test('keeps its mean lightness and spread', () => {
    const was = moments(lightness(stones[name]).data);
    for (const seed of [1, 2, 3]) {
      const size = { width: 2.2 * stones[name].width, height: 2.2 * stones[name].height };
      const is = moments(lightness(made(stones[name], size, seed).swatch).data);
      expect(Math.abs(is.mean - was.mean)).toBeLessThan(0.5);
      expect(Math.abs(is.sd / was.sd - 1)).toBeLessThan(0.1);
    }
  });

  test('does not repeat at the size of the sample, as it does laid edge to edge', () => {
    expect(repetition(lightness(tiled(stones[name], false)), stones[name])).toBeGreaterThan(0.99);
    expect(repetition(lightness(large.swatch), stones[name])).toBeLessThan(0.2);
  });

  test('has no mirror axis that the sample has not', () => {
    const own = symmetry(lightness(stones[name]));
    expect(symmetry(lightness(tiled(stones[name], true)))).toBeGreaterThan(0.99);
    // Twice as wide: a few more axes to find chance likeness at.
    expect(symmetry(lightness(large.swatch))).toBeLessThan(own + 0.1);
  });

  test('steps far less where blocks meet than where the sample is laid edge to edge', () => {
    const { piece, swatch } = large;
    const { width, height, data } = lightness(swatch);
    let [met, sum] = [0, 0];
    // Also over the edge, beyond which the opposite one lies.
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const [i, right] = [y * width + x, y * width + ((x + 1) % width)];
        if (piece.from[right] === piece.from[i] + 1) continue;
        met++;
        sum += Math.abs(data[i] - data[right]);
      }
    expect(met).toBeGreaterThan(height);
    const edges = lightness(tiled(stones[name], false));
    let edge = 0;
    for (let y = 0; y < edges.height; y++) {
      const i = y * edges.width + stones[name].width;
      edge += Math.abs(edges.data[i] - edges.data[i - 1]) / edges.height;
    }
    expect(sum / met).toBeLessThan(0.6 * edge);
  });

  test('stands upright: texels beside each other are beside each other in the sample', () => {
    const { from, width, height } = large.piece;
    let beside = 0;
    for (let y = 0; y + 1 < height; y++)
      for (let x = 0; x + 1 < width; x++) {
        const i = y * width + x;
        if (from[i + 1] === from[i] + 1 && from[i + width] === from[i] + stones[name].width) beside++;
      }
    expect(beside / (width * height)).toBeGreaterThan(0.9);
  });
});

describe('a quilt', () => {
  const stone = speckle(60, 50);

  test('is the same for the same seed, another for another', () => {
    const size = { width: 150, height: 150 };
    expect(made(stone, size, 5).piece).toEqual(made(stone, size, 5).piece);
    expect(made(stone, size, 6).piece.from).not.toEqual(made(stone, size, 5).piece.from);
  });

  test('reaches as far as is wanted, and no farther than memory allows', () => {
    const { piece } = made(stone, { width: 200, height: 90 });
    expect(piece.width).toBeGreaterThanOrEqual(200);
    expect(piece.height).toBeGreaterThanOrEqual(90);
    expect(piece.from.every((texel) => texel >= 0 && texel < 60 * 50)).toBe(true);
    const next = random(3);
    const noise = { width: 400, height: 300, data: Float32Array.from({ length: 360_000 }, next) };
    const most = quilt(noise, { width: 1e9, height: 1e7 }, 1);
    expect(most?.from.length).toBeLessThanOrEqual(MOST_TEXELS);
    expect(most?.from.length).toBeGreaterThan(MOST_TEXELS / 2);
  });

  test('of one tone is that tone', () => {
    const plain = { width: 20, height: 20, data: new Float32Array(1200).fill(0.3) };
    const { swatch } = made(plain, { width: 90, height: 90 });
    expect(swatch.data.every((v) => Math.abs(v - 0.3) < 1e-6)).toBe(true);
  });

  test('soft shades that drift across the sample meet without an edge', () => {
    // Half a wave: left and right differ by all there is.
    const data = new Float32Array(3 * 120 * 100);
    for (let i = 0; i < 12_000; i++)
      data.fill(0.4 - 0.2 * Math.cos((Math.PI * (i % 120)) / 120), 3 * i, 3 * i + 3);
    const { swatch } = made({ width: 120, height: 100, data }, { width: 300, height: 200 });
    const { width, height, data: found } = lightness(swatch);
    let most = 0;
    for (let y = 0; y < height; y++)
      for (let x = 0; x + 1 < width; x++)
        most = Math.max(most, Math.abs(found[y * width + x] - found[y * width + x + 1]));
    const { data: own } = lightness({ width: 120, height: 100, data });
    // Laid edge to edge it would jump by this.
    const jump = Math.abs(own[119] - own[0]);
    expect(most).toBeLessThan(jump / 3);
  });

  test('is not made of a sample of a few texels, nor in no size', () => {
    const few = { width: 7, height: 30, data: new Float32Array(630) };
    expect(quilt(few, { width: 50, height: 50 }, 1)).toBeNull();
    expect(() => quilt(stone, { width: 0, height: 50 }, 1)).toThrow(/positive size/);
  });
});
