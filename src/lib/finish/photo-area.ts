import { areaIn, areaWords } from './units.ts';
import type { UnitSystem } from './units.ts';

/** How much of each pixel of a picture shows the surface, 0-255, row by row. */
export interface Coverage {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8Array;
}

/** A rectangle of the surface in the picture: its corners clockwise from the top left, pixels; its sides, mm. */
export interface KnownRectangle {
  readonly corners: readonly [Corner, Corner, Corner, Corner];
  readonly width: number;
  readonly height: number;
}
type Corner = readonly [number, number];

/** What is known of the surface's size. */
export type PhotoScale =
  | {
      readonly kind: 'rectangle';
      readonly rectangle: KnownRectangle;
      /**
       * Row-major 3x3 that takes a pixel [x, y, 1] to [u w, v w, w], u and v in mm on the rectangle: the photo area's
       * `homographyToPlane`, handed in since the two areas do not know each other.
       */
      readonly homography: (rectangle: KnownRectangle) => readonly number[];
    }
  | {
      readonly kind: 'length';
      /** One length on the surface, in the picture and in truth. */
      readonly pixels: number;
      readonly mm: number;
      /** Whether the camera looked square on to the surface. */
      readonly squareOn: boolean;
    };

/** Relative standard deviations and pixels that make the doubt. Common practice, no published source. */
export const PHOTO_DOUBT = {
  /** Of an area by one length, camera square on, and not known to be. A surface turned by 50 degrees shows 64 % of itself. */
  squareOn: 0.08,
  perspectiveUnknown: 0.35,
  /** How surely a corner is set, pixels. */
  corner: 2,
  /** Of a length measured with a tape. */
  length: 0.01,
  /** Of the marked area, for its edges. */
  mask: 0.03,
} as const;

/** An area measured in a photo. */
export interface PhotoArea {
  /** m² */
  readonly area: number;
  /** Standard deviation over the area. */
  readonly relativeSd: number;
  /** In sentences: the area, how far to trust it and why. */
  readonly words: string;
}

/** Most pixels the corners' doubt is worked out from. */
const SAMPLES = 60_000;

/**
 * The area a mask covers on a real, flat surface. With four corners of a known rectangle each pixel counts for what it is
 * on the surface: |det H| / w³ of the homography H; what the corners may be off is carried through by moving each by its
 * doubt, so that a surface reaching far beyond the rectangle gets less sure by itself. With one length, every pixel counts
 * the same, and perspective is doubt.
 * Null where nothing is covered, where the surface reaches the plane's horizon, or where the corners make no rectangle.
 * Throws RangeError for a mask whose data do not fit its size.
 */
export function areaFromPhoto({
  mask,
  scale,
  system,
}: {
  readonly mask: Coverage;
  readonly scale: PhotoScale;
  readonly system: UnitSystem;
}): PhotoArea | null {
  if (mask.data.length !== mask.width * mask.height)
    throw new RangeError(`Expected ${mask.width * mask.height} values for the mask, got ${mask.data.length}`);
  const measured = scale.kind === 'rectangle' ? byRectangle(mask, scale) : byLength(mask, scale);
  if (measured === null) return null;
  const { area, variance, why } = measured;
  const relativeSd = Math.sqrt(variance + PHOTO_DOUBT.mask ** 2 + (2 * PHOTO_DOUBT.length) ** 2);
  const [low, high] = [area * Math.exp(-2 * relativeSd), area * Math.exp(2 * relativeSd)];
  const advice = relativeSd > 0.15 ? ' Measure before ordering.' : '';
  return {
    area,
    relativeSd,
    words: `About ${areaWords(area, system)}, somewhere from ${areaIn(low, system)} to ${areaIn(high, system)}: ${why}.${advice}`,
  };
}

interface Measured {
  /** m² */
  readonly area: number;
  /** Relative. */
  readonly variance: number;
  readonly why: string;
}

function byLength(mask: Coverage, scale: PhotoScale & { kind: 'length' }): Measured | null {
  if (!(scale.pixels > 0 && scale.mm > 0 && Number.isFinite(scale.pixels + scale.mm))) return null;
  let covered = 0;
  for (const value of mask.data) covered += value;
  if (covered === 0) return null;
  const sd = scale.squareOn ? PHOTO_DOUBT.squareOn : PHOTO_DOUBT.perspectiveUnknown;
  return {
    area: ((covered / 255) * (scale.mm / scale.pixels) ** 2) / 1e6,
    variance: sd ** 2 + (2 * (PHOTO_DOUBT.corner * Math.SQRT2)) ** 2 / scale.pixels ** 2,
    why: scale.squareOn
      ? 'worked out from one length, seen square on'
      : 'worked out from one length, and what perspective hides is not known',
  };
}

function byRectangle(mask: Coverage, scale: PhotoScale & { kind: 'rectangle' }): Measured | null {
  const whole = coveredOn(mask, 1, mapOf(scale, scale.rectangle));
  if (whole === null || whole === 0) return null;
  const step = Math.max(1, Math.floor(Math.sqrt(mask.data.length / SAMPLES)));
  const coarse = coveredOn(mask, step, mapOf(scale, scale.rectangle));
  if (!coarse) return null;
  let variance = 0;
  for (let corner = 0; corner < 4; corner++) {
    for (const axis of [0, 1]) {
      const corners = scale.rectangle.corners.map((at, k) =>
        at.map((value, a) => (k === corner && a === axis ? value + PHOTO_DOUBT.corner : value)),
      ) as unknown as KnownRectangle['corners'];
      const moved = coveredOn(mask, step, mapOf(scale, { ...scale.rectangle, corners }));
      if (!moved) return null;
      variance += (moved / coarse - 1) ** 2;
    }
  }
  return {
    area: whole / 1e6,
    variance,
    why: 'worked out from four corners of a rectangle of known size',
  };
}

function mapOf(
  { homography }: PhotoScale & { kind: 'rectangle' },
  rectangle: KnownRectangle,
): readonly number[] | null {
  try {
    return homography(rectangle);
  } catch (error) {
    // Corners in no order, or on a line: no rectangle to measure by.
    if (error instanceof RangeError) return null;
    throw error;
  }
}

/** What a mask covers on the plane, mm², from every `step`th pixel of every `step`th row; null beyond the horizon. */
function coveredOn(mask: Coverage, step: number, h: readonly number[] | null): number | null {
  if (!h) return null;
  const det =
    h[0] * (h[4] * h[8] - h[5] * h[7]) -
    h[1] * (h[3] * h[8] - h[5] * h[6]) +
    h[2] * (h[3] * h[7] - h[4] * h[6]);
  let sum = 0;
  for (let y = Math.floor(step / 2); y < mask.height; y += step) {
    for (let x = Math.floor(step / 2); x < mask.width; x += step) {
      const covered = mask.data[y * mask.width + x];
      if (covered === 0) continue;
      const w = h[6] * (x + 0.5) + h[7] * (y + 0.5) + h[8];
      if (!(w > 0)) return null;
      sum += covered / (w * w * w);
    }
  }
  return (sum / 255) * Math.abs(det) * step * step;
}
