import type { Point } from '#lib/photo/index.ts';
import { flatPicture } from './flat-picture.ts';
import type { MaskOutline } from './mask-outline.ts';
import type { AnyStroke, MarkingWay } from './marking.ts';
import type { MarkShift } from './mark-shift.ts';
import type { PictureView, Size } from './picture-view.ts';

/** Another marked surface: a thin line and its name. */
export interface Neighbour {
  id: string;
  name: string;
  outline: MaskOutline;
  place: Point | null;
}

export function pathOf({ places, ends }: MaskOutline): Path2D {
  const path = new Path2D();
  let i = 0;
  for (const end of ends) {
    path.moveTo(places[2 * i], places[2 * i + 1]);
    for (i += 1; i < end; i += 1) path.lineTo(places[2 * i], places[2 * i + 1]);
    path.closePath();
  }
  return path;
}

/** The canvas emptied, at the screen's own pixels and ready to draw in the picture's. `room` in CSS pixels. */
export function readied(
  canvas: HTMLCanvasElement,
  view: PictureView,
  room: Size,
): CanvasRenderingContext2D | null {
  const dots = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(room.width * dots), Math.round(room.height * dots)];
  if (canvas.width !== w) canvas.width = w;
  if (canvas.height !== h) canvas.height = h;
  const context = canvas.getContext('2d');
  context?.setTransform(1, 0, 0, 1, 0, 0);
  context?.clearRect(0, 0, w, h);
  context?.setTransform(dots * view.scale, 0, 0, dots * view.scale, dots * view.x, dots * view.y);
  return context;
}

/** A line that shows on dark and bright: widths in pixels of the screen. */
function twoTone(
  context: CanvasRenderingContext2D,
  path: Path2D,
  { scale, dark, bright }: { scale: number; dark: number; bright: number },
): void {
  context.strokeStyle = '#000';
  context.lineWidth = dark / scale;
  context.stroke(path);
  context.strokeStyle = '#fff';
  context.lineWidth = bright / scale;
  context.stroke(path);
}

/** Slanted lines where two paths lie over each other. */
function hatch(
  context: CanvasRenderingContext2D,
  [a, b]: readonly [Path2D, Path2D],
  { scale, size }: { scale: number; size: Size },
): void {
  context.save();
  context.clip(a, 'evenodd');
  context.clip(b, 'evenodd');
  const lines = new Path2D();
  for (let x = -size.height; x < size.width; x += 9 / scale) {
    lines.moveTo(x, size.height);
    lines.lineTo(x + size.height, 0);
  }
  twoTone(context, lines, { scale, dark: 3, bright: 1.2 });
  context.restore();
}

/** The picture beneath its veil, the outline of what is marked, and the neighbours with their names. */
export function drawMarked(
  context: CanvasRenderingContext2D,
  scale: number,
  shown: {
    picture: ImageBitmap | null;
    veil: ImageBitmap | null;
    size: Size;
    own: Path2D | null;
    others: readonly (Neighbour & { path: Path2D })[];
    /** Ids of neighbours of whose place something is taken: hatched where it is. */
    claimed: readonly string[];
    /** Neighbours that are shown elsewhere than they are stored. */
    shift: MarkShift | null;
  },
): void {
  const { picture, veil, size, own, others, claimed, shift } = shown;
  // Large pixels are shown as they are.
  context.imageSmoothingEnabled = scale < 3;
  if (picture) context.drawImage(picture, 0, 0, size.width, size.height);
  if (veil?.width) context.drawImage(veil, 0, 0, size.width, size.height);
  if (own)
    for (const { id, path } of others) if (claimed.includes(id)) hatch(context, [own, path], { scale, size });
  context.lineJoin = 'round';
  for (const { id, path } of others) {
    const moved = shift?.ids.includes(id);
    context.save();
    if (shift && moved) context.translate(...shift.by);
    context.globalAlpha = moved ? 1 : 0.7;
    twoTone(context, path, moved ? { scale, dark: 3.2, bright: 1.5 } : { scale, dark: 1.6, bright: 0.7 });
    context.restore();
  }
  context.globalAlpha = 1;
  if (own) twoTone(context, own, { scale, dark: 3.2, bright: 1.5 });
  context.font = `600 ${13 / scale}px ${getComputedStyle(context.canvas).fontFamily}`;
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  for (const { id, name, place: stored } of others) {
    if (!stored) continue;
    const [dx, dy] = shift?.ids.includes(id) ? shift.by : [0, 0];
    const place: Point = [stored[0] + dx, stored[1] + dy];
    context.lineWidth = 3.5 / scale;
    context.strokeStyle = '#000';
    context.strokeText(name, ...place);
    context.fillStyle = '#fff';
    context.fillText(name, ...place);
  }
}

/** Strokes that the marks shown do not hold yet: white adds, black takes away. */
export function drawStrokes(
  context: CanvasRenderingContext2D,
  scale: number,
  strokes: readonly AnyStroke[],
): void {
  context.lineCap = 'round';
  context.lineJoin = 'round';
  context.globalAlpha = 0.75;
  for (const stroke of strokes) {
    const { points, mode } = stroke;
    const [inside, rim] = mode === 'add' ? ['#fff', '#000'] : ['#000', '#fff'];
    const path = new Path2D();
    path.moveTo(...points[0]);
    for (const point of points.length > 1 ? points.slice(1) : points) path.lineTo(...point);
    context.strokeStyle = rim;
    context.fillStyle = inside;
    if ('radius' in stroke) {
      context.lineWidth = 2 * stroke.radius + 2 / scale;
      context.stroke(path);
      context.strokeStyle = inside;
      context.lineWidth = 2 * stroke.radius;
      context.stroke(path);
    } else {
      path.closePath();
      context.fill(path);
      context.lineWidth = 2 / scale;
      context.stroke(path);
    }
  }
  context.globalAlpha = 1;
}

/** What lies under the hand: its place, and how far its brush reaches in pixels of the picture. */
export interface Aim {
  readonly place: Point;
  readonly radius: number;
  readonly way: MarkingWay;
  readonly mode: AnyStroke['mode'];
  /** Set with keys: then four arms lead to it. */
  readonly keyed: boolean;
}

/** The brush where it would draw. By hand the border of what it covers runs between its black and its white ring. */
export function drawAim(context: CanvasRenderingContext2D, scale: number, aim: Aim): void {
  const { place, way, mode, keyed } = aim;
  const [x, y] = place;
  const radius = way === 'outline' ? 0 : aim.radius;
  const cross = (path: Path2D, from: number, to: number, sides: readonly Point[]) => {
    for (const [dx, dy] of sides) {
      path.moveTo(x + dx * from, y + dy * from);
      path.lineTo(x + dx * to, y + dy * to);
    }
  };
  const across: Point[] = [
    [1, 0],
    [-1, 0],
  ];
  const all: Point[] = [...across, [0, 1], [0, -1]];
  const lines = new Path2D();
  if (keyed) cross(lines, way === 'outline' ? 3 / scale : radius, radius + 14 / scale, all);
  // A plus adds, a minus takes away; a brush too small for it is left clear.
  if (way !== 'outline' && radius * scale > 4)
    cross(lines, 0, Math.min(radius * 0.6, 4 / scale), mode === 'remove' ? across : all);
  twoTone(context, lines, { scale, dark: 3, bright: 1.4 });
  if (radius === 0) return;
  const ring = (at: number) => {
    const path = new Path2D();
    path.arc(x, y, Math.max(0, at), 0, 2 * Math.PI);
    return path;
  };
  if (way === 'picture') return twoTone(context, ring(radius), { scale, dark: 3, bright: 1.4 });
  context.lineWidth = 1.5 / scale;
  for (const [colour, away] of [
    ['#000', 0.75],
    ['#fff', -0.75],
  ] as const) {
    context.strokeStyle = colour;
    context.stroke(ring(radius + away / scale));
  }
}

/** Whether there is nothing in a picture to tell surfaces apart by. Looked at 256 places wide. */
export function showsNothing(picture: ImageBitmap): boolean {
  const size = Math.round((256 * picture.height) / picture.width);
  const [width, height] = [256, Math.max(1, Math.min(1024, size))];
  const context = new OffscreenCanvas(width, height).getContext('2d', { willReadFrequently: true });
  if (!context) return false;
  context.drawImage(picture, 0, 0, width, height);
  return flatPicture({ data: context.getImageData(0, 0, width, height).data, channels: 4 }) !== null;
}
