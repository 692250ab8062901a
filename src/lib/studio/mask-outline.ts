import type { Mask, Point } from '#lib/photo/index.ts';

/** Closed lines round what a mask covers: x, y of all points one after the other, and where in that list each line ends. */
export interface MaskOutline {
  readonly places: Float32Array;
  /** Number of points up to the end of each line. */
  readonly ends: Uint32Array;
}

/** Lines that leave the true border by less than this many pixels are as good. */
const TOLERANCE = 0.3;

/**
 * Borders of a mask at half cover. Places lie between pixels where cover passes one half; points that a straight line
 * replaces are left out (Douglas and Peucker 1973, Cartographica 10(2), 112-122).
 */
export function maskOutline(mask: Mask): MaskOutline {
  const places: number[] = [];
  const ends: number[] = [];
  for (const ring of rings(mask)) {
    for (const [x, y] of simplified(ring)) places.push(x, y);
    ends.push(places.length / 2);
  }
  return { places: Float32Array.from(places), ends: Uint32Array.from(ends) };
}

/** Steps along the cracks between pixels: right, down, left, up. */
const STEP_X = [1, 0, -1, 0];
const STEP_Y = [0, 1, 0, -1];
/** The pixel on the right-hand side of such a step, from where the step begins. */
const IN_X = [0, -1, -1, 0];
const IN_Y = [0, 0, -1, -1];

/** Borders followed along the cracks, what is covered on the right-hand side. */
function rings({ width, height, data }: Mask): Point[][] {
  const cover = (x: number, y: number) =>
    x < 0 || y < 0 || x >= width || y >= height ? 0 : data[y * width + x];
  /** Whether a step from a place runs along a border. */
  const leads = (x: number, y: number, way: number) => {
    const [px, py, left] = [x + IN_X[way], y + IN_Y[way], (way + 3) % 4];
    return cover(px, py) >= 128 && cover(px + STEP_X[left], py + STEP_Y[left]) < 128;
  };
  const seen = new Uint8Array(width * height);
  const found: Point[][] = [];
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      // Every border has a stretch with nothing above it.
      if (data[p] < 128 || (y > 0 && data[p - width] >= 128) || seen[p]) continue;
      const ring: Point[] = [];
      let [cx, cy, way] = [x, y, 0];
      do {
        // The covered pixel right of this crack and the free one left of it.
        const left = (way + 3) % 4;
        const inX = cx + IN_X[way];
        const inY = cy + IN_Y[way];
        const outX = inX + STEP_X[left];
        const outY = inY + STEP_Y[left];
        if (way === 0) seen[inY * width + inX] = 1;
        const a = cover(inX, inY);
        const beyond = outX < 0 || outY < 0 || outX >= width || outY >= height;
        const part = beyond ? 0.5 : (a - 127.5) / (a - cover(outX, outY));
        ring.push([inX + 0.5 + STEP_X[left] * part, inY + 0.5 + STEP_Y[left] * part]);
        cx += STEP_X[way];
        cy += STEP_Y[way];
        // Right first: pixels that touch only by a corner are parts of their own.
        const right = (way + 1) % 4;
        way = leads(cx, cy, right) ? right : leads(cx, cy, way) ? way : left;
      } while (cx !== x || cy !== y || way !== 0);
      found.push(ring);
    }
  return found;
}

function simplified(ring: readonly Point[]): Point[] {
  const keep = new Uint8Array(ring.length);
  const middle = ring.length >> 1;
  keep[0] = keep[middle] = keep[ring.length - 1] = 1;
  const spans: [number, number][] = [
    [0, middle],
    [middle, ring.length - 1],
  ];
  for (let span = spans.pop(); span; span = spans.pop()) {
    const [first, last] = span;
    const [[x0, y0], [x1, y1]] = [ring[first], ring[last]];
    const length = Math.hypot(x1 - x0, y1 - y0);
    let [furthest, at] = [TOLERANCE, -1];
    for (let i = first + 1; i < last; i++) {
      const [dx, dy] = [ring[i][0] - x0, ring[i][1] - y0];
      const away = length > 1e-6 ? Math.abs(dx * (y1 - y0) - dy * (x1 - x0)) / length : Math.hypot(dx, dy);
      if (away > furthest) [furthest, at] = [away, i];
    }
    if (at < 0) continue;
    keep[at] = 1;
    spans.push([first, at], [at, last]);
  }
  return ring.filter((_, i) => keep[i]);
}

/** A place well inside what a mask covers, for its name: the middle of the longest run near its centre; null if empty. */
export function insidePlace({ width, height, data }: Mask): Point | null {
  let [sum, rows] = [0, 0];
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++)
      if (data[p] >= 128) {
        sum++;
        rows += y;
      }
  if (sum === 0) return null;
  const centre = rows / sum;
  let best = { worth: -1, x: 0, y: 0 };
  for (let y = 0; y < height; y++) {
    const near = 1 / (1 + Math.abs(y - centre) / (0.15 * height));
    for (let x = 0, run = 0; x <= width; x++) {
      if (x < width && data[y * width + x] >= 128) run++;
      else {
        if (run * near > best.worth) best = { worth: run * near, x: x - run / 2, y: y + 0.5 };
        run = 0;
      }
    }
  }
  return [best.x, best.y];
}
