import type { Point } from './region.ts';
import type { Superpixels } from './superpixels.ts';

/** What a hand drew on the picture: a line (one point for a tap) of a round brush, in working pixels. */
export interface Stroke {
  readonly mode: 'add' | 'remove';
  readonly points: readonly Point[];
  /** Of the brush, pixels, above 0. */
  readonly radius: number;
}

/** What lies under a stroke. */
export interface Trace {
  /** Pixels (y * width + x) under the brush inside the picture, in the order the stroke met them. */
  readonly pixels: Int32Array;
  /** Pixels of each touched piece that lie under the brush, in the order the stroke met them. */
  readonly pieces: ReadonlyMap<number, number>;
  /** Pixels under the brush, inside the picture. */
  readonly total: number;
  /** Width of the brush in pixels. */
  readonly breadth: number;
  /** Pixel that a tap points at, which it means whatever its brush covers besides; null where a line was drawn. */
  readonly tapped: number | null;
  /** Whether a part of it lies outside the picture. */
  readonly cut: boolean;
}

/** Throws TypeError or RangeError where a stroke is no stroke; `name` says which one in the message. */
export function checkStroke(stroke: Stroke, name: string): void {
  if (stroke.mode !== 'add' && stroke.mode !== 'remove')
    throw new TypeError(`Expected ${name} to add or remove, got ${JSON.stringify(stroke.mode)}`);
  if (!(stroke.radius > 0 && Number.isFinite(stroke.radius)))
    throw new RangeError(`Expected ${name} to have a brush radius above 0, got ${stroke.radius}`);
  if (stroke.points.length === 0)
    throw new RangeError(`Expected ${name} to have at least one point, got none`);
  for (const [x, y] of stroke.points)
    if (!Number.isFinite(x) || !Number.isFinite(y))
      throw new RangeError(`Expected finite numbers in ${name}, got [${x}, ${y}]`);
}

/** What lies under a stroke. RangeError where it lies wholly outside the picture. */
export function traced(stroke: Stroke, pieces: Superpixels, name: string): Trace {
  checkStroke(stroke, name);
  const { width, height, label } = pieces;
  const { points, radius } = stroke;
  const reach = Math.max(radius, 0.71); // a hair-thin brush still meets the pixel it lies on
  const within = (v: number, most: number) => Math.max(0, Math.min(most, Math.floor(v)));
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const left = within(Math.min(...xs) - reach, width - 1);
  const top = within(Math.min(...ys) - reach, height - 1);
  const strip = within(Math.max(...xs) + reach, width - 1) - left + 1;
  const seen = new Uint8Array(strip * (within(Math.max(...ys) + reach, height - 1) - top + 1));
  const pixels: number[] = [];
  let cut = false;
  for (let i = 0; i < points.length; i++) {
    const [x0, y0] = points[Math.max(0, i - 1)];
    const [x1, y1] = points[i];
    const stops = Math.max(
      1,
      Math.min(20_000, Math.ceil(Math.hypot(x1 - x0, y1 - y0) / Math.max(1, radius / 2))),
    );
    for (let k = 0; k <= stops; k++) {
      const cx = x0 + ((x1 - x0) * k) / stops;
      const cy = y0 + ((y1 - y0) * k) / stops;
      if (cx < 0 || cy < 0 || cx > width || cy > height) cut = true;
      const last = Math.min(width - 1, Math.floor(cx + reach));
      for (
        let y = Math.max(0, Math.floor(cy - reach));
        y <= Math.min(height - 1, Math.floor(cy + reach));
        y++
      )
        for (let x = Math.max(0, Math.floor(cx - reach)); x <= last; x++) {
          if ((x + 0.5 - cx) ** 2 + (y + 0.5 - cy) ** 2 > reach * reach) continue;
          const at = (y - top) * strip + x - left;
          if (seen[at]) continue;
          seen[at] = 1;
          pixels.push(y * width + x);
        }
    }
  }
  if (pixels.length === 0)
    throw new RangeError(
      `Expected ${name} to touch the picture of ${width}x${height}, got one wholly outside it, ` +
        `from ${points[0].map((v) => Math.round(v)).join(', ')}`,
    );
  return {
    pixels: new Int32Array(pixels),
    pieces: countsUnder(pixels, label),
    total: pixels.length,
    breadth: 2 * reach,
    tapped: points.length === 1 ? within(ys[0], height - 1) * width + within(xs[0], width - 1) : null,
    cut,
  };
}

/** How many of the pixels each piece has, in the order they are met. */
export function countsUnder(pixels: ArrayLike<number>, label: Int32Array): Map<number, number> {
  const counts = new Map<number, number>();
  for (let k = 0; k < pixels.length; k++) {
    const piece = label[pixels[k]];
    counts.set(piece, (counts.get(piece) ?? 0) + 1);
  }
  return counts;
}
