import { GRID, WHITE_D65_10, cam16ToUcs, viewingConditions, xyzToCam16 } from '#lib/colour/index.ts';
import type { Cam16Ucs, XYZ } from '#lib/colour/index.ts';

/**
 * Conditions in which movement between lights is judged: a room at 200 lx, mid-grey surround, full adaptation. One level
 * for all lights: that a lamp is dimmer than the window changes every finish alike and is not the finish's doing.
 */
const ROOM = viewingConditions({
  white: WHITE_D65_10,
  L_A: (200 / Math.PI) * 0.2,
  Y_b: 20,
  surround: 'average',
  degree: 1,
});

/** XYZ from weights and a reflectance (or a direction of one). */
export function apply(weights: Float64Array, reflectance: ArrayLike<number>): XYZ {
  let X = 0;
  let Y = 0;
  let Z = 0;
  for (let i = 0; i < GRID.count; i++) {
    const r = reflectance[i];
    X += weights[i] * r;
    Y += weights[GRID.count + i] * r;
    Z += weights[2 * GRID.count + i] * r;
  }
  return { X, Y, Z };
}

/** CAM16-UCS, in the conditions in which movement is judged, of XYZ adapted to D65. */
export function toUcs(xyz: XYZ): Cam16Ucs {
  return cam16ToUcs(xyzToCam16(xyz, ROOM));
}
