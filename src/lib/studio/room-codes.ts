import { relight, relightApart, type Image8, type LightApart, type RelightTable } from '#lib/photo/index.ts';

/** How a colour is put in one number: `bits` a channel, red lowest, levels from 0 to `levels`. */
export interface Coding {
  readonly bits: number;
  readonly levels: number;
}

/** Device values. */
export const PLAIN: Coding = { bits: 8, levels: 255 };
const IN_ONE_LIGHT: Coding = { bits: 7, levels: 127 };
const IN_TWO_LIGHTS: Coding = { bits: 6, levels: 63 };
/** Steps of the window's share. */
const SHARES = 15;

/** What is not known yet is 0, what is being worked out this; colours are opaque. */
const ASKED = 1;
const OPAQUE = 0xff000000;
/** Pixels relit in one go. */
const AT_A_TIME = 65536;

export interface Coded {
  readonly at: Int32Array;
  readonly codes: Uint32Array;
  readonly dither: Uint8Array;
  /** The window's share, 0-255, where the light is apart. */
  readonly share: Uint8Array | null;
}

/** What puts places, in codes of its kind, on a picture of opaque colours as a light shows them. */
export interface LightPutter {
  readonly coding: Coding;
  put(out: Uint32Array, coded: Coded): void;
}

/** Colours as a light shows them, device value by device value: for what stays on the screen. */
export class ExactLight implements LightPutter {
  readonly coding = PLAIN;
  readonly #light: RelightTable | LightApart;

  constructor(light: RelightTable | LightApart) {
    this.#light = light;
  }

  put(out: Uint32Array, { at, codes, share }: Coded): void {
    for (let from = 0; from < at.length; from += AT_A_TIME) {
      const places = at.subarray(from, from + AT_A_TIME);
      const data = new Uint8ClampedArray(4 * places.length);
      const plain = new Uint32Array(data.buffer);
      for (let n = 0; n < places.length; n++) plain[n] = codes[from + n] | OPAQUE;
      const shown = inLight(this.#light, data, share && share.subarray(from, from + AT_A_TIME));
      for (let n = 0; n < places.length; n++) out[places[n]] = shown[n];
    }
  }
}

/**
 * Colours as a light shows them, of finitely many, each worked out once (8 or 16 MB). Whoever codes dithers: a colour
 * between two levels is now one and now the other, and right in the mean.
 */
export class CodedLight implements LightPutter {
  readonly coding: Coding;
  readonly #light: RelightTable | LightApart;
  readonly #known: Uint32Array;
  #asked = new Uint32Array(4096);
  #waiting = new Int32Array(4096);

  constructor(light: RelightTable | LightApart) {
    this.#light = light;
    this.coding = 'shares' in light ? IN_TWO_LIGHTS : IN_ONE_LIGHT;
    this.#known = new Uint32Array(('shares' in light ? SHARES + 1 : 1) << (3 * this.coding.bits));
  }

  /** Puts places on a picture of opaque colours. Codes with their share are left in `codes`. */
  put(out: Uint32Array, { at, codes, dither, share }: Coded): void {
    const known = this.#known;
    const above = 3 * this.coding.bits;
    if (share)
      // Another dither than the colour's, or the two would go together.
      for (let n = 0; n < at.length; n++)
        codes[n] |= ((share[n] * ((256 * SHARES) / 255) + ((101 * dither[n]) & 255)) >> 8) << above;
    if (this.#waiting.length < at.length) {
      this.#waiting = new Int32Array(at.length);
      this.#asked = new Uint32Array(at.length);
    }
    const [waiting, asked] = [this.#waiting, this.#asked];
    let [late, count] = [0, 0];
    for (let n = 0; n < at.length; n++) {
      const code = codes[n];
      const shown = known[code];
      if (shown > ASKED) out[at[n]] = shown;
      else {
        if (shown !== ASKED) {
          known[code] = ASKED;
          asked[count++] = code;
        }
        waiting[late++] = n;
      }
    }
    if (count === 0) return;
    this.#learn(asked.subarray(0, count));
    for (let k = 0; k < late; k++) out[at[waiting[k]]] = known[codes[waiting[k]]];
  }

  #learn(asked: Uint32Array): void {
    const { bits, levels } = this.coding;
    const mask = (1 << bits) - 1;
    const data = new Uint8ClampedArray(4 * asked.length);
    const share = new Uint8ClampedArray(asked.length);
    for (let n = 0; n < asked.length; n++) {
      const code = asked[n];
      for (let c = 0; c < 3; c++) data[4 * n + c] = (((code >> (c * bits)) & mask) * 255) / levels;
      data[4 * n + 3] = 255;
      share[n] = ((code >> (3 * bits)) * 255) / SHARES;
    }
    const shown = inLight(this.#light, data, new Uint8Array(share.buffer));
    for (let n = 0; n < asked.length; n++) this.#known[asked[n]] = shown[n];
  }
}

/** Colours, RGBA, in a light, as numbers of a picture's pixels. `share`: the window's of each where the light is apart. */
function inLight(
  light: RelightTable | LightApart,
  data: Uint8ClampedArray,
  share: Uint8Array | null,
): Uint32Array {
  const [width, height] = [data.length / 4, 1];
  const image: Image8 = { width, height, channels: 4, data, space: 'srgb' };
  if (!('shares' in light)) return new Uint32Array(relight(image, light).data.buffer as ArrayBuffer);
  if (!share) throw new TypeError("Expected the window's share of each pixel, got none");
  const shares = { ...light.shares, picture: { width, height }, width, height, cell: 1, share };
  // All of it counts as painted: it is nowhere what it was before.
  const before = { ...image, data: data.map((value) => 255 - value) };
  return new Uint32Array(relightApart(image, { ...light, shares }, before).data.buffer as ArrayBuffer);
}
