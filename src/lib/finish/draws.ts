import { cholesky, deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import type { Appearance, PreparedFinish, PreparedLight } from './appearance.ts';
import { PAIRING_CURVE, pairingDesirability, seen } from './pairing.ts';
import { normals } from './random.ts';

/*
 * Seeded draws over what is not known for certain: the target's colour, each candidate's, each fixed finish's, and what a
 * lamp does to a colour whose reflectance nobody measured. Every draw moves all of them at once and scores every candidate
 * against the same moved target and fixed finishes (common random numbers), so that differences between candidates are
 * steadier than their scores.
 *
 * What makes it fast, and what that costs:
 * - Near a pair of colours, CIEDE2000 squared is taken as a quadratic form of the Lab difference (found by differencing
 *   deltaE2000 itself at the midpoint) and scaled to be exact at the best estimate. Off by under 5 % of ΔE for doubts of 2 per axis.
 * - A lamp moves a drawn colour by what it moves the best estimate: the Jacobian of D65 to lamp is taken as the identity.
 *   After CAT16 it is within about 10 % of that, so a doubt of 2 is off by 0.2.
 * - Desirabilities are read from tables, 1/32 apart in squared ΔE.
 * - A pair whose desirability cannot leave 1 within four standard deviations is not drawn at all.
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

/** A colour as it wanders: for each draw its displacement in Lab, and the three numbers that stand for its unknown spectrum. */
interface Wandering {
  readonly dL: Float64Array;
  readonly da: Float64Array;
  readonly db: Float64Array;
}

const STEPS = 32;
/** Standard deviations beyond which a draw is not expected. */
const REACH = 4;
/** Largest stretch of a Lab step in ΔE00: near the neutral axis G raises a* by half. */
const STRETCH = 1.5;

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
  const lampsMatter = lights.some((light) => light.unknownReflectance > 0);
  const spectrumOf = (finish: PreparedFinish): Wandering | null =>
    lampsMatter && finish.colours.some((colour) => !colour.measured)
      ? unit(seed, `spectrum of ${finish.id}`, draws)
      : null;

  const targetMoves = plan.target && wander(plan.target.root, unit(seed, 'the target', draws));
  const fixed = plan.fixed.map(({ finish, contact }) => {
    const draw = unit(seed, `colour of ${finish.id}`, draws);
    return {
      finish,
      contact,
      colours: finish.colours.map((colour) => wander(colour.root, draw)),
      spectrum: spectrumOf(finish),
    };
  });

  const score = new Float64Array(draws);
  const room = new Float64Array(Math.max(1, lights.length) * draws);
  const [w0, w1, w2] = [new Float64Array(draws), new Float64Array(draws), new Float64Array(draws)];

  candidates.forEach(({ finish, certain, weights }, row) => {
    score.fill(certain);
    const draw = unit(seed, `colour of ${finish.id}`, draws);
    const moves = finish.colours.map((colour) => wander(colour.root, draw));
    const spectrum = weights.pairing > 0 || weights.steadiness > 0 ? spectrumOf(finish) : null;

    if (weights.nearness > 0 && plan.target && targetMoves) {
      room.fill(0, 0, draws);
      finish.colours.forEach((colour, i) => {
        const form = localForm(plan.target!.lab, colour.lab);
        mapDifference(form, moves[i], targetMoves, [w0, w1, w2]);
        const [u0, u1, u2] = offset(form, plan.target!.lab, colour.lab);
        for (let t = 0; t < draws; t++) {
          const x = u0 + w0[t];
          const y = u1 + w1[t];
          const z = u2 + w2[t];
          room[t] += colour.share * Math.sqrt(x * x + y * y + z * z);
        }
      });
      addFromTable(score, room, tables.nearness, weights.nearness);
    }

    if (weights.pairing > 0) {
      for (const neighbour of fixed) {
        const weight = weights.pairing * neighbour.contact;
        if (weight > 0) addPairing(neighbour, weight);
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
        for (let t = 0; t < draws; t++) {
          room[t] += colour.share * Math.max(0, shift + luminousReflectance(colour.lab.L + moves[i].dL[t]));
        }
      });
      addFromTable(score, room, tables.lrv, weights.lrv);
    }

    scores.set(score, row * draws);

    function addPairing(neighbour: (typeof fixed)[number], weight: number): void {
      const lamps = Math.max(1, lights.length);
      let drawn = false;
      finish.colours.forEach((colour, i) => {
        neighbour.finish.colours.forEach((other, j) => {
          if (alwaysApart(other, colour, lights)) return;
          if (!drawn) room.fill(0, 0, lamps * draws);
          drawn = true;
          const share = colour.share * other.share;
          const form = localForm(other.lab, colour.lab);
          mapDifference(form, moves[i], neighbour.colours[j], [w0, w1, w2]);
          const a = colour.measured ? null : spectrum;
          const b = other.measured ? null : neighbour.spectrum;
          for (let l = 0; l < lamps; l++) {
            const index = lights.length > 0 ? l : -1;
            const u = offset(form, seen(other, index), seen(colour, index));
            const unknown = lights.length > 0 ? lights[l].unknownReflectance : 0;
            const into = room.subarray(l * draws, (l + 1) * draws);
            if (unknown > 0 && a && b && a !== b) pairTwoUnknown(into, share, u, [w0, w1, w2], unknown, a, b);
            else if (unknown > 0 && (a || b) && a !== b)
              pairOneUnknown(into, share, u, [w0, w1, w2], unknown, (a ?? b)!);
            else pairKnown(into, share, u, [w0, w1, w2]);
          }
        });
      });
      if (!drawn) return;
      // The worst light decides.
      for (let t = 0; t < draws; t++) {
        let worst = room[t];
        for (let l = 1; l < lamps; l++) {
          const value = room[l * draws + t];
          if (value < worst) worst = value;
        }
        score[t] += weight * worst;
      }
    }
  });
  return scores;
}

type Triple = readonly [Float64Array, Float64Array, Float64Array];
type Offset = readonly [number, number, number];

/** Adds share × ln desirability of the pair for each draw, both reflectances known (or under D65). */
function pairKnown(into: Float64Array, share: number, u: Offset, [w0, w1, w2]: Triple): void {
  const [u0, u1, u2] = u;
  for (let t = 0; t < into.length; t++) {
    const x = u0 + w0[t];
    const y = u1 + w1[t];
    const z = u2 + w2[t];
    const squared = x * x + y * y + z * z;
    if (squared < APART_SQUARED) into[t] += share * PAIRING_TABLE[(squared * STEPS) | 0];
  }
}

function pairOneUnknown(
  into: Float64Array,
  share: number,
  u: Offset,
  w: Triple,
  unknown: number,
  m: Wandering,
): void {
  const [u0, u1, u2] = u;
  const [w0, w1, w2] = w;
  const { dL, da, db } = m;
  for (let t = 0; t < into.length; t++) {
    const x = u0 + w0[t] + unknown * dL[t];
    const y = u1 + w1[t] + unknown * da[t];
    const z = u2 + w2[t] + unknown * db[t];
    const squared = x * x + y * y + z * z;
    if (squared < APART_SQUARED) into[t] += share * PAIRING_TABLE[(squared * STEPS) | 0];
  }
}

function pairTwoUnknown(
  into: Float64Array,
  share: number,
  u: Offset,
  w: Triple,
  unknown: number,
  m: Wandering,
  n: Wandering,
): void {
  const [u0, u1, u2] = u;
  const [w0, w1, w2] = w;
  for (let t = 0; t < into.length; t++) {
    const x = u0 + w0[t] + unknown * (m.dL[t] - n.dL[t]);
    const y = u1 + w1[t] + unknown * (m.da[t] - n.da[t]);
    const z = u2 + w2[t] + unknown * (m.db[t] - n.db[t]);
    const squared = x * x + y * y + z * z;
    if (squared < APART_SQUARED) into[t] += share * PAIRING_TABLE[(squared * STEPS) | 0];
  }
}

/** Fills `room` with the movement between lights of each draw: the largest between any two, colours by area. */
function drawMovement(
  finish: PreparedFinish,
  spectrum: Wandering | null,
  lights: readonly PreparedLight[],
  room: Float64Array,
  draws: number,
): void {
  const places = placesOf(lights);
  const apart = new Float64Array(draws);
  room.fill(0, 0, draws);
  for (let i = 0; i < places.length; i++) {
    for (let j = i + 1; j < places.length; j++) {
      apart.fill(0);
      for (const colour of finish.colours) {
        const p = places[i] < 0 ? colour.daylightUcs : colour.ucs[places[i]];
        const q = places[j] < 0 ? colour.daylightUcs : colour.ucs[places[j]];
        const [x0, y0, z0] = [q.J - p.J, q.a - p.a, q.b - p.b];
        const unknown = colour.measured ? 0 : doubtBetween(lights, places[i], places[j]);
        if (unknown === 0 || !spectrum) {
          const distance = colour.share * Math.hypot(x0, y0, z0);
          for (let t = 0; t < draws; t++) apart[t] += distance;
          continue;
        }
        const { dL, da, db } = spectrum;
        for (let t = 0; t < draws; t++) {
          const x = x0 + unknown * dL[t];
          const y = y0 + unknown * da[t];
          const z = z0 + unknown * db[t];
          apart[t] += colour.share * Math.sqrt(x * x + y * y + z * z);
        }
      }
      for (let t = 0; t < draws; t++) if (apart[t] > room[t]) room[t] = apart[t];
    }
  }
}

/** The states of light that movement is measured between: the room's lights, and daylight when there is only one. */
export function placesOf(lights: readonly PreparedLight[]): number[] {
  const places = lights.map((_, index) => index);
  return places.length === 1 ? [-1, ...places] : places;
}

/** Doubt per axis about the movement from one light to another: the same unknown spectrum acts in both. */
function doubtBetween(lights: readonly PreparedLight[], from: number, to: number): number {
  const of = (index: number) => (index < 0 ? 0 : lights[index].unknownReflectance);
  return Math.abs(of(to) - of(from));
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

/** Whether two colours stay so far apart, whatever is drawn, that their desirability is 1 under every light. */
function alwaysApart(p: Appearance, q: Appearance, lights: readonly PreparedLight[]): boolean {
  const spread = Math.sqrt(squaredLength(p.root) + squaredLength(q.root));
  const count = Math.max(1, lights.length);
  for (let l = 0; l < count; l++) {
    const index = lights.length > 0 ? l : -1;
    const unknown =
      index < 0 ? 0 : lights[l].unknownReflectance * Math.sqrt((p.measured ? 0 : 3) + (q.measured ? 0 : 3));
    const nearest = deltaE2000(seen(p, index), seen(q, index)) - REACH * (STRETCH * spread + unknown);
    if (nearest < PAIRING_CURVE.apartFull) return false;
  }
  return true;
}

function squaredLength(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value * value, 0);
}

/**
 * Upper triangular A with |A·δ|² ≈ ΔE00² for small Lab differences δ about the midpoint of two colours.
 * By differencing: M(i,j) = (E(i+j) − E(i) − E(j)) / 2 with E the squared ΔE of a small step, then A = Cholesky(M)ᵀ.
 */
export function localForm(reference: Lab, sample: Lab): readonly number[] {
  const middle = [(reference.L + sample.L) / 2, (reference.a + sample.a) / 2, (reference.b + sample.b) / 2];
  const step = 0.1;
  const energy = (i: number, j: number): number => {
    const from = [...middle];
    const to = [...middle];
    for (const axis of i === j ? [i] : [i, j]) {
      from[axis] -= step / 2;
      to[axis] += step / 2;
    }
    const deltaE = deltaE2000({ L: from[0], a: from[1], b: from[2] }, { L: to[0], a: to[1], b: to[2] });
    return (deltaE / step) ** 2;
  };
  const [LL, aa, bb] = [energy(0, 0), energy(1, 1), energy(2, 2)];
  const La = (energy(0, 1) - LL - aa) / 2;
  const Lb = (energy(0, 2) - LL - bb) / 2;
  const ab = (energy(1, 2) - aa - bb) / 2;
  const l = cholesky([LL, La, Lb, La, aa, ab, Lb, ab, bb]);
  return [l[0], l[3], l[6], 0, l[4], l[7], 0, 0, l[8]];
}

/** The best estimate's difference in the space of the form, scaled so that its length is the exact ΔE00. */
function offset(form: readonly number[], reference: Lab, sample: Lab): Offset {
  const L = sample.L - reference.L;
  const a = sample.a - reference.a;
  const b = sample.b - reference.b;
  const x = form[0] * L + form[1] * a + form[2] * b;
  const y = form[4] * a + form[5] * b;
  const z = form[8] * b;
  const length = Math.hypot(x, y, z);
  const scale = length > 1e-9 ? deltaE2000(reference, sample) / length : 1;
  return [x * scale, y * scale, z * scale];
}

/** Writes A·(moved sample − moved reference) of every draw into the three arrays. */
function mapDifference(
  form: readonly number[],
  sample: Wandering,
  reference: Wandering,
  [w0, w1, w2]: Triple,
): void {
  const [f0, f1, f2, , f4, f5, , , f8] = form;
  const { dL, da, db } = sample;
  const { dL: rL, da: ra, db: rb } = reference;
  for (let t = 0; t < w0.length; t++) {
    const L = dL[t] - rL[t];
    const a = da[t] - ra[t];
    const b = db[t] - rb[t];
    w0[t] = f0 * L + f1 * a + f2 * b;
    w1[t] = f4 * a + f5 * b;
    w2[t] = f8 * b;
  }
}

/** Three independent standard normals per draw, from a stream of their own. */
export function unit(seed: number, stream: string, draws: number): Wandering {
  const next = normals(seed, stream);
  const [dL, da, db] = [new Float64Array(draws), new Float64Array(draws), new Float64Array(draws)];
  for (let t = 0; t < draws; t++) {
    dL[t] = next();
    da[t] = next();
    db[t] = next();
  }
  return { dL, da, db };
}

/** Displacements of a colour with this covariance root. The colours of one finish share their draw: errors are common to them. */
export function wander(root: readonly number[], draw: Wandering): Wandering {
  const draws = draw.dL.length;
  const [dL, da, db] = [new Float64Array(draws), new Float64Array(draws), new Float64Array(draws)];
  const [r0, , , r3, r4, , r6, r7, r8] = root;
  for (let t = 0; t < draws; t++) {
    const x = draw.dL[t];
    const y = draw.da[t];
    const z = draw.db[t];
    dL[t] = r0 * x;
    da[t] = r3 * x + r4 * y;
    db[t] = r6 * x + r7 * y + r8 * z;
  }
  return { dL, da, db };
}
