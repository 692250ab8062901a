import { checkImage, linearTable, type Image8 } from './image.ts';
import type { LightShares } from './light-shares.ts';
import { ENCODE_STEPS, KNEE, LUMINANCE, encodingTable } from './recolour.ts';
import type { RelightTable } from './relight.ts';

/** What is made of one of the two lights of a picture. */
export interface PartLight {
  /** The table of that light alone, for an eye adapted to both. */
  readonly table: RelightTable;
  /** How much of it there is, 1: as much as in the photograph; 0: it is off. */
  readonly amount: number;
}

/** A picture's window and lamps in other lights. */
export interface LightApart {
  readonly shares: LightShares;
  readonly window: PartLight;
  readonly lamps: PartLight;
}

/** Linear light of the brightest channel from which up the colour of the light fades out of a picture. */
export const BURNING = 0.85;
/**
 * Share of the stronger light from which up a pixel's colour tells less and less of the weaker one, and over how much more
 * of it nothing is left.
 */
export const FAINT = [0.5, 0.1] as const;

/** Linear light from which up a bent value tells too little of what it was. */
export const MOST_BENT = 0.99;
/** At most so much more of one light than the photograph has: beyond it there is more noise than light. */
const MOST_AMOUNT = 4;

/**
 * What a room's light makes of window and lamps of a picture: the light shown has the window's `part` (0-1) of its
 * illuminance. Each is seen by an eye adapted to both. A table that is null: there is none of that light. Where shares
 * tell the window's panes alone, the room is shown in the `whole` light and the panes as bright as their part of it.
 * Throws RangeError for a part outside [0, 1], TypeError without any table.
 */
export function lightApart(
  shares: LightShares,
  {
    window,
    lamps,
    whole,
    part,
  }: {
    readonly window: RelightTable | null;
    readonly lamps: RelightTable | null;
    readonly whole: RelightTable;
    readonly part: number;
  },
): LightApart {
  const [one, other] = [window ?? lamps, lamps ?? window];
  if (!one || !other) throw new TypeError('Expected a table for the window or the lamps, got neither');
  if (!(part >= 0 && part <= 1)) throw new RangeError(`Expected a part in [0, 1], got ${part}`);
  const { mean } = shares;
  if (shares.told === 'panes')
    return { shares, window: { table: one, amount: part }, lamps: { table: whole, amount: 1 } };
  return {
    shares,
    window: { table: one, amount: window === null ? 0 : Math.min(MOST_AMOUNT, part / mean) },
    lamps: { table: other, amount: lamps === null ? 0 : Math.min(MOST_AMOUNT, (1 - part) / (1 - mean)) },
  };
}

/**
 * A corrected picture with its window and its lamps each in another light, or off. Per pixel, in linear light:
 *
 *     tint   = share * window + (1 - share) * lamps        the colour of the light on the place
 *     pixel  = straightened where a finish was put on      the bend of what was painted undone
 *     plain  = pixel / tint                                as if lit by the white of the correction
 *     plain  towards grey of its green as the brightest channel of pixel goes from BURNING to 1, without a finish
 *     out    = share * amount * table(plain) of the window + (1 - share) * amount * table(plain) of the lamps
 *
 * What burns out has lost its colour channel by channel: left as it is, a lamp's glow would be ringed with orange and the
 * sky with turquoise. Where nothing is known of what stands there (`around`), it keeps the colour that was delivered. What is
 * left for the weaker of the two lights has the colour of what is around there, and where the stronger has most (FAINT).
 * None of this is done to a finish that was put on: `surfaceLayers` put it on in the very tint that is taken away here, so
 * it comes out as its own colour at some level. `before` is the picture without finishes.
 * With share read by linear interpolation, what is above white taken through the table at white's level, and `out` bent
 * towards white above KNEE. The same formula stands in the graphics processor's program.
 * Throws RangeError for a picture of another size or space.
 */
export function relightApart(
  image: Image8,
  { shares, window: day, lamps }: LightApart,
  before: Image8 = image,
): Image8 {
  checkImage(image);
  const { width, height, channels, data, space } = image;
  if (shares.picture.width !== width || shares.picture.height !== height)
    throw new RangeError(
      `Expected shares of a picture of ${width}x${height}, got ${shares.picture.width}x${shares.picture.height}`,
    );
  for (const { table } of [day, lamps])
    if (table.from !== space || table.to !== day.table.to)
      throw new RangeError(`Expected tables from ${space} to one space, got ${table.from} to ${table.to}`);
  const linear = linearTable(space);
  const target = linearTable(day.table.to);
  const { window: dayTint, lamps: lampTint } = shares;
  const out = new Uint8ClampedArray(data.length);
  const encode = encodingTable(linear);
  const encodeShown = encodingTable(target);
  const device = (table: Float32Array, v: number) =>
    v >= 1 ? 255 : v <= 0 ? 0 : table[(Math.sqrt(v) * ENCODE_STEPS) | 0];
  const [plain, burning, weaker, shown, sum] = Array.from({ length: 5 }, () => new Float64Array(3));
  const beside = new Float64Array(4);
  const add = ({ table, amount }: PartLight, weight: number, colour: Float64Array) => {
    if (weight * amount === 0) return;
    const most = Math.max(1, colour[0], colour[1], colour[2]);
    for (let c = 0; c < 3; c++) shown[c] = device(encode, colour[c] / most);
    addRead(table, shown, { weight: weight * amount * most, linear: target, sum });
  };
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i += channels) {
      const share = shareAt(shares, x, y);
      const brightest = linear[Math.max(data[i], data[i + 1], data[i + 2])];
      let mean = 0;
      for (let c = 0; c < 3; c++) {
        plain[c] = share * dayTint[c] + (1 - share) * lampTint[c];
        mean += LUMINANCE[c] * plain[c];
      }
      const painted =
        before.data[i] !== data[i] ||
        before.data[i + 1] !== data[i + 1] ||
        before.data[i + 2] !== data[i + 2];
      const grey = painted ? 0 : Math.max(0, (brightest - BURNING) / (1 - BURNING));
      for (let c = 0; c < 3; c++) {
        const value = painted ? straightened(linear[data[i + c]]) : linear[data[i + c]];
        burning[c] = value / mean;
        plain[c] = value / plain[c];
      }
      const faint = Math.max(grey, Math.min(1, (Math.max(share, 1 - share) - FAINT[0]) / FAINT[1]));
      if (faint > 0) {
        readAround(shares.around, x, y, beside);
        const known = painted ? 0 : beside[3];
        const green = plain[1];
        if (grey > 0)
          for (let c = 0; c < 3; c++)
            plain[c] += grey * (burning[c] + known * (green - burning[c]) - plain[c]);
        weaker.set(plain);
        if (beside[1] > 0)
          for (let c = 0; c < 3; c++)
            weaker[c] += faint * known * ((plain[1] * beside[c]) / beside[1] - weaker[c]);
      } else weaker.set(plain);
      sum.fill(0);
      add(day, share, share > 0.5 ? plain : weaker);
      add(lamps, 1 - share, share > 0.5 ? weaker : plain);
      for (let c = 0; c < 3; c++) out[i + c] = device(encodeShown, bent(sum[c]));
      if (channels === 4) out[i + 3] = data[i + 3];
    }
  return { width, height, channels, data: out, space: day.table.to };
}

/** What stands at a pixel, its channels and how far it is known, 0-1. */
function readAround(around: LightShares['around'], x: number, y: number, out: Float64Array): void {
  const { left, right, top, below, fu, fv } = between(around, x, y);
  const { data } = around;
  for (let c = 0; c < 4; c++)
    out[c] =
      ((data[4 * (top + left) + c] * (1 - fu) + data[4 * (top + right) + c] * fu) * (1 - fv) +
        (data[4 * (below + left) + c] * (1 - fu) + data[4 * (below + right) + c] * fu) * fv) /
      255;
}

/** The window's share at a pixel, 0-1. */
export function shareAt(shares: LightShares, x: number, y: number): number {
  const { width, cell, share } = shares;
  if (cell === 1) return share[y * width + x] / 255;
  const { left, right, top, below, fu, fv } = between(shares, x, y);
  const upper = share[top + left] * (1 - fu) + share[top + right] * fu;
  const lower = share[below + left] * (1 - fu) + share[below + right] * fu;
  return (upper * (1 - fv) + lower * fv) / 255;
}

/** The cells whose middles a pixel lies between, as columns and as the first cell of rows, and how far it is on its way. */
function between({ width, height, cell }: LightShares['around'] | LightShares, x: number, y: number) {
  const u = Math.max(0, Math.min(width - 1, (x + 0.5) / cell - 0.5));
  const v = Math.max(0, Math.min(height - 1, (y + 0.5) / cell - 0.5));
  const [left, row] = [Math.floor(u), Math.floor(v)];
  return {
    left,
    right: Math.min(width - 1, left + 1),
    top: row * width,
    below: Math.min(height - 1, row + 1) * width,
    fu: u - left,
    fv: v - row,
  };
}

function bent(v: number): number {
  return v <= KNEE ? v : KNEE + (1 - KNEE) * (1 - Math.exp((KNEE - v) / (1 - KNEE)));
}

/** Undoes `bent`; what was bent to white is as bright as can be told from it. */
function straightened(v: number): number {
  return v <= KNEE ? v : KNEE - (1 - KNEE) * Math.log(1 - (Math.min(MOST_BENT, v) - KNEE) / (1 - KNEE));
}

interface Adding {
  readonly weight: number;
  /** Linear light of each device value that the table gives. */
  readonly linear: Float64Array;
  readonly sum: Float64Array;
}

/** Adds to `sum` what a table, linear between its nodes, makes of a colour of fractional device values, in linear light. */
function addRead({ nodes }: RelightTable, colour: Float64Array, { weight, linear, sum }: Adding): void {
  const side = nodes.length === 3 * 33 ** 3 ? 33 : Math.round(Math.cbrt(nodes.length / 3));
  const step = 255 / (side - 1);
  const [dr, dg] = [3 * side * side, 3 * side];
  const r = colour[0] / step;
  const g = colour[1] / step;
  const b = colour[2] / step;
  const i = r < side - 1 ? Math.floor(r) : side - 2;
  const j = g < side - 1 ? Math.floor(g) : side - 2;
  const k = b < side - 1 ? Math.floor(b) : side - 2;
  const fr = r - i;
  const fg = g - j;
  const fb = b - k;
  const at = i * dr + j * dg + 3 * k;
  for (let c = 0; c < 3; c++) {
    const n = at + c;
    const near =
      (nodes[n] * (1 - fb) + nodes[n + 3] * fb) * (1 - fg) +
      (nodes[n + dg] * (1 - fb) + nodes[n + dg + 3] * fb) * fg;
    const far =
      (nodes[n + dr] * (1 - fb) + nodes[n + dr + 3] * fb) * (1 - fg) +
      (nodes[n + dr + dg] * (1 - fb) + nodes[n + dr + dg + 3] * fb) * fg;
    const v = near * (1 - fr) + far * fr;
    const low = v < 255 ? Math.floor(v) : 254;
    sum[c] += weight * (linear[low] + (v - low) * (linear[low + 1] - linear[low]));
  }
}
