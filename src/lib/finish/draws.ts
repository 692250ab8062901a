import type { Lab } from '#lib/colour/index.ts';
import type { Appearance, PreparedFinish, PreparedLight } from './appearance.ts';
import { along, localForm, offset } from './local-difference.ts';
import { PAIRING_CURVE, pairingDesirability, seen } from './pairing.ts';
import { fillNormals } from './random.ts';
import { drawMovement } from './movement.ts';
import type { Triple } from './movement.ts';

/*
 * Seeded draws over what is not known for certain: the target's colour, each candidate's, each fixed finish's, and what a
 * lamp does to a colour whose reflectance nobody measured. Every draw moves all of them at once and scores every candidate
 * against the same moved target and fixed finishes (common random numbers), so that differences between candidates are
 * steadier than their scores.
 *
 * What makes it fast, and what that costs:
 * - Near a pair of colours, CIEDE2000 squared is taken as a quadratic form of the Lab difference (found by differencing
 *   deltaE2000 itself at the midpoint) and scaled to be exact at the best estimate.
 * - A lamp moves a drawn colour by what it moves the best estimate: the Jacobian from D65 to the lamp, after CAT16, is taken
 *   as the identity.
 * - Desirabilities are read from tables, 1/32 apart (in squared ΔE for pairings).
 * - A pair whose desirability cannot leave 1 within three standard deviations is not drawn at all.
 * With doubts of 2 ΔE the score (ln of the desirability) of a draw is then off by 0.002 on average for colours that are well
 * apart, by 0.012 for one in the trough of the near miss, where the score itself moves by 1, and by 0.1 at most.
 * test/finish/draws.test.ts holds these against redrawing, re-integrating and full CIEDE2000.
 */

/** A candidate as it is drawn. Weights are already divided by their sum, so the score is ln of the overall desirability. */
export interface DrawnCandidate {
  readonly finish: PreparedFinish;
  /** Sum of weight times ln(desirability) over the criteria without doubt: price, time, a published LRV. */
  readonly certain: number;
  readonly weights: {
    readonly nearness: number;
    readonly pairing: number;
    readonly steadiness: number;
    readonly lrv: number;
  };
}

export interface DrawPlan {
  readonly draws: number;
  readonly seed: number;
  readonly candidates: readonly DrawnCandidate[];
  readonly target: { readonly lab: Lab; readonly root: readonly number[] } | null;
  /** `contact` is divided by the sum of contacts. */
  readonly fixed: readonly { readonly finish: PreparedFinish; readonly contact: number }[];
  readonly lights: readonly PreparedLight[];
  readonly curves: {
    nearness(deltaE: number): number;
    steadiness(shift: number): number;
    lrv(lrv: number): number;
  };
}

/** Name of the stream that moves a finish's colours. */
export const colourStream = (finishId: string) => `colour of ${finishId}`;
/** Name of the stream that stands for what lamps do to a finish whose reflectance is not known. */
export const spectrumStream = (finishId: string) => `spectrum of ${finishId}`;
/** Name of the stream that moves the target. */
export const TARGET_STREAM = 'the target';

const STEPS = 32;
/** Standard deviations beyond which a draw is not expected; what lies there costs a pairing next to nothing. */
const REACH = 3;
/** Squared ΔE from which neighbours are as good as they get. */
const APART_SQUARED = PAIRING_CURVE.apartFull ** 2;
const PAIRING_TABLE = Float64Array.from({ length: APART_SQUARED * STEPS + 1 }, (_, i) =>
  Math.log(pairingDesirability(Math.sqrt((i + 0.5) / STEPS))),
);
PAIRING_TABLE[PAIRING_TABLE.length - 1] = 0;

/** ln of the desirability of a value in [0, top], `STEPS` entries to the unit; the last entry serves all beyond. */
function logTable(curve: (value: number) => number, top: number): Float64Array {
  return Float64Array.from({ length: top * STEPS + 1 }, (_, i) => Math.log(curve((i + 0.5) / STEPS)));
}

/**
 * Scores of every candidate in every draw: ln of the overall desirability, row per candidate.
 * The row of a candidate does not depend on which others there are, nor on their order.
 */
export function simulate(plan: DrawPlan): Float32Array {
  const { draws, seed, candidates, lights } = plan;
  const scores = new Float32Array(candidates.length * draws);
  const tables = {
    nearness: logTable(plan.curves.nearness, 100),
    steadiness: logTable(plan.curves.steadiness, 50),
    lrv: logTable(plan.curves.lrv, 120),
  };
  const hasUnknown = (finish: PreparedFinish) =>
    lights.length > 0 && finish.colours.some((colour) => colour.unknown > 0);

  const targetMoves = plan.target && wander(plan.target.root, unit(seed, TARGET_STREAM, draws));
  const fixed = plan.fixed.map(({ finish, contact }): DrawnNeighbour => {
    const draw = unit(seed, colourStream(finish.id), draws);
    return {
      finish,
      contact,
      moves: finish.colours.map((colour) => wander(colour.root, draw)),
      spectrum: hasUnknown(finish) ? unit(seed, spectrumStream(finish.id), draws) : null,
    };
  });

  const score = new Float64Array(draws);
  const lamps = Math.max(1, lights.length);
  const room = new Float64Array(lamps * draws);
  const scratch = { draw: triple(draws), spectrum: triple(draws) };
  const pair: DrawnPair = {
    near: 0,
    rows: new Int32Array(lamps),
    u: new Float64Array(3 * lamps),
    unknown: new Float64Array(lamps),
    w: triple(draws),
    n: triple(draws),
  };
  const moves: Triple[] = [];
  const nothing = triple(draws);

  candidates.forEach(({ finish, certain, weights }, row) => {
    score.fill(certain);
    fillNormals(seed, colourStream(finish.id), scratch.draw);
    finish.colours.forEach((colour, i) =>
      wanderInto((moves[i] ??= triple(draws)), colour.root, scratch.draw),
    );
    const spectrum =
      hasUnknown(finish) && (weights.pairing > 0 || weights.steadiness > 0) ? scratch.spectrum : null;
    if (spectrum) fillNormals(seed, spectrumStream(finish.id), spectrum);

    if (weights.nearness > 0 && plan.target && targetMoves) {
      room.fill(0, 0, draws);
      for (let i = 0; i < finish.colours.length; i++) {
        const colour = finish.colours[i];
        const form = localForm(plan.target.lab, colour.lab);
        mapDifference(pair.w, form, moves[i], targetMoves);
        offset(pair.u, 0, { form, reference: plan.target.lab, sample: colour.lab });
        const [u0, u1, u2] = pair.u;
        const [w0, w1, w2] = pair.w;
        for (let t = 0; t < draws; t++) {
          const x = u0 + w0[t];
          const y = u1 + w1[t];
          const z = u2 + w2[t];
          room[t] += colour.share * Math.sqrt(x * x + y * y + z * z);
        }
      }
      addFromTable(score, room, tables.nearness, weights.nearness);
    }

    if (weights.pairing > 0) {
      for (const neighbour of fixed) {
        const weight = weights.pairing * neighbour.contact;
        if (weight > 0) addPairing({ finish, moves, spectrum, contact: 1 }, neighbour, weight);
      }
    }

    if (weights.steadiness > 0) {
      drawMovement(finish, spectrum, lights, room, draws);
      addFromTable(score, room, tables.steadiness, weights.steadiness);
    }

    if (weights.lrv > 0) {
      room.fill(0, 0, draws);
      finish.colours.forEach((colour, i) => {
        const shift = colour.lrv - luminousReflectance(colour.lab.L);
        const [dL] = moves[i];
        for (let t = 0; t < draws; t++) {
          room[t] += colour.share * Math.max(0, shift + luminousReflectance(colour.lab.L + dL[t]));
        }
      });
      addFromTable(score, room, tables.lrv, weights.lrv);
    }

    scores.set(score, row * draws);
  });
  return scores;

  /** Adds weight × ln desirability of a pairing to every draw's score; the worst light decides. */
  function addPairing(tried: DrawnNeighbour, there: DrawnNeighbour, weight: number): void {
    const plain = tried.finish.colours.length === 1 && there.finish.colours.length === 1;
    const same = tried.finish.id === there.finish.id;
    let drawn = false;
    for (let i = 0; i < tried.finish.colours.length; i++) {
      const colour = tried.finish.colours[i];
      for (let j = 0; j < there.finish.colours.length; j++) {
        const other = there.finish.colours[j];
        const form = localForm(other.lab, colour.lab);
        const { u, unknown, rows, w, n } = pair;
        // Only the lights under which the pair can come near are drawn: they are packed to the front.
        let near = 0;
        for (let l = 0; l < lamps; l++) {
          const index = lights.length > 0 ? l : -1;
          offset(u, 3 * near, { form, reference: seen(other, index), sample: seen(colour, index) });
          unknown[near] = index < 0 ? 0 : lights[l].unknown;
          rows[near] = l;
          if (!staysApart(form, other, colour, { u, at: 3 * near, unknown: unknown[near] })) near++;
        }
        if (near === 0) continue;
        pair.near = near;
        mapDifference(w, form, tried.moves[i], there.moves[j]);
        // A finish beside itself has one spectrum, whatever it is; a measured one has no unknown part.
        mix(n, {
          a: tried.spectrum ?? nothing,
          g: same ? 0 : colour.unknown,
          b: there.spectrum ?? nothing,
          h: same ? 0 : other.unknown,
        });
        if (plain) return addWorst(score, weight, pair);
        if (!drawn) room.fill(0, 0, lamps * draws);
        drawn = true;
        addEach(room, colour.share * other.share, pair);
      }
    }
    if (!drawn) return;
    for (let t = 0; t < draws; t++) {
      let worst = room[t];
      for (let l = 1; l < lamps; l++) {
        const value = room[l * draws + t];
        if (value < worst) worst = value;
      }
      score[t] += weight * worst;
    }
  }
}

/** Share of draws in which row i is ahead of row j; ties count half. */
export function winShare(scores: Float32Array, draws: number, i: number, j: number): number {
  let won = 0;
  for (let t = 0; t < draws; t++) {
    const lead = scores[i * draws + t] - scores[j * draws + t];
    if (lead > 0) won += 2;
    else if (lead === 0) won += 1;
  }
  return won / (2 * draws);
}

interface DrawnNeighbour {
  readonly finish: PreparedFinish;
  readonly contact: number;
  readonly moves: readonly Triple[];
  readonly spectrum: Triple | null;
}

/**
 * A pair of colours in the space of its local form: per draw w and n, and for each of the `near` lights the offset u, the
 * doubt of unknown spectra, and which light it is.
 */
interface DrawnPair {
  near: number;
  readonly u: Float64Array;
  readonly unknown: Float64Array;
  readonly rows: Int32Array;
  readonly w: Triple;
  readonly n: Triple;
}

/** Adds weight × the worst light's ln desirability of one pair to each draw. */
function addWorst(score: Float64Array, weight: number, { near, u, unknown, w, n }: DrawnPair): void {
  const [w0, w1, w2] = w;
  const [n0, n1, n2] = n;
  for (let t = 0; t < score.length; t++) {
    const wx = w0[t];
    const wy = w1[t];
    const wz = w2[t];
    const nx = n0[t];
    const ny = n1[t];
    const nz = n2[t];
    let worst = 0;
    for (let l = 0; l < near; l++) {
      const k = unknown[l];
      const x = u[3 * l] + wx + k * nx;
      const y = u[3 * l + 1] + wy + k * ny;
      const z = u[3 * l + 2] + wz + k * nz;
      const squared = Math.min(APART_SQUARED, x * x + y * y + z * z);
      worst = Math.min(worst, PAIRING_TABLE[(squared * STEPS) | 0]);
    }
    score[t] += weight * worst;
  }
}

/** Adds share × ln desirability of one pair of colours, light by light, to rows of draws. */
function addEach(room: Float64Array, share: number, { near, u, unknown, rows, w, n }: DrawnPair): void {
  const [w0, w1, w2] = w;
  const [n0, n1, n2] = n;
  const draws = w0.length;
  for (let l = 0; l < near; l++) {
    const k = unknown[l];
    const u0 = u[3 * l];
    const u1 = u[3 * l + 1];
    const u2 = u[3 * l + 2];
    const row = rows[l] * draws;
    for (let t = 0; t < draws; t++) {
      const x = u0 + w0[t] + k * n0[t];
      const y = u1 + w1[t] + k * n1[t];
      const z = u2 + w2[t] + k * n2[t];
      // Without a branch: draws fall to either side of the border at random.
      const squared = Math.min(APART_SQUARED, x * x + y * y + z * z);
      room[row + t] += share * PAIRING_TABLE[(squared * STEPS) | 0];
    }
  }
}

function addFromTable(score: Float64Array, values: Float64Array, table: Float64Array, weight: number): void {
  const last = table.length - 1;
  for (let t = 0; t < score.length; t++) {
    const index = (values[t] * STEPS) | 0;
    score[t] += weight * table[index < last ? index : last];
  }
}

/** Y for a lightness, 0-100 and beyond (CIE 15, the inverse of L*). */
function luminousReflectance(L: number): number {
  const f = (L + 16) / 116;
  return L > 8 ? 100 * f * f * f : (100 * L) / (29 / 3) ** 3;
}

/**
 * Whether a pair of colours stays so far apart under a light that its desirability is 1, short of a draw beyond `REACH`
 * standard deviations. |u + v| is at least û·(u + v), a normal number whose spread is known.
 */
function staysApart(
  form: readonly number[],
  p: Appearance,
  q: Appearance,
  { u, at, unknown }: { u: Float64Array; at: number; unknown: number },
): boolean {
  const x = u[at];
  const y = u[at + 1];
  const z = u[at + 2];
  const length = Math.sqrt(x * x + y * y + z * z);
  if (length <= PAIRING_CURVE.apartFull) return false;
  // ûᵀA, then times each root.
  const g0 = (x * form[0]) / length;
  const g1 = (x * form[1] + y * form[4]) / length;
  const g2 = (x * form[2] + y * form[5] + z * form[8]) / length;
  const spectra = (p.unknown ** 2 + q.unknown ** 2) * unknown ** 2;
  const variance = along(g0, g1, g2, p.root) + along(g0, g1, g2, q.root) + spectra;
  return length - REACH * Math.sqrt(variance) >= PAIRING_CURVE.apartFull;
}

/** Writes A·(moved sample − moved reference) of every draw. */
function mapDifference(into: Triple, form: readonly number[], sample: Triple, reference: Triple): void {
  const [f0, f1, f2, , f4, f5, , , f8] = form;
  const [w0, w1, w2] = into;
  const [sL, sa, sb] = sample;
  const [rL, ra, rb] = reference;
  for (let t = 0; t < w0.length; t++) {
    const L = sL[t] - rL[t];
    const a = sa[t] - ra[t];
    const b = sb[t] - rb[t];
    w0[t] = f0 * L + f1 * a + f2 * b;
    w1[t] = f4 * a + f5 * b;
    w2[t] = f8 * b;
  }
}

/** Writes g·a − h·b. */
function mix([n0, n1, n2]: Triple, { a, g, b, h }: { a: Triple; g: number; b: Triple; h: number }): void {
  const [a0, a1, a2] = a;
  const [b0, b1, b2] = b;
  for (let t = 0; t < n0.length; t++) {
    n0[t] = g * a0[t] - h * b0[t];
    n1[t] = g * a1[t] - h * b1[t];
    n2[t] = g * a2[t] - h * b2[t];
  }
}

function triple(draws: number): Triple {
  return [new Float64Array(draws), new Float64Array(draws), new Float64Array(draws)];
}

/** Three independent standard normals per draw, from a stream of their own. */
export function unit(seed: number, stream: string, draws: number): Triple {
  const out = triple(draws);
  fillNormals(seed, stream, out);
  return out;
}

/** Displacements of a colour with this covariance root. The colours of one finish share their draw: errors are common to them. */
export function wander(root: readonly number[], draw: Triple): Triple {
  const out = triple(draw[0].length);
  wanderInto(out, root, draw);
  return out;
}

function wanderInto([dL, da, db]: Triple, root: readonly number[], [x, y, z]: Triple): void {
  const [r0, , , r3, r4, , r6, r7, r8] = root;
  for (let t = 0; t < dL.length; t++) {
    dL[t] = r0 * x[t];
    da[t] = r3 * x[t] + r4 * y[t];
    db[t] = r6 * x[t] + r7 * y[t] + r8 * z[t];
  }
}
