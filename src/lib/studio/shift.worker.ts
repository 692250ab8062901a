import { decodeMask, encodeMask, maskArea, type Point, type StoredMask } from '#lib/photo/index.ts';
import { expose } from 'comlink';
import { shiftedMask } from './mark-shift.ts';

const shifts = {
  /** Masks shifted by whole pixels, in the order given; null where one cannot be read or nothing of it is left. */
  async shifted(masks: StoredMask[], by: Point): Promise<(StoredMask | null)[]> {
    return masks.map((stored) => {
      try {
        const mask = shiftedMask(decodeMask(stored), by);
        return maskArea(mask) < 1 ? null : encodeMask(mask);
      } catch {
        return null;
      }
    });
  },
};

export type Shifts = typeof shifts;

expose(shifts);
