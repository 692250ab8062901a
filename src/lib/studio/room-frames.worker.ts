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
}

export interface Frame {
  readonly bitmap: ImageBitmap;
  readonly whole: boolean;
}

/** What is kept of a view: its stage is painted over and over in the same pixels. */
interface Kept {
  readonly painter: FramePainter;
  readonly image: ImageData;
  readonly canvas: OffscreenCanvas;
}

const stages = new Map<string, Kept>();

const work = {
  /** The stage of a view from now on. `still`: what it shows now, which stays where no surface is. */
  set(
    view: string,
    stage: Stage,
    { still, light }: { readonly still: ImageBitmap; readonly light: RelightTable | LightApart | null },
  ): void {
    const { width, height, data } = pixels(still);
    const base = data as Uint8ClampedArray<ArrayBuffer>;
    stages.set(view, {
      painter: new FramePainter(stage, { base, light }),
      image: new ImageData(base, width, height),
      canvas: new OffscreenCanvas(width, height),
    });
  },

  /** A frame of that view's stage on a canvas, and whether all of it is painted: see `FramePainter.paint`. */
  frame(view: string, parameters: readonly PaintParameters[], on: StageOnCanvas): Frame {
    const kept = stages.get(view);
    if (!kept) throw new Error('The picture was closed before its frame was painted.');
    const { painter, image, canvas } = kept;
    const whole = painter.paint(parameters);
    contextOf(canvas).putImageData(image, 0, 0);
    const { width, height, scale, x, y } = on;
    if (scale === 1 && width === canvas.width && height === canvas.height) return handedOver(canvas, whole);
    const screen = new OffscreenCanvas(width, height);
    const context = contextOf(screen);
    context.imageSmoothingEnabled = scale < 2 && scale !== 1;
    context.imageSmoothingQuality = 'high';
    context.drawImage(canvas, x, y, scale * canvas.width, scale * canvas.height);
    return handedOver(screen, whole);
  },

  /** Lets a view's stage go. */
  leave(view: string): void {
    stages.delete(view);
  },
};

function contextOf(canvas: OffscreenCanvas): OffscreenCanvasRenderingContext2D {
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  return context;
}

function handedOver(canvas: OffscreenCanvas, whole: boolean): Frame {
  const bitmap = canvas.transferToImageBitmap();
  return transfer({ bitmap, whole }, [bitmap]);
}

export type FrameWork = typeof work;

expose(work);
