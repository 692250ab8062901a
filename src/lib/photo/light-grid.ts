import { linearTable, type Image8 } from './image.ts';
import type { Mask } from './mask.ts';
import type { Point } from './region.ts';

/** Ratios of red and blue to green. */
export type Ratios = readonly [number, number];

/** A picture at the size at which its light is told apart. */
export interface LightGrid {
  readonly width: number;
  readonly height: number;
  /** Pixels along a side of a cell. */
  readonly cell: number;
  /** Mean linear light of the pixels that are not burnt out, stride 3. */
  readonly light: Float32Array;
  /** Whether most of a cell's pixels are burnt out. */
  readonly burnt: Uint8Array;
  /** The surface that covers a cell wholly, or NOBODY. */
  readonly owner: Uint8Array;
  /** The surface that covers most of a pixel, or NOBODY; at the picture's size. */
  readonly pixelOwner: Uint8Array;
}

export const NOBODY = 255;
/** Device value of the brightest channel from which up a pixel is burnt out. */
export const BURNT = 250;

/** Cells along the long side of the grid; finer, grain and veins are taken for light. */
const CELLS = 400;
/** Half the side of what is read at a place, part of the long side. */
const READ = 1 / 330;

export function lightGrid(image: Image8, masks: readonly Mask[]): LightGrid {
  const { channels, data } = image;
  const table = linearTable(image.space);
  const cell = Math.max(1, Math.ceil(Math.max(image.width, image.height) / CELLS));
  const [width, height] = [Math.ceil(image.width / cell), Math.ceil(image.height / cell)];
  const light = new Float32Array(3 * width * height);
  const good = new Uint32Array(width * height);
  const all = new Uint32Array(width * height);
  for (let y = 0, i = 0; y < image.height; y++)
    for (let x = 0; x < image.width; x++, i += channels) {
      const at = Math.floor(y / cell) * width + Math.floor(x / cell);
      all[at]++;
      if (Math.max(data[i], data[i + 1], data[i + 2]) >= BURNT) continue;
      good[at]++;
      for (let c = 0; c < 3; c++) light[3 * at + c] += table[data[i + c]];
    }
  const burnt = new Uint8Array(width * height);
  for (let at = 0; at < good.length; at++) {
    burnt[at] = 2 * good[at] < all[at] ? 1 : 0;
    for (let c = 0; c < 3; c++) light[3 * at + c] = good[at] > 0 ? light[3 * at + c] / good[at] : 1;
  }
  const owner = new Uint8Array(width * height).fill(NOBODY);
  const pixelOwner = new Uint8Array(image.width * image.height).fill(NOBODY);
  masks.forEach((mask, j) => {
    const inside = (x: number, y: number) =>
      mask.data[Math.min(mask.height - 1, y) * mask.width + Math.min(mask.width - 1, x)] >= 250;
    for (let y = 0, at = 0; y < height; y++)
      for (let x = 0; x < width; x++, at++) {
        const [left, top] = [x * cell, y * cell];
        const [right, bottom] = [left + cell - 1, top + cell - 1];
        if (inside(left, top) && inside(right, top) && inside(left, bottom) && inside(right, bottom))
          owner[at] = j;
      }
    for (let p = 0; p < pixelOwner.length; p++) if (mask.data[p] >= 128) pixelOwner[p] = j;
  });
  for (let at = 0; at < owner.length; at++) if (light[3 * at + 1] < 0.003) owner[at] = NOBODY;
  return { width, height, cell, light, burnt, owner, pixelOwner };
}

/** The cells of a grid that a plane of pixels, 0-255, covers in some part by half or more: 1, else 0. */
export function cellsUnder(
  plane: Uint8Array | null,
  { width, height }: Pick<Image8, 'width' | 'height'>,
  grid: LightGrid,
): Float32Array {
  const out = new Float32Array(grid.width * grid.height);
  if (!plane) return out;
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++)
      if (plane[p] >= 128) out[Math.floor(y / grid.cell) * grid.width + Math.floor(x / grid.cell)] = 1;
  return out;
}

/** What is seen at a place somebody pointed at. */
export interface SeenPlace {
  readonly x: number;
  readonly y: number;
  /** Whether its middle is burnt out, or it is black: of neither is the colour known. */
  readonly burnt: boolean;
  /** Mean device value of the brightest channel. */
  readonly brightest: number;
  readonly black: boolean;
  readonly ratios: Ratios;
}

/** Reads places of a picture, without the pixels there that are burnt out. */
export function seenAt(image: Image8, places: readonly Point[]): SeenPlace[] {
  const { width, height, channels, data } = image;
  const table = linearTable(image.space);
  const radius = Math.max(1, Math.round(READ * Math.max(width, height)));
  return places.map(([px, py]) => {
    const x = Math.min(width - 1, Math.max(0, Math.floor(px)));
    const y = Math.min(height - 1, Math.max(0, Math.floor(py)));
    const sum = [0, 0, 0];
    let [count, bad, bright] = [0, 0, 0];
    let [core, burnt] = [0, 0];
    for (let v = Math.max(0, y - radius); v <= Math.min(height - 1, y + radius); v++)
      for (let u = Math.max(0, x - radius); u <= Math.min(width - 1, x + radius); u++) {
        const i = (v * width + u) * channels;
        const most = Math.max(data[i], data[i + 1], data[i + 2]);
        count++;
        bright += most;
        // A spotlight is no larger than the middle of what is read.
        const within = Math.max(Math.abs(u - x), Math.abs(v - y)) <= radius / 2;
        if (within) core++;
        if (within && most >= BURNT) burnt++;
        if (most >= BURNT) bad++;
        else for (let c = 0; c < 3; c++) sum[c] += table[data[i + c]];
      }
    const black = Math.min(...sum) < 0.004 * (count - bad);
    return {
      x,
      y,
      burnt: 2 * burnt > core,
      brightest: bright / count,
      black,
      ratios: [sum[0] / sum[1], sum[2] / sum[1]],
    };
  });
}
