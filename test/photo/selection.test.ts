import { beforeAll, describe, expect, test } from 'vitest';
import {
  lessened,
  maskArea,
  prepareSelection,
  select,
  type Mask,
  type Selector,
  type Stroke,
} from '#lib/photo/index.ts';
import { picture } from './picture.ts';

const [W, H] = [320, 240];

const add = (...points: [number, number][]): Stroke => ({ mode: 'add', points, radius: 5 });
const remove = (...points: [number, number][]): Stroke => ({ mode: 'remove', points, radius: 5 });
const alone = { elsewhere: false };

/** A front in shade on its right half, with a dark handle; wall above; a second front of the same paint to the right. */
const inFront = (x: number, y: number) => x > 40 && x < 180 && y > 80 && y < 200;
const inSecond = (x: number, y: number) => x > 230 && x < 300 && y > 80 && y < 200;
const onHandle = (x: number, y: number) => x > 100 && x < 104 && y > 110 && y < 170;
const room = picture(W, H, (x, y) => {
  if (onHandle(x, y)) return [15, 0, 0];
  const shade = 1 - 0.35 * Math.min(1, Math.max(0, (x - 90) / 60));
  if (inFront(x, y)) return [62 * shade, 14 * shade, 26 * shade];
  if (inSecond(x, y)) return [60, 13.5, 25];
  return y > 200 ? [35, 2, 4] : [85, 1, 3];
});

function overlap(mask: Mask, covers: (x: number, y: number) => boolean): number {
  let [both, either] = [0, 0];
  for (let y = 0, p = 0; y < H; y++)
    for (let x = 0; x < W; x++, p++) {
      const truth = covers(x + 0.5, y + 0.5) ? 255 : 0;
      both += Math.min(truth, mask.data[p]);
      either += Math.max(truth, mask.data[p]);
    }
  return both / either;
}

let selector: Selector;
beforeAll(() => {
  selector = prepareSelection(room);
});

describe('a surface by strokes', () => {
  test('one stroke takes the front, in light and shade, without the handle and the second front', () => {
    const { mask, notes } = select(selector, [add([60, 100], [160, 185])], alone);
    expect(overlap(mask, (x, y) => inFront(x, y) && !onHandle(x, y))).toBeGreaterThan(0.95);
    expect(mask.data[140 * W + 102]).toBeLessThan(64);
    expect(notes).toEqual([]);
  });

  test('a tap does as well on an even surface', () => {
    const { mask } = select(selector, [add([20, 40])], alone);
    expect(mask.data[30 * W + 250]).toBe(255);
    expect(mask.data[140 * W + 60]).toBe(0);
    expect(mask.data[220 * W + 160]).toBe(0);
  });

  test('a tap on a piece of a dark strip takes it, although all around it the strip looks the same', () => {
    const strips = picture(W, H, (x, y) =>
      y > 150 && y < 170 ? [6 + 3 * Math.sin(x / 9), 0, 0] : [80, 1, 3],
    );
    const { mask } = select(prepareSelection(strips), [add([160, 160])], alone);
    expect(mask.data[160 * W + 160]).toBe(255);
    expect(mask.data[130 * W + 160]).toBe(0);
  });

  test('elsewhere takes the second front of the same paint, and only that', () => {
    const { mask } = select(selector, [add([60, 100], [160, 185])], { elsewhere: true });
    expect(overlap(mask, (x, y) => (inFront(x, y) || inSecond(x, y)) && !onHandle(x, y))).toBeGreaterThan(
      0.94,
    );
  });

  test('a removing stroke takes out the part it lies in, whole where no adding stroke holds it', () => {
    const front = add([60, 100], [160, 185]);
    const away = select(selector, [front, remove([265, 100], [265, 180])], { elsewhere: true }).mask;
    expect(overlap(away, (x, y) => inFront(x, y) && !onHandle(x, y))).toBeGreaterThan(0.95);
  });

  test('an adding and a removing stroke on one even surface share it between them', () => {
    const { mask } = select(selector, [add([20, 20], [20, 70]), remove([300, 20], [300, 70])], alone);
    expect(mask.data[40 * W + 40]).toBe(255);
    expect(mask.data[40 * W + 290]).toBe(0);
  });

  test('saved marks lose what fresh ones would: a part of an even surface, a whole front', () => {
    const wall = [add([20, 20], [20, 70]), add([60, 20], [200, 20])];
    const saved = select(selector, wall, alone).mask;
    expect(saved.data[40 * W + 290]).toBe(255);
    const part = lessened(selector, saved, [remove([300, 20], [300, 70])]);
    expect(part.data[40 * W + 40]).toBe(255);
    expect(part.data[40 * W + 290]).toBe(0);
    const both = [add([60, 100], [160, 185]), add([265, 100], [265, 180])];
    const wiped = remove([265, 100], [265, 180]);
    const fronts = select(selector, both, alone).mask;
    const fresh = select(selector, [...both, wiped], alone).mask;
    const rest = lessened(selector, fronts, [wiped]);
    expect(overlap(rest, (x, y) => fresh.data[Math.floor(y) * W + Math.floor(x)] > 127)).toBeGreaterThan(
      0.97,
    );
    expect(overlap(rest, (x, y) => inFront(x, y) && !onHandle(x, y))).toBeGreaterThan(0.95);
    expect(lessened(selector, fronts, both)).toBe(fronts);
  });

  test('what another surface covers is left out, except where a stroke says otherwise', () => {
    const data = new Uint8Array(W * H);
    for (let y = 80; y < 200; y++) data.fill(255, y * W + 230, y * W + 300);
    const others = [{ width: W, height: H, data }];
    const options = { elsewhere: true, others };
    const { mask } = select(selector, [add([60, 100], [160, 185])], options);
    expect(overlap(mask, (x, y) => inFront(x, y) && !onHandle(x, y))).toBeGreaterThan(0.95);
    const claimed = select(selector, [add([60, 100], [160, 185]), add([265, 100], [265, 180])], options);
    expect(claimed.mask.data[140 * W + 265]).toBe(255);
  });

  test('a removing stroke takes what it lies in and not the wall beyond the next edge', () => {
    const all = [add([60, 100], [160, 185]), add([240, 100], [290, 185])];
    const { mask } = select(selector, [...all, remove([240, 120], [250, 130])], alone);
    expect(mask.data[125 * W + 245]).toBe(0);
    const before = select(selector, all, alone).mask;
    for (let y = 0; y < H; y++)
      for (let x = 0; x < 200; x++)
        expect(Math.abs(mask.data[y * W + x] - before.data[y * W + x])).toBeLessThan(2);
  });

  test('a slip of the hand into a marked neighbour takes nothing of it', () => {
    const data = new Uint8Array(W * H);
    for (let y = 81; y < 200; y++) data.fill(255, y * W + 41, y * W + 180);
    const others = [{ width: W, height: H, data }];
    // Along the wall, and thirty pixels of it down into the front.
    const { mask } = select(selector, [add([10, 40], [120, 40], [120, 110], [125, 40], [310, 40])], {
      elsewhere: false,
      others,
    });
    let bitten = 0;
    for (let y = 83; y < 198; y++) for (let x = 43; x < 178; x++) bitten += mask.data[y * W + x] > 0 ? 1 : 0;
    expect(bitten).toBe(0);
    expect(mask.data[30 * W + 250]).toBe(255);
  });

  test('the same strokes give the same mask, whatever was asked before', () => {
    const strokes = [add([60, 100], [160, 185]), remove([265, 100], [265, 180])];
    const first = select(selector, strokes, { elsewhere: true }).mask.data;
    select(selector, [add([20, 40])], alone);
    expect(select(selector, strokes, { elsewhere: true }).mask.data).toEqual(first);
    expect(select(prepareSelection(room), strokes, { elsewhere: true }).mask.data).toEqual(first);
  });

  test('edges are soft by a pixel or two, no more', () => {
    const { data } = select(selector, [add([60, 100], [160, 185])], alone).mask;
    for (const y of [95, 130, 180]) {
      const partly = data.subarray(y * W + 30, y * W + 50).filter((v) => v > 0 && v < 255).length;
      expect(partly).toBeLessThanOrEqual(3);
    }
  });
});

describe('difficult input', () => {
  test.each([
    ['black', 0],
    ['white', 100],
  ])('a picture that is all %s is selected as a whole, with a note', (_, L) => {
    const flat = prepareSelection(picture(W, H, () => [L, 0, 0], { noise: 0 }));
    const { mask, notes } = select(flat, [add([50, 50])], alone);
    expect(maskArea(mask)).toBe(W * H);
    expect(notes.join(' ')).toContain('no edge');
  });

  test('a portrait panorama, a strip and a single pixel are pictures like any other', () => {
    for (const [width, height] of [
      [120, 900],
      [500, 3],
      [1, 1],
    ]) {
      const tall = picture(width, height, (_, y) => (y < height / 2 ? [80, 0, 0] : [30, 10, 10]));
      const { mask } = select(prepareSelection(tall), [add([0.5, 0.5])], alone);
      expect(mask.data.length).toBe(width * height);
      expect(mask.data[0]).toBeGreaterThan(200);
      if (height > 100) expect(mask.data[width * (height - 2)]).toBe(0);
    }
  });

  test('no stroke, and only removing ones, select nothing and say so', () => {
    for (const strokes of [[], [remove([50, 50])]]) {
      const { mask, notes } = select(selector, strokes, alone);
      expect(maskArea(mask)).toBe(0);
      expect(notes.join(' ')).toContain('Nothing is selected');
    }
  });

  test('a stroke outside the picture is refused in words; one that leaves it is cut, with a note', () => {
    expect(() => select(selector, [add([60, 100]), add([-50, 400], [-80, 420])], alone)).toThrow(
      'stroke 2 to touch the picture of 320x240',
    );
    const { notes } = select(selector, [add([60, 100], [60, 400])], alone);
    expect(notes.join(' ')).toContain('outside the picture');
  });

  test('what is no stroke or no mask of this picture is refused', () => {
    expect(() => select(selector, [{ ...add([1, 1]), radius: 0 }], alone)).toThrow('radius above 0, got 0');
    expect(() => select(selector, [add([NaN, 1])], alone)).toThrow('finite numbers in stroke 1');
    expect(() => select(selector, [add()], alone)).toThrow('at least one point');
    expect(() => select(selector, [{ ...add([1, 1]), mode: 'erase' as never }], alone)).toThrow(TypeError);
    const small = { width: 10, height: 10, data: new Uint8Array(100) };
    expect(() => select(selector, [add([1, 1])], { elsewhere: false, others: [small] })).toThrow(
      "picture's 320x240, got one of 10x10",
    );
  });
});
