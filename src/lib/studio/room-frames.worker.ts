import type { LightApart, PaintParameters, RelightTable } from '#lib/photo/index.ts';
import { expose, transfer } from 'comlink';
import { FramePainter } from './room-frames.ts';
import type { Stage } from './room-stage.ts';
import { pixels } from './worker-photo.ts';

/** How a stage lies on its canvas: its point p is at canvas pixel `scale * p + [x, y]`. */
export interface StageOnCanvas {
  readonly width: number;
  readonly height: number;
  readonly scale: number;
  readonly x: number;
  readonly y: number;
  /** Column of the canvas up to which it shows what was handed in as cut; 0: nowhere. */
  readonly left: number;
}

export interface Frame {
  readonly bitmap: ImageBitmap;
  /** Whether all of it is as it is to stay: see `FramePainter.paint`. */
  readonly stays: boolean;
}

/** What is kept of a view: its stage is painted over and over in the same pixels. */
interface Kept {
  readonly painter: FramePainter;
  readonly image: ImageData;
  readonly canvas: OffscreenCanvas;
  readonly cut: ImageBitmap | null;
}

const stages = new Map<string, Kept>();

const work = {
  /**
   * The stage of a view from now on. `still`: what it shows now, which stays where no surface is. `cut`: what an enlarged
   * one's canvas shows to the left of a column.
   */
  set(
    view: string,
    stage: Stage,
    {
      still,
      cut,
      light,
    }: {
      readonly still: ImageBitmap;
      readonly cut: ImageBitmap | null;
      readonly light: RelightTable | LightApart | null;
    },
  ): void {
    stages.get(view)?.cut?.close();
    const { width, height, data } = pixels(still);
    const base = data as Uint8ClampedArray<ArrayBuffer>;
    stages.set(view, {
      painter: new FramePainter(stage, { base, light }),
      image: new ImageData(base, width, height),
      canvas: new OffscreenCanvas(width, height),
      cut,
    });
  },

  /** A frame of that view's stage on a canvas, `last` where none is to follow soon. */
  frame(
    view: string,
    parameters: readonly PaintParameters[],
    { on, last }: { readonly on: StageOnCanvas; readonly last: boolean },
  ): Frame {
    const kept = stages.get(view);
    if (!kept) throw new Error('The picture was closed before its frame was painted.');
    const { painter, image, canvas, cut } = kept;
    const stays = painter.paint(parameters, { last });
    contextOf(canvas).putImageData(image, 0, 0);
    const { width, height, scale, x, y, left } = on;
    if (scale === 1 && width === canvas.width && height === canvas.height) return handedOver(canvas, stays);
    const screen = new OffscreenCanvas(width, height);
    const context = contextOf(screen);
    context.imageSmoothingEnabled = scale < 2 && scale !== 1;
    context.imageSmoothingQuality = 'high';
    context.drawImage(canvas, x, y, scale * canvas.width, scale * canvas.height);
    if (cut && left > 0) {
      context.clearRect(0, 0, left, height);
      context.drawImage(cut, 0, 0, left, height, 0, 0, left, height);
    }
    return handedOver(screen, stays);
  },

  /** Lets a view's stage go. */
  leave(view: string): void {
    stages.get(view)?.cut?.close();
    stages.delete(view);
  },
};

function contextOf(canvas: OffscreenCanvas): OffscreenCanvasRenderingContext2D {
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  return context;
}

function handedOver(canvas: OffscreenCanvas, stays: boolean): Frame {
  const bitmap = canvas.transferToImageBitmap();
  return transfer({ bitmap, stays }, [bitmap]);
}

export type FrameWork = typeof work;

expose(work);
