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

/**
 * Places for the names of curves, each near its own curve and clear of the others.
 * In: curves as points in pixels, ascending x, all with the same x; names as long as they are written.
 * Each name tries every point, above and below, and takes the first with the least ink under it; earlier names stand.
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
      for (const above of [true, false]) {
        const left = Math.min(space.right - width, Math.max(space.left, x - width / 2));
        const bottom = above ? y - GAP : y + GAP + space.line;
        const box = { left, right: left + width, top: bottom - space.line, bottom };
        if (box.top < space.top || box.bottom > space.bottom) continue;
        const cost = inkUnder(curves, box, own) + 40 * taken.filter((other) => overlap(box, other)).length;
        if (cost < best.cost) best = { x: left, y: bottom - space.line * 0.25, cost, box };
      }
    }
    if (best.box) taken.push(best.box);
    return { x: best.x, y: best.y };
  });
}

/** Points that lie under a box; those of other curves count double, since a name on them is read as theirs. */
function inkUnder(
  curves: readonly { points: readonly (readonly [number, number])[] }[],
  box: Box,
  own: number,
): number {
  let ink = 0;
  for (const [i, { points }] of curves.entries()) {
    for (const [x, y] of points) {
      const inside =
        x >= box.left - 2 && x <= box.right + 2 && y >= box.top - GAP / 2 && y <= box.bottom + GAP / 2;
      if (inside) ink += i === own ? 1 : 2;
    }
  }
  return ink;
}

function overlap(a: Box, b: Box): boolean {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
