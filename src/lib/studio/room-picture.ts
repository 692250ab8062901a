import type { Remote } from 'comlink';
import type { AppliedFinish, Image8, LightApart, RelightTable, SurfaceLayers } from '#lib/photo/index.ts';
import { drawingFor, type RoomDrawing } from './room-drawing.ts';
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

/** Painted pictures kept by either path: a sheet of six, one before, one to come back to. 12-16 MB each at 2048 px. */
const PICTURES_KEPT = 8;

let lastRoom = 0;

interface Call {
  readonly view: ViewTransform;
  readonly options: DrawOptions;
  /** Whether the canvas was on the page: once it no longer is, nobody asks for it again. */
  readonly onPage: boolean;
  readonly settle: (done: boolean) => void;
  readonly fail: (error: unknown) => void;
}

interface Sides {
  readonly before: ImageBitmap | null;
  readonly after: ImageBitmap | null;
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
  readonly #givenWork: Remote<RoomWork> | null;
  /** What each canvas was last asked to show. */
  readonly #calls = new Map<HTMLCanvasElement, Call>();
  readonly #following = new Set<HTMLCanvasElement>();
  #shown = new WeakMap<HTMLCanvasElement, Sides>();
  readonly #painted = new Map<string, Promise<ImageBitmap>>();
  readonly #numbers = new WeakMap<object, number>();
  #lastNumber = 0;
  /** Name of this view's picture and surfaces in the worker, once they are there. */
  #room: string | null = null;

  /**
   * `fast` (what counts when nothing is said) takes WebGL2 where a graphics processor stands behind it: software that plays
   * one takes six times as long as the worker. `any` takes either, `none` keeps to the worker. `work` is another worker
   * than the shared one.
   */
  constructor(
    options: { readonly graphics?: 'fast' | 'any' | 'none'; readonly work?: Remote<RoomWork> } = {},
  ) {
    const { graphics = 'fast', work = null } = options;
    this.#givenWork = work;
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
    this.#shown = new WeakMap();
    if (this.path === 'graphics') this.#drawing?.setPicture(picture);
    this.#leaveRoom();
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
    if (this.#room) void this.#work.setSurface(this.#room, id, layers);
    this.#painted.clear();
  }

  removeSurface(id: string): void {
    if (!this.#surfaces.delete(id)) return;
    this.#finishes.delete(id);
    this.#drawing?.removeSurface(id);
    if (this.#room) void this.#work.setSurface(this.#room, id, null);
    this.#painted.clear();
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
   * when the canvas shows what was asked, false when another call for the same canvas came before that or there is no
   * picture. By WebGL2 it is drawn on return. The canvas must have no other context (it is a `bitmaprenderer`). Rejects
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
    const call = { view: { scale, x: 0, y: 0 }, options };
    const drawn = this.path === 'graphics' ? this.#drawn(size, call) : null;
    return drawn ?? composed(size, { ...call, sides: await this.#sides(options), picture });
  }

  /** Gives back memory of the graphics processor and of the worker. The view is of no use afterwards. */
  dispose(): void {
    for (const canvas of [...this.#calls.keys()]) this.forget(canvas);
    this.#drawing?.dispose();
    this.#drawing = null;
    this.#leaveRoom();
    this.#surfaces.clear();
    this.#finishes.clear();
    this.#picture = null;
  }

  get #work(): Remote<RoomWork> {
    return this.#givenWork ?? roomWork();
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

  #show(canvas: HTMLCanvasElement): void {
    const call = this.#calls.get(canvas);
    if (!call || !this.#picture) return;
    try {
      const drawn = this.path === 'graphics' ? this.#drawn(canvas, call) : null;
      if (!drawn) {
        this.#showKept(canvas, call);
        void this.#follow(canvas);
        return;
      }
      put(canvas, drawn);
      call.settle(true);
    } catch (error) {
      call.fail(error);
    }
  }

  /** Null where the graphics processor was lost on the way. */
  #drawn(size: { width: number; height: number }, { view, options }: Pick<Call, 'view' | 'options'>) {
    const { before = false, split = null } = options;
    return (
      this.#drawing?.draw(
        { width: size.width, height: size.height },
        {
          view,
          split: before ? 1 : (split ?? 0),
          finishes: this.#onNow(options),
          light: this.#light,
          kept: Math.min(PICTURES_KEPT, Math.max(2, this.#calls.size + 1)),
        },
      ) ?? null
    );
  }

  /** The pictures this canvas has, in the new view: it follows the hand while the worker paints. */
  #showKept(canvas: HTMLCanvasElement, { view, options }: Call): void {
    const kept = this.#shown.get(canvas);
    if (!kept || !this.#picture) return;
    const sides = { before: kept.before ?? kept.after, after: kept.after ?? kept.before };
    put(canvas, composed(canvas, { view, options, sides, picture: this.#picture }));
  }

  /** Paints for a canvas until it shows the latest call; of calls that come meanwhile only the last is painted. */
  async #follow(canvas: HTMLCanvasElement): Promise<void> {
    if (this.#following.has(canvas)) return;
    this.#following.add(canvas);
    try {
      for (let call = this.#calls.get(canvas); call; call = this.#calls.get(canvas)) {
        try {
          const sides = await this.#sides(call.options);
          if (this.#calls.get(canvas) !== call || !this.#picture) continue;
          this.#shown.set(canvas, sides);
          put(canvas, composed(canvas, { ...call, sides, picture: this.#picture }));
          call.settle(true);
          return;
        } catch (error) {
          call.fail(error);
          if (this.#calls.get(canvas) === call) return;
        }
      }
    } finally {
      this.#following.delete(canvas);
    }
  }

  async #sides(options: DrawOptions): Promise<Sides> {
    const split = options.before ? 1 : (options.split ?? 0);
    const [before, after] = await Promise.all([
      split > 0 ? this.#paintedBy(new Map()) : null,
      split < 1 ? this.#paintedBy(this.#onNow(options)) : null,
    ]);
    return { before, after };
  }

  /** The whole picture painted by the worker, kept while it is among the latest. */
  #paintedBy(finishes: Map<string, AppliedFinish>): Promise<ImageBitmap> {
    const sorted = [...finishes].sort(([a], [b]) => (a < b ? -1 : 1));
    const key = [
      this.#number(this.#light),
      ...sorted.map(([id, finish]) => `${id} ${this.#number(finish)}`),
    ].join('|');
    let painted = this.#painted.get(key);
    if (!painted) {
      painted = this.#work.painted(this.#enteredRoom(), sorted, this.#light);
      painted.catch(() => this.#painted.delete(key));
    }
    this.#painted.delete(key);
    this.#painted.set(key, painted);
    while (this.#painted.size > PICTURES_KEPT)
      this.#painted.delete(this.#painted.keys().next().value as string);
    return painted;
  }

  #number(thing: object | null): number {
    if (!thing) return 0;
    const known = this.#numbers.get(thing) ?? ++this.#lastNumber;
    this.#numbers.set(thing, known);
    return known;
  }

  /** Takes picture and surfaces to the worker, once. */
  #enteredRoom(): string {
    if (!this.#room) {
      if (!this.#picture) throw new Error('There is no picture to paint.');
      const room = `view ${++lastRoom}`;
      this.#room = room;
      void this.#work.setPicture(room, this.#picture);
      for (const [id, layers] of this.#surfaces) void this.#work.setSurface(room, id, layers);
    }
    return this.#room;
  }

  #leaveRoom(): void {
    if (this.#room) void this.#work.leave(this.#room);
    this.#room = null;
    this.#painted.clear();
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
    this.#leaveRoom();
    this.#redraw();
  }
}

function tablesOf(light: RelightTable | LightApart): RelightTable[] {
  return 'shares' in light ? [light.window.table, light.lamps.table] : [light];
}

function patterned(finish: AppliedFinish | undefined): boolean {
  return finish !== undefined && 'data' in finish.colour;
}

function put(canvas: HTMLCanvasElement, bitmap: ImageBitmap): void {
  const context = canvas.getContext('bitmaprenderer');
  if (!context) throw new TypeError('Expected a canvas without another context, got one in use');
  context.transferFromImageBitmap(bitmap);
}

/** Painted pictures on a canvas in a view, with a wipe. */
function composed(
  { width, height }: { readonly width: number; readonly height: number },
  {
    view: { scale, x, y },
    options,
    sides,
    picture,
  }: {
    readonly view: ViewTransform;
    readonly options: DrawOptions;
    readonly sides: Sides;
    readonly picture: Image8;
  },
): ImageBitmap {
  const canvas = new OffscreenCanvas(Math.max(1, width), Math.max(1, height));
  const context = canvas.getContext('2d');
  if (!context) throw new Error('This browser cannot draw pictures: its canvas is switched off.');
  context.imageSmoothingEnabled = scale < 2 && scale !== 1;
  context.imageSmoothingQuality = 'high';
  const edge = (options.before ? 1 : (options.split ?? 0)) * width;
  const part = (bitmap: ImageBitmap | null, from: number, to: number) => {
    if (!bitmap || to <= from) return;
    context.save();
    context.beginPath();
    context.rect(from, 0, to - from, height);
    context.clip();
    context.drawImage(bitmap, x, y, scale * picture.width, scale * picture.height);
    context.restore();
  };
  part(sides.before, 0, Math.round(edge));
  part(sides.after, Math.round(edge), width);
  return canvas.transferToImageBitmap();
}
