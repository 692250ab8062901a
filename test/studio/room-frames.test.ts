import { describe, expect, it } from 'vitest';
import { illuminant, roomView } from '#lib/colour/index.ts';
import {
  lightApart,
  paintOver,
  paintParameters,
  relight,
  relightApart,
  relightTable,
  type AppliedFinish,
  type Image8,
  type LightApart,
  type LightShares,
  type RelightTable,
  type SurfaceLayers,
} from '#lib/photo/index.ts';
import { toHalf } from '../../src/lib/photo/half-float.ts';
import { FramePainter } from '../../src/lib/studio/room-frames.ts';
import { stageOf, type StagePlace } from '../../src/lib/studio/room-stage.ts';
import { random } from '../photo/board-scene.ts';

// Frames against whole pictures painted by `paintOver`, which is the formula: the kernels share nothing but the planes.

const [WIDTH, HEIGHT] = [96, 70];
const next = random(11);

/** From -1 to 1 across a plane, slowly. */
function wave(at: number, width: number): number {
  return Math.sin((at % width) / 9 + Math.floor(at / width) / 14);
}

const picture: Image8 = {
  width: WIDTH,
  height: HEIGHT,
  channels: 4,
  data: Uint8ClampedArray.from({ length: 4 * WIDTH * HEIGHT }, (_, i) =>
    i % 4 === 3 ? 255 : 110 + 70 * wave(i >> 2, WIDTH) + 20 * next(),
  ),
  space: 'srgb',
};

/** Light over a box, a mirror that is nowhere the finish's own end; wholly covered but for a rim of 3 pixels, where it is anything. */
function surface(box: SurfaceLayers['box'], old: number): SurfaceLayers {
  const n = box.width * box.height;
  const rim = (o: number) => {
    const [x, y] = [o % box.width, Math.floor(o / box.width)];
    return Math.min(x, y, box.width - 1 - x, box.height - 1 - y) < 3;
  };
  return {
    box,
    picture: { width: WIDTH, height: HEIGHT, space: 'srgb' },
    light: Uint16Array.from({ length: 4 * n }, (_, i) =>
      toHalf(i % 4 === 3 ? 0.05 * next() - 0.02 : 0.7 + 0.6 * wave(i >> 2, box.width) + 0.02 * next()),
    ),
    glow: Uint16Array.from({ length: n }, () => toHalf(0.05 * next() - 0.02)),
    coverage: Uint8Array.from({ length: n }, (_, o) => (rim(o) ? 256 * next() : 255)),
    rest: Uint8Array.from({ length: 3 * n }, () => 120 * next()),
    old: [old, 0.9 * old, 0.8 * old],
    face: 0.03,
    oldSheen: 'eggshell',
    meanLight: [0.6, 0.5, 0.4],
    share: 0.45,
    notes: [],
  };
}

const one = surface({ x: 0, y: 4, width: 60, height: 66 }, 0.06);
const other = surface({ x: 48, y: 11, width: 48, height: 50 }, 0.1);
const pattern = {
  width: 48,
  height: 50,
  data: Uint8Array.from({ length: 3 * 48 * 50 }, (_, i) => 120 + 60 * wave(Math.floor(i / 3), 48)),
};
const candidates: [AppliedFinish, AppliedFinish][] = [
  [
    { colour: { L: 92, a: -4, b: 12 }, sheen: 'gloss' },
    { colour: { L: 70, a: 20, b: 30 }, sheen: 'matt' },
  ],
  [{ colour: { L: 20, a: 4, b: -12 }, sheen: 'matt' }, { colour: { L: 96, a: 0, b: 2 } }],
  [{ colour: { L: 97, a: 0, b: 0 } }, { colour: { L: 45, a: 0, b: 30 } }],
];
const laid: [AppliedFinish, AppliedFinish][] = candidates.map(([first]) => [first, { colour: pattern }]);

const table = (name: 'A' | 'FL11') =>
  relightTable('srgb', 'srgb', roomView({ spectrum: illuminant(name), illuminance: 300 }));

const shares: LightShares = {
  picture: { width: WIDTH, height: HEIGHT },
  told: 'apart',
  width: WIDTH / 4,
  height: HEIGHT / 2,
  cell: 4,
  share: Uint8Array.from({ length: (WIDTH * HEIGHT) / 8 }, (_, n) => 10 * (n % 24)),
  window: [0.8, 1, 1.4],
  lamps: [1.5, 1, 0.6],
  mean: 0.5,
  around: { width: 1, height: 1, cell: 96, data: Uint8Array.of(200, 200, 120, 200) },
  seen: 0,
};

type Light = RelightTable | LightApart | null;

function inLight(image: Image8, light: Light): Image8 {
  if (!light) return image;
  return 'shares' in light ? relightApart(image, light, picture) : relight(image, light);
}

/** Frames of a stage one after another by one painter, beside the picture that `paintOver` makes of the last. */
function frames(
  finishes: readonly (readonly [AppliedFinish, AppliedFinish])[],
  place: StagePlace,
  light: Light,
) {
  const dressed = ([first, second]: readonly [AppliedFinish, AppliedFinish]) => [
    { layers: one, finish: first },
    { layers: other, finish: second },
  ];
  const stage = stageOf(picture, dressed(finishes[0]), {
    place,
    light: light && 'shares' in light ? light : null,
  });
  const base = new Uint8ClampedArray(4 * place.width * place.height).fill(255);
  const painter = new FramePainter(stage, { base, light });
  for (const on of finishes) painter.paint(paintParameters(dressed(on)));
  const last = paintParameters(dressed(finishes[finishes.length - 1]));
  // Small surfaces take no turns: what is not in a light is as it stays already.
  expect(painter.paint(last)).toBe(light === null);
  const passing = base.slice();
  expect(painter.paint(last, { last: true })).toBe(true);
  const whole = inLight(paintOver(picture, dressed(finishes[finishes.length - 1])), light);
  return { shown: passing, stays: base, whole, stage };
}

const wholePlace: StagePlace = { scale: 1, x: 0, y: 0, width: WIDTH, height: HEIGHT, left: 0 };

/** Differences where a frame was painted: largest, mean, in which share of the values, mean with its sign by channel. */
function compared(shown: Uint8ClampedArray, whole: Image8, painted: readonly number[]) {
  let [most, differing, sum] = [0, 0, 0];
  const bias = [0, 0, 0];
  for (const at of painted)
    for (let c = 0; c < 3; c++) {
      const apart = shown[4 * at + c] - whole.data[4 * at + c];
      most = Math.max(most, Math.abs(apart));
      sum += Math.abs(apart);
      bias[c] += apart / painted.length;
      if (apart !== 0) differing++;
    }
  const count = 3 * painted.length;
  return { most, mean: sum / count, differing: differing / count, bias, count };
}

function paintedBy({ surfaces, edge }: ReturnType<typeof stageOf>): number[] {
  return [...surfaces.flatMap(({ at }) => [...at]), ...edge.at];
}

describe('frames at the picture’s own pixels', () => {
  it.each([
    ['colours', candidates],
    ['a pattern on one of them', laid],
  ])('are those of paintOver to a device value: %s', (_, finishes) => {
    const { shown, whole, stage } = frames(finishes, wholePlace, null);
    const painted = paintedBy(stage);
    const { most, differing, count } = compared(shown, whole, painted);
    expect(most).toBeLessThanOrEqual(1);
    // Single precision tips a dithered value over now and then.
    expect(differing).toBeLessThan(0.01);
    expect(count).toBeGreaterThan(3 * 5000);
    expect(new Set(painted).size).toBe(painted.length);
    // Nothing else is touched.
    const rest = new Set(painted);
    for (let at = 0; at < WIDTH * HEIGHT; at++) if (!rest.has(at)) expect(shown[4 * at]).toBe(255);
  });

  it('are relit like the whole picture, coarser and right in the mean', () => {
    const { shown, stays, whole, stage } = frames(candidates, wholePlace, table('A'));
    const { most, mean, bias } = compared(shown, whole, paintedBy(stage));
    // 128 levels a channel: two device values each way, and what the light makes of them.
    expect(most).toBeLessThanOrEqual(4);
    expect(mean).toBeLessThan(1);
    for (const value of bias) expect(Math.abs(value)).toBeLessThan(0.25);
    const last = compared(stays, whole, paintedBy(stage));
    // A device value tipped over by the dither is more than one in a light that brings colours out.
    expect(last.most).toBeLessThanOrEqual(2);
    expect(last.differing).toBeLessThan(0.02);
  });

  it('are relit by window and lamps apart', () => {
    const parts = { window: table('FL11'), lamps: table('A'), whole: table('A'), part: 0.6 };
    const { shown, stays, whole, stage } = frames(candidates, wholePlace, lightApart(shares, parts));
    const { mean, bias } = compared(shown, whole, paintedBy(stage));
    // 64 levels a channel and 16 shares.
    expect(mean).toBeLessThan(2.5);
    for (const value of bias) expect(Math.abs(value)).toBeLessThan(0.5);
    // Shares are read in 255 steps.
    expect(compared(stays, whole, paintedBy(stage)).mean).toBeLessThan(0.5);
  });

  it('show a part of the picture, and leave the left of a wipe alone', () => {
    const place = { scale: 1, x: -30, y: -20, width: 50, height: 40, left: 10 };
    const { shown, whole } = frames(candidates, place, null);
    let [most, count] = [0, 0];
    for (let y = 0; y < 40; y++)
      for (let x = 0; x < 50; x++) {
        const [p, at] = [4 * ((y + 20) * WIDTH + x + 30), 4 * (y * 50 + x)];
        if (x < 10) expect(shown[at]).toBe(255);
        else if (paintOverTouches(x + 30, y + 20)) {
          most = Math.max(most, Math.abs(shown[at] - whole.data[p]));
          count++;
        }
      }
    expect(most).toBeLessThanOrEqual(1);
    expect(count).toBeGreaterThan(1000);
  });
});

/** Whether a surface has something of a picture pixel. */
function paintOverTouches(x: number, y: number): boolean {
  return [one, other].some(({ box, coverage }) => {
    const [u, v] = [x - box.x, y - box.y];
    return u >= 0 && v >= 0 && u < box.width && v < box.height && coverage[v * box.width + u] > 0;
  });
}

it('surfaces whose finish stays take turns, and end as if painted at once', () => {
  const third = surface({ x: 62, y: 0, width: 34, height: 10 }, 0.2);
  const dressed = (finish: AppliedFinish) => [
    { layers: one, finish },
    { layers: other, finish: candidates[0][1] },
    { layers: third, finish: candidates[1][0] },
  ];
  const [first, last] = [candidates[0][0], candidates[1][0]].map((finish) =>
    paintParameters(dressed(finish)),
  );
  const base = () => new Uint8ClampedArray(4 * WIDTH * HEIGHT).fill(255);
  const painters = [1, 1e6].map((atOnce) => {
    const stage = stageOf(picture, dressed(candidates[0][0]), { place: wholePlace, light: null });
    const shown = base();
    return { shown, painter: new FramePainter(stage, { base: shown, light: null, atOnce }) };
  });
  const said = painters.map(({ painter }) => [
    painter.paint(first),
    painter.paint(last),
    painter.paint(last),
  ]);
  expect(said).toEqual([
    [true, false, true],
    [true, true, true],
  ]);
  expect(painters[0].shown).toEqual(painters[1].shown);
});

describe('frames made smaller', () => {
  it.each([0.7, 0.5, 0.23])('are the mean of the whole picture at a scale of %s', (scale) => {
    const place = {
      scale,
      x: 3.4,
      y: -5.2,
      width: Math.round(scale * WIDTH),
      height: Math.round(scale * HEIGHT),
      left: 0,
    };
    const { shown, whole, stage } = frames(candidates, place, null);
    let [sum, most, count] = [0, 0, 0];
    for (const at of paintedBy(stage)) {
      const [x, y] = [at % place.width, Math.floor(at / place.width)];
      for (let c = 0; c < 3; c++, count++) {
        const apart = Math.abs(shown[4 * at + c] - meanUnder(whole, { x, y, place, c }));
        sum += apart;
        most = Math.max(most, apart);
      }
    }
    expect(count).toBeGreaterThan(300);
    // Within a device value of a mean that the screen rounds anyway, dither included.
    expect(sum / count).toBeLessThan(1);
    expect(most).toBeLessThan(9);
  });

  it('are refused where the canvas shows more pixels than the picture has', () => {
    expect(() => stageOf(picture, [], { place: { ...wholePlace, scale: 1.5 }, light: null })).toThrow(
      'Expected a scale in (0, 1], got 1.5',
    );
  });
});

/** Mean device value of the picture over the area of a stage pixel. */
function meanUnder(
  { width, height, data }: Image8,
  { x, y, place, c }: { x: number; y: number; place: StagePlace; c: number },
): number {
  const { scale } = place;
  const [left, right] = [Math.max(0, (x - place.x) / scale), Math.min(width, (x + 1 - place.x) / scale)];
  const [top, below] = [Math.max(0, (y - place.y) / scale), Math.min(height, (y + 1 - place.y) / scale)];
  let [sum, area] = [0, 0];
  for (let v = Math.floor(top); v < below; v++)
    for (let u = Math.floor(left); u < right; u++) {
      const w = (Math.min(u + 1, right) - Math.max(u, left)) * (Math.min(v + 1, below) - Math.max(v, top));
      sum += w * data[4 * (v * width + u) + c];
      area += w;
    }
  return sum / area;
}
