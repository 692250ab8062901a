import { borderGround, findLikeness, type BorderGround } from './border-cut.ts';
import { borderPrices } from './cut-out.ts';
import { faintLines } from './faint-lines.ts';
import { measuredGrain, withoutGrain } from './grain.ts';
import type { Image8 } from './image.ts';
import { findLikenesses, samplesOf, type Samples } from './local-odds.ts';
import type { Mask } from './mask.ts';
import { AXES } from './mixture.ts';
import { mergedRegions, type Regions } from './regions.ts';
import { shadingFeatures, smoothed, type ShadingFeatures } from './shading-features.ts';
import { edgeMemory, type EdgeMemory } from './soft-edge.ts';
import { blocksOf, type Blocks } from './strangeness.ts';
import { lineMemory, type LineMemory } from './straight-edges.ts';
import type { Trace } from './stroke.ts';
import { neighbourhood, superpixels, type Neighbourhood, type Superpixels } from './superpixels.ts';
import type { Growth } from './surface-growth.ts';
import { textures } from './texture.ts';
import { unionsOf, type Unions } from './unions.ts';

/** A picture made ready for selecting; made once, used for every stroke. What it remembers only saves time. */
export interface Selector {
  readonly width: number;
  readonly height: number;
  readonly features: ShadingFeatures;
  /** Pieces that strokes spread over. */
  readonly pieces: Superpixels;
  readonly graph: Neighbourhood;
  /** L, u, v, texture of every piece, stride `AXES`. */
  readonly values: Float32Array;
  /** Middle of every piece in pixels, stride 2. */
  readonly middle: Float32Array;
  /** The pieces by where they lie. */
  readonly blocks: Blocks;
  readonly regions: Regions;
  /** What the regions are joined from: where the pieces of a region differ, they can still be parted. */
  readonly parts: Regions;
  /** How the parts go on joining. */
  readonly unions: Unions;
  /** Where the parts lie, to ask what is near a place. */
  readonly samples: Samples;
  /** Price of each border between parts. */
  readonly prices: Float32Array;
  /** The picture in smaller pieces, for a close look at borders. */
  readonly small: BorderGround;
  /** The piece that most of each small piece lies in. */
  readonly pieceOf: Int32Array;
  readonly remembered: Remembered;
}

interface Remembered {
  readonly traces: Map<string, Trace>;
  readonly growths: Map<string, Growth>;
  /** How unlike each piece is what a taking-away stroke covers. */
  readonly unlikeness: Map<string, Float32Array>;
  /** Pixels of each small piece that a mask of another surface covers. */
  readonly covers: WeakMap<Uint8Array, Float32Array>;
  /** Most cover of any other surface by pixel. */
  others: { readonly masks: readonly Mask[]; readonly most: Uint8Array } | null;
  /** Edges of what strokes select, and of marks that they lessen. */
  readonly edges: EdgeMemory;
  readonly lessenedEdges: EdgeMemory;
  readonly lines: LineMemory;
}

const PIECES = 17_000; // wanted, whatever the size of the picture: about 10 x 10 pixels of one of 1600 x 1067
const LEAST_CELL = 4; // pixels: a small picture has fewer pieces
const SMALL = 0.6; // side of a small piece against that of a piece
const PART_BARRIER = 1;
const MOST_BARRIER = 2;

/** Makes a picture ready for selecting (two to three seconds for 2048 x 1365). RangeError where it is no picture. */
export function prepareSelection(image: Image8): Selector {
  const grain = measuredGrain(image);
  const raw = shadingFeatures(grain ? withoutGrain(image, grain) : image);
  const features = smoothed(raw);
  const { width, height } = image;
  const cell = Math.max(LEAST_CELL, Math.sqrt((width * height) / PIECES));
  const cracks = faintLines(raw);
  const inPieces = (side: number) => {
    const pieces = superpixels(features, side, cracks);
    const graph = neighbourhood(pieces, features);
    return { pieces, graph, values: pieceValues(pieces, textures(pieces, raw)), middle: middles(pieces) };
  };
  const large = inPieces(cell);
  const small = borderGround(inPieces(Math.max(3, SMALL * cell)));
  const { pieces, graph, values } = large;
  const sizes = Int32Array.from({ length: pieces.count }, (_, i) => pieces.start[i + 1] - pieces.start[i]);
  const parts = mergedRegions({ sizes, values, graph }, PART_BARRIER);
  const joined = mergedRegions({ sizes: parts.size, values: parts.values, graph: parts.graph }, MOST_BARRIER);
  const regions = { ...joined, of: parts.of.map((part) => joined.of[part]) };
  const edges = edgeMemory(small.pieces, small.graph);
  return {
    width,
    height,
    features,
    ...large,
    blocks: blocksOf(pieces, large),
    regions,
    parts,
    unions: unionsOf(parts),
    samples: samplesOf(pieces, parts),
    prices: borderPrices(parts),
    small,
    pieceOf: mostOf(small.pieces, pieces.label),
    remembered: {
      traces: new Map(),
      growths: new Map(),
      unlikeness: new Map(),
      covers: new WeakMap(),
      others: null,
      edges,
      lessenedEdges: { ...edges },
      lines: lineMemory(),
    },
  };
}

const SLICE = 1500;

/**
 * Works out before strokes ask for it what lies near each part and piece and looks like it, so that the first strokes are as
 * fast as later ones: a slice of some ten milliseconds at a call, from a place in the work on (0 at first). Out: the place
 * to go on from, null where all is done. It changes no selection.
 */
export function lookedAround({ parts, samples, small }: Selector, from: number): number | null {
  const all = parts.count + small.pieces.count;
  const end = Math.min(all, from + SLICE);
  for (let i = from; i < end; i++)
    if (i < parts.count) findLikenesses(i, samples);
    else findLikeness(i - parts.count, small);
  return end < all ? end : null;
}

function middles({ count, start, pixels, width }: Superpixels): Float32Array {
  const out = new Float32Array(2 * count);
  for (let i = 0; i < count; i++) {
    let [x, y] = [0, 0];
    for (let j = start[i]; j < start[i + 1]; j++) {
      x += pixels[j] % width;
      y += Math.floor(pixels[j] / width);
    }
    out[2 * i] = x / (start[i + 1] - start[i]);
    out[2 * i + 1] = y / (start[i + 1] - start[i]);
  }
  return out;
}

/** The label that most pixels of each piece have. */
function mostOf({ count, start, pixels }: Superpixels, label: Int32Array): Int32Array {
  const out = new Int32Array(count);
  const votes = new Map<number, number>();
  for (let i = 0; i < count; i++) {
    votes.clear();
    let most = 0;
    for (let j = start[i]; j < start[i + 1]; j++) {
      const own = label[pixels[j]];
      const n = (votes.get(own) ?? 0) + 1;
      votes.set(own, n);
      if (n > most) [out[i], most] = [own, n];
    }
  }
  return out;
}

function pieceValues({ count, mean }: Superpixels, texture: Float32Array): Float32Array {
  const values = new Float32Array(count * AXES);
  for (let i = 0; i < count; i++) {
    // In the dark the chromaticity is mostly noise.
    const sure = Math.max(0, Math.min(1, (mean[3 * i] + 5) / 40));
    values[AXES * i] = mean[3 * i];
    values[AXES * i + 1] = mean[3 * i + 1] * sure;
    values[AXES * i + 2] = mean[3 * i + 2] * sure;
    values[AXES * i + 3] = texture[i];
  }
  return values;
}
