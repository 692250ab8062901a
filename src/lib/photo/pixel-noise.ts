import type { Image8 } from './image.ts';
import type { LabReader } from './lab-table.ts';

/** Variances of a pixel's L*, a* and b* about the true colour. */
export type NoiseVariance = readonly [L: number, a: number, b: number];

/** Side of the squares that are looked at, pixels: those of a JPEG. */
const SIDE = 8;
/** Squares looked at, at most; and which of them, counted from the smoothest, tells the noise. Common practice, no published source. */
const MOST_SQUARES = 160;
const SMOOTH_SHARE = 0.2;
/**
 * Most that is put down to noise, standard deviation of the three axes together, CIELAB units: a phone's picture of a wall
 * indoors stays below. Where every square is rougher, it is the material. Common practice, no published source.
 */
export const MOST_NOISE = 2;

/**
 * What sensor noise and compression do to single pixels, read off the smoothest fifth of small squares of a box (whole
 * pixels, inside the picture): second differences of neighbours, which slopes and soft shading leave alone. A texture that
 * is rough everywhere cannot be told from noise; no more than `MOST_NOISE` is ever said. Zero where no square fits.
 */
export function pixelNoise(
  image: Image8,
  box: {
    readonly left: number;
    readonly top: number;
    readonly width: number;
    readonly height: number;
    /** Which pixels of the picture count; null: all. */
    readonly inside: Uint8Array | null;
  },
  readLab: LabReader,
): NoiseVariance {
  const columns = Math.floor(box.width / SIDE);
  const rows = Math.floor(box.height / SIDE);
  const step = Math.max(1, Math.ceil(Math.sqrt((columns * rows) / MOST_SQUARES)));
  const labs = new Float32Array(3 * SIDE * SIDE);
  const found: number[][] = [];
  for (let row = 0; row < rows; row += step) {
    for (let column = 0; column < columns; column += step) {
      const first = (box.top + row * SIDE) * image.width + box.left + column * SIDE;
      if (readSquare(image, first, { inside: box.inside, readLab, labs }))
        found.push(secondDifferences(labs));
    }
  }
  if (found.length === 0) return [0, 0, 0];
  const total = (v: readonly number[]) => v[0] + v[1] + v[2];
  found.sort((p, q) => total(p) - total(q));
  const [L, a, b] = found[Math.floor(SMOOTH_SHARE * (found.length - 1))];
  const keep = Math.min(1, MOST_NOISE ** 2 / Math.max(1e-12, L + a + b));
  return [keep * L, keep * a, keep * b];
}

/** CIELAB of a square's pixels; false where one is clipped, empty or outside the region. */
function readSquare(
  { data, channels, width }: Image8,
  first: number,
  { inside, readLab, labs }: { inside: Uint8Array | null; readLab: LabReader; labs: Float32Array },
): boolean {
  for (let y = 0, k = 0; y < SIDE; y++)
    for (let x = 0; x < SIDE; x++, k += 3) {
      const p = first + y * width + x;
      if (inside && inside[p] === 0) return false;
      const i = p * channels;
      const [low, high] = [
        Math.min(data[i], data[i + 1], data[i + 2]),
        Math.max(data[i], data[i + 1], data[i + 2]),
      ];
      if (high >= 254 || low === 0) return false;
      readLab(data, i, labs, k);
    }
  return true;
}

/** Mean squares of p - 2 q + r over neighbours in rows and columns, over 6: the variance of what is independent in each. */
function secondDifferences(labs: Float32Array): number[] {
  const sums = [0, 0, 0];
  let count = 0;
  for (let i = 0; i < SIDE; i++)
    for (let j = 1; j < SIDE - 1; j++) {
      count += 2;
      for (let c = 0; c < 3; c++) {
        const across = 3 * (i * SIDE + j) + c;
        const down = 3 * (j * SIDE + i) + c;
        sums[c] += (labs[across - 3] - 2 * labs[across] + labs[across + 3]) ** 2;
        sums[c] += (labs[down - 3 * SIDE] - 2 * labs[down] + labs[down + 3 * SIDE]) ** 2;
      }
    }
  return sums.map((sum) => sum / (6 * count));
}
