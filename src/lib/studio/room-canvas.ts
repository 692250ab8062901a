import type { SurfaceLayers } from '#lib/photo/index.ts';
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
    over,
  }: {
    readonly view: ViewTransform;
    readonly left: number;
    readonly sides: Sides;
    readonly picture: { readonly width: number; readonly height: number };
    /** A canvas that shows the picture in another view, drawn over it. */
    readonly over?: { readonly canvas: HTMLCanvasElement; readonly view: ViewTransform } | null;
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
  if (over) {
    const times = scale / over.view.scale;
    const [atX, atY] = [x - times * over.view.x, y - times * over.view.y];
    context.drawImage(over.canvas, atX, atY, times * over.canvas.width, times * over.canvas.height);
  }
  return canvas.transferToImageBitmap();
}

/** A rectangle of the picture, pixels. */
export type Box = SurfaceLayers['box'];

/** What a canvas shows of a picture between two of its columns, with all that its pixels there are read from. */
export function seenBox(
  picture: { readonly width: number; readonly height: number },
  {
    view: { scale, x, y },
    columns: [left, right],
    height,
  }: { readonly view: ViewTransform; readonly columns: readonly [number, number]; readonly height: number },
): Box {
  const more = 2 + Math.ceil(2 / scale);
  const along = (from: number, to: number, length: number) => {
    const first = Math.min(length, Math.max(0, Math.floor(from / scale) - more));
    return [first, Math.max(0, Math.min(length, Math.ceil(to / scale) + more) - first)];
  };
  const [west, width] = along(left - x, right - x, picture.width);
  const [north, tall] = along(-y, height - y, picture.height);
  return width * tall > 0 ? { x: west, y: north, width, height: tall } : NO_BOX;
}

export const NO_BOX: Box = { x: 0, y: 0, width: 0, height: 0 };

/** Whether all of the second lies in the first. */
export function holds(outer: Box, inner: Box): boolean {
  const { x, y, width, height } = common(outer, inner);
  return (
    inner.width === 0 || (x === inner.x && y === inner.y && width === inner.width && height === inner.height)
  );
}

/** What lies in both. */
export function common(one: Box, other: Box): Box {
  const [x, y] = [Math.max(one.x, other.x), Math.max(one.y, other.y)];
  const width = Math.min(one.x + one.width, other.x + other.width) - x;
  const height = Math.min(one.y + one.height, other.y + other.height) - y;
  return width > 0 && height > 0 ? { x, y, width, height } : NO_BOX;
}

/** The smallest that holds all of them. */
export function around(boxes: readonly Box[]): Box {
  const some = boxes.filter(({ width }) => width > 0);
  if (some.length === 0) return NO_BOX;
  const x = Math.min(...some.map((box) => box.x));
  const y = Math.min(...some.map((box) => box.y));
  const width = Math.max(...some.map((box) => box.x + box.width)) - x;
  const height = Math.max(...some.map((box) => box.y + box.height)) - y;
  return { x, y, width, height };
}
