import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import {
  REFERENCE_ILLUMINANCE,
  decodeRgb,
  deltaE2000,
  deltaE2000Many,
  illuminant,
  roomView,
  type Lab,
} from '#lib/colour/index.ts';
import {
  correctImage,
  correctionFromReferences,
  lightApart,
  lightShares,
  linearise,
  relight,
  relightApart,
  relightTable,
  type Image8,
  type LightShares,
  type Mask,
} from '#lib/photo/index.ts';
import { linearToLab } from '../../src/lib/photo/image.ts';
import { labToLinear } from './board-scene.ts';
import { picture } from './picture.ts';

const DAYLIGHT = [0.75, 1, 1.4];
const LAMP = [1.5, 1, 0.6];
const CREAM: Lab = { L: 80, a: 2, b: 16 };
const BLUE: Lab = { L: 55, a: -6, b: -20 };

/** Two surfaces, white above and painted below, under a window on the left and a lamp on the right. */
function twoLights(paint: Lab, width = 320, height = 200) {
  const body = labToLinear([paint.L, paint.a, paint.b]);
  // Nine tenths of the light at the first place is the window's, two tenths at the other: see AT_WINDOW and AT_LAMPS.
  const share = (x: number) => 0.95 - (0.8 * x) / width;
  const image = picture(
    width,
    height,
    (x, y) => {
      const on = y < height / 2 ? [0.6, 0.6, 0.6] : body;
      const at = (c: number) => 0.6 * on[c] * (share(x) * DAYLIGHT[c] + (1 - share(x)) * LAMP[c]);
      return [at(0), at(1), at(2), 'linear'];
    },
    { noise: 0.8 },
  );
  const half = (upper: boolean): Mask => {
    const data = new Uint8Array(width * height);
    data.fill(255, upper ? 0 : (width * height) / 2, upper ? (width * height) / 2 : width * height);
    return { width, height, data };
  };
  const surfaces = [
    { mask: half(true), old: null },
    { mask: half(false), old: null },
  ];
  return { image, surfaces, share };
}

const PLACES = { window: [[20, 40]], lamps: [[300, 40]] } as const;

describe('the light of a window told from that of lamps', () => {
  test.each([
    ['cream', CREAM],
    ['blue', BLUE],
  ])('on white and on %s of unknown colour', (_, paint) => {
    const { image, surfaces, share } = twoLights(paint);
    const { shares } = lightShares(image, surfaces, PLACES);
    if (!shares) throw new Error('Expected shares');
    for (const y of [30, 60, 140, 170])
      for (let x = 30; x < 300; x += 30) {
        const cell = Math.floor(y / shares.cell) * shares.width + Math.floor(x / shares.cell);
        expect(Math.abs(shares.share[cell] / 255 - share(x))).toBeLessThan(0.07);
      }
  });

  test('a surface whose colour is known needs no neighbour', () => {
    const { image, surfaces, share } = twoLights(CREAM);
    const known = [{ ...surfaces[1], old: CREAM }];
    const { shares } = lightShares(image, known, PLACES);
    if (!shares) throw new Error('Expected shares');
    const at = (x: number) =>
      shares.share[Math.floor(150 / shares.cell) * shares.width + Math.floor(x / shares.cell)];
    for (let x = 30; x < 300; x += 30) expect(Math.abs(at(x) / 255 - share(x))).toBeLessThan(0.07);
  });

  test.each([
    ['no surface is marked', [] as never[], PLACES, /Mark surfaces/],
    ['nothing was pointed at for the lamps', null, { ...PLACES, lamps: [] }, /only lamps light/],
    ['both places have the same light', null, { window: [[20, 40]], lamps: [[24, 60]] }, /nearly the same/],
  ] as const)('says why it cannot where %s', (_, surfaces, places, words) => {
    const scene = twoLights(CREAM);
    const { shares, note } = lightShares(scene.image, surfaces ?? scene.surfaces, places);
    expect(shares).toBeNull();
    expect(note).toMatch(words);
  });

  test.each([0, 255])('a picture that is all %i has no light to tell apart', (value) => {
    const { image, surfaces } = twoLights(CREAM);
    const flat = { ...image, data: new Uint8Array(image.data.length).fill(value) };
    expect(lightShares(flat, surfaces, PLACES).shares).toBeNull();
  });

  test('masks of another picture are refused in words', () => {
    const { image, surfaces } = twoLights(CREAM);
    const small = twoLights(CREAM, 100, 80);
    expect(() => lightShares(small.image, surfaces, PLACES)).toThrow(/Expected masks of 100x80/);
    expect(() => lightShares(image, small.surfaces, PLACES)).toThrow(RangeError);
  });
});

describe('window and lamps each in another light', () => {
  const day = relightTable(
    'srgb',
    'srgb',
    roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
  );
  const even = (share: number, width: number, height: number): LightShares => ({
    picture: { width, height },
    told: 'apart',
    width,
    height,
    cell: 1,
    share: new Uint8Array(width * height).fill(Math.round(255 * share)),
    window: [1, 1, 1],
    lamps: [1, 1, 1],
    mean: 0.5,
    around: { width: 1, height: 1, cell: width, data: Uint8Array.of(255, 255, 255, 0) },
    seen: 0,
  });
  const inWhite = (shares: LightShares, part: number) =>
    lightApart(shares, { window: day, lamps: day, whole: day, part });
  const paints: Image8 = {
    width: 5,
    height: 1,
    channels: 3,
    data: Uint8Array.of(200, 180, 150, 120, 140, 110, 90, 100, 125, 160, 110, 90, 60, 60, 62),
    space: 'srgb',
  };

  test('white light in place of white light leaves the picture as it was, below the bend', () => {
    const light = inWhite(even(0.5, 5, 1), 0.5);
    const out = relightApart(paints, light);
    paints.data.forEach((value, i) => expect(Math.abs(out.data[i] - value)).toBeLessThanOrEqual(1));
  });

  test('the tint of the light goes: white under either light comes out neutral', () => {
    const { image, surfaces } = twoLights(CREAM);
    const { shares } = lightShares(image, surfaces, PLACES);
    if (!shares) throw new Error('Expected shares');
    const out = relightApart(image, inWhite(shares, shares.mean));
    const spread = ({ data, width }: Image8, x: number) => {
      const i = 3 * (60 * width + x);
      return Math.max(data[i], data[i + 1], data[i + 2]) - Math.min(data[i], data[i + 1], data[i + 2]);
    };
    for (const x of [40, 160, 280]) expect(spread(out, x)).toBeLessThan(12);
    expect(spread(image, 280)).toBeGreaterThan(30);
  });

  test('with the lamps off a place that they alone light is black, one by the window as bright as it was or brighter', () => {
    const off = (share: number) => relightApart(paints, inWhite(even(share, 5, 1), 1));
    expect(Array.from(off(0).data).every((v) => v === 0)).toBe(true);
    off(1).data.forEach((v, i) => expect(v).toBeGreaterThanOrEqual(paints.data[i] - 1));
  });

  test('another picture, another space and parts out of range are refused', () => {
    const light = inWhite(even(0.5, 5, 1), 0.5);
    expect(() => relightApart({ ...paints, width: 1, height: 5 }, light)).toThrow(
      /Expected shares of a picture of 1x5/,
    );
    expect(() => relightApart({ ...paints, space: 'display-p3' }, light)).toThrow(RangeError);
    expect(() => inWhite(even(0.5, 5, 1), 1.2)).toThrow(/Expected a part/);
  });
});

/** Grey level of a pixel, 0-255. */
function level({ data, width, channels }: Image8, x: number, y: number): number {
  const i = (y * width + x) * channels;
  return (data[i] + data[i + 1] + data[i + 2]) / 3;
}

describe('what shines by itself in the picture', () => {
  const white = relightTable(
    'srgb',
    'srgb',
    roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
  );
  const alone = (image: Image8, shares: LightShares, part: number) =>
    relightApart(image, lightApart(shares, { window: white, lamps: white, whole: white, part }));
  const WIDTH = 320;
  const PANE = { left: 120, right: 200, top: 20, bottom: 80 } as const;
  const inPane = (x: number, y: number) =>
    x >= PANE.left && x < PANE.right && y >= PANE.top && y < PANE.bottom;

  /** `twoLights` with a hole in the upper mask that shows a burnt-out pane with a dark bar down its middle. */
  function withPane() {
    const { image, surfaces } = twoLights(CREAM);
    const data = image.data.slice();
    const upper = surfaces[0].mask.data.slice();
    for (let y = PANE.top - 6; y < PANE.bottom + 6; y++)
      for (let x = PANE.left - 6; x < PANE.right + 6; x++) {
        upper[y * WIDTH + x] = 0;
        const bar = x >= 158 && x < 162;
        if (inPane(x, y)) data.fill(bar ? 40 : 255, 3 * (y * WIDTH + x), 3 * (y * WIDTH + x) + 3);
      }
    const masked = [{ ...surfaces[0], mask: { ...surfaces[0].mask, data: upper } }, surfaces[1]];
    return { image: { ...image, data }, surfaces: masked };
  }

  test('a pane that was pointed at is dark by lamps alone but for what it mirrors, and white by the window; its bar is neither', () => {
    const { image, surfaces } = withPane();
    const window = [...PLACES.window, [130, 50], [190, 50]] as const;
    const { shares } = lightShares(image, surfaces, { ...PLACES, window });
    if (!shares) throw new Error('Expected shares');
    expect(shares.told).toBe('apart');
    expect(shares.seen).toBeCloseTo((76 * 60) / (WIDTH * 200), 2);
    const [night, day] = [0, 1].map((part) => alone(image, shares, part));
    for (const x of [130, 150, 170, 190]) {
      // Two faces mirror 8 %: the wall beside it may be seen in it, at most.
      expect(level(night, x, 50)).toBeLessThan(0.5 * level(night, x, 8));
      expect(level(night, x, 50)).toBeGreaterThan(0);
      expect(level(day, x, 50)).toBeGreaterThan(235);
    }
    expect(level(night, 160, 50)).toBeGreaterThan(5);
    expect(level(night, 60, 150)).toBeGreaterThan(20);
    // Nobody pointed at it: the lamps light it as they light what is around.
    const unseen = lightShares(image, surfaces, PLACES).shares;
    if (!unseen) throw new Error('Expected shares');
    expect(unseen.seen).toBe(0);
    expect(level(alone(image, unseen, 0), 130, 50)).toBeGreaterThan(40);
  });

  test('a photo of one light has its panes as bright as the window is, and the room as through one table', () => {
    const { image } = withPane();
    const { shares, note } = lightShares(image, [], { window: [[130, 50]], lamps: [] });
    if (!shares) throw new Error('Expected shares');
    expect(shares.told).toBe('panes');
    expect(note).toMatch(/Mark surfaces/);
    const [dark, dim, bright] = [0, 0.3, 1].map((part) => alone(image, shares, part));
    const plain = relight(image, white);
    for (const [x, y] of [
      [20, 40],
      [300, 150],
      [160, 50],
    ])
      for (const shown of [dark, dim, bright])
        expect(Math.abs(level(shown, x, y) - level(plain, x, y))).toBeLessThan(2);
    expect(level(dark, 140, 50)).toBeLessThan(0.5 * level(dark, 140, 8));
    expect(level(dim, 140, 50)).toBeGreaterThan(100);
    expect(level(bright, 140, 50)).toBeGreaterThan(level(dim, 140, 50) + 60);
  });

  test.each([
    ['burnt out all over', 255, 320, 200],
    ['black all over', 0, 320, 200],
    ['a few pixels large', 255, 3, 2],
  ])('a picture that is %s has no panes', (_, value, width, height) => {
    const data = new Uint8Array(3 * width * height).fill(value);
    const image: Image8 = { width, height, channels: 3, data, space: 'srgb' };
    const { shares, note } = lightShares(image, [], { window: [[1, 1]], lamps: [] });
    expect(shares).toBeNull();
    expect(note).toMatch(/Mark surfaces/);
  });

  test('a lamp that was pointed at goes out with the lamps, and is as bright as what is around', () => {
    const { image, surfaces } = withPane();
    const lamps = [...PLACES.lamps, [130, 50], [190, 50]] as const;
    const { shares } = lightShares(image, surfaces, { ...PLACES, lamps });
    if (!shares) throw new Error('Expected shares');
    const day = alone(image, shares, 1);
    expect(Math.abs(level(day, 145, 50) - level(day, 145, 8))).toBeLessThan(12);
    expect(level(alone(image, shares, 0), 145, 50)).toBeGreaterThan(level(day, 145, 50) + 60);
  });

  test('sun that burns a surface out leaves its colour to the lamps', () => {
    const { image, surfaces } = twoLights(CREAM);
    const data = image.data.slice();
    const sun = (x: number, y: number) => x >= 60 && x < 100 && y >= 130 && y < 170;
    for (let y = 130; y < 170; y++)
      for (let x = 60; x < 100; x++)
        data.fill(sun(x, y) ? 255 : 0, 3 * (y * WIDTH + x), 3 * (y * WIDTH + x) + 3);
    const { shares } = lightShares({ ...image, data }, surfaces, PLACES);
    if (!shares) throw new Error('Expected shares');
    const out = alone({ ...image, data }, shares, 0);
    const lab = (x: number, y: number) => {
      const at = 3 * (y * WIDTH + x);
      const pixel = { ...out, width: 1, height: 1, data: out.data.slice(at, at + 3) };
      const [L, a, b] = linearToLab(linearise(pixel).data);
      return { L, a, b };
    };
    // As between two places beside it; without the colour from around it would be grey, 9 off.
    const [left, right] = [lab(45, 150), lab(115, 150)];
    const wanted = { L: (left.L + right.L) / 2, a: (left.a + right.a) / 2, b: (left.b + right.b) / 2 };
    expect(wanted.b).toBeGreaterThan(8);
    expect(deltaE2000(lab(80, 150), wanted)).toBeLessThan(3);
  });
});

/**
 * The kitchen at dusk was rendered as 35 % of the day's light and all lamps, added in linear light; both parts were also
 * developed as pictures of their own. Undoing the development (truth.json) gives the true picture of either light alone.
 */
describe('the kitchen at dusk, against the kitchen by day and by lamp', async () => {
  const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));
  interface Development {
    ev: number;
    gains: number[];
    shoulder: number;
    falloff: number;
  }
  interface Place {
    x: number;
    y: number;
    r: number;
    linear: number[];
  }
  const truth = JSON.parse(readFileSync(at('test/fixtures/sample/truth.json'), 'utf8')) as {
    pictures: Record<string, { development: Development; surfaces: Record<string, { points: Place[] }> }>;
  };
  const photo = async (path: string): Promise<Image8> => {
    const { data, info } = await sharp(at(path)).removeAlpha().raw().toBuffer({ resolveWithObject: true });
    return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
  };
  const mask = async (name: string): Promise<Mask> => {
    const { data, info } = await sharp(at(`test/fixtures/sample/masks/${name}.png`))
      .toColourspace('b-w')
      .raw()
      .toBuffer({ resolveWithObject: true });
    return { width: info.width, height: info.height, data: new Uint8Array(data) };
  };

  /** Scene-linear light as rendered; NaN where the picture is burnt out. */
  function rendered(
    { width, height, data }: Image8,
    { ev, gains, shoulder, falloff }: Development,
  ): Float32Array {
    const undone = Array.from({ length: 256 }, (_, v) => {
      const y = decodeRgb(v / 255, 'srgb');
      const above = (y - shoulder) / (1 - shoulder);
      return y > shoulder ? shoulder - (1 - shoulder) * Math.log(Math.max(1e-4, 1 - above)) : y;
    });
    const corner = (width / 2) ** 2 + (height / 2) ** 2;
    return Float32Array.from(data, (v, i) => {
      const p = Math.floor(i / 3);
      const [x, y] = [(p % width) + 0.5 - width / 2, Math.floor(p / width) + 0.5 - height / 2];
      const fall = 1 - (falloff * (x * x + y * y)) / corner;
      return v >= 252 ? NaN : undone[v] / fall / (gains[i % 3] * 2 ** ev);
    });
  }

  const mixed = await photo('static/sample/kitchen-mixed.jpg');
  const names = ['cabinets', 'walls', 'ceiling', 'trim', 'counter', 'backsplash', 'floor', 'wood'];
  const surfaces = await Promise.all(names.map(async (name) => ({ mask: await mask(name), old: null })));
  const papers = truth.pictures['kitchen-mixed'].surfaces.paper.points;
  const { x, y, r } = papers[0];
  const correction = correctionFromReferences(mixed, [
    { kind: 'white-paper', region: { kind: 'point', x, y, radius: r } },
  ]);
  const corrected = correctImage(mixed, correction, { space: 'srgb' });
  const linear = linearise(corrected).data;

  /** The other picture as corrected from its own white paper. */
  const alone = async (name: 'kitchen-day' | 'kitchen-lamp'): Promise<Float32Array> => {
    const light = rendered(await photo(`static/sample/${name}.jpg`), truth.pictures[name].development);
    const paper = [0, 1, 2].map((c) => {
      const seen = papers
        .map((p) => light[3 * (p.y * mixed.width + p.x) + c] / p.linear[c])
        .filter(Number.isFinite);
      return seen.reduce((sum, v) => sum + v, 0) / seen.length;
    });
    return light.map((v, i) => v / paper[i % 3]);
  };

  /** Mean and 95th percentile of CIEDE2000 at the best exposure: how long the other picture was exposed is anybody's choice. */
  function compared(got: Float32Array, want: Float32Array): { mean: number; p95: number } {
    const pixels: number[] = [];
    for (let p = 0; p < want.length / 3; p += 23)
      if ([0, 1, 2].every((c) => Number.isFinite(want[3 * p + c]))) pixels.push(p);
    const labs = (from: Float32Array, gain: number) => {
      const out = new Float32Array(3 * pixels.length);
      pixels.forEach((p, k) => {
        for (let c = 0; c < 3; c++) out[3 * k + c] = Math.min(1.2, gain * from[3 * p + c]);
      });
      return linearToLab(out);
    };
    const middle = (from: Float32Array) =>
      pixels.map((p) => from[3 * p + 1]).sort((a, b) => a - b)[pixels.length >> 1];
    const exposure = 0.15 / middle(want);
    const truthLabs = labs(want, exposure);
    const tried = [0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.35, 1.5].map((factor) => {
      const errors = deltaE2000Many(truthLabs, labs(got, (factor * 0.15) / middle(got)));
      const sorted = Float32Array.from(errors).sort();
      return {
        mean: sorted.reduce((sum, v) => sum + v, 0) / sorted.length,
        p95: sorted[Math.floor(0.95 * sorted.length)],
      };
    });
    return tried.reduce((best, one) => (one.mean < best.mean ? one : best));
  }

  // A window's reveal and two of its panes; the ceiling over the lights on the cabinets and the tiles under them.
  const { shares } = lightShares(corrected, surfaces, {
    window: [
      [1227, 323],
      [1440, 200],
      [1300, 220],
    ],
    lamps: [
      [541, 86],
      [399, 444],
    ],
  });

  /** One part of the picture in white light, linear. */
  function part(of: LightShares, kind: 'window' | 'lamps'): Float32Array {
    return linear.map((v, i) => {
      const p = Math.floor(i / 3);
      const cell =
        Math.floor(Math.floor(p / mixed.width) / of.cell) * of.width +
        Math.floor((p % mixed.width) / of.cell);
      const share = of.share[cell] / 255;
      const tint = share * of.window[i % 3] + (1 - share) * of.lamps[i % 3];
      return ((kind === 'window' ? share : 1 - share) * v) / tint;
    });
  }

  test.each([
    ['lamps', 'kitchen-lamp'],
    ['window', 'kitchen-day'],
  ] as const)(
    'the %s alone are nearer to the truth by a third or more than the picture through one table',
    async (kind, name) => {
      if (!shares) throw new Error('Expected shares');
      const want = await alone(name);
      const one = compared(linear, want);
      const two = compared(part(shares, kind), want);
      expect(two.mean).toBeLessThan(0.67 * one.mean);
      expect(two.p95).toBeLessThan(0.67 * one.p95);
      expect(two.mean).toBeLessThan(7);
    },
  );
});
