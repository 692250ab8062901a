import {
  WHITE_D65_2,
  encodeRgb,
  labToXyz,
  rgbToXyzMatrix,
  xyzToRgbMatrix,
  type RgbSpace,
} from '#lib/colour/index.ts';
import { checkImage, linearTable, toSrgbMatrix, transformInPlace, type Image8 } from './image.ts';

/**
 * A change of colour as a table of 33x33x33 device values, read with linear interpolation: made once, applied to whole
 * pictures.
 */
export interface ColourTable {
  /** Space of the pictures it takes. */
  readonly from: RgbSpace;
  /** Space of the pictures it gives. */
  readonly to: 'srgb' | 'display-p3';
  /** Device values 0-255, stride 3; blue runs fastest, then green. */
  readonly nodes: Float32Array;
}

const NODES = 33; // a side of the table; between nodes the map is smooth to a fraction of a step of 8 bits
const STEP = 255 / (NODES - 1);

/** Linear light (sRGB primaries, unclamped) of every node of a table for pictures of a space, stride 3. */
export function linearNodes(from: RgbSpace): Float32Array {
  const linear = linearTable(from);
  const value = (k: number) => {
    const v = k * STEP;
    const low = Math.floor(v);
    return linear[low] + (v - low) * (linear[Math.min(255, low + 1)] - linear[low]);
  };
  const nodes = new Float32Array(3 * NODES ** 3);
  let at = 0;
  for (let r = 0; r < NODES; r++)
    for (let g = 0; g < NODES; g++)
      for (let b = 0; b < NODES; b++) {
        nodes[at++] = value(r);
        nodes[at++] = value(g);
        nodes[at++] = value(b);
      }
  const matrix = toSrgbMatrix(from);
  if (matrix) transformInPlace(nodes, matrix);
  return nodes;
}

/**
 * CIELAB colours shown under D65 as device values 0-255 of a screen's space, in place. Colours the space cannot show are
 * drawn towards grey of the same luminance until it can; brighter than white becomes white.
 */
export function labsToDevice(labs: Float32Array, to: 'srgb' | 'display-p3'): Float32Array {
  const toRgb = xyzToRgbMatrix(to);
  const luminance = luminanceOf(to);
  for (let i = 0; i < labs.length; i += 3) {
    const { X, Y, Z } = labToXyz({ L: Math.max(0, labs[i]), a: labs[i + 1], b: labs[i + 2] }, WHITE_D65_2);
    const rgb = [0, 1, 2].map((c) => toRgb[3 * c] * X + toRgb[3 * c + 1] * Y + toRgb[3 * c + 2] * Z);
    intoGamut(rgb, luminance);
    for (let c = 0; c < 3; c++) labs[i + c] = 255 * encodeRgb(rgb[c], to);
  }
  return labs;
}

/** The picture through the table; opacity is carried along. Throws RangeError for a picture of another space. */
export function throughTable(image: Image8, table: ColourTable): Image8 {
  checkImage(image);
  if (image.space !== table.from)
    throw new RangeError(`Expected a picture in ${table.from}, got one in ${image.space}`);
  const { width, height, channels, data } = image;
  const { nodes } = table;
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
        (nodes[k] * (1 - fb) + nodes[k + db] * fb) * (1 - fg) +
        (nodes[k + dg] * (1 - fb) + nodes[k + dg + db] * fb) * fg;
      const far =
        (nodes[k + dr] * (1 - fb) + nodes[k + dr + db] * fb) * (1 - fg) +
        (nodes[k + dr + dg] * (1 - fb) + nodes[k + dr + dg + db] * fb) * fg;
      out[i + c] = near * (1 - fr) + far * fr;
    }
    if (channels === 4) out[i + 3] = data[i + 3];
  }
  return { width, height, channels, data: out, space: table.to };
}

/** Linear sRGB colours, stride 3, drawn into the gamut of sRGB in place: towards grey of their luminance. */
export function intoSrgb(colours: Float32Array): Float32Array {
  const luminance = luminanceOf('srgb');
  for (let i = 0; i < colours.length; i += 3) {
    const [r, g, b] = [colours[i], colours[i + 1], colours[i + 2]];
    if (Math.min(r, g, b) < 0 || Math.max(r, g, b) > 1) {
      const rgb = [r, g, b];
      intoGamut(rgb, luminance);
      colours.set(rgb, i);
    }
  }
  return colours;
}

/** Luminance of each linear channel at 1, white 1. */
function luminanceOf(space: RgbSpace): readonly number[] {
  return rgbToXyzMatrix(space)
    .slice(3, 6)
    .map((v) => v / WHITE_D65_2.Y);
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
