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
/** Glass is at least this wide, part of the long side: sunlit edges of sashes and reveals are not. A guess. */
const NARROWEST = 0.009;
/** What glass encloses wholly is seen through it, if no larger than a square of this part of the long side: leaves, wires. */
const ENCLOSED = 0.02;
/** Sashes and bars are seen unmixed with what shines at most so far from it, part of the long side. */
const MIXED = 1 / 400;
/** Of what lies around, in order of brightness, this part is darker than what is taken to be unmixed. */
const UNMIXED = 0.2;
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
 * behind glass also the rest of the view. Which part of a pixel's light comes from there, 0-255; null where nothing is
 * found, or most of the picture.
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
  const longSide = Math.max(width, height);
  const box = boxAround(member, { width, height, margin: Math.round(VIEW.reach * longSide) });
  const near = { image: imageIn(image, box), member: planeIn(member, width, box), longSide };
  if (glass) {
    addView(near, planeIn(pixelOwner, width, box));
    takeNarrow(near);
    fillSpecks(near);
  }
  if (near.member.reduce((sum, v) => sum + v, 0) > MOST * member.length) return null;
  const part = partOfLight(near, lights);
  const out = new Uint8Array(member.length);
  for (let y = 0; y < box.height; y++)
    out.set(part.subarray(y * box.width, (y + 1) * box.width), (box.top + y) * width + box.left);
  return out;
}

/** The part of a picture around what shines. */
interface NearSource {
  readonly image: Image8;
  /** 1 where it shines, else 0. */
  readonly member: Uint8Array;
  /** Of the whole picture, pixels. */
  readonly longSide: number;
}

interface Box {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
}

function boxAround(
  member: Uint8Array,
  { width, height, margin }: { readonly width: number; readonly height: number; readonly margin: number },
): Box {
  let [left, top, right, bottom] = [width, height, 0, 0];
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      if (!member[p]) continue;
      [left, right] = [Math.min(left, x), Math.max(right, x)];
      [top, bottom] = [Math.min(top, y), Math.max(bottom, y)];
    }
  left = Math.max(0, left - margin);
  top = Math.max(0, top - margin);
  return {
    left,
    top,
    width: Math.min(width, right + 1 + margin) - left,
    height: Math.min(height, bottom + 1 + margin) - top,
  };
}

function planeIn(plane: Uint8Array, stride: number, { left, top, width, height }: Box): Uint8Array {
  const out = new Uint8Array(width * height);
  for (let y = 0; y < height; y++) {
    const from = (top + y) * stride + left;
    out.set(plane.subarray(from, from + width), y * width);
  }
  return out;
}

function imageIn({ width, channels, data, space }: Image8, box: Box): Image8 {
  const stretched = {
    left: box.left * channels,
    top: box.top,
    width: box.width * channels,
    height: box.height,
  };
  const bytes = new Uint8Array(data.buffer, data.byteOffset, data.length);
  const { width: across, height } = box;
  return { width: across, height, channels, space, data: planeIn(bytes, width * channels, stretched) };
}

/** Takes away what is narrower than glass, unless nothing else was found: glass cut up by leads and branches. */
function takeNarrow({ image: { width, height }, member, longSide }: NearSource): void {
  const radius = Math.max(1, Math.round((NARROWEST * longSide) / 2));
  const inner = extreme(Float32Array.from(member), { width, height, radius, wanted: 0 });
  if (inner.every((v) => v === 0)) return;
  const wide = extreme(inner, { width, height, radius: 2 * radius, wanted: 1 });
  for (let p = 0; p < member.length; p++) if (wide[p] === 0) member[p] = 0;
}

/** Adds to the glass what it encloses wholly. Bars, pots and taps join the frame somewhere. */
function fillSpecks({ image: { width, height }, member, longSide }: NearSource): void {
  const most = (ENCLOSED * longSide) ** 2;
  const seen = new Uint8Array(member.length);
  for (let start = 0; start < member.length; start++) {
    if (member[start] || seen[start]) continue;
    const part = [start];
    seen[start] = 1;
    let open = false;
    for (let k = 0; k < part.length; k++) {
      const [x, y] = [part[k] % width, Math.floor(part[k] / width)];
      if (x === 0 || y === 0 || x === width - 1 || y === height - 1) {
        open = true;
        continue;
      }
      for (const next of [part[k] - 1, part[k] + 1, part[k] - width, part[k] + width]) {
        if (member[next] || seen[next]) continue;
        seen[next] = 1;
        part.push(next);
      }
    }
    if (!open && part.length <= most) for (const p of part) member[p] = 1;
  }
}

/**
 * The part of every pixel's light that comes from what shines. Beside it a pixel mixes it with what stands before it,
 * taken to be as dark as the darker things around: of the mixture `v = a in + (1 - a) out` the part is `a in / v`. Where
 * the two lights are known it is no more than the colour there allows something white.
 */
function partOfLight({ image, member, longSide }: NearSource, lights: TwoLights | null): Uint8Array {
  const { width, height, channels, data, space } = image;
  const table = linearTable(space);
  const reach = Math.max(2, Math.round(MIXED * longSide));
  const near = extreme(Float32Array.from(member), { width, height, radius: reach, wanted: 1 });
  const value = (p: number) => {
    const i = p * channels;
    return table[Math.max(data[i], data[i + 1], data[i + 2])];
  };
  const colourShare = (p: number) => {
    const [r, g, b] = [0, 1, 2].map((c) => table[data[p * channels + c]]);
    return lights ? shareOf(r / g, b / g, lights) : 1;
  };
  const out = new Uint8Array(member.length);
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++) {
      if (member[p]) {
        out[p] = 255;
        continue;
      }
      if (near[p] === 0) continue;
      let [inside, count] = [0, 0];
      const outside: number[] = [];
      for (let v = Math.max(0, y - reach); v <= Math.min(height - 1, y + reach); v++)
        for (let u = Math.max(0, x - reach); u <= Math.min(width - 1, x + reach); u++) {
          const q = v * width + u;
          const here = value(q);
          if (member[q]) {
            inside += here;
            count++;
          } else outside.push(here);
        }
      outside.sort((a, b) => a - b);
      const low = outside[Math.floor(UNMIXED * outside.length)];
      const [here, high] = [value(p), inside / count];
      if (here <= low || high <= low) continue;
      let part = Math.min(1, (((here - low) / (high - low)) * high) / here);
      if (lights) part = Math.min(part, Math.max(0, colourShare(p)));
      out[p] = Math.round(255 * part);
    }
  return out;
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
function addView({ image, member, longSide }: NearSource, pixelOwner: Uint8Array): void {
  const { width, height, channels, data } = image;
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
