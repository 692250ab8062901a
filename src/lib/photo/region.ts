/** A point of a picture in pixels: [0, 0] is the outer corner of the first pixel, its centre is [0.5, 0.5]. */
export type Point = readonly [number, number];

/** A part of a picture, in working-image pixels, fractions allowed. A point is a disc of that radius. */
export type Region =
  | {
      readonly kind: 'box';
      readonly x: number;
      readonly y: number;
      readonly width: number;
      readonly height: number;
    }
  | { readonly kind: 'point'; readonly x: number; readonly y: number; readonly radius: number }
  | { readonly kind: 'polygon'; readonly points: readonly Point[] };

export interface Extent {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** The smallest upright box round a region. RangeError where a region has no area or a number is not finite. */
export function extentOf(region: Region): Extent {
  const extent = rawExtent(region);
  const { left, top, right, bottom } = extent;
  if (![left, top, right, bottom].every(Number.isFinite))
    throw new RangeError(`Expected finite numbers in a region, got ${JSON.stringify(region)}`);
  if (!(right > left && bottom > top))
    throw new RangeError(`Expected a region with an area, got ${JSON.stringify(region)}`);
  return extent;
}

function rawExtent(region: Region): Extent {
  switch (region.kind) {
    case 'box':
      return {
        left: region.x,
        top: region.y,
        right: region.x + region.width,
        bottom: region.y + region.height,
      };
    case 'point':
      return {
        left: region.x - region.radius,
        top: region.y - region.radius,
        right: region.x + region.radius,
        bottom: region.y + region.radius,
      };
    case 'polygon': {
      if (region.points.length < 3)
        throw new RangeError(`Expected a polygon of at least 3 points, got ${region.points.length}`);
      let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity];
      for (const [x, y] of region.points) {
        if (!Number.isFinite(x) || !Number.isFinite(y)) return { left: NaN, top, right, bottom };
        left = Math.min(left, x);
        right = Math.max(right, x);
        top = Math.min(top, y);
        bottom = Math.max(bottom, y);
      }
      return { left, top, right, bottom };
    }
    default:
      throw new TypeError(`Expected a box, point or polygon, got ${JSON.stringify(region)}`);
  }
}

/** Where the horizontal line at height y is inside the region: x in pairs, ascending. Even-odd for polygons. */
function crossings(region: Region, y: number): number[] {
  switch (region.kind) {
    case 'box':
      return y >= region.y && y < region.y + region.height ? [region.x, region.x + region.width] : [];
    case 'point': {
      const half = Math.sqrt(region.radius ** 2 - (y - region.y) ** 2);
      return half > 0 ? [region.x - half, region.x + half] : [];
    }
    case 'polygon': {
      const xs: number[] = [];
      const { points } = region;
      for (let i = 0, j = points.length - 1; i < points.length; j = i++) {
        const [x0, y0] = points[j];
        const [x1, y1] = points[i];
        if (y0 <= y !== y1 <= y) xs.push(x0 + ((y - y0) / (y1 - y0)) * (x1 - x0));
      }
      return xs.sort((p, q) => p - q);
    }
  }
}

/** The pixels of a region with how much of each it covers (0 excluded, at most 1), in reading order. */
export interface Coverage {
  /** y * width + x of each pixel. */
  readonly pixels: Int32Array;
  readonly share: Float32Array;
  /** Sum of the shares: the area inside the picture, pixels. */
  readonly area: number;
  /** Part of the region's own area that lies outside the picture, 0-1. */
  readonly outside: number;
}

const LINES = 8; // scan lines a pixel: exact along x, an eighth of a pixel along y

/**
 * The pixels a region covers. `edges: 'smooth'` counts partly covered pixels with their share (for small
 * regions), `'centre'` takes a pixel wholly where its centre is inside (for masks and big regions).
 * What lies outside the picture is cut off and `outside` says how much; RangeError where nothing remains.
 */
export function coverage(
  region: Region,
  size: { readonly width: number; readonly height: number },
  edges: 'smooth' | 'centre' = 'smooth',
): Coverage {
  const { width, height } = size;
  const extent = extentOf(region);
  const top = Math.max(0, Math.floor(extent.top));
  const bottom = Math.min(height, Math.ceil(extent.bottom));
  const left = Math.max(0, Math.floor(extent.left));
  const right = Math.min(width, Math.ceil(extent.right));
  const lines = edges === 'smooth' ? LINES : 1;
  const pixels: number[] = [];
  const share: number[] = [];
  const row = new Float64Array(Math.max(0, right - left));
  let area = 0;
  for (let y = top; y < bottom; y++) {
    row.fill(0);
    for (let line = 0; line < lines; line++) {
      const xs = crossings(region, y + (line + 0.5) / lines);
      for (let i = 0; i + 1 < xs.length; i += 2) addSpan(row, left, xs[i], xs[i + 1], edges, 1 / lines);
    }
    for (let i = 0; i < row.length; i++) {
      if (row[i] < 1e-6) continue;
      pixels.push(y * width + left + i);
      share.push(Math.min(1, row[i]));
      area += Math.min(1, row[i]);
    }
  }
  if (pixels.length === 0) {
    if (extent.right > 0 && extent.bottom > 0 && extent.left < width && extent.top < height)
      throw new RangeError(
        edges === 'centre'
          ? `Expected a region that holds at least one pixel's centre, got ${JSON.stringify(region)}`
          : `Expected a region with an area inside the ${width}x${height} picture, got ${JSON.stringify(region)}`,
      );
    throw new RangeError(
      `Expected a region inside the ${width}x${height} picture, got ${JSON.stringify(region)}`,
    );
  }
  const whole = areaOf(region);
  const outside = whole > 0 ? Math.max(0, 1 - area / whole) : 0;
  const cut = extent.left < 0 || extent.top < 0 || extent.right > width || extent.bottom > height;
  return {
    pixels: Int32Array.from(pixels),
    share: Float32Array.from(share),
    area,
    outside: cut ? outside : 0,
  };
}

function addSpan(
  row: Float64Array,
  left: number,
  from: number,
  to: number,
  edges: 'smooth' | 'centre',
  weight: number,
): void {
  const start = Math.max(from - left, 0);
  const end = Math.min(to - left, row.length);
  if (!(end > start)) return;
  if (edges === 'centre') {
    for (let i = Math.ceil(start - 0.5); i < row.length && i + 0.5 < end; i++) if (i >= 0) row[i] = 1;
    return;
  }
  const first = Math.floor(start);
  const last = Math.min(row.length - 1, Math.floor(end));
  if (first === last) {
    row[first] += weight * (end - start);
    return;
  }
  row[first] += weight * (first + 1 - start);
  for (let i = first + 1; i < last; i++) row[i] += weight;
  row[last] += weight * (end - last);
}

/** Area of a region in pixels, the part outside the picture included. Crossing polygons: the signed sum's size. */
export function areaOf(region: Region): number {
  switch (region.kind) {
    case 'box':
      return region.width * region.height;
    case 'point':
      return Math.PI * region.radius ** 2;
    case 'polygon': {
      let twice = 0;
      const { points } = region;
      for (let i = 0, j = points.length - 1; i < points.length; j = i++)
        twice += points[j][0] * points[i][1] - points[i][0] * points[j][1];
      return Math.abs(twice) / 2;
    }
  }
}

/** Centre of a region's area (for a polygon without area: the mean of its points). */
export function centreOf(region: Region): Point {
  if (region.kind === 'point') return [region.x, region.y];
  if (region.kind === 'box') return [region.x + region.width / 2, region.y + region.height / 2];
  let [twice, cx, cy] = [0, 0, 0];
  const { points } = region;
  for (let i = 0, j = points.length - 1; i < points.length; j = i++) {
    const cross = points[j][0] * points[i][1] - points[i][0] * points[j][1];
    twice += cross;
    cx += cross * (points[j][0] + points[i][0]);
    cy += cross * (points[j][1] + points[i][1]);
  }
  if (Math.abs(twice) < 1e-9) {
    const n = points.length;
    return [points.reduce((s, p) => s + p[0], 0) / n, points.reduce((s, p) => s + p[1], 0) / n];
  }
  return [cx / (3 * twice), cy / (3 * twice)];
}
