import { checkImage, type Image8 } from './image.ts';

/**
 * The grain of a picture: what a sensor in poor light adds to every pixel. Device values of 8 bits in three axes: the sum of
 * red, green and blue over its length, and two differences of them that are 0 for greys, orthonormal.
 */
export interface Grain {
  /**
   * Standard deviation of orthonormal Haar details by axis, by sort (across and down, diagonal) and by scale (steps of 1, 2, 4
   * and 8 pixels), device values: the same everywhere where grain is white and of one size in red, green and blue.
   */
  readonly deviation: readonly (readonly (readonly number[])[])[];
  /** How much larger it is by brightness: one factor for each sixteenth of the device values. */
  readonly byBrightness: Float32Array;
}

const AXES = 3;
const SCALES = 4;
const MEASURED = 3; // scales whose details say more of grain than of the room
const SQUARE = 8; // details a side that are looked at together
const QUIET = 0.25; // share of the squares, counted from the smoothest, that tells the grain
const QUIET_BIAS = 0.945; // what it shows of the deviation: 0.936 of 64 independent normal details, 0.956 of 128 (chi squared)
const BINS = 8; // of brightness
const TELLING = 12; // squares
const CLIPPED = 8; // device values from black and white
const MOST_FACTOR = 1.6;
const LEAST_FACTOR = 0.6;
/** Least deviation of the first axis at its two finest scales from which a picture counts as grainy. */
const GRAINY = [1.5, 3] as const;
/** What grows so from scale to scale twice over is the texture of a material: grain that is correlated over pixels levels off. */
const COARSENING = 1.75;
const LEAST_DEVIATION = 0.35; // of any axis: rounding to whole device values leaves 0.29

/**
 * Measures a picture's grain; null where there is too little to matter. Grain is everywhere: it is what the smoothest quarter of
 * small squares still has, brightness by brightness, so that stone, cloth and wood are not taken for it where anything else
 * is in the picture. Haar details, whose squares never reach over a border of 8 x 8 blocks of compression; whether there is
 * any grain is told from the diagonal ones, which slopes and level and upright edges leave alone.
 * Source: Donoho and Johnstone 1994, Biometrika 81(3), 425-455 (the noise is read off the finest details, robustly);
 * smoothest squares and brightness as in Foi, Trimeche, Katkovnik and Egiazarian 2008, IEEE Trans. Image Process. 17(10), 1737-1754.
 */
export function measuredGrain(image: Image8): Grain | null {
  checkImage(image);
  let plane = opponent(image);
  const found: Quiet[][][] = []; // by scale, then sort, axes after each other
  for (let scale = 0; scale < MEASURED; scale++) {
    if (Math.min(plane.width, plane.height) < 2 * SQUARE) break;
    const half = halved(plane);
    const { width } = plane;
    found.push(plane.data.flatMap((from) => quietDeviations({ width, from }, half, 2 ** (scale + 1))));
    plane = half;
  }
  if (found.length < MEASURED) return null;
  const typical = found.map((kinds) => kinds.map(typicalOf));
  const [fine, middle, coarse] = typical.map((kinds) => kinds[1]);
  if (fine < GRAINY[0] && middle < GRAINY[1]) return null;
  if (middle > COARSENING * fine && coarse > COARSENING * middle) return null;
  const deviation = typical[0].map((_, kind) => levelled(typical.map((kinds) => kinds[kind])));
  const last = SCALES - 1;
  for (let kind = 2; kind < deviation.length; kind++)
    deviation[kind][last] = Math.max(deviation[kind][last], COLOURED * deviation[kind % 2][last]);
  return {
    deviation: Array.from({ length: AXES }, (_, axis) => deviation.slice(2 * axis, 2 * axis + 2)),
    byBrightness: factorsOf(found[1][1], typical[1][1]),
  };
}

/** Coarse scales have more and more of the room in them. Correlated grain grows from scale to scale, but less and less. */
function levelled(measured: readonly number[]): number[] {
  const out = measured.slice(0, 2).map((d) => Math.max(LEAST_DEVIATION, d));
  while (out.length < SCALES) {
    const last = out[out.length - 1];
    const growth = Math.sqrt(Math.max(1, last / out[out.length - 2]));
    out.push(Math.max(last, Math.min(last * growth, measured[out.length] ?? last)));
  }
  return out;
}

interface Planes {
  readonly width: number;
  readonly height: number;
  readonly data: readonly Float32Array[];
}

const [R3, R2, R6] = [Math.sqrt(1 / 3), Math.sqrt(1 / 2), Math.sqrt(1 / 6)];

function opponent({ width, height, channels, data: source }: Image8): Planes {
  const data = Array.from({ length: AXES }, () => new Float32Array(width * height));
  for (let p = 0, i = 0; p < width * height; p++, i += channels) {
    const [r, g, b] = [source[i], source[i + 1], source[i + 2]];
    data[0][p] = R3 * (r + g + b);
    data[1][p] = R2 * (r - b);
    data[2][p] = R6 * (r - 2 * g + b);
  }
  return { width, height, data };
}

/** Sums over squares of 2 x 2 in orthonormal measure. */
function halved({ width, height, data }: Planes): Planes {
  const [w, h] = [width >> 1, height >> 1];
  const sums = data.map((from) => {
    const out = new Float32Array(w * h);
    for (let y = 0, k = 0; y < h; y++)
      for (let x = 0, i = 2 * y * width; x < w; x++, k++, i += 2)
        out[k] = 0.5 * (from[i] + from[i + 1] + from[i + width] + from[i + width + 1]);
    return out;
  });
  return { width: w, height: h, data: sums };
}

/** What the smoother squares show: deviation and number of squares for each bin of brightness. */
interface Quiet {
  readonly deviation: number;
  readonly squares: number;
}

/** Deviations of details across and down together, then of diagonal ones. */
function quietDeviations(
  { width, from }: { width: number; from: Float32Array },
  half: Planes,
  gain: number,
): [Quiet[], Quiet[]] {
  const found = [0, 1].map(() => Array.from({ length: BINS }, (): number[] => []));
  const toCode = R3 / gain / (SQUARE * SQUARE);
  for (let top = 0; top + SQUARE <= half.height; top += SQUARE)
    for (let left = 0; left + SQUARE <= half.width; left += SQUARE) {
      let [light, edges, diagonal] = [0, 0, 0];
      for (let y = top; y < top + SQUARE; y++)
        for (let x = left, i = 2 * (y * width + left); x < left + SQUARE; x++, i += 2) {
          const [a, b, c, d] = [from[i], from[i + 1], from[i + width], from[i + width + 1]];
          light += half.data[0][y * half.width + x];
          edges += (a - d) * (a - d) + (b - c) * (b - c);
          diagonal += (a - b - c + d) * (a - b - c + d);
        }
      const code = light * toCode;
      if (code < CLIPPED || code > 255 - CLIPPED) continue;
      const bin = Math.floor((code * BINS) / 256);
      found[0][bin].push(Math.sqrt(edges) / 2 / SQUARE);
      found[1][bin].push(Math.sqrt(diagonal) / 2 / SQUARE);
    }
  return found.map((bins) =>
    bins.map((deviations) => {
      deviations.sort((a, b) => a - b);
      const deviation = (deviations[Math.floor(QUIET * deviations.length)] ?? 0) / QUIET_BIAS;
      return { deviation, squares: deviations.length };
    }),
  ) as [Quiet[], Quiet[]];
}

/** The median over the brightnesses, each counting by its squares. */
function typicalOf(bins: readonly Quiet[]): number {
  const telling = bins.filter(({ squares }) => squares >= TELLING);
  const used = telling.length > 0 ? telling : bins;
  const sorted = [...used].sort((a, b) => a.deviation - b.deviation);
  const half = used.reduce((sum, { squares }) => sum + squares, 0) / 2;
  let sum = 0;
  for (const { deviation, squares } of sorted) if ((sum += squares) >= half) return deviation;
  return 0;
}

function factorsOf(bins: readonly Quiet[], typical: number): Float32Array {
  const known = bins.map(({ deviation, squares }) =>
    squares >= TELLING && typical > 0
      ? Math.max(LEAST_FACTOR, Math.min(MOST_FACTOR, deviation / typical))
      : null,
  );
  const nearest = (bin: number) => {
    for (let off = 0; off < BINS; off++) {
      const value = known[bin - off] ?? known[bin + off];
      if (value) return value;
    }
    return 1;
  };
  const byBin = known.map((_, bin) => nearest(bin));
  return Float32Array.from({ length: 16 }, (_, k) => {
    const at = Math.max(0, Math.min(BINS - 1, ((k + 0.5) * BINS) / 16 - 0.5));
    const low = Math.min(BINS - 2, Math.floor(at));
    return byBin[low] + (at - low) * (byBin[low + 1] - byBin[low]);
  });
}

const SIDE = 512; // of a tile
const HALO = 24; // reach of all scales together and of the window round each detail
/** Least deviation of the colour axes at the coarsest scale against the first one's: compression hides it at finer ones and leaves blotches. */
const COLOURED = 0.8;
const STRENGTH = 1.8; // noise energies that a window must exceed to count
const LIGHT_SHARE = 0.5; // of a window's energy that the first axis gives

/**
 * The picture without its grain, its edges kept: Haar details of all shifts, four scales, each made smaller by what grain
 * explains of the energy of its neighbours in all axes together.
 * Source: Coifman and Donoho 1995, Translation-invariant de-noising (Lecture Notes in Statistics 103, 125-150); shrinkage by
 * the neighbours as Chen, Bui and Krzyzak 2005, Integr. Comput.-Aided Eng. 12(1), 99-107 (own weights of the axes).
 */
export function withoutGrain(image: Image8, grain: Grain): Image8 {
  checkImage(image);
  const data = image.data.slice();
  const desk = deskFor();
  const inner = SIDE - 2 * HALO;
  for (let top = 0; top < image.height; top += inner)
    for (let left = 0; left < image.width; left += inner) {
      readTile(image, [left, top], desk);
      for (let scale = 0; scale < SCALES; scale++) {
        analyse(desk, scale);
        shrink(desk, scale, grain);
      }
      for (let scale = SCALES - 1; scale >= 0; scale--) synthesise(desk, scale);
      writeTile({ ...image, data }, [left, top], desk);
    }
  return { ...image, data };
}

interface Desk {
  /** Per axis: the picture, then its means over larger and larger squares. */
  readonly mean: readonly Float32Array[];
  /** Per scale and axis: details across, down and diagonal. */
  readonly details: readonly (readonly (readonly Float32Array[])[])[];
  readonly energy: Float32Array;
  readonly sums: Float32Array;
  readonly column: Float64Array;
}

function deskFor(): Desk {
  const plane = () => new Float32Array(SIDE * SIDE);
  return {
    mean: Array.from({ length: AXES }, plane),
    details: Array.from({ length: SCALES }, () =>
      Array.from({ length: AXES }, () => Array.from({ length: 3 }, plane)),
    ),
    energy: plane(),
    sums: plane(),
    column: new Float64Array(SIDE),
  };
}

/** A place mirrored at the borders until it lies inside. */
function mirrored(at: number, length: number): number {
  const period = 2 * length;
  const k = ((at % period) + period) % period;
  return k < length ? k : period - 1 - k;
}

function readTile({ width, height, channels, data }: Image8, [left, top]: readonly number[], { mean }: Desk) {
  const columns = Int32Array.from({ length: SIDE }, (_, x) => channels * mirrored(left + x - HALO, width));
  const [light, first, second] = mean;
  for (let y = 0, k = 0; y < SIDE; y++) {
    const row = channels * width * mirrored(top + y - HALO, height);
    for (let x = 0; x < SIDE; x++, k++) {
      const i = row + columns[x];
      const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
      light[k] = R3 * (r + g + b);
      first[k] = R2 * (r - b);
      second[k] = R6 * (r - 2 * g + b);
    }
  }
}

function writeTile(
  { width, height, channels, data }: Image8,
  [left, top]: readonly number[],
  { mean }: Desk,
) {
  const [light, first, second] = mean;
  const right = Math.min(width, left + SIDE - 2 * HALO);
  const bottom = Math.min(height, top + SIDE - 2 * HALO);
  for (let y = top; y < bottom; y++) {
    let k = (y - top + HALO) * SIDE + HALO;
    for (let x = left, i = channels * (y * width + left); x < right; x++, k++, i += channels) {
      const grey = R3 * light[k];
      data[i] = coded(grey + R2 * first[k] + R6 * second[k]);
      data[i + 1] = coded(grey - 2 * R6 * second[k]);
      data[i + 2] = coded(grey - R2 * first[k] + R6 * second[k]);
    }
  }
}

function coded(value: number): number {
  return value <= 0 ? 0 : value >= 255 ? 255 : (value + 0.5) | 0;
}

/** Means of each place with those to its right and below, and the details between them. */
function analyse({ mean, details }: Desk, scale: number): void {
  const s = 1 << scale;
  const down = s * SIDE;
  const end = SIDE - s;
  for (let axis = 0; axis < AXES; axis++) {
    const m = mean[axis];
    const [across, below, diagonal] = details[scale][axis];
    for (let y = 0; y < end; y++)
      for (let k = y * SIDE, last = k + end; k < last; k++) {
        const a = m[k];
        const b = m[k + s];
        const c = m[k + down];
        const d = m[k + down + s];
        const upper = a + b;
        const lower = c + d;
        const upperStep = a - b;
        const lowerStep = c - d;
        m[k] = 0.25 * (upper + lower);
        across[k] = 0.25 * (upperStep + lowerStep);
        below[k] = 0.25 * (upper - lower);
        diagonal[k] = 0.25 * (upperStep - lowerStep);
      }
  }
}

/** The mean over all squares a place lies in of what each says it is. */
function synthesise({ mean, details }: Desk, scale: number): void {
  const s = 1 << scale;
  const down = s * SIDE;
  for (let axis = 0; axis < AXES; axis++) {
    const m = mean[axis];
    const [across, below, diagonal] = details[scale][axis];
    for (let y = SIDE - 1; y >= s; y--)
      for (let k = y * SIDE + SIDE - 1, last = y * SIDE + s; k >= last; k--) {
        const l = k - s;
        const u = k - down;
        const v = u - s;
        m[k] =
          0.25 *
          (m[k] +
            across[k] +
            below[k] +
            diagonal[k] +
            (m[l] - across[l] + below[l] - diagonal[l]) +
            (m[u] + across[u] - below[u] - diagonal[u]) +
            (m[v] - across[v] - below[v] + diagonal[v]));
      }
  }
}

function shrink({ mean, details, energy, sums, column }: Desk, scale: number, grain: Grain): void {
  const radius = 1 << scale;
  // Means over 2^scale pixels a side: details are smaller by as much than orthonormal ones.
  const weightsOf = (kind: number) =>
    grain.deviation.map((deviation, axis) => {
      const share = axis === 0 ? LIGHT_SHARE : (1 - LIGHT_SHARE) / (AXES - 1);
      return share / (deviation[kind === 2 ? 1 : 0][scale] / 2 ** (scale + 1)) ** 2;
    });
  const byLight = Float32Array.from(grain.byBrightness, (factor) => 1 / factor ** 2);
  const toBin = (R3 * 16) / 256;
  const [light] = mean;
  for (let kind = 0; kind < 3; kind++) {
    const [a, b, c] = details[scale].map((kinds) => kinds[kind]);
    const [wa, wb, wc] = weightsOf(kind);
    for (let k = 0; k < energy.length; k++) {
      const bin = (light[k] * toBin) | 0;
      energy[k] =
        byLight[bin > 15 ? 15 : bin < 0 ? 0 : bin] * (wa * a[k] * a[k] + wb * b[k] * b[k] + wc * c[k] * c[k]);
    }
    windowed(energy, sums, { radius, column });
    const kept = STRENGTH * (2 * radius + 1) ** 2;
    for (let k = 0; k < energy.length; k++) {
      const total = energy[k];
      // Squared, so that edges keep nearly all they have: softened ones let selections through.
      const share = total > kept ? 1 - (kept / total) ** 2 : 0;
      a[k] *= share;
      b[k] *= share;
      c[k] *= share;
    }
  }
}

/** Sums over windows of 2 radius + 1 a side in place; what lies outside the tile counts nothing. */
function windowed(
  plane: Float32Array,
  sums: Float32Array,
  { radius, column }: { radius: number; column: Float64Array },
) {
  for (let y = 0; y < SIDE; y++) {
    const row = y * SIDE;
    let sum = 0;
    for (let x = 0; x < radius; x++) sum += plane[row + x];
    for (let x = 0; x < SIDE; x++) {
      if (x + radius < SIDE) sum += plane[row + x + radius];
      if (x > radius) sum -= plane[row + x - radius - 1];
      sums[row + x] = sum;
    }
  }
  column.fill(0);
  for (let y = 0; y < radius; y++) for (let x = 0; x < SIDE; x++) column[x] += sums[y * SIDE + x];
  for (let y = 0; y < SIDE; y++) {
    const enter = (y + radius) * SIDE;
    const leave = (y - radius - 1) * SIDE;
    for (let x = 0, k = y * SIDE; x < SIDE; x++, k++) {
      if (y + radius < SIDE) column[x] += sums[enter + x];
      if (y > radius) column[x] -= sums[leave + x];
      plane[k] = column[x];
    }
  }
}
