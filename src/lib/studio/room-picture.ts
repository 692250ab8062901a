import type { Remote } from 'comlink';
import type { AppliedFinish, Image8, LightApart, RelightTable, SurfaceLayers } from '#lib/photo/index.ts';
import { PICTURES_KEPT, RoomByWorker, type Asked } from './room-by-worker.ts';
import { composed, put } from './room-canvas.ts';
import type { RoomDrawing } from './room-drawing.ts';
import { drawingFor } from './room-graphics.ts';
import type { RoomWork } from './room.worker.ts';
import { roomWork } from './room-work.ts';

/** How the picture lies on a canvas: picture point p is at canvas pixel `scale * p + [x, y]`. Device pixels. */
export interface ViewTransform {
  readonly scale: number;
  readonly x: number;
  readonly y: number;
}

/** Finishes by surface; null: as photographed. */
export type Finishes = Readonly<Record<string, AppliedFinish | null>>;

export interface DrawOptions {
  /** Every surface as photographed, in the light that is set. */
  readonly before?: boolean;
  /** A wipe: before to the left of this part of the canvas's width (0-1), after to the right of it. */
  readonly split?: number | null;
  /** On top of the finishes that are set, for this canvas only: a sheet of candidates is one view drawn on several canvases. */
  readonly finishes?: Finishes;
}

interface Call {
  readonly view: ViewTransform;
  readonly options: DrawOptions;
  /** Whether the canvas was on the page: once it no longer is, nobody asks for it again. */
  readonly onPage: boolean;
  readonly settle: (done: boolean) => void;
  readonly fail: (error: unknown) => void;
}

/**
 * A room photo with finishes on, in any light, drawn live. Where the browser has WebGL2 the graphics processor paints and
 * `draw` is done when it returns; where it has none, loses it, or the picture is too large for it, the worker paints, what is
 * there is drawn at once and the rest when it is ready. Both follow the formula of `paintOver`.
 *
 *     const view = new RoomPicture();
 *     const scene = roomScene(job, photo);
 *     view.setPicture(await roomWork().picture(scene.source));
 *     view.setSurface(surface.id, await roomWork().layers(scene.source, surface, finish.texture));
 *     view.setFinish(surface.id, await roomWork().applied(scene.source, surface, finish));
 *     view.setLight(viewing && (await roomWork().light({ spectrum, illuminance })));
 *     await view.draw(canvas, { scale, x: 0, y: 0 }, { split: 0.5 });
 *
 * Setters draw nothing: call `draw` after them, once a frame. They compare by identity, so hand the same layers and finishes
 * in again rather than copies. Colours are sRGB throughout: a wider screen shows them as they are.
 */
export class RoomPicture {
  #picture: Image8 | null = null;
  readonly #surfaces = new Map<string, SurfaceLayers>();
  readonly #finishes = new Map<string, AppliedFinish>();
  #light: RelightTable | LightApart | null = null;
  #drawing: RoomDrawing | null = null;
  readonly #byWorker: RoomByWorker;
  /** What each canvas was last asked to show. */
  readonly #calls = new Map<HTMLCanvasElement, Call>();

  /**
   * `fast` (what counts when nothing is said) takes WebGL2 where a graphics processor stands behind it: software that plays
   * one takes many times as long as the worker. `any` takes either, `none` keeps to the worker. `work` is another worker
   * than the shared one.
   */
  constructor(
    options: { readonly graphics?: 'fast' | 'any' | 'none'; readonly work?: Remote<RoomWork> } = {},
  ) {
    const { graphics = 'fast', work = null } = options;
    this.#byWorker = new RoomByWorker(() => work ?? roomWork());
    if (graphics !== 'none')
      this.#drawing = drawingFor({
        software: graphics === 'any',
        onlost: () => this.#redraw(),
        onrestored: () => this.#refill(),
      });
  }

  /** Who paints now: the graphics processor, or the worker. */
  get path(): 'graphics' | 'worker' {
    return this.#drawing?.ready && this.#picture && this.#drawing.holds(this.#picture)
      ? 'graphics'
      : 'worker';
  }

  /** Working size of the picture, null before there is one. */
  get size(): { readonly width: number; readonly height: number } | null {
    return this.#picture && { width: this.#picture.width, height: this.#picture.height };
  }

  /**
   * The corrected picture, sRGB, at working size. Surfaces and finishes of another picture are let go.
   * Throws RangeError where it is in another space.
   */
  setPicture(picture: Image8): void {
    if (picture === this.#picture) return;
    if (picture.space !== 'srgb')
      throw new RangeError(`Expected a corrected picture in srgb, got ${picture.space}`);
    for (const id of [...this.#surfaces.keys()]) this.removeSurface(id);
    if (this.#light && 'shares' in this.#light) this.#light = null;
    this.#picture = picture;
    for (const { settle } of this.#calls.values()) settle(false);
    this.#byWorker.setPicture(picture);
    if (this.path === 'graphics') this.#drawing?.setPicture(picture);
  }

  /** A surface taken apart. Throws RangeError where it belongs to a picture of another size or space. */
  setSurface(id: string, layers: SurfaceLayers): void {
    if (this.#surfaces.get(id) === layers) return;
    const { width, height, space } = layers.picture;
    if (width !== this.#picture?.width || height !== this.#picture.height || space !== this.#picture.space)
      throw new RangeError(
        `Expected layers of the picture that is shown (${this.#picture?.width ?? 0}x${this.#picture?.height ?? 0}), got ${width}x${height} in ${space}`,
      );
    this.#surfaces.set(id, layers);
    // A pattern is laid over the box of its surface: it does not outlive it.
    if (patterned(this.#finishes.get(id))) this.#finishes.delete(id);
    if (this.path === 'graphics') this.#drawing?.setSurface(id, layers);
    this.#byWorker.setSurface(id, layers);
  }

  removeSurface(id: string): void {
    if (!this.#surfaces.delete(id)) return;
    this.#finishes.delete(id);
    this.#drawing?.removeSurface(id);
    this.#byWorker.setSurface(id, null);
  }

  /**
   * Puts a finish on a surface, or takes it off (null): the surface is then as photographed. Throws RangeError for a
   * surface that was not set and for a pattern over another box than the surface's.
   */
  setFinish(id: string, finish: AppliedFinish | null): void {
    if (finish === null) this.#finishes.delete(id);
    else {
      this.#check(id, finish);
      this.#finishes.set(id, finish);
    }
  }

  /**
   * The room's light, for before and after alike: one table, or one for the window and one for the lamps of the picture;
   * null: as corrected, plain daylight. Throws RangeError for a table from or to another space than sRGB and for shares of
   * another picture.
   */
  setLight(light: RelightTable | LightApart | null): void {
    for (const { from, to } of light ? tablesOf(light) : [])
      if (from !== 'srgb' || to !== 'srgb')
        throw new RangeError(`Expected a table from srgb to srgb, got ${from} to ${to}`);
    if (light && 'shares' in light) {
      const { width, height } = light.shares.picture;
      if (width !== this.#picture?.width || height !== this.#picture.height)
        throw new RangeError(`Expected shares of the picture that is shown, got ones of ${width}x${height}`);
    }
    this.#light = light;
  }

  /**
   * Draws on a canvas of the page at its own width and height; outside the picture it stays transparent. At 1:1 and from
   * 2:1 each pixel of the picture is a square, in between it is interpolated, below pixels are averaged. Resolves to true
   * when the canvas shows it as asked and as it stays, false when another call for the same canvas or another picture
   * came before that or there is no picture. By WebGL2 it is drawn on return. The canvas must have no other context (it is a `bitmaprenderer`). Rejects
   * with a sentence when the worker fails.
   */
  draw(canvas: HTMLCanvasElement, view: ViewTransform, options: DrawOptions = {}): Promise<boolean> {
    if (!(view.scale > 0 && Number.isFinite(view.scale + view.x + view.y)))
      throw new RangeError(`Expected a scale above 0 and finite places, got ${JSON.stringify(view)}`);
    for (const [id, finish] of Object.entries(options.finishes ?? {})) if (finish) this.#check(id, finish);
    this.#calls.get(canvas)?.settle(false);
    this.#forgetGone();
    if (!this.#picture) return Promise.resolve(false);
    return new Promise((settle, fail) => {
      this.#calls.set(canvas, { view, options, onPage: canvas.isConnected, settle, fail });
      this.#show(canvas);
    });
  }

  /** Lets a canvas that has left the page go; those found gone are let go by themselves. */
  forget(canvas: HTMLCanvasElement): void {
    this.#calls.get(canvas)?.settle(false);
    this.#calls.delete(canvas);
    this.#byWorker.forget(canvas);
  }

  /**
   * Resolves once what `draw` shows for these options is painted, be it for a moment at the canvas's own resolution, or
   * nobody asks for it any more: what is said of a picture must not run ahead of it.
   */
  async painted(options: DrawOptions = {}): Promise<void> {
    if (this.#picture && this.path === 'worker') await this.#byWorker.painted(this.#asked({ options }));
  }

  /**
   * The whole picture at working size, or `width` pixels wide, as `draw` would show it: for export and small stills. It is
   * the caller's to close. Throws Error without a picture.
   */
  async read(options: DrawOptions & { readonly width?: number } = {}): Promise<ImageBitmap> {
    const picture = this.#picture;
    if (!picture) throw new Error('There is no picture yet.');
    const scale = (options.width ?? picture.width) / picture.width;
    const size = {
      width: Math.max(1, Math.round(scale * picture.width)),
      height: Math.max(1, Math.round(scale * picture.height)),
    };
    const asked = this.#asked({ view: { scale, x: 0, y: 0 }, options });
    const drawn = this.path === 'graphics' ? this.#drawn(size, asked) : null;
    if (drawn) return drawn;
    const left = Math.round(asked.split * size.width);
    return composed(size, { ...asked, left, sides: await this.#byWorker.read(asked), picture });
  }

  /** Gives back memory of the graphics processor and of the worker. The view is of no use afterwards. */
  dispose(): void {
    for (const canvas of [...this.#calls.keys()]) this.forget(canvas);
    this.#drawing?.dispose();
    this.#drawing = null;
    this.#byWorker.setPicture(null);
    this.#surfaces.clear();
    this.#finishes.clear();
    this.#picture = null;
  }

  #check(id: string, { colour }: AppliedFinish): void {
    const layers = this.#surfaces.get(id);
    if (!layers) throw new RangeError(`Expected a surface that was set, got ${id}`);
    const { width, height } = layers.box;
    if ('data' in colour && (colour.width !== width || colour.height !== height))
      throw new RangeError(
        `Expected a pattern over ${width}x${height} like the surface, got ${colour.width}x${colour.height}`,
      );
  }

  /** What is on, with what a call puts on top. */
  #onNow({ finishes }: DrawOptions): Map<string, AppliedFinish> {
    const on = new Map(this.#finishes);
    for (const [id, finish] of Object.entries(finishes ?? {}))
      if (finish) on.set(id, finish);
      else on.delete(id);
    return on;
  }

  #asked({
    view = { scale: 1, x: 0, y: 0 },
    options,
  }: {
    view?: ViewTransform;
    options: DrawOptions;
  }): Asked {
    const split = options.before ? 1 : (options.split ?? 0);
    return { view, split, on: split < 1 ? this.#onNow(options) : new Map(), light: this.#light };
  }

  #show(canvas: HTMLCanvasElement): void {
    const call = this.#calls.get(canvas);
    if (!call || !this.#picture) return;
    const { settle, fail } = call;
    try {
      const asked = this.#asked(call);
      const drawn = this.path === 'graphics' ? this.#drawn(canvas, asked) : null;
      if (!drawn) {
        this.#byWorker.draw(canvas, { ...asked, settle, fail });
        return;
      }
      put(canvas, drawn);
      settle(true);
    } catch (error) {
      fail(error);
    }
  }

  /** Null where the graphics processor was lost on the way. */
  #drawn({ width, height }: { width: number; height: number }, { view, split, on, light }: Asked) {
    const kept = Math.min(PICTURES_KEPT, Math.max(2, this.#calls.size + 1));
    return this.#drawing?.draw({ width, height }, { view, split, finishes: on, light, kept }) ?? null;
  }

  #forgetGone(): void {
    for (const [canvas, { onPage }] of [...this.#calls])
      if (onPage && !canvas.isConnected) this.forget(canvas);
  }

  #redraw(): void {
    this.#forgetGone();
    for (const canvas of [...this.#calls.keys()]) this.#show(canvas);
  }

  /** The graphics processor is back, with nothing in it. */
  #refill(): void {
    const picture = this.#picture;
    if (!this.#drawing || !picture || this.path !== 'graphics') return;
    this.#drawing.setPicture(picture);
    for (const [id, layers] of this.#surfaces) this.#drawing.setSurface(id, layers);
    this.#byWorker.leave();
    this.#redraw();
  }
}

function tablesOf(light: RelightTable | LightApart): RelightTable[] {
  return 'shares' in light ? [light.window.table, light.lamps.table] : [light];
}

function patterned(finish: AppliedFinish | undefined): boolean {
  return finish !== undefined && 'data' in finish.colour;
}
