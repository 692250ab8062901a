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
    const keep = telling(ring);
    for (let i = 0; i < keep.length; i++) if (keep[i]) places.push(ring[2 * i], ring[2 * i + 1]);
    ends.push(places.length / 2);
  }
  return { places: new Float32Array(places), ends: new Uint32Array(ends) };
}

/** Steps along the cracks between pixels: right, down, left, up. */
const STEP_X = [1, 0, -1, 0];
const STEP_Y = [0, 1, 0, -1];
/** The pixel on the right-hand side of such a step, from where the step begins. */
const IN_X = [0, -1, -1, 0];
const IN_Y = [0, 0, -1, -1];
const FULL = 0xffffffff;

/** Borders followed along the cracks, what is covered on the right-hand side: x, y of each place. */
function rings({ width, height, data }: Mask): Float64Array[] {
  /** Whether a step from a place runs along a border. */
  const leads = (x: number, y: number, way: number) => {
    const left = (way + 3) % 4;
    const [px, py] = [x + IN_X[way], y + IN_Y[way]];
    if (px < 0 || py < 0 || px >= width || py >= height || data[py * width + px] < 128) return false;
    const [ox, oy] = [px + STEP_X[left], py + STEP_Y[left]];
    return ox < 0 || oy < 0 || ox >= width || oy >= height || data[oy * width + ox] < 128;
  };
  const seen = new Uint8Array(width * height);
  const found: Float64Array[] = [];
  let ring = new Float64Array(1 << 12);
  // Four pixels at a time are passed over where nothing is covered, or all of them and all above.
  const fours =
    data.byteOffset % 4
      ? new Uint32Array(0)
      : new Uint32Array(data.buffer, data.byteOffset, data.length >> 2);
  const isPlain = (p: number) => {
    const four = fours[p >> 2];
    if (four !== FULL) return four === 0;
    const above = (p - width) >> 2;
    return p >= width && fours[above] === FULL && fours[above + 1] === FULL;
  };
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      while (p % 4 === 0 && x + 4 < width && isPlain(p)) {
        x += 4;
        p += 4;
      }
      // Every border has a stretch with nothing above it.
      if (data[p] < 128 || (y > 0 && data[p - width] >= 128) || seen[p]) continue;
      let count = 0;
      let [cx, cy, way] = [x, y, 0];
      do {
        // The covered pixel right of this crack and the free one left of it.
        const left = (way + 3) % 4;
        const inX = cx + IN_X[way];
        const inY = cy + IN_Y[way];
        const outX = inX + STEP_X[left];
        const outY = inY + STEP_Y[left];
        if (way === 0) seen[inY * width + inX] = 1;
        const a = data[inY * width + inX];
        const beyond = outX < 0 || outY < 0 || outX >= width || outY >= height;
        const part = beyond ? 0.5 : (a - 127.5) / (a - data[outY * width + outX]);
        if (count + 2 > ring.length) {
          const longer = new Float64Array(2 * ring.length);
          longer.set(ring);
          ring = longer;
        }
        ring[count++] = inX + 0.5 + STEP_X[left] * part;
        ring[count++] = inY + 0.5 + STEP_Y[left] * part;
        cx += STEP_X[way];
        cy += STEP_Y[way];
        // Right first: pixels that touch only by a corner are parts of their own.
        const right = (way + 1) % 4;
        way = leads(cx, cy, right) ? right : leads(cx, cy, way) ? way : left;
      } while (cx !== x || cy !== y || way !== 0);
      found.push(ring.slice(0, count));
    }
  return found;
}

/** 1 for the places of a ring that no straight line replaces. */
function telling(ring: Float64Array): Uint8Array {
  const count = ring.length / 2;
  const keep = new Uint8Array(count);
  const middle = count >> 1;
  keep[0] = keep[middle] = keep[count - 1] = 1;
  const spans = [0, middle, middle, count - 1];
  while (spans.length > 0) {
    const last = spans.pop() as number;
    const first = spans.pop() as number;
    const x0 = ring[2 * first];
    const y0 = ring[2 * first + 1];
    const across = ring[2 * last] - x0;
    const down = ring[2 * last + 1] - y0;
    const length = Math.sqrt(across * across + down * down);
    const isLine = length > 1e-6;
    // Distances from the line times its length; from the place where both ends are one, squared.
    let furthest = isLine ? TOLERANCE * length : TOLERANCE * TOLERANCE;
    let at = -1;
    for (let i = first + 1; i < last; i++) {
      const dx = ring[2 * i] - x0;
      const dy = ring[2 * i + 1] - y0;
      const away = isLine ? Math.abs(dx * down - dy * across) : dx * dx + dy * dy;
      if (away > furthest) {
        furthest = away;
        at = i;
      }
    }
    if (at < 0) continue;
    keep[at] = 1;
    spans.push(first, at, at, last);
  }
  return keep;
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
