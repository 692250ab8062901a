import { nextOrder, type Id, type Job, type Surface, type SurfaceKind } from '#lib/job/index.ts';
import {
  homographyToPlane,
  type Mask,
  type PlaneCorners,
  type Point,
  type RealPlane,
} from '#lib/photo/index.ts';
import type { MaskOutline } from './mask-outline.ts';

/** Four corners of a rectangle seen in a picture while they are being set, and how large it is, mm. */
export interface PlaneDraft {
  /** Clockwise from the top left as one stands before it, pixels of the picture. */
  readonly corners: PlaneCorners;
  /** Which of them somebody put where they are; the others stand where a guess put them. */
  readonly placed: readonly boolean[];
  readonly width: number;
  readonly height: number;
}

export const CORNER_NAMES = ['top left', 'top right', 'bottom right', 'bottom left'] as const;

/** Surfaces that carry stone, tile or boards, and how large a rectangle of each often is, mm; common practice, no published source. */
export const USUAL_SIZES: Partial<Record<SurfaceKind, readonly [number, number]>> = {
  counter: [1800, 620],
  backsplash: [1800, 500],
  floor: [2000, 2000],
  walls: [2000, 2400],
  island: [1800, 900],
};

/** A rectangle a little inside what is marked, of which no corner counts yet. */
export function guessedPlane(
  outline: MaskOutline | null,
  photo: { width: number; height: number },
  [width, height]: readonly [number, number],
): PlaneDraft {
  const places = outline?.places ?? [];
  let [left, top, right, bottom] = [photo.width, photo.height, 0, 0];
  for (let i = 0; i < places.length; i += 2) {
    [left, right] = [Math.min(left, places[i]), Math.max(right, places[i])];
    [top, bottom] = [Math.min(top, places[i + 1]), Math.max(bottom, places[i + 1])];
  }
  if (right - left < 2 * LEAST_SIDE || bottom - top < 2 * LEAST_SIDE)
    [left, top, right, bottom] = [0, 0, photo.width, photo.height];
  const [dx, dy] = [(right - left) * 0.1, (bottom - top) * 0.1];
  const at = (x: number, y: number): Point => [Math.round(x), Math.round(y)];
  const corners = [
    at(left + dx, top + dy),
    at(right - dx, top + dy),
    at(right - dx, bottom - dy),
    at(left + dx, bottom - dy),
  ] as const;
  return { corners, placed: [false, false, false, false], width, height };
}

export function placedCorner(draft: PlaneDraft, corner: number, to: Point): PlaneDraft {
  return {
    ...draft,
    corners: draft.corners.map((place, i) => (i === corner ? to : place)) as unknown as PlaneCorners,
    placed: draft.placed.map((known, i) => known || i === corner),
  };
}

/** The first corner that nobody placed yet; null where all are. */
export function nextCorner({ placed }: PlaneDraft): number | null {
  const at = placed.indexOf(false);
  return at < 0 ? null : at;
}

/** Corners that somebody has to have placed before the others may stand as a guess put them. */
const LEAST_PLACED = 2;

/** What is still to do before four corners may be called right, as a sentence; null where nothing is. */
export function stillToPlace({ placed }: PlaneDraft): string | null {
  const left = LEAST_PLACED - placed.filter(Boolean).length;
  if (left <= 0) return null;
  const first = left === LEAST_PLACED ? 'Place at least two corners' : 'Place at least one more corner';
  return `${first} yourself: then you can say that all four are right.`;
}

/** The placed corner on which a place lies, so that no other can be there; null where there is none. */
export function cornerAt({ corners, placed }: PlaneDraft, [x, y]: Point): number | null {
  const at = corners.findIndex(
    (corner, i) => placed[i] && Math.hypot(corner[0] - x, corner[1] - y) < LEAST_SIDE,
  );
  return at < 0 ? null : at;
}

/** Corners nearer to each other than this many pixels of the picture are one. */
const LEAST_SIDE = 8;
/** A corner flatter than this lies in line with its neighbours: a degree, as its sine. */
const LEAST_TURN = Math.sin(Math.PI / 180);

/** Why four corners cannot be those of a rectangle, however it is seen, and what to do about it; null where they can. */
export function cornersProblem(corners: PlaneCorners): string | null {
  const way = (from: number, to: number): Point => [
    corners[to][0] - corners[from][0],
    corners[to][1] - corners[from][1],
  ];
  for (let a = 0; a < 4; a++)
    for (let b = a + 1; b < 4; b++)
      if (Math.hypot(...way(a, b)) < LEAST_SIDE)
        return `The ${CORNER_NAMES[a]} and the ${CORNER_NAMES[b]} corner lie on each other. Draw them apart.`;
  if (cross(corners, [0, 1], [2, 3]) || cross(corners, [1, 2], [3, 0]))
    return 'Two sides cross each other. Put the corners in the order of their names: top left, top right, bottom right, bottom left.';
  const turns = [0, 1, 2, 3].map((corner) => {
    const [a, b] = [way((corner + 3) % 4, corner), way(corner, (corner + 1) % 4)];
    return turn(a, b) / (Math.hypot(...a) * Math.hypot(...b));
  });
  const flat = turns.findIndex((sine) => Math.abs(sine) < LEAST_TURN);
  if (flat >= 0)
    return `The ${CORNER_NAMES[flat]} corner lies in line with its neighbours, so that no rectangle is left. Draw it outwards.`;
  const left = turns.filter((sine) => sine < 0).length;
  if (left === 4)
    return 'The corners go round the wrong way. Put them in the order of their names: top left, top right, bottom right, bottom left.';
  if (left === 0) return null;
  const inward = turns.findIndex((sine) => sine < 0 === (left === 1));
  return `The ${CORNER_NAMES[inward]} corner lies inside the other three. A rectangle never looks like that: draw it outwards.`;
}

const turn = ([ax, ay]: Point, [bx, by]: Point) => ax * by - ay * bx;

/** Whether two sides, each between two corners, cross. */
function cross(corners: PlaneCorners, [a, b]: Point, [c, d]: Point): boolean {
  const side = (from: number, to: number, of: number) => {
    const [[x0, y0], [x1, y1], [x, y]] = [corners[from], corners[to], corners[of]];
    return Math.sign(turn([x1 - x0, y1 - y0], [x - x0, y - y0]));
  };
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/** How far the corners are, to be said. */
export function placedWords(draft: PlaneDraft): string {
  const count = draft.placed.filter(Boolean).length;
  const next = nextCorner(draft);
  if (next === null) return 'All four corners are placed.';
  return `${count === 0 ? 'No corner' : `${count} of 4 corners`} placed. Next: ${CORNER_NAMES[next]}.`;
}

/** Surfaces that stand upright and go round corners as a rule: floors and worktops lie in one plane however they run. */
export const ROUND_CORNERS: readonly SurfaceKind[] = ['walls', 'backsplash'];
/** Columns of a picture that are read at most, and at least on a stretch of wall of which anything is said. */
const MOST_COLUMNS = 160;
const LEAST_COLUMNS = 8;
/** Part of its height by which a band drifts out of its plane before that is said; corners are not set to the pixel. A guess. */
const DRIFT = 0.25;
/** A step (a hood, a window) is no drift: around a line half of the places lie within this part of it. A guess. */
const STRAIGHT = 0.2;

interface Edge {
  readonly along: number;
  readonly down: number;
}

/**
 * Whether a surface plainly goes round a corner that its four corners know nothing of: beyond the stretch of wall on which the
 * rectangle lies the upper or lower edge of what is marked runs straight away from it, in the plane of the rectangle. A wall
 * that goes on keeps its height there; one that comes towards the camera round a corner gets higher and higher.
 */
export function goesRoundCorner(plane: RealPlane, { width, height, data }: Mask): boolean {
  if (cornersProblem(plane.corners) !== null) return false;
  const h = homographyToPlane(plane);
  /** Null where the plane does not reach. */
  const onPlane = (x: number, y: number): Edge | null => {
    const w = h[6] * x + h[7] * y + h[8];
    if (w <= 0) return null;
    return { along: (h[0] * x + h[1] * y + h[2]) / w, down: (h[3] * x + h[4] * y + h[5]) / w };
  };
  const heights: number[] = [];
  const beyond: Record<'left' | 'right', { top: Edge; bottom: Edge }[]> = { left: [], right: [] };
  let lost = 0;
  const step = Math.max(1, width / MOST_COLUMNS);
  for (let at = step / 2; at < width; at += step) {
    const x = Math.floor(at);
    let [first, last] = [-1, -1];
    for (let y = 0; y < height; y += 1)
      if (data[y * width + x] > 127) {
        if (first < 0) first = y;
        last = y;
      }
    if (first < 0) continue;
    const [top, bottom] = [onPlane(x + 0.5, first), onPlane(x + 0.5, last + 1)];
    if (!top || !bottom) lost += 1;
    else if (bottom.along < 0) beyond.left.push({ top, bottom });
    else if (bottom.along > plane.width) beyond.right.push({ top, bottom });
    else heights.push(bottom.down - top.down);
  }
  if (heights.length < LEAST_COLUMNS) return false;
  const most = DRIFT * median(heights);
  return (
    lost >= LEAST_COLUMNS ||
    (['left', 'right'] as const).some((side) => {
      const sign = side === 'right' ? 1 : -1;
      const [tops, bottoms] = [beyond[side].map(({ top }) => top), beyond[side].map(({ bottom }) => bottom)];
      return sign * drift(bottoms) > most || -sign * drift(tops) > most;
    })
  );
}

/** How far an edge runs down on its way along, in the plane's mm; 0 where it is none that runs straight. Theil 1950, Sen 1968. */
function drift(edge: readonly Edge[]): number {
  if (edge.length < LEAST_COLUMNS) return 0;
  const slopes = edge.flatMap((p, i) =>
    edge.slice(i + 1).map((q) => (q.down - p.down) / (q.along - p.along)),
  );
  const slope = median(slopes);
  const alongs = edge.map(({ along }) => along);
  const run = slope * (Math.max(...alongs) - Math.min(...alongs));
  const levels = edge.map(({ along, down }) => down - slope * along);
  const middle = median(levels);
  const off = median(levels.map((level) => Math.abs(level - middle)));
  return off > STRAIGHT * Math.abs(run) ? 0 : run;
}

function median(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[values.length >> 1];
}

/**
 * A second surface beside one that goes round a corner: what is on it and what may come is the same, its sizes are its own. What
 * is set so, with the id of the new one.
 */
export function otherWall(job: Job, surface: Surface, id: Id): readonly (readonly [string[], unknown])[] {
  const { area: _, parts: __, work: ___, ...same } = surface;
  const order = nextOrder(job.surfaces);
  return [[['surfaces', id], { ...same, id, order }]];
}
