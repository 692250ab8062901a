import type { Lab } from '#lib/colour/index.ts';
import { ENCODE_STEPS, encodingTable } from './encoding.ts';
import { checkImage, linearTable, type Image8 } from './image.ts';
import { quilt, quiltedColours } from './quilt.ts';
import type { AlbedoPlane } from './recolour.ts';
import { albedoOf, type SurfaceLayers } from './shading.ts';

/** Four corners of a rectangle in a picture, from its top left corner clockwise as one stands before it; pixels. */
export type PlaneCorners = readonly [Corner, Corner, Corner, Corner];
type Corner = readonly [number, number];

/** A rectangle of a real surface: where its corners lie in the picture, and how large it is. */
export interface RealPlane {
  readonly corners: PlaneCorners;
  /** Millimetres along the first edge (from the first to the second corner) and along the next. */
  readonly width: number;
  readonly height: number;
}

/** A picture of stone, tile or wood, corrected, and how much of the real thing it shows, mm. */
export interface Pattern {
  readonly image: Image8;
  readonly width: number;
  readonly height: number;
}

export interface PatternOptions {
  /** Where the pattern's top left corner lies on the plane, mm from the plane's first corner. */
  readonly offset?: readonly [number, number];
  /** Degrees by which the pattern is turned clockwise on the plane. */
  readonly turn?: number;
  /**
   * What comes where the picture of the pattern ends: it again (tiles that were photographed joint to joint), or more of
   * the same material quilted from it, without seam or rhythm (stone, planks). `quilted` by default.
   */
  readonly repeat?: 'quilted' | 'same';
  /** Another one quilts another piece of the material; 1 by default. */
  readonly seed?: number;
  /** Takes slow changes of light across the picture of the pattern out of it; by default. */
  readonly even?: boolean;
}

/** Row-major 3x3 that takes [x, y, 1] to [u w, v w, w]. */
export type Homography = readonly number[];

/**
 * The homography that takes the four corners of a picture to a rectangle of width x height, first corner to (0, 0).
 * Throws RangeError where the corners are no convex quadrilateral in clockwise order or lie within a pixel of a line, and
 * where a side is no positive number.
 * Source: Heckbert 1989, Fundamentals of texture mapping and image warping, section 2.2.3 (square to quadrilateral), inverted.
 */
export function homographyToPlane({ corners, width, height }: RealPlane): Homography {
  if (!(width > 0 && height > 0 && Number.isFinite(width + height)))
    throw new RangeError(`Expected a plane of positive size in mm, got ${width} x ${height}`);
  for (let k = 0; k < 4; k++) {
    const [a, b, c] = [corners[k], corners[(k + 1) % 4], corners[(k + 2) % 4]];
    const turn = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
    if (!(turn > 1))
      throw new RangeError(
        `Expected four corners clockwise from the top left, each turning right, got ${JSON.stringify(corners)}`,
      );
  }
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = corners;
  const [dx1, dx2, sx] = [x1 - x2, x3 - x2, x0 - x1 + x2 - x3];
  const [dy1, dy2, sy] = [y1 - y2, y3 - y2, y0 - y1 + y2 - y3];
  const d = dx1 * dy2 - dx2 * dy1;
  const g = (sx * dy2 - dx2 * sy) / d;
  const h = (dx1 * sy - sx * dy1) / d;
  // Unit square to picture, its columns divided by the size in mm, then turned round.
  const m = [
    (x1 - x0 + g * x1) / width,
    (x3 - x0 + h * x3) / height,
    x0,
    (y1 - y0 + g * y1) / width,
    (y3 - y0 + h * y3) / height,
    y0,
    g / width,
    h / height,
    1,
  ];
  const cofactors = [
    m[4] * m[8] - m[5] * m[7],
    m[2] * m[7] - m[1] * m[8],
    m[1] * m[5] - m[2] * m[4],
    m[5] * m[6] - m[3] * m[8],
    m[0] * m[8] - m[2] * m[6],
    m[2] * m[3] - m[0] * m[5],
    m[3] * m[7] - m[4] * m[6],
    m[1] * m[6] - m[0] * m[7],
    m[0] * m[4] - m[1] * m[3],
  ];
  // The third component is 1 at the first corner: it is positive wherever the plane lies before the camera.
  const scale = cofactors[6] * x0 + cofactors[7] * y0 + cofactors[8];
  return cofactors.map((v) => v / scale);
}

/** At most so many samples side by side where the plane is seen at a low angle. */
const MOST_SAMPLES = 12;

/**
 * A pattern laid on a plane of the room and seen from the camera, as albedo over the box of a surface's layers: to be put
 * on with `paintOver`, which lights it. Beyond its own size the pattern repeats or is quilted (see `quilt`; what needs no more
 * than the picture shows is shown as it is). Each pixel is the mean of what it covers
 * (levels of half size, several samples along the longer side of its footprint), so that it neither flickers nor shows
 * false stripes. Beyond the plane's horizon stands the pattern's mean colour.
 * The pattern's picture must be in the space of the room's picture. Throws RangeError for sizes that are not positive, for
 * corners in no order, and for another space.
 * Source of the sampling: McCormack and others 1999, Feline, section 3 (samples along the longer axis, trilinear).
 */
export function projectPattern(
  layers: SurfaceLayers,
  pattern: Pattern,
  options: PatternOptions & { readonly plane: RealPlane },
): AlbedoPlane {
  checkImage(pattern.image);
  if (pattern.image.space !== layers.picture.space)
    throw new RangeError(
      `Expected a pattern in ${layers.picture.space} like the picture, got ${pattern.image.space}`,
    );
  if (!(pattern.width > 0 && pattern.height > 0 && Number.isFinite(pattern.width + pattern.height)))
    throw new RangeError(
      `Expected a pattern of positive size in mm, got ${pattern.width} x ${pattern.height}`,
    );
  const { box, coverage } = layers;
  const { offset = [0, 0], turn = 0, repeat = 'quilted', even = true, seed = 1 } = options;
  let levels = pyramid(pattern.image, even);
  let toTexels = texelMap(homographyToPlane(options.plane), pattern, { offset, turn });
  if (repeat === 'quilted') ({ levels, toTexels } = quilted({ levels, toTexels }, layers, seed));
  const data = new Uint8ClampedArray(3 * box.width * box.height);
  const encode = encoder(linearTable(pattern.image.space));
  const colour = new Float64Array(3);
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      if (coverage[o] === 0) continue;
      sample(levels, toTexels, { x: x + box.x + 0.5, y: y + box.y + 0.5, colour });
      for (let c = 0; c < 3; c++) data[3 * o + c] = encode(colour[c]);
    }
  return { width: box.width, height: box.height, data };
}

/** Picture to texels of the pattern's finest level, with its turn and offset. */
function texelMap(
  toPlane: Homography,
  { image, width, height }: Pattern,
  { offset, turn }: { offset: readonly [number, number]; turn: number },
): Homography {
  const [cos, sin] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
  const [sx, sy] = [image.width / width, image.height / height];
  const row = (k: number) =>
    [0, 1, 2].map((c) => toPlane[3 * k + c] - (k < 2 ? offset[k] : 0) * toPlane[6 + c]);
  const [u, v, w] = [row(0), row(1), row(2)];
  return [
    ...u.map((value, c) => sx * (cos * value + sin * v[c])),
    ...u.map((value, c) => sy * (cos * v[c] - sin * value)),
    ...w,
  ];
}

interface Level {
  readonly width: number;
  readonly height: number;
  readonly data: Float32Array;
}

/** The pattern in linear light and its means over 2 x 2, 4 x 4 ... texels, down to one. */
function pyramid(image: Image8, even: boolean): Level[] {
  const { width, height, channels, data } = image;
  const table = linearTable(image.space);
  const first = new Float32Array(3 * width * height);
  for (let i = 0, o = 0; o < first.length; i += channels, o += 3)
    for (let c = 0; c < 3; c++) first[o + c] = table[data[i + c]];
  let levels = halved({ width, height, data: first });
  if (even) levels = halved(evenedOut(levels));
  return levels;
}

function halved(first: Level): Level[] {
  const levels = [first];
  for (let from = first; from.width > 1 || from.height > 1; from = levels[levels.length - 1]) {
    const width = Math.max(1, Math.ceil(from.width / 2));
    const height = Math.max(1, Math.ceil(from.height / 2));
    const data = new Float32Array(3 * width * height);
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const x1 = Math.min(from.width - 1, 2 * x + 1);
        const y1 = Math.min(from.height - 1, 2 * y + 1);
        for (let c = 0; c < 3; c++)
          data[3 * (y * width + x) + c] =
            (from.data[3 * (2 * y * from.width + 2 * x) + c] +
              from.data[3 * (2 * y * from.width + x1) + c] +
              from.data[3 * (y1 * from.width + 2 * x) + c] +
              from.data[3 * (y1 * from.width + x1) + c]) /
            4;
      }
    levels.push({ width, height, data });
  }
  return levels;
}

/** The finest level over its own slow luminance: a plane through the logarithms, so that large veins stay. */
function evenedOut(levels: readonly Level[]): Level {
  const finest = levels[0];
  const coarse = levels[Math.max(0, levels.length - 5)];
  const { width, height } = coarse;
  let [sum, alongX, alongY, varX, varY] = [0, 0, 0, 0, 0];
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const o = 3 * (y * width + x);
      const value = Math.log(
        1e-3 + 0.2126 * coarse.data[o] + 0.7152 * coarse.data[o + 1] + 0.0722 * coarse.data[o + 2],
      );
      const [u, v] = [(x + 0.5) / width - 0.5, (y + 0.5) / height - 0.5];
      sum += value;
      alongX += u * value;
      alongY += v * value;
      varX += u * u;
      varY += v * v;
    }
  const slopeX = varX > 0 ? alongX / varX : 0;
  const slopeY = varY > 0 ? alongY / varY : 0;
  const data = new Float32Array(finest.data.length);
  const across = Float32Array.from({ length: finest.width }, (_, x) =>
    Math.exp(-slopeX * ((x + 0.5) / finest.width - 0.5)),
  );
  for (let y = 0, o = 0; y < finest.height; y++) {
    const down = Math.exp(-slopeY * ((y + 0.5) / finest.height - 0.5));
    for (let x = 0; x < finest.width; x++, o += 3)
      for (let c = 0; c < 3; c++) data[o + c] = finest.data[o + c] * down * across[x];
  }
  return { width: finest.width, height: finest.height, data };
}

/** A pattern and where its finest texels lie in the picture. */
interface Laid {
  readonly levels: Level[];
  readonly toTexels: Homography;
}

/** Of a quilt's sample at least so many texels along a side, where its picture has them. */
const LEAST_SIDE = 96;
/** Where a pixel covers this part of the sample or more, single grains are not told and no quilt has to reach. */
const TOLD = 1 / 12;
/** One pixel of so many along a row and a column tells how far the surface reaches. */
const LOOKED_AT = 3;

/**
 * The pattern quilted as far as the surface shows it, in texels no finer than its nearest pixels; as it was where the
 * surface shows no more than the pattern's picture does.
 */
function quilted({ levels, toTexels }: Laid, { box, coverage }: SurfaceLayers, seed: number): Laid {
  const { width, height } = levels[0];
  let [left, top, right, bottom, finest] = [Infinity, Infinity, -Infinity, -Infinity, Infinity];
  const least = TOLD * Math.min(width, height);
  // A few pixels that reach farther than these meet the quilt's other edge, which shows no seam.
  for (let y = 0; y < box.height; y += LOOKED_AT)
    for (let x = 0; x < box.width; x += LOOKED_AT) {
      if (coverage[y * box.width + x] === 0) continue;
      const print = footprint(toTexels, x + box.x + 0.5, y + box.y + 0.5);
      if (!print || print.long > least) continue;
      left = Math.min(left, print.u);
      right = Math.max(right, print.u);
      top = Math.min(top, print.v);
      bottom = Math.max(bottom, print.v);
      finest = Math.min(finest, print.short);
    }
  if (!(right > left && bottom > top)) return { levels, toTexels };
  if (left >= 0 && top >= 0 && right <= width && bottom <= height) return { levels, toTexels };
  let from = 0;
  while (
    from + 1 < levels.length &&
    2 ** (from + 1) <= finest &&
    Math.min(levels[from + 1].width, levels[from + 1].height) >= LEAST_SIDE
  )
    from++;
  const sample = levels[from];
  const [scaleU, scaleV] = [sample.width / width, sample.height / height];
  const wanted = {
    width: Math.max(1, Math.ceil(scaleU * (right - left))),
    height: Math.max(1, Math.ceil(scaleV * (bottom - top))),
  };
  // Square roots of linear light are steps of about the same size to the eye.
  const piece = quilt({ ...sample, data: sample.data.map(Math.sqrt) }, wanted, seed);
  if (!piece) return { levels, toTexels };
  return {
    levels: halved({ width: piece.width, height: piece.height, data: quiltedColours(sample, piece) }),
    toTexels: toTexels.map((v, k) => (k < 3 ? scaleU * v : k < 6 ? scaleV * v : v)),
  };
}

/** What of the pattern lies behind one pixel: texels of its finest level. */
interface Footprint {
  /** Its middle. */
  readonly u: number;
  readonly v: number;
  /** Its axes, and the longer one as a step. */
  readonly long: number;
  readonly short: number;
  readonly du: number;
  readonly dv: number;
}

/** Null beyond the plane's horizon. */
function footprint(m: Homography, x: number, y: number): Footprint | null {
  const w = m[6] * x + m[7] * y + m[8];
  if (w <= 1e-6) return null;
  const u = (m[0] * x + m[1] * y + m[2]) / w;
  const v = (m[3] * x + m[4] * y + m[5]) / w;
  // How far a step of one pixel leads on the pattern: the derivative of the homography.
  const ux = (m[0] - u * m[6]) / w;
  const vx = (m[3] - v * m[6]) / w;
  const uy = (m[1] - u * m[7]) / w;
  const vy = (m[4] - v * m[7]) / w;
  // Axes of the footprint: singular values of the 2 x 2 derivative.
  const a = ux * ux + vx * vx;
  const b = uy * uy + vy * vy;
  const mixed = ux * uy + vx * vy;
  const root = Math.sqrt(((a - b) / 2) ** 2 + mixed * mixed);
  const long = Math.sqrt((a + b) / 2 + root);
  const short = Math.sqrt(Math.max(0, (a + b) / 2 - root));
  const angle = 0.5 * Math.atan2(2 * mixed, a - b);
  const px = Math.cos(angle);
  const py = Math.sin(angle);
  return { u, v, long, short, du: ux * px + uy * py, dv: vx * px + vy * py };
}

interface Place {
  readonly x: number;
  readonly y: number;
  /** Where the colour goes. */
  readonly colour: Float64Array;
}

/** Mean colour of the pattern over one pixel's footprint. */
function sample(levels: readonly Level[], m: Homography, { x, y, colour }: Place): void {
  colour.fill(0);
  const last = levels.length - 1;
  const print = footprint(m, x, y);
  if (!print) {
    for (let c = 0; c < 3; c++) colour[c] = levels[last].data[c];
    return;
  }
  const { u, v, long, short, du, dv } = print;
  const count = Math.max(1, Math.min(MOST_SAMPLES, Math.ceil(long / Math.max(short, 1))));
  const level = Math.max(0, Math.min(last, Math.log2(Math.max(short, long / count, 1e-9))));
  const lower = Math.min(last, Math.floor(level));
  for (let l = lower; l <= Math.min(last, lower + 1); l++) {
    const share = (l === lower ? lower + 1 - level : level - lower) / count;
    if (share <= 0) continue;
    const { width, height, data } = levels[l];
    const scaleU = width / levels[0].width;
    const scaleV = height / levels[0].height;
    for (let s = 0; s < count; s++) {
      const t = (s + 0.5) / count - 0.5;
      const across = (u + t * du) * scaleU - 0.5;
      const down = (v + t * dv) * scaleV - 0.5;
      const left = Math.floor(across);
      const top = Math.floor(down);
      const fx = across - left;
      const fy = down - top;
      const x0 = 3 * folded(left, width);
      const x1 = 3 * folded(left + 1, width);
      const y0 = 3 * width * folded(top, height);
      const y1 = 3 * width * folded(top + 1, height);
      const w00 = share * (1 - fx) * (1 - fy);
      const w10 = share * fx * (1 - fy);
      const w01 = share * (1 - fx) * fy;
      const w11 = share * fx * fy;
      for (let c = 0; c < 3; c++)
        colour[c] +=
          data[y0 + x0 + c] * w00 +
          data[y0 + x1 + c] * w10 +
          data[y1 + x0 + c] * w01 +
          data[y1 + x1 + c] * w11;
    }
  }
}

function folded(index: number, size: number): number {
  if (index >= 0 && index < size) return index;
  return ((index % size) + size) % size;
}

/** Nearest device value of linear light. */
function encoder(table: Float64Array): (value: number) => number {
  const values = new Uint8Array(4097);
  let v = 0;
  for (let s = 0; s <= 4096; s++) {
    const linear = (s / 4096) ** 2;
    while (v < 255 && (table[v] + table[v + 1]) / 2 < linear) v++;
    values[s] = v;
  }
  return (value) => values[Math.round(4096 * Math.sqrt(value < 0 ? 0 : value > 1 ? 1 : value))];
}

/** What a pattern's photo may be off by, as a factor of linear light: a measurement beyond that is of something else. */
const MOST_TONED = 6;

/**
 * A pattern's picture brought from the mean colour it shows to the one that was measured: every channel of linear light
 * by one factor, so that what varies in it keeps its proportions; at most MOST_TONED either way.
 */
export function tonedPattern(image: Image8, { from, to }: { from: Lab; to: Lab }): Image8 {
  checkImage(image);
  const table = linearTable(image.space);
  const encode = encodingTable(table);
  const [shown, measured] = [albedoOf(from, image.space), albedoOf(to, image.space)];
  const curves = shown.map((was, c) => {
    const factor = Math.max(1 / MOST_TONED, Math.min(MOST_TONED, (measured[c] + 1e-4) / (was + 1e-4)));
    return Uint8Array.from({ length: 256 }, (_, v) =>
      Math.round(Math.min(255, encode[Math.floor(Math.sqrt(Math.min(1, table[v] * factor)) * ENCODE_STEPS)])),
    );
  });
  const data = Uint8Array.from(image.data);
  for (let i = 0; i < data.length; i += image.channels)
    for (let c = 0; c < 3; c++) data[i + c] = curves[c][data[i + c]];
  return { ...image, data };
}
