/** Hand work on masks, against librsvg 2.63 (through sharp), a general-purpose renderer of SVG. */
import { drawnByHand, maskArea, type HandStroke, type Mask, type Point } from '#lib/photo/index.ts';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { random } from './board-scene.ts';

const [WIDTH, HEIGHT] = [160, 120];

function evenMask(cover: number, width = WIDTH, height = HEIGHT): Mask {
  return { width, height, data: new Uint8Array(width * height).fill(cover) };
}

const line = (mode: HandStroke['mode'], radius: number, ...points: Point[]): HandStroke => ({
  mode,
  by: 'hand',
  points,
  radius,
});
const outline = (mode: HandStroke['mode'], ...points: Point[]): HandStroke => ({
  mode,
  by: 'outline',
  points,
});

const drawn = (...strokes: HandStroke[]) => drawnByHand(evenMask(0), strokes);

/** librsvg's cover of each pixel, 0-255: rendered eight times as large, since its own edges have 15 steps a pixel. */
async function rendered(stroke: HandStroke): Promise<Float64Array> {
  const FINE = 8;
  const points = stroke.points.map((point) => point.join(',')).join(' ');
  const shape =
    stroke.by === 'outline'
      ? `<polygon points="${points}" fill-rule="nonzero"/>`
      : `<polyline points="${points} ${stroke.points.at(-1)?.join(',')}" fill="none" stroke="#000" stroke-width="${
          2 * stroke.radius
        }" stroke-linecap="round" stroke-linejoin="round"/>`;
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${FINE * WIDTH}" height="${
    FINE * HEIGHT
  }" viewBox="0 0 ${WIDTH} ${HEIGHT}">${shape}</svg>`;
  const data = await sharp(Buffer.from(svg)).ensureAlpha().extractChannel(3).raw().toBuffer();
  const cover = new Float64Array(WIDTH * HEIGHT);
  data.forEach((value, p) => {
    const [x, y] = [p % (FINE * WIDTH), Math.floor(p / (FINE * WIDTH))];
    cover[Math.floor(y / FINE) * WIDTH + Math.floor(x / FINE)] += value / FINE ** 2;
  });
  return cover;
}

/** Mean over the pixels of the border, and the greatest, of what two covers differ by. */
function apart(mask: Mask, cover: Float64Array): { mean: number; most: number } {
  let [sum, count, most] = [0, 0, 0];
  cover.forEach((value, p) => {
    const off = Math.abs(mask.data[p] - value);
    most = Math.max(most, off);
    if ((value === 0 || value === 255) && off === 0) return;
    sum += off;
    count++;
  });
  return { mean: count > 0 ? sum / count : 0, most };
}

describe('cover agrees with librsvg', () => {
  // Half a step of our own at most, 255 / 32, and a little for arcs, which it draws as short lines.
  const [MEAN, MOST] = [2, 12];

  test('along brush lines, their ends, bends and crossings, some of them outside the picture', async () => {
    const next = random(7);
    for (let round = 0; round < 12; round++) {
      const points = Array.from({ length: 1 + Math.floor(next() * 7) }, (): Point => [
        next() * 220 - 30,
        next() * 180 - 30,
      ]);
      const stroke = line('add', 0.75 + next() * 20, ...points);
      const { mean, most } = apart(drawn(stroke), await rendered(stroke));
      expect(mean).toBeLessThan(MEAN);
      expect(most).toBeLessThan(MOST);
    }
  });

  test('inside outlines, those that cross themselves as well', async () => {
    const next = random(8);
    for (let round = 0; round < 12; round++) {
      const points = Array.from({ length: 3 + Math.floor(next() * 7) }, (): Point => [
        next() * 220 - 30,
        next() * 180 - 30,
      ]);
      const stroke = outline('add', ...points);
      const { mean, most } = apart(drawn(stroke), await rendered(stroke));
      expect(mean).toBeLessThan(MEAN);
      expect(most).toBeLessThan(MOST);
    }
  });
});

describe('areas', () => {
  test('of a dab, a line and a slanted box are those of geometry', () => {
    expect(maskArea(drawn(line('add', 20, [80.3, 60.7])))).toBeCloseTo(Math.PI * 400, 0);
    // Two half discs and the rectangle between them.
    const [dx, dy] = [70, 40];
    const long = Math.hypot(dx, dy);
    expect(maskArea(drawn(line('add', 9, [40, 40], [40 + dx, 40 + dy])))).toBeCloseTo(
      Math.PI * 81 + 18 * long,
      0,
    );
    const box: Point[] = [
      [20.5, 60],
      [80, 10.25],
      [139.5, 60],
      [80, 109.75],
    ];
    expect(maskArea(drawn(outline('add', ...box)))).toBeCloseTo((119 * 99.5) / 2, 0);
  });

  test('on pixel borders a box is whole pixels and nothing beside them', () => {
    const { data } = drawn(outline('add', [10, 20], [50, 20], [50, 40], [10, 40]));
    const inside = (x: number, y: number) => x >= 10 && x < 50 && y >= 20 && y < 40;
    expect(data).toEqual(data.map((_, p) => (inside(p % WIDTH, Math.floor(p / WIDTH)) ? 255 : 0)));
  });

  test('a border through pixels covers them by their share', () => {
    const { data } = drawn(outline('add', [10.25, 20.5], [50, 20.5], [50, 40], [10.25, 40]));
    expect(data[30 * WIDTH + 10]).toBe(Math.round(0.75 * 255));
    expect(data[20 * WIDTH + 30]).toBe(Math.round(0.5 * 255));
    expect(data[20 * WIDTH + 10]).toBe(Math.round(0.375 * 255));
  });

  test('an outline that goes round a place twice has no hole there, whichever way it runs', () => {
    const star = Array.from({ length: 5 }, (_, i): Point => {
      const angle = (i * 4 * Math.PI) / 5;
      return [80 + 50 * Math.sin(angle), 60 - 50 * Math.cos(angle)];
    });
    expect(drawn(outline('add', ...star)).data[60 * WIDTH + 80]).toBe(255);
    expect(drawn(outline('add', ...star)).data).toEqual(drawn(outline('add', ...star.toReversed())).data);
  });
});

describe('adding and taking away', () => {
  const disc = line('add', 25, [80, 60]);

  test('twice is as once, and what is taken away again leaves no rest', () => {
    expect(drawn(disc, disc).data).toEqual(drawn(disc).data);
    expect(drawnByHand(evenMask(255), [disc]).data).toEqual(evenMask(255).data);
    const away = { ...disc, mode: 'remove' } as const;
    const hole = drawnByHand(evenMask(255), [away]);
    expect(maskArea(hole)).toBeCloseTo(WIDTH * HEIGHT - Math.PI * 625, 0);
    expect(hole.data).toEqual(drawn(disc).data.map((value) => 255 - value));
    expect(maskArea(drawn(disc, line('remove', 27, [80, 60])))).toBe(0);
  });

  test('later strokes have the last word', () => {
    const { data } = drawn(disc, line('remove', 10, [80, 60]), line('add', 4, [80, 60]));
    expect(data[60 * WIDTH + 80]).toBe(255);
    expect(data[60 * WIDTH + 87]).toBe(0);
    expect(data[60 * WIDTH + 97]).toBe(255);
  });

  test('nothing but the stroke changes, and the mask given stays as it is', () => {
    const next = random(9);
    const mask = { ...evenMask(0), data: Uint8Array.from(evenMask(0).data, () => Math.floor(next() * 256)) };
    const before = mask.data.slice();
    const added = drawnByHand(mask, [disc]).data;
    const taken = drawnByHand(mask, [{ ...disc, mode: 'remove' }]).data;
    expect(mask.data).toEqual(before);
    const cover = drawn(disc).data;
    expect(added).toEqual(cover.map((value, p) => Math.max(before[p], value)));
    expect(taken).toEqual(cover.map((value, p) => Math.min(before[p], 255 - value)));
  });
});

describe('odd strokes', () => {
  const nothing = evenMask(0).data;

  test('outlines without an inside hold nothing', () => {
    expect(drawn(outline('add', [10, 10])).data).toEqual(nothing);
    expect(drawn(outline('add', [10, 10], [90, 70])).data).toEqual(nothing);
    expect(drawn(outline('add', [10, 10], [50, 50], [90, 90], [30, 30])).data).toEqual(nothing);
    expect(drawn(outline('add', [10, 10], [90, 10], [40, 10])).data).toEqual(nothing);
    expect(drawn(outline('add', [5, 5], [5, 5], [5, 5])).data).toEqual(nothing);
  });

  test('outside the picture there is nothing to cover', () => {
    expect(drawn(line('add', 10, [-50, 20], [-11, 300])).data).toEqual(nothing);
    expect(drawn(outline('add', [-90, -90], [-1, -90], [-1, 900])).data).toEqual(nothing);
    expect(drawnByHand(evenMask(255), [line('remove', 10, [900, 900])]).data).toEqual(evenMask(255).data);
  });

  test('a line and an outline of huge size cover the picture they go round', () => {
    for (const far of [1e6, 1e12, 1e300]) {
      const around = outline('add', [-far, -far], [far, -far], [far, far], [-far, far]);
      expect(drawn(around).data).toEqual(evenMask(255).data);
      expect(drawn(line('add', far, [80, 60])).data).toEqual(evenMask(255).data);
    }
    // Half of it: everything under the diagonal through the picture's own corner.
    for (const far of [1e3, 1e6, 1e9]) {
      const half = drawn(outline('add', [-far, -far], [far, far], [-far, far])).data;
      expect(half[100 * WIDTH + 10]).toBe(255);
      expect(half[10 * WIDTH + 100]).toBe(0);
      expect(half[50 * WIDTH + 50]).toBeGreaterThan(120);
      expect(half[50 * WIDTH + 50]).toBeLessThan(136);
    }
    const across = drawn(line('add', 5, [-1e9, 60], [1e9, 60]));
    expect(maskArea(across)).toBeCloseTo(10 * WIDTH, 3);
  });

  test('no stroke of any numbers gives more than the picture or a value that is none', () => {
    const next = random(10);
    const size = () => 10 ** (next() * 320 - 12) * (next() < 0.5 ? -1 : 1);
    const small = evenMask(0, 24, 18);
    for (let round = 0; round < 400; round++) {
      const points = Array.from({ length: 1 + Math.floor(next() * 6) }, (): Point => [
        next() < 0.5 ? next() * 24 : Math.max(-1e308, Math.min(1e308, size())),
        next() < 0.5 ? next() * 18 : Math.max(-1e308, Math.min(1e308, size())),
      ]);
      const stroke =
        next() < 0.5
          ? outline('add', ...points)
          : line('add', Math.min(1e300, Math.abs(size())) || 1, ...points);
      const added = drawnByHand(small, [stroke]);
      const taken = drawnByHand(evenMask(255, 24, 18), [{ ...stroke, mode: 'remove' }]);
      expect(added.data).toHaveLength(24 * 18);
      expect(taken.data).toEqual(added.data.map((value) => 255 - value));
    }
  });

  test('numbers that are none, no points, no brush and another mode are refused', () => {
    const mask = evenMask(0);
    const draw = (stroke: unknown) => () => drawnByHand(mask, [disc(), stroke as HandStroke]);
    const disc = () => line('add', 4, [9, 9]);
    expect(draw(line('add', 4, [NaN, 9]))).toThrow(RangeError);
    expect(draw(outline('add', [1, 1], [9, Infinity], [4, 4]))).toThrow(RangeError);
    expect(draw(outline('add'))).toThrow(/Expected stroke 2 to have at least one point/);
    expect(draw(line('add', 0, [9, 9]))).toThrow(RangeError);
    expect(draw(line('add', NaN, [9, 9]))).toThrow(RangeError);
    expect(draw({ ...disc(), mode: 'paint' })).toThrow(TypeError);
    expect(draw({ ...disc(), by: 'picture' })).toThrow(TypeError);
    expect(() => drawnByHand({ ...mask, width: 7 }, [disc()])).toThrow(RangeError);
    expect(mask.data).toEqual(evenMask(0).data);
  });
});
