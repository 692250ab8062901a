import type { RgbSpace } from '#lib/colour/index.ts';
import { linearNodes } from './colour-table.ts';
import { correctMany } from './corrected-colour.ts';
import type { Correction } from './correction.ts';
import { linearToLab } from './image.ts';

/** Writes the CIELAB of the device values `rgb[from .. from+2]` to `out[at .. at+2]`. */
export type LabReader = (
  rgb: Uint8Array | Uint8ClampedArray,
  from: number,
  out: Float32Array | Float64Array,
  at: number,
) => void;

const NODES = 33; // a side of the table, as `linearNodes` makes it
const STEP = 255 / (NODES - 1);

/**
 * The corrected CIELAB (delivered, where the correction is null) of a space's device values, from a table of 33x33x33 read
 * with linear interpolation: Lab is nearly linear in device values, light is not. For many pixels; made in some 20 ms.
 */
export function labReader(space: RgbSpace, correction: Correction | null): LabReader {
  const linear = linearNodes(space);
  const nodes: Float32Array = correction ? correctMany(correction, linear, linear) : linearToLab(linear);
  const cell = new Int32Array(256);
  const part = new Float64Array(256);
  for (let v = 0; v < 256; v++) {
    cell[v] = Math.min(NODES - 2, Math.floor(v / STEP));
    part[v] = v / STEP - cell[v];
  }
  const [dr, dg, db] = [3 * NODES * NODES, 3 * NODES, 3];
  return (rgb, from, out, at) => {
    const r = rgb[from];
    const g = rgb[from + 1];
    const b = rgb[from + 2];
    const u = part[r];
    const v = part[g];
    const w = part[b];
    const o = 1 - w;
    const near0 = (1 - u) * (1 - v);
    const near1 = (1 - u) * v;
    const far0 = u * (1 - v);
    const far1 = u * v;
    let k = cell[r] * dr + cell[g] * dg + cell[b] * db;
    let q = k + dr;
    for (let c = 0; c < 3; c++, k++, q++)
      out[at + c] =
        near0 * (nodes[k] * o + nodes[k + db] * w) +
        near1 * (nodes[k + dg] * o + nodes[k + dg + db] * w) +
        far0 * (nodes[q] * o + nodes[q + db] * w) +
        far1 * (nodes[q + dg] * o + nodes[q + dg + db] * w);
  };
}
