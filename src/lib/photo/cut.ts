/** A graph with two terminals; capacities are in one unit, 0 or more. */
export interface CutGraph {
  readonly count: number;
  /** Edges of node i are `first[i] .. first[i + 1] - 1`; each undirected edge stands on both sides, `twin` links them. */
  readonly first: Int32Array;
  readonly other: Int32Array;
  readonly twin: Int32Array;
  /** Price of parting the two ends of an edge; the same on both sides. */
  readonly capacity: Float32Array;
  /** Per node: price of being outside (above 0) or of being inside (below 0, its size). */
  readonly pull: Float32Array;
}

const FREE = 0;
const SOURCE = 1;
const SINK = 2;
const NONE = -1;
const TERMINAL = -2;

/**
 * Settles the nodes whose pull outweighs all borders they have to nodes that are open or on the other side: 1 inside, -1
 * outside, 0 open. Each is then what draws or pushes its neighbours, so that most of a graph settles from its plain parts
 * on. Edges to settled nodes are closed in `rest` and their price goes to `excess`, which is 0 for the settled ones.
 * The cheapest division stays the cheapest.
 * Source: one node against the rest, the simplest of the tests of Padberg and Rinaldi 1990, Mathematical Programming
 * 47, 19-36, section 3.
 */
function settled(
  { count, first, other, twin }: CutGraph,
  rest: Float32Array,
  excess: Float32Array,
): Int8Array {
  const side = new Int8Array(count);
  const pull = new Float64Array(excess);
  const open = new Float64Array(count);
  const queue = new Int32Array(count);
  let tail = 0;
  const settle = (i: number) => {
    if (side[i] || Math.abs(pull[i]) <= open[i]) return;
    side[i] = pull[i] > 0 ? 1 : -1;
    queue[tail++] = i;
  };
  for (let i = 0; i < count; i++) for (let e = first[i]; e < first[i + 1]; e++) open[i] += rest[e];
  for (let i = 0; i < count; i++) settle(i);
  for (let head = 0; head < tail; head++) {
    const i = queue[head];
    for (let e = first[i]; e < first[i + 1]; e++) {
      const j = other[e];
      if (!side[j]) {
        open[j] -= rest[e];
        pull[j] += side[i] * rest[e];
        settle(j);
      }
      rest[e] = rest[twin[e]] = 0;
    }
  }
  for (let i = 0; i < count; i++) excess[i] = side[i] ? 0 : pull[i];
  return side;
}

/**
 * The cheapest division of a graph: 1 for nodes inside (joined to the source), 0 outside.
 * Augmenting paths from two search trees that are kept between augmentations.
 * Source: Boykov and Kolmogorov 2004, IEEE TPAMI 26(9), 1124-1137, section 3.2.
 */
export function minimumCut(graph: CutGraph): Uint8Array {
  const { count, first, other, twin } = graph;
  const rest = graph.capacity.slice();
  const excess = graph.pull.slice();
  const sides = settled(graph, rest, excess);
  const tree = new Uint8Array(count);
  /** Edge (seen from the node) that leads to its parent, TERMINAL at a root. */
  const parent = new Int32Array(count).fill(NONE);
  const stamp = new Int32Array(count);
  const depth = new Int32Array(count);
  const queue = new Int32Array(count + 1);
  const queued = new Uint8Array(count);
  let [head, tail] = [0, 0];
  const activate = (i: number) => {
    if (queued[i]) return;
    queued[i] = 1;
    queue[tail] = i;
    tail = tail === count ? 0 : tail + 1;
  };
  for (let i = 0; i < count; i++) {
    if (excess[i] === 0) continue;
    tree[i] = excess[i] > 0 ? SOURCE : SINK;
    parent[i] = TERMINAL;
    depth[i] = 1;
    activate(i);
  }
  const orphans: number[] = [];
  let time = 0;

  const orphan = (i: number) => {
    parent[i] = NONE;
    orphans.push(i);
  };

  /** Sends what fits along the path that edge e closes: from its source-tree end to its sink-tree end. */
  const augment = (from: number, e: number) => {
    const end = other[e];
    let amount = rest[e];
    for (let i = from; ;) {
      const up = parent[i];
      if (up === TERMINAL) {
        if (excess[i] < amount) amount = excess[i];
        break;
      }
      if (rest[twin[up]] < amount) amount = rest[twin[up]];
      i = other[up];
    }
    for (let i = end; ;) {
      const up = parent[i];
      if (up === TERMINAL) {
        if (-excess[i] < amount) amount = -excess[i];
        break;
      }
      if (rest[up] < amount) amount = rest[up];
      i = other[up];
    }
    rest[e] -= amount;
    rest[twin[e]] += amount;
    for (let i = from; ;) {
      const up = parent[i];
      if (up === TERMINAL) {
        excess[i] -= amount;
        if (excess[i] <= 0) {
          excess[i] = 0;
          orphan(i);
        }
        break;
      }
      rest[up] += amount;
      rest[twin[up]] -= amount;
      const above = other[up];
      if (rest[twin[up]] <= 0) {
        rest[twin[up]] = 0;
        orphan(i);
      }
      i = above;
    }
    for (let i = end; ;) {
      const up = parent[i];
      if (up === TERMINAL) {
        excess[i] += amount;
        if (excess[i] >= 0) {
          excess[i] = 0;
          orphan(i);
        }
        break;
      }
      rest[twin[up]] += amount;
      rest[up] -= amount;
      const above = other[up];
      if (rest[up] <= 0) {
        rest[up] = 0;
        orphan(i);
      }
      i = above;
    }
  };

  /** Steps from node i to a terminal, Infinity where its branch hangs loose; marks the way for later askers. */
  const distance = (i: number) => {
    let steps = 0;
    let at = i;
    for (;;) {
      if (stamp[at] === time) {
        steps += depth[at];
        break;
      }
      const up = parent[at];
      steps++;
      if (up === TERMINAL) {
        stamp[at] = time;
        depth[at] = 1;
        break;
      }
      if (up === NONE) return Infinity;
      at = other[up];
    }
    let left = steps;
    for (at = i; stamp[at] !== time; at = other[parent[at]]) {
      stamp[at] = time;
      depth[at] = left--;
    }
    return steps;
  };

  const adopt = () => {
    while (orphans.length > 0) {
      const i = orphans.pop() as number;
      const side = tree[i];
      let [best, nearest] = [NONE, Infinity];
      for (let e = first[i]; e < first[i + 1]; e++) {
        const j = other[e];
        if (tree[j] !== side || (side === SOURCE ? rest[twin[e]] : rest[e]) <= 0 || parent[j] === NONE)
          continue;
        const steps = distance(j);
        if (steps < nearest) [best, nearest] = [e, steps];
      }
      if (best !== NONE) {
        parent[i] = best;
        stamp[i] = time;
        depth[i] = nearest + 1;
        continue;
      }
      for (let e = first[i]; e < first[i + 1]; e++) {
        const j = other[e];
        if (tree[j] !== side) continue;
        if ((side === SOURCE ? rest[twin[e]] : rest[e]) > 0) activate(j);
        if (parent[j] >= 0 && other[parent[j]] === i) orphan(j);
      }
      tree[i] = FREE;
    }
  };

  let current = NONE;
  for (;;) {
    let i = current;
    if (i === NONE || tree[i] === FREE) {
      i = NONE;
      while (head !== tail) {
        const k = queue[head];
        head = head === count ? 0 : head + 1;
        queued[k] = 0;
        if (tree[k] !== FREE) {
          i = k;
          break;
        }
      }
      if (i === NONE) break;
    }
    const side = tree[i];
    let meeting = NONE;
    for (let e = first[i]; e < first[i + 1]; e++) {
      if ((side === SOURCE ? rest[e] : rest[twin[e]]) <= 0) continue;
      const j = other[e];
      if (tree[j] === FREE) {
        tree[j] = side;
        parent[j] = twin[e];
        stamp[j] = stamp[i];
        depth[j] = depth[i] + 1;
        activate(j);
      } else if (tree[j] !== side) {
        meeting = e;
        break;
      } else if (stamp[j] <= stamp[i] && depth[j] > depth[i] && parent[j] >= 0) {
        // A shorter way to the terminal for j.
        parent[j] = twin[e];
        stamp[j] = stamp[i];
        depth[j] = depth[i] + 1;
      }
    }
    if (meeting === NONE) {
      current = NONE;
      continue;
    }
    current = i;
    time++;
    if (side === SOURCE) augment(i, meeting);
    else augment(other[meeting], twin[meeting]);
    adopt();
  }
  const inside = new Uint8Array(count);
  for (let i = 0; i < count; i++) inside[i] = sides[i] > 0 || (sides[i] === 0 && tree[i] === SOURCE) ? 1 : 0;
  return inside;
}
