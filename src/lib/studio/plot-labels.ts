/** A place for a curve's name in a plot: the baseline's start, in pixels of the drawing. */
export interface LabelPlace {
  x: number;
  y: number;
}

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** What a plot leaves for names, and how big they are, all in pixels. */
export interface LabelSpace {
  left: number;
  right: number;
  top: number;
  bottom: number;
  /** Width of a letter, mean; and height of a line. */
  letter: number;
  line: number;
}

const GAP = 5;
/** A name is plainly its own curve's where the others are further off by this, px. */
const PLAIN = 10;

/**
 * Places for the names of curves, each near its own curve and clear of the others.
 * In: curves as points in pixels, ascending x, all with the same x; names as long as they are written.
 * Each name tries every point, above, below and at its sides, and takes the first with the least ink under it; earlier
 * names stand.
 */
export function labelPlaces(
  curves: readonly { name: string; points: readonly (readonly [number, number])[] }[],
  space: LabelSpace,
): LabelPlace[] {
  const taken: Box[] = [];
  return curves.map(({ name, points }, own) => {
    const width = name.length * space.letter;
    let best = { x: space.left, y: space.top + space.line, cost: Infinity, box: null as Box | null };
    for (const [x, y] of points) {
      const beside = y + space.line / 2;
      for (const [from, bottom] of [
        [x - width / 2, y - GAP],
        [x - width / 2, y + GAP + space.line],
        [x + 2 * GAP, beside],
        [x - 2 * GAP - width, beside],
      ]) {
        const left = Math.min(space.right - width, Math.max(space.left, from));
        const box = { left, right: left + width, top: bottom - space.line, bottom };
        if (box.top < space.top || box.bottom > space.bottom) continue;
        const cost =
          inkUnder(curves, box, own) +
          2 * nearness(curves, box, own) +
          100 * taken.filter((other) => overlap(box, other)).length;
        if (cost < best.cost) best = { x: left, y: bottom - space.line * 0.25, cost, box };
      }
    }
    if (best.box) taken.push(best.box);
    return { x: best.x, y: best.y };
  });
}

/** How much of the lines lies under a box, px; other curves count double, since a name on one is read as its own. */
function inkUnder(
  curves: readonly { points: readonly (readonly [number, number])[] }[],
  box: Box,
  own: number,
): number {
  const wide = { ...box, left: box.left - 2, right: box.right + 2, top: box.top - 1, bottom: box.bottom + 1 };
  let ink = 0;
  for (const [i, { points }] of curves.entries()) {
    for (let k = 1; k < points.length; k++)
      ink += within(points[k - 1], points[k], wide) * (i === own ? 1 : 2);
  }
  return ink;
}

/** By how much, px, a name falls short of being plainly nearer to its own curve than to the others. */
function nearness(
  curves: readonly { points: readonly (readonly [number, number])[] }[],
  box: Box,
  own: number,
): number {
  const gaps = curves.map(({ points }) => {
    // One point more on either side, so that a short name between two points has something near it.
    const step = points[1][0] - points[0][0];
    const near = points.filter(([x]) => x >= box.left - step && x <= box.right + step);
    return Math.min(...near.map(([, y]) => Math.max(0, box.top - y, y - box.bottom)));
  });
  return gaps.reduce((sum, gap, i) => (i === own ? sum : sum + Math.max(0, gaps[own] + PLAIN - gap)), 0);
}

/** How far a stretch of line runs through a box, px. */
function within(from: readonly [number, number], to: readonly [number, number], box: Box): number {
  const width = to[0] - from[0];
  const rise = to[1] - from[1];
  // Parts of the stretch at which it enters and leaves the box, in x and then in y.
  let enters = Math.max(0, (box.left - from[0]) / width);
  let leaves = Math.min(1, (box.right - from[0]) / width);
  if (rise === 0) {
    if (from[1] < box.top || from[1] > box.bottom) return 0;
  } else {
    const [a, b] = [(box.top - from[1]) / rise, (box.bottom - from[1]) / rise];
    enters = Math.max(enters, Math.min(a, b));
    leaves = Math.min(leaves, Math.max(a, b));
  }
  return leaves > enters ? (leaves - enters) * Math.hypot(width, rise) : 0;
}

function overlap(a: Box, b: Box): boolean {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
