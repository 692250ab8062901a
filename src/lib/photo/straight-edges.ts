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
 * Technometrics 16(2), 147-185). Curved and ragged borders stay as they are, so do borders along the picture's rim. Lines
 * of the call before are read from `memory` where the border is still the same.
 */
export function straightened(
  mask: Mask,
  memory: LineMemory = lineMemory(),
): { mask: Mask; edges: StraightEdge[] } {
  checkMask(mask);
  const { width, height } = mask;
  const data = mask.data.slice();
  const edges: StraightEdge[] = [];
  const shortest = Math.max(SHORTEST, SHORTEST_SHARE * Math.max(width, height));
  memory.before = memory.now;
  memory.now = new Map();
  for (const border of borders(mask)) {
    for (const { first, last, fit } of straightRuns(border, memory)) {
      if (extent(border, first, last) < shortest) continue;
      const line = fit ?? lineAlong(border, [first, last], memory);
      if (!line || line.length < shortest) continue;
      draw(data, mask, line);
      edges.push({ from: line.from, to: line.to, deviation: line.deviation });
    }
  }
  return { mask: { width, height, data }, edges };
}

/** Lines fitted in the last call and in this one, by what they were fitted to; it only saves time. */
export interface LineMemory {
  before: Map<number, Fitted>;
  now: Map<number, Fitted>;
}

interface Fitted {
  readonly xs: Float64Array;
  readonly ys: Float64Array;
  readonly line: Line | null;
}

/** A memory for the borders of one picture. */
export function lineMemory(): LineMemory {
  return { before: new Map(), now: new Map() };
}

/** Places between pixels along a border, one after the other. */
interface Border {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly closed: boolean;
}

const FULL = 0xffffffff;

/** Directions of travel along cracks: 0 right, 1 down, 2 left, 3 up, on the grid of pixel corners. */
const AHEAD_X = [1, 0, -1, 0];
const AHEAD_Y = [0, 1, 0, -1];
/** Pixels left and right of a crack that starts at a corner, by direction. */
const LEFT_X = [0, 0, -1, -1];
const LEFT_Y = [-1, 0, 0, -1];
const RIGHT_X = [0, -1, -1, 0];
const RIGHT_Y = [0, 0, -1, -1];

/**
 * Borders at half cover, with the covered side on the left of the way along them (y down): each crack between a covered
 * pixel and a free one gives the place where cover passes one half.
 */
function borders({ width, height, data }: Mask): Border[] {
  const isCrack = (x: number, y: number, d: number) => {
    const [lx, ly, rx, ry] = [x + LEFT_X[d], y + LEFT_Y[d], x + RIGHT_X[d], y + RIGHT_Y[d]];
    if (lx < 0 || ly < 0 || lx >= width || ly >= height || data[ly * width + lx] < 128) return false;
    return rx < 0 || ry < 0 || rx >= width || ry >= height || data[ry * width + rx] < 128;
  };
  const seen = new Uint8Array((width + 1) * (height + 1));
  const out: Border[] = [];
  let xs = new Float64Array(1 << 12);
  let ys = new Float64Array(1 << 12);
  let count = 0;
  const finish = (closed: boolean) => {
    if (count > 0) out.push({ x: xs.slice(0, count), y: ys.slice(0, count), closed });
    count = 0;
  };
  // Every loop goes up somewhere: with a covered pixel on its left and a free one on its right. Four pixels at a time
  // are passed over where they are like the four that follow.
  const up = 3;
  const fours =
    data.byteOffset % 4
      ? new Uint32Array(0)
      : new Uint32Array(data.buffer, data.byteOffset, data.length >> 2);
  for (let y0 = 1; y0 <= height; y0++)
    for (let x0 = 1, p = (y0 - 1) * width; x0 <= width; x0++, p++) {
      if (p % 4 === 0) {
        let f = p >> 2;
        const from = f;
        const end = Math.min(fours.length - 1, f + ((width - x0 - 4) >> 2));
        while (f < end && (fours[f] === 0 || fours[f] === FULL) && fours[f] === fours[f + 1]) f++;
        x0 += 4 * (f - from);
        p = 4 * f;
      }
      if (data[p] < 128 || (x0 < width && data[p + 1] >= 128)) continue;
      if (seen[y0 * (width + 1) + x0]) continue;
      let [x, y, d] = [x0, y0, up];
      let closed = true;
      do {
        if (d === up) seen[y * (width + 1) + x] = 1;
        const [ox, oy] = [x + RIGHT_X[d], y + RIGHT_Y[d]];
        if (ox < 0 || oy < 0 || ox >= width || oy >= height) {
          // The rim of the picture is no border of the surface.
          closed = false;
          finish(closed);
        } else {
          const [ix, iy] = [x + LEFT_X[d], y + LEFT_Y[d]];
          const inner = data[iy * width + ix];
          const t = (inner - 127.5) / (inner - data[oy * width + ox]);
          if (count === xs.length) {
            xs = longer(xs);
            ys = longer(ys);
          }
          xs[count] = ix + 0.5 + t * (ox - ix);
          ys[count++] = iy + 0.5 + t * (oy - iy);
        }
        x += AHEAD_X[d];
        y += AHEAD_Y[d];
        // Turn right first: pixels that touch at a corner only are apart.
        if (isCrack(x, y, (d + 1) % 4)) d = (d + 1) % 4;
        else if (!isCrack(x, y, d)) d = (d + 3) % 4;
      } while (x !== x0 || y !== y0 || d !== up);
      finish(closed);
    }
  return out;
}

function longer(values: Float64Array): Float64Array<ArrayBuffer> {
  const out = new Float64Array(2 * values.length);
  out.set(values);
  return out;
}

/** Diagonal of the upright box round a run of places. */
function extent({ x, y }: Border, first: number, last: number): number {
  let [left, right, top, bottom] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let i = first; i <= last; i++) {
    if (x[i] < left) left = x[i];
    if (x[i] > right) right = x[i];
    if (y[i] < top) top = y[i];
    if (y[i] > bottom) bottom = y[i];
  }
  return Math.hypot(right - left, bottom - top);
}

/** Places of a border from the first to the last, and the line that fits them where that is known already. */
interface Run {
  readonly first: number;
  last: number;
  fit: Line | null;
}

/** Runs that no place leaves by more than SPLIT. */
function straightRuns(border: Border, memory: LineMemory): Run[] {
  const out: [number, number][] = [];
  const { x, y, closed } = border;
  const n = x.length;
  if (n < SHORTEST / 2) return [];
  const stack: [number, number][] = [];
  if (closed) {
    // A loop is opened at two far places.
    const half = farthest(border, 0);
    const start = farthest(border, half);
    stack.push([Math.min(half, start), Math.max(half, start)]);
    if (Math.min(half, start) > 0) stack.push([0, Math.min(half, start)]);
    stack.push([Math.max(half, start), n - 1]);
  } else stack.push([0, n - 1]);
  while (stack.length > 0) {
    const [first, last] = stack.pop() as [number, number];
    const [ax, ay] = [x[first], y[first]];
    const [dx, dy] = [x[last] - ax, y[last] - ay];
    const length = Math.hypot(dx, dy);
    let [worst, at] = [0, -1];
    for (let i = first + 1; i < last; i++) {
      const [px, py] = [x[i] - ax, y[i] - ay];
      const off = length > 0 ? Math.abs(px * dy - py * dx) : px * px + py * py;
      if (off > worst) [worst, at] = [off, i];
    }
    if ((length > 0 ? worst / length : Math.sqrt(worst)) > SPLIT) stack.push([first, at], [at, last]);
    else out.push([first, last]);
  }
  out.sort((a, b) => a[0] - b[0]);
  return joined(border, out, memory);
}

/** Neighbouring runs that one line fits are one run: a single ragged place does not end an edge. */
function joined(border: Border, runs: readonly (readonly [number, number])[], memory: LineMemory): Run[] {
  const out: Run[] = [];
  for (const [first, last] of runs) {
    const before = out.at(-1);
    const near =
      before?.last === first &&
      last - before.first > SHORTEST / 2 &&
      offChord(border, [before.first, first, last]) < 3 * SPLIT;
    const fit = near ? lineAlong(border, [before.first, last], memory) : null;
    // The ends must lie on it too: a corner just behind an end is no rag.
    if (before && fit && fit.ends <= ROUGHEST) {
      before.last = last;
      before.fit = fit;
    } else out.push({ first, last, fit: null });
  }
  return out;
}

/** Distance of the middle one of three places from the line through the outer two; from the first where they are one. */
function offChord({ x, y }: Border, [first, middle, last]: readonly [number, number, number]): number {
  const [dx, dy] = [x[last] - x[first], y[last] - y[first]];
  const [px, py] = [x[middle] - x[first], y[middle] - y[first]];
  const length = Math.hypot(dx, dy);
  return length > 0 ? Math.abs(px * dy - py * dx) / length : Math.hypot(px, py);
}

function farthest({ x, y }: Border, from: number): number {
  let [far, at] = [-1, from];
  for (let i = 0; i < x.length; i++) {
    const d = (x[i] - x[from]) ** 2 + (y[i] - y[from]) ** 2;
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

/** The line that fits a run of places, null where none does: from memory where it was fitted to the same places before. */
function lineAlong(
  { x, y }: Border,
  [first, last]: readonly [number, number],
  { before, now }: LineMemory,
): Line | null {
  const xs = x.subarray(first, last + 1);
  const ys = y.subarray(first, last + 1);
  // Two runs that come to the same key cost time and nothing else.
  const key = 1e4 * (1e4 * xs.length + xs[0]) + ys[0];
  const known = now.get(key) ?? before.get(key);
  if (known && isSame(known.xs, xs) && isSame(known.ys, ys)) {
    now.set(key, known);
    return known.line;
  }
  const line = fittedLine(xs, ys);
  now.set(key, { xs, ys, line });
  return line;
}

function isSame(a: Float64Array, b: Float64Array): boolean {
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}

function fittedLine(xs: Float64Array, ys: Float64Array): Line | null {
  const n = xs.length;
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

const ENOUGH = 128; // values, evenly spread, that tell a median

/** The middle one of the sizes of values, the upper of two. Source: Hoare 1961, Communications of the ACM 4(7), 321. */
function medianSize(values: Float64Array): number {
  const step = Math.ceil(values.length / ENOUGH);
  const sizes = new Float64Array(Math.ceil(values.length / step));
  for (let i = 0; i < sizes.length; i++) sizes[i] = Math.abs(values[i * step]);
  const middle = sizes.length >> 1;
  for (let low = 0, high = sizes.length - 1; low < high;) {
    const pivot = sizes[(low + high) >> 1];
    let [i, j] = [low, high];
    while (i <= j) {
      while (sizes[i] < pivot) i++;
      while (sizes[j] > pivot) j--;
      if (i > j) break;
      const swapped = sizes[i];
      sizes[i++] = sizes[j];
      sizes[j--] = swapped;
    }
    if (middle <= j) high = j;
    else if (middle >= i) low = i;
    else break;
  }
  return sizes[middle];
}

/** Draws the border anew along a line: cover by the distance of a pixel from it, as soft as the border was. */
function draw(data: Uint8Array, { width, height, data: before }: Mask, { from, to, length }: Line): void {
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const left = Math.max(0, Math.floor(Math.min(from[0], to[0]) - REACH));
  const right = Math.min(width - 1, Math.ceil(Math.max(from[0], to[0]) + REACH));
  const top = Math.max(0, Math.floor(Math.min(from[1], to[1]) - REACH));
  const bottom = Math.min(height - 1, Math.ceil(Math.max(from[1], to[1]) + REACH));
  /** Calls `each` with the pixels beside the line and how far each lies on its covered side. */
  const along = (each: (p: number, inward: number) => void) => {
    for (let y = top; y <= bottom; y++) {
      const dy = y + 0.5 - from[1];
      let [begin, end] = [left, right];
      if (Math.abs(uy) > 1e-3) {
        const [one, other] = [(dy * ux - REACH) / uy, (dy * ux + REACH) / uy];
        begin = Math.max(left, Math.floor(from[0] + Math.min(one, other)) - 1);
        end = Math.min(right, Math.ceil(from[0] + Math.max(one, other)) + 1);
      }
      for (let x = begin; x <= end; x++) {
        const dx = x + 0.5 - from[0];
        const way = dx * ux + dy * uy;
        // The covered side is on the left of the way: with y down, that is where this is negative.
        const off = dy * ux - dx * uy;
        if (way >= INSET && way <= length - INSET && Math.abs(off) <= REACH) each(y * width + x, -off);
      }
    }
  };
  let partly = 0;
  along((p) => {
    if (before[p] > 12 && before[p] < 243) partly++;
  });
  const width50 = Math.min(
    4,
    Math.max(Math.abs(ux) + Math.abs(uy), partly / Math.max(1, length - 2 * INSET)),
  );
  along((p, inward) => {
    data[p] = Math.round(255 * Math.max(0, Math.min(1, 0.5 + inward / width50)));
  });
}
