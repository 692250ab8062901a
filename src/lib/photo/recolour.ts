import type { Lab } from '#lib/colour/index.ts';
import { ENCODE_STEPS, encodingTable } from './encoding.ts';
import { HALF_TO_NUMBER } from './half-float.ts';
import { glossRatio, luminance, type GlossName } from './highlight.ts';
import { checkImage, linearTable, type Image8 } from './image.ts';
import type { LinearRgb } from './light-around.ts';
import { albedoOf, type SurfaceLayers } from './shading.ts';

/** Albedo from place to place, over the box of a surface's layers: device values of the picture's space, stride 3. */
export interface AlbedoPlane {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8Array | Uint8ClampedArray;
}

/** What is put on: a colour (paint, stain, even stone) or a pattern brought into perspective (see `projectPattern`). */
export interface AppliedFinish {
  readonly colour: Lab | AlbedoPlane;
  readonly sheen?: GlossName | null;
}

export interface PaintOptions {
  /**
   * Whether the light a surface throws back into the room changes with its finish, on the surface itself; on by
   * default. The rest of the picture stays as it was photographed.
   */
  readonly bounce?: boolean;
}

/**
 * What the formula needs of one surface with one finish: few numbers, made anew for every candidate. `albedo` is null where
 * a pattern gives it.
 */
export interface PaintParameters {
  readonly albedo: LinearRgb | null;
  readonly face: number;
  readonly gloss: number;
  readonly bounce: LinearRgb;
  readonly ambient: LinearRgb;
}

/** Luminous reflectance of what a room holds besides, common practice in lighting design, no published source. */
const ROOM_REFLECTANCE = 0.4;
/** Some part of a room is always something else than what is painted. */
const MOST_OF_ROOM = 0.9;
/** A photographer would expose anew for a greater change of the room than this. */
const MOST_CHANGE = 1.8;
/** At most so much of the light on a place is thought to come from other surfaces. */
export const MOST_BOUNCED = 0.9;
export { ENCODE_STEPS, encodingTable };
/** Luminance of linear red, green and blue, IEC 61966-2-1; here to tell lighter from darker, in any space. */
export const LUMINANCE = [0.2126, 0.7152, 0.0722] as const;
/** Linear light from which up a picture bends towards white instead of being cut off. */
export const KNEE = 0.8;
/**
 * Factors across, down and of the fraction that make the dither: between 0 and 1, even over every few pixels. Source:
 * Jimenez 2014, Next generation post processing, "interleaved gradient noise".
 */
export const DITHER = [0.06711056, 0.00583715, 52.9829189] as const;

/**
 * Numbers of the per-pixel formula for several surfaces at once, because each finish changes the light on all.
 * On the average a surface gets from others what `lightThrownBack` says; a place in the shade gets more of it (in our
 * renderings in inverse proportion to its light), since it is in the shade for facing other things than windows.
 */
export function paintParameters(
  surfaces: readonly { readonly layers: SurfaceLayers; readonly finish: AppliedFinish }[],
  options: PaintOptions = {},
): PaintParameters[] {
  const all = surfaces.reduce((sum, { layers }) => sum + layers.share, 0);
  // Marks that overlap may add up to more than there is.
  const fitting = MOST_OF_ROOM / Math.max(all, MOST_OF_ROOM);
  const areas = surfaces.map(({ layers }) => fitting * layers.share);
  const albedos = surfaces.map(({ layers, finish }) => meanAlbedo(finish.colour, layers));
  const room = roomReflectance(surfaces.map(({ layers }) => layers));
  const thrown = (reflectances: readonly LinearRgb[]) =>
    evenWhereVaried(
      surfaces,
      [0, 1, 2].map((c) =>
        lightThrownBack(
          areas,
          reflectances.map((albedo) => albedo[c]),
          room[c],
        ),
      ),
    );
  const before = thrown(surfaces.map(({ layers }) => layers.old));
  const after = thrown(albedos);
  const each = (of: (c: number) => number): LinearRgb => [of(0), of(1), of(2)];
  return surfaces.map(({ layers, finish }, k) => ({
    albedo: isPlane(finish.colour) ? null : albedos[k],
    face: layers.face,
    gloss: layers.oldSheen && finish.sheen ? glossRatio(layers.oldSheen, finish.sheen) : 1,
    bounce: each((c) =>
      options.bounce === false
        ? 1
        : Math.max(1 / MOST_CHANGE, Math.min(MOST_CHANGE, after[c][k] / before[c][k])),
    ),
    ambient: each((c) => (layers.meanLight[c] ** 2 * before[c][k]) / (1 + before[c][k])),
  }));
}

/**
 * Light thrown back, by channel and surface. Where the old finish's own colour varies the light's was not read place by
 * place, and what the old finish gave it in the shade is not in it: neither is the change of that colour, or shade would
 * turn green where red wood became white.
 */
function evenWhereVaried(
  surfaces: readonly { readonly layers: SurfaceLayers }[],
  [red, green, blue]: readonly number[][],
): readonly (readonly number[])[] {
  const grey = red.map((r, k) => luminance(r, green[k], blue[k]));
  return [red, green, blue].map((of) => of.map((v, k) => (surfaces[k].layers.varied ? grey[k] : v)));
}

/**
 * Reflectance of what is not painted. Its colour is what else the picture shows, half believed (the root): a camera sees
 * more of the floor than of ceiling and walls. Of our kitchen the picture says 1.15 : 1 : 0.83, the areas of its own
 * paints 1.06 : 1 : 0.91.
 */
function roomReflectance(layers: readonly SurfaceLayers[]): LinearRgb {
  const of = (c: number) =>
    (ROOM_REFLECTANCE * layers.reduce((sum, { others }) => sum + Math.sqrt(others?.[c] ?? 1), 0)) /
    layers.length;
  return [of(0), of(1), of(2)];
}

/**
 * Light that each surface of a closed room gets from others, over what it gets straight from windows and lamps, which is
 * taken as the same everywhere; the last share of the room is what is not painted. Every surface faces every other in
 * proportion to its share, as in an integrating sphere, but none faces itself: doors and walls are flat. What is left of
 * that the rest of the room sees. (In our renderings white instead of dark blue cabinets put 13 % more light on
 * themselves and 25 % more on the walls; with a sphere that sees itself it would be a quarter on both.)
 */
function lightThrownBack(areas: readonly number[], reflectances: readonly number[], room: number): number[] {
  const rest = 1 - areas.reduce((sum, area) => sum + area, 0);
  const squares = areas.reduce((sum, area) => sum + area * area, 0);
  // Where a surface is more than half the room it goes round corners and faces itself after all.
  const apart = squares > 0 ? Math.min(1, (rest * rest) / squares) : 1;
  const lit = areas.map(() => 1);
  let litRest = 1;
  // What comes back gets less by a half or more each time.
  for (let round = 0; round < 40; round++) {
    const total = areas.reduce((sum, area, k) => sum + area * reflectances[k] * lit[k], 0);
    const own = areas.map((area, k) => area * reflectances[k] * lit[k]);
    const fromRest = room * litRest;
    areas.forEach((area, k) => {
      lit[k] = 1 + total - apart * own[k] + (rest + apart * area) * fromRest;
    });
    const squaresLit = areas.reduce((sum, area, k) => sum + area * own[k], 0);
    if (rest > 0)
      litRest = 1 + total + (apart * squaresLit) / rest + (rest - (apart * squares) / rest) * fromRest;
  }
  return lit.map((v) => v - 1);
}

/**
 * The picture with other finishes on. Per pixel, in linear light of the picture's space, channel by channel:
 *
 *     mirror  = face + glow + gloss * (sharp - glow), at least 0
 *     light'  = light + min(MOST_BOUNCED * light, ambient / light) * (bounce - 1)
 *     new     = light' * (albedo + mirror)
 *     out     = shoulder(pixel + sum over the surfaces of (rest - pixel + coverage * new))
 *
 * where shoulder(v) bends what lies above knee = max(KNEE, pixel) towards white instead of cutting it off:
 * knee + (1 - knee) * (1 - exp(-(v - knee) / (1 - knee))).
 * At an edge the old finish was taken out of the mixture beforehand (`sharedPixels`): rest is what is left, 0 where the
 * surface covers a pixel wholly. Where several surfaces share a pixel their changes add up. Device values are dithered,
 * which hides steps where dark has become light. A graphics processor can do the same from the same planes and the
 * constants above.
 * Pixels outside the masks stay bit by bit. Throws RangeError where layers belong to a picture of another size or space.
 */
export function paintOver(
  image: Image8,
  surfaces: readonly { readonly layers: SurfaceLayers; readonly finish: AppliedFinish }[],
  options: PaintOptions = {},
): Image8 {
  checkImage(image);
  const { width, height, channels, space } = image;
  for (const { layers, finish } of surfaces) checkFit(image, layers, finish);
  const parameters = paintParameters(surfaces, options);
  const data = new Uint8ClampedArray(image.data);
  const painted = new Float32Array(3 * width);
  const touched = new Uint8Array(width);
  const table = linearTable(space);
  const encode = encodingTable(table);
  for (let y = 0; y < height; y++) {
    let any = false;
    surfaces.forEach(({ layers, finish }, k) => {
      const row = y - layers.box.y;
      if (row < 0 || row >= layers.box.height) return;
      if (!any) {
        touched.fill(0);
        any = true;
        for (let x = 0, i = y * width * channels; x < width; x++, i += channels)
          for (let c = 0; c < 3; c++) painted[3 * x + c] = table[image.data[i + c]];
      }
      const plane = isPlane(finish.colour) ? finish.colour.data : null;
      paintRow({ image, layers, plane, row, table, painted, touched, parameters: parameters[k] });
    });
    if (!any) continue;
    for (let x = 0, i = y * width * channels; x < width; x++, i += channels) {
      if (!touched[x]) continue;
      const shift = dither(x, y);
      for (let c = 0; c < 3; c++) {
        const v = shoulder(painted[3 * x + c], table[image.data[i + c]]);
        data[i + c] = Math.floor(
          (v <= 0 ? 0 : v >= 1 ? 255 : encode[(Math.sqrt(v) * ENCODE_STEPS) | 0]) + shift,
        );
      }
    }
  }
  return { ...image, data };
}

interface Row {
  readonly image: Image8;
  readonly layers: SurfaceLayers;
  readonly plane: Uint8Array | Uint8ClampedArray | null;
  readonly row: number;
  readonly table: Float64Array;
  readonly painted: Float32Array;
  readonly touched: Uint8Array;
  readonly parameters: PaintParameters;
}

function paintRow({ image, layers, plane, row, table, painted, touched, parameters }: Row): void {
  const { box, coverage, rest, light, glow } = layers;
  const { albedo, face, gloss, bounce, ambient } = parameters;
  const { data, channels, width } = image;
  for (let x = 0, o = row * box.width; x < box.width; x++, o++) {
    if (coverage[o] === 0) continue;
    const share = coverage[o] / 255;
    touched[x + box.x] = 1;
    const i = ((row + box.y) * width + x + box.x) * channels;
    const sharp = HALF_TO_NUMBER[light[4 * o + 3]];
    const wide = HALF_TO_NUMBER[glow[o]];
    const mirror = Math.max(0, face + wide + gloss * (sharp - wide));
    for (let c = 0; c < 3; c++) {
      const fall = HALF_TO_NUMBER[light[4 * o + c]];
      const shaded = ambient[c] / Math.max(fall, 1e-6);
      const bounced = fall * MOST_BOUNCED < shaded ? fall * MOST_BOUNCED : shaded;
      const body = albedo ? albedo[c] : table[plane![3 * o + c]];
      const now = (fall + bounced * (bounce[c] - 1)) * (body + mirror);
      const pixel = table[data[i + c]];
      const left = share < 1 ? table[rest[3 * o + c]] : 0;
      painted[3 * (x + box.x) + c] += left - pixel + share * now;
    }
  }
}

function dither(x: number, y: number): number {
  const v = DITHER[0] * x + DITHER[1] * y;
  const w = DITHER[2] * (v - Math.floor(v));
  return w - Math.floor(w);
}

function shoulder(value: number, pixel: number): number {
  const knee = pixel > KNEE ? pixel : KNEE;
  if (value <= knee || knee > 0.999) return value;
  return knee + (1 - knee) * (1 - Math.exp((knee - value) / (1 - knee)));
}

function isPlane(colour: Lab | AlbedoPlane): colour is AlbedoPlane {
  return 'data' in colour;
}

function meanAlbedo(colour: Lab | AlbedoPlane, layers: SurfaceLayers): LinearRgb {
  if (!isPlane(colour)) return albedoOf(colour, layers.picture.space);
  const table = linearTable(layers.picture.space);
  const sums = [0, 0, 0];
  let count = 0;
  for (let o = 0; o < layers.coverage.length; o += 7)
    if (layers.coverage[o] > 0) {
      count++;
      for (let c = 0; c < 3; c++) sums[c] += table[colour.data[3 * o + c]];
    }
  return count === 0 ? layers.old : [sums[0] / count, sums[1] / count, sums[2] / count];
}

function checkFit(image: Image8, { box, picture }: SurfaceLayers, { colour }: AppliedFinish): void {
  if (picture.width !== image.width || picture.height !== image.height || picture.space !== image.space)
    throw new RangeError(
      `Expected layers of a picture of ${image.width}x${image.height} in ${image.space}, ` +
        `got ${picture.width}x${picture.height} in ${picture.space}`,
    );
  if (isPlane(colour) && (colour.width !== box.width || colour.height !== box.height))
    throw new RangeError(
      `Expected a pattern over ${box.width}x${box.height} like the surface, got ${colour.width}x${colour.height}`,
    );
}
