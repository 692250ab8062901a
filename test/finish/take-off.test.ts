import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MILLIMETRES, SQUARE_METRES, SPREAD_PER_SQ_FT_PER_GAL, LITRES, takeOff } from '#lib/finish/index.ts';
import { paintNeed } from '#lib/finish/index.ts';
import type { CabinetsPart, CounterPart, Part, TilePart, WallsPart } from '#lib/finish/index.ts';
import { slabFit } from '#lib/finish/slab-fit.ts';
import { tileCount } from '#lib/finish/tile-count.ts';

const named = (name: string) => ({ name, coats: null });
const size = (width: number, height: number, count = 1) => ({ width, height, count });
const walls = (part: Partial<WallsPart>): WallsPart => ({
  ...named('walls'),
  kind: 'walls',
  by: 'walls',
  walls: [size(3200, 2500, 4)],
  openings: [],
  ...part,
});
const cabinets = (part: Partial<CabinetsPart>): CabinetsPart => ({
  ...named('cabinets'),
  kind: 'cabinets',
  faces: [],
  overlay: 0,
  doors: [],
  doorSides: 2,
  drawers: [],
  drawerSides: 1,
  thickness: 0,
  profile: 0,
  sides: [],
  ...part,
});
const tile = (part: Partial<TilePart>): TilePart => ({
  ...named('backsplash'),
  kind: 'tile',
  areas: [size(3000, 600)],
  openings: [],
  tile: { width: 200, height: 100 },
  joint: 2,
  layout: 'straight',
  waste: null,
  perBox: null,
  ...part,
});
const counter = (part: Partial<CounterPart>): CounterPart => ({
  ...named('counter'),
  kind: 'counter',
  pieces: [size(2400, 640)],
  slab: { width: 3000, height: 1400 },
  kerf: 4,
  mayTurn: true,
  ...part,
});
const metric = (...parts: Part[]) => takeOff(parts, { system: 'metric' });
const feet = (value: number) => value * MILLIMETRES.ft;
const squareFeet = (area: number | null) => (area ?? NaN) / SQUARE_METRES['sq ft'];

describe('a published take-off', () => {
  // The Old Farmer's Almanac, How much paint do you need? A room of 10 × 15 ft, 8 ft high: perimeter 50 ft, walls 400 sq ft;
  // two doors of 21 sq ft (3 × 7 ft) and two windows of 15 sq ft (3 × 5 ft) leave 328 sq ft, for which one gallon is enough
  // at 400 sq ft a gallon; ceiling 150 sq ft, one quart covering 100.
  const room = takeOff(
    [
      walls({
        by: 'perimeter',
        walls: [size(feet(50), feet(8))],
        openings: [
          { what: 'door', ...size(feet(3), feet(7), 2) },
          { what: 'window', ...size(feet(3), feet(5), 2) },
        ],
      }),
      { ...named('ceiling'), kind: 'flat', rectangles: [size(feet(15), feet(10))], openings: [] },
    ],
    { system: 'us' },
  );

  test('comes out as printed, line by line', () => {
    expect(squareFeet(room.parts[0].area)).toBeCloseTo(328, 9);
    expect(squareFeet(room.parts[1].area)).toBeCloseTo(150, 9);
    expect(room.parts[0].steps.map(({ words }) => words)).toEqual([
      '1 perimeter times height 50 ft × 8 ft = 400.00 sq ft (37.16 m²)',
      'less 2 doors 3 ft × 7 ft = 42.00 sq ft (3.90 m²)',
      'less 2 windows 3 ft × 5 ft = 30.00 sq ft (2.79 m²)',
    ]);
    expect(room.problems).toEqual([]);
  });

  test('and so does its paint, with nothing lost on the way', () => {
    const need = (area: number | null) =>
      paintNeed({
        role: 'finish coat',
        spreadRate: 400 * SPREAD_PER_SQ_FT_PER_GAL,
        parts: [{ name: 'room', area, relativeSd: 0, coats: 1, application: 'brush and roller', landed: 1 }],
        system: 'us',
        path: 'paints[0]',
      });
    const gallons = need(room.parts[0].area).litres! / LITRES.gal;
    expect(Math.ceil(gallons)).toBe(1);
    expect(gallons).toBeCloseTo(328 / 400, 9);
    expect(need(room.parts[1].area).litres! / LITRES.quart).toBeCloseTo(1.5, 9);
  });
});

describe('walls and flat areas', () => {
  test('small openings stay in, by IS 1200 (Part 13):1994, 3.2.1: up to 0.5 m² each', () => {
    const openings = [
      { what: 'window', ...size(1200, 1000) },
      { what: 'hatch', ...size(1000, 500, 2) },
    ];
    const rule = metric(walls({ openings }));
    expect(rule.area).toBeCloseTo(32 - 1.2, 9);
    expect(rule.parts[0].steps.map(({ words }) => words)).toEqual([
      '4 walls 3.20 × 2.50 m = 32.00 m² (344.45 sq ft)',
      'less 1 window 1.20 × 1.00 m = 1.20 m² (12.92 sq ft)',
      '2 hatches 1.00 × 0.50 m not taken off: 0.50 m² or less each',
    ]);
    const all = takeOff([walls({ openings })], { system: 'metric', smallOpening: 0 });
    expect(all.area).toBeCloseTo(32 - 1.2 - 1, 9);
  });

  test('openings as large as the wall are an error; the wall is counted and the total says so', () => {
    const result = metric(
      walls({ walls: [size(1000, 2000)], openings: [{ what: 'door', ...size(1000, 2000) }] }),
    );
    expect(result.problems).toMatchObject([{ path: 'parts[0].openings', severity: 'error' }]);
    expect(result.area).toBe(2);
    expect(result.words).toContain('not in it: walls: its openings');
  });

  test('areas add up: parts to the whole, lines to their part, and a wall cut in two is the same wall', () => {
    const length = fc.integer({ min: 300, max: 9000 });
    fc.assert(
      fc.property(
        fc.array(fc.tuple(length, length), { minLength: 1, maxLength: 6 }),
        length,
        (sides, cut) => {
          const parts = sides.map(([width, height]) => walls({ walls: [size(width, height)] }));
          const total = metric(...parts);
          expect(total.area).toBeCloseTo(
            parts.reduce((sum, part) => sum + metric(part).area!, 0),
            9,
          );
          const lines = total.parts.flatMap(({ steps }) => steps.map(({ area }) => area));
          expect(total.area).toBeCloseTo(
            lines.reduce((sum, area) => sum + area, 0),
            9,
          );
          const [[width, height]] = sides;
          const halves = walls({ walls: [size(width, height), size(cut, height)] });
          expect(metric(halves).area).toBeCloseTo(
            metric(walls({ walls: [size(width + cut, height)] })).area!,
            9,
          );
        },
      ),
    );
  });
});

describe('cabinets, trim and doors', () => {
  test('cabinets come out as by hand: frame less what is closed, both sides, edges, drawers, ends', () => {
    const result = metric(
      cabinets({
        faces: [size(2000, 800)],
        overlay: 10,
        doors: [size(420, 720, 4)],
        drawers: [size(220, 170, 1)],
        thickness: 20,
        profile: 0.1,
        sides: [size(600, 800, 2)],
      }),
    );
    // 2.0 × 0.8 = 1.6; openings 4 × 0.40 × 0.70 = 1.12 and 0.20 × 0.15 = 0.03; doors 4 × 0.42 × 0.72 × 2 × 1.1 = 2.66112;
    // their edges 4 × 2.28 × 0.02 = 0.1824; drawer 0.22 × 0.17 × 1.1 = 0.04114, edges 0.78 × 0.02 = 0.0156; ends 0.96.
    expect(result.area).toBeCloseTo(1.6 - 1.12 - 0.03 + 2.66112 + 0.1824 + 0.04114 + 0.0156 + 0.96, 9);
    expect(result.problems).toEqual([]);
  });

  test('doors that close more than their fronts are named, and counted themselves', () => {
    const result = metric(cabinets({ faces: [size(500, 500)], doors: [size(600, 700)] }));
    expect(result.problems).toMatchObject([{ path: 'parts[0].faces', severity: 'error' }]);
    expect(result.area).toBeCloseTo(2 * 0.42, 9);
    expect(result.words).toContain('not in it');
  });

  test('trim is length by girth and keeps its length; doors have sides, edges and frames', () => {
    const trim = metric({
      ...named('skirting'),
      kind: 'trim',
      runs: [{ length: 4000, girth: 150, count: 3 }],
    });
    expect(trim.area).toBeCloseTo(1.8, 9);
    expect(trim.length).toBeCloseTo(12, 9);
    const door = metric({
      ...named('door'),
      kind: 'doors',
      leaves: [size(800, 2000)],
      sides: 2,
      thickness: 40,
      frames: [{ length: 4800, girth: 200, count: 1 }],
    });
    // 2 × 1.6 + 5.6 × 0.04 + 4.8 × 0.2
    expect(door.area).toBeCloseTo(3.2 + 0.224 + 0.96, 9);
    expect(door.length).toBeNull();
  });
});

describe('tile', () => {
  test('by area with the share for cuts, in boxes', () => {
    const result = metric(tile({ perBox: 25, waste: 0.1 }));
    // 1.8 m² / (0.202 × 0.102) = 87.4, with 10 % 96.1; rows: 15 of 14.85 columns, a cut one whole, by 6 rows and less is 90.
    expect(result).toMatchObject({ pieces: 97, boxes: 4 });
    expect(result.area).toBeCloseTo(1.8, 9);
  });

  test('rows are counted where a strip is cut from whole tiles: two rows of ten, though the area asks for eighteen', () => {
    // 3.0 × 0.5 m in tiles of 300 mm, joint 3: the second row is 197 mm high and takes a tile each.
    const result = metric(tile({ areas: [size(3000, 500)], tile: { width: 300, height: 300 }, joint: 3 }));
    expect(result.pieces).toBe(20);
    expect(result.parts[0].steps.at(-1)?.words).toContain('laid out in rows: 20');
  });

  test('never fewer than the area holds, more with a wider share, most on the diagonal', () => {
    const side = fc.integer({ min: 300, max: 5000 });
    fc.assert(
      fc.property(side, side, fc.constantFrom(100, 150, 300, 600), (width, height, edge) => {
        const areas = [size(width, height)];
        const options = { tile: { width: edge, height: edge }, joint: 2, net: width * height };
        const count = (layout: TilePart['layout'], waste: number) =>
          tileCount(areas, { ...options, layout, waste });
        const bare = (width * height) / (edge + 2) ** 2;
        for (const layout of ['straight', 'half-bond', 'diagonal'] as const)
          expect(count(layout, 0).tiles).toBeGreaterThanOrEqual(Math.floor(bare));
        expect(count('straight', 0.2).tiles).toBeGreaterThanOrEqual(count('straight', 0.1).tiles);
        expect(count('diagonal', 0.15).byArea).toBeGreaterThanOrEqual(count('straight', 0.1).byArea);
      }),
    );
  });

  test('an area of whole tiles takes exactly those when nothing is cut or broken', () => {
    const areas = [size(5 * 300 + 4 * 3, 2 * 300 + 3)];
    const options = {
      tile: { width: 300, height: 300 },
      joint: 3,
      waste: 0,
      net: areas[0].width * areas[0].height,
    };
    expect(tileCount(areas, { ...options, layout: 'straight' })).toEqual({ tiles: 10, byArea: 10, laid: 10 });
  });
});

describe('counter from slabs', () => {
  const slab = { width: 3000, height: 1400 };

  test('pieces are laid as a saw can cut them, exactly for a few', () => {
    // Two strips of 640 and the saw are 1284 of 1400 deep; a third strip needs a second slab.
    expect(metric(counter({ pieces: [size(2400, 640, 2)] })).slabs).toBe(1);
    expect(metric(counter({ pieces: [size(2400, 640, 3)] })).slabs).toBe(2);
    // By area two of 2900 × 700 fit, but 700 + 4 + 700 is deeper than 1400; without the saw they fit.
    const halves = [size(2900, 700), size(2900, 700)];
    expect(slabFit(halves, { slab, kerf: 4, mayTurn: false })).toMatchObject({
      slabs: 2,
      least: 1,
      proven: true,
    });
    expect(slabFit(halves, { slab, kerf: 0, mayTurn: false })?.slabs).toBe(1);
    // 1500 + 1496 with a saw of 4 fill the width to the millimetre.
    expect(slabFit([size(1500, 1400), size(1496, 1400)], { slab, kerf: 4, mayTurn: false })?.slabs).toBe(1);
    expect(slabFit([size(1500, 1400), size(1497, 1400)], { slab, kerf: 4, mayTurn: false })?.slabs).toBe(2);
  });

  test('a pinwheel cannot be cut edge to edge, so it takes two slabs', () => {
    // Four pieces of 3 × 2 round a square of 1 fill a square of 5 without a straight cut across it; strips of 5 that could be
    // cut off would have to be 3 + 2 long and as deep as each other, or be filled by 1s.
    const pinwheel = [size(300, 200), size(200, 300), size(300, 200), size(200, 300), size(100, 100)];
    const cut = { slab: { width: 500, height: 500 }, kerf: 0, mayTurn: true };
    expect(slabFit(pinwheel, cut)).toMatchObject({ slabs: 2, least: 1, proven: true });
  });

  test('veins that run one way may cost a slab', () => {
    const pieces = [size(1300, 700, 1), size(700, 1300)];
    expect(slabFit(pieces, { slab: { width: 1400, height: 1404 }, kerf: 4, mayTurn: true })?.slabs).toBe(1);
    expect(slabFit(pieces, { slab: { width: 1400, height: 1404 }, kerf: 4, mayTurn: false })?.slabs).toBe(2);
  });

  test('a piece longer than a slab is joined; one deeper than it is an error', () => {
    const long = metric(counter({ pieces: [size(4200, 640)] }));
    expect(long.slabs).toBe(1);
    expect(long.parts[0].steps.some(({ words }) => words.includes('1 joint'))).toBe(true);
    const deep = metric(counter({ pieces: [size(4200, 1500)] }));
    expect(deep.slabs).toBeNull();
    expect(deep.problems).toMatchObject([{ path: 'parts[0].pieces', severity: 'error' }]);
    expect(deep.words).toContain('its slabs, as a piece fits none');
  });

  test('never fewer than the area asks, each piece on one slab, every slab within its area', () => {
    const piece = fc.record({
      width: fc.integer({ min: 100, max: 1500 }),
      height: fc.integer({ min: 100, max: 1400 }),
    });
    fc.assert(
      fc.property(fc.array(piece, { minLength: 1, maxLength: 16 }), fc.boolean(), (pieces, mayTurn) => {
        const fit = slabFit(pieces, { slab, kerf: 3, mayTurn })!;
        expect(fit.slabs).toBeGreaterThanOrEqual(fit.least);
        expect(fit.cuts.flat().sort((a, b) => a - b)).toEqual(pieces.map((_, index) => index));
        for (const cut of fit.cuts) {
          const area = cut.reduce((sum, index) => sum + pieces[index].width * pieces[index].height, 0);
          expect(area).toBeLessThanOrEqual(slab.width * slab.height);
        }
        const more = slabFit([...pieces, { width: 500, height: 500 }], { slab, kerf: 3, mayTurn })!;
        if (fit.proven) expect(more.slabs).toBeGreaterThanOrEqual(fit.slabs);
        if (more.proven) expect(more.slabs).toBeLessThanOrEqual(fit.slabs + 1);
      }),
      { numRuns: 60 },
    );
  });
});

describe('fields that cannot be', () => {
  test('are named by their path, in words; the rest is counted and the total says what it leaves out', () => {
    const result = takeOff(
      [
        walls({
          name: 'long wall',
          walls: [size(3000, 2500), size(-3000, 2500), size(3000, 0), size(NaN, 2500), size(4000, 2500, 1.5)],
          openings: [{ what: 'door', ...size(30_000, 2000) }],
        }),
      ],
      { system: 'metric', path: 'surfaces.k1.parts' },
    );
    expect(result.problems.map(({ path, severity }) => [path, severity])).toEqual([
      ['surfaces.k1.parts[0].walls[1].width', 'error'],
      ['surfaces.k1.parts[0].walls[2].height', 'error'],
      ['surfaces.k1.parts[0].walls[3].width', 'error'],
      ['surfaces.k1.parts[0].walls[4].count', 'error'],
      ['surfaces.k1.parts[0].openings[0].width', 'error'],
    ]);
    expect(result.problems[4].words).toBe(
      'An opening width of 30.00 m cannot be: 10 mm to 12.00 m. Is the unit right?',
    );
    expect(result.area).toBeCloseTo(7.5, 9);
    expect(result.leftOut).toHaveLength(5);
    expect(result.words).toBe(
      'In all 7.50 m² (80.7 sq ft); not in it: long wall: wall, line 2; long wall: wall, line 3; long wall: wall, line 4; long wall: wall, line 5; long wall: door not taken off, line 1.',
    );
  });

  test('what is unusual is counted, with a warning', () => {
    const result = metric(walls({ walls: [size(3000, 7000)] }));
    expect(result.problems).toMatchObject([{ path: 'parts[0].walls[0].height', severity: 'warning' }]);
    expect(result.area).toBeCloseTo(21, 9);
  });

  test('nothing at all gives no number', () => {
    expect(metric()).toMatchObject({ area: null, pieces: null, words: 'Nothing could be counted.' });
    expect(metric(walls({ walls: [] })).area).toBeNull();
    const knobs = metric({ ...named('handles'), kind: 'pieces', items: [{ what: 'knob', count: 0 }] });
    expect(knobs).toMatchObject({ pieces: null, area: null });
    expect(knobs.problems).toMatchObject([{ path: 'parts[0].items[0].count' }]);
  });

  test('an estimate carries its doubt into the total', () => {
    const estimate = {
      ...named('gable'),
      kind: 'estimate',
      area: 10,
      relativeSd: 0.3,
      from: 'from a photo',
    } as const;
    expect(metric(estimate).relativeSd).toBeCloseTo(0.3, 12);
    // 3 m² of doubt on 10 + 32 m².
    expect(metric(estimate, walls({})).relativeSd).toBeCloseTo(3 / 42, 12);
    expect(metric(estimate).words).toContain('give or take 60 %');
  });
});
