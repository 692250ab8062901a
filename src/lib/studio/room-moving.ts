import { transfer, type Remote } from 'comlink';
import {
  paintParameters,
  type AppliedFinish,
  type LightApart,
  type RelightTable,
  type SurfaceLayers,
} from '#lib/photo/index.ts';
import { buffersOf, type StagePlace } from './room-stage.ts';
import type { Frame, StageOnCanvas } from './room-frames.worker.ts';
import type { ViewTransform } from './room-picture.ts';
import { frameWork } from './room-work.ts';
import type { RoomWork } from './room.worker.ts';

/** What is to be seen on a canvas. */
export interface Scenery extends Size {
  readonly view: ViewTransform;
  /** Column from which on finishes show. */
  readonly left: number;
  readonly light: RelightTable | LightApart | null;
  /** Sorted by surface. */
  readonly on: readonly Dressed[];
  readonly picture: Size;
}

export interface Dressed {
  readonly id: string;
  readonly layers: SurfaceLayers;
  readonly finish: AppliedFinish;
}

interface Size {
  readonly width: number;
  readonly height: number;
}

let lastView = 0;

/**
 * Frames of a room while candidates are moved through: only what its canvas shows, at the canvas's own pixels. It takes a
 * stage, made once while nothing moves, for one view, light and set of surfaces; then a frame is some milliseconds.
 */
export class MovingRoom {
  readonly #name = `view ${++lastView}`;
  readonly #numberOf: (thing: object | null) => number;
  /** What the stage is for; null while there is none. */
  #key: string | null = null;
  /** What one is being made for. */
  #making: string | null = null;

  /** `numberOf`: a number for each thing, the same for the same. */
  constructor(numberOf: (thing: object | null) => number) {
    this.#numberOf = numberOf;
  }

  /** Whether there is a stage for it. */
  can(scenery: Scenery): boolean {
    return this.#key !== null && this.#key === this.#keyOf(scenery);
  }

  /** A frame on a canvas of that size, `last` where none is to follow soon; null where there is no stage for it. */
  async frame(scenery: Scenery, last: boolean): Promise<Frame | null> {
    if (!this.can(scenery)) return null;
    const { onCanvas: on } = placed(scenery);
    return frameWork().frame(this.#name, paintParameters(scenery.on), { on, last });
  }

  /**
   * Makes the stage, unless there is one or it is being made. `still` draws what is to be seen as it lies there, before to
   * the left of a column. Whatever fails leaves no stage: frames are then whole pictures.
   */
  async prepare(
    scenery: Scenery,
    from: {
      readonly work: Remote<RoomWork>;
      readonly room: string;
      readonly still: (size: Size, view: ViewTransform, left: number) => ImageBitmap;
    },
  ): Promise<void> {
    const key = this.#keyOf(scenery);
    if (scenery.on.length === 0 || key === this.#key || key === this.#making) return;
    this.#making = key;
    const { place, onCanvas } = placed(scenery);
    const { light, on } = scenery;
    try {
      const finishes = on.map(({ id, finish }) => [id, finish] as const);
      const apart = light && 'shares' in light ? light : null;
      const stage = await from.work.stage(from.room, finishes, { place, light: apart });
      if (this.#making !== key) return;
      // A wipe is cut on the canvas: on an enlarged stage it would lie between the picture's pixels.
      const cut = onCanvas.left > 0 ? from.still(onCanvas, scenery.view, onCanvas.left) : null;
      const still = from.still(place, place, cut ? 0 : place.left);
      const bound = transfer({ still, cut, light }, cut ? [still, cut] : [still]);
      this.#key = null;
      await frameWork().set(this.#name, transfer(stage, buffersOf(stage)), bound);
      if (this.#making === key) this.#key = key;
    } catch {
      this.#key = null;
    } finally {
      if (this.#making === key) this.#making = null;
    }
  }

  leave(): void {
    this.#making = null;
    if (this.#key !== null) void frameWork().leave(this.#name);
    this.#key = null;
  }

  #keyOf({ width, height, view, left, light, on }: Scenery): string {
    // Of a colour only its surface counts: it is what changes from frame to frame.
    const surfaces = on.map(
      ({ id, layers, finish }) =>
        `${id} ${this.#numberOf(layers)} ${this.#numberOf('data' in finish.colour ? finish.colour : null)}`,
    );
    const { scale, x, y } = view;
    return [width, height, scale, x, y, left, this.#numberOf(light), ...surfaces].join('|');
  }
}

/** Enlarged, a stage has the picture's pixels and is enlarged itself; otherwise it has the canvas's. */
function placed({ width, height, view, left, picture }: Scenery): {
  place: StagePlace;
  onCanvas: StageOnCanvas;
} {
  const { scale, x, y } = view;
  if (scale < 1)
    return {
      place: { scale, x, y, width, height, left },
      onCanvas: { width, height, scale: 1, x: 0, y: 0, left: 0 },
    };
  // A pixel more all round, for those in between.
  const [west, east] = [-x, width - x].map((at) => at / scale);
  const [north, south] = [-y, height - y].map((at) => at / scale);
  const first = [west, north].map((at) => Math.max(0, Math.floor(at) - 1));
  const size = {
    width: Math.max(1, Math.min(picture.width, Math.ceil(east) + 1) - first[0]),
    height: Math.max(1, Math.min(picture.height, Math.ceil(south) + 1) - first[1]),
  };
  return {
    place: {
      scale: 1,
      x: -first[0],
      y: -first[1],
      ...size,
      left: Math.max(0, Math.floor((left - x) / scale) - 1 - first[0]),
    },
    onCanvas: { width, height, scale, x: x + scale * first[0], y: y + scale * first[1], left },
  };
}
