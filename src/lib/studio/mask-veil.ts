import type { Mask } from '#lib/photo/index.ts';

/** Grey over all that a mask leaves free. */
export interface MaskVeil {
  readonly mask: Mask;
  /** A pixel each, as canvas takes them: sRGB and cover, red in the lowest byte. */
  readonly pixels: Uint32Array<ArrayBuffer>;
  /** Sum of the mask's cover, 0-255 a pixel. */
  readonly cover: number;
  /**
   * Rows that differ from the veil it was drawn on, `bottom` not among them; all where there was none. Where nothing differs
   * `top` lies beyond `bottom`.
   */
  readonly top: number;
  readonly bottom: number;
}

/** L* about 60, as the studio's surround; what lies beneath stays just readable. */
const GREY = 145;
const COVER = 0.62;

const PIXELS = Uint32Array.from({ length: 256 }, (_, v) => {
  const cover = Math.round((255 - v) * COVER);
  return ((cover << 24) | (GREY << 16) | (GREY << 8) | GREY) >>> 0;
});

/**
 * The veil over a mask. From one stroke to the next most of it stays: it is drawn on the pixels of `last`, which is of no
 * more use then.
 */
export function maskVeil(mask: Mask, last: MaskVeil | null): MaskVeil {
  const { data, width, height } = mask;
  const isLike = last?.mask.width === width && last.mask.height === height;
  const before = isLike ? last.mask.data : new Uint8Array(data.length);
  const pixels = isLike ? last.pixels : new Uint32Array(data.length).fill(PIXELS[0]);
  let cover = isLike ? last.cover : 0;
  let [first, end] = isLike ? [data.length, 0] : [0, data.length];
  const draw = (from: number, to: number) => {
    if (from < first) first = from;
    if (to > end) end = to;
    for (let p = from; p < to; p++) {
      cover += data[p] - before[p];
      pixels[p] = PIXELS[data[p]];
    }
  };
  const [fours, foursBefore] = [inFours(data), inFours(before)];
  const count = Math.min(fours.length, foursBefore.length);
  for (let f = 0; f < count; f++) if (fours[f] !== foursBefore[f]) draw(4 * f, 4 * f + 4);
  if (4 * count < data.length) draw(4 * count, data.length);
  const [top, bottom] = first < end ? [Math.floor(first / width), Math.ceil(end / width)] : [height, 0];
  return { mask, pixels, cover, top, bottom };
}

/** Values four at a time; none where they lie across. */
function inFours({ buffer, byteOffset, length }: Uint8Array): Uint32Array {
  return byteOffset % 4 ? new Uint32Array(0) : new Uint32Array(buffer, byteOffset, length >> 2);
}
