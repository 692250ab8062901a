import { describe, expect, test } from 'vitest';
import { illuminant, WAVELENGTHS, type RoomLight } from '#lib/colour/index.ts';
import {
  DEFAULT_CRITERIA,
  emptyJob,
  type Job,
  type Room,
  type Surface,
  type Swatch,
} from '#lib/job/index.ts';
import {
  LARGE_AREAS,
  paintedAreas,
  roomSize,
  sharesOf,
  triable,
  wallLight,
  type PaintedArea,
  type RoomSize,
} from '#lib/studio/wall-light.ts';

const DAYLIGHT: RoomLight = { spectrum: illuminant('D65'), illuminance: 300 };
const SIZE: RoomSize = { floorArea: 16, height: 2.5, windowArea: 0, reflectance: 0.5, known: true };

/** A smooth reflectance that rises or falls along the spectrum, or has a hump. */
const curve = (of: (wavelength: number) => number) => Float64Array.from(WAVELENGTHS, of);
const GREY = (value: number) => curve(() => value);
const RED = curve((nm) => 0.15 + 0.65 / (1 + Math.exp((590 - nm) / 20)));
const BLUE = curve((nm) => 0.15 + 0.65 / (1 + Math.exp((nm - 490) / 20)));
const GREEN = curve((nm) => 0.15 + 0.6 * Math.exp(-(((nm - 535) / 40) ** 2)));

function areas(walls: Float64Array, others = GREY(0.5)): PaintedArea[] {
  const shares = sharesOf(SIZE);
  return LARGE_AREAS.map((area) => ({
    area,
    share: shares[area],
    reflectance: area === 'walls' ? walls : others,
    finish: area,
  }));
}

const chroma = ({ a, b }: { a: number; b: number }) => Math.hypot(a, b);

describe('shares of a room', () => {
  test('are those of a square box by area, its windows an opening in the walls', () => {
    // 4 m by 4 m, 2.5 m high: walls 4 x 10 m2, floor and ceiling 16 m2 each, 72 m2 together; a window of 3.6 m2 is 5 %.
    const plain = sharesOf(SIZE);
    expect(plain.walls).toBeCloseTo(40 / 72, 12);
    expect(plain.floor).toBeCloseTo(16 / 72, 12);
    expect(plain.ceiling).toBeCloseTo(16 / 72, 12);
    const open = sharesOf({ ...SIZE, windowArea: 3.6 });
    expect(open.walls).toBeCloseTo(40 / 72 - 0.05, 12);
    expect(open.walls + open.ceiling + open.floor).toBeCloseTo(0.95, 12);
  });

  test('leave some wall however large the windows are said to be', () => {
    expect(sharesOf({ ...SIZE, windowArea: 500 }).walls).toBeCloseTo(4 / 72, 12);
  });

  test('are those of a usual room where its size is not known', () => {
    expect(roomSize({})).toMatchObject({ known: false, windowArea: 0 });
  });
});

describe('light in a painted room', () => {
  test('is what was worked out for the room where everything is the grey that was taken for it', () => {
    const { light, lightWords, levelWords, areas: found } = wallLight(areas(GREY(0.5)), DAYLIGHT, SIZE);
    expect(light.illuminance).toBeCloseTo(300, 6);
    expect(lightWords).toBe('The light stays at 6,500 K.');
    expect(levelWords).toMatch(/^There is as much of it as/);
    for (const { most, words } of found) {
      expect(most).toBeLessThan(1e-6);
      expect(words).toBe('no visible difference');
    }
  });

  // Integrating sphere, E = E0 / (1 - rho): 0.5 to 0.8 gives (1 - 0.5) / (1 - 0.8) = 2.5 times as much, 0.2 gives 0.625.
  test('grows and falls with reflectance as in an integrating sphere', () => {
    const light = wallLight(areas(GREY(0.8), GREY(0.8)), DAYLIGHT, SIZE);
    expect(light.light.illuminance).toBeCloseTo(750, 6);
    expect(light.levelWords).toMatch(/^There is 150 % more/);
    expect(wallLight(areas(GREY(0.2), GREY(0.2)), DAYLIGHT, SIZE).levelWords).toMatch(
      /^There is 3[78] % less/,
    );
  });

  test('turns towards the colour of the walls', () => {
    expect(wallLight(areas(RED), DAYLIGHT, SIZE).lightWords).toMatch(/^The light turns warmer, from 6,500 K/);
    expect(wallLight(areas(BLUE), DAYLIGHT, SIZE).lightWords).toMatch(
      /^The light turns cooler, from 6,500 K/,
    );
    expect(wallLight(areas(GREEN), DAYLIGHT, SIZE).lightWords).toMatch(/greenish\.$/);
  });

  // Light between surfaces of one colour deepens it: Langer 1999, J. Opt. Soc. Am. A 16(1), from memory.
  test('makes a coloured wall stronger than its chip', () => {
    for (const paint of [RED, BLUE, GREEN]) {
      const [wall] = wallLight(areas(paint), DAYLIGHT, SIZE).areas;
      expect(chroma(wall.wall)).toBeGreaterThan(chroma(wall.chip) + 1);
      expect(wall.least).toBeLessThanOrEqual(wall.most);
      expect(wall.most).toBeGreaterThan(1);
    }
  });
});

describe('areas of a job', () => {
  const room: Room = { id: 'r', order: 1, name: 'Room', note: '' };
  const covariance = [1, 0, 0, 0, 1, 0, 0, 0, 1];
  const swatch = (id: string, order: number, fields: Partial<Swatch> = {}): Swatch => ({
    id,
    order,
    kind: 'paint',
    maker: '',
    code: '',
    name: `Paint ${id}`,
    sheen: null,
    price: null,
    leadTimeDays: null,
    publishedLrv: null,
    note: '',
    samples: {
      s: {
        id: 's',
        order: 1,
        source: 'typed',
        colours: [{ lab: { L: 70, a: 4, b: 12 }, covariance, share: 1 }],
        reflectance: null,
        from: null,
        note: '',
      },
    },
    ...fields,
  });
  const surface = (id: Surface['kind'], fields: Partial<Surface>): Surface => ({
    id,
    order: 1,
    roomId: 'r',
    name: id,
    kind: id,
    state: 'open',
    swatchId: null,
    candidateIds: {},
    target: null,
    criteria: DEFAULT_CRITERIA,
    ...fields,
  });
  const job: Job = {
    ...emptyJob('Room'),
    rooms: { r: room },
    swatches: {
      a: swatch('a', 1),
      b: swatch('b', 2),
      stone: swatch('stone', 3, { kind: 'stone' }),
      blank: swatch('blank', 4, { samples: {} }),
    },
    surfaces: {
      walls: surface('walls', { candidateIds: { b: true, blank: true } }),
      floor: surface('floor', { state: 'fixed', swatchId: 'stone' }),
    },
  };

  test('walls are tried with what is considered for them first, then with other paints that have a colour', () => {
    const { meant, others } = triable(job, room, 'walls');
    expect(meant.map(({ id }) => id)).toEqual(['b']);
    expect(others.map(({ id }) => id)).toEqual(['a']);
  });

  test('what is not known of ceiling or floor is said', () => {
    const found = paintedAreas(job, room, 'a');
    expect(found?.map(({ area }) => area)).toEqual([...LARGE_AREAS]);
    expect(found?.[0].finish).toBe('Paint a');
    expect(found?.[1].finish).toMatch(/not known$/);
    expect(found?.[2].finish).toBe('Paint stone');
  });

  test('there are none without a colour for the walls', () => {
    expect(paintedAreas(job, room, null)).toBeNull();
    expect(paintedAreas(job, room, 'blank')).toBeNull();
  });
});
