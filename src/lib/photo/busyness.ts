import type { Correction } from './correction.ts';
import { checkImage, type Image8 } from './image.ts';
import { labReader, type LabReader } from './lab-table.ts';
import { pixelNoise } from './pixel-noise.ts';
import { areaOf, coverage, extentOf, type Region } from './region.ts';
import { noiseLeft, sCielab, samplesPerDegree, type RelativeImage } from './s-cielab.ts';

/** How busy a pattern looks from a distance. */
export interface PatternMeasurement {
  /**
   * Root mean square difference from the region's mean colour in the picture as the eye resolves it, CIELAB units: 0 for a
   * plain surface.
   */
  readonly busyness: number;
  /** Its parts: standard deviations of L*, a* and b*. */
  readonly spread: { readonly L: number; readonly a: number; readonly b: number };
  /** Pixels of the photo to a degree of the visual field. */
  readonly samplesPerDegree: number;
  /**
   * `too coarse`: the eye would see more detail than the photo has, so that the pattern may be busier than measured; a photo
   * from closer by would tell.
   */
  readonly resolution: 'enough' | 'too coarse';
  /** How much L* changes from one end of the region to the other along a slope, which was taken for the light's. */
  readonly shading: number;
}

export interface PatternViewing {
  /** As the colours are measured; null takes the picture as delivered. */
  readonly correction: Correction | null;
  /** Real width across the region's bounding box, mm. */
  readonly width: number;
  /** From where it is looked at, mm. */
  readonly distance: number;
}

/** Finer than this, samples to a degree, a picture is averaged down by whole pixels before it is filtered: the eye sees none of it. */
const FINE = 50;
/**
 * Coarser than this, samples to a degree, detail is missing that the eye would see: of 10 cycles to a degree, the finest
 * stripes such a photo holds, the light-dark kernel still passes nearly half.
 */
const COARSE = 20;
/** Pixels from which on only every third one, across and down, is answered: a spread needs no more. */
const MANY = 600_000;
/** Fewer pixels than this say nothing about a pattern. */
const LEAST_PIXELS = 64;
/** Regions below this area, pixels, take every pixel they touch. */
const SMALL = 4000;
/** A pixel at this device value or above is clipped and says nothing (as `measureRegion`). */
const TOP = 254;

/**
 * How busy a region of a photo looks: the spatial spread of its S-CIELAB picture (`sCielab`) at that size and distance.
 * The slope of L*, a* and b* across the region (least squares) is taken for the light's and left out, and so is what is left
 * of the photo's own noise (`pixelNoise`); clipped pixels are not read, unless they are most of it. `null` where the region holds too few pixels to show a pattern.
 * RangeError for a width or distance that is not above 0 or a region outside the picture.
 */
export function measurePattern(
  image: Image8,
  region: Region,
  { correction, width, distance }: PatternViewing,
): PatternMeasurement | null {
  checkImage(image);
  for (const [name, length] of [
    ['width', width],
    ['distance', distance],
  ] as const)
    if (!(length > 0 && Number.isFinite(length)))
      throw new RangeError(`Expected a ${name} above 0 mm, got ${length}`);
  const extent = extentOf(region);
  const samples = samplesPerDegree(width / (extent.right - extent.left), distance);
  const block = Math.max(1, Math.floor(samples / FINE));
  const frame = frameOf(image, region);
  const readLab = labReader(image.space, correction);
  const light = regionLight(image, frame, { readLab, block });
  if (!light) return null;
  const every = light.width * light.height > MANY ? 3 : 1;
  const { labs, ...size } = sCielab(light, { samplesPerDegree: samples / block, every });
  const { variance, shading } = levelled(labs, weightsOf(light, every), size.width);
  const noise = pixelNoise(image, frame, readLab);
  const left = noiseLeft(samples / block);
  const [L, a, b] = variance.map((v, k) =>
    Math.sqrt(Math.max(0, v - (noise[k] * left[k]) / (block * block))),
  );
  return {
    busyness: Math.hypot(L, a, b),
    spread: { L, a, b },
    samplesPerDegree: samples,
    resolution: samples < COARSE ? 'too coarse' : 'enough',
    shading,
  };
}

/** A region's bounding box in whole pixels inside the picture, and which of its pixels count (null: all). */
interface Frame {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly inside: Uint8Array | null;
}

function frameOf(image: Image8, region: Region): Frame {
  const extent = extentOf(region);
  const left = Math.max(0, Math.round(extent.left));
  const top = Math.max(0, Math.round(extent.top));
  const width = Math.min(image.width, Math.round(extent.right)) - left;
  const height = Math.min(image.height, Math.round(extent.bottom)) - top;
  if (region.kind === 'box' && width > 0 && height > 0) return { left, top, width, height, inside: null };
  const inside = new Uint8Array(image.width * image.height);
  // A sliver may hold no pixel's centre.
  const edges = areaOf(region) < SMALL ? 'smooth' : 'centre';
  for (const p of coverage(region, image, edges).pixels) inside[p] = 1;
  return { left, top, width, height, inside };
}

/** The region in corrected light, means over blocks of pixels; null with too few pixels. */
function regionLight(
  image: Image8,
  { left, top, width, height, inside }: Frame,
  { readLab, block }: { readLab: LabReader; block: number },
): RelativeImage | null {
  if (width * height < LEAST_PIXELS) return null;
  const { data, channels } = image;
  const columns = Math.ceil(width / block);
  const rows = Math.ceil(height / block);
  const sums = new Float32Array(3 * columns * rows);
  const counts = new Float32Array(columns * rows);
  const lab = new Float64Array(3);
  const cellOf = Int32Array.from({ length: width }, (_, x) => Math.floor(x / block));
  const gather = (clipped: boolean) => {
    let used = 0;
    for (let y = 0; y < height; y++) {
      const row = Math.floor(y / block) * columns;
      for (let x = 0, p = (top + y) * image.width + left; x < width; x++, p++) {
        if (inside && inside[p] === 0) continue;
        const i = p * channels;
        if (!clipped && (data[i] >= TOP || data[i + 1] >= TOP || data[i + 2] >= TOP)) continue;
        const cell = row + cellOf[x];
        readLab(data, i, lab, 0);
        const fy = (lab[0] + 16) / 116;
        sums[3 * cell] += expand(fy + lab[1] / 500);
        sums[3 * cell + 1] += expand(fy);
        sums[3 * cell + 2] += expand(fy - lab[2] / 200);
        counts[cell]++;
        used++;
      }
    }
    return used;
  };
  const whole = inside ? inside.reduce((sum, v) => sum + v, 0) : width * height;
  let used = gather(false);
  if (used < whole / 2) {
    sums.fill(0);
    counts.fill(0);
    used = gather(true);
  }
  if (used < LEAST_PIXELS) return null;
  for (let c = 0; c < counts.length; c++)
    if (counts[c] > 0) for (let k = 0; k < 3; k++) sums[3 * c + k] /= counts[c];
  const full = block * block;
  const complete = used === width * height && columns * block === width && rows * block === height;
  return {
    width: columns,
    height: rows,
    data: sums,
    ...(!complete && { weight: counts.map((count) => count / full) }),
  };
}

/** Weights of the answered pixels; all 1 where every pixel counts. */
function weightsOf({ width, height, weight }: RelativeImage, every: number): Float32Array {
  const columns = Math.ceil(width / every);
  const out = new Float32Array(columns * Math.ceil(height / every)).fill(1);
  if (weight)
    for (let i = 0; i < out.length; i++) {
      const x = i % columns;
      out[i] = weight[((i - x) / columns) * every * width + x * every];
    }
  return out;
}

const EPSILON = 6 / 29;

/** The inverse of CIELAB's compressing function, ISO/CIE 11664-4. */
function expand(f: number): number {
  return f > EPSILON ? f * f * f : 3 * EPSILON * EPSILON * (f - 4 / 29);
}

/** Variances of L*, a*, b* about the plane that fits them best, and how much L* of that plane changes end to end. */
function levelled(
  labs: Float32Array,
  weights: Float32Array,
  columns: number,
): { variance: number[]; shading: number } {
  const rows = weights.length / columns;
  const centred = (i: number, n: number) => (n > 1 ? (2 * i) / (n - 1) - 1 : 0); // -1 to 1
  // Moments of 1, x, y, and of each with L, a, b.
  let [n, sx, sy, sxx, sxy, syy] = [0, 0, 0, 0, 0, 0];
  const means = new Float64Array(3);
  for (let i = 0; i < weights.length; i++) {
    const weight = weights[i];
    if (weight === 0) continue;
    const x = centred(i % columns, columns);
    const y = centred(Math.floor(i / columns), rows);
    n += weight;
    sx += weight * x;
    sy += weight * y;
    sxx += weight * x * x;
    sxy += weight * x * y;
    syy += weight * y * y;
    for (let c = 0; c < 3; c++) means[c] += weight * labs[3 * i + c];
  }
  const [mx, my] = [sx / n, sy / n];
  const [vxx, vxy, vyy] = [sxx / n - mx * mx, sxy / n - mx * my, syy / n - my * my];
  for (let c = 0; c < 3; c++) means[c] /= n;
  const squares = new Float64Array(3);
  const withX = new Float64Array(3);
  const withY = new Float64Array(3);
  for (let i = 0; i < weights.length; i++) {
    const weight = weights[i] / n;
    if (weight === 0) continue;
    const x = centred(i % columns, columns) - mx;
    const y = centred(Math.floor(i / columns), rows) - my;
    for (let c = 0; c < 3; c++) {
      const d = labs[3 * i + c] - means[c];
      squares[c] += weight * d * d;
      withX[c] += weight * d * x;
      withY[c] += weight * d * y;
    }
  }
  const determinant = vxx * vyy - vxy * vxy;
  const slopes = [0, 1, 2].map((c) =>
    determinant > 1e-9
      ? [(vyy * withX[c] - vxy * withY[c]) / determinant, (vxx * withY[c] - vxy * withX[c]) / determinant]
      : [0, 0],
  );
  const variance = slopes.map(([p, q], c) => Math.max(0, squares[c] - p * withX[c] - q * withY[c]));
  return { variance, shading: 2 * Math.hypot(...slopes[0]) };
}
