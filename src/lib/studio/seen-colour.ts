import { deltaE2000, linearRgbToXyz, WHITE_D65_2, xyzToLab, type Lab } from '#lib/colour/index.ts';
import { coverage, linearise, type Image8 } from '#lib/photo/index.ts';
import { pixels } from './worker-photo.ts';
import type { DrawOptions, RoomPicture } from './room-picture.ts';
import type { Size } from './picture-view.ts';

/* The colour of a place of the drawn room: read off the very picture that is shown, and so with its light and shadow in it. */

/** A disc of a picture, pixels. */
export interface Disc {
  readonly x: number;
  readonly y: number;
  readonly radius: number;
}

/** Radius of a disc that is read, part of the picture's longer side; and the least, pixels. */
const RADIUS = 0.004;
const SMALLEST = 2;

/** The disc that is read round a place of a picture. */
export function discAt({ x, y }: { readonly x: number; readonly y: number }, picture: Size): Disc {
  return { x, y, radius: Math.max(SMALLEST, RADIUS * Math.max(picture.width, picture.height)) };
}

/**
 * The colour of a disc as a picture in sRGB shows it: the mean of its light, each pixel by how much of it the disc covers, as
 * CIELAB of the screen's colours (D65, as all pictures of a room are shown). RangeError where the disc lies beside the picture.
 */
export function discColour(image: Image8, disc: Disc): Lab {
  const { pixels: covered, share, area } = coverage({ kind: 'point', ...disc }, image, 'smooth');
  const { data } = linearise(image);
  const sum = [0, 0, 0];
  covered.forEach((pixel, i) => {
    for (let c = 0; c < 3; c += 1) sum[c] += share[i] * data[3 * pixel + c];
  });
  const [r, g, b] = sum.map((light) => light / area);
  return xyzToLab(linearRgbToXyz({ r, g, b }, 'srgb'), WHITE_D65_2);
}

/** A difference below this is the rounding of the picture's 8 bits, CIEDE2000. */
const ROUNDING = 0.3;

/** How far apart a place is before and after, CIEDE2000; null where that is no more than the picture's rounding. */
export function seenChange(now: Lab, after: Lab): number | null {
  const deltaE = deltaE2000(now, after);
  return deltaE < ROUNDING ? null : deltaE;
}

/** The colour of a disc of the room as it is drawn: before, or with what is on. Throws Error without a picture. */
export async function drawnColour(view: RoomPicture, disc: Disc, options: DrawOptions): Promise<Lab> {
  const whole = await view.read(options);
  const left = Math.max(0, Math.floor(disc.x - disc.radius));
  const top = Math.max(0, Math.floor(disc.y - disc.radius));
  const side = Math.ceil(2 * disc.radius) + 1;
  const part = await createImageBitmap(
    whole,
    left,
    top,
    Math.min(side, whole.width - left),
    Math.min(side, whole.height - top),
  );
  whole.close();
  return discColour({ ...pixels(part), space: 'srgb' }, { ...disc, x: disc.x - left, y: disc.y - top });
}
