import { linearTable, type Image8 } from './image.ts';
import type { Mask, MaskBox } from './mask.ts';

/** States of a pixel that cannot be believed: burnt out in a small spot, in a large area, black, or at the rim. */
export const SPARK = 1;
export const GLARE = 2;
export const DARK = 3;
export const RIM = 4;

/** Device values from which up a channel is burnt out, and from which up a camera already bends colours. */
const BURNT = 251;
const NEARLY_BURNT = 236;
/** Device value up to which a pixel is black. */
export const BLACK = 3;

/** A neighbour shows in pixels as near its edge as the picture's longer side by this. */
const RIM_PART = 1000;

/** The pixels of a surface within a box, and which of them can be believed. */
export interface SurfacePixels {
  /** Linear light, one plane a channel. */
  readonly rgb: readonly [Float32Array, Float32Array, Float32Array];
  readonly coverage: Uint8Array;
  /** 1 where a pixel shows this surface alone, neither burnt out nor black. */
  readonly weight: Float32Array;
  /** What a pixel is beside trustworthy, wherever the surface is. */
  readonly state: Uint8Array;
  readonly trusted: number;
  readonly inside: number;
  readonly burnt: number;
  readonly black: number;
  /** Share of the room that the surface probably has: see `roomShare`. */
  readonly share: number;
  /** For each channel, how many trusted pixels have each device value. */
  readonly counts: readonly Uint32Array[];
  readonly table: Float64Array;
}

/** Reads a surface's pixels. `longSide` is that of the picture. */
export function surfacePixels(image: Image8, mask: Mask, box: MaskBox): SurfacePixels {
  const n = box.width * box.height;
  const rgb = [new Float32Array(n), new Float32Array(n), new Float32Array(n)] as const;
  const coverage = new Uint8Array(n);
  const weight = new Float32Array(n);
  const state = new Uint8Array(n);
  const high = new Uint8Array(n);
  const counts = [new Uint32Array(256), new Uint32Array(256), new Uint32Array(256)];
  const table = linearTable(image.space);
  const { channels, data } = image;
  let most = 0;
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      coverage[o] = mask.data[(y + box.y) * mask.width + x + box.x];
      if (coverage[o] > most) most = coverage[o];
    }
  // A mask drawn thin or faint has no pixel that is covered wholly: its fullest ones stand in.
  const full = Math.min(255, Math.floor(0.98 * most));
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      const i = ((y + box.y) * image.width + x + box.x) * channels;
      const [r, g, b] = [data[i], data[i + 1], data[i + 2]];
      rgb[0][o] = table[r];
      rgb[1][o] = table[g];
      rgb[2][o] = table[b];
      if (coverage[o] === 0) continue;
      high[o] = Math.max(r, g, b);
      if (high[o] >= BURNT) state[o] = SPARK;
      else if (high[o] <= BLACK) state[o] = DARK;
    }
  markGlare(high, state, {
    width: box.width,
    height: box.height,
    longSide: Math.max(image.width, image.height),
  });
  let [trusted, inside, burnt, black] = [0, 0, 0, 0];
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      if (coverage[o] === 0 || coverage[o] < full) continue;
      inside++;
      if (state[o] === DARK) black++;
      else if (state[o] !== 0) burnt++;
      else {
        const i = ((y + box.y) * image.width + x + box.x) * channels;
        weight[o] = 1;
        trusted++;
        for (let c = 0; c < 3; c++) counts[c][data[i + c]]++;
      }
    }
  const rim = Math.max(1, Math.round(Math.max(image.width, image.height) / RIM_PART));
  trusted -= markRim(weight, state, { width: box.width, height: box.height, rim, image, box, counts });
  return {
    rgb,
    coverage,
    weight,
    state,
    trusted,
    inside,
    burnt,
    black,
    share: roomShare(mask),
    counts,
    table,
  };
}

/** What a surface's pixels do not show of it, in sentences; empty where all is well. */
export function doubtsOf({ trusted, inside, burnt, black }: SurfacePixels): string[] {
  if (trusted === 0)
    return [
      black > burnt
        ? 'This surface is black in the picture: nothing shows how light falls on it, so the finish appears in even light.'
        : 'This surface is burnt out in the picture: nothing shows how light falls on it, so the finish appears in even light.',
    ];
  const notes: string[] = [];
  if (burnt > 0.05 * inside)
    notes.push(
      `${partWords(burnt / inside)} of this surface is burnt out; light there is guessed from around it.`,
    );
  if (black > 0.2 * inside)
    notes.push(
      `${partWords(black / inside)} of this surface is nearly black; a light finish may look blotchy there.`,
    );
  if (inside < 400)
    notes.push('This surface is only a few pixels large; a larger picture would show the finish better.');
  return notes;
}

/** A part of a surface, 0-1, as a sentence begins with it. */
export function partWords(part: number): string {
  return part > 0.95 ? 'Nearly all' : `About ${Math.max(1, Math.round(20 * part)) * 5} %`;
}

/** How much of a room its picture shows. A guess; not fitted to what follows from it for walls. */
const SHOWN = 0.72;

/**
 * Share of a room that a surface has: in the picture as in the picture, beyond its frame as along the frame. Walls go on
 * behind the camera, cabinets seldom do.
 */
function roomShare({ width, height, data }: Mask): number {
  let [inside, frame] = [0, 0];
  for (let i = 0; i < data.length; i++) inside += data[i];
  const last = (height - 1) * width;
  for (let x = 0; x < width; x++) frame += data[x] + data[last + x];
  for (let y = 0; y < height; y++) frame += data[y * width] + data[y * width + width - 1];
  return (SHOWN * inside) / (255 * width * height) + ((1 - SHOWN) * frame) / (255 * 2 * (width + height));
}

/**
 * Takes the trust from pixels so near the edge of the mask that a little of the neighbour may show in them, and gives
 * back how many. What is too thin to have an inside keeps it.
 */
function markRim(
  weight: Float32Array,
  state: Uint8Array,
  {
    width,
    height,
    rim,
    image,
    box,
    counts,
  }: {
    readonly width: number;
    readonly height: number;
    readonly rim: number;
    readonly image: Image8;
    readonly box: MaskBox;
    readonly counts: readonly Uint32Array[];
  },
): number {
  const around = (at: number, radius: number, visit: (at: number) => void) => {
    const [x, y] = [at % width, Math.floor(at / width)];
    for (let v = Math.max(0, y - radius); v <= Math.min(height - 1, y + radius); v++)
      for (let u = Math.max(0, x - radius); u <= Math.min(width - 1, x + radius); u++) visit(v * width + u);
  };
  const core = weight.slice();
  const rims: number[] = [];
  for (let o = 0; o < weight.length; o++) {
    if (weight[o] !== 0 || state[o] !== 0) continue;
    const x = o % width;
    // Only bare pixels beside the surface have it within reach.
    const beside =
      weight[o - width] ||
      weight[o + width] ||
      (x > 0 && (weight[o - 1] || weight[o - width - 1] || weight[o + width - 1])) ||
      (x < width - 1 && (weight[o + 1] || weight[o - width + 1] || weight[o + width + 1]));
    if (!beside) continue;
    around(o, rim, (at) => {
      if (core[at] === 0) return;
      core[at] = 0;
      rims.push(at);
    });
  }
  let marked = 0;
  for (const o of rims) {
    let inner = false;
    around(o, rim + 1, (at) => (inner ||= core[at] === 1));
    if (!inner) continue;
    weight[o] = 0;
    state[o] = RIM;
    marked++;
    const [x, y] = [o % width, Math.floor(o / width)];
    const i = ((y + box.y) * image.width + x + box.x) * image.channels;
    for (let c = 0; c < 3; c++) counts[c][image.data[i + c]]--;
  }
  return marked;
}

/**
 * Turns large burnt-out areas into GLARE. A small one is a lamp or a window mirrored in the face; a large one is most
 * often sun on the body, and belongs to the light. Near its edge a camera bends colours towards white before it gives
 * up, so pixels close below the end that hang together with burnt ones go with them.
 */
function markGlare(
  high: Uint8Array,
  state: Uint8Array,
  { width, height, longSide }: { width: number; height: number; longSide: number },
): void {
  const seen = new Uint8Array(high.length);
  const least = Math.max(60, (longSide / 50) ** 2);
  const edge = Math.max(1, Math.round(longSide / 600));
  const stack: number[] = [];
  for (let start = 0; start < high.length; start++) {
    if (seen[start] || high[start] < BURNT) continue;
    const members = [start];
    let burnt = 0;
    seen[start] = 1;
    stack.push(start);
    while (stack.length > 0) {
      const at = stack.pop()!;
      if (high[at] >= BURNT) burnt++;
      const x = at % width;
      for (const next of [at - width, at + width, x > 0 ? at - 1 : -1, x < width - 1 ? at + 1 : -1]) {
        if (next < 0 || next >= high.length || seen[next] || high[next] < NEARLY_BURNT) continue;
        seen[next] = 1;
        members.push(next);
        stack.push(next);
      }
    }
    if (members.length < least || burnt < 0.4 * members.length) continue;
    for (const at of members) {
      const [x, y] = [at % width, Math.floor(at / width)];
      for (let v = Math.max(0, y - edge); v <= Math.min(height - 1, y + edge); v++)
        for (let u = Math.max(0, x - edge); u <= Math.min(width - 1, x + edge); u++)
          if (high[v * width + u] > 0 && state[v * width + u] !== DARK) state[v * width + u] = GLARE;
    }
  }
}
