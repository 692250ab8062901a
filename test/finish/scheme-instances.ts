import { deltaE2000 } from '#lib/colour/index.ts';
import type { Lab } from '#lib/colour/index.ts';
import { NEARNESS, pairingDesirability, smallerIsBetter } from '#lib/finish/index.ts';
import type { SearchProblem } from '#lib/finish/index.ts';

/** Numbers in [0, 1) from a seed (mulberry32). */
export function seeded(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

export interface Weights {
  readonly nearness: number;
  readonly pairing: number;
  readonly relations: number;
  readonly pattern: number;
  readonly price: number;
}

export const WEIGHTS: Weights = { nearness: 3, pairing: 3, relations: 2, pattern: 1, price: 1 };

/**
 * A room: `places` surfaces with `count` finishes each, scattered round a colour of the inspiration (`spread` 1: standard
 * deviations of 14, 6 and 8 in L*, a*, b*), judged as a scheme is: nearness and price alone, troughs of near misses where
 * surfaces meet, relations to the inspiration between all of them, busy beside busy. With a `fan` of so many paints, the first
 * half of the surfaces choose among those of it that are nearest to their colours: the same paints, which can match exactly.
 */
export function room(
  seed: number,
  {
    places = 8,
    count = 60,
    weights = WEIGHTS,
    spread = 1,
    least,
    fan = 0,
  }: {
    places?: number;
    count?: number;
    weights?: Weights;
    spread?: number;
    least?: number;
    fan?: number;
  } = {},
): SearchProblem & { prices: Float64Array[]; busy: Float64Array[]; metals: Int32Array[] } {
  const random = seeded(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const inspiration: Lab[] = Array.from({ length: places }, () => ({
    L: 25 + 68 * random(),
    a: 7 * normal(),
    b: 8 + 9 * normal(),
  }));
  const near = ({ L, a, b }: Lab) => ({
    lab: {
      L: Math.min(97, Math.max(8, L + spread * 14 * normal())),
      a: a + spread * 6 * normal(),
      b: b + spread * 8 * normal(),
    },
    price: 20 * Math.exp(0.6 * normal()),
    busy: random() < 0.25 ? 2 + 8 * random() : random(),
    metal: random() < 0.3 ? Math.floor(5 * random()) : -1,
  });
  const paints = Array.from({ length: fan }, (_, i) => near(inspiration[i % places]));
  const options = inspiration.map((lab, place) => {
    if (fan === 0 || place >= places / 2) return Array.from({ length: count }, () => near(lab));
    const distances = new Map(paints.map((paint) => [paint, deltaE2000(lab, paint.lab)]));
    return paints.toSorted((p, q) => distances.get(p)! - distances.get(q)!).slice(0, count);
  });
  const total = weights.nearness + weights.pairing + weights.relations + weights.pattern + weights.price;
  const cheapest = options.map((list) => Math.min(...list.map(({ price }) => price)));
  const alone = options.map((list, i) =>
    Float64Array.from(list, ({ lab, price }) => {
      const nearness = Math.max(0.01, smallerIsBetter(deltaE2000(inspiration[i], lab), NEARNESS));
      return (
        (weights.nearness * Math.log(nearness) +
          weights.price * Math.log(Math.max(0.01, cheapest[i] / price))) /
        (places * total)
      );
    }),
  );
  const meet: boolean[] = [];
  for (let a = 0; a < places; a++) for (let b = a + 1; b < places; b++) meet.push(random() < 0.6);
  const contacts = Math.max(1, meet.filter(Boolean).length);
  const pairs: { a: number; b: number; table: Float64Array }[] = [];
  const all = (places * (places - 1)) / 2;
  for (let a = 0; a < places; a++) {
    for (let b = a + 1; b < places; b++) {
      const touching = meet[pairs.length];
      const contact = 0.3 + 0.7 * random();
      const table = new Float64Array(count * count);
      options[a].forEach((p, m) =>
        options[b].forEach((q, n) => {
          let score = 0;
          if (touching) {
            const pairing = pairingDesirability(deltaE2000(p.lab, q.lab));
            score += (weights.pairing * contact * Math.log(pairing)) / (contacts * total);
            const busier = Math.min(p.busy, q.busy);
            score += (weights.pattern * contact * Math.log(1 / (1 + (busier / 3) ** 2))) / (contacts * total);
          }
          const off = Math.hypot(
            0.5 * (p.lab.L - q.lab.L - (inspiration[a].L - inspiration[b].L)),
            p.lab.a - q.lab.a - (inspiration[a].a - inspiration[b].a),
            p.lab.b - q.lab.b - (inspiration[a].b - inspiration[b].b),
          );
          score += (weights.relations * Math.log(Math.max(0.01, 1 / (1 + (off / 10) ** 2)))) / (all * total);
          table[m * count + n] = score;
        }),
      );
      pairs.push({ a, b, table });
    }
  }
  const difference = options.map((list) => {
    const table = new Float64Array(count * count);
    list.forEach((p, m) =>
      list.forEach((q, n) => (table[m * count + n] = Math.min(1, deltaE2000(p.lab, q.lab) / 20))),
    );
    return table;
  });
  return {
    options: options.map(({ length }) => length),
    alone,
    pairs,
    amounts: [],
    distinct: [],
    ...(least === undefined
      ? {}
      : { unlike: { pairs: difference, weights: options.map(() => 1 / places), least } }),
    prices: options.map((list) => Float64Array.from(list, ({ price }) => price)),
    busy: options.map((list) => Float64Array.from(list, ({ busy }) => busy)),
    metals: options.map((list) => Int32Array.from(list, ({ metal }) => metal)),
  };
}

/** Nothing to hold on to: every score an independent uniform number. */
export function noise(
  seed: number,
  { places = 8, count = 60, pairWeight = 1 }: { places?: number; count?: number; pairWeight?: number } = {},
): SearchProblem {
  const random = seeded(seed);
  const pairs: { a: number; b: number; table: Float64Array }[] = [];
  const alone = Array.from({ length: places }, () => Float64Array.from({ length: count }, () => -random()));
  for (let a = 0; a < places; a++) {
    for (let b = a + 1; b < places; b++)
      pairs.push({ a, b, table: Float64Array.from({ length: count * count }, () => -pairWeight * random()) });
  }
  return { options: alone.map(() => count), alone, pairs, amounts: [], distinct: [] };
}
