import { encodeRgb, labToXyz, WHITE_D65_2, xyzToLinearRgb } from '#lib/colour/index.ts';
import type { Image8, Region } from '#lib/photo/index.ts';
import { coverage } from '#lib/photo/index.ts';

export type LabTriple = readonly [number, number, number];

/** What a synthesised photograph of a sample board shows. Lengths in pixels; everything drawn from `seed`. */
export interface BoardScene {
  seed: number;
  width?: number;
  height?: number;
  /** Painted patches, in rows from the top left; their number is the length of this list. */
  paints: readonly LabTriple[];
  columns?: number;
  ground?: 'pale wood' | 'dark wood' | 'white card' | 'grey card';
  /** Degrees the board lies turned. */
  turn?: number;
  /** Brightest over darkest light on the board. */
  gradient?: number;
  /** 0-1: how far the light goes from warm on one side to cool on the other. */
  warmToCool?: number;
  /** Pixels by which painted edges wander. */
  ragged?: number;
  /** Gap between patches as a share of the cell. */
  gap?: number;
  /** How much patch sizes differ: 0 all equal, 1 down to a third. */
  sizes?: number;
  card?: boolean;
  labels?: boolean;
  /** Sensor noise, sd in device values. */
  noise?: number;
}

export interface BoardTruth {
  image: Image8;
  /** Patch number (0 is none, 1 the first) of each pixel. */
  label: Int16Array;
  patches: { lab: LabTriple; centre: readonly [number, number]; area: number; card: boolean }[];
}

export function random(seed: number): () => number {
  let s = seed >>> 0;
  return () => {
    s = (s + 0x6d2b79f5) >>> 0;
    let t = s;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function normal(next: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
}

/** Smooth noise in [-1, 1] over the plane. */
export function valueNoise(seed: number): (x: number, y: number) => number {
  const lattice = (i: number, j: number) => {
    let h = Math.imul(i, 374761393) ^ Math.imul(j, 668265263) ^ Math.imul(seed, 2147483629);
    h = Math.imul(h ^ (h >>> 13), 1274126177);
    return (((h ^ (h >>> 16)) >>> 0) / 4294967296) * 2 - 1;
  };
  const ease = (t: number) => t * t * (3 - 2 * t);
  return (x, y) => {
    const [i, j] = [Math.floor(x), Math.floor(y)];
    const [u, v] = [ease(x - i), ease(y - j)];
    const top = lattice(i, j) * (1 - u) + lattice(i + 1, j) * u;
    const bottom = lattice(i, j + 1) * (1 - u) + lattice(i + 1, j + 1) * u;
    return top * (1 - v) + bottom * v;
  };
}

export function labToLinear([L, a, b]: LabTriple): [number, number, number] {
  const rgb = xyzToLinearRgb(labToXyz({ L, a, b }, WHITE_D65_2), 'srgb');
  return [rgb.r, rgb.g, rgb.b];
}

/** Paints of moderate chroma that no two of are nearer than `apart` in CIELAB, nor nearer to `avoid`. */
export function paints(seed: number, count: number, apart = 10, avoid: LabTriple[] = []): LabTriple[] {
  const next = random(seed);
  const out: LabTriple[] = [];
  for (let tries = 0; out.length < count; tries++) {
    const [L, C, h] = [28 + 62 * next(), 4 + 36 * next() ** 1.5, 2 * Math.PI * next()];
    const lab: LabTriple = [L, C * Math.cos(h), C * Math.sin(h)];
    if (Math.min(...labToLinear(lab)) < 0.01 || Math.max(...labToLinear(lab)) > 0.95) continue;
    const limit = tries > 4000 ? apart / 2 : apart;
    if ([...out, ...avoid].every((o) => Math.hypot(o[0] - L, o[1] - lab[1], o[2] - lab[2]) >= limit))
      out.push(lab);
  }
  return out;
}

export const GROUND: Record<NonNullable<BoardScene['ground']>, LabTriple> = {
  'pale wood': [78, 5, 22],
  'dark wood': [38, 12, 22],
  'white card': [93, 0, 2],
  'grey card': [60, 0, 1],
};

/** Draws the board and keeps the truth. */
export function drawBoard(scene: BoardScene): BoardTruth {
  const { seed, width = 1024, height = 768, ground = 'pale wood', turn = 0, gradient = 1.3 } = scene;
  const { warmToCool = 0.3, ragged = 3, gap = 0.25, sizes = 0, noise = 2.5 } = scene;
  const next = random(seed);
  const [cos, sin] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
  const shrinkage = 1 / (Math.abs(cos) + Math.abs(sin) * (width / height));
  const [boardWidth, boardHeight] = [width * 0.94 * shrinkage, height * 0.94 * shrinkage];
  const slots = scene.paints.length + (scene.card ? 1 : 0);
  const columns = scene.columns ?? Math.ceil(Math.sqrt((slots * width) / height));
  const rows = Math.ceil(slots / columns);
  const [cellWidth, cellHeight] = [(boardWidth * 0.94) / columns, (boardHeight * 0.94) / rows];
  const colours: LabTriple[] = [...scene.paints];
  if (scene.card) colours.push([96, 0, 1]);
  const boxes = colours.map((lab, k) => {
    const card = scene.card === true && k === colours.length - 1;
    const size = 1 - sizes * 0.6 * next();
    const [w, h] = [cellWidth * (1 - gap) * size, cellHeight * (1 - gap) * (1 - sizes * 0.6 * next())];
    const slack = sizes * 0.25;
    const x =
      ((k % columns) + 0.5 - columns / 2) * cellWidth + slack * (next() - 0.5) * (cellWidth * (1 - gap) - w);
    const y =
      (Math.floor(k / columns) + 0.5 - rows / 2) * cellHeight +
      slack * (next() - 0.5) * (cellHeight * (1 - gap) - h);
    return { x, y, w, h, lab, card, rough: card ? 0 : ragged, linear: labToLinear(lab) };
  });
  const label = new Int16Array(width * height);
  const data = new Uint8Array(width * height * 3);
  const grain = valueNoise(seed + 1);
  const fine = valueNoise(seed + 2);
  const edge = valueNoise(seed + 3);
  const roller = valueNoise(seed + 4);
  const groundLinear = labToLinear(GROUND[ground]);
  const wood = ground.endsWith('wood');
  const table = labToLinear(wood ? [48, 1, -3] : [55, 6, 16]);
  const lightAngle = 2 * Math.PI * next();
  const tintAngle = 2 * Math.PI * next();
  const warm = [1 + 0.14 * warmToCool, 1, 1 - 0.28 * warmToCool];
  const cool = [1 - 0.1 * warmToCool, 1, 1 + 0.16 * warmToCool];
  const blocks = valueNoise(seed + 5);
  const writing: number[][] = boxes.map(() => Array.from({ length: 8 }, () => next()));
  const lights = new Float64Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const t =
        ((x / width - 0.5) * Math.cos(lightAngle) + (y / height - 0.5) * Math.sin(lightAngle)) / 1.42 + 0.5;
      // A lamp at one side: falls off like an inverse square, brightest over darkest as asked.
      lights[y * width + x] = 1 / (1 + (Math.sqrt(gradient) - 1) * (1 - Math.min(1, Math.max(0, t)))) ** 2;
    }
  const size = Math.min(cellWidth, cellHeight);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const p = y * width + x;
      const [px, py] = [x + 0.5 - width / 2, y + 0.5 - height / 2];
      const [u, v] = [px * cos + py * sin, py * cos - px * sin];
      let rgb: number[];
      if (Math.abs(u) > boardWidth / 2 || Math.abs(v) > boardHeight / 2) {
        const weave = 1 + 0.06 * fine(x / 3, y / 3);
        rgb = table.map((c) => c * weave);
      } else {
        let shade = 1 + 0.01 * fine(u / 2, v / 2);
        if (wood) {
          const ring = Math.sin(v / 9 + 4 * grain(u / 260, v / 45));
          shade = 1 + 0.07 * ring + 0.1 * grain(u / 90, v / 4) + 0.05 * fine(u / 30, v / 1.5);
        }
        rgb = groundLinear.map((c, i) => c * shade ** (1 + 0.3 * i));
      }
      for (let k = 0; k < boxes.length; k++) {
        const { x: bx, y: by, w, h, rough, linear } = boxes[k];
        const [du, dv] = [u - bx, v - by];
        if (Math.abs(du) > w / 2 + rough * 2 || Math.abs(dv) > h / 2 + rough * 2) {
          if (!scene.labels || Math.abs(du) > w / 2 || dv > h / 2 + 0.2 * size || dv < 0) continue;
        }
        const wander = (s: number, line: number) =>
          rough * (0.7 * edge(s / 14, line + 10 * k) + 0.5 * edge(s / 4, line + 10 * k + 5));
        const inside = Math.min(
          w / 2 + wander(dv, du > 0 ? 1 : 2) - Math.abs(du),
          h / 2 + wander(du, dv > 0 ? 3 : 4) - Math.abs(dv),
        );
        const share = Math.min(1, Math.max(0, inside + 0.5));
        if (share > 0) {
          const stipple = 1 + 0.025 * roller(du / 5, dv / 5 + 100 * k);
          rgb = rgb.map((c, i) => c * (1 - share) + share * linear[i] * stipple);
          if (share >= 0.5) label[p] = k + 1;
        } else if (scene.labels && dv > h / 2 + 0.04 * size && dv < h / 2 + 0.12 * size) {
          const stroke = Math.sin(du / 3.1 + 6 * writing[k][0] + 2 * fine(du / 9, k)) * 0.04 * size * 0.8;
          if (Math.abs(du) < w * 0.3 && Math.abs(dv - h / 2 - 0.08 * size - stroke) < 1.6)
            rgb = [0.03, 0.03, 0.04];
        }
      }
      const t =
        ((x / width - 0.5) * Math.cos(tintAngle) + (y / height - 0.5) * Math.sin(tintAngle)) / 1.42 + 0.5;
      const light = lights[p];
      for (let i = 0; i < 3; i++) {
        const linear = rgb[i] * light * (warm[i] * t + cool[i] * (1 - t));
        // Block artefacts of a compressed file: each 8x8 block a little off, chroma more coarsely.
        const block = 0.9 * blocks(Math.floor(x / 8) * 7.3, Math.floor(y / 8) * 5.1 + i * 99);
        const code = 255 * encodeRgb(Math.min(1, Math.max(0, linear)), 'srgb') + block + noise * normal(next);
        data[p * 3 + i] = Math.min(255, Math.max(0, Math.round(code)));
      }
    }
  const truth = boxes.map(({ lab, x, y, card }, k) => ({
    lab,
    card,
    centre: [x * cos - y * sin + width / 2, x * sin + y * cos + height / 2] as const,
    area: label.reduce((s, l) => s + (l === k + 1 ? 1 : 0), 0),
  }));
  return { image: { width, height, channels: 3, data, space: 'srgb' }, label, patches: truth };
}

/** How found regions meet the truth: for each region the patch it shares most with and their overlap. */
export function judge(
  truth: BoardTruth,
  regions: readonly Region[],
): {
  recall: number;
  precision: number;
  meanIou: number;
  matched: (number | null)[];
} {
  const ious: number[] = [];
  const matched = regions.map((region) => {
    const { pixels } = coverage(region, truth.image, 'centre');
    const counts = new Map<number, number>();
    for (const p of pixels) counts.set(truth.label[p], (counts.get(truth.label[p]) ?? 0) + 1);
    counts.delete(0);
    const [patch, shared] = [...counts].sort((p, q) => q[1] - p[1])[0] ?? [0, 0];
    if (patch === 0) return null;
    const iou = shared / (pixels.length + truth.patches[patch - 1].area - shared);
    if (iou < 0.5) return null;
    ious.push(iou);
    return patch;
  });
  const hits = new Set(matched.filter((m) => m !== null));
  return {
    recall: hits.size / truth.patches.length,
    precision: regions.length === 0 ? 1 : hits.size / regions.length,
    meanIou: ious.reduce((s, v) => s + v, 0) / Math.max(1, ious.length),
    matched,
  };
}
