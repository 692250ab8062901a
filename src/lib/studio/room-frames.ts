import {
  ENCODE_STEPS,
  KNEE,
  MOST_BOUNCED,
  encodingTable,
  type LightApart,
  type PaintParameters,
  type RelightTable,
} from '#lib/photo/index.ts';
import { CodedLight, ExactLight, PLAIN, type LightPutter } from './room-codes.ts';
import { LIGHT_STRIDE, LINEAR, type Stage, type StageEdge } from './room-stage.ts';

/** Numbers of a place: light and bounced light in red, green, blue, mirrored light, that spread out. */
const READY = 8;

/** Falling exponential, in steps of `FALL_STEPS` to 1, for a shoulder that is right to a tenth of a device value. */
const FALL_STEPS = 512;
const FALL = Float32Array.from({ length: 16 * FALL_STEPS }, (_, k) => Math.exp(-(k + 0.5) / FALL_STEPS));
/** Pixels of surfaces beside the one that changes that are painted in one frame: some milliseconds. */
const AT_ONCE = 250_000;

/** From linear light to what is put on the stage. */
interface Way {
  readonly light: LightPutter | null;
  readonly bits: number;
  readonly levels: number;
  readonly encoded: Uint16Array;
}

function wayOf(light: LightPutter | null): Way {
  const { bits, levels } = light?.coding ?? PLAIN;
  return { light, bits, levels, encoded: encodedIn(levels) };
}

/** What stays the same while the room's light on a surface does. */
interface Ready {
  readonly ambient: readonly number[];
  readonly inside: Float32Array;
  readonly part: Float32Array;
}

/**
 * Paints the frames of a stage, one candidate after another: the formula of `paintOver` with everything worked out before
 * that does not change from one candidate to the next. What no surface touches stays as it was handed in. In a light,
 * colours are told apart in coarser steps and dithered (see `CodedLight`): right in the mean over a few pixels.
 */
export class FramePainter {
  readonly #stage: Stage;
  readonly #out: Uint32Array;
  /** What frames go through that follow each other, and what the last one goes through. */
  readonly #passing: Way;
  readonly #lasting: Way;
  readonly #ready: (Ready | null)[];
  /** What each surface was last painted with. */
  readonly #painted: (PaintParameters | null)[];
  /** Which of them as they are to stay. */
  readonly #lasts: boolean[];
  /** The surface that comes next where not all are painted in one frame. */
  #turn = 0;
  readonly #codes: Uint32Array;
  readonly #sum: Float32Array;

  readonly #atOnce: number;

  /** `base`: the stage as it is shown now, RGBA, painted over from then on. `atOnce`: other than `AT_ONCE`. */
  constructor(
    stage: Stage,
    options: {
      readonly base: Uint8ClampedArray<ArrayBuffer>;
      readonly light: RelightTable | LightApart | null;
      readonly atOnce?: number;
    },
  ) {
    const { base, light, atOnce = AT_ONCE } = options;
    this.#atOnce = atOnce;
    this.#stage = stage;
    this.#out = new Uint32Array(base.buffer, base.byteOffset, base.length / 4);
    this.#lasting = wayOf(light && new ExactLight(light));
    this.#passing = light ? wayOf(new CodedLight(light)) : this.#lasting;
    this.#ready = stage.surfaces.map(() => null);
    this.#painted = stage.surfaces.map(() => null);
    this.#lasts = stage.surfaces.map(() => false);
    this.#codes = new Uint32Array(
      Math.max(stage.edge.at.length, ...stage.surfaces.map(({ at }) => at.length)),
    );
    this.#sum = new Float32Array(stage.edge.pixels.length);
  }

  /**
   * With those numbers of each surface, in the stage's order. Surfaces with another finish than in the frame before are
   * painted at once; those where only the light thrown back is another take turns, as many as go. Whether all of them are
   * as they are to stay: where not, another frame with the same numbers goes on. `last`: no other finish comes soon, so
   * all are painted at once, in the light's exact colours.
   */
  paint(parameters: readonly PaintParameters[], { last = false } = {}): boolean {
    const { surfaces, edge } = this.#stage;
    const way = last ? this.#lasting : this.#passing;
    const { encoded, bits, levels } = way;
    this.#sum.set(edge.pixels);
    const due = last ? this.#passed(parameters) : this.#due(parameters);
    surfaces.forEach((surface, k) => {
      const own = parameters[k];
      const ready = this.#readyFor(k, own.ambient);
      if (due.has(k)) {
        insideCodes(this.#codes, { own, places: ready.inside, ...surface, encoded, bits });
        this.#put(way, surface);
        this.#painted[k] = own;
        this.#lasts[k] = way === this.#lasting;
      }
      addPart(this.#sum, { own, places: ready.part, ...surface.part });
    });
    encodeSums(this.#sum, edge.pixels, encoded);
    edgeCodes(this.#codes, edge, { sum: this.#sum, bits, levels });
    this.#put(way, edge);
    return way === this.#lasting && this.#passed(parameters).size === 0;
  }

  /** Surfaces that are not painted as they are to stay. */
  #passed(parameters: readonly PaintParameters[]): Set<number> {
    return new Set([...parameters.keys()].filter((k) => !this.#lasts[k] || !this.#current(k, parameters[k])));
  }

  /** Surfaces to be painted in this frame. */
  #due(parameters: readonly PaintParameters[]): Set<number> {
    const due = new Set<number>();
    const waiting: number[] = [];
    for (let n = 0; n < parameters.length; n++) {
      const k = (this.#turn + n) % parameters.length;
      const before = this.#painted[k];
      if (!before || !sameFinish(before, parameters[k])) due.add(k);
      else if (!this.#current(k, parameters[k])) waiting.push(k);
    }
    let room = this.#atOnce;
    for (const k of waiting) {
      const { length } = this.#stage.surfaces[k].at;
      if (length > room && room < this.#atOnce) break;
      due.add(k);
      room -= length;
      this.#turn = k + 1;
    }
    return due;
  }

  #current(k: number, { bounce, ambient, ...own }: PaintParameters): boolean {
    const painted = this.#painted[k];
    return (
      painted !== null &&
      sameFinish(painted, own) &&
      bounce.every((value, c) => value === painted.bounce[c]) &&
      ambient.every((value, c) => value === painted.ambient[c])
    );
  }

  #put({ light }: Way, { at, dither, share }: Pick<StageEdge, 'at' | 'dither' | 'share'>): void {
    const codes = this.#codes;
    if (light) light.put(this.#out, { at, codes, dither, share });
    else for (let n = 0; n < at.length; n++) this.#out[at[n]] = codes[n] | 0xff000000;
  }

  #readyFor(k: number, ambient: readonly number[]): Ready {
    const known = this.#ready[k];
    if (known && ambient.every((value, c) => value === known.ambient[c])) return known;
    const { light, part } = this.#stage.surfaces[k];
    const ready = { ambient, inside: withBounce(light, ambient), part: withBounce(part.light, ambient) };
    this.#ready[k] = ready;
    return ready;
  }
}

type FinishNumbers = Pick<PaintParameters, 'albedo' | 'face' | 'gloss'>;

function sameFinish(one: FinishNumbers, other: FinishNumbers): boolean {
  const same = one.albedo && other.albedo && one.albedo.every((value, c) => value === other.albedo?.[c]);
  return (same ?? one.albedo === other.albedo) && one.face === other.face && one.gloss === other.gloss;
}

function withBounce(light: Float32Array, ambient: readonly number[]): Float32Array {
  const count = light.length / LIGHT_STRIDE;
  const out = new Float32Array(READY * count);
  for (let n = 0, o = 0, l = 0; n < count; n++, o += READY, l += LIGHT_STRIDE) {
    for (let c = 0; c < 3; c++) {
      const fall = light[l + c];
      out[o + c] = fall;
      out[o + 3 + c] = Math.min(fall * MOST_BOUNCED, ambient[c] / Math.max(fall, 1e-6));
    }
    out[o + 6] = light[l + 4];
    out[o + 7] = light[l + 3];
  }
  return out;
}

/** Codes of the pixels that a surface fills alone. */
function insideCodes(
  codes: Uint32Array,
  given: {
    readonly own: PaintParameters;
    readonly places: Float32Array;
    readonly albedo: Float32Array | null;
    readonly before: Uint8Array;
    readonly dither: Uint8Array;
    readonly encoded: Uint16Array;
    readonly bits: number;
  },
): void {
  const { places, albedo, before, dither, encoded, bits } = given;
  const { face, gloss, bounce } = given.own;
  const [k0, k1, k2] = [bounce[0] - 1, bounce[1] - 1, bounce[2] - 1];
  let [a0, a1, a2] = given.own.albedo ?? [0, 0, 0];
  for (let n = 0, o = 0; n < dither.length; n++, o += READY) {
    if (albedo) {
      a0 = albedo[3 * n];
      a1 = albedo[3 * n + 1];
      a2 = albedo[3 * n + 2];
    }
    const glow = places[o + 7];
    let mirror = face + glow + gloss * (places[o + 6] - glow);
    if (mirror < 0) mirror = 0;
    let r = (places[o] + k0 * places[o + 3]) * (a0 + mirror);
    let g = (places[o + 1] + k1 * places[o + 4]) * (a1 + mirror);
    let b = (places[o + 2] + k2 * places[o + 5]) * (a2 + mirror);
    if (r > KNEE) r = bent(r, LINEAR[before[3 * n]]);
    if (g > KNEE) g = bent(g, LINEAR[before[3 * n + 1]]);
    if (b > KNEE) b = bent(b, LINEAR[before[3 * n + 2]]);
    const shift = dither[n];
    const red = (encoded[(Math.sqrt(r) * ENCODE_STEPS) | 0] + shift) >> 8;
    const green = (encoded[(Math.sqrt(g) * ENCODE_STEPS) | 0] + shift) >> 8;
    const blue = (encoded[(Math.sqrt(b) * ENCODE_STEPS) | 0] + shift) >> 8;
    codes[n] = red | (green << bits) | (blue << (bits + bits));
  }
}

/** Adds what a surface changes of the pixels at the edge. */
function addPart(
  sum: Float32Array,
  given: {
    readonly own: PaintParameters;
    readonly places: Float32Array;
    readonly albedo: Float32Array | null;
    readonly pixel: Int32Array;
    readonly weight: Float32Array;
    readonly left: Float32Array;
  },
): void {
  const { places, albedo, pixel, weight, left } = given;
  const { face, gloss, bounce } = given.own;
  const [k0, k1, k2] = [bounce[0] - 1, bounce[1] - 1, bounce[2] - 1];
  let [a0, a1, a2] = given.own.albedo ?? [0, 0, 0];
  for (let n = 0, o = 0; n < pixel.length; n++, o += READY) {
    if (albedo) {
      a0 = albedo[3 * n];
      a1 = albedo[3 * n + 1];
      a2 = albedo[3 * n + 2];
    }
    const glow = places[o + 7];
    let mirror = face + glow + gloss * (places[o + 6] - glow);
    if (mirror < 0) mirror = 0;
    const j = 3 * pixel[n];
    const w = weight[n];
    sum[j] += left[3 * n] + w * (places[o] + k0 * places[o + 3]) * (a0 + mirror);
    sum[j + 1] += left[3 * n + 1] + w * (places[o + 1] + k1 * places[o + 4]) * (a1 + mirror);
    sum[j + 2] += left[3 * n + 2] + w * (places[o + 2] + k2 * places[o + 5]) * (a2 + mirror);
  }
}

/** Linear light becomes what `encoded` has for it, in place. */
function encodeSums(sum: Float32Array, pixels: Float32Array, encoded: Uint16Array): void {
  for (let j = 0; j < sum.length; j++) {
    let v = sum[j];
    if (v > KNEE) v = bent(v, pixels[j]);
    else if (v < 0) v = 0;
    sum[j] = encoded[(Math.sqrt(v) * ENCODE_STEPS) | 0];
  }
}

function edgeCodes(
  codes: Uint32Array,
  { begin, from, weight, still, dither }: StageEdge,
  { sum, bits, levels }: { sum: Float32Array; bits: number; levels: number },
): void {
  const scale = (256 * levels) / 255;
  for (let n = 0; n < dither.length; n++) {
    let r = scale * still[3 * n];
    let g = scale * still[3 * n + 1];
    let b = scale * still[3 * n + 2];
    const end = begin[n + 1];
    for (let e = begin[n]; e < end; e++) {
      const j = 3 * from[e];
      const w = weight[e];
      r += w * sum[j];
      g += w * sum[j + 1];
      b += w * sum[j + 2];
    }
    // Half a 256th, so that a weight a hair too small loses no level.
    const shift = dither[n] + 0.5;
    codes[n] = ((r + shift) >> 8) | (((g + shift) >> 8) << bits) | (((b + shift) >> 8) << (bits + bits));
  }
}

/** The shoulder of `paintOver`, and white at most. */
function bent(value: number, pixel: number): number {
  const knee = pixel > KNEE ? pixel : KNEE;
  if (value <= knee || knee > 0.999) return value > 1 ? 1 : value;
  const far = (value - knee) / (1 - knee);
  return far < 16 ? knee + (1 - knee) * (1 - FALL[(far * FALL_STEPS) | 0]) : 1;
}

/** 256ths of levels for square roots of linear light in steps. */
function encodedIn(levels: number): Uint16Array {
  return Uint16Array.from(encodingTable(LINEAR), (value) => (256 * levels * Math.min(255, value)) / 255);
}
