import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { prepareSelection, select, type Image8, type Mask, type Stroke } from '#lib/photo/index.ts';

/**
 * How well strokes find the surfaces of the kitchen we rendered, against the renderer's own coverage (truth.json says what
 * the masks are). The strokes are what a hand draws: bent lines along a surface, not along its outline. The surfaces are
 * marked one after the other, as in the studio, and each leaves out what is marked already.
 *
 * The bar asked for is an intersection over union of 0.95 from at most three strokes. Ceiling, floor and cabinets reach
 * it. The counter does not: its rear reflects the tiles and nothing parts them there. The walls do not either, less so where
 * they are marked without the trim, which has nearly their colour.
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

const add = (radius: number, ...points: [number, number][]): Stroke => ({ mode: 'add', points, radius });
const remove = (radius: number, ...points: [number, number][]): Stroke => ({
  mode: 'remove',
  points,
  radius,
});

interface Marking {
  surface: string;
  /** What the figures call it, where not by its surface. */
  name?: string;
  strokes: Stroke[];
  elsewhere: boolean;
}

const SESSION: Marking[] = [
  {
    surface: 'ceiling',
    strokes: [
      add(8, [400, 60], [1000, 80]),
      add(8, [180, 30], [330, 60]),
      remove(8, [714, 155], [738, 286]), // the hood
    ],
    elsewhere: false,
  },
  {
    surface: 'floor',
    strokes: [
      add(8, [500, 890], [700, 930], [900, 980]),
      add(8, [1080, 820], [1180, 800], [1330, 910], [1400, 1010]), // over the patches of sun
      add(8, [71, 976], [238, 785]),
    ],
    elsewhere: true,
  },
  {
    surface: 'cabinets',
    strokes: [
      add(8, [350, 620], [950, 610]),
      add(8, [600, 250], [290, 290], [330, 488], [560, 490]), // a wall unit, a tall one, the drawers behind the island
      add(8, [900, 485], [1060, 500], [1130, 540], [1300, 600]),
    ],
    elsewhere: true,
  },
  {
    surface: 'counter',
    strokes: [
      add(4, [900, 535], [640, 562], [380, 545], [400, 478], [640, 468]), // the island, then the run behind it
      add(4, [860, 461], [1000, 456], [1150, 464], [1300, 478], [1345, 494], [1583, 533]),
      remove(6, [450, 440], [640, 440]), // the tiles it reflects
    ],
    elsewhere: false,
  },
  {
    surface: 'walls',
    strokes: [
      add(3, [40, 660], [80, 420], [160, 200], [230, 125]),
      add(3, [480, 148], [620, 160], [650, 230], [740, 280]),
      add(3, [1080, 186], [1150, 230], [1210, 165], [1420, 110], [1530, 80], [1570, 200]),
    ],
    elsewhere: false,
  },
  {
    surface: 'trim',
    strokes: [
      add(4, [40, 857], [185, 707]),
      add(3, [130, 16], [200, 75], [300, 120], [600, 140]),
      add(3, [860, 157], [1090, 172], [1250, 122], [1450, 56]),
      add(3, [1224, 200], [1224, 400]),
      add(3, [1485, 100], [1485, 420]),
      remove(8, [48, 143], [71, 500]),
      remove(4, [240, 125], [300, 133], [620, 158]),
      remove(4, [840, 172], [1080, 186]),
    ],
    elsewhere: false,
  },
  {
    surface: 'backsplash',
    strokes: [
      add(6, [420, 400], [700, 400]),
      add(6, [900, 420], [1090, 420], [1180, 420]),
      add(6, [1510, 440], [1580, 440]),
      remove(6, [1150, 200], [1155, 300]),
    ],
    elsewhere: false,
  },
  {
    surface: 'walls',
    name: 'walls after the trim',
    strokes: [
      add(3, [40, 660], [80, 420], [150, 220], [208, 118], [300, 133], [480, 149]),
      add(3, [560, 154], [640, 165], [645, 220], [690, 220], [738, 286]),
      add(3, [840, 172], [1080, 186], [1150, 230], [1210, 165], [1420, 110], [1530, 80], [1570, 200]),
    ],
    elsewhere: false,
  },
];

/**
 * Least intersection over union; where none is given the figure is only told. The strokes were drawn on the day picture;
 * the other two, under lamps, get the same ones.
 */
const BARS: Record<string, Record<string, number>> = {
  'kitchen-day': {
    ceiling: 0.97,
    floor: 0.97,
    cabinets: 0.95,
    counter: 0.81,
    walls: 0.84,
    'walls after the trim': 0.92,
  },
  'kitchen-lamp': { floor: 0.97, cabinets: 0.94, counter: 0.81, 'walls after the trim': 0.88 },
  'kitchen-mixed': { floor: 0.97, cabinets: 0.88, counter: 0.85, 'walls after the trim': 0.77 },
};

/**
 * The same on the day picture for strokes drawn less well: each stroke in turn 6 and 12 pixels off in four directions,
 * and all of them a fifth shorter. Least mean, and least of those that are 6 pixels off or shorter; a counter drawn 12
 * pixels off lies on the tiles.
 */
const UNSTEADY: Record<string, { mean: number; least: number }> = {
  ceiling: { mean: 0.97, least: 0.97 },
  floor: { mean: 0.95, least: 0.75 },
  cabinets: { mean: 0.93, least: 0.88 },
  counter: { mean: 0.79, least: 0.76 },
  walls: { mean: 0.83, least: 0.82 },
};

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

async function picture(name: string): Promise<Image8> {
  const file = sharp(at(`static/sample/${name}.jpg`))
    .removeAlpha()
    .raw();
  const { data, info } = await file.toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
}

const truth = (surface: string) =>
  sharp(at(`test/fixtures/sample/masks/${surface}.png`))
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

describe.each(Object.keys(BARS))('%s, marked surface by surface', (name) => {
  const found: Record<string, number> = {};
  const spread: Record<string, { mean: number; least: number; worst: number }> = {};
  beforeAll(async () => {
    const image = await picture(name);
    const selector = prepareSelection(image);
    const others: Mask[] = [];
    for (const { surface, name: called = surface, strokes, elsewhere } of SESSION) {
      const covered = await truth(surface);
      const ask = (drawn: readonly Stroke[]) => select(selector, drawn, { elsewhere, others }).mask;
      const mask = ask(strokes);
      found[called] = overlap(mask, covered);
      if (name === 'kitchen-day' && called in UNSTEADY) {
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
      // The walls are asked for twice, the second time without their own mask.
      if (surface !== 'walls') others.push(mask);
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

  test.each(Object.entries(BARS[name]))('%s: at least %d', (surface, least) => {
    expect(
      SESSION.find((marking) => (marking.name ?? marking.surface) === surface)?.strokes.length,
    ).toBeLessThanOrEqual(3);
    expect(found[surface]).toBeGreaterThanOrEqual(least);
  });

  if (name === 'kitchen-day')
    test.each(Object.entries(UNSTEADY))('%s holds under an unsteady hand', (surface, { mean, least }) => {
      expect(spread[surface].mean).toBeGreaterThanOrEqual(mean);
      expect(spread[surface].least).toBeGreaterThanOrEqual(least);
    });
});
