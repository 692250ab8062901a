import type { Point } from './region.ts';
import type { Superpixels } from './superpixels.ts';

/** What a hand drew on the picture: a line (one point for a tap) of a round brush, in working pixels. */
export interface Stroke {
  readonly mode: 'add' | 'remove';
  readonly points: readonly Point[];
  /** Of the brush, pixels, above 0. */
  readonly radius: number;
}

/** The pieces under a stroke. */
export interface Trace {
  /** Pixels of each touched piece that lie under the brush, in the order the stroke met them. */
  readonly pieces: ReadonlyMap<number, number>;
  /** Pixels under the brush, inside the picture. */
  readonly total: number;
  /** Width of the brush in pixels. */
  readonly breadth: number;
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
  const touched = new Map<number, number>();
  const seen = new Set<number>();
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
      const reach = Math.max(radius, 0.71); // a hair-thin brush still meets the pixel it lies on
      const top = Math.max(0, Math.floor(cy - reach));
      const bottom = Math.min(height - 1, Math.floor(cy + reach));
      const left = Math.max(0, Math.floor(cx - reach));
      const right = Math.min(width - 1, Math.floor(cx + reach));
      for (let y = top; y <= bottom; y++)
        for (let x = left; x <= right; x++) {
          if ((x + 0.5 - cx) ** 2 + (y + 0.5 - cy) ** 2 > reach * reach) continue;
          const p = y * width + x;
          if (seen.has(p)) continue;
          seen.add(p);
          touched.set(label[p], (touched.get(label[p]) ?? 0) + 1);
        }
    }
  }
  if (seen.size === 0)
    throw new RangeError(
      `Expected ${name} to touch the picture of ${width}x${height}, got one wholly outside it, ` +
        `from ${points[0].map((v) => Math.round(v)).join(', ')}`,
    );
  return { pieces: touched, total: seen.size, breadth: 2 * Math.max(radius, 0.71), cut };
}
