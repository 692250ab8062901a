/** A mark of a plot, pixels of the drawing. */
export interface PlotMark {
  readonly x: number;
  readonly y: number;
  readonly radius: number;
}

/** A mark and the name that belongs to it. */
export interface NamedPoint extends PlotMark {
  readonly name: string;
}

/** Where a name stands, pixels: start of its baseline, and the line that leads to its point where it is away from it. */
export interface PointLabel {
  readonly x: number;
  readonly y: number;
  readonly leader: {
    readonly x1: number;
    readonly y1: number;
    readonly x2: number;
    readonly y2: number;
  } | null;
}

/** What the plot leaves for names; width of a letter (mean) and height of a line, all in pixels. */
export interface PointSpace {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly letter: number;
  readonly line: number;
}

interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

type Line = NonNullable<PointLabel['leader']>;

const GAP = 3;
const DIRECTIONS = 24;
const STEP = 7;
/** A name further from its mark than this, px, needs a line to it. */
const NEAR = 9;
/** What it costs, in pixels of distance, to cover a mark or to cross a line; other names are never covered while there is room. */
const COST = { mark: 70, line: 45, name: 5000 } as const;

/**
 * Places for the names of points, each as near to its point as there is room, clear of other names, of marks and of the
 * lines that lead to others; `others` are marks without a name. The most crowded points choose first.
 */
export function pointLabels(
  points: readonly NamedPoint[],
  space: PointSpace,
  others: readonly PlotMark[] = [],
): PointLabel[] {
  const out: PointLabel[] = [];
  const boxes: Box[] = [];
  const lines: Line[] = [];
  const marks: PlotMark[] = [...points, ...others];
  const crowd = points.map((p) =>
    points.reduce((sum, q) => (q === p ? sum : sum + 1 / (20 + Math.hypot(p.x - q.x, p.y - q.y))), 0),
  );
  const order = points.map((_, i) => i).toSorted((i, j) => crowd[j] - crowd[i]);
  const far = Math.hypot(space.right - space.left, space.bottom - space.top);
  for (const i of order) {
    const point = points[i];
    const width = point.name.length * space.letter;
    let best: { cost: number; box: Box; line: Line; gap: number } | null = null;
    for (let gap = GAP; gap < far && (best === null || gap < best.cost); gap += STEP) {
      for (let k = 0; k < DIRECTIONS; k += 1) {
        const box = boxAt(point, { gap, angle: (2 * Math.PI * k) / DIRECTIONS, width, line: space.line });
        if (
          box.left < space.left ||
          box.right > space.right ||
          box.top < space.top ||
          box.bottom > space.bottom
        )
          continue;
        const line = leader(point, box);
        let cost = gap;
        for (const other of boxes) {
          if (overlap(box, other)) cost += COST.name;
          else if (crosses(line, other)) cost += COST.line;
        }
        for (const other of marks) {
          if (overlap(box, around(other))) cost += COST.mark;
          else if (other !== point && gap > NEAR && crosses(line, around(other))) cost += COST.line;
        }
        for (const other of lines) if (crosses(other, box)) cost += COST.line;
        if (best === null || cost < best.cost) best = { cost, box, line, gap };
      }
    }
    // A plot too small for a single name has it at the corner.
    const { box, line, gap } = best ?? {
      box: { left: space.left, right: space.left + width, top: space.top, bottom: space.top + space.line },
      line: leader(point, { left: space.left, right: space.left, top: space.top, bottom: space.top }),
      gap: far,
    };
    boxes.push(box);
    if (gap > NEAR) lines.push(line);
    out[i] = { x: box.left, y: box.bottom - space.line * 0.25, leader: gap > NEAR ? line : null };
  }
  return out;
}

/** The box of a name that begins, in a direction, `gap` beyond the mark of its point. */
function boxAt(
  { x, y, radius }: PlotMark,
  { gap, angle, width, line }: { gap: number; angle: number; width: number; line: number },
): Box {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const [px, py] = [x + (radius + gap) * cos, y + (radius + gap) * sin];
  // The box touches that place with the part that looks at the point.
  const left = px - (width * (1 - cos)) / 2;
  const top = py - (line * (1 - sin)) / 2;
  return { left, right: left + width, top, bottom: top + line };
}

const around = ({ x, y, radius }: PlotMark): Box => ({
  left: x - radius,
  right: x + radius,
  top: y - radius,
  bottom: y + radius,
});

/** From the edge of a mark to the nearest place of a box. */
function leader({ x, y, radius }: PlotMark, box: Box): Line {
  const [bx, by] = [Math.min(box.right, Math.max(box.left, x)), Math.min(box.bottom, Math.max(box.top, y))];
  const length = Math.hypot(bx - x, by - y) || 1;
  return { x1: x + ((bx - x) / length) * radius, y1: y + ((by - y) / length) * radius, x2: bx, y2: by };
}

function overlap(a: Box, b: Box): boolean {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

/** Whether a line runs through a box. */
function crosses({ x1, y1, x2, y2 }: Line, box: Box): boolean {
  let [enters, leaves] = [0, 1];
  for (const [from, to, low, high] of [
    [x1, x2, box.left, box.right],
    [y1, y2, box.top, box.bottom],
  ]) {
    if (from === to) {
      if (from <= low || from >= high) return false;
      continue;
    }
    const [a, b] = [(low - from) / (to - from), (high - from) / (to - from)];
    enters = Math.max(enters, Math.min(a, b));
    leaves = Math.min(leaves, Math.max(a, b));
  }
  return leaves > enters;
}

/**
 * Heights as near as can be (least squares) to those wanted, in their order and at least `gap` apart, from `low` to `high`.
 * With too little room for all the gaps they are evenly spread.
 */
export function spreadApart(
  wanted: readonly number[],
  { gap, low, high }: { gap: number; low: number; high: number },
): number[] {
  const order = wanted.map((_, i) => i).toSorted((i, j) => wanted[i] - wanted[j]);
  const step = wanted.length > 1 ? Math.min(gap, (high - low) / (wanted.length - 1)) : 0;
  // Without the gaps the heights only must not fall: blocks that would are given their mean.
  const blocks: { sum: number; count: number }[] = [];
  order.forEach((i, k) => {
    blocks.push({ sum: wanted[i] - k * step, count: 1 });
    for (;;) {
      const [before, last] = [blocks.at(-2), blocks.at(-1)!];
      if (!before || before.sum / before.count <= last.sum / last.count) break;
      blocks.splice(-2, 2, { sum: before.sum + last.sum, count: before.count + last.count });
    }
  });
  const most = high - (wanted.length - 1) * step;
  const heights = blocks.flatMap(({ sum, count }) =>
    new Array<number>(count).fill(Math.min(most, Math.max(low, sum / count))),
  );
  const out: number[] = [];
  order.forEach((i, k) => (out[i] = heights[k] + k * step));
  return out;
}
