import { WHITE_RGB, labToXyz, xyzToLinearRgb, type Lab, type RgbSpace } from '#lib/colour/index.ts';
import { sharedPixels } from './edge-rest.ts';
import { finishAsSeen, medianMeasures, type Reflecting } from './finish-as-seen.ts';
import { NOISE, decoded, deviceValues, grainOf, hasGrain } from './material-grain.ts';
import { toHalf } from './half-float.ts';
import { FACE_SHARE, faceShare, luminance, type GlossName, type Tint } from './highlight.ts';
import { checkImage, type Image8 } from './image.ts';
import { colourVaries, lightColours } from './light-colour.ts';
import { lightAround, type LightAround, type LinearRgb } from './light-around.ts';
import { maskBox, type Mask, type MaskBox } from './mask.ts';
import { evenedAlong, gapDepths, stepsAlong } from './face-light.ts';
import { colourNoise, mirroredShares } from './mirrored-shares.ts';
import type { LightShares } from './light-shares.ts';
import { inWhiteLight, tintsOver } from './light-tints.ts';
import { blur, fillHoles, guidedSmooth } from './plane-filters.ts';
import {
  BLACK,
  GLARE,
  RIM,
  SPARK,
  doubtsOf,
  partWords,
  surfacePixels,
  type SurfacePixels,
} from './surface-pixels.ts';

/**
 * Once per surface: what of its pixels is light and what is paint. See `surfaceLayers`.
 */

export type SurfaceTexture = 'none' | 'hide' | 'keep' | 'hide if any';

export interface LayerOptions {
  /** The finish that is on the surface now, where it is known; otherwise it is estimated (see `lightAround`). */
  readonly old?: Lab | null;
  /** Its sheen; without it a new sheen changes nothing. */
  readonly oldSheen?: GlossName | null;
  /**
   * What happens to fine texture (grain of wood, veins of stone): `none` where there is none to speak of, `hide` under
   * another material, `keep` under stain; `hide if any`, for paint, looks for it first and leaves gaps between doors.
   */
  readonly texture?: SurfaceTexture;
  /** How much of the light on each place is the window's, where that was told apart: what is put on stands in that very light. */
  readonly shares?: LightShares | null;
}

/** A surface taken apart, over the smallest box of the picture that holds its mask. */
export interface SurfaceLayers {
  readonly box: MaskBox;
  readonly picture: { readonly width: number; readonly height: number; readonly space: RgbSpace };
  /**
   * Four halves a pixel (binary16, a half-float texture): the light on the surface in red, green, blue (1: as on the
   * white paper), and how much more of it than `face` is mirrored there (negative: less).
   */
  readonly light: Uint16Array;
  /** One half a pixel: the fourth of `light`, spread out as a dull face would. */
  readonly glow: Uint16Array;
  /** Coverage 0-255, at edges as the picture has it. */
  readonly coverage: Uint8Array;
  /** Device values, stride 3, of what else a pixel shows that is not wholly covered: see `sharedPixels`. */
  readonly rest: Uint8Array;
  /** Albedo of the old finish, linear, and the share of the light its face mirrors on the average. */
  readonly old: LinearRgb;
  readonly face: number;
  readonly oldSheen: GlossName | null;
  /** Whether the old finish's own colour varies (wood, stone, tiles), so that the light's was not read place by place. */
  readonly varied?: boolean;
  /**
   * Mean light on the surface, its share of the room and the colour of what else is in it (mean reflectance over its
   * luminance; neutral where absent): what the bounce of a new finish is reckoned from.
   */
  readonly meanLight: LinearRgb;
  readonly share: number;
  readonly others?: LinearRgb;
  /** Sentences about what the picture could not show; empty where all is well. */
  readonly notes: readonly string[];
}

/** Nothing painted reflects more than this in any channel. */
const WHITEST = 0.92;
/** An albedo darker than this is taken for this dark: below it a picture holds no light to take apart. */
const DARKEST = 0.004;

/**
 * Takes a surface apart into light, mirrored light and coverage, so that another finish can be put on by a formula per
 * pixel (see `paintOver`). The picture is the corrected one (white paper is white); the mask says which pixels.
 * light = pixel / (albedo + k) with k from colour where colour can tell (see `faceShares`). Noise is smoothed out of it,
 * its edges stay; burnt-out and black pixels and those that show a neighbour too take their light from around them.
 * Throws RangeError where mask and picture differ in size.
 */
export function surfaceLayers(image: Image8, mask: Mask, options: LayerOptions = {}): SurfaceLayers {
  checkImage(image);
  if (mask.width !== image.width || mask.height !== image.height)
    throw new RangeError(
      `Expected a mask of ${image.width}x${image.height} like the picture, got ${mask.width}x${mask.height}`,
    );
  const { oldSheen = null } = options;
  const picture = { width: image.width, height: image.height, space: image.space };
  const box = maskBox(mask);
  if (!box) return { ...NOTHING, picture, oldSheen, old: albedoOf(options.old ?? GREY, image.space) };

  const shares = options.shares?.told === 'apart' ? options.shares : null;
  const tints = shares && tintsOver(shares, box);
  const shown = surfacePixels(image, mask, box);
  const cut = tints ? inWhiteLight(shown, tints) : shown;
  const size = { width: box.width, height: box.height };
  const longSide = Math.max(image.width, image.height);
  const wanted = options.texture ?? 'none';
  const texture = wanted !== 'hide if any' ? wanted : hasGrain(cut, { size, longSide }) ? 'hide' : 'none';
  const notes = doubtsOf(cut);
  const known = options.old ?? null;
  const around = lightAround(image, mask, shares);
  const { tint, agreed } = around;
  const { old, face } = known
    ? knownFinish(known, { cut, around, space: image.space, face: faceShare(oldSheen) })
    : estimatedFinish(cut, around.light);

  const gaps = options.texture === 'hide if any';
  const { planes, varied, grain } = apart(cut, {
    size,
    longSide,
    old,
    face,
    tint,
    agreed,
    texture,
    gaps,
    white: shares !== null,
  });
  if (tints)
    for (let c = 0; c < 3; c++) for (let i = 0; i < planes[c].length; i++) planes[c][i] *= tints[c][i];
  const meanLight = meanOf(planes, cut);
  const glaring = glaringPart(planes, cut);
  if (cut.burnt <= 0.05 * cut.inside && glaring > 0.05)
    notes.push(
      `${partWords(glaring)} of this surface stands in so much light that a pale finish burns out there and shows no pattern.`,
    );
  const shared = sharedPixels(image, cut, {
    box,
    shown: (at, out) => {
      const reflected = face + planes[3][at];
      for (let c = 0; c < 3; c++) out[c] = planes[c][at] * (old[c] + reflected);
    },
    grain,
    brighten: (at, factor) => {
      for (let c = 0; c < 3; c++) planes[c][at] *= factor;
    },
  });
  return {
    box,
    picture,
    ...packed(planes),
    ...shared,
    old,
    face,
    oldSheen,
    varied,
    meanLight,
    share: cut.share,
    others: around.others,
    notes,
  };
}

const GREY: Lab = { L: 50, a: 0, b: 0 };
const NOTHING = {
  box: { x: 0, y: 0, width: 0, height: 0 },
  light: new Uint16Array(0),
  glow: new Uint16Array(0),
  coverage: new Uint8Array(0),
  rest: new Uint8Array(0),
  face: FACE_SHARE,
  meanLight: [0, 0, 0],
  share: 0,
  notes: ['Nothing is marked on this picture yet, so nothing changes.'],
} as const;

/** Linear albedo of a finish's colour in a space, no channel below 0. */
export function albedoOf(lab: Lab, space: RgbSpace): LinearRgb {
  if (!(Number.isFinite(lab.L) && Number.isFinite(lab.a) && Number.isFinite(lab.b)))
    throw new RangeError(`Expected a finite Lab, got L ${lab.L}, a ${lab.a}, b ${lab.b}`);
  const { r, g, b } = xyzToLinearRgb(labToXyz(lab, WHITE_RGB), space);
  return [Math.max(0, r), Math.max(0, g), Math.max(0, b)];
}

/**
 * Albedo and mirrored share of an unknown finish: median of the trusted pixels over the light they probably stand in. A
 * surface cannot mirror more than its darkest channel shows: of that, two fifths at most.
 */
function estimatedFinish(
  { counts, trusted, burnt, black, table }: SurfacePixels,
  light: LinearRgb,
): { old: LinearRgb; face: number } {
  if (trusted === 0) {
    const even = burnt >= black ? 0.9 : DARKEST;
    return { old: [even, even, even], face: FACE_SHARE };
  }
  const seen = [0, 1, 2].map((c) => {
    let value = 0;
    for (let sum = 0; value < 255 && (sum += counts[c][value]) <= trusted / 2;) value++;
    return Math.max(DARKEST, table[value] / light[c]);
  });
  const face = Math.min(FACE_SHARE, 0.4 * Math.min(...seen));
  // Where it looks whiter than white, more light falls on it than on the rest: its colour stays.
  const fitting = Math.min(1, WHITEST / (Math.max(...seen) - face));
  const body = (c: number) => fitting * (seen[c] - face);
  return { old: [body(0), body(1), body(2)], face };
}

/** Albedo and mirrored share of a known finish: as the picture shows it, where it can be believed. */
function knownFinish(
  lab: Lab,
  options: { cut: SurfacePixels; around: LightAround; space: RgbSpace; face: number },
): Reflecting {
  const { cut, around, space, face } = options;
  const seen = medianMeasures(cut);
  if (!seen) return { old: albedoOf(lab, space), face };
  return finishAsSeen({ lab, face }, { albedoOf: (like) => albedoOf(like, space), seen, around });
}

interface Apart {
  readonly size: { readonly width: number; readonly height: number };
  readonly longSide: number;
  readonly old: LinearRgb;
  readonly face: number;
  readonly tint: Tint;
  /** The tint for what varies in colour itself: see `lightAround`. */
  readonly agreed: Tint;
  readonly texture: 'none' | 'hide' | 'keep';
  /** Whether narrow gaps stay where texture goes. */
  readonly gaps: boolean;
  /** Whether the light is white wherever it falls. */
  readonly white: boolean;
}

/** Light in three channels, the mirrored share beyond `face`, and the same spread out. */
type Planes = readonly [Float32Array, Float32Array, Float32Array, Float32Array, Float32Array];

function apart(cut: SurfacePixels, options: Apart): { planes: Planes; varied: boolean; grain: number } {
  const { size, longSide, old, face, texture } = options;
  const { rgb } = cut;
  const n = cut.weight.length;
  const value = deviceValues(cut);
  const grain = texture === 'hide' ? grainOf(value, cut.weight, { size, longSide }) : null;
  const gaps =
    grain && options.gaps
      ? gapDepths(value, cut.weight, {
          size,
          grain: grain.deviation,
          radius: Math.max(2, Math.round(longSide / 320)),
          least: longSide / 25,
        })
      : null;
  const weight = gaps ? cut.weight.map((w, i) => (gaps[i] > 0 ? 0 : w)) : cut.weight;
  const smooth = rgb.map((plane) => plane.slice()) as [Float32Array, Float32Array, Float32Array];
  blur(smooth, weight, size, Math.max(1, Math.round(longSide / 450)));
  const even = guidedSmooth(value, weight, {
    size,
    radius: grain ? grain.radius : Math.max(1, Math.round(longSide / 700)),
    variance: Math.max(2 * NOISE ** 2, grain ? (EDGE * grain.deviation) ** 2 : 0),
  });

  const mirrored = mirroredShares(smooth, { ...cut, weight }, options);
  const varied = texture !== 'none' || colourVaries(smooth, weight, { size, longSide });
  const colour = lightColours(
    smooth,
    mirrored,
    { weight },
    { ...options, tint: varied ? options.agreed : options.tint, varied, noise: colourNoise(cut) },
  );
  for (let i = 0; i < n; i++) {
    if (!weight[i]) continue;
    const k = face + mirrored[i];
    const red = colour.red[i];
    const blue = colour.blue[i];
    // As bright as the pixel, in the drawn tint: of grain under stain only how dark it is, for in red wood its greens and
    // blues are mostly haze.
    const seen = decoded(texture === 'keep' ? value[i] : even[i]);
    const light = seen / luminance(red * (old[0] + k), old[1] + k, blue * (old[2] + k));
    smooth[0][i] = light * red;
    smooth[1][i] = light;
    smooth[2][i] = light * blue;
  }
  const planes = [...smooth, mirrored];
  if (!fillHoles(planes, weight, { ...size, wanted: cut.coverage })) {
    // Nothing to go by: even light, so that the finish shows its own colour.
    for (const plane of smooth) plane.fill(1);
    mirrored.fill(0);
  } else {
    if (grain) {
      const steps = stepsAlong(even, gaps, { size, inside: cut.coverage, step: EDGE * grain.deviation });
      evenedAlong(planes, weight, { size, ...steps, reach: longSide / 12 });
      fillHoles(planes, weight, { ...size, wanted: cut.coverage });
    }
    for (let i = 0; gaps && i < n; i++)
      if (gaps[i] > 0)
        for (const plane of smooth) plane[i] *= decoded(value[i]) / decoded(value[i] + gaps[i]);
    fillEnds(cut, { light: smooth, mirrored, old, face, grain: grain?.relative ?? 0 });
  }
  const glow = mirrored.slice();
  const inside = Float32Array.from(cut.coverage, (v) => (v > 0 ? 1 : 0));
  blur([glow], inside, size, Math.max(2, Math.round(longSide / 40)));
  return { planes: [smooth[0], smooth[1], smooth[2], mirrored, glow], varied, grain: grain?.relative ?? 0 };
}

/** So many times the grain's usual deviation is no grain any more. A guess. */
const SURELY = 2;
/** How many times the grain's usual deviation is an edge and no grain. */
const EDGE = 3.5;

/**
 * Pixels at an end of the range, once their surroundings have filled them. What the light around a burnt-out spot does not
 * explain is a highlight; in a large burnt-out area the light itself is raised until the old finish is as bright as the
 * picture shows. A black pixel is at most as bright as black.
 */
function fillEnds(
  { rgb, state }: SurfacePixels,
  {
    light,
    mirrored,
    old,
    face,
    grain,
  }: { light: readonly Float32Array[]; mirrored: Float32Array; grain: number } & Pick<Apart, 'old' | 'face'>,
): void {
  const least = (BLACK + 0.5) / 255 / 12.92;
  for (let i = 0; i < state.length; i++) {
    if (state[i] === 0 || state[i] === RIM) continue;
    const fall = Math.max(1e-4, luminance(light[0][i], light[1][i], light[2][i]));
    const body = luminance(light[0][i] * old[0], light[1][i] * old[1], light[2][i] * old[2]);
    // Grain that is hidden makes no highlight.
    const seen = luminance(rgb[0][i], rgb[1][i], rgb[2][i]) / (1 + SURELY * grain);
    if (state[i] === SPARK) {
      const mirror = (seen - body) / fall - face;
      if (mirror > mirrored[i]) mirrored[i] = Math.min(4, mirror);
    } else if (state[i] === GLARE) {
      mirrored[i] = Math.min(mirrored[i], face);
      const raise = seen / (body + fall * (face + mirrored[i]));
      if (raise > 1) for (let c = 0; c < 3; c++) light[c][i] *= raise;
    } else
      for (let c = 0; c < 3; c++) {
        const most = least / (old[c] + face);
        if (light[c][i] > most) light[c][i] = most;
      }
  }
}

/** Light in which a white finish (0.8 of it thrown back, common practice for white paint) is whiter than a picture can be. */
const GLARING = 1.25;

/** Part of the trusted pixels in such light. */
function glaringPart([red, green, blue]: Planes, { weight, trusted }: SurfacePixels): number {
  let count = 0;
  for (let i = 0; i < weight.length; i++)
    if (weight[i] > 0 && luminance(red[i], green[i], blue[i]) > GLARING) count++;
  return trusted > 0 ? count / trusted : 0;
}

function meanOf(planes: Planes, { coverage, trusted, weight }: SurfacePixels): LinearRgb {
  const sums = [0, 0, 0];
  let count = 0;
  for (let i = 0; i < weight.length; i++) {
    if (trusted > 0 ? weight[i] === 0 : coverage[i] === 0) continue;
    count++;
    for (let c = 0; c < 3; c++) sums[c] += planes[c][i];
  }
  return [sums[0] / count, sums[1] / count, sums[2] / count];
}

function packed(planes: Planes): { light: Uint16Array; glow: Uint16Array } {
  const n = planes[0].length;
  const light = new Uint16Array(4 * n);
  const glow = new Uint16Array(n);
  for (let i = 0; i < n; i++) {
    for (let c = 0; c < 4; c++) light[4 * i + c] = toHalf(planes[c][i]);
    glow[i] = toHalf(planes[4][i]);
  }
  return { light, glow };
}
