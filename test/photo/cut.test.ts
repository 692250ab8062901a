import { describe, expect, test } from 'vitest';
import { minimumCut, type CutGraph } from '#lib/photo/cut.ts';
import { random } from './board-scene.ts';

/** A graph from its edges, each with a price, and a pull per node. */
function graphOf(pull: readonly number[], edges: readonly (readonly [number, number, number])[]): CutGraph {
  const count = pull.length;
  const lists: [number, number][][] = Array.from({ length: count }, () => []);
  edges.forEach(([i, j], e) => {
    lists[i].push([j, e]);
    lists[j].push([i, e]);
  });
  const first = new Int32Array(count + 1);
  lists.forEach((list, i) => (first[i + 1] = first[i] + list.length));
  const flat = lists.flat();
  const met = new Map<number, number>();
  const twin = new Int32Array(flat.length);
  flat.forEach(([, e], at) => {
    const before = met.get(e);
    if (before === undefined) met.set(e, at);
    else [twin[at], twin[before]] = [before, at];
  });
  return {
    count,
    first,
    other: Int32Array.from(flat, ([j]) => j),
    twin,
    capacity: Float32Array.from(flat, ([, e]) => edges[e][2]),
    pull: Float32Array.from(pull),
  };
}

function price(
  side: ArrayLike<number>,
  pull: readonly number[],
  edges: readonly (readonly [number, number, number])[],
) {
  let sum = 0;
  pull.forEach((p, i) => {
    if (p > 0 && !side[i]) sum += p;
    if (p < 0 && side[i]) sum -= p;
  });
  for (const [i, j, c] of edges) if (Boolean(side[i]) !== Boolean(side[j])) sum += c;
  return sum;
}

describe('the cheapest division', () => {
  test('is as cheap as the best of all divisions, on 300 small graphs', () => {
    for (let seed = 1; seed <= 300; seed++) {
      const next = random(seed);
      const n = 2 + Math.floor(next() * 9);
      const pull = Array.from({ length: n }, () => Math.round(20 * (next() - 0.5)));
      const edges: [number, number, number][] = [];
      for (let i = 0; i < n; i++)
        for (let j = i + 1; j < n; j++) if (next() < 0.45) edges.push([i, j, Math.floor(next() * 9)]);
      let best = Infinity;
      for (let bits = 0; bits < 1 << n; bits++)
        best = Math.min(
          best,
          price(
            Array.from({ length: n }, (_, i) => (bits >> i) & 1),
            pull,
            edges,
          ),
        );
      const side = minimumCut(graphOf(pull, edges));
      expect(price(side, pull, edges), `seed ${seed}`).toBe(best);
    }
  });

  test('on a large grid no single node could change sides at a gain', () => {
    const size = 60;
    const next = random(3);
    const pull = Array.from({ length: size * size }, (_, p) => {
      const inside = Math.hypot((p % size) - 30, Math.floor(p / size) - 30) < 18;
      return Math.round((inside ? 3 : -3) + 8 * (next() - 0.5));
    });
    const edges: [number, number, number][] = [];
    for (let y = 0; y < size; y++)
      for (let x = 0; x < size; x++) {
        const p = y * size + x;
        if (x + 1 < size) edges.push([p, p + 1, 4]);
        if (y + 1 < size) edges.push([p, p + size, 4]);
      }
    const side = minimumCut(graphOf(pull, edges));
    const own = price(side, pull, edges);
    for (let p = 0; p < side.length; p += 7) {
      const other = Uint8Array.from(side);
      other[p] = 1 - other[p];
      expect(price(other, pull, edges)).toBeGreaterThanOrEqual(own);
    }
    // Noise is smoothed away: the disc comes out whole.
    expect(side[30 * size + 30]).toBe(1);
    expect(side[0]).toBe(0);
  });

  test('without any pull nothing is inside; pulls of one sign take everything or nothing', () => {
    const edges = [
      [0, 1, 5],
      [1, 2, 5],
    ] as const;
    expect([...minimumCut(graphOf([0, 0, 0], edges))]).toEqual([0, 0, 0]);
    expect([...minimumCut(graphOf([1, 0, 0], edges))]).toEqual([1, 1, 1]);
    expect([...minimumCut(graphOf([0, 0, -1], edges))]).toEqual([0, 0, 0]);
  });
});
