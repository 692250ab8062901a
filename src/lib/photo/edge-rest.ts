import { linearTable, type Image8 } from './image.ts';
import type { MaskBox } from './mask.ts';
import { ENCODE_STEPS, encodingTable } from './encoding.ts';
import { RIM, type SurfacePixels } from './surface-pixels.ts';

/**
 * Pixels that a surface shares with what stands beside or before it: how much of each is the surface, and what the rest
 * is. Both matter when the surface's colour changes: of a beige that becomes dark green a few per cent too little taken
 * out stay as a light seam, and a cord or handle a pixel wide would wear the old paint's colour.
 */

/** Radius of the window in which what stands beside a pixel is looked for, pixels, and its sd. */
const RADIUS = 2;
const SPREAD = 1.2;
/** How far a coverage may be wrong, as sd: masks come from strokes. */
const COVERAGE_DOUBT = 0.1;
/** Luminance weights: a JPEG keeps colour coarser than lightness. */
const WEIGHTS = [0.2126, 0.7152, 0.0722] as const;
/** Noise in linear light: about three device values of 255, at black and in proportion to the root of the light. */
const NOISE_AT_BLACK = 0.002;
const NOISE = 0.02;
/** How far the surface's own light at an edge, filled in from beside it, may be off: relative sd. A guess. */
const OWN_DOUBT = 0.15;
/** Pixels with more of the surface than this say nothing about what is beside it. */
const HARDLY = 0.95;
/** A pixel at the rim with more of the surface than this is the surface's. */
const NEARLY = 0.9;

export interface SharedOptions {
  readonly box: MaskBox;
  /** Linear light, stride 3, of the surface alone at a pixel of the box. */
  readonly shown: (at: number, out: Float64Array) => void;
  /** How far single pixels of the surface lie from what `shown` says of it because of its grain: relative sd, 0 for none. */
  readonly grain: number;
  /** Multiplies the light at a pixel. */
  readonly brighten: (at: number, factor: number) => void;
}

export interface SharedPixels {
  /** Coverage as the picture has it, 0-255; wholly covered and free pixels stay what they were. */
  readonly coverage: Uint8Array;
  /** Device values, stride 3, of what a shared pixel would show if the surface were black; 0 elsewhere. */
  readonly rest: Uint8Array;
}

/**
 * Takes the shared pixels of a surface apart. What stands beside is read off the pixels around that have least of the
 * surface, each freed from the surface's share; where it differs from the surface, the pixel itself tells how much it has
 * of either (least squares between the two, weighed against the mask's own word). `shown` gives linear light, stride 3,
 * of the surface alone at a pixel of the box.
 */
export function sharedPixels(
  image: Image8,
  { coverage, state }: Pick<SurfacePixels, 'coverage' | 'state'>,
  { box, shown, grain, brighten }: SharedOptions,
): SharedPixels {
  const table = linearTable(image.space);
  const encode = encodingTable(table);
  const fresh = coverage.slice();
  const rest = new Uint8Array(3 * coverage.length);
  const around: { dx: number; dy: number; weight: number }[] = [];
  for (let dy = -RADIUS; dy <= RADIUS; dy++)
    for (let dx = -RADIUS; dx <= RADIUS; dx++)
      around.push({ dx, dy, weight: Math.exp(-(dx * dx + dy * dy) / (2 * SPREAD ** 2)) });
  const ownDoubt = OWN_DOUBT ** 2 + grain ** 2;
  const own = new Float64Array(3);
  const other = new Float64Array(3);
  const [pixel, beside, square] = [new Float64Array(3), new Float64Array(3), new Float64Array(3)];
  for (let y = 0, o = 0; y < box.height; y++)
    for (let x = 0; x < box.width; x++, o++) {
      if (coverage[o] === 0 || (coverage[o] === 255 && state[o] !== RIM)) continue;
      const share = coverage[o] / 255;
      beside.fill(0);
      square.fill(0);
      let total = 0;
      for (const { dx, dy, weight } of around) {
        const [u, v] = [x + dx, y + dy];
        const [px, py] = [u + box.x, v + box.y];
        if (px < 0 || py < 0 || px >= image.width || py >= image.height) continue;
        const inBox = u >= 0 && v >= 0 && u < box.width && v < box.height;
        const at = v * box.width + u;
        const part = inBox ? coverage[at] / 255 : 0;
        if (part > HARDLY) continue;
        const w = weight * (1 - part) ** 4;
        const i = (py * image.width + px) * image.channels;
        if (part > 0) shown(at, other);
        for (let c = 0; c < 3; c++) {
          const seen = table[image.data[i + c]];
          const free = part === 0 ? seen : Math.max(0, (seen - part * other[c]) / (1 - part));
          beside[c] += w * free;
          square[c] += w * free * free;
        }
        total += w;
      }
      if (total === 0) continue;
      shown(o, own);
      const i = ((y + box.y) * image.width + x + box.x) * image.channels;
      let [towards, apart, spread, light, mine] = [0, 0, 0, 0, 0];
      for (let c = 0; c < 3; c++) {
        pixel[c] = table[image.data[i + c]];
        beside[c] /= total;
        spread += WEIGHTS[c] * Math.max(0, square[c] / total - beside[c] ** 2);
        light += WEIGHTS[c] * pixel[c];
        mine += WEIGHTS[c] * own[c] * own[c];
        const between = own[c] - beside[c];
        apart += WEIGHTS[c] * between * between;
        towards += WEIGHTS[c] * between * (pixel[c] - share * own[c] - (1 - share) * beside[c]);
      }
      const besideDoubt = (NOISE_AT_BLACK + NOISE * Math.sqrt(light)) ** 2 + (1 - share) ** 2 * spread;
      const doubt = besideDoubt + share ** 2 * ownDoubt * mine;
      const gain = COVERAGE_DOUBT ** 2 / (COVERAGE_DOUBT ** 2 * apart + doubt);
      const found = Math.max(0, Math.min(1, share + gain * towards));
      if (coverage[o] === 255 && found > NEARLY) {
        // Where a neighbour is told apart, what deviates is its halo (cameras sharpen), and not light; or it is grain,
        // which covers up any halo where it is as strong.
        const mean = WEIGHTS[0] * own[0] + WEIGHTS[1] * own[1] + WEIGHTS[2] * own[2];
        const halo = Math.max(0, 1 - (grain / OWN_DOUBT) ** 2);
        brighten(o, ((light + 1e-5) / (mean + 1e-5)) ** (halo * (1 - gain * apart)));
        continue;
      }
      fresh[o] = Math.max(1, Math.min(254, Math.round(255 * found)));
      const whole = fresh[o] / 255;
      const ofGrain = (whole * grain) ** 2 * mine;
      const others = besideDoubt / (besideDoubt + ofGrain);
      for (let c = 0; c < 3; c++) {
        // What neither explains is the other's where it is most of the pixel, and noise or grain where it is little.
        const unexplained = pixel[c] - whole * own[c] - (1 - whole) * beside[c];
        const left = (1 - whole) * (beside[c] + (1 - whole) * others * unexplained);
        const v = left <= 0 ? 0 : left >= 1 ? 255 : encode[(Math.sqrt(left) * ENCODE_STEPS) | 0];
        rest[3 * o + c] = Math.min(255, Math.round(v));
      }
    }
  return { coverage: fresh, rest };
}
