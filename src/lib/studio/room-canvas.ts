import type { Sides } from './room-by-worker.ts';
import type { ViewTransform } from './room-picture.ts';

/** Shows a bitmap on a canvas of the page, which takes it over. Throws TypeError for a canvas with another context. */
export function put(canvas: HTMLCanvasElement, bitmap: ImageBitmap): void {
  const context = canvas.getContext('bitmaprenderer');
  if (!context) throw new TypeError('Expected a canvas without another context, got one in use');
  context.transferFromImageBitmap(bitmap);
}

/** Whole pictures in a view: before to the left of a column, after from it on. */
export function composed(
  { width, height }: { readonly width: number; readonly height: number },
  {
    view: { scale, x, y },
    left,
    sides,
    picture,
  }: {
    readonly view: ViewTransform;
    readonly left: number;
    readonly sides: Sides;
    readonly picture: { readonly width: number; readonly height: number };
  },
): ImageBitmap {
  const canvas = new OffscreenCanvas(Math.max(1, width), Math.max(1, height));
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  context.imageSmoothingEnabled = scale < 2 && scale !== 1;
  context.imageSmoothingQuality = 'high';
  const part = (bitmap: ImageBitmap | null, from: number, to: number) => {
    if (!bitmap || to <= from) return;
    context.save();
    context.beginPath();
    context.rect(from, 0, to - from, height);
    context.clip();
    context.drawImage(bitmap, x, y, scale * picture.width, scale * picture.height);
    context.restore();
  };
  part(sides.before ?? sides.after, 0, left);
  part(sides.after ?? sides.before, left, width);
  return canvas.transferToImageBitmap();
}
