import {
  WHITE_D65_2,
  encodeRgb,
  labToXyz,
  rgbToXyzMatrix,
  xyzToRgbMatrix,
  type RgbSpace,
} from '#lib/colour/index.ts';
import { correctMany } from './corrected-colour.ts';
import type { Correction } from './correction.ts';
import { checkImage, linearTable, toSrgbMatrix, transformInPlace, type Image8 } from './image.ts';

const NODES = 33; // a side of the table; between nodes the map is smooth to a fraction of a step of 8 bits
const STEP = 255 / (NODES - 1);

/**
 * The picture as its correction sees it, for a screen: each colour's CIELAB shown under D65. Colours the screen's
 * space cannot show are drawn towards grey of the same luminance until it can; brighter than white becomes white.
 * A table of 33x33x33 colours, read with linear interpolation, stands for the correction. Opacity is carried along.
 */
export function correctImage(
  image: Image8,
  correction: Correction,
  to: { readonly space: 'srgb' | 'display-p3' },
): Image8 {
  checkImage(image);
  const { width, height, channels, data } = image;
  const table = tableOf(image.space, correction, to.space);
  const out = new Uint8ClampedArray(data.length);
  const cell = new Uint8Array(256);
  const part = new Float32Array(256);
  for (let v = 0; v < 256; v++) {
    cell[v] = Math.min(NODES - 2, Math.floor(v / STEP));
    part[v] = v / STEP - cell[v];
  }
  const [dr, dg, db] = [3 * NODES * NODES, 3 * NODES, 3];
  for (let i = 0; i < data.length; i += channels) {
    const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
    const [fr, fg, fb] = [part[r], part[g], part[b]];
    const at = cell[r] * dr + cell[g] * dg + cell[b] * db;
    for (let c = 0; c < 3; c++) {
      const k = at + c;
      const near =
        (table[k] * (1 - fb) + table[k + db] * fb) * (1 - fg) +
        (table[k + dg] * (1 - fb) + table[k + dg + db] * fb) * fg;
      const far =
        (table[k + dr] * (1 - fb) + table[k + dr + db] * fb) * (1 - fg) +
        (table[k + dr + dg] * (1 - fb) + table[k + dr + dg + db] * fb) * fg;
      out[i + c] = near * (1 - fr) + far * fr;
    }
    if (channels === 4) out[i + 3] = data[i + 3];
  }
  return { width, height, channels, data: out, space: to.space };
}

function tableOf(from: RgbSpace, correction: Correction, to: 'srgb' | 'display-p3'): Float32Array {
  const linear = linearTable(from);
  const value = (k: number) => {
    const v = k * STEP;
    const low = Math.floor(v);
    return linear[low] + (v - low) * (linear[Math.min(255, low + 1)] - linear[low]);
  };
  const table = new Float32Array(3 * NODES ** 3);
  let at = 0;
  for (let r = 0; r < NODES; r++)
    for (let g = 0; g < NODES; g++)
      for (let b = 0; b < NODES; b++) {
        table[at++] = value(r);
        table[at++] = value(g);
        table[at++] = value(b);
      }
  const matrix = toSrgbMatrix(from);
  if (matrix) transformInPlace(table, matrix);
  correctMany(correction, table, table);
  const toRgb = xyzToRgbMatrix(to);
  const luminance = rgbToXyzMatrix(to)
    .slice(3, 6)
    .map((v) => v / WHITE_D65_2.Y);
  for (let i = 0; i < table.length; i += 3) {
    const { X, Y, Z } = labToXyz({ L: Math.max(0, table[i]), a: table[i + 1], b: table[i + 2] }, WHITE_D65_2);
    const rgb = [0, 1, 2].map((c) => toRgb[3 * c] * X + toRgb[3 * c + 1] * Y + toRgb[3 * c + 2] * Z);
    intoGamut(rgb, luminance);
    for (let c = 0; c < 3; c++) table[i + c] = 255 * encodeRgb(rgb[c], to);
  }
  return table;
}

/** Draws a linear colour towards grey of its luminance until no channel is outside [0, 1]. */
function intoGamut(rgb: number[], luminance: readonly number[]): void {
  const grey = Math.min(
    1,
    Math.max(
      0,
      rgb.reduce((s, v, c) => s + luminance[c] * v, 0),
    ),
  );
  let keep = 1;
  for (const v of rgb) {
    if (v > 1) keep = Math.min(keep, (1 - grey) / (v - grey));
    else if (v < 0) keep = Math.min(keep, grey / (grey - v));
  }
  for (let c = 0; c < 3; c++) rgb[c] = Math.min(1, Math.max(0, grey + keep * (rgb[c] - grey)));
}
