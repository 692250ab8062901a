import { checkMask, type Mask, type MaskBox } from './mask.ts';
import type { Point } from './region.ts';
import { checkStroke } from './stroke.ts';

/**
 * What a hand drew that counts as it was drawn, whatever the picture shows, in working pixels: all that a round brush
 * passes over along a line (one point for a tap), or all that lies inside a closed outline of straight sides.
 */
export type HandStroke =
  | {
      readonly mode: 'add' | 'remove';
      readonly by: 'hand';
      readonly points: readonly Point[];
      /** Of the brush, pixels, above 0. */
      readonly radius: number;
    }
  | { readonly mode: 'add' | 'remove'; readonly by: 'outline'; readonly points: readonly Point[] };

/** Scan lines a pixel: cover is exact along x and to a sixteenth of a pixel along y. */
const LINES = 16;

/**
 * A mask with hand work added and taken away, one stroke after the other: the larger share of each pixel where one adds,
 * at most what it leaves free where one takes away, as `maskUnion` and `maskDifference` do. Doing the same twice changes
 * nothing more. Inside an outline is every place it goes round (winding number not zero), so that one that crosses
 * itself has no holes; fewer than three corners, or all on a line, hold nothing. What lies outside the picture is left
 * out; borders keep their place to a thousandth of a pixel for coordinates up to 1e9. The mask given is not changed.
 * Throws TypeError or RangeError for a mask or a stroke that is none: no points, numbers that are not finite, no radius.
 */
export function drawnByHand(mask: Mask, strokes: readonly HandStroke[]): Mask {
  checkMask(mask);
  strokes.forEach((stroke, i) => {
    if (stroke.by !== 'hand' && stroke.by !== 'outline')
      throw new TypeError(`Expected stroke ${i + 1} by hand or by outline, got ${JSON.stringify(stroke)}`);
    checkStroke({ radius: 1, ...stroke }, `stroke ${i + 1}`);
  });
  const data = mask.data.slice();
  for (const stroke of strokes) {
    const box = boxOf(stroke, mask);
    if (!box) continue;
    const cover = coverOf(stroke.by === 'hand' ? aroundLine(stroke) : aroundOutline(stroke.points), box);
    for (let y = 0, c = 0; y < box.height; y++) {
      let p = (box.y + y) * mask.width + box.x;
      for (let x = 0; x < box.width; x++, p++, c++) {
        if (stroke.mode === 'add') data[p] = Math.max(data[p], cover[c]);
        else data[p] = Math.min(data[p], 255 - cover[c]);
      }
    }
  }
  return { ...mask, data };
}

/** The pixels of the picture that a stroke can reach; null where there are none. */
function boxOf(stroke: HandStroke, size: { width: number; height: number }): MaskBox | null {
  const reach = stroke.by === 'hand' ? stroke.radius : 0;
  let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of stroke.points) {
    left = Math.min(left, x);
    right = Math.max(right, x);
    top = Math.min(top, y);
    bottom = Math.max(bottom, y);
  }
  left = Math.max(0, Math.floor(left - reach));
  top = Math.max(0, Math.floor(top - reach));
  right = Math.min(size.width, Math.ceil(right + reach));
  bottom = Math.min(size.height, Math.ceil(bottom + reach));
  return right > left && bottom > top ? { x: left, y: top, width: right - left, height: bottom - top } : null;
}

/** A piece of border that a horizontal line meets once, from `top` (met) to `bottom` (not met). */
interface Border {
  readonly top: number;
  readonly bottom: number;
  /** 1 where it leads down, -1 where it leads up. */
  readonly way: 1 | -1;
  /** Ends of a straight piece; of half a circle its middle, twice. */
  readonly from: Point;
  readonly to: Point;
  /** Of half a circle, below 0 for its left half; 0 for a straight piece. */
  readonly radius: number;
  /** Where the line just looked at meets it. */
  x: number;
}

/** Halves, shares of both ends, and roots one by one: differences and squares of the largest numbers would be none. */
function meeting({ from, to, radius }: Border, y: number): number {
  if (radius !== 0) {
    const [away, reach] = [Math.abs(y - from[1]), Math.abs(radius)];
    const half = Math.sqrt(Math.max(0, reach - away)) * Math.sqrt(reach + away);
    return radius < 0 ? from[0] - half : from[0] + half;
  }
  const part = (y / 2 - from[1] / 2) / (to[1] / 2 - from[1] / 2);
  return from[0] * (1 - part) + to[0] * part;
}

function aroundOutline(corners: readonly Point[]): Border[] {
  return corners.flatMap((from, i): Border[] => {
    const to = corners[(i + 1) % corners.length];
    const [top, bottom] = [Math.min(from[1], to[1]), Math.max(from[1], to[1])];
    return top === bottom ? [] : [{ top, bottom, way: to[1] > from[1] ? 1 : -1, from, to, radius: 0, x: 0 }];
  });
}

/**
 * A disc at every point and a rectangle along every stretch between two. All run the same way round, so that where they lie
 * over each other the winding number only grows, and not zero is any of them.
 */
function aroundLine({ points, radius }: { points: readonly Point[]; radius: number }): Border[] {
  return points.flatMap((point, i) => {
    const [x, y] = point;
    const disc = { top: y - radius, bottom: y + radius, from: point, to: point, x: 0 };
    const found: Border[] = [
      { ...disc, way: 1, radius: -radius },
      { ...disc, way: -1, radius },
    ];
    const [x0, y0] = points[Math.max(0, i - 1)];
    const [dx, dy] = [x / 4 - x0 / 4, y / 4 - y0 / 4];
    const length = Math.hypot(dx, dy);
    if (length === 0) return found;
    const [nx, ny] = [(-dy / length) * radius, (dx / length) * radius];
    const stretch = aroundOutline([
      [x0 + nx, y0 + ny],
      [x + nx, y + ny],
      [x - nx, y - ny],
      [x0 - nx, y0 - ny],
    ]);
    return [...found, ...stretch];
  });
}

/** How much of each pixel of a box lies inside borders, 0-255, row by row. */
function coverOf(borders: Border[], { x: left, y: top, width, height }: MaskBox): Uint8Array {
  const cover = new Uint8Array(width * height);
  borders.sort((a, b) => a.top - b.top);
  let next = 0;
  // From left to right as the last line met them: hardly anything changes its place from one line to the next.
  const met: Border[] = [];
  // What each pixel has more than its left neighbour, in lines.
  const rises = new Float64Array(width + 2);
  const rise = (x: number, by: number) => {
    const at = Math.min(width, Math.max(0, x - left));
    const pixel = Math.floor(at);
    rises[pixel] += by * (1 - (at - pixel));
    rises[pixel + 1] += by * (at - pixel);
  };
  for (let row = 0; row < height; row++) {
    rises.fill(0);
    for (let line = 0; line < LINES; line++) {
      const y = top + row + (line + 0.5) / LINES;
      while (next < borders.length && borders[next].top <= y) met.push(borders[next++]);
      let count = 0;
      for (const border of met) {
        if (border.bottom <= y) continue;
        border.x = meeting(border, y);
        let at = count++;
        for (; at > 0 && met[at - 1].x > border.x; at--) met[at] = met[at - 1];
        met[at] = border;
      }
      met.length = count;
      let [turns, from] = [0, 0];
      for (const { way, x } of met) {
        if (turns === 0) from = x;
        turns += way;
        if (turns === 0 && x > from) {
          rise(from, 1);
          rise(x, -1);
        }
      }
    }
    for (let x = 0, sum = 0, c = row * width; x < width; x++, c++) {
      sum += rises[x];
      cover[c] = Math.round(255 * Math.min(1, Math.max(0, sum / LINES)));
    }
  }
  return cover;
}
