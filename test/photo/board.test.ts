import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import {
  coverage,
  findBoardPatches,
  measureRegion,
  type BoardPatches,
  type Image8,
  type Point,
} from '#lib/photo/index.ts';
import {
  GROUND,
  drawBoard,
  judge,
  paints,
  type BoardScene,
  type BoardTruth,
  type LabTriple,
} from './board-scene.ts';
import { picture } from './picture.ts';

const grounds = ['pale wood', 'dark wood', 'white card', 'grey card'] as const;

function read(scene: BoardScene): {
  truth: BoardTruth;
  found: BoardPatches;
  judged: ReturnType<typeof judge>;
} {
  const truth = drawBoard({ width: 800, height: 600, ...scene });
  const found = findBoardPatches(truth.image);
  return {
    truth,
    found,
    judged: judge(
      truth,
      found.patches.map((p) => p.region),
    ),
  };
}

/** Paints a few units from the ground they lie on. */
function pale(ground: (typeof grounds)[number]): LabTriple[] {
  const [L, a, b] = GROUND[ground];
  return [
    [0, -5, -4],
    [5, 0, -5],
    [-5, 4, 3],
    [-3, -3, -7],
    [6, 2, 2],
    [0, 6, 4],
  ].map((d): LabTriple => [Math.min(97, L + d[0]), a + d[1], b + d[2]]);
}

/** Paints in pairs 4 CIELAB units apart, neighbours on the board. */
function pairs(seed: number, ground: (typeof grounds)[number]): LabTriple[] {
  return paints(seed, 4, 20, [GROUND[ground]]).flatMap((p): LabTriple[] => [
    p,
    [p[0] + (p[0] > 80 ? -3 : 3), p[1] + 2, p[2] - 2],
  ]);
}

describe('boards of 1 to 24 patches on wood and card, turned up to 15 degrees, under uneven light', () => {
  const counts = [1, 2, 3, 5, 7, 9, 12, 15, 18, 20, 22, 24];
  let results: ReturnType<typeof read>[];
  beforeAll(() => {
    results = counts.map((count, i) => {
      const ground = grounds[i % 4];
      return read({
        seed: 40 + i,
        paints: paints(140 + i, count, 9, [GROUND[ground]]),
        ground,
        turn: [-15, 15, -8, 4, 11, -3][i % 6],
        gradient: i % 2 === 0 ? 2 : 1.4,
        warmToCool: (i % 3) / 2,
        ragged: 1.5 + (i % 4),
        sizes: (i % 5) / 5,
        gap: 0.15 + 0.05 * (i % 3),
        labels: i % 2 === 1,
        card: i % 3 === 0 && ground !== 'white card',
        noise: 1.5 + (i % 3) * 1.5,
      });
    });
  });

  test('nearly all are found and nearly nothing else', () => {
    const mean = (pick: (j: ReturnType<typeof judge>) => number) =>
      results.reduce((s, r) => s + pick(r.judged), 0) / results.length;
    expect(mean((j) => j.recall)).toBeGreaterThanOrEqual(0.97);
    expect(mean((j) => j.precision)).toBeGreaterThanOrEqual(0.97);
    expect(mean((j) => j.meanIou)).toBeGreaterThan(0.75);
  });

  test('the regions lie inside the paint: hardly a pixel of them is ground', () => {
    for (const { truth, found } of results)
      for (const { region } of found.patches) {
        const { warnings } = measureRegion(truth.image, region, null);
        expect(warnings.join()).not.toMatch(/differs|pattern/);
      }
  });

  test('they are numbered in reading order along the board', () => {
    for (const { found, judged, truth } of results) {
      if (judged.recall < 1 || judged.precision < 1) continue;
      expect(found.patches.map((p) => p.order)).toEqual(found.patches.map((_, k) => k + 1));
      // The scene draws its patches row by row.
      expect(judged.matched).toEqual(truth.patches.map((_, k) => k + 1));
    }
  });

  test('the white card is the one called card-like, where it is the lightest thing', () => {
    let cards = 0;
    for (const { truth, found, judged } of results) {
      truth.patches.forEach((patch, k) => {
        const at = judged.matched.indexOf(k + 1);
        if (!patch.card || at < 0) return;
        cards++;
        expect(found.patches[at].cardLike).toBe(true);
      });
      if (!truth.patches.some((p) => p.lab[0] > 85))
        for (const { cardLike, lab } of found.patches) if (cardLike) expect(lab.L).toBeGreaterThan(65);
    }
    expect(cards).toBeGreaterThan(2);
  });
});

describe('hard boards', () => {
  test.each(grounds)('paints a few units from their ground, %s, light 1.5 : 1', (ground) => {
    const { judged } = read({ seed: 7, paints: pale(ground), ground, gradient: 1.5, turn: 9, labels: true });
    expect(judged.recall).toBeGreaterThanOrEqual(5 / 6);
    expect(judged.precision).toBe(1);
  });

  test.each(grounds)(
    'neighbours 4 units apart with a narrow gap, %s, light 2 : 1 and warm to cool',
    (ground) => {
      const { judged } = read({
        seed: 9,
        paints: pairs(17, ground),
        columns: 4,
        ground,
        gradient: 2,
        warmToCool: 1,
        gap: 0.12,
        turn: -11,
      });
      expect(judged.recall).toBe(1);
      expect(judged.precision).toBe(1);
    },
  );

  test.each(grounds)('neighbours 4 units apart that touch, %s', (ground) => {
    const { judged } = read({
      seed: 3,
      paints: pairs(23, ground),
      columns: 4,
      ground,
      gap: 0,
      ragged: 0,
      turn: 6,
    });
    expect(judged.recall).toBeGreaterThanOrEqual(7 / 8);
    expect(judged.precision).toBeGreaterThanOrEqual(7 / 8);
  });

  test('long strips are not cut in two where the light falls off', () => {
    const { judged } = read({
      seed: 400,
      paints: paints(180, 7, 12, [GROUND['pale wood']]),
      columns: 8,
      card: true,
      gradient: 2,
      warmToCool: 1,
      gap: 0.15,
      turn: 12,
      noise: 4,
    });
    expect(judged.recall).toBe(1);
    expect(judged.precision).toBe(1);
  });

  test('forty patches', () => {
    const { judged } = read({
      seed: 5,
      width: 1200,
      height: 900,
      paints: paints(60, 40, 7, [GROUND['grey card']]),
      ground: 'grey card',
      gap: 0.3,
    });
    expect(judged.recall).toBeGreaterThanOrEqual(0.95);
    expect(judged.precision).toBeGreaterThanOrEqual(0.95);
  });

  test('the size of the picture does not matter', () => {
    const scene: BoardScene = { seed: 2, paints: paints(9, 8, 9, [GROUND['pale wood']]), ragged: 2 };
    for (const [width, height] of [
      [420, 315],
      [1600, 1200],
    ]) {
      const { judged } = read({ ...scene, width, height });
      expect(judged.recall).toBe(1);
      expect(judged.precision).toBe(1);
    }
  });
});

describe('no board', () => {
  test('an even wall, bare wood, noise and a tiny picture give no patch and a sentence', () => {
    const wood = drawBoard({ seed: 4, width: 640, height: 480, paints: [], card: false, columns: 1 });
    const pictures: Image8[] = [
      picture(400, 300, () => [70, 2, 8]),
      picture(400, 300, () => [50, 0, 0], { noise: 40 }),
      picture(20, 20, (x) => [x > 10 ? 20 : 80, 0, 0]),
      // Bare wood without the table round it.
      { ...wood.image, width: 320, height: 240, data: crop(wood.image, 160, 120, 320, 240) },
    ];
    for (const image of pictures) {
      const { patches, confidence, notes } = findBoardPatches(image);
      expect(patches).toEqual([]);
      expect(confidence).toBe(0);
      expect(notes[0]).toMatch(/No painted patches were found|too small/);
    }
  });
});

function crop({ data, width, channels }: Image8, x: number, y: number, w: number, h: number): Uint8Array {
  const out = new Uint8Array(w * h * channels);
  for (let row = 0; row < h; row++)
    out.set(
      data.subarray(((y + row) * width + x) * channels, ((y + row) * width + x + w) * channels),
      row * w * channels,
    );
  return out;
}

const sample = fileURLToPath(new URL('../../static/sample/board.jpg', import.meta.url));
const truthFile = fileURLToPath(new URL('../fixtures/sample/truth.json', import.meta.url));

describe('the board of the sample job', () => {
  test('seven strips and the card where they were laid, left to right; neither brush nor label', async () => {
    const { data, info } = await sharp(sample).removeAlpha().raw().toBuffer({ resolveWithObject: true });
    const image: Image8 = { width: info.width, height: info.height, channels: 3, data, space: 'srgb' };
    const { 'samples on board': laid } = JSON.parse(readFileSync(truthFile, 'utf8')).pictures.board;
    const quads = Object.values(laid as Record<string, { quad: Point[] }>).map((s) => s.quad);
    const { patches } = findBoardPatches(image);
    expect(patches.length).toBe(quads.length);
    patches.forEach((patch, k) => {
      const own = new Set(coverage(patch.region, image, 'centre').pixels);
      const laid = coverage({ kind: 'polygon', points: quads[k] }, image, 'centre').pixels;
      const shared = laid.reduce((n, p) => n + (own.has(p) ? 1 : 0), 0);
      expect(shared / own.size).toBeGreaterThan(0.97);
      expect(shared / (own.size + laid.length - shared)).toBeGreaterThan(0.75);
      expect(patch.cardLike).toBe(k === quads.length - 1);
    });
  });
});

const room = fileURLToPath(new URL('../../static/sample/inspiration.jpg', import.meta.url));

test('a room is called hardly a board', async () => {
  const { data, info } = await sharp(room).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  const { notes } = findBoardPatches({ ...info, channels: 3, data, space: 'srgb' });
  expect(notes[0]).toMatch(/is this a photo of a sample board/);
});
