import type { Remote } from 'comlink';
import type { AppliedFinish, Image8, LightApart, RelightTable, SurfaceLayers } from '#lib/photo/index.ts';
import { composed, put } from './room-canvas.ts';
import { MovingRoom, type Scenery } from './room-moving.ts';
import type { ViewTransform } from './room-picture.ts';
import type { RoomWork } from './room.worker.ts';

/** Painted pictures kept: a sheet of six, one before, one to come back to. 12-16 MB each at 2048 px. */
export const PICTURES_KEPT = 8;
/** Milliseconds without another candidate until a frame is painted that stays. */
const REST = 40;
/** Milliseconds that stay free for another candidate before the worker is kept busy by the whole picture of this one. */
const SPARE = 80;
/** Milliseconds in which nothing is drawn until a stage is made for what is shown. */
const QUIET = 120;

let lastRoom = 0;

/** What is to be seen. */
export interface Asked {
  readonly view: ViewTransform;
  /** Part of the width, from the left, that shows the room as photographed. */
  readonly split: number;
  readonly on: ReadonlyMap<string, AppliedFinish>;
  readonly light: RelightTable | LightApart | null;
}

/** What a canvas is asked to show. */
export interface Call extends Asked {
  readonly settle: (done: boolean) => void;
  readonly fail: (error: unknown) => void;
}

/** Whole pictures; null where a side is not seen. */
export interface Sides {
  readonly before: ImageBitmap | null;
  readonly after: ImageBitmap | null;
}

interface Painted {
  readonly promise: Promise<ImageBitmap>;
  /** Once it is there. */
  bitmap: ImageBitmap | null;
}

interface Shown {
  /**
   * The latest call, the one whose frame is on the canvas while its whole picture is not there, and the one that is on it
   * as it is to stay.
   */
  call: Call;
  frame: Call | null;
  done: Call | null;
  /** The whole pictures painted last for this canvas. */
  sides: Sides | null;
  /** Size of what was put on the canvas last. */
  width: number;
  height: number;
  following: boolean;
  moving: boolean;
  /** Set while something is to follow the frame that is on the canvas. */
  rest: ReturnType<typeof setTimeout> | null;
}

/**
 * Draws a room that a worker paints: whole pictures at working size, kept while they are among the latest. Of calls that
 * come while one is painted only the last is painted next. While candidates follow each other on a canvas it shows frames
 * (see `MovingRoom`), the last of which stays: it has all that the canvas can show. The whole picture is painted behind it,
 * for other views; whoever reads whole pictures waits until frames rest.
 */
export class RoomByWorker {
  readonly #work: () => Remote<RoomWork>;
  #picture: Image8 | null = null;
  readonly #surfaces = new Map<string, SurfaceLayers>();
  readonly #canvases = new Map<HTMLCanvasElement, Shown>();
  readonly #painted = new Map<string, Painted>();
  readonly #numbers = new WeakMap<object, number>();
  #lastNumber = 0;
  readonly #frames = new MovingRoom((thing) => this.#number(thing));
  #quiet: ReturnType<typeof setTimeout> | undefined;
  /** Those who wait for a canvas to show something else. */
  #waiting: (() => void)[] = [];
  /** Name of picture and surfaces in the worker, once they are there. */
  #room: string | null = null;

  constructor(work: () => Remote<RoomWork>) {
    this.#work = work;
  }

  /** Surfaces are let go. */
  setPicture(picture: Image8 | null): void {
    this.#picture = picture;
    this.#surfaces.clear();
    for (const canvas of [...this.#canvases.keys()]) this.forget(canvas);
    this.leave();
  }

  setSurface(id: string, layers: SurfaceLayers | null): void {
    if (layers) this.#surfaces.set(id, layers);
    else this.#surfaces.delete(id);
    if (this.#room) void this.#work().setSurface(this.#room, id, layers);
    this.#painted.clear();
    for (const shown of this.#canvases.values()) shown.done = null;
  }

  /** Gives back the workers' memory; what is needed again is taken there again. Others may draw on the canvases. */
  leave(): void {
    for (const shown of this.#canvases.values()) shown.done = shown.frame = null;
    clearTimeout(this.#quiet);
    if (this.#room) void this.#work().leave(this.#room);
    this.#room = null;
    this.#painted.clear();
    this.#frames.leave();
  }

  forget(canvas: HTMLCanvasElement): void {
    clearTimeout(this.#canvases.get(canvas)?.rest ?? undefined);
    this.#canvases.delete(canvas);
    this.#tell();
  }

  draw(canvas: HTMLCanvasElement, call: Call): void {
    const known = this.#canvases.get(canvas);
    const shown: Shown = known ?? {
      ...{ call, frame: null, done: null, sides: null, width: 0, height: 0 },
      ...{ following: false, moving: false, rest: null },
    };
    const before = shown.done ?? shown.frame;
    this.#canvases.set(canvas, shown);
    const sized = shown.width === canvas.width && shown.height === canvas.height;
    // A page draws again for its own reasons.
    if (sized && shown.done === shown.call && known && this.#same(shown.done, call)) {
      call.settle(true);
      return;
    }
    shown.call = call;
    if (shown.rest !== null) clearTimeout(shown.rest);
    shown.rest = null;
    const ready = this.#there(call);
    if (ready) {
      this.#show(canvas, shown, ready);
      return;
    }
    if (!sized || !before || !samePlace(before, call)) this.#showKept(canvas, shown);
    if (this.#frames.can(this.#scenery(canvas, call))) void this.#move(canvas, shown);
    else void this.#follow(canvas, shown);
  }

  async read(asked: Asked): Promise<Sides> {
    while (this.#restless()) await this.#told();
    return this.#sides(asked);
  }

  /** Resolves once a canvas shows it, be it as a frame, or it is painted, or no canvas is asked for it any more. */
  async painted(asked: Asked): Promise<void> {
    const key = this.#keyOf(asked);
    while (!this.#there(asked)) {
      const calls = [...this.#canvases.values()];
      const shows = (call: Call | null) => call !== null && this.#keyOf(call) === key;
      if (calls.some(({ frame }) => shows(frame)) || !calls.some(({ call }) => shows(call))) return;
      await this.#told();
    }
  }

  #told(): Promise<void> {
    return new Promise((resolve) => this.#waiting.push(resolve));
  }

  #tell(): void {
    for (const resolve of this.#waiting.splice(0)) resolve();
  }

  #restless(): boolean {
    return [...this.#canvases.values()].some(
      ({ moving, call, done, rest }) => moving || (rest !== null && done !== call),
    );
  }

  /** What was drawn last, in the new view: it follows the hand while the worker paints. */
  #showKept(canvas: HTMLCanvasElement, shown: Shown): void {
    const { sides, call, frame } = shown;
    if (!sides) return;
    const same = shown.width === canvas.width && shown.height === canvas.height;
    // A frame shows a later candidate than the whole pictures; a wipe in it cannot be moved.
    const over = frame && same && call.split === 0 && frame.split === 0 ? { canvas, view: frame.view } : null;
    this.#put(canvas, shown, { call, sides, over });
    if (frame) shown.frame = { ...frame, view: call.view };
    shown.done = null;
  }

  #put(
    canvas: HTMLCanvasElement,
    shown: Shown,
    { call, ...from }: { call: Call } & Pick<Parameters<typeof composed>[1], 'sides' | 'over'>,
  ): void {
    if (!this.#picture) return;
    put(canvas, composed(canvas, { ...call, ...from, left: leftOf(canvas, call), picture: this.#picture }));
    [shown.width, shown.height] = [canvas.width, canvas.height];
  }

  #show(canvas: HTMLCanvasElement, shown: Shown, sides: Sides): void {
    const { call } = shown;
    try {
      this.#put(canvas, shown, { call, sides });
      this.#have(canvas, shown, sides);
      shown.done = call;
      call.settle(true);
    } catch (error) {
      call.fail(error);
    }
    this.#tell();
  }

  /** Whole pictures of what is on a canvas: other views of it come from them, and the next stage. */
  #have(canvas: HTMLCanvasElement, shown: Shown, sides: Sides): void {
    shown.sides = sides;
    shown.frame = null;
    clearTimeout(this.#quiet);
    this.#quiet = setTimeout(() => this.#prepare(canvas), QUIET);
  }

  /** Paints whole pictures until the canvas shows the latest call or frames have taken over. */
  async #follow(canvas: HTMLCanvasElement, shown: Shown): Promise<void> {
    if (shown.following) return;
    shown.following = true;
    const there = () => this.#canvases.get(canvas) === shown;
    while (there() && shown.done !== shown.call && !shown.moving && shown.rest === null) {
      const { call } = shown;
      try {
        const sides = await this.#sides(call);
        if (there() && shown.call === call) this.#show(canvas, shown, sides);
      } catch (error) {
        call.fail(error);
        if (shown.call === call) break;
      }
    }
    shown.following = false;
    this.#tell();
  }

  /** Frames until the latest call has one, `last` as it is to stay. */
  async #move(canvas: HTMLCanvasElement, shown: Shown, last = false): Promise<void> {
    if (shown.moving) return;
    shown.moving = true;
    const there = () => this.#canvases.get(canvas) === shown;
    let stays = false;
    try {
      while (there() && shown.done !== shown.call && shown.frame !== shown.call) {
        const { call } = shown;
        const frame = await this.#frames.frame(this.#scenery(canvas, call), last);
        if (!frame) break;
        const { bitmap } = frame;
        const fits = bitmap.width === canvas.width && bitmap.height === canvas.height;
        if (there() && fits && shown.done !== shown.call && samePlace(call, shown.call)) {
          put(canvas, bitmap);
          [shown.width, shown.height] = [canvas.width, canvas.height];
          shown.frame = call;
          shown.done = null;
          stays = frame.stays;
          this.#tell();
        } else bitmap.close();
      }
    } catch {
      // Whole pictures need no frames, and say themselves what is wrong.
      this.#frames.leave();
    }
    shown.moving = false;
    if (!there() || shown.done === shown.call) return;
    if (shown.frame !== shown.call) void this.#follow(canvas, shown);
    else this.#rest(canvas, shown, stays);
  }

  /** What comes when no other candidate does: a frame that stays, then the whole picture behind it. */
  #rest(canvas: HTMLCanvasElement, shown: Shown, stays: boolean): void {
    const { call } = shown;
    if (stays) {
      shown.done = call;
      call.settle(true);
    }
    shown.rest = setTimeout(
      () => {
        shown.rest = null;
        if (stays) void this.#paintBehind(canvas, shown, call);
        else {
          shown.frame = null;
          void this.#move(canvas, shown, true);
        }
      },
      stays ? SPARE : REST,
    );
    this.#tell();
  }

  async #paintBehind(canvas: HTMLCanvasElement, shown: Shown, call: Call): Promise<void> {
    try {
      const sides = await this.#sides(call);
      if (this.#canvases.get(canvas) === shown && shown.call === call) this.#have(canvas, shown, sides);
    } catch {
      // What is on the canvas stays; whoever asks for the whole picture is told what is wrong.
    }
  }

  #prepare(canvas: HTMLCanvasElement): void {
    const shown = this.#canvases.get(canvas);
    const picture = this.#picture;
    if (!shown || !picture || shown.done !== shown.call || shown.call.split >= 1) return;
    const { call, sides } = shown;
    if (!sides) return;
    const still: Parameters<MovingRoom['prepare']>[1]['still'] = ({ width, height }, view, left) =>
      composed({ width, height }, { view, left, sides, picture });
    const from = { work: this.#work(), room: this.#enteredRoom(), still };
    void this.#frames.prepare(this.#scenery(canvas, call), from);
  }

  #scenery(canvas: HTMLCanvasElement, call: Call): Scenery {
    const { width, height } = canvas;
    const { view, light } = call;
    const on = this.#sorted(call).flatMap(([id, finish]) => {
      const layers = this.#surfaces.get(id);
      return layers && layers.box.width > 0 ? [{ id, layers, finish }] : [];
    });
    const picture = { width: this.#picture?.width ?? 1, height: this.#picture?.height ?? 1 };
    return { width, height, view, left: leftOf(canvas, call), light, on, picture };
  }

  async #sides(asked: Asked): Promise<Sides> {
    const { split } = asked;
    const [before, after] = await Promise.all([
      split > 0 ? this.#paintedBy({ ...asked, on: new Map() }) : null,
      split < 1 ? this.#paintedBy(asked) : null,
    ]);
    return { before, after };
  }

  /** The sides of a call where they are painted. */
  #there(asked: Asked): Sides | null {
    const { split } = asked;
    const known = (of: Asked) => this.#painted.get(this.#keyOf(of))?.bitmap ?? null;
    const before = split > 0 ? known({ ...asked, on: new Map() }) : null;
    const after = split < 1 ? known(asked) : null;
    return (split > 0 && !before) || (split < 1 && !after) ? null : { before, after };
  }

  /** The whole picture painted by the worker, kept while it is among the latest. */
  #paintedBy(asked: Asked): Promise<ImageBitmap> {
    const key = this.#keyOf(asked);
    let painted = this.#painted.get(key);
    if (!painted) {
      const promise = this.#work().painted(this.#enteredRoom(), this.#sorted(asked), asked.light);
      const made: Painted = { promise, bitmap: null };
      promise.then(
        (bitmap) => (made.bitmap = bitmap),
        () => this.#painted.get(key) === made && this.#painted.delete(key),
      );
      painted = made;
    }
    this.#painted.delete(key);
    this.#painted.set(key, painted);
    while (this.#painted.size > PICTURES_KEPT)
      this.#painted.delete(this.#painted.keys().next().value as string);
    return painted.promise;
  }

  #same(one: Call, other: Call): boolean {
    return samePlace(one, other) && this.#keyOf(one) === this.#keyOf(other);
  }

  #sorted({ on }: Asked): [string, AppliedFinish][] {
    return [...on].sort(([a], [b]) => (a < b ? -1 : 1));
  }

  #keyOf(asked: Asked): string {
    const on = this.#sorted(asked).map(([id, finish]) => `${id} ${this.#number(finish)}`);
    return [this.#number(asked.light), ...on].join('|');
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
      void this.#work().setPicture(room, this.#picture);
      for (const [id, layers] of this.#surfaces) void this.#work().setSurface(room, id, layers);
    }
    return this.#room;
  }
}

function leftOf({ width }: { readonly width: number }, { split }: Asked): number {
  return Math.round(split * width);
}

function samePlace(one: Call, other: Call): boolean {
  const [a, b] = [one.view, other.view];
  return a.scale === b.scale && a.x === b.x && a.y === b.y && one.split === other.split;
}
