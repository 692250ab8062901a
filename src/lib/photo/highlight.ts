/**
 * Highlight apart from body colour: the dichromatic reflection model (Shafer 1985, Color Res. Appl. 10(4), 210-218). Light
 * from a painted surface is the light falling on it times (albedo + k): the body reflects its albedo, the clear face of
 * the binder reflects the share k of whatever stands opposite, in the colour of the light.
 */

/**
 * Share of the light a painted surface reflects at its face on the average, beside its albedo. Fresnel's reflectance of a
 * binder of index 1.5 is 0.04 at right angles and more at low angles, but a surface of a room faces the room, which is
 * darker than the light that falls on it. From memory, no published source.
 */
export const FACE_SHARE = 0.03;
/**
 * The same by sheen. On a dull paint the face scatters what it reflects, and an instrument counts that as the paint's
 * colour: less remains beside it. Halved from satin to flat as a guess, no published source.
 */
export function faceShare(sheen: GlossName | null): number {
  return sheen ? FACE_SHARE * FACE_PARTS[sheen] : FACE_SHARE;
}
const FACE_PARTS: Readonly<Record<GlossName, number>> = {
  flat: 0.5,
  matt: 0.6,
  eggshell: 0.8,
  satin: 1,
  'semi-gloss': 1,
  gloss: 1,
};
/** Relative spread (sd of the natural logarithm) of k from place to place. */
const FACE_SPREAD = 0.9;
/** Degrees of freedom: few, so that a lamp mirrored in the paint is found, and green light is not taken for one. */
const TAIL = 3;
/**
 * How far the colour of the light may lie from what is known, as sd of log channel ratios: along the line from daylight
 * to lamp light (windows, lamps and wooden floors move it that way) and across it, towards green or magenta.
 */
const TINT_ALONG = 0.12;
const TINT_ACROSS = 0.02;
/** ln(R/G), ln(B/G) of light along the black-body locus from 6500 K to 5000 K in linear sRGB, as a direction. */
export const WARM: readonly [number, number] = [0.523, -0.852];

/** ln(R/G) and ln(B/G) of a light. */
export type Tint = readonly [number, number];

/** Doubt about a tint, as sd along and across the line of lights. */
export interface TintNoise {
  readonly along: number;
  readonly across: number;
}

/**
 * How far the colour of what is mirrored at a place lies from that of the light there, as sd along and across: 0.14 to
 * 0.21 and 0.036 to 0.045 on satin cabinets of our renderings.
 */
const MIRRORED_ALONG = 0.2;
const MIRRORED_ACROSS = 0.045;

/**
 * How much of a colour that the mirrored share does not explain is believed to be the light's, along and across, where
 * `part` of what is seen is mirrored: of independent causes (the light, the colour of what is mirrored, noise) each gets
 * its share of the variance. Nearly all on a pale paint, half on a dark one.
 */
export function tintBelieved(part: number, noise: TintNoise): TintNoise {
  const share = (light: number, mirrored: number, rest: number) =>
    light ** 2 / (light ** 2 + (part * mirrored) ** 2 + rest ** 2);
  return {
    along: share(TINT_ALONG, MIRRORED_ALONG, noise.along),
    across: share(TINT_ACROSS, MIRRORED_ACROSS, noise.across),
  };
}

const SIDE = 112; // of the table over the two log ratios
const SHARES = 72; // values of k that are weighed against each other
const LEAST = 0.002;
const MOST = 1.5;
const MARGIN = 0.5; // of the table beyond the ratios the model can give

/** Reads k from the two log ratios of a colour: see `faceShares`. */
export type FaceShareTable = (logRedGreen: number, logBlueGreen: number) => number;

/**
 * What colour says about k: a highlight pulls the colour of a painted surface towards that of the light. The most
 * plausible k (mean of its logarithm) of a colour given by ln(R/G) and ln(B/G), weighing that the light may be warmer or
 * cooler than `tint` and that k varies about `face`. Where the paint is itself of a colour that light takes on
 * (beige, grey, white) colour says nothing, and the answer stays `face`.
 */
export function faceShares(
  albedo: readonly number[],
  face: number,
  tint: Tint,
  noise: TintNoise = { along: 0, across: 0 },
): FaceShareTable {
  const alongDoubt = Math.hypot(TINT_ALONG, noise.along);
  const acrossDoubt = Math.hypot(TINT_ACROSS, noise.across);
  const logs = new Float64Array(SHARES);
  const red = new Float64Array(SHARES);
  const blue = new Float64Array(SHARES);
  const prior = new Float64Array(SHARES);
  const cost = new Float64Array(SHARES);
  for (let j = 0; j < SHARES; j++) {
    logs[j] = Math.log(LEAST) + (j / (SHARES - 1)) * Math.log(MOST / LEAST);
    const k = Math.exp(logs[j]);
    red[j] = Math.log((albedo[0] + k) / (albedo[1] + k)) + tint[0];
    blue[j] = Math.log((albedo[2] + k) / (albedo[1] + k)) + tint[1];
    const away = (logs[j] - Math.log(face)) / FACE_SPREAD;
    prior[j] = heavyTailed(away);
  }
  // k only ever draws a colour from that of the paint to that of the light.
  const [redFrom, redStep] = span(red);
  const [blueFrom, blueStep] = span(blue);
  const table = new Float32Array(SIDE * SIDE);
  for (let a = 0; a < SIDE; a++)
    for (let b = 0; b < SIDE; b++) {
      const r = redFrom + a * redStep;
      const s = blueFrom + b * blueStep;
      let sum = 0;
      let weighted = 0;
      let least = Infinity;
      for (let j = 0; j < SHARES; j++) {
        const along = ((r - red[j]) * WARM[0] + (s - blue[j]) * WARM[1]) / alongDoubt;
        const across = ((r - red[j]) * WARM[1] - (s - blue[j]) * WARM[0]) / acrossDoubt;
        cost[j] = along * along + heavyTailed(across) + prior[j];
        if (cost[j] < least) least = cost[j];
      }
      for (let j = 0; j < SHARES; j++) {
        const w = Math.exp(-0.5 * (cost[j] - least));
        sum += w;
        weighted += w * logs[j];
      }
      table[a * SIDE + b] = Math.exp(weighted / sum);
    }
  const inside = (at: number) => (at < 0 ? 0 : at > SIDE - 1.001 ? SIDE - 1.001 : at);
  return (logRedGreen, logBlueGreen) => {
    const u = inside((logRedGreen - redFrom) / redStep);
    const v = inside((logBlueGreen - blueFrom) / blueStep);
    const a = Math.floor(u);
    const b = Math.floor(v);
    const i = a * SIDE + b;
    const [fu, fv] = [u - a, v - b];
    return (
      (table[i] * (1 - fv) + table[i + 1] * fv) * (1 - fu) +
      (table[i + SIDE] * (1 - fv) + table[i + SIDE + 1] * fv) * fu
    );
  };
}

/** What colour leaves open of the share k at a place, as sd of its natural logarithm. A guess. */
const SHARE_LEFT = 0.4;
/** How far light differs from place to place of one surface, as sd of its natural logarithm. A guess; 0.35 in our kitchen. */
const LIGHT_SPREAD = 0.3;

/**
 * How much of the brightness that sets a place apart from the rest of its surface is believed to be mirrored, as ln k for
 * each unit of ln brightness: of two independent causes each gets its share of the variance. On a pale paint a mirror
 * hardly shows and the answer is small; on a dark one a bright patch is as likely a mirrored window as light.
 */
export function brightnessMirrored(albedo: readonly number[], face: number): number {
  const part = face / (luminance(albedo[0], albedo[1], albedo[2]) + face);
  return (part * SHARE_LEFT ** 2) / (part ** 2 * SHARE_LEFT ** 2 + LIGHT_SPREAD ** 2);
}

/** Cost of a deviation in units of its spread: Student's t, so that what is rare is no impossibility. */
function heavyTailed(away: number): number {
  return (TAIL + 1) * Math.log(1 + (away * away) / TAIL);
}

/** First value and step of the table along one ratio. */
function span(ratios: Float64Array): [number, number] {
  const from = Math.min(ratios[0], ratios[SHARES - 1]) - MARGIN;
  const to = Math.max(ratios[0], ratios[SHARES - 1]) + MARGIN;
  return [from, (to - from) / (SIDE - 1)];
}

/** How far the colour of the light on one place may lie from that in the room, along and across the line of lights. */
export interface TintRange {
  /** What is believed of the deviation seen. */
  readonly along: number;
  readonly across: number;
  readonly mostAlong: number;
  readonly mostAcross: number;
}

/** Into `out`: the log ratios `red` and `blue` drawn towards `tint` as far as `range` and what is `believed` say. */
export function drawnTint(
  out: Float64Array,
  seen: { readonly red: number; readonly blue: number },
  { tint, range, believed }: { readonly tint: Tint; readonly range: TintRange; readonly believed: TintNoise },
): void {
  const red = seen.red - tint[0];
  const blue = seen.blue - tint[1];
  const a = believed.along * range.along * (red * WARM[0] + blue * WARM[1]);
  const c = believed.across * range.across * (red * WARM[1] - blue * WARM[0]);
  const along = a > range.mostAlong ? range.mostAlong : a < -range.mostAlong ? -range.mostAlong : a;
  const across = c > range.mostAcross ? range.mostAcross : c < -range.mostAcross ? -range.mostAcross : c;
  out[0] = tint[0] + along * WARM[0] + across * WARM[1];
  out[1] = tint[1] + along * WARM[1] - across * WARM[0];
}

/** Named sheen of a finish, from dullest to shiniest. */
export type GlossName = 'flat' | 'matt' | 'eggshell' | 'satin' | 'semi-gloss' | 'gloss';

/**
 * How strong a mirrored light stands out, as gloss units at 60 degrees (ISO 2813): middles of the ranges the trade uses.
 * Common practice, no published source.
 */
const GLOSS_UNITS: Readonly<Record<GlossName, number>> = {
  flat: 2,
  matt: 5,
  eggshell: 12,
  satin: 27,
  'semi-gloss': 52,
  gloss: 85,
};

/**
 * How much more than on the old finish the highlights stand out from their own glow: 1 for the same sheen, below 1 on a
 * duller one. At least 0 (glow alone) and at most 3.2 (satin to gloss), because a photograph holds no sharper mirror
 * image than the old finish gave.
 */
export function glossRatio(from: GlossName, to: GlossName): number {
  for (const name of [from, to])
    if (!Object.hasOwn(GLOSS_UNITS, name)) throw new RangeError(`Expected a sheen, got ${String(name)}`);
  return Math.min(3.2, GLOSS_UNITS[to] / GLOSS_UNITS[from]);
}

/** Luminance of linear red, green and blue, IEC 61966-2-1; here to tell lighter from darker, in any space. */
export function luminance(r: number, g: number, b: number): number {
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
