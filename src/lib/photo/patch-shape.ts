import { solve, type Features } from './segment.ts';
import {
  areaOfMask,
  depthOf,
  filled,
  hullOf,
  largestPart,
  maskOf,
  outlineOf,
  rectangleRound,
  simplified,
  type Mask,
  type Rectangle,
} from './outline.ts';
import { areaOf, type Point } from './region.ts';

/** What a region of the picture looks like as a painted patch. Lengths in pixels of the picture it was found in. */
export interface PatchShape {
  readonly mask: Mask;
  readonly area: number;
  readonly rectangle: Rectangle;
  readonly mean: readonly [number, number, number];
  /** Residual sd of the features inside, after a plane was taken off. */
  readonly unevenness: number;
  /** Median step of the features across the outline. */
  readonly contrast: number;
  /** Share of the outline across which there is a step, and that lies on the picture's border. */
  readonly stepShare: number;
  readonly borderShare: number;
  /** Pixels (y * width + x) just outside the outline, some of them. */
  readonly outside: readonly number[];
  /** 0-1: how much it looks like a painted patch on something else. */
  readonly score: number;
}

/** 0 up to `none`, 1 from `full` on, a straight line between; also falling. */
function ramp(value: number, none: number, full: number): number {
  return Math.min(1, Math.max(0, (value - none) / (full - none)));
}

const STEP = 3; // pixels either side of the outline at which a step is looked for
/** Feature units; below it an edge is not seen. */
export const LEAST_STEP = 1.5;

/**
 * Looks at the pixels of one region. `persistence`: how much dearer its union with a neighbour is than its own
 * coming together. The score is a product, so that one clear no is a no; limits are those at which synthesised
 * boards (ragged edges, grain, shading, neighbouring near-equals) kept their patches and lost the rest.
 */
export function patchShape(pixels: Int32Array, features: Features, persistence: number): PatchShape | null {
  const { width, height, data } = features;
  const own = maskOf(pixels, width);
  const mask = opened(filled(own));
  const area = areaOfMask(mask);
  if (area < pixels.length * 0.5 || area < 30) return null;
  const holes = 1 - overlap(own, mask) / area;
  const outline = outlineOf(mask);
  const hull = hullOf(outline);
  const rectangle = rectangleRound(hull);
  const solidity = area / areaOf({ kind: 'polygon', points: hull });
  const rectangularity = area / (rectangle.long * rectangle.short);
  const { mean, unevenness } = plane(mask, own, features);
  const steps: number[] = [];
  const beyond: number[] = [];
  let border = 0;
  const n = outline.length;
  for (let i = 0; i < n; i += 2) {
    const [ax, ay] = outline[(i + n - 5) % n];
    const [bx, by] = outline[(i + 5) % n];
    const length = Math.hypot(bx - ax, by - ay);
    if (length === 0) continue;
    const [nx, ny] = [-(by - ay) / length, (bx - ax) / length];
    const [x, y] = outline[i];
    const at = (d: number) => {
      const [px, py] = [Math.floor(x + nx * d), Math.floor(y + ny * d)];
      return px < 0 || py < 0 || px >= width || py >= height ? -1 : (py * width + px) * 3;
    };
    const inside = at(STEP);
    const outside = at(-STEP);
    if (outside < 0 || at(-1.5) < 0) border++;
    else if (inside >= 0) {
      beyond.push(outside / 3);
      steps.push(
        Math.hypot(
          data[inside] - data[outside],
          data[inside + 1] - data[outside + 1],
          data[inside + 2] - data[outside + 2],
        ),
      );
    }
  }
  if (steps.length === 0) return null;
  const sorted = [...steps].sort((p, q) => p - q);
  const contrast = sorted[sorted.length >> 1];
  const threshold = Math.max(LEAST_STEP, 0.8 * unevenness);
  const stepShare = steps.filter((s) => s >= threshold).length / steps.length;
  const borderShare = border / (border + steps.length);
  const score =
    ramp(rectangularity, 0.5, 0.8) *
    ramp(solidity, 0.7, 0.9) *
    ramp(rectangle.short, 5, 10) *
    // Faint long streaks are grain.
    ramp(rectangle.short / rectangle.long, 0.05, 0.14 + 0.21 * ramp(contrast, 6, 3)) *
    ramp(holes, 0.2, 0.06) *
    ramp(stepShare, 0.5, 0.85) *
    ramp(contrast, 1.2, 3) *
    ramp(contrast / (unevenness + 0.3), 0.7, 2.2) *
    ramp(unevenness, 9, 4) *
    ramp(borderShare, 0.3, 0.05) *
    ramp(persistence, 1.3, 3);
  return {
    mask,
    area,
    rectangle,
    mean,
    unevenness,
    contrast,
    stepShare,
    borderShare,
    outside: beyond,
    score,
  };
}

/** Without the thin parts: what is left after taking off a rim and growing it back. */
function opened(mask: Mask): Mask {
  const depth = depthOf(mask);
  let deepest = 0;
  for (const d of depth) if (d > deepest) deepest = d;
  const rim = Math.min(3, 0.3 * deepest);
  const n = depth.length;
  const shell = new Uint8Array(n);
  for (let i = 0; i < n; i++) shell[i] = depth[i] > rim ? 0 : 1;
  const away = depthOf({ width: mask.width, height: mask.height, data: shell });
  const data = new Uint8Array(n);
  for (let i = 0; i < n; i++) data[i] = mask.data[i] === 1 && away[i] <= rim + 0.5 ? 1 : 0;
  return largestPart({ ...mask, data });
}

function overlap(a: Mask, b: Mask): number {
  let n = 0;
  for (let i = 0; i < a.data.length; i++) n += a.data[i] & b.data[i];
  return n;
}

function plane(
  mask: Mask,
  own: Mask,
  features: Features,
): { mean: [number, number, number]; unevenness: number } {
  const { width, data } = features;
  const lower = new Float64Array(9);
  const right = [new Float64Array(3), new Float64Array(3), new Float64Array(3)];
  const squares = [0, 0, 0];
  const sums = [0, 0, 0];
  let n = 0;
  for (let y = 0; y < mask.height; y++)
    for (let x = 0; x < mask.width; x++) {
      const m = y * mask.width + x;
      if ((mask.data[m] & own.data[m]) === 0) continue;
      const [u, v] = [x / mask.width - 0.5, y / mask.height - 0.5];
      const i = ((y + mask.top) * width + x + mask.left) * 3;
      n++;
      lower[0]++;
      lower[3] += u;
      lower[4] += u * u;
      lower[6] += v;
      lower[7] += u * v;
      lower[8] += v * v;
      for (let c = 0; c < 3; c++) {
        const value = data[i + c];
        right[c][0] += value;
        right[c][1] += value * u;
        right[c][2] += value * v;
        squares[c] += value * value;
        sums[c] += value;
      }
    }
  lower[4] += 1e-6 * n;
  lower[8] += 1e-6 * n;
  let rest = 0;
  for (let c = 0; c < 3; c++) {
    const fit = solve(lower, right[c], 3);
    rest += Math.max(0, squares[c] - fit[0] * right[c][0] - fit[1] * right[c][1] - fit[2] * right[c][2]) / n;
  }
  return { mean: [sums[0] / n, sums[1] / n, sums[2] / n], unevenness: Math.sqrt(rest) };
}

/**
 * The part of a patch well inside its edges: the pixels at least an eighth of its half width (and a pixel and a
 * quarter) deep, and the polygon round them.
 */
export function insideOf(mask: Mask): { mask: Mask; polygon: Point[] } {
  const depth = depthOf(mask);
  let deepest = 0;
  for (const d of depth) if (d > deepest) deepest = d;
  const rim = Math.min(Math.max(1.25, 0.125 * deepest), 4, 0.5 * deepest);
  const inner = largestPart({ ...mask, data: Uint8Array.from(depth, (d) => (d > rim ? 1 : 0)) });
  return { mask: inner, polygon: simplified(outlineOf(inner), 1) };
}
