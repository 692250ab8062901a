import { WARM } from './highlight.ts';
import { NOBODY, type LightGrid, type Ratios } from './light-grid.ts';

/** Ratios of the two lights of a picture: what a grey thing would show in either. */
export interface TwoLights {
  readonly day: Ratios;
  readonly lamps: Ratios;
}

/** How warm surfaces of rooms are in the mean (ln ratios along WARM) and how they vary: beige, wood and brass. A guess. */
const WARMTH = { mean: 0.15, spread: 0.3, weight: 2.8 } as const;
/** How far a colour that is said to be known, or white, may be off, in ln ratios, and how much that counts. A guess. */
const KNOWN = { spread: 0.15, weight: 6 } as const;
/** Surfaces meet across so many cells. */
const GAP = 3;
/** Differences of shares across a border count up to this; beyond it a corner of the room lies between. */
const MOST_STEP = 0.3;
/** Shares jump at corners more often than colours run astray. Set on one rendered kitchen, as RUN_WEIGHT is. */
const BORDER_WEIGHT = 0.5;
const SHARES_TRIED = 41;
const ROUNDS = 8;
/** A surface of fewer cells tells nothing. */
const LEAST_CELLS = 12;
const PAIRS_READ = 200;

/** The window's share of a light of those ratios, unbounded: the nearest point on the line of mixtures. */
export function shareOf(red: number, blue: number, { day, lamps }: TwoLights): number {
  const [dr, db] = [day[0] - lamps[0], day[1] - lamps[1]];
  return ((red - lamps[0]) * dr + (blue - lamps[1]) * db) / (dr * dr + db * db);
}

/** The same of a cell that shows a surface of known colour. */
export function cellShare(
  { light }: LightGrid,
  at: number,
  [material, lights]: readonly [Ratios, TwoLights],
) {
  const g = light[3 * at + 1];
  return shareOf(light[3 * at] / g / material[0], light[3 * at + 2] / g / material[1], lights);
}

const mixed = ({ day, lamps }: TwoLights, share: number, c: number) =>
  share * day[c] + (1 - share) * lamps[c];

/**
 * The colour of every surface. An unknown one has one unknown number: the share in which its middle colour stands. It is
 * sought surface by surface until the shares run on best across all borders and the colours of each surface run in the
 * direction in which a material of that colour goes from light to light, warm colours being likelier than cold ones.
 * `known`: what is said of it, believed within bounds. `sure`: how far the direction between the lights is known, sd in
 * radians.
 */
export function materials(
  grid: LightGrid,
  known: readonly (Ratios | null)[],
  { lights, sure }: { readonly lights: TwoLights; readonly sure: number },
): (Ratios | null)[] {
  const read = known.map((_, j) => colourRun(grid, j));
  const borders = bordersOf(grid);
  const at = (j: number, share: number): Ratios | null => {
    const middle = read[j]?.middle;
    return middle ? [middle[0] / mixed(lights, share, 0), middle[1] / mixed(lights, share, 1)] : null;
  };
  const found = known.map((ratios, j) => ratios ?? at(j, 0.5));
  const likely = (j: number, material: Ratios) => {
    const said = known[j];
    // Heavy-tailed either way: a blue paint is rare and no impossibility.
    if (said) {
      const off = Math.hypot(Math.log(material[0] / said[0]), Math.log(material[1] / said[1]));
      return KNOWN.weight * Math.log1p((off / KNOWN.spread) ** 2);
    }
    const warmth = Math.log(material[0]) * WARM[0] + Math.log(material[1]) * WARM[1];
    return WARMTH.weight * Math.log1p(((warmth - WARMTH.mean) / WARMTH.spread) ** 2);
  };
  const cost = (j: number, material: Ratios) => {
    let sum = likely(j, material) + astray(read[j], material, { lights, sure });
    for (const { a, b, pairs } of borders) {
      if (a !== j && b !== j) continue;
      const one = a === j ? material : found[a];
      const other = b === j ? material : found[b];
      if (!one || !other) continue;
      let steps = 0;
      for (const [p, q] of pairs) {
        const step = Math.abs(cellShare(grid, p, [one, lights]) - cellShare(grid, q, [other, lights]));
        steps += Math.min(1, step / MOST_STEP);
      }
      sum += (BORDER_WEIGHT * steps) / Math.sqrt(pairs.length);
    }
    return sum;
  };
  for (let round = 0; round < ROUNDS; round++)
    for (let j = 0; j < known.length; j++) {
      if (!read[j]) continue;
      let least = Infinity;
      for (let k = 0; k < SHARES_TRIED; k++) {
        const material = at(j, k / (SHARES_TRIED - 1)) as Ratios;
        const value = cost(j, material);
        if (value >= least) continue;
        least = value;
        found[j] = material;
      }
    }
  return found;
}

/** What the colours of one surface tell: their middle, and the direction in which they run as the light changes. */
interface ColourRun {
  readonly middle: Ratios;
  /** Angle of the line on which ratios divided by their middle lie, radians, and its sd. */
  readonly angle: number;
  readonly sd: number;
}

/** Light thrown back by other surfaces bends the line: sd in radians. A guess. */
const BENT = 0.06;
/** What texture and noise across the line do to its angle. A guess. */
const STRAY = 0.5;
const RUN_WEIGHT = 8;
const RUN_ROUNDS = 6;

/** Null for a surface of hardly a cell. */
function colourRun({ light, owner, burnt }: LightGrid, j: number): ColourRun | null {
  const [red, blue]: [number[], number[]] = [[], []];
  for (let at = 0; at < owner.length; at++)
    if (owner[at] === j && !burnt[at]) {
      red.push(light[3 * at] / light[3 * at + 1]);
      blue.push(light[3 * at + 2] / light[3 * at + 1]);
    }
  if (red.length < LEAST_CELLS) return null;
  const middleOf = (values: readonly number[]) => values.toSorted((p, q) => p - q)[values.length >> 1];
  const middle = [Math.max(1e-3, middleOf(red)), Math.max(1e-3, middleOf(blue))] as const;
  return { middle, ...lineThrough(red, blue, middle) };
}

/** Total least squares of ratios divided by their middle, with ever less weight for what lies off the line. */
function lineThrough(
  red: readonly number[],
  blue: readonly number[],
  [middleRed, middleBlue]: Ratios,
): { angle: number; sd: number } {
  let [angle, along, across, scale] = [-Math.PI / 4, 1e-8, 1e-8, 0.3];
  let [mr, mb] = [1, 1];
  for (let round = 0; round < RUN_ROUNDS; round++) {
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    let [sum, sr, sb, rr, rb, bb] = [0, 0, 0, 0, 0, 0];
    for (let k = 0; k < red.length; k++) {
      const [r, b] = [red[k] / middleRed, blue[k] / middleBlue];
      const weight = 1 / (1 + (((b - mb) * cos - (r - mr) * sin) / scale) ** 2);
      sum += weight;
      sr += weight * r;
      sb += weight * b;
      rr += weight * r * r;
      rb += weight * r * b;
      bb += weight * b * b;
    }
    [mr, mb] = [sr / sum, sb / sum];
    const [vr, vc, vb] = [rr / sum - mr * mr, rb / sum - mr * mb, bb / sum - mb * mb];
    angle = 0.5 * Math.atan2(2 * vc, vr - vb);
    const root = Math.hypot((vr - vb) / 2, vc);
    along = Math.max(1e-8, (vr + vb) / 2 + root);
    across = Math.max(1e-8, (vr + vb) / 2 - root);
    scale = Math.max(0.005, 2 * Math.sqrt(across));
  }
  return { angle, sd: Math.hypot(BENT, STRAY * Math.sqrt(across / along)) };
}

/** What it costs that a surface's colours do not run as those of a material would between the two lights. */
function astray(
  run: ColourRun | null,
  material: Ratios,
  { lights: { day, lamps }, sure }: { readonly lights: TwoLights; readonly sure: number },
): number {
  if (!run) return 0;
  const { middle, angle, sd } = run;
  const wanted = Math.atan2(
    ((day[1] - lamps[1]) * material[1]) / middle[1],
    ((day[0] - lamps[0]) * material[0]) / middle[0],
  );
  const turn = wanted - angle;
  const off = turn - Math.PI * Math.round(turn / Math.PI);
  return RUN_WEIGHT * Math.log1p(off ** 2 / (sd ** 2 + sure ** 2));
}

/** Directions that a mixture of daylight and lamp light can have: red falls while blue rises. */
const LEAST_SLOPE = -5;
const MOST_SLOPE = -0.2;
const MOST_SD = 0.3;

/**
 * How much blue rises as red falls from lamp to window, as a slope, read off surfaces of known colour; null where none
 * tells. A burnt-out channel makes it wrong between two single places, and seldom over whole surfaces.
 */
export function lightSlope(grid: LightGrid, known: readonly (Ratios | null)[]): number | null {
  const slopes = known.flatMap((material, j) => {
    const run = material && colourRun(grid, j);
    if (!material || !run || run.sd > MOST_SD) return [];
    const slope = (Math.tan(run.angle) * run.middle[1] * material[0]) / (run.middle[0] * material[1]);
    return slope > LEAST_SLOPE && slope < MOST_SLOPE ? [-slope] : [];
  });
  if (slopes.length === 0) return null;
  slopes.sort((p, q) => p - q);
  return -Math.sqrt(slopes[(slopes.length - 1) >> 1] * slopes[slopes.length >> 1]);
}

interface CellBorder {
  readonly a: number;
  readonly b: number;
  /** Cells on either side: first that of `a`. */
  readonly pairs: (readonly [number, number])[];
}

function bordersOf({ width, height, owner, burnt }: LightGrid): CellBorder[] {
  const borders = new Map<number, CellBorder>();
  const meet = (p: number, q: number) => {
    const [i, j] = [owner[p], owner[q]];
    if (i === j || i === NOBODY || j === NOBODY || burnt[p] || burnt[q]) return;
    const [a, b] = i < j ? [i, j] : [j, i];
    const border = borders.get(256 * a + b) ?? { a, b, pairs: [] };
    border.pairs.push(i < j ? [p, q] : [q, p]);
    borders.set(256 * a + b, border);
  };
  for (let y = 0, at = 0; y < height; y++)
    for (let x = 0; x < width; x++, at++) {
      if (x + GAP < width) meet(at, at + GAP);
      if (y + GAP < height) meet(at, at + GAP * width);
    }
  return [...borders.values()].map(({ a, b, pairs }) => {
    const step = Math.ceil(pairs.length / PAIRS_READ);
    return { a, b, pairs: pairs.filter((_, k) => k % step === 0) };
  });
}
