import type { Mask, PlaneCorners, Point } from '#lib/photo/index.ts';

/** Marks that are being shifted together, by surface, and how far: pixels of the picture to the right and down. */
export interface MarkShift {
  readonly ids: readonly string[];
  readonly by: Point;
}

/**
 * A mask shifted by whole pixels. What ran to the picture's rim goes on to it; what passes the rim is lost.
 * Throws RangeError for parts of a pixel.
 */
export function shiftedMask({ width, height, data }: Mask, [dx, dy]: Point): Mask {
  if (!Number.isInteger(dx) || !Number.isInteger(dy))
    throw new RangeError(`Expected a shift by whole pixels, got ${dx}, ${dy}`);
  const shifted = new Uint8Array(data.length);
  const within = (at: number, length: number) => Math.min(length - 1, Math.max(0, at));
  for (let y = 0, p = 0; y < height; y++) {
    const row = width * within(y - dy, height);
    for (let x = 0; x < width; x++, p++) shifted[p] = data[row + within(x - dx, width)];
  }
  return { width, height, data: shifted };
}

export function shiftedCorners(corners: PlaneCorners, [dx, dy]: Point): PlaneCorners {
  return corners.map(([x, y]) => [x + dx, y + dy]) as unknown as PlaneCorners;
}

/** How far in words: `12 px right, 3 px up`. */
export function shiftWords([dx, dy]: Point): string {
  const [x, y] = [Math.round(dx), Math.round(dy)];
  const parts = [
    x === 0 ? null : `${Math.abs(x)} px ${x > 0 ? 'right' : 'left'}`,
    y === 0 ? null : `${Math.abs(y)} px ${y > 0 ? 'down' : 'up'}`,
  ].filter((part) => part !== null);
  return parts.length > 0 ? parts.join(', ') : 'where they were';
}
