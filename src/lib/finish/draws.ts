import type { Lab } from '#lib/colour/index.ts';
import type { Appearance, PreparedFinish, PreparedLight } from './appearance.ts';
import { along, localForm, offset } from './local-difference.ts';
import { UNKNOWNS } from './look-doubt.ts';
import { PAIRING_CURVE, pairingDesirability, seen } from './pairing.ts';
import { twoWhites } from './whites.ts';
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
 * - What is not known about a reflectance moves the look under each lamp linearly, by three numbers a draw (look-doubt.ts);
 *   they are the same under every lamp.
 * - Desirabilities are read from tables, 1/32 apart (in squared ΔE for pairings).
 * - How far a colour is a white is a matter of its best estimate, not of the draw.
 * - A pair whose desirability cannot leave 1 within three standard deviations is not drawn at all.
 * With doubts of 2 ΔE the score (ln of the desirability) of a draw is then off by 0.002 on average for colours that are well
 * apart, by 0.012 for one in the trough of the near miss, where the score itself moves by 1, by 0.04 for two whites in
 * theirs, and by 0.2 at most, among whites by 0.5.
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
/** Squared ΔE from which neighbours are as good as they get; two whites are so sooner. */
const APART_SQUARED = PAIRING_CURVE.apartFull ** 2;
const PAIRING_TABLE = pairingTable(0);
const WHITES_TABLE = pairingTable(1);
/** Of the last pair that is neither, for the time of one pair of colours. */
const mixedTable = new Float64Array(PAIRING_TABLE.length);

/** ln desirability of neighbours by their squared ΔE. */
function pairingTable(whites: number): Float64Array {
  const table = Float64Array.from({ length: APART_SQUARED * STEPS + 1 }, (_, i) =>
    Math.log(pairingDesirability(Math.sqrt((i + 0.5) / STEPS), whites)),
  );
  table[table.length - 1] = 0;
  return table;
}

/** The table for two colours that are plain whites to this degree, 0-1. */
function tableFor(whites: number): Float64Array {
  if (whites === 0) return PAIRING_TABLE;
  if (whites === 1) return WHITES_TABLE;
  for (let i = 0; i < mixedTable.length; i++)
    mixedTable[i] = PAIRING_TABLE[i] + whites * (WHITES_TABLE[i] - PAIRING_TABLE[i]);
  return mixedTable;
}

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
  const targetMoves = plan.target && wander(plan.target.root, unit(seed, TARGET_STREAM, draws));
  const fixed = plan.fixed.map(({ finish, contact }): DrawnNeighbour => {
    const moves = finish.colours.map((colour) =>
      wander(colour.root, unit(seed, colourStream(finish.id), draws)),
    );
    const unknown = isOpen(finish, lights) ? unit(seed, spectrumStream(finish.id), draws) : null;
    const under = finish.colours.map((colour, i) =>
      (colour.doubts ?? []).map(({ lab }) => moved(triple(draws), moves[i], lab, unknown!)),
    );
    return { finish, contact, moves, under: (i, l) => under[i][l] ?? moves[i] };
  });

  const score = new Float64Array(draws);
  const lamps = Math.max(1, lights.length);
  const room = new Float64Array(lamps * draws);
  const scratch = { draw: triple(draws), unknown: triple(draws) };
  const worst = new Float64Array(draws);
  const moves: Triple[] = [];
  const displaced: Triple[] = [];
  const place = new Float64Array(3);
  const w = triple(draws);

  candidates.forEach(({ finish, certain, weights }, row) => {
    score.fill(certain);
    fillNormals(seed, colourStream(finish.id), scratch.draw);
    finish.colours.forEach((colour, i) =>
      wanderInto((moves[i] ??= triple(draws)), colour.root, scratch.draw),
    );
    const unknown =
      isOpen(finish, lights) && (weights.pairing > 0 || weights.steadiness > 0) ? scratch.unknown : null;
    if (unknown) fillNormals(seed, spectrumStream(finish.id), unknown);

    if (weights.nearness > 0 && plan.target && targetMoves) {
      room.fill(0, 0, draws);
      for (let i = 0; i < finish.colours.length; i++) {
        const colour = finish.colours[i];
        const form = localForm(plan.target.lab, colour.lab);
        mapDifference(w, form, moves[i], targetMoves);
        offset(place, 0, { form, reference: plan.target.lab, sample: colour.lab });
        const [u0, u1, u2] = place;
        const [w0, w1, w2] = w;
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
      // Where a lamp puts each colour of the candidate is worked out when the first neighbour asks, and once.
      const done = new Set<number>();
      const under = (i: number, l: number): Triple => {
        const doubt = finish.colours[i].doubts?.[l];
        if (!doubt) return moves[i];
        const at = i * lights.length + l;
        const into = (displaced[at] ??= triple(draws));
        if (!done.has(at)) moved(into, moves[i], doubt.lab, unknown!);
        done.add(at);
        return into;
      };
      for (const neighbour of fixed) {
        const weight = weights.pairing * neighbour.contact;
        if (weight > 0) addPairing({ finish, contact: 1, moves, under }, neighbour, weight);
      }
    }

    if (weights.steadiness > 0) {
      drawMovement(finish, { unknown, lights, draws }, room);
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
    const rows = plain ? worst : room;
    let drawn = false;
    for (let i = 0; i < tried.finish.colours.length; i++) {
      const colour = tried.finish.colours[i];
      for (let j = 0; j < there.finish.colours.length; j++) {
        const other = there.finish.colours[j];
        const form = localForm(other.lab, colour.lab);
        let table: Float64Array | null = null;
        for (let l = 0; l < lamps; l++) {
          const index = lights.length > 0 ? l : -1;
          offset(place, 0, { form, reference: seen(other, index), sample: seen(colour, index) });
          // Only the lights under which the pair can come near are drawn.
          if (staysApart(form, place, [underLamp(other, index), underLamp(colour, index)])) continue;
          if (!drawn) rows.fill(0);
          drawn = true;
          table ??= tableFor(twoWhites(other, colour));
          const pair = { form, place, sample: tried.under(i, l), reference: there.under(j, l), table };
          if (plain) lowerToPair(worst, pair);
          else addPair(room, l * draws, colour.share * other.share, pair);
        }
      }
    }
    if (!drawn) return;
    if (!plain) {
      for (let t = 0; t < draws; t++) {
        let least = room[t];
        for (let l = 1; l < lamps; l++) {
          const value = room[l * draws + t];
          if (value < least) least = value;
        }
        worst[t] = least;
      }
    }
    for (let t = 0; t < draws; t++) score[t] += weight * worst[t];
  }
}

/** Whether the look of a finish under the lights is open at all. */
function isOpen(finish: PreparedFinish, lights: readonly PreparedLight[]): boolean {
  return lights.length > 0 && finish.colours.some(({ doubts }) => doubts !== null);
}

/** A colour's doubt under a light, as `staysApart` wants it. */
function underLamp({ root, doubts }: Appearance, light: number): Wandering {
  return { root, doubt: light < 0 ? null : (doubts?.[light]?.lab ?? null) };
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
  /** Displacement in Lab of each colour by day, in every draw. */
  readonly moves: readonly Triple[];
  /** Displacement of a colour under a light, in every draw. */
  readonly under: (colour: number, light: number) => Triple;
}

/**
 * Two colours under one light: the best estimate's difference in the space of the form, both displacements, and ln
 * desirability by squared ΔE.
 */
interface DrawnPair {
  readonly form: readonly number[];
  readonly place: Float64Array;
  readonly sample: Triple;
  readonly reference: Triple;
  readonly table: Float64Array;
}

/** Lowers each draw to ln desirability of this pair. */
function lowerToPair(worst: Float64Array, { form, place, sample, reference, table }: DrawnPair): void {
  const [f0, f1, f2, , f4, f5, , , f8] = form;
  const [u0, u1, u2] = place;
  const [sL, sa, sb] = sample;
  const [rL, ra, rb] = reference;
  for (let t = 0; t < worst.length; t++) {
    const L = sL[t] - rL[t];
    const a = sa[t] - ra[t];
    const b = sb[t] - rb[t];
    const x = u0 + f0 * L + f1 * a + f2 * b;
    const y = u1 + f4 * a + f5 * b;
    const z = u2 + f8 * b;
    // Without a branch: draws fall to either side of the border at random.
    const squared = Math.min(APART_SQUARED, x * x + y * y + z * z);
    worst[t] = Math.min(worst[t], table[(squared * STEPS) | 0]);
  }
}

/** Adds share × ln desirability of this pair to the row that begins at `row`. */
function addPair(
  room: Float64Array,
  row: number,
  share: number,
  { form, place, sample, reference, table }: DrawnPair,
): void {
  const [f0, f1, f2, , f4, f5, , , f8] = form;
  const [u0, u1, u2] = place;
  const [sL, sa, sb] = sample;
  const [rL, ra, rb] = reference;
  for (let t = 0; t < sL.length; t++) {
    const L = sL[t] - rL[t];
    const a = sa[t] - ra[t];
    const b = sb[t] - rb[t];
    const x = u0 + f0 * L + f1 * a + f2 * b;
    const y = u1 + f4 * a + f5 * b;
    const z = u2 + f8 * b;
    const squared = Math.min(APART_SQUARED, x * x + y * y + z * z);
    room[row + t] += share * table[(squared * STEPS) | 0];
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

/** A colour's doubt by day, and what a lamp adds to it; null where that is nothing. */
interface Wandering {
  readonly root: readonly number[];
  readonly doubt: readonly number[] | null;
}

/**
 * Whether a pair of colours stays so far apart under a light that its desirability is 1, short of a draw beyond `REACH`
 * standard deviations. |u + v| is at least û·(u + v), a normal number whose spread is known.
 */
function staysApart(form: readonly number[], u: Float64Array, pair: readonly Wandering[]): boolean {
  const [x, y, z] = u;
  const length = Math.sqrt(x * x + y * y + z * z);
  if (length <= PAIRING_CURVE.apartFull) return false;
  // ûᵀA, then times each root.
  const g0 = (x * form[0]) / length;
  const g1 = (x * form[1] + y * form[4]) / length;
  const g2 = (x * form[2] + y * form[5] + z * form[8]) / length;
  let variance = 0;
  for (const { root, doubt } of pair) {
    variance += along(g0, g1, g2, root);
    if (!doubt) continue;
    for (let k = 0; k < UNKNOWNS; k++)
      variance += (g0 * doubt[k] + g1 * doubt[UNKNOWNS + k] + g2 * doubt[2 * UNKNOWNS + k]) ** 2;
  }
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

/** Writes displacements by day plus what three unknown numbers add under a lamp. */
function moved(into: Triple, moves: Triple, doubt: readonly number[], [x, y, z]: Triple): Triple {
  const [d0, d1, d2, d3, d4, d5, d6, d7, d8] = doubt;
  const [iL, ia, ib] = into;
  const [mL, ma, mb] = moves;
  for (let t = 0; t < iL.length; t++) {
    iL[t] = mL[t] + d0 * x[t] + d1 * y[t] + d2 * z[t];
    ia[t] = ma[t] + d3 * x[t] + d4 * y[t] + d5 * z[t];
    ib[t] = mb[t] + d6 * x[t] + d7 * y[t] + d8 * z[t];
  }
  return into;
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
