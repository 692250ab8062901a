import { expect, test } from 'vitest';
import { diffused } from '#lib/photo/diffusion.ts';

/** A grid of nodes, each tied to those right and below by what `tie` gives for the two. */
function gridOf(columns: number, rows: number, tie: (i: number, j: number) => number) {
  const first = [0];
  const other: number[] = [];
  const conductance: number[] = [];
  for (let i = 0; i < columns * rows; i++) {
    const [x, y] = [i % columns, Math.floor(i / columns)];
    const beside = [
      y > 0 ? i - columns : -1,
      x > 0 ? i - 1 : -1,
      x + 1 < columns ? i + 1 : -1,
      y + 1 < rows ? i + columns : -1,
    ].filter((j) => j >= 0);
    for (const j of beside) {
      other.push(j);
      conductance.push(tie(Math.min(i, j), Math.max(i, j)));
    }
    first.push(other.length);
  }
  return {
    count: columns * rows,
    graph: { first: Int32Array.from(first), other: Int32Array.from(other) },
    conductance: Float64Array.from(conductance),
  };
}

const flags = (count: number, set: readonly number[]) => {
  const out = new Uint8Array(count);
  for (const i of set) out[i] = 1;
  return out;
};

// The difference equation c (x[k-1] - 2 x[k] + x[k+1]) = loss x[k] with x[0] = 1, x[n] = 0 has the solution
// sinh(q (n - k)) / sinh(q n), cosh q = 1 + loss / (2 c), since sinh(a + q) + sinh(a - q) = 2 cosh(q) sinh(a).
test.each([
  [40, 1, 0.01],
  [25, 3, 0.2],
  [60, 0.5, 1e-4],
])('along a chain of %i links what arrives falls as the closed solution says', (links, c, lost) => {
  const chain = gridOf(links + 1, 1, () => c);
  const loss = new Float64Array(chain.count).fill(lost);
  const arriving = diffused({ ...chain, loss }, flags(chain.count, [0]), flags(chain.count, [links]));
  const q = Math.acosh(1 + lost / (2 * c));
  // Of a chain nothing is left out when it is factorized: six decimals are rounding alone.
  for (let k = 0; k <= links; k++)
    expect(arriving[k]).toBeCloseTo(Math.sinh(q * (links - k)) / Math.sinh(q * links), 6);
});

test('what arrives far away is the closed solution too, or 0 where next to nothing would', () => {
  const [links, c, lost] = [400, 1, 0.02];
  const chain = gridOf(links + 1, 1, () => c);
  const loss = new Float64Array(chain.count).fill(lost);
  const arriving = diffused({ ...chain, loss }, flags(chain.count, [0]), flags(chain.count, [links]));
  const q = Math.acosh(1 + lost / (2 * c));
  for (let k = 0; k <= links; k++) {
    const closed = Math.sinh(q * (links - k)) / Math.sinh(q * links);
    // As close as the search ends, see below.
    expect(Math.abs(arriving[k] - closed)).toBeLessThan(1e-4);
  }
  expect(arriving[links / 2]).toBe(0);
  expect(arriving[40]).toBeGreaterThan(0);
});

test('on a grid with uneven ties the answer satisfies the equation at every node', () => {
  // Barriers over four orders of magnitude, drawn by a fixed rule.
  const tie = (i: number, j: number) => 10 ** (-4 * ((i * 7919 + j * 104729) % 97) ** 2 * 97 ** -2);
  const grid = gridOf(23, 17, tie);
  const loss = Float64Array.from({ length: grid.count }, (_, i) => 0.001 * (1 + (i % 5)));
  const seeds = flags(grid.count, [100, 101, 124]);
  const closed = flags(grid.count, [0, 22, 300, 301, 302]);
  const arriving = diffused({ ...grid, loss }, seeds, closed);
  let worst = 0;
  for (let i = 0; i < grid.count; i++) {
    expect(arriving[i]).toBeGreaterThanOrEqual(0);
    expect(arriving[i]).toBeLessThanOrEqual(1 + 1e-9);
    if (seeds[i]) expect(arriving[i]).toBe(1);
    else if (closed[i]) expect(arriving[i]).toBe(0);
    else {
      let [whole, flow] = [loss[i], 0];
      for (let e = grid.graph.first[i]; e < grid.graph.first[i + 1]; e++) {
        whole += grid.conductance[e];
        flow += grid.conductance[e] * arriving[grid.graph.other[e]];
      }
      worst = Math.max(worst, Math.abs(flow / whole - arriving[i]));
    }
  }
  // The search ends at 1e-8 of the energy, a square: at 1e-4 of the values, which are 1 at most.
  expect(worst).toBeLessThan(1e-4);
});

test('nothing arrives where everything round the seeds is closed', () => {
  const grid = gridOf(5, 5, () => 1);
  const closed = flags(25, [7, 11, 13, 17]);
  const arriving = diffused({ ...grid, loss: new Float64Array(25).fill(0.1) }, flags(25, [12]), closed);
  for (let i = 0; i < 25; i++) expect(arriving[i]).toBe(i === 12 ? 1 : 0);
});
