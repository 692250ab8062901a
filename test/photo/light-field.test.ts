import { describe, expect, test } from 'vitest';
import { deltaE2000 } from '#lib/colour/index.ts';
import {
  correctionFromReferences,
  evened,
  findBoardPatches,
  LIGHT_DEVIATION,
  measureRegion,
  type BoardPatch,
  type Image8,
} from '#lib/photo/index.ts';
import { drawBoard, paints, type BoardScene } from './board-scene.ts';

/** Mean colour difference of the found patches from the truth, corrected from the card. */
function meanError(
  image: Image8,
  patches: readonly BoardPatch[],
  truth: ReturnType<typeof drawBoard>,
): number {
  const card = patches.find((patch) => patch.cardLike);
  if (!card) throw new Error('expected the card to be found');
  const correction = correctionFromReferences(image, [
    { kind: 'white-paper', region: card.region, lab: { L: 96, a: 0, b: 1 } },
  ]);
  const errors = patches
    .filter((patch) => !patch.cardLike)
    .map((patch) => {
      const { lab } = measureRegion(image, patch.region, correction);
      const candidates = truth.patches
        .filter((known) => !known.card)
        .map(({ lab: [L, a, b] }) => deltaE2000({ L, a, b }, lab));
      return Math.min(...candidates);
    });
  return errors.reduce((sum, error) => sum + error, 0) / errors.length;
}

const board = (scene: Partial<BoardScene>) =>
  drawBoard({ seed: 5, paints: paints(5, 11, 14), card: true, warmToCool: 0.2, gradient: 1.3, ...scene });

describe('evening out the light on a sample board', () => {
  test('brings patches in light that differs twofold nearer to their colours', () => {
    const results = [3, 4, 7].map((seed) => {
      const truth = board({ seed, paints: paints(seed, 11, 14), gradient: 2, warmToCool: 0.5 });
      const even = evened(truth.image, 'sample board');
      const patches = even.board?.patches ?? [];
      expect(even.notes.join(' ')).toMatch(/differs [\d.]+ times/);
      return [meanError(truth.image, patches, truth), meanError(even.image, patches, truth)];
    });
    for (const [before, after] of results) expect(after).toBeLessThan(0.7 * before);
  });

  test('leaves a board in even light as it is, but for its own pixels', () => {
    const truth = board({ gradient: 1, warmToCool: 0 });
    const { image, notes } = evened(truth.image, 'sample board');
    expect(notes).toEqual([]);
    expect(image.data).toEqual(truth.image.data);
    expect(image.lightDeviation?.most).toBeLessThan(0.04);
  });

  test('makes nothing brighter, and keeps clipped pixels at the top', () => {
    const truth = board({ gradient: 2 });
    truth.image.data.fill(255, 0, 300);
    const { image } = evened(truth.image, 'sample board');
    expect([...image.data.slice(0, 300)].every((value) => value === 255)).toBe(true);
    expect(image.data.every((value, i) => value <= truth.image.data[i] + 1)).toBe(true);
  });

  test('does not believe a background that is not of one material', () => {
    const truth = board({ gradient: 2 });
    const { width, height, channels, data } = truth.image;
    // Stripes of four quite different materials wherever nothing is painted.
    const tones = [0.25, 1, 0.5, 0.12];
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        if (truth.label[y * width + x] > 0) continue;
        const tone = tones[Math.floor((x + y) / 9) % 4];
        for (let c = 0; c < 3; c += 1) data[(y * width + x) * channels + c] *= tone;
      }
    }
    const { image, notes } = evened(truth.image, 'sample board');
    expect(notes).toEqual([]);
    expect(image.data).toEqual(truth.image.data);
    expect(image.lightDeviation).toBe(LIGHT_DEVIATION['one plane']);
  });
});

describe('light that the picture does not show', () => {
  test('makes lightness in a room more doubtful than in one plane, and hue hardly', () => {
    const truth = board({});
    const { patches } = findBoardPatches(truth.image);
    const read = (scene: 'room' | 'one plane') => {
      const { image } = evened(truth.image, scene);
      const card = patches.find((patch) => patch.cardLike) ?? patches[0];
      const correction = correctionFromReferences(image, [{ kind: 'white-paper', region: card.region }]);
      return measureRegion(image, patches[0].region, correction);
    };
    const [room, plane] = [read('room'), read('one plane')];
    expect(room.lab).toEqual(plane.lab);
    // Light that deviates by a share moves L* by about (L* + 16) / 3 times that share.
    const least = ((plane.lab.L + 16) / 3) * LIGHT_DEVIATION.room.near;
    expect(Math.sqrt(room.covariance[0])).toBeGreaterThan(least);
    expect(room.covariance[0]).toBeGreaterThan(2 * plane.covariance[0]);
    expect(room.covariance[4]).toBeLessThan(room.covariance[0]);
    expect(room.warnings.join(' ')).toContain('other light than the reference');
    expect(plane.warnings.join(' ')).not.toContain('other light than the reference');
  });
});
