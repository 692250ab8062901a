import { checkMask, type Mask } from './mask.ts';
import type { Selector } from './selector.ts';

const RINGS = 2; // of small pieces round what is inside, beyond which no edge reaches

/** Pixels of each small piece that masks of other surfaces cover; null where there are none. */
export function covers(selector: Selector, others: readonly Mask[]): Float32Array | null {
  if (others.length === 0) return null;
  const { width, height, remembered } = selector;
  const { count, label } = selector.small.pieces;
  const sums = new Float32Array(count);
  for (const mask of others) {
    checkMask(mask);
    if (mask.width !== width || mask.height !== height)
      throw new RangeError(
        `Expected masks of the picture's ${width}x${height}, got one of ${mask.width}x${mask.height}`,
      );
    let cover = remembered.covers.get(mask.data);
    if (!cover) {
      cover = new Float32Array(count);
      const { data } = mask;
      const fours = inFours(data);
      for (let p = 0; p < data.length; p++) {
        if (p % 4 === 0) while (fours[p >> 2] === 0) p += 4;
        if (data[p] > 0) cover[label[p]] += data[p] / 255;
      }
      remembered.covers.set(mask.data, cover);
    }
    for (let i = 0; i < count; i++) sums[i] += cover[i];
  }
  return sums;
}

/** Takes out what masks of other surfaces cover, except in the small pieces that a stroke claims. */
export function leaveToOthers(
  { data }: Mask,
  { small, remembered }: Selector,
  {
    others,
    cover,
    inside,
    claimed,
  }: {
    others: readonly Mask[];
    /** Pixels of each small piece that the others cover. */
    cover: Float32Array;
    inside: Uint8Array;
    claimed: Uint8Array;
  },
): void {
  let known = remembered.others;
  if (known?.masks.length !== others.length || others.some((mask, i) => mask.data !== known?.masks[i].data)) {
    // Surfaces are marked one after the other: mostly there is one more.
    const before = known?.masks.every((mask, i) => mask.data === others[i]?.data) ? known : null;
    const most = before?.most ?? new Uint8Array(data.length);
    for (const { data: shares } of others.slice(before?.masks.length ?? 0)) {
      const fours = inFours(shares);
      for (let p = 0; p < most.length; p++) {
        if (p % 4 === 0) while (fours[p >> 2] === 0) p += 4;
        if (shares[p] > most[p]) most[p] = shares[p];
      }
    }
    known = remembered.others = { masks: [...others], most };
  }
  const { most } = known;
  const { count, start, pixels } = small.pieces;
  const { first, other } = small.graph;
  let near = inside;
  for (let ring = 0; ring < RINGS; ring++) {
    const wider = near.slice();
    for (let i = 0; i < count; i++)
      if (near[i]) for (let e = first[i]; e < first[i + 1]; e++) wider[other[e]] = 1;
    near = wider;
  }
  for (let i = 0; i < count; i++) {
    if (!near[i] || cover[i] === 0 || claimed[i]) continue;
    for (let k = start[i]; k < start[i + 1]; k++) {
      const p = pixels[k];
      if (data[p] > 255 - most[p]) data[p] = 255 - most[p];
    }
  }
}

/** Values four at a time, to pass over what is free; none where they lie across. */
function inFours({ buffer, byteOffset, length }: Uint8Array): Uint32Array {
  return byteOffset % 4 ? new Uint32Array(0) : new Uint32Array(buffer, byteOffset, length >> 2);
}
