import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { prepareSelection, select, type Image8, type Mask, type Stroke } from '#lib/photo/index.ts';
import { asKept } from './kept-picture.ts';
import { SESSIONS } from './sample-strokes.ts';

/**
 * How well strokes find the surfaces of the kitchen we rendered, against the renderer's own coverage (truth.json says what
 * the masks are). The strokes are what a hand draws: bent lines along a surface, along a front edge and into sun and
 * shade, and one that wipes over what came along but does not belong. The surfaces are marked one after the other, as in
 * the studio, and each leaves out what is marked already.
 *
 * The bar asked for is an intersection over union of 0.95 for cabinets, walls, counter and floor from at most three strokes. By
 * day all have it. By lamplight and at dusk, where lamps and window mix, floor and counter have it, cabinets about, walls
 * and ceiling do not: what parts them from crown and window frame is burnt out or in no light at all.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

/** Least intersection over union. */
const BARS: Record<string, Record<string, number>> = {
  'kitchen-day': { ceiling: 0.98, floor: 0.98, cabinets: 0.96, counter: 0.95, walls: 0.965 },
  'kitchen-lamp': { ceiling: 0.85, floor: 0.98, cabinets: 0.95, counter: 0.95, walls: 0.89 },
  'kitchen-mixed': { ceiling: 0.875, floor: 0.985, cabinets: 0.93, counter: 0.945, walls: 0.855 },
};

/**
 * The same on the day picture for strokes drawn less well: each stroke in turn 6 and 12 pixels off in four directions,
 * and all of them a fifth shorter. Least mean, and least of those that are 6 pixels off or shorter; a counter drawn 12
 * pixels off lies on the tiles.
 */
const UNSTEADY: Record<string, { mean: number; least: number }> = {
  ceiling: { mean: 0.975, least: 0.975 },
  floor: { mean: 0.975, least: 0.96 },
  cabinets: { mean: 0.955, least: 0.95 },
  counter: { mean: 0.91, least: 0.82 },
  walls: { mean: 0.95, least: 0.875 },
};

/** The day picture at other sizes: the same strokes on pieces that are cut otherwise everywhere. Least of all sizes. */
const WIDTHS = [1320, 1552, 1648];
const AT_SIZES: Record<string, number> = {
  ceiling: 0.82,
  floor: 0.98,
  cabinets: 0.95,
  counter: 0.87,
  walls: 0.905,
};

const WANTED = 0.95;

const movedBy = (stroke: Stroke, dx: number, dy: number, { width, height }: Image8): Stroke => ({
  ...stroke,
  points: stroke.points.map(([x, y]) => [
    Math.min(width - 1, Math.max(0, x + dx)),
    Math.min(height - 1, Math.max(0, y + dy)),
  ]),
});

/** A tenth of the way cut off at either end. */
function shorter(stroke: Stroke): Stroke {
  const { points } = stroke;
  const way = [0];
  for (let i = 1; i < points.length; i++)
    way.push(way[i - 1] + Math.hypot(points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]));
  const whole = way[points.length - 1];
  const place = (along: number): [number, number] => {
    let i = 1;
    while (i < points.length - 1 && way[i] < along) i++;
    const share = (along - way[i - 1]) / (way[i] - way[i - 1]);
    const [a, b] = [points[i - 1], points[i]];
    return [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
  };
  const between = points.filter((_, i) => way[i] > 0.1 * whole && way[i] < 0.9 * whole);
  return { ...stroke, points: [place(0.1 * whole), ...between, place(0.9 * whole)] };
}

/** What an unsteady hand draws instead, and how many pixels off. */
function unsteady(strokes: readonly Stroke[], image: Image8): { off: number; strokes: Stroke[] }[] {
  const out = [{ off: 0, strokes: strokes.map(shorter) }];
  for (const off of [6, 12])
    for (const [dx, dy] of [
      [off, 0],
      [-off, 0],
      [0, off],
      [0, -off],
    ])
      for (const moved of strokes)
        out.push({ off, strokes: strokes.map((s) => (s === moved ? movedBy(s, dx, dy, image) : s)) });
  return out;
}

async function picture(name: string, wide: number | null = null): Promise<Image8> {
  const file = sharp(at(`static/sample/${name}.jpg`))
    .resize(wide)
    .removeAlpha()
    .raw();
  const { data, info } = await file.toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

const truth = (surface: string, wide: number | null = null) =>
  sharp(at(`test/fixtures/sample/masks/${surface}.png`))
    .resize(wide)
    .extractChannel(0)
    .raw()
    .toBuffer();

/** Intersection over union of two coverages. */
function overlap({ data }: Mask, covered: Uint8Array): number {
  let [both, either] = [0, 0];
  for (let p = 0; p < data.length; p++) {
    both += Math.min(data[p], covered[p]);
    either += Math.max(data[p], covered[p]);
  }
  return both / either;
}

/** The picture with its marks: green where they are right, red where too much, blue where missing. */
function judged(image: Image8, marks: readonly { mask: Mask; covered: Uint8Array }[]): Image8 {
  const data = Uint8Array.from(image.data);
  const tint = (p: number, part: number, colour: readonly number[]) => {
    for (let c = 0; c < 3; c++) data[3 * p + c] += part * (colour[c] - data[3 * p + c]);
  };
  for (const { mask, covered } of marks)
    for (let p = 0; p < covered.length; p++) {
      tint(p, (0.35 * Math.min(mask.data[p], covered[p])) / 255, [0, 160, 0]);
      tint(p, (0.8 * Math.max(0, mask.data[p] - covered[p])) / 255, [255, 0, 0]);
      tint(p, (0.8 * Math.max(0, covered[p] - mask.data[p])) / 255, [0, 0, 255]);
    }
  return { ...image, data };
}

/** Part of a true surface that a mask covers, 0-1. */
function coveredPart({ data }: Mask, covered: Uint8Array): number {
  let [both, whole] = [0, 0];
  for (let p = 0; p < data.length; p++) {
    both += Math.min(data[p], covered[p]);
    whole += covered[p];
  }
  return both / whole;
}

describe.each(Object.keys(BARS))('%s, marked surface by surface', (name) => {
  const found: Record<string, number> = {};
  let handles = 1;
  const marks: { mask: Mask; covered: Uint8Array }[] = [];
  let image: Image8;
  const spread: Record<string, { mean: number; least: number; worst: number }> = {};
  beforeAll(async () => {
    image = await picture(name);
    const selector = prepareSelection(image);
    const others: Mask[] = [];
    for (const { surface, strokes, elsewhere } of SESSIONS[name]) {
      const covered = await truth(surface);
      const ask = (drawn: readonly Stroke[]) => select(selector, drawn, { elsewhere, others }).mask;
      const mask = ask(strokes);
      found[surface] = overlap(mask, covered);
      if (name === 'kitchen-day' && surface in UNSTEADY) {
        const shares = unsteady(strokes, image).map((drawn) => ({
          off: drawn.off,
          share: overlap(ask(drawn.strokes), covered),
        }));
        spread[surface] = {
          mean: shares.reduce((sum, { share }) => sum + share, 0) / shares.length,
          least: Math.min(...shares.filter(({ off }) => off <= 6).map(({ share }) => share)),
          worst: Math.min(...shares.map(({ share }) => share)),
        };
      }
      others.push(mask);
      marks.push({ mask, covered });
      if (surface === 'cabinets') handles = coveredPart(mask, await truth('hardware'));
    }
    const told = Object.entries(found).map(([surface, share]) => {
      const s = spread[surface];
      const more =
        s &&
        ` (unsteady: mean ${s.mean.toFixed(3)}, least ${s.least.toFixed(3)}, worst ${s.worst.toFixed(3)})`;
      return `${surface} ${share.toFixed(3)}${more ?? ''}`;
    });
    console.log(`${name}: ${told.join(', ')}`);
  }, 240_000);

  const bars = Object.entries(BARS[name]).map(
    ([surface, least]) =>
      [surface, least, least < WANTED ? ' (0.95 is wanted and not reached)' : ''] as const,
  );
  test.each(bars)('%s: at least %d%s', (surface, least) => {
    expect(SESSIONS[name].find((marking) => marking.surface === surface)?.strokes.length).toBeLessThanOrEqual(
      3,
    );
    expect(found[surface]).toBeGreaterThanOrEqual(least);
  });

  test('the marks look as they did', async () => {
    await asKept(`marks-${name.replace('kitchen-', '')}`, judged(image, marks));
  });

  if (name === 'kitchen-day') {
    test('two thirds of the handles stay out of the cabinets', () => {
      expect(handles).toBeLessThan(0.33);
    });

    test.each(Object.entries(UNSTEADY))('%s holds under an unsteady hand', (surface, { mean, least }) => {
      expect(spread[surface].mean).toBeGreaterThanOrEqual(mean);
      expect(spread[surface].least).toBeGreaterThanOrEqual(least);
    });
  }
});

describe('the day picture at other sizes', () => {
  const least: Record<string, number> = {};
  beforeAll(async () => {
    for (const wide of WIDTHS) {
      const image = await picture('kitchen-day', wide);
      const scale = wide / 1600;
      const selector = prepareSelection(image);
      const others: Mask[] = [];
      const told: string[] = [];
      for (const { surface, strokes, elsewhere } of SESSIONS['kitchen-day']) {
        const scaled = strokes.map((stroke) => ({
          ...stroke,
          radius: stroke.radius * scale,
          points: stroke.points.map(([x, y]) => [x * scale, y * scale] as const),
        }));
        const { mask } = select(selector, scaled, { elsewhere, others });
        others.push(mask);
        const share = overlap(mask, await truth(surface, wide));
        least[surface] = Math.min(least[surface] ?? 1, share);
        told.push(`${surface} ${share.toFixed(3)}`);
      }
      console.log(`${wide} wide: ${told.join(', ')}`);
    }
  }, 240_000);

  test.each(Object.entries(AT_SIZES))('%s: at least %d', (surface, share) => {
    expect(least[surface]).toBeGreaterThanOrEqual(share);
  });
});
