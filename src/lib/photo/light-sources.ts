import { linearTable, type Image8 } from './image.ts';
import { NOBODY } from './light-grid.ts';
import { shareOf, type TwoLights } from './light-materials.ts';

/** Blocks along the long side of the picture; bars of a window narrower than one do not part its panes. */
const BLOCKS = 130;
/** Fewer pixels than this in a block are specks. */
const SPECK = 4;
/** From this share of the window's light on what nobody marked is taken for the outside, where it joins burnt-out glass. */
const OUTSIDE = 0.85;
/**
 * A view that is not burnt out lies within this part of the long side of burnt-out panes, above or
 * below it and beside it, is no redder than green (pots, taps and frames before it are) and not narrower than a bar.
 * Guesses.
 */
const VIEW = { reach: 0.08, bar: 0.004 } as const;
/** What shines over a larger part of the picture is no window in it: the picture is burnt out. */
const MOST = 0.5;
/** Glass shows red by no more device values above green: what does is lit from within the room. A guess. */
const WARMEST = 10;
/** Linear green below which a colour is noise. */
const DARK = 0.02;

interface SourceSearch {
  /** The surface on each pixel, or NOBODY: a source is no marked surface. */
  readonly pixelOwner: Uint8Array;
  /** Pixels that were pointed at. */
  readonly seeds: readonly { readonly x: number; readonly y: number }[];
  /** The two lights, where they are known: then the view of a window is told from its frame by colour as well. */
  readonly lights: TwoLights | null;
  /** Device value of the brightest channel from which up a pixel shines. */
  readonly from: number;
  /** Whether what is found is glass, through which things are seen that are not burnt out. */
  readonly glass: boolean;
}

/**
 * The places that shine by themselves and were pointed at: what is burnt out there with what is like it and lies near;
 * behind glass also the rest of the view. Coverage 0-255 with soft edges; null where nothing is found, or most of the
 * picture.
 */
export function shining(
  image: Image8,
  { pixelOwner, seeds, lights, from, glass }: SourceSearch,
): Uint8Array | null {
  const { width, height, channels, data } = image;
  const table = linearTable(image.space);
  const member = new Uint8Array(width * height);
  for (let p = 0, i = 0; p < member.length; p++, i += channels) {
    if (pixelOwner[p] !== NOBODY) continue;
    if (glass && data[i] > data[i + 1] + WARMEST) continue;
    if (Math.max(data[i], data[i + 1], data[i + 2]) >= from) member[p] = 1;
    else if (glass && lights) {
      const g = table[data[i + 1]];
      if (g >= DARK && shareOf(table[data[i]] / g, table[data[i + 2]] / g, lights) >= OUTSIDE) member[p] = 1;
    }
  }
  if (!keepReached(member, { width, height, seeds })) return null;
  if (glass) addView(member, image, pixelOwner);
  if (member.reduce((sum, v) => sum + v, 0) > MOST * member.length) return null;
  return softened(member, width, height);
}

/** Keeps of a plane what seeds reach from block to block; false where they reach nothing. */
function keepReached(
  member: Uint8Array,
  { width, height, seeds }: { width: number; height: number; seeds: SourceSearch['seeds'] },
): boolean {
  const side = Math.max(2, Math.round(Math.max(width, height) / BLOCKS));
  const [across, down] = [Math.ceil(width / side), Math.ceil(height / side)];
  const blockOf = (x: number, y: number) => Math.floor(y / side) * across + Math.floor(x / side);
  const count = new Uint32Array(across * down);
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) if (member[p]) count[blockOf(x, y)]++;

  const reached = new Uint8Array(count.length);
  const open = seeds.map(({ x, y }) => blockOf(x, y)).filter((block) => count[block] >= SPECK);
  const any = open.length > 0;
  for (const block of open) reached[block] = 1;
  for (let block = open.pop(); block !== undefined; block = open.pop()) {
    const [bx, by] = [block % across, Math.floor(block / across)];
    for (let v = Math.max(0, by - 1); v <= Math.min(down - 1, by + 1); v++)
      for (let u = Math.max(0, bx - 1); u <= Math.min(across - 1, bx + 1); u++) {
        const next = v * across + u;
        if (reached[next] || count[next] < SPECK) continue;
        reached[next] = 1;
        open.push(next);
      }
  }
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) if (!reached[blockOf(x, y)]) member[p] = 0;
  return any;
}

/** Adds what is seen through burnt-out glass and not burnt out itself: foliage, roofs. */
function addView(member: Uint8Array, image: Image8, pixelOwner: Uint8Array): void {
  const { width, height, channels, data } = image;
  const longSide = Math.max(width, height);
  const reach = Math.round(VIEW.reach * longSide);
  const near = { rows: new Uint8Array(member.length), columns: new Uint8Array(member.length) };
  const along = (marks: Uint8Array, start: number, [step, length]: readonly [number, number]) => {
    for (const [first, by] of [
      [start, step],
      [start + (length - 1) * step, -step],
    ]) {
      let since = Infinity;
      for (let k = 0, p = first; k < length; k++, p += by) {
        if (member[p]) since = 0;
        else if (++since <= reach) marks[p] = 1;
      }
    }
  };
  for (let y = 0; y < height; y++) along(near.rows, y * width, [1, width]);
  for (let x = 0; x < width; x++) along(near.columns, x, [width, height]);
  const view = new Float32Array(member.length);
  for (let p = 0, i = 0; p < member.length; p++, i += channels) {
    if (member[p]) view[p] = 1;
    else if (near.rows[p] && near.columns[p] && pixelOwner[p] === NOBODY && data[i] <= data[i + 1])
      view[p] = 1;
  }
  // Opened: what is left of it after its border was taken off, with that border again.
  const bar = Math.max(1, Math.round((VIEW.bar * longSide) / 2));
  const inner = extreme(view, { width, height, radius: bar, wanted: 0 });
  const opened = extreme(inner, { width, height, radius: bar, wanted: 1 });
  for (let p = 0; p < member.length; p++) if (view[p] && opened[p]) member[p] = 1;
}

/** A plane of 0 and 1 in which every `wanted` spreads over a square. */
function extreme(
  plane: Float32Array,
  { width, height, radius, wanted }: { width: number; height: number; radius: number; wanted: 0 | 1 },
): Float32Array {
  const spread = (from: Float32Array, step: number, [lines, lineStep, length]: number[]) => {
    const out = from.slice();
    for (let line = 0; line < lines; line++)
      for (const way of [1, -1]) {
        let since = Infinity;
        const start = line * lineStep + (way === 1 ? 0 : (length - 1) * step);
        for (let k = 0, p = start; k < length; k++, p += way * step) {
          since = from[p] === wanted ? 0 : since + 1;
          if (since <= radius) out[p] = wanted;
        }
      }
    return out;
  };
  return spread(spread(plane, 1, [height, width, width]), width, [width, 1, height]);
}

/** Means of 3x3 pixels of a plane of 0 and 1, as 0-255. */
function softened(plane: Uint8Array, width: number, height: number): Uint8Array {
  const out = new Uint8Array(plane.length);
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      let [sum, count] = [0, 0];
      for (let v = Math.max(0, y - 1); v <= Math.min(height - 1, y + 1); v++)
        for (let u = Math.max(0, x - 1); u <= Math.min(width - 1, x + 1); u++) {
          sum += plane[v * width + u];
          count++;
        }
      out[p] = Math.round((255 * sum) / count);
    }
  return out;
}
