import { linearToLab, shrink, type Image8, type LinearImage } from './image.ts';
import { mergeTree, type MergeTree } from './merge-tree.ts';
import { LEAST_STEP, insideOf, patchShape, type PatchShape } from './patch-shape.ts';
import { calm, featuresOf, withoutShading, type Features } from './segment.ts';
import type { Point, Region } from './region.ts';

/** One painted patch found on a photographed sample board. */
export interface BoardPatch {
  /** Polygon a little inside the painted edge, in the picture's pixels: measuring it avoids the border. */
  readonly region: Region;
  /** 1, 2, 3 ... row by row from the top, left to right, along the board even where it lies turned. */
  readonly order: number;
  /** CIELAB as delivered, uncorrected: for a first look only. */
  readonly lab: { readonly L: number; readonly a: number; readonly b: number };
  /** How uneven the paint lies: sd inside after the light's slope is taken off, about CIELAB units at mid grey. */
  readonly roughness: number;
  /** 0-1: how surely this is a painted patch. */
  readonly confidence: number;
  /** Bright and near neutral beside the rest: may be a white card or paper rather than a paint. */
  readonly cardLike: boolean;
}

export interface BoardPatches {
  readonly patches: readonly BoardPatch[];
  /** 0-1: how surely the picture was read; 0 where nothing was found. */
  readonly confidence: number;
  readonly notes: readonly string[];
}

const WORKING = 512; // long side, pixels: grain and noise average out, a patch of 3 % of the width keeps 15
const LEAST_SHARE = 0.0007; // of the picture; 40 patches with gaps take at least ten times as much
const MOST_SHARE = 0.6;
const MOST = 40;
const HARDLY_A_BOARD = 0.75; // mean confidence: boards have 0.8 and more, rooms 0.55-0.7
const ENOUGH_ALONE = 0.65;
const ENOUGH_ON_GROUND = 0.35;
const ENOUGH = 0.2; // score from which a region counts as a patch

interface Found extends PatchShape {
  readonly node: number;
}

/**
 * Finds the painted patches on a sample board by themselves. Works on log opponent features with the light's
 * own smooth change taken off, builds the tree of regions at all scales, keeps those that persist, are flat,
 * compact and set off from what surrounds them, and drops what has the background's colour.
 * No patch is an answer: the list is empty and a note says so.
 */
export function findBoardPatches(image: Image8): BoardPatches {
  const linear = shrink(image, WORKING);
  if (Math.min(linear.width, linear.height) < 24)
    return { patches: [], confidence: 0, notes: ['The picture is too small to find painted patches in it.'] };
  const features = calm(withoutShading(featuresOf(linear)), 5, 2);
  const tree = mergeTree(features);
  const all = chosen(tree, features);
  const patches = withoutLabels(onCommonGround(withoutBackground(all, tree, features), features)).slice(
    0,
    MOST,
  );
  // One or two doubtful regions are no board.
  const few = patches.length < 3 && patches.every((p) => p.score < ENOUGH_ALONE);
  if (patches.length === 0 || few)
    return {
      patches: [],
      confidence: 0,
      notes: [
        'No painted patches were found: mark them by hand, or photograph the board from straight above.',
      ],
    };
  return described(inReadingOrder(patches), linear, image);
}

/** The best set of regions none of which contains another. */
function chosen(tree: MergeTree, features: Features): Found[] {
  const total = features.width * features.height;
  const best: (Found[] | null)[] = new Array(tree.nodes).fill(null);
  const looked = new Int32Array(tree.nodes); // area of the last region looked at on the way up
  for (let node = 0; node < tree.nodes; node++) {
    const k = node - tree.leaves;
    const below =
      k < 0 ? [] : [...(best[tree.children[2 * k]] ?? []), ...(best[tree.children[2 * k + 1]] ?? [])];
    if (k >= 0) best[tree.children[2 * k]] = best[tree.children[2 * k + 1]] = null;
    best[node] = below;
    if (k >= 0) looked[node] = Math.max(looked[tree.children[2 * k]], looked[tree.children[2 * k + 1]]);
    const area = tree.area[node];
    if (area < LEAST_SHARE * total || area > MOST_SHARE * total) continue;
    const persistence = tree.death[node] / Math.max(tree.birth[node], 4);
    if (persistence < 1.5) continue;
    const last = node === tree.nodes - 1 || tree.death[tree.parent[node]] !== tree.death[node];
    if (!last && area < 1.02 * looked[node]) continue;
    looked[node] = area;
    const pixels = tree.pixels.subarray(tree.start[node], tree.start[node] + area);
    if (compactness(pixels, features.width) < 0.6) continue;
    const shape = patchShape(pixels, features, persistence);
    if (!shape || shape.score < ENOUGH) continue;
    const found = { ...shape, node };
    if (better(found, below, tree, features)) best[node] = [found];
  }
  return best[tree.nodes - 1] ?? [];
}

/**
 * Area over that of a filled rectangle with the same second moments: 1 for a rectangle, 0.95 for an ellipse, far
 * less for what is scattered, bent or full of holes.
 */
function compactness(pixels: Int32Array, width: number): number {
  let [sx, sy, xx, xy, yy] = [0, 0, 0, 0, 0];
  for (const p of pixels) {
    const x = p % width;
    const y = (p - x) / width;
    sx += x;
    sy += y;
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  const n = pixels.length;
  const [mx, my] = [sx / n, sy / n];
  const pixel = 1 / 12;
  const determinant = (xx / n - mx * mx + pixel) * (yy / n - my * my + pixel) - (xy / n - mx * my) ** 2;
  return n / (12 * Math.sqrt(determinant));
}

/**
 * Whether a region as a whole is a better reading than the patches found inside it. A board holds patches and
 * bare ground between them; one patch in uneven light, read as several, has no edge where they meet; paints side by
 * side do.
 */
function better(whole: Found, parts: readonly Found[], tree: MergeTree, features: Features): boolean {
  if (parts.length === 0) return true;
  const covered = parts.reduce((s, p) => s + p.area, 0) / whole.area;
  if (parts.length === 1 && covered >= 0.7) {
    const gain = whole.score - parts[0].score;
    return Math.abs(gain) > 0.05 ? gain > 0 : whole.contrast > parts[0].contrast;
  }
  if (!parts.some((part) => stepAround(part, whole, tree, features) >= LEAST_STEP)) return true;
  if (covered >= 0.7) return false;
  if (parts.length === 1) return parts[0].score < 0.5 || covered < 0.05;
  return whole.score > parts.reduce((s, p) => s + p.score, 0);
}

/** Step of the features from a part to the rest of the whole it lies in, where they meet: length of the median. */
function stepAround(part: Found, whole: Found, tree: MergeTree, features: Features): number {
  const { width, height, data } = features;
  const side = new Uint8Array(width * height);
  for (const [{ node }, label] of [[whole, 2] as const, [part, 1] as const])
    for (let i = tree.start[node]; i < tree.start[node] + tree.area[node]; i++) side[tree.pixels[i]] = label;
  const steps: number[][] = [[], [], []];
  const look = (p: number, stride: number) => {
    // Three pixels on: what lies between is the mixed colour of the edge.
    const q = p + 4 * stride;
    if (side[p] !== 1 || side[p + stride] === 1 || side[q] !== 2) return;
    const from = side[p - 3 * stride] === 1 ? p - 3 * stride : p;
    for (let c = 0; c < 3; c++) steps[c].push(data[3 * q + c] - data[3 * from + c]);
  };
  for (let i = tree.start[part.node]; i < tree.start[part.node] + tree.area[part.node]; i++)
    for (const stride of [1, -1, width, -width]) look(tree.pixels[i], stride);
  return steps[0].length < 6 ? 0 : Math.hypot(...steps.map((s) => median(s)));
}

/**
 * Without the regions that show the background between patches: their mean is that of a region as large that
 * was not taken for a patch, within its own unevenness.
 */
function withoutBackground(found: readonly Found[], tree: MergeTree, features: Features): Found[] {
  const taken = new Uint8Array(tree.nodes);
  for (const { node } of found) for (let k = node; k >= 0 && !taken[k]; k = tree.parent[k]) taken[k] = 1;
  const rest: { area: number; mean: number[]; unevenness: number }[] = [];
  const visit = (node: number) => {
    if (taken[node]) {
      if (found.some((f) => f.node === node)) return;
      const k = node - tree.leaves;
      visit(tree.children[2 * k]);
      visit(tree.children[2 * k + 1]);
      return;
    }
    rest.push({ area: tree.area[node], ...statistics(tree, node, features) });
  };
  visit(tree.nodes - 1);
  return found.filter(({ mean, area }) => {
    const like = rest
      .filter((r) => distance(r.mean, mean) < Math.max(1.5, Math.min(3, 0.5 * r.unevenness)))
      .reduce((s, r) => s + r.area, 0);
    return like < 1.2 * area;
  });
}

const SAME_GROUND = 7; // feature units: wood with its grain, card with a soft shadow

/**
 * Patches of a board lie on one ground or touch each other. The ground is the colour seen most often just outside
 * the outlines; a region that has something else round it is a thing of its own and loses its score by that share.
 */
function onCommonGround(found: readonly Found[], features: Features): Found[] {
  const { width, height, data } = features;
  const patchAt = new Uint8Array(width * height);
  for (const { mask } of found)
    for (let y = 0; y < mask.height; y++)
      for (let x = 0; x < mask.width; x++)
        if (mask.data[y * mask.width + x] === 1) patchAt[(y + mask.top) * width + x + mask.left] = 1;
  const seen = found.map(({ outside }) => outside.filter((p) => patchAt[p] === 0));
  const colour = (p: number) => data.subarray(3 * p, 3 * p + 3);
  const middles = seen.map((list) => [0, 1, 2].map((c) => median(list.map((p) => colour(p)[c]))));
  const support = middles.map((middle) =>
    seen.reduce((s, list) => {
      const near = list.filter((p) => distance(colour(p), middle) < SAME_GROUND).length;
      return s + (list.length === 0 ? 0 : near / list.length);
    }, 0),
  );
  const most = support.indexOf(Math.max(...support));
  if (most < 0 || seen[most].length === 0) return [...found];
  const ground = middles[most];
  return found
    .map((f, k) => {
      const on = seen[k].filter((p) => distance(colour(p), ground) < SAME_GROUND).length;
      // Places outside that belong to another patch are in order too.
      const share = (f.outside.length - seen[k].length + on) / Math.max(1, f.outside.length);
      return { ...f, score: f.score * Math.min(1, Math.max(0, (share - 0.3) / 0.4)) };
    })
    .filter((f) => f.score >= ENOUGH_ON_GROUND)
    .sort((p, q) => q.score * Math.sqrt(q.area) - p.score * Math.sqrt(p.area));
}

function distance(p: ArrayLike<number>, q: ArrayLike<number>): number {
  return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

function statistics(
  tree: MergeTree,
  node: number,
  features: Features,
): { mean: number[]; unevenness: number } {
  const sums = [0, 0, 0];
  const squares = [0, 0, 0];
  const n = tree.area[node];
  for (let i = tree.start[node]; i < tree.start[node] + n; i++)
    for (let c = 0; c < 3; c++) {
      const v = features.data[3 * tree.pixels[i] + c];
      sums[c] += v;
      squares[c] += v * v;
    }
  const mean = sums.map((s) => s / n);
  const variance = squares.reduce((s, q, c) => s + Math.max(0, q / n - mean[c] ** 2), 0);
  return { mean, unevenness: Math.sqrt(variance) };
}

function median(values: readonly number[]): number {
  if (values.length === 0) return 0;
  const sorted = [...values].sort((p, q) => p - q);
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2;
}

/** Without what is far smaller than the patches usually are: stickers, tape, knots, handles. */
function withoutLabels(found: readonly Found[]): Found[] {
  if (found.length === 0) return [];
  // The middle of the painted area, not of the count: many small labels do not outvote the patches.
  const byArea = [...found].sort((p, q) => q.area - p.area);
  const total = byArea.reduce((s, f) => s + f.area, 0);
  let sum = 0;
  const typical = byArea.find((f) => (sum += f.area) >= total / 2)!.area;
  return found.filter((f) => f.area > typical / 7);
}

/** Rows along the board's own direction: the patches' sides say how it lies turned. */
function inReadingOrder(found: readonly Found[]): Found[] {
  // Directions a quarter turn apart are one: the angle is doubled twice before the mean, weighted by area.
  const [sx, sy] = found.reduce(
    ([x, y], { rectangle, area }) => [
      x + area * Math.cos(4 * rectangle.angle),
      y + area * Math.sin(4 * rectangle.angle),
    ],
    [0, 0],
  );
  const turn = Math.atan2(sy, sx) / 4;
  const items = found.map((f) => {
    const [x, y] = f.rectangle.centre;
    const along = Math.abs(Math.cos(f.rectangle.angle - turn)) > Math.SQRT1_2;
    return {
      f,
      x: x * Math.cos(turn) + y * Math.sin(turn),
      y: y * Math.cos(turn) - x * Math.sin(turn),
      height: along ? f.rectangle.short : f.rectangle.long,
    };
  });
  items.sort((p, q) => p.y - q.y || p.x - q.x);
  const rows: (typeof items)[] = [];
  for (const item of items) {
    const row = rows.find((r) => {
      const middle = r.reduce((s, i) => s + i.y, 0) / r.length;
      const height = median(r.map((i) => i.height));
      return Math.abs(item.y - middle) < 0.5 * Math.max(height, Math.min(item.height, 2 * height));
    });
    if (row) row.push(item);
    else rows.push([item]);
  }
  return rows.flatMap((row) => row.sort((p, q) => p.x - q.x).map((i) => i.f));
}

function described(found: readonly Found[], linear: LinearImage, image: Image8): BoardPatches {
  const [sx, sy] = [image.width / linear.width, image.height / linear.height];
  const insides = found.map((f) => insideOf(f.mask));
  const colours = new Float32Array(found.length * 3);
  insides.forEach(({ mask }, k) => {
    let n = 0;
    for (let y = 0; y < mask.height; y++)
      for (let x = 0; x < mask.width; x++)
        if (mask.data[y * mask.width + x] === 1) {
          const i = ((y + mask.top) * linear.width + x + mask.left) * 3;
          for (let c = 0; c < 3; c++) colours[3 * k + c] += linear.data[i + c];
          n++;
        }
    for (let c = 0; c < 3; c++) colours[3 * k + c] /= Math.max(1, n);
  });
  const labs = linearToLab(colours);
  const cards = cardLike(found, labs);
  const patches = found.map((f, k) => ({
    region: {
      kind: 'polygon' as const,
      points: insides[k].polygon.map(([x, y]): Point => [round(x * sx), round(y * sy)]),
    },
    order: k + 1,
    lab: { L: labs[3 * k], a: labs[3 * k + 1], b: labs[3 * k + 2] },
    roughness: f.unevenness,
    confidence: f.score,
    cardLike: cards[k],
  }));
  const notes: string[] = [];
  const confidence = patches.reduce((s, p) => s + p.confidence, 0) / patches.length;
  if (confidence < HARDLY_A_BOARD)
    notes.push('Much here is doubtful: is this a photo of a sample board, taken from straight above?');
  const doubtful = patches.filter((p) => p.confidence < 0.5).map((p) => p.order);
  if (doubtful.length > 0)
    notes.push(
      doubtful.length === 1
        ? `Patch ${doubtful[0]} is doubtful: check its outline.`
        : `Patches ${doubtful.join(', ')} are doubtful: check their outlines.`,
    );
  const card = patches.filter((p) => p.cardLike).map((p) => p.order);
  if (card.length > 0)
    notes.push(
      card.length === 1
        ? `Patch ${card[0]} is bright and nearly neutral: if it is a white card, use it as a reference.`
        : `Patches ${card.join(', ')} are bright and nearly neutral: if one is a white card, use it as a reference.`,
    );
  return { patches, confidence, notes };
}

/**
 * Bright and near neutral: within 3 units of the lightest patch once the light is evened out, chroma below 12 and
 * hardly above that of the least coloured of these (an off-white paint beside a white card).
 */
function cardLike(found: readonly Found[], labs: Float32Array): boolean[] {
  const lightest = Math.max(...found.map((f) => f.mean[0]));
  const chroma = found.map((_, k) => Math.hypot(labs[3 * k + 1], labs[3 * k + 2]));
  const bright = found.map((f, k) => f.mean[0] > lightest - 3 && labs[3 * k] > 65 && chroma[k] < 12);
  const least = Math.min(...chroma.filter((_, k) => bright[k]));
  return bright.map((is, k) => is && chroma[k] < least + 2.5);
}

function round(v: number): number {
  return Math.round(v * 100) / 100;
}
