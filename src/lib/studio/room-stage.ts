import {
  DITHER,
  HALF_TO_NUMBER,
  linearise,
  type AlbedoPlane,
  type AppliedFinish,
  type Image8,
  type LightApart,
  type SurfaceLayers,
} from '#lib/photo/index.ts';

/**
 * What a canvas shows of a room, at the canvas's own resolution, made ready for frames that follow each other fast (see
 * `FramePainter`). Pure, so that workers and tests run the same.
 *
 * Where a pixel of the stage shows one surface alone, it has the means of that surface's planes. Where it shows several
 * things, means would be wrong: each picture pixel is painted by itself there, and the mean is one of device values, as of
 * a picture made smaller.
 */
export interface Stage {
  readonly place: StagePlace;
  readonly surfaces: readonly StageSurface[];
  readonly edge: StageEdge;
}

/** How the picture lies: its point p is at stage pixel `scale * p + [x, y]`. Scale at most 1. */
export interface StagePlace {
  readonly scale: number;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  /** First column that finishes show in: left of it is the room as photographed. */
  readonly left: number;
}

/** Pixels of a stage, in order. */
export interface StagePixels {
  readonly at: Int32Array;
  /** 256ths of a level; at a scale of 1 those of the picture's own pixels. */
  readonly dither: Uint8Array;
  /** The window's share, 0-255; null in one light. */
  readonly share: Uint8Array | null;
}

/** What one surface fills alone. */
export interface StageSurface extends StagePixels {
  /** Light in red, green, blue, mirrored light spread out, mirrored light: stride `LIGHT_STRIDE`. */
  readonly light: Float32Array;
  /** Linear albedo of a pattern, stride 3; null where one colour is on. */
  readonly albedo: Float32Array | null;
  /** Device values of the picture, stride 3. */
  readonly before: Uint8Array;
  /** What it has of `StageEdge.pixels`. */
  readonly part: StagePart;
}

export interface StagePart {
  readonly pixel: Int32Array;
  /** How much of each it covers. */
  readonly weight: Float32Array;
  readonly light: Float32Array;
  readonly albedo: Float32Array | null;
  /** What else the pixel shows, less what it showed before; linear, stride 3. */
  readonly left: Float32Array;
}

/** What shows several things. */
export interface StageEdge extends StagePixels {
  /** Where in `from` and `weight` each begins, and the end of the last. */
  readonly begin: Int32Array;
  /** Which of `pixels`. */
  readonly from: Int32Array;
  readonly weight: Float32Array;
  /** Weighted device values of what no surface touches, stride 3. */
  readonly still: Float32Array;
  /** Linear light of those that a surface touches, stride 3: picture pixels, or what a surface fills of a stage pixel. */
  readonly pixels: Float32Array;
}

export const LIGHT_STRIDE = 5;

/** Linear light of each sRGB device value. */
export const LINEAR: Float32Array = linearise({
  width: 256,
  height: 1,
  channels: 3,
  data: Uint8Array.from({ length: 768 }, (_, i) => Math.floor(i / 3)),
  space: 'srgb',
}).data.filter((_, i) => i % 3 === 0);

interface Dressed {
  readonly layers: SurfaceLayers;
  readonly finish: AppliedFinish;
}

/** Who fills a pixel alone, as its number plus one; otherwise nothing or several. */
const NOTHING = 0;
const SEVERAL = 255;

/** Which picture pixels a stage pixel shows along one axis. */
interface Footprints {
  readonly first: Int32Array;
  readonly count: Int32Array;
  /** `most` of each, adding up to 1. */
  readonly weight: Float32Array;
  readonly most: number;
}

interface Making {
  readonly picture: Image8;
  readonly place: StagePlace;
  /** Of each picture pixel. */
  readonly owners: Uint8Array;
  readonly across: Footprints;
  readonly down: Footprints;
}

/**
 * The stage of a picture with those surfaces on it, of which only patterns are read of the finishes. Throws RangeError for
 * more than 200 surfaces and for a scale above 1.
 */
export function stageOf(
  picture: Image8,
  on: readonly Dressed[],
  { place, light }: { readonly place: StagePlace; readonly light: LightApart | null },
): Stage {
  if (on.length > 200) throw new RangeError(`Expected at most 200 surfaces, got ${on.length}`);
  if (!(place.scale > 0 && place.scale <= 1))
    throw new RangeError(`Expected a scale in (0, 1], got ${place.scale}`);
  const owners = ownersOf(picture, on);
  const making = {
    picture,
    place,
    owners,
    across: footprints(picture.width, { scale: place.scale, shift: place.x, length: place.width }),
    down: footprints(picture.height, { scale: place.scale, shift: place.y, length: place.height }),
  };
  const kinds = kindsOf(making);
  const pixels = (kind: number): StagePixels => {
    const at = placesOf(kinds, kind);
    return { at, dither: dithersAt(at, place), share: light && sharesAt(light.shares, at, place) };
  };
  const { edge, parts } = edgeOf(making, on, pixels(SEVERAL));
  const surfaces = on.map((one, k) => ({
    ...insideOf(making, one, { own: pixels(k + 1), owner: k + 1 }),
    part: parts[k],
  }));
  return { place, surfaces, edge };
}

/** Every buffer of a stage, to be moved to another thread. */
export function buffersOf({ surfaces, edge }: Stage): ArrayBuffer[] {
  const arrays = [
    ...surfaces.flatMap(({ part, ...own }) => [...Object.values(own), ...Object.values(part)]),
    ...Object.values(edge),
  ] as (ArrayBufferView<ArrayBuffer> | null)[];
  return arrays.flatMap((array) => (array ? [array.buffer] : []));
}

/** Shares of area, so that no pixel counts more for where it lies. */
function footprints(
  from: number,
  { scale, shift, length }: { scale: number; shift: number; length: number },
): Footprints {
  const most = Math.ceil(1 / scale) + 1;
  const first = new Int32Array(length);
  const count = new Int32Array(length);
  const weight = new Float32Array(most * length);
  for (let at = 0; at < length; at++) {
    // A hair's breadth, so that a stage pixel that fits picture pixels exactly shows no third one.
    const start = Math.max(0, (at - shift) / scale + 1e-6);
    const end = Math.min(from, (at + 1 - shift) / scale - 1e-6);
    if (end <= start) continue;
    first[at] = Math.floor(start);
    for (let p = first[at]; p < end; p++)
      weight[at * most + count[at]++] = (Math.min(end, p + 1) - Math.max(start, p)) / (end - start);
  }
  return { first, count, weight, most };
}

function ownersOf({ width, height }: Image8, on: readonly Dressed[]): Uint8Array {
  const owners = new Uint8Array(width * height);
  on.forEach(({ layers: { box, coverage } }, k) => {
    for (let row = 0, o = 0; row < box.height; row++)
      for (let x = 0, p = (box.y + row) * width + box.x; x < box.width; x++, o++, p++)
        if (coverage[o] > 0) owners[p] = coverage[o] === 255 && owners[p] === NOTHING ? k + 1 : SEVERAL;
  });
  return owners;
}

function kindsOf({ picture, place, across, down, owners }: Making): Uint8Array {
  const kinds = new Uint8Array(place.width * place.height);
  for (let y = 0, at = 0; y < place.height; y++)
    for (let x = 0; x < place.width; x++, at++) {
      if (x < place.left || down.count[y] === 0 || across.count[x] === 0) continue;
      const corner = down.first[y] * picture.width + across.first[x];
      const kind = owners[corner];
      let several = kind === SEVERAL;
      for (let v = 0, row = corner; v < down.count[y] && !several; v++, row += picture.width)
        for (let u = 0; u < across.count[x]; u++) if (owners[row + u] !== kind) several = true;
      kinds[at] = several ? SEVERAL : kind;
    }
  return kinds;
}

function placesOf(kinds: Uint8Array, kind: number): Int32Array<ArrayBuffer> {
  let count = 0;
  for (const one of kinds) if (one === kind) count++;
  const at = new Int32Array(count);
  for (let i = 0, n = 0; n < count; i++) if (kinds[i] === kind) at[n++] = i;
  return at;
}

/** Where `Means` has what; light as in `LIGHT_STRIDE`, then device values before, then albedo, then the weight of it all. */
const BEFORE = LIGHT_STRIDE;
const ALBEDO = BEFORE + 3;
const WEIGHT = ALBEDO + 3;

/** Means over those pixels under a stage pixel that one surface fills alone. */
function meansOf(
  means: Float64Array,
  {
    at,
    making,
    one,
    owner,
  }: {
    readonly at: number;
    readonly making: Making;
    readonly one: Dressed;
    readonly owner: number;
  },
): void {
  const { picture, place, across, down, owners } = making;
  const { box, light, glow } = one.layers;
  const pattern = patternOf(one.finish);
  means.fill(0);
  const y = Math.floor(at / place.width);
  const x = at - y * place.width;
  const first = across.first[x];
  for (let v = 0; v < down.count[y]; v++) {
    const row = down.first[y] + v;
    const high = down.weight[y * down.most + v];
    let p = row * picture.width + first;
    let o = (row - box.y) * box.width + first - box.x;
    for (let u = 0; u < across.count[x]; u++, o++, p++) {
      if (owners[p] !== owner) continue;
      const w = high * across.weight[x * across.most + u];
      means[0] += w * HALF_TO_NUMBER[light[4 * o]];
      means[1] += w * HALF_TO_NUMBER[light[4 * o + 1]];
      means[2] += w * HALF_TO_NUMBER[light[4 * o + 2]];
      means[3] += w * HALF_TO_NUMBER[glow[o]];
      means[4] += w * HALF_TO_NUMBER[light[4 * o + 3]];
      for (let c = 0, i = p * picture.channels; c < 3; c++) means[BEFORE + c] += w * picture.data[i + c];
      if (pattern) for (let c = 0; c < 3; c++) means[ALBEDO + c] += w * LINEAR[pattern.data[3 * o + c]];
      means[WEIGHT] += w;
    }
  }
  if (means[WEIGHT] > 0) for (let k = 0; k < WEIGHT; k++) means[k] /= means[WEIGHT];
}

function insideOf(making: Making, one: Dressed, { own, owner }: { own: StagePixels; owner: number }) {
  const { at } = own;
  const light = new Float32Array(LIGHT_STRIDE * at.length);
  const albedo = patternOf(one.finish) && new Float32Array(3 * at.length);
  const before = new Uint8Array(3 * at.length);
  const means = new Float64Array(WEIGHT + 1);
  for (let n = 0; n < at.length; n++) {
    meansOf(means, { at: at[n], making, one, owner });
    for (let k = 0; k < LIGHT_STRIDE; k++) light[LIGHT_STRIDE * n + k] = means[k];
    for (let c = 0; c < 3; c++) {
      before[3 * n + c] = means[BEFORE + c];
      if (albedo) albedo[3 * n + c] = means[ALBEDO + c];
    }
  }
  return { ...own, light, albedo, before };
}

/** Numbers of `StagePart` while it grows. */
interface GrowingPart {
  readonly pixel: number[];
  readonly weight: number[];
  readonly light: number[];
  readonly albedo: number[];
  readonly left: number[];
}

function edgeOf(
  making: Making,
  on: readonly Dressed[],
  own: StagePixels,
): { edge: StageEdge; parts: StagePart[] } {
  const { picture, place, across, down, owners } = making;
  const { at } = own;
  const begin = new Int32Array(at.length + 1);
  const [from, weight, pixels]: number[][] = [[], [], []];
  const still = new Float32Array(3 * at.length);
  const parts = on.map((): GrowingPart => ({ pixel: [], weight: [], light: [], albedo: [], left: [] }));
  const known = new Int32Array(owners.length);
  const alone = new Set<number>();
  const means = new Float64Array(WEIGHT + 1);
  const { data, channels, width } = picture;
  for (let n = 0; n < at.length; n++) {
    const y = Math.floor(at[n] / place.width);
    const x = at[n] - y * place.width;
    alone.clear();
    for (let v = 0; v < down.count[y]; v++)
      for (let u = 0; u < across.count[x]; u++) {
        const p = (down.first[y] + v) * width + across.first[x] + u;
        const w = down.weight[y * down.most + v] * across.weight[x * across.most + u];
        if (owners[p] === NOTHING) for (let c = 0; c < 3; c++) still[3 * n + c] += w * data[p * channels + c];
        else if (owners[p] !== SEVERAL) alone.add(owners[p]);
        else {
          if (known[p] === 0) {
            for (let c = 0; c < 3; c++) pixels.push(LINEAR[data[p * channels + c]]);
            known[p] = pixels.length / 3;
            on.forEach((one, k) => addPixel(parts[k], one, { picture, p, pixel: known[p] - 1 }));
          }
          from.push(known[p] - 1);
          weight.push(w);
        }
      }
    for (const owner of alone) {
      meansOf(means, { at: at[n], making, one: on[owner - 1], owner });
      const part = parts[owner - 1];
      from.push(pixels.length / 3);
      weight.push(means[WEIGHT]);
      part.pixel.push(pixels.length / 3);
      part.weight.push(1);
      for (let k = 0; k < LIGHT_STRIDE; k++) part.light.push(means[k]);
      for (let c = 0; c < 3; c++) {
        const before = LINEAR[Math.round(means[BEFORE + c])];
        pixels.push(before);
        part.left.push(-before);
        part.albedo.push(means[ALBEDO + c]);
      }
    }
    begin[n + 1] = from.length;
  }
  const grown = {
    from: Int32Array.from(from),
    weight: Float32Array.from(weight),
    pixels: Float32Array.from(pixels),
  };
  return {
    edge: { ...own, begin, still, ...grown },
    parts: parts.map(({ pixel, weight, light, albedo, left }, k) => ({
      pixel: Int32Array.from(pixel),
      weight: Float32Array.from(weight),
      light: Float32Array.from(light),
      albedo: patternOf(on[k].finish) && Float32Array.from(albedo),
      left: Float32Array.from(left),
    })),
  };
}

/** What a surface has of a picture pixel that shows several things, if anything. */
function addPixel(
  part: GrowingPart,
  { layers, finish }: Dressed,
  { picture, p, pixel }: { picture: Image8; p: number; pixel: number },
): void {
  const { box, coverage, light, glow, rest } = layers;
  const y = Math.floor(p / picture.width) - box.y;
  const x = p - (y + box.y) * picture.width - box.x;
  if (x < 0 || y < 0 || x >= box.width || y >= box.height) return;
  const o = y * box.width + x;
  if (coverage[o] === 0) return;
  const pattern = patternOf(finish);
  part.pixel.push(pixel);
  part.weight.push(coverage[o] / 255);
  for (let c = 0; c < 3; c++) {
    part.light.push(HALF_TO_NUMBER[light[4 * o + c]]);
    const left = coverage[o] < 255 ? LINEAR[rest[3 * o + c]] : 0;
    part.left.push(left - LINEAR[picture.data[p * picture.channels + c]]);
    part.albedo.push(pattern ? LINEAR[pattern.data[3 * o + c]] : 0);
  }
  part.light.push(HALF_TO_NUMBER[glow[o]], HALF_TO_NUMBER[light[4 * o + 3]]);
}

function patternOf({ colour }: AppliedFinish): AlbedoPlane | null {
  return 'data' in colour ? colour : null;
}

/** The window's share at places of a stage, read between the cells. */
function sharesAt(shares: LightApart['shares'], at: Int32Array, place: StagePlace): Uint8Array {
  const { width, height, cell, share } = shares;
  const out = new Uint8ClampedArray(at.length);
  for (let n = 0; n < at.length; n++) {
    const row = Math.floor(at[n] / place.width);
    const px = (at[n] - row * place.width + 0.5 - place.x) / place.scale;
    const py = (row + 0.5 - place.y) / place.scale;
    const u = Math.max(0, Math.min(width - 1, px / cell - 0.5));
    const v = Math.max(0, Math.min(height - 1, py / cell - 0.5));
    const [left, top] = [Math.floor(u), Math.floor(v)];
    const [right, below] = [Math.min(width - 1, left + 1), Math.min(height - 1, top + 1)];
    const [fu, fv] = [u - left, v - top];
    const upper = share[top * width + left] * (1 - fu) + share[top * width + right] * fu;
    const lower = share[below * width + left] * (1 - fu) + share[below * width + right] * fu;
    out[n] = upper * (1 - fv) + lower * fv;
  }
  return new Uint8Array(out.buffer);
}

function dithersAt(at: Int32Array, { width, x, y }: StagePlace): Uint8Array {
  return Uint8Array.from(at, (place) => {
    const row = Math.floor(place / width);
    const v = DITHER[0] * (place - row * width - Math.round(x)) + DITHER[1] * (row - Math.round(y));
    const w = DITHER[2] * (v - Math.floor(v));
    return 256 * (w - Math.floor(w));
  });
}
