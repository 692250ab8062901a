import { describe, expect, test } from 'vitest';
import {
  REFERENCE_ILLUMINANCE,
  appearanceInRoom,
  closedRoom,
  deltaE2000,
  illuminant,
  labToLch,
  roomView,
  type RoomSurface,
} from '#lib/colour/index.ts';
import { readTable } from './published.ts';

const D65 = illuminant('D65');
const direct = { spectrum: D65, illuminance: 200 };
const flat = (value: number) => new Float64Array(81).fill(value);
const rows = readTable('target24_reflectance.csv');
const patches = Object.keys(rows[0])
  .filter((column) => column !== 'nm')
  .map((column) => Float64Array.from(rows, (row) => Number(row[column])));
const [skin, , , green] = patches;
const room: RoomSurface[] = [
  { share: 0.5, reflectance: skin, direct: 1.2 },
  { share: 0.2, reflectance: flat(0.85), direct: 0 },
  { share: 0.25, reflectance: green, direct: 1.5 },
];

/** Bounce after bounce: what each surface gets, until nothing is left; the shares are what each sees of the others. */
function bounced(surfaces: readonly RoomSurface[], wavelength: number): number[] {
  const total = surfaces.map(({ direct: part = 1 }) => part);
  let arriving = total.slice();
  for (let bounce = 0; bounce < 200; bounce++) {
    const sent = surfaces.reduce(
      (sum, { share, reflectance }, j) => sum + share * reflectance[wavelength] * arriving[j],
      0,
    );
    arriving = surfaces.map(() => sent);
    arriving.forEach((value, i) => (total[i] += value));
  }
  return total;
}

describe('a room of one grey', () => {
  // Integrating-sphere theory, E = E0 / (1 - rho): worked by hand.
  test.each([
    [0, 1],
    [0.5, 2],
    [0.8, 5],
    [0.9, 10],
  ])('of reflectance %f has %f times its direct light', (rho, times) => {
    const { light, gain, surfaces } = closedRoom([{ share: 1, reflectance: flat(rho) }], direct);
    expect(gain).toBeCloseTo(times, 9);
    expect(light.illuminance).toBeCloseTo(200 * times, 7);
    light.spectrum.forEach((power, i) => expect(power).toBeCloseTo(D65[i] * times, 7));
    // A grey does not colour light.
    expect(deltaE2000(surfaces[0].chip, surfaces[0].wall)).toBeLessThan(1e-6);
  });

  test('with a window of a fifth that gives nothing back has less: 1 / (1 - 0.8 x 0.5)', () => {
    expect(closedRoom([{ share: 0.8, reflectance: flat(0.5) }], direct).gain).toBeCloseTo(1 / 0.6, 9);
  });
});

describe('a room of several colours', () => {
  const result = closedRoom(room, direct);

  test('has the light that bounces add up to', () => {
    for (const i of [4, 20, 40, 60]) {
      const E = bounced(room, i);
      result.surfaces.forEach(({ light }, k) => expect(light.spectrum[i] / D65[i]).toBeCloseTo(E[k], 9));
    }
  });

  test('sends out no more light than comes in: what is swallowed and lost is the direct light', () => {
    for (const i of [10, 40, 70]) {
      const incoming = room.reduce((sum, { share, direct: part = 1 }) => sum + share * part, 0);
      // Each surface takes 1 - rho of its light; the openings see what all surfaces send.
      const taken = room.reduce(
        (sum, { share, reflectance }, k) =>
          sum + share * (1 - reflectance[i]) * (result.surfaces[k].light.spectrum[i] / D65[i]),
        0,
      );
      const sent = room.reduce(
        (sum, { share, reflectance }, k) =>
          sum + share * reflectance[i] * (result.surfaces[k].light.spectrum[i] / D65[i]),
        0,
      );
      expect(taken + 0.05 * sent).toBeCloseTo(incoming, 9);
    }
  });

  test('is the mean of what its surfaces have', () => {
    const mean = room.reduce(
      (sum, { share }, k) => sum + (share / 0.95) * result.surfaces[k].light.illuminance,
      0,
    );
    expect(result.light.illuminance).toBeCloseTo(mean, 7);
  });

  test('lights a surface that no lamp reaches', () => {
    expect(result.surfaces[1].light.illuminance).toBeGreaterThan(0);
    expect(result.surfaces[1].light.illuminance).toBeLessThan(result.surfaces[0].light.illuminance);
  });

  test('does not depend on how a colour is cut into pieces', () => {
    const [first, ...rest] = room;
    const cut = closedRoom([{ ...first, share: 0.2 }, { ...first, share: 0.3 }, ...rest], direct);
    expect(cut.light.illuminance).toBeCloseTo(result.light.illuminance, 9);
    expect(cut.surfaces[1].wall.a).toBeCloseTo(result.surfaces[0].wall.a, 9);
  });
});

describe('a wall beside its chip', () => {
  const bright = { spectrum: D65, illuminance: REFERENCE_ILLUMINANCE };

  test('in a room all of its colour is stronger, and less so to an eye that has settled', () => {
    for (const colour of patches.slice(0, 18)) {
      const [{ chip, wall, settled }] = closedRoom([{ share: 1, reflectance: colour }], bright).surfaces;
      const [onChip, onWall, later] = [chip, wall, settled].map((lab) => labToLch(lab).C);
      expect(onWall).toBeGreaterThan(onChip);
      expect(later).toBeLessThan(onWall);
    }
  });

  test('in a black room is its chip', () => {
    const surfaces = [
      { share: 0.001, reflectance: skin },
      { share: 0.999, reflectance: flat(0) },
    ];
    const [{ chip, wall }] = closedRoom(surfaces, bright).surfaces;
    expect(deltaE2000(chip, wall)).toBeLessThan(0.05);
    const alone = appearanceInRoom(skin, roomView(bright)).lab;
    expect(deltaE2000(chip, alone)).toBeLessThan(0.05);
  });
});

describe('a room that cannot be', () => {
  test.each([
    ['no surface', []],
    [
      'shares above 1',
      [
        { share: 0.7, reflectance: flat(0.5) },
        { share: 0.4, reflectance: flat(0.5) },
      ],
    ],
    ['a negative share', [{ share: -0.1, reflectance: flat(0.5) }]],
    ['a reflectance above 1', [{ share: 1, reflectance: flat(1.1) }]],
    ['nothing that swallows light', [{ share: 1, reflectance: flat(1) }]],
    ['no direct light', [{ share: 1, reflectance: flat(0.5), direct: 0 }]],
  ])('is refused: %s', (_, surfaces) => {
    expect(() => closedRoom(surfaces, direct)).toThrow(RangeError);
  });
});
