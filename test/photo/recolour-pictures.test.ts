import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { REFERENCE_ILLUMINANCE, illuminant, roomView, type Lab } from '#lib/colour/index.ts';
import {
  correctImage,
  correctionFromReferences,
  lightApart,
  lightShares,
  paintOver,
  relightApart,
  relightTable,
  surfaceLayers,
  type Image8,
  type Mask,
} from '#lib/photo/index.ts';
import { asKept, compared, decoded } from './kept-picture.ts';

/**
 * What the checks of finishes and lights make of our own renderings, as small pictures to look at: before and after as
 * computed, and the truth beside them where there is one (see `asKept`).
 */

const at = (path: string) => fileURLToPath(new URL(`../../${path}`, import.meta.url));

interface Truth {
  pictures: Record<
    string,
    {
      surfaces: Record<
        string,
        {
          materials: { tones: { lab: [number, number, number] }[] }[];
          points: { x: number; y: number; r: number }[];
        }
      >;
    }
  >;
}
const truth = JSON.parse(readFileSync(at('test/fixtures/sample/truth.json'), 'utf8')) as Truth;

const photo = (path: string) => decoded(readFileSync(at(path)));

async function mask(name: string): Promise<Mask> {
  const { data, info } = await sharp(at(`test/fixtures/sample/masks/${name}.png`))
    .toColourspace('b-w')
    .raw()
    .toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, data: new Uint8Array(data) };
}

function paintOf(picture: string): Lab {
  const [L, a, b] = truth.pictures[picture].surfaces.cabinets.materials[0].tones[0].lab;
  return { L, a, b };
}

const BEIGE = paintOf('kitchen-day');
const GREEN = paintOf('kitchen-day-green');

describe('finishes put on the rendered kitchen', () => {
  let beige: Image8;
  let green: Image8;
  let cabinets: Mask;
  beforeAll(async () => {
    [beige, green, cabinets] = await Promise.all([
      photo('static/sample/kitchen-day.jpg'),
      photo('test/fixtures/sample/kitchen-day-green.jpg'),
      mask('cabinets'),
    ]);
  });
  const painted = (image: Image8, old: Lab, colour: Lab) =>
    paintOver(image, [{ layers: surfaceLayers(image, cabinets, { old }), finish: { colour } }]);

  test('light to dark looks as it did, and the truth beside it is the one it is judged by', async () => {
    const before = await asKept('beige', beige);
    const after = await asKept('beige-painted-green', painted(beige, BEIGE, GREEN));
    const real = await asKept('green', green);
    // Nearer to the truth than the picture before, or the pictures were mixed up.
    expect(compared(after, real).mean).toBeLessThan(0.5 * compared(before, real).mean);
  });

  test('dark to light looks as it did', async () => {
    await asKept('green-painted-beige', painted(green, GREEN, BEIGE));
  });
});

describe('window and lamps of the rendered kitchen apart', () => {
  /** A picture of the kitchen corrected from its white paper. */
  async function fromPaper(picture: string): Promise<Image8> {
    const image = await photo(`static/sample/${picture}.jpg`);
    const { x, y, r } = truth.pictures[picture].surfaces.paper.points[0];
    const correction = correctionFromReferences(image, [
      { kind: 'white-paper', region: { kind: 'point', x, y, radius: r } },
    ]);
    return correctImage(image, correction, { space: 'srgb' });
  }

  test('by lamps alone and by the window alone it looks as it did', async () => {
    const corrected = await fromPaper('kitchen-mixed');
    const names = ['cabinets', 'walls', 'ceiling', 'trim', 'counter', 'backsplash', 'floor'];
    const surfaces = await Promise.all(names.map(async (name) => ({ mask: await mask(name), old: null })));
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
    if (!shares) throw new Error('Expected shares');
    const white = relightTable(
      'srgb',
      'srgb',
      roomView({ spectrum: illuminant('D65'), illuminance: REFERENCE_ILLUMINANCE }),
    );
    const alone = (part: number) =>
      relightApart(corrected, lightApart(shares, { window: white, lamps: white, whole: white, part }));
    await asKept('dusk', corrected);
    await asKept('dusk-lamps-alone', alone(0));
    await asKept('dusk-window-alone', alone(1));
    // The truth of the second, less what lamps in the dark put on the window.
    await asKept('lamps', await fromPaper('kitchen-lamp'));
  });
});
