/** A part of a picture with soft edges: how much of each pixel it covers, 0-255, row by row from the top. */
export interface Mask {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8Array;
}

/** The smallest upright box round what a mask covers, in whole pixels. */
export interface MaskBox {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** Throws RangeError where size and data of a mask do not fit together. */
export function checkMask({ width, height, data }: Mask): void {
  if (!Number.isInteger(width) || !Number.isInteger(height) || width < 1 || height < 1)
    throw new RangeError(`Expected a mask of whole pixels, got ${width}x${height}`);
  if (data.length !== width * height)
    throw new RangeError(
      `Expected ${width * height} values for a mask of ${width}x${height}, got ${data.length}`,
    );
}

function checkSameSize(a: Mask, b: Mask): void {
  checkMask(a);
  checkMask(b);
  if (a.width !== b.width || a.height !== b.height)
    throw new RangeError(
      `Expected two masks of one size, got ${a.width}x${a.height} and ${b.width}x${b.height}`,
    );
}

/** Covered area in pixels, partly covered pixels by their share. */
export function maskArea(mask: Mask): number {
  checkMask(mask);
  const { data } = mask;
  let sum = 0;
  // Ten times as fast as an iterator, and asked after every stroke.
  for (let p = 0; p < data.length; p++) sum += data[p];
  return sum / 255;
}

/** The box round every pixel covered at all; null where nothing is covered. */
export function maskBox(mask: Mask): MaskBox | null {
  checkMask(mask);
  const { width, height, data } = mask;
  let [left, right, top, bottom] = [width, -1, height, -1];
  for (let y = 0, p = 0; y < height; y++)
    for (let x = 0; x < width; x++, p++)
      if (data[p] > 0) {
        if (x < left) left = x;
        if (x > right) right = x;
        if (y < top) top = y;
        bottom = y;
      }
  return right < 0 ? null : { x: left, y: top, width: right - left + 1, height: bottom - top + 1 };
}

/** What either mask covers: the larger share of each pixel. Masks of one size. */
export function maskUnion(a: Mask, b: Mask): Mask {
  checkSameSize(a, b);
  return { ...a, data: a.data.map((value, i) => Math.max(value, b.data[i])) };
}

/** What `a` covers and `b` leaves free: shares of a pixel exclude one another as far as they can. */
export function maskDifference(a: Mask, b: Mask): Mask {
  checkSameSize(a, b);
  return { ...a, data: a.data.map((value, i) => Math.min(value, 255 - b.data[i])) };
}

/**
 * The same mask for the same picture at another size: each new pixel gets the mean cover of the area it came from.
 * The picture's proportions must stay (to a pixel), since a mask does not move to another crop.
 */
export function scaledMask(mask: Mask, width: number, height: number): Mask {
  checkMask(mask);
  if (!Number.isInteger(width) || !Number.isInteger(height) || width < 1 || height < 1)
    throw new RangeError(`Expected a new size of whole pixels, got ${width}x${height}`);
  if (Math.abs(mask.height * (width / mask.width) - height) > 1 + width / mask.width)
    throw new RangeError(
      `Expected a size with the proportions of ${mask.width}x${mask.height}, got ${width}x${height}`,
    );
  const across = spans(mask.width, width);
  const down = spans(mask.height, height);
  const rows = new Float64Array(width * mask.height);
  for (let y = 0; y < mask.height; y++)
    for (let x = 0; x < width; x++) {
      let sum = 0;
      for (let k = across.start[x]; k < across.start[x + 1]; k++)
        sum += across.weight[k] * mask.data[y * mask.width + across.from[k]];
      rows[y * width + x] = sum;
    }
  const data = new Uint8Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      let sum = 0;
      for (let k = down.start[y]; k < down.start[y + 1]; k++)
        sum += down.weight[k] * rows[down.from[k] * width + x];
      data[y * width + x] = Math.min(255, Math.round(sum));
    }
  return { width, height, data };
}

/** Which old pixels a new one is made of and with what weights: areas when made smaller, straight lines when larger. */
function spans(from: number, to: number): { start: Int32Array; from: number[]; weight: number[] } {
  const start = new Int32Array(to + 1);
  const sources: number[] = [];
  const weight: number[] = [];
  const scale = from / to;
  for (let i = 0; i < to; i++) {
    if (scale >= 1) {
      const [a, b] = [i * scale, (i + 1) * scale];
      for (let k = Math.floor(a); k < Math.min(from, Math.ceil(b - 1e-9)); k++) {
        sources.push(k);
        weight.push((Math.min(b, k + 1) - Math.max(a, k)) / scale);
      }
    } else {
      const at = Math.min(from - 1, Math.max(0, (i + 0.5) * scale - 0.5));
      const low = Math.floor(at);
      sources.push(low, Math.min(from - 1, low + 1));
      weight.push(1 - (at - low), at - low);
    }
    start[i + 1] = sources.length;
  }
  return { start, from: sources, weight };
}
