import type { Region } from '#lib/photo/index.ts';

/** A region moved by dx, dy, picture pixels. */
export function shifted(region: Region, dx: number, dy: number): Region {
  if (region.kind === 'polygon')
    return { kind: 'polygon', points: region.points.map(([x, y]) => [x + dx, y + dy] as const) };
  return { ...region, x: region.x + dx, y: region.y + dy };
}

/** A region made larger or smaller round its middle. */
export function scaled(region: Region, factor: number): Region {
  if (region.kind === 'point') return { ...region, radius: Math.max(2, region.radius * factor) };
  if (region.kind === 'box') {
    const [w, h] = [Math.max(3, region.width * factor), Math.max(3, region.height * factor)];
    return {
      ...region,
      x: region.x - (w - region.width) / 2,
      y: region.y - (h - region.height) / 2,
      width: w,
      height: h,
    };
  }
  const cx = region.points.reduce((sum, p) => sum + p[0], 0) / region.points.length;
  const cy = region.points.reduce((sum, p) => sum + p[1], 0) / region.points.length;
  return {
    kind: 'polygon',
    points: region.points.map(([x, y]) => [cx + (x - cx) * factor, cy + (y - cy) * factor] as const),
  };
}

/** The upright box round a region. */
export function boxOf(region: Region): { x: number; y: number; width: number; height: number } {
  if (region.kind === 'box') return region;
  if (region.kind === 'point') {
    const { x, y, radius } = region;
    return { x: x - radius, y: y - radius, width: 2 * radius, height: 2 * radius };
  }
  const xs = region.points.map((p) => p[0]);
  const ys = region.points.map((p) => p[1]);
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return { x, y, width: Math.max(...xs) - x, height: Math.max(...ys) - y };
}

/** A region brought back so far that its middle lies in the picture: outside it there is nothing to measure. */
export function heldIn(region: Region, { width, height }: { width: number; height: number }): Region {
  const box = boxOf(region);
  const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];
  const dx = Math.min(width, Math.max(0, cx)) - cx;
  const dy = Math.min(height, Math.max(0, cy)) - cy;
  return dx === 0 && dy === 0 ? region : shifted(region, dx, dy);
}

/** Where a region's label stands: at its upper corner. */
export function labelPlace(region: Region): [number, number] {
  if (region.kind === 'point') return [region.x + region.radius, region.y - region.radius];
  if (region.kind === 'box') return [region.x, region.y];
  return region.points.reduce<[number, number]>(
    (at, [x, y]) => (x + y < at[0] + at[1] ? [x, y] : at),
    [1e9, 1e9],
  );
}
