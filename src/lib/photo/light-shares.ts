import type { Lab } from '#lib/colour/index.ts';
import { checkImage, linearTable, type Image8 } from './image.ts';
import type { LinearRgb } from './light-around.ts';
import { coloursAround } from './colours-around.ts';
import { BURNT, NOBODY, cellsUnder, lightGrid, seenAt, type LightGrid, type Ratios } from './light-grid.ts';
import { cellShare, lightSlope, materials, type TwoLights } from './light-materials.ts';
import { shining } from './light-sources.ts';
import type { Mask } from './mask.ts';
import { sunPatches } from './sun-patches.ts';
import { fillHoles, guidedSmooth } from './plane-filters.ts';
import type { Point } from './region.ts';
import { albedoOf } from './shading.ts';

/** A marked surface as far as its colour is known. */
export interface LitSurface {
  readonly mask: Mask;
  /** What is on it, where that is known. */
  readonly old: Lab | null;
}

/**
 * Places somebody pointed at, pixels: white or grey things that one kind of light alone falls on, or nearly so; where it is
 * burnt out and no surface is marked, the window or the lamp itself.
 */
export interface LightPlaces {
  readonly window: readonly Point[];
  readonly lamps: readonly Point[];
}

/** How much of the light on each place of a picture comes through the window, the rest coming from lamps. */
export interface LightShares {
  readonly picture: { readonly width: number; readonly height: number };
  /**
   * `apart`: each place has its share of either light. `panes`: the lights could not be told apart, and the share only
   * says where the window itself is seen and what patches of sun have more than the surface beside them.
   */
  readonly told: 'apart' | 'panes';
  /** Of the grid; each of its cells stands for `cell` x `cell` pixels. */
  readonly width: number;
  readonly height: number;
  readonly cell: number;
  /** The window's share of the green light, 0-255 for 0-1. To be read with linear interpolation. */
  readonly share: Uint8Array;
  /** Colour of either light, linear, green 1. */
  readonly window: LinearRgb;
  readonly lamps: LinearRgb;
  /** The window's share of all the light in the picture, 0-1; for `panes` it is taken to be all of it. */
  readonly mean: number;
  /**
   * Colour of what stands at each place, linear ratios to the brightest channel, 0-255, on a coarser grid; where a surface
   * is burnt out it runs on from around, glass has none. The fourth value of a cell is 255, or 0 where nothing is known of it.
   */
  readonly around: {
    readonly width: number;
    readonly height: number;
    readonly cell: number;
    readonly data: Uint8Array;
  };
  /** The part of the picture that is the window itself, seen through, 0-1; 0 where it was not pointed at. */
  readonly seen: number;
}

/**
 * The window's share at places said to be lit by the window or by lamps alone: surfaces throw the other light there as
 * well. Read off one rendered kitchen, a guess elsewhere.
 */
const AT_WINDOW = 0.9;
const AT_LAMPS = 0.2;
/** White things of a room are a little yellow, trim and ceilings too. Common practice, no published source. */
const WHITE_PAINT: Lab = { L: 92, a: 0, b: 3 };
/** Two lights whose ln channel ratios differ by less cannot be told apart from two paints. */
const LEAST_APART = 0.15;
/** From this share on the lamps' light is read from around a place: what is left for it there is noise. */
const OVERPOWERED = 0.85;
/** How far the direction between two lights is known, sd in radians: read off surfaces, or from two places alone. A guess. */
const SURE = { surfaces: 0.05, places: 0.3 } as const;
/**
 * Where only panes are looked for, glass is as bright as this at least, device value of the brightest channel, and reaches
 * so far below what was pointed at.
 */
const PANE = { least: 220, below: 8 } as const;
/** Nothing has a smaller channel ratio. */
const LEAST_RATIO = 0.02;

/**
 * Tells the light of a window from that of lamps in a corrected picture: the share of either on every place. On one
 * surface the colour moves only with the light, on a line between surface x window and surface x lamps (two lights of
 * known colour, as in Hsu and others 2008, Light mixture estimation for spatially varying white balance, ACM TOG 27(3),
 * section 3; there materials come from a vote, here from the marks of surfaces). The direction of that line tells a
 * surface's own colour; where it does not, it is the one that makes the share run on across borders; what is not marked
 * takes the share of what surrounds it. `old` of a surface is used where known; a surface on which a place was pointed at
 * is otherwise a white of rooms there. The window itself, where it was pointed at, has the window's light alone: it is the
 * outside, but for what the glass mirrors. Where the lights cannot be told apart, the window alone is (`told: 'panes'`), with
 * the sun that it lets in.
 * Null where nothing can be told. `note` says why not, or what is doubtful, or is null.
 * Throws RangeError where masks and picture differ in size.
 */
export function lightShares(
  image: Image8,
  surfaces: readonly LitSurface[],
  places: LightPlaces,
): { shares: LightShares | null; note: string | null } {
  checkImage(image);
  for (const { mask } of surfaces)
    if (mask.width !== image.width || mask.height !== image.height)
      throw new RangeError(
        `Expected masks of ${image.width}x${image.height} like the picture, got ${mask.width}x${mask.height}`,
      );
  const grid = lightGrid(
    image,
    surfaces.map(({ mask }) => mask),
  );
  const read = (kind: 'window' | 'lamps') => {
    const seen = seenAt(image, places[kind]);
    const free = seen.filter(({ x, y }) => grid.pixelOwner[y * image.width + x] === NOBODY);
    return {
      itself: free.filter(({ burnt }) => burnt),
      bright: free.filter(({ brightest }) => brightest >= PANE.least),
      lit: seen.filter(({ burnt, black }) => !burnt && !black),
    };
  };
  const [byWindow, byLamps] = [read('window'), read('lamps')];
  const seen = { window: byWindow, lamps: byLamps };
  const { pixelOwner } = grid;
  const panesAlone = (note: string) => {
    const seeds = byWindow.bright;
    const from = Math.min(BURNT, ...seeds.map(({ brightest }) => brightest - PANE.below));
    const panes = shining(image, { pixelOwner, seeds, lights: null, from, glass: true });
    return { shares: panes && onlyPanes(image, grid, panes), note };
  };
  if (grid.owner.every((j) => j === NOBODY))
    return panesAlone(
      'Mark surfaces in this photo first: the two lights are told apart by how they change on a surface.',
    );
  for (const kind of ['window', 'lamps'] as const)
    if (seen[kind].lit.length === 0)
      return panesAlone(
        `Point at something white or grey that only ${kind === 'window' ? 'the window lights' : 'lamps light'}, neither burnt out nor black.`,
      );

  const pointed = new Set<number>();
  const white = ratiosOf(WHITE_PAINT, image) ?? [1, 1];
  const colour = (kind: 'window' | 'lamps'): Ratios => {
    const logs = [0, 0];
    const { lit } = seen[kind];
    for (const { ratios, x, y } of lit) {
      const j = grid.pixelOwner[y * image.width + x];
      if (j !== NOBODY) pointed.add(j);
      const old = j === NOBODY ? null : ratiosOf(surfaces[j].old, image);
      for (let c = 0; c < 2; c++) logs[c] += Math.log(ratios[c] / (old ?? white)[c]) / lit.length;
    }
    return [Math.exp(logs[0]), Math.exp(logs[1])];
  };
  const [day, lit] = [colour('window'), colour('lamps')];
  if (Math.hypot(Math.log(day[0] / lit[0]), Math.log(day[1] / lit[1])) < LEAST_APART)
    return panesAlone(
      'The light at both kinds of places has nearly the same colour, so it cannot be told apart.',
    );
  const known = surfaces.map(({ old }, j) => ratiosOf(old, image) ?? (pointed.has(j) ? white : null));
  const slope = lightSlope(grid, known);
  const lights = wholeLights(day, lit, slope);
  const sure = slope === null ? SURE.places : SURE.surfaces;
  const glowing = shining(image, {
    pixelOwner,
    seeds: byLamps.itself,
    lights: null,
    from: BURNT,
    glass: false,
  });
  const cells = cellShares(grid, materials(grid, known, { lights, sure }), {
    lights,
    glowing: cellsUnder(glowing, image, grid),
  });
  const panes = shining(image, { pixelOwner, seeds: byWindow.itself, lights, from: BURNT, glass: true });
  const share = pixelShares(image, grid, cells);
  if (panes) {
    const through = throughGlass(image, grid, panes);
    for (let p = 0; p < share.length; p++)
      if (panes[p] > 0)
        share[p] = Math.min(through[p] + Math.round(((255 - panes[p]) * share[p]) / 255), 255);
  }
  const [window, lamps] = [lights.day, lights.lamps].map(([r, b]): LinearRgb => [r, 1, b]);
  return {
    shares: {
      picture: { width: image.width, height: image.height },
      told: 'apart',
      width: image.width,
      height: image.height,
      cell: 1,
      share,
      window,
      lamps,
      mean: meanShare(grid, cells.share),
      around: coloursAround(grid, {
        tint: (at) => {
          const v = cells.share[at];
          return [0, 1].map((c) => v * lights.day[c] + (1 - v) * lights.lamps[c]) as [number, number];
        },
        readable: (at) => cells.from[at] === READ_THERE,
        glass: cellsUnder(panes, image, grid),
        glowing: Float32Array.from(cells.from, (from) => (from === FROM_WINDOW_AROUND ? 1 : 0)),
      }),
      seen: panes ? covered(panes) : 0,
    },
    note: known.some((ratios) => ratios !== null)
      ? null
      : 'No surface of known colour was pointed at, so how much light is whose is a guess.',
  };
}

/** The panes alone, and with them the patches of sun that come through them. */
function onlyPanes(image: Image8, grid: LightGrid, panes: Uint8Array): LightShares {
  const { width, height } = image;
  const share = throughGlass(image, grid, panes);
  const sun = sunPatches(image, grid);
  if (sun) for (let p = 0; p < share.length; p++) share[p] = Math.max(share[p], sun.share[p]);
  return {
    picture: { width, height },
    told: 'panes',
    width,
    height,
    cell: 1,
    share,
    window: [1, 1, 1],
    lamps: [1, 1, 1],
    mean: 1,
    around: coloursAround(grid, {
      tint: () => [1, 1],
      readable: (at) => !sun?.cells[at],
      glass: cellsUnder(panes, image, grid),
      glowing: new Float32Array(grid.owner.length),
    }),
    seen: covered(panes),
  };
}

/** A pane mirrors so much of a room: two faces, each 4 % (Fresnel, index 1.5). */
const MIRRORED = 0.08;

/** The window's part of the light on panes: all but what they mirror of the room. */
function throughGlass(image: Image8, { light, burnt }: LightGrid, panes: Uint8Array): Uint8Array {
  const { channels, data } = image;
  const table = linearTable(image.space);
  let [sum, count] = [0, 0];
  for (let at = 0; at < burnt.length; at++)
    if (!burnt[at]) {
      sum += light[3 * at + 1];
      count++;
    }
  const mirrored = count > 0 ? (MIRRORED * sum) / count : 0;
  return panes.map((part, p) => {
    if (part === 0) return 0;
    const i = p * channels;
    const here = table[Math.max(data[i], data[i + 1], data[i + 2])];
    return Math.round(part * (1 - Math.min(1, mirrored / Math.max(1e-3, here))));
  });
}

function covered(panes: Uint8Array): number {
  return panes.reduce((sum, v) => sum + v, 0) / 255 / panes.length;
}

function ratiosOf(old: Lab | null, image: Image8): Ratios | null {
  if (!old) return null;
  const [r, g, b] = albedoOf(old, image.space);
  return g > 0.002 ? [Math.max(0.05, r / g), Math.max(0.05, b / g)] : null;
}

/**
 * From the light at the places along the line of their mixtures to where either would be alone. Blue is what a bright window
 * burns out first: with `slope` it is reckoned from the window's red.
 */
function wholeLights(day: Ratios, lamp: Ratios, slope: number | null): TwoLights {
  const whole = [0, 1].map((c) => (day[c] - lamp[c]) / (AT_WINDOW - AT_LAMPS));
  const ends = (share: number) =>
    [0, 1].map((c) => Math.max(LEAST_RATIO, lamp[c] + share * whole[c])) as [number, number];
  const lights = { day: ends(1 - AT_LAMPS), lamps: ends(-AT_LAMPS) };
  if (slope !== null)
    lights.day[1] = Math.max(LEAST_RATIO, lights.lamps[1] + slope * (lights.day[0] - lights.lamps[0]));
  return lights;
}

/** What a cell's share is read from. */
const READ_THERE = 0;
const FROM_LAMPS_AROUND = 1;
const FROM_WINDOW_AROUND = 2;

interface CellShares {
  readonly share: Float32Array;
  /** One of the three above: of the pixels of a cell the weaker light is taken to run on from around. */
  readonly from: Uint8Array;
  /** Green light of either kind on the cells. */
  readonly daylight: Float32Array;
  readonly lamplight: Float32Array;
}

/** Shares on all cells: read on surfaces, smoothed of grain, taken from around elsewhere. */
function cellShares(
  grid: LightGrid,
  found: readonly (Ratios | null)[],
  { lights, glowing }: { readonly lights: TwoLights; readonly glowing: Float32Array },
): CellShares {
  const { width, height, owner, burnt, light } = grid;
  const size = { width, height };
  const share = new Float32Array(owner.length);
  const weight = new Float32Array(owner.length);
  for (let at = 0; at < owner.length; at++) {
    const material = owner[at] === NOBODY ? null : found[owner[at]];
    if (!material || burnt[at]) continue;
    weight[at] = 1;
    share[at] = Math.max(0, Math.min(1, cellShare(grid, at, [material, lights])));
  }
  const smooth = guidedSmooth(share, weight, { size, radius: 3, variance: 0.1 ** 2 });
  for (let at = 0; at < smooth.length; at++) if (weight[at] === 0) smooth[at] = 0;
  fillHoles([smooth], weight, size);
  // Where the sun leaves hardly anything for the lamps, and where it burns the picture out, their light is taken to run on
  // from around, and so is the window's on lamps that were pointed at; so it is at the borders of such places, where a cell holds both.
  const sunny = smooth.map((v, at) => (!glowing[at] && (v > OVERPOWERED || (burnt[at] && v > 0.5)) ? 1 : 0));
  const lamplight = smooth.map((v, at) => (1 - v) * light[3 * at + 1]);
  const daylight = smooth.map((v, at) => v * light[3 * at + 1]);
  const from = new Uint8Array(owner.length);
  for (let y = 0, at = 0; y < height; y++)
    for (let x = 0; x < width; x++, at++) {
      if (anyNear(glowing, { x, y, size })) from[at] = FROM_WINDOW_AROUND;
      else if (anyNear(sunny, { x, y, size })) from[at] = FROM_LAMPS_AROUND;
    }
  const trusted = (kind: number) => Float32Array.from(from, (v) => (v === kind ? 0 : 1));
  if (!fillHoles([lamplight], trusted(FROM_LAMPS_AROUND), size)) from.fill(READ_THERE);
  if (!fillHoles([daylight], trusted(FROM_WINDOW_AROUND), size)) from.fill(READ_THERE);
  for (let at = 0; at < smooth.length; at++)
    smooth[at] = shareFrom(from[at], smooth[at], {
      lamplight: lamplight[at],
      daylight: daylight[at],
      light: light[3 * at + 1],
    });
  return { share: smooth, from, daylight, lamplight };
}

/** What runs on from around has at most this share: the place itself is the other light's. */
const MOST_FROM_AROUND = 0.6;

function shareFrom(
  from: number,
  share: number,
  {
    lamplight,
    daylight,
    light,
  }: { readonly lamplight: number; readonly daylight: number; readonly light: number },
): number {
  if (from === FROM_LAMPS_AROUND) return 1 - Math.min(MOST_FROM_AROUND, lamplight / Math.max(1e-3, light));
  if (from === FROM_WINDOW_AROUND) return Math.min(MOST_FROM_AROUND, daylight / Math.max(1e-3, light));
  return share;
}

const BORDER = 2;

function anyNear(
  plane: Float32Array,
  { x, y, size }: { x: number; y: number; size: { width: number; height: number } },
): boolean {
  for (let v = Math.max(0, y - BORDER); v <= Math.min(size.height - 1, y + BORDER); v++)
    for (let u = Math.max(0, x - BORDER); u <= Math.min(size.width - 1, x + BORDER); u++)
      if (plane[v * size.width + u] > 0) return true;
  return false;
}

/** Cells of another surface than a pixel's count this much, and cells of another brightness less with its square. */
const OTHER_SURFACE = 0.02;
const SAME_LIGHT = 0.35;

/**
 * The shares of cells brought to the pixels, 0-255, each from the cells around it that show the same surface in the same
 * light, so that edges of things, of shadows and of sun patches stay sharp.
 * Source: Kopf and others 2007, Joint bilateral upsampling, ACM TOG 26(3), eq. 3 (own weights).
 */
function pixelShares(image: Image8, grid: LightGrid, cells: CellShares): Uint8Array {
  const { channels, data } = image;
  const { width, height, cell, light, owner, pixelOwner } = grid;
  const table = linearTable(image.space);
  const logs = Float32Array.from(table, (v) => Math.log(Math.max(1e-3, v)) / SAME_LIGHT);
  const cellLogs = Float32Array.from(
    owner,
    (_, at) => Math.log(Math.max(1e-3, light[3 * at + 1])) / SAME_LIGHT,
  );
  const out = new Uint8Array(image.width * image.height);
  for (let y = 0, p = 0, i = 0; y < image.height; y++) {
    const v = (y + 0.5) / cell - 0.5;
    const row = Math.min(height - 1, Math.round(Math.max(0, v)));
    for (let x = 0; x < image.width; x++, p++, i += channels) {
      const u = (x + 0.5) / cell - 0.5;
      const column = Math.min(width - 1, Math.round(Math.max(0, u)));
      const here = row * width + column;
      const log = logs[data[i + 1]];
      let [sum, share, lamplight, daylight, plain] = [0, 0, 0, 0, 0];
      for (let b = Math.max(0, row - 1); b <= Math.min(height - 1, row + 1); b++)
        for (let a = Math.max(0, column - 1); a <= Math.min(width - 1, column + 1); a++) {
          const near = Math.max(0, 1.5 - Math.abs(a - u)) * Math.max(0, 1.5 - Math.abs(b - v));
          const at = b * width + a;
          const off = (log - cellLogs[at]) ** 2;
          const weight =
            (near * (owner[at] === pixelOwner[p] ? 1 : OTHER_SURFACE)) / ((1 + off) * (1 + off)) + 1e-9;
          sum += weight;
          share += weight * cells.share[at];
          plain += near;
          lamplight += near * cells.lamplight[at];
          daylight += near * cells.daylight[at];
        }
      const value = shareFrom(cells.from[here], share / sum, {
        lamplight: lamplight / plain,
        daylight: daylight / plain,
        light: table[data[i + 1]],
      });
      out[p] = Math.round(255 * Math.max(0, Math.min(1, value)));
    }
  }
  return out;
}

/** Of the light on what is marked; of all cells alike, whatever they reflect. */
function meanShare({ owner, light }: LightGrid, share: Float32Array): number {
  let [part, whole] = [0, 0];
  for (let at = 0; at < owner.length; at++) {
    if (owner[at] === NOBODY) continue;
    part += share[at] * light[3 * at + 1];
    whole += light[3 * at + 1];
  }
  return Math.max(0.05, Math.min(0.95, part / whole));
}
