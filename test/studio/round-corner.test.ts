import path from 'node:path';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { applyEdit, setting } from '#lib/job/index.ts';
import type { Mask, PlaneCorners, RealPlane } from '#lib/photo/index.ts';
import { goesRoundCorner, otherWall } from '#lib/studio/plane-corners.ts';
import { kitchen } from '../job/kitchen.ts';

const MASKS = path.resolve(import.meta.dirname, '../fixtures/sample/masks');
const [WIDTH, HEIGHT, FOCAL] = [480, 320, 330];

/** A pinhole camera in a room with a wall 4 m ahead that ends at a corner, where another comes towards the camera; metres. */
interface View {
  /** How far left of the corner's wall, and how far ahead, the camera stands. */
  readonly x: number;
  readonly z: number;
  /** Degrees it is turned to the right. */
  readonly turn: number;
}

const ray = ({ turn }: View, px: number, py: number) => {
  const [u, v] = [(px - WIDTH / 2) / FOCAL, (py - HEIGHT / 2) / FOCAL];
  const [c, s] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
  return { x: c * u + s, y: -v, z: c - s * u };
};

/** Where a point of the wall ahead lies in the picture. */
function seenAt({ x, z, turn }: View, along: number, up: number): readonly [number, number] {
  const [c, s] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
  const [dx, dz] = [along - x, 4 - z];
  const depth = s * dx + c * dz;
  return [WIDTH / 2 + (FOCAL * (c * dx - s * dz)) / depth, HEIGHT / 2 - (FOCAL * (up - EYE)) / depth];
}

const EYE = 1.5;
const BAND = [0.9, 1.5] as const;

/** A band of tiles as the camera sees it: on the wall ahead alone, or round the corner too. */
function band(view: View, round: boolean): Mask {
  const data = new Uint8Array(WIDTH * HEIGHT);
  for (let p = 0; p < data.length; p += 1) {
    const d = ray(view, (p % WIDTH) + 0.5, Math.floor(p / WIDTH) + 0.5);
    const ahead = (4 - view.z) / d.z;
    const on = d.z > 0 && view.x + ahead * d.x <= 0;
    const side = -view.x / d.x;
    const way = on ? ahead : round && d.x > 0 && side > 0 ? side : null;
    const up = way === null ? -1 : EYE + way * d.y;
    data[p] = up >= BAND[0] && up <= BAND[1] ? 255 : 0;
  }
  return { width: WIDTH, height: HEIGHT, data };
}

/** Four corners of a stretch of that band on the wall ahead, metres left of the corner. */
function rectangle(view: View, [from, to]: readonly [number, number]): RealPlane {
  const [low, high] = BAND;
  const corners: PlaneCorners = [
    seenAt(view, from, high),
    seenAt(view, to, high),
    seenAt(view, to, low),
    seenAt(view, from, low),
  ] as unknown as PlaneCorners;
  return { corners, width: 1000 * (to - from), height: 1000 * (high - low) };
}

const VIEWS: readonly View[] = [
  { x: -1.6, z: 0.5, turn: 0 },
  { x: -2, z: 0.5, turn: 20 },
  { x: -2.5, z: 1, turn: 35 },
  { x: -1.2, z: 1.5, turn: 15 },
];

describe('whether a surface goes round a corner that its four corners leave out', () => {
  test('is told wherever the camera stands, and not of a wall alone, however far it runs', () => {
    for (const view of VIEWS)
      for (const stretch of [
        [-2, -0.4],
        [-1.4, -0.6],
      ] as const) {
        const plane = rectangle(view, stretch);
        expect(goesRoundCorner(plane, band(view, true)), JSON.stringify(view)).toBe(true);
        expect(goesRoundCorner(plane, band(view, false)), JSON.stringify(view)).toBe(false);
      }
  });

  test('is told of the tiles of the sample kitchen, and not of a part over the hob that is higher', async () => {
    const { data, info } = await sharp(path.join(MASKS, 'backsplash.png'))
      .toColourspace('b-w')
      .raw()
      .toBuffer({ resolveWithObject: true });
    const tiles = { width: info.width, height: info.height, data: new Uint8Array(data) };
    // On the long wall, between the cupboard and the hob and over more of it.
    for (const right of [640, 1040]) {
      const corners: PlaneCorners = [
        [400, 367],
        [right, 367],
        [right, 460],
        [400, 460],
      ] as const;
      const plane = { corners, width: 1000, height: 400 };
      expect(goesRoundCorner(plane, tiles)).toBe(true);
      const wall = { ...tiles, data: tiles.data.map((value, p) => (p % tiles.width < 1100 ? value : 0)) };
      expect(goesRoundCorner(plane, wall)).toBe(false);
    }
  });

  test('is not told of corners that make no rectangle, and of nothing marked', () => {
    const plane = rectangle(VIEWS[1], [-2, -0.4]);
    const [a, b, c, d] = plane.corners;
    expect(goesRoundCorner({ ...plane, corners: [a, c, b, d] }, band(VIEWS[1], true))).toBe(false);
    const nothing = { ...band(VIEWS[1], true), data: new Uint8Array(WIDTH * HEIGHT) };
    expect(goesRoundCorner(plane, nothing)).toBe(false);
  });
});

test('the other wall is a surface of the same kind with the same candidates, and has sizes of its own', () => {
  const job = kitchen();
  job.surfaces.cabinets.area = 12;
  const edit = setting(
    job,
    'add',
    otherWall(job, job.surfaces.cabinets, 'other').map(([at, value]) => [at, value]),
  );
  const { cabinets, other } = applyEdit(job, edit).surfaces;
  expect(other).toMatchObject({ id: 'other', kind: cabinets.kind, roomId: cabinets.roomId });
  expect(other.candidateIds).toEqual(cabinets.candidateIds);
  expect(other).not.toHaveProperty('area');
  expect(other.order).toBeGreaterThan(cabinets.order);
});
