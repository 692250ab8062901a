import type { FinishInput } from '#lib/finish/index.ts';
import { describe, expect, test } from 'vitest';
import { doubtOval } from '../../src/lib/studio/doubt-oval.ts';
import { pointLabels, spreadApart } from '../../src/lib/studio/point-labels.ts';
import { hexColour, plottedFinishes, plottedSurfaces, schemesCsv } from '../../src/lib/studio/scheme-plot.ts';
import type { TableFinish } from '../../src/lib/studio/pair-table.ts';

const covariance = [1, 0, 0, 0, 4, 0, 0, 0, 1];

function finish(id: string, colours: readonly (readonly [L: number, a: number, b: number, share: number])[]) {
  return {
    id,
    name: id,
    colours: colours.map(([L, a, b, share]) => ({ estimate: { lab: { L, a, b }, covariance }, share })),
  } satisfies FinishInput;
}

function on(surfaceId: string, input: FinishInput | null): TableFinish {
  return {
    ...{ surfaceId, surfaceName: surfaceId, state: 'open', busyness: null },
    ...{ finish: input, title: input?.name ?? '' },
  };
}

const grey = finish('Grey, "plain"', [[50, 0, 0, 1]]);
const stone = finish('Stone', [
  [60, 2, 8, 0.7],
  [20, 0, 4, 0.3],
]);

describe('the numbers of the plots', () => {
  // Y from L*, CIE 15:2018: 18.42 for 50, 28.12 for 60, 2.99 for 20.
  test('are those of the colours; of a pattern by area', () => {
    const [one, two] = plottedFinishes({ name: 'A', finishes: [on('walls', grey), on('counter', stone)] });
    expect(one.lrv).toBeCloseTo(18.42, 2);
    expect(one.colours).toEqual([]);
    expect(two.lab.L).toBeCloseTo(48, 10);
    expect(two.lab.b).toBeCloseTo(6.8, 10);
    expect(two.lrv).toBeCloseTo(0.7 * 28.12 + 0.3 * 2.99, 2);
    expect(two.colours).toHaveLength(2);
  });

  test('a second scheme is drawn where it has another finish, and a surface without any is left out', () => {
    const first = { name: 'A', finishes: [on('walls', grey), on('counter', stone), on('trim', null)] };
    const second = { name: 'B', finishes: [on('walls', grey), on('counter', grey), on('doors', stone)] };
    const found = plottedSurfaces([first, second]).map((entry) => [
      entry.surfaceId,
      entry.first?.title ?? null,
      entry.second?.title ?? null,
    ]);
    expect(found).toEqual([
      ['walls', 'Grey, "plain"', null],
      ['counter', 'Stone', 'Grey, "plain"'],
      ['doors', null, 'Stone'],
    ]);
    expect(plottedSurfaces([first]).every((entry) => entry.second === null)).toBe(true);
  });

  test('are filed as RFC 4180 has it, every finish of every scheme', () => {
    const text = schemesCsv([
      { name: 'A', finishes: [on('walls', grey)] },
      { name: 'B', finishes: [on('walls', stone)] },
    ]);
    const lines = text.split('\r\n');
    expect(lines).toHaveLength(4);
    expect(lines[0]).toBe('scheme,surface,finish,L*,a*,b*,C*,h,LRV');
    expect(lines[1]).toMatch(/^A,walls,"Grey, ""plain""",50,0,0,0,0,18\.4\d*$/);
    expect(lines[2]).toMatch(/^B,walls,Stone,48,/);
  });

  // IEC 61966-2-1: the ends of the grey axis, and the red of sRGB, whose CIELAB for D65 is 53.2, 80.1, 67.2 (from memory).
  test('colours are written so that every reader of drawings knows them', () => {
    expect(hexColour({ L: 0, a: 0, b: 0 })).toBe('#000000');
    expect(hexColour({ L: 100, a: 0, b: 0 })).toBe('#ffffff');
    expect(hexColour({ L: 53.23, a: 80.1, b: 67.22 })).toMatch(/^#f[ef]0[0-4]0[0-4]$/);
  });

  // 5.991: 95 % point of chi-squared with two degrees of freedom, as in printed tables.
  test('the oval of a doubt holds 95 in 100, turned with it', () => {
    const upright = doubtOval(covariance);
    expect(upright.major).toBeCloseTo(Math.sqrt(5.991 * 4), 3);
    expect(upright.minor).toBeCloseTo(Math.sqrt(5.991), 3);
    expect(upright.angle).toBeCloseTo(0, 10);
    // The same turned by 45 degrees.
    const turned = doubtOval([1, 0, 0, 0, 2.5, 1.5, 0, 1.5, 2.5]);
    expect(turned.major).toBeCloseTo(upright.major, 10);
    expect(turned.angle).toBeCloseTo(45, 10);
  });
});

describe('names at points', () => {
  const space = { left: 0, right: 320, top: 0, bottom: 320, letter: 7, line: 16 };
  const names = [
    'Cabinets',
    'Counter',
    'Backsplash',
    'Walls',
    'Floor',
    'Handles',
    'Trim',
    'Doors',
    'Ceiling',
    'Island',
  ];
  // All near grey, as in most rooms.
  const crowd = names.map((name, i) => ({
    ...{ name, radius: 7 },
    x: 160 + 14 * Math.cos(2.4 * i) * Math.sqrt(i),
    y: 160 + 14 * Math.sin(2.4 * i) * Math.sqrt(i),
  }));

  test('do not meet and stay inside, however crowded; away from its point a name has a line to it', () => {
    const labels = pointLabels(crowd, space);
    const boxes = labels.map(({ x, y }, i) => ({
      ...{ left: x, right: x + names[i].length * space.letter },
      ...{ top: y - space.line * 0.75, bottom: y + space.line * 0.25 },
    }));
    for (const [i, box] of boxes.entries()) {
      expect(box.left).toBeGreaterThanOrEqual(space.left);
      expect(box.right).toBeLessThanOrEqual(space.right);
      expect(box.top).toBeGreaterThanOrEqual(space.top);
      expect(box.bottom).toBeLessThanOrEqual(space.bottom);
      for (const other of boxes.slice(i + 1)) {
        const apart =
          box.right <= other.left ||
          other.right <= box.left ||
          box.bottom <= other.top ||
          other.bottom <= box.top;
        expect(apart).toBe(true);
      }
      const { leader } = labels[i];
      const gap = Math.hypot(
        Math.max(0, box.left - crowd[i].x, crowd[i].x - box.right),
        Math.max(0, box.top - crowd[i].y, crowd[i].y - box.bottom),
      );
      if (gap > 7 + 9) expect(leader).not.toBeNull();
      if (leader) expect(Math.hypot(leader.x1 - crowd[i].x, leader.y1 - crowd[i].y)).toBeCloseTo(7, 6);
    }
  });

  test('a lone point has its name at its side, without a line', () => {
    const [label] = pointLabels([{ name: 'Walls', x: 100, y: 100, radius: 7 }], space);
    expect(label.leader).toBeNull();
    expect(Math.hypot(label.x - 100, label.y - 100)).toBeLessThan(60);
  });
});

describe('heights spread apart', () => {
  const room = { gap: 4, low: 0, high: 100 };

  test('stay where they are when they do not meet', () => {
    expect(spreadApart([80, 10, 50], room)).toEqual([80, 10, 50]);
    expect(spreadApart([], room)).toEqual([]);
  });

  test('move as little as can be: two at one place part to both sides', () => {
    expect(spreadApart([30, 30], room)).toEqual([28, 32]);
    expect(spreadApart([0, 0], room)).toEqual([0, 4]);
    expect(spreadApart([100, 99], room)).toEqual([100, 96]);
  });

  test('keep order, gap and room, and share too little room evenly', () => {
    const wanted = [50, 51, 49, 50.5, 2, 99, 98, 97];
    const found = spreadApart(wanted, room);
    const order = wanted.map((_, i) => i).toSorted((i, j) => wanted[i] - wanted[j]);
    for (const [k, i] of order.entries()) {
      expect(found[i]).toBeGreaterThanOrEqual(0);
      expect(found[i]).toBeLessThanOrEqual(100);
      if (k > 0) expect(found[i] - found[order[k - 1]]).toBeGreaterThanOrEqual(4 - 1e-9);
    }
    expect(spreadApart([5, 5, 5], { gap: 40, low: 0, high: 20 })).toEqual([0, 10, 20]);
  });
});
