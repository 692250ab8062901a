import { checkMask, type Mask } from './mask.ts';
import type { Point } from './region.ts';

/** A straight part of a mask's border: the ends, and how far its places lie from the line (root mean square, pixels). */
export interface StraightEdge {
  readonly from: Point;
  readonly to: Point;
  readonly deviation: number;
}

const SPLIT = 1.6; // pixels: a border that bends away further is cut in two
const SHORTEST = 36; // pixels, and at least this part of the long side:
const SHORTEST_SHARE = 0.02;
const ROUGHEST = 0.9; // pixels, root mean square of the places that count
const SUPPORT = 0.75; // of the places must count
const INSET = 3; // pixels from either end: corners are round in every picture
const REACH = 2.5; // pixels beside the line that are drawn anew
const END = 7; // places
const ROUNDS = 6;
const SETTLED = 0.02; // pixels that the ends of a line still move by
const TUKEY = 4.685; // 95 % efficiency for normal errors

/**
 * The mask with its long, nearly straight borders made straight (cabinets, counters), and which those are. Borders are
 * followed at half cover with places between pixels, cut where they bend (Douglas and Peucker 1973, Cartographica 10(2),
 * 112-122), and each piece gets a line by orthogonal regression with Tukey's biweight (Beaton and Tukey 1974,
 * Technometrics 16(2), 147-185). Curved and ragged borders stay as they are, so do borders along the picture's rim.
 */
export function straightened(mask: Mask): { mask: Mask; edges: StraightEdge[] } {
  checkMask(mask);
  const { width, height } = mask;
  const data = mask.data.slice();
  const edges: StraightEdge[] = [];
  const shortest = Math.max(SHORTEST, SHORTEST_SHARE * Math.max(width, height));
  for (const border of borders(mask)) {
    for (const [first, last] of straightRuns(border.places, border.closed)) {
      const line = fittedLine(border.places, first, last);
      if (!line || line.length < shortest) continue;
      draw(data, mask, line);
      edges.push({ from: line.from, to: line.to, deviation: line.deviation });
    }
  }
  return { mask: { width, height, data }, edges };
}

interface Border {
  readonly places: Point[];
  readonly closed: boolean;
}

/**
 * Borders at half cover, with the covered side on the left of the way along them (y down): each crack between a covered
 * pixel and a free one gives the place where cover passes one half.
 */
function borders({ width, height, data }: Mask): Border[] {
  const on = (x: number, y: number) =>
    x >= 0 && y >= 0 && x < width && y < height && data[y * width + x] >= 128;
  // Directions of travel along cracks: 0 right, 1 down, 2 left, 3 up, on the grid of pixel corners.
  const seen = new Uint8Array((width + 1) * (height + 1));
  const ahead: Point[] = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ];
  // Pixels left and right of a crack that starts at a corner, by direction.
  const leftOf: Point[] = [
    [0, -1],
    [0, 0],
    [-1, 0],
    [-1, -1],
  ];
  const rightOf: Point[] = [
    [0, 0],
    [-1, 0],
    [-1, -1],
    [0, -1],
  ];
  const isCrack = (x: number, y: number, d: number) =>
    on(x + leftOf[d][0], y + leftOf[d][1]) && !on(x + rightOf[d][0], y + rightOf[d][1]);
  const out: Border[] = [];
  // Every loop goes up somewhere: with a covered pixel on its left and a free one on its right.
  const d0 = 3;
  for (let y0 = 1; y0 <= height; y0++)
    for (let x0 = 1, p = (y0 - 1) * width; x0 <= width; x0++, p++) {
      if (data[p] < 128 || (x0 < width && data[p + 1] >= 128)) continue;
      if (seen[y0 * (width + 1) + x0] & (1 << d0)) continue;
      let places: Point[] = [];
      let [x, y, d] = [x0, y0, d0];
      let closed = true;
      const finished: Border[] = [];
      do {
        seen[y * (width + 1) + x] |= 1 << d;
        const place = placeOf(
          { width, height, data },
          [x + leftOf[d][0], y + leftOf[d][1]],
          [x + rightOf[d][0], y + rightOf[d][1]],
        );
        if (place) places.push(place);
        else {
          // The rim of the picture is no border of the surface.
          closed = false;
          if (places.length > 0) finished.push({ places, closed });
          places = [];
        }
        x += ahead[d][0];
        y += ahead[d][1];
        // Turn right first: pixels that touch at a corner only are apart.
        for (const turn of [1, 0, 3])
          if (isCrack(x, y, (d + turn) % 4)) {
            d = (d + turn) % 4;
            break;
          }
      } while (x !== x0 || y !== y0 || d !== d0);
      if (places.length > 0) finished.push({ places, closed });
      out.push(...finished);
    }
  return out;
}

function placeOf({ width, height, data }: Mask, inner: Point, outer: Point): Point | null {
  const [x, y] = outer;
  if (x < 0 || y < 0 || x >= width || y >= height) return null;
  const a = data[inner[1] * width + inner[0]];
  const b = data[y * width + x];
  const t = (a - 127.5) / (a - b);
  return [inner[0] + 0.5 + t * (x - inner[0]), inner[1] + 0.5 + t * (y - inner[1])];
}

/** First and last place of each run that no place leaves by more than SPLIT. */
function straightRuns(places: readonly Point[], closed: boolean): [number, number][] {
  const out: [number, number][] = [];
  const n = places.length;
  if (n < SHORTEST / 2) return out;
  const stack: [number, number][] = [];
  if (closed) {
    // A loop is opened at two far places.
    const half = farthest(places, 0);
    const start = farthest(places, half);
    stack.push([Math.min(half, start), Math.max(half, start)]);
    if (Math.min(half, start) > 0) stack.push([0, Math.min(half, start)]);
    stack.push([Math.max(half, start), n - 1]);
  } else stack.push([0, n - 1]);
  while (stack.length > 0) {
    const [first, last] = stack.pop() as [number, number];
    let [worst, at] = [0, -1];
    for (let i = first + 1; i < last; i++) {
      const off = offChord(places, [first, i, last]);
      if (off > worst) [worst, at] = [off, i];
    }
    if (worst > SPLIT) stack.push([first, at], [at, last]);
    else out.push([first, last]);
  }
  return joined(
    places,
    out.sort((a, b) => a[0] - b[0]),
  );
}

/** Neighbouring runs that one line fits are one run: a single ragged place does not end an edge. */
function joined(places: readonly Point[], runs: readonly [number, number][]): [number, number][] {
  const out: [number, number][] = [];
  for (const run of runs) {
    const before = out.at(-1);
    const near =
      before?.[1] === run[0] &&
      run[1] - before[0] > SHORTEST / 2 &&
      offChord(places, [before[0], run[0], run[1]]) < 3 * SPLIT;
    const line = near ? fittedLine(places, before[0], run[1]) : null;
    // The ends must lie on it too: a corner just behind an end is no rag.
    if (before && line && line.ends <= ROUGHEST) before[1] = run[1];
    else out.push([run[0], run[1]]);
  }
  return out;
}

/** Distance of the middle one of three places from the line through the outer two; from the first where they are one. */
function offChord(
  places: readonly Point[],
  [first, middle, last]: readonly [number, number, number],
): number {
  const [ax, ay] = places[first];
  const [bx, by] = places[last];
  const [px, py] = places[middle];
  const length = Math.hypot(bx - ax, by - ay);
  return length > 0
    ? Math.abs((px - ax) * (by - ay) - (py - ay) * (bx - ax)) / length
    : Math.hypot(px - ax, py - ay);
}

function farthest(places: readonly Point[], from: number): number {
  let [far, at] = [-1, from];
  for (let i = 0; i < places.length; i++) {
    const d = Math.hypot(places[i][0] - places[from][0], places[i][1] - places[from][1]);
    if (d > far) [far, at] = [d, i];
  }
  return at;
}

interface Line {
  readonly from: Point;
  readonly to: Point;
  readonly length: number;
  readonly deviation: number;
  /** Median distance from the line of the places at either end, the farther end. */
  readonly ends: number;
}

function fittedLine(places: readonly Point[], first: number, last: number): Line | null {
  const n = last - first + 1;
  const xs = Float64Array.from({ length: n }, (_, i) => places[first + i][0]);
  const ys = Float64Array.from({ length: n }, (_, i) => places[first + i][1]);
  const weights = new Float64Array(n).fill(1);
  const off = new Float64Array(n);
  let [mx, my, ux, uy] = [0, 0, 1, 0];
  for (let round = 0; round < ROUNDS; round++) {
    let [total, sx, sy] = [0, 0, 0];
    for (let i = 0; i < n; i++) {
      total += weights[i];
      sx += weights[i] * xs[i];
      sy += weights[i] * ys[i];
    }
    if (total < 4) return null;
    mx = sx / total;
    my = sy / total;
    let [xx, xy, yy] = [0, 0, 0];
    for (let i = 0; i < n; i++) {
      const [dx, dy] = [xs[i] - mx, ys[i] - my];
      xx += weights[i] * dx * dx;
      xy += weights[i] * dx * dy;
      yy += weights[i] * dy * dy;
    }
    const angle = 0.5 * Math.atan2(2 * xy, xx - yy);
    const turned = Math.abs(Math.cos(angle) * uy - Math.sin(angle) * ux);
    ux = Math.cos(angle);
    uy = Math.sin(angle);
    for (let i = 0; i < n; i++) off[i] = (ys[i] - my) * ux - (xs[i] - mx) * uy;
    const reach = TUKEY * Math.max(0.15, 1.4826 * medianSize(off));
    for (let i = 0; i < n; i++) weights[i] = Math.abs(off[i]) < reach ? (1 - (off[i] / reach) ** 2) ** 2 : 0;
    if (round > 0 && turned * n < SETTLED) break;
  }
  // An edge goes from its first to its last place that counts.
  let [squares, support, start, end] = [0, 0, -1, 0];
  for (let i = 0; i < n; i++) {
    if (weights[i] === 0) continue;
    squares += off[i] * off[i];
    support++;
    if (start < 0) start = i;
    end = i;
  }
  const deviation = Math.sqrt(squares / Math.max(1, support));
  if (deviation > ROUGHEST || support < SUPPORT * n) return null;
  const ends = Math.max(medianSize(off.subarray(0, END)), medianSize(off.subarray(Math.max(0, n - END))));
  const place = (i: number): Point => {
    const along = (xs[i] - mx) * ux + (ys[i] - my) * uy;
    return [mx + along * ux, my + along * uy];
  };
  const [from, to] = [place(start), place(end)];
  return { from, to, length: Math.hypot(to[0] - from[0], to[1] - from[1]), deviation, ends };
}

function medianSize(values: Float64Array): number {
  const sizes = new Float64Array(values.length);
  for (let i = 0; i < sizes.length; i++) sizes[i] = Math.abs(values[i]);
  return sizes.sort()[sizes.length >> 1];
}

/** Draws the border anew along a line: cover by the distance of a pixel from it, as soft as the border was. */
function draw(data: Uint8Array, { width, height, data: before }: Mask, { from, to, length }: Line): void {
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const inside: [number, number][] = [];
  let partly = 0;
  const left = Math.max(0, Math.floor(Math.min(from[0], to[0]) - REACH));
  const right = Math.min(width - 1, Math.ceil(Math.max(from[0], to[0]) + REACH));
  const top = Math.max(0, Math.floor(Math.min(from[1], to[1]) - REACH));
  const bottom = Math.min(height - 1, Math.ceil(Math.max(from[1], to[1]) + REACH));
  for (let y = top; y <= bottom; y++)
    for (let x = left; x <= right; x++) {
      const [dx, dy] = [x + 0.5 - from[0], y + 0.5 - from[1]];
      const along = dx * ux + dy * uy;
      // The covered side is on the left of the way: with y down, that is where this is negative.
      const off = dy * ux - dx * uy;
      if (along < INSET || along > length - INSET || Math.abs(off) > REACH) continue;
      const p = y * width + x;
      if (before[p] > 12 && before[p] < 243) partly++;
      inside.push([p, -off]);
    }
  const width50 = Math.min(
    4,
    Math.max(Math.abs(ux) + Math.abs(uy), partly / Math.max(1, length - 2 * INSET)),
  );
  for (const [p, off] of inside) data[p] = Math.round(255 * Math.max(0, Math.min(1, 0.5 + off / width50)));
}
