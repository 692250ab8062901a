import { BURNING } from './light-apart.ts';
import { NOBODY, type LightGrid, type Ratios } from './light-grid.ts';
import type { LightShares } from './light-shares.ts';
import { fillHoles } from './plane-filters.ts';

/** Linear green below which a colour is noise. */
const DARK = 0.02;

/** What is known of the cells of a picture. */
interface CellsKnown {
  /** Red and blue of the light on a cell, as ratios to its green. */
  readonly tint: (at: number) => Ratios;
  /** Whether the colour that a cell shows is its own in that light. */
  readonly readable: (at: number) => boolean;
  /** Cells of glass with the outside behind it, of lamps and their glow: 1, else 0. */
  readonly glass: Float32Array;
  readonly glowing: Float32Array;
}

/**
 * The colour of what stands on each cell, in white light. Where it cannot be read it runs on from around. Glass has none,
 * and nothing is known of what burns out without being marked, but for lamps and their glow: it may be paper or fruit.
 */
export function coloursAround(
  { width, height, cell, light, burnt, owner }: LightGrid,
  { tint, readable, glass, glowing }: CellsKnown,
): LightShares['around'] {
  const [red, blue, trusted] = [0, 1, 2].map(() => new Float32Array(owner.length));
  for (let at = 0; at < owner.length; at++) {
    const green = light[3 * at + 1];
    if (burnt[at] || !readable(at) || green < DARK) continue;
    const [r, b] = tint(at);
    red[at] = light[3 * at] / green / r;
    blue[at] = light[3 * at + 2] / green / b;
    trusted[at] = 1;
  }
  const data = new Uint8Array(4 * owner.length);
  if (fillHoles([red, blue], trusted, { width, height }))
    for (let at = 0; at < owner.length; at++) {
      const ratios = glass[at] ? [1, 1, 1] : [red[at], 1, blue[at]];
      const most = Math.max(...ratios);
      for (let c = 0; c < 3; c++) data[4 * at + c] = Math.round((255 * ratios[c]) / most);
      const brightest = burnt[at] ? 1 : Math.max(light[3 * at], light[3 * at + 1], light[3 * at + 2]);
      const unknown = owner[at] === NOBODY && brightest > BURNING && !glass[at] && !glowing[at];
      data[4 * at + 3] = unknown ? 0 : 255;
    }
  return { width, height, cell, data };
}
