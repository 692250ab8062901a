import { cctToXy, colourRenderingIndex, invert, transform } from '#lib/colour/index.ts';
import type { ColourRendering, Spectrum } from '#lib/colour/index.ts';
import type { LampCandidate } from './lamp-candidates.ts';

/** What is asked of a lamp: K, CIE 1960 u, v, general colour rendering index. */
export interface LampTarget {
  readonly cct: number;
  readonly duv: number;
  readonly ra: number;
}

/** A spectrum of the chromaticity asked for, all of equal luminance, and how it renders. */
export interface LampFit {
  readonly spectrum: Spectrum;
  readonly rendering: ColourRendering;
}

/**
 * How far a candidate may lie from the description, and how much the balance of its three lights may change (natural
 * logarithm), for one unit of cost. Judgements: halving or doubling any of them moves the looks of the CIE tables, each
 * described without itself, by at most 0.06 ΔE00 in the mean.
 */
const SCALE = { mired: 40, duv: 0.006, ra: 6, balance: 0.5 };

/** Ra is met within this. */
const CLOSE_RA = 0.02;

/** The tilt, per unit of Ra, is sought from the first by doubling to the steepest, where one candidate is left. */
const FIRST_TILT = 0.02;
const STEEPEST_TILT = 40;

interface Tuned extends LampFit {
  readonly cost: number;
}

/**
 * The spectrum to expect of a description. The bands of every candidate are weighted so that it has exactly the asked
 * chromaticity; the candidates are then mixed, each by exp(tilt Ra - cost), with the tilt that gives the asked Ra:
 * the mixture nearest to the judgement of what is ordinary (least relative entropy) that meets the description. Mixing
 * keeps the chromaticity, and the answer moves smoothly with the description.
 * Where all lie on one side of the asked Ra, the candidate nearest to it. Null where none reaches the chromaticity.
 */
export function fitLamp(candidates: readonly LampCandidate[], target: LampTarget): LampFit | null {
  const { x, y } = cctToXy(target.cct, target.duv);
  const white = [x / y, 1, (1 - x - y) / y] as const;
  const tuned = candidates
    .flatMap((candidate) => tune(candidate, target, white) ?? [])
    .toSorted((a, b) => a.rendering.Ra - b.rendering.Ra);
  if (tuned.length === 0) return null;
  const lowest = tuned[0];
  const highest = tuned[tuned.length - 1];
  if (target.ra <= lowest.rendering.Ra) return lowest;
  if (target.ra >= highest.rendering.Ra) return highest;

  // Ra is not quite monotone in the tilt: the root nearest to none is the least departure from what is ordinary.
  let found = mixed(tuned, 0);
  const short = (fit: LampFit) => target.ra - fit.rendering.Ra;
  const direction = short(found) > 0 ? 1 : -1;
  let near = 0;
  let far = FIRST_TILT;
  while (far < STEEPEST_TILT && direction * short(mixed(tuned, direction * far)) > 0) {
    near = far;
    far *= 2;
  }
  for (let i = 0; i < 40 && Math.abs(short(found)) > CLOSE_RA; i++) {
    const tilt = (near + far) / 2;
    found = mixed(tuned, direction * tilt);
    if (direction * short(found) > 0) near = tilt;
    else far = tilt;
  }
  return found;
}

/** The candidates mixed by their costs and the tilt. */
function mixed(tuned: readonly Tuned[], tilt: number): LampFit {
  const logs = tuned.map(({ cost, rendering }) => tilt * rendering.Ra - cost);
  const top = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - top));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const spectrum = tuned[0].spectrum.map((_, i) =>
    tuned.reduce((sum, candidate, k) => sum + (weights[k] / total) * candidate.spectrum[i], 0),
  );
  const rendering = colourRenderingIndex(spectrum);
  if (!rendering)
    throw new RangeError('Expected candidates of one chromaticity that has a colour temperature');
  return { spectrum, rendering };
}

/** A candidate with its bands weighted for the chromaticity; null where a weight would be negative. */
function tune(
  { table, bands, sums, rarity }: LampCandidate,
  target: LampTarget,
  white: readonly [number, number, number],
): Tuned | null {
  const [short, middle, long] = sums;
  const weights = transform(
    invert([short[0], middle[0], long[0], short[1], middle[1], long[1], short[2], middle[2], long[2]]),
    [...white],
  );
  if (!weights.every((weight) => weight >= 0)) return null;
  const spectrum = bands[0].map(
    (power, i) => weights[0] * power + weights[1] * bands[1][i] + weights[2] * bands[2][i],
  );
  const rendering = colourRenderingIndex(spectrum);
  if (!rendering) return null;
  let cost = rarity + ((rendering.Ra - target.ra) / SCALE.ra) ** 2;
  if (table) {
    const logs = weights.map((weight) => Math.log(Math.max(weight, 1e-6)));
    const mean = (logs[0] + logs[1] + logs[2]) / 3;
    const change = logs.reduce((total, log) => total + (log - mean) ** 2, 0);
    cost +=
      ((1e6 / table.cct - 1e6 / target.cct) / SCALE.mired) ** 2 +
      ((table.duv - target.duv) / SCALE.duv) ** 2 +
      change / SCALE.balance ** 2;
  }
  return { spectrum, rendering, cost };
}
