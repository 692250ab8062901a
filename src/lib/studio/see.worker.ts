import {
  adjacentSurfaces,
  decodeMask,
  maskArea,
  type Image8,
  type LinearRgb,
  type Mask,
  type StoredMask,
} from '#lib/photo/index.ts';
import { expose, transfer } from 'comlink';
import { medianColour } from './old-finish.ts';
import type { Border, Owners } from './seen-borders.ts';

/** Which marked surface each pixel of a photo shows, and where surfaces meet. */
export interface MarkMap extends Owners {
  readonly borders: readonly Border[];
  /** Part of the photo that each surface covers, 0-1, in the order of `ids`. */
  readonly shares: readonly number[];
}

/** Marks more than this are too many for one map; a photo has a dozen. */
const MOST_SURFACES = 200;

const marks = {
  /** The map of a photo's marks. A mark that is damaged is left out: who draws it says so. */
  map(
    marked: readonly { readonly id: string; readonly mask: StoredMask }[],
    { width, height }: { readonly width: number; readonly height: number },
  ): MarkMap {
    const ids: string[] = [];
    const masks: Mask[] = [];
    for (const { id, mask } of marked.slice(0, MOST_SURFACES)) {
      try {
        masks.push(decodeMask(mask, { width, height }));
        ids.push(id);
      } catch (error) {
        if (!(error instanceof RangeError)) throw error;
      }
    }
    const owner = new Uint8Array(width * height);
    const most = new Uint8Array(owner.length).fill(127);
    masks.forEach(({ data }, i) => {
      for (let p = 0; p < data.length; p += 1)
        if (data[p] > most[p]) {
          most[p] = data[p];
          owner[p] = i + 1;
        }
    });
    const borders = adjacentSurfaces(masks).map(({ a, b, length }) => ({ a: ids[a], b: ids[b], length }));
    const shares = masks.map((mask) => maskArea(mask) / (width * height));
    return transfer({ width, height, ids, owner, borders, shares }, [owner.buffer]);
  },

  /** What a corrected picture shows under each mask: see `medianColour`. Null for one that is empty or damaged too. */
  medians(picture: Image8, masks: readonly StoredMask[]): (LinearRgb | null)[] {
    return masks.map((mask) => {
      try {
        return medianColour(picture, decodeMask(mask, picture));
      } catch (error) {
        if (!(error instanceof RangeError)) throw error;
        return null;
      }
    });
  },
};

export type Marks = typeof marks;

expose(marks);
