import type { Point } from './region.ts';

/** A part of a picture as 0/1 per pixel, with its own small frame: pixel (x, y) of it is (x + left, y + top). */
export interface Mask {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly top: number;
  readonly data: Uint8Array;
}

/** A mask of the given pixels (y * pictureWidth + x) with an empty margin of one pixel all round. */
export function maskOf(pixels: Int32Array, pictureWidth: number): Mask {
  let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const p of pixels) {
    const x = p % pictureWidth;
    const y = (p - x) / pictureWidth;
    if (x < left) left = x;
    if (x > right) right = x;
    if (y < top) top = y;
    if (y > bottom) bottom = y;
  }
  const width = right - left + 3;
  const height = bottom - top + 3;
  const data = new Uint8Array(width * height);
  for (const p of pixels) {
    const x = p % pictureWidth;
    const y = (p - x) / pictureWidth;
    data[(y - top + 1) * width + (x - left + 1)] = 1;
  }
  return { width, height, left: left - 1, top: top - 1, data };
}

/** Number of pixels set. */
export function areaOfMask(mask: Mask): number {
  let n = 0;
  for (const v of mask.data) n += v;
  return n;
}

/** The same mask with everything it encloses set too. */
export function filled(mask: Mask): Mask {
  const { width, height } = mask;
  const data = new Uint8Array(width * height).fill(1);
  const stack = [0];
  data[0] = 0;
  while (stack.length > 0) {
    const p = stack.pop()!;
    const x = p % width;
    const visit = (q: number) => {
      if (data[q] === 1 && mask.data[q] === 0) {
        data[q] = 0;
        stack.push(q);
      }
    };
    if (x > 0) visit(p - 1);
    if (x + 1 < width) visit(p + 1);
    if (p >= width) visit(p - width);
    if (p + width < width * height) visit(p + width);
  }
  return { ...mask, data };
}

/** The largest part that hangs together (4 neighbours); the first in reading order among equals. */
export function largestPart(mask: Mask): Mask {
  const { width, height } = mask;
  const label = new Int32Array(width * height);
  let [best, bestSize, next] = [0, 0, 0];
  const stack: number[] = [];
  for (let s = 0; s < label.length; s++) {
    if (mask.data[s] === 0 || label[s] !== 0) continue;
    next++;
    label[s] = next;
    stack.push(s);
    let size = 0;
    while (stack.length > 0) {
      const p = stack.pop()!;
      size++;
      for (const q of [p - 1, p + 1, p - width, p + width])
        if (q >= 0 && q < label.length && mask.data[q] === 1 && label[q] === 0) {
          label[q] = next;
          stack.push(q);
        }
    }
    if (size > bestSize) [best, bestSize] = [next, size];
  }
  const data = new Uint8Array(label.length);
  if (best > 0) for (let p = 0; p < label.length; p++) data[p] = label[p] === best ? 1 : 0;
  return { ...mask, data };
}

/**
 * Distance of each set pixel's centre from the nearest unset one's, pixels, within 8 %: two sweeps with steps of
 * 3 and 4 thirds (Borgefors 1986, Computer Vision, Graphics, and Image Processing 34(3), 344-371). What lies outside
 * the mask's frame counts as set.
 */
export function depthOf(mask: { width: number; height: number; data: Uint8Array }): Float32Array {
  const { width, height, data } = mask;
  const far = 30000;
  const d = new Int32Array(width * height);
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      if (data[p] === 0) continue;
      let least = far;
      if (x > 0) least = Math.min(least, d[p - 1] + 3);
      if (y > 0) {
        least = Math.min(least, d[p - width] + 3);
        if (x > 0) least = Math.min(least, d[p - width - 1] + 4);
        if (x + 1 < width) least = Math.min(least, d[p - width + 1] + 4);
      }
      d[p] = least;
    }
  for (let y = height - 1, p = width * height - 1; y >= 0; y--)
    for (let x = width - 1; x >= 0; x--, p--) {
      let least = d[p];
      if (least === 0) continue;
      if (x + 1 < width) least = Math.min(least, d[p + 1] + 3);
      if (y + 1 < height) {
        least = Math.min(least, d[p + width] + 3);
        if (x > 0) least = Math.min(least, d[p + width - 1] + 4);
        if (x + 1 < width) least = Math.min(least, d[p + width + 1] + 4);
      }
      d[p] = least;
    }
  return Float32Array.from(d, (v) => v / 3);
}

/**
 * The outer outline of a mask that hangs together, along pixel edges, clockwise on screen, in the picture's
 * pixels. Where two set pixels meet at a corner only, the outline keeps them apart.
 */
export function outlineOf(mask: Mask): Point[] {
  const { width, data } = mask;
  const first = data.indexOf(1);
  if (first < 0) return [];
  const set = (x: number, y: number) =>
    x >= 0 && y >= 0 && x < width && y < mask.height && data[y * width + x] === 1;
  const steps = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ] as const;
  // Pixel to the right-hand side and to the left-hand side of the next step, from a corner, per direction.
  const right = [
    [0, 0],
    [-1, 0],
    [-1, -1],
    [0, -1],
  ] as const;
  const left = [
    [0, -1],
    [0, 0],
    [-1, 0],
    [-1, -1],
  ] as const;
  const startX = first % width;
  const startY = (first - startX) / width;
  let [x, y, direction] = [startX, startY, 0];
  const points: Point[] = [];
  do {
    points.push([x + mask.left, y + mask.top]);
    x += steps[direction][0];
    y += steps[direction][1];
    const aheadRight = set(x + right[direction][0], y + right[direction][1]);
    const aheadLeft = set(x + left[direction][0], y + left[direction][1]);
    if (!aheadRight) direction = (direction + 1) % 4;
    else if (aheadLeft) direction = (direction + 3) % 4;
  } while (x !== startX || y !== startY || direction !== 0);
  return points;
}

/** A closed outline with fewer points, none of the left-out ones further than `tolerance` away (Douglas-Peucker). */
export function simplified(points: readonly Point[], tolerance: number): Point[] {
  if (points.length <= 4) return [...points];
  let far = 0;
  for (let i = 1, best = -1; i < points.length; i++) {
    const d = (points[i][0] - points[0][0]) ** 2 + (points[i][1] - points[0][1]) ** 2;
    if (d > best) [best, far] = [d, i];
  }
  const half = (from: number, to: number): Point[] => {
    const [ax, ay] = points[from];
    const [bx, by] = points[to % points.length];
    const length = Math.hypot(bx - ax, by - ay) || 1;
    let [worst, at] = [tolerance, -1];
    for (let i = from + 1; i < to; i++) {
      const d = Math.abs((points[i][0] - ax) * (by - ay) - (points[i][1] - ay) * (bx - ax)) / length;
      if (d > worst) [worst, at] = [d, i];
    }
    return at < 0 ? [points[from]] : [...half(from, at), ...half(at, to)];
  };
  return [...half(0, far), ...half(far, points.length)];
}

/** Convex hull, clockwise on screen (monotone chain). */
export function hullOf(points: readonly Point[]): Point[] {
  const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  const turn = (o: Point, a: Point, b: Point) =>
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const chain = (list: readonly Point[]) => {
    const out: Point[] = [];
    for (const p of list) {
      while (out.length > 1 && turn(out[out.length - 2], out[out.length - 1], p) <= 0) out.pop();
      out.push(p);
    }
    out.pop();
    return out;
  };
  return [...chain(sorted), ...chain(sorted.reverse())];
}

export interface Rectangle {
  readonly centre: Point;
  /** Direction of the long side against the x axis, radians in (-pi/2, pi/2]. */
  readonly angle: number;
  readonly long: number;
  readonly short: number;
}

/** The smallest rectangle, at any angle, round a convex outline: one of its sides lies along one of theirs. */
export function rectangleRound(hull: readonly Point[]): Rectangle {
  let best: Rectangle | null = null;
  for (let i = 0; i < hull.length; i++) {
    const [ax, ay] = hull[i];
    const [bx, by] = hull[(i + 1) % hull.length];
    const length = Math.hypot(bx - ax, by - ay);
    if (length === 0) continue;
    const [ux, uy] = [(bx - ax) / length, (by - ay) / length];
    let [u0, u1, v0, v1] = [Infinity, -Infinity, Infinity, -Infinity];
    for (const [x, y] of hull) {
      const u = x * ux + y * uy;
      const v = y * ux - x * uy;
      u0 = Math.min(u0, u);
      u1 = Math.max(u1, u);
      v0 = Math.min(v0, v);
      v1 = Math.max(v1, v);
    }
    const [across, along] = [v1 - v0, u1 - u0];
    if (best && across * along >= best.long * best.short) continue;
    const [u, v] = [(u0 + u1) / 2, (v0 + v1) / 2];
    let angle = Math.atan2(uy, ux) + (across > along ? Math.PI / 2 : 0);
    while (angle > Math.PI / 2) angle -= Math.PI;
    while (angle <= -Math.PI / 2) angle += Math.PI;
    best = {
      centre: [u * ux - v * uy, u * uy + v * ux],
      angle,
      long: Math.max(across, along),
      short: Math.min(across, along),
    };
  }
  if (!best) throw new RangeError('Expected a hull of at least two different points');
  return best;
}
