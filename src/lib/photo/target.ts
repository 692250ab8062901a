import type { Lab } from '#lib/colour/index.ts';
import { linearToLab, type Image8 } from './image.ts';
import { regionLight, type RegionLight } from './measure.ts';
import { areaOf, type Point, type Region } from './region.ts';

/**
 * The 24-patch colour rendition target (McCamy, Marcus and Davidson 1976), four rows of six.
 * CIELAB, D65, 10 degree observer, of the reflectances measured by Ohta (1997, distributed by RIT-MCSL, the same
 * numbers as in ISO 17321-1), row by row from the dark skin patch to the black one.
 * Source: target24_lab.csv, columns spectral_*_D65_10.
 */
export const TARGET24: readonly Lab[] = (
  [
    [36.7856, 13.9418, 14.5816],
    [65.8004, 13.4244, 17.7268],
    [51.6162, -3.7876, -20.2184],
    [42.0606, -12.2665, 21.8059],
    [57.4641, 6.696, -23.1558],
    [71.7021, -30.2295, 3.6634],
    [59.5529, 33.7541, 54.9256],
    [42.7198, 7.5808, -39.118],
    [50.4668, 42.4472, 13.9408],
    [31.2578, 20.3182, -22.4223],
    [70.6562, -19.7507, 58.0308],
    [69.9322, 20.1476, 64.0063],
    [32.5815, 13.345, -46.6457],
    [54.8104, -34.1717, 34.8896],
    [40.2484, 48.5569, 24.3328],
    [79.9196, 4.3166, 79.3478],
    [51.3417, 42.901, -15.5862],
    [53.436, -30.2186, -22.0849],
    [95.4539, -0.4942, 1.0188],
    [80.9425, 0.1484, 0.1595],
    [66.3752, 0.0907, -0.0834],
    [52.1778, 0.0937, -0.0978],
    [36.487, -0.1557, -0.4846],
    [21.4381, -0.0839, -0.95],
  ] as const
).map(([L, a, b]) => ({ L, a, b }));

export type Corners = readonly [Point, Point, Point, Point];

export interface TargetPatch {
  /** 1-24 in chart order: 1 dark skin, 6 bluish green, 19 white, 24 black. */
  readonly index: number;
  readonly lab: Lab;
  readonly centre: Point;
  readonly region: Region;
  readonly light: RegionLight;
}

export interface Target24 {
  readonly patches: readonly TargetPatch[];
  /** Root mean square of what an affine map from delivered to true Lab leaves, CIELAB units: 3-8 for a target. */
  readonly misfit: number;
  readonly warnings: readonly string[];
}

const COLUMNS = 6;
const ROWS = 4;
const GAP = 0.15; // between patches, as a share of a patch: from memory, checked by nothing finer than sampling needs
const SAMPLED = 0.25; // half width of what is sampled, as a share of a patch
// The corners may be those of the patches or of the frame round them: how far in the patches begin, share of a side.
const INSETS: readonly (readonly [number, number])[] = [
  [0, 0],
  [0.02, 0.03],
  [0.035, 0.055],
  [0.05, 0.075],
  [0.065, 0.1],
];
const STRANGE = 14; // CIELAB units of misfit above which this is hardly a target

/**
 * Row-major 3x3 homography that takes (0,0), (1,0), (1,1), (0,1) to four corners.
 * RangeError where they are not the corners of a convex shape with an area.
 */
export function homographyTo(corners: Corners): number[] {
  const bend = corners.map((_, i) => {
    const [a, b, c] = [corners[i], corners[(i + 1) % 4], corners[(i + 2) % 4]];
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
  });
  if (!corners.flat().every(Number.isFinite) || !(bend.every((v) => v > 0) || bend.every((v) => v < 0)))
    throw new RangeError(
      `Expected four corners in order round a convex shape, got ${corners.map((p) => p.join(',')).join(' ')}`,
    );
  const unit = [
    [0, 0],
    [1, 0],
    [1, 1],
    [0, 1],
  ];
  const rows: number[][] = [];
  const right: number[] = [];
  unit.forEach(([u, v], i) => {
    const [x, y] = corners[i];
    rows.push([u, v, 1, 0, 0, 0, -u * x, -v * x], [0, 0, 0, u, v, 1, -u * y, -v * y]);
    right.push(x, y);
  });
  return [...solveLinear(rows, right), 1];
}

function mapped(h: readonly number[], u: number, v: number): Point {
  const w = h[6] * u + h[7] * v + h[8];
  return [(h[0] * u + h[1] * v + h[2]) / w, (h[3] * u + h[4] * v + h[5]) / w];
}

/** Centres and sampling polygons of the 24 patches, for corners in chart order (dark skin first, then along the row). */
export function targetRegions(
  corners: Corners,
  inset: readonly [number, number] = [0, 0],
): { centre: Point; region: Region }[] {
  const h = homographyTo(corners);
  const [width, height] = [COLUMNS + GAP * (COLUMNS - 1), ROWS + GAP * (ROWS - 1)];
  return TARGET24.map((_, k) => {
    const column = k % COLUMNS;
    const row = Math.floor(k / COLUMNS);
    const place = (du: number, dv: number) =>
      mapped(
        h,
        inset[0] + (1 - 2 * inset[0]) * ((0.5 + column * (1 + GAP) + du) / width),
        inset[1] + (1 - 2 * inset[1]) * ((0.5 + row * (1 + GAP) + dv) / height),
      );
    const s = SAMPLED;
    return {
      centre: place(0, 0),
      region: { kind: 'polygon', points: [place(-s, -s), place(s, -s), place(s, s), place(-s, s)] },
    };
  });
}

/**
 * Reads a 24-patch target from the four corners the user marked. They should begin at the dark brown (dark skin)
 * patch and go along its row of six; another beginning or the other way round is recognised by the colours and a
 * warning says so. RangeError for corners that are no convex shape or lie outside the picture.
 */
export function readTarget24(image: Image8, corners: Corners): Target24 {
  const read = (way: number, inset: readonly [number, number]) => {
    const turned = [0, 1, 2, 3].map((i) => corners[(way < 4 ? way + i : way - i + 4) % 4]);
    const places = targetRegions(turned as unknown as Corners, inset);
    const lights = places.map(({ region }) => regionLight(image, region));
    return { way, places, lights, misfit: affineMisfit(lights) };
  };
  let best = read(0, INSETS[0]);
  // Another reading must be clearly better than the corners as given.
  for (let way = 1; way < 8; way++) {
    const other = read(way, INSETS[0]);
    if (other.misfit < 0.85 * best.misfit) best = other;
  }
  for (const inset of INSETS.slice(1)) {
    const other = read(best.way, inset);
    // Samples that reach over a patch's edge hold a second colour.
    if (mixed(other.lights) < mixed(best.lights) - 0.02 && other.misfit < 1.1 * best.misfit) best = other;
  }
  const { misfit, lights, places, way } = best;
  const warnings: string[] = [];
  if (misfit > STRANGE) warnings.push('This does not look like a 24-patch target: check the four corners.');
  else if (way !== 0)
    warnings.push(
      way < 4
        ? 'The corners began at another patch than the dark brown one; the target was turned to fit its colours.'
        : 'The corners went the other way round; the target was turned over to fit its colours.',
    );
  const clipped = lights.filter((l) => l.clippedShare > 0.02).length;
  if (clipped > 0) warnings.push(`${clipped} of the 24 patches ${clipped === 1 ? 'is' : 'are'} overexposed.`);
  const side = Math.sqrt(areaOf(places[0].region));
  if (side < 6) warnings.push('The target is small in the picture: a closer photo is surer.');
  const patches = places.map(({ centre, region }, k) => ({
    index: k + 1,
    lab: TARGET24[k],
    centre,
    region,
    light: lights[k],
  }));
  return { patches, misfit, warnings };
}

function mixed(lights: readonly RegionLight[]): number {
  return lights.reduce((s, l) => s + l.strangeShare, 0) / lights.length;
}

/** What the best affine map from delivered to true Lab leaves over, root mean square per patch. */
function affineMisfit(lights: readonly RegionLight[]): number {
  const labs = linearToLab(Float32Array.from(lights.flatMap((l) => [...l.rgb])));
  const normal = Array.from({ length: 4 }, () => new Array<number>(4).fill(0));
  const right = Array.from({ length: 3 }, () => new Array<number>(4).fill(0));
  const row = (k: number) => [labs[3 * k], labs[3 * k + 1], labs[3 * k + 2], 1];
  const truth = (k: number) => [TARGET24[k].L, TARGET24[k].a, TARGET24[k].b];
  for (let k = 0; k < 24; k++) {
    const r = row(k);
    const t = truth(k);
    for (let i = 0; i < 4; i++) {
      for (let j = 0; j < 4; j++) normal[i][j] += r[i] * r[j] + (i === j ? 1e-6 : 0);
      for (let c = 0; c < 3; c++) right[c][i] += r[i] * t[c];
    }
  }
  const maps = right.map((r) => solveLinear(normal, r));
  let sum = 0;
  for (let k = 0; k < 24; k++) {
    const r = row(k);
    truth(k).forEach((t, c) => {
      sum += (t - maps[c].reduce((s, m, i) => s + m * r[i], 0)) ** 2;
    });
  }
  return Math.sqrt(sum / 24);
}

/** Solves a small square system by elimination with row pivots. RangeError where it is singular. */
function solveLinear(matrix: readonly (readonly number[])[], right: readonly number[]): number[] {
  const n = right.length;
  const rows = matrix.map((row, i) => [...row, right[i]]);
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(rows[r][c]) > Math.abs(rows[pivot][c])) pivot = r;
    [rows[c], rows[pivot]] = [rows[pivot], rows[c]];
    if (Math.abs(rows[c][c]) < 1e-12) throw new RangeError('Expected corners that span an area');
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const factor = rows[r][c] / rows[c][c];
      for (let k = c; k <= n; k++) rows[r][k] -= factor * rows[c][k];
    }
  }
  return rows.map((row, i) => row[n] / row[i]);
}
