import { invert, type Lab } from '#lib/colour/index.ts';
import { WARM, luminance } from './highlight.ts';
import type { LightAround, LinearRgb } from './light-around.ts';
import { carried } from './scaled-colour.ts';
import type { SurfacePixels } from './surface-pixels.ts';

/**
 * The old finish as the photo shows it. A corrected photo still shows a known finish a little wrongly, because cameras and
 * lamps differ from what a correction expects. On a dark paint so small an error looks like more or less of a mirrored
 * room, and the light comes out wrong by a tenth and more. How far a whole surface lies from what is expected is
 * therefore shared out among its possible causes by how far each usually reaches: Gaussian, in closed form.
 */

/** What a correction from white paper leaves of doubt on each axis of a room's colours, CIELAB units: DEVELOPERS.md. */
const CAMERA_DOUBT = 1.8;
/**
 * The light on a surface against that in the room (`lightAround`), as sd of ln level (0.17 over walls and cabinets of our
 * renderings by day) and of log channel ratios along and across (a guess).
 */
const LIGHT_DOUBT = [0.17, 0.12, 0.03] as const;
/** Of the share that a surface mirrors on the average, as sd of its natural logarithm. A guess. */
const FACE_DOUBT = 0.3;

/** Level and colour of a light: ln luminance, then ln channel ratios along and across the line of lights. */
export type LightMeasures = readonly [number, number, number];

/** Of linear red, green and blue, all above 0. */
export function lightMeasures(r: number, g: number, b: number): LightMeasures {
  const red = Math.log(r / g);
  const blue = Math.log(b / g);
  return [Math.log(luminance(r, g, b)), red * WARM[0] + blue * WARM[1], red * WARM[1] - blue * WARM[0]];
}

/** As many pixels as this tell a median well enough. */
const MOST_READ = 40_000;

/** Medians over a surface's trusted pixels; null where there are none. */
export function medianMeasures({ rgb, weight, trusted }: SurfacePixels): LightMeasures | null {
  const step = Math.max(1, Math.floor(trusted / MOST_READ));
  const seen: [number[], number[], number[]] = [[], [], []];
  let at = 0;
  for (let i = 0; i < weight.length; i++) {
    if (!weight[i] || at++ % step !== 0) continue;
    const [r, g, b] = rgb.map((plane) => plane[i] + 1e-5);
    lightMeasures(r, g, b).forEach((v, k) => seen[k].push(v));
  }
  if (seen[0].length === 0) return null;
  const middle = (values: number[]) => values.sort((p, q) => p - q)[values.length >> 1];
  return [middle(seen[0]), middle(seen[1]), middle(seen[2])];
}

/** A finish as it reflects: albedo and the share its face mirrors. */
export interface Reflecting {
  readonly old: LinearRgb;
  readonly face: number;
}

/**
 * In: the known finish with its albedo and usual face, `albedoOf` for finishes like it, medians of what the surface's
 * pixels show, and the light around it. Out: albedo and face that explain what is seen with the light that is likely.
 */
export function finishAsSeen(
  known: { readonly lab: Lab; readonly face: number },
  {
    albedoOf,
    seen,
    around,
  }: {
    readonly albedoOf: (lab: Lab) => LinearRgb;
    readonly seen: LightMeasures;
    readonly around: LightAround;
  },
): Reflecting {
  const { lab, face } = known;
  const reflected = (of: Lab, k: number) => {
    const [r, g, b] = albedoOf(of);
    return lightMeasures(r + k, g + k, b + k);
  };
  const usual = reflected(lab, face);
  const light = lightMeasures(...around.light);
  const { L, a, b } = lab;
  const moved = [
    reflected({ L: L + 1, a, b }, face),
    reflected({ L, a: a + 1, b }, face),
    reflected({ L, a, b: b + 1 }, face),
  ];
  const slope = Array.from(
    { length: 9 },
    (_, i) => moved[i % 3][Math.floor(i / 3)] - usual[Math.floor(i / 3)],
  );
  const variance = CAMERA_DOUBT ** 2;
  const camera = carried(slope, [variance, 0, 0, 0, variance, 0, 0, 0, variance]);
  const step = 0.1;
  const mirror = reflected(lab, face * Math.exp(step)).map((v, i) => ((v - usual[i]) / step) * FACE_DOUBT);
  const all = Array.from({ length: 9 }, (_, i) => {
    const [row, column] = [Math.floor(i / 3), i % 3];
    return camera[i] + mirror[row] * mirror[column] + (row === column ? LIGHT_DOUBT[row] ** 2 : 0);
  });
  const rest = usual.map((v, i) => seen[i] - v - light[i]);
  const inverse = invert(all);
  const by = (matrix: ArrayLike<number>, vector: readonly number[]) =>
    [0, 1, 2].map((row) => [0, 1, 2].reduce((sum, c) => sum + matrix[3 * row + c] * vector[c], 0));
  const weighed = by(inverse, rest);
  const [level, along, across] = by(camera, weighed);
  const share = face * Math.exp(FACE_DOUBT * mirror.reduce((sum, v, i) => sum + v * weighed[i], 0));
  // Back to channels: WARM is nearly of unit length, and is divided by what it is.
  const norm = WARM[0] ** 2 + WARM[1] ** 2;
  const red = Math.exp((along * WARM[0] + across * WARM[1]) / norm);
  const blue = Math.exp((along * WARM[1] - across * WARM[0]) / norm);
  const old = albedoOf(lab);
  const whole = old.map((v) => v + face);
  const scale =
    (Math.exp(level) * luminance(whole[0], whole[1], whole[2])) /
    luminance(red * whole[0], whole[1], blue * whole[2]);
  const channel = (c: number, factor: number) => Math.max(0, scale * factor * whole[c] - face);
  return { old: [channel(0, red), channel(1, 1), channel(2, blue)], face: share };
}
