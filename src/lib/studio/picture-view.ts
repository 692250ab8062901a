import type { Point } from '#lib/photo/index.ts';

/** How a picture lies in a frame: a picture place times `scale` plus (x, y) is a place of the frame, CSS pixels. */
export interface PictureView {
  readonly scale: number;
  readonly x: number;
  readonly y: number;
}

export interface Size {
  readonly width: number;
  readonly height: number;
}

/** A pixel of the picture is never drawn larger than this many of the screen. */
const LARGEST_SCALE = 16;

/** The whole picture, in the middle of the frame. */
export function wholeView(picture: Size, frame: Size): PictureView {
  const scale = Math.min(frame.width / picture.width, frame.height / picture.height);
  return centred({ scale, x: 0, y: 0 }, picture, frame);
}

/** Where the whole of a picture is narrower than this part of its frame, it is but a strip. */
const STRIP = 0.6;

/** A picture as it is first seen: whole, or, where that would be a strip, across the frame with its middle in sight. */
export function firstView(picture: Size, frame: Size): PictureView {
  const whole = wholeView(picture, frame);
  if (whole.scale * picture.width >= STRIP * frame.width) return whole;
  const scale = frame.width / picture.width;
  return centred({ scale, x: 0, y: (frame.height - scale * picture.height) / 2 }, picture, frame);
}

/** The view moved so that the frame shows nothing beside the picture where it can help it. */
function centred({ scale, x, y }: PictureView, picture: Size, frame: Size): PictureView {
  const along = (at: number, length: number, room: number) =>
    length <= room ? (room - length) / 2 : Math.min(0, Math.max(room - length, at));
  return {
    scale,
    x: along(x, picture.width * scale, frame.width),
    y: along(y, picture.height * scale, frame.height),
  };
}

/** The view `factor` times as large, with the frame's place `about` held where it is; no smaller than the whole picture. */
export function zoomed(
  view: PictureView,
  { factor, about, picture, frame }: { factor: number; about: Point; picture: Size; frame: Size },
): PictureView {
  const least = wholeView(picture, frame).scale;
  const scale = Math.max(least, Math.min(Math.max(LARGEST_SCALE, least), view.scale * factor));
  const by = scale / view.scale;
  const [x, y] = [about[0] + (view.x - about[0]) * by, about[1] + (view.y - about[1]) * by];
  return centred({ scale, x, y }, picture, frame);
}

export function panned(
  view: PictureView,
  { by, picture, frame }: { by: Point; picture: Size; frame: Size },
): PictureView {
  return centred({ ...view, x: view.x + by[0], y: view.y + by[1] }, picture, frame);
}

/** The view moved just so far that a place of the picture lies in the frame, `margin` from its rim. */
export function showing(
  view: PictureView,
  { place, margin, picture, frame }: { place: Point; margin: number; picture: Size; frame: Size },
): PictureView {
  const [x, y] = toFrame(view, place);
  const into = (at: number, room: number) =>
    at < margin ? margin - at : at > room - margin ? room - margin - at : 0;
  return panned(view, { by: [into(x, frame.width), into(y, frame.height)], picture, frame });
}

export function toFrame({ scale, x, y }: PictureView, [px, py]: Point): Point {
  return [px * scale + x, py * scale + y];
}

export function toPicture({ scale, x, y }: PictureView, [fx, fy]: Point): Point {
  return [(fx - x) / scale, (fy - y) / scale];
}

/** The view after one of two fingers went from `before` to `at` while the other stayed: sized and moved with both. */
export function pinched(
  view: PictureView,
  {
    before,
    at,
    other,
    picture,
    frame,
  }: { before: Point; at: Point; other: Point; picture: Size; frame: Size },
): PictureView {
  const [was, is] = [before, at].map(([x, y]) => Math.hypot(x - other[0], y - other[1]));
  const about: Point = [(before[0] + other[0]) / 2, (before[1] + other[1]) / 2];
  const by: Point = [(at[0] - before[0]) / 2, (at[1] - before[1]) / 2];
  return panned(zoomed(view, { factor: is / Math.max(1, was), about, picture, frame }), {
    by,
    picture,
    frame,
  });
}

/** The place of the picture that is nearest to one that may lie beside it. */
export function within([x, y]: Point, { width, height }: Size): [number, number] {
  return [Math.min(width, Math.max(0, x)), Math.min(height, Math.max(0, y))];
}

/** The way an arrow key points, `step` long; null for other keys. */
export function arrowStep(key: string, step: number): Point | null {
  const ways: Record<string, Point> = {
    ArrowLeft: [-step, 0],
    ArrowRight: [step, 0],
    ArrowUp: [0, -step],
    ArrowDown: [0, step],
  };
  return ways[key] ?? null;
}
