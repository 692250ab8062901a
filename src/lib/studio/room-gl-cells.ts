import type { SurfaceLayers } from '#lib/photo/index.ts';
import type { ViewTransform } from './room-picture.ts';

/**
 * Which parts of a picture finishes change, as rectangles that a graphics processor draws: only those are painted, each
 * surface in its own, and nothing in between. Pure.
 */

/** Side of a cell of a picture or a canvas, pixels. */
export const CELL = 16;
/** Cells in a row of the textures in which surfaces that share a cell are added up. */
const SLOTS_ACROSS = 64;
/** Numbers of a rectangle: left, top, width, height, and what leads from there to its slot. */
export const RECT = 6;

interface Size {
  readonly width: number;
  readonly height: number;
}

/** Rectangles that are drawn in one go. */
export interface CellDraw {
  /** Whose change: its place in the list that was handed in. */
  readonly surface: number;
  /** Surfaces that came before it in these cells: what they make of them stands in their slots. */
  readonly round: number;
  /** Whether it is the last one there, with which the cells are painted. */
  readonly last: boolean;
  /** Whether all they show is the surface, and all of it whole. */
  readonly whole: boolean;
  /** In `rects`, counted in rectangles. */
  readonly first: number;
  readonly count: number;
}

export interface CellPlan {
  /** By round. */
  readonly draws: readonly CellDraw[];
  /** Stride `RECT`. */
  readonly rects: Int16Array;
  /** Size of a texture that has a slot for each shared cell; 0 by 0 where there is none. */
  readonly slots: Size;
}

const columnsOf = ({ width }: Size) => Math.ceil(width / CELL);

/** Cells of a picture in which a surface covers any pixel, rising, and whether it covers all of them wholly. */
export interface CoveredCells {
  readonly cells: Int32Array;
  readonly whole: Uint8Array;
}

export function coveredCells({ box, coverage, picture }: SurfaceLayers): CoveredCells {
  const columns = columnsOf(picture);
  const covered = new Uint8Array(columns * Math.ceil(picture.height / CELL));
  const wholly = new Uint16Array(covered.length);
  for (let row = 0, o = 0; row < box.height; row++) {
    const first = Math.floor((box.y + row) / CELL) * columns;
    for (let x = box.x; x < box.x + box.width; x++, o++) {
      if (coverage[o] === 0) continue;
      const cell = first + Math.floor(x / CELL);
      covered[cell] = 1;
      if (coverage[o] === 255) wholly[cell]++;
    }
  }
  const cells = numbersOf(covered);
  const whole = Uint8Array.from(cells, (cell) => {
    const { width, height } = rectOf(cell, picture);
    return wholly[cell] === width * height ? 1 : 0;
  });
  return { cells, whole };
}

/**
 * How surfaces that cover those cells are drawn. A cell that one has alone is painted at once. Where several meet, one
 * after the other adds its change to the sum of those before, at full precision, and the last one paints.
 */
export function cellPlan(picture: Size, covered: readonly CoveredCells[]): CellPlan {
  const owners = new Map<number, number[]>();
  const wholes = new Set<number>();
  covered.forEach(({ cells, whole }, k) => {
    cells.forEach((cell, n) => {
      const known = owners.get(cell);
      if (known) known.push(k);
      else owners.set(cell, [k]);
      if (whole[n]) wholes.add(cell);
    });
  });
  const groups = new Map<string, Omit<CellDraw, 'first' | 'count'> & { readonly rects: number[] }>();
  const groupOf = (draw: Omit<CellDraw, 'first' | 'count'>) => {
    const key = Object.values(draw).join(' ');
    const group = groups.get(key) ?? { ...draw, rects: [] };
    groups.set(key, group);
    return group.rects;
  };
  let shared = 0;
  for (const [cell, own] of [...owners].sort(([a], [b]) => a - b)) {
    const { x, y, width, height } = rectOf(cell, picture);
    if (own.length === 1) {
      const whole = wholes.has(cell);
      addRun(groupOf({ surface: own[0], round: 0, last: true, whole }), [x, y, width, height]);
    } else {
      const slotX = CELL * (shared % SLOTS_ACROSS);
      const slotY = CELL * Math.floor(shared / SLOTS_ACROSS);
      shared++;
      own.forEach((surface, round) =>
        groupOf({ surface, round, last: round === own.length - 1, whole: false }).push(
          ...[x, y, width, height, slotX - x, slotY - y],
        ),
      );
    }
  }
  const rects: number[] = [];
  const draws = [...groups.values()]
    .sort((a, b) => a.round - b.round)
    .map(({ rects: own, ...draw }) => {
      const first = rects.length / RECT;
      for (const number of own) rects.push(number);
      return { ...draw, first, count: own.length / RECT };
    });
  const slots = {
    width: CELL * Math.min(SLOTS_ACROSS, shared),
    height: CELL * Math.ceil(shared / SLOTS_ACROSS),
  };
  return { draws, rects: Int16Array.from(rects), slots };
}

/**
 * The rectangles of a canvas that show any of those cells of a picture, from a column of the canvas on. They are counted
 * from its bottom, as a graphics processor does; their slots mean nothing.
 */
export function seenRects(
  { picture, cells }: { readonly picture: Size; readonly cells: readonly Int32Array[] },
  { width, height, view, from }: Size & { readonly view: ViewTransform; readonly from: number },
): Int16Array {
  const columns = columnsOf(picture);
  const across = Math.ceil(width / CELL);
  const down = Math.ceil(height / CELL);
  const seen = new Uint8Array(across * down);
  const { scale } = view;
  // As far as a pixel of the canvas reads: its own footprint, or enlarged the neighbours it lies between.
  const more = 1 + Math.max(0, scale);
  const span = (at: number, most: number, shift: number) => [
    Math.floor(Math.max(0, scale * at + shift - more) / CELL),
    Math.floor(Math.min(most - 1, scale * (at + CELL) + shift + more) / CELL),
  ];
  for (const cell of cells.flatMap((own) => [...own])) {
    const [left, right] = span(CELL * (cell % columns), width, view.x);
    const [top, bottom] = span(CELL * Math.floor(cell / columns), height, view.y);
    for (let y = top; y <= bottom; y++) for (let x = left; x <= right; x++) seen[y * across + x] = 1;
  }
  const rects: number[] = [];
  for (const cell of numbersOf(seen)) {
    const left = CELL * (cell % across);
    const x = Math.max(left, from);
    const right = Math.min(left + CELL, width);
    const top = CELL * Math.floor(cell / across);
    const tall = Math.min(CELL, height - top);
    if (x < right) addRun(rects, [x, height - top - tall, right - x, tall]);
  }
  return Int16Array.from(rects);
}

/** Where a rectangle goes on to the right of the last one it becomes part of it. */
function addRun(rects: number[], [x, y, width, height]: readonly [number, number, number, number]): void {
  const last = rects.length - RECT;
  if (last >= 0 && rects[last + 1] === y && rects[last] + rects[last + 2] === x) rects[last + 2] += width;
  else rects.push(x, y, width, height, 0, 0);
}

function rectOf(cell: number, picture: Size) {
  const columns = columnsOf(picture);
  const x = CELL * (cell % columns);
  const y = CELL * Math.floor(cell / columns);
  return { x, y, width: Math.min(CELL, picture.width - x), height: Math.min(CELL, picture.height - y) };
}

function numbersOf(flags: Uint8Array): Int32Array {
  const numbers = new Int32Array(flags.reduce((sum, flag) => sum + flag, 0));
  for (let i = 0, n = 0; n < numbers.length; i++) if (flags[i]) numbers[n++] = i;
  return numbers;
}
