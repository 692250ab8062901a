import { linearTable, type Image8 } from './image.ts';
import { NOBODY, type LightGrid } from './light-grid.ts';
import { blur, fillHoles } from './plane-filters.ts';

/**
 * Linear light of the brightest channel from which up a place may lie in the sun: photos of rooms are exposed for the rest.
 * What is bright beside a patch runs together with it at one level and not at another.
 */
const BRIGHT = [0.72, 0.85, 1] as const;
/** Patches of fewer cells are glints. */
const LEAST_CELLS = 12;
/** So many cells around what is bright may hold both sun and shade. */
const BORDER = 3;
/** Sun makes a surface brighter than it is beside it by this factor at least. A guess, like the two below. */
const SUNNY = 2;
/** The factor by which light falls off across the border where the edge of a patch is hard. */
const FALL = 1.45;
/** Part of a patch's edge that has to be so hard: skylight and lamps make pools without an edge. */
const HARD = 0.8;

/** Brighter than without sun by less than the first of these factors is grain; by more than the second it is sun. */
const GRAIN = [1.3, 1.8] as const;
/**
 * The least part of the light that sun has where it burns out, and over which light it comes to that: with less the colour that
 * is left would count as the lamps' (see FAINT).
 */
const LEAST_SUN = 0.58;
const BURNING_OUT = [0.6, 0.85] as const;
/** Cells over which the light is even and what deviates is grain. */
const EVEN = 6;

const NO_SUN = -1;

/** Where sun falls on surfaces. */
export interface SunPatches {
  /** The sun's part of the light on each pixel, 0-255. */
  readonly share: Uint8Array;
  /** Cells of which some part lies in the sun: 1, else 0. */
  readonly cells: Uint8Array;
}

/**
 * The patches of sun on marked surfaces: places nearly burnt out, much brighter than the same surface beside them, with
 * hard edges. What is there without sun is taken to run on from around. Null where there are none. Something white that
 * stands before a surface and was marked with it looks the same.
 */
export function sunPatches(image: Image8, grid: LightGrid): SunPatches | null {
  const { width, height, owner, burnt, light } = grid;
  const size = { width, height };
  const green = greenOf(image, grid);
  const logs = green.map((v) => Math.log(Math.max(1e-3, v)));
  // Which surface lies in the sun on a cell.
  const lit = new Int16Array(owner.length).fill(NO_SUN);
  const shade = new Float32Array(owner.length);
  const found = BRIGHT.flatMap((from) => {
    const bright = Uint8Array.from(owner, (j, at) => {
      const most = burnt[at] ? 1 : Math.max(light[3 * at], light[3 * at + 1], light[3 * at + 2]);
      return j !== NOBODY && most >= from ? 1 : 0;
    });
    return partsOf(bright, grid)
      .filter((patch) => patch.length >= LEAST_CELLS && hardEdge(patch, bright, grid, logs) >= HARD)
      .map((patch) => ({ patch, bright }));
  });
  const zones: { cells: number[]; j: number }[] = [];
  for (const { patch, bright } of found) {
    if (patch.every((at) => lit[at] !== NO_SUN)) continue;
    const j = owner[patch[0]];
    const zone = around(patch, grid);
    const beside = logs.slice();
    const trusted = Float32Array.from(owner, (o, at) => (o === j && !zone[at] && !bright[at] ? 1 : 0));
    if (!fillHoles([beside], trusted, size)) continue;
    const above = patch.reduce((sum, at) => sum + logs[at] - beside[at], 0) / patch.length;
    if (above < Math.log(SUNNY)) continue;
    const cells: number[] = [];
    for (let at = 0; at < zone.length; at++)
      if (zone[at] && (owner[at] === j || (owner[at] === NOBODY && lit[at] === NO_SUN))) {
        lit[at] = j;
        shade[at] = beside[at];
        cells.push(at);
      }
    zones.push({ cells, j });
  }
  if (lit.every((v) => v === NO_SUN)) return null;
  const cells = Uint8Array.from(lit, (v) => (v === NO_SUN ? 0 : 1));
  blur([shade], Float32Array.from(cells), size, BORDER);
  const from = new Int32Array(owner.length).fill(-1);
  for (const zone of zones) grainFrom(zone, { grid, lit, from });
  const even = logs.slice();
  blur(
    [even],
    Float32Array.from(lit, (v, at) => (v === NO_SUN && owner[at] !== NOBODY ? 1 : 0)),
    size,
    EVEN,
  );
  return { share: pixelsOf(image, grid, { green, lit, shade, from, even }), cells };
}

/** Mean linear green of cells, burnt out or not: red burns out first, and no edge must come of that. */
function greenOf(image: Image8, { width, cell, light, burnt }: LightGrid): Float32Array {
  const { channels, data } = image;
  const table = linearTable(image.space);
  return Float32Array.from(burnt, (out, at) => {
    if (!out) return light[3 * at + 1];
    const [left, top] = [(at % width) * cell, Math.floor(at / width) * cell];
    let [sum, count] = [0, 0];
    for (let y = top; y < Math.min(image.height, top + cell); y++)
      for (let x = left; x < Math.min(image.width, left + cell); x++, count++)
        sum += table[data[(y * image.width + x) * channels + 1]];
    return sum / count;
  });
}

/** Cells of a plane that hang together, of one surface each. */
function partsOf(plane: Uint8Array, { width, height, owner }: LightGrid): number[][] {
  const seen = new Uint8Array(plane.length);
  const parts: number[][] = [];
  for (let start = 0; start < plane.length; start++) {
    if (!plane[start] || seen[start]) continue;
    const part = [start];
    seen[start] = 1;
    for (let k = 0; k < part.length; k++) {
      const [x, y] = [part[k] % width, Math.floor(part[k] / width)];
      for (let v = Math.max(0, y - 1); v <= Math.min(height - 1, y + 1); v++)
        for (let u = Math.max(0, x - 1); u <= Math.min(width - 1, x + 1); u++) {
          const next = v * width + u;
          if (!plane[next] || seen[next] || owner[next] !== owner[start]) continue;
          seen[next] = 1;
          part.push(next);
        }
    }
    parts.push(part);
  }
  return parts;
}

/** A patch and the border around it. */
function around(patch: readonly number[], { width, height }: LightGrid): Uint8Array {
  const zone = new Uint8Array(width * height);
  for (const at of patch) {
    const [x, y] = [at % width, Math.floor(at / width)];
    for (let v = Math.max(0, y - BORDER); v <= Math.min(height - 1, y + BORDER); v++)
      zone.fill(1, v * width + Math.max(0, x - BORDER), v * width + Math.min(width, x + BORDER + 1));
  }
  return zone;
}

/** Part of a patch's edge, where the same surface goes on, across which the light falls off within the border. */
function hardEdge(
  patch: readonly number[],
  bright: Uint8Array,
  { width, height, owner }: LightGrid,
  logs: Float32Array,
): number {
  let [hard, all] = [0, 0];
  for (const at of patch) {
    const [x, y] = [at % width, Math.floor(at / width)];
    for (const [dx, dy] of [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ]) {
      const cell = (k: number) => {
        const [u, v] = [x + k * dx, y + k * dy];
        const there = v * width + u;
        return u >= 0 && v >= 0 && u < width && v < height && owner[there] === owner[at] ? there : -1;
      };
      const [next, outer, inner] = [cell(1), cell(BORDER), cell(-1)];
      if (next < 0 || outer < 0 || bright[next] || bright[outer]) continue;
      all++;
      const within = Math.max(logs[at], inner >= 0 ? logs[inner] : logs[at]);
      if (within - logs[outer] > Math.log(FALL)) hard++;
    }
  }
  return all === 0 ? 0 : hard / all;
}

/** Ways to where grain is taken from. */
const WAYS = Array.from({ length: 16 }, (_, k) => [Math.cos((k * Math.PI) / 8), Math.sin((k * Math.PI) / 8)]);

/** For each cell of a patch one of the same surface without sun, all shifted alike and as little as most of them allow. */
function grainFrom(
  { cells, j }: { readonly cells: readonly number[]; readonly j: number },
  {
    grid: { width, height, owner },
    lit,
    from,
  }: { readonly grid: LightGrid; readonly lit: Int16Array; readonly from: Int32Array },
): void {
  let best = { count: 0, dx: 0, dy: 0 };
  const there = (at: number, dx: number, dy: number) => {
    const [x, y] = [(at % width) + dx, Math.floor(at / width) + dy];
    if (x < 0 || y < 0 || x >= width || y >= height) return -1;
    const to = y * width + x;
    return owner[to] === j && lit[to] === NO_SUN ? to : -1;
  };
  for (let far = 8; far <= width / 3; far += 4)
    for (const [u, v] of WAYS) {
      const [dx, dy] = [Math.round(far * u), Math.round(far * v)];
      const count = cells.reduce((sum, at) => sum + (there(at, dx, dy) < 0 ? 0 : 1), 0);
      if (count > 1.02 * best.count) best = { count, dx, dy };
    }
  for (const at of cells) from[at] = best.count > 0 ? there(at, best.dx, best.dy) : -1;
}

/**
 * The sun's part on the pixels of surfaces in those cells. Grain that is burnt out is taken from beside; what is hardly brighter
 * than without sun keeps its own.
 */
function pixelsOf(
  image: Image8,
  { width, height, cell, pixelOwner }: LightGrid,
  {
    green,
    lit,
    shade,
    from,
    even,
  }: {
    readonly green: Float32Array;
    readonly lit: Int16Array;
    readonly shade: Float32Array;
    readonly from: Int32Array;
    readonly even: Float32Array;
  },
): Uint8Array {
  const { channels, data } = image;
  const table = linearTable(image.space);
  const out = new Uint8Array(image.width * image.height);
  const grainAt = (at: number, x: number, y: number) => {
    const to = from[at];
    if (to < 0) return 1;
    // Cells at the picture's end may lack pixels.
    const u = Math.min(image.width - 1, x + ((to % width) - (at % width)) * cell);
    const v = Math.min(image.height - 1, y + (Math.floor(to / width) - Math.floor(at / width)) * cell);
    const seen = Math.max(1e-3, table[data[(v * image.width + u) * channels + 1]]);
    return Math.max(0.5, Math.min(2, seen / Math.exp(even[to])));
  };
  for (let row = 0; row < height; row++)
    for (let column = 0; column < width; column++) {
      const at = row * width + column;
      if (lit[at] === NO_SUN) continue;
      let [low, high] = [Infinity, 0];
      for (let v = Math.max(0, row - 1); v <= Math.min(height - 1, row + 1); v++)
        for (let u = Math.max(0, column - 1); u <= Math.min(width - 1, column + 1); u++) {
          const mean = green[v * width + u];
          [low, high] = [Math.min(low, mean), Math.max(high, mean)];
        }
      const base = Math.exp(shade[at]);
      for (let y = row * cell; y < Math.min(image.height, (row + 1) * cell); y++)
        for (let x = column * cell; x < Math.min(image.width, (column + 1) * cell); x++) {
          const p = y * image.width + x;
          if (pixelOwner[p] !== lit[at]) continue;
          const here = Math.max(low, Math.min(high, table[data[p * channels + 1]]));
          if (here <= base) continue;
          const sun = (Math.log(here / base) - Math.log(GRAIN[0])) / Math.log(GRAIN[1] / GRAIN[0]);
          const gate = Math.max(0, Math.min(1, sun));
          const wanted = base * grainAt(at, x, y);
          const burning = Math.max(
            0,
            Math.min(1, (here - BURNING_OUT[0]) / (BURNING_OUT[1] - BURNING_OUT[0])),
          );
          out[p] = Math.round(255 * Math.max(LEAST_SUN * gate * burning, 1 - (wanted / here) ** gate));
        }
    }
  return out;
}
